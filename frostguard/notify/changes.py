"""What a later look at a night says whose jobs were told: changed, called off, or as told."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

from frostguard.advice.plan import RISK, AdvicePlan, Job, Protection
from frostguard.notify.brief import JobBrief, brief_of_job
from frostguard.notify.job_words import fetch_section, in_few_words, job_lines, job_sections, told_lines
from frostguard.notify.matter import Matter, Section
from frostguard.notify.moment import Moment
from frostguard.notify.notice import NoticeKind
from frostguard.report import measures
from frostguard.report.jobs import undo_lines
from frostguard.report.words import say, say_count

CLEAR_BELOW = RISK / 2
"""Chance under which a told job is called off; between this and `RISK` it stays as it was told. A dead
band, as for any alarm, or a forecast that wavers by half a degree would turn it on and off each day."""

NOT_EARLIER_THAN = timedelta(minutes=30)
"""A deadline that moves forward by less is not worth a message; estimate."""


WORTH_A_RING_EUR = 5.0
"""What is new must save so much for a change to ring; what saves less is told silently (estimate)."""

_STRENGTH = {Protection.FLEECE: 1, Protection.DOUBLE_FLEECE: 2, Protection.MOVE: 3}
"""Protections of which a pot needs one: a stronger one takes the place of a weaker one, never the reverse."""


@dataclass(frozen=True, slots=True)
class Changes:
    """How this run's jobs differ from what was told.

    `kept` were told, are not planned now, and stay; `replaced` is what was told of jobs whose place others take: a
    stronger cover, or the same job at an earlier time.
    """

    added: tuple[Job, ...]
    earlier: tuple[Job, ...]
    cancelled: tuple[JobBrief, ...]
    kept: tuple[JobBrief, ...]
    replaced: tuple[JobBrief, ...] = ()


def changes_since_told(told: Sequence[JobBrief], plan: AdvicePlan, jobs: Sequence[Job]) -> Changes:
    """What has changed enough to be told again; what wavers within the dead band has not."""
    before = {job.what: job for job in told}
    now = {brief_of_job(job).what: job for job in jobs}
    stronger = _strongest((job.pot, job.protection) for job in jobs)
    as_told = _strongest((job.pot, job.protection) for job in told)
    cancelled: list[JobBrief] = []
    kept: list[JobBrief] = []
    replaced: list[JobBrief] = []
    for what, job in before.items():
        superseded = job.protection in _STRENGTH and stronger.get(job.pot, 0) > as_told[job.pot]
        if what in now:
            continue
        if superseded:
            replaced.append(job)
            continue
        (cancelled if _chance_as_left(plan, job.pot) < CLEAR_BELOW else kept).append(job)
    earlier = tuple(
        job
        for what, job in now.items()
        if what in before and before[what].start_by - job.start_by > NOT_EARLIER_THAN
    )
    return Changes(
        added=tuple(
            job
            for what, job in now.items()
            if what not in before and _STRENGTH.get(job.protection, 4) > as_told.get(job.pot, 0)
        ),
        earlier=earlier,
        cancelled=tuple(cancelled),
        kept=tuple(kept),
        replaced=(*replaced, *(before[brief_of_job(job).what] for job in earlier)),
    )


def _strongest(jobs: Iterable[tuple[str, Protection]]) -> dict[str, int]:
    """For each pot how strong the strongest of its covers is."""
    found: dict[str, int] = {}
    for pot, protection in jobs:
        found[pot] = max(found.get(pot, 0), _STRENGTH.get(protection, 0))
    return found


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
        return _called_off(plan, changes, f"called-off/{night}")
    if changes.cancelled:
        return _fewer(moment, plan, jobs, changes, f"fewer/{night}/{look}")
    return _go_ahead(moment, plan, jobs, changes, f"go-ahead/{night}/{look}") if reassure and jobs else None


def _changed(moment: Moment, plan: AdvicePlan, jobs: tuple[Job, ...], changes: Changes, key: str) -> Matter:
    subject = say_count(
        "Changed for {day}: 1 job more or earlier than told, {when}.",
        "Changed for {day}: {count} jobs more or earlier than told, {when}.",
        len(changes.added) + len(changes.earlier),
        day=measures.day_and_date(plan.night),
        when=moment.clock.start_first_by(
            min(job.start_by for job in (*changes.added, *changes.earlier)), len(changes.added) + len(changes.earlier)
        ),
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
            Section(_told_before(changes), told_lines(changes.kept)),
            fetch_section(jobs, moment),
            Section(say("Undo"), tuple(undo_lines(jobs, moment.clock, moment.settings.units))),
        ),
        jobs=jobs,
        called_off=(*changes.cancelled, *changes.replaced),
        interrupts=moment.is_yet_to_ring or _is_worth_a_ring((*changes.added, *changes.earlier)),
    )


def _is_worth_a_ring(jobs: Sequence[Job]) -> bool:
    """Whether somebody should leave what they are at for these jobs."""
    saved_eur: dict[str, float] = {}
    for job in jobs:
        loss = job.loss_otherwise
        left = 0.0 if loss.chance_with_jobs is None else loss.chance_with_jobs / max(loss.chance, 1e-9)
        saved_eur[job.pot] = max(saved_eur.get(job.pot, 0.0), loss.expected_eur * (1.0 - left))
    return sum(saved_eur.values()) >= WORTH_A_RING_EUR or any(job.irreplaceable for job in jobs)


def _told_before(changes: Changes) -> str:
    """What stands over jobs that stay though they are not planned now: new ones may use their hands and covers."""
    if changes.added:
        return say("As told before, if time and covers are left for it")
    return say("As told before")


def with_what_was_told_before(moment: Moment, plan: AdvicePlan, jobs: tuple[Job, ...], news: Matter) -> Matter:
    """What is told as news of a night, with what was told on a guess or in doubt and is not to be done after all."""
    if moment.told is None or moment.told.night != plan.night:
        return news
    told = [job for job in moment.told.jobs if not moment.is_done(job.pot, job.protection)]
    changes = changes_since_told(told, plan, jobs)
    needless = Section(say("Told before, and not needed after all"), told_lines(changes.cancelled))
    return replace(
        news, sections=(*news.sections, needless), called_off=(*changes.cancelled, *changes.replaced)
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
            Section(say("As told before"), told_lines(changes.kept)),
        ),
        jobs=jobs,
        called_off=changes.cancelled,
        interrupts=moment.is_yet_to_ring,
    )


def _called_off(plan: AdvicePlan, changes: Changes, key: str) -> Matter:
    subject = say("Called off: no job is needed for {day}.", day=measures.day_and_date(plan.night))
    return Matter(
        kind=NoticeKind.CALLED_OFF,
        keys=(key,),
        subject=subject,
        lead=subject + " " + say("The night comes out milder than it looked. What is done already may stay."),
        called_off=changes.cancelled,
    )


def _go_ahead(moment: Moment, plan: AdvicePlan, jobs: tuple[Job, ...], changes: Changes, key: str) -> Matter:
    subject = say_count(
        "It holds for {day}: the job as told, {when}.",
        "It holds for {day}: the {count} jobs as told, {when}.",
        len(jobs),
        day=measures.day_and_date(plan.night),
        when=moment.clock.start_first_by(min(job.start_by for job in jobs), len(jobs)),
    )
    return Matter(
        kind=NoticeKind.GO_AHEAD,
        keys=(key,),
        subject=subject,
        lead=subject,
        brief=in_few_words(jobs),
        sections=(*job_sections(jobs, moment), Section(say("As told before"), told_lines(changes.kept))),
        jobs=jobs,
        interrupts=moment.is_yet_to_ring,
    )
