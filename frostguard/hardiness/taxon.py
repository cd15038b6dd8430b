"""Records of one plant in the limits table."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import Enum

from frostguard.garden.model import Stage
from frostguard.hardiness.damage import TESTED_H
from frostguard.hardiness.model import Basis, Mark, MovedLight, Tissue


class Habit(Enum):
    """How a plant lives through the year, which decides what a lost tissue is worth."""

    ANNUAL = "annual"  # losing the top is losing the plant
    TENDER = "tender perennial"  # soft, may come again from the base
    WOODY = "woody"
    PALM = "palm or rosette"  # one growing point: palms, tree ferns, cordylines, agaves
    PERENNIAL = "perennial"
    BULB = "bulb"
    TUBER = "tuber"  # lifted and stored dry, or kept dry in the pot


class StageRule(Enum):
    """What tells how far a plant's buds and shoots are, where the gardener does not say."""

    BY_HEAT = "by heat"  # the heat since midwinter over that at which it flowers, or comes up
    IN_FLUSHES = "in flushes"  # new shoots whenever it is soft; flowers at any time, so by the gardener's word only
    NONE = "none"  # the same the year round, or sown and gone: what is above the mix is judged as leaves


GROWN_ON_STEMS = frozenset({Habit.WOODY, Habit.TENDER})
"""Habits that are grown as standards and young trees: roses, olives, bay, fuchsias, marguerites."""


class Foliage(Enum):
    """Whether leaves stay on in winter."""

    EVERGREEN = "evergreen"
    SEMI = "semi-evergreen"
    DECIDUOUS = "deciduous"  # leafless wood, or died down


class Sensitivity(Enum):
    """How badly a plant takes something."""

    LOW = "low"
    NORMAL = "normal"
    HIGH = "high"


@dataclass(frozen=True, slots=True)
class Limit:
    """One temperature of the table, with its spread and who says so.

    `temperature_c` is the warmer end where a range is given and `colder_c` the other end. `spread_k`
    is the standard deviation of plant, place and source round it. `tested_h` is how long the source says it was held,
    where it says so, else the half hour of a freezing test. `basis` is whose temperature it is; limits
    of roots, buds and chilling are always those of the tissue.
    """

    temperature_c: float
    spread_k: float
    mark: Mark
    source: str
    colder_c: float | None = None
    basis: Basis = Basis.TISSUE
    tested_h: float = TESTED_H

    @property
    def middle_c(self) -> float:
        """The temperature at which damage is as likely as not [degC].

        A floor is a temperature at which the plants of a trial were unhurt. That is read as "one in
        ten at most" (estimate), so the middle lies 1.28 spreads below it.
        """
        if self.mark is Mark.FLOOR:
            return self.temperature_c - 1.2816 * self.spread_k
        return self.temperature_c

    @property
    def range_middle_c(self) -> float:
        """The middle of the range given, or the value itself [degC]."""
        return self.temperature_c if self.colder_c is None else (self.temperature_c + self.colder_c) / 2


@dataclass(frozen=True, slots=True)
class Bulb:
    """A bulb's planting depth [cm, to its base] and what whole dry bulbs survived in the freezer [degC]."""

    depth_cm: tuple[float, float]
    depth_mark: Mark
    depth_source: str
    survived: Limit | None


@dataclass(frozen=True, slots=True)
class Taxon:
    """One plant, or a group of plants alike, as the limits table knows it.

    `value_shares` holds the share of the plant's value that goes with a tissue where the rule by
    habit does not fit. `bloom_heat_k_d` is the heat above 5 degC since midwinter at which it flowers
    (estimate), where its `stage_rule` goes by heat.
    `room_c` is the temperature of a good winter room [degC]. `grafted` evergreens are sold on the roots of another
    kind, with the graft above the mix (common practice). What `sprouts` comes again from rhizome, base or old stems
    when all above is killed (common practice); it matters for what else grows from one point.
    """

    key: str
    botanical: str
    english: str
    french: str
    synonyms: tuple[str, ...]
    synonyms_french: tuple[str, ...]
    group: str
    habit: Habit
    foliage: Foliage
    stage_rule: StageRule
    leaf_hardened: Limit
    leaf_soft: Limit
    buds: Mapping[Stage, Limit]
    young_root: Limit
    whole_root: Limit
    chill: Limit | None
    moved_light: MovedLight
    room_c: tuple[float, float] | None
    bulb: Bulb | None
    wet: Sensitivity
    dry: Sensitivity
    resents: tuple[str, ...]
    poisonous: bool
    spiny: bool
    grafted: bool
    sprouts: bool
    value_shares: Mapping[Tissue, float]
    bloom_heat_k_d: float

    @property
    def names(self) -> tuple[str, ...]:
        """Every name that the plant goes by."""
        return (self.botanical, self.english, self.french, *self.synonyms, *self.synonyms_french)

    def limits(self) -> Iterator[tuple[str, Limit]]:
        """Every value with the name of its cell, for display and checks."""
        yield "leaf hardened", self.leaf_hardened
        yield "leaf soft", self.leaf_soft
        for stage, limit in self.buds.items():
            yield stage.value, limit
        yield "young root", self.young_root
        yield "whole root", self.whole_root
        if self.chill is not None:
            yield "chill", self.chill
        if self.bulb is not None and self.bulb.survived is not None:
            yield "dry bulb survived", self.bulb.survived
