"""Properties of air."""

from __future__ import annotations

import pytest

from frostguard.physics.air import (
    air_conductivity_w_m_k,
    air_density_kg_m3,
    air_dynamic_viscosity_pa_s,
    air_in_a_film,
)


def test_air_at_minus_5_matches_the_reference_equations():
    """At -5 degC the properties are those of a reference library, within what the older formulas can do."""
    # CoolProp 8.0.0, PropsSI at 268.15 K and 101325 Pa, fluid Air: conductivity 0.0239767, viscosity
    # 1.69670e-5, Prandtl 0.711621, density 1.317265.
    assert air_conductivity_w_m_k(-5.0) == pytest.approx(0.0239767, rel=0.011)
    assert air_dynamic_viscosity_pa_s(-5.0) == pytest.approx(1.69670e-5, rel=0.005)
    assert air_in_a_film(-5.0, 1013.25)[2] == pytest.approx(0.711621, rel=0.01)
    assert air_density_kg_m3(-5.0, 1013.25) == pytest.approx(1.317265, rel=0.001)


@pytest.mark.parametrize(
    ("air_temperature_c", "density", "viscosity", "conductivity"),
    [
        (15.0, 1.2249992, 1.789380e-5, 0.0253259),
        (-5.0, 1.3163659, 1.691223e-5, 0.0237381),
        (-10.0, 1.3413776, 1.666149e-5, 0.0233363),
    ],
)
def test_air_follows_the_standard_atmosphere(air_temperature_c, density, viscosity, conductivity):
    """Density, viscosity and conductivity are those of the U.S. Standard Atmosphere's formulas."""
    # fluids 1.3.1, ATMOSPHERE_1976(0, dT=0, -20, -25): an independent implementation of the same formulas.
    assert air_density_kg_m3(air_temperature_c, 1013.25) == pytest.approx(density, rel=1e-4)
    assert air_dynamic_viscosity_pa_s(air_temperature_c) == pytest.approx(viscosity, rel=1e-5)
    assert air_conductivity_w_m_k(air_temperature_c) == pytest.approx(conductivity, rel=1e-5)


def test_kinematic_viscosity_at_freezing():
    """At 0 degC and sea level the kinematic viscosity is 13.3e-6 m2/s."""
    # Handbook value for dry air at 0 degC; three figures.
    assert air_in_a_film(0.0, 1013.25)[1] == pytest.approx(13.3e-6, rel=0.004)


def test_thin_air_is_lighter_and_more_viscous_for_its_weight():
    """At a lower pressure density falls and kinematic viscosity rises in proportion."""
    assert air_density_kg_m3(0.0, 800.0) == pytest.approx(0.8 * air_density_kg_m3(0.0, 1000.0), rel=1e-12)
    assert air_in_a_film(0.0, 800.0)[1] == pytest.approx(1.25 * air_in_a_film(0.0, 1000.0)[1], rel=1e-12)
