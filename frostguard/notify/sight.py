"""Whether the night can be seen at all; where it cannot, that is told, and never an all-clear."""

from __future__ import annotations

import math
from dataclasses import replace

from frostguard.advice.plan import AdvicePlan, Caution
from frostguard.notify.job_words import in_few_words, job_sections, told_lines
from frostguard.notify.jobs import due_jobs
from frostguard.notify.matter import Matter, Section
from frostguard.notify.moment import Look, Moment, Unseen
from frostguard.notify.notice import NoticeKind
from frostguard.report import measures
from frostguard.report.headline import is_stale
from frostguard.report.spots import spot_labels
from frostguard.report.terminal import left_at_risk_items
from frostguard.report.words import say

MONTHS_WITHOUT_FROST = frozenset({6, 7, 8})
"""Months of the northern half of the globe in which a missing forecast need not ring."""


def cannot_see_matter(moment: Moment) -> Matter | None:
    """No forecast, one that is too old, or one with gaps in the coming night: never an all-clear.

    Each evening tells it of its own night; by day it is told where nothing was told of this very night, as
    after an evening on which nobody looked, or on which it did not ring.
    """
    key = f"cannot-see/{moment.night.isoformat()}"
    if moment.look is not Look.EVENING:
        known = moment.told is not None or moment.is_said(key)
        if moment.look is Look.SUNRISE or (known and not moment.is_yet_to_ring):
            return None
        key = f"{key}/by-day"
    plan = moment.plan
    if isinstance(plan, Unseen):
        return _blind(moment, plan, key)
    day = measures.day_and_date(plan.night)
    if is_stale(plan.weather):
        subject = say("Cannot see the night of {day} well: the forecast is old.", day=day)
        lead = say(
            "{subject} No newer one could be had. Look up tonight's lowest temperature elsewhere.", subject=subject
        )
    elif not first_night_is_seen(plan):
        lead = subject = say("Cannot see the whole night of {day}: the forecast has gaps.", day=day)
    else:
        return None
    return _cannot_see(moment, key, subject, f"{lead} {_treat_as()}")


def _blind(moment: Moment, unseen: Unseen, key: str) -> Matter:
    """No forecast at all: why, what to do by hand, and the jobs of the worst night that is likely."""
    subject = (
        say("Cannot see tonight: no forecast. Look yourself.")
        if moment.night == moment.today
        else say("Cannot see the night of {day}: no forecast. Look yourself.", day=measures.day_and_date(moment.night))
    )
    lead = " ".join((subject, unseen.reason, unseen.next_step))
    if unseen.guess is None:
        return _cannot_see(moment, key, subject, f"{lead} {_treat_as()}")
    return _with_guess(moment, unseen.guess, _cannot_see(moment, key, subject, lead))


def _with_guess(moment: Moment, guess: AdvicePlan, matter: Matter) -> Matter:
    """What to do for the worst that is likely, marked as a guess; it rings where that would do harm."""
    jobs = due_jobs(guess, moment.clock)
    coldest = measures.coldest(
        min((night.coldest_air_c for night in guess.nights if night.date == guess.night), default=math.nan),
        moment.settings.units,
    )
    left = left_at_risk_items(guess, spot_labels(moment.garden))
    if not jobs and not left:
        harmless = say(
            "Even the worst that is likely at this date, air down to about {coldest}, asks for nothing; that is a "
            "guess, so look at a thermometer.",
            coldest=coldest,
        )
        return replace(matter, lead=f"{matter.lead} {harmless}", interrupts=False)
    guessed = say(
        "What follows is a guess, for the worst that is likely at this date, air down to about {coldest}; look at a "
        "thermometer.",
        coldest=coldest,
    )
    if moment.garden.site.coldest_night_c is None:
        guessed += " " + say("If it was never so cold there, say so in your garden file (coldest_night_c).")
    if left:  # what the worst night would kill whatever is done, a likelier one spares under fleece
        guessed += " " + say(
            "It may well come out milder: pots that it gives up go indoors, or under a roof and fleece, as well."
        )
    return replace(
        matter,
        keys=(*matter.keys, f"guess/{guess.night.isoformat()}"),
        lead=f"{matter.lead} {guessed}",
        brief=say("On a guess: {jobs}", jobs=in_few_words(jobs)) if jobs else "",
        jobs=jobs,
        sections=(*matter.sections, *job_sections(jobs, moment), Section(say("Still at risk then"), tuple(left))),
        interrupts=True,
    )


def _cannot_see(moment: Moment, key: str, subject: str, lead: str) -> Matter:
    told = moment.told.jobs if moment.told is not None else ()
    return Matter(
        kind=NoticeKind.CANNOT_SEE,
        keys=(key,),
        subject=subject,
        lead=lead,
        sections=(Section(say("What was told before still stands"), told_lines(told)),),
        cautions=(Caution.NO_FLAMES,),
        interrupts=_frost_is_possible(moment),
    )


def _treat_as() -> str:
    return say("Until then treat tender plants as if it froze: indoors, or under a roof and fleece.")


def _frost_is_possible(moment: Moment) -> bool:
    north = moment.garden.site.latitude_deg >= 0
    month = moment.today.month if north else (moment.today.month + 5) % 12 + 1
    return month not in MONTHS_WITHOUT_FROST


def first_night_is_seen(plan: AdvicePlan) -> bool:
    """Whether the forecast leaves no hour of the plan's own night out."""
    return any(night.date == plan.night and night.complete for night in plan.nights)
