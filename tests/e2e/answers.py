"""An answer of the forecast service in its documented shape, made from any of the invented weathers."""

from __future__ import annotations

import math
from typing import Any

from frostguard.weather.open_meteo import VARIABLES
from frostguard.weather.series import WeatherSeries

UNITS = {
    "temperature": "°C",
    "share": "%",
    "pressure": "hPa",
    "speed": "m/s",
    "angle": "°",
    "water": "mm",
    "snowfall": "cm",
    "length": "m",
    "radiation": "W/m²",
}


def open_meteo_answer(series: WeatherSeries, *, hours: int | None = None) -> dict[str, Any]:
    """The first `hours` of a series (all if not given) as the service would send them."""
    kept = slice(0, hours)
    columns: dict[str, list[float | None]] = {}
    units = {"time": "unixtime"}
    for variable in VARIABLES:
        if variable.column not in series.values:
            continue
        values = series.values[variable.column][0, kept].tolist()
        columns[variable.name] = [None if math.isnan(value) else value for value in values]
        units[variable.name] = UNITS[variable.quantity]
    return {
        "latitude": series.provenance.latitude_deg,
        "longitude": series.provenance.longitude_deg,
        "generationtime_ms": 0.7,
        "utc_offset_seconds": 0,
        "timezone": "GMT",
        "timezone_abbreviation": "GMT",
        "elevation": series.provenance.elevation_m,
        "hourly_units": units,
        "hourly": {"time": series.times[kept].astype("int64").tolist(), **columns},
    }
