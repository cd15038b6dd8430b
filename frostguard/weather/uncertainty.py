"""From one forecast to eleven that are all possible: error curves for the air temperature.

What it claims: over many nights, the lowest air temperature of night n differs from the forecast by the
stated bias and a spread of the stated size, and a forecast that is too warm one night tends to be too
warm the next. What it does not claim: that errors are Gaussian on every terrace; that cloud, wind or rain
are uncertain (all members share them, so an unforeseen hole in the cloud is covered by the temperature's
spread alone); that daytime errors have the size of night errors; that the hours just after asking are as
uncertain as here; anything local (courtyard, town, frost hollow), which only readings can teach.

On simulated nights (tests, scores; checked by a scoring library in the group `reference`), in units of the night's
spread, with the chance of a night colder than 1.3 spreads below the middle:

=============================  =====  =============  ======  =======  ======
errors follow                   CRPS  best possible   Brier   stated    seen
=============================  =====  =============  ======  =======  ======
the assumed law                0.571          0.564   0.090      9 %    10 %
heavier tails (Student, 4)     0.531          0.521   0.065      9 %     7 %
1.5 K colder on clear nights   0.640          0.564   0.187      9 %    22 %
half as large again            0.879          0.846   0.171      9 %    20 %
a third smaller                0.407          0.378   0.030      9 %     3 %
=============================  =====  =============  ======  =======  ======

So eleven members cost 1 to 2 % of the best score under the assumed law. With heavier tails nights colder by three
spreads come five times as often as assumed. A bias that nobody knows of, or errors larger than the table's, understate
the cold by half; `SiteHabits` takes both out once readings have taught them (tests).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from statistics import NormalDist
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from frostguard.weather.gates import Note
from frostguard.weather.night_errors import (
    NO_HABITS,
    NightError,
    coldest_hour,
    night_errors,
    sampling_k,
    sky_or_wind_unknown,
)
from frostguard.weather.night_errors import SiteHabits as SiteHabits  # readings are handed in beside the curves
from frostguard.weather.series import HOUR, Quality, WeatherSeries, utc_hour, with_notes

N_MEMBERS = 11

NIGHT_TO_NIGHT_CORRELATION = 0.7
"""Estimate: errors of soil, snow and airmass outlive a night; no published figure was found."""

RISE_H = 3.0
"""Hours after asking in which the error grows from nothing to full size (estimate)."""

_SEED = 46_051_451


def with_error_curves(
    series: WeatherSeries, at: datetime, time_zone: str, *, habits: SiteHabits = NO_HABITS
) -> WeatherSeries:
    """The series as a set of members that stand for its uncertainty.

    Parameters
    ----------
    series : WeatherSeries
        One member becomes eleven, by the spread of each night. A series that has members already
        keeps them: each gets the bias and a spread for representativeness only.
    at : datetime
        Aware; hours up to it are the same in every member.
    time_zone : str
        The site's; a night runs from noon to noon on its clock.
    habits : SiteHabits
        What readings have taught about this site; without readings the table stands.

    Returns
    -------
    WeatherSeries
        Air temperature and dew point moved together, so the air keeps its dew-point depression (and
        relative humidity nearly its value); long-wave from the sky, where given, keeps its emissivity. All
        other columns are repeated. Moved values are coded DERIVED.

    Notes
    -----
    Member k's error at night n is `spread_n * z[k, n]`; for every n the z are the same eleven normal
    quantiles, shuffled so that neighbouring nights correlate by about 0.7. So each night is sampled evenly
    on its own. The eleven midpoint quantiles spread 6 % less than the normal law; they are stretched so
    that their standard deviation is 1. The error is constant from 20:00 to 10:00 local and passes
    smoothly to the next night's over the day, where its spread is up to 8 % smaller. (Where the day is hardly
    warmer than the night, a member that turns colder has its minimum by day, and the mean of the minima
    is lower by about 0.1 K.) The bias acts at night
    only, the sampling correction around each night's coldest hour. The seed is fixed: the same
    forecast gives the same members, whatever else is asked.
    """
    errors = night_errors(series, at, time_zone, habits=habits)
    members = N_MEMBERS if series.n_members == 1 else series.n_members
    spreads = np.array([error.spread_k for error in errors])
    quantiles = _quantiles(members, max((error.number for error in errors), default=0))
    levels = np.array(
        [spread * quantiles[:, e.number - 1] for spread, e in zip(spreads, errors, strict=True)]
    )
    shift_k = np.zeros((members, series.n_hours))
    if errors:
        shift_k += levels.T @ _night_weights(series, errors, time_zone)
        shift_k += _bias_curve_k(series, errors, time_zone)
        shift_k *= _rise(series, at)
    moved = _moved(series, members, shift_k)
    unsure = sum(sky_or_wind_unknown(series, error.night, time_zone) for error in errors)
    return with_notes(moved, Note.SKY_OR_WIND_UNKNOWN.of(unsure)) if unsure else moved


def _quantiles(members: int, nights: int) -> NDArray[np.float64]:
    """Standard normal quantiles, shape (members, nights): the same set each night, in correlated order.

    Night n's order depends on n alone, so that a longer series begins as a shorter one does.
    """
    normal = NormalDist()
    ranked = np.array([normal.inv_cdf((k + 0.5) / members) for k in range(members)])
    ranked = ranked / ranked.std()
    table = np.empty((members, nights))
    for night in range(nights):
        draw = np.random.default_rng((_SEED, members, night))
        table[:, night] = _next_order(table[:, :night], ranked, draw)
    return table


def _next_order(
    earlier: NDArray[np.float64], ranked: NDArray[np.float64], draw: np.random.Generator
) -> NDArray[np.float64]:
    """The order after `earlier` (members, nights): of random ones, the nearest to the wanted correlations.

    Wanted: the correlation with the last night, and its square with the night before that.
    """
    if earlier.shape[1] == 0:
        return draw.permutation(ranked)
    recent = earlier[:, :-3:-1]  # the last night, then the one before
    wanted = NIGHT_TO_NIGHT_CORRELATION ** np.arange(1, recent.shape[1] + 1)
    lean, rest = NIGHT_TO_NIGHT_CORRELATION, np.sqrt(1.0 - NIGHT_TO_NIGHT_CORRELATION**2)
    noise = np.array([draw.permutation(ranked) for _ in range(100)])
    leaning = lean * recent[:, 0] + rest * noise
    orders = ranked[np.argsort(np.argsort(leaning, axis=1, kind="stable"), axis=1, kind="stable")]
    miss = np.abs(orders @ recent / ranked.size - wanted).sum(axis=1)
    return np.asarray(orders[np.argmin(miss)])


def _smooth_step(share: NDArray[np.float64]) -> NDArray[np.float64]:
    """0 to 1 without a kink at either end."""
    share = np.clip(share, 0.0, 1.0)
    return share * share * (3.0 - 2.0 * share)


def _hours_after(series: WeatherSeries, day: date, hour: int, time_zone: str) -> NDArray[np.float64]:
    """Hours from a local clock time to each hour of the series."""
    since = utc_hour(datetime.combine(day, time(hour), ZoneInfo(time_zone)))
    return (series.times - since) / HOUR


def _night_weights(
    series: WeatherSeries, errors: tuple[NightError, ...], time_zone: str
) -> NDArray[np.float64]:
    """Each night's share in the error at each hour, shape (n_nights, n_hours); shares add up to 1."""
    begun = [np.ones(series.n_hours)]
    for error in errors[1:]:
        morning = _hours_after(series, error.night, 10, time_zone)
        evening = _hours_after(series, error.night, 20, time_zone)
        begun.append(_smooth_step(morning / (morning - evening)))
    ended = [*begun[1:], np.zeros(series.n_hours)]
    return np.array(begun) - np.array(ended)


def _bias_curve_k(
    series: WeatherSeries, errors: tuple[NightError, ...], time_zone: str
) -> NDArray[np.float64]:
    """Bias of the nights and sampling correction at each hour, shape (n_hours,)."""
    curve = np.zeros(series.n_hours)
    for error in errors:
        morning = error.night + timedelta(days=1)
        falling = _smooth_step(_hours_after(series, error.night, 16, time_zone) / 5.0)  # full from 21:00
        rising = _smooth_step(_hours_after(series, morning, 9, time_zone) / 3.0)  # till 9:00, gone at noon
        curve += error.bias_k * (falling - rising)
        coldest = coldest_hour(series, error.night, time_zone)
        if coldest is not None:
            away_h = np.abs(np.arange(series.n_hours) - coldest) / 3.0
            curve += sampling_k(series, coldest) * (1.0 - _smooth_step(away_h))
    return curve


def _rise(series: WeatherSeries, at: datetime) -> NDArray[np.float64]:
    """0 up to `at`, then rising to 1, shape (n_hours,)."""
    return _smooth_step((series.times - utc_hour(at)) / HOUR / RISE_H)


def _moved(series: WeatherSeries, members: int, shift_k: NDArray[np.float64]) -> WeatherSeries:
    """The series with `shift_k` (members, n_hours) added to what moves with the air temperature."""
    repeats = members // series.n_members
    values = {name: np.repeat(array, repeats, axis=0) for name, array in series.values.items()}
    quality = {name: np.repeat(code, repeats, axis=0) for name, code in series.quality.items()}
    kelvin = values["air_temperature_c"] + 273.15
    for name in ("air_temperature_c", "dew_point_c", "sky_longwave_w_m2"):
        if name not in values:
            continue
        if name == "sky_longwave_w_m2":  # same emissivity under the moved air
            values[name] = values[name] * ((kelvin + shift_k) / kelvin) ** 4
        else:
            values[name] = values[name] + shift_k
        quality[name] = np.where(
            (shift_k != 0.0) & (quality[name] != Quality.MISSING), np.uint8(Quality.DERIVED), quality[name]
        )
    return replace(series, values=values, quality=quality)
