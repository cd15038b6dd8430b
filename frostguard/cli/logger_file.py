"""A logger's file on its way into the logbook: as it is understood, shown, and put in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from frostguard.cli.output import print_out
from frostguard.errors import TuningFailed
from frostguard.garden.model import Garden
from frostguard.logbook.book import Logbook
from frostguard.logbook.exports import ReadAs, keep_read_as, last_read_as
from frostguard.logbook.measured import Reading
from frostguard.report.words import say
from frostguard.tuning.export_file import Clock, Column, DateOrder, Export, Kind, Unit, parse_export


@dataclass(frozen=True, slots=True)
class Understood:
    """A file as it is understood with what was said of it, and `before` of its layout; without the day's highest."""

    data: bytes
    export: Export
    said: ReadAs
    before: ReadAs

    @property
    def columns(self) -> list[Column]:
        """The columns that can be read in."""
        return _of_use(self.export)

    @property
    def as_before(self) -> bool:
        """Whether it is read as its layout was before, since something was said of that then."""
        return self.said == replace(self.before, ahead_h=self.said.ahead_h) != ReadAs(ahead_h=self.said.ahead_h)


def _of_use(export: Export) -> list[Column]:
    return [one for one in export.columns if one.kind is not Kind.HIGHEST]


def understood(book: Logbook, there: Garden, data: bytes, said: ReadAs) -> Understood:
    """The file with what is said of it now, and for the rest as the last one of its layout was read."""
    # a date that could be either way round is no matter for the layout
    layout = _read(data, there, replace(said, date_order=said.date_order or DateOrder.DAY_FIRST.value)).layout
    before = last_read_as(book, layout)
    said = replace(
        said,
        clock=said.clock or before.clock,
        unit=said.unit or before.unit,
        date_order=said.date_order or before.date_order,
    )
    return Understood(data, _read(data, there, said), said, before)


def lay_before(book: Logbook, source: str) -> tuple[str, str | None, str | None] | None:
    """Where the probe lay whose column was read in before; None where there is none, or not one alone."""
    rows = book.rows("SELECT place, pot, spot FROM reading_series WHERE source LIKE ?", (f"%[{source}]",))
    return (rows[0]["place"], rows[0]["pot"], rows[0]["spot"]) if len(rows) == 1 else None


def put_in(
    book: Logbook, there: Garden, found: Understood, number: int, lies: tuple[str, str | None, str | None], source: str
) -> str:
    """The readings of a column into the logbook, and how they are read for the next file; what came of it."""
    place, pot_id, spot_name = lies
    series, column = f"{pot_id or spot_name} {place}", found.columns[number - 1]
    ahead = timedelta(hours=found.said.ahead_h)
    wrongly = _times_read(found.data, there, found.before, number) if found.before != found.said else []
    new = book.add_readings(
        [
            Reading(series, time - ahead, value, place, pot_id, spot_name, source)
            for time, value in zip(column.times, column.temperature_c, strict=True)
        ],
        instead_of=[(series, time) for time in wrongly],
    )
    keep_read_as(book, found.export.layout, found.said)
    return _what_came_of_it(series, new, len(column.times))


def _read(data: bytes, there: Garden, said: ReadAs) -> Export:
    """The file as it is understood with what was said of it."""
    return parse_export(
        data,
        there.site.time_zone,
        clock=None if said.clock is None else Clock(said.clock),
        unit=None if said.unit is None else Unit(said.unit),
        order=None if said.date_order is None else DateOrder(said.date_order),
    )


def _times_read(data: bytes, there: Garden, before: ReadAs, number: int) -> list[datetime]:
    """The times that this file's numbers were given when it, or one like it, was read the last time."""
    try:
        columns = _of_use(_read(data, there, before))
    except TuningFailed:
        return []  # what could not be read brought nothing in
    return [time - timedelta(hours=before.ahead_h) for one in columns[number - 1 : number] for time in one.times]


def show(found: Understood) -> None:
    """What was understood."""
    for number, one in enumerate(found.columns, 1):
        first, last = one.times[0].astimezone(UTC), one.times[-1].astimezone(UTC)
        print_out(
            say(
                "{number}. {heading}: {count} values from {low} to {high} °C, {first} to {last} UTC",
                number=number,
                heading=one.heading,
                count=len(one.times),
                low=f"{min(one.temperature_c):.1f}",
                high=f"{max(one.temperature_c):.1f}",
                first=f"{first:%Y-%m-%d %H:%M}",
                last=f"{last:%Y-%m-%d %H:%M}",
            )
        )
    print_out(
        say(
            "Clock of the file: {clock}. Lines left out: {rows}.",
            clock=found.export.clock.value,
            rows=found.export.rows_left_out,
        )
    )


def column_meant(wanted: Sequence[Column], column: int | None) -> int:
    """The number of the column that is meant: the one there is, or the one that was said."""
    if column is None and len(wanted) > 1:
        raise TuningFailed(
            say("The file has several columns of temperatures."),
            next_step=say("Say which one is meant: --column 1, and import the others one by one."),
        )
    if not wanted or (column or 1) > len(wanted):
        raise TuningFailed(
            say("The file has no such column."), next_step=say("Choose one of the numbers shown above.")
        )
    return column or 1


def _what_came_of_it(series: str, new: int, count: int) -> str:
    if new == count:
        return say("{count} new readings for {series}.", count=new, series=series)
    return say(
        "{count} new readings for {series}; {again} are of times that it had, and take the place of what was there.",
        count=new,
        series=series,
        again=count - new,
    )
