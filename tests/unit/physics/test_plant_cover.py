"""Covers over plants: optics, leakage, and what a hood does for the top of the root ball."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostguard.errors import PhysicsInputError
from frostguard.physics.plant_cover import (
    LEAF_EMISSIVITY,
    CanopyCover,
    hooded_top,
    inside_wind_m_s,
    joint_resistance_m2_k_w,
    leakage_film_w_m2_k,
    leakage_m_s,
    longwave_exchange,
    stack_optics,
)
from tests.fleeces import WEIGHTS_G_M2, fleece

weights = st.sampled_from(WEIGHTS_G_M2)


def test_light_fleece_passes_about_half_the_thermal_radiation():
    """Spunbonded fleece of 17 g/m2 passes 0.4 to 0.6 of thermal radiation, soaked much less."""
    # Range usually said of light spunbonded polypropylene; estimate
    assert 0.4 <= fleece(17.0, 1).longwave_transmittance <= 0.6
    assert fleece(17.0, 1, wet=True).longwave_transmittance < 0.15


@given(weights, weights)
def test_heavier_fleece_passes_less(one, other):
    """More weight passes less thermal radiation, sun and air."""
    light, heavy = (fleece(weight, 1) for weight in sorted((one, other)))
    assert heavy.longwave_transmittance <= light.longwave_transmittance
    assert heavy.solar_transmittance <= light.solar_transmittance
    assert leakage_m_s(heavy, 2.0) <= leakage_m_s(light, 2.0)


@pytest.mark.parametrize(("grams_m2", "low", "high"), [(17.0, 0.85, 0.90), (30.0, 0.70, 0.85)])
def test_fleece_passes_light_as_its_trade_says(grams_m2, low, high):
    """Light passes as common practice has it: 85 to 90 % at 17 g/m2, 70 to 85 % at 30 to 35 g/m2."""
    assert low <= fleece(grams_m2, 1).solar_transmittance <= high


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.integers(1, 6))
def test_stacked_layers_keep_the_sum(passes, kept, layers):
    """Emissivity, transmittance and reflectance of a stack add up to one and are never negative."""
    cover = replace(
        fleece(17.0, 1), longwave_transmittance=passes, longwave_emissivity=(1.0 - passes) * kept
    )
    emissivity, transmittance = stack_optics(cover, layers)
    assert emissivity >= -1e-9
    assert transmittance >= 0.0
    assert emissivity + transmittance <= 1.0 + 1e-9


def test_two_layers_without_absorption_reflect_as_the_textbook_series():
    """Two sheets that only reflect pass (1 - r)/(1 + r)."""
    # Duffie & Beckman, Solar Engineering of Thermal Processes, eq. 5.1.7 for N surfaces without
    # absorption: (1 - r)/(1 + (2 N - 1) r) with two surfaces to each sheet; for plain sheets of
    # reflectance r the same series gives (1 - r)/(1 + (N - 1) r).
    cover = replace(fleece(17.0, 1), longwave_transmittance=0.8, longwave_emissivity=0.0)
    assert stack_optics(cover, 2)[1] == pytest.approx((1.0 - 0.2) / (1.0 + 0.2))
    assert stack_optics(cover, 3)[1] == pytest.approx((1.0 - 0.2) / (1.0 + 2.0 * 0.2))


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.integers(1, 4))
def test_exchange_sees_each_side_of_a_cover_once(passes, kept, layers):
    """What the leaf exchanges with cover and sky adds up to its emissivity less what the cover reflects."""
    cover = replace(
        fleece(17.0, layers), longwave_transmittance=passes, longwave_emissivity=(1.0 - passes) * kept
    )
    emissivity, transmittance = stack_optics(cover, layers)
    seen = longwave_exchange(cover)
    from_leaf = (seen.outside_leaf + seen.outer_leaf + seen.inner_leaf) / LEAF_EMISSIVITY
    from_outside = seen.outside_leaf / LEAF_EMISSIVITY + seen.outside_outer + seen.outside_inner
    assert from_leaf == pytest.approx(emissivity + transmittance, abs=1e-6)
    assert from_outside == pytest.approx(emissivity + transmittance, abs=1e-6)


def test_leakage_grows_with_wind_and_falls_with_layers():
    """More wind leaks more, two layers less than one, a soaked layer less than a dry one."""
    one, two, soaked = fleece(17.0, 1), fleece(17.0, 2), fleece(17.0, 1, wet=True)
    winds = np.array([0.0, 0.5, 2.0, 6.0])
    assert (np.diff(leakage_m_s(one, winds)) > 0.0).all()
    assert (leakage_m_s(two, winds) < leakage_m_s(one, winds)).all()
    assert (leakage_m_s(soaked, winds) < leakage_m_s(one, winds)).all()


def test_leakage_film_is_flow_times_heat_capacity():
    """A flow of 0.01 m/s of air at 0 degC and sea level carries 13 W/m2K."""
    cover = replace(
        fleece(17.0, 1), leakage_still_m_s=0.01, leakage_per_wind=0.0, leakage_per_wind_squared=0.0
    )
    # density of dry air 1.2922 kg/m3 at 0 degC and 1013.25 hPa; 1006 J/kgK
    assert leakage_film_w_m2_k(cover, 3.0, 0.0, 1013.25) == pytest.approx(13.0, rel=0.005)


@given(st.floats(0.0, 20.0), weights, st.integers(1, 3))
def test_no_more_wind_inside_than_outside(wind_m_s, grams_m2, layers):
    """The air under a cover moves no faster than outside, a breath of 0.03 m/s apart."""
    inside = inside_wind_m_s(fleece(grams_m2, layers), wind_m_s)
    assert 0.0 < inside <= max(wind_m_s, 0.03)


def test_gap_counts_only_between_layers():
    """One layer has no gap; two dry ones have one; two soaked ones cling together."""
    assert joint_resistance_m2_k_w(fleece(17.0, 1)) < 0.01
    assert joint_resistance_m2_k_w(fleece(17.0, 2)) > 0.15
    assert joint_resistance_m2_k_w(fleece(17.0, 2, wet=True)) < 0.01


def hood(cover: CanopyCover, wind_m_s: float, area: float = 8.0):
    """A hood in a wind at -5 degC."""
    return hooded_top(
        cover,
        wind_speed_m_s=wind_m_s,
        air_temperature_c=-5.0,
        pressure_hpa=1000.0,
        cover_area_per_mix_area=area,
    )


def test_hood_adds_little_to_the_top_of_the_root_ball():
    """A hood of light fleece adds less than a tenth of a m2K/W over the mix, least in wind."""
    calm, windy = hood(fleece(17.0, 1), 0.3), hood(fleece(17.0, 1), 6.0)
    assert 0.0 < windy.added_resistance_m2_k_w < calm.added_resistance_m2_k_w < 0.1
    assert windy.wind_over_mix_m_s < 0.3 * 6.0
    assert 0.4 <= calm.sky_share <= 0.6
    assert calm.sun_share == pytest.approx(fleece(17.0, 1).solar_transmittance)


def test_second_layer_and_tighter_hood_add_resistance():
    """Two layers add more than one, and a lid more than a hood of eight times its area."""
    assert (
        hood(fleece(17.0, 2), 1.0).added_resistance_m2_k_w
        > hood(fleece(17.0, 1), 1.0).added_resistance_m2_k_w
    )
    lid = hood(fleece(17.0, 1), 1.0, area=1.0)
    assert lid.added_resistance_m2_k_w == pytest.approx(
        8.0 * hood(fleece(17.0, 1), 1.0).added_resistance_m2_k_w
    )


def test_impossible_covers_are_refused():
    """A share above one and a cover of no layers are errors."""
    with pytest.raises(PhysicsInputError):
        replace(fleece(17.0, 1), longwave_transmittance=1.2)
    with pytest.raises(PhysicsInputError):
        replace(fleece(17.0, 1), layers=0)
