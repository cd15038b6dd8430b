"""The plant table as JSON for other programs."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from frostguard.hardiness.rating import Band
from frostguard.hardiness.strain import dark_days
from frostguard.hardiness.taxon import Foliage, Limit, Taxon

PLANTS_FORMAT = 1
"""Raised when a field changes its meaning or goes away; new fields may come at any time."""


def render_plant_json(taxon: Taxon) -> str:
    """One plant."""
    return _text({"plant": plant_dict(taxon)})


def render_rating_json(band: Band, taxon: Taxon) -> str:
    """A rating with its band [degC], and the stand-in of which only the rating is known."""
    scale = "UK" if band.rating.startswith("H") else "USDA"
    of_rating = {"rating": band.rating, "scale": scale, "c": round(band.warmer_c, 2),
                 "colder_c": round(band.colder_c, 2)}
    return _text({"rating": of_rating, "plant": plant_dict(taxon)})


def render_plants_json(taxa: Iterable[Taxon]) -> str:
    """Several plants, in their order."""
    return _text({"plants": [plant_dict(taxon) for taxon in taxa]})


def plant_dict(taxon: Taxon) -> dict[str, Any]:
    """A plant as plain data: degC, K, cm; what is not known is null."""
    bulb = taxon.bulb
    return {
        "key": taxon.key,
        "botanical": taxon.botanical or None,
        "english": taxon.english,
        "french": taxon.french,
        "synonyms": list(taxon.synonyms),
        "synonyms_french": list(taxon.synonyms_french),
        "group": taxon.group,
        "habit": taxon.habit.value,
        "foliage": taxon.foliage.value,
        "stage_rule": taxon.stage_rule.value,
        "limits": [{"part": part, **_limit_dict(limit)} for part, limit in taxon.limits()],
        "moved_light": taxon.moved_light.value,
        "dark_days": dark_days(taxon.moved_light, keeps_leaves=taxon.foliage is not Foliage.DECIDUOUS),
        "room_c": None if taxon.room_c is None else list(taxon.room_c),
        "bulb": None if bulb is None else {
            "depth_cm": list(bulb.depth_cm), "mark": bulb.depth_mark.value, "source": bulb.depth_source},
        "wet": taxon.wet.value,
        "dry": taxon.dry.value,
        "resents": list(taxon.resents),
        "poisonous": taxon.poisonous,
        "spiny": taxon.spiny,
        "grafted": taxon.grafted,
        "sprouts_from_below": taxon.sprouts,
    }


def _limit_dict(limit: Limit) -> dict[str, Any]:
    return {
        "c": round(limit.temperature_c, 2),
        "colder_c": None if limit.colder_c is None else round(limit.colder_c, 2),
        "middle_c": round(limit.middle_c, 2),
        "spread_k": round(limit.spread_k, 2),
        "mark": limit.mark.value,
        "source": limit.source,
        "basis": limit.basis.value,
    }


def _text(data: dict[str, Any]) -> str:
    return json.dumps({"format": PLANTS_FORMAT, **data}, indent=2, allow_nan=False)
