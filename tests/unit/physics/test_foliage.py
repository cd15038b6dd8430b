"""Leaves on clear and windy nights, bare and under covers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from frostguard.errors import PhysicsInputError
from frostguard.physics.convection import leaf_film_w_m2_k
from frostguard.physics.foliage import (
    LEAF_WIND_SHARE,
    _settle,
    bare_leaf_c,
    covered_canopy,
    covered_leaf_c,
)
from frostguard.physics.humidity import (
    dew_point_from_vapour_pressure_c,
    saturation_vapour_pressure_water_hpa,
)
from frostguard.physics.plant_cover import (
    canopy_cover,
    coated,
    longwave_exchange,
    partly_coated_exchange,
)
from frostguard.physics.radiation import (
    black_body_w_m2,
    default_sky_longwave_w_m2,
    radiant_temperature_c,
    sky_longwave_w_m2,
)
from tests.fleeces import fleece

ONE_LIGHT_LAYER = fleece(17.0, 1)


def night(air_c=-5.0, wind_m_s=0.3, *, humidity=0.7, cloud=0.0, sky_view=1.0, floor_warmer_k=0.0):
    """An hour without sun: arguments for a leaf."""
    vapour_pressure_hpa = humidity * saturation_vapour_pressure_water_hpa(air_c)
    return {
        "air_temperature_c": air_c,
        "wind_speed_m_s": wind_m_s,
        "sky_longwave_w_m2": default_sky_longwave_w_m2(air_c, vapour_pressure_hpa, cloud),
        "surroundings_c": air_c,
        "floor_c": air_c + floor_warmer_k,
        "sun_w_m2": 0.0,
        "pressure_hpa": 1000.0,
        "sky_view": sky_view,
    }


def gain_k(cover, *, mix_warmer_k=0.0, **hour):
    """What a cover adds to the leaf temperature; the mix lies above the air by `mix_warmer_k`."""
    weather = night(**hour)
    covered = covered_leaf_c(**weather, cover=cover, mix_c=weather["air_temperature_c"] + mix_warmer_k)
    return covered - bare_leaf_c(**weather)


@pytest.mark.parametrize(
    ("film_w_m2_k", "level_c"), [(3.0, -11.43), (6.0, -7.91), (10.0, -5.62), (20.0, -3.28)]
)
def test_leaf_without_an_underside_settles_as_an_insulated_plate(film_w_m2_k, level_c, monkeypatch):
    """With the film given and the underside shut off, a leaf lies where an insulated surface does."""
    # Air 0 degC, emissivity 0.9, sky emissivity 0.7222: independent root-finding of
    # h (0 - T) = 0.9 sigma (T^4 - T_sky^4), printed to 0.01 K.
    monkeypatch.setattr("frostguard.physics.foliage.LEAF_EMISSIVITY", 0.9)
    monkeypatch.setattr("frostguard.physics.foliage.UNDERSIDE_OPEN_SHARE", 0.0)
    monkeypatch.setattr(
        "frostguard.physics.foliage.leaf_film_w_m2_k", lambda *_: np.asarray(film_w_m2_k / 2.0)
    )
    weather = night(0.0)
    weather["sky_longwave_w_m2"] = sky_longwave_w_m2(0.7222, 0.0)

    assert bare_leaf_c(**weather) == pytest.approx(level_c, abs=0.05)


@pytest.mark.parametrize("wind_m_s", [0.1, 0.3, 0.6])
def test_clear_calm_leaf_lies_two_to_five_kelvin_below_the_air(wind_m_s):
    """On a clear calm night a leaf in the open lies 2 to 5 K below the air."""
    # Common practice; also leaf-to-screen differences of 2 to 5 K in frost manuals such as Snyder & de
    # Melo-Abreu, FAO, 2005. The ends of the range are round figures: a tenth of a kelvin is allowed.
    below_k = -bare_leaf_c(**night(0.0, wind_m_s, humidity=0.8))
    assert 2.0 - 0.1 <= below_k <= 5.0 + 0.1


def test_overhang_shrinks_the_deficit():
    """Under an overhang that leaves a quarter of the sky, the leaf lies 0 to 1.5 K below the air."""
    # Common practice: the open-sky deficit shrinks to 0 to 1.5 K.
    below_k = -bare_leaf_c(**night(0.0, 0.3, humidity=0.8, sky_view=0.25))
    assert 0.0 < below_k < 1.5


def test_windy_overcast_leaf_is_at_the_air():
    """In a windy frost under cloud the leaf is as warm as the air within half a kelvin."""
    assert bare_leaf_c(**night(-5.0, 6.0, cloud=1.0)) == pytest.approx(-5.0, abs=0.5)


def test_leaf_deficit_ends_at_the_sky():
    """A leaf in hardly moving air stays above the radiant temperature of the sky."""
    weather = night(0.0, 0.0)
    assert bare_leaf_c(**weather) > radiant_temperature_c(weather["sky_longwave_w_m2"]) + 5.0


def test_balance_of_a_bare_leaf_closes():
    """Radiation, convection and sun of the settled leaf add up to nothing, reckoned by fourth powers."""
    weather = night(0.0, 1.0, humidity=0.5, floor_warmer_k=-2.0)
    leaf_c = bare_leaf_c(**weather)

    film = leaf_film_w_m2_k(0.04, LEAF_WIND_SHARE * 1.0, leaf_c, 0.0, 1000.0)
    up = 0.96 * (weather["sky_longwave_w_m2"] - black_body_w_m2(leaf_c))
    down = 0.5 * 0.96 * (black_body_w_m2(-2.0) - black_body_w_m2(leaf_c))
    # a hundredth of a kelvin times some 20 W/m2K
    assert up + down + 2.0 * film * (0.0 - leaf_c) == pytest.approx(0.0, abs=0.2)


@given(
    st.floats(-25.0, 10.0),
    st.floats(0.0, 15.0),
    st.floats(0.2, 1.0),
    st.floats(0.0, 1.0),
    st.floats(0.0, 1.0),
    st.floats(-8.0, 8.0),
    st.booleans(),
    st.sampled_from([None, 1, 2, 3]),
    st.booleans(),
)
@settings(max_examples=150, deadline=None)
def test_never_colder_than_the_coldest_thing_it_meets(
    air_c, wind_m_s, humidity, cloud, sky_view, floor_warmer_k, dew, layers, wet
):
    """Bare or covered, a leaf at night is finite and lies between the coldest and the warmest round it."""
    weather = night(
        air_c, wind_m_s, humidity=humidity, cloud=cloud, sky_view=sky_view, floor_warmer_k=floor_warmer_k
    )
    if dew:
        weather["vapour_pressure_hpa"] = humidity * saturation_vapour_pressure_water_hpa(air_c)
    sky_c = float(radiant_temperature_c(weather["sky_longwave_w_m2"]))
    met = (air_c, air_c + floor_warmer_k, sky_c)

    if layers is None:
        leaf_c = bare_leaf_c(**weather)
    else:
        leaf_c = covered_leaf_c(**weather, cover=fleece(17.0, layers, wet=wet))

    assert min(met) - 1e-6 <= leaf_c <= max(met) + 1e-6


@given(st.floats(-15.0, 5.0), st.floats(0.0, 8.0), st.floats(0.1, 5.0), st.floats(0.3, 0.95))
@settings(max_examples=60, deadline=None)
def test_wind_warms_a_leaf_on_a_clear_night(air_c, wind_m_s, more_m_s, humidity):
    """On a clear night over a floor at air temperature, more wind never makes the bare leaf colder."""
    calmer = bare_leaf_c(**night(air_c, wind_m_s, humidity=humidity))
    windier = bare_leaf_c(**night(air_c, wind_m_s + more_m_s, humidity=humidity))
    assert windier >= calmer - 0.05  # the films settle to some hundredths of a kelvin


def test_more_cloud_and_less_sky_warm_the_leaf():
    """Cloud, and anything that hides the sky, warm the leaf."""
    clear = bare_leaf_c(**night())
    assert bare_leaf_c(**night(cloud=0.5)) > clear
    assert bare_leaf_c(**night(sky_view=0.5)) > clear


def test_wide_leaves_are_colder_than_narrow_ones():
    """A narrow bud keeps nearer to the air than a wide leaf."""
    assert bare_leaf_c(**night(), leaf_width_m=0.005) > bare_leaf_c(**night(), leaf_width_m=0.08)


def test_dew_warms_only_a_leaf_below_the_dew_point():
    """Moist air gives its heat to a leaf below the dew point, dry air does not."""
    moist = 0.95 * saturation_vapour_pressure_water_hpa(-5.0)
    dry = 0.3 * saturation_vapour_pressure_water_hpa(-5.0)
    without = bare_leaf_c(**night())
    assert bare_leaf_c(**night(), vapour_pressure_hpa=moist) > without + 0.3
    assert bare_leaf_c(**night(), vapour_pressure_hpa=dry) == pytest.approx(float(without))


def test_dew_never_lifts_a_leaf_above_the_dew_point():
    """Dew stops where the leaf reaches the dew point."""
    vapour = 0.99 * saturation_vapour_pressure_water_hpa(-5.0)
    leaf_c = bare_leaf_c(**night(), vapour_pressure_hpa=vapour)
    assert leaf_c < dew_point_from_vapour_pressure_c(vapour)


def test_sun_warms_the_leaf():
    """Winter sun lifts a leaf above the air."""
    weather = night(0.0, 1.0)
    weather["sun_w_m2"] = 400.0
    assert bare_leaf_c(**weather) > 0.0


@pytest.mark.parametrize("wind_m_s", [0.1, 0.2, 0.3])
@pytest.mark.parametrize("humidity", [0.7, 0.9])
def test_light_fleece_over_a_pot_gains_little(wind_m_s, humidity):
    """On a clear calm night at -5 degC, 17 g/m2 over a pot changes the leaf by -0.5 to 2 K."""
    # Row cover effects on minimum air temperature, Oregon State University, 1988: mean gains of 0.2 to
    # 1.8 K over soil, some clear nights a little below 0; popular figures of 1.1 to 3.3 K are not met.
    # The mix of a pot lies 4 K above the falling air: it lags by hours (estimate).
    change_k = gain_k(ONE_LIGHT_LAYER, mix_warmer_k=4.0, wind_m_s=wind_m_s, humidity=humidity)
    assert -0.5 <= change_k <= 2.0


@given(
    st.floats(-12.0, 3.0),
    st.floats(0.0, 10.0),
    st.floats(0.3, 1.0),
    st.floats(0.0, 1.0),
    st.floats(0.0, 1.0),
    st.floats(0.0, 6.0),
    st.booleans(),
)
@settings(max_examples=150, deadline=None)
def test_light_fleece_never_claims_more_than_two_kelvin(
    air_c, wind_m_s, humidity, cloud, sky_view, mix_warmer_k, wet
):
    """No night, wind or mix up to 6 K above the air makes one light layer worth more than 2 K."""
    change_k = gain_k(
        fleece(17.0, 1, wet=wet),
        mix_warmer_k=mix_warmer_k,
        air_c=air_c,
        wind_m_s=wind_m_s,
        humidity=humidity,
        cloud=cloud,
        sky_view=sky_view,
    )
    assert -2.0 <= change_k <= 2.0


def test_fleece_can_lose_in_a_clear_wind():
    """In a clear wind the bare leaf is warmed and the covered one is not: the gain is below zero."""
    # Oregon State University 1988: single cool clear nights were colder under cover.
    assert gain_k(ONE_LIGHT_LAYER, wind_m_s=1.5) < 0.0


def test_dew_on_a_fleece_hides_the_sky_and_dry_air_leaves_it_open():
    """In damp calm air the fleece is coated and gains; in dry air nothing forms on it, and it gains less or loses."""

    def leaf_gain_k(humidity: float, *, with_dew: bool = True) -> float:
        weather = night(humidity=humidity, wind_m_s=0.5)
        vapour = humidity * saturation_vapour_pressure_water_hpa(-5.0) if with_dew else None
        covered = covered_leaf_c(**weather, cover=ONE_LIGHT_LAYER, mix_c=-3.0, vapour_pressure_hpa=vapour)
        return float(covered - bare_leaf_c(**weather, vapour_pressure_hpa=vapour))

    assert leaf_gain_k(0.97) > leaf_gain_k(0.4) + 0.3
    assert leaf_gain_k(0.4) == pytest.approx(leaf_gain_k(0.4, with_dew=False), abs=1e-6)
    assert leaf_gain_k(0.97) < 2.0  # published for such weights over soil: 0.2 to 1.8 K in the mean (Oregon 1988)


def test_a_coat_of_dew_takes_up_what_no_longer_passes():
    """Half of what passed passes, nothing more is reflected, and between no dew and much the exchange is between."""
    black = coated(ONE_LIGHT_LAYER)
    assert black.longwave_transmittance == pytest.approx(0.5 * ONE_LIGHT_LAYER.longwave_transmittance)
    sums = [one.longwave_transmittance + one.longwave_emissivity for one in (ONE_LIGHT_LAYER, black)]
    assert sums[0] == pytest.approx(sums[1])
    clean, full = longwave_exchange(ONE_LIGHT_LAYER), longwave_exchange(black)
    through = partly_coated_exchange(clean, full, [0.0, 4.0, 8.0, 50.0]).outside_leaf
    assert through == pytest.approx(
        [clean.outside_leaf, 0.5 * (clean.outside_leaf + full.outside_leaf), full.outside_leaf, full.outside_leaf]
    )


@pytest.mark.parametrize("mix_warmer_k", [0.0, 4.0])
def test_fleece_does_next_to_nothing_in_a_windy_frost(mix_warmer_k):
    """At 6 m/s under broken cloud, 17 g/m2 changes the leaf by less than 0.3 K."""
    change_k = gain_k(ONE_LIGHT_LAYER, mix_warmer_k=mix_warmer_k, wind_m_s=6.0, cloud=0.8)
    assert change_k == pytest.approx(0.0, abs=0.3)


@pytest.mark.parametrize("wind_m_s", [0.1, 0.3, 1.0, 3.0])
@pytest.mark.parametrize("mix_warmer_k", [0.0, 3.0, 6.0])
def test_two_layers_beat_one_of_nearly_twice_the_weight(wind_m_s, mix_warmer_k):
    """Two light layers gain more than one of about their weight (common practice), that more than one light one."""
    light, heavy, double = (
        gain_k(cover, mix_warmer_k=mix_warmer_k, wind_m_s=wind_m_s)
        for cover in (ONE_LIGHT_LAYER, fleece(30.0, 1), fleece(17.0, 2))
    )
    assert light < heavy < double


def test_soaking_takes_away_what_a_second_layer_gives():
    """Two soaked layers, flat on the leaves, are worth less than two dry ones."""
    dry = gain_k(fleece(17.0, 2), mix_warmer_k=4.0)
    soaked = gain_k(fleece(17.0, 2, wet=True), mix_warmer_k=4.0)
    assert soaked < dry


def test_a_warm_mix_is_what_a_cover_holds():
    """The warmer the mix under it, the more a cover gains."""
    gains = [float(gain_k(ONE_LIGHT_LAYER, mix_warmer_k=k)) for k in (0.0, 2.0, 4.0, 6.0)]
    assert gains == sorted(gains)
    assert gains[-1] > gains[0] + 0.5


def test_row_cover_over_warm_soil_gains_as_measured():
    """Laid over soil that gives heat all over, light fleece warms the air under it against a bare leaf."""
    # Oregon State University 1988: mean minimum 2.5 cm above soil 0.2 to 1.8 K higher under spunbonded
    # fabric than over bare mulch. Soil 6 K above the air and as large as the cover: estimates, hence the
    # range widened by half a kelvin.
    weather = night(0.0, 0.3, humidity=0.9)
    weather["floor_c"] = 6.0
    vapour = 0.9 * saturation_vapour_pressure_water_hpa(0.0)
    covered = covered_leaf_c(
        **weather, cover=ONE_LIGHT_LAYER, base_area_share=1.0, vapour_pressure_hpa=vapour
    )
    assert -0.3 <= covered - bare_leaf_c(**weather, vapour_pressure_hpa=vapour) <= 2.3


def test_sunny_day_heats_the_air_under_a_cover():
    """In sun the air under a cover is warmer than outside, more so in a calm than in wind."""
    weather = night(8.0, 0.3)
    weather["sun_w_m2"] = 500.0
    calm = covered_canopy(**weather, cover=ONE_LIGHT_LAYER)
    weather["wind_speed_m_s"] = 4.0
    windy = covered_canopy(**weather, cover=ONE_LIGHT_LAYER)
    assert calm.enclosed_air_c > windy.enclosed_air_c > 8.0


def test_air_under_an_open_net_is_the_air_outside():
    """A cover that lets everything through and leaks freely is at the temperature of the air."""
    net = canopy_cover(
        longwave_transmittance=1.0, solar_transmittance=1.0, wind_permeability=1.0, thickness_m=0.0, layers=1
    )
    under = covered_canopy(**night(wind_m_s=6.0), cover=net)
    # the leaves under it still cool the air a little
    assert under.enclosed_air_c == pytest.approx(-5.0, abs=0.2)
    assert under.outer_face_c == pytest.approx(-5.0, abs=0.1)


def test_opaque_sheet_hides_the_sky_from_the_leaf():
    """A sheet black to radiation is colder than air and leaf, and its outside colder than its inside."""
    sheet = canopy_cover(
        longwave_transmittance=0.0,
        solar_transmittance=0.0,
        wind_permeability=0.0,
        thickness_m=0.001,
        layers=1,
    )
    under = covered_canopy(**night(wind_m_s=0.5), cover=sheet)
    assert under.outer_face_c < under.leaf_c < -5.0
    assert under.outer_face_c < under.inner_face_c < under.enclosed_air_c


def test_network_is_settled_as_by_a_general_solver():
    """Bodies joined by conductances settle where a general linear solver puts them, array by array."""
    rng = np.random.default_rng(11)
    links = {pair: rng.uniform(0.0, 20.0, 5) for pair in ((0, 1), (0, 2), (0, 3), (1, 2), (2, 3))}
    outward = [rng.uniform(0.1, 10.0, 5) for _ in range(4)]
    received = [rng.uniform(-100.0, 100.0, 5) for _ in range(4)]

    settled = _settle(links, outward, received)

    for k in range(5):
        matrix = np.diag([conductance[k] for conductance in outward])
        for (one, other), link in links.items():
            matrix[[one, other], [one, other]] += link[k]
            matrix[[one, other], [other, one]] -= link[k]
        expected = np.linalg.solve(matrix, [heat[k] for heat in received])
        assert [body[k] for body in settled] == pytest.approx(list(expected))


def test_arrays_of_hours_and_series_are_solved_at_once():
    """Arrays (200, 300) come back in that shape, equal to single cases."""
    rng = np.random.default_rng(7)
    weather = night(rng.uniform(-15.0, 5.0, (200, 300)), rng.uniform(0.0, 5.0, (200, 300)))
    bare = bare_leaf_c(**weather)
    covered = covered_leaf_c(**weather, cover=fleece(17.0, 2))
    assert bare.shape == covered.shape == (200, 300)
    assert np.isfinite(bare).all()
    assert np.isfinite(covered).all()
    one = {name: values[3, 5] if np.ndim(values) else values for name, values in weather.items()}
    assert bare_leaf_c(**one) == pytest.approx(bare[3, 5])
    assert covered_leaf_c(**one, cover=fleece(17.0, 2)) == pytest.approx(covered[3, 5])


def test_hours_and_members_broadcast():
    """Hours (n, 1) and members (1, m) broadcast to (n, m)."""
    weather = night(np.linspace(-8.0, 0.0, 4)[:, None])
    weather["wind_speed_m_s"] = np.array([[0.1, 1.0, 3.0]])
    assert bare_leaf_c(**weather).shape == (4, 3)
    assert covered_leaf_c(**weather, cover=ONE_LIGHT_LAYER).shape == (4, 3)


def test_impossible_wind_is_refused():
    """A negative wind is an error."""
    with pytest.raises(PhysicsInputError):
        bare_leaf_c(**night(wind_m_s=-1.0))
