"""Writing text out: to terminals that know few characters, and to readers that go away."""

from __future__ import annotations

import io
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostguard.cli.language import LANGUAGE_VARIABLES, language_of_the_person
from frostguard.cli.output import in_encoding, print_out


@given(st.text(), st.sampled_from(["ascii", "latin-1", "cp1250", "cp437", "utf-8"]))
def test_any_text_can_be_written_in_any_encoding(text, encoding):
    """Nothing raises, whatever the name of a pot and whatever the terminal."""
    in_encoding(text, encoding).encode(encoding)


def test_what_the_encoding_knows_is_left_alone():
    """Only the missing characters are replaced, accents before question marks."""
    assert in_encoding("Češnja -3 °C", "utf-8") == "Češnja -3 °C"
    assert in_encoding("Češnja -3 °C", "latin-1") == "Cesnja -3 °C"
    assert in_encoding("Češnja -3 °C", "ascii") == "Cesnja -3 C"
    assert in_encoding("柠檬", "ascii") == "??"
    assert in_encoding("Citrus ×limon, lagerstrœmia", "ascii") == "Citrus xlimon, lagerstroemia"


def test_printing_to_an_ascii_terminal(monkeypatch):
    """The degree sign and accents do not stop the answer."""
    raw = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding="ascii", newline="\n"))
    print_out("Češnja -3 °C")

    assert raw.getvalue() == b"Cesnja -3 C\n"


@pytest.mark.parametrize(
    ("environment", "language"),
    [
        ({}, None),
        ({"LANG": "C.UTF-8"}, None),
        ({"LANG": "fr_CH.UTF-8"}, "fr_CH"),
        ({"LANG": "fr_FR.UTF-8", "LC_ALL": "C"}, None),
        ({"LANG": "de_AT", "FROSTGUARD_LANGUAGE": "fr"}, "fr"),
        ({"FROSTGUARD_LANGUAGE": "", "LC_MESSAGES": "sl_SI@euro"}, "sl_SI"),
    ],
)
def test_the_language_is_the_persons(monkeypatch, environment, language):
    """Our own variable goes before the system's; an empty one does not count."""
    for variable in LANGUAGE_VARIABLES:
        monkeypatch.delenv(variable, raising=False)
    for variable, value in environment.items():
        monkeypatch.setenv(variable, value)

    assert language_of_the_person() == language


def test_a_closed_output_is_no_trouble(monkeypatch: pytest.MonkeyPatch) -> None:
    """Called with `>&-` there is no stream at all; the exit code still tells."""
    monkeypatch.setattr(sys, "stdout", None)
    print_out("3 jobs tonight")
