"""What the faces of a pot feel, and the signs that are true of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from frostguard.physics import microclimate
from frostguard.physics.envelope import PotSurfaces, build_envelope, side_face, top_face
from frostguard.physics.microclimate import SpotHours
from frostguard.physics.radiation import black_body_w_m2
from frostguard.physics.root_ball import RootBalls, simulate_root_balls


def hours(
    air_c: np.ndarray, *, wind_m_s: float = 2.0, sky_below_air_w_m2: float = 0.0, sun_w_m2: float = 0.0
) -> SpotHours:
    """Hours with everything at air temperature but the sky."""
    air = np.asarray(air_c, dtype=float)[:, None]
    zeros = np.zeros_like(air)
    return SpotHours(
        air_temperature_c=air,
        vapour_pressure_hpa=zeros + 20.0,  # damp: nothing evaporates
        pressure_hpa=zeros + 1000.0,
        wind_speed_m_s=zeros + wind_m_s,
        sky_longwave_w_m2=black_body_w_m2(air) - sky_below_air_w_m2,
        surroundings_c=air,
        house_wall_c=air + 2.0,
        floor_c=air,
        under_pot_c=air,
        sun_elevation_deg=zeros + 20.0,
        direct_normal_w_m2=zeros + sun_w_m2,
        diffuse_horizontal_w_m2=zeros,
        snow_depth_m=zeros,
        snow_beside_m=zeros,
    )


def surfaces(**changed: float) -> PotSurfaces:
    """One bare pot of 30 cm in the open."""
    values = {
        "outer_diameter_m": 0.32,
        "height_m": 0.3,
        "outer_area_ratio": 1.067,
        "side_emissivity": 0.91,
        "side_solar_absorptance": 0.7,
        "side_wetness": 0.0,
        "side_wind_factor": 1.0,
        "side_sky_view": 0.5,
        "side_floor_view": 0.5,
        "side_wall_view": 0.0,
        "side_surroundings_view": 0.0,
        "side_beam_share": 1.0,
        "wrap_resistance_m2_k_w": 0.0,
        "top_wind_factor": 0.5,
        "top_sky_view": 1.0,
        "top_sun_share": 1.0,
        "top_resistance_m2_k_w": 0.0,
        "top_wetness": 0.0,
        "base_resistance_m2_k_w": 0.05,
        "base_air_share": 0.0,
        "snow_reaches_from": 0.0,
    } | changed
    return PotSurfaces(**{name: np.array([value]) for name, value in values.items()})


BALL = RootBalls(0.15, 0.30, 0.013, 1.5e4, 0.27, 0.55, 2.13e6, 1.3e6, 0.35, 0.0, -0.8)


def coldest_ring(pot: PotSurfaces, weather: SpotHours, start_c: float = 5.0, ball: RootBalls = BALL) -> float:
    envelope, _, _ = build_envelope(pot, weather, weather.air_temperature_c, weather.air_temperature_c)
    return float(simulate_root_balls(ball, envelope, start_c).coldest_ring_c.min())


def middle_ring(pot: PotSurfaces, weather: SpotHours, ball: RootBalls) -> float:
    envelope, _, _ = build_envelope(pot, weather, weather.air_temperature_c, weather.air_temperature_c)
    return float(simulate_root_balls(ball, envelope, 5.0).middle_ring_c.min())


FALLING = np.linspace(4.0, -8.0, 16)


def test_an_environment_at_air_temperature_is_the_air():
    """Without sky, sun and evaporation the environment of every face is the air itself."""
    weather = hours(FALLING)
    envelope, _, _ = build_envelope(surfaces(), weather, weather.air_temperature_c, weather.air_temperature_c)

    assert envelope.side_environment_c == pytest.approx(weather.air_temperature_c, abs=1e-9)
    assert envelope.top_environment_c == pytest.approx(weather.air_temperature_c, abs=1e-9)
    assert envelope.base_environment_c == pytest.approx(weather.air_temperature_c, abs=1e-9)


def test_a_clear_sky_pulls_an_insulated_surface_down_by_the_textbook_step():
    """A surface of film h_c under a clear sky settles where sky loss and convection balance."""
    # steady balance h_c dT = eps (sigma T_air^4 - L); recomputed with the exact fourth powers: surface
    # 0 degC air, eps 0.95, loss 87.7 W/m2 by Berdahl and Fromberg's night formula at 0 degC, 80 %
    weather = hours(np.zeros(2), wind_m_s=2.0, sky_below_air_w_m2=87.7)
    surface = weather.air_temperature_c
    for _ in range(30):
        face = top_face(surfaces(), weather, surface)
        surface = face.environment_c

    convective = float(face.convective_w_m2_k[0, 0])
    loss = 0.95 * (float(black_body_w_m2(surface)[0, 0]) - float(weather.sky_longwave_w_m2[0, 0]))
    assert convective * (0.0 - float(surface[0, 0])) == pytest.approx(loss, rel=1e-6)


def test_more_wind_never_warms_the_ring_while_the_air_falls():
    """With surroundings at air temperature and falling air, wind only speeds the loss."""
    rings = [coldest_ring(surfaces(), hours(FALLING, wind_m_s=wind)) for wind in (0.2, 1.0, 3.0, 8.0)]

    assert rings == sorted(rings, reverse=True)


def test_on_a_clear_night_wind_warms_a_surface_that_the_sky_has_chilled():
    """A wrapped-off surface below air temperature is brought back by wind."""
    calm, windy = (
        top_face(surfaces(), hours(np.zeros(2), wind_m_s=wind, sky_below_air_w_m2=90.0), np.full((2, 1), -4.0))
        for wind in (0.2, 5.0)
    )

    assert (calm.environment_c < windy.environment_c).all()
    assert (windy.environment_c < 0.0).all()


def test_a_wrap_delays_the_cold_and_never_warms_a_frozen_ball():
    """Begun warm, a wrapped ring stays warmer; begun frozen into a thaw, it stays colder."""
    wrapped = surfaces(wrap_resistance_m2_k_w=0.3)

    assert coldest_ring(wrapped, hours(FALLING)) > coldest_ring(surfaces(), hours(FALLING)) + 0.5
    thaw = hours(np.full(30, 5.0))
    rings = []
    for pot in (surfaces(), wrapped):
        envelope, _, _ = build_envelope(pot, thaw, thaw.air_temperature_c, thaw.air_temperature_c)
        rings.append(simulate_root_balls(BALL, envelope, -6.0).middle_ring_c[-1, 0])
    assert rings[1] < rings[0]


def test_halving_a_thick_wall_moves_the_ring_and_halving_a_thin_one_hardly_does():
    """The wall is nearly all that stands between roots and frost, if it is a wall at all."""
    # common practice, no source
    thick, half_thick, thin, half_thin = (
        replace(BALL, wall_resistance_m2_k_w=np.array([resistance])) for resistance in (0.6, 0.3, 0.012, 0.006)
    )
    weather = hours(np.concatenate([FALLING, np.full(48, -8.0)]))

    covered = surfaces(top_resistance_m2_k_w=1.0, base_resistance_m2_k_w=1.0)
    rings = [middle_ring(covered, weather, ball) for ball in (thick, half_thick, thin, half_thin)]

    assert rings[0] - rings[1] > 0.5
    assert 0.0 < rings[2] - rings[3] < 0.25


def test_sun_warms_the_mean_side_and_not_the_shaded_strip():
    """Beam counts by its mean round the pot; the shaded side has none of it."""
    weather = hours(np.zeros(2), sun_w_m2=600.0)

    lit = side_face(surfaces(side_beam_share=1.0), weather, weather.air_temperature_c)
    shaded = side_face(surfaces(side_beam_share=0.0), weather, weather.air_temperature_c)

    # mean round a cylinder: cos(20 deg) / pi of the beam, times absorptance 0.7 (projected over lateral area)
    assert lit.gain_w_m2[0, 0] - shaded.gain_w_m2[0, 0] == pytest.approx(
        0.7 * 600.0 * np.cos(np.radians(20.0)) / np.pi
    )


def test_snow_and_mulch_shut_the_top():
    """Ten centimetres of snow or five of mulch leave less than a sixth of a bare top's film."""
    weather = hours(np.zeros(2))
    snowed = replace(weather, snow_depth_m=np.full((2, 1), 0.1))
    air = weather.air_temperature_c

    bare = build_envelope(surfaces(), weather, air, air)[0].top_film_w_m2_k
    snow = build_envelope(surfaces(), snowed, air, air)[0].top_film_w_m2_k
    mulch = build_envelope(surfaces(top_resistance_m2_k_w=0.05 / 0.06), weather, air, air)[0].top_film_w_m2_k

    assert (snow < bare / 6.0).all()
    assert (mulch < bare / 6.0).all()


WET_BULB_AIR = (25.6, 19.1, 879.0)
"""Air, its vapour pressure and the pressure of FAO-56, example 4 (Allen et al. 1998), whose wet bulb is 19.5 degC."""


def settled(pot: PotSurfaces, weather: SpotHours) -> tuple[float, float]:
    """Side and top with no heat from within, films and vapour taken at the surface that comes out [degC]."""
    side = top = weather.air_temperature_c
    for _ in range(30):
        of_side, of_top = side_face(pot, weather, side), top_face(pot, weather, top)
        side, top = 0.5 * (side + of_side.environment_c), 0.5 * (top + of_top.environment_c)
    return float(side[0, 0]), float(top[0, 0])


def test_a_soaked_pot_in_a_strong_wind_is_a_wet_bulb():
    """With nothing but wind and evaporation side and top settle at the wet bulb of the air."""
    air_c, vapour_hpa, pressure_hpa = WET_BULB_AIR
    weather = hours(np.full(2, air_c), wind_m_s=30.0)  # little radiation beside so much wind
    weather = replace(
        weather, vapour_pressure_hpa=np.full((2, 1), vapour_hpa), pressure_hpa=np.full((2, 1), pressure_hpa)
    )
    for surface_c in settled(surfaces(side_wetness=1.0, top_wetness=1.0, top_wind_factor=1.0), weather):
        assert surface_c == pytest.approx(19.5, abs=0.3)  # long-wave draws it up by 0.2 K


@pytest.mark.parametrize("warmer_k", [3.0, 0.0, -3.0])
def test_a_wet_wall_evaporates_by_its_own_warmth(warmer_k: float):
    """A wall warmer than the air gives off more vapour than one as warm, and one below the dew point takes dew."""
    # loss by the vapour pressures of surface and air, Bowen 1926; 0.665e-3 of the pressure: FAO-56, eq. 8
    weather = replace(hours(np.full(2, 0.0)), vapour_pressure_hpa=np.full((2, 1), 4.9))  # 80 %, dew point -3.0 degC
    surface = np.full((2, 1), warmer_k)
    face = side_face(surfaces(side_wetness=0.3), weather, surface)
    loss = float((face.evaporative_w_m2_k * (surface - face.wet_c))[0, 0])

    saturated_hpa = 6.112 * np.exp(17.62 * warmer_k / (243.12 + warmer_k))  # WMO-No. 8, Annex 4.B
    expected = 0.3 * float(face.convective_w_m2_k[0, 0]) * (saturated_hpa - 4.9) / 0.665
    assert loss == pytest.approx(expected, abs=1e-6 + 1e-9 * abs(expected))
    assert np.sign(round(loss, 1)) == (1.0 if warmer_k > -3.0 else 0.0)


def test_snow_is_white_and_melts_at_freezing_point():
    """Snow on a pot takes up little of the sun, and however strong that and the air are, it stays at 0 degC."""
    # absorptance of clean snow 0.20 to 0.35: hand tables (from memory)
    for air_c, sun_w_m2 in ((-8.0, 600.0), (6.0, 600.0), (6.0, 0.0), (-8.0, 0.0)):
        bare = hours(np.full(2, air_c), sun_w_m2=sun_w_m2)
        snowed = replace(bare, snow_depth_m=np.full((2, 1), 0.05))
        dust = replace(bare, snow_depth_m=np.full((2, 1), 1e-6))
        air = bare.air_temperature_c
        told, under_snow, hardly = (
            build_envelope(surfaces(), one, air, air)[0].top_environment_c[0, 0] for one in (bare, snowed, dust)
        )
        assert under_snow <= min(told, 0.0) + 1e-9
        assert hardly == pytest.approx(told, abs=0.01)
    sunny = hours(np.full(2, -8.0), sun_w_m2=600.0)
    white = replace(sunny, snow_depth_m=np.full((2, 1), 0.05))
    gain, of_snow = (top_face(surfaces(), one, one.air_temperature_c).gain_w_m2[0, 0] for one in (sunny, white))
    assert 0.2 <= of_snow / (600.0 * np.sin(np.radians(20.0))) <= 0.35
    assert of_snow < 0.5 * gain


def test_snow_beside_a_pot_shuts_what_it_buries():
    """Half buried, the mean of the side keeps its bare half and its barest strip all of itself; buried to the rim
    both lose by the resistance of the snow, 0.3 m over 0.065 W/m K (Sturm et al. 1997)."""
    weather = hours(np.zeros(2))
    air = weather.air_temperature_c

    def side(depth_m: float, reaches_from: float) -> float:
        snowed = replace(weather, snow_beside_m=np.full((2, 1), depth_m))
        found = build_envelope(surfaces(snow_reaches_from=reaches_from), snowed, air, air)[0]
        return float(found.side_film_w_m2_k[0, 0])

    bare = side(0.0, 0.0)
    assert 0.5 * bare < side(0.15, 0.0) < 0.55 * bare
    assert side(0.15, 1.0) == bare
    assert side(0.3, 0.0) == side(0.3, 1.0) == pytest.approx(1.0 / (1.0 / bare + 0.3 / 0.0653), rel=1e-3)


def test_a_hanging_base_follows_the_air_and_a_standing_one_the_floor():
    """What a base stands on decides what it feels."""
    weather = replace(hours(np.full(2, -5.0)), under_pot_c=np.full((2, 1), 4.0))
    air = weather.air_temperature_c

    standing = build_envelope(surfaces(base_air_share=0.0), weather, air, air)[0]
    hanging = build_envelope(surfaces(base_air_share=1.0), weather, air, air)[0]
    on_feet = build_envelope(surfaces(base_air_share=0.4), weather, air, air)[0]

    assert standing.base_environment_c[0, 0] == 4.0
    assert hanging.base_environment_c[0, 0] == -5.0
    assert -5.0 < on_feet.base_environment_c[0, 0] < 4.0
    assert on_feet.base_film_w_m2_k[0, 0] < standing.base_film_w_m2_k[0, 0]


def test_a_bigger_ball_of_the_same_shape_never_has_a_colder_core():
    """From one start under falling air the core of a bigger ball stays warmer."""
    small = replace(BALL, radius_m=np.array([0.10]), height_m=np.array([0.20]))
    weather = hours(FALLING)
    envelope, _, _ = build_envelope(surfaces(), weather, weather.air_temperature_c, weather.air_temperature_c)

    big_core = simulate_root_balls(BALL, envelope, 5.0).core_c
    small_core = simulate_root_balls(small, envelope, 5.0).core_c

    assert (big_core >= small_core - 1e-9).all()


def test_floor_constants_are_ordered_by_thickness():
    """The thicker the floor, the longer its lag."""
    lags = [
        floor.time_constant_h
        for floor in (
            microclimate.GROUND,
            microclimate.SLAB_OVER_HEATED_ROOM,
            microclimate.SLAB_OVER_OPEN_AIR,
            microclimate.SLAB_OVER_INSULATED_ROOF,
            microclimate.DECKING,
        )
    ]

    assert lags == sorted(lags, reverse=True)
