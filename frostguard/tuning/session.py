"""From the logbook's readings and the weather that happened to fits of pots and habits of the air."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.evening import taxon_of
from frostguard.advice.nights import from_utc64, utc64
from frostguard.advice.situation import as_it_stands
from frostguard.advice.state import TerraceState
from frostguard.advice.terrace import Terrace, prepare_terrace
from frostguard.errors import TuningFailed
from frostguard.garden.catalogue import Catalogue
from frostguard.garden.model import Garden, Pot
from frostguard.hardiness.limits import load_limits
from frostguard.logbook.measured import Reading, TunedValue
from frostguard.tuning.foretold import FURTHEST, Foretold
from frostguard.tuning.gates import Finding, Inspected, Trouble, inspect, read_as_celsius
from frostguard.tuning.habits import MINIMA_NEEDED, NightPair, learnt_habits, spread_with_bias_k
from frostguard.tuning.probe import Place, Probe, probe_of
from frostguard.tuning.terrace_model import SITE, Thermometer
from frostguard.tuning.tune import (
    TerraceFit,
    enough_nights,
    model_of,
    nights_of_bias,
    told_values,
    tune_terrace,
)
from frostguard.weather.gates import LONGEST_BRIDGED_H, night_of, night_window
from frostguard.weather.night_errors import SAMPLING_K, SiteHabits, usual_habits
from frostguard.weather.series import WeatherSeries

Array = NDArray[np.float64]

NIGHT_HOURS = frozenset({*range(18, 24), *range(10)})
"""Hours of the site's clock that are learnt from: by day, sun on the wall says more of the place than of cold."""

FINER_THAN_HOURLY = 36
"""More readings of a night than this come closer to its lowest than hourly ones; estimate."""

AIR_COVERS = 0.8
"""Share of the hours that a thermometer of the air must have to drive the model itself; estimate."""


SPREAD_WITH_BIAS = {"bias_k": "spread_k", "clear_calm_bias_k": "clear_calm_spread_k"}
"""What narrows when the bias of a kind of night is known from the pots."""

FORGOTTEN_AFTER_H = 48
"""Hours after a gap in the weather that are not learnt from: a ball forgets in two to four days; estimate."""


@dataclass(frozen=True, slots=True)
class Heard:
    """One thermometer: where it lies, what is left of its numbers, what was found."""

    series: str
    probe: Probe
    pot: str | None
    spot: str | None
    times: NDArray[np.datetime64]
    temperature_c: Array
    findings: tuple[Finding, ...]

    @property
    def refused(self) -> bool:
        """Whether nothing may be learnt from it."""
        return any(finding.refuses for finding in self.findings)


@dataclass(frozen=True, slots=True)
class Session:
    """All that one call of `tune` found out."""

    heard: tuple[Heard, ...]
    habits: SiteHabits | None
    air_nights: int
    foretold_nights: int  # of these, for which a forecast made on their day is known
    fit: TerraceFit | None
    failures: tuple[TuningFailed, ...]
    root_limits_c: Mapping[str, tuple[float, ...]]  # of the plants of each pot: outer roots and whole roots

    def values(self) -> tuple[TunedValue, ...]:
        """What is to be stored: the air's habits, and pots that came out better."""
        found: dict[tuple[str, str], TunedValue] = {}
        if self.fit is not None and self.fit.helps:
            pots = ", ".join(one.pot for one in self.fit.pots if one.helps)
            for (subject, name), (value, spread) in told_values(self.fit).items():
                found[subject, name] = TunedValue(subject, name, value, spread, f"readings of {pots}")
            for one, left in zip(self.fit.fitted.parameters, self.fit.fitted.spread, strict=True):
                narrowed = SPREAD_WITH_BIAS.get(one.name) if one.subject == SITE else None
                if narrowed is None:
                    continue
                spread_k = spread_with_bias_k(one.spread**2 - left**2, clear_calm=narrowed.startswith("clear"))
                if spread_k is not None:
                    found[SITE, narrowed] = TunedValue(SITE, narrowed, spread_k, float(left), f"readings of {pots}")
        if self.habits is not None:
            for name in SiteHabits.__dataclass_fields__:
                value = getattr(self.habits, name)
                if value is not None:
                    note = f"{self.air_nights} nights of air"
                    found["site", name] = TunedValue("site", name, value, 2.0 / max(self.air_nights, 1) ** 0.5, note)
        return tuple(found.values())


def listen(
    readings: Iterable[Reading], garden: Garden, weather: WeatherSeries, catalogue: Catalogue
) -> tuple[Heard, ...]:
    """Every thermometer with its numbers past the gates, those outside the weather left out.

    In the air it is held against the weather, in a pot against what the pot would do as the garden file has it.
    """
    terrace = prepare_terrace(garden, weather)
    air = terrace.outdoor.air_temperature_c[:, 0]
    sun = (
        terrace.outdoor.direct_normal_w_m2[:, 0]
        * np.sin(np.radians(np.maximum(terrace.outdoor.sun_elevation_deg[:, 0], 0.0)))
        + terrace.outdoor.diffuse_horizontal_w_m2[:, 0]
    )
    by_series: dict[str, list[Reading]] = {}
    for reading in readings:
        if terrace.times[0] <= utc64(reading.at) <= terrace.times[-1]:
            by_series.setdefault(reading.series, []).append(reading)
    heard = []
    for series, own in by_series.items():
        probe = probe_of(own[0].place)
        times = np.array([utc64(one.at) for one in own])
        values = np.array([one.temperature_c for one in own])
        told = slice(0, terrace.times.size)
        expected: Array | None = None
        if probe == Probe(Place.AIR):
            expected = air
        elif not probe.lowest and probe.place.in_pot:
            told, expected = _as_the_file_has_it(own[0], probe.place, times, terrace, weather, catalogue)
        found = inspect(
            times,
            values,
            reference_times=None if expected is None else terrace.times[told],
            reference_c=expected,
            air_c=air[told],
            sun_w_m2=sun[told],
            in_pot=probe.place.in_pot,
        )
        # one lowest value a day is what is asked for, no gap
        findings = tuple(one for one in found.findings if not (probe.lowest and one.trouble is Trouble.GAP))
        if probe.lowest and _lowest_in_fahrenheit(found, terrace, air):
            findings = (*findings, Finding(Trouble.WRONG_UNIT, found.times.size))
        heard.append(Heard(series, probe, own[0].pot, own[0].spot, found.times, found.temperature_c, findings))
    return tuple(heard)


def _as_the_file_has_it(
    one: Reading,
    place: Place,
    times: NDArray[np.datetime64],
    terrace: Terrace,
    weather: WeatherSeries,
    catalogue: Catalogue,
) -> tuple[slice, Array | None]:
    """The hours from the first to the last reading, and the untuned mix there; None where the pot is gone."""
    pot = next((pot for pot in terrace.garden.pots if pot.id == one.pot), None)
    ends = np.searchsorted(terrace.times, [times.min(), times.max()], side="right") - 1
    told = slice(int(ends[0]), min(int(ends[1]) + 2, terrace.times.size))
    if pot is None:
        return told, None
    hours = np.arange(told.start, told.stop)
    probe = Thermometer(one.series, pot.id, place, tuple(hours[:, None]), np.zeros(hours.size))
    model = model_of(
        terrace,
        weather,
        [as_it_stands(pot, TerraceState(), catalogue)],
        [probe],
        catalogue,
        air_known=True,
        habits=usual_habits(terrace.garden.site),
    )
    return told, model(np.array([[parameter.prior for parameter in model.parameters]]))[0]


def _lowest_in_fahrenheit(found: Inspected, terrace: Terrace, air_c: Array) -> bool:
    """Whether the lowest of nights make sense beside the lowest air as Fahrenheit only."""
    read, expected = [], []
    for time, value in zip(found.times, found.temperature_c, strict=True):
        begin, end = night_window(_night(time, terrace.garden.site.time_zone), terrace.garden.site.time_zone)
        inside = (terrace.times > begin) & (terrace.times <= end)
        if inside.any():
            read.append(value)
            expected.append(air_c[inside].min())
    return bool(read) and read_as_celsius(np.array(read), np.array(expected))


def learn(
    garden: Garden,
    weather: WeatherSeries,
    catalogue: Catalogue,
    readings: Sequence[Reading],
    *,
    pots: Sequence[str],
    foretold: Foretold = MappingProxyType({}),
) -> Session:
    """Habits of the air from its minima, and a fit of every pot named that has thermometers.

    `foretold` is what forecasts had said of the nights before; the spread is learnt from nothing else.
    """
    heard = listen(readings, garden, weather, catalogue)
    usual = usual_habits(garden.site)
    pairs = [
        pair
        for one in heard
        if one.probe.place is Place.AIR and not one.refused
        for pair in _pairs(one, garden, weather, foretold)
    ]
    nights = sum(pair.ahead <= 1 for pair in pairs)
    habits = learnt_habits(pairs, usual) if nights >= MINIMA_NEEDED else None
    driver = next((one for one in heard if _drives(one, heard)), None)
    driven = weather if driver is None else with_measured_air(weather, driver, prepare_terrace(garden, weather))
    terrace = prepare_terrace(garden, driven)
    told = ~_untold(driven)[: terrace.times.size]
    thermometers = [
        thermometer
        for one in heard
        if not one.refused and one.probe.place.in_pot
        if (thermometer := _thermometer(one, terrace, told)) is not None
    ]
    failures: list[TuningFailed] = []
    situations = []
    for pot in _sharing_a_spot(garden, pots):
        own = [one for one in thermometers if one.pot == pot.id]
        situation = as_it_stands(pot, TerraceState(), catalogue)
        try:
            if own:
                enough_nights(terrace, situation, own)
                situations.append(situation)
        except TuningFailed as failure:
            failures.append(failure)
    fit = None
    if situations:
        fit = tune_terrace(
            terrace,
            driven,
            situations,
            [one for one in thermometers if one.pot in {situation.pot.id for situation in situations}],
            catalogue,
            air_known=driver is not None,
            habits=habits or usual,
            untaught=None if driver is None else weather,
        )
    known = sum(pair.ahead == 1 for pair in pairs)
    limits = {} if fit is None else {one.pot.id: _root_limits_c(one.pot) for one in situations}
    return Session(heard, habits, nights, known, fit, tuple(failures), limits)


def _root_limits_c(pot: Pot) -> tuple[float, ...]:
    """Temperatures at which half of outer roots, or of whole root balls, die; those of all plants of a pot."""
    taxa = [taxon_of(planting, load_limits()) for planting in pot.plantings]
    return tuple(sorted({limit.middle_c for one in taxa for limit in (one.young_root, one.whole_root)}, reverse=True))


def _sharing_a_spot(garden: Garden, pots: Sequence[str]) -> list[Pot]:
    """The pots named and those that stand beside them: what is learnt of a spot holds for all of its pots."""
    spots = {pot.spot for pot in garden.pots if pot.id in pots}
    return [pot for pot in garden.pots if pot.spot in spots]


def with_measured_air(weather: WeatherSeries, one: Heard, terrace: Terrace) -> WeatherSeries:
    """The weather moved by what the measured air differs from that reckoned for its spot; the dew point moves along."""
    hours = (terrace.times - terrace.times[0]) / np.timedelta64(3600, "s")
    at = (one.times - terrace.times[0]) / np.timedelta64(3600, "s")
    measured = np.interp(hours, at, one.temperature_c)
    # pots may stand in colder air than the service's: that is reckoned again from the air that is moved
    spot = one.spot or next((pot.spot for pot in terrace.garden.pots if pot.id == one.pot), None)
    here = terrace.outdoor if spot is None else terrace.spots[spot].hours
    after = np.clip(np.searchsorted(at, hours), 1, at.size - 1)
    near = np.abs(hours[:, None] - at[after[:, None] + [-1, 0]]).min(axis=1) <= 2.0
    shift = np.zeros(weather.n_hours)
    shift[: hours.size] = np.where(near, measured - here.air_temperature_c[:, 0], 0.0)
    values = dict(weather.values)
    for name in ("air_temperature_c", "dew_point_c"):
        if name in values:
            values[name] = values[name] + shift
    return replace(weather, values=values)


def _drives(one: Heard, heard: Sequence[Heard]) -> bool:
    """Whether it measured the air through most of the hours between the first and the last reading of the pots."""
    moments = [time for other in heard if other.probe.place.in_pot for time in other.times]
    if one.probe != Probe(Place.AIR) or one.refused or not moments:
        return False
    first, last = min(moments), max(moments)
    inside = one.times[(one.times >= first) & (one.times <= last)]
    hours = np.unique(((inside - first) / np.timedelta64(3600, "s")).astype(np.int64))
    return bool(hours.size >= AIR_COVERS * ((last - first) / np.timedelta64(3600, "s")))


def _pairs(one: Heard, garden: Garden, weather: WeatherSeries, foretold: Foretold) -> list[NightPair]:
    """Measured less foretold minimum of each night that the thermometer tells whole, for each lead that is known;
    less the minimum that happened where none was foretold on the day."""
    zone = garden.site.time_zone
    _, calm = nights_of_bias(weather, zone)
    pairs = []
    for night in sorted({_night(time, zone) for time in one.times}):
        begin, end = night_window(night, zone)
        mine = (one.times > begin) & (one.times <= end)
        hours = np.flatnonzero((weather.times > begin) & (weather.times <= end))
        told = weather.values["air_temperature_c"][0, hours]
        if hours.size < 20 or np.isnan(told).any() or (not one.probe.lowest and mine.sum() < 12):
            continue
        # what hourly numbers miss is reckoned with elsewhere; a thermometer that misses nothing must not teach it again
        missed_k = SAMPLING_K if one.probe.lowest or mine.sum() > FINER_THAN_HOURLY else 0.0
        lowest = float(one.temperature_c[mine].min()) - missed_k
        said = {ahead: foretold[night, ahead] for ahead in range(1, FURTHEST + 1) if (night, ahead) in foretold}
        if 1 not in said:
            said[0] = float(told.min())
        pairs += [NightPair(lowest - value, bool(calm[hours[0]]), ahead) for ahead, value in said.items()]
    return pairs


def _thermometer(one: Heard, terrace: Terrace, told: NDArray[np.bool_]) -> Thermometer | None:
    """Numbers at whole hours of the night, every other hour; or nights whose lowest they are."""
    zone, site = terrace.zone, terrace.garden.site
    assert one.pot is not None
    if one.probe.lowest:
        nights, lowest = [], []
        for time, value in zip(one.times, one.temperature_c, strict=True):
            begin, end = night_window(_night(time, site.time_zone), site.time_zone)
            hours = np.flatnonzero((terrace.times > begin) & (terrace.times <= end))
            if hours.size >= 20 and told[hours].all():
                nights.append(hours)
                lowest.append(value)
        return Thermometer(one.series, one.pot, one.probe.place, tuple(nights), np.array(lowest)) if nights else None
    at = (one.times - terrace.times[0]) / np.timedelta64(3600, "s")
    whole = np.arange(int(np.ceil(at[0])), int(np.floor(at[-1])) + 1) if at.size else np.array([], dtype=np.int64)
    kept = [
        hour
        for hour in whole
        if hour % 2 == 0
        and told[hour]
        and from_utc64(terrace.times[hour], zone).hour in NIGHT_HOURS
        and np.abs(at - hour).min() <= 1.0
    ]
    if not kept:
        return None
    values = np.interp(np.array(kept, dtype=np.float64), at, one.temperature_c)
    return Thermometer(one.series, one.pot, one.probe.place, tuple(np.array([hour]) for hour in kept), values)


def _untold(weather: WeatherSeries) -> NDArray[np.bool_]:
    """Hours that nothing can be learnt from: no weather is known of them, or was for a while in the two days before.

    Gaps of a few hours are bridged by the simulation as anywhere else.
    """
    air = np.isfinite(weather.values["air_temperature_c"][0])
    long_gap = np.convolve(~air, np.ones(LONGEST_BRIDGED_H + 1), mode="same") > LONGEST_BRIDGED_H
    after = np.convolve(long_gap, np.ones(FORGOTTEN_AFTER_H), mode="full")[: air.size] > 0
    return np.asarray(after | ~air)


def _night(time: np.datetime64, zone: str) -> date:
    moment: datetime = time.astype("datetime64[s]").item()
    return night_of(moment.replace(tzinfo=UTC), zone)
