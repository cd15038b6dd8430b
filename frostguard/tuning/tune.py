"""Learn a pot's parameters from its thermometers, judge them on nights kept back, and refuse what does not help."""

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
from frostguard.tuning.fit import Fitted, fit_map
from frostguard.tuning.pot_model import PotModel, Thermometer, first_hour, parameters_for
from frostguard.weather.gates import night_of, night_window
from frostguard.weather.night_errors import SiteHabits, night_errors
from frostguard.weather.series import WeatherSeries

Array = NDArray[np.float64]

NIGHTS_NEEDED = 6
"""Of one pot; four to learn from and two to be judged on. Estimate; fewer teach the air only."""

HELD_BACK_EVERY = 3

PIECES_PER_NIGHT = 2.0
"""Independent pieces of knowledge in the hourly readings of one night, which are all alike; estimate."""

ERROR_WITH_AIR_K, ERROR_WITH_FORECAST_K = 0.5, 1.0
"""What the model may miss a reading by at first, with the air measured on the spot or taken from a service;
estimates, replaced by what the first round leaves."""

LEAST_ERROR_K = 0.2
"""Half a step of a thermometer that shows half degrees, less its rounding; estimate."""


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
class PotFit:
    """What came of one pot: parameters and spreads, the nights kept back, and whether it helps."""

    pot: str
    fitted: Fitted
    model: PotModel
    error_k: float
    held_back: tuple[NightCheck, ...]
    n_fitted: int

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


def tune_pot(
    terrace: Terrace,
    weather: WeatherSeries,
    situation: Situation,
    thermometers: Sequence[Thermometer],
    catalogue: Catalogue,
    *,
    air_known: bool,
    habits: SiteHabits,
) -> PotFit:
    """Fit one pot on two nights in three and check it on the third.

    Raises
    ------
    TuningFailed
        If there are too few nights.
    """
    weight, calm = nights_of_bias(weather, terrace.garden.site.time_zone)
    numbered = [[_night_of_hour(terrace, int(hours[-1])) for hours in one.hours] for one in thermometers]
    nights = sorted({night for of_one in numbered for night in of_one})
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
    held = set(nights[HELD_BACK_EVERY - 1 :: HELD_BACK_EVERY])
    earliest = min(int(one.hours[0][0]) for one in thermometers)
    last = max(int(hours[-1]) for one in thermometers for hours in one.hours)
    prior_calm = 0.0 if air_known else habits.clear_calm_bias_k
    model = PotModel(
        terrace=terrace,
        situation=situation,
        catalogue=catalogue,
        parameters=parameters_for(situation, thermometers, air_known=air_known, clear_calm_prior_k=prior_calm),
        thermometers=tuple(thermometers),
        night_weight=weight,
        clear_calm=calm,
        first=first_hour(terrace, earliest),
        last=last,
    )
    learning = replace(
        model,
        thermometers=tuple(
            _only(one, [night not in held for night in of_one])
            for one, of_one in zip(thermometers, numbered, strict=True)
        ),
    )
    error = ERROR_WITH_AIR_K if air_known else ERROR_WITH_FORECAST_K
    fitted = _fit(learning, error)
    left = _lowest_errors(learning, fitted.values)
    told = sum(1.0 - (fitted.spread / np.array([one.spread for one in model.parameters])) ** 2)
    freedom = max(left.size - min(float(told), 0.5 * left.size), 1.0)
    error = max(float(np.sqrt(np.sum(left**2) / freedom)), LEAST_ERROR_K)
    fitted = _fit(learning, error, fitted.values)
    checks = _checks(model, numbered, held, fitted, error, freedom)
    return PotFit(situation.pot.id, fitted, model, error, checks, len(nights) - len(held))


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


def _night_of_hour(terrace: Terrace, hour: int) -> date:
    from frostguard.advice.nights import from_utc64

    return night_of(from_utc64(terrace.times[hour], terrace.zone), terrace.garden.site.time_zone)


def _only(one: Thermometer, wanted: Sequence[bool]) -> Thermometer:
    rows = np.flatnonzero(wanted)
    return replace(one, hours=tuple(one.hours[row] for row in rows), temperature_c=one.temperature_c[rows])


def _fit(model: PotModel, error_k: float, start: Array | None = None) -> Fitted:
    sigma = []
    for one in model.thermometers:
        nights = len({int(hours[-1]) // 24 for hours in one.hours})
        per_night = max(len(one.hours) / max(nights, 1) / PIECES_PER_NIGHT, 1.0)
        sigma.append(np.full(one.temperature_c.size, error_k * np.sqrt(per_night)))
    return fit_map(model, model.observed, np.concatenate(sigma), model.parameters, start=start)


def _nights_of(model: PotModel, one: Thermometer) -> dict[date, list[int]]:
    rows: dict[date, list[int]] = {}
    for row, hours in enumerate(one.hours):
        rows.setdefault(_night_of_hour(model.terrace, int(hours[-1])), []).append(row)
    return rows


def _lowest_errors(model: PotModel, values: Array) -> Array:
    """Lowest told less lowest read, over nights and thermometers [K]."""
    told = model(values[None])[0]
    errors, begin = [], 0
    for one in model.thermometers:
        mine = told[begin : begin + one.temperature_c.size]
        begin += one.temperature_c.size
        errors += [mine[rows].min() - one.temperature_c[rows].min() for rows in _nights_of(model, one).values()]
    return np.array(errors)


def _checks(
    model: PotModel,
    numbered: Sequence[Sequence[date]],
    held: set[date],
    fitted: Fitted,
    error_k: float,
    freedom: float,
) -> tuple[NightCheck, ...]:
    """The nights kept back, before and after, with what spread and residual error make of the interval."""
    from scipy.stats import t

    kept = replace(
        model,
        thermometers=tuple(
            _only(one, [night in held for night in of_one])
            for one, of_one in zip(model.thermometers, numbered, strict=True)
        ),
    )
    prior = np.array([one.prior for one in model.parameters])
    step = 0.15 * np.array([one.spread for one in model.parameters])
    answers = kept(np.vstack([prior, fitted.values, fitted.values + np.diag(step)]))
    reach = float(t.ppf(0.95, max(freedom, 2.0)))
    checks, begin = [], 0
    for one in kept.thermometers:
        mine = answers[:, begin : begin + one.temperature_c.size]
        begin += one.temperature_c.size
        for night, rows in _nights_of(kept, one).items():
            lowest = mine[:, rows].min(axis=1)
            slope = (lowest[2:] - lowest[1]) / step
            spread = reach * float(np.sqrt(slope @ fitted.covariance @ slope + error_k**2))
            read = float(one.temperature_c[rows].min())
            before, after = float(lowest[0]), float(lowest[1])
            checks.append(NightCheck(night, one.series, read, before, after, after - spread, after + spread))
    return tuple(sorted(checks, key=lambda check: (check.night, check.series)))


def told_values(fit: PotFit) -> Mapping[tuple[str, str], tuple[float, float]]:
    """Value and spread of each parameter in its own unit, those of thermometers left out."""
    told = {}
    for one, value, spread in zip(fit.fitted.parameters, fit.fitted.values, fit.fitted.spread, strict=True):
        if one.subject.startswith("thermometer/"):
            continue
        shown = float(np.exp(value)) if one.is_factor else float(value)
        told[one.subject, one.name] = (shown, float(spread * (shown if one.is_factor else 1.0)))
    return told
