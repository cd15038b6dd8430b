"""Plants that died, were hurt or came through: what limits learn from."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from datetime import date, datetime
from enum import Enum

from frostguard.garden.model import Pot
from frostguard.hardiness.model import Tissue
from frostguard.hardiness.own import Sighting
from frostguard.logbook.book import Logbook
from frostguard.logbook.measured import moment, stamp


class Harm(Enum):
    """How bad it was."""

    DEAD = "dead"
    HURT = "hurt"
    UNHURT = "unhurt"  # it came through, which teaches too


@dataclass(frozen=True, slots=True)
class Lesson:
    """What a night can teach of a pot: its coldest air [degC] where it is known, and each tissue's sighting."""

    air_c: float | None = None
    sightings: tuple[Sighting, ...] = ()


NO_LESSON = Lesson()


@dataclass(frozen=True, slots=True)
class PlantLoss:
    """One pot, what became of its plants, and the night that is held to have done it; its coldest air [degC]."""

    pot: str
    label: str
    plants: tuple[str, ...]
    harm: Harm
    night: date
    at: datetime
    note: str
    air_c: float | None = None


def record_loss(book: Logbook, pot: Pot, harm: Harm, night: date, note: str, now: datetime,
                lesson: Lesson = NO_LESSON) -> None:
    """Put down what became of a pot's plants in a night; what was said before of that pot and night gives way."""
    plants = "\n".join(planting.key for planting in pot.plantings)

    def put_down(connection: sqlite3.Connection) -> None:
        connection.execute("DELETE FROM losses WHERE pot = ? AND night = ?", (pot.id, night.isoformat()))
        cursor = connection.execute(
            "INSERT INTO losses (pot, label, plants, harm, night, at, note, air_c) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (pot.id, pot.label, plants, harm.value, night.isoformat(), stamp(now), note, lesson.air_c),
        )
        connection.executemany(
            "INSERT OR IGNORE INTO sightings (loss, plant, tissue, coldest_c, limit_c, error_k, hurt) "
            "VALUES (?, ?, ?, ?, ?, ?, ?)",
            [
                (cursor.lastrowid, one.plant, one.tissue.value, one.coldest_c, one.limit_c, one.error_k, one.hurt)
                for one in lesson.sightings
            ],
        )

    book.write(put_down)


def take_back_loss(book: Logbook, pot: str, night: date | None = None) -> PlantLoss | None:
    """Forget what was put down of a pot, for a night or the last time; what it was, None where there is nothing."""
    said = [one for one in losses(book) if one.pot == pot and night in (None, one.night)]
    if not said:
        return None
    last = said[-1]

    def forget(connection: sqlite3.Connection) -> None:
        connection.execute("DELETE FROM losses WHERE pot = ? AND night = ?", (pot, last.night.isoformat()))

    book.write(forget)
    return last


def sightings(book: Logbook) -> tuple[Sighting, ...]:
    """Everything that was seen of what tissues stand, the oldest night first."""
    return tuple(
        Sighting(
            night=date.fromisoformat(row["night"]),
            plant=row["plant"],
            tissue=Tissue(row["tissue"]),
            coldest_c=row["coldest_c"],
            limit_c=row["limit_c"],
            hurt=bool(row["hurt"]),
            error_k=row["error_k"],
        )
        for row in book.rows(
            "SELECT night, plant, tissue, coldest_c, limit_c, hurt, error_k FROM sightings JOIN losses ON id = loss "
            "ORDER BY night, loss"
        )
    )


def losses(book: Logbook) -> list[PlantLoss]:
    """All losses, the oldest first."""
    return [
        PlantLoss(
            pot=row["pot"],
            label=row["label"],
            plants=tuple(row["plants"].split("\n")),
            harm=Harm(row["harm"]),
            night=date.fromisoformat(row["night"]),
            at=moment(row["at"]),
            note=row["note"],
            air_c=row["air_c"],
        )
        for row in book.rows("SELECT * FROM losses ORDER BY at, id")
    ]
