"""A mistake in the YAML itself is told, and what stands after it is looked at all the same."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from frostguard.errors import Fault, GardenFileError
from frostguard.garden.reader import load_garden

TERRACE = """\
site: {latitude: 46.05, longitude: 14.51, elevation_m: 298, time_zone: Europe/Ljubljana}
spots:
  - name: deck
    beneath: decking
  - name: corner
    beneath: ground
pots:
  - id: lemon
    plant: lemon
    material: terracotta
    volume_l: 30
    spot: deck
  - id: fig
    plant: fig
    material: terracota
    volume_l: 20
    spot: dekc
"""
OTHERS = {15: "terracota", 17: "dekc"}
"""Two faults of another kind, far below the mistakes that are made in line 10."""

MISTAKES: dict[str, Callable[[str], str]] = {
    "a tab": lambda line: "\t" + line.strip(),
    "one blank too many": lambda line: " " + line,
    "one blank too few": lambda line: line[1:],
    "no blank after the colon": lambda line: line.replace(": ", ":"),
    "no colon": lambda line: line.replace(":", ""),
    "a second colon": lambda line: line + ": red",
    "an open quotation mark": lambda line: line.replace(": ", ': "'),
    "an open apostrophe": lambda line: line.replace(": ", ": '"),
    "an open bracket": lambda line: line.replace(": ", ": ["),
    "an open curly bracket": lambda line: line.replace(": ", ": {"),
    "a sign that YAML keeps": lambda line: line.replace(": ", ": @"),
    "another sign that YAML keeps": lambda line: line.replace(": ", ": %"),
}


def faults_of(text: str, folder: Path) -> tuple[Fault, ...]:
    """Everything that is told about a garden file."""
    path = folder / "garden.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(GardenFileError) as caught:
        load_garden(path)
    return caught.value.faults


@pytest.mark.parametrize("mistake", MISTAKES)
def test_faults_after_a_mistake_in_the_yaml_are_told_with_it(mistake: str, tmp_path: Path):
    """The broken line, or the one it runs into, and both faults far below: one round of mending the file."""
    lines = TERRACE.split("\n")
    lines[9] = MISTAKES[mistake](lines[9])

    faults = faults_of("\n".join(lines), tmp_path)

    assert {fault.line for fault in faults} >= set(OTHERS)
    rest = [fault.line for fault in faults if fault.line not in OTHERS]
    assert rest and set(rest) <= {9, 10, 11}


def test_two_mistakes_in_the_yaml_are_both_told(tmp_path: Path):
    """A colon too many above and a quotation mark left open below are found at once."""
    text = TERRACE.replace("plant: lemon", "plant: lemon: tree").replace("plant: fig", 'plant: "fig')

    assert {fault.line for fault in faults_of(text, tmp_path)} == {9, 14, *OTHERS}


def test_a_file_indented_with_tabs_is_told_once(tmp_path: Path):
    """The first tabbed line stands for all, with their number; the other faults are told beside."""
    text = re.sub(r"(?m)^ {4}", "\t", TERRACE)

    first, *others = faults_of(text, tmp_path)

    assert first.line == 4 and "and 9 more lines do" in first.sentence
    assert {fault.line for fault in others} <= set(OTHERS)


def test_a_mended_file_is_never_taken_for_a_good_one(tmp_path: Path):
    """Where the mistake is the only fault, the file is refused with that one sentence."""
    text = TERRACE.replace("terracota", "terracotta").replace("dekc", "deck").replace("plant: lemon", "plant:lemon")

    (fault,) = faults_of(text, tmp_path)

    assert fault.line == 9


@pytest.mark.parametrize("text", ["[" * 50_000, "{a: " * 5_000, "- " * 5_000, '"' * 9_999, "a: b: " * 5_000])
def test_what_is_no_garden_file_is_not_mended_for_long(text: str, tmp_path: Path):
    """Hostile texts end in a sentence as quickly as before."""
    assert faults_of(text, tmp_path)
