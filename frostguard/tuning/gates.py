"""What is wrong with a thermometer's numbers: found before anything is learnt from them.

Each gate is a pure function of times and temperatures; `inspect` runs them all. What can be left out is left
out and counted; what makes the whole series useless is a reason to refuse it.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Times = NDArray[np.datetime64]

COLDEST_C, WARMEST_C = -45.0, 70.0
"""What a thermometer on a terrace can show; estimate."""

SPIKE_K = 4.0
"""A single number that stands so far from both neighbours is none; estimate."""

STUCK_H = 36.0
"""As long may a number stay the same while the air moves; freezing mix stays at zero for longer and is not meant."""

SUN_EXCESS_K = 4.0
"""By which a thermometer in the air is warmer than the air by day, on average of sunny hours, and not by night: it
stands in the sun; screens of good kind stay within 1 to 2 K (WMO-No. 8, from memory)."""

SHIFT_STEP_H = 0.25
LARGEST_SHIFT_H = 13.0


class Trouble(Enum):
    """What a gate found."""

    IMPOSSIBLE = "impossible values"
    DUPLICATE = "the same time twice"
    SPIKE = "spikes"
    STUCK = "stuck"
    SUN = "sun on the sensor"
    FELL_OUT = "follows the air"
    WRONG_UNIT = "degrees Fahrenheit read as Celsius"
    CLOCK = "clock is off"
    GAP = "gaps"


@dataclass(frozen=True, slots=True)
class Finding:
    """What is wrong, how many numbers it takes, and its size: hours of a clock or a gap, kelvins of sun."""

    trouble: Trouble
    count: int
    size: float = 0.0

    @property
    def refuses(self) -> bool:
        """Whether nothing may be learnt from the series until it is set right."""
        return self.trouble in (Trouble.WRONG_UNIT, Trouble.CLOCK, Trouble.FELL_OUT, Trouble.SUN) and self.count > 0


@dataclass(frozen=True, slots=True)
class Inspected:
    """The numbers that are left, in the order of time, and what was found."""

    times: Times
    temperature_c: Array
    findings: tuple[Finding, ...]

    @property
    def refused(self) -> tuple[Finding, ...]:
        """The findings that forbid learning."""
        return tuple(finding for finding in self.findings if finding.refuses)


def inspect(
    times: Times,
    temperature_c: Array,
    *,
    reference_times: Times | None = None,
    reference_c: Array | None = None,
    air_c: Array | None = None,
    sun_w_m2: Array | None = None,
    in_pot: bool,
) -> Inspected:
    """Run every gate over a series of moments.

    Parameters
    ----------
    times, temperature_c : ndarray, shape (n,)
        UTC, and as read [degC].
    reference_times, reference_c, air_c, sun_w_m2 : ndarray, shape (n_hours,), optional
        What the untuned model expects there hour by hour, the air, and the sun on the horizontal; without them the
        gates that compare are left out.
    in_pot : bool
        Whether it lies in the mix.
    """
    order = np.argsort(times, kind="stable")
    times, values = times[order], temperature_c[order]
    findings: list[Finding] = []

    def keep(wanted: NDArray[np.bool_], trouble: Trouble) -> None:
        nonlocal times, values
        if not wanted.all():
            findings.append(Finding(trouble, int((~wanted).sum())))
            times, values = times[wanted], values[wanted]

    keep(np.isfinite(values) & (values >= COLDEST_C) & (values <= WARMEST_C), Trouble.IMPOSSIBLE)
    keep(np.concatenate([np.diff(times) > np.timedelta64(0, "s"), [True]])[: times.size], Trouble.DUPLICATE)
    keep(~spikes(values), Trouble.SPIKE)
    gap_h = longest_gap_h(times)
    if gap_h > 6.0:
        findings.append(Finding(Trouble.GAP, int((_hours_between(times) > 6.0).sum()), gap_h))
    keep(~stuck(times, values), Trouble.STUCK)
    if reference_times is None or reference_c is None or values.size < 24:
        return Inspected(times, values, tuple(findings))
    expected = _at(times, reference_times, reference_c)
    if read_as_celsius(values, expected):
        findings.append(Finding(Trouble.WRONG_UNIT, values.size))
        return Inspected(times, values, tuple(findings))
    if sun_w_m2 is not None and not in_pot:
        excess = sun_excess_k(values, expected, _at(times, reference_times, sun_w_m2))
        if excess > SUN_EXCESS_K:
            findings.append(Finding(Trouble.SUN, values.size, excess))
            return Inspected(times, values, tuple(findings))
    if air_c is not None and in_pot:
        out = follows_the_air(times, values, expected, _at(times, reference_times, air_c))
        if out.any():
            findings.append(Finding(Trouble.FELL_OUT, int(out.sum())))
            return Inspected(times, values, tuple(findings))
    shift = clock_shift_h(times, values, reference_times, reference_c)
    # in a pot the lag is itself a thing to learn: only a shift that no mix explains is a clock's
    if abs(shift) >= (4.0 if in_pot else 0.75):
        findings.append(Finding(Trouble.CLOCK, values.size, shift))
    return Inspected(times, values, tuple(findings))


def spikes(values_c: Array) -> NDArray[np.bool_]:
    """Single numbers far from both neighbours on the same side."""
    found = np.zeros(values_c.size, dtype=np.bool_)
    if values_c.size >= 3:
        before, after = values_c[1:-1] - values_c[:-2], values_c[1:-1] - values_c[2:]
        found[1:-1] = (np.minimum(np.abs(before), np.abs(after)) > SPIKE_K) & (before * after > 0.0)
    return found


def stuck(times: Times, values_c: Array) -> NDArray[np.bool_]:
    """Numbers that stay the same for long, those at zero aside: freezing mix does that."""
    found = np.zeros(values_c.size, dtype=np.bool_)
    if values_c.size < 3:
        return found
    begins = np.concatenate([[0], np.flatnonzero(np.diff(values_c) != 0.0) + 1, [values_c.size]])
    for first, end in itertools.pairwise(begins):
        hours = (times[end - 1] - times[first]) / np.timedelta64(3600, "s")
        if hours >= STUCK_H and abs(values_c[first]) > 1.0:
            found[first:end] = True
    return found


def longest_gap_h(times: Times) -> float:
    """Longest time without a number [h]."""
    return float(_hours_between(times).max()) if times.size > 1 else 0.0


def read_as_celsius(values_c: Array, expected_c: Array) -> bool:
    """Whether the numbers make sense as Fahrenheit and none as Celsius."""
    as_read = float(np.sqrt(np.mean((values_c - expected_c) ** 2)))
    turned = float(np.sqrt(np.mean(((values_c - 32.0) / 1.8 - expected_c) ** 2)))
    return as_read > 10.0 and turned < 0.5 * as_read


def sun_excess_k(values_c: Array, air_c: Array, sun_w_m2: Array) -> float:
    """How much warmer than the air in sunny hours, less what it is in the dark [K]."""
    bright, dark = sun_w_m2 > 150.0, sun_w_m2 <= 0.0
    if bright.sum() < 6 or dark.sum() < 6:
        return 0.0
    excess = values_c - air_c
    return float(np.mean(excess[bright]) - np.median(excess[dark]))


def follows_the_air(times: Times, values_c: Array, expected_c: Array, air_c: Array) -> NDArray[np.bool_]:
    """Stretches of three days in which a probe of the mix swings as the air does, though the mix cannot."""
    out = np.zeros(values_c.size, dtype=np.bool_)
    day = ((times - times[0]) / np.timedelta64(72, "h")).astype(np.int64)
    for stretch in np.unique(day):
        inside = day == stretch
        if inside.sum() < 24:
            continue
        apart_air = np.sqrt(np.mean((values_c[inside] - air_c[inside]) ** 2))
        apart_mix = np.sqrt(np.mean((values_c[inside] - expected_c[inside]) ** 2))
        swing = np.std(values_c[inside]) / max(float(np.std(air_c[inside])), 0.5)
        expected = np.std(expected_c[inside]) / max(float(np.std(air_c[inside])), 0.5)
        out[inside] = swing > 0.85 and expected < 0.7 and apart_air < 0.6 * apart_mix
    return out


def clock_shift_h(times: Times, values_c: Array, reference_times: Times, reference_c: Array) -> float:
    """Hours by which the thermometer's clock is ahead: where the numbers follow the reference best.

    Returns
    -------
    float
        In quarters of an hour; 0 where no shift is clearly better than none.
    """
    hours = (times - reference_times[0]) / np.timedelta64(3600, "s")
    grid = np.arange(reference_times.size, dtype=np.float64)
    shifts = np.arange(-LARGEST_SHIFT_H, LARGEST_SHIFT_H + SHIFT_STEP_H / 2, SHIFT_STEP_H)
    own = _swing(hours, values_c)
    known = _swing(grid, reference_c)
    fits = np.array([_agreement(own, np.interp(hours - shift, grid, known)) for shift in shifts])
    best, none = int(np.argmax(fits)), int(np.argmin(np.abs(shifts)))
    # what a shift leaves unexplained must be a good deal less
    return float(shifts[best]) if (1.0 - fits[best]) < 0.85 * (1.0 - fits[none]) and fits[best] > 0.6 else 0.0


def _swing(hours: Array, values: Array) -> Array:
    """Less the mean of the day round each moment."""
    grid = np.arange(np.floor(hours[0]), np.ceil(hours[-1]) + 1.0)
    on_grid = np.interp(grid, hours, values)
    width = min(25, on_grid.size)
    smooth = np.convolve(np.pad(on_grid, width // 2, mode="edge"), np.ones(width) / width, mode="valid")
    return np.asarray(values - np.interp(hours, grid, smooth[: grid.size]))


def _agreement(one: Array, other: Array) -> float:
    if one.std() < 1e-9 or other.std() < 1e-9:
        return 0.0
    return float(np.corrcoef(one, other)[0, 1])


def _hours_between(times: Times) -> Array:
    return np.asarray(np.diff(times) / np.timedelta64(3600, "s"), dtype=np.float64)


def _at(times: Times, reference_times: Times, values: Array) -> Array:
    hours = (times - reference_times[0]) / np.timedelta64(3600, "s")
    return np.asarray(np.interp(hours, np.arange(reference_times.size), values))
