"""What stays on by day and for the season, and until when."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from frostguard.advice.evening import Evening
from frostguard.advice.jobs import jobs_of, undo_times
from frostguard.advice.plan import Job, Stay
from frostguard.advice.staying import season_end, with_staying
from tests.unit.advice.terraces import (
    ASKED,
    CLEAR,
    choices_of,
    evening_of,
    frosty_night,
    garden,
    hoods,
    peach,
    pot,
    shed,
    weather,
)


def covered(evening: Evening) -> Job:
    """The fleece of a peach, with the time at which it comes off."""
    chosen = choices_of(evening)
    (job,) = jobs_of(evening, chosen)
    ends = undo_times(evening, chosen)[job.pot, job.protection]
    timed = replace(job, stays=ends) if isinstance(ends, Stay) else replace(job, undo_after=ends)
    (told,) = with_staying(evening, chosen, [timed])
    return told


def test_a_cover_stays_on_through_a_day_that_does_not_thaw():
    """Common practice, no source: below zero all day it stays on; in a thaw it comes off and is not said to stay."""
    frozen_day = weather(
        lambda clock: np.interp(clock, [14, 18, 26, 30, 36], [5.0, 2.0, -0.5, -0.5, -0.5]),
        ahead_h=47,
        members=3,
        **CLEAR,
    )
    where = garden(pot("peach", peach()), stock=shed(hoods(4)))

    assert covered(evening_of(where, frozen_day, days=2)).left_on_by_day
    assert not covered(evening_of(where, frosty_night(0.0, **CLEAR))).left_on_by_day


@pytest.mark.parametrize(("latitude_deg", "months"), [(40.0, (3,)), (46.0, (3, 4)), (58.0, (4, 5)), (-40.0, (9,))])
def test_the_season_ends_when_buds_swell_later_in_the_north(latitude_deg: float, months: tuple[int, ...]):
    """Buds of a generic plant swell in March in the south of Europe and in late April in the north (from memory)."""
    assert season_end(ASKED.date(), latitude_deg).month in months


def test_in_spring_the_season_that_ends_is_the_next_one():
    """Asked in May, the end lies in the year after."""
    assert season_end(date(2026, 5, 10), 46.0).year == 2027
