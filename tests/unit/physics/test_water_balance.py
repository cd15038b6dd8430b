"""Water in a pot from day to day."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostguard.physics.water_balance import drifted_water_fraction, rain_share, reference_evaporation_mm_h

DRY, MOIST, WET = 0.2, 0.45, 0.65
shares = st.floats(0.0, 1.0)


@pytest.mark.parametrize(
    ("net_mj_m2_h", "air_c", "vapour_kpa", "wind_m_s", "expected_mm"),
    [(1.749, 38.0, 3.445, 3.3, 0.63), (-0.100, 28.0, 3.402, 1.9, 0.00)],
)
def test_reference_evaporation_of_the_worked_hours(net_mj_m2_h, air_c, vapour_kpa, wind_m_s, expected_mm):
    """The two hours of FAO-56 example 19, at two in the afternoon and at two by night, come out as printed."""
    # Allen et al., FAO-56, 1998, example 19: N'Diaye, Senegal, 8 m above the sea (from memory); printed to 0.01 mm
    loss = reference_evaporation_mm_h(net_mj_m2_h / 0.0036, air_c, 10.0 * vapour_kpa, wind_m_s, 1012.0)
    assert loss == pytest.approx(expected_mm, abs=0.006)


def test_a_cold_damp_windless_night_takes_nothing():
    """Where the air can hold no more and the grass only loses heat, nothing evaporates."""
    assert reference_evaporation_mm_h(-60.0, 0.0, 6.11, 0.3, 1000.0) == 0.0


def test_rain_reaches_the_open_and_no_roof():
    """All of it under an open sky, some under eaves, none under a roof."""
    # as the words of the garden file count: open 0.9, under eaves 0.5, roofed 0.1
    opened, eaves, roofed = rain_share([0.9, 0.5, 0.1])
    assert (opened, roofed) == (1.0, 0.0)
    assert 0.1 < eaves < 0.5


def drift(start, gain, loss, least=DRY, watered=0.0, hours=24):
    """One pot through some equal hours, watered after the first."""
    one = np.ones((hours, 1))
    watered_to = np.zeros((hours, 1))
    watered_to[0] = watered
    return float(
        drifted_water_fraction(
            np.array([start]),
            gain=gain * one,
            loss=loss * one,
            least=least * one,
            watered_to=watered_to,
            dry=np.array([DRY]),
            moist=np.array([MOIST]),
            capacity=np.array([WET]),
        )[0]
    )


def test_rain_fills_a_pot_up_to_what_it_holds():
    """Rain adds its depth over the depth of the mix; what is above capacity drains off."""
    assert drift(MOIST, 0.001, 0.0) == pytest.approx(MOIST + 0.024)
    assert drift(MOIST, 0.1, 0.0) == WET


def test_a_moist_pot_dries_by_what_is_asked_and_a_dry_one_by_nothing():
    """Above moist all is given; between moist and dry in proportion; dry, nothing."""
    assert drift(WET, 0.0, 0.001) == pytest.approx(WET - 0.024)
    half = 0.5 * (DRY + MOIST)
    assert drift(half, 0.0, 0.001, hours=1) == pytest.approx(half - 0.0005)
    assert drift(DRY, 0.0, 0.01) == DRY


def test_a_gardener_lets_no_pot_dry_below_how_it_is_kept_and_watering_counts():
    """Kept moist it stays so; left alone it dries; watered it begins again at moist."""
    assert drift(MOIST, 0.0, 0.01, least=MOIST) == MOIST
    assert drift(MOIST, 0.0, 0.01) < MOIST - 0.1
    assert drift(DRY, 0.0, 0.0, watered=MOIST) == MOIST


@given(shares, shares, shares)
def test_water_stays_between_dry_and_what_the_mix_holds(start, rain, asked):
    """Whatever the weather, a pot that began between dry and full stays there."""
    began = DRY + (WET - DRY) * start
    assert DRY - 1e-12 <= drift(began, 0.05 * rain, 0.05 * asked) <= WET + 1e-12
