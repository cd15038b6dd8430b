"""The logbook's file: made, migrated, damaged, foreign, newer, on a full disk and in a read-only folder."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from frostguard.logbook.book import Logbook, existing_logbook, open_logbook
from frostguard.logbook.measured import Reading, TunedValue
from frostguard.logbook.schema import APPLICATION_ID, LATEST, TABLES

NOW = datetime(2026, 1, 14, 17, 30, tzinfo=UTC)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where the logbook is to be."""
    return tmp_path / "data" / "logbook.sqlite3"


def readings(count: int, pot: str = "lemon", start: datetime = NOW) -> list[Reading]:
    """Hourly readings of one thermometer."""
    return [
        Reading(f"probe {pot}", start + timedelta(hours=k), 4.0 - 0.1 * k, "core", pot=pot) for k in range(count)
    ]


def test_a_new_logbook_is_ours_and_for_the_person_only(path: Path) -> None:
    """Write-ahead log, strict tables, our application id and version, and a mode that keeps others out."""
    with open_logbook(path) as book:
        assert book.on_disk and book.trouble is None
        assert book.rows("PRAGMA journal_mode")[0][0] == "wal"
        assert book.rows("PRAGMA application_id")[0][0] == APPLICATION_ID
        assert book.rows("PRAGMA user_version")[0][0] == LATEST
        assert book.rows("PRAGMA foreign_keys")[0][0] == 1
        tables = book.rows("SELECT name, strict FROM pragma_table_list WHERE name NOT LIKE 'sqlite_%'")
        assert {row["name"] for row in tables} == set(TABLES)
        assert all(row["strict"] for row in tables)
    assert path.stat().st_mode & 0o077 == 0


def test_asking_makes_no_file(path: Path) -> None:
    """Where there is no logbook a question finds none, and leaves none behind."""
    assert existing_logbook(path) is None
    assert not path.parent.exists()


def test_readings_come_back_in_order_and_once(path: Path) -> None:
    """A reading of the same thermometer and hour replaces the earlier one; others are kept apart by pot."""
    with open_logbook(path) as book:
        assert book.add_readings(readings(5)) == 5
        assert book.add_readings(readings(6)) == 1
        book.add_readings(readings(2, pot="olive"))
    with open_logbook(path) as book:
        assert book.readings(pot="lemon") == tuple(readings(6))
        assert len(book.readings()) == 8
        hour = timedelta(hours=1)
        assert book.readings(pot="lemon", since=NOW + hour, until=NOW + 3 * hour) == tuple(readings(3)[1:])


def test_tuned_values_are_undone_by_a_new_row(path: Path) -> None:
    """The latest value counts; undoing a batch brings back what was before it, or nothing, and deletes nothing."""
    first = TunedValue("site", "clear_calm_bias_k", -1.0, 0.5, "12 nights")
    second = TunedValue("site", "clear_calm_bias_k", -1.4, 0.3, "30 nights")
    pot = TunedValue("pot/lemon", "wind_factor", 0.8, 0.1)
    with open_logbook(path) as book:
        book.store_tuned([first], now=NOW)
        batch = book.store_tuned([second, pot], now=NOW)
        assert book.tuned() == (pot, second)
        book.undo_tuned(batch, now=NOW)
        assert book.tuned() == (first,)
        assert book.rows("SELECT count(*) FROM tuned")[0][0] == 5
        with pytest.raises(ValueError, match="no batch 99"):
            book.undo_tuned(99, now=NOW)


def test_what_is_taken_back_twice_goes_back_two_lessons(path: Path) -> None:
    """Taking back never brings back what was taken back before; a new lesson after it is the next to go."""
    with open_logbook(path) as book:
        assert book.last_learnt() is None
        for value in (-1.0, -1.4):
            book.store_tuned([TunedValue("site", "clear_calm_bias_k", value, 0.5)], now=NOW)
        left = []
        for _ in range(2):
            last = book.last_learnt()
            assert last is not None
            book.undo_tuned(last, now=NOW)
            left.append([one.value for one in book.tuned()])
        assert left == [[-1.0], []] and book.last_learnt() is None
        third = book.store_tuned([TunedValue("site", "clear_calm_bias_k", -0.3, 0.5)], now=NOW)
        assert book.last_learnt() == third


def test_a_write_is_whole_or_not_at_all(path: Path) -> None:
    """An action that fails half-way leaves nothing of itself."""

    def fails(connection: sqlite3.Connection) -> None:
        connection.execute("INSERT INTO days VALUES ('2026-01-14', -3, 1)")
        raise RuntimeError("half-way")

    with open_logbook(path) as book:
        with pytest.raises(RuntimeError):
            book.write(fails)
        assert book.rows("SELECT * FROM days") == []


def test_a_damaged_logbook_is_kept_and_what_can_be_read_goes_on(path: Path) -> None:
    """The damaged bytes lie under another name, untouched; sound tables are carried over."""
    with open_logbook(path) as book:
        book.store_tuned([TunedValue("site", "bias_k", -1.0, 0.5)], now=NOW)
        book.add_readings(readings(4000))
        page = book.rows("SELECT rootpage FROM sqlite_master WHERE name = 'readings'")[0][0]
        book.rows("PRAGMA wal_checkpoint(TRUNCATE)")
    body = bytearray(path.read_bytes())
    body[(page - 1) * 4096 : page * 4096] = os.urandom(4096)
    path.write_bytes(body)

    with open_logbook(path, now=NOW) as book:
        assert book.trouble is not None and book.on_disk
        assert "damaged" in book.trouble.message and "logbook-damaged-20260114T173000" in book.trouble.message
        assert [value.name for value in book.tuned()] == ["bias_k"]
        assert book.rows("PRAGMA integrity_check")[0][0] == "ok"
    assert (path.parent / "logbook-damaged-20260114T173000.sqlite3").read_bytes() == bytes(body)
    assert path.stat().st_mode & 0o077 == 0
    with open_logbook(path) as book:
        assert book.trouble is None


@pytest.mark.parametrize("text", [b"shopping: fleece\n", b"\x00" * 9000])
def test_a_file_of_another_kind_is_left_alone(path: Path, text: bytes) -> None:
    """The check goes on from memory and says which file to move away."""
    path.parent.mkdir()
    path.write_bytes(text)
    with open_logbook(path) as book:
        assert not book.on_disk
        assert book.trouble is not None and str(path) in book.trouble.message
        book.add_readings(readings(1))
        assert len(book.readings()) == 1
    assert path.read_bytes() == text


def test_another_programs_database_is_left_alone(path: Path) -> None:
    """Tables under another application id, or none, are not ours."""
    path.parent.mkdir()
    with closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TABLE bookmarks (a)")
        other.commit()
    before = path.read_bytes()
    with open_logbook(path) as book:
        assert not book.on_disk and book.trouble is not None and "no logbook" in book.trouble.message
    assert path.read_bytes() == before


def test_a_newer_logbook_is_left_alone(path: Path) -> None:
    """What a later version wrote is not touched; the person is told to bring frostguard up to date."""
    with open_logbook(path):
        pass
    with closing(sqlite3.connect(path)) as later:
        later.execute(f"PRAGMA user_version = {LATEST + 1}")
    before = path.read_bytes()
    with open_logbook(path) as book:
        assert not book.on_disk and book.trouble is not None and "newer" in book.trouble.message
    assert path.read_bytes() == before


def fill_up(book: Logbook) -> None:
    """Give the file no page more than it has, as a full disk would."""
    pages = book.rows("PRAGMA page_count")[0][0]
    book.rows(f"PRAGMA max_page_count = {pages}")


def test_a_full_disk_does_not_stop_the_check(path: Path) -> None:
    """What was known is still known, what is new is kept until the end, and the person is told."""
    with open_logbook(path) as book:
        book.add_readings(readings(3))
        fill_up(book)
        book.add_readings(readings(5000, pot="olive"))
        assert not book.on_disk
        assert book.trouble is not None and "full" in book.trouble.message
        assert len(book.readings(pot="lemon")) == 3 and len(book.readings(pot="olive")) == 5000
    with open_logbook(path) as book:
        assert len(book.readings()) == 3  # nothing half-written
        assert book.rows("PRAGMA integrity_check")[0][0] == "ok"


def test_a_file_that_may_only_be_read_does_not_stop_the_check(path: Path) -> None:
    """As on a disk mounted read-only: known things are known, new ones are kept in memory, and it is said."""
    with open_logbook(path) as book:
        book.add_readings(readings(2))
        book.rows("PRAGMA query_only = ON")
        book.add_readings(readings(4))
        assert not book.on_disk and book.trouble is not None
        assert len(book.readings()) == 4


def test_a_place_where_no_folder_can_be_made_is_told(tmp_path: Path) -> None:
    """A file lies where the data folder should be: memory, and a sentence with the reason."""
    (tmp_path / "data").write_text("in the way")
    with open_logbook(tmp_path / "data" / "logbook.sqlite3") as book:
        assert not book.on_disk and book.trouble is not None
        book.add_readings(readings(1))
