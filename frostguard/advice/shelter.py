"""Jobs against harm that no limit tells: shade from the morning sun for frozen buds, ties before wet snow."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from frostguard.advice.estimated import estimated_job
from frostguard.advice.evening import Evening
from frostguard.advice.gale import gone_by_tonight
from frostguard.advice.plan import Job, Protection
from frostguard.advice.planner import Choice
from frostguard.advice.strains import rows_under_snow, sun_on_buds, wet_snow_share
from frostguard.garden.settings import Settings
from frostguard.hardiness.model import Tissue
from frostguard.weather.series import WeatherSeries

BROWNED = 0.5
"""Chance that flowers frozen and met by the sun are browned; estimate, for common practice calls it usual."""

BROKEN, BROKEN_SHARE = 0.3, 0.3
"""Chance that wet snow breaks an evergreen that is not tied, and the share of its value that goes; estimates."""

TOO_SMALL_M = 0.6
"""Lower evergreens bend under snow and stand up again; estimate."""

SHADE_MIN, TIE_MIN = 2.0, 3.0
"""Minutes for a plant: a board or a piece of fleece on its east side; a cord wound round from below; estimates."""


def shelter_jobs(
    evening: Evening, weather: WeatherSeries, choices: Sequence[Choice], settings: Settings
) -> list[Job]:
    """Jobs for tonight that pay for themselves, not yet dated; none for pots that are carried off, nor shade for
    what gets fleece, which is shade as well."""
    leaving = gone_by_tonight(evening, choices)
    covered = {choice.pot for choice in choices if choice.option.situation.over_plant}
    found = (*_shade(evening, settings.pace_of_work), *_ties(evening, weather, settings.pace_of_work))
    return [
        job
        for row, job in found
        if row not in leaving
        and not (row in covered and job.protection is Protection.SHADE)
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
        if evening.situations[row].height_m >= TOO_SMALL_M:
            worth = BROKEN_SHARE * sum(planting.value_eur for planting in evening.pots[row].plantings)
            yield row, estimated_job(
                evening, row, Protection.TIE_UP, TIE_MIN * pace, chance, worth, tissue=Tissue.LEAF
            )
