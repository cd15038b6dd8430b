"""The order of doing: what cannot be replaced, then by urgency, then along the way; deadlines follow it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostguard.advice.deadlines import UNSURE, Doing, WorkTime, order_in_time
from frostguard.advice.order import with_times
from frostguard.advice.plan import Batch, Caution, Job, Loss, Protection
from frostguard.garden.settings import Settings
from frostguard.hardiness.model import Tissue
from tests.unit.advice.terraces import at, evening_of, garden, planting, pot, spot, weather


def job(name: str, chance: float, protection: Protection = Protection.FLEECE) -> Job:
    """Five minutes of work at a pot that is lost with that chance."""
    return Job(
        pot=name,
        label=name,
        spot="front" if name.startswith("front") else "back",
        protection=protection,
        batch=Batch.TONIGHT,
        to_spot=None,
        start_by=at(14),
        minutes=5.0,
        people=1,
        weight_kg=None,
        covers=(),
        litres=None,
        loss_otherwise=Loss(Tissue.LEAF, chance, 10.0, 0.0),
        cautions=(),
        undo_after=None,
    )


def ordered(*jobs: Job, irreplaceable: str | None = None) -> list[Job]:
    """The jobs as they are to be done, with the pots in the order of the names given."""
    names = dict.fromkeys(one.pot for one in jobs)
    pots = [
        pot(name, planting(irreplaceable=name == irreplaceable), spot=next(j.spot for j in jobs if j.pot == name))
        for name in names
    ]
    where = garden(*pots, spots=(spot("front"), spot("back")))
    evening = evening_of(where, weather(5.0, ahead_h=24))
    told = [replace(one, irreplaceable=one.pot == irreplaceable) for one in jobs]
    return list(with_times(evening, told, Settings(), None, {}))


def test_what_is_almost_certainly_lost_goes_before_what_is_only_possible():
    """Nineteen chances in a hundred on the way do not go before ninety-nine at the far end."""
    done = ordered(job("front a", 0.19), job("front b", 0.6), job("back c", 0.99), job("back d", 0.55))

    assert [one.pot for one in done] == ["back c", "front b", "back d", "front a"]


def test_what_cannot_be_replaced_goes_first():
    """An irreplaceable plant at risk is cared for before others that are almost certainly lost."""
    done = ordered(job("front a", 0.99), job("back b", 0.19), irreplaceable="back b")

    assert [one.pot for one in done] == ["back b", "front a"]


def test_a_few_in_a_hundred_do_not_send_the_irreplaceable_before_what_is_nearly_lost():
    """Four chances in a hundred wait until the lemon that the night would take is covered."""
    done = ordered(job("front a", 0.99), job("back b", 0.04), job("back c", 0.6), irreplaceable="back b")

    assert [one.pot for one in done] == ["front a", "back c", "back b"]


def test_a_few_per_cent_do_not_send_a_person_to_and_fro():
    """Within a class of urgency the way over the terrace decides."""
    done = ordered(job("back a", 0.97), job("front b", 0.93), job("back c", 0.95), job("front d", 0.91))

    assert [one.pot for one in done] == ["front b", "front d", "back a", "back c"]


def test_deadlines_follow_the_order_of_doing():
    """Each job is due as long before the next as it takes, the last one ending by sunset."""
    done = ordered(job("front a", 0.19), job("back b", 0.99), job("front c", 0.6))

    starts = [one.start_by for one in done]
    assert [one.pot for one in done] == ["back b", "front c", "front a"]
    assert starts == sorted(starts) and len(set(starts)) == 3


def test_water_is_given_by_noon_and_first():
    """Common practice: in the morning, so that it soaks in; asked in the afternoon it is the first thing done."""
    jobs = [job("a", 0.6, Protection.WRAP), job("a", 0.6, Protection.WATER), job("b", 0.6, Protection.WRAP)]
    where = garden(*(pot(name, spot="back") for name in ("a", "b")), spots=(spot("back"),))

    def dated(hour: int) -> list[Job]:
        sky = weather(5.0, asked=at(hour), ahead_h=30)
        return list(with_times(evening_of(where, sky, at(hour)), jobs, Settings(), None, {}))

    morning, afternoon = dated(9), dated(14)
    assert morning[0].protection is Protection.WATER and morning[0].start_by <= at(11, 55)
    assert all(one.start_by > at(15) for one in morning[1:])
    assert afternoon[0].protection is Protection.WATER and afternoon[0].start_by <= at(14, 5)


def test_the_jobs_of_one_pot_stay_together():
    """A pot is visited once, by the most urgent of its jobs."""
    first, second = job("back a", 0.99), replace(job("back a", 0.2), protection=Protection.WRAP)
    done = ordered(second, job("front b", 0.95), first)

    assert [one.pot for one in done] == ["front b", "back a", "back a"]


def test_of_preparations_as_urgent_at_a_spot_the_like_are_done_together():
    """Of what is as urgent at a spot all wraps are done and then all mulch, as the lines tell it."""
    wraps = [job("front a", 0.8, Protection.WRAP), job("front b", 0.6, Protection.WRAP)]
    mulch = [job("front a", 0.8, Protection.MULCH), job("front b", 0.6, Protection.MULCH)]
    mixed = [wraps[0], mulch[0], job("back c", 0.6, Protection.WRAP), wraps[1], mulch[1]]

    done = ordered(*(replace(one, batch=Batch.BEFORE_SPELL) for one in mixed))

    assert [(one.pot, one.protection) for one in done] == [
        ("front a", Protection.WRAP),
        ("front b", Protection.WRAP),
        ("front a", Protection.MULCH),
        ("front b", Protection.MULCH),
        ("back c", Protection.WRAP),
    ]


def weather_due(minutes: tuple[float, ...], due: tuple[int, ...]) -> Doing:
    """Jobs in the order of their urgency, each with its deadline in minutes from the beginning of three hours."""
    work = WorkTime(at(13), at(16), dark=False)
    return order_in_time(minutes, work, [at(13) + timedelta(minutes=by) for by in due])


def test_where_all_is_in_time_the_order_of_urgency_stays():
    """A later job with an earlier deadline does not go first where it can wait for its turn."""
    assert weather_due((20.0, 20.0, 20.0), (180, 60, 180)) == Doing((0, 1, 2), {})


def test_jobs_that_would_come_late_go_before_those_that_can_wait():
    """Three jobs of twenty minutes, the last due in forty: it goes before one that has until dusk, and none is late."""
    assert weather_due((20.0, 20.0, 20.0), (180, 180, 40)) == Doing((2, 0, 1), {})


def test_more_minutes_than_there_are_to_the_deadlines_is_said_and_the_urgent_come_in_time():
    """Two hours of work due in one: the first two of the order of urgency are in time, the others told as late."""
    doing = weather_due((30.0, 30.0, 30.0, 30.0), (60, 60, 60, 60))

    assert doing.order == (0, 1, 2, 3)
    assert doing.late == {2: at(13) + timedelta(minutes=90), 3: at(13) + timedelta(minutes=120)}


def test_what_comes_late_anyway_makes_nothing_else_late():
    """It is done as soon as those that can be in time allow, and before those that can wait."""
    doing = weather_due((60.0, 60.0, 20.0), (60, 60, 180))

    assert doing.order == (0, 1, 2) and set(doing.late) == {1}
    assert set(weather_due((60.0, 60.0, 60.0), (60, 30, 120)).late) == {1}
    assert weather_due((60.0, 60.0, 60.0), (60, 30, 120)).order == (0, 2, 1)


def test_one_job_that_is_due_at_once_is_not_told_as_late():
    """Nobody can be quicker than now."""
    assert weather_due((30.0,), (0,)).late == {}
    assert set(weather_due((30.0, 30.0), (0, 0)).late) == {1}


def test_what_cannot_be_replaced_stays_first_when_time_is_short():
    """It could wait, but whoever gives up half-way has done it; the others are fitted in behind it."""
    work = WorkTime(at(13), at(16), dark=False)
    due = [at(13) + timedelta(minutes=by) for by in (180, 60, 60, 60)]
    doing = order_in_time((10.0, 30.0, 30.0, 30.0), work, due, first=1)

    assert doing.order == (0, 1, 2, 3) and set(doing.late) == {3}


@given(st.lists(st.tuples(st.integers(1, 40), st.integers(0, 180)), max_size=7))
def test_every_job_is_done_once_and_what_is_not_late_is_in_time(jobs: list[tuple[int, int]]):
    """Whatever the deadlines; and where some order has all in time, none is told as late."""
    minutes, due = tuple(float(each) for each, _ in jobs), tuple(by for _, by in jobs)
    doing = weather_due(minutes, due)

    assert sorted(doing.order) == list(range(len(jobs)))
    passed = 0.0
    for position in doing.order:
        passed += minutes[position]
        in_time = passed <= max(due[position], minutes[position]) + UNSURE / timedelta(minutes=1) + 1e-6
        assert in_time == (position not in doing.late)
    if doing.late:  # the earliest deadline first is in time if anything is (Jackson 1955)
        done, best = 0.0, True
        for position in sorted(range(len(jobs)), key=lambda one: max(due[one], minutes[one])):
            done += minutes[position]
            best = best and done <= max(due[position], minutes[position]) + UNSURE / timedelta(minutes=1)
        assert not best


@pytest.mark.parametrize(("air_c", "icy"), [(-1.0, True), (0.9, True), (2.0, False)])
@pytest.mark.parametrize(
    ("protection", "weight_kg"),
    [(Protection.MOVE, 8.0), (Protection.GROUP, 8.0), (Protection.PLUNGE, None), (Protection.FLEECE, None)],
)
def test_who_carries_pots_over_a_floor_that_may_be_icy_is_told(
    air_c: float, icy: bool, protection: Protection, weight_kg: float | None
):
    """Near zero in the hours of work wet floors freeze: a word with what is carried, none with a fleece."""
    evening = evening_of(garden(pot("one")), weather(lambda clock: np.where(clock < 14.0, 5.0, air_c), ahead_h=24))
    told = replace(job("one", 0.9, protection), spot="deck", weight_kg=weight_kg)

    (dated,) = with_times(evening, [told], Settings(), None, {})

    assert (Caution.ICE in dated.cautions) == (icy and protection is not Protection.FLEECE)
