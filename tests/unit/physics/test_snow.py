"""Snow as a blanket."""

from __future__ import annotations

import numpy as np
import pytest

from frostguard.errors import PhysicsInputError
from frostguard.physics.snow import sturm_snow_conductivity_w_m_k


def test_snow_conducts_as_the_published_fit():
    """The published fit gives its values from fresh to dense snow."""
    # Sturm et al. 1997 (coefficients from memory), recomputed independently; half of the last digit.
    densities_kg_m3 = np.array([100.0, 150.0, 200.0, 300.0, 400.0, 500.0])
    assert sturm_snow_conductivity_w_m_k(densities_kg_m3) == pytest.approx(
        [0.0464, 0.0581, 0.0653, 0.126, 0.2513, 0.4413], abs=6e-5
    )


@pytest.mark.parametrize(
    ("density_kg_m3", "standard"), [(100.0, 0.05), (200.0, 0.12), (300.0, 0.23), (500.0, 0.60)]
)
def test_snow_insulates_no_worse_than_the_building_standard_says(density_kg_m3, standard):
    """The fit lies below the building standard's design values, and above half of them."""
    # EN 12524:2000, snow fresh, soft, slightly compacted, compacted: rounded up for safety of buildings.
    assert 0.5 * standard < sturm_snow_conductivity_w_m_k(density_kg_m3) < standard


@pytest.mark.parametrize("density_kg_m3", [0.0, -10.0, 900.0])
def test_snow_that_cannot_be_is_refused(density_kg_m3):
    """A density of nothing or of ice is refused."""
    with pytest.raises(PhysicsInputError):
        sturm_snow_conductivity_w_m_k(density_kg_m3)
