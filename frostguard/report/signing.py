"""The list of jobs with their numbers, and what is in force."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import groupby

from frostguard.advice.plan import Batch
from frostguard.logbook.jobs import JobState, ListedJob, Placed
from frostguard.notify.job_words import few_words
from frostguard.report import measures
from frostguard.report.measures import Clock
from frostguard.report.words import say


def render_jobs(jobs: Sequence[ListedJob], placed: Sequence[Placed], clock: Clock, tonight: date) -> str:
    """The jobs night by night, each with the number by which it is signed off, then what is in force.

    Parameters
    ----------
    jobs : sequence of ListedJob
        Sorted by night.
    placed : sequence of Placed
        What was done and not taken back.
    clock : Clock
        The site's.
    tonight : date
        The evening of the night that is on or coming; what is open of earlier ones is past doing.
    """
    blocks = [
        "\n".join([_heading(night), *(f"  {line}" for line in _table(list(members), clock, tonight))])
        for night, members in groupby(jobs, key=lambda job: job.night)
    ]
    if not blocks:
        blocks.append(say("No jobs are known. The check puts them down: see 'frostguard nightly --help'."))
    if placed:
        lines = [f"  {_placed_line(one, clock)}" for one in placed]
        blocks.append("\n".join([say("Done and still in place"), *lines]))
    if any(job.state is JobState.OPEN and job.night >= tonight for job in jobs):
        blocks.append(say("Sign off with 'frostguard jobs finished NUMBER', or a pot, a spot, a kind of job, or all."))
    return "\n\n".join(blocks)


def job_words(job: ListedJob) -> str:
    """A job in few words, with its number."""
    return say("{number}: {what}", number=str(job.number), what=few_words(job.protection, job.label, job.to_spot))


def _heading(night: date) -> str:
    return say("Jobs for the night of {day}", day=measures.day_and_date(night))


def _table(jobs: list[ListedJob], clock: Clock, tonight: date) -> list[str]:
    width = max(len(str(job.number)) for job in jobs)
    return [f"{job.number:>{width}}  {_line(job, clock, tonight)}" for job in jobs]


def _line(job: ListedJob, clock: Clock, tonight: date) -> str:
    values = {
        "what": few_words(job.protection, job.label, job.to_spot),
        "minutes": measures.minutes(job.minutes),
        "deadline": clock.start_by(job.start_by),
    }
    match job.state:
        case JobState.FINISHED:
            return say("{what}: done.", **values)
        case JobState.TAKEN_BACK:
            return say("{what}: done and taken back.", **values)
        case JobState.NOT_TONIGHT:
            return say("{what}: not tonight.", **values)
        case JobState.DROPPED:
            return say("{what}: no longer needed.", **values)
        case JobState.OPEN if job.night < tonight:
            return say("{what}: never signed off.", **values)
        case JobState.OPEN:
            return say("{what}: open, {minutes}, {deadline}.", **values) + _for_another_night(job.batch)


def _for_another_night(batch: Batch) -> str:
    """What a job is for where that is not the night that it is listed under."""
    match batch:
        case Batch.TONIGHT:
            return ""
        case Batch.AHEAD:
            return " " + say("By daylight, for a later night.")
        case Batch.BEFORE_SPELL:
            return " " + say("For the cold spell.")
        case Batch.TOMORROW:
            return " " + say("Too late for this night; for the next one.")


def _placed_line(one: Placed, clock: Clock) -> str:
    return say(
        "{number}: {what}, since {when}.",
        number=str(one.job.number),
        what=few_words(one.job.protection, one.job.label, one.job.to_spot),
        when=measures.day_and_date(clock.local(one.since).date()),
    )
