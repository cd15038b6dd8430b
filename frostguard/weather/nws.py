"""The US National Weather Service (api.weather.gov): from a point to its grid cell, then its layers.

The grid answer has one layer per quantity, each on a time axis of its own: spans written as start and
ISO 8601 duration. Equal neighbouring hours are merged into one span; rain and snow are totals of their
span. Layers may be empty or absent and values null. It has no radiation, no soil, and nothing of the past.

References
----------
US National Weather Service, API documentation: general FAQs and OpenAPI description, state of May 2024;
merged hours, totals and missing layers as told in the service's public issue list.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import Enum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from frostguard.errors import ForecastFormatError
from frostguard.garden.model import Site
from frostguard.weather import gates
from frostguard.weather.gates import Note
from frostguard.weather.json_answer import (
    LAST_SECOND,
    OTHER_SOURCE,
    SAVE_AGAIN,
    answer_object,
    block,
    is_number,
    moment,
    number_or_nan,
    on_earth,
    shortened,
)
from frostguard.weather.series import Provenance, Quality, WeatherSeries, series_on_hours
from frostguard.weather.steps import Extremes, with_extremes

SERVICE = "nws"
POINTS_URL = "https://api.weather.gov/points"
GRID_URL = "https://api.weather.gov/gridpoints"
CREDIT = "Data from the US National Weather Service"

LONGEST_AHEAD_H = 24 * 21
"""Longest reach that is believed [h], and most spans of a layer; the service gives about eight days, and wrong spans
must not fill the memory."""


class Kind(Enum):
    """What a value says of its span."""

    INSTANTS = "instants"  # holds at each hour from the start on
    HOURS = "hours"  # holds for each hour within
    TOTAL = "total"  # is the sum over the span


@dataclass(frozen=True, slots=True)
class Layer:
    """A layer, the column it becomes, and the factor and offset from its units (offset added first)."""

    name: str
    column: str
    kind: Kind
    units: Mapping[str, tuple[float, float]]


_DEGREES = {"degC": (1.0, 0.0), "degF": (1 / 1.8, -32.0), "K": (1.0, -273.15)}
_SPEED = {"km_h-1": (1 / 3.6, 0.0), "m_s-1": (1.0, 0.0)}
LAYERS = (
    Layer("temperature", "air_temperature_c", Kind.INSTANTS, _DEGREES),
    Layer("dewpoint", "dew_point_c", Kind.INSTANTS, _DEGREES),
    Layer("relativeHumidity", "relative_humidity_percent", Kind.INSTANTS, {"percent": (1.0, 0.0)}),
    Layer("windSpeed", "wind_speed_10m_m_s", Kind.INSTANTS, _SPEED),
    Layer("windGust", "wind_gust_10m_m_s", Kind.HOURS, _SPEED),
    Layer("windDirection", "wind_from_direction_deg", Kind.INSTANTS, {"degree_(angle)": (1.0, 0.0)}),
    Layer("skyCover", "cloud_cover_percent", Kind.INSTANTS, {"percent": (1.0, 0.0)}),
    Layer("quantitativePrecipitation", "precipitation_mm", Kind.TOTAL, {"mm": (1.0, 0.0), "m": (1e3, 0.0)}),
    Layer("snowfallAmount", "snowfall_cm", Kind.TOTAL, {"mm": (0.1, 0.0), "m": (1e2, 0.0)}),
)

_DURATION = re.compile(r"P(?:(\d{1,3})D)?(?:T(?:(\d{1,3})H)?(?:0+M)?)?")
_OFFICE = re.compile(r"[A-Z]{3}")


def points_url(site: Site) -> str:
    """Where to ask which grid cell a site lies in; at most four decimals, no trailing zeros."""
    place = (site.latitude_deg, site.longitude_deg)
    latitude, longitude = (f"{degrees:.4f}".rstrip("0").rstrip(".") for degrees in place)
    return f"{POINTS_URL}/{latitude},{longitude}"


def parse_points(body: bytes, source: str = "The answer of the US National Weather Service") -> str:
    """The grid cell in an answer about a point, such as "TAE/58,65"."""
    answer = answer_object(body, source)
    properties = block(answer, "properties", source)
    office, x, y = (properties.get(key) for key in ("gridId", "gridX", "gridY"))
    whole = all(is_number(number) and number == int(number) and 0 <= number < 10_000 for number in (x, y))
    if not (isinstance(office, str) and _OFFICE.fullmatch(office) and whole):
        raise ForecastFormatError(f"{source} names no grid cell for this place.", next_step=OTHER_SOURCE)
    return f"{office}/{int(x)},{int(y)}"  # type: ignore[arg-type]  # both were checked to be numbers


def grid_url(cell: str) -> str:
    """Where the layers of a cell are; built here, since an address in an answer is not to be trusted."""
    return f"{GRID_URL}/{cell}"


def parse_nws(
    body: bytes,
    source: str = "The answer of the US National Weather Service",
    *,
    fetched: datetime | None = None,
) -> WeatherSeries:
    """The series in a grid answer.

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
        One member, gated. Merged hours are expanded, totals divided; the hour that a stated minimum of
        a span falls short of is lowered to it. `provenance.issued` is the time of the grid's update.

    Raises
    ------
    ForecastFormatError
        If it is no grid answer, a problem document, or has no temperature in a known unit. Spans that
        cannot be read are left out and counted.
    """
    answer = answer_object(body, source)
    properties = block(answer, "properties", source)
    notes: list[str] = []
    layers: dict[str, dict[int, float]] = {}
    for layer in LAYERS:
        values = _layer_hours(layer, properties, source, notes)
        if values:
            layers[layer.column] = values
    if "air_temperature_c" not in layers:
        raise ForecastFormatError(f"{source} has no layer with temperatures.", next_step=SAVE_AGAIN)
    first = min(layers["air_temperature_c"])
    last = min(max(layers["air_temperature_c"]), first + LONGEST_AHEAD_H)
    columns = {column: _on_axis(values, first, last) for column, values in layers.items()}
    air = columns["air_temperature_c"]
    code = np.where(np.isnan(air), Quality.MISSING, Quality.GIVEN).astype(np.uint8)
    spans = _minima(properties, first, source)
    columns["air_temperature_c"], code = with_extremes(air, code, spans)
    axis = (np.arange(first, last + 1, dtype=np.int64) * 3600).astype("datetime64[s]")
    series = series_on_hours(
        axis,
        columns,
        _provenance(answer, properties, fetched, source),
        quality={"air_temperature_c": code},
        notes=notes,
    )
    return gates.checked(series, source)


def _layer_hours(
    layer: Layer, properties: Mapping[str, Any], source: str, notes: list[str]
) -> dict[int, float]:
    """Values by hour since 1970, in the canonical unit; empty where the layer is absent or empty."""
    found: dict[int, float] = {}
    values, unit = _values_and_unit(properties, layer.name, source)
    if not values:
        return found
    if unit not in layer.units:
        if layer.column == "air_temperature_c":
            raise ForecastFormatError(
                f"{source} gives the temperature in the unknown unit '{shortened(unit, 40)}'.",
                next_step=OTHER_SOURCE,
            )
        notes.append(Note.UNIT_REFUSED.of(layer.column))
        return found
    factor, offset = layer.units[unit]
    refused = 0
    for entry in values:
        span = _span(entry)
        if span is None:
            refused += 1
            continue
        value = number_or_nan(entry.get("value"), layer.name, source)
        if math.isnan(value):
            continue
        start, hours = span
        after = 0 if layer.kind is Kind.INSTANTS else 1
        share = hours if layer.kind is Kind.TOTAL else 1
        for hour in range(start + after, start + after + hours):
            found[hour] = (value + offset) * factor / share
    if refused:
        notes.append(Note.PERIODS_REJECTED.of(layer.column, refused))
    return found


def _values_and_unit(properties: Mapping[str, Any], name: str, source: str) -> tuple[list[Any], str]:
    """The entries of a layer and its unit without the prefix; nothing where the layer is absent."""
    part = properties.get(name)
    values = part.get("values") if isinstance(part, dict) else None
    if not isinstance(part, dict) or not isinstance(values, list):
        return [], ""
    if len(values) > LONGEST_AHEAD_H:
        raise ForecastFormatError(
            f"{source} has {len(values)} spans of {name}, far more than hours ahead.", next_step=OTHER_SOURCE
        )
    return values, str(part.get("uom")).rpartition(":")[2]


def _span(entry: Any) -> tuple[int, int] | None:
    """First hour since 1970 and number of hours of an entry's `validTime`, or None if it has none."""
    text = entry.get("validTime") if isinstance(entry, dict) else None
    if not isinstance(text, str):
        return None
    begins, _, lasts = text.partition("/")
    start, match = moment(begins), _DURATION.fullmatch(lasts)
    if start is None or match is None or start.timestamp() % 3600 or not 0 <= start.timestamp() < LAST_SECOND:
        return None
    hours = 24 * int(match[1] or 0) + int(match[2] or 0)
    return (int(start.timestamp()) // 3600, hours) if 1 <= hours <= LONGEST_AHEAD_H else None


def _on_axis(values: Mapping[int, float], first: int, last: int) -> NDArray[np.float64]:
    column = np.full(last - first + 1, np.nan)
    for hour, value in values.items():
        if first <= hour <= last:
            column[hour - first] = value
    return column


def _minima(properties: Mapping[str, Any], first: int, source: str) -> list[Extremes]:
    """The stated minima of nights, as spans of the axis; of a night that has begun if most of it is ahead."""
    values, unit = _values_and_unit(properties, "minTemperature", source)
    if unit not in _DEGREES:
        return []
    factor, offset = _DEGREES[unit]
    spans = []
    for entry in values:
        span = _span(entry)
        if span is None:
            continue
        begins = max(span[0], first)
        ahead = span[0] + span[1] - begins
        if 2 * ahead > span[1]:
            lowest = (number_or_nan(entry.get("value"), "minTemperature", source) + offset) * factor
            spans.append(Extremes(begins - first, ahead, lowest, math.nan))
    return spans


def _provenance(
    answer: Mapping[str, Any], properties: Mapping[str, Any], fetched: datetime | None, source: str
) -> Provenance:
    latitude, longitude = _middle(answer, source)
    height = properties.get("elevation")
    value = height.get("value") if isinstance(height, dict) else None
    in_feet = isinstance(height, dict) and str(height.get("unitCode")).endswith("ft")
    return Provenance(
        service=SERVICE,
        model=None,
        fetched=fetched,
        issued=moment(properties.get("updateTime")),
        credit=CREDIT,
        latitude_deg=latitude,
        longitude_deg=longitude,
        elevation_m=float(value) * (0.3048 if in_feet else 1.0) if is_number(value) else None,
    )


def _middle(answer: Mapping[str, Any], source: str) -> tuple[float, float]:
    """Latitude and longitude of the middle of the cell's outline."""
    outline = block(answer, "geometry", source).get("coordinates")
    ring = outline[0] if isinstance(outline, list) and outline else None
    corners = ring[:-1] if isinstance(ring, list) and len(ring) > 1 else []
    good = [
        corner
        for corner in corners
        if isinstance(corner, list) and len(corner) >= 2 and on_earth(corner[1], corner[0])
    ]
    if not good or len(good) != len(corners):
        raise ForecastFormatError(f"{source} does not say which place it is for.", next_step=SAVE_AGAIN)
    return (
        sum(float(corner[1]) for corner in good) / len(good),
        sum(float(corner[0]) for corner in good) / len(good),
    )
