"""The commands that learn from thermometers: tune, with --suggest and --try, and tune undo."""

from __future__ import annotations

import os
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from frostguard import places
from frostguard.cli import exits, options
from frostguard.cli.output import print_out
from frostguard.cli.readings import PotName, garden_of, logbook
from frostguard.cli.trouble import errors_told
from frostguard.errors import TuningFailed
from frostguard.report.words import harmless, say

if TYPE_CHECKING:
    from frostguard.garden.model import Garden
    from frostguard.logbook.book import Logbook

tune_app = typer.Typer(
    help=say("Learn this terrace and its pots from your thermometers."),
    invoke_without_command=True,
    rich_markup_mode=None,
)

SpotName = Annotated[str | None, typer.Option("--spot", metavar="SPOT", help=say("Only the pots of this spot."))]
Since = Annotated[
    datetime | None, typer.Option("--since", metavar="DATE", parser=options.day, help=say("From when."))
]
Suggest = Annotated[
    bool, typer.Option("--suggest", help=say("Say where a thermometer would tell most, and for how many nights."))
]


def _changes(words: list[str]) -> list[str]:
    """The changes to try as given, each WHAT=VALUE."""
    for word in words:
        name, _, value = word.partition("=")
        if name.strip().lower() not in ("wall", "volume", "spot", "protect") or not value.strip():
            raise typer.BadParameter(
                say(
                    "'{text}' is no change; write wall=, volume=, spot= or protect= with what it is to be, "
                    "such as wall=felt.",
                    text=harmless(word[:40]),
                )
            )
    return words


Try = Annotated[
    list[str],
    typer.Option(
        "--try",
        metavar="WHAT=VALUE",
        callback=_changes,
        help=say("Compare a pot with itself changed, with what was learnt, such as wall=felt or volume=40."),
    ),
]


@tune_app.callback()
def tune(
    context: typer.Context,
    pot: PotName = None,
    spot: SpotName = None,
    since: Since = None,
    suggest: Suggest = False,
    changes: Try = [],  # noqa: B006  the library's way to say "none given"; never changed
    at: options.At = None,
    weather: options.Weather = None,
    garden: options.Garden = None,
    settings: options.Settings = None,
) -> None:
    """Without another word: learn."""
    if context.invoked_subcommand is not None:
        return
    if changes:
        _try(pot, changes, garden, settings, weather, at)
        return
    # threads of the algebra library wait busily for each other on a machine with other work: three times the time
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from frostguard.tuning.learning import scipy_there

    with errors_told(as_json=False):
        scipy_there()
        there, now = garden_of(garden), datetime.now(UTC)
        pots = _pots(there, pot, spot)
        with logbook() as book:
            if suggest:
                print_out(_suggestion(book, there, weather, pots, at))
                return
            stored = _learn(book, there, settings, weather, pots, since, now)
    raise typer.Exit(exits.NOTHING_TO_DO if stored else exits.COULD_NOT_TELL)


@tune_app.command(help=say("Take back what was learnt last."))
def undo() -> None:
    with errors_told(as_json=False), logbook() as book:
        from frostguard.tuning.learning import undo_last

        undo_last(book, datetime.now(UTC))
        print_out(say("Taken back. Advice uses what held before."))


def _pots(there: Garden, pot: str | None, spot: str | None) -> list[str]:
    from frostguard.advice.explain import pot_called

    named = None if pot is None else there.pots[pot_called(there, pot)].id
    if spot is not None and spot not in [one.name for one in there.spots]:
        raise TuningFailed(
            say("No spot is called '{spot}'.", spot=spot),
            next_step=say("The spots are: {names}.", names=", ".join(one.name for one in there.spots)),
        )
    return [one.id for one in there.pots if named in (None, one.id) and spot in (None, one.spot)]


def _learn(
    book: Logbook,
    there: Garden,
    settings: Path | None,
    weather: Path | None,
    pots: Sequence[str],
    since: datetime | None,
    now: datetime,
) -> bool:
    """Learn, print, and keep what helps; whether something was kept."""
    from frostguard.garden.reader import load_settings
    from frostguard.garden.settings import Settings
    from frostguard.report.readings import render_session
    from frostguard.tuning.learning import LEARNT_FROM, Sources, learn_and_keep
    from frostguard.weather.store import ForecastStore

    named = places.settings_file() if settings is None else settings
    wishes = Settings() if named is None else load_settings(named)
    sources = Sources(weather, wishes, ForecastStore(places.weather_store()))
    begin = now - LEARNT_FROM if since is None else since.replace(tzinfo=UTC)
    lesson = learn_and_keep(book, there, sources, pots, since=begin, now=now)
    for remark in lesson.remarks:
        print_out(remark)
    print_out(render_session(lesson.session, stored=lesson.stored > 0))
    return lesson.stored > 0


def _suggestion(book: Logbook, there: Garden, weather: Path | None, pots: Sequence[str], at: str | None) -> str:
    from zoneinfo import ZoneInfo

    from frostguard.asked_time import asked_time
    from frostguard.garden.catalogue import load_catalogue
    from frostguard.report.suggestion import render_suggestion
    from frostguard.tuning.happened import happened, kept_forecasts
    from frostguard.tuning.learning import SPIN_UP
    from frostguard.tuning.suggest import suggest
    from frostguard.weather.files import load_weather_of

    now = datetime.now(UTC)
    kept = kept_forecasts(book, there.site, now - SPIN_UP)
    series = happened(kept) if weather is None else load_weather_of(weather, there.site, year=now.year)
    moment = (series.provenance.issued or now) if weather is not None else now
    if at is not None:
        moment = asked_time(at, ZoneInfo(there.site.time_zone), moment)
    found = suggest(there, series, load_catalogue(), book.tuned(), pots=pots, at=moment)
    return render_suggestion(found, there)


def _try(
    pot: str | None,
    changes: Sequence[str],
    garden: Path | None,
    settings: Path | None,
    weather: Path | None,
    at: str | None,
) -> None:
    """`what-if` in other words: it uses what was learnt, as all advice does."""
    from frostguard.cli.what_if import litres, protections, what_if

    if pot is None:
        raise typer.BadParameter(say("Name the pot that it is tried on: --pot lemon --try wall=felt."))
    pairs = [(name.strip().lower(), value.strip()) for name, _, value in (one.partition("=") for one in changes)]
    single = {name: value for name, value in pairs if name != "protect"}
    if len(single) < sum(name != "protect" for name, _ in pairs):
        raise typer.BadParameter(say("One thing is tried in two ways; ask for them one by one."))
    what_if(
        pot,
        protect=protections([value for name, value in pairs if name == "protect"]),
        spot=single.get("spot"),
        volume=litres(single["volume"]) if "volume" in single else None,
        wall=single.get("wall"),
        garden=garden,
        settings=settings,
        weather=weather,
        at=at,
    )
