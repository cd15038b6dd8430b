"""The commands about jobs and losses: what is to be done, what was done, what was lost."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, Annotated

import typer

from frostguard import places
from frostguard.cli import options
from frostguard.cli.files import existing_garden, site_clock, wished_units
from frostguard.cli.output import print_out
from frostguard.cli.trouble import errors_told, tell
from frostguard.errors import FrostguardError
from frostguard.report.words import say

if TYPE_CHECKING:
    from pathlib import Path

    from frostguard.garden.model import Garden
    from frostguard.logbook.book import Logbook
    from frostguard.logbook.jobs import ListedJob, Word

jobs_app = typer.Typer(
    help=say("List the jobs, and sign off what was done, so that the next answer knows it."),
    invoke_without_command=True,
    rich_markup_mode=None,
)

Which = Annotated[
    list[str],
    typer.Argument(
        metavar="WHICH...",
        help=say("Numbers of the list, or a pot's id or label, a spot, a kind of job such as fleece, or all."),
    ),
]
Name = Annotated[str, typer.Option("--name", metavar="NAME", help=say("Who says so, where several look after it."))]
Past = Annotated[
    int, typer.Option("--past", metavar="DAYS", min=0, max=365, help=say("Show so many days before, too."))
]


@jobs_app.callback()
def list_jobs(context: typer.Context, garden: options.Garden = None, past: Past = 0) -> None:
    """Without another word: the list."""
    if context.invoked_subcommand is not None:
        return
    with errors_told(as_json=False):
        from frostguard.garden.reader import load_garden
        from frostguard.logbook.jobs import in_force, listed
        from frostguard.report.measures import Clock
        from frostguard.report.signing import render_jobs
        from frostguard.weather.gates import coming_night

        now = datetime.now(UTC)
        zone = load_garden(existing_garden(garden)).site.time_zone
        with _logbook() as book:
            tonight = coming_night(now, zone)
            placed = [one for one in in_force(book) if not one.is_off_by_itself(now)]
            print_out(render_jobs(listed(book, tonight - timedelta(days=past)), placed, Clock(zone, now), tonight))


@jobs_app.command(help=say("It is done: the fleece is on, the pot is in."))
def finished(context: typer.Context, which: Which, garden: options.Garden = None, name: Name = "") -> None:
    from frostguard.logbook.jobs import Word

    _sign_off(which, Word.FINISHED, name, _garden_of(context, garden))


@jobs_app.command("not-tonight", help=say("It will not be done tonight; it is not asked for again this night."))
def not_tonight(context: typer.Context, which: Which, garden: options.Garden = None, name: Name = "") -> None:
    from frostguard.logbook.jobs import Word

    _sign_off(which, Word.NOT_TONIGHT, name, _garden_of(context, garden))


@jobs_app.command("take-back", help=say("It is undone: the fleece is off, the pot is back in its place."))
def take_back(context: typer.Context, which: Which, garden: options.Garden = None, name: Name = "") -> None:
    from frostguard.logbook.jobs import Word

    _sign_off(which, Word.TAKE_BACK, name, _garden_of(context, garden))


@jobs_app.command("ask-again", help=say("It was signed off by mistake: the job is open again."))
def ask_again(context: typer.Context, which: Which, garden: options.Garden = None, name: Name = "") -> None:
    from frostguard.logbook.jobs import Word

    _sign_off(which, Word.ASK_AGAIN, name, _garden_of(context, garden))


def _garden_of(context: typer.Context, named: Path | None) -> Path | None:
    """The file named behind the word, else the one named before it: both are written so."""
    before: Path | None = None if context.parent is None else context.parent.params.get("garden")
    return before if named is None else named


def _sign_off(which: list[str], word: Word, name: str, garden: Path | None) -> None:
    with errors_told(as_json=False), _logbook() as book:
        from frostguard.logbook.jobs import sign_off
        from frostguard.report.signing import job_words

        jobs = list({job.number: job for text in which for job in _meant(book, word, text, garden)}.values())
        sign_off(book, jobs, word, name, datetime.now(UTC))
        print_out(say("Noted: {jobs}.", jobs="; ".join(job_words(job) for job in jobs)))


def _meant(book: Logbook, word: Word, text: str, garden: Path | None) -> tuple[ListedJob, ...]:
    from frostguard.logbook.jobs import meant_by
    from frostguard.weather.gates import FIRST_MORNING_HOUR

    # until the morning, tonight is the night that is on
    tonight = (datetime.now(site_clock(garden)) - timedelta(hours=FIRST_MORNING_HOUR)).date()
    found = meant_by(book, word, text, tonight)
    if not found:
        raise FrostguardError(
            say("'{text}' fits no job of which that could be said.", text=text),
            next_step=say("Look at the list with 'frostguard jobs', and name a number, a pot or a spot of it."),
        )
    return found


@contextmanager
def _logbook() -> Iterator[Logbook]:
    """The logbook, which must be one that keeps what is said to it."""
    from frostguard.logbook.book import open_logbook

    with open_logbook(places.logbook_file()) as book:
        if not book.on_disk and book.trouble is not None:
            raise book.trouble
        if book.trouble is not None:
            tell(book.trouble)
        yield book
        if not book.on_disk and book.trouble is not None:  # the disk is full: nothing was kept
            raise book.trouble


Hurt = Annotated[bool, typer.Option("--hurt", help=say("It lives, but leaves, shoots or buds were lost."))]
Unhurt = Annotated[
    bool, typer.Option("--unhurt", help=say("It came through without harm, which teaches its limits as well."))
]
Night = Annotated[
    datetime | None,
    typer.Option(
        "--night", metavar="DATE", parser=options.day, help=say("The night that did it; else the last one.")
    ),
]
Coldest = Annotated[
    float | None,
    typer.Option(
        "--coldest",
        metavar="C",
        min=-60.0,
        max=20.0,
        help=say("How cold the part in question came, in degrees Celsius: roots as the mix, leaves as the air."),
    ),
]
Note = Annotated[str, typer.Option("--note", metavar="TEXT", help=say("What was seen."))]
Mistaken = Annotated[
    bool,
    typer.Option(
        "--take-back",
        help=say("It was noted by mistake: forget what was said of this pot last, or of the --night."),
    ),
]
LostPot = Annotated[str, typer.Argument(metavar="POT", help=say("The pot's id or label."))]


def loss(
    pot: LostPot,
    garden: options.Garden = None,
    hurt: Hurt = False,
    unhurt: Unhurt = False,
    night: Night = None,
    coldest: Coldest = None,
    note: Note = "",
    mistaken: Mistaken = False,
) -> None:
    """A command of its own, put beside the others in `app`."""
    if hurt and unhurt:
        raise typer.BadParameter(say("A plant is hurt or unhurt, not both."))
    if mistaken:
        _take_back_loss(pot, garden, None if night is None else night.date())
        return
    with errors_told(as_json=False):
        from frostguard.advice.explain import pot_called
        from frostguard.garden.reader import load_garden
        from frostguard.logbook.lessons import lesson_of
        from frostguard.logbook.losses import Harm, record_loss
        from frostguard.report.losses import loss_noted

        place = load_garden(existing_garden(garden))
        lost = place.pots[pot_called(place, pot)]
        now = datetime.now(UTC)
        when = _last_night(place, now) if night is None else night.date()
        harm = Harm.HURT if hurt else Harm.UNHURT if unhurt else Harm.DEAD
        with _logbook() as book:
            lesson = lesson_of(book, place.site, lost, harm, when, coldest)
            record_loss(book, lost, harm, when, note, now, lesson)
        print_out(loss_noted(lost, harm, when, lesson, wished_units()))


def _take_back_loss(pot: str, garden: Path | None, night: date | None) -> None:
    with errors_told(as_json=False), _logbook() as book:
        from frostguard.advice.explain import pot_called
        from frostguard.garden.reader import load_garden
        from frostguard.logbook.losses import take_back_loss

        place = load_garden(existing_garden(garden))
        lost = place.pots[pot_called(place, pot)]
        taken = take_back_loss(book, lost.id, night)
        if taken is None:
            raise FrostguardError(
                say("Nothing is noted of {pot} that could be taken back.", pot=lost.label),
                next_step=say("Look what is noted with 'frostguard logbook show'; --night names another night."),
            )
        print_out(say("Taken back: {pot}, night of {night}.", pot=lost.label, night=taken.night.isoformat()))


def _last_night(garden: Garden, now: datetime) -> date:
    from zoneinfo import ZoneInfo

    return now.astimezone(ZoneInfo(garden.site.time_zone)).date() - timedelta(days=1)
