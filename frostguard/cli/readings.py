"""The commands about thermometers: readings add, import, show."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from frostguard import places
from frostguard.cli import options
from frostguard.cli.files import existing_garden
from frostguard.cli.output import print_out
from frostguard.cli.trouble import errors_told
from frostguard.errors import TuningFailed
from frostguard.report.words import harmless, say

if TYPE_CHECKING:
    from frostguard.garden.model import Garden
    from frostguard.logbook.book import Logbook

readings_app = typer.Typer(help=say("Readings of your own thermometers."), no_args_is_help=True, rich_markup_mode=None)


def _number(written: str) -> float:
    """Degrees with either decimal sign."""
    try:
        return float(written.strip().replace(",", ".").replace("\N{MINUS SIGN}", "-"))
    except ValueError:
        raise typer.BadParameter(
            say(
                "'{text}' is no temperature; write it like 1.5, and below zero like -- -1.5.",
                text=harmless(written[:40]),
            )
        ) from None


Degrees = Annotated[
    float, typer.Argument(metavar="DEGREES", parser=_number, help=say("As read, in °C; write -- before a minus."))
]
PotName = Annotated[str | None, typer.Option("--pot", metavar="POT", help=say("The pot that the probe is in."))]
SpotName = Annotated[str | None, typer.Option("--spot", metavar="SPOT", help=say("The spot that it hangs at."))]
Where = Annotated[
    str | None, typer.Option("--where", metavar="PLACE", help=say("wall or core of a pot, air, or leaf."))
]
Lowest = Annotated[bool, typer.Option("--lowest", help=say("It is the lowest of the night."))]
File = Annotated[Path, typer.Argument(metavar="FILE", readable=False, help=say("What the logger exports."))]
ClockName = Annotated[str | None, typer.Option("--clock", metavar="local|utc", help=say("The file's clock."))]
FURTHEST_OFF_H = 300_000.0
"""A clock that lost its power begins again some decades ago; beyond that there is no clock."""


def _hours(given: float) -> float:
    if not abs(given) <= FURTHEST_OFF_H:
        raise typer.BadParameter(say("No clock is off by so much; write hours, such as 1 or -0.5."))
    return given


Ahead = Annotated[
    float,
    typer.Option("--clock-ahead", metavar="HOURS", callback=_hours, help=say("By which its clock is ahead.")),
]
UnitName = Annotated[str | None, typer.Option("--unit", metavar="C|F", help=say("The file's unit."))]
Dates = Annotated[str | None, typer.Option("--dates", metavar="day-first|month-first", help=say("Order of dates."))]
ColumnNumber = Annotated[
    int | None, typer.Option("--column", metavar="N", min=1, help=say("Which of its temperatures."))
]


@readings_app.command(help=say("Note one reading by hand, such as the lowest of last night."))
def add(
    degrees: Degrees,
    pot: PotName = None,
    spot: SpotName = None,
    where: Where = None,
    lowest: Lowest = False,
    at: options.At = None,
    garden: options.Garden = None,
) -> None:
    with errors_told(as_json=False):
        from zoneinfo import ZoneInfo

        from frostguard.asked_time import asked_time
        from frostguard.logbook.measured import Reading

        there, now = garden_of(garden), datetime.now(UTC)
        moment = now if at is None else asked_time(at, ZoneInfo(there.site.time_zone), now)
        if not -45.0 <= degrees <= 70.0:
            raise TuningFailed(
                say("{degrees} °C is no temperature of a terrace.", degrees=degrees),
                next_step=say("Look at the thermometer again; write degrees Celsius."),
            )
        if moment > now + timedelta(hours=1):
            raise TuningFailed(
                say("{at} is yet to come.", at=at), next_step=say("Say with --at when it was read, or leave that out.")
            )
        place, pot_id, spot_name = _placed(there, pot, spot, where, lowest)
        series = f"{pot_id or spot_name} {place}"
        with logbook() as book:
            book.add_readings([Reading(series, moment, degrees, place, pot_id, spot_name, "by hand")])
        print_out(say("Noted: {series}, {degrees} °C.", series=series, degrees=f"{degrees:.1f}"))


@readings_app.command("import", help=say("Read a logger's file; shows what was understood."))
def import_file(
    file: File,
    pot: PotName = None,
    spot: SpotName = None,
    where: Where = None,
    column: ColumnNumber = None,
    clock: ClockName = None,
    ahead: Ahead = 0.0,
    unit: UnitName = None,
    dates: Dates = None,
    garden: options.Garden = None,
) -> None:
    with errors_told(as_json=False):
        from frostguard.cli import logger_file
        from frostguard.logbook.exports import ReadAs
        from frostguard.tuning.export_file import MOST_BYTES, Clock, DateOrder, Kind, Unit

        there = garden_of(garden)
        with file.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
        said = ReadAs(
            None if clock is None else _one_of(Clock, clock).value,
            None if unit is None else _one_of(Unit, unit.upper()).value,
            None if dates is None else _one_of(DateOrder, dates.replace("-", " ")).value,
            ahead,
        )
        with logbook() as book:
            found = logger_file.understood(book, there, data, said)
            logger_file.show(found)
            if found.as_before:
                print_out(say("Clock, unit and dates are read as the last file of this logger was."))
            number = logger_file.column_meant(found.columns, column)
            source = f"{found.export.layout}.{number}"
            lies = None if (pot, spot, where) != (None, None, None) else logger_file.lay_before(book, source)
            lies = lies or _placed(there, pot, spot, where, found.columns[number - 1].kind is Kind.LOWEST)
            told = logger_file.put_in(book, there, found, number, lies, f"{file.name} [{source}]")
        print_out(told)


@readings_app.command(help=say("Show the readings, day by day, with a chart."))
def show(pot: PotName = None) -> None:
    with errors_told(as_json=False), logbook() as book:
        from frostguard.report.readings import render_readings

        print_out(render_readings(book.readings(pot=pot)))


Choice = TypeVar("Choice", bound=Enum)


def _one_of(choices: type[Choice], word: str) -> Choice:
    try:
        return choices(word)
    except ValueError:
        known = ", ".join(str(one.value).replace(" ", "-") for one in choices)
        raise TuningFailed(
            say("'{word}' is not known.", word=word), next_step=say("Write one of: {known}.", known=known)
        ) from None


def garden_of(named: Path | None) -> Garden:
    from frostguard.garden.reader import load_garden

    return load_garden(existing_garden(named))


def _placed(
    garden: Garden, pot: str | None, spot: str | None, where: str | None, lowest: bool
) -> tuple[str, str | None, str | None]:
    """Where a probe lies: its word, and the pot's id or the spot's name."""
    from frostguard.advice.explain import pot_called
    from frostguard.tuning.probe import Place, Probe

    if (pot is None) == (spot is None):
        raise TuningFailed(
            say("It is not known where this thermometer lies."),
            next_step=say("Name its pot with --pot and --where wall or core, or its spot with --spot."),
        )
    if spot is not None:
        names = [one.name for one in garden.spots]
        if spot not in names:
            raise TuningFailed(
                say("No spot is called '{spot}'.", spot=spot),
                next_step=say("The spots are: {names}.", names=", ".join(names)),
            )
        if where is not None and _one_of(Place, where) is not Place.AIR:
            raise TuningFailed(
                say("At a spot a thermometer hangs in the air."),
                next_step=say("Name the pot that it is in with --pot, or leave out --where."),
            )
        return str(Probe(Place.AIR, lowest)), None, spot
    if where is None:
        raise TuningFailed(
            say("It is not known where in the pot the probe lies."),
            next_step=say("Say --where wall, core, air or leaf."),
        )
    found = garden.pots[pot_called(garden, pot or "")]
    return str(Probe(_one_of(Place, where), lowest)), found.id, None


@contextmanager
def logbook() -> Iterator[Logbook]:
    from frostguard.logbook.book import open_logbook

    with open_logbook(places.logbook_file()) as book:
        if not book.on_disk and book.trouble is not None:
            raise book.trouble
        yield book
