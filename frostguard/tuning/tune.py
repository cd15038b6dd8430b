"""Learn from thermometers what pots, spots and air are like, judge it on nights kept back, refuse what harms."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.situation import Situation
from frostguard.advice.terrace import Terrace, prepare_terrace
from frostguard.errors import TuningFailed
from frostguard.garden.catalogue import Catalogue
from frostguard.report.words import say
from frostguard.tuning.clock import clocks_ahead_h
from frostguard.tuning.fit import Fitted, Slopes, fit_map, sloped
from frostguard.tuning.noise import AT_FIRST, Readout, Sizes, learnt_sizes
from frostguard.tuning.terrace_model import TerraceModel, Thermometer, first_hour, parameters_for
from frostguard.weather.gates import night_of, night_window
from frostguard.weather.night_errors import SiteHabits, night_errors, usual_habits
from frostguard.weather.series import WeatherSeries

Array = NDArray[np.float64]

NIGHTS_NEEDED = 6
"""Of one pot, so that four teach while two are kept back. Estimate; fewer teach the air only."""

HELD_BACK_IN_TURN = 3
"""Parts of the nights that are kept back one after the other, each from a fit of its own."""

LEVEL = 0.95
"""Quantile at which intervals end, so that nine nights in ten lie inside."""


@dataclass(frozen=True, slots=True)
class NightCheck:
    """One night of one thermometer: lowest read, lowest told before and after, and its 90 % interval [degC].

    `unfitted_c` is what is told without the fit, but by the same air as with it; None where that is `before_c`.
    """

    pot: str
    night: date
    series: str
    read_c: float
    before_c: float
    after_c: float
    low_c: float
    high_c: float
    unfitted_c: float | None = None


@dataclass(frozen=True, slots=True)
class PotCheck:
    """How one pot comes out on its nights, each told by a fit that it was kept back from.

    `left_out` are pots whose readings make others worse, told worst of all even by themselves.
    """

    pot: str
    held_back: tuple[NightCheck, ...]
    left_out: bool = False

    @property
    def n_nights(self) -> int:
        """How many nights it is judged on."""
        return len({one.night for one in self.held_back})

    def rmse_k(self, *, after: bool) -> float:
        """Root of the mean square error of the lowest of nights kept back [K]."""
        return float(np.sqrt(np.mean(self._errors(after) ** 2)))

    def bias_k(self, *, after: bool) -> float:
        """Mean error, told less read [K]."""
        return float(np.mean(self._errors(after)))

    def _errors(self, after: bool) -> Array:
        return np.array([(one.after_c if after else one.before_c) - one.read_c for one in self.held_back])

    @property
    def helps(self) -> bool:
        """Whether nights kept back come out no worse, its own and those of others.

        No worse than without any thermometer, and no worse than by measured air alone: that is no merit of the fit.
        """
        after = self.rmse_k(after=True)
        return not self.left_out and after <= self.rmse_k(after=False) and after <= self._unfitted_rmse_k

    @property
    def _unfitted_rmse_k(self) -> float:
        told = [one.before_c if one.unfitted_c is None else one.unfitted_c for one in self.held_back]
        return float(np.sqrt(np.mean((np.array(told) - [one.read_c for one in self.held_back]) ** 2)))

    def hits(self, limit_c: float, *, after: bool) -> tuple[int, int, int]:
        """Nights below a limit that were told, missed, and told falsely."""
        told = np.array([(one.after_c if after else one.before_c) < limit_c for one in self.held_back])
        was = np.array([one.read_c < limit_c for one in self.held_back])
        return int((told & was).sum()), int((~told & was).sum()), int((told & ~was).sum())


@dataclass(frozen=True, slots=True)
class TerraceFit:
    """What came of some pots together: the last fit, on all nights of the pots that it helps.

    `pots` holds the check of every pot, of those left out too; without any that it helps, `fitted` is the fit
    that was refused. `clocks_ahead_h` holds the hours of clocks that seem to be off, by series.
    """

    fitted: Fitted
    model: TerraceModel
    sizes: Sizes
    pots: tuple[PotCheck, ...]
    clocks_ahead_h: Mapping[str, float]

    @property
    def helps(self) -> bool:
        """Whether there is a pot that it helps."""
        return any(one.helps for one in self.pots)


def tune_terrace(
    terrace: Terrace,
    weather: WeatherSeries,
    situations: Sequence[Situation],
    thermometers: Sequence[Thermometer],
    catalogue: Catalogue,
    *,
    air_known: bool,
    habits: SiteHabits,
    untaught: WeatherSeries | None = None,
) -> TerraceFit:
    """Fit pots together, and check each third of their nights by a fit to the two others.

    Pots of one spot share what the spot is like, and all pots what the air is like, so they are fitted as one. Pots
    that come out worse by themselves are left out, and if there are others still, those that are told worst.

    Where `weather` was moved to measured air, `untaught` is what it was before that: what is told without any
    thermometer is told by it, so a fit is held against that and not against a step of its own way.

    Raises
    ------
    TuningFailed
        If a pot has too few nights.
    """
    for situation in situations:
        enough_nights(terrace, situation, thermometers)
    def judged(pots: Sequence[Situation]) -> TerraceFit:
        ids = {one.pot.id for one in pots}
        own = [one for one in thermometers if one.pot in ids]
        model = model_of(terrace, weather, pots, own, catalogue, air_known=air_known, habits=habits)
        if untaught is None:
            return _judged(model, air_known)
        bare = prepare_terrace(terrace.garden, untaught)
        unread = usual_habits(terrace.garden.site)
        usual = model_of(bare, untaught, pots, own, catalogue, air_known=False, habits=unread)
        return _judged(model, air_known, before=usual(_priors(usual)[None])[0])

    found = judged(situations)
    refused: dict[str, PotCheck] = {}
    alone = {situations[0].pot.id: found.pots[0]}
    if not all(one.helps for one in found.pots) and len(situations) > 1:
        # a bad probe spoils the fit of its neighbours too, so each has to stand for itself first
        alone = {one.pot: one for each in situations for one in judged([each]).pots}
        refused = {pot: one for pot, one in alone.items() if not one.helps}
    while kept := [one for one in situations if one.pot.id not in refused]:
        if len(kept) < len(found.pots):
            found = judged(kept)
        if len(kept) == 1 or all(one.helps for one in found.pots):
            break
        spoils = max(found.pots, key=lambda one: alone[one.pot].rmse_k(after=True))
        refused[spoils.pot] = replace(spoils, left_out=True)
    checks = {one.pot: one for one in found.pots} | refused
    return replace(found, pots=tuple(checks[one.pot.id] for one in situations))


def model_of(
    terrace: Terrace,
    weather: WeatherSeries,
    situations: Sequence[Situation],
    thermometers: Sequence[Thermometer],
    catalogue: Catalogue,
    *,
    air_known: bool,
    habits: SiteHabits,
) -> TerraceModel:
    """The model of some pots with their thermometers, over the hours that these have numbers for."""
    weight, calm = nights_of_bias(weather, terrace.garden.site.time_zone)
    earliest = min(int(one.hours[0][0]) for one in thermometers)
    return TerraceModel(
        terrace=terrace,
        situations=tuple(situations),
        catalogue=catalogue,
        parameters=parameters_for(
            situations,
            thermometers,
            air_known=air_known,
            clear_calm_prior_k=0.0 if air_known else habits.clear_calm_bias_k,
        ),
        thermometers=tuple(thermometers),
        night_weight=weight[: terrace.times.size],
        night=night_numbers(terrace),
        clear_calm=calm[: terrace.times.size],
        first=first_hour(terrace, earliest),
        last=max(int(hours[-1]) for one in thermometers for hours in one.hours),
    )


def nights_of_bias(weather: WeatherSeries, time_zone: str) -> tuple[Array, NDArray[np.bool_]]:
    """For each hour how much of its night's bias acts (full from 21 to 9, none by day), and whether the night is clear
    and calm."""
    from zoneinfo import ZoneInfo

    first = weather.times[0].astype("datetime64[s]").item().replace(tzinfo=ZoneInfo("UTC"))
    errors = night_errors(weather, first - timedelta(days=1), time_zone, habits=SiteHabits())
    calm = np.zeros(weather.n_hours, dtype=np.bool_)
    weight = np.zeros(weather.n_hours)
    for error in errors:
        begin, end = night_window(error.night, time_zone)
        inside = (weather.times > begin) & (weather.times <= end)
        calm[inside] = error.clear_calm
        since_noon = (weather.times[inside] - begin) / np.timedelta64(3600, "s")
        weight[inside] = np.interp(since_noon, [4.0, 9.0, 21.0, 24.0], [0.0, 1.0, 1.0, 0.0])
    return weight, calm


def night_numbers(terrace: Terrace) -> NDArray[np.intp]:
    """The number of each hour's night, from 0."""
    nights = [_night_of_hour(terrace, hour) for hour in range(terrace.times.size)]
    return np.array([(night - nights[0]).days for night in nights], dtype=np.intp)


def _night_of_hour(terrace: Terrace, hour: int) -> date:
    from frostguard.advice.nights import from_utc64

    return night_of(from_utc64(terrace.times[hour], terrace.zone), terrace.garden.site.time_zone)


def enough_nights(terrace: Terrace, situation: Situation, thermometers: Sequence[Thermometer]) -> None:
    """Raise TuningFailed if a pot has too few nights to learn from."""
    nights = {
        _night_of_hour(terrace, int(hours[-1]))
        for one in thermometers
        if one.pot == situation.pot.id
        for hours in one.hours
    }
    if len(nights) < NIGHTS_NEEDED:
        raise TuningFailed(
            say(
                "There are readings of {count} nights for {pot}; {needed} are needed.",
                count=len(nights),
                pot=situation.pot.label,
                needed=NIGHTS_NEEDED,
            ),
            next_step=say("Leave the thermometer in place and ask again in some days."),
        )


def _priors(model: TerraceModel) -> Array:
    return np.array([one.prior for one in model.parameters])


def _judged(model: TerraceModel, air_known: bool, before: Array | None = None) -> TerraceFit:
    """Fitted on all nights, and checked on each third of them by a fit of its own that never saw that third.

    `before` is what was told of each reading before; what the model tells at the priors if not given.
    """
    tell = sloped(model, model.parameters)
    usual = AT_FIRST[air_known]
    prior = _priors(model)
    fitted = fit_map(tell, model.observed, model.readout(prior).covariance(usual), model.parameters)
    readout = model.readout(fitted.values)
    sizes = _sizes(model, readout, tell(fitted.values), usual)
    covariance = readout.covariance(sizes)
    fitted = fit_map(tell, model.observed, covariance, model.parameters, start=fitted.values)
    nights = np.unique(readout.night)
    found: list[NightCheck] = []
    for turn in range(HELD_BACK_IN_TURN):
        held = np.isin(readout.night, nights[turn::HELD_BACK_IN_TURN])
        without = fit_map(
            tell, model.observed, covariance, model.parameters, used=~held, start=fitted.values, most_steps=3
        )
        unfitted = tell(prior).answers
        was = (unfitted if before is None else before, unfitted)
        found += _checks(model, held, was, tell(without.values), without, readout, sizes)
    checks = tuple(
        PotCheck(one.pot.id, tuple(sorted((check for check in found if check.pot == one.pot.id), key=_in_order)))
        for one in model.situations
    )
    clocks = clocks_ahead_h(model, fitted, tell(fitted.values), covariance)
    wider = _wider(checks, reach_of(nights.size))
    widened = replace(fitted, covariance=wider**2 * fitted.covariance)
    return TerraceFit(widened, model, sizes.times(wider), checks, clocks)


def _in_order(check: NightCheck) -> tuple[date, str]:
    return check.night, check.series


def _wider(checks: Sequence[PotCheck], reach: float) -> float:
    """By how much intervals were too narrow for the nights kept back; 1 if they were not.

    The ratio that Birge drew from the scatter of measurements (Phys. Rev. 40, 1932, from memory).
    """
    nights = [night for check in checks if check.helps for night in check.held_back]
    if not nights:
        return 1.0
    misses = [(night.after_c - night.read_c) / ((night.high_c - night.after_c) / reach) for night in nights]
    return max(1.0, float(np.sqrt(np.mean(np.square(misses)))))


def _sizes(model: TerraceModel, readout: Readout, told: Slopes, usual: Sizes) -> Sizes:
    prior = _priors(model)
    at_prior = told.answers + told.slopes @ (prior - told.values)
    spread = np.array([one.spread for one in model.parameters])
    return learnt_sizes(readout, model.observed - at_prior, told.slopes, spread, usual)


def _checks(
    model: TerraceModel,
    held: NDArray[np.bool_],
    before: tuple[Array, Array],
    after: Slopes,
    fitted: Fitted,
    readout: Readout,
    sizes: Sizes,
) -> list[NightCheck]:
    """The nights kept back, before and after, with what spreads and misses make of the interval.

    `before` holds what is told without any thermometer, and without the fit.
    """
    found = []
    spread = told_spread_k(model, fitted, readout, sizes)
    reach = reach_of(np.unique(readout.night[~held]).size)
    for number, one in enumerate(model.thermometers):
        for night in np.unique(readout.night[held & (readout.thermometer == number)]):
            rows = np.flatnonzero((readout.thermometer == number) & (readout.night == night))
            lowest = rows[np.argmin(after.answers[rows])]
            told = float(after.answers[lowest])
            wide = reach * float(np.hypot(spread[lowest], sizes.reading_k))
            day = _night_of_hour(model.terrace, int(np.flatnonzero(model.night == night)[-1]))
            read = float(model.observed[rows].min())
            was, unfitted = (float(one_way[rows].min()) for one_way in before)
            found.append(NightCheck(one.pot, day, one.series, read, was, told, told - wide, told + wide, unfitted))
    return found


def told_spread_k(model: TerraceModel, fitted: Fitted, readout: Readout, sizes: Sizes) -> Array:
    """Standard deviation of what is told for each reading: parameters, the night's air, faults of the model [K].

    Parameters are moved by one standard deviation along each axis of their covariance. Slopes would not do: where a
    ball is about to freeze through they are many times what a real step brings.
    """
    size, axes = np.linalg.eigh(fitted.covariance)
    moves = np.sqrt(np.maximum(size, 0.0))[:, None] * axes.T
    low, high = np.array([one.bounds for one in fitted.parameters]).T
    answers = model(np.vstack([fitted.values, np.clip(fitted.values + moves, low, high)]))
    of_parameters = ((answers[1:] - answers[0]) ** 2).sum(axis=0)
    of_air = ((readout.air_response * sizes.air_k(readout.clear_calm)) ** 2).sum(axis=1)
    return np.asarray(np.sqrt(of_parameters + of_air + sizes.fault_k**2))


def reach_of(n_nights: int) -> float:
    """Standard deviations to either side that hold nine nights in ten, if sizes were learnt from so many."""
    from scipy.special import stdtrit

    return float(stdtrit(max(n_nights - 1, 2), LEVEL))


def told_values(fit: TerraceFit) -> Mapping[tuple[str, str], tuple[float, float]]:
    """Value and spread of each parameter in its own unit, those of thermometers left out."""
    told = {}
    for one, value, spread in zip(fit.fitted.parameters, fit.fitted.values, fit.fitted.spread, strict=True):
        if one.subject.startswith("thermometer/"):
            continue
        shown = float(np.exp(value)) if one.is_factor else float(value)
        told[one.subject, one.name] = (shown, float(spread * (shown if one.is_factor else 1.0)))
    return told


