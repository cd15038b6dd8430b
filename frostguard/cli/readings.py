"""The commands about thermometers: readings add, import, show; tune and tune undo."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from frostguard import places
from frostguard.cli import exits, options
from frostguard.cli.files import existing_garden
from frostguard.cli.output import print_out
from frostguard.cli.trouble import errors_told
from frostguard.errors import FrostguardError, TuningFailed
from frostguard.report.words import say

if TYPE_CHECKING:
    from frostguard.garden.model import Garden, Site
    from frostguard.logbook.book import Logbook
    from frostguard.tuning.foretold import Foretold
    from frostguard.weather.series import WeatherSeries

readings_app = typer.Typer(help=say("Readings of your own thermometers."), no_args_is_help=True, rich_markup_mode=None)
tune_app = typer.Typer(
    help=say("Learn this terrace and its pots from your thermometers."),
    invoke_without_command=True,
    rich_markup_mode=None,
)

Degrees = Annotated[float, typer.Argument(metavar="DEGREES", help=say("As read, in °C; write -- before a minus."))]
PotName = Annotated[str | None, typer.Option("--pot", metavar="POT", help=say("The pot that the probe is in."))]
SpotName = Annotated[str | None, typer.Option("--spot", metavar="SPOT", help=say("The spot that it hangs at."))]
Where = Annotated[
    str | None, typer.Option("--where", metavar="PLACE", help=say("wall or core of a pot, air, or leaf."))
]
Lowest = Annotated[bool, typer.Option("--lowest", help=say("It is the lowest of the night."))]
File = Annotated[Path, typer.Argument(metavar="FILE", readable=False, help=say("What the logger exports."))]
ClockName = Annotated[str | None, typer.Option("--clock", metavar="local|utc", help=say("The file's clock."))]
Ahead = Annotated[float, typer.Option("--clock-ahead", metavar="HOURS", help=say("By which its clock is ahead."))]
UnitName = Annotated[str | None, typer.Option("--unit", metavar="C|F", help=say("The file's unit."))]
Dates = Annotated[str | None, typer.Option("--dates", metavar="day-first|month-first", help=say("Order of dates."))]
ColumnNumber = Annotated[
    int | None, typer.Option("--column", metavar="N", min=1, help=say("Which of its temperatures."))
]
Since = Annotated[
    datetime | None, typer.Option("--since", metavar="DATE", parser=options.day, help=say("From when."))
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

        there, now = _garden(garden), datetime.now(UTC)
        moment = now if at is None else asked_time(at, ZoneInfo(there.site.time_zone), now)
        if not -45.0 <= degrees <= 70.0:
            raise TuningFailed(
                say("{degrees} °C is no temperature of a terrace.", degrees=degrees),
                next_step=say("Look at the thermometer again; write degrees Celsius."),
            )
        place, pot_id, spot_name = _placed(there, pot, spot, where, lowest)
        series = f"{pot_id or spot_name} {place}"
        with _logbook() as book:
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
        from frostguard.logbook.measured import Reading
        from frostguard.tuning.export_file import MOST_BYTES, Clock, DateOrder, Kind, Unit, parse_export

        there = _garden(garden)
        with file.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
        with _logbook() as book:
            found = parse_export(
                data,
                there.site.time_zone,
                clock=None if clock is None else _one_of(Clock, clock),
                unit=None if unit is None else _one_of(Unit, unit.upper()),
                order=None if dates is None else _one_of(DateOrder, dates.replace("-", " ")),
            )
            wanted = [one for one in found.columns if one.kind is not Kind.HIGHEST]
            for number, one in enumerate(wanted, 1):
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
                    clock=found.clock.value,
                    rows=found.rows_left_out,
                )
            )
            if column is None and len(wanted) > 1:
                raise TuningFailed(
                    say("The file has several columns of temperatures."),
                    next_step=say("Say which one is meant: --column 1, and import the others one by one."),
                )
            if not wanted or (column or 1) > len(wanted):
                raise TuningFailed(
                    say("The file has no such column."), next_step=say("Choose one of the numbers shown above.")
                )
            chosen = wanted[(column or 1) - 1]
            layout = f"{found.layout}.{column or 1}"
            before = book.rows("SELECT place, pot, spot FROM reading_series WHERE source LIKE ?", (f"%[{layout}]",))
            if pot is None and spot is None and where is None and len(before) == 1:
                place, pot_id, spot_name = before[0]["place"], before[0]["pot"], before[0]["spot"]
            else:
                place, pot_id, spot_name = _placed(there, pot, spot, where, chosen.kind is Kind.LOWEST)
            series = f"{pot_id or spot_name} {place}"
            new = book.add_readings(
                Reading(
                    series, time - timedelta(hours=ahead), value, place, pot_id, spot_name, f"{file.name} [{layout}]"
                )
                for time, value in zip(chosen.times, chosen.temperature_c, strict=True)
            )
        print_out(say("{count} new readings for {series}.", count=new, series=series))


@readings_app.command(help=say("Show the readings, day by day, with a chart."))
def show(pot: PotName = None) -> None:
    with errors_told(as_json=False), _logbook() as book:
        from frostguard.report.readings import render_readings

        print_out(render_readings(book.readings(pot=pot)))


@tune_app.callback()
def tune(
    context: typer.Context,
    pot: PotName = None,
    spot: SpotName = None,
    since: Since = None,
    weather: options.Weather = None,
    garden: options.Garden = None,
) -> None:
    """Without another word: learn."""
    if context.invoked_subcommand is not None:
        return
    with errors_told(as_json=False):
        try:
            import scipy.optimize  # noqa: F401  (asked for early, so that nobody waits for nothing)
        except ImportError as exc:
            raise TuningFailed(
                say("Tuning needs the library scipy."), next_step=say("Install it: pip install '.[tune]'.")
            ) from exc
        from frostguard.advice.explain import pot_called
        from frostguard.garden.catalogue import load_catalogue
        from frostguard.report.readings import render_session
        from frostguard.tuning.session import happened, kept_forecasts, learn
        from frostguard.weather.files import load_weather_of

        there, now = _garden(garden), datetime.now(UTC)
        begin = now - timedelta(days=3650) if since is None else since.replace(tzinfo=UTC)
        named = None if pot is None else there.pots[pot_called(there, pot)].id
        pots = [one.id for one in there.pots if named in (None, one.id) and spot in (None, one.spot)]
        with _logbook() as book:
            readings = book.readings(since=begin)
            if not readings:
                raise TuningFailed(
                    say("There are no readings to learn from."),
                    next_step=say("Note some with 'frostguard readings add' or 'readings import'."),
                )
            kept = () if weather is not None else kept_forecasts(book, begin)
            series = happened(kept) if weather is None else load_weather_of(weather, there.site)
            foretold = {} if weather is not None else _foretold(there.site, kept, min(one.at for one in readings), now)
            session = learn(book, there, series, load_catalogue(), readings, pots=pots, foretold=foretold)
            values = session.values()
            if values:
                book.store_tuned(values, now=now)
            print_out(render_session(session, stored=bool(values)))
    raise typer.Exit(exits.NOTHING_TO_DO if values else exits.COULD_NOT_TELL)


def _foretold(site: Site, kept: Sequence[WeatherSeries], first: datetime, now: datetime) -> Foretold:
    """What was foretold of the nights since the first reading: by the service's record, over it by kept answers."""
    from frostguard.garden.reader import load_settings
    from frostguard.garden.settings import Settings
    from frostguard.tuning.foretold import foretold_by_answers, foretold_by_earlier_runs
    from frostguard.weather.lookup import client_in_turn, earlier_runs
    from frostguard.weather.store import ForecastStore

    named = places.settings_file()
    recorded: Foretold = {}
    try:
        wishes = Settings() if named is None else load_settings(named)
        with client_in_turn(wishes, ForecastStore(places.weather_store())) as client:
            runs = earlier_runs(client, site, (now - first).days + 1)
            recorded = foretold_by_earlier_runs(runs, site.time_zone)
    except FrostguardError as exc:
        print_out(say("Earlier forecasts are not looked up: {reason}", reason=exc.message))
    return {**recorded, **foretold_by_answers(kept, site.time_zone)}


@tune_app.command(help=say("Take back what was learnt last."))
def undo() -> None:
    with errors_told(as_json=False), _logbook() as book:
        last = book.rows("SELECT max(batch) AS batch FROM tuned")[0]["batch"]
        if last is None:
            raise TuningFailed(say("Nothing was learnt yet."), next_step=say("There is nothing to take back."))
        book.undo_tuned(int(last), now=datetime.now(UTC))
        print_out(say("Taken back. Advice uses what held before."))


Choice = TypeVar("Choice", bound=Enum)


def _one_of(choices: type[Choice], word: str) -> Choice:
    try:
        return choices(word)
    except ValueError:
        known = ", ".join(str(one.value).replace(" ", "-") for one in choices)
        raise TuningFailed(
            say("'{word}' is not known.", word=word), next_step=say("Write one of: {known}.", known=known)
        ) from None


def _garden(named: Path | None) -> Garden:
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
        return str(Probe(Place.AIR, lowest)), None, spot
    if where is None:
        raise TuningFailed(
            say("It is not known where in the pot the probe lies."),
            next_step=say("Say --where wall, core, air or leaf."),
        )
    found = garden.pots[pot_called(garden, pot or "")]
    return str(Probe(_one_of(Place, where), lowest)), found.id, None


@contextmanager
def _logbook() -> Iterator[Logbook]:
    from frostguard.logbook.book import open_logbook

    with open_logbook(places.logbook_file()) as book:
        if not book.on_disk and book.trouble is not None:
            raise book.trouble
        yield book
