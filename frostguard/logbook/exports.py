"""How files of loggers were read the last time: what a person said of a layout once holds for its next file too."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from frostguard.logbook.book import Logbook


@dataclass(frozen=True, slots=True)
class ReadAs:
    """What a person said of a layout, None where the file's own word was taken.

    Parameters
    ----------
    clock, unit, date_order : str or None
        In the words of the reader of the files.
    ahead_h : float
        By which the clock was taken to be ahead [h]. No habit of the layout but of one file, so it is not taken again.
    """

    clock: str | None = None
    unit: str | None = None
    date_order: str | None = None
    ahead_h: float = 0.0


def last_read_as(book: Logbook, layout: str) -> ReadAs:
    """How the last file of this layout was read; nothing said where there was none."""
    rows = book.rows("SELECT clock, unit, date_order, ahead_h FROM export_layouts WHERE layout = ?", (layout,))
    return ReadAs(*rows[0]) if rows else ReadAs()


def keep_read_as(book: Logbook, layout: str, said: ReadAs) -> None:
    """Remember it for the next file."""

    def keep(connection: sqlite3.Connection) -> None:
        connection.execute(
            "INSERT OR REPLACE INTO export_layouts (layout, clock, unit, date_order, ahead_h) VALUES (?, ?, ?, ?, ?)",
            (layout, said.clock, said.unit, said.date_order, said.ahead_h),
        )

    book.write(keep)
