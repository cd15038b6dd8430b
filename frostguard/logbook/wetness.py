"""How wet each pot was reckoned to be, so that the next look can go on from it."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from datetime import datetime

from frostguard.advice.state import KeptWetness
from frostguard.logbook.book import Logbook
from frostguard.logbook.measured import moment, stamp

UNCHANGED = 0.001
"""Water content [m3/m3] by which it must differ to be put down anew; nothing feels a millilitre in a litre."""


def keep_wetness(connection: sqlite3.Connection, water_fraction: Mapping[str, float], at: datetime) -> None:
    """Put down the water content of pots [m3/m3] by their ids, where it has changed; within a transaction."""
    connection.executemany(
        "INSERT OR REPLACE INTO wetness (pot, at, water_fraction) SELECT :pot, :at, :water WHERE NOT EXISTS "
        "(SELECT 1 FROM (SELECT water_fraction AS kept FROM wetness WHERE pot = :pot AND at <= :at "
        "ORDER BY at DESC LIMIT 1) "
        "WHERE abs(kept - :water) < :unchanged)",
        [
            {"pot": pot, "at": stamp(at), "water": min(max(water, 0.0), 1.0), "unchanged": UNCHANGED}
            for pot, water in water_fraction.items()
        ],
    )


def last_wetness(book: Logbook) -> dict[str, KeptWetness]:
    """What was reckoned last of each pot, by its id."""
    rows = book.rows("SELECT pot, max(at) AS at, water_fraction FROM wetness GROUP BY pot")
    return {row["pot"]: KeptWetness(moment(row["at"]), row["water_fraction"]) for row in rows}
