"""Water vapour: saturation, dew point, wet bulb, evaporation."""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostguard.errors import PhysicsInputError
from frostguard.physics.humidity import (
    dew_point_from_humidity_c,
    dew_point_from_vapour_pressure_c,
    evaporative_heat_loss_w_m2,
    ice_bulb_c,
    psychrometric_constant_hpa_k,
    relative_humidity_percent,
    saturation_vapour_pressure_ice_hpa,
    saturation_vapour_pressure_water_hpa,
    standard_pressure_hpa,
    vapour_pressure_from_dew_point_hpa,
    vapour_pressure_from_wet_bulb_hpa,
    wet_bulb_c,
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
    ("air_temperature_c", "water_hpa", "ice_hpa"),
    [(-5.0, 4.222, 4.017), (-10.0, 2.870, 2.599), (-20.0, 1.260, 1.033)],
)
def test_saturation_below_zero_follows_the_wmo_formulas(air_temperature_c, water_hpa, ice_hpa):
    """Over supercooled water and over ice the pressures are those of the WMO's Magnus forms."""
    # WMO-No. 8, Annex 4.B, recomputed independently; half of the last digit.
    assert saturation_vapour_pressure_water_hpa(air_temperature_c) == pytest.approx(water_hpa, abs=6e-4)
    assert saturation_vapour_pressure_ice_hpa(air_temperature_c) == pytest.approx(ice_hpa, abs=6e-4)


@pytest.mark.parametrize("air_temperature_c", [-30.0, -20.0, -10.0, -5.0, -1.0])
def test_saturation_over_ice_agrees_with_psychrolib(air_temperature_c):
    """Over ice the pressure agrees with the ASHRAE formula of another library."""
    # ASHRAE Handbook of Fundamentals, 2017, ch. 1, eq. 5. Two fits to one table: 0.3 %.
    expected_hpa = psychrolib.GetSatVapPres(air_temperature_c) / 100.0
    assert saturation_vapour_pressure_ice_hpa(air_temperature_c) == pytest.approx(expected_hpa, rel=3e-3)


@pytest.mark.parametrize("air_temperature_c", [0.5, 2.0, 10.0, 20.0, 35.0])
def test_saturation_over_water_agrees_with_psychrolib(air_temperature_c):
    """Over water the pressure agrees with the ASHRAE formula of another library."""
    # ASHRAE Handbook of Fundamentals, 2017, ch. 1, eq. 6.
    expected_hpa = psychrolib.GetSatVapPres(air_temperature_c) / 100.0
    assert saturation_vapour_pressure_water_hpa(air_temperature_c) == pytest.approx(expected_hpa, rel=3e-3)


def test_psychrometer_matches_fao_example_4():
    """The two thermometers of FAO-56 example 4 give 1.91 kPa."""
    # Allen et al., FAO-56, 1998, example 4: 25.6 and 19.5 degC at 87.9 kPa.
    assert vapour_pressure_from_wet_bulb_hpa(25.6, 19.5, 879.0) / 10.0 == pytest.approx(1.91, abs=0.01)


def test_humidity_chain_ends_at_the_dew_point():
    """From the two thermometers of FAO-56 example 4 the dew point is 16.8 degC."""
    # 1.91 kPa by FAO-56 eq. 14 (Tetens) is 16.76 degC; the Magnus constants differ by 0.05 K there.
    dew_point_c = dew_point_from_vapour_pressure_c(vapour_pressure_from_wet_bulb_hpa(25.6, 19.5, 879.0))
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


def test_dew_and_wet_bulb_agree_with_other_libraries_at_2_degrees():
    """At 2 degC and 80 % dew point and wet bulb agree with two other libraries."""
    # psychrolib 2.5.0: wet bulb 0.7587; CoolProp 8.0.0: 0.7559 degC. Those use the adiabatic saturation
    # temperature, this one a ventilated thermometer: some hundredths apart.
    dew_point_c = dew_point_from_humidity_c(2.0, 80.0)
    assert wet_bulb_c(2.0, dew_point_c, SEA_LEVEL_HPA) == pytest.approx(0.7587, abs=0.03)
    # Both give -0.956 degC as frost point: the temperature at which ice, not water, would be saturated.
    assert saturation_vapour_pressure_ice_hpa(-0.956) == pytest.approx(
        float(vapour_pressure_from_dew_point_hpa(dew_point_c)), rel=3e-3
    )


@pytest.mark.parametrize(
    ("air_temperature_c", "humidity", "expected_c"),
    [(20.0, 50.0, 13.85), (5.0, 50.0, 1.42), (2.0, 50.0, -1.12), (0.0, 60.0, -2.25), (-3.0, 60.0, -4.93)],
)
def test_wet_bulb_solves_the_psychrometer_equation(air_temperature_c, humidity, expected_c):
    """Wet bulbs agree with an independent solution of the psychrometer equation."""
    # Independent root search with Tetens' constants; the Magnus constants move it by up to 0.01 K. The fit of
    # Stull 2011 gives -1.78 at 2 degC and 50 %, far outside this tolerance.
    dew_point_c = dew_point_from_humidity_c(air_temperature_c, humidity)
    assert wet_bulb_c(air_temperature_c, dew_point_c, SEA_LEVEL_HPA) == pytest.approx(expected_c, abs=0.02)


@pytest.mark.parametrize(
    ("air_temperature_c", "humidity"), [(10.0, 40.0), (15.0, 90.0), (25.0, 20.0), (35.0, 60.0)]
)
def test_wet_bulb_agrees_with_psychrolib_above_freezing(air_temperature_c, humidity):
    """Above freezing the wet bulb agrees with the adiabatic saturation temperature of another library."""
    expected_c = psychrolib.GetTWetBulbFromRelHum(air_temperature_c, humidity / 100.0, 101325.0)
    dew_point_c = dew_point_from_humidity_c(air_temperature_c, humidity)
    # A ventilated thermometer and adiabatic saturation differ by up to 2 % of the depression.
    depression_k = air_temperature_c - expected_c
    assert wet_bulb_c(air_temperature_c, dew_point_c, SEA_LEVEL_HPA) == pytest.approx(
        expected_c, abs=0.03 + 0.02 * depression_k
    )


@given(air_c, humidity_percent, pressure_hpa)
def test_wet_bulb_lies_between_dew_point_and_air(air_temperature_c, humidity, pressure):
    """The wet bulb is never below the dew point nor above the air, and solves its equation."""
    dew_point_c = dew_point_from_humidity_c(air_temperature_c, humidity)
    wet_c = wet_bulb_c(air_temperature_c, dew_point_c, pressure)
    assert dew_point_c - 1e-9 <= wet_c <= air_temperature_c
    assert vapour_pressure_from_wet_bulb_hpa(air_temperature_c, wet_c, pressure) == pytest.approx(
        float(vapour_pressure_from_dew_point_hpa(dew_point_c)), abs=1e-6
    )


@given(st.floats(-30.0, 0.0), humidity_percent, pressure_hpa)
def test_ice_bulb_is_never_warmer_than_air(air_temperature_c, humidity, pressure):
    """An iced surface that sublimates is no warmer than the air, and below it in air dry over ice."""
    dew_point_c = dew_point_from_humidity_c(air_temperature_c, humidity)
    iced_c = ice_bulb_c(air_temperature_c, dew_point_c, pressure)
    assert iced_c <= air_temperature_c
    dry_over_ice = vapour_pressure_from_dew_point_hpa(
        dew_point_c
    ) < 0.99 * saturation_vapour_pressure_ice_hpa(air_temperature_c)
    assert (iced_c < air_temperature_c) or not dry_over_ice


@given(air_c, humidity_percent)
def test_humidity_and_dew_point_are_inverse(air_temperature_c, humidity):
    """Turning humidity into a dew point and back loses nothing."""
    dew_point_c = dew_point_from_humidity_c(air_temperature_c, humidity)
    assert relative_humidity_percent(air_temperature_c, dew_point_c) == pytest.approx(humidity, rel=1e-9)


def test_dew_point_above_air_counts_as_saturated():
    """A dew point that rounding put above the air gives the air temperature as wet bulb."""
    assert wet_bulb_c(3.0, 3.4, SEA_LEVEL_HPA) == pytest.approx(3.0, abs=1e-9)


def test_missing_hours_stay_missing_and_others_are_unharmed():
    """A missing dew point gives a missing wet bulb for that hour alone."""
    wet_c = wet_bulb_c([1.0, 1.0], [np.nan, -2.0], SEA_LEVEL_HPA)
    assert np.isnan(wet_c[0])
    assert -2.0 < wet_c[1] < 1.0


@pytest.mark.parametrize("humidity", [0.0, -5.0])
def test_humidity_of_nothing_is_refused(humidity):
    """A relative humidity of 0 % or below is refused, since no dew point belongs to it."""
    with pytest.raises(PhysicsInputError):
        dew_point_from_humidity_c(5.0, humidity)


def test_vapour_pressure_and_air_pressure_of_nothing_are_refused():
    """Pressures of 0 hPa are refused."""
    with pytest.raises(PhysicsInputError):
        dew_point_from_vapour_pressure_c([5.0, 0.0])
    with pytest.raises(PhysicsInputError):
        wet_bulb_c(5.0, 1.0, 0.0)


def test_pressure_and_psychrometric_constant_match_fao_example_2():
    """At 1800 m the pressure is 81.8 kPa and the psychrometric constant 0.054 kPa/K."""
    # Allen et al., FAO-56, 1998, example 2; last printed digits.
    pressure = standard_pressure_hpa(1800.0)
    assert pressure / 10.0 == pytest.approx(81.8, abs=0.1)
    assert psychrometric_constant_hpa_k(pressure) / 10.0 == pytest.approx(0.054, abs=0.001)


def test_height_beyond_the_range_is_refused():
    """A height given in feet by mistake for a mountain is refused."""
    with pytest.raises(PhysicsInputError):
        standard_pressure_hpa(9000.0)


@given(st.floats(-20.0, 30.0), humidity_percent, st.floats(0.1, 50.0))
def test_a_surface_at_the_wet_bulb_is_in_balance(air_temperature_c, humidity, film):
    """At the wet bulb, evaporation takes what the air brings."""
    dew_point_c = dew_point_from_humidity_c(air_temperature_c, humidity)
    wet_c = wet_bulb_c(air_temperature_c, dew_point_c, SEA_LEVEL_HPA)
    loss = evaporative_heat_loss_w_m2(
        film,
        saturation_vapour_pressure_water_hpa(wet_c),
        vapour_pressure_from_dew_point_hpa(dew_point_c),
        SEA_LEVEL_HPA,
    )
    gain = film * (air_temperature_c - wet_c)
    # The two published psychrometric constants, 0.000662 and 0.000665, differ by 0.5 %.
    assert loss == pytest.approx(gain, rel=6e-3, abs=1e-6)


def test_dew_warms_a_surface():
    """A surface below the dew point gains heat: its loss is negative."""
    surface_hpa = saturation_vapour_pressure_water_hpa(-4.0)
    air_hpa = vapour_pressure_from_dew_point_hpa(-1.0)
    assert evaporative_heat_loss_w_m2(10.0, surface_hpa, air_hpa, SEA_LEVEL_HPA) < 0.0
