"""Every word that a person sees can be translated."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

import plans
import pytest
from plans import at

from frostguard.advice.plan import Caution, Protection
from frostguard.garden.settings import Units
from frostguard.hardiness.limits import load_limits, plant_or_rating
from frostguard.hardiness.model import Tissue
from frostguard.hardiness.taxon import Limit, Taxon
from frostguard.report.explain import render_explanation
from frostguard.report.plants import render_found, render_list, render_plant, render_rating
from frostguard.report.terminal import render_plan
from tests.language_of_dots import language_of_dots

FROM_DATA = set(
    re.findall(
        r"\w+",
        "Lemon lemon Fuchsia Pansies Banana Rosemary Sage front south wall cellar Roof terrace Ljubljana "
        "Open Meteo best match Weather data by com CC BY hardened A Author On Lemons table kettle moon phase "
        "C F BTU kJ mph m s x b H",
    )
)
"""Words that come from the plan, file or source, and signs of units."""


@pytest.fixture
def _blank_language() -> Iterator[None]:
    with language_of_dots():
        yield


def every_rendering() -> Iterator[str]:
    """Plans with every protection, loss, caution and state, and an explanation."""
    base = plans.frosty_plan()
    job = base.jobs[0]
    yield render_plan(plans.plan(), Units.METRIC)
    yield render_plan(plans.spell_plan(), Units.IMPERIAL)
    yield render_plan(replace(base, asked_at=at(18), cautions=tuple(Caution)), Units.METRIC)
    yield render_plan(
        replace(base, weather=replace(base.weather, issued=at(7), age_h=30.0, from_store=True)), Units.METRIC
    )
    for protection in Protection:
        yield render_plan(
            replace(base, jobs=(replace(job, protection=protection, litres=2.0),)), Units.METRIC
        )
    for tissue in Tissue:
        pot = plans.pot("lemon", plans.tissue(tissue=tissue, chance=0.05))
        yield render_plan(plans.plan(pots=(pot,)), Units.METRIC)
    yield render_explanation(base, plans.explanation(), Units.METRIC)
    yield from every_plant_page()


def every_plant_page() -> Iterator[str]:
    """All of the plant table with its names and sources taken out, ratings, a search and a list."""
    table = [_without_names(taxon) for taxon in load_limits()]
    for taxon in table:
        yield render_plant(taxon, Units.METRIC)
    for rating in ("H4", "H7", "H1a", "7b"):
        taxon, band = plant_or_rating(rating)
        assert band is not None
        yield render_rating(band, _without_names(taxon), Units.IMPERIAL)
    yield render_list(table, Units.METRIC)
    yield render_found("x", tuple(table))


def _without_names(taxon: Taxon) -> Taxon:
    named = ("leaf_hardened", "leaf_soft", "young_root", "whole_root", "chill")
    limits = {name: _of_nobody(getattr(taxon, name)) for name in named if getattr(taxon, name) is not None}
    bulb = taxon.bulb
    if bulb is not None:
        survived = None if bulb.survived is None else _of_nobody(bulb.survived)
        bulb = replace(bulb, depth_source="x", survived=survived)
    return replace(
        taxon, botanical="x", english="x", french="x", synonyms=(), synonyms_french=(), bulb=bulb,
        buds={stage: _of_nobody(limit) for stage, limit in taxon.buds.items()}, **limits)


def _of_nobody(limit: Limit) -> Limit:
    return replace(limit, source="x")


@pytest.mark.usefixtures("_blank_language")
def test_no_word_bypasses_the_catalogue():
    """In a language of dots nothing of the English is left but what the data itself says."""
    for shown in every_rendering():
        left = set(re.findall(r"[A-Za-z]+", shown)) - FROM_DATA
        assert not left, shown
