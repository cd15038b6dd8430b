"""The free floor of each spot as the pots that were carried have left it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from frostguard.advice.plan import Protection
from frostguard.garden.model import Pot, Spot
from frostguard.logbook.jobs import Placed


def floor_as_left(spots: Sequence[Spot], pots: Sequence[Pot], placed: Sequence[Placed]) -> tuple[Spot, ...]:
    """The spots with less free floor where pots were carried to, and more where they stood.

    Parameters
    ----------
    spots, pots : sequence
        As the garden file has them; its free floor is that with every pot where the file says.
    placed : sequence of Placed
        The jobs in force, in the order in which they were done. Of several pots alike as many move as were carried.
    """
    change: defaultdict[str, float] = defaultdict(float)
    for pot in pots:
        for to_spot, count in _where_to(pot, placed).items():
            change[to_spot] -= pot.floor_m2 * count
            change[pot.spot] += pot.floor_m2 * count
    return tuple(
        spot
        if spot.free_floor_m2 is None or spot.name not in change
        else replace(spot, free_floor_m2=max(spot.free_floor_m2 + change[spot.name], 0.0))
        for spot in spots
    )


def _where_to(pot: Pot, placed: Sequence[Placed]) -> dict[str, int]:
    """How many of the pots alike stand where else than the file says."""
    there: dict[str, int] = {}
    for one in placed:
        job = one.job
        if job.pot != pot.id or job.protection is not Protection.MOVE or job.to_spot is None:
            continue
        if job.for_all:
            there = {job.to_spot: pot.count}
        else:
            still_here = pot.count - sum(there.values())
            there[job.to_spot] = there.get(job.to_spot, 0) + min(job.count, still_here)
    there.pop(pot.spot, None)
    return there
