"""The options of the commands, each a type, so that the commands read as what they do."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from frostguard import places
from frostguard.garden.settings import Units
from frostguard.report.words import harmless, say

LONGEST_LOOK_AHEAD_D = 16
"""Nights that the longest of the open forecasts reaches."""


def _show_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        from frostguard.cli.output import print_out

        print_out(f"frostguard {version('frostguard')}")
        raise typer.Exit


def _readable_time(text: str | None) -> str | None:
    """The time as given, if it can be read as one."""
    from frostguard.asked_time import EARLIEST_YEAR, LATEST_YEAR, is_reckoned, is_time

    if text is not None and not is_time(text):
        raise typer.BadParameter(
            say("'{text}' is no time; write it like 2026-12-02T14:30, or 14:30 for today.", text=text)
        )
    if text is not None and not is_reckoned(text):
        raise typer.BadParameter(
            say(
                "'{text}' lies outside the years {first} to {last}, for which the sun is reckoned.",
                text=text,
                first=EARLIEST_YEAR,
                last=LATEST_YEAR,
            )
        )
    return text


def day(text: str) -> datetime:
    """Midnight of a day, without a zone."""
    try:
        return datetime.strptime(text, "%Y-%m-%d")
    except ValueError:
        raise typer.BadParameter(
            say("'{text}' is no day; write it like 2026-01-14.", text=harmless(text[:40]))
        ) from None


def _nights(text: str) -> int:
    """So many nights to look ahead."""
    if not text.isascii() or not text.isdigit() or not 1 <= int(text[:9]) <= LONGEST_LOOK_AHEAD_D:
        raise typer.BadParameter(
            say(
                "'{text}' is no number of nights; write a whole number from 1 to {most}.",
                text=text,
                most=LONGEST_LOOK_AHEAD_D,
            )
        )
    return int(text)


def _units(text: str) -> Units:
    """Units by their name."""
    try:
        return Units(text.lower())
    except ValueError:
        raise typer.BadParameter(
            say("'{text}' is not known; write metric or imperial.", text=text)
        ) from None


Garden = Annotated[
    Path | None,
    typer.Option(
        "--garden",
        metavar="FILE",
        readable=False,  # the reader says what is wrong and what to do
        help=say(
            "What stands where. Otherwise the file named by {variable}, else garden.yaml in your "
            "configuration folder.",
            variable=places.GARDEN_VARIABLE,
        ),
    ),
]
Settings = Annotated[
    Path | None,
    typer.Option(
        "--settings",
        metavar="FILE",
        readable=False,  # the reader says what is wrong and what to do
        help=say(
            "Your working hours and wishes. Otherwise the file named by {variable}, else settings.yaml "
            "in your configuration folder, if there is one.",
            variable=places.SETTINGS_VARIABLE,
        ),
    ),
]
Weather = Annotated[
    Path | None,
    typer.Option(
        "--weather",
        metavar="FILE",
        readable=False,
        help=say("Take the weather from this file and not from the network."),
    ),
]
At = Annotated[
    str | None,
    typer.Option(
        "--at",
        metavar="TIME",
        callback=_readable_time,
        help=say(
            "Answer as if it were this time, such as 2026-12-02T14:30 or 14:30 for today; on the site's clock "
            "unless a zone is given."
        ),
    ),
]
Days = Annotated[
    int | None,
    typer.Option(
        "--days", metavar="N", parser=_nights, help=say("How many nights to look ahead.")
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help=say("Print the answer as data (JSON)."))]
Explain = Annotated[
    str | None,
    typer.Option(
        "--explain",
        metavar="POT",
        help=say("Show how the answer for one pot comes about: its id or its label."),
    ),
]
UnitsOption = Annotated[
    Units | None,
    typer.Option(
        "--units",
        metavar="metric|imperial",
        parser=_units,
        help=say("Units for reading; otherwise those of your settings."),
    ),
]
Chart = Annotated[
    bool,
    typer.Option(
        "--chart", help=say("Add curves of the pots most at risk, or of the one to explain, hour by hour.")
    ),
]
HtmlFile = Annotated[
    Path | None,
    typer.Option(
        "--html",
        metavar="FILE",
        readable=False,
        help=say("Write the page to this file; otherwise to {file} in your cache folder.", file="report.html"),
    ),
]
Show = Annotated[bool, typer.Option("--open", help=say("Show the page in your browser."))]
Version = Annotated[
    bool,
    typer.Option("--version", callback=_show_version, is_eager=True, help=say("Show the version and leave.")),
]
