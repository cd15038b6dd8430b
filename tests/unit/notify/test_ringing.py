"""When a message rings: once an evening (warning practice: at most one push), and what goes before that."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import plans
import pytest
from plans import ASKED, at

from frostguard.advice.plan import AdvicePlan, Loss, Protection
from frostguard.hardiness.model import Tissue
from frostguard.notify.brief import brief_of
from frostguard.notify.moment import Look, Unseen
from frostguard.notify.notice import NoticeKind, joined, unrung
from frostguard.notify.owed import owed
from tests.unit.notify.moments import TODAY, moment, told

RANG = (ASKED - timedelta(minutes=30),)


def one_job(loss_eur: float, **changes: Any) -> AdvicePlan:
    """A night with one job at a lemon that is worth so much."""
    job = plans.job("lemon", Protection.FLEECE, loss_otherwise=Loss(Tissue.LEAF, 0.6, loss_eur), **changes)
    pots = (plans.pot("lemon", plans.tissue(chance=0.6, coldest_c=-2.0)),)
    return plans.plan(jobs=(job,), pots=pots, nights=(plans.night(0, -2.0, pots_at_risk=1),))


@pytest.mark.parametrize(
    ("plan", "pushes", "rings"),
    [
        (one_job(10.0), (), True),
        (one_job(10.0), RANG, False),
        (one_job(10.0), (ASKED - timedelta(hours=8),), True),  # the morning's ring is not this evening's
        (one_job(30.0), RANG, True),  # and it must be done before the morning
        (one_job(30.0, start_by=at(15, 50, days=1)), RANG, False),
        (one_job(10.0, start_by=at(15, 50, days=1), irreplaceable=True), RANG, True),
    ],
)
def test_a_second_message_of_an_evening_rings_only_for_what_cannot_wait(
    plan: AdvicePlan, pushes: Any, rings: bool
) -> None:
    """An irreplaceable plant, or much to lose before the morning; everything else is told without a ring."""
    notice = told(plan=plan, pushes=pushes)

    assert notice.kind is NoticeKind.JOBS and notice.interrupts is rings
    assert (unrung(TODAY) in notice.tells) is not rings


def test_what_did_not_ring_in_the_evening_rings_in_the_morning() -> None:
    """The jobs hold, and the person may not have looked; on any other morning that does not ring."""
    plan = one_job(10.0)
    quietly = dict.fromkeys(told(plan=plan, pushes=RANG).tells, TODAY)
    aloud = dict.fromkeys(told(plan=plan).tells, TODAY)

    for said, rings in ((quietly, True), (aloud, False)):
        notice = told(plan=plan, look=Look.MORNING, told=brief_of(plan), said=said)
        assert notice.kind is NoticeKind.GO_AHEAD and notice.interrupts is rings


def test_a_blind_evening_that_did_not_ring_rings_in_a_blind_morning() -> None:
    """And once only; after an evening that rang the morning says nothing of it."""
    unseen = Unseen("No service answered.", "Look yourself.")
    quietly = told(plan=unseen, pushes=RANG)
    assert not quietly.interrupts
    said = dict.fromkeys(quietly.tells, TODAY)

    morning = told(plan=unseen, look=Look.MORNING, said=said)
    assert morning.kind is NoticeKind.CANNOT_SEE and morning.interrupts
    assert owed(moment(plan=unseen, look=Look.MORNING, said={**said, morning.key: TODAY})) is None
    aloud = dict.fromkeys(told(plan=unseen).tells, TODAY)
    assert owed(moment(plan=unseen, look=Look.MORNING, said=aloud)) is None


def test_a_turn_of_the_season_waits_for_an_evening_that_may_ring() -> None:
    """It asks for work and is told once: told without a ring it might never reach a telephone."""
    cold = plans.plan(nights=(plans.night(0, -6.0), plans.night(1, 3.0)))
    usual = moment(plan=cold)
    said = {key: day for key, day in usual.said.items() if "night/-5" not in key}

    first = owed(replace(usual, said=said))
    assert first is not None and first.kind is NoticeKind.SEASON and first.interrupts
    later = owed(replace(usual, said=said, pushes=RANG))
    assert later is None or not any("night/-5" in key for key in later.tells)


def test_two_looks_in_one_message_ring_once_and_leave_nothing_to_the_morning() -> None:
    """The last look's message rings with the evening's in it."""
    first = told(plan=one_job(10.0))
    second = replace(told(plan=one_job(10.0), pushes=RANG), key="another")

    both = joined(first, second)

    assert both.interrupts and unrung(TODAY) not in both.tells
