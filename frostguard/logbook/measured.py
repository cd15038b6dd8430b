"""Readings of thermometers and the values tuned to them, as rows of the logbook."""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime

Rows = Callable[..., list[sqlite3.Row]]


@dataclass(frozen=True, slots=True)
class Reading:
    """One temperature of one thermometer.

    Parameters
    ----------
    series : str
        The thermometer's name; one series lies in one place.
    at : datetime
        Aware.
    temperature_c : float
        As read [degC], finite.
    place : str
        Where the thermometer lies, in a word of the reader of the file ("core", "outer", "leaf", "air").
    pot, spot : str or None
        The pot's id, or the spot's name.
    source : str
        The file or device that it comes from.
    """

    series: str
    at: datetime
    temperature_c: float
    place: str
    pot: str | None = None
    spot: str | None = None
    source: str = ""

    def __post_init__(self) -> None:
        if self.at.tzinfo is None:
            raise ValueError("a reading has an aware time")
        if not math.isfinite(self.temperature_c):
            raise ValueError("a reading is a finite number")


@dataclass(frozen=True, slots=True)
class TunedValue:
    """A parameter as readings or losses changed it.

    Parameters
    ----------
    subject : str
        What it belongs to: "site", "pot/lemon", "spot/deck", "plant/olea europaea".
    name : str
        The parameter with its unit, such as "wind_factor" or "clear_calm_bias_k".
    value, spread : float
        The value and its standard deviation, in the unit of the name.
    note : str
        How it was found.
    """

    subject: str
    name: str
    value: float
    spread: float
    note: str = ""

    def __post_init__(self) -> None:
        if not (math.isfinite(self.value) and math.isfinite(self.spread) and self.spread >= 0.0):
            raise ValueError("a tuned value and its spread are finite, the spread is not negative")


def add_readings(
    connection: sqlite3.Connection, readings: Iterable[Reading], instead_of: Iterable[tuple[str, datetime]] = ()
) -> int:
    """Put readings down, and take out those of other series and times; returns how many were new."""
    kept = list(readings)
    connection.executemany(
        "DELETE FROM readings WHERE series = ? AND at = ?", [(series, stamp(at)) for series, at in instead_of]
    )
    connection.executemany(
        "INSERT INTO reading_series (name, pot, spot, place, source) VALUES (?, ?, ?, ?, ?) ON CONFLICT (name) "
        "DO UPDATE SET pot = excluded.pot, spot = excluded.spot, place = excluded.place, source = excluded.source",
        {one.series: (one.series, one.pot, one.spot, one.place, one.source) for one in kept}.values(),
    )
    before = int(connection.execute("SELECT count(*) FROM readings").fetchone()[0])
    connection.executemany(
        "INSERT OR REPLACE INTO readings (series, at, temperature_c) VALUES (?, ?, ?)",
        [(one.series, stamp(one.at), one.temperature_c) for one in kept],
    )
    return int(connection.execute("SELECT count(*) FROM readings").fetchone()[0]) - before


def readings(
    rows: Rows, *, pot: str | None, since: datetime | None, until: datetime | None
) -> tuple[Reading, ...]:
    """Readings in the order of their times."""
    found = rows(  # what is not asked for is held against itself
        "SELECT name, at, temperature_c, place, pot, spot, source FROM readings JOIN reading_series ON name = series "
        "WHERE pot IS coalesce(?, pot) AND at >= coalesce(?, at) AND at < coalesce(?, at || ' ') ORDER BY at, name",
        (pot, None if since is None else stamp(since), None if until is None else stamp(until)),
    )
    return tuple(
        Reading(
            series=row["name"],
            at=moment(row["at"]),
            temperature_c=row["temperature_c"],
            place=row["place"],
            pot=row["pot"],
            spot=row["spot"],
            source=row["source"],
        )
        for row in found
    )


def store_tuned(connection: sqlite3.Connection, values: Iterable[TunedValue], now: datetime) -> int:
    """Put values into force; returns the number of the batch."""
    return _new_batch(
        connection, [(one.subject, one.name, one.value, one.spread, one.note) for one in values], now
    )


def tuned(rows: Rows) -> tuple[TunedValue, ...]:
    """The values in force."""
    found = rows(
        "SELECT subject, name, value, spread, note FROM tuned AS one WHERE value IS NOT NULL AND id = "
        "(SELECT max(id) FROM tuned WHERE subject = one.subject AND name = one.name) ORDER BY subject, name"
    )
    return tuple(
        TunedValue(row["subject"], row["name"], row["value"], row["spread"], row["note"]) for row in found
    )


def last_learnt(rows: Rows) -> int | None:
    """The latest batch that was learnt and not taken back; None if there is none.

    Taking back is a batch too: it puts the very values of one before into force, for the very same names.
    """
    in_force: dict[tuple[str, str], float | None] = {}
    standing: list[tuple[int, dict[tuple[str, str], float | None]]] = []
    batches: dict[int, dict[tuple[str, str], float | None]] = {}
    for row in rows("SELECT batch, subject, name, value FROM tuned ORDER BY id"):
        batches.setdefault(row["batch"], {})[row["subject"], row["name"]] = row["value"]
    for batch, values in batches.items():
        if standing and values == standing[-1][1]:
            standing.pop()
        else:
            standing.append((batch, {key: in_force.get(key) for key in values}))
        in_force.update(values)
    return standing[-1][0] if standing else None


def undo_tuned(connection: sqlite3.Connection, batch: int, now: datetime) -> int:
    """What was in force before a batch, put down as a new one; ValueError for a batch that is not there."""
    first = connection.execute("SELECT min(id) FROM tuned WHERE batch = ?", (batch,)).fetchone()[0]
    if first is None:
        raise ValueError(f"there is no batch {batch}")
    names = connection.execute("SELECT DISTINCT subject, name FROM tuned WHERE batch = ?", (batch,)).fetchall()
    earlier = []
    for subject, name in names:
        row = connection.execute(
            "SELECT value, spread, note FROM tuned WHERE subject = ? AND name = ? AND id < ? ORDER BY id DESC LIMIT 1",
            (subject, name, first),
        ).fetchone()
        # a row without a value: nothing was tuned before
        earlier.append((subject, name, *(row if row is not None else (None, None, ""))))
    return _new_batch(connection, earlier, now)


def _new_batch(
    connection: sqlite3.Connection,
    values: list[tuple[str, str, float | None, float | None, str]],
    now: datetime,
) -> int:
    batch = int(connection.execute("SELECT coalesce(max(batch), 0) + 1 FROM tuned").fetchone()[0])
    connection.executemany(
        "INSERT INTO tuned (batch, subject, name, value, spread, note, at) VALUES (?, ?, ?, ?, ?, ?, ?)",
        [(batch, *value, stamp(now)) for value in values],
    )
    return batch


def stamp(at: datetime) -> str:
    """A time as the logbook keeps it: UTC, so that times sort as texts."""
    if at.tzinfo is None:
        raise ValueError("the logbook keeps aware times only")
    return at.astimezone(UTC).isoformat(timespec="microseconds")


def moment(text: str) -> datetime:
    """The time that `stamp` put down."""
    return datetime.fromisoformat(text)
