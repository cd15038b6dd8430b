"""A small terrace on a clear night, served over a real socket."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from frostguard.page.work import Task
from tests.e2e.command import SAMPLES
from tests.served_page import Terrace

GARDEN = """\
site: {latitude: 46.05, longitude: 14.51, elevation_m: 298, time_zone: Europe/Ljubljana}
spots:
  - name: deck
    free_floor_m2: 2
  - name: wash room
    room: unheated
    free_floor_m2: 2
pots:
  # mine since the spring
  - plant: pelargonium
    label: <b>Red</b> & "white"
    material: plastic
    volume_l: 3
    spot: deck
  - plant: pelargonium
    label: Pink
    material: plastic
    volume_l: 3
    spot: deck
"""


@pytest.fixture
def begun(tmp_path: Path) -> Iterator[Callable[..., Terrace]]:
    """Starts the page on a garden file, or without one."""
    running: list[Terrace] = []

    def start(text: str | None = GARDEN, token: str | None = None) -> Terrace:
        garden = tmp_path / "garden.yaml"
        if text is not None:
            garden.write_text(text, encoding="utf-8")
        wishes = tmp_path / "settings.yaml"
        wishes.write_text("days: 1\n")  # quicker
        weather = SAMPLES / "clear-calm-night.csv"
        running.append(Terrace(Task(garden, wishes, weather, tmp_path / "data" / "logbook.sqlite3"), token))
        return running[-1]

    yield start
    for terrace in running:
        terrace.stop()
