"""Before a cold spell: days ahead, once; water in the morning before; make fast before a gale."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import plans
import pytest
from plans import NIGHT, at

from frostguard.advice.plan import AdvicePlan, Batch, Caution, ColdSpell, Loss, NoJob, Protection
from frostguard.hardiness.model import Tissue
from frostguard.notify.brief import brief_of
from frostguard.notify.moment import Look
from frostguard.notify.notice import NoticeKind
from frostguard.notify.owed import owed
from tests.unit.notify.moments import TODAY, moment, told


def spell_in(days: int, **changes: Any) -> AdvicePlan:
    """Preparations for a spell that begins so many days from today."""
    begins = NIGHT + timedelta(days=days)
    base = plans.spell_plan()
    moved = tuple(replace(job, start_by=at(15, days=days)) for job in base.jobs)
    nights = tuple(plans.night(n, -7.0 if n >= days else 2.0, young_roots_at_risk=2 * (n >= days)) for n in range(7))
    usual = replace(base, jobs=moved, nights=nights, spell=ColdSpell(begins, begins + timedelta(days=3), False, 2))
    return replace(usual, **changes)


@pytest.mark.parametrize("days", [1, 3, 5])
def test_a_spell_is_told_up_to_five_days_ahead(days: int):
    """There must be time to buy what is missing and for a dry hour to wrap and mulch (practice: materials need five
    days; wrapping, grouping, mulching belong before the spell)."""
    notice = told(plan=spell_in(days))

    assert notice.kind is NoticeKind.BEFORE_SPELL
    assert notice.key == f"spell/{(NIGHT + timedelta(days=days)).isoformat()}"
    assert notice.interrupts
    assert "push tight" in notice.text and "Outer roots of 2 pots are at risk" in " ".join(notice.text.split())


@pytest.mark.parametrize("days", [6, 7])
def test_no_spell_is_told_earlier(days: int):
    """A week ahead the forecast is too unsure to send somebody shopping."""
    notice = owed(moment(plan=spell_in(days)))

    assert notice is not None and notice.kind is NoticeKind.NOTHING_NEW


def test_a_distant_spell_must_be_seen_twice():
    """Three days and more ahead two runs must agree; nearer one is enough."""
    unseen = brief_of(plans.plan())

    assert told(plan=spell_in(4), before=unseen).kind is NoticeKind.NOTHING_NEW
    assert told(plan=spell_in(4), before=brief_of(spell_in(5))).kind is NoticeKind.BEFORE_SPELL
    assert told(plan=spell_in(2), before=unseen).kind is NoticeKind.BEFORE_SPELL


def test_a_spell_that_moves_by_a_day_is_not_told_again():
    """The same spell is one message; what remains open is repeated without ringing."""
    first = told(plan=spell_in(4))

    later = told(plan=spell_in(3), said=dict.fromkeys(first.tells, TODAY))

    assert later.kind is NoticeKind.NOTHING_NEW
    assert not later.interrupts
    assert later.subject == "Nothing new. Still open: 4 jobs before the cold spell of Sat 5 Dec."
    another = told(plan=spell_in(5), said={"spell/2026-11-28": TODAY - timedelta(days=6)})
    assert another.kind is NoticeKind.BEFORE_SPELL


def test_its_jobs_are_told_again_when_their_day_has_come():
    """On the day before the spell's first night its preparations are that evening's jobs."""
    notice = told(plan=spell_in(0), said={f"spell/{NIGHT.isoformat()}": TODAY})

    assert notice.kind is NoticeKind.JOBS
    assert notice.subject.startswith("4 jobs for the night of Wed 2 Dec")


def test_what_is_missing_is_named():
    """A pot that nothing at hand helps stands in the message while there is time to do something about it."""
    lost = plans.tissue(tissue=Tissue.WHOLE_ROOT, coldest_c=-8.0, chance=0.4)
    plan = spell_in(4)
    plan = replace(plan, pots=(*plan.pots, plans.pot("bay", lost, no_job=NoJob.NO_ROOM)))

    notice = told(plan=plan)

    # the pot without a job is told of as well, both in one message and in it once
    assert " ".join(notice.text.split()).count("any cool indoor place would do") == 1
    assert notice.tells[0].startswith(("jobs/", "spell/"))
    assert any(key.startswith("spell/") for key in notice.tells)


# --- water ---------------------------------------------------------------------------------------------


def thirsty(days: int) -> AdvicePlan:
    """Two pots to be watered before a spell in so many days."""
    plan = spell_in(days)
    water = plans.job(
        "rosemary",
        Protection.WATER,
        batch=Batch.BEFORE_SPELL,
        start_by=at(15, days=days),
        litres=3.0,
        count=2,
        minutes=2.0,
        cautions=(Caution.WATER_RUN_OFF,),
        loss_otherwise=Loss(Tissue.WHOLE_ROOT, 0.3, 9.0),
    )
    return replace(plan, jobs=(*plan.jobs, water))


@pytest.mark.parametrize(
    ("look", "now", "days", "owed_now"),
    [
        (Look.EVENING, at(18), 1, True),
        (Look.EVENING, at(18), 2, True),
        (Look.EVENING, at(18), 3, False),
        (Look.MORNING, at(7), 0, True),
        (Look.MORNING, at(7), 1, True),
        (Look.MORNING, at(7), 2, False),
        (Look.LAST, at(14), 0, False),
    ],
)
def test_water_is_told_for_the_morning_before_the_freeze(look: Look, now: Any, days: int, owed_now: bool):
    """The day before, in the morning, with litres (common practice): never in the evening on cold clay, and moist
    mix freezes later than dry mix (nursery trials)."""
    said = {f"spell/{(NIGHT + timedelta(days=days)).isoformat()}": TODAY}

    notice = owed(moment(plan=thirsty(days), look=look, now=now, said=said))

    is_told = notice is not None and any(key.startswith("water/") for key in notice.tells)
    assert is_told is owed_now
    if owed_now:
        assert notice is not None
        assert "1.5 litres each" in notice.text and "Water first, if the mix feels dry" in notice.text
        assert "runs off" in " ".join(notice.text.split())


# --- gale ----------------------------------------------------------------------------------------------


def test_a_gale_is_told_with_its_jobs():
    """Tall pots down and hoods off before the wind, whatever the frost (common practice: hoods are sails)."""
    gale = (
        plans.job("bay", Protection.SECURE, loss_otherwise=Loss(None, 0.4, 30.0), cautions=(Caution.FALLING_POTS,)),
        plans.job("camellia", Protection.UNCOVER, loss_otherwise=Loss(None, 0.3, 10.0), cautions=(Caution.GALE_HOODS,)),
    )
    notice = told(plan=plans.plan(jobs=gale))

    assert notice.kind is NoticeKind.GALE
    assert notice.interrupts
    assert notice.subject == "Gale in the night of Wed 2 Dec: 2 jobs before it, start the first by 15:50."
    assert "lay down or tie against the gale" in notice.text


def test_frost_and_gale_are_one_message():
    """Batched: one push an evening, with both in it."""
    frosty = plans.frosty_plan()
    tie = plans.job("bay", Protection.SECURE, loss_otherwise=Loss(None, 0.4, 30.0))
    both = replace(frosty, jobs=(*frosty.jobs, tie))

    notice = told(plan=both)

    assert notice.kind is NoticeKind.JOBS
    assert "Gale in the night of Wed 2 Dec" in notice.text
    assert "Gale" in notice.short
    assert {key.partition("/")[0] for key in notice.tells} >= {"jobs", "gale"}
    assert notice.text.count("lay down or tie") == 1
