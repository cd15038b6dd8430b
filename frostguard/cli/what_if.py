"""The command that tries a change on one pot, without touching the garden file."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated

import typer

from frostguard.cli import options
from frostguard.cli.files import existing_garden, query_of
from frostguard.cli.output import print_out
from frostguard.cli.trouble import errors_told
from frostguard.cli.waiting import ToldWhileWaiting
from frostguard.report.words import say

if TYPE_CHECKING:
    from frostguard.advice.plan import Protection

WORDS = (
    "fleece",
    "double-fleece",
    "wrap",
    "raise",
    "group",
    "mulch",
    "plunge",
    "fill-gaps",
    "sleeve",
    "tie-crown",
    "water",
)
"""What can be tried with --protect; as `advice.what_if.TO_TRY`, which is not loaded for a help text."""


def protections(words: list[str]) -> list[str]:
    for word in words:
        if word.lower() not in WORDS:
            raise typer.BadParameter(
                say("'{text}' is not known; write one of {words}.", text=word, words=", ".join(WORDS))
            )
    return words


def litres(text: str) -> float:
    try:
        found = float(text.replace(",", "."))
    except ValueError:
        found = 0.0
    if not 0.05 <= found <= 2000.0:
        raise typer.BadParameter(say("'{text}' is no volume of a pot; write litres, such as 40.", text=text))
    return found


_Pot = Annotated[str, typer.Argument(metavar="POT", help=say("The pot's id or label."))]
_Protect = Annotated[
    list[str],
    typer.Option(
        "--protect",
        metavar="WHAT",
        callback=protections,
        help=say("Protect it: {words}. Several times for several together.", words=", ".join(WORDS)),
    ),
]
_Spot = Annotated[str | None, typer.Option("--spot", metavar="NAME", help=say("Carry it to this spot this evening."))]
_Volume = Annotated[
    float | None,
    typer.Option("--volume", metavar="LITRES", parser=litres, help=say("In a pot of so many litres, all along.")),
]
_Wall = Annotated[
    str | None, typer.Option("--wall", metavar="MATERIAL", help=say("In a pot of this material, all along."))
]


def what_if(
    pot: _Pot,
    protect: _Protect = [],  # noqa: B006  the library's way to say "none given"; never changed
    spot: _Spot = None,
    volume: _Volume = None,
    wall: _Wall = None,
    garden: options.Garden = None,
    settings: options.Settings = None,
    weather: options.Weather = None,
    at: options.At = None,
    as_json: options.AsJson = False,
    units: options.UnitsOption = None,
) -> None:
    """Compare one pot with itself changed; the help text is said where the command is added."""
    if not protect and spot is None and volume is None and wall is None:
        raise typer.BadParameter(say("Say what is to be different: --protect, --spot, --volume or --wall."))
    with errors_told(as_json=as_json):
        from frostguard.advice.explain import pot_called
        from frostguard.advice.rounds import round_now, round_tonight
        from frostguard.advice.what_if import Changes, compare
        from frostguard.garden.reader import load_garden
        from frostguard.nightly import answer_tonight
        from frostguard.report.measures import Clock

        path = existing_garden(garden)
        row = pot_called(load_garden(path), pot)  # before the forecast is fetched, so that a slip is told at once
        query = query_of(path, settings, weather, at, 1)
        with ToldWhileWaiting() as asking:
            answer = answer_tonight(query, now=datetime.now(UTC), asking=asking)
        if answer.unseen is not None:
            raise answer.unseen
        evening = answer.reckoning.evening
        changes = Changes(tuple(dict.fromkeys(map(_protection, protect))), spot, volume, wall)
        turn = round_tonight(evening, answer.settings) or round_now(evening, answer.settings)
        comparison = compare(evening, row, changes, turn)
        if as_json:
            import json

            from frostguard.report.what_if import comparison_dict

            text = json.dumps(comparison_dict(comparison), indent=2, allow_nan=False)
        else:
            from frostguard.report.what_if import render_comparison

            clock = Clock(answer.plan.time_zone, answer.plan.asked_at)
            text = render_comparison(comparison, clock, answer.settings.units if units is None else units)
        print_out(text)


def _protection(word: str) -> Protection:
    from frostguard.advice.plan import Protection

    return Protection(word.lower().replace("-", " "))
