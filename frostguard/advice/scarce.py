"""What competes for hands, covers and floor, and what there is of them."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from enum import Enum

from frostguard.advice.supplies import Needs, Supplies

GROUP_OF = 2
"""Neighbours that must be left where a pot is pushed into a group."""

TIE_EUR = 1e-6
"""What an offer is worth less than the one before it, so that equal ones are chosen in the order of the garden."""


class Scarce(Enum):
    """What an offer can fail for."""

    TIME = "time"
    ROOM = "room"
    COVERS = "covers"
    NEIGHBOURS = "neighbours"


@dataclass(frozen=True, slots=True)
class Offer:
    """One thing that could be done for one pot.

    `slots` are taken by at most one offer each: an occasion of a pot, for instance. `saves_eur` is the
    expected loss taken away less the effort. `minutes` of all hands come out of `window`. A pot that is
    carried off takes `count` pots away from the spot `leaves`; one that is grouped wants neighbours at
    `groups_at`.
    """

    pot: int
    slots: frozenset[Hashable]
    saves_eur: float
    needs: Needs
    minutes: float
    window: int
    count: int = 1
    leaves: str | None = None
    groups_at: str | None = None


@dataclass(frozen=True, slots=True)
class AtHand:
    """What there is to share: the shed and the floor, minutes of all hands by window, pots standing by spot."""

    supplies: Supplies
    minutes: Mapping[int, float]
    standing: Mapping[str, int]
