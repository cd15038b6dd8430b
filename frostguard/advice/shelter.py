"""Jobs against harm that no limit tells: shade for frozen buds, ties before wet snow, water before a long freeze."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from frostguard.advice.estimated import estimated_job
from frostguard.advice.evening import ICY, Evening
from frostguard.advice.gale import gone_by_tonight
from frostguard.advice.option import Circumstances
from frostguard.advice.plan import Job, Protection
from frostguard.advice.planner import Choice
from frostguard.advice.protections import option_of
from frostguard.advice.strains import dries_out, rows_under_snow, sun_on_buds, wet_snow_share
from frostguard.garden.settings import Settings
from frostguard.hardiness.model import Tissue
from frostguard.weather.series import WeatherSeries

BROWNED = 0.5
"""Chance that flowers frozen and met by the sun are browned; estimate, for common practice calls it usual."""

BROKEN, BROKEN_SHARE = 0.3, 0.3
"""Chance that wet snow breaks an evergreen that is not tied, and the share of its value that goes; estimates."""

DRIED, DRIED_SHARE = 0.3, 0.3
"""Chance that a dry evergreen whose ball freezes for so long is browned by drought, and the share of its value that
goes; estimates. Even moisture through winter is called what counts most against root damage (Rutgers FS528)."""

LAST_CHANCE_H = 36
"""A ball that is icy within so many hours cannot be watered on a later day; what has more time is watered nearer to the
freeze, when the mix is seen to be dry; estimate."""

SHADE_MIN, TIE_MIN = 2.0, 3.0
"""Minutes for a plant: a board or a piece of fleece on its east side; a cord wound round from below; estimates."""


def shelter_jobs(
    evening: Evening,
    weather: WeatherSeries,
    choices: Sequence[Choice],
    settings: Settings,
    about: Circumstances | None,
) -> list[Job]:
    """Jobs for tonight that pay for themselves, not yet dated; none for pots that are carried off, no water for
    what goes indoors before a later night, nor shade for what gets fleece, which is shade as well.

    Parameters
    ----------
    evening, weather, choices, settings
        The evening, and what is chosen for it already.
    about : Circumstances or None
        What is open to the pots in the hours of work; None where nobody can work before the night.
    """
    leaving = gone_by_tonight(evening, choices)
    covered = {choice.pot for choice in choices if choice.option.situation.over_plant}
    watered = {
        choice.pot
        for choice in choices
        if Protection.WATER in choice.option.protections
        or (choice.option.indoors and choice.count == evening.pots[choice.pot].count)  # there its ball does not freeze
    }
    found = (
        *_shade(evening, settings.pace_of_work),
        *_ties(evening, weather, settings.pace_of_work),
        *(() if about is None else _waterings(evening, about)),
    )
    return [
        job
        for row, job in found
        if row not in leaving
        and not (row in covered and job.protection is Protection.SHADE)
        and not (row in watered and job.protection is Protection.WATER)
        and job.loss_otherwise.expected_eur > job.minutes / 60.0 * settings.effort_eur_h
    ]


def _shade(evening: Evening, pace: float) -> Iterator[tuple[int, Job]]:
    for row in range(len(evening.pots)):
        if evening.situations[row].over_plant or not sun_on_buds(evening, row):
            continue
        buds = [one for one in evening.judgements[0][row] if one.limit.tissue is Tissue.BUD]
        # the sun browns only what the night has left
        worth = sum(
            one.limit.value_share * one.planting.value_eur * (1.0 - float(one.chance.mean())) for one in buds
        )
        yield row, estimated_job(
                evening, row, Protection.SHADE, SHADE_MIN * pace, BROWNED, worth, tissue=Tissue.BUD
            )


def _ties(evening: Evening, weather: WeatherSeries, pace: float) -> Iterator[tuple[int, Job]]:
    chance = BROKEN * wet_snow_share(evening, weather)
    for row in rows_under_snow(evening) if chance > 0.0 else ():
        worth = BROKEN_SHARE * sum(planting.value_eur for planting in evening.pots[row].plantings)
        yield row, estimated_job(
            evening, row, Protection.TIE_UP, TIE_MIN * pace, chance, worth, tissue=Tissue.LEAF
        )


def _waterings(evening: Evening, about: Circumstances) -> Iterator[tuple[int, Job]]:
    """Dry evergreens whose ball is about to freeze for long: then their leaves would get no water at all."""
    for row, pot in enumerate(evening.pots):
        soon_icy = np.median(evening.run.frozen_fraction[: LAST_CHANCE_H + 1, row].max(axis=0)) > ICY
        if not soon_icy or not dries_out(evening, row):
            continue
        watering = option_of(Protection.WATER, evening.situations[row], about)
        if watering is None:
            continue
        (step,) = watering.steps
        worth = DRIED_SHARE * sum(planting.value_eur for planting in pot.plantings)
        job = estimated_job(
            evening,
            row,
            Protection.WATER,
            step.minutes / pot.count,
            DRIED,
            worth,
            tissue=Tissue.LEAF,
            cautions=step.cautions,
        )
        yield row, replace(job, litres=step.litres)
