"""Notices on their way: owed before sent, so that a machine that stops at any instant loses none.

A delivery goes from owed to sending to sent or failed, each step on disk before the next. One that is found
as sending after a stop may have gone out: it is sent again, marked as a repetition. One that failed is
tried again later; one whose night is over has lapsed.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import Enum

from frostguard.logbook.book import Logbook
from frostguard.logbook.measured import moment, stamp
from frostguard.notify.notice import Notice, NoticeKind, notice_from_dict

FIRST_WAIT = timedelta(minutes=10)
LONGEST_WAIT = timedelta(hours=2)
"""Between one failed delivery and the next try; doubled each time. Estimates: servers come back in minutes,
and what was to be done tonight is worth nothing tomorrow."""

NEWS_FOR = timedelta(days=3)
"""How long a letter or a turn of the season is still news; estimate."""

_NEWS = json.dumps(
    [
        kind.value
        for kind in (
            NoticeKind.SEASON,
            NoticeKind.WEEKLY,
            NoticeKind.BEFORE_SPELL,
            NoticeKind.WAS_DOWN,
            NoticeKind.CHANNEL_FAILED,
        )
    ]
)


class State(Enum):
    """How far a notice has come on one channel."""

    OWED = "owed"
    SENDING = "sending"
    SENT = "sent"
    FAILED = "failed"
    LAPSED = "lapsed"  # its night is over


@dataclass(frozen=True, slots=True)
class Due:
    """A notice that is to go out on a channel now; `again` where it may have gone out before."""

    notice: Notice
    channel: str
    again: bool


@dataclass(frozen=True, slots=True)
class Delivered:
    """One notice on one channel, for the list."""

    key: str
    kind: str
    night: date
    made_at: datetime
    channel: str
    state: State
    tries: int
    repeats: int
    failure: str | None


def owe(connection: sqlite3.Connection, notice: Notice, channels: Iterable[str], today: date, now: datetime) -> None:
    """Put a notice down as owed on these channels, and all that it tells as said; once for each key.

    To be called within one transaction with whatever else must be known if it is. What lapsed unsaid may be
    owed anew under its key.
    """
    if connection.execute("SELECT 1 FROM said WHERE key = ?", (notice.key,)).fetchone() is None:
        connection.execute(
            "UPDATE deliveries SET state = 'owed', tries = 0, repeats = 0, changed = ? WHERE notice = ?",
            (stamp(now), notice.key),
        )
        _put(connection, notice)
    _on_its_way(connection, notice, channels, today, now)


def is_untouched(connection: sqlite3.Connection, key: str) -> bool:
    """Whether nobody has begun to send a notice, so that more may still be put into it."""
    begun = connection.execute("SELECT 1 FROM deliveries WHERE notice = ? AND state <> 'owed'", (key,))
    return begun.fetchone() is None


def enlarge(
    connection: sqlite3.Connection, notice: Notice, channels: Iterable[str], today: date, now: datetime
) -> None:
    """Put a notice that is untouched down again with more in it; in one transaction with what it tells."""
    _put(connection, notice)
    _on_its_way(connection, notice, channels, today, now)


def asides(book: Logbook) -> tuple[Notice, ...]:
    """What is about frostguard itself and nobody has begun to send, the oldest first: it may go with another notice."""
    rows = book.rows(
        "SELECT n.notice FROM notices AS n WHERE n.kind = ? AND EXISTS (SELECT 1 FROM deliveries AS d WHERE "
        "d.notice = n.key) AND NOT EXISTS (SELECT 1 FROM deliveries AS d WHERE d.notice = n.key AND d.state <> 'owed') "
        "ORDER BY n.made_at, n.key",
        (NoticeKind.CHANNEL_FAILED.value,),
    )
    return tuple(notice_from_dict(json.loads(row["notice"])) for row in rows)


def withdraw(connection: sqlite3.Connection, key: str) -> None:
    """Forget a notice that nobody has begun to send, and that it was said."""
    for statement in (
        "DELETE FROM said WHERE notice = ?",
        "DELETE FROM deliveries WHERE notice = ?",
        "DELETE FROM notices WHERE key = ?",
    ):
        connection.execute(statement, (key,))


def _put(connection: sqlite3.Connection, notice: Notice) -> None:
    connection.execute(
        "INSERT INTO notices (key, kind, night, made_at, interrupts, not_before, notice) VALUES (?, ?, ?, ?, ?, ?, ?) "
        "ON CONFLICT (key) DO UPDATE SET kind = excluded.kind, night = excluded.night, made_at = excluded.made_at, "
        "interrupts = excluded.interrupts, not_before = excluded.not_before, notice = excluded.notice",
        (
            notice.key,
            notice.kind.value,
            notice.night.isoformat(),
            stamp(notice.made_at),
            int(notice.interrupts),
            None if notice.not_before is None else stamp(notice.not_before),
            json.dumps(notice.to_dict()),
        ),
    )


def _on_its_way(
    connection: sqlite3.Connection, notice: Notice, channels: Iterable[str], today: date, now: datetime
) -> None:
    connection.executemany(
        "INSERT OR IGNORE INTO deliveries (notice, channel, state, changed) VALUES (?, ?, 'owed', ?)",
        [(notice.key, channel, stamp(now)) for channel in channels],
    )
    connection.executemany(
        "INSERT INTO said (key, day, notice) VALUES (?, ?, ?) ON CONFLICT (key) DO UPDATE SET day = excluded.day, "
        "notice = excluded.notice",
        [(key, today.isoformat(), notice.key) for key in (notice.key, *notice.tells)],
    )


def due(book: Logbook, now: datetime, *, asides_wait: bool = False) -> list[Due]:
    """What is to go out now, the oldest first: owed, left half-way, or failed long enough ago.

    What goes through a channel that did not work last comes after all else: nothing waits for its time limit.

    Where `asides_wait`, not what `asides` tells: a look is about to be made, whose notice takes them along.
    """
    waiting = {one.key for one in asides(book)} if asides_wait else set()
    rows = book.rows(
        "SELECT n.key, n.notice AS body, n.not_before, d.state, d.changed, d.tries, d.repeats, d.channel "
        "FROM deliveries AS d JOIN notices AS n ON n.key = d.notice WHERE d.state IN ('owed', 'sending', 'failed') "
        "ORDER BY n.made_at, d.notice, d.channel"
    )
    found = []
    for row in rows:
        waits = row["not_before"] is not None and moment(row["not_before"]) > now
        # a clock that was put back makes "changed" lie ahead; that is no reason to wait
        elapsed = now - moment(row["changed"])
        resting = row["state"] == "failed" and timedelta(0) <= elapsed < _wait_after(row["tries"])
        if waits or resting or row["key"] in waiting:
            continue
        notice = notice_from_dict(json.loads(row["body"]))
        found.append(Due(notice, row["channel"], again=row["state"] == "sending" or row["repeats"] > 0))
    broken = _broken(book)
    return sorted(found, key=lambda one: one.channel in broken)


def _broken(book: Logbook) -> set[str]:
    """Channels whose last delivery failed."""
    rows = book.rows(
        "SELECT channel, MAX(CASE WHEN failure IS NOT NULL THEN changed END) AS failed, "
        "MAX(CASE WHEN state = 'sent' THEN changed END) AS sent FROM deliveries GROUP BY channel"
    )
    return {row["channel"] for row in rows if row["failed"] is not None and row["failed"] > (row["sent"] or "")}


def _wait_after(tries: int) -> timedelta:
    return min(FIRST_WAIT * 2.0 ** (max(tries, 1) - 1), LONGEST_WAIT)


def begin(book: Logbook, one: Due, now: datetime) -> None:
    """Put down that it is being sent; on disk before the first byte leaves."""
    book.write(
        lambda connection: connection.execute(
            "UPDATE deliveries SET state = 'sending', changed = ?, tries = tries + 1, repeats = repeats + ? "
            "WHERE notice = ? AND channel = ?",
            (stamp(now), int(one.again), one.notice.key, one.channel),
        )
    )


def end(book: Logbook, one: Due, failure: str | None, now: datetime) -> None:
    """Put down what came of it."""
    state = State.SENT if failure is None else State.FAILED
    book.write(
        lambda connection: connection.execute(
            "UPDATE deliveries SET state = ?, failure = ?, changed = ? WHERE notice = ? AND channel = ?",
            (state.value, failure, stamp(now), one.notice.key, one.channel),
        )
    )


def lapse(book: Logbook, today: date, now: datetime) -> int:
    """Give up what is still owed though its time is over; how many deliveries that were.

    What belongs to one night is of no use after it; letters and news of the season are some days more. What no
    channel took was not said: whatever of it is not of that night alone is told again.
    """
    later = today - NEWS_FOR

    def give_up(connection: sqlite3.Connection) -> int:
        count = connection.execute(
            "UPDATE deliveries SET state = 'lapsed', changed = ? WHERE state IN ('owed', 'sending', 'failed') AND "
            "notice IN (SELECT key FROM notices WHERE night < CASE WHEN kind IN (SELECT value FROM json_each(?)) "
            "THEN ? ELSE ? END)",
            (stamp(now), _NEWS, later.isoformat(), today.isoformat()),
        ).rowcount
        # one that was being sent when the machine stopped may have gone out, and is not told again unmarked
        connection.execute(
            "DELETE FROM said WHERE EXISTS (SELECT 1 FROM deliveries AS d WHERE d.notice = said.notice) AND NOT EXISTS "
            "(SELECT 1 FROM deliveries AS d WHERE d.notice = said.notice AND (d.state <> 'lapsed' OR (d.tries > 0 AND "
            "d.failure IS NULL)))"
        )
        return int(count)

    return book.write(give_up)


def drop_channels(book: Logbook, known: Iterable[str], now: datetime) -> int:
    """Give up what is owed on channels that are no longer in the settings."""
    names = json.dumps(sorted(known))
    return book.write(
        lambda connection: connection.execute(
            "UPDATE deliveries SET state = 'lapsed', changed = ? WHERE state IN ('owed', 'sending', 'failed') "
            "AND channel NOT IN (SELECT value FROM json_each(?))",
            (stamp(now), names),
        ).rowcount
    )


def said(book: Logbook) -> Mapping[str, date]:
    """Everything that was told, with the day on which it was."""
    return {row["key"]: date.fromisoformat(row["day"]) for row in book.rows("SELECT key, day FROM said")}


def pushes(book: Logbook, since: datetime) -> tuple[datetime, ...]:
    """When notices that interrupt were made, or when they may go out where they wait, in order."""
    rows = book.rows(
        "SELECT coalesce(not_before, made_at) AS rang FROM notices WHERE interrupts = 1 AND kind <> 'test' "
        "AND made_at >= ? ORDER BY rang",
        (stamp(since),),
    )
    return tuple(moment(row["rang"]) for row in rows)


def deliveries(book: Logbook, limit: int | None = None) -> list[Delivered]:
    """What became of each notice, the newest first."""
    rows = book.rows(
        "SELECT n.key, n.kind, n.night, n.made_at, d.channel, d.state, d.tries, d.repeats, d.failure "
        "FROM deliveries AS d JOIN notices AS n ON n.key = d.notice ORDER BY n.made_at DESC, d.channel LIMIT ?",
        (-1 if limit is None else limit,),
    )
    return [
        Delivered(
            key=row["key"],
            kind=row["kind"],
            night=date.fromisoformat(row["night"]),
            made_at=moment(row["made_at"]),
            channel=row["channel"],
            state=State(row["state"]),
            tries=row["tries"],
            repeats=row["repeats"],
            failure=row["failure"],
        )
        for row in rows
    ]
