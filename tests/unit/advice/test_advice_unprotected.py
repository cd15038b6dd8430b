"""What the night has done before a job acts, and the hour at which a limit is passed."""

from __future__ import annotations

from datetime import datetime, time
from itertools import pairwise

import numpy as np
import pytest

from frostguard.advice.plan import AdvicePlan, Batch, NoJob
from frostguard.advice.unprotected import crossing_hour, harm_by, moment_of
from frostguard.garden.settings import WorkingWindow
from frostguard.hardiness.model import Tissue
from tests.unit.advice.terraces import at, evening_of, garden, plan_of, planting, pot, room, spot, weather

TENDER = planting("pelargonium-hortorum", value_eur=60.0)
"""A zonal pelargonium: its leaves are lost by about -2 degC, which nobody disputes (common practice)."""


def terrace():
    """A tender plant, light enough for one hand, and a room that is free for it."""
    return garden(pot("geranium", TENDER), spots=(spot(), room()))


def falling(asked: datetime, *, low_c: float = -8.0, dusk_c: float = 0.0):
    """Air that falls to freezing at five in the afternoon and stays at its coldest from eight to eight."""
    shift_h = 0 if asked.day == at(14).day else 24  # the clock of the weather counts from the day of asking

    def air_c(clock: np.ndarray) -> np.ndarray:
        return np.interp(clock + shift_h, [14, 17, 20, 32, 36], [6.0, dusk_c, low_c, low_c, 3.0])

    return weather(air_c, asked=asked, past_h=48, ahead_h=36, members=3)


def only_pot(plan: AdvicePlan):
    (one,) = plan.pots
    return one


@pytest.mark.parametrize("asked", [at(23, 30), at(4, 30, days=1)])
def test_no_rescue_is_promised_for_leaves_that_the_night_has_taken(asked: datetime):
    """Asked after the limit was passed, no job of tonight claims to save the leaves, and the plan says why."""
    plan = plan_of(terrace(), falling(asked), asked)

    assert only_pot(plan).chance_of_damage > 0.9
    assert only_pot(plan).with_plan.chance_of_damage > 0.9
    assert only_pot(plan).harmed_already
    for job in plan.jobs:
        left = job.loss_otherwise.chance_with_jobs
        assert job.loss_otherwise.tissue is not Tissue.LEAF or (left is not None and left > 0.9)
    assert plan.jobs or only_pot(plan).no_job is NoJob.HARMED_ALREADY


def test_asked_in_time_the_same_plant_is_saved():
    """By daylight the pot is carried in, and hardly any harm is left."""
    plan = plan_of(terrace(), falling(at(14)), at(14))

    assert [job.to_spot for job in plan.jobs if job.batch is Batch.TONIGHT] == ["wash room"]
    assert only_pot(plan).with_plan.chance_of_damage < 0.05
    assert not only_pot(plan).harmed_already


def test_a_window_after_the_limit_is_passed_saves_nothing():
    """Who comes at ten to a plant that froze at seven finds it harmed, though the question was put at two."""
    window = WorkingWindow(frozenset(range(7)), time(22), time(23), lit=True)

    plan = plan_of(terrace(), falling(at(14)), at(14), windows=(window,))

    assert only_pot(plan).with_plan.chance_of_damage > 0.9
    assert not any(job.loss_otherwise.tissue is Tissue.LEAF for job in plan.jobs)


def test_asked_at_dusk_the_pot_is_carried_in_at_once():
    """After dark the deadline is the hour at which the limit is passed, not the end of an hour and a half."""
    asked = at(17, 5)
    sky = falling(asked, dusk_c=3.0)
    evening = evening_of(terrace(), sky, asked)
    passed = crossing_hour(evening, 0, {Tissue.LEAF}, 0, evening.now)
    assert passed is not None and at(17) < moment_of(evening, passed) < at(18, 15)

    plan = plan_of(terrace(), sky, asked)

    (job,) = (job for job in plan.jobs if job.batch is Batch.TONIGHT)
    assert asked <= job.start_by <= moment_of(evening, passed)
    assert only_pot(plan).with_plan.chance_of_damage < 0.5 < only_pot(plan).chance_of_damage


def test_what_is_below_its_limit_has_passed_it_now():
    """Deep in a frost the limit is passed at the hour of asking, so that a deadline reads now."""
    asked = at(23, 30)
    evening = evening_of(terrace(), falling(asked), asked)

    assert crossing_hour(evening, 0, {Tissue.LEAF}, 0, evening.now) == evening.now


def test_in_a_mild_night_no_limit_is_passed_and_nothing_harmed():
    """Where it does not freeze there is no crossing and no harm."""
    asked = at(23, 30)
    evening = evening_of(terrace(), falling(asked, low_c=4.0, dusk_c=5.0), asked)

    assert crossing_hour(evening, 0, set(Tissue), 0, evening.now) is None
    assert harm_by(evening, 0, {Tissue.LEAF}, evening.now) < 0.01


def test_harm_only_grows_as_the_night_goes_on():
    """The longer the pot stands as it is, the greater the chance of harm, up to the night's own."""
    evening = evening_of(terrace(), falling(at(14)), at(14))
    hours = range(evening.now + 1, evening.now + 16)

    chances = [harm_by(evening, 0, {Tissue.LEAF}, hour) for hour in hours]

    assert chances[0] < 0.01 and chances[-1] > 0.9
    assert all(later >= sooner - 1e-12 for sooner, later in pairwise(chances))
