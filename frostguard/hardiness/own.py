"""What a gardener knows of his own plants: limits that win over the table, and losses that shift them."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from frostguard.garden.model import OwnLimits, Stage
from frostguard.hardiness.model import Mark
from frostguard.hardiness.taxon import Limit, Taxon

OWN_SPREAD_K = 1.0
"""Spread round a limit that the gardener names: one plant, known, but seldom measured; estimate."""

SEEN_ERROR_K = 1.0
"""How far a temperature that a loss is recorded with may be off, as a standard deviation [K]; estimate."""

_FLOWER_STAGES = (Stage.BUDS_IN_COLOUR, Stage.OPEN_FLOWERS)


@dataclass(frozen=True, slots=True)
class Seen:
    """One thing seen: the tissue came to `coldest_c` [degC] and was hurt, or was not.

    `error_k` is the standard deviation of that temperature [K].
    """

    coldest_c: float
    hurt: bool
    error_k: float = SEEN_ERROR_K


def with_own_limits(taxon: Taxon, own: OwnLimits) -> Taxon:
    """The plant with the gardener's own limits in place of the table's.

    A leaf limit is that of the hardened plant; soft growth keeps its own limit, but never a colder one. A
    whole-root limit never lies above the young-root limit: what the gardener did not name gives way.
    """
    leaf = _own(own.leaf_c)
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
