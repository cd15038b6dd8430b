"""Files that are no sound logbook: recognised, kept as they are, and what can be read of them carried over."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing, suppress
from datetime import UTC, datetime
from enum import Enum
from pathlib import Path

from frostguard.errors import LogbookUnusable
from frostguard.logbook.schema import APPLICATION_ID, LATEST, TABLES, migrate, version_of
from frostguard.report.words import say
from frostguard.whole_files import PERSON_ONLY

_MAGIC = b"SQLite format 3\x00"  # the first bytes of every SQLite file


class Condition(Enum):
    """What a file is."""

    SOUND = "sound"  # ours, or not there yet
    DAMAGED = "damaged"  # ours, as far as can be told
    FOREIGN = "foreign"  # of another program
    NEWER = "newer"  # ours, of a later version


def condition_of(path: Path) -> Condition:
    """What the file is; OSError where it may not be read."""
    try:
        with path.open("rb") as file:
            head = file.read(72)
    except FileNotFoundError:
        return Condition.SOUND
    if not head:
        return Condition.SOUND
    if head[:16] != _MAGIC:
        # a file of ours keeps its name even where its first page is lost
        return Condition.DAMAGED if _APPLICATION_BYTES in head[60:72] or _has_log(path) else Condition.FOREIGN
    if head[68:72] not in (_APPLICATION_BYTES, bytes(4)):
        return Condition.FOREIGN
    try:
        with closing(sqlite3.connect(path, timeout=10.0)) as connection:
            connection.execute("PRAGMA query_only = ON")
            return _looked_into(connection)
    except sqlite3.OperationalError as exc:
        if exc.sqlite_errorcode & 0xFF in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
            return Condition.DAMAGED
        raise OSError(str(exc)) from exc
    except sqlite3.DatabaseError:
        return Condition.DAMAGED


_APPLICATION_BYTES = APPLICATION_ID.to_bytes(4, "big")  # where SQLite keeps it: bytes 68 to 71 of the file


def _has_log(path: Path) -> bool:
    return path.with_name(path.name + "-wal").exists()


def _looked_into(connection: sqlite3.Connection) -> Condition:
    tables = {str(row[0]) for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    ours = int(connection.execute("PRAGMA application_id").fetchone()[0]) == APPLICATION_ID
    if tables and not ours:
        return Condition.FOREIGN
    if version_of(connection) > LATEST:
        return Condition.NEWER
    sound = connection.execute("PRAGMA quick_check(1)").fetchone()[0] == "ok"
    return Condition.SOUND if sound else Condition.DAMAGED


def start_anew(path: Path, now: datetime, connect: Callable[[str], sqlite3.Connection]) -> LogbookUnusable:
    """Keep a damaged logbook under another name and put a new one in its place, with what could be read.

    Returns
    -------
    LogbookUnusable
        What to tell the person.
    """
    kept = path.with_name(f"{path.stem}-damaged-{now.astimezone(UTC):%Y%m%dT%H%M%S}{path.suffix}")
    shutil.copy2(path, kept)
    log = path.with_name(path.name + "-wal")
    if log.exists():
        shutil.copy2(log, kept.with_name(kept.name + "-wal"))
    fresh = path.with_name(f".{path.name}.new")
    fresh.unlink(missing_ok=True)
    fresh.touch(PERSON_ONLY)
    with closing(connect(str(fresh))) as target:
        migrate(target)
        target.execute("PRAGMA foreign_keys = OFF")  # what another row points to may be among the lost
        rows = _carried_over(path, target)
    for ending in ("-wal", "-shm"):
        path.with_name(path.name + ending).unlink(missing_ok=True)
    fresh.replace(path)
    return LogbookUnusable(
        say(
            "The logbook was damaged. It is kept as {kept}; {rows} of its entries could be read and carried over.",
            kept=str(kept),
            rows=rows,
        ),
        next_step=say("Look with 'frostguard jobs' whether what you signed off is still known, and check the disk."),
    )


def _carried_over(path: Path, target: sqlite3.Connection) -> int:
    """How many rows could be copied."""
    count = 0
    with suppress(sqlite3.DatabaseError), closing(sqlite3.connect(path, isolation_level=None)) as source:
        for table in TABLES:
            with suppress(sqlite3.DatabaseError):
                found = source.execute(f"SELECT * FROM {table}")
                names = ", ".join(column[0] for column in found.description)
                marks = ", ".join("?" for _ in found.description)
                for row in found:
                    with suppress(sqlite3.DatabaseError):
                        target.execute(f"INSERT OR IGNORE INTO {table} ({names}) VALUES ({marks})", row)
                        count += 1
    return count
