"""Twin pots made by the fine-grid solver with what the model lacks: does tuning find the way to their nights?

Stored by `make_twins`: two hundred pots, 24 nights of readings, judged on the true ring of the eight nights after them.
Goals: the error halves in the median, no twin gets worse by more than 0.1 K, 90 % intervals hold 85 to 95 %.

Outcome, on all two hundred. With a second thermometer as cheap in the air beside the pot, that night too: 0.18 of the
error is left in the median, 0.78 to 0.15 K, and intervals hold 92 %; both goals are met. The third is NOT: 2 in a
hundred get worse by more than 0.1 K, one by 0.30 K. No reading shows it: these were told well before, to 0.1 to 0.5 K,
by errors that cancel, and three of the four come out no worse against what their own probe shows. What it is off by,
and how deep it lies, stays unknown to 0.2 K. Against what the probe shows one twin of two hundred gets worse by more,
by 0.14 K.

For a night to come the air is only forecast: the same fit, with what that thermometer taught of forecasts, leaves 0.61
(0.49 K), and 8 in a hundred get worse. By the readings of the pot alone: 0.60, 0.78 to 0.47 K, intervals hold 90 %; 7.5
in a hundred get worse by more than 0.1 K, one by 0.41 K. So only the intervals are as wanted. If every parameter were
known exactly, 0.53 and 0.42 K would be left, 5.5 in a hundred still worse, one by 0.54 K: each night's weather misses
by 0.6 K on its own, which no tuning foretells. That is no harsh weather: minima corrected by station miss by 1.2 to 1.4
K (`weather/night_errors`). To begin the night from a state that agrees with all weather until 17:00 takes 0.41 to 0.39
K, with every parameter known (30 twins), so a probe read at dusk is of little help to such pots.

More caution was tried and left: a place between prior and fit by held-back evidence less its standard error takes the
worst of pots alone from 0.41 to 0.21 K and those worse to 5 in a hundred, but leaves 0.64 in the median, not 0.60.

A clock that is right is doubted in one of 32 twins (`tuning/clock`). Wind and cloud are told as they were, which is
kinder than any forecast.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from frostguard.advice.situation import as_it_stands
from frostguard.advice.state import TerraceState
from frostguard.advice.terrace import prepare_terrace
from frostguard.garden.catalogue import load_catalogue
from frostguard.physics.root_ball_fast import computes_compiled
from frostguard.tuning import terrace_model
from frostguard.tuning.habits import NightPair, learnt_habits
from frostguard.tuning.probe import Place, Probe
from frostguard.tuning.session import Heard, with_measured_air
from frostguard.tuning.terrace_model import TerraceModel, Thermometer
from frostguard.tuning.tune import TerraceFit, model_of, nights_of_bias, reach_of, told_spread_k, tune_terrace
from frostguard.weather.night_errors import usual_habits
from tests.unit.advice.terraces import CRUDE, ZONE

from .make_twins import LEAD_H, N_TWINS, NIGHTS, NO_READING, marks, terrace_of, twin_of

LEARNT_NIGHTS = 24


@cache
def stored() -> tuple[np.ndarray, np.ndarray]:
    """Readings in half degrees (n_twins, n_hours), and the true lowest rings (n_twins, n_nights)."""
    kept = np.load(Path(__file__).parent / "twins.npz")
    return kept["read"], kept["lowest"].astype(float)


def as_told(seed: int, nights: int = LEARNT_NIGHTS, *, own_air: bool = False):
    """The twin as `frostguard tune` sees it: weather and file as told, readings of every other hour of the night.

    With `own_air` a thermometer as cheap as the other hangs in the air beside the pot, through all nights.
    """
    read = stored()[0][seed]
    where, told = terrace_of(seed)
    if own_air:
        told = with_measured_air(told, _own_air(seed), prepare_terrace(where, told))
    terrace = prepare_terrace(where, told)
    clock = terrace.times.astype("datetime64[h]").astype(int) % 24
    wanted = np.isin(clock, (17, 19, 21, 23, 1, 3, 5, 7)) & (np.arange(read.size) < LEAD_H + 24 * nights)
    hours = np.flatnonzero((read != NO_READING) & wanted)
    probe = Thermometer("probe", where.pots[0].id, Place.WALL, tuple(hours[:, None]), read[hours] / 2.0)
    catalogue = load_catalogue()
    situation = as_it_stands(where.pots[0], TerraceState(), catalogue)
    return terrace, told, [situation], [probe], catalogue


def _own_air(seed: int) -> Heard:
    draw = np.random.default_rng((seed, 3))
    twin = twin_of(seed)
    terrace = prepare_terrace(twin.garden, twin.happened, twin.tuned)
    air = terrace.spots["deck"].hours.air_temperature_c[:, 0]
    shown = np.round((air + draw.normal(0.0, 0.25) + draw.normal(0.0, 0.15, air.size)) * 2.0) / 2.0
    return Heard("deck air", Probe(Place.AIR), None, "deck", twin.happened.times, shown, ())


def fit_of(seed: int, nights: int = LEARNT_NIGHTS, *, own_air: bool = False) -> TerraceFit:
    """The twin after `frostguard tune`."""
    terrace, told, situations, probes, catalogue = as_told(seed, nights, own_air=own_air)
    habits = usual_habits(terrace.garden.site)
    return tune_terrace(
        terrace,
        told,
        situations,
        probes,
        catalogue,
        air_known=own_air,
        habits=habits,
        untaught=terrace_of(seed)[1] if own_air else None,
    )


@dataclass
class Unseen:
    """Nights after all readings: the true lowest ring, told before and after, and reach of the 90 % interval."""

    truth: np.ndarray
    before: np.ndarray
    after: np.ndarray
    reach: np.ndarray

    def rmse(self, told: np.ndarray) -> float:
        return float(np.sqrt(np.mean((told - self.truth) ** 2)))


def windows(nights: range) -> tuple[np.ndarray, ...]:
    """The hours of each night."""
    return tuple(np.arange(LEAD_H + 24 * night, LEAD_H + 24 * night + 24) for night in nights)


def unseen(seed: int, fit: TerraceFit, nights: range = range(LEARNT_NIGHTS, NIGHTS)) -> Unseen:
    """What the fit tells of nights that it has not seen; one that was refused tells nothing new."""
    hours = windows(nights)
    asked = replace(fit.model.thermometers[0], hours=hours, temperature_c=np.zeros(len(hours)))
    model = replace(fit.model, thermometers=(asked,), last=int(hours[-1][-1]), ring_itself=True)
    before, after = model(np.vstack([[one.prior for one in model.parameters], fit.fitted.values]))
    spread = told_spread_k(model, fit.fitted, model.readout(fit.fitted.values), fit.sizes)
    return Unseen(
        truth=stored()[1][seed][list(nights)],
        before=before,
        after=after if fit.helps else before,
        reach=reach_of(LEARNT_NIGHTS) * spread,
    )


def told_with(
    seed: int,
    known: dict[tuple[str, str], float],
    nights: range = range(LEARNT_NIGHTS, NIGHTS),
    *,
    asked: tuple[np.ndarray, ...] = (),
) -> np.ndarray:
    """Lowest ring told of unseen nights with these parameters, all others as they are believed before any reading.

    The weather is that of the forecast. With `asked`, hours of each night, it is what the probe would read in them.
    """
    terrace, told, situations, probes, catalogue = as_told(seed)
    habits = usual_habits(terrace.garden.site)
    model = model_of(terrace, told, situations, probes, catalogue, air_known=False, habits=habits)
    values = np.array([known.get((one.subject, one.name), one.prior) for one in model.parameters])
    return _lowest(model, asked or windows(nights), values[None], ring_itself=not asked)[0]


def _lowest(model: TerraceModel, hours: tuple[np.ndarray, ...], values: np.ndarray, *, ring_itself: bool) -> np.ndarray:
    one = replace(model.thermometers[0], hours=hours, temperature_c=np.zeros(len(hours)))
    return replace(model, thermometers=(one,), last=int(hours[-1][-1]), ring_itself=ring_itself)(values)


def as_read(seed: int, nights: range) -> tuple[tuple[np.ndarray, ...], np.ndarray]:
    """The hours of each night in which the probe shows a number, and the lowest that it shows."""
    read = stored()[0][seed]
    hours = tuple(kept for own in windows(nights) if (kept := own[read[own] != NO_READING]).size)
    return hours, np.array([read[own].min() / 2.0 for own in hours])


def taught_by_air(seed: int, fit: TerraceFit) -> dict[tuple[str, str], float]:
    """What is in force for the night to come: the fit, and what the thermometer in the air taught of forecasts."""
    told, air = terrace_of(seed)[1], _own_air(seed)
    calm = nights_of_bias(told, str(ZONE))[1]
    pairs = [
        NightPair(
            float(air.temperature_c[own].min() - told.values["air_temperature_c"][0, own].min()), bool(calm[own[0]])
        )
        for own in windows(range(LEARNT_NIGHTS))
    ]
    habits = learnt_habits(pairs, usual_habits(terrace_of(seed)[0].site))
    taught = {("site", "clear_calm_bias_k"): habits.clear_calm_bias_k, ("site", "bias_k"): habits.bias_k}
    if fit.helps:
        taught |= {
            (one.subject, one.name): float(value)
            for one, value in zip(fit.fitted.parameters, fit.fitted.values, strict=True)
        }
    return taught


def all_known(seed: int) -> np.ndarray:
    """What would be told if every parameter were known: the best without a thermometer in the air."""
    twin = twin_of(seed)
    (pot,), (spot,) = twin.tuned.pots.values(), twin.tuned.spots.values()
    return told_with(
        seed,
        {
            ("spot/deck", "wind_factor"): float(np.log(spot.wind_factor)),
            ("spot/deck", "sky_view_shift"): spot.sky_view_shift,
            ("spot/deck", "floor_offset_k"): spot.floor_offset_k,
            ("pot/lemon", "wind_factor"): float(np.log(pot.wind_factor)),
            ("pot/lemon", "side_resistance_m2_k_w"): pot.side_resistance_m2_k_w,
            ("pot/lemon", "water_factor"): float(np.log(pot.water_factor)),
            ("pot/lemon", "conductivity_factor"): float(np.log(pot.conductivity_factor)),
            ("site", "clear_calm_bias_k"): twin.clear_calm_bias_k,
            ("site", "bias_k"): twin.bias_k,
            ("thermometer/probe", "bareness"): twin.uneven,
        },
    )


@dataclass
class Score:
    """What came of twins: RMSE before and after [K], and whether each night lay in its interval.

    `shown_before_k` and `shown_after_k` hold the lowest told against the lowest that the probe itself shows;
    `foretold_k` what is left where a thermometer in the air taught, but the night's own air is only forecast.
    """

    before_k: list[float] = field(default_factory=list)
    after_k: list[float] = field(default_factory=list)
    shown_before_k: list[float] = field(default_factory=list)
    shown_after_k: list[float] = field(default_factory=list)
    foretold_k: list[float] = field(default_factory=list)
    inside: list[bool] = field(default_factory=list)
    clocks: int = 0

    @property
    def ratio(self) -> float:
        return float(np.median(np.divide(self.after_k, self.before_k)))

    @property
    def worst_k(self) -> float:
        return float(np.subtract(self.after_k, self.before_k).max())

    @property
    def worse(self) -> float:
        """Share of twins that get worse by more than 0.1 K."""
        return float(np.mean(np.subtract(self.after_k, self.before_k) > 0.1))

    @property
    def shown_worse_k(self) -> np.ndarray:
        """By how much each twin gets worse against what its probe shows [K]."""
        return np.subtract(self.shown_after_k, self.shown_before_k)

    @property
    def held(self) -> float:
        return float(np.mean(self.inside))

    def take(self, seed: int, fit: TerraceFit, nights: range, *, own_air: bool) -> None:
        """One twin; before is what is told without any thermometer. One that is refused is told as before."""
        found = unseen(seed, fit, nights)
        before = told_with(seed, {}, nights)
        self.before_k.append(found.rmse(before))
        self.after_k.append(found.rmse(found.after) if fit.helps else self.before_k[-1])
        self.inside += list(np.abs(found.after - found.truth) <= found.reach) if fit.helps else []
        self.clocks += len(fit.clocks_ahead_h)
        hours, shown = as_read(seed, nights)
        misses = [told_with(seed, {}, asked=hours) - shown]
        misses.append(_lowest(fit.model, hours, fit.fitted.values[None], ring_itself=False)[0] - shown)
        usual, taught = (float(np.sqrt(np.mean(one**2))) for one in misses)
        self.shown_before_k.append(usual)
        self.shown_after_k.append(taught if fit.helps else usual)
        if own_air:
            self.foretold_k.append(found.rmse(told_with(seed, taught_by_air(seed, fit), nights)))


@cache
def score(*, own_air: bool) -> Score:
    """All twins, 24 nights of readings, judged on the eight after them."""
    found = Score()
    for seed in range(N_TWINS):
        fit = fit_of(seed, own_air=own_air)
        found.take(seed, fit, range(LEARNT_NIGHTS, NIGHTS), own_air=own_air)
        print(f"twin {seed}: {found.before_k[-1]:.2f} -> {found.after_k[-1]:.2f} K, {fit.helps}", flush=True)
    told = np.median(np.divide(found.shown_after_k, found.shown_before_k))
    print(
        f"own air {own_air}: ratio {found.ratio:.3f}, {np.median(found.before_k):.2f} to "
        f"{np.median(found.after_k):.2f} K in the median, worst {found.worst_k:+.2f} K, worse by more than 0.1 K: "
        f"{found.worse:.3f}, inside {found.held:.3f}, clocks doubted {found.clocks}\n"
        f"as the probe shows it: ratio {told:.3f}, worst {found.shown_worse_k.max():+.2f} K, worse by more than 0.1 K: "
        f"{np.mean(found.shown_worse_k > 0.1):.3f}"
    )
    if own_air:
        lost = np.subtract(found.foretold_k, found.before_k)
        print(
            f"with the air forecast: ratio {np.median(np.divide(found.foretold_k, found.before_k)):.3f}, worst "
            f"{lost.max():+.2f} K, worse by more than 0.1 K: {np.mean(lost > 0.1):.3f}"
        )
    return found


def test_two_twins_whatever_computes(monkeypatch: pytest.MonkeyPatch):
    """On few cells and without anything compiled: six nights take more than half of the error off the next four.

    Both twins are ordinary ones; that the eight judged lie in their intervals but for one is what intervals of nine in
    ten come to.
    """
    monkeypatch.setattr(terrace_model, "COARSE", CRUDE)
    found = Score()
    for seed in (0, 1):
        found.take(seed, fit_of(seed, nights=6, own_air=True), range(6, 10), own_air=True)
    assert len(found.inside) == 8, "none is refused"
    assert found.ratio <= 0.5 and found.worst_k <= 0.1 and found.shown_worse_k.max() <= 0.1
    assert sum(found.inside) >= 7


def test_twenty_twins():
    """With a second thermometer in the air all three goals are met after eight nights, on the four after them."""
    if not computes_compiled():
        pytest.skip("takes minutes without the extra 'fast' ('frostguard warm-up')")
    found = Score()
    for seed in range(20):
        found.take(seed, fit_of(seed, nights=8, own_air=True), range(8, 12), own_air=True)
    assert found.ratio <= 0.5
    assert found.worst_k <= 0.1
    assert found.held >= 0.85


@pytest.mark.long
def test_the_stored_twins_are_those_of_the_code():
    """What pots feel has not changed since the twins were made; if it has, `make_twins` makes them again.

    Else the parameters that twins are said to have are not those by which their readings came about.
    """
    kept = np.load(Path(__file__).parent / "twins.npz")["marks"]
    for seed in range(0, N_TWINS, 10):
        np.testing.assert_allclose(marks(twin_of(seed)), kept[seed], rtol=0.01, atol=0.05)


@pytest.mark.long
def test_two_hundred_twins_with_a_thermometer_in_the_air():
    """The error is halved at least in the median and intervals are honest; few twins get worse, and by little."""
    found = score(own_air=True)
    assert found.ratio <= 0.5
    assert 0.85 <= found.held <= 0.95
    # seen: 2 in a hundred, and 0.30 K
    assert found.worse <= 0.03
    # against what the probe shows, which is all that a person can see: one of two hundred, and 0.14 K
    assert np.mean(found.shown_worse_k > 0.1) <= 0.01 and found.shown_worse_k.max() <= 0.2
    # and for the night to come, with its air forecast: 0.61
    assert np.median(np.divide(found.foretold_k, found.before_k)) <= 0.65


@pytest.mark.long
@pytest.mark.xfail(strict=True, reason="four twins of two hundred get worse by more, one by 0.30 K")
def test_no_twin_gets_worse_with_a_thermometer_in_the_air():
    """The goal: by no more than 0.1 K."""
    assert score(own_air=True).worst_k <= 0.1


@pytest.mark.long
def test_two_hundred_twins_by_the_pot_alone():
    """Without one intervals are honest, and the error comes near to what knowing all parameters would leave."""
    found = score(own_air=False)
    best = []
    for seed in range(N_TWINS):
        truth = stored()[1][seed][LEARNT_NIGHTS:NIGHTS]
        best.append(float(np.sqrt(np.mean((all_known(seed) - truth) ** 2))))
    known = np.subtract(best, found.before_k)
    print(f"all known: {np.median(best):.2f} K, ratio {np.median(np.divide(best, found.before_k)):.3f}, "
          f"worst {known.max():+.2f} K, worse by more than 0.1 K: {np.mean(known > 0.1):.3f}")  # fmt: skip
    assert 0.85 <= found.held <= 0.95
    assert np.median(found.after_k) <= 1.15 * np.median(best)


@pytest.mark.long
@pytest.mark.xfail(strict=True, reason="out of reach: knowing every parameter would not do it either, see above")
def test_the_pot_alone_halves_the_error_and_never_makes_it_worse():
    """The goal for twins without a thermometer in the air."""
    found = score(own_air=False)
    assert found.ratio <= 0.5 and found.worst_k <= 0.1
