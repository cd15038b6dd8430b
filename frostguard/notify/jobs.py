"""Jobs for the coming night: told in the evening, confirmed in the morning, changed or called off."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from frostguard.advice.plan import RISK, AdvicePlan, Batch, Job, Protection
from frostguard.notify.brief import JobBrief, brief_of_job
from frostguard.notify.matter import Matter, Section
from frostguard.notify.moment import SHORT_LEAD, Moment
from frostguard.notify.notice import NoticeKind
from frostguard.report import measures
from frostguard.report.headline import left_at_risk
from frostguard.report.jobs import grouped, job_line, pot_name, undo_lines
from frostguard.report.measures import Clock
from frostguard.report.pieces import piece_list
from frostguard.report.spots import spot_labels, spot_name
from frostguard.report.terminal import in_the_shed, left_at_risk_items, what_it_saves
from frostguard.report.words import all_of, harmless, say, say_count

CLEAR_BELOW = RISK / 2
"""Chance under which a told job is called off; between this and `RISK` it stays as it was told. A dead
band, as for any alarm, or a forecast that wavers by half a degree would turn it on and off each day."""

SURE = 0.5
"""Chance from which one forecast run is enough, however far ahead; estimate."""

NOT_EARLIER_THAN = timedelta(minutes=30)
"""A deadline that moves forward by less is not worth a message; estimate."""

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
    """Jobs to be done before the plan's night; preparations for a spell only when their day has come."""
    return tuple(
        job
        for job in sorted(plan.jobs, key=lambda job: job.start_by)
        if job.batch is not Batch.BEFORE_SPELL or clock.local(job.start_by).date() <= plan.night
    )


def jobs_matter(moment: Moment, plan: AdvicePlan, jobs: tuple[Job, ...]) -> Matter | None:
    """What to do before the coming night, and which pots no job helps; None where there is neither.

    Parameters
    ----------
    moment : Moment
        What is known.
    plan : AdvicePlan
        This run's plan.
    jobs : tuple of Job
        Those to be told under this heading.
    """
    left = left_at_risk(plan)
    if not jobs and not left:
        return None
    confirmed = is_confirmed(moment, plan, jobs)
    night = plan.night.isoformat()
    key = f"jobs/{night}" if confirmed else f"maybe/{night}"
    left_keys = tuple(harmless(f"left/{one.pot.id}") for one in left)
    new_decision = any(not moment.said_within(key, LEFT_TOLD_AGAIN_D) for key in left_keys)
    lead = " ".join(part for part in (jobs_subject(jobs, plan, moment), _doubt(confirmed), what_it_saves(plan)) if part)
    return Matter(
        kind=NoticeKind.JOBS,
        keys=(key, *left_keys),
        subject=jobs_subject(jobs, plan, moment),
        lead=lead,
        brief=in_few_words(jobs),
        sections=(
            *job_sections(jobs, moment),
            Section(say("Still at risk"), tuple(left_at_risk_items(plan, spot_labels(moment.garden)))),
            Section(say("Undo"), tuple(undo_lines(jobs, moment.clock))),
        ),
        jobs=jobs,
        interrupts=confirmed and (_may_ring(moment, plan, jobs) if jobs else new_decision),
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
    return max(chances, default=0.0) >= SURE or moment.irreplaceable(tuple(jobs))


def _may_ring(moment: Moment, plan: AdvicePlan, jobs: tuple[Job, ...]) -> bool:
    """Whether a message about jobs may ring: the week's few are not spent, or it matters too much."""
    a_week_ago = moment.now - timedelta(days=7)
    if sum(pushed > a_week_ago for pushed in moment.pushes) < PUSHES_A_WEEK:
        return True
    coldest = min((night.coldest_air_c for night in plan.nights if night.date == plan.night), default=HARD_FROST_C)
    if coldest <= HARD_FROST_C or moment.irreplaceable(jobs):
        return True
    by_pot: dict[str, float] = {}
    for job in jobs:
        by_pot[job.pot] = max(by_pot.get(job.pot, 0.0), job.loss_otherwise.expected_eur)
    return sum(by_pot.values()) >= WORTH_ONE_MORE_EUR


def _doubt(confirmed: bool) -> str:
    if confirmed:
        return ""
    return say("This is one forecast's word so far, the one before saw no risk; the morning will tell.")


# --- later looks at the same night -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Changes:
    """How this run's jobs differ from what was told."""

    added: tuple[Job, ...]
    earlier: tuple[Job, ...]
    cancelled: tuple[JobBrief, ...]


def changes_since_told(told: Sequence[JobBrief], plan: AdvicePlan, jobs: Sequence[Job]) -> Changes:
    """What has changed enough to be told again; what wavers within the dead band has not."""
    before = {job.what: job for job in told}
    now = {brief_of_job(job).what: job for job in jobs}
    chance_now = {pot.id: _chance_as_left(plan, pot.id) for pot in plan.pots}
    return Changes(
        added=tuple(job for what, job in now.items() if what not in before),
        earlier=tuple(
            job
            for what, job in now.items()
            if what in before and before[what].start_by - job.start_by > NOT_EARLIER_THAN
        ),
        cancelled=tuple(
            job for what, job in before.items() if what not in now and chance_now.get(job.pot, 1.0) < CLEAR_BELOW
        ),
    )


def _chance_as_left(plan: AdvicePlan, pot: str) -> float:
    """The chance of harm to a pot that is left as it is, outer roots and all."""
    return max(
        (tissue.chance for one in plan.pots if one.id == pot for tissue in one.tissues),
        default=1.0,
    )


def later_matter(moment: Moment, plan: AdvicePlan, jobs: tuple[Job, ...], *, reassure: bool) -> Matter | None:
    """What a later look at a night says whose jobs were told.

    Parameters
    ----------
    moment : Moment
        With `told`.
    plan : AdvicePlan
        This run's plan.
    jobs : tuple of Job
        All that are due before the night now.
    reassure : bool
        Whether to say so where nothing changed; the last look does not.
    """
    assert moment.told is not None  # asked only then
    told = tuple(
        job
        for job in moment.told.jobs
        if moment.clock.local(job.start_by).date() <= plan.night and not moment.is_done(job.pot, job.protection)
    )
    changes = changes_since_told(told, plan, jobs)
    night, look = plan.night.isoformat(), moment.look.value
    if changes.added or changes.earlier:
        return _changed(moment, plan, jobs, changes, f"changed/{night}/{look}")
    if told and len(changes.cancelled) == len(told):
        return _called_off(plan, f"called-off/{night}")
    if changes.cancelled:
        return _fewer(moment, plan, jobs, changes, f"fewer/{night}/{look}")
    return _go_ahead(moment, plan, jobs, f"go-ahead/{night}/{look}") if reassure and jobs else None


def _changed(moment: Moment, plan: AdvicePlan, jobs: tuple[Job, ...], changes: Changes, key: str) -> Matter:
    subject = say_count(
        "Changed for {day}: 1 job more or earlier than told, {when}.",
        "Changed for {day}: {count} jobs more or earlier than told, the first {when}.",
        len(changes.added) + len(changes.earlier),
        day=measures.day_and_date(plan.night),
        when=moment.clock.by(min(job.start_by for job in (*changes.added, *changes.earlier))),
    )
    return Matter(
        kind=NoticeKind.CHANGED,
        keys=(key,),
        subject=subject,
        lead=subject,
        brief=in_few_words((*changes.added, *changes.earlier)),
        sections=(
            Section(say("New"), job_lines(changes.added, moment)),
            Section(say("Earlier than told"), job_lines(changes.earlier, moment)),
            Section(say("Not needed after all"), told_lines(changes.cancelled)),
            Section(say("All jobs as they stand now"), job_lines(jobs, moment)),
            _fetch_section(jobs, moment),
            Section(say("Undo"), tuple(undo_lines(jobs, moment.clock))),
        ),
        jobs=jobs,
        interrupts=True,
    )


def _fewer(moment: Moment, plan: AdvicePlan, jobs: tuple[Job, ...], changes: Changes, key: str) -> Matter:
    subject = say_count(
        "For {day}: 1 job is not needed after all; the others stay.",
        "For {day}: {count} jobs are not needed after all; the others stay.",
        len(changes.cancelled),
        day=measures.day_and_date(plan.night),
    )
    return Matter(
        kind=NoticeKind.GO_AHEAD,
        keys=(key,),
        subject=subject,
        lead=subject,
        sections=(
            Section(say("Not needed after all"), told_lines(changes.cancelled)),
            Section(say("All jobs as they stand now"), job_lines(jobs, moment)),
        ),
        jobs=jobs,
    )


def _called_off(plan: AdvicePlan, key: str) -> Matter:
    subject = say("Called off: no job is needed for {day}.", day=measures.day_and_date(plan.night))
    return Matter(
        kind=NoticeKind.CALLED_OFF,
        keys=(key,),
        subject=subject,
        lead=subject + " " + say("The night comes out milder than it looked. What is done already may stay."),
    )


def _go_ahead(moment: Moment, plan: AdvicePlan, jobs: tuple[Job, ...], key: str) -> Matter:
    subject = say_count(
        "It holds for {day}: the job as told, {when}.",
        "It holds for {day}: the {count} jobs as told, the first {when}.",
        len(jobs),
        day=measures.day_and_date(plan.night),
        when=moment.clock.by(min(job.start_by for job in jobs)),
    )
    return Matter(
        kind=NoticeKind.GO_AHEAD,
        keys=(key,),
        subject=subject,
        lead=subject,
        brief=in_few_words(jobs),
        sections=job_sections(jobs, moment),
        jobs=jobs,
    )


# --- wording ---------------------------------------------------------------------------------------------


def jobs_subject(jobs: Sequence[Job], plan: AdvicePlan, moment: Moment) -> str:
    """How many jobs, how long, by when, for which night."""
    clock = moment.clock
    if not jobs:
        return say_count(
            "1 pot is at risk in the night of {day}, and no job helps it.",
            "{count} pots are at risk in the night of {day}, and no job helps them.",
            sum(one.pot.count for one in left_at_risk(plan)),
            day=night_words(plan.night),
        )
    return say_count(
        "1 job for the night of {day}: {minutes}, {when}.",
        "{count} jobs for the night of {day}: {minutes}, the first {when}.",
        len(jobs),
        day=night_words(plan.night),
        minutes=measures.minutes(sum(job.minutes for job in jobs)),
        when=clock.by(jobs[0].start_by),
    )


def night_words(night: date) -> str:
    """The evening that a night begins with."""
    return measures.day_and_date(night)


def job_sections(jobs: tuple[Job, ...], moment: Moment) -> tuple[Section, ...]:
    """The jobs, and what to fetch for them."""
    minutes = measures.minutes(sum(job.minutes for job in jobs))
    return (
        Section(say("To do ({minutes})", minutes=minutes), job_lines(jobs, moment)),
        _fetch_section(jobs, moment),
    )


def job_lines(jobs: Sequence[Job], moment: Moment) -> tuple[str, ...]:
    """A line for each group of equal jobs."""
    label_of = spot_labels(moment.garden)
    return tuple(job_line(group, moment.clock, moment.settings.units, label_of) for group in grouped(jobs))


def _fetch_section(jobs: Sequence[Job], moment: Moment) -> Section:
    pieces = piece_list(jobs, in_the_shed(moment.garden), moment.settings.units)
    return Section(say("Fetch first"), (say("{pieces}.", pieces=all_of(pieces)),) if pieces else ())


def told_lines(jobs: Sequence[JobBrief]) -> tuple[str, ...]:
    """Told jobs by pot and verb, a line each."""
    return tuple(f"{few_words(job.protection, job.label, job.to_spot)}." for job in jobs)


def in_few_words(jobs: Sequence[Job]) -> str:
    """The jobs as short as they can be told: "Lemon: to the cellar; Fuchsia: fleece.\""""
    if not jobs:
        return ""
    told = [few_words(job.protection, pot_name(job.label, job.count), job.to_spot) for job in jobs]
    return "; ".join(dict.fromkeys(told)) + "."


_VERBS: dict[Protection, Callable[[str, str], str]] = {
    Protection.FLEECE: lambda pot, _: say("{pot}: fleece", pot=pot),
    Protection.DOUBLE_FLEECE: lambda pot, _: say("{pot}: two layers of fleece", pot=pot),
    Protection.WRAP: lambda pot, _: say("{pot}: wrap the pot", pot=pot),
    Protection.MOVE: lambda pot, spot: say("{pot}: to the {spot}", pot=pot, spot=spot),
    Protection.RAISE: lambda pot, _: say("{pot}: off the floor", pot=pot),
    Protection.GROUP: lambda pot, _: say("{pot}: push together", pot=pot),
    Protection.MULCH: lambda pot, _: say("{pot}: mulch", pot=pot),
    Protection.WATER: lambda pot, _: say("{pot}: water", pot=pot),
    Protection.SECURE: lambda pot, _: say("{pot}: lay down or tie", pot=pot),
    Protection.UNCOVER: lambda pot, _: say("{pot}: cover off", pot=pot),
}


def few_words(protection: Protection, pot: str, to_spot: str | None) -> str:
    """One job in two or three words."""
    return _VERBS[protection](pot, "" if to_spot is None else spot_name(to_spot))


def first_deadline(jobs: Sequence[Job]) -> datetime | None:
    """When the first of them must be begun."""
    return min((job.start_by for job in jobs), default=None)
