"""The plant table's commands: what is printed, in which form, and with which exit code."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from frostguard.cli import exits
from frostguard.cli.app import app


@pytest.fixture(autouse=True)
def _home_of_its_own(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("FROSTGUARD_CONFIG_DIR", str(tmp_path))
    monkeypatch.delenv("FROSTGUARD_SETTINGS", raising=False)


def run(*arguments: str) -> Any:
    """The command's exit code, standard output and standard error."""
    return CliRunner().invoke(app, ["plants", *arguments])


@pytest.mark.parametrize("name", [("lemon",), ("citronnier",), ("Citrus ×limon",), ("LEMON", "tree")])
def test_show_takes_any_name_with_or_without_quotes(name):
    """Botanical, English and French names lead to the same page, several words without quotes too."""
    result = run("show", *name)

    assert result.exit_code == 0
    assert result.stdout.startswith("lemon (Citrus ×limon)")
    assert result.stderr == ""


@pytest.mark.parametrize(("name", "begins"), [
    (("H4",), "H4 on the UK scale"),
    (("7b",), "Zone 7b on the USDA scale"),
    (("zone", "8a"), "Zone 8a on the USDA scale"),
])
def test_show_tells_what_a_rating_stands_for(name, begins):
    """A rating in place of a name is explained."""
    assert run("show", *name).stdout.startswith(begins)


def test_an_unknown_plant_is_told_in_one_sentence_with_near_names():
    """A misspelt name is not guessed; the sentence offers what looks like it."""
    result = run("show", "olender")

    assert result.exit_code == exits.COULD_NOT_TELL == 1
    sentence, next_step = result.stderr.splitlines()
    assert sentence.startswith('No plant called "olender" is in the table; near names: oleander')
    assert "frostguard plants search" in next_step
    assert result.stdout == ""


def test_a_name_like_no_other_has_no_near_names():
    """Nonsense is refused without wild guesses, and cannot act on the terminal."""
    result = run("show", "qq\x1b[2Jzz")

    assert result.exit_code == 1
    assert result.stderr.splitlines()[0] == 'No plant called "qq?[2Jzz" is in the table.'


@pytest.mark.parametrize("rating", ["H9", "14a", "zone 99"])
def test_a_rating_off_the_scales_is_told_as_one(rating):
    """What is written like a rating is refused as a rating, with the scales."""
    result = run("show", rating)

    assert result.exit_code == 1
    assert "neither a USDA zone nor a UK hardiness rating" in result.stderr
    assert '"H1a" to "H7"' in result.stderr


def test_an_error_is_data_where_data_was_asked_for():
    """With `--json` the refusal is an object as well."""
    result = run("show", "olender", "--json")

    assert result.exit_code == 1
    assert json.loads(result.stdout)["error"].startswith('No plant called "olender"')


def test_show_search_and_list_give_data():
    """Each with format number 1 and the same record of a plant."""
    shown = json.loads(run("show", "lemon", "--json").stdout)
    found = json.loads(run("search", "lemon", "--json").stdout)
    listed = json.loads(run("list", "--group", "citrus", "--json").stdout)
    of_rating = json.loads(run("show", "H4", "--json").stdout)

    assert [data["format"] for data in (shown, found, listed, of_rating)] == [1, 1, 1, 1]
    assert shown["plant"] == found["plants"][0]
    assert shown["plant"] in listed["plants"]
    assert {plant["group"] for plant in listed["plants"]} == {"citrus"}
    assert of_rating["rating"]["colder_c"] == -10.0


@pytest.mark.parametrize(("text", "botanical"), [
    ("olender", "Nerium oleander"),
    ("mapel", "Acer palmatum"),
    ("lorier rose", "Nerium oleander"),
    ("hortenssia", "Hydrangea macrophylla"),
    ("petit olivier en pot", "Olea europaea"),
    ("rose laurier", "Nerium oleander"),
])
def test_search_forgives_spelling_order_and_words_beside(text, botanical):
    """A misspelt, turned round or wrapped-up name still finds its plant, in both languages."""
    result = run("search", *text.split())

    assert result.exit_code == 0
    assert botanical in "".join(result.stdout.splitlines(keepends=True)[:3])


def test_a_search_that_finds_nothing_leaves_with_one():
    """The sentence says so, and where all plants are."""
    result = run("search", "qqqwwwzzz")

    assert result.exit_code == 1
    assert 'looks like "qqqwwwzzz"' in result.stderr and "plants list" in result.stderr


def test_list_keeps_to_a_group_by_its_code_or_its_heading():
    """Only the group asked for, whichever of its two names is given; all groups without one."""
    by_code = run("list", "--group", "palms").stdout

    assert by_code == run("list", "--group", "Palms and the like").stdout
    assert "Trachycarpus fortunei" in by_code and "Citrus" not in by_code
    everything = run("list").stdout
    assert "Trachycarpus fortunei" in everything and "Citrus ×limon" in everything


def test_an_unknown_group_is_told_with_all_groups():
    """The person sees what can be asked for."""
    result = run("list", "--group", "seaweeds")

    assert result.exit_code == 1
    assert '"seaweeds"' in result.stderr and "citrus" in result.stderr


def test_units_follow_the_option_then_the_settings(tmp_path):
    """As with the evening's answer: the option, else the settings file, else metric."""
    assert "°C" in run("show", "lemon").stdout
    (tmp_path / "settings.yaml").write_text("units: imperial\n")
    assert "°F" in run("show", "lemon").stdout and "°F" in run("list", "--group", "citrus").stdout
    assert "°F" in run("show", "H4").stdout
    assert "°C" in run("show", "lemon", "--units", "metric").stdout


@pytest.mark.parametrize("arguments", [("show",), ("search",), (), ("show", "lemon", "--units", "kelvin")])
def test_a_wrong_call_leaves_with_two(arguments):
    """A name that is missing or a unit that does not exist is wrong usage."""
    assert run(*arguments).exit_code == exits.WRONG_USAGE


@pytest.mark.parametrize("command", ["show", "search", "list"])
def test_every_command_has_help(command):
    """Each says what it is for."""
    result = run(command, "--help")

    assert result.exit_code == 0
    assert "Usage:" in result.stdout and len(result.stdout) > 150


def test_help_on_plants_reads_no_table():
    """The help of these commands needs neither the table nor arrays."""
    code = (
        "import sys\nfrom frostguard.cli import main\nsys.argv = ['frostguard', 'plants', '--help']\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "print([name for name in ('numpy', 'yaml', 'frostguard.hardiness.limits') if name in sys.modules])"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)

    assert result.stdout.splitlines()[-1] == "[]"
