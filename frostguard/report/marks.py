"""How much stands behind a limit of the plant table, in words: one wording wherever a limit is told."""

from __future__ import annotations

from frostguard.garden.settings import Units
from frostguard.hardiness.model import Mark
from frostguard.report.other_units import in_units
from frostguard.report.words import say


def origin(mark: Mark, source: str, units: Units) -> str:
    """Where a limit comes from; a weak page is called weak and not named."""
    if mark is Mark.WEAK_SOURCE:
        return say("Weak source.")
    named = in_units(_without_its_mark(source), units)
    if not named:
        return say("{mark}.", mark=_mark(mark))
    return say("{mark}: {source}.", mark=_mark(mark), source=named)


def _mark(mark: Mark) -> str:
    match mark:
        case Mark.MEASURED:
            return say("Measured")
        case Mark.COMMON_PRACTICE:
            return say("Common practice")
        case Mark.WEAK_SOURCE:
            return say("Weak source")
        case Mark.FROM_MEMORY:
            return say("From memory, not checked against a source")
        case Mark.BY_RULE:
            return say("Derived by rule")
        case Mark.ESTIMATE:
            return say("Estimate")
        case Mark.FLOOR:
            return say("Seen unhurt at this temperature, so the true limit lies lower")
        case Mark.OWN:
            return say("Your own word, in the garden file")
        case Mark.LEARNED:
            return say("Learned from what you saw cold do to your own plants")


def _without_its_mark(source: str) -> str:
    """The source's text without the mark that the limits table puts before some: it is told already."""
    for prefix in ("common practice", "from memory, no source seen", "estimate", "rule"):
        if source.startswith(prefix):
            source = source.removeprefix(prefix).lstrip(":;, ")
            break
    return source.rstrip(".").replace("degC", "°C").replace("degF", "°F").replace("LT50", say("LT50 (half is killed)"))
