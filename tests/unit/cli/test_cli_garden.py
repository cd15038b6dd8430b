"""The garden file from the terminal: begun, added to, taken over from a table."""

from __future__ import annotations

import pytest
from typer.testing import CliRunner

from frostguard.cli.app import app
from frostguard.garden.reader import load_garden
from tests.e2e.command import DEMO_GARDEN

PLACE = ["", "46.05", "14.51", "298", "Europe/Ljubljana", "14", "city"]
SPOTS = ["deck", "n", "partly", "open", "decking", "n", "y", "cellar", "y", "unheated", "n", "2", "n"]
POTS = ["lemmon tree", "", "lemon", "terracotta", "a lot", "30", "deck", "n"]


def run(*words: object, answers: list[str] | None = None):
    """One command with its answers typed."""
    return CliRunner().invoke(app, [str(word) for word in words], input="\n".join(answers or []) + "\n")


@pytest.fixture
def garden(tmp_path):
    """A copy of the demo's file."""
    path = tmp_path / "garden.yaml"
    path.write_bytes(DEMO_GARDEN.read_bytes())
    return path


def test_questions_make_a_garden_file(tmp_path):
    """Place, spots and a pot, with two answers that cannot stand asked again."""
    file = tmp_path / "new" / "garden.yaml"
    told = run("garden", "new", "--garden", file, answers=[*PLACE, *SPOTS, *POTS])
    assert told.exit_code == 0, told.output
    found = load_garden(file)
    assert [spot.name for spot in found.spots] == ["deck", "cellar"]
    assert found.spots[1].room is not None
    assert found.pots[0].plantings[0].name == "lemon"
    assert "is a number" in told.output


def test_numbers_may_have_a_decimal_comma_and_imperial_units(tmp_path):
    """46,05 is 46.05; feet, square feet and US gallons go into the file as metres, square metres and litres."""
    file = tmp_path / "garden.yaml"
    place = ["", "46,05", "14,51", "978", "Europe/Ljubljana", "46", "city"]
    spots = ["deck", "no", "partly", "open", "decking", "No", "yes", "cellar", "y", "unheated", "n", "21,5", ""]
    told = run("garden", "new", "--garden", file, "--units", "imperial",
               answers=[*place, *spots, "lemon", "terracotta", "8", "deck", "n"])  # fmt: skip
    assert told.exit_code == 0, told.output
    found = load_garden(file)
    # 1 ft is 0.3048 m, 1 US gallon 3.785412 l (NIST Special Publication 811, appendix B)
    assert found.site.elevation_m == pytest.approx(978 * 0.3048, abs=0.1)
    assert found.site.height_above_ground_m == pytest.approx(46 * 0.3048, abs=0.01)
    assert found.spots[1].free_floor_m2 == pytest.approx(21.5 * 0.3048**2, abs=0.001)
    assert found.pots[0].volume_l == pytest.approx(8 * 3.785412, abs=0.01)
    assert (found.site.latitude_deg, found.site.longitude_deg) == (46.05, 14.51)


def test_yes_or_no_is_asked_again_in_words_of_our_own(tmp_path):
    """Whatever is neither is told so, and asked again."""
    told = run("garden", "new", "--garden", tmp_path / "garden.yaml", answers=[*PLACE, "deck", "maybe"])
    assert "Write yes or no." in told.output
    assert "invalid" not in told.output


def test_a_set_up_that_is_broken_off_writes_nothing(tmp_path):
    """When the answers end early there is no file, and none half written."""
    file = tmp_path / "garden.yaml"
    told = run("garden", "new", "--garden", file, answers=[*PLACE, *SPOTS])
    assert told.exit_code == 130
    assert "nothing was written" in told.output
    assert list(tmp_path.iterdir()) == []


def test_an_empty_answer_that_cannot_stand_is_told_why(tmp_path):
    """The question does not just come again."""
    told = run("garden", "new", "--garden", tmp_path / "garden.yaml", answers=["", ""])
    assert "write something" in told.output


def test_a_garden_file_that_is_there_is_not_begun_anew(garden):
    """Nothing is asked, nothing is overwritten."""
    told = run("garden", "new", "--garden", garden)
    assert told.exit_code == 1
    assert "there already" in told.output
    assert garden.read_bytes() == DEMO_GARDEN.read_bytes()


def test_a_pot_is_added_by_four_answers_or_four_options(garden):
    """Both ways write the same pot."""
    asked = run("garden", "add", "--garden", garden, answers=["olive", "plastic", "20", "deck"])
    told = run("garden", "add", "--garden", garden, "--plant", "olive", "--material", "plastic", "--volume", "20",
               "--spot", "deck")  # fmt: skip
    assert (asked.exit_code, told.exit_code) == (0, 0), asked.output + told.output
    first, second = load_garden(garden).pots[-2:]
    assert (first.plantings, first.wall, first.radius_m) == (second.plantings, second.wall, second.radius_m)


def test_a_table_with_a_fault_changes_nothing(garden, tmp_path):
    """The fault is told with its line, and the garden file stays."""
    table = tmp_path / "pots.csv"
    table.write_text("plant,material,volume_l,spot\nlemon,wood,10,deck\nlemon,wood,ten,deck\n")
    told = run("garden", "import", table, "--garden", garden)
    assert told.exit_code == 1
    assert "pots.csv, line 3" in told.output
    assert garden.read_bytes() == DEMO_GARDEN.read_bytes()
    table.write_text("plant,material,volume_l,spot\nlemon,wood,10,deck\n")
    assert run("garden", "import", table, "--garden", garden).exit_code == 0
    assert len(load_garden(garden).pots) == len(load_garden(DEMO_GARDEN).pots) + 1


def test_the_schema_is_printed_as_json():
    """An editor can be pointed at what is printed."""
    import json

    assert json.loads(run("garden", "schema").output)["type"] == "object"
