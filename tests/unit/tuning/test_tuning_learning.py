"""Which readings are learnt from at all."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from frostguard.logbook.jobs import ElseThanTheFile
from frostguard.logbook.measured import Reading
from frostguard.tuning.learning import of_pots_in_place

NOON = datetime(2026, 1, 10, 12, tzinfo=UTC)


def read(days: float, *, pot: str | None = "lemon") -> Reading:
    """A reading so many days after noon of the tenth."""
    return Reading("one", NOON + timedelta(days=days), 1.0, "core", pot, None if pot else "deck")


def test_a_pot_in_the_wash_room_teaches_nothing_of_the_deck() -> None:
    """Carried in on day one and back on day two: readings from then to two days after are left out and said."""
    inside = ElseThanTheFile("lemon", NOON + timedelta(days=1), NOON + timedelta(days=2))
    days = (0.5, 1.5, 3.5, 4.5)
    kept, remarks = of_pots_in_place([read(day) for day in days], [inside])
    assert [one.at for one in kept] == [NOON + timedelta(days=day) for day in (0.5, 4.5)]
    assert len(remarks) == 1 and "lemon: 2 readings are left out" in remarks[0]


def test_other_pots_and_the_air_go_on_teaching() -> None:
    """Nobody moved those; and what goes on still has no end."""
    inside = ElseThanTheFile("lemon", NOON, None)
    kept, remarks = of_pots_in_place([read(1, pot="bay"), read(1, pot=None), read(30)], [inside])
    assert [one.pot for one in kept] == ["bay", None] and len(remarks) == 1
