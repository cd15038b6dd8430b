"""The commands of frostguard.

What is heavy (numpy, pandas, httpx and all that imports them) is imported inside the commands, so that
help and faulty calls answer at once.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from frostguard import places
from frostguard.cli import exits
from frostguard.cli.output import print_err, print_out
from frostguard.errors import Fault, FrostguardError, GardenFileError
from frostguard.garden.settings import Units
from frostguard.report.words import harmless, say

app = typer.Typer(
    help=say("Frost advice for plants in pots: weather and garden file in, the evening's jobs out."),
    no_args_is_help=True,
    add_completion=False,
    # Plain help and plain tracebacks: the decorated kind loads a rendering library at every start.
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
garden_app = typer.Typer(help=say("Look after the garden file."), no_args_is_help=True, rich_markup_mode=None)
app.add_typer(garden_app, name="garden")

GardenOption = Annotated[
    Path | None,
    typer.Option("--garden", metavar="FILE", help=say(
        "What stands where. Otherwise the file named by {variable}, else garden.yaml in your "
        "configuration folder.", variable=places.GARDEN_VARIABLE)),
]


def _show_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        print_out(f"frostguard {version('frostguard')}")
        raise typer.Exit


@app.callback()
def _every_command(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_show_version, is_eager=True, help=say("Show the version and leave.")),
    ] = False,
) -> None:
    pass


@app.command(help=say(
    "What to do tonight. Leaves with 0 if there is nothing to do, 3 if there is something, 1 if it could not "
    "tell, 2 if it was called wrongly."))
def tonight(
    garden: GardenOption = None,
    settings: Annotated[Path | None, typer.Option("--settings", metavar="FILE", help=say(
        "Your working hours and wishes. Otherwise the file named by {variable}, else settings.yaml in your "
        "configuration folder, if there is one.", variable=places.SETTINGS_VARIABLE))] = None,
    weather: Annotated[Path | None, typer.Option("--weather", metavar="FILE", help=say(
        "Take the weather from this file and not from the network."))] = None,
    at: Annotated[str | None, typer.Option("--at", metavar="TIME", help=say(
        "Answer as if it were this time, such as 2026-12-02T14:30; the site's clock unless a zone is "
        "given."))] = None,
    days: Annotated[int | None, typer.Option("--days", metavar="N", min=1, max=16, help=say(
        "How many nights to look ahead."))] = None,
    as_json: Annotated[bool, typer.Option("--json", help=say("Print the answer as data (JSON)."))] = False,
    explain: Annotated[str | None, typer.Option("--explain", metavar="POT", help=say(
        "Show how the answer for one pot comes about: its id or its label."))] = None,
    units: Annotated[Units | None, typer.Option("--units", help=say(
        "Units for reading; otherwise those of your settings."))] = None,
) -> None:
    with _errors_told(as_json=as_json):
        from frostguard.nightly import Query, answer_tonight

        query = Query(
            garden=_existing_garden(garden),
            settings=settings if settings is not None else places.settings_file(),
            weather=weather, at=at, days=days, explain=explain,
        )
        answer = answer_tonight(query, now=datetime.now(UTC))
        if as_json:
            from frostguard.report.json_text import render_json

            print_out(render_json(answer.plan, answer.explanation))
        else:
            from frostguard.report.terminal import render_answer

            print_out(render_answer(
                answer.plan, answer.explanation, answer.garden,
                answer.settings.units if units is None else units,
            ))
    raise typer.Exit(exits.SOMETHING_TO_DO if answer.plan.jobs else exits.NOTHING_TO_DO)


@garden_app.command(help=say("Read the garden file; show every fault with its line, or what was assumed for each pot."))
def check(garden: GardenOption = None) -> None:
    with _errors_told(as_json=False):
        from frostguard.garden.reader import load_garden
        from frostguard.report.assumptions import render_garden_check

        print_out(render_garden_check(load_garden(_existing_garden(garden))))


def _existing_garden(named: Path | None) -> Path:
    """The garden file to read; the usual one must be there."""
    if named is not None:
        return named
    usual = places.garden_file()
    if not usual.exists():
        raise GardenFileError(
            harmless(str(usual)), (Fault(None, say("there is no garden file here yet.")),),
            next_step=say("Copy config/garden.yaml of the project there and write down your pots, or name your "
                          "file with --garden."),
        )
    return usual


@contextmanager
def _errors_told(*, as_json: bool) -> Iterator[None]:
    """Turn what can go wrong outside our own code into a sentence, a next step and an exit code."""
    try:
        yield
    except FrostguardError as error:
        _tell(error.message, error.next_step, as_json=as_json)
    except UnicodeDecodeError:
        _tell(say("One of the files is not readable text."),
              say("Save it as UTF-8 text and ask again."), as_json=as_json)
    except OSError as error:
        _tell(_what_the_system_said(error),
              say("Check the file's name and who may read it, and ask again."), as_json=as_json)
    except KeyboardInterrupt:
        print_err(say("Stopped."))
        raise typer.Exit(exits.INTERRUPTED) from None
    else:
        return
    raise typer.Exit(exits.COULD_NOT_TELL)


def _what_the_system_said(error: OSError) -> str:
    reason = error.strerror or type(error).__name__
    if error.filename is None:
        return say("The system said: {reason}.", reason=reason)
    return say("{file}: {reason}.", file=str(error.filename), reason=reason)


def _tell(message: str, next_step: str, *, as_json: bool) -> None:
    for line in (*message.splitlines(), *next_step.splitlines()):
        print_err(harmless(line))
    if as_json:
        from frostguard.report.json_text import render_error_json

        print_out(render_error_json(message, next_step))
