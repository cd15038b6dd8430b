"""Learn from thermometers what pots, spots and air are like, judge it on nights kept back, refuse what harms."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.situation import Situation
from frostguard.advice.terrace import Terrace
from frostguard.errors import TuningFailed
from frostguard.garden.catalogue import Catalogue
from frostguard.report.words import say
from frostguard.tuning.fit import Fitted, Slopes, fit_map, sloped
from frostguard.tuning.noise import AT_FIRST, Readout, Sizes, learnt_sizes
from frostguard.tuning.terrace_model import TerraceModel, Thermometer, first_hour, parameters_for
from frostguard.weather.gates import night_of, night_window
from frostguard.weather.night_errors import SiteHabits, night_errors
from frostguard.weather.series import WeatherSeries

Array = NDArray[np.float64]

NIGHTS_NEEDED = 6
"""Of one pot; four to learn from and two to be judged on. Estimate; fewer teach the air only."""

HELD_BACK_EVERY = 3

LEVEL = 0.95
"""Quantile at which intervals end, so that nine nights in ten lie inside."""


@dataclass(frozen=True, slots=True)
class NightCheck:
    """One night of one thermometer: lowest read, lowest told before and after, and its 90 % interval [degC]."""

    night: date
    series: str
    read_c: float
    before_c: float
    after_c: float
    low_c: float
    high_c: float


@dataclass(frozen=True, slots=True)
class PotCheck:
    """How one pot comes out on nights that were kept back from the fit."""

    pot: str
    n_fitted: int
    held_back: tuple[NightCheck, ...]

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
        """Whether nights kept back come out no worse."""
        return self.rmse_k(after=True) <= self.rmse_k(after=False)

    def hits(self, limit_c: float, *, after: bool) -> tuple[int, int, int]:
        """Nights below a limit that were told, missed, and told falsely."""
        told = np.array([(one.after_c if after else one.before_c) < limit_c for one in self.held_back])
        was = np.array([one.read_c < limit_c for one in self.held_back])
        return int((told & was).sum()), int((~told & was).sum()), int((told & ~was).sum())


@dataclass(frozen=True, slots=True)
class TerraceFit:
    """What came of some pots together: the last fit, on all nights of the pots that it helps.

    `pots` holds the check of every pot, of those left out too; without any that it helps, `fitted` is the fit
    that was refused.
    """

    fitted: Fitted
    model: TerraceModel
    sizes: Sizes
    pots: tuple[PotCheck, ...]

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
) -> TerraceFit:
    """Fit pots together on two nights in three, check them on the third, and fit those that it helps on all.

    Pots of one spot share what the spot is like, and all pots what the air is like, so they are fitted as one. Pots
    that come out worse are left out, and the others are fitted again without them.

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
        return _judged(model, air_known)

    found = judged(situations)
    refused: dict[str, PotCheck] = {}
    if not all(one.helps for one in found.pots) and len(situations) > 1:
        # a bad probe spoils the fit of its neighbours too, so each has to stand for itself first
        refused = {one.pot: one for each in situations for one in judged([each]).pots if not one.helps}
    while kept := [one for one in situations if one.pot.id not in refused]:
        if len(kept) < len(found.pots):
            found = judged(kept)
        worst = max(found.pots, key=lambda one: one.rmse_k(after=True) - one.rmse_k(after=False))
        if worst.helps or len(kept) == 1:
            break
        refused[worst.pot] = worst
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


def _judged(model: TerraceModel, air_known: bool) -> TerraceFit:
    """Fitted on two nights in three and checked; then, if any pot is helped, on all nights."""
    tell = sloped(model, model.parameters)
    nights = np.unique(model.night_of_reading)
    held = np.isin(model.night_of_reading, nights[HELD_BACK_EVERY - 1 :: HELD_BACK_EVERY])
    prior = np.array([one.prior for one in model.parameters])
    sizes, readout = AT_FIRST[air_known], model.readout(prior)
    fitted = fit_map(
        tell, model.observed, readout.covariance(sizes), model.parameters, used=~held, most_steps=4
    )
    readout = model.readout(fitted.values)
    sizes = _sizes(model, readout, tell(fitted.values), ~held, sizes)
    covariance = readout.covariance(sizes)
    fitted = fit_map(
        tell, model.observed, covariance, model.parameters, used=~held, start=fitted.values, most_steps=3
    )
    checks = _checks(model, held, tell(prior), tell(fitted.values), fitted, readout, sizes)
    if not any(check.helps for check in checks):
        return TerraceFit(fitted, model, sizes, checks)
    sizes = _sizes(model, readout, tell(fitted.values), np.ones_like(held), AT_FIRST[air_known])
    covariance = readout.covariance(sizes)
    fitted = fit_map(tell, model.observed, covariance, model.parameters, start=fitted.values, most_steps=3)
    wider = _wider(checks, reach_of(np.unique(readout.night[~held]).size))
    return TerraceFit(replace(fitted, covariance=wider**2 * fitted.covariance), model, sizes.times(wider), checks)


def _wider(checks: Sequence[PotCheck], reach: float) -> float:
    """By how much intervals were too narrow for the nights kept back; 1 if they were not.

    The ratio that Birge drew from the scatter of measurements (Phys. Rev. 40, 1932, from memory).
    """
    nights = [night for check in checks if check.helps for night in check.held_back]
    misses = [(night.after_c - night.read_c) / ((night.high_c - night.after_c) / reach) for night in nights]
    return max(1.0, float(np.sqrt(np.mean(np.square(misses)))))


def _sizes(
    model: TerraceModel, readout: Readout, told: Slopes, used: NDArray[np.bool_], usual: Sizes
) -> Sizes:
    rows = np.flatnonzero(used)
    prior = np.array([one.prior for one in model.parameters])
    at_prior = told.answers + told.slopes @ (prior - told.values)
    spread = np.array([one.spread for one in model.parameters])
    return learnt_sizes(
        readout.part(rows), (model.observed - at_prior)[rows], told.slopes[rows], spread, usual
    )


def _checks(
    model: TerraceModel,
    held: NDArray[np.bool_],
    before: Slopes,
    after: Slopes,
    fitted: Fitted,
    readout: Readout,
    sizes: Sizes,
) -> tuple[PotCheck, ...]:
    """The nights kept back, before and after, with what spreads and misses make of the interval."""
    of_pot: dict[str, list[NightCheck]] = {one.pot.id: [] for one in model.situations}
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
            of_pot[one.pot].append(
                NightCheck(day, one.series, read, float(before.answers[rows].min()), told, told - wide, told + wide)
            )
    fitted_nights = {
        one.pot.id: np.unique(
            readout.night[~held & np.isin(readout.thermometer, _rows_of(model.thermometers, one.pot.id))]
        ).size
        for one in model.situations
    }
    return tuple(
        PotCheck(pot, int(fitted_nights[pot]), tuple(sorted(checks, key=lambda check: (check.night, check.series))))
        for pot, checks in of_pot.items()
    )


def _rows_of(thermometers: Sequence[Thermometer], pot: str) -> list[int]:
    return [number for number, one in enumerate(thermometers) if one.pot == pot]


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


