"""Jobs that were done for some of several pots alike: what the others are left with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby

from frostguard.advice.plan import Protection
from frostguard.advice.state import PartDone
from frostguard.garden.model import Pot
from frostguard.logbook.jobs import Placed

SEES_TO_THE_NIGHT = frozenset({Protection.FLEECE, Protection.DOUBLE_FLEECE, Protection.MOVE})
"""With these a pot is seen to as long as they last. A wrapped or mulched one may need more any night, so it goes on
being reckoned with the others."""


def in_parts(pot: Pot, done: Sequence[Placed]) -> tuple[Pot, list[Placed], list[PartDone]]:
    """The pots alike that are still to be seen to, what was done for them, and what was done for some only.

    Parameters
    ----------
    pot : Pot
        As the garden file has it.
    done : sequence of Placed
        Its jobs in force, in the order in which they were done. Jobs of one night are for the same pots.

    Returns
    -------
    tuple of Pot, list of Placed and list of PartDone
        What the parts that were done for all of them together have in common counts as done for all. Where parts
        differ, the one done last is what is left.
    """
    whole = [one for one in done if one.job.for_all]
    parts = [one for one in done if not one.job.for_all and one.job.count]
    seen_to = [one for one in parts if one.job.protection in SEES_TO_THE_NIGHT]
    of_nights = [list(jobs) for _, jobs in groupby(seen_to, key=lambda one: one.job.night)]
    ready = [one.job.count for one in parts if one.job.protection not in SEES_TO_THE_NIGHT]
    counts = [max(one.job.count for one in jobs) for jobs in of_nights]
    told = [PartDone(pot.label, max(ready), pot.count, set_aside=False)] if ready else []
    if not counts:
        return pot, whole, told
    if sum(counts) >= pot.count:
        kinds = {frozenset((one.job.protection, one.job.to_spot) for one in jobs) for jobs in of_nights}
        whole += of_nights[-1]
        if len(kinds) == 1:
            return pot, whole, told
        counts = counts[:-1]
    aside = min(sum(counts), pot.count - 1)
    told.append(PartDone(pot.label, aside, pot.count, set_aside=True))
    return replace(pot, count=pot.count - aside, set_aside=aside), whole, told
