"""The settings file: what is read, what is refused, and the example that comes with the project."""

from __future__ import annotations

from collections.abc import Callable
from datetime import time
from pathlib import Path

import pytest

from frostguard.errors import GardenFileError
from frostguard.garden.reader import load_settings
from frostguard.garden.settings import Settings, Units, WorkingWindow

DEMO = Path(__file__).parents[3] / "config" / "settings.yaml"

ReadSettings = Callable[[str], Settings]


@pytest.mark.parametrize("text", ["", "# nothing yet\n", "---\n"])
def test_an_empty_file_keeps_the_defaults(read_settings: ReadSettings, text: str) -> None:
    """Whatever is not said keeps its default."""
    assert read_settings(text) == Settings()


def test_everything_can_be_said(read_settings: ReadSettings) -> None:
    """Every setting is read."""
    settings = read_settings(
        'working_windows:\n  - time: "18:30-19:15"\n    days: weekdays\n    lit: yes\n'
        "effort_eur_per_hour: 8.5\n"
        "lift_alone_kg: 7\npeople: 2\nunits: imperial\ncontact: me@example.org\ndays: 10\n"
    )

    assert settings == Settings(
        windows=(WorkingWindow(frozenset(range(5)), time(18, 30), time(19, 15), lit=True),),
        effort_eur_h=8.5,
        lift_alone_kg=7.0,
        people=2,
        units=Units.IMPERIAL,
        contact="me@example.org",
        days=10,
    )


@pytest.mark.parametrize(
    ("days", "expected"),
    [
        ("every day", {0, 1, 2, 3, 4, 5, 6}),
        ("weekend", {5, 6}),
        ("Tuesday", {1}),
        ("mon-fri", {0, 1, 2, 3, 4}),
        ("fri-mon", {4, 5, 6, 0}),
        ("[mon, wednesday, sat-sun]", {0, 2, 5, 6}),
    ],
)
def test_days(read_settings: ReadSettings, days: str, expected: set[int]) -> None:
    """Days are words, spans or lists of them."""
    settings = read_settings(f"working_windows:\n  - time: 7:00-8:00\n    days: {days}\n")

    assert settings.windows[0].days == expected


def test_times_need_no_quotation_marks(read_settings: ReadSettings) -> None:
    """A span of time is read as written, although YAML would make numbers of some times."""
    settings = read_settings("working_windows:\n  - time: 7:05 – 18:00\n")

    assert (settings.windows[0].begins, settings.windows[0].ends) == (time(7, 5), time(18, 0))
    assert settings.windows[0].days == frozenset(range(7))
    assert not settings.windows[0].lit


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("working_windows: 18:30-19:15", 1, "is a list of working windows"),
        ("working_windows:\n  - 18:30-19:15", 2, "must be keys with values"),
        ("working_windows:\n  - time: 18:30", 2, '"18:30" is no span of time'),
        ("working_windows:\n  - time: 18.30-19.15", 2, "is no span of time"),
        ("working_windows:\n  - time: 18:30-17:15", 2, "ends before it begins"),
        ("working_windows:\n  - time: 22:00-24:00", 2, "that no clock shows"),
        ("working_windows:\n  - days: weekend", 2, 'time: "18:30-19:15"'),
        ("working_windows:\n  - time: 7:00-8:00\n    days: weekday", 3, 'perhaps "weekdays"'),
        ("working_windows:\n  - time: 7:00-8:00\n    days: no", 3, 'days "no" is not known'),
        ("working_windows:\n  - time: 7:00-8:00\n    lit: maybe", 3, "answered by yes or no"),
        ("effort_eur_per_hour: cheap", 1, "is a number (euro)"),
        ("lift_alone_kg: 10kg", 1, "the unit stands in the key"),
        ("people: 0", 1, "it goes from 1 to 20"),
        ("units: furlongs", 1, "known are metric, imperial"),
        ("days: 40", 1, "it goes from 1 to 16"),
        ("contact: me", 1, "neither a mail address nor a web page"),
        ('contact: "me@example.org\\r\\nX-Other: 1"', 1, "neither a mail address nor a web page"),
        ("password: secret", 1, 'no key is called "password"'),
        ("days: 3\ndays: 4", 2, "a second time"),
        ("- people", 1, "begins with keys such as working_windows:"),
    ],
)
def test_faults(read_settings: ReadSettings, text: str, line: int, says: str) -> None:
    """Each mistake is told once, with its line and the way out."""
    with pytest.raises(GardenFileError) as caught:
        read_settings(text)

    (fault,) = caught.value.faults
    assert fault.line == line
    assert says in fault.sentence


def test_the_example_settings_have_no_faults() -> None:
    """The settings to copy load, and spell out the defaults beside two windows."""
    settings = load_settings(DEMO)

    assert settings.windows[0] == WorkingWindow(frozenset(range(5)), time(18, 30), time(19, 15), lit=True)
    assert (
        settings.effort_eur_h,
        settings.lift_alone_kg,
        settings.people,
        settings.units,
        settings.days,
    ) == (15.0, 10.0, 1, Units.METRIC, 7)
    assert settings.contact is None
