"""MET Norway's point forecast (locationforecast 2.0, complete): what is asked, how the answer is read.

The answer is a GeoJSON feature: a list of steps, hourly for about two and a half days and then
six-hourly. Each step has instants at its time and, apart from them, blocks for the one and six hours that
BEGIN at its time, where this project's sums end at theirs. What is not known is left out. It has no
radiation, snow or soil; a gust and percentiles only in the Nordic countries.

References
----------
MET Norway, Locationforecast documentation and data model, and Terms of Service (identification, at most four
decimals, no request before `Expires`, conditional requests), read from the documentation repository, 2023.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from frostguard.errors import ForecastFormatError
from frostguard.garden.model import Site
from frostguard.weather import gates
from frostguard.weather.gates import Note
from frostguard.weather.json_answer import (
    OTHER_SOURCE,
    SAVE_AGAIN,
    answer_object,
    block,
    moment,
    number_or_nan,
    on_earth,
    shortened,
    timed_items,
)
from frostguard.weather.series import Provenance, Quality, WeatherSeries, series_on_hours
from frostguard.weather.steps import Extremes, hours_between, with_extremes

SERVICE = "met-norway"
URL = "https://api.met.no/weatherapi/locationforecast/2.0/complete"
CREDIT = "Data from MET Norway"

# Field -> canonical column and unit. Pressure is left out: it is for sea level, not for the terrace.
INSTANTS: Mapping[str, tuple[str, str]] = {
    "air_temperature": ("air_temperature_c", "celsius"),
    "dew_point_temperature": ("dew_point_c", "celsius"),
    "relative_humidity": ("relative_humidity_percent", "%"),
    "wind_speed": ("wind_speed_10m_m_s", "m/s"),
    "wind_speed_of_gust": ("wind_gust_10m_m_s", "m/s"),
    "wind_from_direction": ("wind_from_direction_deg", "degrees"),
    "cloud_area_fraction": ("cloud_cover_percent", "%"),
}
NOT_JOINED = ("wind_from_direction_deg", "wind_gust_10m_m_s")
"""Columns not joined by lines: 350 and 10 degrees have no 180 between them, a gust is no instant."""

TENTH, NINE_TENTHS = "air_temperature_percentile_10", "air_temperature_percentile_90"
PERCENTILES_APART = 2.5631
"""Standard deviations between the 10 % and 90 % quantiles of the normal law: 2 times 1.28155."""


def forecast_query(site: Site) -> dict[str, str]:
    """The query for a site: coordinates cut, not rounded, to four decimals; the ground's height in metres."""
    return {
        "lat": _four_decimals(site.latitude_deg),
        "lon": _four_decimals(site.longitude_deg),
        "altitude": f"{site.elevation_m:.0f}",
    }


def _four_decimals(degrees: float) -> str:
    return f"{math.trunc(round(degrees * 1e4, 6)) / 1e4:.4f}"


def parse_met_norway(
    body: bytes, source: str = "The answer of MET Norway", *, fetched: datetime | None = None
) -> WeatherSeries:
    """The series in an answer of locationforecast 2.0, compact or complete.

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
        One member on gapless UTC hours, gated. Six-hourly instants are joined by lines that are bent to
        the stated minimum (or maximum) of the six hours, flagged; sums stand at the end of their hours.
        `provenance.issued` is the time when the data were updated.

    Raises
    ------
    ForecastFormatError
        If it is no such answer, or a time or number in it cannot be one.
    """
    answer = answer_object(body, source)
    properties = block(answer, "properties", source)
    meta = block(properties, "meta", source)
    units = block(meta, "units", source)
    steps, times = timed_items(properties, "timeseries", "time", source)
    rows = (times - times[0]).astype("timedelta64[h]").astype(np.int64)
    notes: list[str] = []
    columns, quality = _instants(steps, rows, units, source, notes)
    _add_precipitation(columns, quality, steps, rows, units, source, notes)
    _add_spread(columns, quality, steps, rows, source)
    spans = _extremes(steps, rows, source)
    air, codes = with_extremes(columns["air_temperature_c"], quality["air_temperature_c"], spans)
    columns["air_temperature_c"], quality["air_temperature_c"] = air, codes
    if "dew_point_c" in columns:  # a line between dew points must not pass the bent air
        between = quality["dew_point_c"] == Quality.INTERPOLATED
        columns["dew_point_c"][between] = np.minimum(columns["dew_point_c"], air)[between]
    axis = times[0] + np.arange(int(rows[-1]) + 1) * np.timedelta64(3600, "s")
    series = series_on_hours(
        axis, columns, _provenance(answer, meta, fetched, source), quality=quality, notes=notes
    )
    return gates.checked(series, source)


Columns = dict[str, NDArray[np.float64]]
Codes = dict[str, NDArray[np.uint8]]


def _details(step: Mapping[str, Any], period: str) -> dict[str, Any]:
    """The numbers of a step's period, empty where there are none."""
    data = step.get("data")
    part = data.get(period) if isinstance(data, dict) else None
    details = part.get("details") if isinstance(part, dict) else None
    return details if isinstance(details, dict) else {}


def _field(steps: Sequence[Mapping[str, Any]], period: str, name: str, source: str) -> NDArray[np.float64]:
    """A field over the steps, NaN where its key is absent."""
    return np.array(
        [number_or_nan(_details(step, period).get(name), name, source) for step in steps], dtype=np.float64
    )


def _instants(
    steps: Sequence[Mapping[str, Any]],
    rows: NDArray[np.int64],
    units: Mapping[str, Any],
    source: str,
    notes: list[str],
) -> tuple[Columns, Codes]:
    columns: Columns = {}
    quality: Codes = {}
    for name, (column, unit) in INSTANTS.items():
        given = _field(steps, "instant", name, source)
        if np.isnan(given).all():
            if column == "air_temperature_c":
                raise ForecastFormatError(f"{source} holds no air temperature.", next_step=SAVE_AGAIN)
            continue
        if units.get(name) != unit:
            if column == "air_temperature_c":
                raise ForecastFormatError(
                    f"{source} gives {name} in the unknown unit '{shortened(str(units.get(name)), 40)}'.",
                    next_step=OTHER_SOURCE,
                )
            notes.append(Note.UNIT_REFUSED.of(column))
            continue
        columns[column], quality[column] = hours_between(rows, given)
        if column in NOT_JOINED:
            columns[column][quality[column] == Quality.INTERPOLATED] = np.nan
    return columns, quality


def _add_precipitation(
    columns: Columns,
    quality: Codes,
    steps: Sequence[Mapping[str, Any]],
    rows: NDArray[np.int64],
    units: Mapping[str, Any],
    source: str,
    notes: list[str],
) -> None:
    """Sums at the end of their hours: the one-hour sum where there is one, else a sixth of six hours'."""
    n_hours = int(rows[-1]) + 1
    rain = np.full(n_hours, np.nan)
    code = np.full(n_hours, Quality.GIVEN, dtype=np.uint8)
    for hours in (6, 1):
        for row, total in zip(
            rows, _field(steps, f"next_{hours}_hours", "precipitation_amount", source), strict=True
        ):
            ends = slice(row + 1, min(row + hours, n_hours - 1) + 1)
            if not math.isnan(total):
                rain[ends] = total / hours
                code[ends] = Quality.GIVEN if hours == 1 else Quality.INTERPOLATED
    if np.isnan(rain).all():
        return
    if units.get("precipitation_amount") != "mm":
        notes.append(Note.UNIT_REFUSED.of("precipitation_mm"))
        return
    columns["precipitation_mm"], quality["precipitation_mm"] = rain, code


def _add_spread(
    columns: Columns,
    quality: Codes,
    steps: Sequence[Mapping[str, Any]],
    rows: NDArray[np.int64],
    source: str,
) -> None:
    """The standard deviation that the percentiles of the air temperature stand for."""
    low, high = (_field(steps, "instant", name, source) for name in (TENTH, NINE_TENTHS))
    spread, code = hours_between(rows, np.maximum(high - low, 0.0) / PERCENTILES_APART)
    if not np.isnan(spread).all():
        code[code == Quality.GIVEN] = Quality.DERIVED
        columns["air_temperature_spread_k"], quality["air_temperature_spread_k"] = spread, code


def _extremes(
    steps: Sequence[Mapping[str, Any]], rows: NDArray[np.int64], source: str
) -> list[Extremes]:
    lowest = _field(steps, "next_6_hours", "air_temperature_min", source)
    highest = _field(steps, "next_6_hours", "air_temperature_max", source)
    return [
        Extremes(int(row), 6, float(low), float(high))
        for row, low, high in zip(rows, lowest, highest, strict=True)
        if not (math.isnan(low) and math.isnan(high))
    ]


def _provenance(
    answer: Mapping[str, Any], meta: Mapping[str, Any], fetched: datetime | None, source: str
) -> Provenance:
    place = block(answer, "geometry", source).get("coordinates")
    if not (isinstance(place, list) and len(place) >= 2 and on_earth(place[1], place[0])):
        raise ForecastFormatError(f"{source} does not say which place it is for.", next_step=SAVE_AGAIN)
    height = number_or_nan(place[2], "the height", source) if len(place) > 2 else math.nan
    return Provenance(
        service=SERVICE,
        model=None,
        fetched=fetched,
        issued=moment(meta.get("updated_at")),
        credit=CREDIT,
        latitude_deg=float(place[1]),
        longitude_deg=float(place[0]),
        elevation_m=None if math.isnan(height) else height,
    )
