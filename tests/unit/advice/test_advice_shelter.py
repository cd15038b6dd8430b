"""Jobs against harm that no limit tells: wet snow, and sun on frozen buds."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from frostguard.advice.plan import Protection
from frostguard.advice.shelter import TIE_MIN, shelter_jobs
from frostguard.garden.model import Garden, Pot, Stage
from frostguard.garden.settings import Settings
from frostguard.weather.series import WeatherSeries
from tests.unit.advice.terraces import at, evening_of, garden, planting, pot, room, spot, weather

YEW = planting("taxus-baccata", height_m=1.2, width_m=0.4, value_eur=60.0)


def snowy(fallen_cm: float, air_c: float = 0.3) -> WeatherSeries:
    """Snow in the first evening hours, so much in all, at that air."""

    def of_the_hour(n: int) -> np.ndarray:
        return np.where((np.arange(n) > 16) & (np.arange(n) <= 26), fallen_cm / 10.0, 0.0)

    n = weather(air_c, ahead_h=40).times.size
    return weather(air_c, ahead_h=40, snowfall_cm=of_the_hour(n), precipitation_mm=of_the_hour(n) * 1.4)


def jobs_for(where: Garden, sky: WeatherSeries, **settings: Any) -> list[Protection]:
    return [job.protection for job in shelter_jobs(evening_of(where, sky, days=1), sky, (), Settings(**settings))]


def yew(**changes: Any) -> Pot:
    return pot("yew", YEW, **changes)


def test_a_tall_evergreen_is_tied_before_wet_snow() -> None:
    """Ten centimetres near freezing bend it; two do not, nor dry powder at eight below."""
    assert jobs_for(garden(yew()), snowy(10.0)) == [Protection.TIE_UP]
    assert jobs_for(garden(yew()), snowy(2.0)) == []
    assert jobs_for(garden(yew()), snowy(10.0, air_c=-8.0)) == []


@pytest.mark.parametrize(
    "sheltered",
    [
        garden(pot("maple", planting("acer-palmatum", height_m=1.2, value_eur=60.0))),
        garden(pot("heath", planting("erica-carnea", height_m=0.25, value_eur=60.0))),
        garden(yew(), spots=(spot(sky_view=0.1),)),
        garden(yew(spot="wash room"), spots=(spot(), room())),
        garden(pot("cheap", planting("taxus-baccata", height_m=1.2, value_eur=5.0))),
    ],
    ids=["leafless", "low", "under a roof", "indoors", "cheaper than the work"],
)
def test_what_snow_does_not_break_is_not_tied(sheltered: Garden) -> None:
    """Bare, low, roofed, indoor and cheap plants are left alone."""
    assert jobs_for(sheltered, snowy(10.0)) == []


def test_who_works_slowly_is_given_the_time() -> None:
    """Two yews at half as long again."""
    sky = snowy(10.0)
    (job,) = shelter_jobs(evening_of(garden(yew(count=2)), sky), sky, (), Settings(pace_of_work=1.5))

    assert job.minutes == pytest.approx(2 * 1.5 * TIE_MIN) and job.count == job.alike == 2


def test_frozen_buds_are_shaded_from_the_early_sun() -> None:
    """A camellia in colour is shaded after a frost with a bright morning, not under cloud, nor while in bud asleep.

    Nor is it after a night that leaves nothing to be browned.
    """

    def sky(sun_w_m2: float, coldest_c: float = -1.0) -> WeatherSeries:
        return weather(
            lambda clock: np.interp(clock, [14, 24, 31, 36], [5.0, coldest_c, coldest_c, 5.0]),
            asked=at(14),
            ahead_h=24,
            cloud_cover_percent=0.0,
            direct_normal_w_m2=sun_w_m2,
            global_horizontal_w_m2=0.2 * sun_w_m2,
            diffuse_horizontal_w_m2=0.0,
        )

    def camellia(stage: Stage) -> Garden:
        return garden(pot("camellia", planting("camellia-japonica", stage=stage, value_eur=100.0)))

    assert jobs_for(camellia(Stage.BUDS_IN_COLOUR), sky(500.0)) == [Protection.SHADE]
    assert jobs_for(camellia(Stage.BUDS_IN_COLOUR), sky(0.0)) == []
    assert jobs_for(camellia(Stage.DORMANT), sky(500.0)) == []
    assert jobs_for(camellia(Stage.BUDS_IN_COLOUR), sky(500.0, -8.0)) == []
