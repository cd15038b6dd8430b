"""How long a pot that is carried in has to stay there, and whether its plants stand the dark for so long."""

from __future__ import annotations

from collections.abc import Sequence

from frostguard.advice.evening import Evening
from frostguard.advice.outlook import loss_of
from frostguard.advice.plan import OUTER_ROOTS_RISK
from frostguard.advice.spell import outer_root_chance
from frostguard.garden.model import Planting
from frostguard.hardiness.model import Tissue
from frostguard.hardiness.strain import dark_days
from frostguard.hardiness.taxon import Foliage, Taxon

SAFE_CHANCE = 0.05
"""Chance of harm below which a pot that was carried in may go back for the night; estimate."""


def first_harmless_night(
    evening: Evening, row: int, nights: Sequence[int], tissues: frozenset[Tissue]
) -> int | None:
    """The first of the nights that are all harmless outdoors, up to the last one in sight; None where there is none.

    Parameters
    ----------
    evening : Evening
    row : int
        Position of the pot.
    nights : sequence of int
        The nights it is carried in for, which it is never out before.
    tissues : frozenset of Tissue
        What it is carried in for: outer roots count only among these.
    """
    back: int | None = None
    for night in reversed(range(nights[-1] + 1, len(evening.nights))):
        judged = evening.judgements[night][row]
        outer_roots = Tissue.YOUNG_ROOT in tissues and outer_root_chance(judged) >= OUTER_ROOTS_RISK
        if outer_roots or loss_of(judged, 1)[0] >= SAFE_CHANCE:
            return back
        back = night
    return back


def briefly_in(evening: Evening, row: int, nights: Sequence[int], tissues: frozenset[Tissue]) -> bool:
    """Whether a pot carried in for these nights is out again, as far as can be seen, before it misses the light."""
    days, back = days_in_the_dark(evening, row), first_harmless_night(evening, row, nights, tissues)
    return back is not None and (days is None or back - nights[0] < days)


def days_in_the_dark(evening: Evening, row: int) -> int | None:
    """Days that all plants of a pot stand in the dark without lasting harm; None for as long as they rest."""
    pot = evening.pots[row]
    days = (
        dark_days(taxon.moved_light, keeps_leaves=keeps_leaves(planting, taxon))
        for planting, taxon in zip(pot.plantings, evening.taxa[pot.id], strict=True)
    )
    return min((day for day in days if day is not None), default=None)


def keeps_leaves(planting: Planting, taxon: Taxon) -> bool:
    """Whether a plant stands in leaf all winter: by the gardener's word, else by its kind."""
    return taxon.foliage is not Foliage.DECIDUOUS if planting.evergreen is None else planting.evergreen
