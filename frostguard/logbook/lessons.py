"""What a night teaches of a pot: by the last plan of that night, or by the person's word for how cold it was."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from frostguard.advice.evening import taxon_of
from frostguard.garden.model import Planting, Pot, Site
from frostguard.hardiness.hardening import hardening_state, season_on
from frostguard.hardiness.limits import load_limits
from frostguard.hardiness.model import Tissue
from frostguard.hardiness.own import SEEN_ERROR_K, Sighting
from frostguard.hardiness.pace import WOODY, pace_of
from frostguard.hardiness.today import limits_today
from frostguard.logbook.book import Logbook
from frostguard.logbook.jobs import finished_on
from frostguard.logbook.losses import NO_LESSON, Harm, Lesson
from frostguard.logbook.nights import days_before, last_plan_of

TOLD_ERROR_K = 2.0
"""How far a temperature that a person names may be off, as a standard deviation [K]; estimate: a garden
thermometer seldom hangs where the plant was hurt."""

HURT_FIRST = (Tissue.LEAF, Tissue.BUD, Tissue.STEM, Tissue.CHILL)
"""What a plant that lives may have lost: leaves, shoots, buds. Of these the likeliest is held to be hurt."""

KILLS = (Tissue.WHOLE_ROOT, Tissue.LEAF)
"""What a plant that died may have died of."""

Told = tuple[Tissue, float, float, float, float, float]
"""A tissue, its coldest, the limit before anything was learned, the error of the coldest, the chance of damage, and by
how much the limit lies below the same told as screen air, which is what a garden thermometer shows."""


def lesson_of(
    book: Logbook, site: Site, pot: Pot, harm: Harm, night: date, coldest_c: float | None
) -> Lesson:
    """What a night teaches of the plants of a pot; nothing where no plan of it is kept and no temperature named.

    Parameters
    ----------
    book : Logbook
        With the plans and days that are kept.
    site : Site
        For the hardening of plants where no plan tells their limits.
    pot : Pot
        Of the garden file as it is now.
    harm : Harm
        What became of its plants.
    night : date
        Of the evening.
    coldest_c : float or None
        How cold the part that was hurt came, by the person's word [degC]; it wins over the plan. Of leaves and wood
        it is the air, as their limits are told, and the leaf is taken to have been as much colder.

    Notes
    -----
    The plan's coldest are expectations: their doubt, from the tenth percentile, goes into the error. Where jobs of
    the pot were signed off for that night, leaves are taken as the plan has them with its jobs, and roots as
    moved with the ring, with half of that move as further error (estimate).
    """
    plan = last_plan_of(book, night)
    planned = None if plan is None else next((one for one in plan["pots"] if one["id"] == pot.id), None)
    if planned is None and coldest_c is None:
        return NO_LESSON
    done = any(one == pot.id for one, _ in finished_on(book, night))
    sightings: list[Sighting] = []
    for planting in pot.plantings:
        told = (
            _by_the_season(book, site, pot, planting, night)
            if planned is None
            else _by_the_plan(planned, planting, with_jobs=done)
        )
        sightings += _seen(planting, told, harm, night, coldest_c)
    return Lesson(None if plan is None else _air_c(plan, night), tuple(sightings))


def _air_c(plan: Mapping[str, Any], night: date) -> float | None:
    return next((one["coldest_air_c"] for one in plan["nights"] if one["date"] == night.isoformat()), None)


def _by_the_plan(planned: Mapping[str, Any], planting: Planting, *, with_jobs: bool) -> list[Told]:
    """The tissues of a plant as a kept plan has them; an older plan has no `learned_k`, for nothing was learned."""
    after, told = planned["with_plan"], []
    for one in planned["tissues"]:
        if one["plant"] != planting.name:
            continue
        tissue, moved_k, doubt_k = Tissue(one["tissue"]), 0.0, 0.0
        if with_jobs:
            part = "coldest_ring_c" if tissue in (Tissue.YOUNG_ROOT, Tissue.WHOLE_ROOT) else "coldest_leaf_c"
            moved_k = after[part] - planned[part]
            doubt_k = moved_k / 2 if tissue is Tissue.WHOLE_ROOT else 0.0
        spread_k = (one["coldest_c"] - one["coldest_c_p10"]) / 1.2816
        told.append(
            (
                tissue,
                one["coldest_c"] + moved_k,
                one["limit_c"] - one.get("learned_k", 0.0),
                math.hypot(SEEN_ERROR_K, spread_k, doubt_k),
                one["chance"],
                0.0 if one.get("screen_air_limit_c") is None else one["screen_air_limit_c"] - one["limit_c"],
            )
        )
    return told


def _by_the_season(book: Logbook, site: Site, pot: Pot, planting: Planting, night: date) -> list[Told]:
    """The tissues of a plant with their limits of that night, by the days that are kept; no coldest is known."""
    days = days_before(book, night)
    minima, means = [day[1] for day in days], [day[2] for day in days]
    taxon = taxon_of(planting, load_limits())

    woody, own = (
        hardening_state(minima, means, on=night, latitude_deg=site.latitude_deg, pace=pace)
        for pace in (WOODY, pace_of(taxon))
    )
    limits = limits_today(
        taxon,
        hardening=own,
        season=season_on(woody, night, site.latitude_deg),
        stage=planting.stage,
        evergreen=planting.evergreen,
        potted_this_autumn=pot.potted_this_autumn,
        fed_late=pot.fed_late,
        stem=None if planting.bare_stem is None else planting.bare_stem.kind,
    )
    return [(limit.tissue, math.nan, limit.limit_c, TOLD_ERROR_K, 0.0, limit.undershoot_k) for limit in limits]


def _seen(
    planting: Planting, told: Iterable[Told], harm: Harm, night: date, coldest_c: float | None
) -> list[Sighting]:
    """What the harm says of each tissue: the likeliest was hurt; roots of what lives came through."""
    by_tissue = {one[0]: one for one in told}
    which = {Harm.DEAD: KILLS, Harm.HURT: HURT_FIRST, Harm.UNHURT: ()}[harm]
    at_hand = [by_tissue[tissue] for tissue in which if tissue in by_tissue]
    hurt = max(at_hand, key=lambda one: one[4])[0] if at_hand else None  # of equals the first that is named
    named = hurt or (Tissue.LEAF if Tissue.LEAF in by_tissue else Tissue.WHOLE_ROOT)
    came_through = {
        Harm.DEAD: frozenset[Tissue](),
        Harm.HURT: frozenset({Tissue.WHOLE_ROOT}),
        Harm.UNHURT: frozenset(by_tissue),
    }[harm]
    found = []
    for tissue, expected_c, limit_c, error_k, _, below_air_k in by_tissue.values():
        if tissue is not hurt and tissue not in came_through:
            continue
        if coldest_c is not None and tissue is named:
            expected_c, error_k = coldest_c - below_air_k, TOLD_ERROR_K
        if math.isfinite(expected_c):
            found.append(Sighting(night, planting.key, tissue, expected_c, limit_c, tissue is hurt, error_k))
    return found
