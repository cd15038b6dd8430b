"""Hours at a spot: lags, floors, walls, rooms, shade."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from frostguard.physics import microclimate
from frostguard.physics.humidity import saturation_vapour_pressure_water_hpa
from frostguard.physics.microclimate import (
    GROUND,
    OutdoorClimate,
    floor_temperature_c,
    gather_hours,
    house_wall_temperature_c,
    lagged,
    outdoor_spot,
    room_air_temperature_c,
    room_spot,
    sol_air_temperature_c,
    sunlit,
)
from frostguard.physics.radiation import black_body_w_m2


def outdoors(air_c: np.ndarray, *, sky_below_air_w_m2: float = 0.0, wind_m_s: float = 2.0) -> OutdoorClimate:
    """A night without sun: given air, and a sky that sends so much less than black at air temperature."""
    air = np.atleast_2d(air_c.T).T if air_c.ndim == 1 else air_c
    zeros = np.zeros_like(air)
    return OutdoorClimate(
        air_temperature_c=air,
        vapour_pressure_hpa=zeros + 4.0,
        pressure_hpa=zeros + 980.0,
        wind_speed_terrace_m_s=zeros + wind_m_s,
        sky_longwave_w_m2=black_body_w_m2(air) - sky_below_air_w_m2,
        sun_elevation_deg=zeros[:, :1] - 20.0,
        sun_azimuth_deg=zeros[:, :1],
        direct_normal_w_m2=zeros,
        diffuse_horizontal_w_m2=zeros,
        snow_depth_m=zeros,
        cold_air_k=zeros,
    )


def spot(outdoor: OutdoorClimate, floor: microclimate.Floor) -> microclimate.SpotClimate:
    return outdoor_spot(
        outdoor, wind_fraction=0.5, sky_view=0.9, house_wall=False, facing_deg=None, floor=floor
    )


def test_a_lag_follows_a_ramp_at_a_constant_distance():
    """Behind a long ramp a first-order lag trails by slope times time constant."""
    ramp = -0.5 * np.arange(400.0)[:, None]

    follower = lagged(ramp, 12.0)

    # exact solution of tau dy/dt = x - y for x = s t: y = s (t - tau (1 - exp(-t / tau)))
    hours = np.arange(400.0)
    exact = -0.5 * (hours - 12.0 * (1.0 - np.exp(-hours / 12.0)))
    assert follower[:, 0] == pytest.approx(exact, abs=1e-9)


def test_a_lag_of_a_wave_is_damped_and_late():
    """A daily wave comes through with the amplitude and delay of a first-order filter."""
    hours = np.arange(24 * 60.0)
    omega = 2.0 * np.pi / 24.0

    follower = lagged(np.sin(omega * hours)[:, None], 8.0)[-24:, 0]

    # gain 1 / sqrt(1 + (omega tau)^2), textbook filter; hourly samples of a sine, so 2 %
    assert follower.max() == pytest.approx(1.0 / np.hypot(1.0, omega * 8.0), rel=0.02)


def test_a_clear_night_chills_a_bare_floor_below_the_air_and_wind_brings_it_back():
    """The sky pulls a floor below the air; wind pulls it towards the air again."""
    air = np.zeros((5, 1))
    clear = black_body_w_m2(air) - 90.0

    calm = sol_air_temperature_c(air, np.full_like(air, 0.2), np.zeros_like(air), clear, 1.0)
    windy = sol_air_temperature_c(air, np.full_like(air, 5.0), np.zeros_like(air), clear, 1.0)

    assert (calm < -5.0).all()
    assert (windy > calm).all() and (windy < 0.0).all()


def test_floors_differ_in_the_known_order_through_a_cold_night():
    """Ground stays warmest, then a heated room's slab, then the thin roof under a clear sky."""
    air = np.concatenate([np.full(240, 6.0), np.linspace(6.0, -8.0, 12), np.full(4, -8.0)])
    outdoor = outdoors(air, sky_below_air_w_m2=90.0, wind_m_s=1.0)

    at_end = {
        name: float(spot(outdoor, floor).hours.under_pot_c[-1, 0])
        for name, floor in {
            "ground": microclimate.GROUND,
            "heated": microclimate.SLAB_OVER_HEATED_ROOM,
            "open": microclimate.SLAB_OVER_OPEN_AIR,
            "roof": microclimate.SLAB_OVER_INSULATED_ROOF,
        }.items()
    }

    assert at_end["ground"] > at_end["heated"] > at_end["open"] > at_end["roof"]
    assert at_end["roof"] < -8.0  # an insulated roof falls below the air on a clear night


def test_the_open_floor_is_chilled_by_the_sky_and_the_patch_under_a_pot_much_less():
    """A pot shades its own patch of floor; boards carry no cold sideways."""
    air = np.full(48, -5.0)
    outdoor = outdoors(air, sky_below_air_w_m2=90.0, wind_m_s=1.0)

    hours = spot(outdoor, microclimate.DECKING).hours

    assert hours.floor_c[-1, 0] < -8.0
    assert -6.0 < hours.under_pot_c[-1, 0] < -5.0


def test_an_unheated_room_lags_by_days_and_freezes_in_the_end():
    """After a step to frost a room of two days' lag is above zero on day 2 and below on day 5."""
    # practice: unheated rooms lag the outdoors and freeze on day 4 or 5; from memory, no source
    air = np.concatenate([np.full(24 * 10, 5.0), np.full(24 * 8, -8.0)])[:, None]

    room = room_air_temperature_c(air, lag_d=2.0, warmer_than_outdoors_k=4.0, lowest_c=None)[:, 0]

    assert room[24 * 12] > 0.0
    assert room[24 * 15] < 0.0


def test_a_frost_free_room_never_goes_below_its_heater():
    """The heater's setting is the floor of the room's temperature."""
    air = np.full((24 * 20, 1), -15.0)

    room = room_air_temperature_c(air, lag_d=1.0, warmer_than_outdoors_k=3.0, lowest_c=5.0)

    assert room.min() == 5.0


def test_the_sun_reaches_a_facing_spot_only_from_its_own_half_of_the_sky():
    """A spot facing south sees the noon sun, and no sun from the north-east."""
    outdoor = outdoors(np.zeros(3))
    sky = OutdoorClimate(
        **{name: getattr(outdoor, name) for name in OutdoorClimate.__dataclass_fields__}
        | {
            "sun_elevation_deg": np.array([[20.0], [20.0], [-5.0]]),
            "sun_azimuth_deg": np.array([[180.0], [50.0], [180.0]]),
        }
    )

    assert sunlit(sky, 180.0, 0.9).ravel().tolist() == [1.0, 0.0, 0.0]
    assert sunlit(sky, None, 0.9).ravel().tolist() == [1.0, 1.0, 0.0]


def test_a_high_sun_does_not_reach_under_a_roof():
    """Under a roof the summer sun is cut off, the winter sun is not."""
    outdoor = outdoors(np.zeros(2))
    sky = OutdoorClimate(
        **{name: getattr(outdoor, name) for name in OutdoorClimate.__dataclass_fields__}
        | {"sun_elevation_deg": np.array([[60.0], [20.0]]), "sun_azimuth_deg": np.array([[180.0], [180.0]])}
    )

    assert sunlit(sky, 180.0, 0.1).ravel().tolist() == [0.0, 1.0]


def test_a_room_has_neither_wind_nor_sky_nor_sun():
    """Indoors everything that radiates is at room temperature."""
    room = room_spot(outdoors(np.zeros(30)), lag_d=2.0, warmer_than_outdoors_k=4.0, lowest_c=None)

    assert room.indoors
    assert room.hours.wind_speed_m_s.max() <= microclimate.STILL_ROOM_M_S
    assert room.hours.sky_longwave_w_m2 == pytest.approx(black_body_w_m2(room.hours.air_temperature_c))


def test_glass_loses_to_a_clear_sky_what_masonry_does_not():
    """A frame keeps several kelvins under cloud and little on a clear calm night; a shed does not know the sky."""
    # common practice: unheated glass is several kelvins warmer by night, and films of plastic on clear calm ones no
    # warmer than the outdoors
    hour = np.arange(24 * 5 + 7)
    air = 2.0 + 5.0 * np.cos(2.0 * np.pi * (hour - 15) / 24)

    def kept_k(sky_loss_w_m2: float, wind_m_s: float, glass_sky_view: float) -> float:
        outdoor = outdoors(air, sky_below_air_w_m2=sky_loss_w_m2, wind_m_s=wind_m_s)
        frame = room_spot(
            outdoor, lag_d=0.3, warmer_than_outdoors_k=2.0, lowest_c=None, glass_sky_view=glass_sky_view
        )
        return float(frame.hours.air_temperature_c[-24:].min() - air.min())

    cloudy, clear, windy = kept_k(10.0, 1.0, 0.5), kept_k(85.0, 1.0, 0.5), kept_k(85.0, 12.0, 0.5)
    assert 3.0 < cloudy < 5.0
    assert 0.0 < clear < 2.5
    assert clear < windy < cloudy
    assert kept_k(85.0, 1.0, 0.0) == pytest.approx(kept_k(0.0, 1.0, 0.0))


def test_series_are_gathered_by_spot_and_member():
    """Each series takes its own spot and member; hours are cut as asked."""
    air = np.arange(12.0).reshape(4, 3)
    outdoor = outdoors(air)
    deck = spot(outdoor, microclimate.DECKING)
    room = room_spot(outdoor, lag_d=1.0, warmer_than_outdoors_k=100.0, lowest_c=None)

    hours = gather_hours((deck, room), np.array([1, 0, 0]), np.array([0, 0, 2]), slice(1, 3))

    assert hours.air_temperature_c.shape == (2, 3)
    assert hours.air_temperature_c[:, 1:].tolist() == air[1:3][:, [0, 2]].tolist()
    assert (hours.air_temperature_c[:, 0] > 90.0).all()


def test_floor_temperature_is_a_mean_of_weather_and_room():
    """A slab over a heated room lies between the outdoors and the room in the long run."""
    air = np.full((200, 1), -10.0)

    floor = floor_temperature_c(microclimate.SLAB_OVER_HEATED_ROOM, air, air, under_pot=True)

    expected = -10.0 + microclimate.SLAB_OVER_HEATED_ROOM.indoor_share * 30.0
    assert floor[-1, 0] == pytest.approx(expected)


def test_cold_air_reaches_a_spot_as_far_as_it_is_open():
    """Pots in the open stand in the cold air of the ground, before a house wall in half of it, under a roof in
    next to none; the floor is reckoned from the air told, as it is what chills the other."""
    still = outdoors(np.zeros(30))
    cold = replace(still, cold_air_k=np.full_like(still.air_temperature_c, 2.0))

    def hours(outdoor: OutdoorClimate, sky_view: float, house_wall: bool) -> microclimate.SpotHours:
        return outdoor_spot(
            outdoor, wind_fraction=0.5, sky_view=sky_view, house_wall=house_wall, facing_deg=None, floor=GROUND
        ).hours

    for sky_view, house_wall, colder_k in ((1.0, False, 2.0), (1.0, True, 1.0), (0.1, False, 0.2)):
        found = hours(cold, sky_view, house_wall)
        assert found.air_temperature_c == pytest.approx(-colder_k)
        assert found.floor_c == pytest.approx(hours(still, sky_view, house_wall).floor_c)
        # no air holds more water than saturation
        assert (found.vapour_pressure_hpa <= saturation_vapour_pressure_water_hpa(found.air_temperature_c)).all()


def test_a_sun_below_the_horizon_of_the_spot_does_not_count():
    """Houses opposite hide a sun of 10 degrees and not one of 30."""
    dark = outdoors(np.zeros(1))
    low, high = (sunlit(replace(dark, sun_elevation_deg=np.array([[sun]])), None, 0.9, 20.0) for sun in (10.0, 30.0))
    assert (low.item(), high.item()) == (0.0, 1.0)


def test_the_wall_of_a_heated_house_is_a_little_warmer_than_steady_air():
    """In steady frost the outer face lies above the air by its share of the step to the room, and follows late."""
    # U-value 0.6 W/m2K under an outside film of 15 W/m2K: 0.04 of 25 K
    air = np.full((72, 1), -5.0)
    assert house_wall_temperature_c(air)[-1, 0] == pytest.approx(-4.0)
    falling = np.linspace(5.0, -5.0, 24)[:, None]
    assert (house_wall_temperature_c(falling)[1:] > falling[1:]).all()
