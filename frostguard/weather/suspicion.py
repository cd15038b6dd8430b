"""Answers that are well-formed and yet not to be trusted: old, repeated, or made for water."""

from __future__ import annotations

from datetime import datetime
from enum import Enum

import numpy as np

from frostguard.weather.series import HOUR, WeatherSeries, utc_hour

LEAST_SHARED_H = 24
"""Fewest hours ahead that two answers must share to be called the same [h]."""

LEAST_RANGE_K = 2.0
LEAST_SUN_W_M2 = 150.0
LEAST_CLEAR_DAYS = 3


def looks_like_sea(series: WeatherSeries) -> bool:
    """Whether days with sun are hardly warmer than their nights, as over water.

    A shore's forecast may be that of a cell of the sea, where no frost comes. Over land the air's daily range
    on a sunny day is seldom below 2 K (estimate; the lowest sun that counts as sunny, too). Without
    radiation, or with fewer than three sunny days, nothing is said.
    """
    if "global_horizontal_w_m2" not in series.values:
        return False
    days = series.n_hours // 24
    air = series.values["air_temperature_c"].mean(axis=0)[: 24 * days].reshape(days, 24)
    sun = series.values["global_horizontal_w_m2"].mean(axis=0)[: 24 * days].reshape(days, 24)
    known = ~np.isnan(air).any(axis=1) & ~np.isnan(sun).any(axis=1)
    sunny = known & (np.where(np.isnan(sun), 0.0, sun).max(axis=1) > LEAST_SUN_W_M2)
    if sunny.sum() < LEAST_CLEAR_DAYS:
        return False
    return bool(np.median(np.ptp(air[sunny], axis=1)) < LEAST_RANGE_K)


class Staleness(Enum):
    """Why a well-formed answer is of no use now."""

    BEGINS_LATER = "begins-later"
    ENDS_TOO_SOON = "ends-too-soon"


LEAST_HOURS_AHEAD = 36


def staleness(
    series: WeatherSeries, now: datetime, *, least_hours_ahead: int = LEAST_HOURS_AHEAD
) -> Staleness | None:
    """What is wrong with the window of an answer fetched now, or None.

    A frozen model run keeps its form; only the window gives it away. The first temperature must
    not lie after `now`, the last one at least 36 h ahead of it.
    """
    known = series.times[~np.isnan(series.values["air_temperature_c"]).any(axis=0)]
    moment = utc_hour(now)
    if known.size == 0 or known[0] > moment:
        return Staleness.BEGINS_LATER
    if known[-1] < moment + least_hours_ahead * HOUR:
        return Staleness.ENDS_TOO_SOON
    return None


def repeats(series: WeatherSeries, earlier: WeatherSeries, now: datetime) -> bool:
    """Whether the hours ahead are to the last digit those of an earlier answer, over a day at least."""
    shared, mine, theirs = np.intersect1d(series.times, earlier.times, return_indices=True)
    ahead = shared > utc_hour(now)
    if ahead.sum() < LEAST_SHARED_H or series.n_members != earlier.n_members:
        return False
    first = series.values["air_temperature_c"][:, mine[ahead]]
    second = earlier.values["air_temperature_c"][:, theirs[ahead]]
    return bool(np.array_equal(first, second, equal_nan=True))
