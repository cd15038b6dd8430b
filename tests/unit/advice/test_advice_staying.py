"""What stays on by day and for the season, and until when."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time
from typing import Any

import numpy as np
import pytest

from frostguard.advice.evening import Evening
from frostguard.advice.jobs import jobs_of, undo_times
from frostguard.advice.plan import Job, Protection, Stay
from frostguard.advice.staying import season_end, with_staying
from frostguard.garden.model import Planting
from frostguard.garden.settings import Settings, Units, WorkingWindow
from frostguard.report.jobs import undo_lines
from frostguard.report.measures import Clock
from frostguard.weather.series import WeatherSeries
from tests.unit.advice.terraces import (
    ASKED,
    CLEAR,
    at,
    big_pot,
    choices_of,
    evening_of,
    frosty_night,
    garden,
    hoods,
    peach,
    plan_of,
    planting,
    pot,
    shed,
    weather,
)


def covered(evening: Evening, sky: WeatherSeries, settings: Settings | None = None) -> Job:
    """The fleece of a peach, with the time at which it comes off."""
    chosen = choices_of(evening)
    (job,) = jobs_of(evening, chosen)
    ends = undo_times(evening, chosen)[job.pot, job.protection]
    timed = replace(job, stays=ends) if isinstance(ends, Stay) else replace(job, undo_after=ends)
    (told,) = with_staying(evening, chosen, [timed], sky, settings or Settings())
    return told


@pytest.mark.parametrize(("highest_c", "warm"), [(7.0, False), (13.0, True)])
def test_a_cover_waits_for_who_is_not_home_by_day(highest_c: float, warm: bool):
    """Hours from 18:30 on: what may come off at noon is taken off then, and a warm afternoon before it is told."""
    sky = weather(
        lambda clock: np.interp(clock, [14, 18, 26, 30, 38, 48], [5.0, 2.0, 0.0, 0.0, highest_c, 5.0]),
        ahead_h=47,
        members=3,
        **CLEAR,
    )
    evening = evening_of(garden(pot("peach", peach()), stock=shed(hoods(4))), sky, days=2)
    out = Settings(windows=(WorkingWindow(frozenset(range(7)), time(18, 30), time(19, 15), lit=True),))
    home = Settings(windows=(WorkingWindow(frozenset(range(7)), time(8), time(19), lit=True),))

    job = covered(evening, sky, out)
    assert job.undo_after is not None and job.undo_after < at(18, days=1)
    assert (job.there_again, job.warm_till_then) == (at(18, 30, days=1), warm)
    for settings in (home, Settings()):
        assert covered(evening, sky, settings).there_again is None


def test_a_cover_stays_on_through_a_day_that_does_not_thaw():
    """Common practice, no source: below zero all day it stays on; in a thaw it comes off and is not said to stay."""
    frozen_day = weather(
        lambda clock: np.interp(clock, [14, 18, 26, 30, 36], [5.0, 2.0, -0.5, -0.5, -0.5]),
        ahead_h=47,
        members=3,
        **CLEAR,
    )
    where = garden(pot("peach", peach()), stock=shed(hoods(4)))

    thaw = frosty_night(0.0, **CLEAR)
    assert covered(evening_of(where, frozen_day, days=2), frozen_day).left_on_by_day
    assert not covered(evening_of(where, thaw), thaw).left_on_by_day


OLIVE = planting("olea-europaea", value_eur=100.0, height_m=0.9, width_m=0.5)


def week(noon_c: float = 5.0, night_c: float = -5.0, **columns: Any) -> WeatherSeries:
    """Clear nights and cloudy days, ten of them past and seven ahead."""
    clock = np.arange(-24 * 10, 24 * 7 + 1) + 14.0

    def air_c(hours: np.ndarray) -> np.ndarray:
        return np.interp(hours % 24.0, [2, 6, 10, 18, 26], [night_c, night_c, noon_c, noon_c, night_c])

    cloud = np.where((clock % 24.0 >= 17.0) | (clock % 24.0 <= 8.0), 0.0, 100.0)
    columns = {"cloud_cover_percent": cloud} | columns
    return weather(air_c, past_h=24 * 10, ahead_h=24 * 7, members=3, **columns)


def fleeced(sky: WeatherSeries, *plants: Planting) -> list[Job]:
    """Fleece that the plan has for a big pot with an olive, or with these plants."""
    where = garden(big_pot("olive", *(plants or (OLIVE,))), stock=shed(hoods(4, width_m=1.5)))
    plan = plan_of(where, sky, days=7)
    return [job for job in plan.jobs if job.protection in (Protection.FLEECE, Protection.DOUBLE_FLEECE)]


def test_fleece_stays_on_through_a_row_of_cold_nights_over_a_plant_at_rest():
    """Common practice, no source: dormant evergreens may stay covered a week or two in cold, dry weather, aired."""
    (job,) = fleeced(week())

    assert job.stays is Stay.WHILE_COLD
    assert job.undo_after is not None and job.undo_after.date() == date(2026, 1, 21)  # as far as is seen, no further
    assert job.season_ends is not None
    lines = undo_lines([job], Clock("Europe/Ljubljana", ASKED), Units.METRIC)
    (line,) = (line for line in lines if "day and night" in line)
    assert "every midday" in line and "when buds swell" in line


@pytest.mark.parametrize(
    ("why_not", "sky", "plants"),
    [
        ("a warm day", week(12.0), ()),
        ("rain soaks it", week(precipitation_mm=0.2), ()),
        ("a gale", week(wind_gust_10m_m_s=40.0), ()),
        ("in flower", week(night_c=0.0), (peach(height_m=0.9, width_m=0.5),)),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_fleece_comes_off_by_day_where_practice_has_it_off(
    why_not: str, sky: WeatherSeries, plants: tuple[Planting, ...]
):
    """In warmth plants wake and mould under it, in rain it freezes to leaves, in a gale it flies; never in growth."""
    jobs = fleeced(sky, *plants)
    assert jobs or why_not == "a gale"
    assert all(job.stays is not Stay.WHILE_COLD for job in jobs)


@pytest.mark.parametrize(("latitude_deg", "months"), [(40.0, (3,)), (46.0, (3, 4)), (58.0, (4, 5)), (-40.0, (9,))])
def test_the_season_ends_when_buds_swell_later_in_the_north(latitude_deg: float, months: tuple[int, ...]):
    """Buds of a generic plant swell in March in the south of Europe and in late April in the north (from memory)."""
    assert season_end(ASKED.date(), latitude_deg).month in months


def test_in_spring_the_season_that_ends_is_the_next_one():
    """Asked in May, the end lies in the year after."""
    assert season_end(date(2026, 5, 10), 46.0).year == 2027
