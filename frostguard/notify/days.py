"""The days of a weather series on the site's clock: how warm, how cold, how gusty, how sunny."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from frostguard.weather.series import WeatherSeries
from frostguard.weather.worst_case import SERVICE as WORST_CASE

MOST_OF_A_DAY_H = 18
"""Hours of a day that must be known for its warmest to be told; a day has 23 to 25."""

SUNNY_W_M2 = 250.0
"""Mean global radiation over an hour from which the sun warms what lies under a cover; estimate."""


@dataclass(frozen=True, slots=True)
class Day:
    """One calendar day of the site; air temperatures [degC], medians over members.

    `gust_m_s` is the strongest gust foretold at 10 m [m/s], `sunny` whether some hour has strong sun; both
    are None where the source says nothing of it.
    """

    date: date
    coldest_c: float
    warmest_c: float
    gust_m_s: float | None = None
    sunny: bool | None = None

    @property
    def thaws(self) -> bool:
        """Whether it gets above freezing at any hour."""
        return self.warmest_c > 0.0

    @property
    def mean_c(self) -> float:
        """Half-way between coldest and warmest [degC], as climatologists reckon a day's mean."""
        return (self.coldest_c + self.warmest_c) / 2


def days_of_weather(series: WeatherSeries, time_zone: str) -> tuple[Day, ...]:
    """The days of which most hours are known, past and coming, in order; a guess knows none.

    Parameters
    ----------
    series : WeatherSeries
        As fetched or read.
    time_zone : str
        The site's.
    """
    if series.provenance.service == WORST_CASE:
        return ()
    zone = ZoneInfo(time_zone)
    # an hour is named by its end, so midnight belongs to the day that it ends
    seconds = series.times.astype("datetime64[s]").astype(np.int64) - 1
    dates = np.array([datetime.fromtimestamp(int(s), UTC).astimezone(zone).toordinal() for s in seconds])
    days = []
    for ordinal in np.unique(dates):
        hours = dates == ordinal
        air = series.values["air_temperature_c"][:, hours]
        known = ~np.isnan(air).all(axis=0)
        if int(known.sum()) < MOST_OF_A_DAY_H:
            continue
        members = air[~np.isnan(air).all(axis=1)]
        sun = _most(series, "global_horizontal_w_m2", hours)
        days.append(
            Day(
                date=date.fromordinal(int(ordinal)),
                coldest_c=float(np.median(np.nanmin(members, axis=1))),
                warmest_c=float(np.median(np.nanmax(members, axis=1))),
                gust_m_s=_most(series, "wind_gust_10m_m_s", hours),
                sunny=None if sun is None else sun >= SUNNY_W_M2,
            )
        )
    return tuple(days)


def _most(series: WeatherSeries, column: str, hours: NDArray[np.bool_]) -> float | None:
    """The largest value of any member, None where none is known."""
    if column not in series.values:
        return None
    values = series.values[column][:, hours]
    return None if np.isnan(values).all() else float(np.nanmax(values))
