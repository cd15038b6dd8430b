"""Water vapour: saturation, dew point, wet bulb, evaporation."""

from __future__ import annotations

import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostguard.errors import PhysicsInputError
from frostguard.physics.humidity import (
    dew_point_from_humidity_c,
    dew_point_from_vapour_pressure_c,
    evaporative_heat_loss_w_m2,
    psychrometric_constant_hpa_k,
    relative_humidity_percent,
    saturation_slope_water_hpa_k,
    saturation_vapour_pressure_water_hpa,
    standard_pressure_hpa,
    vapour_pressure_from_dew_point_hpa,
)

SEA_LEVEL_HPA = 1013.25

air_c = st.floats(-40.0, 45.0)
humidity_percent = st.floats(1.0, 100.0)
pressure_hpa = st.floats(700.0, 1050.0)


@pytest.fixture(scope="module", autouse=True)
def _si_units():
    psychrolib.SetUnitSystem(psychrolib.SI)


@pytest.mark.parametrize(("air_temperature_c", "expected_kpa"), [(24.5, 3.075), (15.0, 1.705)])
def test_saturation_matches_fao_example_3(air_temperature_c, expected_kpa):
    """Saturation pressures of FAO-56 example 3 come out within the difference of the two formulas."""
    # Allen et al., FAO-56, 1998, example 3. That paper uses Tetens' constants; they and the WMO's differ by
    # 0.3 %.
    assert saturation_vapour_pressure_water_hpa(air_temperature_c) / 10.0 == pytest.approx(
        expected_kpa, rel=3e-3
    )


def test_mean_saturation_matches_fao_example_3():
    """The mean of a day's extremes is 2.39 kPa as in FAO-56 example 3."""
    mean_kpa = saturation_vapour_pressure_water_hpa([24.5, 15.0]).mean() / 10.0
    assert mean_kpa == pytest.approx(2.39, abs=0.01)  # last printed digit


@pytest.mark.parametrize(
    ("air_temperature_c", "water_hpa"), [(-5.0, 4.222), (-10.0, 2.870), (-20.0, 1.260)]
)
def test_saturation_below_zero_follows_the_wmo_formula(air_temperature_c, water_hpa):
    """Over supercooled water the pressure is that of the WMO's Magnus form."""
    # WMO-No. 8, Annex 4.B, recomputed independently; half of the last digit.
    assert saturation_vapour_pressure_water_hpa(air_temperature_c) == pytest.approx(water_hpa, abs=6e-4)


@pytest.mark.parametrize("air_temperature_c", [0.5, 2.0, 10.0, 20.0, 35.0])
def test_saturation_over_water_agrees_with_psychrolib(air_temperature_c):
    """Over water the pressure agrees with the ASHRAE formula of another library."""
    # ASHRAE Handbook of Fundamentals, 2017, ch. 1, eq. 6.
    expected_hpa = psychrolib.GetSatVapPres(air_temperature_c) / 100.0
    assert saturation_vapour_pressure_water_hpa(air_temperature_c) == pytest.approx(expected_hpa, rel=3e-3)


def test_humidity_chain_ends_at_the_dew_point():
    """From the vapour pressure of FAO-56 example 4 the dew point is 16.8 degC."""
    # 1.91 kPa by FAO-56 eq. 14 (Tetens) is 16.76 degC; the Magnus constants differ by 0.05 K there.
    dew_point_c = dew_point_from_vapour_pressure_c(19.1)
    assert dew_point_c == pytest.approx(16.76, abs=0.06)


def test_vapour_pressure_matches_fao_example_5():
    """Extremes of temperature and humidity of FAO-56 example 5 give 1.70 kPa."""
    # Allen et al., FAO-56, 1998, example 5: 18 and 25 degC with 82 and 54 %.
    dew_points_c = dew_point_from_humidity_c([18.0, 25.0], [82.0, 54.0])
    assert vapour_pressure_from_dew_point_hpa(dew_points_c).mean() / 10.0 == pytest.approx(1.70, abs=0.01)


def test_dew_point_over_water_near_freezing():
    """At 0 degC and 80 % the dew point over water is -3.03 degC."""
    # FAO-56 eq. 14 for 0.4888 kPa.
    assert dew_point_from_humidity_c(0.0, 80.0) == pytest.approx(-3.03, abs=0.02)


@given(air_c, humidity_percent)
def test_humidity_and_dew_point_are_inverse(air_temperature_c, humidity):
    """Turning humidity into a dew point and back loses nothing."""
    dew_point_c = dew_point_from_humidity_c(air_temperature_c, humidity)
    assert relative_humidity_percent(air_temperature_c, dew_point_c) == pytest.approx(humidity, rel=1e-9)


@pytest.mark.parametrize("humidity", [0.0, -5.0])
def test_humidity_of_nothing_is_refused(humidity):
    """A relative humidity of 0 % or below is refused, since no dew point belongs to it."""
    with pytest.raises(PhysicsInputError):
        dew_point_from_humidity_c(5.0, humidity)


def test_vapour_pressure_of_nothing_is_refused():
    """A vapour pressure of 0 hPa is refused."""
    with pytest.raises(PhysicsInputError):
        dew_point_from_vapour_pressure_c([5.0, 0.0])


def test_pressure_and_psychrometric_constant_match_fao_example_2():
    """At 1800 m the pressure is 81.8 kPa and the psychrometric constant 0.054 kPa/K."""
    # Allen et al., FAO-56, 1998, example 2; last printed digits.
    pressure = standard_pressure_hpa(1800.0)
    assert pressure / 10.0 == pytest.approx(81.8, abs=0.1)
    assert psychrometric_constant_hpa_k(pressure) / 10.0 == pytest.approx(0.054, abs=0.001)


def test_saturation_rises_as_fast_as_fao_56_tabulates():
    """The slope of saturation agrees with FAO-56 from 1 to 40 degC."""
    # Allen et al. 1998, annex 2, table 2.4 (from memory): 0.047, 0.082, 0.145, 0.243, 0.393 kPa/degC
    slope_kpa_k = saturation_slope_water_hpa_k([1.0, 10.0, 20.0, 30.0, 40.0]) / 10.0
    assert slope_kpa_k == pytest.approx([0.047, 0.082, 0.145, 0.243, 0.393], rel=0.015)


@pytest.mark.parametrize("elevation_m", [-430.0, 0.0, 2000.0, 4000.0, 6000.0])
def test_pressure_follows_the_standard_atmosphere_to_the_highest_dwellings(elevation_m: float):
    """Within 1.3 % of the U.S. Standard Atmosphere 1976 at every height that a garden file may give."""
    fluids = pytest.importorskip("fluids")
    expected = fluids.ATMOSPHERE_1976(elevation_m).P / 100.0
    assert standard_pressure_hpa(elevation_m) == pytest.approx(expected, rel=0.013)


def test_height_beyond_the_range_is_refused():
    """A height given in feet by mistake for a mountain is refused."""
    with pytest.raises(PhysicsInputError):
        standard_pressure_hpa(9000.0)


def test_a_surface_at_the_wet_bulb_is_in_balance():
    """At the wet bulb of FAO-56 example 4 evaporation takes what the air brings."""
    # Allen et al., FAO-56, 1998, example 4: 25.6 and 19.5 degC at 87.9 kPa give 1.91 kPa. Its ventilated thermometer
    # has a constant of 0.000662, the surface one of 0.000665; 1.91 is printed to half a per cent.
    loss = evaporative_heat_loss_w_m2(10.0, saturation_vapour_pressure_water_hpa(19.5), 19.1, 879.0)
    assert loss == pytest.approx(10.0 * (25.6 - 19.5), rel=0.015)


def test_dew_warms_a_surface():
    """A surface below the dew point gains heat: its loss is negative."""
    surface_hpa = saturation_vapour_pressure_water_hpa(-4.0)
    air_hpa = vapour_pressure_from_dew_point_hpa(-1.0)
    assert evaporative_heat_loss_w_m2(10.0, surface_hpa, air_hpa, SEA_LEVEL_HPA) < 0.0
