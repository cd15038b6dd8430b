"""Files are there whole or not at all, for whom they were there before."""

from __future__ import annotations

from pathlib import Path
from stat import S_IMODE

import pytest

from frostguard.whole_files import PERSON_ONLY, write_whole


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664])
def test_a_file_stays_open_to_those_to_whom_it_was(tmp_path: Path, mode: int) -> None:
    """What only its owner could read is not opened by a change, and what a group may write stays so."""
    file = tmp_path / "garden.yaml"
    file.write_text("old")
    file.chmod(mode)

    write_whole(file, "new")

    assert file.read_text() == "new"
    assert S_IMODE(file.stat().st_mode) == mode
    assert [one.name for one in tmp_path.iterdir()] == ["garden.yaml"]


def test_a_file_of_a_person_is_closed_to_others_even_where_it_was_open(tmp_path: Path) -> None:
    """With a mode named that one counts."""
    file = tmp_path / "export"
    file.write_text("old")
    file.chmod(0o644)

    write_whole(file, "new", mode=PERSON_ONLY)

    assert S_IMODE(file.stat().st_mode) == PERSON_ONLY
