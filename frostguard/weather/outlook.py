"""The weather's own nights, before any pot is thought of: how cold, how sure, how clear, how windy."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

import numpy as np
from numpy.typing import NDArray

from frostguard.weather.gates import coming_night, night_is_complete, night_window
from frostguard.weather.night_errors import NO_HABITS, SiteHabits, night_errors
from frostguard.weather.series import COLUMNS, WeatherSeries
from frostguard.weather.services import NOT_EXPECTED
from frostguard.weather.uncertainty import with_error_curves


@dataclass(frozen=True, slots=True)
class NightWeather:
    """One night of a series; what is not known is None.

    `likely_c` is the middle of the night minima that are possible, `low_c` and `high_c` hold eight in ten
    of them; cloud and wind are means over the night, of all members.
    """

    night: date
    complete: bool
    likely_c: float
    low_c: float
    high_c: float
    cloud_percent: float | None
    wind_m_s: float | None
    precipitation_mm: float | None
    clear_calm: bool


def nights_of_weather(
    series: WeatherSeries, at: datetime, time_zone: str, days: int, *, habits: SiteHabits = NO_HABITS
) -> tuple[NightWeather, ...]:
    """The nights from the one that a question asked `at` is about, at most `days` of them.

    Parameters
    ----------
    series : WeatherSeries
        As fetched or read; its uncertainty is added here.
    at : datetime
        Aware; hours before it do not count.
    time_zone : str
        The site's.
    days : int
        Most nights.
    habits : SiteHabits
        The site's, so that the nights are those that the advice reckons with.
    """
    members = with_error_curves(series, at, time_zone, habits=habits)
    ahead = series.times > np.datetime64(int(at.timestamp()), "s")
    nights = []
    coming = coming_night(at, time_zone)  # of the night that is over in the morning nothing is told
    ahead_of_us = [error for error in night_errors(series, at, time_zone, habits=habits) if error.night >= coming]
    for error in ahead_of_us[:days]:
        begin, end = night_window(error.night, time_zone)
        hours = (series.times > begin) & (series.times <= end) & ahead
        air = members.values["air_temperature_c"][:, hours]
        known = ~np.isnan(air).all(axis=1)
        if not hours.any() or not known.any():
            continue
        minima = np.nanmin(air[known], axis=1)
        # Hazen's positions: each member stands for the middle of its share of the chances. With eleven
        # members that holds 84 % of nights of the assumed law; the usual positions would hold 76 %.
        low, likely, high = np.quantile(minima, (0.1, 0.5, 0.9), method="hazen")
        nights.append(
            NightWeather(
                night=error.night,
                complete=night_is_complete(series, error.night, time_zone, since=at),
                likely_c=float(likely),
                low_c=float(low),
                high_c=float(high),
                cloud_percent=_mean(series, "cloud_cover_percent", hours),
                wind_m_s=_mean(series, "wind_speed_10m_m_s", hours),
                precipitation_mm=_total(series, "precipitation_mm", hours),
                clear_calm=error.clear_calm,
            )
        )
    return tuple(nights)


def lacking_columns(series: WeatherSeries, at: datetime) -> tuple[str, ...]:
    """Columns that a forecast usually has and this one lacks for half of its hours ahead, or altogether."""
    ahead = series.times > np.datetime64(int(at.timestamp()), "s")
    if not ahead.any():
        return ()
    lacking = []
    for name in COLUMNS:
        if name in NOT_EXPECTED:
            continue
        if name not in series.values or np.isnan(series.values[name][:, ahead]).mean() > 0.5:
            lacking.append(name)
    return tuple(lacking)


def _known(series: WeatherSeries, column: str, hours: NDArray[np.bool_]) -> NDArray[np.float64] | None:
    if column not in series.values:
        return None
    values = series.values[column][:, hours]
    return None if np.isnan(values).all() else values


def _mean(series: WeatherSeries, column: str, hours: NDArray[np.bool_]) -> float | None:
    values = _known(series, column, hours)
    return None if values is None else float(np.nanmean(values))


def _total(series: WeatherSeries, column: str, hours: NDArray[np.bool_]) -> float | None:
    values = _known(series, column, hours)
    return None if values is None else float(np.nansum(values, axis=1).mean())
