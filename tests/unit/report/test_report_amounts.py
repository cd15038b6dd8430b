"""Amounts in forms: written in the person's units, kept in those of the file."""

from __future__ import annotations

import pytest

from frostguard.garden.settings import Units
from frostguard.report import amounts


@pytest.mark.parametrize(
    ("name", "written", "kept"),
    # by definition: a US gallon is 3.785411784 l, an inch 2.54 cm, a foot 0.3048 m, a pound 0.45359237 kg
    [("volume_l", "8", "30.28"), ("diameter_cm", "10", "25.4"), ("elevation_m", "1000", "304.8"),
     ("free_floor_m2", "20", "1.858"), ("lift_alone_kg", "40", "18.14"), ("label", "8", "8"), ("volume_l", "x", "x"),
     ("volume_l", "nan", "nan"), ("volume_l", "1e999", "1e999"), ("volume_l", "", "")],
)  # fmt: skip
def test_amounts_go_to_and_fro(name, written, kept):
    """What is written is kept in the file's unit and shown as it was written; what is no amount stays."""
    assert amounts.to_keep({name: written}, Units.IMPERIAL) == {name: kept}
    assert amounts.to_write({name: kept}, Units.IMPERIAL) == {name: written}
    assert amounts.to_keep({name: written}, Units.METRIC) == {name: written}
