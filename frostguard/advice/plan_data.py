"""The plan as plain data: its versioned JSON form."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from frostguard.advice.plan import (
    PLAN_FORMAT,
    AdvicePlan,
    ColdSpell,
    CoverUse,
    Job,
    LeftOut,
    Loss,
    NightOutlook,
    PotOutlook,
    TissueOutlook,
    Unattended,
    WeatherCredit,
)


def plan_dict(plan: AdvicePlan) -> dict[str, Any]:
    """The plan as plain data, JSON format 1: ISO 8601 times with offset, degC, euro, minutes."""
    return {
        "format": PLAN_FORMAT,
        "site": plan.site,
        "issued_at": plan.asked_at.isoformat(),
        "night": plan.night.isoformat(),
        "sunset": _iso(plan.sunset),
        "weather": _weather_dict(plan.weather),
        "jobs": [_job_dict(job) for job in plan.jobs],
        "pots": [_pot_dict(pot) for pot in plan.pots],
        "nights": [_night_dict(night) for night in plan.nights],
        "spell": None if plan.spell is None else _spell_dict(plan.spell),
        "totals": {
            "jobs": len(plan.jobs),
            "minutes": round(plan.minutes, 1),
            "pace_of_work": round(plan.pace_of_work, 2),
            "pots": sum(pot.count for pot in plan.pots),
            "expected_loss": round(sum(pot.loss_undone_eur for pot in plan.pots), 2),
            "expected_loss_with_plan": round(sum(pot.left.expected_loss_eur for pot in plan.pots), 2),
        },
        "left_out": [_left_out_dict(one) for one in plan.left_out],
        "fetch_first": [_cover_dict(use) for use in plan.fetch_first],
        "cautions": [caution.value for caution in plan.cautions],
        "notes": list(plan.notes),
    }


def _iso(moment: datetime | None) -> str | None:
    return None if moment is None else moment.isoformat()


def _degrees(value_c: float) -> float:
    """To a hundredth, limits as well as what is held against them, so that neither reads as the other's side."""
    return round(value_c, 2) + 0.0  # no minus nought


def _weather_dict(weather: WeatherCredit) -> dict[str, Any]:
    return {
        "service": weather.service,
        "model": weather.model,
        "issued": _iso(weather.issued),
        "fetched": _iso(weather.fetched),
        "age_h": None if weather.age_h is None else round(weather.age_h, 1),
        "credit": weather.credit,
        "members": weather.members,
        "from_store": weather.from_store,
        "is_guess": weather.is_guess,
    }


def _cover_dict(use: CoverUse) -> dict[str, Any]:
    return {
        "material": use.material,
        "piece": use.piece,
        "count": round(use.count, 2),
        "width_m": use.width_m,
        "length_m": use.length_m,
    }


def _job_dict(job: Job) -> dict[str, Any]:
    return {
        "pot": job.pot,
        "protection": job.protection.value,
        "batch": job.batch.value,
        "to_spot": job.to_spot,
        "start_by": job.start_by.isoformat(),
        "in_time": not job.comes_late,
        "minutes": round(job.minutes, 1),
        "people": job.people,
        "count": job.count,
        "weight_kg": None if job.weight_kg is None else round(job.weight_kg, 1),
        "covers": [_cover_dict(use) for use in job.covers],
        "litres": None if job.litres is None else round(job.litres, 1),
        "loss_otherwise": _loss_dict(job.loss_otherwise),
        "cautions": [caution.value for caution in job.cautions],
        "undo_after": _iso(job.undo_after),
        "there_again": _iso(job.there_again),
        "warm_till_then": job.warm_till_then,
        "for_night": None if job.for_night is None else job.for_night.isoformat(),
        "number": job.number,
        "with_job": [one.value for one in job.with_job],
        "stays": None if job.stays is None else job.stays.value,
        "left_on_by_day": job.left_on_by_day,
        "too_cold_there_from": None if job.too_cold_there_from is None else job.too_cold_there_from.isoformat(),
        "season_ends": None if job.season_ends is None else job.season_ends.isoformat(),
    }


def _loss_dict(loss: Loss) -> dict[str, Any]:
    return {
        "tissue": "pot falls" if loss.tissue is None else loss.tissue.value,
        "plant": loss.plant,
        "chance": round(loss.chance, 3),
        "chance_with_jobs": None if loss.chance_with_jobs is None else round(loss.chance_with_jobs, 3),
        "expected": round(loss.expected_eur, 2),
    }


def _left_out_dict(one: LeftOut) -> dict[str, Any]:
    return {
        "pot": one.pot,
        "batch": one.batch.value,
        "count": one.count,
        "lacking": one.lacking.value,
        "loss_otherwise": _loss_dict(one.loss),
    }


def _tissue_dict(outlook: TissueOutlook) -> dict[str, Any]:
    screen_air_c = outlook.screen_air_limit_c
    return {
        "tissue": outlook.tissue.value,
        "plant": outlook.planting,
        "limit_c": _degrees(outlook.limit_c),
        "coldest_c": _degrees(outlook.coldest_c),
        "coldest_c_p10": _degrees(outlook.coldest_c_p10),
        "margin_c": _degrees(outlook.margin_c),
        "chance": round(outlook.chance, 3),
        "learned_k": round(outlook.learned_k, 2),
        "mark": outlook.mark.value,
        "source": outlook.source,
        "screen_air_limit_c": None if screen_air_c is None else _degrees(screen_air_c),
    }


def _pot_dict(pot: PotOutlook) -> dict[str, Any]:
    coldest = pot.coldest
    with_plan = pot.with_plan
    return {
        "id": pot.id,
        "plant": pot.plant,
        "spot": pot.spot,
        "count": pot.count,
        "coldest_ring_c": _degrees(coldest.ring_c),
        "coldest_ring_c_p10": _degrees(coldest.ring_c_p10),
        "coldest_mean_c": _degrees(coldest.mean_c),
        "coldest_mean_c_p10": _degrees(coldest.mean_c_p10),
        "coldest_core_c": _degrees(coldest.core_c),
        "coldest_core_c_p10": _degrees(coldest.core_c_p10),
        "coldest_leaf_c": _degrees(coldest.leaf_c),
        "coldest_leaf_c_p10": _degrees(coldest.leaf_c_p10),
        "frozen_fraction": round(pot.frozen_fraction, 3),
        "hours_ring_below_0": round(pot.hours_ring_below_0, 1),
        "tissues": [_tissue_dict(tissue) for tissue in pot.tissues],
        "chance_of_damage": round(pot.chance_of_damage, 3),
        "expected_loss": round(pot.expected_loss_eur, 2),
        "no_job": None if pot.no_job is None else pot.no_job.value,
        "irreplaceable": pot.irreplaceable,
        "harmed_already": pot.harmed_already,
        "water_fraction": round(pot.water_fraction, 3),
        "with_plan": {
            "coldest_ring_c": _degrees(with_plan.coldest_ring_c),
            "coldest_leaf_c": _degrees(with_plan.coldest_leaf_c),
            "chance_of_damage": round(with_plan.chance_of_damage, 3),
            "expected_loss": round(with_plan.expected_loss_eur, 2),
        },
        "unattended": None if pot.unattended is None else _unattended_dict(pot.unattended),
    }


def _unattended_dict(till_then: Unattended) -> dict[str, Any]:
    return {
        "nights": [night.isoformat() for night in till_then.nights],
        "expected_loss": round(till_then.loss_undone_eur, 2),
        "chance_of_damage_with_plan": round(till_then.chance_of_damage, 3),
        "expected_loss_with_plan": round(till_then.expected_loss_eur, 2),
    }


def _night_dict(night: NightOutlook) -> dict[str, Any]:
    return {
        "date": night.date.isoformat(),
        "coldest_air_c": _degrees(night.coldest_air_c),
        "coldest_air_c_p10": _degrees(night.coldest_air_c_p10),
        "pots_at_risk": night.pots_at_risk,
        "young_roots_at_risk": night.young_roots_at_risk,
        "complete": night.complete,
    }


def _spell_dict(spell: ColdSpell) -> dict[str, Any]:
    return {
        "first_night": spell.first_night.isoformat(),
        "last_night": spell.last_night.isoformat(),
        "began": spell.began,
        "pots": spell.pots,
    }
