"""Pot sizes: volumes of frustums, and the cylinder that stands for the mix."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostguard.garden.model import Shape
from frostguard.garden.sizes import (
    PROPORTIONS,
    floor_area_m2,
    mix_cylinder,
    size_from_measures,
    size_from_volume,
    usual_wall_m,
)

WITH_LENGTH = [shape for shape, usual in PROPORTIONS.items() if usual.needs_length]
WITHOUT_LENGTH = [shape for shape, usual in PROPORTIONS.items() if not usual.needs_length]


@given(shape=st.sampled_from(WITHOUT_LENGTH), litres=st.floats(0.1, 500))
def test_measures_of_a_volume_give_the_volume_back(shape: Shape, litres: float) -> None:
    """Measured by tape, a pot sized from its volume has that volume."""
    size = size_from_volume(shape, litres / 1000)

    by_tape = size_from_measures(shape, size.width_m, None, size.height_m)

    assert by_tape.volume_m3 == pytest.approx(litres / 1000, rel=1e-9)
    assert size.height_m / size.width_m == pytest.approx(PROPORTIONS[shape].height_per_width)


@given(
    shape=st.sampled_from(WITH_LENGTH),
    litres=st.floats(1, 500),
    length=st.floats(0.2, 3),
    height=st.none() | st.floats(0.1, 0.6),
)
def test_troughs_keep_their_length(shape: Shape, litres: float, length: float, height: float | None) -> None:
    """A trough of known length takes its width and height from the volume, and a known height stays."""
    size = size_from_volume(shape, litres / 1000, length_m=length, height_m=height)

    by_tape = size_from_measures(shape, size.width_m, length, size.height_m)

    assert by_tape.volume_m3 == pytest.approx(litres / 1000, rel=1e-9)
    assert size.length_m == length
    if height is not None:
        assert size.height_m == pytest.approx(height)


def test_a_standard_pot_is_as_tall_as_wide_and_a_pan_half() -> None:
    """The proportions of the trade: a standard pot of 10 litres measures about 25 cm both ways."""
    pot = size_from_volume(Shape.ROUND, 0.010)
    pan = size_from_volume(Shape.PAN, 0.010)

    # Pots sold as 10 litres are 25 to 28 cm wide (common practice).
    assert 0.24 < pot.width_m < 0.28
    assert pot.height_m == pytest.approx(pot.width_m)
    assert pan.height_m == pytest.approx(pan.width_m / 2)


def test_a_round_volume_is_that_of_a_truncated_cone() -> None:
    """Volume of a pot by tape is pi h (R2 + R r + r2) / 3."""
    size = size_from_measures(Shape.ROUND, 0.40, None, 0.36)
    big, small = 0.20, 0.20 * PROPORTIONS[Shape.ROUND].taper

    assert size.volume_m3 == pytest.approx(pi * 0.36 * (big**2 + big * small + small**2) / 3)


@given(
    shape=st.sampled_from(list(Shape)),
    width=st.floats(0.1, 1.0),
    length=st.floats(0.1, 2.0),
    height=st.floats(0.1, 0.8),
)
def test_the_cylinder_has_the_side_area_over_volume_of_the_mix(
    shape: Shape, width: float, length: float, height: float
) -> None:
    """Volume and side area added up in thin slices of the mix give the ratio that is 2/R of the cylinder."""
    usual = PROPORTIONS[shape]
    size = size_from_measures(shape, width, length, height)
    cylinder = mix_cylinder(size)

    above_bottom = np.linspace(0.0, cylinder.height_m, 2001)
    share = usual.taper + (1 - usual.taper) * above_bottom / height
    across, along = size.width_m * share, size.length_m * share
    lean = np.hypot(1.0, (1 - usual.taper) * np.array([size.width_m, size.length_m]) / 2 / height)
    area = across * along * (pi / 4 if usual.round else 1.0)
    side = pi * across * lean[0] if usual.round else 2 * along * lean[0] + 2 * across * lean[1]

    # The slices are 2000 trapezia of a smooth curve: exact to six digits.
    ratio = np.trapezoid(side, above_bottom) / np.trapezoid(area, above_bottom)
    assert 2.0 / cylinder.radius_m == pytest.approx(ratio, rel=1e-6)
    assert cylinder.height_m < height


def test_a_square_pot_is_as_its_inscribed_cylinder() -> None:
    """Of a cube with upright walls, side area over volume is that of the cylinder inside it."""
    size = size_from_measures(Shape.SQUARE, 0.4, None, 0.4)
    upright = PROPORTIONS[Shape.SQUARE].taper

    cylinder = mix_cylinder(size)

    assert 0.2 * upright < cylinder.radius_m < 0.2


@given(shape=st.sampled_from(list(Shape)), litres=st.floats(0.2, 200))
def test_the_mix_lies_inside_the_pot(shape: Shape, litres: float) -> None:
    """The cylinder is lower than the pot by the rim, 2 cm or a tenth, and no wider than the pot."""
    length = 0.6 if PROPORTIONS[shape].needs_length else None
    size = size_from_volume(shape, litres / 1000, length_m=length)
    cylinder = mix_cylinder(size)

    assert cylinder.height_m == pytest.approx(size.height_m - min(0.02, 0.1 * size.height_m))
    assert 0 < 2 * cylinder.radius_m < max(size.width_m, size.length_m)
    if PROPORTIONS[shape].round:
        assert pi * cylinder.radius_m**2 * cylinder.height_m <= size.volume_m3


def test_floor_is_covered_by_the_outside() -> None:
    """A round pot covers the disc of its outer rim, a trough its outer rectangle."""
    pot = size_from_measures(Shape.ROUND, 0.36, None, 0.3)
    trough = size_from_measures(Shape.TROUGH, 0.2, 0.8, 0.2)

    assert floor_area_m2(pot, 0.02) == pytest.approx(pi * 0.2**2)
    assert floor_area_m2(trough, 0.01) == pytest.approx(0.22 * 0.82)


def test_small_pots_have_thinner_walls() -> None:
    """A usual wall is at most a tenth of the pot's width."""
    assert usual_wall_m(0.012, 0.30) == 0.012
    assert usual_wall_m(0.012, 0.09) == pytest.approx(0.009)
