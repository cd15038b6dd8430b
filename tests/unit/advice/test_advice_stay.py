"""Short stays in the dark: as an experienced grower would have it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import cache

import numpy as np
import pytest

from frostguard.advice.occasion import TONIGHT_TISSUES
from frostguard.advice.outlook import loss_of
from frostguard.advice.plan import AdvicePlan, Protection, Stay
from frostguard.advice.state import TerraceState
from frostguard.advice.stay import SAFE_CHANCE, TRIP_CHANCE, days_in_the_dark, first_harmless_night
from frostguard.garden.model import Garden, Light, Spot, Stage
from frostguard.weather.series import WeatherSeries
from tests.unit.advice.terraces import (
    ZONE,
    at,
    choices_of,
    evening_of,
    film,
    garden,
    plan_of,
    planting,
    pot,
    room,
    shed,
    spot,
    weather,
)

NIGHTS = 5


@dataclass(frozen=True)
class Case:
    """What a grower would say of a plant that wants light, a cold of some nights, and a dark cellar; common
    practice, no source."""

    id: str
    plant: str
    cold_nights: int
    carried: bool
    reason: str


CASES = (
    Case("one-night", "echeveria", 1, True, "no plant misses the light in a day"),
    Case("three-nights", "echeveria", 3, True, "evergreens stand a cool dark room for a week and more"),
    Case("citrus-one-night", "citrus-limon", 1, True, "a night in the cellar, and out again the day after"),
    Case("no-end-in-sight", "echeveria", NIGHTS, False, "nobody knows how long it would stand in the dark"),
)


def cold_for(nights: int, lowest_c: float = -6.0) -> WeatherSeries:
    """Frost for so many nights, and mild days and nights besides."""

    def air_c(clock: np.ndarray) -> np.ndarray:
        in_the_cold = (clock > 18.0) & (clock < 24.0 * nights + 10.0)
        dark = (clock % 24.0 < 8.0) | (clock % 24.0 > 18.0)
        return np.where(in_the_cold & dark, lowest_c, 8.0)

    return weather(air_c, ahead_h=24 * NIGHTS + 12, members=3)


@cache
def plan_with_a_cellar(plant: str, cold_nights: int) -> AdvicePlan:
    """A plant in a small pot on the deck, frost of -6 degC for so many nights, and no room but a dark cellar."""
    one = pot("one", planting(plant, value_eur=80.0))
    where = garden(one, spots=(spot(), room("cellar", light=Light.DARK)), stock=shed(film()))
    return plan_of(where, cold_for(cold_nights), days=NIGHTS)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.id)
def test_a_plant_of_the_light_stands_in_the_dark_for_a_few_nights_only(case: Case) -> None:
    """It is carried into a dark room where the end of the cold is in sight, and not else."""
    jobs = plan_with_a_cellar(case.plant, case.cold_nights).jobs

    assert any(job.protection is Protection.MOVE for job in jobs) is case.carried, case.reason


def test_what_is_in_growth_and_has_to_stay_in_the_dark_for_long_is_told_to_be_brought_to_the_light() -> None:
    """A magnolia in colour is carried from a week of frost into a dark shed: no answer says "three days" and "not
    within these nights" without saying what to do between; of two nights of frost it says nothing of the kind."""

    def notes(cold_nights: int) -> list[str]:
        one = pot("one", planting("magnolia-stellata", value_eur=150.0, stage=Stage.BUDS_IN_COLOUR))
        where = garden(one, spots=(spot(), room("shed", lowest_c=None, light=Light.DARK)), stock=shed())
        asked = at(14, days=84)

        def air_c(clock: np.ndarray) -> np.ndarray:
            dark = (clock % 24.0 < 8.0) | (clock % 24.0 > 18.0)
            return np.where((clock > 18.0) & (clock < 24.0 * cold_nights + 10.0) & dark, -6.0, 8.0)

        sky = weather(air_c, asked=asked, ahead_h=24 * 8, members=3)
        return [note for note in plan_of(where, sky, asked, days=7).notes if note.startswith("dark")]

    assert notes(7) == ["dark too long:3:One"]
    assert notes(2) == ["dark room:3:One"]


def test_a_hardy_plant_rather_stands_a_week_in_the_dark_than_a_frost_that_kills_it() -> None:
    """A rosemary in hard frost without an end in sight goes into the dark cellar; where too little can be seen it does
    not, nor does an echeveria, which would be in for the winter. Common practice, no source."""

    def carried(plant: str, days: int) -> bool:
        cellar = room("cellar", light=Light.DARK)
        where = garden(pot("one", planting(plant, value_eur=60.0)), spots=(spot(), cellar), stock=shed())
        sky = weather(lambda clock: np.where(clock > 18.0, -14.0, 2.0), ahead_h=24 * 8, members=3)
        return any(job.protection is Protection.MOVE for job in plan_of(where, sky, days=days).jobs)

    assert carried("salvia-rosmarinus", 7)
    assert not carried("salvia-rosmarinus", 4) and not carried("echeveria", 7)


@pytest.mark.parametrize("case", [case for case in CASES if case.carried], ids=lambda case: case.id)
def test_it_is_told_when_to_bring_it_out_of_the_dark(case: Case) -> None:
    """Even what winters indoors comes out at noon before the first harmless night, and the answer says how long the
    dark may last."""
    plan = plan_with_a_cellar(case.plant, case.cold_nights)

    (job,) = [job for job in plan.jobs if job.protection is Protection.MOVE]
    assert job.stays is None and job.undo_after == at(12, days=case.cold_nights)
    assert [note for note in plan.notes if note.startswith("dark room:")] == ["dark room:10:One"]


def test_in_a_lit_room_it_may_winter() -> None:
    """The same plant carried to where there is light stays until spring."""
    one = pot("one", planting("echeveria", value_eur=80.0))
    where = garden(one, spots=(spot(), room()), stock=shed())
    plan = plan_of(where, weather(lambda clock: np.where((clock > 18.0) & (clock < 32.0), -6.0, 8.0)), days=2)

    (job,) = plan.jobs
    assert job.stays is Stay.UNTIL_SPRING


def test_days_in_the_dark_are_counted_on_from_look_to_look() -> None:
    """After nine of its ten days a lemon is not sent back into the dark for two nights; after six it is."""

    def carried(spent_d: float) -> bool:
        where = garden(
            pot("one", planting("citrus-limon", value_eur=80.0)),
            spots=(spot(), room("cellar", light=Light.DARK)),
            stock=shed(),
        )
        state = TerraceState(dark_days_spent={"one": spent_d})
        return bool(plan_of(where, cold_for(2), state=state, days=NIGHTS).jobs)

    assert carried(0.0) and carried(6.0) and not carried(9.0)


def test_what_is_in_growth_stands_the_dark_for_days_only() -> None:
    """A hosta in leaf in April goes into a dark room for a night of frost; no longer than three days."""
    april = datetime(2026, 4, 14, 14, tzinfo=ZONE)
    where = garden(
        pot("one", planting("hosta", value_eur=80.0, stage=Stage.NEW_SHOOTS)),
        spots=(spot(), room("cellar", light=Light.DARK)),
        stock=shed(),
    )
    sky = weather(lambda clock: np.where(clock < 0.0, 12.0, 4.0), asked=april, past_h=24 * 30, ahead_h=48)

    assert days_in_the_dark(evening_of(where, sky, april, days=1), 0) == 3
    in_colour = planting("camellia-japonica", stage=Stage.BUDS_IN_COLOUR)
    for by_the_gardener in (in_colour, planting("hosta", stage=Stage.NEW_SHOOTS)):
        assert days_in_the_dark(evening_of(garden(pot("one", by_the_gardener)), cold_for(1)), 0) == 3
    january = evening_of(garden(pot("one", planting("hosta"))), cold_for(1))
    assert days_in_the_dark(january, 0) != 3


def test_a_heated_room_is_for_two_nights_of_what_does_not_winter_there() -> None:
    """An oleander is carried into a living room for two cold nights and not for four, a lemon for both (common
    practice: practice of indoor moves, no source)."""
    living_room = room("living room", lowest_c=19.0, light=Light.BRIGHT)

    def carried(plant: str, nights: int) -> bool:
        one = pot("one", planting(plant, value_eur=80.0))
        where = garden(one, spots=(spot(), living_room), stock=shed())
        return bool(plan_of(where, cold_for(nights, -9.0), days=NIGHTS).jobs)

    assert carried("nerium-oleander", 2) and not carried("nerium-oleander", 4)
    assert carried("citrus-limon", 2) and carried("citrus-limon", 4)


@pytest.mark.parametrize(("last_c", "doubtful", "night"), [(1.0, True, 1), (-6.0, False, None)])
def test_a_few_chances_in_a_hundred_a_week_ahead_keep_no_pot_indoors(
    last_c: float, doubtful: bool, night: int | None
) -> None:
    """It goes back after the cold night where the last one in sight is doubtful, and not where it is as bad."""
    hours = [14.0, 26.0, 30.0, 36.0, 116.0, 124.0, 130.0]
    air_c = [6.0, -6.0, -6.0, 8.0, 8.0, last_c, 8.0]
    sky = weather(lambda clock: np.interp(clock, hours, air_c), ahead_h=24 * NIGHTS, members=3)
    evening = evening_of(a_lemon(), sky, days=NIGHTS)

    chance = loss_of(evening.judgements[4][0], 1)[0]
    assert chance > SAFE_CHANCE and (chance < TRIP_CHANCE) is doubtful
    assert first_harmless_night(evening, 0, (0,), TONIGHT_TISSUES) == night


# Whether it is warm enough there for as long as the pot stays

LOWS_C, HIGHS_C = (-5.0, -7.0, -10.0, -12.0, -12.0), (-1.0, -3.0, -5.0, -5.0, 0.0)
"""Five nights of ever harder frost, in which an unheated shed of 5 K over the mean of two days falls from 7 to -3."""


def ever_colder() -> WeatherSeries:
    """Those nights and the days between them."""
    corners = [(14.0, 5.0)]
    for night, (low_c, high_c) in enumerate(zip(LOWS_C, HIGHS_C, strict=True)):
        corners += [(24.0 * night + 28.0, low_c), (24.0 * night + 30.0, low_c), (24.0 * night + 38.0, high_c)]
    hours, air_c = zip(*corners, strict=True)
    return weather(lambda clock: np.interp(clock, hours, air_c), ahead_h=24 * NIGHTS, members=3)


def a_lemon(*spots: Spot, at_spot: str = "deck") -> Garden:
    """A lemon worth 100 euro in a small pot, on the deck or where it says."""
    return garden(pot("lemon", planting(value_eur=100.0), spot=at_spot), spots=(spot(), *spots), stock=shed())


SHED, CELLAR = room("shed", lowest_c=None), room("cellar", lowest_c=5.0)


def test_of_two_rooms_the_one_is_chosen_that_keeps_the_pot_for_the_whole_cold():
    """One trip for five cold nights: the shed is warm enough tonight, the cellar on the last night as well."""
    for spots in ((SHED, CELLAR), (CELLAR, SHED)):
        (choice,) = choices_of(evening_of(a_lemon(*spots), ever_colder(), days=NIGHTS))

        assert choice.option.to_spot == "cellar" and choice.too_cold_from is None


def test_a_room_that_keeps_it_for_some_nights_only_is_told_with_the_evening_by_which_to_carry_on():
    """Where there is no other the shed is better than the deck, and nobody is left to believe that all is done."""
    (job,) = plan_of(a_lemon(SHED), ever_colder(), days=NIGHTS).jobs

    standing_there = evening_of(a_lemon(SHED, at_spot="shed"), ever_colder(), days=NIGHTS)
    chances = [loss_of(night[0], 1)[0] for night in standing_there.judgements]
    bad = next(number for number, chance in enumerate(chances) if chance > SAFE_CHANCE)
    assert bad == 3
    assert (job.to_spot, job.too_cold_there_from) == ("shed", standing_there.nights[bad].date)


def test_one_night_in_the_shed_is_no_longer_reckoned_as_if_it_kept_the_pot_for_five():
    """A plant worth less than two trips is let go in the shed's weather; in a room that keeps it it is carried."""
    cheap = planting(value_eur=0.65)  # a lemon, all of which goes with the wood above its graft

    def carried(inside: Spot) -> bool:
        where = garden(pot("lemon", cheap), spots=(spot(), inside), stock=shed())
        return bool(choices_of(evening_of(where, ever_colder(), days=NIGHTS)))

    assert carried(CELLAR) and not carried(SHED)
