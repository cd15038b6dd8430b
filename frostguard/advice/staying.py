"""What stays in place: a cover by day while it is cold, other protections for the season; and until when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta

import numpy as np

from frostguard.advice.evening import Evening
from frostguard.advice.gale import gusts_by_spot, topple_with_hood
from frostguard.advice.hands import next_there
from frostguard.advice.jobs import daytime_after
from frostguard.advice.outlook import Judgement
from frostguard.advice.plan import OUTER_ROOTS_RISK, RISK, WARM_DAY_C, Job, Protection, Stay
from frostguard.advice.planner import Choice
from frostguard.advice.reach import AS_WELL_IN_SUMMER, COVERS, reached_by
from frostguard.advice.stay import at_rest
from frostguard.advice.strains import ROOFED
from frostguard.garden.settings import Settings
from frostguard.hardiness.hardening import Season, climatological_state, season_on
from frostguard.hardiness.model import Tissue
from frostguard.weather.series import WeatherSeries

NIGHTS_TO_TELL = 4
"""Nights that must be in sight before most of them say anything of the season; estimate."""

MOST = 0.5
"""A protection that more than this share of the nights in sight calls for is one for the season; common practice."""


LONG = timedelta(hours=1)
"""Waiting for less than this somebody is as good as there; estimate."""

DRY_MM = 3.0
"""Rain in all the days in sight up to which fleece stays dry enough to be left on: soaked, it lies on the leaves and
freezes there; estimate."""


def with_staying(
    evening: Evening, choices: Sequence[Choice], jobs: Sequence[Job], weather: WeatherSeries, settings: Settings
) -> tuple[Job, ...]:
    """The jobs, with what is left on by day or till somebody is there, what is for the season, and when that ends.

    Parameters
    ----------
    evening : Evening
    choices : sequence of Choice
        What the jobs come from.
    jobs : sequence of Job
        With the times from which they may be undone.
    weather : WeatherSeries
        For the rain.
    settings : Settings
        For the hours in which somebody is there.
    """
    rows = {pot.id: row for row, pot in enumerate(evening.pots)}
    last_nights = {
        (evening.pots[choice.pot].id, step.protection): choice.occasion.nights[-1]
        for choice in choices
        for step in choice.option.steps
    }
    ends = None if evening.season is Season.SPRING else season_end(evening.nights[0].date, _latitude_deg(evening))

    def told(job: Job) -> Job:
        if job.protection in COVERS:
            night = last_nights.get((job.pot, job.protection), 0)
            job = replace(job, left_on_by_day=_too_cold_by_day(evening, job, night))
            until = None if ends is None else _while_cold(evening, weather, rows[job.pot], job)
            if until is None:
                return _till_somebody_comes(evening, job, settings)
            return replace(job, undo_after=until, stays=Stay.WHILE_COLD, season_ends=ends)
        if job.stays is Stay.FOR_THE_WINTER and ends is not None and job.protection not in AS_WELL_IN_SUMMER:
            most = _most_nights_call_for(evening, rows[job.pot], job.protection)
            return replace(job, season_ends=ends, stays=Stay.FOR_THE_SEASON if most else job.stays)
        return job

    return tuple(told(job) for job in jobs)


def _till_somebody_comes(evening: Evening, job: Job, settings: Settings) -> Job:
    """A cover that may come off while nobody is there, with when somebody is, and whether it gets too warm before."""
    if job.undo_after is None:
        return job
    there = next_there(settings, job.undo_after, evening.terrace.zone)
    if there is not None and there - job.undo_after < LONG:
        return job
    first, horizon = evening.terrace.hour_at(job.undo_after), evening.terrace.times.size
    last = horizon if there is None else min(evening.terrace.hour_at(there) + 1, horizon)
    warmest = np.median(evening.terrace.outdoor.air_temperature_c[first:last].max(axis=0))
    return replace(job, there_again=there, warm_till_then=bool(warmest > WARM_DAY_C))


def season_end(on: date, latitude_deg: float) -> date:
    """The day from which buds swell in the smooth climate of the latitude, the next one after `on`.

    Wraps and mulch that are kept longer wake the plant early (common practice).
    """
    day = on
    while season_on(climatological_state(day, latitude_deg), day, latitude_deg) is Season.SPRING:
        day += timedelta(days=1)  # past this year's
    for _ in range(366):
        if season_on(climatological_state(day, latitude_deg), day, latitude_deg) is Season.SPRING:
            break
        day += timedelta(days=1)
    return day


def _latitude_deg(evening: Evening) -> float:
    return evening.garden.site.latitude_deg


def _too_cold_by_day(evening: Evening, job: Job, night: int) -> bool:
    """Whether the day after the night is in sight past noon, and no hour of it lets the cover come off."""
    morning = evening.nights[night].date + timedelta(days=1)
    in_sight = any(
        moment.date() == morning and moment.time() >= time(12) for _, moment in daytime_after(evening, night)
    )
    off_that_day = job.undo_after is not None and job.undo_after.date() <= morning
    return in_sight and not off_that_day


def _while_cold(evening: Evening, weather: WeatherSeries, row: int, job: Job) -> datetime | None:
    """Until when fleece may stay on over a plant at rest; None where practice has it come off by day.

    It may in a row of nights most of which ask for it, with no warm day, hardly any rain and no gale among them. It
    is opened at midday, and comes off for good when buds swell (common practice). Nobody vouches for more than the
    days in sight, so then it is asked anew.
    """
    whole = [night for night, complete in enumerate(evening.complete) if complete]
    if not whole or not at_rest(evening, row) or not _most_nights_call_for(evening, row, job.protection):
        return None
    until = evening.nights[whole[-1]].ends
    first, last = evening.now, min(evening.terrace.hour_at(until), evening.terrace.times.size - 1)
    air = evening.terrace.outdoor.air_temperature_c[first : last + 1]
    warmest = np.median(air.max(axis=0))
    gust = gusts_by_spot(evening, whole)[job.spot]
    wet = evening.terrace.spots[job.spot].sky_view > ROOFED and _rain_mm(weather, first, last) > DRY_MM
    if wet or warmest > WARM_DAY_C or gust > topple_with_hood(evening)[job.pot]:
        return None
    return until


def _rain_mm(weather: WeatherSeries, first: int, last: int) -> float:
    """Rain of these hours, mean over members; snow, which is brushed off, apart."""
    fallen = weather.values.get("precipitation_mm")
    if fallen is None:
        return 0.0
    hours = slice(first + 1, last + 1)
    thawed = weather.values["air_temperature_c"][:, hours] > 0.0
    return float(np.nanmean(np.nansum(np.where(thawed, fallen[:, hours], 0.0), axis=1)))


def _most_nights_call_for(evening: Evening, row: int, protection: Protection) -> bool:
    """Whether what the protection reaches is at risk in most of the nights in sight, with the pot as it stands."""
    reached = reached_by(protection)
    nights = [
        any(_at_risk(one) for one in judged[row] if one.limit.tissue in reached)
        for judged, whole in zip(evening.judgements, evening.complete, strict=True)
        if whole
    ]
    return len(nights) >= NIGHTS_TO_TELL and sum(nights) > MOST * len(nights)


def _at_risk(judgement: Judgement) -> bool:
    least = OUTER_ROOTS_RISK if judgement.limit.tissue is Tissue.YOUNG_ROOT else RISK
    return float(judgement.chance.mean()) >= least
