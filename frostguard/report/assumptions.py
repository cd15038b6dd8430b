"""What the garden file left open and was filled by a rule, as sentences."""

from __future__ import annotations

from collections.abc import Iterable

from frostguard.garden.model import Garden
from frostguard.report.jobs import pot_name
from frostguard.report.layout import paragraph
from frostguard.report.words import harmless, say, say_count


def assumption_sentences(codes: Iterable[str]) -> list[str]:
    """One sentence for each code."""
    return [harmless(code.replace("_", " ")) for code in codes]


def render_garden_check(garden: Garden) -> str:
    """A garden file that can be used: how much is in it, and what was assumed for each spot and pot."""
    blocks = [paragraph(_summary(garden))]
    for spot in garden.spots:
        blocks.append(_entry(say("{label} (spot)", label=spot.label), spot.assumed))
    for pot in garden.pots:
        blocks.append(
            _entry(
                say("{label} (line {line})", label=pot_name(pot.label, pot.count), line=pot.line), pot.assumed
            )
        )
    if not any(blocks[1:]):
        blocks.append([say("Nothing had to be assumed.")])
    return "\n\n".join("\n".join(block) for block in blocks if block)


def _summary(garden: Garden) -> str:
    pots = sum(pot.count for pot in garden.pots)
    spots = say_count("1 spot", "{count} spots", len(garden.spots))
    return say_count(
        "{file} can be used: 1 pot, {spots}. What it leaves open was assumed as follows.",
        "{file} can be used: {count} pots, {spots}. What it leaves open was assumed as follows.",
        pots,
        file=garden.path,
        spots=spots,
    )


def _entry(heading: str, assumed: tuple[str, ...]) -> list[str]:
    lines = [
        line
        for sentence in assumption_sentences(assumed)
        for line in paragraph(sentence, first="  ", rest="    ")
    ]
    return [*paragraph(heading), *lines] if lines else []
