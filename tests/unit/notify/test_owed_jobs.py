"""Jobs for the coming night: told once, held back while unsure, confirmed, changed, called off."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import plans
import pytest
from plans import at

from frostguard.advice.plan import AdvicePlan, Batch, Loss, NoJob, Protection, Unattended
from frostguard.hardiness.model import Tissue
from frostguard.notify.brief import brief_from_dict, brief_of
from frostguard.notify.moment import InForce, Look
from frostguard.notify.notice import NoticeKind
from frostguard.notify.owed import owed, tells_the_plan
from tests.unit.notify.moments import TODAY, moment, told

NIGHT = TODAY.isoformat()


def light_jobs(chance: float = 0.2, *, start_by: Any = None, **changes: Any) -> AdvicePlan:
    """A night of light frost with one cheap job at a fuchsia."""
    job = plans.job(
        "fuchsia",
        Protection.FLEECE,
        loss_otherwise=Loss(Tissue.BUD, chance, 4.0),
        start_by=start_by or at(15, 45),
        **changes,
    )
    tissue = plans.tissue(tissue=Tissue.BUD, chance=chance, coldest_c=-1.0)
    return plans.plan(
        jobs=(job,),
        pots=(plans.pot("fuchsia", tissue),),
        nights=(plans.night(0, -1.0, pots_at_risk=1), plans.night(1, 3.0)),
    )


def test_jobs_are_told_with_minutes_deadline_chance_and_loss():
    """One message: how many, how long, by when, what is lost otherwise and how likely, what to fetch, what stays
    at risk, the cautions; and it rings, since somebody has to act (alarm management: an alarm demands an act)."""
    notice = told(plan=plans.frosty_plan())

    assert notice.kind is NoticeKind.JOBS
    assert notice.key == f"jobs/{NIGHT}"
    assert notice.interrupts
    assert notice.subject == "3 jobs for the night of Wed 2 Dec: 12 min, start the first by 15:20."
    for words in (
        "slide or wheel to the cellar, 6 min, start by 15:20",
        "about 2 chances in 3, 66 %",
        "Fetch first",
        "3 hoods of fleece",
        "Still at risk",
        "Banana",
        "From Thu 09:30: Lemon back to the front",
        "Take care",
        "Weather data by Open-Meteo.com",
    ):
        assert words in " ".join(notice.text.split()), words
    assert notice.short.startswith("3 jobs for the night of Wed 2 Dec")
    assert "Lemon: to the cellar" in notice.short
    assert [one.name for one in notice.attachments] == [f"jobs-{NIGHT}.ics"]
    assert tells_the_plan(notice)


def too_late(**changes: Any) -> AdvicePlan:
    """Asked late: fleece still helps the fuchsia tonight, the lemon can be carried only tomorrow for that night."""
    tonight = plans.job("fuchsia", Protection.FLEECE, start_by=at(21))
    carried = plans.job(
        "lemon",
        Protection.MOVE,
        to_spot="cellar",
        batch=Batch.TOMORROW,
        start_by=at(15, 40, days=1),
        minutes=6.0,
        **changes,
    )
    frost = tuple(plans.night(k, -4.0, pots_at_risk=2) for k in (0, 1))
    return plans.plan(jobs=(tonight, carried), nights=frost)


def test_what_is_done_by_daylight_for_a_later_night_is_told_today_and_for_that_night():
    """It is due with tonight's jobs, rings as they do, and is counted for its own night where it is alone."""
    ahead = plans.job(
        "olive", Protection.MOVE, to_spot="shed", batch=Batch.AHEAD, for_night=TODAY + timedelta(days=2), minutes=9.0
    )
    frost = (plans.night(0, 3.0), plans.night(1, 2.0), plans.night(2, -8.0, pots_at_risk=1))

    alone = told(plan=plans.plan(jobs=(ahead,), nights=frost))
    beside = told(plan=replace(light_jobs(), jobs=(*light_jobs().jobs, ahead), nights=frost))

    assert alone.subject == "1 job for the night of Fri 4 Dec: 9 min, start by 15:50." and alone.interrupts
    assert beside.subject.startswith("2 jobs for the night of Wed 2 Dec: 12 min")
    tonight, _, later = beside.text.partition("By daylight today, for the night of Fri 4 Dec (9 min)")
    assert "Fuchsia" in tonight and "Olive" not in tonight and "Olive" in later


def test_what_comes_too_late_for_tonight_is_told_for_its_own_night():
    """Only tonight's jobs are counted under tonight, and the next day's stand under their own night."""
    notice = told(plan=too_late(), now=at(20, 40))

    assert notice.subject == "1 job for the night of Wed 2 Dec: 3 min, start by 21:00."
    before, _, after = notice.text.partition("Too late for tonight; for the night of Thu 3 Dec")
    assert "Fuchsia" in before and "Lemon" not in before
    assert "Lemon" in after and "Thu 15:40" in after


def test_with_nothing_left_for_tonight_the_next_night_is_named():
    """Nothing is told as tonight's that cannot be done for it."""
    plan = too_late()
    notice = told(plan=replace(plan, jobs=plan.jobs[1:]), now=at(22, 40))

    assert notice.subject == "Too late for tonight. 1 job for the night of Thu 3 Dec: 6 min, start by Thu 15:40."
    assert notice.interrupts


@pytest.mark.parametrize(
    ("now", "irreplaceable", "said", "told_of_lemon"),
    [
        (at(20, 40), False, {}, False),  # the evening's look is about that night
        (at(16, 30), True, {}, False),  # it is still to come
        (at(20, 40), True, {}, True),  # nothing may be lost of what cannot be replaced
        (at(20, 40), True, {"jobs/2026-12-03": TODAY}, False),  # it was told there
    ],
)
def test_the_last_look_leaves_the_next_night_to_the_evenings(
    now: Any, irreplaceable: bool, said: Any, told_of_lemon: bool
):
    """It is about tonight; but for a plant that cannot be replaced, of which nothing was told, nothing is left out."""
    notice = told(plan=too_late(irreplaceable=irreplaceable), now=now, look=Look.LAST, said=said)

    assert "Fuchsia" in notice.text
    assert ("Lemon" in notice.text) is told_of_lemon


def test_what_was_said_is_not_said_again():
    """The same plan at the same look, its keys recorded: nothing is owed."""
    first = told(plan=plans.frosty_plan(), look=Look.LAST)

    again = moment(
        plan=plans.frosty_plan(),
        look=Look.LAST,
        said=dict.fromkeys(first.tells, TODAY),
        told=brief_of(plans.frosty_plan()),
    )

    assert owed(again) is None


def test_a_wavering_forecast_does_not_ring_far_ahead():
    """One run sees a light risk that the run before did not: it is told without ringing until two runs agree or
    time gets short (practice of warning services: two consecutive runs at least six hours apart)."""
    tomorrow = light_jobs(start_by=at(15, days=1))
    unsure = {"plan": replace(tomorrow, night=TODAY + timedelta(days=1)), "before": brief_of(plans.plan())}

    first = told(**unsure)
    assert first.key == f"maybe/{(TODAY + timedelta(days=1)).isoformat()}"
    assert not first.interrupts
    assert "one forecast's word so far" in " ".join(first.text.split())

    morning = told(
        **{**unsure, "now": at(7, days=1), "look": Look.MORNING, "before": brief_of(unsure["plan"])},
        told=brief_of(unsure["plan"]),
        said=dict.fromkeys(first.tells, TODAY),
    )
    assert morning.kind is NoticeKind.JOBS
    assert morning.interrupts


@pytest.mark.parametrize(
    ("plan", "why"),
    [
        (light_jobs(), "the deadline is near"),
        (light_jobs(0.6, start_by=at(15, days=1)), "more likely than not"),
        (light_jobs(start_by=at(15, days=1), irreplaceable=True), "cannot be replaced"),
    ],
)
def test_short_lead_likely_loss_and_irreplaceable_plants_do_not_wait(plan: AdvicePlan, why: str):
    """A single run is enough where waiting costs more than a false alarm (estimate, no source)."""
    notice = told(plan=plan, before=brief_of(plans.plan()))

    assert notice.interrupts, why


def test_the_fourth_push_of_a_week_is_silent_unless_it_matters():
    """Three pushes a week outside hard frost (estimate after warning practice); the fourth is still delivered."""
    pushes = tuple(plans.ASKED - timedelta(days=days) for days in (1, 2, 3))

    assert told(plan=light_jobs(), pushes=pushes[:2]).interrupts
    fourth = told(plan=light_jobs(), pushes=pushes)
    assert fourth.kind is NoticeKind.JOBS and not fourth.interrupts
    assert told(plan=light_jobs(irreplaceable=True), pushes=pushes).interrupts
    hard = replace(light_jobs(), nights=(plans.night(0, -7.0, pots_at_risk=1),))
    assert told(plan=hard, pushes=pushes).interrupts
    dear = light_jobs()
    dear = replace(dear, jobs=(replace(dear.jobs[0], loss_otherwise=Loss(Tissue.LEAF, 0.4, 60.0)),))
    assert told(plan=dear, pushes=pushes).interrupts


def test_a_pot_that_no_job_helps_rings_once_a_week():
    """Too heavy every evening of a winter is a decision to be made once, not thirty alarms (no source)."""
    lost = plans.tissue(coldest_c=-4.3, chance=0.66)
    plan = plans.plan(pots=(plans.pot("lemon", lost, no_job=NoJob.TOO_HEAVY),))

    first = told(plan=plan)
    assert first.interrupts
    assert first.subject == "1 pot is at risk in the night of Wed 2 Dec, and no job helps it."
    week = tuple(plan.night + timedelta(days=days) for days in range(4))
    away = replace(plan.pots[0], unattended=Unattended(week, plan.pots[0].tissues, 0.66, 9.0, 9.0))
    assert told(plan=replace(plan, pots=(away,))).subject == (
        "1 pot is at risk in the nights till Sat 5 Dec, before which nobody comes, and no job helps it."
    )
    next_evening = {"plan": plan, "said": {"left/lemon": TODAY - timedelta(days=1)}}
    assert not told(**next_evening).interrupts
    a_week_later = {"plan": plan, "said": {"left/lemon": TODAY - timedelta(days=7)}}
    assert told(**a_week_later).interrupts


# --- the morning, and the last look ---------------------------------------------------------------------

MORNING: dict[str, Any] = {"look": Look.MORNING, "now": at(7), "said": {f"jobs/{NIGHT}": TODAY - timedelta(days=1)}}


def test_the_morning_says_that_it_holds_without_ringing():
    """Go or no-go in the morning: what stands needs no new decision, so nothing rings."""
    notice = told(plan=plans.frosty_plan(), told=brief_of(plans.frosty_plan()), **MORNING)

    assert notice.kind is NoticeKind.GO_AHEAD
    assert not notice.interrupts
    assert notice.subject == "It holds for Wed 2 Dec: the 3 jobs as told, start the first by 15:20."


def test_the_last_look_says_nothing_when_nothing_changed():
    """It may only cancel or raise."""
    last = moment(
        plan=plans.frosty_plan(), told=brief_of(plans.frosty_plan()), look=Look.LAST, said={f"jobs/{NIGHT}": TODAY}
    )

    assert owed(last) is None


def test_called_off_when_the_night_comes_out_mild():
    """Every told job is needless by a wide margin: that is told, silently, since nothing is to be done."""
    mild = plans.plan(pots=tuple(plans.pot(name) for name in ("lemon", "fuchsia", "pansies")))

    notice = told(plan=mild, told=brief_of(plans.frosty_plan()), **MORNING)

    assert notice.kind is NoticeKind.CALLED_OFF
    assert not notice.interrupts


def test_a_told_job_stays_within_the_dead_band():
    """A chance that wavers just under the mark does not call a job off, or it would be on and off every day."""
    wavering = plans.plan(pots=(plans.pot("fuchsia", plans.tissue(tissue=Tissue.BUD, chance=0.07)),))

    assert owed(moment(plan=wavering, told=brief_of(light_jobs()), **MORNING)) is None

    clear = plans.plan(pots=(plans.pot("fuchsia", plans.tissue(tissue=Tissue.BUD, chance=0.04)),))
    assert told(plan=clear, told=brief_of(light_jobs()), **MORNING).kind is NoticeKind.CALLED_OFF


def test_a_job_that_was_signed_off_is_not_called_off():
    """What is done leaves the plan because it is done, not because it is needless."""
    done = InForce("fuchsia", "Fuchsia", "front", Protection.FLEECE, at(6))
    covered = plans.plan(pots=(plans.pot("fuchsia", plans.tissue(chance=0.001)),))

    assert owed(moment(plan=covered, told=brief_of(light_jobs()), in_force=(done,), **MORNING)) is None


def test_new_or_earlier_jobs_are_told_as_a_change():
    """More to do than told, or sooner: that rings; half an hour is the least that counts."""
    before = brief_of(light_jobs())
    more = plans.frosty_plan()

    changed = told(plan=more, told=before, **MORNING)
    assert changed.kind is NoticeKind.CHANGED and changed.interrupts
    assert changed.subject == "Changed for Wed 2 Dec: 2 jobs more or earlier than told, start the first by 15:20."
    assert tells_the_plan(changed)
    assert changed.text.count("slide or wheel to the cellar") == 2  # under what is new, and in the whole list

    a_little = told(plan=light_jobs(start_by=at(15, 20)), told=before, **MORNING)
    assert a_little.kind is NoticeKind.GO_AHEAD
    sooner = told(plan=light_jobs(start_by=at(14, 45)), told=before, **MORNING)
    assert sooner.kind is NoticeKind.CHANGED


@pytest.mark.parametrize(
    ("was", "becomes", "kind"),
    [
        (Protection.FLEECE, Protection.MOVE, NoticeKind.CHANGED),
        (Protection.MOVE, Protection.FLEECE, NoticeKind.GO_AHEAD),
        (Protection.FLEECE, Protection.DOUBLE_FLEECE, NoticeKind.CHANGED),
    ],
)
def test_only_a_stronger_cover_for_the_same_pot_is_a_change(was: Protection, becomes: Protection, kind: NoticeKind):
    """A planner that finds a weaker cover nearly as good sends nobody out again; a stronger one is news."""
    before = light_jobs()
    before = replace(before, jobs=(replace(before.jobs[0], protection=was, to_spot="cellar"),))
    after = replace(before, jobs=(replace(before.jobs[0], protection=becomes),))

    assert told(plan=after, told=brief_of(before), **MORNING).kind is kind


def test_a_job_less_is_told_silently_with_what_remains():
    """One of several jobs is needless: the others stand."""
    frosty = plans.frosty_plan()
    mild_lemon = plans.pot("lemon", plans.tissue(chance=0.001))
    fewer = replace(frosty, jobs=frosty.jobs[1:], pots=(mild_lemon, *frosty.pots[1:]))

    notice = told(plan=fewer, told=brief_of(frosty), **MORNING)

    assert notice.subject == "For Wed 2 Dec: 1 job is not needed after all; the others stay."
    assert not notice.interrupts
    assert "Lemon: to the cellar." in notice.text


def test_a_plan_in_brief_survives_being_put_down():
    """What the logbook keeps gives the same brief again."""
    brief = brief_of(plans.spell_plan())

    assert brief_from_dict(brief.to_dict()) == brief


def test_a_change_for_little_does_not_ring():
    """A mulch more for a cheap pot is told silently; what saves more, or cannot be replaced, rings."""
    pots = tuple(plans.pot(name, plans.tissue(chance=0.3)) for name in ("camellia", "fuchsia"))
    before = plans.plan(jobs=(plans.job("camellia", Protection.FLEECE),), pots=pots)
    for more, rings in (
        ({"loss_otherwise": Loss(Tissue.YOUNG_ROOT, 0.6, 2.0)}, False),
        ({"loss_otherwise": Loss(Tissue.YOUNG_ROOT, 0.6, 2.0), "irreplaceable": True}, True),
        ({"loss_otherwise": Loss(Tissue.LEAF, 0.6, 20.0)}, True),
    ):
        plan = plans.plan(jobs=(*before.jobs, plans.job("fuchsia", Protection.MULCH, **more)), pots=pots)
        changed = told(plan=plan, told=brief_of(before), **MORNING)
        assert changed.kind is NoticeKind.CHANGED and changed.interrupts is rings


def test_what_gives_way_to_new_jobs_is_told_as_possible_only():
    """A told job that is not planned now, as others need its covers or time: it is told as what may still be done."""
    pots = tuple(plans.pot(name, plans.tissue(chance=0.3)) for name in ("camellia", "fuchsia"))
    before = plans.plan(jobs=(plans.job("camellia", Protection.FLEECE),), pots=pots)
    after = plans.plan(jobs=(plans.job("fuchsia", Protection.FLEECE),), pots=pots)

    changed = told(plan=after, told=brief_of(before), **MORNING)

    assert changed.kind is NoticeKind.CHANGED
    assert "As told before, if time and covers are left for it\n  Camellia: fleece." in changed.text


def test_a_forecast_after_a_guess_says_what_of_the_guess_is_needless():
    """What the worst night asked for yesterday and the forecast does not is called off beside the news."""
    pots = (plans.pot("lemon", plans.tissue(chance=0.4)), plans.pot("fuchsia", plans.tissue(chance=0.0)))
    guess = plans.plan(jobs=tuple(plans.job(name, Protection.FLEECE) for name in ("lemon", "fuchsia")), pots=pots)
    seen = plans.plan(jobs=(plans.job("lemon", Protection.FLEECE),), pots=pots)

    news = told(
        plan=seen,
        told=brief_of(guess),
        look=Look.MORNING,
        now=at(7),
        said={f"guess/{NIGHT}": TODAY - timedelta(days=1)},
    )

    assert news.kind is NoticeKind.JOBS
    assert "Told before, and not needed after all\n  Fuchsia: fleece." in news.text
    assert news.attachments[0].content.count(b"STATUS:CANCELLED") == 1
