"""Jobs as they were told, their sign-off, and what is in force on the terrace by it."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import astuple, dataclass, replace
from datetime import date, datetime, timedelta
from enum import Enum

from frostguard.advice.plan import AdvicePlan, Batch, CoverUse, Protection
from frostguard.garden.names import folded
from frostguard.logbook.book import Logbook
from frostguard.logbook.measured import moment, stamp

TAKEN_OFF_AFTER = timedelta(hours=36)
"""A cover whose time to come off passed so long ago counts as off unless it is signed off anew. Nobody may
have told that it was taken off, and a cover that is not there protects nothing; estimate."""

FOR_A_NIGHT = frozenset(
    {Protection.FLEECE, Protection.DOUBLE_FLEECE, Protection.SHADE, Protection.SECURE, Protection.UNCOVER}
)
"""Protections that come off by day as a matter of course; all others stay until they are taken back."""


class JobState(Enum):
    """How a job stands."""

    OPEN = "open"
    FINISHED = "finished"
    NOT_TONIGHT = "not tonight"
    TAKEN_BACK = "taken back"  # it was done, and is undone: cover off, pot back
    DROPPED = "dropped"  # a later plan does not ask for it


class Word(Enum):
    """What a person says of a job."""

    FINISHED = "finished"
    NOT_TONIGHT = "not tonight"
    TAKE_BACK = "take back"
    ASK_AGAIN = "ask again"


_LEADS_TO = {
    Word.FINISHED: JobState.FINISHED,
    Word.NOT_TONIGHT: JobState.NOT_TONIGHT,
    Word.TAKE_BACK: JobState.TAKEN_BACK,
    Word.ASK_AGAIN: JobState.OPEN,
}


@dataclass(frozen=True, slots=True)
class ListedJob:
    """A job in the logbook; `number` is how a person names it."""

    number: int
    night: date
    pot: str
    label: str
    spot: str
    protection: Protection
    batch: Batch
    to_spot: str | None
    start_by: datetime
    minutes: float
    covers: tuple[CoverUse, ...]
    litres: float | None
    undo_after: datetime | None
    state: JobState
    for_all: bool = True  # the pots alike under this name
    count: int = 0  # of them; 0 where it was not noted


@dataclass(frozen=True, slots=True)
class Placed:
    """A job that was done and is in force since then."""

    job: ListedJob
    since: datetime

    def is_off_by_itself(self, now: datetime) -> bool:
        """Whether it must be taken to be off, since nobody has said that it is still on."""
        undo_after = self.job.undo_after
        return (
            self.job.protection in FOR_A_NIGHT
            and undo_after is not None
            and now >= max(undo_after, self.since) + TAKEN_OFF_AFTER
        )


def keep_jobs(connection: sqlite3.Connection, plan: AdvicePlan, *, replace_told: bool, today: date) -> None:
    """Put a plan's jobs down; one that is known keeps its number.

    Parameters
    ----------
    connection : sqlite3.Connection
        Within a transaction.
    plan : AdvicePlan
        The newest.
    replace_told : bool
        Whether the person is told of this plan, so that open jobs of its night that are not in it are dropped.
    today : date
        Open jobs of earlier nights are dropped.
    """
    if replace_told:
        night = plan.night.isoformat()
        connection.execute("UPDATE jobs SET state = 'dropped' WHERE night = ? AND state = 'open'", (night,))
    connection.execute("UPDATE jobs SET state = 'dropped' WHERE night < ? AND state = 'open'", (today.isoformat(),))
    reserve_numbers(connection, plan)
    connection.executemany(
        "UPDATE jobs SET start_by = :start_by, minutes = :minutes, covers = :covers, litres = :litres, "
        "undo_after = :undo_after, pace = :pace, for_all = :for_all, count = :count, "
        "state = CASE WHEN state = 'dropped' THEN 'open' ELSE state END "
        f"WHERE {_SAME} AND (for_all OR state <> 'finished')",  # what was done for some is not what is left for others
        _rows_of(plan),
    )
    # what came too late for one night and is asked for again for the next is one job, that of the next
    connection.execute(
        "UPDATE jobs SET state = 'dropped' WHERE state = 'open' AND batch = ? AND EXISTS (SELECT 1 FROM jobs AS next "
        "WHERE next.night = date(jobs.night, '+1 day') AND next.pot = jobs.pot AND next.protection = jobs.protection "
        "AND next.to_spot = jobs.to_spot AND next.state <> 'dropped')",
        (Batch.TOMORROW.value,),
    )


def reserve_numbers(connection: sqlite3.Connection, plan: AdvicePlan) -> None:
    """Give each job of a plan its number before anybody is told of it, so that a message can name it.

    Until `keep_jobs` they count as dropped, and are neither listed nor asked for. What is known is not tried anew:
    that would use numbers up, and people type them.
    """
    names = (
        "night", "pot", "label", "spot", "protection", "batch", "to_spot", "start_by", "minutes", "covers", "litres",
        "undo_after", "pace", "for_all", "count",
    )  # fmt: skip
    connection.executemany(
        f"INSERT INTO jobs ({', '.join(names)}, state) SELECT {', '.join(f':{name}' for name in names)}, 'dropped' "
        f"WHERE NOT EXISTS (SELECT 1 FROM jobs WHERE {_SAME})",
        _rows_of(plan),
    )


def with_numbers(book: Logbook, plan: AdvicePlan) -> AdvicePlan:
    """The plan with the number of each job that the logbook knows."""
    rows = book.rows("SELECT number, pot, protection, to_spot FROM jobs WHERE night = ?", (plan.night.isoformat(),))
    numbers = {(row["pot"], row["protection"], row["to_spot"]): row["number"] for row in rows}
    jobs = (
        replace(job, number=numbers.get((job.pot, job.protection.value, job.to_spot or ""))) for job in plan.jobs
    )
    return replace(plan, jobs=tuple(jobs))


_SAME = "night = :night AND pot = :pot AND protection = :protection AND to_spot = :to_spot"
"""What makes two jobs the same one."""


def _rows_of(plan: AdvicePlan) -> list[dict[str, str | float | None]]:
    return [
        {
            "night": plan.night.isoformat(),
            "pot": job.pot,
            "label": job.label,
            "spot": job.spot,
            "protection": job.protection.value,
            "batch": job.batch.value,
            "to_spot": job.to_spot or "",
            "start_by": stamp(job.start_by),
            "minutes": job.minutes,
            "covers": json.dumps([[*astuple(use)] for use in job.covers]),
            "litres": job.litres,
            "undo_after": None if job.undo_after is None else stamp(job.undo_after),
            "pace": plan.pace_of_work,
            "for_all": int(job.count >= job.alike),
            "count": job.count,
        }
        for job in plan.jobs
    ]


def listed(book: Logbook, since: date) -> tuple[ListedJob, ...]:
    """The jobs of the nights since a date, in the order of doing; none dropped."""
    rows = book.rows(
        "SELECT * FROM jobs WHERE state <> 'dropped' AND night >= ? ORDER BY night, start_by, number",
        (since.isoformat(),),
    )
    return tuple(_listed(row) for row in rows)


def numbered(book: Logbook, number: int) -> ListedJob | None:
    """The job of that number."""
    rows = book.rows("SELECT * FROM jobs WHERE number = ?", (number,))
    return _listed(rows[0]) if rows else None


def meant_by(book: Logbook, word: Word, written: str, today: date) -> tuple[ListedJob, ...]:
    """The jobs that a person means: by number, by pot (id or label), by spot, by kind of job, or "all".

    By number any job is meant; by any other name those that the word applies to: of tonight and later, or,
    to take back, those in force.
    """
    if written.isascii() and written.isdigit():
        one = numbered(book, int(written[:18]))
        return () if one is None else (one,)
    if word is Word.TAKE_BACK:
        candidates: Sequence[ListedJob] = [placed.job for placed in in_force(book)]
    else:
        applies = {
            Word.FINISHED: {JobState.OPEN, JobState.NOT_TONIGHT},
            Word.NOT_TONIGHT: {JobState.OPEN},
            Word.ASK_AGAIN: {JobState.NOT_TONIGHT, JobState.FINISHED, JobState.TAKEN_BACK},
        }[word]
        candidates = [job for job in listed(book, today) if job.state in applies]
    wanted = folded(written)
    return tuple(
        job
        for job in candidates
        if wanted in ("all", folded(job.pot), folded(job.label), folded(job.spot), folded(job.protection.value))
    )


def sign_off(book: Logbook, jobs: Iterable[ListedJob], word: Word, name: str, now: datetime) -> None:
    """Put down what a person says of these jobs, and what is in force by it."""
    chosen = list(jobs)

    def put_down(connection: sqlite3.Connection) -> None:
        for job in chosen:
            connection.execute(
                "INSERT INTO sign_offs (job, word, at, name) VALUES (?, ?, ?, ?)",
                (job.number, word.value, stamp(now), name),
            )
            connection.execute(
                "UPDATE jobs SET state = ? WHERE number = ?", (_LEADS_TO[word].value, job.number)
            )
            _put_in_force(connection, job, word, name, now)

    book.write(put_down)


def _put_in_force(
    connection: sqlite3.Connection, job: ListedJob, word: Word, name: str, now: datetime
) -> None:
    at = stamp(now)
    match word:
        case Word.FINISHED if job.protection is Protection.WATER:
            connection.execute(
                "INSERT INTO waterings (pot, at, litres, name, job) VALUES (?, ?, ?, ?, ?)",
                (job.pot, at, job.litres, name, job.number),
            )
        case Word.FINISHED:
            # the same thing done anew, as for another night, begins anew; what is done for the rest of several
            # alike leaves that for the others in force
            connection.execute(
                "UPDATE in_force SET ended = ? WHERE ended IS NULL AND job IN "
                "(SELECT number FROM jobs WHERE pot = ? AND protection = ? AND (for_all OR ?))",
                (at, job.pot, job.protection.value, int(job.for_all)),
            )
            connection.execute("INSERT INTO in_force (job, since) VALUES (?, ?)", (job.number, at))
        case Word.TAKE_BACK:
            connection.execute("UPDATE in_force SET ended = ? WHERE job = ? AND ended IS NULL", (at, job.number))
        case Word.ASK_AGAIN | Word.NOT_TONIGHT:
            # it was never done: as if it had not been said
            connection.execute("DELETE FROM in_force WHERE job = ? AND ended IS NULL", (job.number,))
            connection.execute("DELETE FROM waterings WHERE job = ?", (job.number,))


def in_force(book: Logbook) -> list[Placed]:
    """What was done and not taken back, the oldest first."""
    rows = book.rows(
        "SELECT jobs.*, in_force.since AS since FROM in_force JOIN jobs ON number = job WHERE ended IS NULL "
        "ORDER BY in_force.id"
    )
    return [Placed(_listed(row), moment(row["since"])) for row in rows]


@dataclass(frozen=True, slots=True)
class ElseThanTheFile:
    """A time in which a pot did not stand as the garden file says; `until` is None where that goes on."""

    pot: str
    since: datetime
    until: datetime | None


LEAVES_THE_BALL_ALONE = frozenset(
    {Protection.SLEEVE, Protection.TIE_CROWN, Protection.TIE_UP, Protection.SHADE, Protection.UNCOVER}
)
"""Jobs that change nothing about what the mix feels."""


def times_of_jobs(book: Logbook) -> tuple[ElseThanTheFile, ...]:
    """When which pot stood otherwise than in the garden file, by what was signed off."""
    found = []
    for row in book.rows(
        "SELECT jobs.*, in_force.since AS since, in_force.ended AS ended FROM in_force JOIN jobs ON number = job"
    ):
        placed = Placed(_listed(row), moment(row["since"]))
        if placed.job.protection in LEAVES_THE_BALL_ALONE:
            continue
        until = None if row["ended"] is None else moment(row["ended"])
        if until is None and placed.job.protection in FOR_A_NIGHT and placed.job.undo_after is not None:
            until = max(placed.job.undo_after, placed.since) + TAKEN_OFF_AFTER
        found.append(ElseThanTheFile(placed.job.pot, placed.since, until))
    return tuple(found)


def finished_on(book: Logbook, night: date) -> frozenset[tuple[str, Protection]]:
    """The jobs of a night that are signed off as done, by pot and protection."""
    rows = book.rows("SELECT pot, protection FROM jobs WHERE night = ? AND state = 'finished'", (night.isoformat(),))
    return frozenset((row["pot"], Protection(row["protection"])) for row in rows)


def last_watered(book: Logbook) -> dict[str, datetime]:
    """When each pot was last watered, as far as it was signed off."""
    return {
        row["pot"]: moment(row["at"]) for row in book.rows("SELECT pot, max(at) AS at FROM waterings GROUP BY pot")
    }


def _listed(row: sqlite3.Row) -> ListedJob:
    undo_after = row["undo_after"]
    return ListedJob(
        number=row["number"],
        night=date.fromisoformat(row["night"]),
        pot=row["pot"],
        label=row["label"],
        spot=row["spot"],
        protection=Protection(row["protection"]),
        batch=Batch(row["batch"]),
        to_spot=row["to_spot"] or None,
        start_by=moment(row["start_by"]),
        minutes=row["minutes"],
        covers=tuple(CoverUse(*use) for use in json.loads(row["covers"])),
        litres=row["litres"],
        undo_after=None if undo_after is None else moment(undo_after),
        state=JobState(row["state"]),
        for_all=bool(row["for_all"]),
        count=row["count"],
    )
