"""Long-wave radiation: sky, cloud, exchange, view factors."""

from __future__ import annotations

import numpy as np
import pytest
from ht.radiation import q_rad
from hypothesis import given
from hypothesis import strategies as st

from frostguard.errors import PhysicsInputError
from frostguard.physics import radiation
from frostguard.physics.radiation import (
    ABSOLUTE_ZERO_C,
    NEIGHBOUR_SHARE_ALONE,
    NEIGHBOUR_SHARE_GROUP,
    NEIGHBOUR_SHARE_ROW,
    adjacent_cylinder_view_factor,
    black_body_w_m2,
    default_sky_longwave_w_m2,
    konzelmann_cloudy_emissivity,
    open_side_view_factors,
    radiant_temperature_c,
    radiative_coefficient_w_m2_k,
    side_view_factors,
    sky_longwave_by_every_formula_w_m2,
    sky_longwave_w_m2,
    unsworth_monteith_cloudy_emissivity,
)

# Clear-sky formulas recomputed independently from their printed constants, for 0 degC at 80 %, -5 degC at
# 70 % and 5 degC at 90 %: vapour pressures 4.886, 2.948 and 7.851 hPa. Emissivity to its fourth digit.
AIR_C = np.array([0.0, -5.0, 5.0])
VAPOUR_PRESSURE_HPA = np.array([4.886, 2.948, 7.851])
CLEAR_SKY = {
    "brunt": ([0.6637, 0.6316, 0.7021], [209.5, 185.2, 238.3]),
    "brutsaert": ([0.6979, 0.6510, 0.7449], [220.3, 190.9, 252.8]),
    "idso_1981": ([0.7705, 0.7471, 0.8027], [243.2, 219.0, 272.4]),
    "berdahl_martin": ([0.6947, 0.6640, 0.7315], [219.3, 194.7, 248.3]),
    "prata": ([0.7321, 0.7108, 0.7603], [231.1, 208.4, 258.0]),
    "dilley_obrien": ([0.7254, 0.6992, 0.7553], [229.0, 205.0, 256.4]),
}

temperatures_c = st.floats(-40.0, 40.0)


@pytest.mark.parametrize("name", CLEAR_SKY)
def test_clear_sky_formula_gives_its_published_values(name):
    """Each clear-sky emissivity, its radiation and the net loss of a black floor are as recomputed."""
    emissivities, longwave = CLEAR_SKY[name]

    emissivity = getattr(radiation, f"{name}_sky_emissivity")(AIR_C, VAPOUR_PRESSURE_HPA)

    assert emissivity == pytest.approx(emissivities, abs=5e-4)
    assert sky_longwave_w_m2(emissivity, AIR_C) == pytest.approx(longwave, abs=0.2)


@pytest.mark.parametrize(
    ("law", "expected"),
    [
        (unsworth_monteith_cloudy_emissivity, [0.7222, 0.7806, 0.8389, 0.8972, 0.9556]),
        (konzelmann_cloudy_emissivity, [0.7222, 0.7231, 0.7366, 0.7949, 0.9520]),
    ],
)
def test_cloud_law_gives_its_published_values(law, expected):
    """Each cloud law raises the clear sky's 0.7222 as recomputed from its printed constants."""
    assert law(0.7222, np.linspace(0.0, 1.0, 5)) == pytest.approx(expected, abs=1e-4)


def test_default_sky_lies_within_the_formulas():
    """The default clear sky at 0 degC and 80 % lies in 205 to 245 W/m2; an overcast one near the air."""
    clear, overcast = default_sky_longwave_w_m2(0.0, 4.886, np.array([0.0, 1.0]))
    assert 205.0 < clear < 245.0
    assert 0.95 < overcast / black_body_w_m2(0.0) <= 1.0


def test_every_formula_is_told_beside_the_default():
    """All formulas together bracket the default, and lie 30 W/m2 apart under a clear winter sky."""
    # 205 to 243 W/m2 at 0 degC and 80 %, recomputed independently
    skies = sky_longwave_by_every_formula_w_m2(0.0, 4.886, 0.0)
    default = default_sky_longwave_w_m2(0.0, 4.886, 0.0)
    assert skies["Dilley & O'Brien 1998"] == pytest.approx(float(default))
    assert min(skies.values()) < default < max(skies.values())
    assert 30.0 < max(skies.values()) - min(skies.values()) < 40.0


def test_coefficient_times_difference_is_the_exact_exchange():
    """The coefficient times the temperature difference equals ht's grey-body exchange."""
    cases = ((1.0, 126.85, 31.85), (0.9, -5.0, -30.0), (0.3, 0.0, 0.001))
    for emissivity, surface_c, surroundings_c in cases:
        difference = surface_c - surroundings_c
        exchange = radiative_coefficient_w_m2_k(emissivity, surface_c, surroundings_c) * difference
        expected = q_rad(emissivity, surface_c - ABSOLUTE_ZERO_C, surroundings_c - ABSOLUTE_ZERO_C)
        # the Stefan-Boltzmann constant there is one revision older and differs in its seventh digit
        assert exchange == pytest.approx(expected, rel=2e-6)


def test_coefficient_of_the_building_standard():
    """A black surface at 10 degC has the radiative coefficient of 5.1 W/m2K, one of 0.9 at 0 degC 4.16."""
    # EN ISO 6946 prints 5.1 at 10 degC; exact value 5.149. Emissivity 0.9 at 0 degC: 4.160.
    assert radiative_coefficient_w_m2_k(1.0, 10.0, 10.0) == pytest.approx(5.149, abs=1e-3)
    assert radiative_coefficient_w_m2_k(0.9, 0.0, 0.0) == pytest.approx(4.160, abs=1e-3)


@pytest.mark.parametrize(
    ("film_w_m2_k", "horizontal_c", "vertical_c"),
    [(3.0, -11.43, -5.61), (6.0, -7.91, -3.92), (10.0, -5.62, -2.80), (20.0, -3.28, -1.64)],
)
def test_steady_undershoot_of_an_insulated_surface(film_w_m2_k, horizontal_c, vertical_c):
    """Under a clear sky a still surface settles as far below the air as recomputed independently."""
    # Air 0 degC, emissivity 0.9, sky 0.7222; view of the sky 1, or 0.5 with the rest at 0 degC.
    for sky_share, expected_c in ((1.0, horizontal_c), (0.5, vertical_c)):
        received = sky_share * sky_longwave_w_m2(0.7222, 0.0) + (1.0 - sky_share) * black_body_w_m2(0.0)
        surroundings_c = radiant_temperature_c(received)
        surface_c = 0.0
        for _ in range(60):
            radiative = radiative_coefficient_w_m2_k(0.9, surface_c, surroundings_c)
            surface_c = radiative * surroundings_c / (radiative + film_w_m2_k)
        assert surface_c == pytest.approx(expected_c, abs=0.05)


@given(temperatures_c)
def test_radiant_temperature_undoes_emission(temperature_c):
    """The radiant temperature of a black surface's emission is its temperature."""
    assert radiant_temperature_c(black_body_w_m2(temperature_c)) == pytest.approx(temperature_c, abs=1e-6)


def test_negative_radiation_has_no_temperature():
    """A negative flux gives NaN without a warning."""
    assert np.isnan(radiant_temperature_c(-1.0))


def test_upright_side_in_the_open_sees_half_sky_half_floor():
    """In the open, alone, a side sees half sky and half floor; close to a wall a quarter of each."""
    alone = side_view_factors(1.0, against_house_wall=False, neighbour_share=NEIGHBOUR_SHARE_ALONE)
    assert (alone.sky, alone.floor, alone.house_wall) == (0.5, 0.5, 0.0)
    by_wall = side_view_factors(0.5, against_house_wall=True, neighbour_share=NEIGHBOUR_SHARE_ALONE)
    assert (by_wall.sky, by_wall.floor, by_wall.house_wall) == (0.25, 0.25, 0.5)


@given(
    st.floats(0.0, 1.0),
    st.booleans(),
    st.sampled_from([NEIGHBOUR_SHARE_ALONE, NEIGHBOUR_SHARE_ROW, NEIGHBOUR_SHARE_GROUP]),
)
def test_view_factors_add_up(sky_view, against_house_wall, neighbour_share):
    """The shares of side and open strip are never negative and add up to one."""
    for view in (
        side_view_factors(sky_view, against_house_wall=against_house_wall, neighbour_share=neighbour_share),
        open_side_view_factors(sky_view, against_house_wall=against_house_wall),
    ):
        shares = [view.sky, view.floor, view.house_wall, view.neighbours, view.surroundings]
        assert min(shares) >= 0.0
        assert sum(shares) == pytest.approx(1.0)


def test_open_strip_sees_more_sky_than_the_whole_side():
    """The strip that looks away from the wall sees all the sky in front."""
    strip = open_side_view_factors(0.5, against_house_wall=True)
    assert strip.sky == 0.5
    assert strip.house_wall == 0.0


def test_share_beyond_one_is_refused():
    """A sky view of more than the whole dome is an error."""
    with pytest.raises(PhysicsInputError):
        open_side_view_factors(1.2, against_house_wall=False)


def test_two_touching_cylinders():
    """The view factor of neighbouring cylinders agrees with a count of rays, touching or apart."""
    # Touching: (pi/2 - 1)/pi. Then rays by Lambert's cosine law from the cylinder, in the plane across it:
    # 200 x 200 midpoints, good to about 0.002.
    assert adjacent_cylinder_view_factor(0.0, 0.3) == pytest.approx((np.pi / 2.0 - 1.0) / np.pi)
    around = (np.arange(200) + 0.5) / 200.0 * 2.0 * np.pi
    sines = (np.arange(200) + 0.5) / 100.0 - 1.0  # even steps of the sine carry even heat
    for gap_m in (0.0, 0.1, 0.3):
        centre = (0.3 + gap_m) / 0.15
        direction = around[:, None] + np.arcsin(sines)[None, :]
        x, y = np.cos(around)[:, None], np.sin(around)[:, None]
        miss = np.abs((centre - x) * np.sin(direction) + y * np.cos(direction))
        ahead = (centre - x) * np.cos(direction) - y * np.sin(direction) > 0.0
        hits = np.mean((miss < 1.0) & ahead)
        assert adjacent_cylinder_view_factor(gap_m, 0.3) == pytest.approx(hits, abs=0.004)


def test_pots_cannot_overlap():
    """A negative gap between pots is an error."""
    with pytest.raises(PhysicsInputError):
        adjacent_cylinder_view_factor(-0.1, 0.3)
