"""Where a thermometer would tell most, as a person reads it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from frostguard.report.layout import page, paragraph
from frostguard.report.words import decimal, say

if TYPE_CHECKING:
    from frostguard.garden.model import Garden
    from frostguard.tuning.suggest import Candidate, Suggestion

SHOWN = 5

WORTH_IT = 0.95
"""What is left of the doubt, above which a thermometer is not worth its battery; estimate."""


def render_suggestion(suggestion: Suggestion, garden: Garden) -> str:
    """The best places first, each with what it would be worth."""
    best = suggestion.candidates[0]
    head = say(
        "How cold the outer roots get tonight is told within {now} K (one standard deviation, the forecast's own "
        "doubt aside).",
        now=decimal(suggestion.now_k, 2),
    )
    if best.at_last_k > WORTH_IT * suggestion.now_k:
        return page([paragraph(head), paragraph(say("No further thermometer would make that much better."))])
    rows = [
        line
        for one in suggestion.candidates[:SHOWN]
        for line in paragraph(
            say(
                "{where}, {nights} nights: {after} K",
                where=_where(one, garden),
                nights=one.nights,
                after=decimal(one.at_last_k, 2),
            ),
            first="  ",
        )
    ]
    return page([paragraph(head), [*paragraph(say("A thermometer would tell most here:")), *rows]])


def _where(one: Candidate, garden: Garden) -> str:
    if one.pot is None:
        return say("in the air at pot height, {spot}", spot=garden.spot(one.spot or "").label)
    label = next(pot.label for pot in garden.pots if pot.id == one.pot)
    if one.place.value == "wall":
        return say("{pot}, at the wall on its barest side, half way down", pot=label)
    return say("{pot}, in the middle of the mix", pot=label)
