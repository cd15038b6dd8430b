"""Changing a garden file: only what changes is touched, the reader judges first, nobody's change is lost."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostguard.errors import GardenFileError
from frostguard.garden import writing
from frostguard.garden.reader import garden_in, settings_in
from frostguard.garden.settings import Units
from frostguard.garden.yaml_edit import added, changed, changed_above, removed, written, written_above
from tests.e2e.command import DEMO_GARDEN

DEMO = DEMO_GARDEN.read_text(encoding="utf-8")
POT = {"plant": "lemon", "material": "terracotta", "volume_l": "30", "spot": "house wall"}

SMALL = writing.new_garden(
    {"latitude": "46.05", "longitude": "14.51", "elevation_m": "298", "time_zone": "Europe/Ljubljana"},
    [{"name": "house wall"}],
    [POT],
)


def lines_gone(before: str, after: str) -> list[str]:
    """Lines of the old text that are not in the new one, in order."""
    left = after.splitlines()
    return [line for line in before.splitlines() if line not in left or left.remove(line)]


def test_a_new_pot_leaves_every_line_as_it_was():
    """An added pot stands behind the last one, before the comment of the next part; nothing else moves."""
    text, line = added(DEMO, "pots", [POT])

    assert lines_gone(DEMO, text) == []
    assert text.splitlines()[line - 1] == "  - plant: lemon"
    garden = garden_in(text, "garden")
    assert garden.pots[-1].plantings[0].name == "lemon"
    assert len(garden.pots) == len(garden_in(DEMO, "garden").pots) + 1


def test_a_changed_value_keeps_the_comment_behind_it():
    """Of a line whose value changes, what a person wrote behind it stays."""
    row = [pot.id for pot in garden_in(DEMO, "garden").pots].index("apple")
    text = changed(DEMO, "pots", row, {"material": "stone", "value": None, "count": "2"})

    assert lines_gone(DEMO, text) == ["    material: oak               # half a barrel", "    value: 80"]
    assert "    material: stone               # half a barrel" in text.splitlines()
    assert garden_in(text, "garden").pots[row].count == 2


def test_what_stays_is_not_touched():
    """Setting every value to what it is gives the same bytes."""
    for row in (0, 11, 15):  # measures, a long list of plants, a short one
        assert changed(DEMO, "pots", row, written(DEMO, "pots", row)) == DEMO


@pytest.mark.parametrize(
    "text",
    [
        "pots:\n- {plant: lemon, spot: deck}\n",
        "pots: [{plant: lemon, spot: deck}]\n",
        "pots: [{plant: lemon, spot: deck}]",
        "pots:\n- plant: lemon  # mine\n  spot: deck",
        "pots:\n    - plant: lemon\n      spot: deck\n\n# the end\n",
    ],
)
def test_every_way_to_lay_out_a_list_can_be_added_to(text):
    """Lists in one line or in many, however indented, with or without a last line break."""
    longer, _ = added(text, "pots", [{"plant": "olive", "spot": "deck"}])
    assert written(longer, "pots", 0) == {"plant": "lemon", "spot": "deck"}
    assert written(longer, "pots", 1) == {"plant": "olive", "spot": "deck"}
    other = changed(longer, "pots", 0, {"plant": None, "count": "2", "spot": "wall"})
    assert written(other, "pots", 0) == {"spot": "wall", "count": "2"}
    assert written(other, "pots", 1) == {"plant": "olive", "spot": "deck"}


@given(st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zl", "Zp")), min_size=1, max_size=60))
def test_whatever_is_typed_stays_a_text(label):
    """No word typed into a field can become another key, a comment, a switch or a number."""
    label = " ".join(label.split())
    if not label:
        return
    text, _ = added(SMALL, "pots", [{**POT, "label": label}])
    assert written(text, "pots", 1)["label"] == label
    try:
        assert garden_in(text, "garden").pots[-1].label == label
    except GardenFileError as error:
        assert all("cannot be shown" in fault.sentence for fault in error.faults)


@pytest.fixture
def garden(tmp_path: Path) -> Path:
    """The demo's file, to be changed."""
    path = tmp_path / "garden.yaml"
    path.write_text(DEMO, encoding="utf-8")
    return path


def test_a_faulty_change_is_not_written(garden):
    """What the strict reader refuses leaves the file as it was."""
    before = writing.read(garden)
    text, _ = writing.with_pots(before, [{**POT, "volume_l": "a lot"}])
    with pytest.raises(GardenFileError, match="is a number"):
        writing.write(garden, text, version=before.version)
    assert garden.read_text(encoding="utf-8") == DEMO


def test_a_file_changed_meanwhile_is_not_overwritten(garden):
    """Of two who change the same file, the second is told, and the first one's change stands."""
    mine, yours = writing.read(garden), writing.read(garden)
    text, _ = writing.with_pots(mine, [POT])
    writing.write(garden, text, version=mine.version)
    with pytest.raises(writing.ChangedMeanwhile):
        writing.write(garden, writing.with_pot_changed(yours, 0, {"count": "3"}), version=yours.version)
    assert garden.read_text(encoding="utf-8") == text


def test_a_file_that_came_into_being_meanwhile_is_not_overwritten(garden):
    """A set-up that began when there was no file does not replace one."""
    fresh = writing.new_garden(
        {"latitude": "46.05", "longitude": "14.51", "elevation_m": "298", "time_zone": "Europe/Ljubljana"},
        [{"name": "house wall"}],
        [POT],
    )
    with pytest.raises(writing.ChangedMeanwhile):
        writing.write(garden, fresh, version=writing.NOTHING)
    assert writing.write(garden.with_name("other.yaml"), fresh, version=writing.NOTHING).pots[0].spot == "house wall"


def test_the_folder_holds_nothing_else_afterwards(garden):
    """No half-written file stays behind; the lock's empty file may."""
    before = writing.read(garden)
    writing.write(garden, writing.with_pots(before, [POT])[0], version=before.version)
    assert {file.name for file in garden.parent.iterdir()} <= {"garden.yaml", ".garden.yaml.lock"}


@pytest.mark.parametrize("row", [0, 9, 17])
def test_a_pot_taken_out_takes_its_lines_alone(row):
    """All lines that go are the pot's own; what stands before and behind stays as it was, comments too."""
    garden = garden_in(DEMO, "garden")
    text = removed(DEMO, "pots", row)

    before = next(k for k, (one, other) in enumerate(zip(DEMO, text, strict=False)) if one != other)
    length = len(DEMO) - len(text)
    assert text == DEMO[:before] + DEMO[before + length :]  # one piece went, nothing else moved
    left = garden_in(text, "garden")
    assert [pot.id for pot in left.pots] == [pot.id for k, pot in enumerate(garden.pots) if k != row]
    assert not any(line.lstrip().startswith("#") for line in lines_gone(DEMO, text))


@pytest.mark.parametrize(
    ("text", "row", "expected"),
    [
        ("pots: [{plant: lemon}, {plant: olive}]\n", 0, "pots: [{plant: olive}]\n"),
        ("pots: [{plant: lemon}, {plant: olive}]\n", 1, "pots: [{plant: lemon}]\n"),
        ("pots: [{plant: lemon}]\n", 0, "pots: []\n"),
        ("pots:\n- plant: lemon  # mine\n  spot: deck\n# behind\nstock: {}\n", 0, "pots: []\n# behind\nstock: {}\n"),
        ("pots:\n  - plant: lemon\n\n  # second\n  - plant: olive", 1, "pots:\n  - plant: lemon\n\n  # second\n"),
        ("pots:\n  - plant: lemon\n\n  # second\n  - plant: olive", 0, "pots:\n  # second\n  - plant: olive"),
    ],
)
def test_every_way_to_lay_out_a_list_can_be_taken_from(text, row, expected):
    """Lists in one line or in many, the first, the last, and the only entry."""
    assert removed(text, "pots", row) == expected


def test_pots_keep_ids_and_labels_when_another_goes_or_gets_other_plants(garden):
    """What the logbook knows goes by the id: a pot must not get that of another one, nor lose its own;
    nor may the label that a person has read on sheets, and perhaps stuck on the pot."""
    two = writing.new_garden(
        {"latitude": "46.05", "longitude": "14.51", "elevation_m": "298", "time_zone": "Europe/Ljubljana"},
        [{"name": "house wall"}],
        [POT, {**POT, "volume_l": "12"}],
    )
    garden.write_text(two, encoding="utf-8")
    before = writing.read(garden)
    assert [pot.id for pot in before.garden.pots] == ["lemon", "lemon-2"]

    left = garden_in(writing.without_pot(before, 0), "garden")
    other = garden_in(writing.with_pot_changed(before, 0, {"plant": None, "plants": ("olive", "thyme")}), "garden")

    assert [(pot.id, pot.volume_l) for pot in left.pots] == [("lemon-2", 12.0)]
    assert [pot.label for pot in left.pots] == ["Lemon 2"]  # as the label that may stick on it says
    assert [pot.label for pot in other.pots] == ["Olive and thyme", "Lemon 2"]
    garden.write_text(writing.without_pot(before, 0), encoding="utf-8")
    more, _ = writing.with_pots(writing.read(garden), [POT, POT])
    assert [pot.label for pot in garden_in(more, "garden").pots] == ["Lemon 2", "Lemon", "Lemon 3"]
    assert [pot.id for pot in other.pots] == ["lemon", "lemon-2"]
    assert [planting.name for planting in other.pots[0].plantings] == ["olive", "thyme"]


SETTINGS = (DEMO_GARDEN.parent / "settings.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize("text", ["", "# only a comment\n", "# only a comment", SETTINGS, "days: 3", "{days: 3}\n"])
def test_settings_change_line_by_line_whatever_is_there_already(text):
    """An empty file, comments alone, one line or all of them: the values hold, and no other line is touched."""
    changes = {"people": "2", "units": "imperial", "days": "5"}
    after = changed_above(text, changes)

    settings = settings_in(after, "settings")
    assert (settings.people, settings.units, settings.days) == (2, Units.IMPERIAL, 5)
    touched = [line.split(":")[0] for line in lines_gone(text, after) if not line.startswith("{")]
    assert set(touched) <= {"people", "units", "days"}
    assert written_above(after).items() >= changes.items()
    back = settings_in(changed_above(after, dict.fromkeys(changes)), "settings")
    assert (back.people, back.units, back.days) == (1, Units.METRIC, 7)


def test_settings_are_written_whole_and_never_over_a_change(tmp_path):
    """A fault or a change meanwhile leaves the file as it was."""
    path = tmp_path / "folder" / "settings.yaml"
    assert writing.write_settings(path, "days: 3\n", version=writing.NOTHING).days == 3
    with pytest.raises(writing.ChangedMeanwhile):
        writing.write_settings(path, "days: 4\n", version=writing.NOTHING)
    with pytest.raises(GardenFileError, match="days"):
        writing.write_settings(path, "days: many\n", version=writing.version_of(path))
    assert path.read_text() == "days: 3\n"
