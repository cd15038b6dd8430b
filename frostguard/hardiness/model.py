"""Records of the limits table: what each tissue of a plant stands, and who says so."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Tissue(Enum):
    """A part of a plant that cold can hurt on its own."""

    LEAF = "leaf"  # leaves, or the wood of a leafless plant
    BUD = "bud"  # buds and flowers at their present stage
    HEART = "heart"  # what alone it would grow again from: a growing point, wood above a graft; with it the plant
    STEM = "stem"  # bark of a bare stem, and the graft on it; with it the head
    YOUNG_ROOT = "young root"  # outer roots at the pot wall: a slow spring
    WHOLE_ROOT = "whole root"  # the root system, and with it the plant
    CHILL = "chill"  # harm above freezing, to plants of warm climates


class Mark(Enum):
    """How much stands behind a value."""

    MEASURED = "measured"  # seen in the named source
    COMMON_PRACTICE = "common practice"
    WEAK_SOURCE = "weak source"
    FROM_MEMORY = "from memory"
    BY_RULE = "derived by rule"
    ESTIMATE = "estimate"
    FLOOR = "floor, not limit"  # unhurt at this temperature; the limit lies lower
    OWN = "your own"  # the gardener's word for this very plant
    LEARNED = "learned"  # moved by what the gardener saw cold do


class Basis(Enum):
    """Whose temperature a limit is."""

    SCREEN_AIR = "screen air"  # of the night, as a forecast or a thermometer in its screen gives it
    TISSUE = "tissue"  # of the leaf, bud or root itself, as in a freezing test


class MovedLight(Enum):
    """What the plant needs if it is brought into a room."""

    BRIGHT = "bright"
    DARK_OK = "dark ok"
    BRIGHT_OR_DARK = "bright, or dark and cool"
    STAY_OUT = "stay out"


@dataclass(frozen=True, slots=True)
class TissueLimit:
    """What one tissue stands today.

    `limit_c` is the temperature of the tissue itself at which damage is as likely as not; the chance of
    damage falls off on both sides as a normal distribution of standard deviation `spread_k`. `value_share`
    is the share of the plant's value that is lost with the tissue. `undershoot_k` tells by how much the
    limit was given warmer, as screen air; 0 where it was given for the tissue.
    """

    tissue: Tissue
    limit_c: float
    spread_k: float
    value_share: float
    mark: Mark
    source: str
    stage: str = ""  # code of the season or flower stage that the limit belongs to
    learned_k: float = 0.0  # by which losses and survivals have moved it [K]
    undershoot_k: float = 0.0
    held_k: float = 0.0  # that a source's longer time of exposure counts for; its cold was no short one [K]

    @property
    def screen_air_c(self) -> float | None:
        """The limit as the trade tells it, screen air of a clear, calm night [degC]; None for a tissue limit."""
        return self.limit_c + self.undershoot_k if self.undershoot_k > 0.0 else None
