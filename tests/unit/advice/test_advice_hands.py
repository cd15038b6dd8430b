"""Nights before which nobody comes, or only by lamp: what has to be done today for them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, time

import numpy as np
import pytest

from frostguard.advice.hands import nights_by_lamp, nights_served, window_for
from frostguard.advice.plan import AdvicePlan, Batch, Job, PlanNote, Protection
from frostguard.garden.model import CoverPiece
from frostguard.garden.settings import Settings, WorkingWindow
from frostguard.report.headline import left_at_risk
from frostguard.weather.series import WeatherSeries
from tests.unit.advice.terraces import (
    ASKED,
    CLEAR,
    big_pot,
    evening_of,
    garden,
    hoods,
    peach,
    plan_of,
    planting,
    pot,
    room,
    shed,
    spot,
    weather,
)

NIGHTS = 6
TODAY = frozenset({ASKED.weekday()})
BY_DAY = WorkingWindow(TODAY, time(9), time(16), lit=False)
BY_LAMP = WorkingWindow(frozenset(range(7)) - TODAY, time(18, 30), time(19, 30), lit=True)
THIRD = date(2026, 1, 16)
"""The evening of the one cold night."""


def third_night_cold(lowest_c: float, **more: object) -> WeatherSeries:
    """Mild days and nights, and one cold night two days ahead."""
    corners = [(14.0, 6.0)]
    for night in range(NIGHTS):
        low_c = lowest_c if night == 2 else 4.0
        corners += [(24.0 * night + 26.0, low_c), (24.0 * night + 30.0, low_c), (24.0 * night + 38.0, 6.0)]
    hours, air_c = zip(*corners, strict=True)
    return weather(lambda clock: np.interp(clock, hours, air_c), ahead_h=24 * NIGHTS, members=3, **more)


def plan_with(windows: Sequence[WorkingWindow], *covers: CoverPiece) -> AdvicePlan:
    """Two lemons, one in a pot that two people wheel by daylight, a room with floor for both, two people."""
    large = big_pot("large", planting(value_eur=300.0))
    where = garden(
        pot("lemon", planting(value_eur=60.0)),
        large,
        spots=(spot(), room(free_floor_m2=3.0)),
        stock=shed(*covers),
    )
    return plan_of(where, third_night_cold(-6.0), days=NIGHTS, windows=tuple(windows), people=2)


def of_pot(plan: AdvicePlan, name: str) -> list[Job]:
    """The jobs of a pot."""
    return [job for job in plan.jobs if job.pot == name]


def two_bare_pots(windows: Sequence[WorkingWindow]) -> AdvicePlan:
    """Two lemons that nothing at hand can help."""
    where = garden(pot("lemon", planting(value_eur=60.0)), pot("other", planting(value_eur=60.0)), stock=shed())
    return plan_of(where, third_night_cold(-6.0), days=NIGHTS, windows=tuple(windows))


def test_what_nobody_can_save_before_anybody_comes_is_told():
    """A mild evening in a week without hours of work: what the third night takes is at risk, not "needs nothing"."""
    plan = two_bare_pots([BY_DAY])

    for bare in plan.pots:
        assert bare.chance_of_damage < 0.05 and bare.no_job is not None
        assert bare.left.chance_of_damage > 0.9 and bare.loss_undone_eur > 50.0
        assert bare.unattended is not None and THIRD in bare.unattended.nights
    assert {one.pot.id for one in left_at_risk(plan)} == {"lemon", "other"}
    assert f"{PlanNote.NOBODY_UNTIL.value}:2026-01-19" in plan.notes


def test_what_somebody_can_still_see_to_is_no_matter_of_tonight():
    """With hours of work on every day the third night is told when it comes."""
    plan = two_bare_pots([WorkingWindow(frozenset(range(7)), time(9), time(16), lit=False)])

    assert all(bare.unattended is None and bare.no_job is None for bare in plan.pots)
    assert not left_at_risk(plan)


def test_losses_are_those_of_all_nights_till_somebody_comes():
    """What is carried in today for the third night is saved, and told among what the jobs save."""
    plan = plan_with([BY_DAY])

    assert sum(one.loss_undone_eur for one in plan.pots) > 300.0
    assert sum(one.left.expected_loss_eur for one in plan.pots) < 30.0
    assert not left_at_risk(plan)


def test_who_can_come_every_day_does_what_is_for_the_third_night_then():
    """With hours of work on every day nothing of it is done today."""
    assert not [job for job in plan_with(()).jobs if job.start_by.date() == ASKED.date()]


def test_who_comes_today_only_does_everything_today():
    """Before a frost in a week without hours of work the pots are carried in today, and the answer says why."""
    plan = plan_with([BY_DAY])

    assert {(job.pot, job.protection, job.batch) for job in plan.jobs} == {
        ("lemon", Protection.MOVE, Batch.TONIGHT),
        ("large", Protection.MOVE, Batch.TONIGHT),
    }
    for job in plan.jobs:
        assert job.start_by.date() == ASKED.date() and job.for_night == THIRD
        assert job.loss_otherwise.chance > 0.9  # of leaves, or of what a lemon would grow again from
    assert f"{PlanNote.NOBODY_UNTIL.value}:2026-01-19" in plan.notes


def test_what_is_too_heavy_for_the_dark_is_done_while_there_is_daylight():
    """Evenings by lamp do for the small pot on the day; the large one has today's daylight or none."""
    (large,) = of_pot(plan_with([BY_DAY, BY_LAMP]), "large")

    assert (large.protection, large.batch, large.for_night) == (Protection.MOVE, Batch.AHEAD, THIRD)
    assert large.start_by.date() == ASKED.date()


def test_what_a_hood_by_lamp_does_nearly_as_well_is_not_moved_today():
    """Flowers in a pot for two people, and a light frost: a hood on the evening itself saves the work of carrying.

    Without a hood, or before a frost that it does not keep out, the pot is carried off while there is daylight.
    """
    flowering = big_pot("peach", peach(value_eur=100.0))
    spots = (spot(), room("shed", lowest_c=None, free_floor_m2=3.0))

    def batches(lowest_c: float, *covers: CoverPiece) -> list[Batch]:
        sky, where = third_night_cold(lowest_c, **CLEAR), garden(flowering, spots=spots, stock=shed(*covers))
        return [job.batch for job in plan_of(where, sky, days=NIGHTS, windows=(BY_DAY, BY_LAMP), people=2).jobs]

    hood = hoods(2, "fleece 50")
    assert (batches(0.0, hood), batches(0.0), batches(-1.0, hood)) == ([], [Batch.AHEAD], [Batch.AHEAD])


def test_nothing_is_carried_off_today_for_a_night_with_daylight_before_it():
    """Hours by day on the day of the frost, too: both pots wait for it."""
    every_day = WorkingWindow(frozenset(range(7)), time(9), time(16), lit=False)

    assert not [job for job in plan_with([every_day]).jobs if job.start_by.date() == ASKED.date()]


@pytest.mark.parametrize(
    ("windows", "served", "by_lamp", "window"),
    [
        ((), (0,), (), 3),
        ((BY_DAY,), (0, 1, 2, 3, 4, 5), (), 0),
        ((BY_DAY, BY_LAMP), (0,), (1, 2, 3, 4, 5), 0),
        ((BY_LAMP,), (0,), (), 3),
        ((WorkingWindow(TODAY, time(1), time(2), lit=False),), (0, 1, 2, 3, 4, 5), (), None),
    ],
)
def test_which_nights_an_evening_answers_for(
    windows: tuple[WorkingWindow, ...], served: tuple[int, ...], by_lamp: tuple[int, ...], window: int | None
):
    """No hours at all, one day a week, days and evenings, evenings alone, and hours that are past."""
    evening = evening_of(garden(), third_night_cold(4.0), days=NIGHTS)
    settings = Settings(windows=windows)

    assert nights_served(evening, settings, 0) == served
    assert nights_by_lamp(evening, settings) == by_lamp
    assert window_for(evening, settings, 3) == window
