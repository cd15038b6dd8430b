"""How fast plants of a kind harden and soften, and what sets them going.

Rates are estimates, held between published marks that stand beside each kind; the tests compare them with
published models of grapevine buds and winter wheat and with published paces.
"""

from __future__ import annotations

from dataclasses import dataclass

from frostguard.hardiness.taxon import Foliage, Habit, Taxon


@dataclass(frozen=True, slots=True)
class Pace:
    """How one kind of plant hardens and softens.

    A day hardens fully when its minimum is below `full_below_c` and not at all above `begins_below_c`
    [degC]; `hardening_per_day` of what is missing is then won. A daily mean above `softens_above_c` takes a
    share of what is there: `softening_per_k` for each kelvin, `softening_at_most` in a day. Roots have their
    own, slower rates. `lost_for_good` is the share of a softening after midwinter that cannot be won back.
    """

    begins_below_c: float
    full_below_c: float
    hardening_per_day: float
    softens_above_c: float
    softening_per_k: float
    softening_at_most: float
    lost_for_good: float
    waits_for_short_days: bool
    ends_at_bud_break: bool
    root_hardening_per_day: float = 0.05
    root_softening_per_day: float = 0.06  # from 2 K above `softens_above_c`; no faster, roots lag

    def cold(self, minimum_c: float) -> float:
        """How far a night of this minimum hardens, from 0 to 1."""
        return min(max((self.begins_below_c - minimum_c) / (self.begins_below_c - self.full_below_c), 0.0), 1.0)

    def softening(self, mean_c: float) -> float:
        """Share of the tops' hardening that a day of this mean temperature takes away."""
        return min(self.softening_per_k * max(mean_c - self.softens_above_c, 0.0), self.softening_at_most)

    def root_softening(self, mean_c: float) -> float:
        """Share of the roots' hardening that a day of this mean temperature takes away."""
        return self.root_softening_per_day * min(max((mean_c - self.softens_above_c) / 2.0, 0.0), 1.0)


WOODY = Pace(
    begins_below_c=7.0, full_below_c=4.0, hardening_per_day=0.08,
    softens_above_c=8.0, softening_per_k=0.035, softening_at_most=0.26,
    lost_for_good=0.3, waits_for_short_days=True, ends_at_bud_break=True)
"""Shrubs, trees and conifers of cold winters: two to three weeks of cold nights on short days harden them.

Apple bark lost much in one warm day and did not fully win it back (abstract, Fluctuations in the cold
resistance of apple twigs during spring dehardening); stems of Hydrangea macrophylla dehardened faster in March
than in January and hardened again less (Pagter & Williams 2011, HortScience 46(8):1121-1126, abstract); the
power to harden again ends at leaf-out (Vitasse, Lenz & Koerner 2014, Front. Plant Sci. 5:541, authors from
memory). Roots: hardiness follows the soil of the week before and goes later than the tops' (Mityga & Lanphear
1971, J. ASHS 96(1):83-87, abstract)."""

MILD_CLIMATE = Pace(
    begins_below_c=10.0, full_below_c=4.0, hardening_per_day=0.07,
    softens_above_c=10.0, softening_per_k=0.03, softening_at_most=0.2,
    lost_for_good=0.15, waits_for_short_days=False, ends_at_bud_break=False)
"""Citrus, olives, palms and other evergreens of mild winters: cool nights alone harden them, not much and slowly.

Eucalyptus seedlings hardened in three to four weeks at 16/4 degC on 12 h days, further below frost (Harwood 1980,
Aust. J. Bot. 28:587-599, abstract), and shoots of high-altitude gums not before the first frosts (Forestry
60(2):239-248, 1987, abstract); a cactus gained 1.2 K between 30/20 and 20/10 degC, its roots nothing (Tolerances
and acclimation of Opuntia ficus-indica, abstract); olive loses part after six days above 16 degC (weak source)."""

HERBACEOUS = Pace(
    begins_below_c=8.0, full_below_c=3.0, hardening_per_day=0.22,
    softens_above_c=10.0, softening_per_k=0.05, softening_at_most=0.4,
    lost_for_good=0.05, waits_for_short_days=False, ends_at_bud_break=False)
"""Perennials, herbs, winter bedding, bulbs: quick to harden and quick to soften, time and again.

Spinach gained most within three days at 5/2 degC and hardly any after fourteen, lost 3 to 5 K in a day at
20/17 degC and no more after the third (Freezing tolerance and rapid cold acclimation of spinach, J. ASHS,
abstract). CERES winter wheat hardens by a tenth a day near 3.5 degC and loses 0.02 of the maximum per kelvin
above 10 degC. A perennial may die at 0 degC in September and stand -14 degC in January (Perry, University of
Vermont Extension COH31)."""

_MILD_GROUPS = frozenset({"citrus", "mediterranean", "palms", "exotics"})
_DIE_DOWN = (Habit.PERENNIAL, Habit.BULB, Habit.TUBER, Habit.ANNUAL, Habit.TENDER)
_HARDY_LEAF_C = -12.0  # UK hardiness ratings H5 and better are plants of cold winters


def pace_of(taxon: Taxon) -> Pace:
    """The pace of a plant's kind, by how it lives and where it comes from (rule, estimate)."""
    if taxon.habit in _DIE_DOWN:
        return HERBACEOUS
    mild_winters = taxon.group in _MILD_GROUPS or taxon.habit is Habit.PALM
    evergreen = taxon.foliage is not Foliage.DECIDUOUS
    if mild_winters and evergreen and taxon.leaf_hardened.temperature_c > _HARDY_LEAF_C:
        return MILD_CLIMATE
    return WOODY
