"""Killed at random instants: no message is lost, at most one is sent twice and says so, and the file stays sound."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[3]


def killed(folder: Path, kills: int, seed: int) -> dict[str, Any]:
    """What `killed.py` found."""
    result = subprocess.run(
        [sys.executable, "-m", "tests.unit.watch.killed", str(folder / "k"), str(kills), str(seed)],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), str(ROOT / "tests" / "unit" / "report")])},
        capture_output=True,
        text=True,
        timeout=1800,
        check=True,
    )
    found: dict[str, Any] = json.loads(result.stdout)
    return found


def assert_nothing_lost(found: dict[str, Any], kills: int) -> None:
    """What a stop may do, and what it may not."""
    assert found["killed"] >= kills // 2  # the others had ended before
    assert found["broken"] == 0
    assert found["same_outcomes"]
    twice = 0
    for channel in found["channels"].values():
        assert channel["messages"] >= kills * 4 // 5  # in summer mornings have nothing to say
        assert channel["lost"] == [] and channel["invented"] == []
        assert channel["more"] == [] and channel["unmarked"] == []
        twice += channel["twice"]
    assert twice <= found["killed"]  # at most one for each stop, on one of the channels


def test_thirty_stops_lose_nothing(tmp_path: Path) -> None:
    """Thirty rounds killed while they plan, put down and send."""
    assert_nothing_lost(killed(tmp_path, 30, seed=1), 30)


@pytest.mark.long
def test_five_hundred_stops_lose_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same, five hundred times."""
    found = killed(tmp_path, 500, seed=2)
    with capsys.disabled():
        print(f"\n{found}")
    assert_nothing_lost(found, 500)
