"""Exports of temperature loggers: bytes to columns of times and temperatures, with what was understood.

Loggers write commas, semicolons or tabs, decimal points or commas, a byte-order mark, one or more lines
before the table, dates in three orders, one column or several. What the file itself decides is read from it;
what it leaves open (the order of day and month, the clock) is said, or asked if it makes a difference.
"""

from __future__ import annotations

import csv
import hashlib
import io
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from enum import Enum
from zoneinfo import ZoneInfo

from frostguard.errors import TuningFailed
from frostguard.report.words import say

MOST_BYTES = 20_000_000
MOST_ROWS = 500_000
MOST_COLUMNS = 40
LONGEST_CELL = 200
LINES_BEFORE_TABLE = 60
"""Lines in which the table must begin; loggers write a page about themselves first."""


class Clock(Enum):
    """The clock of a file's times."""

    LOCAL = "local"
    UTC = "utc"


class Unit(Enum):
    """The unit of a column."""

    CELSIUS = "C"
    FAHRENHEIT = "F"


class DateOrder(Enum):
    """The order of a date's numbers."""

    DAY_FIRST = "day first"
    MONTH_FIRST = "month first"
    YEAR_FIRST = "year first"


class Kind(Enum):
    """What the numbers of a column are."""

    MOMENT = "moment"
    LOWEST = "lowest"
    HIGHEST = "highest"


@dataclass(frozen=True, slots=True)
class Column:
    """One column of temperatures: its heading, what it holds, and the rows that have a number [degC]."""

    heading: str
    unit: Unit
    kind: Kind
    times: tuple[datetime, ...]
    temperature_c: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Export:
    """A file as it was understood.

    `layout` is a short code of the heading and its format, the same for every export of one logger.
    """

    columns: tuple[Column, ...]
    layout: str
    delimiter: str
    decimal_comma: bool
    clock: Clock
    clock_given: bool  # by the file itself
    order: DateOrder
    rows_left_out: int


_NUMBER = re.compile(r"([-+−]?\d{1,4}(?:[.,]\d{1,6})?)\s*((?:°|º|deg\.?)?\s*[CF])?", re.I)
_DATE = re.compile(r"(\d{1,4})[-./](\d{1,2})[-./](\d{1,4})")
_TIME = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,]\d{1,9})?)?\s*([AaPp]\.?[Mm]\.?)?")
_ZONE = re.compile(r"(Z|UTC|GMT|[-+]\d{2}:?\d{2})$")
_OFFSET = re.compile(r"\b(?:UTC|GMT)\s*([-+])\s*(\d{1,2})(?::?([0-5]\d))?(?!\d)")
_FAHRENHEIT = re.compile(r"°\s*F|ºF|deg\.?\s*F\b|fahrenheit|[(\[]\s*F\s*[)\]]|_f$", re.I)
_CELSIUS = re.compile(r"°\s*C|ºC|deg\.?\s*C\b|celsius|[(\[]\s*C\s*[)\]]|_c$", re.I)
_OTHER_QUANTITY = re.compile(
    r"humid|\brh\b|%|dew|batter|volt|press|hpa|lux|light|rain|\bno\.?$|^#$|index|count|record|signal", re.I
)


def parse_export(
    data: bytes, time_zone: str, *, clock: Clock | None = None, unit: Unit | None = None, order: DateOrder | None = None
) -> Export:
    """The temperatures of a logger's file.

    Parameters
    ----------
    data : bytes
        The file.
    time_zone : str
        The site's, for times on the local clock.
    clock, unit, order : optional
        What the person says of the file; the file's own word is taken where there is none.

    Raises
    ------
    TuningFailed
        If the file is too large, is no table of times and temperatures, or leaves open what must be known.
    """
    rows, delimiter = _rows(_text(data))
    first, date_cells = _first_row(rows)
    table = rows[first:]
    headings = _headings(rows[:first], max(len(row) for row in table[:50]))
    found = _date_order(table, date_cells, order)
    decimal_comma = delimiter != "," and any("," in cell for row in table[:200] for cell in row[date_cells:])
    zone_named = any(_ZONE.search(_moment_text(row, date_cells)) for row in table[:20])
    before = " ".join(cell for row in rows[:first] for cell in row)
    in_heading = re.search(r"\b(UTC|GMT)\b(?!\s*[-+]\s*0*[1-9])", before) is not None
    used = clock or (Clock.UTC if zone_named or in_heading else Clock.LOCAL)
    fixed = None if clock is not None else _fixed_offset(before)
    zone = fixed or (UTC if used is Clock.UTC else ZoneInfo(time_zone))
    times = _unambiguous([_moment(row, date_cells, found, zone) for row in table])
    columns = tuple(
        column
        for index in range(date_cells, len(headings))
        if (column := _column(table, times, index, headings[index], before, unit)) is not None
    )
    if not columns:
        raise _not_readable(say("it has no column of temperatures."))
    named = "|".join(["".join(headings[:date_cells]), *(column.heading for column in columns), delimiter])
    return Export(
        columns=columns,
        layout=hashlib.sha256(named.encode()).hexdigest()[:8],
        delimiter=delimiter,
        decimal_comma=decimal_comma,
        clock=used,
        clock_given=zone_named or in_heading or fixed is not None,
        order=found,
        rows_left_out=sum(time is None for time in times),
    )


def _not_readable(what: str) -> TuningFailed:
    return TuningFailed(
        say("This file cannot be read as a thermometer's: {what}", what=what),
        next_step=say("Export it again as a table (CSV) with one line for each moment."),
    )


def _text(data: bytes) -> str:
    if len(data) > MOST_BYTES:
        raise _not_readable(say("it has more than {most} bytes.", most=MOST_BYTES))
    wide = data.startswith((b"\xff\xfe", b"\xfe\xff"))
    encodings = ["utf-16"] if wide else ["utf-8-sig", "cp1252", "latin-1"]  # the degree sign of older loggers
    for encoding in encodings:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" in text:
            break
        return text
    raise _not_readable(say("it is no text."))


def _rows(text: str) -> tuple[list[list[str]], str]:
    """The cells, and what parts them: the sign that most lines have equally often."""
    lines = [line for line in text.splitlines() if line.strip()]
    if len(lines) > MOST_ROWS:
        raise _not_readable(say("it has more than {most} lines.", most=MOST_ROWS))
    body = lines[-min(len(lines), 200) :]

    def even(sign: str) -> tuple[int, int]:
        counts = [line.count(sign) for line in body]
        usual = max(set(counts), key=counts.count) if counts else 0
        return (counts.count(usual) if usual else 0, usual)

    # a comma that is a decimal mark stands as often as the semicolons or tabs beside it
    delimiter = next((sign for sign in ("\t", ";") if even(sign)[0] > 0.6 * len(body)), ",")
    try:
        rows = [
            [cell.strip() for cell in row]
            for row in csv.reader(io.StringIO("\n".join(lines)), delimiter=delimiter)
        ]
    except csv.Error as exc:
        raise _not_readable(say("its cells cannot be told apart.")) from exc
    if any(len(row) > MOST_COLUMNS or any(len(cell) > LONGEST_CELL for cell in row) for row in rows):
        raise _not_readable(say("it has lines that no thermometer writes."))
    return rows, delimiter


def _first_row(rows: Sequence[Sequence[str]]) -> tuple[int, int]:
    """The first line of the table, and how many cells at its left hold the number of the line, date and time."""
    for index, row in enumerate(rows[:LINES_BEFORE_TABLE]):
        for cell in range(min(2, len(row))):
            if not _DATE.match(row[cell]):
                continue
            apart = cell + 1 < len(row) and not _TIME.search(row[cell]) and _TIME.fullmatch(row[cell + 1]) is not None
            cells = cell + (2 if apart else 1)
            if any(_NUMBER.fullmatch(value) for value in row[cells:]):
                return index, cells
    raise _not_readable(say("no line begins with a date and goes on with a number."))


def _headings(before: Sequence[Sequence[str]], width: int) -> list[str]:
    """Headings of all columns from the last one or two lines before the table."""
    last = [row for row in before if len(row) > 1][-2:]
    return [
        " ".join(part for row in last if index < len(row) and (part := row[index])) or f"column {index + 1}"
        for index in range(width)
    ]


def _moment_text(row: Sequence[str], cells: int) -> str:
    return " ".join(cell for cell in row[:cells] if _DATE.match(cell) or _TIME.search(cell))


def _fixed_offset(before: str) -> tzinfo | None:
    """The zone of a heading such as "GMT+01:00": such loggers know no summer time."""
    found = _OFFSET.search(before)
    if found is None or int(found[2]) > 14:
        return None
    offset = timedelta(hours=int(found[2]), minutes=int(found[3] or 0))
    return timezone(offset if found[1] == "+" else -offset)


def _date_order(table: Sequence[Sequence[str]], cells: int, asked: DateOrder | None) -> DateOrder:
    """The order of the dates' numbers: by their size, else by which reading goes on without leaps."""
    dates = [match for row in table if (match := _DATE.search(_moment_text(row, cells))) is not None]
    if dates and len(dates[0][1]) == 4:
        return DateOrder.YEAR_FIRST
    day_first = any(int(match[1]) > 12 for match in dates)
    month_first = any(int(match[2]) > 12 for match in dates)
    if day_first != month_first:
        return DateOrder.DAY_FIRST if day_first else DateOrder.MONTH_FIRST
    if asked is not None and not day_first:
        return asked
    if dates and "." in dates[0][0]:
        return DateOrder.DAY_FIRST  # numbers parted by points are written day first everywhere
    raise TuningFailed(
        say("Day and month cannot be told apart in this file: its first date is {date}.", date=dates[0][0]),
        next_step=say("Say which comes first: --dates day-first or --dates month-first."),
    )


def _moment(row: Sequence[str], cells: int, order: DateOrder, zone: tzinfo) -> datetime | None:
    """The time of a line; None where there is none."""
    text = _moment_text(row, cells)
    date = _DATE.search(text)
    if date is None:
        return None
    numbers = [int(part) for part in date.groups()]
    year, month, day = {
        DateOrder.YEAR_FIRST: (numbers[0], numbers[1], numbers[2]),
        DateOrder.DAY_FIRST: (numbers[2], numbers[1], numbers[0]),
        DateOrder.MONTH_FIRST: (numbers[2], numbers[0], numbers[1]),
    }[order]
    rest = text[date.end() :]
    time = _TIME.search(rest)
    hour, minute, second = (0, 0, 0) if time is None else (int(time[1]), int(time[2]), int(time[3] or 0))
    if time is not None and time[4]:
        hour = hour % 12 + (12 if time[4][0] in "pP" else 0)
    named = _ZONE.search(text)
    try:
        moment = datetime(year + (2000 if year < 100 else 0), month, day, hour, minute, second)
        if named is None:
            return moment.replace(tzinfo=zone)
        sign = named[1] if named[1][0] in "+-" else "+0000"
        return moment.replace(tzinfo=UTC if sign == "+0000" else datetime.strptime(sign.replace(":", ""), "%z").tzinfo)
    except ValueError:
        return None


def _unambiguous(times: list[datetime | None]) -> list[datetime | None]:
    """The hour that a change of clocks brings twice: its second pass where the file goes back in time."""
    last: datetime | None = None
    told: list[datetime | None] = []
    for time in times:
        if time is not None and last is not None and time.timestamp() <= last.timestamp():
            again = time.replace(fold=1)
            if again.timestamp() > last.timestamp():
                time = again
        told.append(time)
        last = time or last
    return told


def _column(
    table: Sequence[Sequence[str]],
    times: Sequence[datetime | None],
    index: int,
    heading: str,
    before: str,
    asked: Unit | None,
) -> Column | None:
    """A column of temperatures, or None where it holds something else."""
    if _OTHER_QUANTITY.search(heading) and not _CELSIUS.search(heading) and not _FAHRENHEIT.search(heading):
        return None
    if re.search(r"dew|wet.?bulb|heat index|humid", heading, re.I):
        return None
    pairs = [
        (time, _number(row[index]))
        for row, time in zip(table, times, strict=True)
        if time is not None and index < len(row) and _NUMBER.fullmatch(row[index])
    ]
    if len(pairs) < 0.2 * len(table) or not pairs:
        return None
    in_cell = next((cell[2] for row in table if index < len(row) and (cell := _NUMBER.fullmatch(row[index]))), None)
    says_so = _CELSIUS.search(heading) or _FAHRENHEIT.search(heading)
    told = heading if says_so else before
    fahrenheit = _FAHRENHEIT.search(told) is not None and _CELSIUS.search(told) is None
    if in_cell is not None:
        fahrenheit = in_cell.upper().endswith("F")
    unit = asked or (Unit.FAHRENHEIT if fahrenheit else Unit.CELSIUS)
    convert: Callable[[float], float] = (lambda f: (f - 32.0) / 1.8) if unit is Unit.FAHRENHEIT else (lambda c: c)
    return Column(
        heading=heading,
        unit=unit,
        kind=_kind(heading),
        times=tuple(time for time, _ in pairs),
        temperature_c=tuple(convert(value) for _, value in pairs),
    )


def _number(cell: str) -> float:
    found = _NUMBER.fullmatch(cell)
    return float((found[1] if found else cell).replace(",", ".").replace("−", "-"))


def _kind(heading: str) -> Kind:
    if re.search(r"\b(min|minimum|lowest)\b", heading, re.I):
        return Kind.LOWEST
    return Kind.HIGHEST if re.search(r"\b(max|maximum|highest)\b", heading, re.I) else Kind.MOMENT
