"""What is told without a new job: nights of which nothing was told, the weekly letter, nothing new, all is well."""

from __future__ import annotations

from datetime import date, timedelta

from frostguard.advice.plan import AdvicePlan, Batch, NightOutlook
from frostguard.notify.job_words import job_lines
from frostguard.notify.matter import Matter, Section
from frostguard.notify.moment import Look, Moment
from frostguard.notify.notice import NoticeKind
from frostguard.notify.sight import first_night_is_seen
from frostguard.report import measures
from frostguard.report.headline import is_stale, left_at_risk
from frostguard.report.spots import spot_labels
from frostguard.report.terminal import left_at_risk_items
from frostguard.report.words import all_of, say, say_count

COLD_ENOUGH_TO_LOOK_C = 2.0
"""Screen air of a night of which nothing was told from which tender plants are worth a look; leaves lie lower."""


def was_down_matter(moment: Moment) -> Matter | None:
    """Nights of which nothing was told, and what to look at where one of them was cold."""
    if not moment.down:
        return None
    named = all_of([_day(night) for night in moment.down[:7]])
    subject = say_count(
        "Nothing was told of 1 night: {days}.",
        "Nothing was told of {count} nights: {days}.",
        len(moment.down),
        days=named,
    )
    colds = [day.coldest_c for night in moment.down if (day := moment.day(night + timedelta(days=1))) is not None]
    lead = say("{subject} The machine was not running, or no channel worked in time.", subject=subject)
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
    sound = first_night_is_seen(plan) and not is_stale(plan.weather)
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
