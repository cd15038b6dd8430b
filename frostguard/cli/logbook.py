"""The commands about the logbook itself: show, export, backup, check."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from frostguard import places
from frostguard.cli import exits, options
from frostguard.cli.files import site_clock
from frostguard.cli.output import print_out
from frostguard.cli.trouble import errors_told, tell
from frostguard.errors import FrostguardError
from frostguard.report.words import say

if TYPE_CHECKING:
    from frostguard.logbook.book import Logbook

logbook_app = typer.Typer(
    help=say("Look into the logbook, and look after it."), no_args_is_help=True, rich_markup_mode=None
)

To = Annotated[Path, typer.Argument(metavar="FILE", help=say("Where to; there must be no such file yet."))]
Days = Annotated[int, typer.Option("--days", metavar="N", min=1, max=3660, help=say("How many days back."))]


@logbook_app.command(help=say("What the last nights came to, what was sent and done, and what the logbook holds."))
def show(garden: options.Garden = None, days: Days = 7) -> None:
    with errors_told(as_json=False), _logbook() as book:
        from frostguard.report.logbook import render_logbook

        print_out(render_logbook(book, days, datetime.now(UTC), site_clock(garden)))


@logbook_app.command(help=say("Write everything as lines of JSON, one row a line, weather answers left out."))
def export(to: To) -> None:
    with errors_told(as_json=False), _logbook() as book:
        from frostguard.logbook.keeping import export_lines
        from frostguard.whole_files import PERSON_ONLY, write_whole

        _must_be_new(to)
        lines = export_lines(book)
        write_whole(to, "".join(f"{line}\n" for line in lines), mode=PERSON_ONLY)
        print_out(say("{rows} rows written to {file}.", rows=len(lines), file=str(to)))


@logbook_app.command(help=say("Copy the whole logbook into one file, safely while a check is running."))
def backup(to: To) -> None:
    with errors_told(as_json=False), _logbook() as book:
        from frostguard.logbook.keeping import back_up

        _must_be_new(to)
        back_up(book, to)
        print_out(say("The logbook was copied to {file}.", file=str(to)))


@logbook_app.command(help=say("Whether the file is sound. Leaves with 1 if it is not."))
def check() -> None:
    with errors_told(as_json=False), _logbook() as book:
        from frostguard.logbook.keeping import faults

        found = faults(book)
        for fault in found:
            print_out(fault)
        if not found and book.trouble is None:
            print_out(say("The logbook {file} is sound.", file=str(book.path)))
            return
    raise typer.Exit(exits.COULD_NOT_TELL)


def _must_be_new(to: Path) -> None:
    if to.exists():
        raise FrostguardError(
            say("{file} is there already.", file=str(to)), next_step=say("Name a file that is not there yet.")
        )


@contextmanager
def _logbook() -> Iterator[Logbook]:
    """The logbook, which must be there."""
    from frostguard.logbook.book import existing_logbook

    path = places.logbook_file()
    book = existing_logbook(path)
    if book is None:
        raise FrostguardError(
            say("There is no logbook yet at {path}.", path=str(path)),
            next_step=say("It is begun by the first question with a live forecast, or by 'frostguard nightly'."),
        )
    with book:
        if not book.on_disk and book.trouble is not None:
            raise book.trouble
        if book.trouble is not None:
            tell(book.trouble)
        yield book
