"""Bare stems and sleeves: balance, freezing of the sap, and signs that are true."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from frostguard.errors import PhysicsInputError
from frostguard.physics.stem import (
    GREEN_WOOD_HEAT_CAPACITY_J_M3_K,
    LATENT_HEAT_J_M3,
    SAP_FRACTION,
    SAP_FREEZES_C,
    stem_c,
    stem_environment_c,
)

HOURS = np.arange(25.0)
FOAM = {"sleeve_m2_k_w": 0.33, "sleeve_thickness_m": 0.013}


def clear_night(wind_m_s: float = 1.0, diameter_m: float = 0.02) -> tuple[np.ndarray, np.ndarray]:
    """From 5 to -4 degC and up again, as a clear night falls: environment and film of a stem of 2 cm."""
    air = 0.5 + 4.5 * np.cos(2.0 * np.pi * HOURS / 24.0)
    return stem_environment_c(
        diameter_m=diameter_m, length_m=0.9, air_temperature_c=air, wind_speed_m_s=wind_m_s, sky_longwave_w_m2=220.0,
        surroundings_c=air, floor_c=air, pressure_hpa=1013.0, sky_view=1.0)


def test_a_stem_without_sap_follows_the_exact_solution():
    """Without freezing a stem put into the cold cools by the exponential of its own heat over its film."""
    # exact: dT/dt = -(T - T_out) / tau, tau = rho c r / (2 h). Steps of a quarter of an hour, implicit, of first
    # order: 3 % of the fall for a tau of an hour.
    radius, film = 0.02, 2.3e6 * 0.02 / 2.0 / 3600.0
    around = np.r_[10.0, np.full(24, -10.0)]
    course = stem_c(around, np.full(25, film), radius_m=radius, sap_fraction=0.0)
    start = course[1]
    assert course[1:8] == pytest.approx(-10.0 + (start + 10.0) * np.exp(-HOURS[:7]), abs=0.6)


@pytest.mark.parametrize("sleeve", [{}, FOAM])
def test_a_freezing_stem_follows_an_independent_integration(sleeve: dict[str, float]):
    """With its sap freezing the stem follows an ODE solver that knows only the apparent heat capacity."""
    around, film = clear_night()
    radius, outer = 0.01, 0.01 + sleeve.get("sleeve_thickness_m", 0.0)
    ring = np.log(outer / radius) * 0.33 / 0.013 / (2.0 * np.pi) if sleeve else 0.0

    def rate(t: float, temperature: np.ndarray) -> np.ndarray:
        capacity = np.full_like(temperature, GREEN_WOOD_HEAT_CAPACITY_J_M3_K)
        capacity += np.where(temperature < SAP_FREEZES_C,
                             LATENT_HEAT_J_M3 * SAP_FRACTION * -SAP_FREEZES_C / temperature**2, 0.0)
        resistance = ring + 1.0 / (2.0 * np.pi * outer * np.interp(t, HOURS, film))
        flow = (np.interp(t, HOURS, around) - temperature) / resistance
        return 3600.0 * flow / (capacity * np.pi * radius**2)

    solved = solve_ivp(rate, (0.0, 24.0), [around[0]], t_eval=HOURS, max_step=0.02, rtol=1e-6, atol=1e-6)
    # implicit steps of a quarter of an hour lag in the thaw, where air rises by more than a kelvin an hour
    assert stem_c(around, film, radius_m=radius, **sleeve) == pytest.approx(solved.y[0], abs=0.3)
    assert stem_c(around, film, radius_m=radius, **sleeve).min() == pytest.approx(solved.y[0].min(), abs=0.05)


def test_a_sleeve_brings_a_stem_through_a_short_frost_and_not_through_a_long_one():
    """Ten hours of -5 degC find a sleeved stem well above a bare one; after three days they are as cold as the air."""
    # By hand for 2 cm of stem in 13 mm of foam: 3.14e-4 m2 x 0.4 x 333.55e6 J/m3 = 42 kJ a metre, half of it
    # given off by -2 degC; out go 3 K / 3.9 K m/W = 0.8 W. So 21 kJ last some 7 h.
    around, film = np.r_[3.0, np.full(95, -5.0)], np.full(96, 15.0)
    bare, sleeved = (stem_c(around, film, radius_m=0.01, **sleeve) for sleeve in ({}, FOAM))
    assert bare[8] < -4.0
    assert -2.6 < sleeved[8] < -1.5
    assert sleeved[-1] == pytest.approx(-5.0, abs=0.2)
    assert bare[-1] == pytest.approx(-5.0, abs=0.05)


def test_heat_is_kept():
    """What a stem gives off in a freeze and takes up in the thaw after it leaves it as warm as it was."""
    around = np.r_[np.full(1, 4.0), np.full(40, -8.0), np.full(200, 4.0)]
    assert stem_c(around, np.full(around.size, 15.0), radius_m=0.02, **FOAM)[-1] == pytest.approx(4.0, abs=0.05)


def test_a_bare_stem_lies_less_below_the_air_than_a_leaf_and_wind_takes_it_away():
    """On a clear night an upright twig lies a fraction of a kelvin to two below the air, in wind hardly at all."""
    # An upright face sees half of the sky that a level leaf does, and a thin one has a thin film: near the air.
    air = 0.5 + 4.5 * np.cos(2.0 * np.pi * HOURS / 24.0)
    frost = air < 0.0
    calm, windy = (air - clear_night(0.5)[0])[frost], (air - clear_night(6.0)[0])[frost]
    assert np.all((calm > 0.3) & (calm < 2.0))
    assert np.all(windy < 0.6 * calm)


def test_a_thicker_stem_is_never_colder_at_its_coldest():
    """Of stems in one night the thicker has the milder minimum."""
    around, film = clear_night()
    coldest = [stem_c(around, film, radius_m=radius).min() for radius in (0.005, 0.01, 0.02, 0.04)]
    assert coldest == sorted(coldest)


@pytest.mark.parametrize("wrong", [{"radius_m": 0.0}, {"radius_m": 0.01, "sleeve_m2_k_w": -1.0},
                                   {"radius_m": 0.01, "sap_fraction": 1.5}])
def test_impossible_stems_are_refused(wrong: dict[str, float]):
    """A stem without thickness, a sleeve below nothing or more sap than stem is refused."""
    with pytest.raises(PhysicsInputError):
        stem_c(np.zeros(3), np.ones(3), **wrong)
