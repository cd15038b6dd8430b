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
    berdahl_martin_hour_term,
    berdahl_martin_pressure_term,
    black_body_w_m2,
    crawford_duchon_cloudy_emissivity,
    default_sky_longwave_w_m2,
    fao56_cloud_factor,
    fao56_sky_emissivity,
    konzelmann_cloudy_emissivity,
    maykut_church_cloudy_emissivity,
    mean_radiant_temperature_c,
    open_side_view_factors,
    radiant_temperature_c,
    radiative_coefficient_w_m2_k,
    side_view_factors,
    sky_longwave_w_m2,
    top_view_factors,
    unsworth_monteith_cloudy_emissivity,
)

# Clear-sky formulas recomputed independently from their printed constants, for 0 degC at 80 %, -5 degC at
# 70 % and 5 degC at 90 %: vapour pressures 4.886, 2.948 and 7.851 hPa. Emissivity to its fourth digit.
AIR_C = np.array([0.0, -5.0, 5.0])
VAPOUR_PRESSURE_HPA = np.array([4.886, 2.948, 7.851])
CLEAR_SKY = {
    "brunt": ([0.6637, 0.6316, 0.7021], [209.5, 185.2, 238.3]),
    "fao56": ([0.7579, 0.7360, 0.7840], [239.2, 215.8, 266.1]),
    "brutsaert": ([0.6979, 0.6510, 0.7449], [220.3, 190.9, 252.8]),
    "swinbank": ([0.6987, 0.6733, 0.7245], [220.5, 197.4, 245.9]),
    "idso_jackson": ([0.7390, 0.7437, 0.7443], [233.3, 218.0, 252.6]),
    "idso_1981": ([0.7705, 0.7471, 0.8027], [243.2, 219.0, 272.4]),
    "berdahl_fromberg": ([0.7222, 0.6815, 0.7627], [228.0, 199.8, 258.9]),
    "berdahl_martin": ([0.6947, 0.6640, 0.7315], [219.3, 194.7, 248.3]),
    "prata": ([0.7321, 0.7108, 0.7603], [231.1, 208.4, 258.0]),
    "unsworth_monteith": ([0.6748, 0.6327, 0.7086], [213.0, 185.5, 240.5]),
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
        (crawford_duchon_cloudy_emissivity, [0.7222, 0.7917, 0.8611, 0.9306, 1.0]),
        (konzelmann_cloudy_emissivity, [0.7222, 0.7231, 0.7366, 0.7949, 0.9520]),
        (maykut_church_cloudy_emissivity, [0.7222, 0.7257, 0.7459, 0.7943, 0.8811]),
    ],
)
def test_cloud_law_gives_its_published_values(law, expected):
    """Each cloud law raises the clear sky's 0.7222 as recomputed from its printed constants."""
    assert law(0.7222, np.linspace(0.0, 1.0, 5)) == pytest.approx(expected, abs=1e-4)


def test_terms_of_height_and_hour():
    """Thinner air lowers the sky's emissivity by 0.012 for 100 hPa; midnight raises it by 0.013."""
    assert berdahl_martin_pressure_term([1000.0, 900.0]) == pytest.approx([0.0, -0.012])
    assert berdahl_martin_hour_term(np.array([0.0, 6.0, 12.0])) == pytest.approx([0.013, 0.0, -0.013])


def test_default_sky_lies_within_the_formulas():
    """The default clear sky at 0 degC and 80 % lies in 205 to 245 W/m2; an overcast one near the air."""
    clear, overcast = default_sky_longwave_w_m2(0.0, 4.886, 1013.25, np.array([0.0, 1.0]))
    assert 205.0 < clear < 245.0
    assert 0.95 < overcast / black_body_w_m2(0.0) <= 1.0


def test_fao56_net_longwave_of_the_worked_examples():
    """The net long-wave loss of two worked examples comes out to their printed digits."""

    def daily_loss_mj_m2(warmest_c, coldest_c, vapour_pressure_hpa, relative_shortwave):
        emitted = 0.5 * (black_body_w_m2(warmest_c) + black_body_w_m2(coldest_c)) * 86400.0 / 1e6
        lost = emitted * (1.0 - fao56_sky_emissivity(0.0, vapour_pressure_hpa))
        return lost * fao56_cloud_factor(relative_shortwave)

    # Allen et al., FAO-56, 1998, examples 11 (printed 3.5) and 18 (printed 3.71)
    assert daily_loss_mj_m2(25.1, 19.1, 21.0, 14.5 / 18.8) == pytest.approx(3.5, abs=0.05)
    assert daily_loss_mj_m2(21.5, 12.3, 14.09, 22.07 / 30.90) == pytest.approx(3.71, abs=0.02)


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
    sky_c = radiant_temperature_c(sky_longwave_w_m2(0.7222, 0.0))
    for sky_share, expected_c in ((1.0, horizontal_c), (0.5, vertical_c)):
        surroundings_c = mean_radiant_temperature_c([sky_share, 1.0 - sky_share], [sky_c, 0.0])
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


@given(st.floats(0.0, 1.0), temperatures_c, temperatures_c)
def test_mean_radiant_temperature_lies_between_its_parts(share, one_c, other_c):
    """A mean radiant temperature lies between the temperatures it is made of, at or above their mean."""
    mean_c = mean_radiant_temperature_c([share, 1.0 - share], [one_c, other_c])
    assert min(one_c, other_c) - 1e-6 <= mean_c <= max(one_c, other_c) + 1e-6
    assert mean_c >= share * one_c + (1.0 - share) * other_c - 1e-6


def test_shares_that_do_not_add_up_are_refused():
    """View factors that miss a part of the surroundings are an error."""
    with pytest.raises(PhysicsInputError):
        mean_radiant_temperature_c([0.5, 0.4], [0.0, 1.0])
    with pytest.raises(PhysicsInputError):
        mean_radiant_temperature_c([0.5, 0.5], [0.0])


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
    """The shares of side, open strip and top are never negative and add up to one."""
    for view in (
        side_view_factors(sky_view, against_house_wall=against_house_wall, neighbour_share=neighbour_share),
        open_side_view_factors(sky_view, against_house_wall=against_house_wall),
        top_view_factors(sky_view, against_house_wall=against_house_wall),
    ):
        shares = [view.sky, view.floor, view.house_wall, view.neighbours, view.surroundings]
        assert min(shares) >= 0.0
        assert sum(shares) == pytest.approx(1.0)


def test_open_strip_sees_more_sky_than_the_whole_side():
    """The strip that looks away from the wall sees all the sky in front."""
    strip = open_side_view_factors(0.5, against_house_wall=True)
    assert strip.sky == 0.5
    assert strip.house_wall == 0.0


def test_top_by_a_wall_sees_half():
    """The mix in the open sees only sky; by a wall at most half of it."""
    assert top_view_factors(1.0, against_house_wall=False).sky == 1.0
    assert top_view_factors(1.0, against_house_wall=True).sky == 0.5


def test_share_beyond_one_is_refused():
    """A sky view of more than the whole dome is an error."""
    with pytest.raises(PhysicsInputError):
        top_view_factors(1.2, against_house_wall=False)


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
