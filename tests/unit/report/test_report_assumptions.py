"""What a garden file leaves open, as the person reads it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from frostguard.garden.assumed import ASSUMED
from frostguard.garden.reader import load_garden
from frostguard.garden.settings import Units
from frostguard.report.assumptions import assumption_sentences, render_garden_check
from frostguard.report.layout import LINE_WIDTH, shown_width

GARDEN = """
site: {name: Roof, latitude: 46.05, longitude: 14.51, elevation_m: 300, time_zone: Europe/Ljubljana}
spots: [{name: deck, beneath: decking}]
pots:
  - {plant: rosemary, material: terracotta, volume_l: 10, spot: deck}
  - {plant: lavender, material: plastic, volume_l: 5, spot: deck, shape: round, count: 3}
"""


@pytest.fixture
def garden(tmp_path: Path):
    """Two of the shortest pots that a file may hold."""
    path = tmp_path / "garden.yaml"
    path.write_text(GARDEN)
    return load_garden(path)


def test_every_code_of_the_list_has_its_sentence():
    """With as many numbers as its placeholders, each code becomes a filled sentence."""
    for name, sentence in ASSUMED.items():
        numbers = [str(number) for number in range(1, 1 + sentence.count("{"))]
        (shown,) = assumption_sentences([":".join([name, *numbers])], Units.METRIC)
        assert shown.endswith(".") and "{" not in shown and name not in shown.split(" ")[:1]


def test_an_unknown_code_is_shown_as_it_is():
    """Neither an unknown code nor one with other numbers than its sentence stops the report."""
    assert assumption_sentences(["moon\x1b:3", "mix:1:2"], Units.METRIC) == ["moon?:3", "mix:1:2"]


def test_the_check_counts_pots_and_tells_the_common_assumptions_once(garden):
    """What holds for all pots stands once at the top, the rest with its pot and line."""
    shown = render_garden_check(garden)
    flat = " ".join(shown.split())

    assert "can be used: 4 pots, 1 spot." in flat
    assert flat.count("The pot is taken to have a drain hole.") == 1
    rosemary = next(block for block in shown.split("\n\n") if block.startswith("Rosemary"))
    assert "line 5" in rosemary and "The pot is taken as round." in rosemary
    assert max(shown_width(line) for line in shown.splitlines()) <= LINE_WIDTH


def test_nothing_assumed_is_said_in_so_many_words(garden):
    """A file that leaves nothing open gets no empty list."""
    full = replace(
        garden,
        site=replace(garden.site, assumed=()),
        spots=tuple(replace(spot, assumed=()) for spot in garden.spots),
        pots=tuple(replace(pot, assumed=()) for pot in garden.pots),
    )

    assert "Nothing had to be assumed." in " ".join(render_garden_check(full).split())
