"""Sentences with numbers of their own, told in the reader's units."""

from __future__ import annotations

import pytest

from frostguard.garden.settings import Units
from frostguard.report.other_units import in_units

# By definition: °F = 1.8 °C + 32, an inch 2.54 cm, a foot 0.3048 m.
IMPERIAL = [
    ("near -4 °C for hardy plants; at -3 to -7 °C.", "near 25 °F for hardy plants; at 27 to 19 °F."),
    ("above 4.5 °C", "above 40.1 °F"),
    ("39 cm wide, 37 cm tall", "15.4 in wide, 14.6 in tall"),
    ("12 mm thick", "0.5 in thick"),
    ("10 m above the ground", "33 ft above the ground"),
    ("taken to be 2.5 K warmer", "taken to be 4.5 °F warmer"),
    ("HortScience 40(3):558-560, 2005", "HortScience 40(3):558-560, 2005"),
    ("H4 and 7b, 3 metres, W/m2 K", "H4 and 7b, 3 metres, W/m2 K"),
    ("damaged at about 10 °F", "damaged at about 10 °F"),
]


@pytest.mark.parametrize(("told", "expected"), IMPERIAL)
def test_amounts_are_told_in_imperial_units(told: str, expected: str) -> None:
    """Degrees, differences and lengths are changed, to as many decimals as they had; all else stays."""
    assert in_units(told, Units.IMPERIAL) == expected


def test_a_source_in_fahrenheit_is_told_in_celsius() -> None:
    """For whoever reads metric units only degrees Fahrenheit are changed."""
    assert in_units("damaged at about 10 °F, 39 cm", Units.METRIC) == "damaged at about -12 °C, 39 cm"
