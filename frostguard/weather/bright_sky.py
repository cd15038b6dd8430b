"""Bright Sky: the German weather service's stations and point forecasts (MOSMIX) as JSON.

The answer lists hours: up to now from stations, then from the forecast point that is nearest. Wind is
the mean and rain, sun and gust are of the hour BEFORE the time, as in this project. Forecast hours have no
relative humidity, and global radiation only; observed ones may lack the sun.

References
----------
Bright Sky, documentation of the `/weather` interface and its units ("dwd"), state of April 2026; nulls and
the change of source within one answer from a recorded answer.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from frostguard.errors import ForecastFormatError
from frostguard.garden.model import Site
from frostguard.weather import gates
from frostguard.weather.json_answer import (
    SAVE_AGAIN,
    is_number,
    items,
    json_object,
    number_or_nan,
    on_earth,
    refuse_error_answer,
    utc_second,
    whole_rising_hours,
)
from frostguard.weather.series import Provenance, WeatherSeries, series_on_hours

SERVICE = "bright-sky"
URL = "https://api.brightsky.dev/weather"
CREDIT = "Source: Deutscher Wetterdienst, by way of Bright Sky"

FARTHEST_M = 30_000
"""Farthest station or forecast point that is taken [m]; the service's own default is 50 km (estimate)."""

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
    answer = json_object(body, source)
    refuse_error_answer(answer, source)
    rows = items(answer, "weather", source)
    labels = [row.get("timestamp") for row in rows]
    times = whole_rising_hours([utc_second(label, source) for label in labels], labels, source)
    columns = {}
    for field, (column, factor) in FIELDS.items():
        values = np.array([number_or_nan(row.get(field), field, source) for row in rows], dtype=np.float64)
        if column == "air_temperature_c" or not np.isnan(values).all():
            columns[column] = values * factor
    series = series_on_hours(times, columns, _provenance(answer, rows, fetched, source))
    return gates.checked(series, source)


def _provenance(
    answer: Mapping[str, Any], rows: Sequence[Mapping[str, Any]], fetched: datetime | None, source: str
) -> Provenance:
    origin = _origin(items(answer, "sources", source), rows)
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
