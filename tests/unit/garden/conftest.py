"""Reading a text as a garden or settings file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from frostguard.garden.model import Garden
from frostguard.garden.reader import load_garden, load_settings
from frostguard.garden.settings import Settings


@pytest.fixture
def read_garden(tmp_path: Path) -> Callable[[str], Garden]:
    """Reads a text as a garden file."""

    def read(text: str) -> Garden:
        path = tmp_path / "garden.yaml"
        path.write_text(text, encoding="utf-8")
        return load_garden(path)

    return read


@pytest.fixture
def read_settings(tmp_path: Path) -> Callable[[str], Settings]:
    """Reads a text as a settings file."""

    def read(text: str) -> Settings:
        path = tmp_path / "settings.yaml"
        path.write_text(text, encoding="utf-8")
        return load_settings(path)

    return read
