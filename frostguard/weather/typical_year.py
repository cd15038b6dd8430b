"""Typical years from files: EPW and TMY3, the hourly tables that building engineers use.

Both put twelve real months of different years one behind the other, on LOCAL STANDARD time, the rows
being the ends of hours 1 to 24. Here the months are put on one year, so that a date can be asked about.
Radiation is the sum of the hour before (Wh/m2, so its mean in W/m2), sky cover is in tenths.

References
----------
EnergyPlus, Auxiliary Programs, "EnergyPlus Weather File (EPW) Data Dictionary": order of the fields, units and
codes for missing values; a value at or above its code is missing.
S. Wilcox and W. Marion, Users Manual for TMY3 Data Sets, NREL/TP-581-43156, 2008: names and units of the columns;
the code -9900 for missing from memory.
"""

from __future__ import annotations

import calendar
import csv
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from frostguard.errors import ForecastFormatError
from frostguard.weather import gates
from frostguard.weather.gates import Note
from frostguard.weather.json_answer import shortened
from frostguard.weather.series import Provenance, Quality, WeatherSeries, series_on_hours

EPW_HEADER_LINES = 8
EPW_FIELDS = 35
MOST_ROWS = 8784
FEWEST_ROWS = 24

_NEXT_STEP = "Download the file again, or use another weather file."


@dataclass(frozen=True, slots=True)
class Field:
    """A column of the file, the canonical column, a factor to its unit, and from which value on it is missing."""

    place: int | str  # number of the field from 0, or its name
    column: str
    factor: float
    missing_from: float


# Opaque sky cover would matter for long-wave, but EPW gives that itself; the cloud seen is the total one.
EPW = (
    Field(6, "air_temperature_c", 1.0, 99.9),
    Field(7, "dew_point_c", 1.0, 99.9),
    Field(8, "relative_humidity_percent", 1.0, 999.0),
    Field(9, "pressure_hpa", 0.01, 999999.0),
    Field(12, "sky_longwave_w_m2", 1.0, 9999.0),
    Field(13, "global_horizontal_w_m2", 1.0, 9999.0),
    Field(14, "direct_normal_w_m2", 1.0, 9999.0),
    Field(15, "diffuse_horizontal_w_m2", 1.0, 9999.0),
    Field(20, "wind_from_direction_deg", 1.0, 999.0),
    Field(21, "wind_speed_10m_m_s", 1.0, 999.0),
    Field(22, "cloud_cover_percent", 10.0, 99.0),
    Field(30, "snow_depth_m", 0.01, 999.0),
    Field(33, "precipitation_mm", 1.0, 999.0),
)
TMY3 = (
    Field("Dry-bulb (C)", "air_temperature_c", 1.0, 999.0),
    Field("Dew-point (C)", "dew_point_c", 1.0, 999.0),
    Field("RHum (%)", "relative_humidity_percent", 1.0, 999.0),
    Field("Pressure (mbar)", "pressure_hpa", 1.0, 9999.0),
    Field("GHI (W/m^2)", "global_horizontal_w_m2", 1.0, 9999.0),
    Field("DNI (W/m^2)", "direct_normal_w_m2", 1.0, 9999.0),
    Field("DHI (W/m^2)", "diffuse_horizontal_w_m2", 1.0, 9999.0),
    Field("Wdir (degrees)", "wind_from_direction_deg", 1.0, 999.0),
    Field("Wspd (m/s)", "wind_speed_10m_m_s", 1.0, 999.0),
    Field("TotCld (tenths)", "cloud_cover_percent", 10.0, 99.0),
    Field("Lprecip depth (mm)", "precipitation_mm", 1.0, 999.0),
)
MISSING_BELOW = -9000.0
"""TMY3 writes -9900 for what is not known; nothing measured here is as low."""


@dataclass(frozen=True, slots=True)
class _Station:
    name: str
    latitude_deg: float
    longitude_deg: float
    utc_offset_h: float
    elevation_m: float


def is_epw(text: str) -> bool:
    """Whether the text begins as an EPW file does."""
    return text[:9].upper() == "LOCATION,"


def is_tmy3(text: str) -> bool:
    """Whether the second line of the text names TMY3's columns."""
    return "Date (MM/DD/YYYY)" in text[:4000]


def parse_epw(text: str, source: str, *, year: int | None = None) -> WeatherSeries:
    """The hours of an EPW file, put on one year.

    Parameters
    ----------
    text : str
        The file.
    source : str
        Its name, for messages.
    year : int, optional
        The year to put the months on; otherwise that of the first row, or the next one without a
        29 February where the file has none.

    Returns
    -------
    WeatherSeries
        One member in UTC, gated, with the long-wave radiation of the sky where the file has it.

    Raises
    ------
    ForecastFormatError
        With the line, if heading, a date or a number cannot be read.
    """
    lines = text.splitlines()
    station = _epw_station(_cells(lines[0]), source)
    rows = [
        (number, _cells(line)) for number, line in enumerate(lines[EPW_HEADER_LINES:], EPW_HEADER_LINES + 1)
        if line.strip()
    ]
    dates = []
    for number, row in rows:
        if len(row) < EPW_FIELDS - 1:  # older files lack the last field
            raise _fault(source, number, f"has {len(row)} fields where {EPW_FIELDS} are due")
        whole = [_whole(cell) for cell in row[:4]]
        if any(part is None for part in whole):
            raise _fault(source, number, "does not begin with year, month, day and hour")
        dates.append(tuple(part for part in whole if part is not None))
    columns = {field.column: _column(rows, int(field.place), field, source) for field in EPW}
    return _on_one_year(dates, columns, station, "EPW", source, year, [number for number, _ in rows])


def parse_tmy3(text: str, source: str, *, year: int | None = None) -> WeatherSeries:
    """The hours of a TMY3 file, put on one year; parameters, result and errors as `parse_epw`."""
    lines = text.splitlines()
    station = _tmy3_station(_cells(lines[0]), source)
    names = [name.strip() for name in _cells(lines[1])] if len(lines) > 1 else []
    missing = [name for name in ("Date (MM/DD/YYYY)", "Time (HH:MM)", "Dry-bulb (C)") if name not in names]
    if missing:
        raise _fault(source, 2, f"names no column '{missing[0]}'")
    rows = [(number, _cells(line)) for number, line in enumerate(lines[2:], 3) if line.strip()]
    day_at, hour_at = names.index("Date (MM/DD/YYYY)"), names.index("Time (HH:MM)")
    dates = []
    for number, row in rows:
        if len(row) < len(names):
            raise _fault(source, number, f"has {len(row)} fields where {len(names)} are due")
        parts = [_whole(part) for part in (*row[day_at].split("/"), row[hour_at].partition(":")[0])]
        if len(parts) != 4 or any(part is None for part in parts) or not row[hour_at].endswith(":00"):
            raise _fault(source, number, "has no date like 01/31/1998 with a time like 24:00")
        month, day, of_year, hour = (part for part in parts if part is not None)
        dates.append((of_year, month, day, hour))
    columns = {
        field.column: _column(rows, names.index(str(field.place)), field, source)
        for field in TMY3
        if field.place in names
    }
    return _on_one_year(dates, columns, station, "TMY3", source, year, [number for number, _ in rows])


def _cells(line: str) -> list[str]:
    try:
        return next(csv.reader([line]), [])
    except csv.Error:
        return []


def _fault(source: str, line: int, sentence: str) -> ForecastFormatError:
    return ForecastFormatError(f"{source}, line {line}: the row {sentence}.", next_step=_NEXT_STEP)


def _whole(cell: str) -> int | None:
    text = cell.strip()
    return int(text) if text.isascii() and text.isdigit() and len(text) <= 4 else None


def _number(cell: str) -> float | None:
    try:
        value = float(cell) if "_" not in cell else math.nan
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _column(
    rows: Sequence[tuple[int, list[str]]], place: int, field: Field, source: str
) -> NDArray[np.float64]:
    """A column in the canonical unit; empty and code for missing become NaN."""
    column = np.full(len(rows), np.nan)
    for index, (number, row) in enumerate(rows):
        cell = row[place].strip() if place < len(row) else ""
        if not cell:
            continue
        value = _number(cell)
        if value is None:
            raise _fault(source, number, f"has '{shortened(cell, 20)}' where a number should stand")
        if MISSING_BELOW < value < field.missing_from:
            column[index] = value * field.factor
    return column


def _station(cells: Sequence[float | None], name: str, source: str) -> _Station:
    latitude, longitude, offset, height = cells
    if latitude is None or longitude is None or offset is None or height is None:
        raise ForecastFormatError(
            f"{source}, line 1: latitude, longitude, UTC offset or height cannot be read.",
            next_step=_NEXT_STEP,
        )
    believable = abs(latitude) <= 90 and abs(longitude) <= 180 and abs(offset) <= 14
    if not believable or not -500 <= height <= 9000 or offset * 3600 % 1:
        raise ForecastFormatError(f"{source}, line 1: no place on Earth is there.", next_step=_NEXT_STEP)
    return _Station(name, latitude, longitude, offset, height)


def _epw_station(cells: Sequence[str], source: str) -> _Station:
    if len(cells) < 10:
        raise ForecastFormatError(f"{source}, line 1: the LOCATION line is cut off.", next_step=_NEXT_STEP)
    return _station([_number(cells[place]) for place in (6, 7, 8, 9)], cells[1], source)


def _tmy3_station(cells: Sequence[str], source: str) -> _Station:
    if len(cells) < 7:
        raise ForecastFormatError(f"{source}, line 1: the station's line is cut off.", next_step=_NEXT_STEP)
    return _station([_number(cells[place]) for place in (4, 5, 3, 6)], cells[1], source)


def _on_one_year(
    dates: Sequence[tuple[int, ...]],
    columns: Mapping[str, NDArray[np.float64]],
    station: _Station,
    model: str,
    source: str,
    year: int | None,
    line_numbers: Sequence[int],
) -> WeatherSeries:
    if not FEWEST_ROWS <= len(dates) <= MOST_ROWS:
        raise ForecastFormatError(
            f"{source} has {len(dates)} hours; a typical year has 8760.", next_step=_NEXT_STEP
        )
    has_leap_day = any((month, day) == (2, 29) for _, month, day, _ in dates)
    chosen = _year_for(dates[0][0] if year is None else year, has_leap_day, fixed=year is not None)
    seconds: list[int] = []
    kept: list[int] = []
    for index, (_, month, day, hour) in enumerate(dates):
        if (month, day) == (2, 29) and not calendar.isleap(chosen):
            continue  # asked for on a year that has no such day
        second = _utc_second(chosen, month, day, hour, station.utc_offset_h)
        if second is None:
            raise _fault(source, line_numbers[index], "names a date or hour that no calendar has")
        if seconds and second <= seconds[-1]:
            raise _fault(source, line_numbers[index], "is not later than the row before it")
        seconds.append(second)
        kept.append(index)
    stamps = np.array(seconds, dtype=np.int64)
    table = {name: column[kept] for name, column in columns.items()}
    table = {n: c for n, c in table.items() if n == "air_temperature_c" or not np.isnan(c).all()}
    stamps, table, quality = _with_leap_day(stamps, table, chosen, has_leap_day)
    if np.any(stamps % 3600):  # zones of half an hour: the nearest whole hour before
        stamps -= stamps % 3600
    provenance = Provenance(
        service="file",
        model=model,
        fetched=None,
        issued=None,
        credit="",
        latitude_deg=station.latitude_deg,
        longitude_deg=station.longitude_deg,
        elevation_m=station.elevation_m,
    )
    series = series_on_hours(
        stamps.astype("datetime64[s]"),
        table,
        provenance,
        quality=quality,
        notes=[Note.TYPICAL_YEAR.of(chosen)],
    )
    return gates.checked(series, source)


def _year_for(wanted: int, has_leap_day: bool, *, fixed: bool) -> int:
    """A year that datetime knows; unless fixed, one with as many days as the file."""
    year = min(max(wanted, 1971), 2098)
    while not fixed and calendar.isleap(year) != has_leap_day:
        year += 1
    return year


def _utc_second(year: int, month: int, day: int, hour: int, utc_offset_h: float) -> int | None:
    try:
        midnight = datetime(year, month, day, tzinfo=UTC)
    except ValueError:
        return None
    if not 1 <= hour <= 24:
        return None
    return int((midnight + timedelta(hours=hour) - timedelta(hours=utc_offset_h)).timestamp())


def _with_leap_day(
    stamps: NDArray[np.int64], table: dict[str, NDArray[np.float64]], year: int, has_leap_day: bool
) -> tuple[NDArray[np.int64], dict[str, NDArray[np.float64]], dict[str, NDArray[np.uint8]]]:
    """28 February once more, flagged FILLED, where the year asked for has a day that the file lacks."""
    if has_leap_day or not calendar.isleap(year):
        return stamps, table, {}
    gap = np.flatnonzero(np.diff(stamps) == 25 * 3600)
    if not gap.size or gap[0] < 23:
        return stamps, table, {}
    at = int(gap[0]) + 1
    again = np.arange(at - 24, at)
    order = np.concatenate([np.arange(at), again, np.arange(at, stamps.size)])
    stamps = np.concatenate([stamps[:at], stamps[again] + 24 * 3600, stamps[at:]])
    code = np.full(order.size, Quality.GIVEN, dtype=np.uint8)
    code[at : at + 24] = Quality.FILLED
    return stamps, {name: column[order] for name, column in table.items()}, dict.fromkeys(table, code)
