"""Today's limits of every tissue of a plant, from the table, the hardening state and the stage."""

from __future__ import annotations

from dataclasses import replace
from math import hypot

from frostguard.garden.model import Stage, Stem
from frostguard.hardiness.basis import UNDERSHOOT_K, UNDERSHOOT_SPREAD_K, undershoot_k
from frostguard.hardiness.damage import held_margin_k
from frostguard.hardiness.hardening import HardeningState, Season
from frostguard.hardiness.model import Basis, Mark, Tissue, TissueLimit
from frostguard.hardiness.rating import capped_spread_k
from frostguard.hardiness.taxon import Foliage, Habit, Limit, StageRule, Taxon

SOFT_WHOLE_ROOT_C = -3.0
"""Roots in growth die with the freezing of the mix, -2 to -5 degC (inference; Coleman et al. 1992,
Can. J. For. Res. 22:932-938: injury of unhardened roots goes with bulk freezing)."""

SOFT_YOUNG_ROOT_K = 1.0
"""Young roots hardly harden: 1 K between summer and winter at the most (Mityga & Lanphear 1971,
J. ASHS 96(1):83-87, abstract: white roots of yew did not harden in any treatment)."""

GROWING_ROOTS_C = -2.0
"""What young roots in growth stand, where the table does not say less: the warmer end of the same range."""

POTTED_TOP = 0.7
POTTED_ROOT = 0.5
"""Share of the hardening that a plant potted this autumn has (estimate; container crape myrtle stood up
to 11 K less than planted ones from October to December, J. Environ. Hort. 12(1):33, abstract)."""

FED_LATE_TOP = 0.8
FED_LATE_ROOT = 0.9
"""The same of a plant that got nitrogen after mid-August (estimate; stock fed heavily in autumn was hit hardest in
the freeze of 1983-84, Dirr & Smith 1988, Ornamentals Northwest Archives 12(5):5-9)."""

OLD_LEAVES_KEEP = 0.45
"""Share of their winter hardiness that the old leaves of hardy evergreens keep until they flush: the soft
values are of summer growth, and herbs, houseleeks, pansies and box stand -8 degC in April (common practice)."""

DORMANT_WOOD_KEEPS = 0.45
"""Share of its winter hardiness that leafless wood has kept whose buds the gardener still sees at rest in spring:
apple at silver tip, a little further on, stands about half of what it does in midwinter (WSU bud-stage table)."""

HARDY_EVERGREEN_C = -12.0
"""Evergreens whose hardened leaves stand this are hardy ones (UK hardiness ratings H5 and better)."""

_BY_STAGE = {
    Stage.SWELLING_BUDS: Limit(-5.0, 1.5, Mark.ESTIMATE, "estimate, a little warmer than fruit buds"),
    Stage.BUDS_IN_COLOUR: Limit(-2.5, 1.0, Mark.ESTIMATE, "estimate, a little warmer than fruit buds"),
    Stage.OPEN_FLOWERS: Limit(-2.0, 0.8, Mark.ESTIMATE, "estimate, a little warmer than fruit blossom"),
    Stage.NEW_SHOOTS: Limit(-1.0, 0.8, Mark.ESTIMATE, "estimate: soft growth goes at the first ice"),
}
"""Where the gardener names a stage that the table has no limit for."""

_SOFT_WHOLE_ROOT = Limit(SOFT_WHOLE_ROOT_C, 1.5, Mark.BY_RULE,
                         "rule: roots in growth die with the freezing of the mix, -2 to -5 degC")

FREEZES_BELOW_C = -0.5
"""Tissue water freezes a little below 0 degC (estimate); a table limit of 0 means the first ice."""

# Shares of a plant's value that go with a tissue (estimates): what a nursery would take off its price.
_LEAF_SHARE = {
    Habit.ANNUAL: 1.0,
    Habit.TENDER: 0.5,
    Habit.PALM: 0.6,
    Habit.PERENNIAL: 0.15,
    Habit.BULB: 0.3,
    Habit.TUBER: 0.15,
}
_TENDER_WOODY_LEAF_SHARE, _TENDER_LEAF_C = 0.5, -6.0  # losing leaves kills shoots too
_HARDY_WOODY_LEAF_SHARE, _HARDY_LEAF_C = 0.15, -14.0  # scorch, grown over by summer
_RIPE_WOOD_SHARE = 0.4
_UNRIPE_WOOD_SHARE = 0.1
_OTHER_SHARES = {Tissue.YOUNG_ROOT: 0.15, Tissue.WHOLE_ROOT: 1.0, Tissue.CHILL: 0.15}
_NEW_SHOOT_SHARE = 0.15
_BUD_SHARE = {Habit.BULB: 0.5}  # 0.25 for all others
_ALL_ABOVE = (Habit.ANNUAL, Habit.TENDER)  # whose shoots are all there is, or nearly
_DIES_DOWN = (Habit.PERENNIAL, Habit.BULB, Habit.TUBER)


HEART_STANDS_MORE_K = {"palms": 4.0, "ferns": 4.0, "succulents": 2.0, "exotics": 2.0}
"""By which the one growing point of these groups outlives the leaves round it, unless they sprout from below; from
memory: palms drop all fronds some kelvins before they die, rosettes of succulents rot soon after their leaves turn
glassy, the thick false stem of a banana takes a little more than its leaves. A heart that froze grows no more, whatever
became of the roots."""

GRAFT_STANDS_MORE_K = 2.5
"""By which all wood above a low graft outlives ripe leaves; estimate between two trials of sweet orange at -6.7 degC:
soft trees, whose leaves stand -4.4 degC, died to the rootstock ('Hamlin', HortScience 25(1):98, abstract), hardened
ones lost their leaves and no wood ('Valencia', Ability of 'Valencia' sweet orange to cold-acclimate on cold-sensitive
citron rootstock, HortScience, abstract). Below it only the rootstock comes again."""

HEART_SPREAD_K = 1.0
"""Added to the spread of the leaves; nobody measured it; estimate."""

_HEART_RULE = "rule: from the limit of the leaves, by what the growing points of such plants are said to stand more"
_GRAFT_RULE = "rule: from the limit of the leaves, by what wood above a graft stood more in trials of sweet orange"

STEM_STANDS_MORE_K = {True: 2.0, False: 0.0}
"""By which a ripe stem outlives leaves, and the one-year wood of a leafless plant; estimate (sweet orange: leaves
a kelvin or two before wood)."""

STEM_STANDS_LESS_K = {Stem.STANDARD: 0.0, Stem.GRAFTED: 2.0, Stem.YOUNG_TRUNK: 1.0}
"""By which a graft, and the thin bark of a young tree, stand less; estimate, the graft is what fails on standard
roses and young citrus (common practice)."""

STEM_UNDERSHOOT_SHARE = 0.4
"""Of what a leaf lies below the screen on a clear night, what an upright stem does; our own balance gives 0.3 to
0.5 in winds of 0.3 to 2 m/s."""

STEM_SPREAD_K = 1.5
"""Added to the spread of leaf or wood: nobody measured it; estimate."""

_STEM_RULE = "rule: from the limit of leaves or wood, by what stems and grafts are said to stand more or less"
_STEM_SHARES = {Stem.STANDARD: 0.6, Stem.GRAFTED: 1.0, Stem.YOUNG_TRUNK: 0.6}  # the foot may shoot, a rootstock in vain

_HARDNESSES = ("soft", "half hardened", "hardened")
STAGE_CODES = (
    *_HARDNESSES,
    *(f"{part}, {hardness}" for part in ("leaves", "wood") for hardness in _HARDNESSES),
    *(stage.value for stage in Stage),
    "",
)
"""Every code that `TissueLimit.stage` can hold, for those who turn codes into words."""


def limits_today(taxon: Taxon, *, hardening: HardeningState, season: Season, stage: Stage | None,
                 evergreen: bool | None, potted_this_autumn: bool,
                 fed_late: bool = False, stem: Stem | None = None) -> tuple[TissueLimit, ...]:
    """Limits of each tissue of a plant as it stands today.

    Parameters
    ----------
    taxon : Taxon
        From the limits table, or by a rating.
    hardening : HardeningState
        How hard plants are where it stands.
    season : Season
        From `season_on`.
    stage : Stage or None
        What the gardener sees; None: by the plant's own rule, for plants with bud limits in the table.
    evergreen : bool or None
        The gardener's word on leaves in winter; None: by the taxon.
    potted_this_autumn : bool
        Potted or bought late, and so less hard.
    fed_late : bool
        Fed with nitrogen late: growth goes on and hardens less.
    stem : Stem or None
        What stands bare below its head, if anything does.

    Returns
    -------
    tuple of TissueLimit
        LEAF, BUD, HEART, STEM, YOUNG_ROOT, WHOLE_ROOT, CHILL, each at most once. There is no LEAF while a plant
        that dies down has nothing above the mix, no BUD while buds stand as much as the wood, no STEM on a bush, and
        no HEART but in what dies with its one growing point or with the wood above its graft.

    Notes
    -----
    LEAF means leaves on an evergreen and in growth, wood on a leafless shrub; the stage code says which.
    Between soft and hardened, limits are linear in the hardening state. A leaf limit told as screen air is
    then set lower by what a leaf lies below it, so that all limits are those of the tissue itself; shoots of
    plants that come up and buds are taken at their word.
    """
    top = hardening.top * (POTTED_TOP if potted_this_autumn else 1.0) * (FED_LATE_TOP if fed_late else 1.0)
    root = hardening.root * (POTTED_ROOT if potted_this_autumn else 1.0) * (FED_LATE_ROOT if fed_late else 1.0)
    in_leaf = taxon.foliage is not Foliage.DECIDUOUS if evergreen is None else evergreen
    now = _stage_by_rule(taxon, hardening, season, top) if stage is None else stage
    hardy_evergreen = in_leaf and taxon.leaf_hardened.temperature_c <= HARDY_EVERGREEN_C
    if season is not Season.AUTUMN and hardy_evergreen and now is not Stage.NEW_SHOOTS:
        top = max(top, OLD_LEAVES_KEEP)
    if season is Season.SPRING and stage is Stage.DORMANT and not in_leaf:
        top = max(top, DORMANT_WOOD_KEEPS)
    young, whole = _root_limits(taxon, root)
    leaf = _leaf_limit(taxon, top, season, now, in_leaf)
    bud = _bud_limit(taxon, now, stage is not None, in_leaf)
    bare = None if stem is None else _stem_limit(taxon, stem, top, in_leaf)
    heart = _heart_limit(taxon, leaf)
    found = (leaf, bud, heart, bare, young, whole, _chill_limit(taxon))
    return tuple(limit for limit in found if limit is not None)


def _stage_by_rule(taxon: Taxon, hardening: HardeningState, season: Season, top: float) -> Stage:
    """The stage where nobody has looked: by heat, shoots as long as the plant is soft, or always at rest."""
    match taxon.stage_rule:
        case StageRule.BY_HEAT:
            return _stage_by_heat(taxon, hardening, season)
        case StageRule.IN_FLUSHES:
            return Stage.NEW_SHOOTS if _hardness(top) == _HARDNESSES[0] else Stage.DORMANT
        case StageRule.NONE:
            return Stage.DORMANT


def _stage_by_heat(taxon: Taxon, hardening: HardeningState, season: Season) -> Stage:
    """The stage by the heat since midwinter over the heat at which the plant flowers (estimate)."""
    share = 0.0 if season is Season.AUTUMN else hardening.heat_k_d / taxon.bloom_heat_k_d
    if share < 0.3:
        return Stage.DORMANT
    if share < 0.7:
        return Stage.SWELLING_BUDS
    if share < 1.0:
        return Stage.BUDS_IN_COLOUR
    return Stage.OPEN_FLOWERS if share < 1.5 else Stage.NEW_SHOOTS


def _leaf_limit(taxon: Taxon, top: float, season: Season, stage: Stage, in_leaf: bool) -> TissueLimit | None:
    if taxon.habit in _DIES_DOWN and not in_leaf and not _above_the_mix(taxon, season, stage):
        return None  # nothing up, or in autumn nothing that was to stay
    soft_shoots = stage is Stage.NEW_SHOOTS or taxon.habit in (Habit.PERENNIAL, Habit.TUBER)
    if soft_shoots and not in_leaf:
        shoots = taxon.buds.get(Stage.NEW_SHOOTS, taxon.leaf_soft)
        all_that_is_up = _LEAF_SHARE[taxon.habit] if taxon.habit in _ALL_ABOVE else _NEW_SHOOT_SHARE
        return _tissue_limit(Tissue.LEAF, shoots, taxon.value_shares.get(Tissue.LEAF, all_that_is_up),
                             Stage.NEW_SHOOTS.value)
    share = taxon.value_shares.get(Tissue.LEAF, _leaf_share(taxon, in_leaf, top))
    leafless = taxon.habit is Habit.WOODY and not in_leaf
    soft, hardened = taxon.leaf_soft, taxon.leaf_hardened
    nearer = hardened if top >= 0.5 else soft  # which of the two is quoted as the source
    told_c = soft.middle_c + (hardened.middle_c - soft.middle_c) * top
    below_k = _below_screen_k(taxon, top, told_c)
    # how far a leaf lies below the screen is not the same every night
    spread_k = hypot(soft.spread_k + (hardened.spread_k - soft.spread_k) * top,
                     UNDERSHOOT_SPREAD_K * below_k / UNDERSHOOT_K)
    held_k = held_margin_k(soft.tested_h) * (1.0 - top) + held_margin_k(hardened.tested_h) * top
    return _tissue_limit(
        Tissue.LEAF, nearer, share, f"{'wood' if leafless else 'leaves'}, {_hardness(top)}",
        middle_c=told_c - below_k, spread_k=spread_k, undershoot_k=below_k, held_k=held_k)


def _below_screen_k(taxon: Taxon, top: float, told_c: float) -> float:
    """By how much the leaf limit lies below the value told: by that share of it that is told as screen air.

    Soft tissue is never made hardier than hardened.
    """
    soft, hardened = taxon.leaf_soft, taxon.leaf_hardened
    share = (soft.basis is Basis.SCREEN_AIR) * (1.0 - top) + (hardened.basis is Basis.SCREEN_AIR) * top
    hardest_c = hardened.middle_c
    if hardened.basis is Basis.SCREEN_AIR:
        hardest_c -= undershoot_k(hardened.middle_c)
    return max(min(share * undershoot_k(told_c), told_c - hardest_c), 0.0)


def _above_the_mix(taxon: Taxon, season: Season, stage: Stage) -> bool:
    """Whether a plant that dies down has come up again: bulbs with swelling buds, others later."""
    if season is Season.AUTUMN and stage is not Stage.NEW_SHOOTS:
        return False
    if taxon.habit is Habit.BULB:
        return stage is not Stage.DORMANT
    return stage not in (Stage.DORMANT, Stage.SWELLING_BUDS)


def _leaf_share(taxon: Taxon, in_leaf: bool, top: float) -> float:
    if taxon.habit is not Habit.WOODY:
        return _LEAF_SHARE[taxon.habit]
    if in_leaf:
        hardy = (taxon.leaf_hardened.middle_c - _TENDER_LEAF_C) / (_HARDY_LEAF_C - _TENDER_LEAF_C)
        range_of_shares = _TENDER_WOODY_LEAF_SHARE - _HARDY_WOODY_LEAF_SHARE
        return round(_TENDER_WOODY_LEAF_SHARE - range_of_shares * min(max(hardy, 0.0), 1.0), 3)
    # Unripe tips are a small loss, ripe wood a large one.
    return round(_UNRIPE_WOOD_SHARE + (_RIPE_WOOD_SHARE - _UNRIPE_WOOD_SHARE) * top, 3)


def _bud_limit(taxon: Taxon, stage: Stage, seen: bool, in_leaf: bool) -> TissueLimit | None:
    """Buds or flowers at a stage that the gardener has seen, or that is in the table."""
    if stage is Stage.NEW_SHOOTS and not in_leaf:
        return None  # told as LEAF
    limit = taxon.buds.get(stage, _usual_of_a_stage(taxon, stage) if seen else None)
    if limit is None:
        return None
    usual = _NEW_SHOOT_SHARE if stage is Stage.NEW_SHOOTS else _BUD_SHARE.get(taxon.habit, 0.25)
    return _tissue_limit(Tissue.BUD, limit, taxon.value_shares.get(Tissue.BUD, usual), stage.value)


def _usual_of_a_stage(taxon: Taxon, stage: Stage) -> Limit | None:
    """What buds usually stand at a stage; those of a tender plant no more than its leaves ever do."""
    usual = _BY_STAGE.get(stage)
    if usual is None or taxon.leaf_hardened.middle_c <= usual.temperature_c:
        return usual
    return replace(taxon.leaf_hardened, basis=Basis.TISSUE)


def _stem_limit(taxon: Taxon, stem: Stem, top: float, in_leaf: bool) -> TissueLimit:
    """The bark of a bare stem, by rule from what the leaves or the wood stand today."""
    soft, hardened = taxon.leaf_soft, taxon.leaf_hardened
    told_c = soft.middle_c + (hardened.middle_c - soft.middle_c) * top
    below_k = STEM_UNDERSHOOT_SHARE * _below_screen_k(taxon, top, told_c)
    moved_c = STEM_STANDS_LESS_K[stem] - STEM_STANDS_MORE_K[in_leaf]
    spread_k = hypot(soft.spread_k + (hardened.spread_k - soft.spread_k) * top, STEM_SPREAD_K)
    limit = Limit(told_c + moved_c, spread_k, Mark.BY_RULE, _STEM_RULE)
    share = taxon.value_shares.get(Tissue.STEM, _STEM_SHARES[stem])
    return _tissue_limit(
        Tissue.STEM, limit, share, _hardness(top), middle_c=told_c + moved_c - below_k, undershoot_k=below_k)


def _heart_limit(taxon: Taxon, leaf: TissueLimit | None) -> TissueLimit | None:
    """What alone a plant would grow again from, by rule from what its leaves stand today."""
    more_k = GRAFT_STANDS_MORE_K if taxon.grafted else _growing_point_stands_more_k(taxon)
    if leaf is None or more_k is None:
        return None
    limit_c, spread_k = leaf.limit_c - more_k, hypot(leaf.spread_k, HEART_SPREAD_K)
    return TissueLimit(
        Tissue.HEART, limit_c, capped_spread_k(limit_c, spread_k), taxon.value_shares.get(Tissue.HEART, 1.0),
        Mark.BY_RULE, _GRAFT_RULE if taxon.grafted else _HEART_RULE, leaf.stage, undershoot_k=leaf.undershoot_k,
        held_k=leaf.held_k)


def _growing_point_stands_more_k(taxon: Taxon) -> float | None:
    """Than the leaves round it; None for what has many, or comes again from its base."""
    if taxon.sprouts or taxon.habit not in (Habit.PALM, Habit.TENDER):
        return None
    return HEART_STANDS_MORE_K.get(taxon.group)


def _root_limits(taxon: Taxon, root: float) -> tuple[TissueLimit, TissueLimit]:
    hard_young_c, hard_whole_c = taxon.young_root.middle_c, taxon.whole_root.middle_c
    soft_young_c = min(hard_young_c + SOFT_YOUNG_ROOT_K, max(hard_young_c, GROWING_ROOTS_C))
    soft_whole_c = max(hard_whole_c, min(SOFT_WHOLE_ROOT_C, soft_young_c))
    whole = taxon.whole_root if root >= 0.5 or soft_whole_c == hard_whole_c else _SOFT_WHOLE_ROOT
    return (
        _tissue_limit(Tissue.YOUNG_ROOT, taxon.young_root, _root_share(taxon, Tissue.YOUNG_ROOT),
                      _hardness(root), middle_c=soft_young_c + (hard_young_c - soft_young_c) * root),
        _tissue_limit(Tissue.WHOLE_ROOT, whole, _root_share(taxon, Tissue.WHOLE_ROOT),
                      _hardness(root), middle_c=soft_whole_c + (hard_whole_c - soft_whole_c) * root))


def _root_share(taxon: Taxon, tissue: Tissue) -> float:
    return taxon.value_shares.get(tissue, _OTHER_SHARES[tissue])


def _chill_limit(taxon: Taxon) -> TissueLimit | None:
    if taxon.chill is None:
        return None
    share = taxon.value_shares.get(Tissue.CHILL, _OTHER_SHARES[Tissue.CHILL])
    return TissueLimit(Tissue.CHILL, taxon.chill.middle_c, taxon.chill.spread_k, share, taxon.chill.mark,
                       taxon.chill.source)


def _hardness(share: float) -> str:
    return _HARDNESSES[0 if share < 0.25 else 1 if share < 0.75 else 2]


def _tissue_limit(tissue: Tissue, limit: Limit, share: float, stage: str, *, middle_c: float | None = None,
                  spread_k: float | None = None, undershoot_k: float = 0.0,
                  held_k: float | None = None) -> TissueLimit:
    """A value of the table as today's limit, moved to `middle_c` where the hardening state asks for it."""
    now_c = min(limit.middle_c if middle_c is None else middle_c, FREEZES_BELOW_C)
    spread = limit.spread_k if spread_k is None else spread_k
    return TissueLimit(tissue, now_c, capped_spread_k(now_c, spread), share, limit.mark, limit.source, stage,
                       undershoot_k=undershoot_k,
                       held_k=held_margin_k(limit.tested_h) if held_k is None else held_k)
