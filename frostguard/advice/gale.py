"""Frost and gale together: hoods are sails, and a pot that goes over is lost whatever the temperature."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.estimated import estimated_job
from frostguard.advice.evening import Evening
from frostguard.advice.option import pot_weight_kg
from frostguard.advice.outlook import night_hours
from frostguard.advice.plan import Batch, Caution, Job, Protection
from frostguard.advice.planner import Choice
from frostguard.advice.protections import GALE_M_S, TIED_CROWN
from frostguard.advice.situation import Situation
from frostguard.garden.catalogue import Catalogue
from frostguard.garden.model import Beneath, Shape
from frostguard.physics.stability import (
    BARE_BRANCHES,
    BROADLEAF_IN_LEAF,
    CONIFER,
    HOOD_DRAG_COEFFICIENT,
    ONE_PERSON_KG,
    crown_outline_m2,
    mix_density_kg_m3,
    pot_mass_kg,
    tipping_base_on_feet_m,
    topple_gust_m_s,
    topple_gust_of_bending_crown_m_s,
)

BASE_TO_MIX = 0.8
"""Width of a pot's foot over the mean width of its mix: standard pots taper; common practice."""

MARGIN = 0.9
"""A pot is secured from this share of the gust that tips it: weight and drag are known to a tenth; estimate."""

TOPPLES = 0.5
"""Chance that a pot goes over in a gust that is strong enough by our reckoning; estimate."""

FALL_LOSS_SHARE = 0.3
"""Share of the value lost when a pot goes over: broken shoots, often a broken pot; estimate."""


def gusts_by_spot(evening: Evening, nights: Sequence[int]) -> dict[str, float]:
    """Strongest gust at the pots of each outdoor spot in those nights, median over members [m/s]."""
    terrace = evening.terrace
    masks = [night_hours(terrace, evening.run, evening.nights[night], evening.now) for night in nights]
    inside = np.any(masks, axis=0)
    window = slice(evening.run.first, evening.run.first + inside.size)
    by_case = terrace.gust_m_s[window][inside].max(axis=0).reshape(terrace.n_members, terrace.n_cases)
    strongest = float(np.median(by_case.max(axis=1)))  # the windier of a member's bounding cases
    return {
        spot.name: 0.0 if spot.room is not None else strongest * spot.wind_fraction for spot in evening.garden.spots
    }


def strong_gusts(evening: Evening, pot: str, *, hooded: bool) -> NDArray[np.bool_]:
    """In which hours of the run a pot would have to be secured where it stands, median over members."""
    terrace = evening.terrace
    row = next(row for row, one in enumerate(evening.pots) if one.id == pot)
    situation = evening.situations[row]
    hours = evening.run.ring_c.shape[0]
    window = slice(evening.run.first, evening.run.first + hours)
    by_case = terrace.gust_m_s[window].reshape(hours, terrace.n_members, terrace.n_cases)
    gust = np.median(by_case.max(axis=2), axis=1) * evening.garden.spot(situation.spot).wind_fraction
    if hooded:
        return np.asarray(gust > _holds_a_hood_to(situation, evening.catalogue))
    tips = topple_gust(situation, evening.catalogue, hooded=False, conifer=is_conifer(evening, row))
    return np.asarray(gust / MARGIN > tips)


def topple_with_hood(evening: Evening) -> dict[str, float]:
    """The gust from which each pot is not given a hood, since it might go over, or the hood be torn off [m/s]."""
    return {situation.pot.id: _holds_a_hood_to(situation, evening.catalogue) for situation in evening.situations}


def topple_on_feet(evening: Evening) -> dict[str, float]:
    """The gust from which each pot is not put on feet, which narrow its stance [m/s]."""
    return {
        situation.pot.id: MARGIN
        * topple_gust(
            replace(situation, feet=True), evening.catalogue, hooded=False, conifer=is_conifer(evening, row)
        )
        for row, situation in enumerate(evening.situations)
    }


def _holds_a_hood_to(situation: Situation, catalogue: Catalogue) -> float:
    return min(MARGIN * topple_gust(situation, catalogue, hooded=True), GALE_M_S)


def topple_gust(situation: Situation, catalogue: Catalogue, *, hooded: bool, conifer: bool = False) -> float:
    """The gust at the pot that tips it [m/s]; endless for what hangs or is fixed. Conifers stream less than leaves."""
    pot = situation.pot
    if pot.shape in (Shape.HANGING, Shape.RAILING_BOX):
        return float("inf")
    wall, mix = catalogue.walls[pot.wall], catalogue.mixes[pot.mix]
    outer = 2.0 * (pot.radius_m + pot.wall_thickness_m)
    # dry as they get: the mix at half of what it holds now
    mass = pot_mass_kg(
        radius_m=pot.radius_m,
        height_m=pot.height_m,
        wall_thickness_m=pot.wall_thickness_m,
        wall_density_kg_m3=wall.density_kg_m3,
        mix_density_kg_m3=mix_density_kg_m3(mix.dry_bulk_density_kg_m3, 0.5 * situation.water_fraction),
        volume_m3=pot.volume_l / 1000.0,
    )
    foot = outer * BASE_TO_MIX
    sail = {
        "mass_kg": mass,
        "base_width_m": tipping_base_on_feet_m(foot, 3) if situation.feet else foot,
        "crown_area_m2": crown_outline_m2(situation.height_m, situation.width_m),
        "crown_centre_height_m": pot.height_m + 0.5 * situation.height_m,
        "pot_width_m": outer,
        "pot_height_m": pot.height_m,
    }
    if hooded:
        return float(topple_gust_m_s(**sail, crown_drag_coefficient=HOOD_DRAG_COEFFICIENT))
    in_leaf = any(planting.evergreen is not False for planting in pot.plantings)
    crown = CONIFER if conifer else BROADLEAF_IN_LEAF if in_leaf else BARE_BRANCHES
    return float(topple_gust_of_bending_crown_m_s(**sail, crown=crown))


def is_conifer(evening: Evening, row: int) -> bool:
    """Whether a conifer stands in the pot."""
    return any(taxon.group == "conifers" for taxon in evening.taxa[evening.pots[row].id])


def gale_jobs(evening: Evening, choices: Sequence[Choice], pace: float = 1.0) -> list[Job]:
    """Hoods to take off and pots to lay down or tie before tonight's gale, not yet dated."""
    gusts = gusts_by_spot(evening, (0,))
    leaving = gone_by_tonight(evening, choices)
    jobs = []
    for row, situation in enumerate(evening.situations):
        if row in leaving:
            continue
        gust = gusts[situation.spot] / MARGIN
        hooded = bool(frozenset(situation.over_plant) - {TIED_CROWN})  # a crown tied up is no sail
        if hooded and gusts[situation.spot] > _holds_a_hood_to(situation, evening.catalogue):
            jobs.append(_job(evening, row, Protection.UNCOVER, 1.0 * pace))
        if gust > topple_gust(situation, evening.catalogue, hooded=False, conifer=is_conifer(evening, row)):
            jobs.append(_job(evening, row, Protection.SECURE, 3.0 * pace))
    return jobs


def gone_by_tonight(evening: Evening, choices: Sequence[Choice]) -> frozenset[int]:
    """The pots that all stand elsewhere by the coming night, also those carried off for later ones by then."""
    return frozenset(
        choice.pot
        for choice in choices
        if choice.option.to_spot is not None
        and choice.occasion.batch is not Batch.TOMORROW
        and (choice.occasion.nights[0] == 0 or choice.occasion.batch is Batch.AHEAD)
        and choice.count == evening.pots[choice.pot].count
    )


def _job(evening: Evening, row: int, protection: Protection, minutes: float) -> Job:
    pot = evening.pots[row]
    secured = protection is Protection.SECURE
    weight_kg = pot_weight_kg(evening.situations[row], evening.catalogue) if secured else None
    heavy = weight_kg is not None and weight_kg > ONE_PERSON_KG
    # on a railing or a ledge nothing can be laid down
    high = secured and evening.garden.spot(pot.spot).beneath is Beneath.NOTHING
    return estimated_job(
        evening,
        row,
        protection,
        minutes,
        TOPPLES,
        FALL_LOSS_SHARE * sum(planting.value_eur for planting in pot.plantings),
        weight_kg=weight_kg,
        cautions=(
            *((Caution.OVER_A_DROP,) if high else ()),
            Caution.FALLING_POTS,
            *((Caution.HEAVY,) if heavy else ()),
        ),
    )
