"""Snow as a blanket."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostguard.errors import PhysicsInputError
from frostguard.physics.snow import (
    snow_resistance_m2_k_w,
    sturm_log_snow_conductivity_w_m_k,
    sturm_snow_conductivity_w_m_k,
    yen_snow_conductivity_w_m_k,
)

DENSITIES_KG_M3 = np.array([100.0, 150.0, 200.0, 300.0, 400.0, 500.0])


def test_snow_conducts_as_the_published_fits():
    """Three published fits give their values from fresh to dense snow."""
    # Sturm et al. 1997 and Yen 1981 (coefficients from memory), recomputed independently; half of the last
    # digit.
    assert sturm_snow_conductivity_w_m_k(DENSITIES_KG_M3) == pytest.approx(
        [0.0464, 0.0581, 0.0653, 0.126, 0.2513, 0.4413], abs=6e-5
    )
    assert sturm_log_snow_conductivity_w_m_k(DENSITIES_KG_M3) == pytest.approx(
        [0.041, 0.0557, 0.0755, 0.139, 0.2559, 0.471], abs=6e-4
    )
    assert yen_snow_conductivity_w_m_k(DENSITIES_KG_M3) == pytest.approx(
        [0.029, 0.0622, 0.107, 0.2298, 0.3953, 0.602], abs=6e-5
    )


@pytest.mark.parametrize(
    ("density_kg_m3", "standard"), [(100.0, 0.05), (200.0, 0.12), (300.0, 0.23), (500.0, 0.60)]
)
def test_fits_bracket_the_building_standard(density_kg_m3, standard):
    """The building standard's values lie between the lowest and highest fit, within a quarter."""
    # EN 12524:2000, snow fresh, soft, slightly compacted, compacted.
    fits = [
        fit(density_kg_m3)
        for fit in (
            sturm_snow_conductivity_w_m_k,
            sturm_log_snow_conductivity_w_m_k,
            yen_snow_conductivity_w_m_k,
        )
    ]
    assert min(fits) / 1.25 <= standard <= max(fits) * 1.25


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(50.0, 600.0))
def test_deeper_snow_insulates_more(first_m, second_m, density_kg_m3):
    """Resistance grows with depth and is 0 without snow."""
    shallow, deep = snow_resistance_m2_k_w(sorted([first_m, second_m]), density_kg_m3)
    assert 0.0 <= shallow <= deep
    assert snow_resistance_m2_k_w(0.0, density_kg_m3) == 0.0


def test_ten_centimetres_of_settled_snow():
    """Ten centimetres of snow at 200 kg/m3 resist 1.5 m2K/W, more than 5 cm of polystyrene."""
    resistance = snow_resistance_m2_k_w(0.10, 200.0)
    assert resistance == pytest.approx(0.10 / 0.0653, rel=1e-3)
    assert resistance > 0.05 / 0.0355


@pytest.mark.parametrize(("depth_m", "density_kg_m3"), [(-0.1, 200.0), (0.1, 0.0), (0.1, 900.0)])
def test_snow_that_cannot_be_is_refused(depth_m, density_kg_m3):
    """A negative depth, or a density of nothing or of ice, is refused."""
    with pytest.raises(PhysicsInputError):
        snow_resistance_m2_k_w(depth_m, density_kg_m3)
