"""From a logger's file to advice that uses what it taught, by the commands alone."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from frostguard.advice.tuned import tuned_from
from frostguard.cli.app import app
from frostguard.logbook.book import open_logbook
from frostguard.weather.night_errors import SiteHabits

ROOT = Path(__file__).parents[2]
GARDEN = str(ROOT / "config" / "garden.yaml")
WEATHER = str(ROOT / "samples" / "clear-calm-night.csv")
SAMPLE = str(ROOT / "samples" / "thermometer.csv")


@pytest.fixture
def run(tmp_path, monkeypatch):
    """The command, on a data folder of its own."""
    monkeypatch.setenv("FROSTGUARD_DATA_DIR", str(tmp_path))
    return lambda *words: CliRunner().invoke(app, [str(word) for word in words])


def test_the_sample_teaches_the_air_and_can_be_taken_back(run, tmp_path):
    """Clear calm nights were made 1.6 K colder than the weather and others 0.7 K warmer: tune finds most of it."""
    read = run("readings", "import", SAMPLE, "--garden", GARDEN, "--spot", "house wall")
    assert read.exit_code == 0 and "728 new readings" in read.output and "Clock of the file: utc" in read.output
    found = run("tune", "--garden", GARDEN, "--weather", WEATHER)
    assert found.exit_code == 0, found.output
    with open_logbook(tmp_path / "logbook.sqlite3") as book:
        habits = tuned_from(book.tuned(), SiteHabits()).habits
    # shrunk by n / (n + 4), rounded to half degrees, the lowest of noisy values lies lower: a kelvin of room
    assert habits is not None
    assert -2.2 < habits.clear_calm_bias_k < -0.6 and -0.2 < habits.bias_k < 1.0
    assert run("tune", "undo").exit_code == 0
    with open_logbook(tmp_path / "logbook.sqlite3") as book:
        assert tuned_from(book.tuned(), SiteHabits()).is_empty
    again = run("tune", "undo")  # does not bring back what was taken back
    assert again.exit_code == 1 and "Nothing was learnt yet" in again.output


def test_the_second_file_of_a_logger_is_not_asked_again(run):
    """Where it lies is asked once for each layout of file."""
    assert "not known where" in run("readings", "import", SAMPLE, "--garden", GARDEN).output
    run("readings", "import", SAMPLE, "--garden", GARDEN, "--spot", "deck")
    again = run("readings", "import", SAMPLE, "--garden", GARDEN)
    assert again.exit_code == 0 and "0 new readings for deck air" in again.output


def test_a_file_read_again_takes_the_place_of_what_it_brought(run, tmp_path):
    """With another clock or unit, as a refusal asks for it, no number of the first time is left beside the new ones."""

    def kept() -> list[tuple[str, float]]:
        with open_logbook(tmp_path / "logbook.sqlite3") as book:
            return [(f"{one.at:%d %H:%M}", one.temperature_c) for one in book.readings()]

    words = ("readings", "import", SAMPLE, "--garden", GARDEN)
    run(*words, "--spot", "deck")
    first = kept()
    for change in (("--clock-ahead", "0.5"), ("--clock", "local")):
        assert "728 new readings" in run(*words, *change).output or change[0] == "--clock"
        assert len(kept()) == len(first) and kept() != first
    assert run(*words, "--clock", "utc").exit_code == 0 and kept() == first
    again = run(*words)
    assert "read as the last file" in again.output and "0 new readings" in again.output and kept() == first


def test_the_unit_said_once_holds_for_the_next_file(run, tmp_path):
    """A heading without a unit: what was said of the first file is taken for the second, and told."""
    for name, day in (("one.csv", 13), ("two.csv", 14)):
        (tmp_path / name).write_text(f"time,probe\n2026-01-{day} 06:00,32.0\n2026-01-{day} 07:00,23.0\n")
    run("readings", "import", tmp_path / "one.csv", "--garden", GARDEN, "--spot", "deck", "--unit", "F")
    second = run("readings", "import", tmp_path / "two.csv", "--garden", GARDEN)
    assert "from -5.0 to 0.0 °C" in second.output and "read as the last file" in second.output


@pytest.mark.parametrize("hours", ["nan", "inf", "1e9", "-1e12"])
def test_a_clock_that_none_is_off_by_is_refused(run, hours):
    """Wrong usage, in one sentence."""
    found = run("readings", "import", SAMPLE, "--garden", GARDEN, "--spot", "deck", f"--clock-ahead={hours}")
    assert found.exit_code == 2 and "No clock is off by so much" in found.output


def test_lowest_values_a_day_apart_are_no_gaps(run, tmp_path):
    """One number a day is what a minimum thermometer gives."""
    rows = "".join(f"{day:02d}.01.2026;{-1.0 - day % 3:.1f};5,0\n".replace(".0;", ",0;") for day in range(2, 13))
    (tmp_path / "min.csv").write_text("date;Min;Max\n" + rows)
    run("readings", "import", tmp_path / "min.csv", "--garden", GARDEN, "--spot", "deck")
    found = run("tune", "--garden", GARDEN, "--weather", WEATHER)
    assert "Air, from 11 nights" in found.output and "gap" not in found.output


def test_one_reading_by_hand_is_kept_and_shown(run):
    """A minimum of the morning, with its pot and place; a place that no pot has is refused."""
    words = ("readings", "add", "--garden", GARDEN, "--pot", "lemon", "--lowest", "--at", "2026-01-13T07:00")
    assert run(*words, "--where", "core", "--", "-1.5").exit_code == 0
    assert "lemon core lowest, 1 reading\n" in run("readings", "show").output.replace(": core lowest", "")
    assert run(*words, "--where", "cellar", "--", "-1.5").exit_code == 1
    assert run(*words, "--where", "core", "--", "300").exit_code == 1
    assert "-1.5 °C" in run(*words, "--where", "core", "--", "-1,5").output  # the sign that the person writes
    assert run(*words, "--where", "core", "much").exit_code == 2
    at_a_spot = run("readings", "add", "--garden", GARDEN, "--spot", "deck", "--where", "core", "1.5")
    assert at_a_spot.exit_code == 1 and "hangs in the air" in at_a_spot.output
    to_come = run("readings", "add", "--garden", GARDEN, "--spot", "deck", "--at", "2049-01-13T07:00", "1.5")
    assert to_come.exit_code == 1 and "yet to come" in to_come.output


def test_readings_that_no_weather_is_known_of_are_said(run):
    """One morning of another winter teaches nothing, and why is said; so is a morning that is too few."""
    words = ("readings", "add", "--garden", GARDEN, "--spot", "deck", "--lowest", "--", "1.5")
    run(*words[:-2], "--at", "2025-03-13T07:00", *words[-2:])
    tune = ("tune", "--garden", GARDEN, "--weather", WEATHER)
    found = run(*tune)
    assert found.exit_code == 1 and "1 of 1 readings are left out" in found.output
    run(*words[:-2], "--at", "2026-01-10T07:00", *words[-2:])
    assert "the lowest of 1 night is known; 3 are needed" in run(*tune).output


def test_a_thermometer_in_the_sun_teaches_nothing(run, tmp_path):
    """The sample with nine degrees more at midday is refused with the reason, and nothing is kept."""
    lines = Path(SAMPLE).read_text(encoding="utf-8-sig").splitlines()
    sunny = [
        line if not 9 <= int(line[11:13]) <= 14 else line.replace(cell := line.split(";")[1], _warmer(cell))
        for line in lines[3:]
    ]
    (tmp_path / "sun.csv").write_text("\n".join([*lines[:3], *sunny]), encoding="utf-8")
    run("readings", "import", tmp_path / "sun.csv", "--garden", GARDEN, "--spot", "deck")
    found = run("tune", "--garden", GARDEN, "--weather", WEATHER)
    assert found.exit_code == 1 and "The sun shines on it" in " ".join(found.output.split())
    assert "Nothing was kept" in found.output


def test_where_a_thermometer_would_tell_most(run):
    """For one pot: a place, a stay, and what is left of the doubt; less than without it."""
    found = run("tune", "--suggest", "--pot", "lemon", "--garden", GARDEN, "--weather", WEATHER)
    told = " ".join(found.output.split())
    assert found.exit_code == 0, found.output
    assert "one standard deviation" in told and "at the wall on its barest side" in told and "nights:" in told


def test_a_change_is_tried_with_what_was_learnt(run):
    """`tune --try` answers as `what-if` does; what is no change is refused in one sentence."""
    words = ("--pot", "lemon", "--garden", GARDEN, "--weather", WEATHER, "--at", "2026-01-14T15:00")
    found = run("tune", "--try", "wall=foam", *words)
    assert found.exit_code in (0, 3), found.output
    assert "with a wall of foam" in found.output and "as it stands" in found.output
    for wrong in ("paint=red", "wall=", "volume=much"):
        assert run("tune", "--try", wrong, *words).exit_code == 2
    assert run("tune", "--try", "wall=foam", "--garden", GARDEN, "--weather", WEATHER).exit_code == 2


def _warmer(cell: str) -> str:
    return f"{float(cell.replace(',', '.')) + 9.0:.1f}".replace(".", ",")
