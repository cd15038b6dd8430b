"""Runs of the check, their plans, and what every night came to."""

from __future__ import annotations

import json
import sqlite3
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import Enum
from typing import Any

from frostguard.advice.plan import AdvicePlan
from frostguard.logbook.book import Logbook
from frostguard.logbook.measured import moment, stamp
from frostguard.notify.brief import PlanBrief, brief_from_dict, brief_of
from frostguard.notify.moment import Look


class Ended(Enum):
    """How a run ended."""

    WELL = "well"
    CANNOT_SEE = "cannot see"
    FAILED = "failed"


class Found(Enum):
    """What was found for a night."""

    PLAN = "plan"
    NOTHING_TO_DO = "nothing to do"
    CANNOT_SEE = "cannot see"


class Outcome(Enum):
    """What a night came to; exactly one of the first three once every message has gone out."""

    PLAN_SENT = "plan sent"
    NOTHING_TO_DO = "nothing to do recorded"
    CANNOT_SEE_SENT = "cannot see sent"
    OWED = "message still owed"


@dataclass(frozen=True, slots=True)
class Run:
    """One run of the check."""

    look: Look
    night: date
    started: datetime
    finished: datetime | None
    ended: Ended | None
    detail: str


def begin_run(book: Logbook, look: Look, night: date, now: datetime) -> int:
    """Put down that a run begins; returns its number."""

    def begin(connection: sqlite3.Connection) -> int:
        cursor = connection.execute(
            "INSERT INTO runs (look, night, started) VALUES (?, ?, ?)", (look.value, night.isoformat(), stamp(now))
        )
        return int(cursor.lastrowid or 0)

    return book.write(begin)


def end_run(connection: sqlite3.Connection, run: int, ended: Ended, now: datetime, detail: str = "") -> None:
    """Put down how a run ended; in one transaction with what it leaves, or a stop between them would repeat it."""
    connection.execute(
        "UPDATE runs SET finished = ?, ended = ?, detail = ? WHERE id = ?", (stamp(now), ended.value, detail, run)
    )


def runs(book: Logbook, since: datetime) -> list[Run]:
    """The runs since then, the oldest first; one without an end was stopped on its way."""
    return [
        Run(
            look=Look(row["look"]),
            night=date.fromisoformat(row["night"]),
            started=moment(row["started"]),
            finished=None if row["finished"] is None else moment(row["finished"]),
            ended=None if row["ended"] is None else Ended(row["ended"]),
            detail=row["detail"],
        )
        for row in book.rows("SELECT * FROM runs WHERE started >= ? ORDER BY started, id", (stamp(since),))
    ]


def keep_plan(connection: sqlite3.Connection, run: int, plan: AdvicePlan, now: datetime) -> None:
    """Keep a run's plan, whole and in brief; for a run that is in the logbook."""
    brief = brief_of(plan)
    connection.execute(
        "INSERT OR REPLACE INTO plans (run, night, asked_at, brief, plan) VALUES (?, ?, ?, ?, ?)",
        (
            run,
            plan.night.isoformat(),
            stamp(now),
            json.dumps(brief.to_dict()),
            zlib.compress(json.dumps(plan.to_dict()).encode()),
        ),
    )



def keep_night(
    connection: sqlite3.Connection, night: date, found: Found, notice: str | None, now: datetime
) -> None:
    """Put down what a night comes to as far as is known.

    A plan once told stays one, whatever is seen later; and blindness of which nothing is told, since enough
    was told before, changes nothing.
    """
    connection.execute(
        "INSERT INTO nights (night, found, notice, at) VALUES (:night, :found, :notice, :at) "
        "ON CONFLICT (night) DO UPDATE SET found = :found, at = :at, "
        "notice = coalesce(:notice, CASE WHEN found = :found THEN notice END) "
        "WHERE NOT (found = 'plan' AND :found <> 'plan') AND NOT (:found = 'cannot see' AND :notice IS NULL)",
        {"night": night.isoformat(), "found": found.value, "notice": notice, "at": stamp(now)},
    )


def keep_told(connection: sqlite3.Connection, plan: AdvicePlan, now: datetime) -> None:
    """Remember the plan as the person knows it now."""
    connection.execute(
        "INSERT OR REPLACE INTO told (night, brief, at) VALUES (?, ?, ?)",
        (plan.night.isoformat(), json.dumps(brief_of(plan).to_dict()), stamp(now)),
    )


def told(book: Logbook, night: date) -> PlanBrief | None:
    """The plan as it was last told for a night."""
    rows = book.rows("SELECT brief FROM told WHERE night = ?", (night.isoformat(),))
    return brief_from_dict(json.loads(rows[0]["brief"])) if rows else None


def plan_before(book: Logbook, now: datetime, age: timedelta) -> PlanBrief | None:
    """The plan of the latest run that is so old or older, and no older than three days."""
    rows = book.rows(
        "SELECT brief FROM plans WHERE asked_at <= ? AND asked_at >= ? ORDER BY asked_at DESC LIMIT 1",
        (stamp(now - age), stamp(now - timedelta(days=3))),
    )
    return brief_from_dict(json.loads(rows[0]["brief"])) if rows else None


def last_plan_of(book: Logbook, night: date) -> dict[str, Any] | None:
    """The newest plan that is kept for a night, as data."""
    rows = book.rows("SELECT plan FROM plans WHERE night = ? ORDER BY asked_at DESC LIMIT 1", (night.isoformat(),))
    return _unpacked(rows[0]["plan"]) if rows else None


def _unpacked(kept: bytes) -> dict[str, Any]:
    plan: dict[str, Any] = json.loads(zlib.decompress(kept))
    return plan


def outcomes(book: Logbook, since: date) -> dict[date, Outcome]:
    """What each night since a date came to; a night that nobody looked at is not in it."""
    rows = book.rows(
        # what no channel carries, since nobody has to act on it, is as good as sent
        "SELECT night, found, notice IS NOT NULL AND (EXISTS (SELECT 1 FROM deliveries AS d WHERE d.notice = n.notice "
        "AND d.state = 'sent') OR NOT EXISTS (SELECT 1 FROM deliveries AS d WHERE d.notice = n.notice)) AS sent "
        "FROM nights AS n WHERE night >= ? ORDER BY night",
        (since.isoformat(),),
    )
    return {date.fromisoformat(row["night"]): _outcome(Found(row["found"]), bool(row["sent"])) for row in rows}


def _outcome(found: Found, sent: bool) -> Outcome:
    if found is Found.NOTHING_TO_DO:
        return Outcome.NOTHING_TO_DO
    if not sent:
        return Outcome.OWED
    return Outcome.PLAN_SENT if found is Found.PLAN else Outcome.CANNOT_SEE_SENT


def untold_nights(book: Logbook, today: date, longest_d: int = 14) -> tuple[date, ...]:
    """Nights since the first known one, up to yesterday's, of which nothing was told; at most so many days back.

    Nobody looked at them, or no message about them went out while there was time.
    """
    first = book.rows("SELECT min(night) AS night FROM nights")[0]["night"]
    if first is None:
        return ()
    begins = max(date.fromisoformat(first), today - timedelta(days=longest_d))
    told_of = {night for night, outcome in outcomes(book, begins).items() if outcome is not Outcome.OWED}
    span = (begins + timedelta(days=k) for k in range(max((today - begins).days, 0)))
    return tuple(night for night in span if night not in told_of)


def keep_days(connection: sqlite3.Connection, days: Iterable[tuple[date, float, float]]) -> None:
    """Keep the coldest and the mean air of past days, for how hard plants are; (date, coldest, mean) [degC]."""
    connection.executemany(
        "INSERT INTO days (date, minimum_c, mean_c) VALUES (?, ?, ?) ON CONFLICT (date) DO UPDATE SET "
        "minimum_c = excluded.minimum_c, mean_c = excluded.mean_c",
        [(day.isoformat(), minimum_c, mean_c) for day, minimum_c, mean_c in days],
    )


def days_before(book: Logbook, first: date) -> list[tuple[date, float, float]]:
    """The unbroken run of kept days that ends right before a date, oldest first."""
    rows = book.rows("SELECT * FROM days WHERE date < ? ORDER BY date DESC", (first.isoformat(),))
    found: list[tuple[date, float, float]] = []
    for row in rows:
        day = date.fromisoformat(row["date"])
        if day != first - timedelta(days=len(found) + 1):
            break
        found.append((day, row["minimum_c"], row["mean_c"]))
    return found[::-1]
