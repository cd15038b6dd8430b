"""Looking after the logbook's file: exported, backed up, checked."""

from __future__ import annotations

import base64
import json
import sqlite3
import zlib
from contextlib import closing
from pathlib import Path
from typing import Any

from frostguard.logbook.book import Logbook
from frostguard.logbook.schema import TABLES
from frostguard.whole_files import PERSON_ONLY

EXPORT_FORMAT = 1


def export_lines(book: Logbook) -> list[str]:
    """Every row as one line of JSON, with the name of its table; raw weather answers are left out."""
    lines = [json.dumps({"frostguard_logbook": EXPORT_FORMAT})]
    for table in TABLES:
        if table != "answers":
            for row in book.rows(f"SELECT * FROM {table}"):
                values = {name: _plain(value) for name, value in zip(row.keys(), row, strict=True)}
                lines.append(json.dumps({"table": table, **values}))
    return lines


def _plain(value: Any) -> Any:
    """A value as JSON has it; a compressed plan as what it is."""
    if not isinstance(value, bytes):
        return value
    try:
        return json.loads(zlib.decompress(value))
    except (zlib.error, ValueError):
        return base64.b64encode(value).decode("ascii")


def back_up(book: Logbook, to: Path) -> None:
    """Copy the whole logbook into a file that is not there yet, whole or not at all; OSError if it cannot be."""
    temporary = to.with_name(f".{to.name}.part")
    temporary.unlink(missing_ok=True)
    try:
        temporary.touch(PERSON_ONLY)
        with closing(sqlite3.connect(temporary)) as target:
            book.copy_into(target)
            target.execute("PRAGMA journal_mode = DELETE")  # one file, without a log beside it
        temporary.replace(to)
    except sqlite3.DatabaseError as exc:
        raise OSError(str(exc)) from exc
    finally:
        temporary.unlink(missing_ok=True)


def faults(book: Logbook) -> list[str]:
    """What SQLite finds wrong with the file; empty where it is sound."""
    found = [str(row[0]) for row in book.rows("PRAGMA integrity_check")]
    lost = [f"{row[0]}: row {row[1]} points to nothing" for row in book.rows("PRAGMA foreign_key_check")]
    return [text for text in found if text != "ok"] + lost
