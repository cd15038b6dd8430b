"""Which notice is owed at this moment, if any: one message, everything in it once. The file to read first here."""

from __future__ import annotations

from dataclasses import replace

from frostguard.advice.plan import AdvicePlan, Protection
from frostguard.garden.notice_settings import Away
from frostguard.notify.changes import later_matter, with_what_was_told_before
from frostguard.notify.covers import must_uncover_matter, safe_to_uncover_matter
from frostguard.notify.jobs import GALE_JOBS, due_jobs, jobs_matter, jobs_of_the_next_night
from frostguard.notify.letters import (
    all_well_matter,
    still_open_matter,
    was_down_matter,
    weekly_matter,
)
from frostguard.notify.matter import Matter
from frostguard.notify.moment import Look, Moment, Unseen
from frostguard.notify.notice import Notice, NoticeKind, unrung
from frostguard.notify.render import notice_of
from frostguard.notify.ringing import not_before, rings, without_what_can_wait
from frostguard.notify.season import season_matters
from frostguard.notify.sight import cannot_see_matter
from frostguard.notify.spell import gale_matter, spell_matter, water_matter
from frostguard.report import measures
from frostguard.report.words import say

_ORDER = {kind: place for place, kind in enumerate(NoticeKind)}
_TELLS_THE_PLAN = frozenset({"jobs", "maybe", "guess", "changed", "fewer", "called-off", "gale"})


def owed(moment: Moment) -> Notice | None:
    """The one notice that is owed at this moment; None where nothing is.

    Whatever there is to tell goes into one message, the weightiest first. What was said is not said again.
    The caller keeps the keys in `Notice.tells` once the notice is recorded as owed, and the plan in brief
    where `tells_the_plan` says so.

    Parameters
    ----------
    moment : Moment
        Everything that is known.
    """
    moment = _with_open_eyes(moment)
    found = [matter for matter in _matters(moment) if not moment.is_said(matter.keys[0])]
    matters = without_what_can_wait(moment, found)
    if not matters:
        return None
    matters.sort(key=lambda matter: _ORDER[matter.kind])
    away = _away_on(moment)
    notice = notice_of(matters, moment, preface=_preface(away))
    ringing = rings(moment, matters)
    return replace(
        notice,
        interrupts=ringing,
        tells=notice.tells if ringing or not notice.interrupts else (*notice.tells, unrung(notice.night)),
        not_before=not_before(moment, matters),
        stand_in=None if away is None else away.stand_in,
    )


def _with_open_eyes(moment: Moment) -> Moment:
    """The moment, a plan that rests on a guess marked as no sight of the night."""
    plan = moment.plan
    if isinstance(plan, Unseen) or not plan.weather.is_guess:
        return moment
    reason = say("No weather service answered, and no forecast is kept.")
    return replace(moment, plan=Unseen(reason, say("Check the network."), guess=plan))


def tells_the_plan(notice: Notice) -> bool:
    """Whether the person knows the plan's jobs by this notice, so that the next look compares with them."""
    return any(key.partition("/")[0] in _TELLS_THE_PLAN for key in notice.tells)


def _matters(moment: Moment) -> list[Matter]:
    """All there is to tell, said before or not."""
    plan = moment.plan
    found: list[Matter | None] = [cannot_see_matter(moment), was_down_matter(moment)]
    if isinstance(plan, Unseen):
        return [matter for matter in found if matter is not None]
    water = water_matter(moment, plan)
    found += _about_the_night(moment, plan, watered=water is not None)
    found += [
        water,
        spell_matter(moment, plan),
        must_uncover_matter(moment, plan),
        safe_to_uncover_matter(moment, plan),
        *season_matters(moment, plan),
    ]
    told = [matter for matter in found if matter is not None]
    if moment.look is not Look.EVENING:
        return told
    rest = None if told else still_open_matter(moment, plan) or all_well_matter(moment, plan)
    return [*told, *(matter for matter in (rest, weekly_matter(moment, plan)) if matter is not None)]


def _about_the_night(moment: Moment, plan: AdvicePlan, *, watered: bool) -> list[Matter | None]:
    """Jobs for the plan's night, as news or as what has become of what was told."""
    if moment.look is Look.SUNRISE:
        return []
    due = due_jobs(plan, moment.clock)
    coming = jobs_of_the_next_night(moment, plan)
    if _is_told(moment, plan):
        return [later_matter(moment, plan, due, reassure=moment.look is not Look.LAST)]
    gale = tuple(job for job in due if job.protection in GALE_JOBS)
    others = tuple(job for job in due if job not in gale and not (watered and job.protection is Protection.WATER))
    news = jobs_matter(moment, plan, others, coming)
    if news is None and moment.told is not None and moment.told.night == plan.night:
        return [gale_matter(moment, plan, gale), later_matter(moment, plan, due, reassure=False)]
    if news is not None:
        news = with_what_was_told_before(moment, plan, due, news)
    return [gale_matter(moment, plan, gale), news]


def _is_told(moment: Moment, plan: AdvicePlan) -> bool:
    """Whether the jobs of this night were told as certain.

    What was told on a guess has rung that day; on the next the first word of a forecast rings anew.
    """
    night = plan.night.isoformat()
    guessed_today = moment.said.get(f"guess/{night}") == moment.today
    was_told = guessed_today or moment.is_said(f"jobs/{night}") or moment.is_said(f"gale/{night}")
    return was_told and moment.told is not None and moment.told.night == plan.night


# --- being away ------------------------------------------------------------------------------------------


def _away_on(moment: Moment) -> Away | None:
    return next((away for away in moment.settings.notices.away if away.first <= moment.today <= away.last), None)


def _preface(away: Away | None) -> str:
    if away is None:
        return ""
    return say(
        "Whoever looks after these plants until {day} gets this too. What is too heavy or unsafe for you, leave.",
        day=measures.day_and_date(away.last),
    )
