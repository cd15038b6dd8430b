"""How pots would stand with their covers off, or back in their places: what an all-clear rests on."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import date, datetime

import numpy as np

from frostguard.advice.evening import look_ahead
from frostguard.advice.occasion import TONIGHT_TISSUES
from frostguard.advice.outlook import Judgement
from frostguard.advice.state import TerraceState
from frostguard.advice.stay import winters_indoors
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import Garden
from frostguard.hardiness.hardening import Season
from frostguard.hardiness.limits import load_limits
from frostguard.weather.series import WeatherSeries

LOW_END = 0.1
"""The member that an all-clear goes by: one in ten is colder; as everywhere in the plan."""


def margins_as_they_stand_k(
    garden: Garden, weather: WeatherSeries, state: TerraceState, at: datetime, pots: Collection[str], days: int
) -> dict[str, dict[date, float]]:
    """How far the low end of the coldest of each pot stays above its nearest limit in each coming night [K].

    Outer roots are left aside: they are cared for by the spell. Tender plants that were carried in stay in until
    spring, so nothing is told of them.

    Parameters
    ----------
    garden : Garden
        With the covers off, and the pots where they belong.
    weather, state, at
        As for `advise.advise`; the state without those covers.
    pots : collection of str
        Ids of the pots in question.
    days : int
        How many nights to look ahead.

    Returns
    -------
    dict of pot id to dict of date to float
        Nights of which the weather leaves hours out are not in it.
    """
    few = replace(garden, pots=tuple(pot for pot in garden.pots if pot.id in pots))
    evening = look_ahead(few, weather, state, at, days, load_catalogue(), load_limits())
    return {
        pot.id: {
            night.date: _margin_k(judged[number])
            for night, judged, whole in zip(evening.nights, evening.judgements, evening.complete, strict=True)
            if whole
        }
        for number, pot in enumerate(few.pots)
        if evening.season is Season.SPRING or not any(winters_indoors(taxon) for taxon in evening.taxa[pot.id])
    }


def _margin_k(judged: Sequence[Judgement]) -> float:
    return min(
        (
            float(np.quantile(judgement.coldest_c, LOW_END, method="hazen")) - judgement.limit.limit_c
            for judgement in judged
            if judgement.limit.tissue in TONIGHT_TISSUES
        ),
        default=-math.inf,
    )
