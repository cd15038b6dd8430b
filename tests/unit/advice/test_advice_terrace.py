"""Weather made ready for the terrace: gaps bounded, missing columns derived, and every such thing noted."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from frostguard.advice.terrace import CALM_AND_WINDY_M_S, Terrace, prepare_terrace
from frostguard.garden.model import Beneath, SnowLies, Surroundings
from frostguard.physics.humidity import vapour_pressure_from_dew_point_hpa
from tests.unit.advice.terraces import ASKED, at, evening_of, garden, pot, room, spot, weather

WIND = ("wind_speed_10m_m_s", "wind_gust_10m_m_s")


def terrace(air_c: Any = 2.0, **more: Any) -> Terrace:
    where = garden(spots=(spot(), spot("railing", wind_fraction=0.75), room(), room("shed", lowest_c=None)))
    return prepare_terrace(where, weather(air_c, **({"past_h": 24, "ahead_h": 24} | more)))


def test_complete_weather_is_one_case_without_notes():
    """Where everything is given each member is one column, and nothing has to be told."""
    found = terrace(members=3)

    assert (found.n_members, found.n_cases) == (3, 1)
    assert found.outdoor.air_temperature_c.shape == (49, 3)
    assert found.notes == ()


def test_missing_wind_gives_a_calm_and_a_windy_case():
    """Without wind both bounds are run for every member, side by side, and noted."""
    found = terrace(members=3, without=WIND)

    assert (found.n_members, found.n_cases) == (3, 2)
    at_terrace = found.outdoor.wind_speed_terrace_m_s
    assert (at_terrace[:, 0::2] < at_terrace[:, 1::2]).all()
    assert at_terrace[0, 1] / at_terrace[0, 0] == pytest.approx(CALM_AND_WINDY_M_S[1] / CALM_AND_WINDY_M_S[0])
    air = found.outdoor.air_temperature_c
    assert (air[:, 0::2] == air[:, 1::2]).all()  # the cases of a member share its air
    assert "wind_speed_10m_m_s missing" in found.notes


def test_missing_cloud_gives_a_clear_and_an_overcast_case():
    """Without cloud the sky is once clear, once overcast; the clear one sends less."""
    found = terrace(without=("cloud_cover_percent",))

    assert found.n_cases == 2
    longwave = found.outdoor.sky_longwave_w_m2
    assert (longwave[:, 0] < longwave[:, 1] - 30.0).all()
    assert "cloud_cover_percent missing" in found.notes


def test_missing_wind_and_cloud_give_all_four_cases():
    """Both missing, each wind is combined with each sky."""
    found = terrace(members=3, without=(*WIND, "cloud_cover_percent"))

    pairs = {
        (round(float(wind), 3), round(float(sky), 1))
        for wind, sky in zip(
            found.outdoor.wind_speed_terrace_m_s[30, :4], found.outdoor.sky_longwave_w_m2[30, :4], strict=True
        )
    }
    assert found.n_cases == 4 and len(pairs) == 4


def test_the_colder_case_of_each_member_is_taken():
    """Of the cases of a member, side by side, the lowest value counts, member by member."""
    found = terrace(members=3, without=WIND)

    colder = found.colder(np.array([1.0, -1.0, 5.0, 6.0, -2.0, 3.0]))

    assert colder.tolist() == [-1.0, 5.0, -2.0]


@pytest.mark.parametrize("missing", [WIND, ("cloud_cover_percent",), (*WIND, "cloud_cover_percent")])
def test_not_knowing_wind_or_cloud_is_never_warmer_than_knowing_it(missing: tuple[str, ...]):
    """Bounding takes the colder case: no given wind and sky within the bounds make a colder ring or leaf."""
    air = np.concatenate([np.full(25, 4.0), np.linspace(4.0, -6.0, 24)])
    known = evening_of(garden(), weather(air, past_h=24, ahead_h=24, members=3))
    unknown = evening_of(garden(), weather(air, past_h=24, ahead_h=24, members=3, without=missing))

    for name in ("ring_c", "leaf_c"):
        told_c = unknown.terrace.colder(getattr(unknown.run, name)[1:, 0].min(axis=0))
        true_c = known.terrace.colder(getattr(known.run, name)[1:, 0].min(axis=0))
        # the error curves of an unknown sky hold a little less bias than those of a cloudy one
        assert (told_c <= true_c + 1e-9).all(), name
    assert any("missing" in note for note in unknown.notes)


def test_a_short_gap_is_bridged_and_a_long_one_bounded():
    """Three hours without wind are a straight line; longer ones are calm in one case and windy in the other."""
    wind = np.full(49, 3.0)
    wind[10:13] = np.nan
    short = terrace(wind_speed_10m_m_s=wind)
    wind[20:26] = np.nan
    long = terrace(wind_speed_10m_m_s=wind)

    assert short.n_cases == 1
    assert short.outdoor.wind_speed_terrace_m_s[11, 0] == pytest.approx(short.outdoor.wind_speed_terrace_m_s[9, 0])
    assert long.n_cases == 2
    calm, windy = long.outdoor.wind_speed_terrace_m_s.T
    assert (calm[20:26] < windy[20:26]).all()
    assert (calm[:20] == windy[:20]).all()
    assert "wind_speed_10m_m_s partly missing" in long.notes


def test_a_gap_in_the_air_is_bridged_so_that_the_simulation_goes_on():
    """An hour without temperature lies between its neighbours."""
    air = np.linspace(6.0, -6.0, 49)
    holes = air.copy()
    holes[[7, 30, 31]] = np.nan

    assert terrace(holes, dew_point_c=-8.0).outdoor.air_temperature_c[:, 0] == pytest.approx(air)


def test_nothing_is_made_up_behind_the_last_temperature():
    """Hours at the end without air are cut off, not filled."""
    air = np.full(49, 3.0)
    air[40:] = np.nan

    found = terrace(air)

    assert found.times.size == 40
    assert all(spot.hours.air_temperature_c.shape[0] == 40 for spot in found.spots.values())


def test_missing_humidity_is_reckoned_dry_and_noted():
    """Without dew point and humidity the air is taken as drier than given damp air, which makes a colder sky."""
    dry, damp = terrace(without=("dew_point_c",), cloud_cover_percent=0.0), terrace(cloud_cover_percent=0.0)

    assert "humidity missing" in dry.notes
    assert (dry.outdoor.sky_longwave_w_m2 < damp.outdoor.sky_longwave_w_m2).all()


def test_relative_humidity_stands_in_for_a_missing_dew_point():
    """Saturated air by its humidity has the vapour pressure of a dew point at air temperature."""
    found = terrace(4.0, without=("dew_point_c",), relative_humidity_percent=100.0)

    assert found.outdoor.vapour_pressure_hpa == pytest.approx(
        np.full((49, 1), float(vapour_pressure_from_dew_point_hpa(4.0))), rel=2e-3
    )
    assert "humidity missing" not in found.notes


def test_an_hour_told_as_bone_dry_leaves_no_evening_without_an_answer():
    """A humidity of 0 %, rounded or from a failed sensor, is taken as 1 %: the sky over it is cold, and not none."""
    humidity = np.full(49, 60.0)
    humidity[20] = 0.0
    found = terrace(without=("dew_point_c",), relative_humidity_percent=humidity)

    vapour = found.outdoor.vapour_pressure_hpa
    assert vapour[20, 0] == pytest.approx(vapour[19, 0] / 60.0)
    beside = terrace(relative_humidity_percent=humidity).outdoor.vapour_pressure_hpa  # the dew point is told as well
    assert beside[20, 0] == pytest.approx(beside[19, 0])


def test_a_dew_point_above_the_air_is_taken_at_the_air():
    """Air holds no more than saturation: a dew point above it, as rounding makes one, is the air's own."""
    above, at_air = terrace(2.0, dew_point_c=2.4), terrace(2.0, dew_point_c=2.0)

    assert (above.outdoor.vapour_pressure_hpa == at_air.outdoor.vapour_pressure_hpa).all()


def test_gusts_that_are_not_given_are_reckoned_and_noted():
    """Without gusts they follow from the mean wind, above it, and the plan can say so."""
    found = terrace(without=("wind_gust_10m_m_s",))

    assert (found.gust_m_s > found.outdoor.wind_speed_terrace_m_s).all()
    assert "gust from mean wind" in found.notes


def test_sun_that_is_not_given_is_reckoned_from_the_sky():
    """Without radiation a clear noon still has sun and a night has none."""
    found = terrace(without=("global_horizontal_w_m2",), cloud_cover_percent=0.0)
    noon = found.hour_at(at(12))

    assert "sun from cloud" in found.notes
    assert found.outdoor.direct_normal_w_m2[noon, 0] > 200.0
    assert found.outdoor.direct_normal_w_m2[found.hour_at(at(23)), 0] == 0.0


def test_unreported_snow_is_not_counted_on():
    """No word of snow means bare pots, the colder case."""
    assert (terrace().outdoor.snow_depth_m == 0.0).all()


@pytest.mark.parametrize(
    ("lies", "on_top_m", "beside_m"),
    [(SnowLies.NO, 0.0, 0.0), (SnowLies.ON_TOP, 0.1, 0.0), (SnowLies.BURIES, 0.1, 0.1)],
)
def test_snow_warms_no_pot_unless_the_garden_file_says_that_it_lies(
    lies: SnowLies, on_top_m: float, beside_m: float
):
    """A model's snow is that of kilometres of land; half of it counts where the gardener says that it stays."""
    where = garden(spots=(spot(snow=lies),))
    found = prepare_terrace(where, weather(-5.0, snow_depth_m=0.2)).spots["deck"].hours

    assert found.snow_depth_m == pytest.approx(on_top_m)
    assert found.snow_beside_m == pytest.approx(beside_m)


@pytest.mark.parametrize(
    ("surroundings", "height_m", "share"),
    [
        (Surroundings.OPEN_COUNTRY, 0.0, 1.0),
        (Surroundings.SUBURB, 0.0, 0.5),
        (Surroundings.OPEN_COUNTRY, 5.0, 0.5),
        (Surroundings.CITY, 0.0, 0.0),
        (Surroundings.OPEN_COUNTRY, 14.0, 0.0),
    ],
)
def test_pots_on_open_ground_stand_in_colder_air_than_is_forecast(
    surroundings: Surroundings, height_m: float, share: float
):
    """On a clear calm night 2 to 3.5 K at 0.3 m over open land, half of it in a suburb or a floor up, none on a city's
    roofs; the air that is told stays that of the forecast."""
    where = garden(surroundings=surroundings, height_above_ground_m=height_m, spots=(spot(sky_view=1.0),))
    found = prepare_terrace(where, weather(0.0, cloud_cover_percent=0.0, wind_speed_10m_m_s=1.0))
    night = found.hour_at(at(23))
    colder_k = float(found.outdoor.air_temperature_c[night, 0] - found.spots["deck"].hours.air_temperature_c[night, 0])

    assert found.outdoor.air_temperature_c[night, 0] == 0.0
    assert 2.0 * share <= colder_k <= 3.5 * share


def test_no_cold_air_lies_there_by_day_or_in_wind():
    """The sun at noon and a breeze at night leave the forecast's air."""
    where = garden(surroundings=Surroundings.OPEN_COUNTRY, height_above_ground_m=0.0)
    sunny = weather(0.0, cloud_cover_percent=0.0, wind_speed_10m_m_s=1.0, without=("global_horizontal_w_m2",))
    calm = prepare_terrace(where, sunny)
    windy = prepare_terrace(where, weather(0.0, cloud_cover_percent=0.0, wind_speed_10m_m_s=7.0))

    assert calm.spots["deck"].hours.air_temperature_c[calm.hour_at(at(12)), 0] == 0.0
    assert (windy.spots["deck"].hours.air_temperature_c == 0.0).all()


def test_the_hour_of_a_moment_is_the_last_whole_one():
    """Half past three belongs to the hour of three o'clock."""
    found = terrace()

    assert found.hour_at(ASKED) == 24
    assert found.hour_at(at(14, 59)) == 24
    assert found.hour_at(at(15)) == 25
    assert found.hour_at(at(14, days=-2)) == -1


def test_wind_falls_from_the_railing_to_the_deck_to_the_room():
    """Each spot has its share of the wind, and a room has none of it."""
    found = terrace(wind_speed_10m_m_s=8.0)
    railing, deck, indoors = (
        float(found.spots[name].hours.wind_speed_m_s[30, 0]) for name in ("railing", "deck", "wash room")
    )

    assert railing > deck > indoors > 0.0


def test_the_rougher_the_land_the_calmer_the_terrace():
    """The same wind over open country reaches a terrace in town weaker than one in the fields."""
    winds = [
        float(
            prepare_terrace(
                garden(surroundings=land), weather(0.0, past_h=1, ahead_h=1)
            ).outdoor.wind_speed_terrace_m_s[0, 0]
        )
        for land in (Surroundings.OPEN_COUNTRY, Surroundings.SUBURB, Surroundings.CITY)
    ]

    assert winds == sorted(winds, reverse=True) and winds[0] > winds[-1]


def test_a_frost_free_room_is_held_and_an_unheated_one_lags():
    """In a cold snap the frost-free room stays at five degrees, the unheated one falls slower than the air."""
    air = np.concatenate([np.full(25, -2.0), np.linspace(-2.0, -22.0, 24)])

    found = terrace(air)

    assert float(found.spots["wash room"].hours.air_temperature_c.min()) == pytest.approx(5.0)
    unheated = found.spots["shed"].hours.air_temperature_c[:, 0]
    assert air[-1] + 5.0 < unheated[-1] < unheated[24]


def test_the_services_soil_temperature_is_used_under_pots_on_the_ground():
    """Where the service tells the soil at 18 cm a pot on the ground stands on that."""
    where = garden(pot(spot="bed"), spots=(spot("bed", beneath=Beneath.GROUND), spot()))
    sky = weather(-5.0, past_h=2, ahead_h=2, soil_temperature_18cm_c=6.0)

    found = prepare_terrace(where, sky)

    assert (found.spots["bed"].hours.under_pot_c == 6.0).all()
    assert (found.spots["deck"].hours.under_pot_c < 0.0).all()
