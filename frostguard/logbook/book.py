"""The logbook: one SQLite file of everything that happened, and what is done where it cannot be used.

A logbook that cannot be read or written never stops the check: it goes on from memory, and `trouble` says
so in a sentence.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeVar

from frostguard.errors import LogbookUnusable
from frostguard.logbook import measured
from frostguard.logbook.damage import Condition, condition_of, start_anew
from frostguard.logbook.measured import Reading, TunedValue
from frostguard.logbook.schema import migrate
from frostguard.report.words import say
from frostguard.whole_files import PERSON_ONLY

BUSY_S = 10.0
"""How long to wait while another process writes; a write takes milliseconds."""

Result = TypeVar("Result")


class Logbook:
    """An open logbook.

    Parameters
    ----------
    connection : sqlite3.Connection
        With the tables.
    path : Path or None
        The file; None for one in memory.
    trouble : LogbookUnusable, optional
        What was wrong when it was opened.
    """

    def __init__(
        self, connection: sqlite3.Connection, path: Path | None, trouble: LogbookUnusable | None = None
    ) -> None:
        self._connection = connection
        self.path = path
        self.trouble = trouble

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; what was written is on disk already."""
        self._connection.close()

    @property
    def on_disk(self) -> bool:
        """Whether what is written will still be there tomorrow."""
        return self.path is not None

    def rows(self, sql: str, values: Iterable[Any] = ()) -> list[sqlite3.Row]:
        """What a query finds, read at once."""
        try:
            return self._connection.execute(sql, tuple(values)).fetchall()
        except sqlite3.DatabaseError as exc:
            if not self.on_disk:
                raise
            self._go_on_from_memory(exc)
            return self._connection.execute(sql, tuple(values)).fetchall()

    def copy_into(self, target: sqlite3.Connection) -> None:
        """Copy everything into another database, as it is at one moment."""
        self._connection.backup(target)

    def write(self, action: Callable[[sqlite3.Connection], Result]) -> Result:
        """Do an action in one transaction: whole or not at all, and on disk when this returns.

        Where the disk does not take it, the logbook goes on in memory and the action is done there.
        """
        try:
            return self._in_transaction(action)
        except sqlite3.IntegrityError:
            raise  # our own mistake, not the disk's
        except sqlite3.DatabaseError as exc:
            if not self.on_disk:
                raise
            self._go_on_from_memory(exc)
            return self._in_transaction(action)

    def _in_transaction(self, action: Callable[[sqlite3.Connection], Result]) -> Result:
        connection = self._connection
        connection.execute("BEGIN IMMEDIATE")
        try:
            result = action(connection)
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise
        return result

    def _go_on_from_memory(self, cause: sqlite3.DatabaseError) -> None:
        """Take along what can still be read, and say what is wrong."""
        memory = _connect(":memory:")
        try:
            self._connection.backup(memory)
            migrate(memory)
        except sqlite3.DatabaseError:
            memory.close()
            memory = _connect(":memory:")
            migrate(memory)
        self._connection.close()
        self._connection = memory
        self.trouble = _unusable(self.path, str(cause))
        self.path = None

    # --- readings of thermometers, and what was learnt from them -------------------------------------------

    def add_readings(self, readings: Iterable[Reading], instead_of: Iterable[tuple[str, datetime]] = ()) -> int:
        """Put readings down; one of the same series and time is replaced. Returns how many were new.

        `instead_of` names series and times that are taken out: the same numbers, read wrongly before.
        """
        kept, gone = list(readings), list(instead_of)  # the disk may refuse, then all is done again
        return self.write(lambda connection: measured.add_readings(connection, kept, gone))

    def readings(
        self, *, pot: str | None = None, since: datetime | None = None, until: datetime | None = None
    ) -> tuple[Reading, ...]:
        """Readings in the order of their times, of one pot or of all, from `since` to before `until`."""
        return measured.readings(self.rows, pot=pot, since=since, until=until)

    def store_tuned(self, values: Iterable[TunedValue], *, now: datetime) -> int:
        """Put tuned values into force from now on; returns the number of this batch, for `undo_tuned`."""
        return self.write(lambda connection: measured.store_tuned(connection, values, now))

    def tuned(self) -> tuple[TunedValue, ...]:
        """The tuned values in force: the latest of each subject and name."""
        return measured.tuned(self.rows)

    def last_learnt(self) -> int | None:
        """The latest batch of tuned values that was not taken back; None if there is none."""
        return measured.last_learnt(self.rows)

    def undo_tuned(self, batch: int, *, now: datetime) -> int:
        """Put what was in force before a batch into force again, as a new batch; nothing is deleted."""
        return self.write(lambda connection: measured.undo_tuned(connection, batch, now))


def open_logbook(path: Path, *, now: datetime | None = None) -> Logbook:
    """The logbook in a file, made where there is none; one in memory, with `trouble`, where that fails.

    A damaged file is kept as it is under another name, what can be read of it is carried over, and
    `trouble` tells where it lies. A file of another program or of a newer version is left alone.

    Parameters
    ----------
    path : Path
        Usually `places.logbook_file()`.
    now : datetime, optional
        The clock, aware, for the name of a copy.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        condition = condition_of(path)
        trouble = None
        if condition is Condition.DAMAGED:
            trouble = start_anew(path, now or datetime.now(UTC), _connect)
        elif condition is not Condition.SOUND:
            return in_memory(_not_ours(path, condition))
        path.touch(PERSON_ONLY)
        connection = _connect(str(path))
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")  # a message must not go out before it is on disk
            migrate(connection)
        except BaseException:
            connection.close()
            raise
    except (OSError, sqlite3.DatabaseError) as exc:
        return in_memory(_unusable(path, str(exc)))
    return Logbook(connection, path, trouble)


def in_memory(trouble: LogbookUnusable | None = None) -> Logbook:
    """An empty logbook that is gone when it is closed."""
    connection = _connect(":memory:")
    migrate(connection)
    return Logbook(connection, None, trouble)


def existing_logbook(path: Path) -> Logbook | None:
    """The logbook of a file that is there already; None where there is none, so that asking makes no file."""
    return open_logbook(path) if path.exists() else None


def _connect(name: str) -> sqlite3.Connection:
    # isolation_level None: transactions begin and end where we say so
    connection = sqlite3.connect(name, timeout=BUSY_S, isolation_level=None, check_same_thread=False)
    connection.row_factory = sqlite3.Row
    connection.execute("PRAGMA foreign_keys = ON")
    return connection


def _unusable(path: Path | None, reason: str) -> LogbookUnusable:
    return LogbookUnusable(
        say("The logbook {path} cannot be used: {reason}.", path=str(path), reason=reason),
        next_step=say(
            "Look whether the disk is full or the folder read-only. Until then things may be told twice, "
            "and what you sign off is not kept."
        ),
    )


def _not_ours(path: Path, condition: Condition) -> LogbookUnusable:
    if condition is Condition.NEWER:
        return LogbookUnusable(
            say("A newer frostguard wrote the logbook {path}; it is left as it is.", path=str(path)),
            next_step=say("Bring frostguard up to date. Until then the check goes on without its logbook."),
        )
    return LogbookUnusable(
        say("{path} is no logbook of frostguard; it is left as it is.", path=str(path)),
        next_step=say("Move that file away. Until then the check goes on without its logbook."),
    )
