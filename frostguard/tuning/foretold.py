"""What was foretold of nights before they came: the lowest air, by how many nights ahead it was said.

Two sources: answers that were kept when advice was asked for, and the service's own record of its earlier runs.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime, timedelta
from math import ceil

import numpy as np
from numpy.typing import NDArray

from frostguard.weather.gates import coming_night, night_of, night_window
from frostguard.weather.series import WeatherSeries, utc_hour

Foretold = Mapping[tuple[date, int], float]
"""Lowest hourly air of a night [degC] by the evening's date and the nights ahead: 1 is said on the day itself."""

FURTHEST = 7
"""Nights ahead that are learnt from."""

LATEST_HOUR_OF_NIGHT = 9
"""An answer of the night's first nine hours (until 21:00) is still a forecast of its lowest; estimate."""


def foretold_by_answers(kept: Iterable[WeatherSeries], time_zone: str) -> Foretold:
    """From answers as they were fetched; of several on one day the last before 21:00 counts.

    Parameters
    ----------
    kept : iterable of WeatherSeries
        The oldest first, each with the time that it was fetched.
    time_zone : str
        The site's.
    """
    found: dict[tuple[date, int], float] = {}
    for series in kept:
        fetched = series.provenance.fetched
        if fetched is None:
            continue
        first = coming_night(fetched, time_zone)
        begin = night_window(first, time_zone)[0]
        if utc_hour(fetched) > begin + np.timedelta64(LATEST_HOUR_OF_NIGHT, "h"):
            continue
        for ahead in range(1, FURTHEST + 1):
            night = first + timedelta(days=ahead - 1)
            lowest = _lowest_c(series, night, time_zone, since=utc_hour(fetched))
            if lowest is not None:
                found[night, ahead] = lowest
    return found


def foretold_by_earlier_runs(runs: Mapping[int, WeatherSeries], time_zone: str) -> Foretold:
    """From the series of each lead that the service keeps; n days before an hour counts as night n.

    That is half a day earlier than advice is asked for, so what is learnt is a little too unsure: the safe side.
    """
    found: dict[tuple[date, int], float] = {}
    for ahead, series in runs.items():
        if not 1 <= ahead <= FURTHEST:
            continue
        night, last = _night_of(series.times[0], time_zone), _night_of(series.times[-1], time_zone)
        while night <= last:
            lowest = _lowest_c(series, night, time_zone)
            if lowest is not None:
                found[night, ahead] = lowest
            night += timedelta(days=1)
    return found


def _lowest_c(series: WeatherSeries, night: date, time_zone: str, since: np.datetime64 | None = None) -> float | None:
    """Mean over members of a night's lowest air; None where an hour of it, or of what was left of it, is not known."""
    begin, end = night_window(night, time_zone)
    begin = begin if since is None else max(begin, since)
    inside: NDArray[np.bool_] = (series.times > begin) & (series.times <= end)
    air = series.values["air_temperature_c"][:, inside]
    hours = ceil((end - begin) / np.timedelta64(3600, "s"))  # whole ones behind a begin between them
    if inside.sum() < hours or np.isnan(air).any():
        return None
    return float(air.min(axis=1).mean())


def _night_of(time: np.datetime64, time_zone: str) -> date:
    moment: datetime = time.astype("datetime64[s]").item()
    return night_of(moment.replace(tzinfo=UTC), time_zone)
