"""Jobs for the coming night, told for the first time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

from frostguard.advice.plan import LIKELY, AdvicePlan, Batch, Job, Protection
from frostguard.notify.job_words import fetch_section, in_few_words, job_lines, job_sections, jobs_subject
from frostguard.notify.matter import Matter, Section
from frostguard.notify.moment import SHORT_LEAD, Look, Moment
from frostguard.notify.notice import NoticeKind
from frostguard.report import measures
from frostguard.report.headline import left_at_risk, left_sentences
from frostguard.report.jobs import ahead_heading, undo_lines
from frostguard.report.measures import Clock
from frostguard.report.spots import spot_labels
from frostguard.report.terminal import left_at_risk_items, what_it_saves
from frostguard.report.words import harmless, say

PUSHES_A_WEEK = 3
"""Messages that ring, outside hard frost; people stop heeding what rings more often (estimate)."""

HARD_FROST_C = -5.0
"""Coldest air from which pots freeze through and no message counts as one too many; common practice."""

WORTH_ONE_MORE_EUR = 25.0
"""Loss to be expected from which a further message in a full week rings all the same; estimate."""

LEFT_TOLD_AGAIN_D = 7
"""Days after which a pot that no job helps is told of again as something that needs a decision; estimate."""

GALE_JOBS = frozenset({Protection.SECURE, Protection.UNCOVER})


def due_jobs(plan: AdvicePlan, clock: Clock) -> tuple[Job, ...]:
    """Jobs to be done before the plan's night, also for later ones; preparations for a spell only when their day has
    come."""
    return tuple(
        job
        for job in sorted(plan.jobs, key=lambda job: job.start_by)
        if job.batch in (Batch.TONIGHT, Batch.AHEAD)
        or (job.batch is Batch.BEFORE_SPELL and clock.local(job.start_by).date() <= plan.night)
    )


def jobs_of_the_next_night(moment: Moment, plan: AdvicePlan) -> tuple[Job, ...]:
    """Jobs that come too late for the plan's night and are for the one after it.

    The last look leaves them to the evening's, which is about that night; but where the evening's time is past
    and nothing was told of it yet, those for plants that cannot be replaced do not wait.
    """
    jobs = tuple(job for job in sorted(plan.jobs, key=lambda job: job.start_by) if job.batch is Batch.TOMORROW)
    if moment.look is not Look.LAST:
        return jobs
    told = moment.is_said(f"jobs/{(plan.night + timedelta(days=1)).isoformat()}")
    if told or moment.clock.local(moment.now).time() < moment.settings.nightly.evening:
        return ()
    return tuple(job for job in jobs if job.irreplaceable)


def jobs_matter(
    moment: Moment, plan: AdvicePlan, due: tuple[Job, ...], coming: tuple[Job, ...] = ()
) -> Matter | None:
    """What to do before the coming night, and which pots no job helps; None where there is neither.

    Parameters
    ----------
    moment : Moment
        What is known.
    plan : AdvicePlan
        This run's plan.
    due : tuple of Job
        Those for the plan's night.
    coming : tuple of Job, optional
        Those for the night after it, told beside them as such.
    """
    jobs = (*due, *coming)
    left = left_at_risk(plan)
    if not jobs and not left:
        return None
    confirmed = is_confirmed(moment, plan, jobs)
    night = plan.night.isoformat()
    key = f"jobs/{night}" if confirmed else f"maybe/{night}"
    left_keys = tuple(harmless(f"left/{one.pot.id}") for one in left)
    new_decision = any(not moment.said_within(key, LEFT_TOLD_AGAIN_D) for key in left_keys)
    said = [_subject(moment, plan, due, coming), _doubt(confirmed), what_it_saves(plan)]
    if jobs:
        said += left_sentences(left)
    return Matter(
        kind=NoticeKind.JOBS,
        keys=(key, *left_keys),
        subject=said[0],
        lead=" ".join(sentence for sentence in said if sentence),
        brief=in_few_words(jobs),
        sections=(
            *job_sections([job for job in due if job.batch is not Batch.AHEAD], moment)[:1],
            _ahead_section([job for job in due if job.batch is Batch.AHEAD], moment),
            fetch_section(due, moment),
            *_sections_of_the_next_night(moment, plan, coming),
            Section(say("Still at risk"), tuple(left_at_risk_items(plan, spot_labels(moment.garden)))),
            Section(say("Undo"), tuple(undo_lines(jobs, moment.clock, moment.settings.units))),
        ),
        jobs=jobs,
        interrupts=confirmed and (_may_ring(moment, plan, jobs) if jobs else new_decision),
    )


def _subject(moment: Moment, plan: AdvicePlan, due: tuple[Job, ...], coming: tuple[Job, ...]) -> str:
    """Of the plan's own night, where it asks for something."""
    if due or not coming:
        nights = [job.for_night for job in due if job.batch is Batch.AHEAD and job.for_night is not None]
        only_later = bool(nights) and len(nights) == len(due)
        return jobs_subject(due, plan, min(nights) if only_later else plan.night, moment)
    return say("Too late for tonight.") + " " + jobs_subject(coming, plan, plan.night + timedelta(days=1), moment)


def _ahead_section(jobs: Sequence[Job], moment: Moment) -> Section:
    minutes = measures.minutes(sum(job.minutes for job in jobs))
    return Section(ahead_heading(jobs, minutes), job_lines(jobs, moment))


def _sections_of_the_next_night(moment: Moment, plan: AdvicePlan, coming: tuple[Job, ...]) -> tuple[Section, ...]:
    day = measures.day_and_date(plan.night + timedelta(days=1))
    return (
        Section(
            say("Too late for tonight; for the night of {day}, in your next working hours", day=day),
            job_lines(coming, moment),
        ),
        replace(fetch_section(coming, moment), heading=say("Fetch for the night of {day}", day=day)),
    )


def is_confirmed(moment: Moment, plan: AdvicePlan, jobs: Sequence[Job]) -> bool:
    """Whether the night's risk is told as it stands.

    It is when two runs at least six hours apart agree, when there is little time left, when there was no
    earlier run, when it is more likely than not, or for a plant that cannot be replaced.
    """
    before = moment.before
    if before is None or plan.night in before.nights_at_risk:
        return True
    if before.spell_begins is not None and before.spell_begins <= plan.night:
        return True
    if any(job.start_by - moment.now < SHORT_LEAD for job in jobs):
        return True
    chances = [job.loss_otherwise.chance for job in jobs] + [one.chance for one in left_at_risk(plan)]
    return max(chances, default=0.0) >= LIKELY or any(job.irreplaceable for job in jobs)


def _may_ring(moment: Moment, plan: AdvicePlan, jobs: tuple[Job, ...]) -> bool:
    """Whether a message about jobs may ring: the week's few are not spent, or it matters too much."""
    a_week_ago = moment.now - timedelta(days=7)
    if sum(pushed > a_week_ago for pushed in moment.pushes) < PUSHES_A_WEEK:
        return True
    coldest = min((night.coldest_air_c for night in plan.nights if night.date == plan.night), default=HARD_FROST_C)
    if coldest <= HARD_FROST_C or any(job.irreplaceable for job in jobs):
        return True
    return at_stake_eur(jobs) >= WORTH_ONE_MORE_EUR


def at_stake_eur(jobs: Sequence[Job]) -> float:
    """What is to be expected to be lost without these jobs, each pot once."""
    by_pot: dict[str, float] = {}
    for job in jobs:
        by_pot[job.pot] = max(by_pot.get(job.pot, 0.0), job.loss_otherwise.expected_eur)
    return sum(by_pot.values())


def _doubt(confirmed: bool) -> str:
    if confirmed:
        return ""
    return say("This is one forecast's word so far, the one before saw no risk; the morning will tell.")
