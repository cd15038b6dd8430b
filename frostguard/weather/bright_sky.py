"""Bright Sky: the German weather service's stations and point forecasts (MOSMIX) as JSON.

The answer lists hours: up to now from stations, then from the forecast point that is nearest. Wind is
the mean and rain, sun and gust are of the hour BEFORE the time, as in this project. Forecast hours have no
relative humidity, and global radiation only; observed ones may lack the sun. What a station lacks may be
lent by another one, which `fallback_source_ids` names: such values are coded as derived.

References
----------
Bright Sky, documentation of the `/weather` interface and its units ("dwd"), state of April 2026; nulls and
the change of source within one answer from a recorded answer.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from enum import IntEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from frostguard.errors import ForecastFormatError
from frostguard.garden.model import Site
from frostguard.weather import gates
from frostguard.weather.json_answer import (
    SAVE_AGAIN,
    answer_object,
    is_number,
    items,
    number_or_nan,
    on_earth,
    timed_items,
)
from frostguard.weather.series import Provenance, Quality, WeatherSeries, series_on_hours

SERVICE = "bright-sky"
URL = "https://api.brightsky.dev/weather"
CREDIT = "Source: Deutscher Wetterdienst, by way of Bright Sky"

FARTHEST_M = 30_000
"""Farthest station or forecast point that is taken [m]; the service's own default is 50 km (estimate)."""

BOUND_TO_HEIGHT = ("temperature", "dew_point")
MOST_HEIGHT_APART_M = 100.0
"""A borrowed temperature is taken from stations that stand no more above or below [m]: 0.65 K by the standard
atmosphere, more in inversions (estimate)."""

PAST_DAYS = 30
LONGEST_AHEAD_D = 10
"""The point forecasts reach about 240 hours."""

# Field -> canonical column and factor from the "dwd" units. Pressure is left out: it is for sea level.
FIELDS: Mapping[str, tuple[str, float]] = {
    "temperature": ("air_temperature_c", 1.0),
    "dew_point": ("dew_point_c", 1.0),
    "relative_humidity": ("relative_humidity_percent", 1.0),
    "wind_speed": ("wind_speed_10m_m_s", 1 / 3.6),
    "wind_gust_speed": ("wind_gust_10m_m_s", 1 / 3.6),
    "wind_direction": ("wind_from_direction_deg", 1.0),
    "cloud_cover": ("cloud_cover_percent", 1.0),
    "precipitation": ("precipitation_mm", 1.0),
    "solar": ("global_horizontal_w_m2", 1000.0),  # kWh/m2 within the hour
}


def forecast_query(site: Site, days: int, now: datetime) -> dict[str, str]:
    """The query for a site's past month and coming nights, counted from the day of `now` in UTC."""
    today = now.date()
    return {
        "lat": f"{site.latitude_deg:.4f}",
        "lon": f"{site.longitude_deg:.4f}",
        "date": (today - timedelta(days=PAST_DAYS)).isoformat(),
        "last_date": (today + timedelta(days=min(days + 2, LONGEST_AHEAD_D + 1))).isoformat(),
        "max_dist": str(FARTHEST_M),
        "tz": "Etc/UTC",
        "units": "dwd",
    }


def parse_bright_sky(
    body: bytes, source: str = "The answer of Bright Sky", *, fetched: datetime | None = None
) -> WeatherSeries:
    """The series in an answer of `/weather` in "dwd" units.

    Parameters
    ----------
    body : bytes
        The answer as received.
    source : str
        File or service, for messages.
    fetched : datetime, optional
        When it was received, aware.

    Returns
    -------
    WeatherSeries
        One member, gated; place, height and model are those of the forecast point, or of the station
        where the answer has no forecast.

    Raises
    ------
    ForecastFormatError
        If it is no such answer, or a time or number in it cannot be one.
    """
    answer = answer_object(body, source)
    rows, times = timed_items(answer, "weather", "timestamp", source)
    sources = items(answer, "sources", source)
    columns, lent = {}, {}
    for field, (column, factor) in FIELDS.items():
        values = np.array([number_or_nan(row.get(field), field, source) for row in rows], dtype=np.float64)
        borrowed = _borrowed(rows, field, sources)
        if field in BOUND_TO_HEIGHT:
            values[borrowed == Loan.ELSEWHERE] = np.nan
        if column == "air_temperature_c" or not np.isnan(values).all():
            columns[column] = values * factor
            lent[column] = borrowed != Loan.NONE
    series = series_on_hours(times, columns, _provenance(sources, rows, fetched, source))
    quality = {name: code.copy() for name, code in series.quality.items()}
    places = np.searchsorted(series.times, times)  # hours that the answer skips lie between
    for column, hours in lent.items():
        code = quality[column][0]
        given = places[hours][code[places[hours]] == Quality.GIVEN]
        code[given] = Quality.DERIVED
    return gates.checked(replace(series, quality=quality), source)


class Loan(IntEnum):
    """Whether an hour's value comes from another station than the rest of the hour."""

    NONE = 0
    NEAR = 1
    ELSEWHERE = 2  # so much higher or lower that its temperature is another one


def _borrowed(
    rows: Sequence[Mapping[str, Any]], field: str, sources: Sequence[Mapping[str, Any]]
) -> NDArray[np.int64]:
    """`Loan` of a field by hour, from `fallback_source_ids`; a station of unknown height counts as near."""
    heights = {one.get("id"): one.get("height") for one in sources if not isinstance(one.get("id"), (list, dict))}
    found = np.full(len(rows), Loan.NONE, dtype=np.int64)
    for hour, row in enumerate(rows):
        fallback = row.get("fallback_source_ids")
        lender = fallback.get(field) if isinstance(fallback, dict) else None
        if not isinstance(lender, int):
            continue
        own = row.get("source_id")
        here, there = (heights.get(one) if isinstance(one, int) else None for one in (own, lender))
        apart = is_number(here) and is_number(there) and abs(here - there) > MOST_HEIGHT_APART_M
        found[hour] = Loan.ELSEWHERE if apart else Loan.NEAR
    return found


def _provenance(
    sources: Sequence[dict[str, Any]], rows: Sequence[Mapping[str, Any]], fetched: datetime | None, source: str
) -> Provenance:
    origin = _origin(sources, rows)
    latitude, longitude = origin.get("lat"), origin.get("lon")
    if not on_earth(latitude, longitude):
        raise ForecastFormatError(f"{source} does not say which place it is for.", next_step=SAVE_AGAIN)
    height = origin.get("height")
    return Provenance(
        service=SERVICE,
        model="MOSMIX" if origin.get("observation_type") == "forecast" else None,
        fetched=fetched,
        issued=None,  # no field says when the point forecast was made
        credit=CREDIT,
        latitude_deg=number_or_nan(latitude, "lat", source),
        longitude_deg=number_or_nan(longitude, "lon", source),
        elevation_m=float(height) if is_number(height) and math.isfinite(height) else None,
    )


def _origin(sources: Sequence[dict[str, Any]], rows: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """The source of the last hour, where the answer names it, else the first source."""
    last = rows[-1].get("source_id")
    return next((one for one in sources if one.get("id") == last), sources[0])
