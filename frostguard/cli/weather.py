"""The commands about the weather itself: show, fetch, convert, sources, place, past."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from frostguard import places
from frostguard.cli import exits, options
from frostguard.cli.output import print_out
from frostguard.cli.trouble import errors_told
from frostguard.cli.waiting import ToldWhileWaiting
from frostguard.errors import FrostguardError
from frostguard.report.words import say

if TYPE_CHECKING:
    from frostguard.garden.model import Garden
    from frostguard.garden.settings import Settings
    from frostguard.weather.night_errors import SiteHabits
    from frostguard.weather.series import WeatherSeries

app = typer.Typer(
    help=say("Look at the weather behind the advice."), no_args_is_help=True, rich_markup_mode=None
)

To = Annotated[
    Path | None,
    typer.Option(
        "--to",
        metavar="FILE",
        help=say("Save it: as a table (CSV), or as the service's own answer if the name ends in .json."),
    ),
]
Replace = Annotated[bool, typer.Option("--replace", help=say("Write over a file that is there already."))]
Year = Annotated[
    int | None,
    typer.Option(
        "--year", metavar="YEAR", min=1971, max=2098, help=say("For typical years: the year to put them on.")
    ),
]
Named = Annotated[
    list[str], typer.Argument(metavar="PLACE", help=say("A town's name, or latitude and longitude: 46.05, 14.51."))
]
First = Annotated[datetime, typer.Argument(metavar="FIRST", parser=options.day, help=say("First day."))]
Last = Annotated[datetime, typer.Argument(metavar="LAST", parser=options.day, help=say("Last day."))]
Source = Annotated[Path, typer.Argument(metavar="FROM", help=say("A weather file of any kind."))]
Target = Annotated[Path, typer.Argument(metavar="TO", help=say("The table (CSV) to write."))]


@app.command(help=say("Show the coming nights: how cold, how sure, and what the weather source lacks."))
def show(
    garden: options.Garden = None,
    settings: options.Settings = None,
    weather: options.Weather = None,
    at: options.At = None,
    days: options.Days = None,
    units: options.UnitsOption = None,
) -> None:
    with errors_told(as_json=False):
        from frostguard.report.weather import render_weather
        from frostguard.weather.outlook import lacking_columns, nights_of_weather

        place, wishes = _garden_and_settings(garden, settings, days)
        asked = _asked_at(at, place)
        series = _weather(place, wishes, weather, year=asked.year)
        habits = _habits(place, live=weather is None)
        # without a time, the one at which a weather file was issued is meant
        moment = series.provenance.issued if at is None and weather is not None else None
        moment = moment or asked
        nights = nights_of_weather(series, moment, place.site.time_zone, wishes.days, habits=habits)
        print_out(
            render_weather(
                place.site,
                nights,
                series.provenance,
                notes=series.notes,
                lacking=lacking_columns(series, moment),
                at=moment,
                units=wishes.units if units is None else units,
            )
        )
    if not nights:
        raise typer.Exit(exits.COULD_NOT_TELL)


@app.command(
    help=say(
        "Fetch the weather from your services and keep it; with --to save it as well. Leaves with 1 if only "
        "an earlier answer can be had."
    )
)
def fetch(
    garden: options.Garden = None,
    settings: options.Settings = None,
    days: options.Days = None,
    to: To = None,
    replace: Replace = False,
) -> None:
    with errors_told(as_json=False):
        from frostguard.report.measures import Clock
        from frostguard.report.notes import note_sentences
        from frostguard.report.weather import weather_lines

        place, wishes = _garden_and_settings(garden, settings, days)
        if to is not None:
            _refuse_to_overwrite(to, replace)
        series = _weather(place, wishes, None)
        if to is not None:
            _save(series, place, to)
            print_out(say("Saved to {file}.", file=str(to)))
        clock = Clock(place.site.time_zone, datetime.now(UTC))
        print_out("\n".join([*weather_lines(series.provenance, clock), *note_sentences(series.notes)]))
    if series.provenance.from_store:
        raise typer.Exit(exits.COULD_NOT_TELL)


@app.command(help=say("Turn a weather file of any kind into a table (CSV)."))
def convert(source: Source, target: Target, year: Year = None, replace: Replace = False) -> None:
    with errors_told(as_json=False):
        from frostguard.report.notes import note_sentences
        from frostguard.weather.files import load_weather

        _refuse_to_overwrite(target, replace)
        series = load_weather(source, year=year)
        _write_table(series, target)
        first, last = (str(moment).replace("T", " ")[:16] for moment in (series.times[0], series.times[-1]))
        print_out(
            say(
                "Saved to {file}: {hours} hours from {first} to {last} UTC.",
                file=str(target),
                hours=series.n_hours,
                first=first,
                last=last,
            )
        )
        for sentence in note_sentences(series.notes):
            print_out(sentence)


@app.command(help=say("Tell of each weather service: asked or not, age of its answer, credit, what it lacks."))
def sources(garden: options.Garden = None, settings: options.Settings = None) -> None:
    with errors_told(as_json=False):
        from frostguard.logbook.answers import LogbookArchive, size
        from frostguard.logbook.book import open_logbook
        from frostguard.report.weather import render_sources
        from frostguard.weather.sources import sources_for
        from frostguard.weather.store import ForecastStore

        place, wishes = _garden_and_settings(garden, settings, None)
        now = datetime.now(UTC)
        with open_logbook(places.logbook_file()) as book:
            store = ForecastStore(places.weather_store(), archive=LogbookArchive(book))
            told, archived = sources_for(place.site, wishes, store, now), size(book)
        print_out(render_sources(told, place.site, now=now, kept_bytes=store.size_bytes(), archived=archived))


@app.command(
    help=say("Look up a place for your garden file: latitude, longitude, height, time zone."),
    context_settings={"ignore_unknown_options": True},  # a southern latitude begins with a minus
)
def place(words: Named, settings: options.Settings = None) -> None:
    with errors_told(as_json=False):
        from frostguard.report.weather_places import render_height, render_places
        from frostguard.weather.lookup import client_in_turn, coordinates, find_places, ground_height_m
        from frostguard.weather.store import ForecastStore

        named = " ".join(words)
        point = coordinates(named)
        if point is None and len(named.strip()) < 2:
            raise FrostguardError(
                say("A place's name has at least two letters."),
                next_step=say("Write the town, or latitude and longitude such as 46.05, 14.51."),
            )
        with client_in_turn(_settings(settings), ForecastStore(places.weather_store())) as client:
            if point is not None:
                print_out(render_height(*point, ground_height_m(client, *point)))
                return
            found = find_places(client, named)
        if not found:
            raise FrostguardError(
                say("No place of this name is known."),
                next_step=say("Try the nearest town, or its name in English or in the country's language."),
            )
        print_out(render_places(found))


@app.command(help=say("Save the weather that was, from the archive, as a table (CSV): for looking back."))
def past(
    first: First,
    last: Last,
    target: Target,
    garden: options.Garden = None,
    settings: options.Settings = None,
    replace: Replace = False,
) -> None:
    with errors_told(as_json=False):
        from frostguard.report.notes import note_sentences
        from frostguard.weather.lookup import client_in_turn, past_weather
        from frostguard.weather.open_meteo_past import FIRST_DAY
        from frostguard.weather.store import ForecastStore

        begin, end = first.date(), last.date()
        if not FIRST_DAY <= begin <= end < datetime.now(UTC).date() or (end - begin).days > LONGEST_PAST_D:
            raise FrostguardError(
                say("The archive has no days from {first} to {last}.", first=str(begin), last=str(end)),
                next_step=say(
                    "Ask for days from {begin} up to yesterday, the earlier first, two years at most.",
                    begin=str(FIRST_DAY),
                ),
            )
        garden_read, wishes = _garden_and_settings(garden, settings, None)
        _refuse_to_overwrite(target, replace)
        with client_in_turn(wishes, ForecastStore(places.weather_store())) as client:
            series = past_weather(client, garden_read.site, begin, end)
        _write_table(series, target)
        print_out(say("Saved to {file}.", file=str(target)))
        print_out("\n".join([series.provenance.credit, *note_sentences(series.notes)]))


LONGEST_PAST_D = 731
"""Longest span asked for at once [d]: some 17 000 hours are 2 MB, well under the limit of an answer."""


def _settings(settings: Path | None) -> Settings:
    from frostguard.garden.reader import load_settings
    from frostguard.garden.settings import Settings

    named = places.settings_file() if settings is None else settings
    return Settings() if named is None else load_settings(named)


def _garden_and_settings(
    garden: Path | None, settings: Path | None, days: int | None
) -> tuple[Garden, Settings]:
    from dataclasses import replace

    from frostguard.cli.files import existing_garden
    from frostguard.garden.reader import load_garden

    wishes = _settings(settings)
    if days is not None:
        wishes = replace(wishes, days=days)
    return load_garden(existing_garden(garden)), wishes


def _asked_at(at: str | None, garden: Garden) -> datetime:
    """The moment asked about, on the site's clock where it names no zone; now where there is none."""
    from zoneinfo import ZoneInfo

    from frostguard.asked_time import asked_time

    if at is None:
        return datetime.now(UTC)
    return asked_time(at, ZoneInfo(garden.site.time_zone), datetime.now(UTC))


def _weather(
    garden: Garden, settings: Settings, file: Path | None, *, year: int | None = None
) -> WeatherSeries:
    """From the file that was named (a typical year put on `year`), else the live or the last good forecast."""
    if file is not None:
        from frostguard.weather.files import load_weather_of

        return load_weather_of(file, garden.site, year=year)
    from frostguard.logbook.answers import LogbookArchive
    from frostguard.logbook.book import open_logbook
    from frostguard.weather.client import open_weather_client
    from frostguard.weather.forecast import forecast_or_stored
    from frostguard.weather.store import ForecastStore

    with open_logbook(places.logbook_file()) as book:
        store = ForecastStore(places.weather_store(), archive=LogbookArchive(book))
        with open_weather_client(settings) as client, ToldWhileWaiting() as asking:
            series = forecast_or_stored(
                garden.site, settings, client=client, store=store, now=datetime.now(UTC), asking=asking
            )
        if book.trouble is not None:
            print_out(book.trouble.message)
        return series


def _habits(garden: Garden, *, live: bool) -> SiteHabits:
    """How the site's nights differ from forecasts: as readings have taught; the usual for a question about a file."""
    from frostguard.advice.tuned import tuned_from
    from frostguard.logbook.book import open_logbook
    from frostguard.weather.night_errors import usual_habits

    usual = usual_habits(garden.site)
    if not live:
        return usual
    with open_logbook(places.logbook_file()) as book:
        return tuned_from(book.tuned(), usual).habits or usual


def _refuse_to_overwrite(target: Path, replace: bool) -> None:
    if target.exists() and not replace:
        raise FrostguardError(
            say("{file} is there already.", file=str(target)),
            next_step=say("Choose another name, or add --replace."),
        )


def _save(series: WeatherSeries, garden: Garden, target: Path) -> None:
    """The series as a table, or the kept answer that it came from."""
    if target.suffix.lower() != ".json":
        _write_table(series, target)
        return
    from frostguard.weather.store import ForecastStore, UnreadableStoreError, stored_text
    from frostguard.whole_files import write_whole

    store = ForecastStore(places.weather_store())
    try:
        stored = store.read(
            series.provenance.service, garden.site.latitude_deg, garden.site.longitude_deg
        )
    except UnreadableStoreError:
        stored = None
    if stored is None:
        raise FrostguardError(
            say("The answer could not be kept, so there is none to save."),
            next_step=say("Save a table instead: give a name that ends in .csv."),
        )
    write_whole(target, stored_text(stored))


def _write_table(series: WeatherSeries, target: Path) -> None:
    from frostguard.weather.csv_file import write_weather_csv

    if series.n_members > 1:
        raise FrostguardError(
            say("This weather has {count} members; a table holds one.", count=series.n_members),
            next_step=say("Keep the answer itself: fetch with --to and a name that ends in .json; --weather reads it."),
        )
    write_weather_csv(target, series)
