"""What a gardener knows of his own plants: limits that win over the table, and losses that shift them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from frostguard.garden.model import OwnLimits, Stage
from frostguard.hardiness.basis import leaf_basis
from frostguard.hardiness.model import Mark, Tissue, TissueLimit
from frostguard.hardiness.rating import capped_spread_k
from frostguard.hardiness.taxon import Limit, Taxon

OWN_SPREAD_K = 1.0
"""Spread round a limit that the gardener names: one plant, known, but seldom measured; estimate."""

SEEN_ERROR_K = 1.0
"""How far a temperature that a loss is recorded with may be off, as a standard deviation [K]; estimate."""

WARMEST_FREEZING_C = -0.5
"""Tissue water freezes a little below 0 degC (estimate, as in `today`); harm above that is chilling."""

TELLING_K = 0.1
"""A move of a limit that is worth telling [K]; less leaves it as it was."""

_FLOWER_STAGES = (Stage.BUDS_IN_COLOUR, Stage.OPEN_FLOWERS)


@dataclass(frozen=True, slots=True)
class Seen:
    """One thing seen: the tissue came to `coldest_c` [degC] and was hurt, or was not.

    `error_k` is the standard deviation of that temperature [K].
    """

    coldest_c: float
    hurt: bool
    error_k: float = SEEN_ERROR_K


@dataclass(frozen=True, slots=True)
class Sighting:
    """What one night did to one tissue of a plant, beside the limit that held for it on that night.

    `plant` is a key of the limits table, or the name in the garden file where the table lacks it; `limit_c` is
    the limit before anything was learned [degC].
    """

    night: date
    plant: str
    tissue: Tissue
    coldest_c: float
    limit_c: float
    hurt: bool
    error_k: float = SEEN_ERROR_K


def with_own_limits(taxon: Taxon, own: OwnLimits) -> Taxon:
    """The plant with the gardener's own limits in place of the table's.

    A leaf limit is that of the hardened plant, in screen air; soft growth keeps its own limit, but never a colder
    one. A whole-root limit never lies above the young-root limit: what the gardener did not name gives way.
    """
    leaf = _own_leaf(own.leaf_c)
    young, whole = _own(own.young_root_c), _own(own.whole_root_c)
    flower = _own(own.flower_c)
    if leaf is not None:
        soft = leaf if leaf.temperature_c > taxon.leaf_soft.temperature_c else taxon.leaf_soft
        taxon = replace(taxon, leaf_hardened=leaf, leaf_soft=soft)
    if flower is not None:
        taxon = replace(taxon, buds={**taxon.buds, **dict.fromkeys(_FLOWER_STAGES, flower)})
    if young is not None:
        kept = taxon.whole_root if taxon.whole_root.temperature_c <= young.temperature_c else young
        taxon = replace(taxon, young_root=young, whole_root=kept)
    if whole is not None:
        kept = whole if whole.temperature_c > taxon.young_root.temperature_c else taxon.young_root
        taxon = replace(taxon, whole_root=whole, young_root=kept)
    return taxon


def learned_limit(limit: Limit, seen: Iterable[Seen]) -> Limit:
    """A limit after what was seen of the plant, one sighting at a time.

    Parameters
    ----------
    limit : Limit
        What was believed before.
    seen : iterable of Seen
        Losses and survivals. A survival in mild weather changes nothing, one far below the limit much.

    Returns
    -------
    Limit
        With its middle and spread moved. Mark and source stay those of the table, as does the limit itself
        where nothing was seen.

    Notes
    -----
    The belief is a normal distribution; what is seen cuts it with a probit of `error_k`, and the normal
    distribution of the same mean and variance goes on. The spread never falls below half of `OWN_SPREAD_K`,
    since a plant does not stay the same from year to year (estimate).

    References
    ----------
    Rasmussen & Williams, Gaussian Processes for Machine Learning, 2006, section 3.9, eq. 3.85 to 3.87 (from
    memory): moments of a normal distribution times a probit. The tests integrate it numerically.
    """
    middle_c, spread_k = limit.middle_c, limit.spread_k
    sightings = tuple(seen)
    for one in sightings:
        middle_c, spread_k = _after(middle_c, spread_k, one)
    if not sightings:
        return limit
    mark = Mark.ESTIMATE if limit.mark is Mark.FLOOR else limit.mark  # the middle is told, no longer the floor
    return replace(limit, temperature_c=middle_c, spread_k=max(spread_k, OWN_SPREAD_K / 2), colder_c=None, mark=mark)


def learned_today(limits: Iterable[TissueLimit], sightings: Sequence[Sighting]) -> tuple[TissueLimit, ...]:
    """Today's limits of one plant after what was seen of its like.

    What counts is how far the tissue came from the limit of that night, since limits move with the season. Seen
    while the plant was hard, it counts for less while it is soft, in the ratio of the two limits: soft shoots
    have little of their own to differ by (estimate). A limit of freezing never rises to 0 degC.

    Parameters
    ----------
    limits : iterable of TissueLimit
        From `limits_today`.
    sightings : sequence of Sighting
        Of this plant only, in any order.

    Returns
    -------
    tuple of TissueLimit
        Those that moved by `TELLING_K` or more marked LEARNED, with the nights in the source.
    """
    learned = {limit.tissue: _learned_of(limit, sightings) for limit in limits}
    leaf, heart = learned.get(Tissue.LEAF), learned.get(Tissue.HEART)
    if leaf is not None and heart is not None and heart.mark is not Mark.LEARNED:
        # told by the leaves round it, so it goes with them
        learned[Tissue.HEART] = replace(
            heart, limit_c=min(heart.limit_c + leaf.learned_k, WARMEST_FREEZING_C), learned_k=leaf.learned_k
        )
    young, whole = learned.get(Tissue.YOUNG_ROOT), learned.get(Tissue.WHOLE_ROOT)
    if young is not None and whole is not None and young.limit_c < whole.limit_c:
        shift_k = whole.limit_c - young.limit_c  # what kills all roots kills the young ones
        learned[Tissue.YOUNG_ROOT] = replace(
            young, limit_c=whole.limit_c, learned_k=young.learned_k + shift_k, mark=whole.mark, source=whole.source
        )
    return tuple(learned.values())


def _learned_of(limit: TissueLimit, sightings: Iterable[Sighting]) -> TissueLimit:
    those = [one for one in sightings if one.tissue is limit.tissue]
    before = Limit(limit.limit_c, limit.spread_k, Mark.ESTIMATE, limit.source)
    after = learned_limit(before, [Seen(_as_of_today(limit, one), one.hurt, one.error_k) for one in those])
    ceiling_c = after.middle_c if limit.limit_c >= 0.0 else max(limit.limit_c, WARMEST_FREEZING_C)
    moved_c = min(after.middle_c, ceiling_c)
    if abs(moved_c - limit.limit_c) < TELLING_K:
        return limit
    spread_k = after.spread_k if limit.limit_c >= 0.0 else capped_spread_k(moved_c, after.spread_k)
    nights = ", ".join(one.isoformat() for one in sorted({one.night for one in those}))
    return replace(
        limit,
        limit_c=moved_c,
        spread_k=spread_k,
        mark=Mark.LEARNED,
        source=f"{nights}; before that: {limit.source}",
        learned_k=moved_c - limit.limit_c,
    )


def _as_of_today(limit: TissueLimit, seen: Sighting) -> float:
    """The temperature that would tell the same of today's limit [degC]."""
    both_freeze = limit.limit_c < 0.0 and seen.limit_c < 0.0
    share = min(1.0, limit.limit_c / seen.limit_c) if both_freeze else 1.0
    return limit.limit_c + share * (seen.coldest_c - seen.limit_c)


def _after(middle_c: float, spread_k: float, seen: Seen) -> tuple[float, float]:
    """Mean and spread of the limit after one sighting; the limit lies above what hurt, below what did not."""
    towards = 1.0 if seen.hurt else -1.0
    total_k = math.hypot(spread_k, seen.error_k)
    z = towards * (middle_c - seen.coldest_c) / total_k
    ratio = _hazard(z)
    mean_c = middle_c + towards * spread_k**2 / total_k * ratio
    variance = spread_k**2 * (1.0 - spread_k**2 / total_k**2 * ratio * (z + ratio))
    return mean_c, math.sqrt(max(variance, 0.0))


def _hazard(z: float) -> float:
    """Density over probability of the standard normal distribution below z; about -z far out."""
    if z < -8.0:
        return -z
    density = math.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
    return density / (0.5 * math.erfc(-z / math.sqrt(2.0)))


def _own(limit_c: float | None) -> Limit | None:
    return None if limit_c is None else Limit(limit_c, OWN_SPREAD_K, Mark.OWN, "the garden file")


def _own_leaf(limit_c: float | None) -> Limit | None:
    """Gardeners read the thermometer on the terrace, not the leaf."""
    own = _own(limit_c)
    return None if own is None else replace(own, basis=leaf_basis(own.mark))
