"""The long answer about one pot."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from frostguard.advice import explain
from frostguard.advice.evening import Evening
from frostguard.advice.explanation import Explanation
from frostguard.errors import FrostguardError
from frostguard.garden.model import Garden, Shape
from tests.unit.advice.terraces import (
    ASKED,
    CLEAR,
    ZONE,
    big_pot,
    evening_of,
    frosty_night,
    frosty_nights,
    garden,
    planting,
    pot,
    room,
    spot,
    weather,
)


def explain_pot(evening: Evening, asked: str) -> Explanation:
    return explain.explain_pot(evening, explain.pot_called(evening.garden, asked))


def lemon_garden() -> Garden:
    return garden(
        pot("lemon", label="Lemon by the door", assumed=("wall_thickness:2",)),
        big_pot("olive", planting("olea-europaea"), label="Old olive"),
        pot("inside", spot="wash room"),
        spots=(spot(), room()),
    )


@cache
def clear_evening() -> Evening:
    return evening_of(lemon_garden(), frosty_night(-4.0, **CLEAR))


@cache
def explained(name: str = "lemon") -> Explanation:
    return explain_pot(clear_evening(), name)


@pytest.mark.parametrize("name", ["lemon", "olive", "inside"])
def test_heat_by_way_adds_up_to_side_and_top(name: str):
    """Convection, long-wave, sun and evaporation are the same heat as that through side and top, told another way."""
    heat = explained(name).heat

    ways = heat.convection_kj + heat.longwave_kj + heat.sun_kj + heat.evaporation_kj
    # both are sums of the same hourly means, so only rounding parts them
    assert ways == pytest.approx(heat.side_kj + heat.top_kj, abs=1e-6 * abs(heat.side_kj) + 1e-6)


def test_on_a_clear_night_a_pot_loses_heat_through_its_side():
    """In a frosty night heat leaves through side and top, and there is no sun."""
    heat = explained().heat

    assert heat.side_kj < 0.0 and heat.top_kj < 0.0
    assert heat.longwave_kj < 0.0
    assert heat.sun_kj == pytest.approx(0.0, abs=1e-9)
    assert heat.evaporation_kj < 0.0  # a moist mix in air that is not damp


def test_a_cloudy_sky_takes_less_by_radiation_than_a_clear_one():
    """Cloud sends back most of what a pot radiates."""
    cloudy = explain_pot(evening_of(lemon_garden(), frosty_night(-4.0)), "lemon")

    assert cloudy.heat.longwave_kj > explained().heat.longwave_kj


def test_the_heat_of_the_night_is_what_the_ball_gave_off():
    """A bigger ball gives off more heat in the same night."""
    small, big = explained("lemon").heat, explained("olive").heat

    def total(heat: Any) -> float:
        return heat.side_kj + heat.top_kj + heat.base_kj

    assert total(big) < 2.0 * total(small) < 0.0


@pytest.mark.parametrize("asked", ["lemon", "LEMON", " lemon ", "Lemon by the door", "lemon by THE door"])
def test_a_pot_is_found_by_id_or_label(asked: str):
    """Case and blanks round the name do not matter."""
    assert explain_pot(clear_evening(), asked).pot == "lemon"


def test_a_misspelt_pot_brings_near_names():
    """Who asks for "lemmon" is told of the lemon."""
    with pytest.raises(FrostguardError) as raised:
        explain_pot(clear_evening(), "lemmon")

    assert "lemmon" in raised.value.message
    assert "lemon" in raised.value.next_step
    assert "olive" not in raised.value.next_step.split("lemon")[0]


def test_a_pot_that_is_like_no_other_brings_the_list():
    """Where nothing is near all pots are named."""
    with pytest.raises(FrostguardError) as raised:
        explain_pot(clear_evening(), "zzzz")

    assert all(name in raised.value.next_step for name in ("lemon", "olive", "inside"))


def test_curves_come_every_third_hour_from_now_on():
    """Rows begin with the hour of the question, on the site's clock, three hours apart."""
    rows = explained().rows

    assert rows[0].time == ASKED
    assert rows[0].time.tzinfo == ZONE
    assert {later.time - earlier.time for earlier, later in pairwise(rows)} == {timedelta(hours=3)}
    assert rows[-1].time > ASKED + timedelta(hours=18)


def test_a_row_holds_values_of_the_same_pot_and_hour():
    """Rings lie between air under the sky and the core, and frozen share between none and all."""
    for row in explained("olive").rows:
        assert min(row.top_ring_c, row.middle_ring_c, row.bottom_ring_c) <= row.mean_c + 1.5
        assert 0.0 <= row.frozen_fraction <= 1.0
        assert row.wind_at_pot_m_s > 0.0
    last_dark = [row for row in explained("olive").rows if row.time.hour in (2, 5)]
    assert last_dark
    for row in last_dark:
        assert row.middle_ring_c < row.core_c


def test_in_a_room_leaf_and_air_are_one():
    """Indoors the leaf is at the room's air in every row."""
    for row in explained("inside").rows:
        assert row.leaf_c == pytest.approx(row.air_c)


@cache
def windy_steps() -> dict[str, float]:
    """What one step changes for the lemon on a windy night under cloud."""
    windy = evening_of(lemon_garden(), frosty_night(-6.0, wind_speed_10m_m_s=8.0))
    return {step.what: step.coldest_ring_change_k for step in explain_pot(windy, "lemon").sensitivities}


def test_what_one_step_changes_has_the_sign_that_it_must():
    """On a night that cools by the air alone foam, calm, water and a larger ball each leave the ring warmer."""
    assert set(windy_steps()) == {"wall foam", "volume +50 %", "wind half", "water +0.1"}
    assert all(step_k > 0.05 for step_k in windy_steps().values())


def test_a_foam_wall_is_the_greatest_step_of_all():
    """Common practice: what stands between roots and frost is the wall."""
    assert windy_steps()["wall foam"] == max(windy_steps().values())
    assert windy_steps()["wall foam"] > 0.5


def test_a_second_pass_for_the_walls_surface_moves_the_ring_little():
    """Films taken at the simulated surface change the ring by less than its own tolerance."""
    for name in ("lemon", "olive"):
        # the engine is good to 0.15 K at the ring; the first estimate of the surface must not spoil that by much
        assert 0.0 <= explained(name).surface_second_pass_k < 0.3


def test_every_limit_is_told_with_its_source():
    """Each tissue's limit of today stands there with mark and source, and is that of the plan."""
    found = explained().limits

    assert {limit.tissue for limit in found} == {
        judgement.limit.tissue for judgement in clear_evening().judgements[0][0]
    }
    assert all(limit.source for limit in found)


def test_what_was_assumed_for_the_pot_is_passed_on():
    """The assumptions of the garden file stand in the answer, pot by pot."""
    assert explained("lemon").assumed == ("wall_thickness:2",)
    assert explained("olive").assumed == ()


def test_with_bounding_cases_the_colder_one_is_explained():
    """Without wind data the curves shown are those of the colder case."""
    unknown = frosty_night(-6.0, without=("wind_speed_10m_m_s", "wind_gust_10m_m_s"))
    evening = evening_of(lemon_garden(), unknown)

    rows = explain_pot(evening, "lemon").rows

    middle_member = evening.run.ring_c[:: 3, 0].reshape(len(rows), 3, 2)
    shown = np.array([min(row.top_ring_c, row.middle_ring_c, row.bottom_ring_c) for row in rows])
    assert (np.abs(middle_member.min(axis=0)[None] - shown.min()) < 1e-9).any()
    coldest_of_member = middle_member.min(axis=0).min(axis=1)
    assert np.abs(coldest_of_member - shown.min()).min() < 1e-9


def test_the_coldest_night_of_all_is_the_one_that_is_billed():
    """Heat is told for the night in which the ring gets coldest, not for the first one."""
    mild_then_cold = weather(
        lambda clock: np.where((clock > 42.0) & (clock < 56.0), -8.0, 5.0), ahead_h=47, members=3
    )
    evening = evening_of(garden(), mild_then_cold, days=2)
    first_only = replace(evening, nights=evening.nights[:1], complete=evening.complete[:1])

    whole, mild = explain_pot(evening, "lemon"), explain_pot(first_only, "lemon")

    assert whole.heat.side_kj < 2.0 * mild.heat.side_kj
    assert whole.heat.side_kj < -1.0


def test_an_evening_of_several_nights_is_told_to_its_end():
    """Curves run to the last night that was asked for."""
    evening = evening_of(garden(), frosty_nights(-3.0, 2), days=2)

    assert explain_pot(evening, "lemon").rows[-1].time > ASKED + timedelta(hours=42)


def test_what_the_pot_was_reckoned_with_is_that_of_the_simulation():
    """Water, weight and sky of the long answer are those that the curves were made with."""
    found, evening = explained().reckoned, clear_evening()
    assert found.water.fraction == evening.situations[0].water_fraction
    assert found.wind.weight_now_kg < found.wind.weight_soaked_kg
    assert found.wind.topples_hooded_at_m_s < found.wind.topples_at_m_s
    assert found.sky is not None
    assert found.sky.lowest_w_m2 < found.sky.sent_w_m2 < found.sky.highest_w_m2
    assert found.dew_warms_k >= 0.0
    assert explained("inside").reckoned.sky is None


def test_a_square_pot_tells_its_corner():
    """The corner is colder than the ring of the table by what the limits are held against."""
    square = explain_pot(evening_of(garden(pot(shape=Shape.SQUARE)), frosty_night(-4.0, **CLEAR)), "lemon")
    assert square.reckoned.corner_k > 0.3
    assert explained().reckoned.corner_k == pytest.approx(0.0, abs=1e-9)


def test_no_core_is_told_warm_in_a_ball_that_is_mostly_ice():
    """Over frosty nights and sunny days the core of a ball more than half frozen stays by the freezing point.

    Ice and water side by side are at 0 degC: what is warmer lies between thawed mix, as it does by day at the wall.
    """

    def air(clock: np.ndarray) -> np.ndarray:
        return np.interp(clock, [14, 20, 31, 38, 44, 55, 62, 68, 79, 86], [2, 0, -6, 2, -4, -8, 2, -4, -5, 2])

    of_day = (np.arange(weather(0.0, ahead_h=70).times.size) + 2.0) % 24.0  # the series begins at two at night
    sun = np.where((of_day > 8) & (of_day < 16), np.sin((of_day - 8) / 8 * np.pi), 0.0)
    sky = weather(
        air,
        ahead_h=70,
        wind_speed_10m_m_s=6.0,
        cloud_cover_percent=10.0,
        direct_normal_w_m2=700.0 * sun,
        global_horizontal_w_m2=350.0 * sun,
        diffuse_horizontal_w_m2=100.0 * sun,
    )
    rows = explain_pot(evening_of(garden(pot("box", planting("buxus-sempervirens"))), sky, days=3), "box").rows

    icy = [row.core_c for row in rows if row.frozen_fraction > 0.5]
    assert icy and max(icy) < 0.5
