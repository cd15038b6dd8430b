"""Faulty files and faulty calls through the command: a sentence and what to do, never a traceback."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from frostguard.weather.csv_file import write_weather_csv
from frostguard.weather.series import WeatherSeries
from tests.e2e.answers import open_meteo_answer
from tests.e2e.command import SAMPLES, Reply, assert_told_not_thrown, frostguard, frostguard_process
from tests.e2e.weathers import clear_calm_night
from tests.unit.garden.garden_texts import CORRECT
from tests.unit.garden.test_garden_faults import ONE_FAULT, Faulty
from tests.unit.weather.test_open_meteo import FAULTY as FAULTY_ANSWERS
from tests.unit.weather.test_weather_csv import FAULTY as FAULTY_TABLES

MILD = SAMPLES / "mild.csv"


@pytest.fixture
def garden(tmp_path: Path) -> Path:
    """A small correct garden file."""
    path = tmp_path / "garden.yaml"
    path.write_text(CORRECT, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def winter() -> WeatherSeries:
    """Weather to spoil, made once."""
    return clear_calm_night()


def told(reply: Reply, *sentences: str) -> None:
    """The call could not be answered, says these things, and printed nothing like an answer."""
    assert_told_not_thrown(reply)
    assert reply.stdout == ""
    for sentence in sentences:
        assert sentence in reply.stderr


# --- garden and settings files ---------------------------------------------------------------------------


def test_the_tables_are_as_long_as_promised() -> None:
    """At least thirty garden files and twenty weather files go through the command."""
    assert len(ONE_FAULT) >= 30
    assert len(FAULTY_ANSWERS) + len(FAULTY_TABLES) >= 20


@pytest.mark.parametrize("faulty", ONE_FAULT, ids=lambda faulty: faulty.name)
def test_a_faulty_garden_file_is_told_with_its_line(garden: Path, faulty: Faulty) -> None:
    """The person reads file, line and what to write instead on standard error; the exit code is 1."""
    garden.write_text(CORRECT.replace(faulty.instead_of, faulty.text, 1), encoding="utf-8")

    reply = frostguard("tonight", "--garden", garden, "--weather", MILD)

    where = f"{garden}: " if faulty.line is None else f"{garden}, line {faulty.line}: "
    told(reply, where, faulty.says)


def test_the_check_command_tells_the_same(garden: Path) -> None:
    """Whoever looks after the file first meets the same sentences as in the evening."""
    garden.write_text(CORRECT.replace("terracotta", "teracotta").replace("30", "30 L"), encoding="utf-8")

    check = frostguard("garden", "check", "--garden", garden)

    told(check, "line 13: ", "line 14: ", 'perhaps "terracotta"')
    assert frostguard("tonight", "--garden", garden, "--weather", MILD).stderr == check.stderr


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "the file is empty"),
        (b"\x7fELF\x02\x01\0\0\0", "not saved as UTF-8"),
        (CORRECT.encode("utf-16"), "not saved as UTF-8"),
        (b"PK\x03\x04" + bytes(200), "not saved as UTF-8"),
    ],
    ids=["empty", "program", "UTF-16", "archive"],
)
def test_a_garden_file_that_is_no_text_is_told(garden: Path, content: bytes, says: str) -> None:
    """A file of another kind is called that."""
    garden.write_bytes(content)
    told(frostguard("tonight", "--garden", garden, "--weather", MILD), str(garden), says)


@pytest.mark.parametrize("option", ["--garden", "--settings", "--weather"])
@pytest.mark.parametrize("kind", ["missing", "folder", "impossible"])
def test_a_file_that_cannot_be_opened_is_named(garden: Path, option: str, kind: str) -> None:
    """A wrong name, a folder, or a name that no file can have: which file, and what to do."""
    wrong = {
        "missing": garden.parent / "none.yaml",
        "folder": garden.parent,
        "impossible": garden.parent / ("x" * 400),
    }[kind]
    files = {"--garden": garden, "--weather": MILD, option: wrong}

    reply = frostguard("tonight", *(part for pair in files.items() for part in pair))

    told(reply, str(wrong))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("lift_alone_kg: ten\n", "line 1"),
        ("days: 99\n", "line 1"),
        ("people: 1\nunits: kelvin\n", "line 2"),
        ("peeple: 2\n", 'perhaps "people"'),
        ("working_windows:\n  - time: 18:30-19:15\n    days: someday\n", "line 3"),
        ("working_windows:\n  - time: late\n", "line 2"),
        ("working_windows:\n  - time: 20:00-19:00\n", "line 2"),
        ("site: {}\n", "line 1"),
    ],
)
def test_a_faulty_settings_file_is_told_with_its_line(garden: Path, text: str, says: str) -> None:
    """Settings are read as strictly as the garden."""
    settings = garden.parent / "settings.yaml"
    settings.write_text(text, encoding="utf-8")

    reply = frostguard("tonight", "--garden", garden, "--settings", settings, "--weather", MILD)

    told(reply, str(settings), says)


# --- weather files ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", FAULTY_TABLES)
def test_a_faulty_weather_table_is_told_with_its_line(garden: Path, name: str) -> None:
    """File, line and column of the fault."""
    content, sentence = FAULTY_TABLES[name]
    path = garden.parent / "weather.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())

    told(frostguard("tonight", "--garden", garden, "--weather", path), str(path), sentence)


@pytest.mark.parametrize("name", sorted(set(FAULTY_ANSWERS) - {"a word"}))  # a bare word is a table's line
def test_a_faulty_saved_answer_is_told(garden: Path, winter: WeatherSeries, name: str) -> None:
    """A saved answer of the service that cannot be used: which file, and what is wrong in it."""
    spoil, sentence = FAULTY_ANSWERS[name]
    path = garden.parent / "answer.json"
    path.write_text(json.dumps(spoil(open_meteo_answer(winter, hours=48))), encoding="utf-8")

    told(frostguard("tonight", "--garden", garden, "--weather", path), str(path), sentence)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "is empty"),
        (b" \n\n", "is empty"),
        (b"<!doctype html><title>502</title>", "is a web page"),
        (b'{"hourly": {"time": [1', "not readable as JSON"),
        (b"\x7fELF\x02\x01\0\0", "is not a text file"),
        (b"Dear diary, it was cold.\n", "line 1"),
    ],
    ids=["empty", "blank", "page", "cut off", "program", "prose"],
)
def test_a_weather_file_of_another_kind_is_told(garden: Path, content: bytes, says: str) -> None:
    """What is no weather at all is not searched for it."""
    path = garden.parent / "weather"
    path.write_bytes(content)

    told(frostguard("tonight", "--garden", garden, "--weather", path), str(path), says)


def test_weather_that_ends_before_the_morning_gives_no_all_clear(
    garden: Path, winter: WeatherSeries, tmp_path: Path
) -> None:
    """A file that stops in the evening cannot answer for the night."""
    path = tmp_path / "short.csv"
    write_weather_csv(path, winter, ())
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    ends = next(k for k, line in enumerate(lines) if line.startswith("2026-01-14T20:00"))
    path.write_text("".join(lines[:ends]), encoding="utf-8")

    told(frostguard("tonight", "--garden", garden, "--weather", path), "coming night")


# --- the call --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "option",
    [
        ("--at", "tonight"),
        ("--at", "2026-02-30T15:00"),
        ("--at", "9999-12-31T15:00"),
        ("--at", "18.75"),
        ("--at", "2026-01-14"),
        ("--at", ""),
        ("--days", "0"),
        ("--days", "17"),
        ("--days", "-1"),
        ("--days", "two"),
        ("--days", "2.5"),
        ("--units", "kelvin"),
        ("--explain",),
        ("--garden",),
        ("--tomorrow",),
    ],
    ids=" ".join,
)
def test_a_wrong_call_is_told_apart_from_no_answer(garden: Path, option: tuple[str, ...]) -> None:
    """Exit code 2 and the name of the option, so that a script can tell its own mistake from the weather's."""
    reply = frostguard("tonight", "--garden", garden, "--weather", MILD, *option)

    assert (reply.exit_code, reply.stdout) == (2, "")
    assert option[0] in reply.stderr and "Traceback" not in reply.stderr


@pytest.mark.parametrize("at", ["2020-01-01T15:00", "2031-01-01T15:00", "2025-11-20T12:00"])
def test_a_time_outside_the_weather_gives_no_all_clear(garden: Path, at: str) -> None:
    """Asked for another year or the last hours of the file: the answer is that there is none."""
    told(frostguard("tonight", "--garden", garden, "--weather", MILD, "--at", at))


@pytest.mark.parametrize("name", ["lemmon", "", "\x1b[2J", "x" * 500])
def test_explaining_an_unknown_pot_names_the_pots(garden: Path, name: str) -> None:
    """A pot that the garden does not have is told, not guessed; nothing in its name acts on the terminal."""
    reply = frostguard("tonight", "--garden", garden, "--weather", MILD, "--days", "1", "--explain", name)

    told(reply)
    assert "\x1b" not in reply.stderr and "lemon" in reply.stderr.casefold()


def test_with_json_a_fault_is_an_object_as_well(garden: Path) -> None:
    """A program that reads standard output finds the same sentences there, and the exit code is the same."""
    garden.write_text(CORRECT.replace("lemon", "lemmon"), encoding="utf-8")

    for reply in (
        frostguard("tonight", "--json", "--garden", garden, "--weather", MILD),
        frostguard("tonight", "--json", "--garden", SAMPLES / "none.yaml", "--weather", MILD),
        frostguard("tonight", "--json", "--garden", garden.parent, "--weather", MILD),
    ):
        assert_told_not_thrown(reply)
        assert set(reply.data) == {"format", "error", "next_step"} and reply.data["format"] == 1
        assert reply.data["error"] and reply.data["next_step"]
        assert reply.stderr.splitlines() == [
            *reply.data["error"].splitlines(),
            *reply.data["next_step"].splitlines(),
        ]


def test_a_faulty_file_in_a_process_of_its_own(garden: Path) -> None:
    """What the shell sees of it: exit code 1, standard error only."""
    garden.write_text(CORRECT.replace("30", "thirty"), encoding="utf-8")

    told(frostguard_process("tonight", "--garden", garden, "--weather", MILD), "line 14", "write digits")
