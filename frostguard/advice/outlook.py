"""How cold the tissues of a pot get in a night, and what that does to them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.nights import Night
from frostguard.advice.plan import TissueOutlook
from frostguard.advice.pot_run import PotRun, bulb_depth_m
from frostguard.advice.terrace import Terrace
from frostguard.garden.model import Planting
from frostguard.hardiness.damage import (
    chance_of_any,
    chance_of_damage,
    effective_coldest_c,
    expected_loss_share,
)
from frostguard.hardiness.model import Tissue, TissueLimit

Array = NDArray[np.float64]

IN_THE_AIR = frozenset({Tissue.LEAF, Tissue.BUD, Tissue.CHILL})
"""Tissues that live at the temperature of leaves."""

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
    """Hours that a pot stands through, one column of a run: `inside` are hours and `columns` columns of the run."""

    run: PotRun
    situation: int
    inside: NDArray[np.bool_]
    columns: NDArray[np.intp]

    def part(self, curves_c: Array) -> Array:
        """Of curves (n_hours, columns) of one situation these hours and columns."""
        return np.asarray(curves_c[self.inside][:, self.columns])


def judge_night(
    terrace: Terrace,
    run: PotRun,
    situation: int,
    limits: Sequence[tuple[Planting, tuple[TissueLimit, ...]]],
    inside: NDArray[np.bool_],
    earlier: Sequence[Stretch] = (),
) -> tuple[Judgement, ...]:
    """Every tissue of a pot over the hours `inside` (of the run's own hours), and what it stood through before."""
    stretches = (*earlier, Stretch(run, situation, inside, np.arange(run.columns.size)))
    known: dict[tuple[Tissue, float | None], tuple[Array, Array, Array | None]] = {}

    def cold(planting: Planting, tissue: Tissue) -> tuple[Array, Array, Array | None]:
        """As `_cold_of`; once for all tissues that live in one place."""
        depth_m = bulb_depth_m(run.situations[situation].pot, planting)
        place = (Tissue.LEAF, None) if tissue in IN_THE_AIR else (tissue, depth_m)
        if place not in known:
            known[place] = _cold_of(terrace, stretches, planting, tissue)
        return known[place]

    return tuple(
        _judged(planting, limit, *cold(planting, limit.tissue))
        for planting, tissue_limits in limits
        for limit in tissue_limits
    )


def _judged(
    planting: Planting, limit: TissueLimit, coldest_c: Array, dose_c: Array, shaded_dose_c: Array | None
) -> Judgement:
    chance = chance_of_damage(limit.limit_c, limit.spread_k, dose_c)
    if shaded_dose_c is not None:
        elsewhere = chance_of_damage(limit.limit_c, limit.spread_k, shaded_dose_c)
        chance = EXPOSED_SHARE_OF_ROOTS * chance + (1.0 - EXPOSED_SHARE_OF_ROOTS) * elsewhere
    return Judgement(planting, limit, coldest_c, np.asarray(chance))


def _cold_of(
    terrace: Terrace, stretches: Sequence[Stretch], planting: Planting, tissue: Tissue
) -> tuple[Array, Array, Array | None]:
    """Per member the coldest that a tissue comes to, that as it counts, and the same on the mean side if it has one."""
    run = stretches[-1].run
    curve_c = np.concatenate(
        [one.part(tissue_curve_c(one.run, one.situation, planting, tissue)) for one in stretches]
    )
    coldest_c = per_member(terrace, run, curve_c.min(axis=0))
    dose_c = per_member(terrace, run, effective_coldest_c(curve_c, axis=0))
    shaded = [
        one.part(curve)
        for one in stretches
        if (curve := _shaded_curve(one.run, one.situation, planting, tissue)) is not None
    ]
    if not shaded:
        return coldest_c, dose_c, None
    return coldest_c, dose_c, per_member(terrace, run, effective_coldest_c(np.concatenate(shaded), axis=0))


def per_member(terrace: Terrace, run: PotRun, values: Array) -> Array:
    """Columns of a run to members, the colder case of each."""
    if terrace.n_cases == 1:
        return values
    members = run.columns // terrace.n_cases
    return np.array([values[members == member].min() for member in np.unique(members)])


def tissue_curve_c(run: PotRun, situation: int, planting: Planting, tissue: Tissue) -> Array:
    """The curve that a tissue lives by [degC], (n_hours, columns)."""
    if tissue in IN_THE_AIR:
        return run.leaf_c[:, situation]
    if tissue is Tissue.YOUNG_ROOT:
        return run.ring_c[:, situation]
    depth_m = bulb_depth_m(run.situations[situation].pot, planting)
    if depth_m is not None:
        return run.layout.exposed(_bulbs_c(run, depth_m))[:, situation]
    return run.mean_c[:, situation]


def _shaded_curve(run: PotRun, situation: int, planting: Planting, tissue: Tissue) -> Array | None:
    """The same on the mean side, of what stands all round the pot near its wall; None for all else."""
    if tissue is Tissue.YOUNG_ROOT:
        return run.shaded_ring_c[:, situation]
    depth_m = bulb_depth_m(run.situations[situation].pot, planting)
    if tissue is Tissue.WHOLE_ROOT and depth_m is not None:
        return run.layout.mean(_bulbs_c(run, depth_m))[:, situation]
    return None


def _bulbs_c(run: PotRun, depth_m: float) -> Array:
    """Where the outermost bulbs of that depth stand, (n_hours, n_series)."""
    return run.readings.depths_c[:, :, run.bulb_depths_m.index(depth_m)]


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
    counting = [judgement.chance for judgement in judgements if judgement.limit.tissue is not Tissue.YOUNG_ROOT]
    harmed = float(np.mean(chance_of_any(np.array(counting), axis=0))) if counting else 0.0
    return harmed, expected * count


def night_hours(terrace: Terrace, run: PotRun, night: Night, after_hour: int) -> NDArray[np.bool_]:
    """Which of a run's hours lie in that night, later than hour `after_hour` of the terrace."""
    n_hours = run.ring_c.shape[0]
    index = np.arange(run.first, run.first + n_hours)
    times = terrace.times[run.first : run.first + n_hours]
    return np.asarray(night.hours_in(times) & (index > after_hour))
