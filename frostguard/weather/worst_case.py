"""When nothing is known of the coming nights: how cold they could be at this place on this date.

No forecast and no climate record: a cautious guess, so that the person on the terrace is told which pots
could be in danger instead of nothing. It is meant to be too cold nearly always.

Sources of the numbers
----------------------
`EUROPE`, `NORTH`, `SOUTH`: estimates from what is remembered of national services' tables of extremes: near the
coldest nights of a severe winter, and of any summer, at inland places near sea level; coasts and great cities are
milder by 10 K and more in winter, so the person's word of the coldest night there goes before them. Europe's
nights are milder than those of the same latitudes in America and Asia: no frost is told in a July of Ljubljana
(record 7 °C), and none is ruled out in one of Winnipeg (record 1 °C).
Height: 5 K per km, between the standard atmosphere's 6.5 and the little that high plains lose (estimate).
Where hours of the past month are kept, a night is not taken to be more than 8 K colder than the coldest of
them (estimate: a change of air mass between one month and the next). Unknown past nights are taken as milder
by the same 8 K and as free of frost, since what stands outside is taken to be alive and not frozen through;
the change takes 6 h (estimates).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from frostguard.garden.model import Site
from frostguard.weather.gates import Note
from frostguard.weather.night_errors import SAMPLING_K, usual_habits
from frostguard.weather.series import HOUR, Provenance, WeatherSeries, series_on_hours, utc_hour

Array = NDArray[np.float64]
Hours = NDArray[np.datetime64]

SERVICE = "worst-case"
PAST_D = 7
CHANGE_H = 6.0

LATITUDES_DEG = (0.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0)
LAPSE_K_M = 0.005


@dataclass(frozen=True, slots=True)
class ColdNights:
    """The coldest nights of a part of the Earth by latitude, in midwinter and in midsummer [degC]."""

    winter_c: tuple[float, ...]
    summer_c: tuple[float, ...]


EUROPE = ColdNights((12.0, 0.0, -8.0, -20.0, -27.0, -40.0, -50.0), (14.0, 12.0, 12.0, 10.0, 6.0, 2.0, -2.0))
NORTH = ColdNights((12.0, 0.0, -12.0, -30.0, -42.0, -50.0, -52.0), (14.0, 12.0, 10.0, 7.0, 2.0, 0.0, -5.0))
SOUTH = ColdNights((12.0, 0.0, -8.0, -12.0, -22.0, -40.0, -50.0), (14.0, 12.0, 8.0, 3.0, 1.0, -3.0, -10.0))
_EUROPE_DEG = (-25.0, 40.0)
"""Longitudes of what counts as Europe, with the north of Africa."""

COLDER_THAN_LAST_MONTH_K = 8.0
MONTH = timedelta(days=31)
COLDEST_DAY_OF_YEAR = 20  # north of the equator; half a year later south of it
DAILY_RANGE_K = 8.0
"""From the night's lowest to the day's highest temperature, clear winter weather inland (estimate)."""

CALM_M_S, DRIER_K = 0.5, 4.0
"""Wind and dew-point depression of the case: calm and dry, which cools leaves below the air (estimates)."""


def cold_night_c(site: Site, now: datetime, kept: WeatherSeries | None = None) -> float:
    """The air temperature that a night about now should be reckoned with, where nothing is known [degC].

    Parameters
    ----------
    site : Site
        Latitude, part of the Earth and height decide, and its own coldest night where that is known.
    now : datetime
        Aware; the date decides.
    kept : WeatherSeries, optional
        An old answer for this place; its hours of the past month bound the guess.
    """
    nights = _cold_nights(site)
    lower_k = LAPSE_K_M * max(site.elevation_m, 0.0)
    winter, summer = (
        float(np.interp(abs(site.latitude_deg), LATITUDES_DEG, table)) - lower_k
        for table in (nights.winter_c, nights.summer_c)
    )
    if site.coldest_night_c is not None:
        winter, summer = site.coldest_night_c, max(summer, site.coldest_night_c)
    day = now.astimezone(UTC).timetuple().tm_yday + (0 if site.latitude_deg >= 0 else 183)
    winter_share = 0.5 + 0.5 * math.cos(2.0 * math.pi * (day - COLDEST_DAY_OF_YEAR) / 365.25)
    guess = summer + (winter - summer) * winter_share
    if kept is not None:
        recent = (kept.times > utc_hour(now - MONTH)) & (kept.times <= utc_hour(now))
        air = kept.values["air_temperature_c"][:, recent]
        if (~np.isnan(air)).sum() >= 24 * 7:
            guess = max(guess, float(np.nanmin(air)) - COLDER_THAN_LAST_MONTH_K)
    return max(guess, -60.0)


def _cold_nights(site: Site) -> ColdNights:
    if site.latitude_deg < 0.0:
        return SOUTH
    return EUROPE if _EUROPE_DEG[0] <= site.longitude_deg <= _EUROPE_DEG[1] else NORTH


def worst_case(site: Site, now: datetime, days: int, kept: WeatherSeries | None = None) -> WeatherSeries:
    """Clear, calm nights as cold as `cold_night_c`, from the coming one until the last night wanted.

    Parameters
    ----------
    site, now, kept
        As for `cold_night_c`; the past hours of `kept` stand before the guess.
    days : int
        Nights wanted.

    Returns
    -------
    WeatherSeries
        One member from a week ago on, coldest at sunrise, noted as a guess; service "worst-case", without an
        age. Its nights are warmer by what the error curves take off every clear calm night, so that the middle
        one of those is the guess; it states no spread of its own, since it lies at the cold end already.
    """
    lowest = cold_night_c(site, now, kept)
    present = utc_hour(now.replace(minute=0, second=0, microsecond=0))
    times = present + np.arange(-24 * PAST_D, 24 * (days + 2)) * HOUR
    milder_k = max(COLDER_THAN_LAST_MONTH_K, -lowest) * _still_milder(times, present)
    taken_off_k = usual_habits(site).clear_calm_bias_k + SAMPLING_K
    air = _clear_days_c(lowest - taken_off_k, times, site) + milder_k
    columns = {
        "air_temperature_c": air,
        "dew_point_c": air - DRIER_K,
        "wind_speed_10m_m_s": np.full(times.size, CALM_M_S),
        "cloud_cover_percent": np.zeros(times.size),
    }
    if kept is not None:
        for name, column in columns.items():
            _put_known_past(column, name, times, present, kept)
    columns["air_temperature_spread_k"] = np.zeros(times.size)
    provenance = Provenance(
        service=SERVICE,
        model=None,
        fetched=None,
        issued=None,
        credit="",
        latitude_deg=site.latitude_deg,
        longitude_deg=site.longitude_deg,
        elevation_m=site.elevation_m,
    )
    return series_on_hours(times, columns, provenance, notes=[Note.WORST_CASE.of(round(lowest))])


def _clear_days_c(lowest_c: float, times: Hours, site: Site) -> Array:
    """The daily course of clear weather, lowest at six by the sun [degC]."""
    solar_hour = (times.astype("datetime64[s]").astype(np.int64) / 3600.0 + site.longitude_deg / 15.0) % 24.0
    return np.asarray(lowest_c + DAILY_RANGE_K * (0.5 - 0.5 * np.cos((solar_hour - 6.0) * np.pi / 12.0)))


def _still_milder(times: Hours, present: np.datetime64) -> Array:
    """1 up to the present hour, falling to 0 within `CHANGE_H`."""
    return np.clip(1.0 - (times - present) / HOUR / CHANGE_H, 0.0, 1.0)


def _put_known_past(
    column: Array, name: str, times: Hours, present: np.datetime64, kept: WeatherSeries
) -> None:
    """Write what a kept answer knows of the past into `column`, members taken as their mean."""
    if name not in kept.values:
        return
    shared, here, there = np.intersect1d(times, kept.times, assume_unique=True, return_indices=True)
    known = kept.values[name].mean(axis=0)[there]
    take = (shared <= present) & np.isfinite(known)
    column[here[take]] = known[take]
