"""What the garden file left open and was filled by a rule, as sentences."""

from __future__ import annotations

from collections.abc import Iterable

from frostguard.garden.assumed import Assumptions, assumed_sentence, describe_assumptions
from frostguard.garden.model import Garden
from frostguard.garden.settings import Units
from frostguard.report.layout import page, paragraph, section
from frostguard.report.other_units import in_units
from frostguard.report.words import harmless, say, say_count


def assumption_sentences(codes: Iterable[str], units: Units) -> list[str]:
    """One sentence for each code; a code that no sentence is known for is shown as it is."""
    return [in_units(_sentence(code), units) for code in codes]


def render_garden_check(garden: Garden) -> str:
    """A garden file that can be used: how much is in it, and what was assumed."""
    everything = describe_assumptions(garden)
    of_all = _of_all_pots(garden)
    blocks = [
        paragraph(_summary(garden, any(everything))),
        section(say("All pots"), assumption_sentences(of_all, Units.METRIC)),
    ]
    for one in everything:
        codes = [code for code in one.codes if one.of != "pot" or code not in of_all]
        blocks.append(section(_heading(one), assumption_sentences(codes, Units.METRIC)))
    return page(blocks)


def _of_all_pots(garden: Garden) -> list[str]:
    """What was assumed of every pot, told once."""
    if len(garden.pots) < 2:
        return []
    return [code for code in garden.pots[0].assumed if all(code in pot.assumed for pot in garden.pots)]


def _sentence(code: str) -> str:
    try:
        sentence, values = assumed_sentence(code)
    except (KeyError, ValueError):  # a code that is newer than the list, or one with other numbers
        return harmless(code)
    return say(sentence, **values)


def _summary(garden: Garden, assumed: bool) -> str:
    pots = sum(pot.count for pot in garden.pots)
    values = {"file": garden.path, "spots": say_count("1 spot", "{count} spots", len(garden.spots))}
    if assumed:
        return say_count(
            "{file} can be used: 1 pot, {spots}. What it leaves open was assumed as follows.",
            "{file} can be used: {count} pots, {spots}. What it leaves open was assumed as follows.",
            pots,
            **values,
        )
    return say_count(
        "{file} can be used: 1 pot, {spots}. Nothing had to be assumed.",
        "{file} can be used: {count} pots, {spots}. Nothing had to be assumed.",
        pots,
        **values,
    )


def _heading(one: Assumptions) -> str:
    match one.of:
        case "site":
            return say("{label} (the site)", label=one.label)
        case "spot":
            return say("{label} (spot)", label=one.label)
        case _:
            return say("{label} (pot, line {line})", label=one.label, line=one.line)
