"""The terrace from its past to the last night ahead: what is refused, what is carried along."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from frostguard.advice.evening import SETTLED_H, look_ahead, state_for, thawed_hour
from frostguard.advice.situation import root_balls_of
from frostguard.advice.state import TerraceState
from frostguard.errors import WeatherUnavailable
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import Wetness
from frostguard.garden.reader import load_garden
from frostguard.hardiness.limits import load_limits
from frostguard.hardiness.model import Tissue
from frostguard.physics.root_ball import temperature_field_c
from frostguard.weather.files import load_weather
from frostguard.weather.series import WeatherSeries
from tests.unit.advice.terraces import (
    ASKED,
    ZONE,
    at,
    big_pot,
    evening_of,
    frosty_night,
    frosty_nights,
    garden,
    planting,
    pot,
    weather,
)

CATALOGUE = load_catalogue()


def with_holes(series: WeatherSeries, holes: slice | list[int]) -> WeatherSeries:
    """The same series without air at these hours."""
    air = series.values["air_temperature_c"].copy()
    air[:, holes] = np.nan
    return replace(series, values={**series.values, "air_temperature_c": air})


# --- weather that will not do --------------------------------------------------------------------------


def test_weather_that_ends_before_the_night_is_no_weather():
    """Six hours ahead do not cover a night: nothing is said rather than something wrong."""
    with pytest.raises(WeatherUnavailable) as raised:
        evening_of(garden(), weather(5.0, ahead_h=6))

    assert "14 January" in raised.value.message
    assert raised.value.next_step


@pytest.mark.parametrize("asked", [at(14, days=5), at(14, days=-5)])
def test_weather_of_another_time_is_no_weather(asked: datetime):
    """A question outside the series is refused, with what to do instead."""
    with pytest.raises(WeatherUnavailable) as raised:
        evening_of(garden(), weather(5.0), asked)

    assert f"{asked.astimezone(UTC):%Y-%m-%d}" in raised.value.message or f"{asked:%Y-%m-%d}" in raised.value.message
    assert raised.value.next_step


def test_a_night_with_its_coldest_hours_missing_is_no_weather():
    """Eight hours without temperature in the coming night are too many to draw a line through."""
    holes = slice(48 + 10, 48 + 18)  # midnight to eight

    with pytest.raises(WeatherUnavailable):
        evening_of(garden(), with_holes(frosty_night(-5.0, past_h=48), holes))


def test_a_short_gap_in_the_night_is_bridged():
    """Two hours without temperature are no reason to be silent."""
    found = evening_of(garden(), with_holes(frosty_night(-5.0, past_h=48), [60, 61]))

    assert np.isfinite(found.run.ring_c).all()
    assert found.complete == (True,)


def test_a_later_night_with_a_gap_is_told_as_incomplete():
    """A hole in the third night leaves the first two whole and says so of the third."""
    sky = with_holes(frosty_nights(-3.0, 3, past_h=24), slice(24 + 48 + 8, 24 + 48 + 18))

    found = evening_of(garden(), sky, days=3)

    assert found.complete == (True, True, False)


def test_nights_beyond_the_weather_are_left_out():
    """Asked for a week with two days of weather, no more nights are told than there is weather for."""
    found = evening_of(garden(), frosty_nights(-3.0, 2, past_h=24, ahead_h=46), days=7)

    assert [night.date for night in found.nights] == [date(2026, 1, 14), date(2026, 1, 15)]


def test_no_history_at_all_still_gives_an_answer_and_a_note():
    """Weather that begins with the hour of the question is enough for tonight, and told as short."""
    found = evening_of(garden(), frosty_night(-3.0, past_h=0))

    assert found.now == 0
    assert np.isfinite(found.run.ring_c).all()
    assert "short history" in found.notes


# --- past, members, limits -----------------------------------------------------------------------------


def test_members_part_only_after_the_question():
    """At the hour of the question all members know the same pot; by the night's end they differ."""
    found = evening_of(garden(), frosty_night(-3.0, members=1))

    assert found.terrace.n_members == 11
    assert np.ptp(found.run.ring_c[0, 0]) == pytest.approx(0.0, abs=1e-9)
    assert np.ptp(found.run.ring_c[-5, 0]) > 0.5


def test_a_big_ball_is_still_frozen_days_into_a_thaw():
    """The past counts: after a freeze a big pot keeps ice that a small one has long lost."""
    sky = weather(lambda clock: np.where(clock < -36, -8.0, 4.0), past_h=240, ahead_h=24, members=3)

    found = evening_of(garden(big_pot(), pot("small", radius_m=0.06, height_m=0.1, volume_l=1.1)), sky)

    assert found.run.frozen_fraction[0, 0].min() > 0.2
    assert found.run.frozen_fraction[0, 1].max() < 0.02


def test_every_night_and_pot_is_judged_for_all_its_tissues():
    """Judgements are there night by night and pot by pot, one for each limit of today."""
    found = evening_of(garden(pot(), pot("tulips", planting("tulipa"))), frosty_nights(-3.0, 2, past_h=24), days=2)

    for night in found.judgements:
        for pot_limits, judged in zip(found.limits, night, strict=True):
            assert [j.limit for j in judged] == [limit for _, limits in pot_limits for limit in limits]
    assert {j.limit.tissue for j in found.judgements[0][0]} >= {Tissue.LEAF, Tissue.YOUNG_ROOT, Tissue.WHOLE_ROOT}


def test_an_unknown_plant_goes_by_its_rating():
    """A plant without an entry in the table is judged by the rating that the gardener gives."""
    tender, hardy = (
        evening_of(garden(pot("p", planting("strange", taxon=None, rating=rating))), frosty_night(-5.0))
        for rating in ("H2", "H6")
    )

    def chance(found):
        return max(float(judgement.chance.mean()) for judgement in found.judgements[0][0])

    assert chance(tender) > 0.9
    assert chance(hardy) < 0.5


def test_cold_weeks_before_make_plants_harder():
    """A rosemary after weeks around freezing stands more than one after weeks of mild days."""
    asked = ASKED
    rosemary = garden(pot("rosemary", planting("salvia-rosmarinus")))
    cold, mild = (
        evening_of(
            rosemary,
            frosty_night(-3.0),
            asked,
            state=TerraceState(daily_minimum_c=(low,) * 60, daily_mean_c=(low + 4.0,) * 60),
        )
        for low in (-2.0, 12.0)
    )

    def leaf_limit_c(found):
        return next(j.limit.limit_c for j in found.judgements[0][0] if j.limit.tissue is Tissue.LEAF)

    assert leaf_limit_c(cold) < leaf_limit_c(mild)


# --- watering ------------------------------------------------------------------------------------------


def test_water_brings_its_own_heat():
    """Ten degree water warms a cold ball by the heat that it holds, and leaves an unwatered one as it is."""
    found = evening_of(garden(pot(wetness=Wetness.DRY)), weather(2.0, past_h=24, ahead_h=24))
    dry = found.situations[0]
    wetter = replace(dry, water_fraction=dry.water_fraction + 0.2)
    columns = np.arange(1)

    untouched, watered = (
        state_for(found.past, np.array([0]), columns, [situation], [added], CATALOGUE)
        for situation, added in ((dry, 0.0), (wetter, 0.2))
    )

    before, after = (
        temperature_field_c(root_balls_of([situation] * 2, CATALOGUE), state)
        for situation, state in ((dry, untouched), (wetter, watered))
    )
    assert ((before < after) & (after < 10.0)).all()
    # 0.2 m3/m3 of water is 0.84 MJ/m3K; a dry mix holds about as much again, so it ends about half way to 10
    share = (after - before) / (10.0 - before)
    assert ((share > 0.3) & (share < 0.8)).all()


# --- clock changes and far places ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("asked", "hours"),
    [(datetime(2026, 3, 28, 14, tzinfo=ZONE), 23), (datetime(2026, 10, 24, 14, tzinfo=ZONE), 25)],
)
def test_a_clock_change_night_is_looked_at_to_its_own_noon(asked: datetime, hours: int):
    """The run ends at local noon, an hour sooner in March and later in October."""
    found = evening_of(garden(), weather(3.0, asked=asked, past_h=24, ahead_h=30, members=3), asked)

    assert found.run.ring_c.shape[0] - 1 == hours - 2  # asked two hours after noon
    assert found.terrace.times[found.now] == np.datetime64(asked.astimezone(UTC).replace(tzinfo=None))


def test_polar_night_is_looked_at_like_any_other():
    """Where the sun does not rise a night still has its hours, from noon to noon."""
    asked = datetime(2025, 12, 21, 14, tzinfo=ZONE)
    north = garden(latitude_deg=69.65, longitude_deg=18.96, time_zone="Europe/Oslo")
    # the sun is down all day, so there is none in the weather either
    sky = weather(-8.0, asked=asked, past_h=24, ahead_h=24, members=3, global_horizontal_w_m2=0.0)

    found = evening_of(north, sky, asked)

    assert found.nights[0].sunset is None
    assert found.run.ring_c.shape[0] - 1 == 22
    assert float(np.max(found.terrace.outdoor.direct_normal_w_m2)) == 0.0


def test_a_question_between_two_hours_begins_at_the_one_before():
    """Asked at twenty to three the state of two o'clock counts and the night begins at three."""
    found = evening_of(garden(), frosty_night(-3.0), ASKED + timedelta(minutes=40))

    assert found.terrace.times[found.now] == np.datetime64(ASKED.astimezone(UTC).replace(tzinfo=None))


def test_the_past_begins_where_no_ice_can_have_been():
    """Light frosts that each day thaws are forgotten after four days; a long freeze is simulated whole."""
    day = np.concatenate([np.full(8, -1.0), np.full(16, 4.0)])
    mild = np.tile(day, 30)
    freeze = np.concatenate([mild, np.full(24 * 10, -4.0), np.full(24 * 5, 2.0)])

    assert mild.size - 1 - SETTLED_H - 24 <= thawed_hour(mild, mild.size - 1) <= mild.size - 1 - SETTLED_H
    began = thawed_hour(freeze, freeze.size - 1)
    assert mild.size - 24 <= began <= mild.size
    assert thawed_hour(np.full(700, -3.0), 699) == 0


def test_a_shorter_past_tells_the_same_night(monkeypatch):
    """Beginning where no ice can have been moves hardly a ring of the coming night by a tenth of a kelvin."""
    garden_file = load_garden("config/garden.yaml")
    sample = load_weather("samples/clear-calm-night.csv")
    asked = sample.provenance.issued
    assert asked is not None

    def rings() -> np.ndarray:
        found = look_ahead(garden_file, sample, TerraceState(), asked, 1, load_catalogue(), load_limits())
        return np.asarray(found.run.ring_c.min(axis=0))

    short = rings()
    monkeypatch.setattr("frostguard.advice.evening.thawed_hour", lambda air, now: 0)
    whole = rings()

    apart = np.abs(short - whole)
    assert np.quantile(apart, 0.95) < 0.1
    # where the ice just reaches the outer centimetre at the end, a hundredth of a kelvin before it is half a
    # kelvin there
    assert apart.max() < 0.7
