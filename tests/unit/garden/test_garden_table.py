"""Pots from a table: a hundred at once, or every fault with its line in the table."""

from __future__ import annotations

from pathlib import Path

import pytest

from frostguard.errors import GardenFileError
from frostguard.garden import writing
from frostguard.garden.table_file import with_table
from tests.e2e.command import DEMO_GARDEN

HEAD = "plant,material,volume_l,spot"


def taken_over(table: str, folder: Path):
    """The demo's garden with a table's pots."""
    file = folder / "pots.csv"
    file.write_text(table, encoding="utf-8")
    return with_table(writing.read(DEMO_GARDEN), file)


def test_a_hundred_rows_are_a_hundred_pots(tmp_path):
    """Every row becomes a pot, in order, behind those that are there."""
    rows = "\n".join(f"lemon,terracotta,{10 + number},deck" for number in range(100))
    _, garden, count = taken_over(f"{HEAD}\n{rows}\n", tmp_path)
    assert count == 100
    assert [round(pot.volume_l) for pot in garden.pots[-100:]] == list(range(10, 110))


@pytest.mark.parametrize("between", [",", ";", "\t"])
def test_cells_may_be_parted_in_three_ways(between, tmp_path):
    """Commas, semicolons and tabs, as spreadsheets write them; empty cells are left out."""
    table = f"{HEAD},label,feet\nlemon,plastic,10,deck,\"Lemon, the old one\",yes\nolive,plastic,12,deck,,\n"
    tidy = table.replace(", the", " the").replace(",", between)
    _, garden, _ = taken_over(tidy, tmp_path)
    lemon, olive = garden.pots[-2:]
    assert (lemon.label, lemon.feet) == ("Lemon the old one", True)
    assert (olive.label, olive.feet) == ("Olive 2" if olive.label != "Olive" else "Olive", False)


def test_several_plants_stand_in_one_cell(tmp_path):
    """Semicolons part the plants of a pot."""
    _, garden, _ = taken_over("plants,material,volume_l,spot\n\"thyme; sage\",wood,20,deck\n", tmp_path)
    assert [planting.name for planting in garden.pots[-1].plantings] == ["thyme", "sage"]


def test_all_faults_are_told_with_their_lines(tmp_path):
    """Faults of several rows come together, each with its line in the table, blank lines and all."""
    table = f"{HEAD}\nlemon,terracotta,30,deck\n\nlemmon,terracotta,30,deck\nlemon,chocolate,x,attic\n"
    with pytest.raises(GardenFileError) as told:
        taken_over(table, tmp_path)
    lines = [fault.line for fault in told.value.faults]
    assert set(lines) == {4, 5}
    assert lines.count(5) == 3  # wall, litres, spot


@pytest.mark.parametrize(
    ("table", "line", "words"),
    [
        ("", None, "no row"),
        (f"{HEAD}\n", None, "no row"),
        ("plant,matter,volume_l,spot\nlemon,wood,3,deck\n", 1, "material"),
        ("plant,plant,spot\nlemon,lemon,deck\n", 1, "twice"),
        (f"{HEAD}\nlemon,wood,3\n", 2, "3 cells"),
        (f'{HEAD}\n"lemon,wood,3,deck\n', 2, "quotation marks"),
    ],
)
def test_a_table_that_is_none_is_told_so(table, line, words, tmp_path):
    """Columns, cells and quotation marks are checked before any pot is."""
    with pytest.raises(GardenFileError) as told:
        taken_over(table, tmp_path)
    assert any(fault.line == line and words in fault.sentence for fault in told.value.faults)
