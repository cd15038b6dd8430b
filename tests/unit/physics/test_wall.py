"""Pot walls and wraps."""

from __future__ import annotations

import numpy as np
import pytest
from ht.conduction import R_cylinder
from hypothesis import given
from hypothesis import strategies as st

from frostguard.errors import PhysicsInputError
from frostguard.physics.wall import (
    annulus_heat_capacity_j_m2_k,
    annulus_resistance_m2_k_w,
    freeze_thaw_cycles,
    outer_area_ratio,
    sheet_resistance_m2_k_w,
    wet_fibre_conductivity_w_m_k,
    wrap_resistance_m2_k_w,
)

radii_m = st.floats(0.03, 0.6)
thicknesses_m = st.floats(0.0, 0.08)
conductivities_w_m_k = st.floats(0.02, 60.0)


@pytest.mark.parametrize(
    ("thickness_m", "conductivity", "film"),
    [
        (0.012, 0.895, 11.9),  # terracotta
        (0.003, 0.5, 13.1),  # polyethylene
        (0.020, 0.13, 4.46),  # pine
        (0.020, 0.09, 3.42),  # red cedar
        (0.020, 0.17, 5.32),  # oak
        (0.0008, 50.0, 14.2),  # galvanised steel
        (0.030, 1.95, 11.7),  # concrete
        (0.020, 0.0355, 1.58),  # polystyrene beads, EN 12524
    ],
)
def test_flat_walls_have_the_tabulated_transmittance(thickness_m, conductivity, film):
    """With an outside film of 14.2 W/m2K the walls of pots pass heat as computed independently."""
    # Conductivities of EN 12524 and the ASHRAE Handbook of Fundamentals; printed to three figures.
    flat = annulus_resistance_m2_k_w(1e3, thickness_m, conductivity)  # so wide a ring is flat
    assert 1.0 / (1.0 / 14.2 + flat) == pytest.approx(film, rel=0.01)


def test_thin_walls_barely_matter_and_wood_does():
    """Plastic and clay change the film of a pot by less than a fifth, wood by more than half."""
    bare = 14.2
    for thickness_m, conductivity in ((0.003, 0.5), (0.012, 0.895)):
        assert 1.0 / (1.0 / bare + annulus_resistance_m2_k_w(0.15, thickness_m, conductivity)) > 0.8 * bare
    assert 1.0 / (1.0 / bare + annulus_resistance_m2_k_w(0.15, 0.02, 0.13)) < 0.5 * bare


def test_ring_matches_the_exact_cylinder():
    """The resistance of a ring per inner area is that of a pipe wall over its inner area."""
    # ht 1.2.0: R_cylinder(0.9, 1.0, 20, 10) = 8.38432343682705e-05 K/W.
    per_inner_area = 8.38432343682705e-05 * np.pi * 0.9 * 10.0
    assert annulus_resistance_m2_k_w(0.45, 0.05, 20.0) == pytest.approx(per_inner_area, rel=1e-12)


@given(radii_m, st.floats(1e-4, 0.08), conductivities_w_m_k)
def test_ring_agrees_with_another_library(radius_m, thickness_m, conductivity):
    """Rings of any size agree with an independent implementation."""
    expected = (
        R_cylinder(2.0 * radius_m, 2.0 * (radius_m + thickness_m), conductivity, 1.0) * 2.0 * np.pi * radius_m
    )
    assert annulus_resistance_m2_k_w(radius_m, thickness_m, conductivity) == pytest.approx(expected, rel=1e-9)


@given(radii_m, thicknesses_m, conductivities_w_m_k)
def test_a_ring_resists_less_than_a_flat_wall(radius_m, thickness_m, conductivity):
    """Per inner area a ring never resists more than a flat wall, and a thin one the same."""
    flat = thickness_m / conductivity
    ring = annulus_resistance_m2_k_w(radius_m, thickness_m, conductivity)
    assert ring <= flat * (1.0 + 1e-12)
    assert ring >= flat * (1.0 - thickness_m / (2.0 * radius_m)) * (1.0 - 1e-12)


def test_heat_capacity_of_a_ring_is_its_mass_times_its_specific_heat():
    """Heat capacity per inner area is that of the whole ring over the inner area."""
    area_of_section = np.pi * (0.162**2 - 0.15**2)
    expected = 1900.0 * 800.0 * area_of_section / (2.0 * np.pi * 0.15)
    assert annulus_heat_capacity_j_m2_k(0.15, 0.012, 1900.0, 800.0) == pytest.approx(expected, rel=1e-12)
    assert annulus_heat_capacity_j_m2_k(0.15, 0.0, 1900.0, 800.0) == 0.0


def test_outer_area_of_a_ring():
    """A wall of 3 cm round a ball of 15 cm radius has a fifth more area outside."""
    assert outer_area_ratio(0.15, 0.03) == pytest.approx(1.2)


@given(radii_m, thicknesses_m, thicknesses_m, conductivities_w_m_k)
def test_a_wall_in_two_rings_is_the_whole_wall(radius_m, inner_m, outer_m, conductivity):
    """A wall cut into two rings has the same resistance as in one piece."""
    first = annulus_resistance_m2_k_w(radius_m, inner_m, conductivity)
    second = wrap_resistance_m2_k_w(radius_m, radius_m + inner_m, outer_m, conductivity)
    whole = annulus_resistance_m2_k_w(radius_m, inner_m + outer_m, conductivity)
    assert first + second == pytest.approx(float(whole), rel=1e-9, abs=1e-15)


def test_a_sheet_counts_by_the_area_it_covers():
    """A sheet on a ring a fifth wider counts a sixth less per inner area, as a thin wrap does."""
    assert sheet_resistance_m2_k_w(0.15, 0.18, 0.12) == pytest.approx(0.10)
    thin = wrap_resistance_m2_k_w(0.15, 0.18, 1e-5, 1e-5 / 0.12)
    assert sheet_resistance_m2_k_w(0.15, 0.18, 0.12) == pytest.approx(float(thin), rel=1e-4)


def test_soaked_felt_insulates_hardly_at_all():
    """A felt bag of 4 mm resists 0.08 dry and about 0.01 m2K/W soaked, less still when that freezes."""
    # Dry felt 0.05 W/mK (EN 12524, underlay); soaked about 0.01 m2K/W (from memory, one figure).
    dry = 0.004 / wet_fibre_conductivity_w_m_k(0.05, 0.9, 0.0, frozen=False)
    soaked = 0.004 / wet_fibre_conductivity_w_m_k(0.05, 0.9, 0.8, frozen=False)
    iced = 0.004 / wet_fibre_conductivity_w_m_k(0.05, 0.9, 0.8, frozen=True)
    assert dry == pytest.approx(0.080)
    assert soaked == pytest.approx(0.01, abs=0.005)
    assert iced < 0.5 * soaked


@given(st.floats(0.03, 0.1), st.floats(0.5, 1.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_wetter_fibre_conducts_more(dry, porosity, first, second):
    """Conductivity of a fibre mat rises with its water, from that of the dry mat to that of water."""
    water = porosity * np.sort([first, second])
    less, more = wet_fibre_conductivity_w_m_k(dry, porosity, water, frozen=False)
    assert dry * (1.0 - 1e-12) <= less <= more <= 0.57 * (1.0 + 1e-12)


def test_freeze_thaw_cycles_are_counted_once_thawed():
    """A wall freezes below -1 degC and has finished a cycle only when it is above 0 degC again."""
    frost_nights = [2.0, -3.0, 1.0, -4.0, -0.5, -4.0, 3.0]  # -0.5 is no thaw
    light_frost = [2.0, -0.5, 1.0, -0.9, 0.5, -0.5, 3.0]
    still_frozen = [2.0, -3.0, 1.0, -4.0, -5.0, -5.0, -5.0]
    several = np.array([frost_nights, light_frost, still_frozen]).T
    assert freeze_thaw_cycles(several).tolist() == [2, 0, 1]
    assert freeze_thaw_cycles(light_frost, freezes_below_c=0.0) == 3


def test_a_missing_hour_neither_freezes_nor_thaws():
    """A gap in the temperatures leaves a frozen wall frozen."""
    assert freeze_thaw_cycles([-3.0, np.nan, -3.0, 2.0]) == 1


def test_many_pots_at_once():
    """Walls of many pots broadcast against many thicknesses."""
    table = annulus_resistance_m2_k_w(np.array([[0.1], [0.2]]), np.array([0.003, 0.012, 0.02]), 0.5)
    assert table.shape == (2, 3)
    assert np.all(np.diff(table, axis=1) > 0.0)


@pytest.mark.parametrize(
    "call",
    [
        lambda: annulus_resistance_m2_k_w(0.0, 0.01, 0.5),
        lambda: annulus_resistance_m2_k_w(0.1, -0.01, 0.5),
        lambda: annulus_resistance_m2_k_w(0.1, 0.01, 0.0),
        lambda: wrap_resistance_m2_k_w(0.1, 0.09, 0.01, 0.05),
        lambda: sheet_resistance_m2_k_w(0.1, 0.12, -0.1),
        lambda: annulus_heat_capacity_j_m2_k(0.1, 0.01, -1.0, 800.0),
        lambda: outer_area_ratio(-0.1, 0.01),
        lambda: wet_fibre_conductivity_w_m_k(0.05, 0.8, 0.9, frozen=False),
        lambda: freeze_thaw_cycles([0.0, -2.0], freezes_below_c=0.0, thaws_above_c=-1.0),
    ],
)
def test_walls_that_cannot_be_are_refused(call):
    """Sizes, conductivities and water contents outside their range are refused."""
    with pytest.raises(PhysicsInputError):
        call()
