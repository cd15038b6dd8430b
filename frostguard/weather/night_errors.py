"""How far a night's minimum may differ from its forecast: by lead time, kind of night, source and site.

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
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from frostguard.garden.model import Site, Surroundings
from frostguard.weather.gates import night_of, night_window
from frostguard.weather.series import Quality, WeatherSeries

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

STATING_MINIMA = ("met-norway", "nws")
"""Services that state the lowest temperature of spans; an hour that was lowered to it is coded DERIVED."""

DRESSING_K = 1.3
"""Spread added to real ensemble members: a thermometer at a point is not a grid cell (estimate, the
first-night spread of corrected forecasts)."""

SAME_OPINION_SHARE = 0.5
"""Of the distance between two services that is taken as spread: two opinions as likely as each other have a
standard deviation of half their distance about their mean."""


@dataclass(frozen=True, slots=True)
class SiteHabits:
    """What readings have taught about a site's nights, measured less forecast; zeros where nothing is known.

    A spread that is None keeps the table's. Clear calm nights have numbers of their own. `spread_growth` is how fast
    a learnt spread grows with lead time, over the table's growth.
    """

    bias_k: float = 0.0
    clear_calm_bias_k: float = CLEAR_CALM_BIAS_K
    spread_k: float | None = None
    clear_calm_spread_k: float | None = None
    spread_growth: float = 1.0


NO_HABITS = SiteHabits()

CLEAR_CALM_BIAS_AT_K = {Surroundings.OPEN_COUNTRY: -1.0, Surroundings.SUBURB: -0.5, Surroundings.CITY: 0.0}
"""Measured less forecast minimum on clear calm nights where no readings tell. Forecasts are 1 to 2 K too warm
then (ECMWF Forecast User Guide, section 9.2), of which half is taken; a town is 1 to 3 K warmer than the
forecast's open land on those very nights (US EPA and MeteoSwiss figures on heat islands), of which less is
taken than it offers, since a roof under an open sky loses part of it. Estimate."""


def usual_habits(site: Site) -> SiteHabits:
    """What is expected of a site's nights without any readings."""
    return SiteHabits(clear_calm_bias_k=CLEAR_CALM_BIAS_AT_K[site.surroundings])


def is_surer(habits: SiteHabits) -> bool:
    """Whether readings taught that forecasts miss by less here than the table says, on either kind of night."""
    usual = ((habits.spread_k, SPREAD_K[0]), (habits.clear_calm_spread_k, SPREAD_K[0] * CLEAR_CALM_SPREAD_FACTOR))
    return any(learnt is not None and learnt < told for learnt, told in usual)


@dataclass(frozen=True, slots=True)
class NightError:
    """How a night's minimum may differ from the forecast: `bias_k` (sampling not included) and `spread_k`."""

    night: date
    number: int  # 1 for the coming night
    clear_calm: bool
    bias_k: float
    spread_k: float


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
    grown = float(np.interp(number, NIGHTS, SPREAD_K)) / SPREAD_K[0] - 1.0
    return learnt * (1.0 + habits.spread_growth * grown)


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


def coldest_hour(series: WeatherSeries, night: date, time_zone: str) -> int | None:
    """Index of the hour of a night with the lowest mean over members, None where none is known."""
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


def sky_or_wind_unknown(series: WeatherSeries, night: date, time_zone: str) -> bool:
    """Whether a night was taken as clear and calm for want of a number."""
    hours = _coldest_four(series, night, time_zone)
    columns = ("cloud_cover_percent", "wind_speed_10m_m_s")
    lacking = any(_mean_or_none(_mean_over_members(series, column)[hours]) is None for column in columns)
    return lacking and _is_clear_and_calm(series, night, time_zone)


def sampling_k(series: WeatherSeries, coldest: int) -> float:
    """By how much the true minimum of a night lies below the lowest hourly value, at index `coldest`, as a rule [K].

    Nothing where that hour was lowered to what the service itself states for a span; a stated lowest that some hour
    has anyway may be no more than the lowest of the hours.
    """
    stated = (series.quality["air_temperature_c"][:, coldest] == Quality.DERIVED).all()
    if stated and series.provenance.service in STATING_MINIMA:
        return 0.0
    coarse = (series.provenance.model or "").startswith(COARSE_MODELS)
    return COARSE_SAMPLING_K if coarse else SAMPLING_K
