"""Plants that died or were hurt: what limits learn from later."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import Enum

from frostguard.garden.model import Pot
from frostguard.logbook.book import Logbook
from frostguard.logbook.measured import moment, stamp


class Harm(Enum):
    """How bad it was."""

    DEAD = "dead"
    HURT = "hurt"


@dataclass(frozen=True, slots=True)
class PlantLoss:
    """One pot whose plants died or were hurt, and the night that is held to have done it."""

    pot: str
    label: str
    plants: tuple[str, ...]
    harm: Harm
    night: date
    at: datetime
    note: str


def record_loss(book: Logbook, pot: Pot, harm: Harm, night: date, note: str, now: datetime) -> None:
    """Put a loss down."""
    plants = "\n".join(planting.taxon or planting.name for planting in pot.plantings)
    book.write(
        lambda connection: connection.execute(
            "INSERT INTO losses (pot, label, plants, harm, night, at, note) VALUES (?, ?, ?, ?, ?, ?, ?)",
            (pot.id, pot.label, plants, harm.value, night.isoformat(), stamp(now), note),
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
        )
        for row in book.rows("SELECT * FROM losses ORDER BY at, id")
    ]
