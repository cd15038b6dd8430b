"""From one forecast to eleven that are all possible: error curves for the air temperature.

What it claims: over many nights, the lowest air temperature of night n differs from the forecast by the
stated bias and a spread of the stated size, and a forecast that is too warm one night tends to be too
warm the next. What it does not claim: that errors are Gaussian on every terrace; that cloud, wind or rain
are uncertain (all members share them, so an unforeseen hole in the cloud is covered by the temperature's
spread alone); that daytime errors have the size of night errors; that the hours just after asking are as
uncertain as here; anything local (courtyard, town, frost hollow), which only readings can teach.

On simulated nights (tests, scores) eleven members come within 1 % of the best possible score under the
assumed law. With errors of the same size but heavier tails (Student, four degrees of freedom) chances stay
within 6 points, while nights colder by three spreads come five times as often as assumed. A bias of 1.5 K that
nobody knows of turns a stated 9 % into 22 %; `SiteHabits` takes it out once readings have taught it.

Sources of the numbers
----------------------
Spread by night: no table of that form is published. It is interpolated between published figures: the
share of minima within 2 K on the first night of a post-processed forecast (Met Office, page on forecast
accuracy: 86.5 %, which a Gaussian of 1.34 K has); the error of lows in November 2011, growing from 1.7 K
on day 1 to 3.3 K on day 7 (US National Weather Service Milwaukee, note of 2012-11-16); a mean CRPS of
1.16 K of the raw ECMWF ensemble at German stations at 48 h, about 2.1 K as a Gaussian (Rasp and Lerch 2018,
Monthly Weather Review 146, 3885, Table 2, as quoted elsewhere).
Bias: the ECMWF Forecast User Guide, section 9.2, has nights about 1 to 2 K too warm in clear calm weather;
half of the 2 K is taken, since the sign differs between regions.
Sampling: once, hourly values of one German station missed the night's minimum by 1.0 K (a MOSMIX_L file,
2023-04-14); 0.5 K is an estimate of the mean.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from statistics import NormalDist
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from frostguard.weather.gates import Note, night_of, night_window
from frostguard.weather.series import HOUR, Quality, WeatherSeries, utc_hour, with_notes

N_MEMBERS = 11

NIGHTS = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0)
SPREAD_K = (2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.7, 4.2, 4.2)
"""Standard deviation of the error of a night's minimum, for a raw grid value [K]; held from night 8 on."""

CLEAR_CALM_SPREAD_FACTOR = 1.25
CLEAR_CALM_BIAS_K = -1.0
CLEAR_BELOW_CLOUD_PERCENT = 30.0
CALM_BELOW_WIND_M_S = 2.0
SAMPLING_K = -0.5
COARSE_SAMPLING_K = -1.0
COARSE_MODELS = ("ncep_gefs", "ecmwf_ifs025", "ecmwf_aifs025", "gem_")
"""Beginnings of the names of models whose three-hourly steps arrive as smooth hours: more of the minimum lies
between the steps (Open-Meteo, documentation of the ensemble interface, 2026; the kelvin is an estimate)."""

DRESSING_K = 1.3
"""Spread added to real ensemble members: a thermometer at a point is not a grid cell (estimate, the
first-night spread of corrected forecasts)."""

NIGHT_TO_NIGHT_CORRELATION = 0.7
"""Estimate: errors of soil, snow and airmass outlive a night; no published figure was found."""

RISE_H = 3.0
"""Hours after asking in which the error grows from nothing to full size (estimate)."""

_SEED = 46_051_451


SAME_OPINION_SHARE = 0.5
"""Of the distance between two services that is taken as spread: two opinions as likely as each other have a
standard deviation of half their distance about their mean."""


@dataclass(frozen=True, slots=True)
class SiteHabits:
    """What readings have taught about a site's nights, measured less forecast; zeros where nothing is known.

    A spread that is None keeps the table's. Clear calm nights have numbers of their own.
    """

    bias_k: float = 0.0
    clear_calm_bias_k: float = CLEAR_CALM_BIAS_K
    spread_k: float | None = None
    clear_calm_spread_k: float | None = None


NO_HABITS = SiteHabits()


@dataclass(frozen=True, slots=True)
class NightError:
    """How a night's minimum may differ from the forecast: `bias_k` (sampling not included) and `spread_k`."""

    night: date
    number: int  # 1 for the coming night
    clear_calm: bool
    bias_k: float
    spread_k: float


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
    unsure = sum(_sky_or_wind_unknown(series, error.night, time_zone) for error in errors)
    return with_notes(moved, Note.SKY_OR_WIND_UNKNOWN.of(unsure)) if unsure else moved


def night_errors(
    series: WeatherSeries, at: datetime, time_zone: str, *, habits: SiteHabits = NO_HABITS
) -> tuple[NightError, ...]:
    """What is to be expected of every night's minimum, from the night of `at` to the series' end.

    The remains of a night that is asked about in the morning count as the coming night. A
    forecast that was made long before `at` is as uncertain as its own age: night 1 of a forecast a day
    old has the spread of night 2. A spread that the source gives itself (`air_temperature_spread_k`) is
    taken in place of the table, with that for representativeness added. Of members the spread is for
    representativeness only. Another service's difference adds to whichever it is.
    """
    night = night_of(at, time_zone)
    today = at.astimezone(ZoneInfo(time_zone)).date()
    made = series.provenance.issued or series.provenance.fetched
    age_nights = max((at - made) / timedelta(days=1), 0.0) if made is not None else 0.0
    errors = []
    while night_window(night, time_zone)[0] < series.times[-1]:
        number = max(1, (night - today).days + 1)
        clear_calm = _is_clear_and_calm(series, night, time_zone)
        spread_k = _spread_k(series, night, time_zone, number + age_nights, clear_calm, habits)
        apart_k = _at_coldest(series, "service_difference_k", night, time_zone) or 0.0
        errors.append(
            NightError(
                night,
                number,
                clear_calm,
                bias_k=habits.clear_calm_bias_k if clear_calm else habits.bias_k,
                spread_k=math.hypot(spread_k, SAME_OPINION_SHARE * apart_k),
            )
        )
        night += timedelta(days=1)
    return tuple(errors)


def _spread_k(
    series: WeatherSeries,
    night: date,
    time_zone: str,
    number: float,
    clear_calm: bool,
    habits: SiteHabits,
) -> float:
    """Standard deviation of the error of a night's minimum, before other services are heard [K]."""
    if series.n_members > 1:
        return DRESSING_K
    own_k = _at_coldest(series, "air_temperature_spread_k", night, time_zone)
    if own_k is not None:
        return math.hypot(own_k, DRESSING_K)
    usual = float(np.interp(number, NIGHTS, SPREAD_K)) * (CLEAR_CALM_SPREAD_FACTOR if clear_calm else 1.0)
    learnt = habits.clear_calm_spread_k if clear_calm else habits.spread_k
    if learnt is None:
        return usual
    # readings teach the first nights; the growth with lead time stays the table's
    return learnt * float(np.interp(number, NIGHTS, SPREAD_K)) / SPREAD_K[0]


def _at_coldest(series: WeatherSeries, column: str, night: date, time_zone: str) -> float | None:
    """A column's mean over a night's four coldest hours, None where it is not known there."""
    return _mean_or_none(_mean_over_members(series, column)[_coldest_four(series, night, time_zone)])


def _in_night(series: WeatherSeries, night: date, time_zone: str) -> NDArray[np.int64]:
    """Indices of the hours of a night."""
    begin, end = night_window(night, time_zone)
    return np.flatnonzero((series.times > begin) & (series.times <= end))


def _mean_over_members(series: WeatherSeries, column: str) -> NDArray[np.float64]:
    """The members' mean, shape (n_hours,); NaN where any member has none, or the column is missing."""
    if column not in series.values:
        return np.full(series.n_hours, np.nan)
    return np.asarray(series.values[column].mean(axis=0), dtype=np.float64)


def _coldest_hour(series: WeatherSeries, night: date, time_zone: str) -> int | None:
    hours = _in_night(series, night, time_zone)
    air = _mean_over_members(series, "air_temperature_c")[hours]
    return None if np.isnan(air).all() else int(hours[np.nanargmin(air)])


def _coldest_four(series: WeatherSeries, night: date, time_zone: str) -> NDArray[np.int64]:
    """Indices of the four coldest hours of a night, or of all there are."""
    hours = _in_night(series, night, time_zone)
    air = _mean_over_members(series, "air_temperature_c")[hours]
    return hours[np.argsort(air, kind="stable")[:4]]  # NaN sorts last


def _mean_or_none(values: NDArray[np.float64]) -> float | None:
    known = values[~np.isnan(values)]
    return float(known.mean()) if known.size else None


def _is_clear_and_calm(series: WeatherSeries, night: date, time_zone: str) -> bool:
    """Whether a night's coldest four hours have little cloud and wind; unknown counts as little."""
    hours = _coldest_four(series, night, time_zone)
    cloud = _mean_or_none(_mean_over_members(series, "cloud_cover_percent")[hours])
    wind = _mean_or_none(_mean_over_members(series, "wind_speed_10m_m_s")[hours])
    clear = cloud is None or cloud < CLEAR_BELOW_CLOUD_PERCENT
    calm = wind is None or wind < CALM_BELOW_WIND_M_S
    return clear and calm


def _sky_or_wind_unknown(series: WeatherSeries, night: date, time_zone: str) -> bool:
    """Whether a night was taken as clear and calm for want of a number."""
    hours = _coldest_four(series, night, time_zone)
    columns = ("cloud_cover_percent", "wind_speed_10m_m_s")
    lacking = any(_mean_or_none(_mean_over_members(series, column)[hours]) is None for column in columns)
    return lacking and _is_clear_and_calm(series, night, time_zone)


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
        coldest = _coldest_hour(series, error.night, time_zone)
        if coldest is not None:
            away_h = np.abs(np.arange(series.n_hours) - coldest) / 3.0
            curve += sampling_k(series) * (1.0 - _smooth_step(away_h))
    return curve


def sampling_k(series: WeatherSeries) -> float:
    """By how much the true minimum of a night lies below the lowest hourly value, as a rule [K]."""
    coarse = (series.provenance.model or "").startswith(COARSE_MODELS)
    return COARSE_SAMPLING_K if coarse else SAMPLING_K


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
