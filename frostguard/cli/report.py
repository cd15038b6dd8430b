"""The evening's answer as a page: written whole, and shown if asked."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import typer

from frostguard import places
from frostguard.cli import exits, options
from frostguard.cli.files import query_of
from frostguard.cli.output import print_err, print_out
from frostguard.cli.trouble import errors_told, tell
from frostguard.cli.waiting import ToldWhileWaiting
from frostguard.report.words import say


def report(
    garden: options.Garden = None,
    settings: options.Settings = None,
    weather: options.Weather = None,
    at: options.At = None,
    days: options.Days = None,
    units: options.UnitsOption = None,
    html: options.HtmlFile = None,
    show: options.Show = False,
) -> None:
    with errors_told(as_json=False):
        from frostguard.advice.pictures import pictures_of
        from frostguard.nightly import answer_tonight
        from frostguard.report.headline import headline
        from frostguard.report.html.page import render_page
        from frostguard.report.layout import paragraph
        from frostguard.report.measures import Clock
        from frostguard.report.spots import spot_labels

        query = query_of(garden, settings, weather, at, days)
        with ToldWhileWaiting() as asking:
            answer = answer_tonight(query, now=datetime.now(UTC), asking=asking)
        chosen = answer.settings.units if units is None else units
        plan = answer.plan
        file = _written(render_page(plan, pictures_of(answer.reckoning), answer.garden, chosen), html)
        if answer.trouble is not None:
            tell(answer.trouble)
        told = headline(plan, Clock(plan.time_zone, plan.asked_at), chosen, spot_labels(answer.garden))
        print_out("\n".join([*paragraph(told), say("The report is in {file}.", file=str(file))]))
        if show:
            _show(file)
        if answer.unseen is not None:
            tell(answer.unseen)
            raise typer.Exit(exits.COULD_NOT_TELL)
    raise typer.Exit(exits.SOMETHING_TO_DO if plan.asks_something else exits.NOTHING_TO_DO)


def _written(page: str, named: Path | None) -> Path:
    """The file that the page is in: the one named, else the usual one, whose folder is made."""
    from frostguard.errors import FrostguardError
    from frostguard.whole_files import PERSON_ONLY, write_whole

    file = places.report_file() if named is None else named
    if named is None:
        file.parent.mkdir(parents=True, exist_ok=True)
    if file.is_dir() or not file.parent.is_dir():
        raise FrostguardError(
            say("The report cannot be written to {file}.", file=str(file)),
            next_step=say("Name a file in a folder that is there, such as --html report.html."),
        )
    # where nobody named a file it is the person's own; one that was named is as the system makes files, to be shared
    write_whole(file, page, mode=PERSON_ONLY if named is None else None)
    return file


def _show(file: Path) -> None:
    import webbrowser

    if not webbrowser.open(file.resolve().as_uri()):
        print_err(say("No browser could be started here; open the file yourself."))
