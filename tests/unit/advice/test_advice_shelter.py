"""Jobs against harm that no limit tells: wet snow, sun on frozen buds, drought over a frozen ball."""

from __future__ import annotations

from dataclasses import replace
from datetime import time
from typing import Any

import numpy as np
import pytest

from frostguard.advice.advise import round_tonight
from frostguard.advice.plan import Batch, Job, Protection
from frostguard.advice.planner import Choice
from frostguard.advice.shelter import TIE_MIN, shelter_jobs
from frostguard.garden.model import Garden, Pot, Stage, Wetness
from frostguard.garden.settings import Settings, WorkingWindow
from frostguard.weather.series import WeatherSeries
from tests.unit.advice.terraces import at, choices_of, evening_of, garden, planting, pot, room, spot, weather

YEW = planting("taxus-baccata", height_m=1.2, width_m=0.4, value_eur=60.0)


def snowy(fallen_cm: float, air_c: float = 0.3) -> WeatherSeries:
    """Snow in the first evening hours, so much in all, at that air."""

    def of_the_hour(n: int) -> np.ndarray:
        return np.where((np.arange(n) > 16) & (np.arange(n) <= 26), fallen_cm / 10.0, 0.0)

    n = weather(air_c, ahead_h=40).times.size
    return weather(air_c, ahead_h=40, snowfall_cm=of_the_hour(n), precipitation_mm=of_the_hour(n) * 1.4)


def found_for(where: Garden, sky: WeatherSeries, days: int = 1, **changes: Any) -> list[Job]:
    wishes, evening = Settings(**changes), evening_of(where, sky, days=days)
    tonight = round_tonight(evening, wishes)
    return shelter_jobs(evening, sky, (), wishes, None if tonight is None else tonight.about)


def jobs_for(where: Garden, sky: WeatherSeries, days: int = 1, **changes: Any) -> list[Protection]:
    return [job.protection for job in found_for(where, sky, days, **changes)]


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
    (job,) = found_for(garden(yew(count=2)), sky, pace_of_work=1.5)

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


# --- drought over a frozen ball ------------------------------------------------------------------------------


def long_freeze(air_c: float = -6.0, *, mild_for_h: int = 3, now_c: float = 6.0) -> WeatherSeries:
    """Mild until some hours after the question; then three days and more of windy frost."""

    def air(clock: np.ndarray) -> np.ndarray:
        return np.where(clock <= 14 + mild_for_h, now_c, air_c)

    return weather(air, ahead_h=90 + mild_for_h, wind_speed_10m_m_s=8.0)


BOX = planting("buxus-sempervirens", value_eur=60.0)


def dry_box(**changes: Any) -> Pot:
    return pot("box", BOX, **({"wetness": Wetness.DRY} | changes))


def test_a_dry_evergreen_is_watered_before_its_ball_freezes_for_days() -> None:
    """What freezes dry has nothing for its leaves; by litres, up to moist, and with a word on what runs off."""
    (job,) = found_for(garden(dry_box()), long_freeze(), days=3)

    assert job.protection is Protection.WATER
    assert job.litres is not None and 0.1 < job.litres < 3.5
    assert job.cautions and job.loss_otherwise.chance > 0.0


@pytest.mark.parametrize(
    ("one", "sky"),
    [
        (dry_box(wetness=Wetness.MOIST), long_freeze()),
        (pot("maple", planting("acer-palmatum", value_eur=60.0), wetness=Wetness.DRY), long_freeze()),
        (pot("lavender", planting("lavandula-angustifolia", value_eur=60.0), wetness=Wetness.DRY), long_freeze()),
        (dry_box(), long_freeze(now_c=-4.0)),
        (dry_box(), long_freeze(now_c=3.0)),
        (dry_box(), long_freeze(2.0)),
        (dry_box(), long_freeze(mild_for_h=60)),
        (pot("cheap", planting("buxus-sempervirens", value_eur=1.0), wetness=Wetness.DRY), long_freeze()),
    ],
    ids=["moist", "leafless", "rots", "frozen already", "too cold to water", "no freeze", "days to go", "not worth it"],
)
def test_nothing_else_is_watered_for_the_drought(one: Pot, sky: WeatherSeries) -> None:
    """Water goes to what is dry, in leaf and unfrozen, in the last mild hours before the freeze."""
    assert jobs_for(garden(one), sky, days=3) == []


def test_what_goes_indoors_before_a_later_night_is_not_watered_for_the_drought() -> None:
    """Its ball does not freeze there; as long as it stays on the terrace it is watered."""
    sky = long_freeze()
    evening = evening_of(garden(dry_box(), spots=(spot(), room())), sky, days=3)
    tonight = round_tonight(evening, Settings())
    lemon = garden(pot("lemon", planting(value_eur=60.0)), spots=(spot(), room()))
    (chosen,) = [one for one in choices_of(evening_of(lemon, sky, days=3)) if one.option.indoors]
    later = replace(chosen, occasion=replace(chosen.occasion, batch=Batch.BEFORE_SPELL, nights=(1, 2)))

    def found(*choices: Choice) -> list[Protection]:
        about = None if tonight is None else tonight.about
        return [job.protection for job in shelter_jobs(evening, sky, choices, Settings(), about)]

    assert (found(), found(later)) == ([Protection.WATER], [])


def test_nobody_waters_for_the_drought_by_lamp() -> None:
    """An evening after work is no time for water, which would freeze on the floor."""
    lamp = WorkingWindow(frozenset(range(7)), time(18), time(19), lit=True)

    assert jobs_for(garden(dry_box()), long_freeze(mild_for_h=6), days=3, windows=(lamp,)) == []
