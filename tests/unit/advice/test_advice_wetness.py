"""How wet pots are by the weather, and what that changes."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest

from frostguard.advice.state import KeptWetness, TerraceState
from frostguard.advice.wetness import WaterNow
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import Garden, Pot, Wetness
from frostguard.weather.series import HOUR, WeatherSeries, series_on_hours, utc_hour
from tests.unit.advice.terraces import ASKED, CLEAR, evening_of, frosty_night, garden, pot, room, spot

CATALOGUE = load_catalogue()
PAST_H = 12 * 24


def rainy(mm_h: float, air_c: float | None = None, past_h: int = PAST_H) -> WeatherSeries:
    """A past with so much rain in each hour until the question, then a frosty night."""
    series = frosty_night(-4.0, past_h=past_h, **CLEAR)
    rain = np.zeros_like(series.values["air_temperature_c"])
    rain[:, :past_h] = mm_h
    values = {**series.values, "precipitation_mm": rain}
    if air_c is not None:
        air = series.values["air_temperature_c"].copy()
        air[:, :past_h] = air_c
        values["air_temperature_c"] = air
    return replace(series, values=values)


def water(one: Pot, series: WeatherSeries, state: TerraceState | None = None, **where: float) -> WaterNow:
    place: Garden = garden(one, spots=(spot(**where), room()))
    return evening_of(place, series, state=state or TerraceState()).water[0]


def test_rain_wets_a_pot_under_the_sky_and_none_under_a_roof():
    """Twelve rainy days fill a pot in the open and leave one under a roof no wetter than it is kept."""
    mix = CATALOGUE.mixes[pot().mix]
    opened = water(pot(wetness=Wetness.MOIST), rainy(0.5), sky_view=0.9)
    roofed = water(pot(wetness=Wetness.MOIST), rainy(0.5), sky_view=0.1)
    assert opened.fraction == pytest.approx(mix.water_fraction["wet"], abs=0.02)
    assert roofed.fraction <= mix.water_fraction["moist"]
    assert roofed.rained_mm == 0.0 < opened.rained_mm


def test_rain_before_the_frost_counts_and_rain_after_it_begins_does_not():
    """A pot is simulated as wet as it will be when the frost comes; what is said of it now stays that of now."""
    dry_until_now = frosty_night(-4.0, past_h=PAST_H, **CLEAR)
    frost = PAST_H + int(np.argmax(dry_until_now.values["air_temperature_c"][0, PAST_H:] < 0.0))
    assert frost > PAST_H + 1

    def with_rain(hours: slice) -> WeatherSeries:
        rain = np.zeros_like(dry_until_now.values["air_temperature_c"])
        rain[:, hours] = 4.0
        return replace(dry_until_now, values={**dry_until_now.values, "precipitation_mm": rain})

    never, before, later = (
        evening_of(garden(pot(), spots=(spot(sky_view=0.9), room())), with_rain(hours))
        for hours in (slice(0, 0), slice(PAST_H + 1, frost + 1), slice(frost + 1, None))
    )
    assert before.water[0].fraction == never.water[0].fraction == later.water[0].fraction
    assert before.situations[0].water_fraction > never.situations[0].water_fraction + 0.01
    assert later.situations[0].water_fraction == never.situations[0].water_fraction


def test_where_no_frost_is_in_sight_the_water_is_that_of_now():
    """Nothing is drifted to an hour that does not come."""
    mild = evening_of(garden(pot()), frosty_night(6.0, past_h=PAST_H, **CLEAR))
    assert mild.water[0].at_frost == mild.water[0].fraction


def test_snow_is_not_counted_as_water():
    """What falls in frost lies on top or is blown off."""
    assert water(pot(), rainy(0.5, air_c=-2.0)).rained_mm == 0.0


def test_unglazed_clay_dries_faster_than_plastic():
    """A wall of clay gives off water all round; wrapped it does not."""
    windy = rainy(0.0, air_c=8.0)
    windy = replace(windy, values={**windy.values, "wind_speed_10m_m_s": windy.values["wind_speed_10m_m_s"] + 4.0})
    kinds = ({"wall": "terracotta"}, {"wall": "plastic"}, {"wall": "terracotta", "covers_on": ("bubble film",)})
    clay, plastic, wrapped = (water(pot(**kind), windy).dried_mm for kind in kinds)
    assert clay > wrapped > 0.0
    assert wrapped == pytest.approx(plastic, rel=0.05)


def test_a_pot_that_was_watered_yesterday_is_moist():
    """Signed off, watering counts from its hour."""
    mix = CATALOGUE.mixes[pot().mix]
    state = TerraceState(watered_at={"lemon": ASKED - timedelta(hours=20)})
    dry = pot(wetness=Wetness.DRY)
    assert water(dry, rainy(0.0)).fraction == pytest.approx(mix.water_fraction["dry"])
    assert water(dry, rainy(0.0), state).fraction == pytest.approx(mix.water_fraction["moist"], abs=0.02)


def test_after_a_short_past_the_logbook_is_gone_on_from():
    """With two days of weather the wetness of yesterday's plan counts; with twelve the weather itself does."""
    state = TerraceState(wetness={"lemon": KeptWetness(ASKED - timedelta(days=1), 0.6)})
    assert water(pot(), rainy(0.0, past_h=48), state).fraction == pytest.approx(0.6, abs=0.03)
    assert water(pot(), rainy(0.0), state).fraction < 0.5


@pytest.mark.parametrize("rain_mm_h", [0.0, 0.1])
def test_evening_by_evening_comes_to_the_same_as_in_one_go(rain_mm_h: float):
    """A week of short pasts, each gone on from the evening before, wets and dries a pot as one long past does."""
    long, one = rainy(rain_mm_h, air_c=8.0), pot(wall="terracotta", wetness=Wetness.MOIST)
    long.values["precipitation_mm"][:, : PAST_H - 7 * 24 + 1] = 0.0
    long.values["wind_speed_10m_m_s"] += 4.0
    place = garden(one, spots=(spot(), room()))
    fraction = CATALOGUE.mixes[one.mix].water_fraction["moist"]
    for days_ago in range(7, -1, -1):
        asked = ASKED - timedelta(days=days_ago)
        if days_ago < 7:
            known = KeptWetness(asked - timedelta(days=1), fraction)
            state = TerraceState(wetness={"lemon": known})
            fraction = evening_of(place, without_the_first(long, asked, 48), asked, state=state).water[0].fraction
    in_one_go = evening_of(place, long).water[0]
    change = in_one_go.fraction - in_one_go.kept_at
    assert fraction - in_one_go.kept_at == pytest.approx(change, rel=0.1)
    assert abs(change) > 0.01


def without_the_first(series: WeatherSeries, asked: datetime, past_h: int) -> WeatherSeries:
    """The series from so many hours before the question on."""
    later = series.times >= utc_hour(asked) - past_h * HOUR
    values = {name: column[:, later] for name, column in series.values.items()}
    return series_on_hours(series.times[later], values, series.provenance)


def test_water_that_is_kept_already_is_not_counted_again():
    """Watered before the wetness was kept, the kept wetness has it; watered after, it counts."""
    short, kept_at = rainy(0.0, past_h=48), ASKED - timedelta(hours=20)
    mix = CATALOGUE.mixes[pot().mix]
    before, after = (
        water(
            pot(),
            short,
            TerraceState(
                wetness={"lemon": KeptWetness(kept_at, mix.water_fraction["dry"])},
                watered_at={"lemon": kept_at + timedelta(hours=hours)},
            ),
        ).fraction
        for hours in (-2, 2)
    )
    assert before == pytest.approx(mix.water_fraction["dry"], abs=0.01)
    assert after == pytest.approx(mix.water_fraction["moist"], abs=0.02)


def test_the_wetter_pot_freezes_less_far():
    """Rain that came in is water that must freeze first: the outer roots stay warmer, the weight is greater."""
    def coldest(mm_h: float) -> tuple[float, float]:
        found = evening_of(garden(pot(), spots=(spot(), room())), rainy(mm_h))
        return float(found.run.ring_c[:, 0].min()), found.situations[0].water_fraction

    dry_ring_c, dry_water = coldest(0.0)
    wet_ring_c, wet_water = coldest(0.5)
    assert wet_water > dry_water + 0.05
    assert wet_ring_c > dry_ring_c


def test_rain_soaks_what_is_put_over_a_pot():
    """After a rainy half day fleece and mats are wet; under a roof and in a dry night they are not."""
    assert water(pot(), rainy(0.5)).covers_wet
    assert not water(pot(), rainy(0.0)).covers_wet
    assert not water(pot(), rainy(0.5), sky_view=0.1).covers_wet
