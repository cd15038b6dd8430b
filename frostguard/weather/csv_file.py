"""The canonical CSV: the hourly table as a text file that a person can write and read.

```
# service: my weather station
# issued: 2026-01-14T14:00:00Z
time,air_temperature_c,dew_point_c
2026-01-14T15:00:00Z,1.3,-2.0
```

The `#` lines are optional and stand first. Times are ISO 8601 in UTC and mean the end of the hour;
rows may be missing, an empty field is an unknown value.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import UTC, datetime
from difflib import get_close_matches
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from frostguard.errors import ForecastFormatError
from frostguard.weather import gates
from frostguard.weather.series import COLUMNS, MAX_HOURS, Provenance, WeatherSeries, series_on_hours
from frostguard.whole_files import write_whole

HEADER_KEYS = (
    "service",
    "model",
    "issued",
    "fetched",
    "credit",
    "latitude",
    "longitude",
    "elevation",
    "note",
)
UNKNOWN = frozenset({"", "nan", "na", "null", "none", "-"})
FAULTS_TOLD = 8

_KEY_LINE = re.compile(r"#\s*([a-z_]+)\s*:\s*(.*)")
_NEXT_STEP = "Correct the file and try again; without --weather the forecast is fetched."


class _Faults:
    """Collects what is wrong, line by line, so that one run tells everything."""

    def __init__(self, source: str) -> None:
        self.source = source
        self.lines: list[str] = []

    def add(self, line: int, sentence: str, column: str | None = None) -> None:
        place = f"{self.source}, line {line}" + (f", column {column}" if column else "")
        printable = "".join(c if c.isprintable() else "?" for c in sentence)
        self.lines.append(f"{place}: {printable}")

    def raise_if_any(self, next_step: str = _NEXT_STEP) -> None:
        if self.lines:
            told = self.lines[:FAULTS_TOLD]
            if len(self.lines) > FAULTS_TOLD:
                told.append(f"{self.source}: {len(self.lines) - FAULTS_TOLD} more faults like these.")
            raise ForecastFormatError("\n".join(told), next_step=next_step)


def parse_weather_csv(body: bytes, source: str) -> WeatherSeries:
    """The series that a canonical CSV holds.

    Parameters
    ----------
    body : bytes
        The file; UTF-8, with or without byte-order mark, any line ends.
    source : str
        The file's name, for messages.

    Returns
    -------
    WeatherSeries
        One member, gapless hours, missing values NaN, gated by `gates.checked`.

    Raises
    ------
    ForecastFormatError
        If any line cannot be read; the message names file, line and column of up to eight faults.
    """
    faults = _Faults(source)
    lines = decoded(body, source).splitlines()
    heading: dict[str, tuple[int, str]] = {}
    start = _read_heading(lines, heading, faults)
    provenance = _provenance(heading, faults)
    while start < len(lines) and not lines[start].strip():
        start += 1
    if start == len(lines):
        faults.add(
            max(1, len(lines)), "the table is missing; a line 'time,air_temperature_c,...' must begin it."
        )
        faults.raise_if_any()
    columns = _read_column_names(lines[start], start + 1, faults)
    faults.raise_if_any()
    times, rows = _read_rows(lines, start + 1, columns, faults)
    if not times and not faults.lines:
        faults.add(start + 1, "no row follows the column names.")
    faults.raise_if_any()
    table = np.array(rows, dtype=np.float64).reshape(len(times), len(columns))
    if (times[-1] - times[0]) // 3600 >= MAX_HOURS:
        faults.add(
            len(lines), f"the file spans more than {MAX_HOURS} hours; a date seems to be wrong.", "time"
        )
        faults.raise_if_any()
    series = series_on_hours(
        np.array(times, dtype="datetime64[s]"),
        {name: table[:, index] for index, name in enumerate(columns)},
        provenance,
    )
    return gates.checked(series, source)


def decoded(body: bytes, source: str) -> str:
    """The text of a file that must be UTF-8; a sentence on what it is instead where it is not."""
    if body[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise ForecastFormatError(
            f"{source} is written as UTF-16.", next_step="Save it as UTF-8 text (CSV UTF-8)."
        )
    if body[:2] == b"PK":
        raise ForecastFormatError(
            f"{source} is a spreadsheet or archive, not text.",
            next_step="Save the table as CSV and try again.",
        )
    try:
        text = body.decode("utf-8-sig")
    except UnicodeDecodeError as exc:
        line = body.count(b"\n", 0, exc.start) + 1
        raise ForecastFormatError(
            f"{source}, line {line}: this is not UTF-8 text.",
            next_step="Save the file as UTF-8 text and try again.",
        ) from exc
    if "\0" in text:
        raise ForecastFormatError(
            f"{source} is not a text file.", next_step="Save the table as CSV and try again."
        )
    return text


def _read_heading(lines: Sequence[str], heading: dict[str, tuple[int, str]], faults: _Faults) -> int:
    """Read the leading `#` lines into `heading` (line, text); the index of the first line behind them."""
    index = 0
    for index, line in enumerate(lines):
        if not line.startswith("#"):
            return index
        match = _KEY_LINE.fullmatch(line.strip())
        if match is None:
            continue  # a remark
        key, value = match.groups()
        if key not in HEADER_KEYS:
            faults.add(
                index + 1, f"'{key}' is no known heading{_nearest(key, HEADER_KEYS)}; 'note' takes free text."
            )
        elif key != "note" and key in heading:
            faults.add(index + 1, f"'{key}' is given twice.")
        else:
            heading[key] = (index + 1, value)
    return index + 1 if lines else 0


def _nearest(word: str, known: Sequence[str]) -> str:
    near = get_close_matches(word.lower(), known, n=1, cutoff=0.5)
    return f" (nearest: '{near[0]}')" if near else ""


def _provenance(heading: dict[str, tuple[int, str]], faults: _Faults) -> Provenance:
    def text(key: str) -> str:
        return heading[key][1] if key in heading else ""

    def moment(key: str) -> datetime | None:
        if not text(key):
            return None
        seconds = _utc_seconds(text(key))
        if seconds is None:
            faults.add(
                heading[key][0], f"'{key}' is '{text(key)[:40]}', which is no time like 2026-01-14T15:00:00Z."
            )
            return None
        return datetime.fromtimestamp(seconds, UTC)

    def number(key: str, lowest: float, highest: float) -> float | None:
        if not text(key):
            return None
        value = _number(text(key))
        if value is None or not lowest <= value <= highest:
            faults.add(
                heading[key][0],
                f"'{key}' is '{text(key)[:40]}', which is no number from {lowest:g} to {highest:g}.",
            )
            return None
        return value

    return Provenance(
        service=text("service") or "file",
        model=text("model") or None,
        fetched=moment("fetched"),
        issued=moment("issued"),
        credit=text("credit"),
        latitude_deg=number("latitude", -90.0, 90.0),
        longitude_deg=number("longitude", -180.0, 180.0),
        elevation_m=number("elevation", -500.0, 9000.0),
    )


def _read_column_names(line: str, number: int, faults: _Faults) -> list[str]:
    """The columns behind `time`, in the file's order."""
    for mark, name in ((";", "semicolons"), ("\t", "tabs")):
        if mark in line and "," not in line:
            faults.add(
                number,
                f"the columns are parted by {name}; they must be parted by commas, with decimal points.",
            )
            return []
    names = [name.strip().strip('"') for name in line.split(",")]
    if names[0] != "time":
        faults.add(number, f"the first column must be 'time', not '{names[0][:40]}'.")
        return []
    for name in names[1:]:
        if name not in COLUMNS:
            faults.add(number, f"'{name[:40]}' is no known column{_nearest(name, COLUMNS)}.")
        elif names.count(name) > 1:
            faults.add(number, f"the column stands {names.count(name)} times.", name)
    if "air_temperature_c" not in names:
        faults.add(number, "the column air_temperature_c is missing; nothing can be said without it.")
    return names[1:]


def _read_rows(
    lines: Sequence[str], start: int, columns: Sequence[str], faults: _Faults
) -> tuple[list[int], list[list[float]]]:
    """Times [s since 1970, UTC] and values of every row; faults for what cannot be read."""
    times: list[int] = []
    rows: list[list[float]] = []
    for number, line in enumerate(lines[start:], start=start + 1):
        if not line.strip():
            continue
        fields = [field.strip().strip('"') for field in line.split(",")]
        if len(fields) != len(columns) + 1:
            hint = "; a decimal comma?" if len(fields) > len(columns) + 1 else "; is the line cut off?"
            faults.add(
                number, f"the row has {len(fields)} fields where the header names {len(columns) + 1}{hint}"
            )
            continue
        seconds = _row_time(fields[0], number, times, faults)
        row = [
            _row_value(field, number, name, faults) for field, name in zip(fields[1:], columns, strict=True)
        ]
        if seconds is not None:
            times.append(seconds)
            rows.append(row)
    return times, rows


def _row_time(field: str, number: int, times: Sequence[int], faults: _Faults) -> int | None:
    seconds = _utc_seconds(field)
    if seconds is None:
        faults.add(number, f"'{field[:40]}' is no time like 2026-01-14T15:00:00Z.", "time")
        return None
    if seconds % 3600:
        faults.add(number, f"'{field}' is not a whole hour in UTC.", "time")
        return None
    if times and seconds == times[-1]:
        faults.add(
            number, f"'{field}' stands twice; local times would do that when the clocks change.", "time"
        )
        return None
    if times and seconds < times[-1]:
        faults.add(number, f"'{field}' is earlier than the row before it.", "time")
        return None
    return seconds


def _row_value(field: str, number: int, column: str, faults: _Faults) -> float:
    if field.lower() in UNKNOWN:
        return math.nan
    value = _number(field)
    if value is None:
        faults.add(number, f"'{field[:40]}' is no number.", column)
        return math.nan
    bounds = gates.BOUNDS["air_temperature_c"]
    if column == "air_temperature_c" and not bounds.lowest <= value <= bounds.highest:
        faults.add(
            number,
            f"{field} °C is outside {bounds.lowest:.0f} to {bounds.highest:.0f}; another unit?",
            column,
        )
        return math.nan
    return value


def _number(text: str) -> float | None:
    """A finite plain number, or None; Python's own liberties (1_000, infinity) are no numbers here."""
    if "_" in text:
        return None
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _utc_seconds(text: str) -> int | None:
    """Seconds since 1970 of an ISO 8601 time, taken as UTC where it names no offset; None if it is none."""
    if len(text) < len("2026-01-14T15") or text[10:11] not in ("T", " "):
        return None
    try:
        moment = datetime.fromisoformat(text)
        if moment.tzinfo is None:
            moment = moment.replace(tzinfo=UTC)
        seconds = moment.timestamp()
    except (ValueError, OverflowError):
        return None
    return int(seconds) if seconds == int(seconds) and 0 <= seconds < 4102444800 else None  # 1970 to 2099


def weather_csv(series: WeatherSeries, remarks: Sequence[str] = ()) -> str:
    """The series as canonical CSV text.

    Parameters
    ----------
    series : WeatherSeries
        One member; ValueError for more, since the file has one table.
    remarks : sequence of str
        Lines put first, each behind a `#`.
    """
    if series.n_members != 1:
        raise ValueError("a canonical CSV holds one member")
    names = [name for name in COLUMNS if name in series.values]
    out = [f"# note: {' '.join(remark.split())}" for remark in remarks]
    out += [f"# {key}: {value}" for key, value in _heading(series.provenance)]
    out.append(",".join(["time", *names]))
    fields: list[list[str]] = [_fields(series.values[name][0]) for name in names]
    stamps = np.datetime_as_string(series.times, unit="s")
    out += [
        ",".join([f"{stamp}Z", *row]) for stamp, row in zip(stamps, zip(*fields, strict=True), strict=True)
    ]
    return "\n".join(out) + "\n"


def _heading(provenance: Provenance) -> list[tuple[str, str]]:
    def stamp(moment: datetime | None) -> str | None:
        return None if moment is None else moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")

    pairs: list[tuple[str, object]] = [
        ("service", provenance.service),
        ("model", provenance.model),
        ("issued", stamp(provenance.issued)),
        ("fetched", stamp(provenance.fetched)),
        ("credit", provenance.credit or None),
        ("latitude", provenance.latitude_deg),
        ("longitude", provenance.longitude_deg),
        ("elevation", provenance.elevation_m),
    ]
    return [(key, " ".join(str(value).split())) for key, value in pairs if value is not None]


def _fields(values: NDArray[np.float64]) -> list[str]:
    """Shortest decimal text that reads back as the same number; empty for NaN."""
    return ["" if math.isnan(value) else repr(value).removesuffix(".0") for value in values.tolist()]


def write_weather_csv(path: Path, series: WeatherSeries, remarks: Sequence[str] = ()) -> None:
    """Write the series to `path`, whole or not at all; OSError where the place does not take it."""
    write_whole(path, weather_csv(series, remarks))
