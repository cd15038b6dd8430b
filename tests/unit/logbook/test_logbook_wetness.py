"""The wetness of pots as it was reckoned: put down where it changes, read back as it was last."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from frostguard.logbook.book import in_memory
from frostguard.logbook.wetness import KeptWetness, keep_wetness, last_wetness

AT = datetime(2026, 12, 1, 18, tzinfo=UTC)


def test_wetness_is_put_down_where_it_changes_and_the_last_counts() -> None:
    """Two looks with the same wetness are one entry; the newest of each pot is read."""
    with in_memory() as book:
        for hours, lemon in ((0, 0.4), (12, 0.4), (24, 0.35)):
            kept = {"lemon": lemon, "bay": 0.5}
            now = AT + timedelta(hours=hours)
            book.write(lambda connection, kept=kept, now=now: keep_wetness(connection, kept, now))
        assert len(book.rows("SELECT * FROM wetness")) == 3
        assert last_wetness(book) == {
            "lemon": KeptWetness(AT + timedelta(hours=24), 0.35),
            "bay": KeptWetness(AT, 0.5),
        }
