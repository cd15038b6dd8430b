"""How cold the tissues of a pot get in a night, and what that does to them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.nights import Night
from frostguard.advice.plan import TissueOutlook
from frostguard.advice.pot_run import PotRun, bulb_depth_m
from frostguard.advice.terrace import Terrace
from frostguard.garden.model import Planting, Pot
from frostguard.hardiness.damage import (
    chance_of_any,
    chance_of_damage,
    effective_coldest_c,
    expected_loss_share,
)
from frostguard.hardiness.model import Tissue, TissueLimit

Array = NDArray[np.float64]

IN_THE_AIR = frozenset({Tissue.LEAF, Tissue.BUD, Tissue.HEART, Tissue.CHILL})
"""Tissues that live at the temperature of leaves."""

EXPOSED, MEAN = "exposed", "mean"
"""Sides of a pot for what stands at a depth."""

EXPOSED_SHARE_OF_ROOTS = 0.5
"""Share of outer roots, and of bulbs, that the exposed side stands for, the mean side for the rest; estimate."""


@dataclass(frozen=True, slots=True)
class Judgement:
    """One tissue of one plant in one night: per member the coldest and the chance of damage."""

    planting: Planting
    limit: TissueLimit
    coldest_c: Array  # (members,)
    chance: Array  # (members,)


@dataclass(frozen=True, slots=True)
class Stretch:
    """Hours that some pots stand through: the `inside` hours, one situation for each pot, and columns of a run."""

    run: PotRun
    situations: NDArray[np.intp]
    inside: NDArray[np.bool_]
    columns: NDArray[np.intp]

    def part(self, curves_c: Array) -> Array:
        """Of curves (n_hours, n, columns) of the run these hours, situations and columns."""
        return np.asarray(curves_c[np.ix_(self.inside, self.situations, self.columns)])


@dataclass(frozen=True, slots=True)
class Place:
    """Where in a pot a tissue lives: one of the curves of a run, or at a depth near the wall, barest or in the mean."""

    curve: str
    depth_m: float | None = None

    def curves_c(self, run: PotRun) -> Array:
        """The curves of all situations of a run there [degC], (n_hours, n, columns)."""
        if self.depth_m is None:
            return np.asarray(getattr(run, self.curve))
        side = run.layout.exposed if self.curve == EXPOSED else run.layout.mean
        return side(run.readings.depths_c[:, :, run.bulb_depths_m.index(self.depth_m)])


def place_of(pot: Pot, planting: Planting, tissue: Tissue) -> Place:
    """Where a tissue of a plant lives; of what stands all round the pot near its wall, on the barest side."""
    if tissue in IN_THE_AIR:
        return Place("leaf_c")
    if tissue is Tissue.STEM:
        return Place("stem_c")
    if tissue is Tissue.YOUNG_ROOT:
        return Place("ring_c")
    depth_m = bulb_depth_m(pot, planting)
    return Place("mean_c") if depth_m is None else Place(EXPOSED, depth_m)


def _shaded_place(place: Place) -> Place | None:
    """The same on the other sides; None for what has no sides."""
    if place.depth_m is not None:
        return Place(MEAN, place.depth_m)
    return Place("shaded_ring_c") if place.curve == "ring_c" else None


def judge_pots(
    terrace: Terrace,
    columns: NDArray[np.intp],
    pots: Sequence[Pot],
    limits: Sequence[Sequence[tuple[Planting, tuple[TissueLimit, ...]]]],
    stretches: Sequence[Stretch],
) -> list[tuple[Judgement, ...]]:
    """Every tissue of each pot over all that they stand through, one stretch after the other.

    Parameters
    ----------
    terrace : Terrace
        For its bounding cases.
    columns : ndarray of int
        The weather columns that the stretches are told in.
    pots, limits : sequence
        Each pot, and its plants with today's limits.
    stretches : sequence of Stretch
        Of these pots in their order, at least one.
    """

    @cache
    def cold_c(place: Place) -> tuple[Array, Array]:
        """The coldest of every pot there, and the coldest as it counts; (pots, members)."""
        curves = np.concatenate([one.part(place.curves_c(one.run)) for one in stretches])
        return (
            per_member(terrace, columns, curves.min(axis=0)),
            per_member(terrace, columns, effective_coldest_c(curves, axis=0)),
        )

    tissues = [
        (row, planting, limit, place_of(pots[row], planting, limit.tissue))
        for row, of_pot in enumerate(limits)
        for planting, tissue_limits in of_pot
        for limit in tissue_limits
    ]
    if not tissues:
        return [() for _ in limits]
    # doses count from half an hour, and some limits are of a longer time
    stands = [(limit.limit_c - limit.held_k, limit.spread_k) for _, _, limit, _ in tissues]
    limit_c, spread_k = np.array(stands).T[..., None]
    dose_c = np.array([cold_c(place)[1][row] for row, _, _, place in tissues])
    chance = chance_of_damage(limit_c, spread_k, dose_c)
    sides = [(k, row, shaded) for k, (row, _, _, place) in enumerate(tissues) if (shaded := _shaded_place(place))]
    if sides:
        sided = [k for k, _, _ in sides]
        elsewhere_c = np.array([cold_c(shaded)[1][row] for _, row, shaded in sides])
        elsewhere = chance_of_damage(limit_c[sided], spread_k[sided], elsewhere_c)
        chance[sided] = EXPOSED_SHARE_OF_ROOTS * chance[sided] + (1.0 - EXPOSED_SHARE_OF_ROOTS) * elsewhere
    judged: list[list[Judgement]] = [[] for _ in limits]
    for (row, planting, limit, place), own_chance in zip(tissues, chance, strict=True):
        judged[row].append(Judgement(planting, limit, cold_c(place)[0][row], own_chance))
    return [tuple(of_pot) for of_pot in judged]


def per_member(terrace: Terrace, columns: NDArray[np.intp], values: Array) -> Array:
    """Values in weather columns, the last axis, to members, the colder case of each."""
    if terrace.n_cases == 1:
        return values
    members = columns // terrace.n_cases
    return np.stack([values[..., members == member].min(axis=-1) for member in np.unique(members)], axis=-1)


def tissue_outlook(judgement: Judgement) -> TissueOutlook:
    """A judgement as the plan tells it: medians and tenth percentiles over members."""
    limit = judgement.limit
    return TissueOutlook(
        tissue=limit.tissue,
        planting=judgement.planting.name,
        limit_c=limit.limit_c,
        coldest_c=float(np.median(judgement.coldest_c)),
        coldest_c_p10=float(np.quantile(judgement.coldest_c, 0.1, method="hazen")),
        chance=float(judgement.chance.mean()),
        mark=limit.mark,
        source=limit.source,
        stage=limit.stage,
        learned_k=limit.learned_k,
        screen_air_limit_c=limit.screen_air_c,
    )


def loss_of(judgements: Sequence[Judgement], count: int) -> tuple[float, float]:
    """Chance of damage beyond outer roots, and loss to be expected [euro], of a pot (of `count` alike).

    Outer roots count in the loss, not in the chance: a slow spring is not what a person means by damage,
    and is told with the cold spell.

    Within a member the tissues of a plant share the weather but not the luck: what is left of its
    value is the product over tissues of one minus share times chance. Members are averaged last.
    """
    if not judgements:
        return 0.0, 0.0
    expected = 0.0
    # by identity: two equal plants in a pot are two plants
    for planting in {id(judgement.planting): judgement.planting for judgement in judgements}.values():
        tissues = [judgement for judgement in judgements if judgement.planting is planting]
        shares = np.array([[judgement.limit.value_share] for judgement in tissues])
        lost = expected_loss_share(np.array([judgement.chance for judgement in tissues]), shares, axis=0)
        expected += planting.value_eur * float(np.mean(lost))
    # a heart freezes only after the leaves round it
    besides = (Tissue.YOUNG_ROOT, Tissue.HEART)
    counting = [judgement.chance for judgement in judgements if judgement.limit.tissue not in besides]
    harmed = float(np.mean(chance_of_any(np.array(counting), axis=0))) if counting else 0.0
    return harmed, expected * count


def night_hours(terrace: Terrace, run: PotRun, night: Night, after_hour: int) -> NDArray[np.bool_]:
    """Which of a run's hours lie in that night, later than hour `after_hour` of the terrace."""
    n_hours = run.ring_c.shape[0]
    index = np.arange(run.first, run.first + n_hours)
    times = terrace.times[run.first : run.first + n_hours]
    return np.asarray(night.hours_in(times) & (index > after_hour))
