"""Wind profiles, the way from the forecast's mast to the terrace, gusts."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostguard.errors import PhysicsInputError
from frostguard.physics.stability import WIND_LOAD_AIR_DENSITY_KG_M3
from frostguard.physics.wind import (
    OPEN_LAND_ROUGHNESS_M,
    TerrainCategory,
    gust_factor,
    least_height_m,
    log_profile_factor,
    turbulence_intensity,
    wind_at_height_m_s,
)


@pytest.mark.parametrize(
    ("roughness_m", "expected"), [(0.03, 0.723), (0.1, 0.651), (0.5, 0.463), (1.0, 0.301)]
)
def test_log_profile_from_ten_to_two_metres(roughness_m, expected):
    """The log law from 10 to 2 m gives the factors recomputed from ln(2/z0)/ln(10/z0), to three digits."""
    assert log_profile_factor(2.0, roughness_m) == pytest.approx(expected, abs=5e-4)


@pytest.mark.parametrize(
    ("terrain", "mean_m_s", "intensity", "gust_m_s", "pressure_pa"),
    [
        (TerrainCategory.SEA, 30.38, 0.123, 41.5, 1074),
        (TerrainCategory.FLAT, 28.14, 0.145, 39.9, 997),
        (TerrainCategory.OPEN_COUNTRY, 24.16, 0.189, 36.8, 847),
        (TerrainCategory.SUBURB, 18.13, 0.285, 31.4, 615),
        (TerrainCategory.CITY, 12.95, 0.434, 26.0, 423),
    ],
)
def test_strong_wind_at_ten_metres(terrain, mean_m_s, intensity, gust_m_s, pressure_pa):
    """Turbulence, gust and gust pressure over the mean wind at 10 m, for a basic wind of 24 m/s, are the standard's."""
    # EN 1991-1-4:2005, eq. 4.3 to 4.8 and table 4.1, recomputed from memory of the equations
    assert turbulence_intensity(10.0, terrain) == pytest.approx(intensity, abs=5e-4)
    gust = mean_m_s * gust_factor(10.0, terrain)
    assert gust == pytest.approx(gust_m_s, abs=0.06)
    assert 0.5 * WIND_LOAD_AIR_DENSITY_KG_M3 * gust**2 == pytest.approx(pressure_pa, rel=0.005)


def test_open_land_at_ten_metres_keeps_the_forecast():
    """At 10 m over the roughness of the weather station nothing changes."""
    assert wind_at_height_m_s(4.0, 10.0, OPEN_LAND_ROUGHNESS_M) == pytest.approx(4.0)


def test_rougher_land_has_less_wind():
    """At 15 m there is less wind over suburb than over open land, and less still over city."""
    open_land, suburb, city = (
        float(wind_at_height_m_s(5.0, 15.0, roughness_m)) for roughness_m in (0.03, 0.3, 1.0)
    )
    assert open_land > suburb > city > 0.5 * open_land


def test_city_wind_by_hand():
    """At 20 m over a city the two log laws that meet at 60 m give 0.957 of the forecast."""
    # ln(60/0.03)/ln(10/0.03) x ln(20/1)/ln(60/1) = 1.3085 x 0.7317
    assert wind_at_height_m_s(1.0, 20.0, 1.0) == pytest.approx(0.957, abs=1e-3)


def test_low_terraces_share_the_least_height():
    """Below the least height of the roughness a terrace gets the wind at that height."""
    assert least_height_m(1.0) == 10.0
    assert least_height_m(0.3) == 5.0
    assert least_height_m(0.03) == 1.0
    assert wind_at_height_m_s(5.0, 0.0, 1.0) == wind_at_height_m_s(5.0, 10.0, 1.0)


@given(st.floats(0.0, 40.0), st.floats(0.0, 150.0), st.floats(0.0, 150.0), st.floats(0.0005, 2.0))
def test_more_height_never_means_less_wind(speed_m_s, low_m, high_m, roughness_m):
    """Wind grows with height, is never negative, and is finite for all heights and roughnesses."""
    low_m, high_m = sorted((low_m, high_m))
    low = wind_at_height_m_s(speed_m_s, low_m, roughness_m)
    high = wind_at_height_m_s(speed_m_s, high_m, roughness_m)
    assert 0.0 <= low <= high + 1e-12
    assert np.isfinite(high)


def test_arrays_keep_their_shape():
    """An array of hours and members comes back as one, scaled by one factor."""
    speeds = np.arange(6.0).reshape(3, 2)
    assert wind_at_height_m_s(speeds, 12.0, 0.3).shape == (3, 2)


@pytest.mark.parametrize(("height_m", "roughness_m"), [(-1.0, 0.3), (10.0, 0.0), (10.0, 5.0)])
def test_impossible_places_are_refused(height_m, roughness_m):
    """A terrace below the street, and a land without roughness or beyond it, are errors."""
    with pytest.raises(PhysicsInputError):
        wind_at_height_m_s(5.0, height_m, roughness_m)


def test_a_height_within_the_roughness_is_refused():
    """A log law below the roughness length is an error."""
    with pytest.raises(PhysicsInputError):
        log_profile_factor(0.5, 1.0)
