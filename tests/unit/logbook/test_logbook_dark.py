"""Days in the dark: put down at each look, read back with what was carried in since."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from frostguard.garden.model import Light
from frostguard.logbook.book import in_memory
from frostguard.logbook.dark import dark_days_spent, in_the_dark, keep_dark_stays
from tests.unit.advice.terraces import garden, planting, pot, room, spot

AT = datetime(2026, 12, 1, 18, tzinfo=UTC)
DAY = timedelta(days=1)


def test_only_what_stands_in_a_dark_room_counts() -> None:
    """A pot on the deck or in a bright room is not in the dark; one that the file places there is."""
    cellar, hall = room("cellar", light=Light.DARK), room("hall", light=Light.BRIGHT)
    pots = (pot("lemon", planting("citrus-limon"), spot="cellar"), pot("bay", planting("laurus-nobilis"), spot="hall"))
    assert in_the_dark(garden(*pots, spots=(spot(), cellar, hall)), ()) == {"lemon": None}


def test_days_are_counted_from_look_to_look_and_given_back_in_the_light() -> None:
    """Six days in, two days out, one day in: five days weigh on the plant."""
    with in_memory() as book:
        for day in range(10):
            there = {"lemon": None} if day < 6 or day >= 8 else {}
            book.write(lambda connection, there=there, day=day: keep_dark_stays(connection, there, AT + day * DAY))
        assert len(book.rows("SELECT * FROM dark_stays")) == 2
        assert dark_days_spent(book, {"lemon": None}, AT + 9 * DAY) == {"lemon": pytest.approx(6.0 - 2.0 + 1.0)}
        # carried out, and no look since
        assert dark_days_spent(book, {}, AT + 11 * DAY) == {"lemon": pytest.approx(5.0 - 2.0)}
        book.write(lambda connection: keep_dark_stays(connection, {}, AT + 10 * DAY))
        assert dark_days_spent(book, {}, AT + 20 * DAY) == {}


def test_what_was_carried_in_counts_from_its_sign_off_before_any_look() -> None:
    """A pot carried to the cellar three days ago, with no look since, has spent three days there, and once only."""
    with in_memory() as book:
        there = {"lemon": AT - 3 * DAY}
        assert dark_days_spent(book, there, AT) == {"lemon": pytest.approx(3.0)}
        book.write(lambda connection: keep_dark_stays(connection, there, AT))
        assert dark_days_spent(book, there, AT) == {"lemon": pytest.approx(3.0)}


def test_old_stays_are_forgotten() -> None:
    """What ended a quarter of a year ago is not kept."""
    with in_memory() as book:
        for day, there in ((0, {"lemon": None}), (1, {}), (100, {})):
            book.write(lambda connection, there=there, day=day: keep_dark_stays(connection, there, AT + day * DAY))
        assert not book.rows("SELECT * FROM dark_stays")
