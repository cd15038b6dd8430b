"""What is told without a job: no forecast, a machine that slept, the weekly letter, all is well."""

from __future__ import annotations

from datetime import date, timedelta

from frostguard.advice.plan import AdvicePlan, Batch, Caution, NightOutlook
from frostguard.notify.job_words import job_lines, told_lines
from frostguard.notify.matter import Matter, Section
from frostguard.notify.moment import Look, Moment, Unseen
from frostguard.notify.notice import NoticeKind
from frostguard.report import measures
from frostguard.report.headline import is_stale, left_at_risk
from frostguard.report.spots import spot_labels
from frostguard.report.terminal import left_at_risk_items
from frostguard.report.words import all_of, say, say_count

MONTHS_WITHOUT_FROST = frozenset({6, 7, 8})
"""Months of the northern half of the globe in which a missing forecast need not ring."""

COLD_ENOUGH_TO_LOOK_C = 2.0
"""Screen air of a night that nobody looked at from which tender plants are worth a look; leaves lie lower."""


def cannot_see_matter(moment: Moment) -> Matter | None:
    """No forecast, one that is too old, or one with gaps in the coming night: never an all-clear.

    Each evening tells it; by day it is told only where it is news and nothing was told for the night.
    """
    key = f"cannot-see/{moment.night.isoformat()}"
    if moment.look is not Look.EVENING:
        before = f"cannot-see/{(moment.night - timedelta(days=1)).isoformat()}"
        if moment.look is Look.SUNRISE or moment.told is not None or moment.is_said(key) or moment.is_said(before):
            return None
        key = f"{key}/by-day"
    plan = moment.plan
    if isinstance(plan, Unseen):
        subject = (
            say("Cannot see tonight: no forecast. Look yourself.")
            if moment.night == moment.today
            else say("Cannot see the night of {day}: no forecast. Look yourself.", day=_day(moment.night))
        )
        lead = " ".join((subject, plan.reason, plan.next_step, _treat_as()))
    elif is_stale(plan.weather):
        subject = say("Cannot see the night of {day} well: the forecast is old.", day=_day(plan.night))
        lead = say(
            "{subject} No newer one could be had. Look up tonight's lowest temperature elsewhere.", subject=subject
        )
        lead += " " + _treat_as()
    elif not first_night_is_seen(plan):
        subject = say("Cannot see the whole night of {day}: the forecast has gaps.", day=_day(plan.night))
        lead = f"{subject} {_treat_as()}"
    else:
        return None
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


def was_down_matter(moment: Moment) -> Matter | None:
    """Evenings on which nobody looked, and what to look at where one of them was cold."""
    if not moment.down:
        return None
    named = all_of([_day(night) for night in moment.down[:7]])
    subject = say_count(
        "Nobody looked on 1 evening: {days}.",
        "Nobody looked on {count} evenings: {days}.",
        len(moment.down),
        days=named,
    )
    colds = [day.coldest_c for night in moment.down if (day := moment.day(night + timedelta(days=1))) is not None]
    lead = say("{subject} The machine or frostguard was not running.", subject=subject)
    if not colds:
        lead += " " + say("How cold it was is not known; look at tender plants.")
    elif min(colds) <= COLD_ENOUGH_TO_LOOK_C:
        lead += " " + say(
            "Air came down to {coldest} meanwhile; look at tender plants.",
            coldest=measures.coldest(min(colds), moment.settings.units),
        )
    else:
        lead += " " + say("It was not cold meanwhile.")
    return Matter(
        kind=NoticeKind.WAS_DOWN,
        keys=tuple(f"down/{night.isoformat()}" for night in moment.down),
        subject=subject,
        lead=lead,
        interrupts=not colds or min(colds) <= COLD_ENOUGH_TO_LOOK_C,
    )


def still_open_matter(moment: Moment, plan: AdvicePlan) -> Matter | None:
    """What is known already and not done or not due yet; said instead of an all-clear."""
    if not plan.asks_something and not left_at_risk(plan):
        return None
    jobs = tuple(sorted(plan.jobs, key=lambda job: job.start_by))
    subject = say("Nothing new for the night of {day}.", day=_day(plan.night))
    if jobs and plan.spell is not None and jobs[0].batch is Batch.BEFORE_SPELL:
        subject = say_count(
            "Nothing new. Still open: 1 job before the cold spell of {day}.",
            "Nothing new. Still open: {count} jobs before the cold spell of {day}.",
            len(jobs),
            day=_day(plan.spell.first_night),
        )
    return Matter(
        kind=NoticeKind.NOTHING_NEW,
        keys=(f"open/{plan.night.isoformat()}",),
        subject=subject,
        lead=subject,
        sections=(
            Section(say("Still open"), job_lines(jobs, moment)),
            Section(say("Still at risk"), tuple(left_at_risk_items(plan, spot_labels(moment.garden)))),
        ),
    )


def all_well_matter(moment: Moment, plan: AdvicePlan) -> Matter | None:
    """That nothing is to be done; only by a fresh forecast without gaps, and while no pot is at risk."""
    sound = first_night_is_seen(plan) and not is_stale(plan.weather) and not plan.weather.is_guess
    if not moment.settings.notices.all_well or not sound or plan.asks_something or left_at_risk(plan):
        return None
    subject = say("All is well for the night of {day}: nothing to do.", day=_day(plan.night))
    night = next(night for night in plan.nights if night.date == plan.night)
    return Matter(
        kind=NoticeKind.ALL_WELL,
        keys=(f"all-well/{plan.night.isoformat()}",),
        subject=subject,
        lead=f"{subject} {_night_sentence(night, moment)}",
    )


def weekly_matter(moment: Moment, plan: AdvicePlan) -> Matter | None:
    """The letter of the week: the nights ahead, what is in place, what stays at risk."""
    if moment.look is not Look.EVENING or moment.settings.notices.weekly_letter != moment.today.weekday():
        return None
    jobs = tuple(sorted(plan.jobs, key=lambda job: job.start_by))
    return Matter(
        kind=NoticeKind.WEEKLY,
        keys=(f"weekly/{moment.today.isoformat()}",),
        subject=say("The week ahead, from {day}.", day=_day(moment.today)),
        lead=say("The week ahead. No message by 19:00 on an evening means: look yourself."),
        sections=(
            Section(say("Coming nights"), tuple(_night_sentence(night, moment) for night in plan.nights)),
            Section(say("In place"), _in_place(moment)),
            Section(say("Open"), job_lines(jobs, moment)),
            Section(say("Stays at risk"), tuple(left_at_risk_items(plan, spot_labels(moment.garden)))),
        ),
    )




def _in_place(moment: Moment) -> tuple[str, ...]:
    label_of = spot_labels(moment.garden)
    return tuple(
        say("{pot} ({spot}), since {day}.", pot=one.label, spot=label_of(one.spot),
            day=_day(moment.clock.local(one.since).date()))
        for one in moment.in_force
    )


def _night_sentence(night: NightOutlook, moment: Moment) -> str:
    units = moment.settings.units
    values = {
        "day": _day(night.date),
        "coldest": measures.coldest(night.coldest_air_c, units),
        "low": measures.coldest(night.coldest_air_c_p10, units),
    }
    if not night.complete:
        return say("{day}: air about {coldest}, perhaps {low}; the forecast has gaps.", **values)
    if not night.pots_at_risk:
        return say("{day}: air about {coldest}, perhaps {low}.", **values)
    return say_count(
        "{day}: air about {coldest}, perhaps {low}; 1 pot at risk.",
        "{day}: air about {coldest}, perhaps {low}; {count} pots at risk.",
        night.pots_at_risk,
        **values,
    )


def _day(day: date) -> str:
    return measures.day_and_date(day)
