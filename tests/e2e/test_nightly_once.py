"""The check as it is called by a timer, with the real planner, a weather file and a given clock."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from frostguard import places
from tests.e2e.command import DEMO_GARDEN, SAMPLES, Reply, frostguard
from tests.unit.advice.terraces import simulate_coarsely

WEATHER = SAMPLES / "clear-calm-night.csv"
GARDEN = """\
site: {latitude: 46.05, longitude: 14.51, elevation_m: 298, time_zone: Europe/Ljubljana}
spots:
  - {name: deck, beneath: decking}
  - {name: wash room, room: frost-free, light: bright, free_floor_m2: 2}
pots:
  - {id: lemon, label: Lemon by the door, plant: lemon, material: plastic, volume_l: 4, spot: deck, value: high}
"""


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A data folder of its own, and the coarse engine: what is told does not hang on a tenth of a kelvin."""
    folder = tmp_path_factory.mktemp("data")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(places.DATA_VARIABLE, str(folder))
        simulate_coarsely(patch)
        (folder / "garden.yaml").write_text(GARDEN, encoding="utf-8")
        patch.setenv(places.GARDEN_VARIABLE, str(folder / "garden.yaml"))
        yield folder


def look_at(when: str) -> Reply:
    """What is due at that time, told on the terminal."""
    return frostguard("nightly", "--once", "--weather", WEATHER, "--at", when)


def rows(home: Path, sql: str) -> list[Any]:
    """What the trial's logbook holds."""
    with closing(sqlite3.connect(home / "trial.sqlite3")) as book:
        return book.execute(sql).fetchall()


def test_an_evening_and_its_day(home: Path) -> None:
    """Evening, morning, the last look and the next evening: told, confirmed or changed, and told for the next night."""
    evening = look_at("2026-01-13T18:30")
    assert evening.exit_code == 0, evening
    assert "for the night of Wed 14 Jan" in evening.unfolded and "Lemon by the door" in evening.stdout
    again = look_at("2026-01-13T18:45")
    assert again.stdout == "" and "The next look is at 2026-01-14 07:00+01:00" in again.stderr
    morning = look_at("2026-01-14T07:05")
    assert "for Wed 14 Jan" in morning.unfolded
    following = look_at("2026-01-14T18:02")
    assert "Thu 15 Jan" in following.unfolded
    looked = rows(home, "SELECT look, night, ended FROM runs ORDER BY id")
    assert ("morning", "2026-01-14", "well") in looked and ("evening", "2026-01-15", "well") in looked
    assert {state for (state,) in rows(home, "SELECT state FROM deliveries")} == {"sent"}
    nights = rows(home, "SELECT night, found FROM nights ORDER BY night")
    assert [night for night, _ in nights] == ["2026-01-13", "2026-01-14", "2026-01-15"]
    assert ("2026-01-14", "plan") in nights
    assert rows(home, "SELECT DISTINCT pot FROM wetness") == [("lemon",)]


def test_the_same_forecast_changes_no_list(home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where minutes are scarce the best list is one of many nearly as good; the one that was told stands."""
    monkeypatch.setenv(places.DATA_VARIABLE, str(tmp_path))
    (tmp_path / "settings.yaml").write_text('working_windows: [{time: "16:30-17:15", lit: yes}]\n', encoding="utf-8")
    files = ("--garden", DEMO_GARDEN, "--settings", tmp_path / "settings.yaml", "--weather", WEATHER)
    morning = frostguard("nightly", "--once", *files, "--at", "2026-01-14T07:05")
    assert "jobs for the night of Wed 14 Jan" in morning.unfolded and "there is no time left" in morning.unfolded
    before = rows(tmp_path, "SELECT pot, protection FROM jobs WHERE state = 'open' ORDER BY number")
    frostguard("nightly", "--once", *files, "--at", "2026-01-14T15:35")
    after = rows(tmp_path, "SELECT pot, protection FROM jobs WHERE state = 'open' ORDER BY number")
    assert ("last", "well") in rows(tmp_path, "SELECT look, ended FROM runs")
    assert after[: len(before)] == before  # a minute that was left over may go to one more
    assert not rows(tmp_path, "SELECT * FROM notices WHERE kind = 'changed' AND interrupts")


def test_trying_out_leaves_the_real_logbook_alone(home: Path) -> None:
    """What is invented is said to nobody's memory."""
    assert not (home / "logbook.sqlite3").exists()


def test_trying_out_needs_once(home: Path) -> None:
    """A waiting process has no other clock than the machine's."""
    assert frostguard("nightly", "--at", "2026-01-13T18:30", "--garden", DEMO_GARDEN).exit_code == 2


def test_install_shows_and_writes_only_when_asked(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Shown, nothing is touched; written, two files in the person's own folder."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(home / "config"))
    shown = frostguard("nightly", "install", "--garden", DEMO_GARDEN)
    assert shown.exit_code == 0
    assert "OnCalendar" in shown.stdout and "crontab -e" in shown.stdout
    assert "No message by 19:00: look yourself." in shown.stdout
    assert not (home / "config").exists()
    written = frostguard("nightly", "install", "--garden", DEMO_GARDEN, "--write")
    assert "No message by 19:00: look yourself." in written.stdout
    files = sorted(path.name for path in (home / "config").rglob("*") if path.is_file())
    assert files == ["frostguard.service", "frostguard.timer"]


def test_a_faulty_garden_is_told_on_the_channel_and_by_the_exit_code(home: Path, tmp_path: Path) -> None:
    """Nobody sees with it: a message, and 1."""
    (tmp_path / "garden.yaml").write_text("site: 3\n")
    (tmp_path / "settings.yaml").write_text("notices: {quiet_hours: no}\n")  # the clock is the machine's here
    files = ("--garden", tmp_path / "garden.yaml", "--settings", tmp_path / "settings.yaml", "--weather", WEATHER)
    reply = frostguard("nightly", "--once", *files)
    assert reply.exit_code == 1
    assert "Look yourself" in reply.unfolded


def test_a_person_at_the_terminal_reads_no_data(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Lines of data are for what keeps them; at a terminal trouble alone is told, in words."""
    from frostguard.cli import nightly
    from frostguard.watch.log import log_to_stderr

    told: list[str] = []
    monkeypatch.setattr(nightly, "print_err", told.append)
    monkeypatch.setattr(nightly.sys, "stderr", type("Terminal", (), {"isatty": lambda self: True})())
    log = nightly._log(quiet=False)
    log("run", ended="well")
    log("channel", why="mail: refused\n{}")
    assert told == ["channel: mail: refused {}"]
    monkeypatch.setattr(nightly.sys, "stderr", type("Pipe", (), {"isatty": lambda self: False})())
    assert nightly._log(quiet=False) is log_to_stderr
