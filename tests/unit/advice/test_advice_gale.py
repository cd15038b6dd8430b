"""Frost and gale together."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import numpy as np
import pytest

from frostguard.advice.gale import gale_jobs, gusts_by_spot, topple_gust, topple_on_feet, topple_with_hood
from frostguard.advice.jobs import undo_times
from frostguard.advice.plan import Batch, Caution, Protection, Stay
from frostguard.advice.situation import Situation, as_it_stands
from frostguard.advice.state import TerraceState
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import Beneath, Pot, Shape
from tests.unit.advice.terraces import (
    ASKED,
    CLEAR,
    at,
    big_pot,
    choices_of,
    evening_of,
    frosty_night,
    garden,
    hoods,
    peach,
    plan_of,
    planting,
    pot,
    room,
    shed,
    spot,
    weather,
)

CATALOGUE = load_catalogue()
GALE = {"wind_speed_10m_m_s": 14.0, "wind_gust_10m_m_s": 28.0}
TALL = planting(height_m=1.6, width_m=0.8)


def stands(one: Pot) -> Situation:
    return as_it_stands(one, TerraceState(), CATALOGUE)


def tips_at(one: Pot, *, hooded: bool = False) -> float:
    return topple_gust(stands(one), CATALOGUE, hooded=hooded)


@pytest.mark.parametrize("one", [pot(), pot("tall", TALL), big_pot(), big_pot("b", TALL)], ids=lambda p: p.id)
def test_a_hood_never_makes_a_pot_stand_firmer(one: Pot):
    """A hood is a sail: with it a pot goes over in a weaker gust."""
    assert tips_at(one, hooded=True) < tips_at(one)


def test_a_heavier_pot_stands_firmer():
    """The same plant in a bigger and heavier pot withstands more."""
    assert tips_at(big_pot("b", TALL)) > tips_at(pot("a", TALL))


def test_the_taller_the_plant_the_sooner_it_goes_over():
    """A tall crown has more sail and a longer lever."""
    gusts = [tips_at(pot("p", planting(height_m=height))) for height in (0.3, 0.8, 1.6)]

    assert gusts == sorted(gusts, reverse=True) and gusts[0] > gusts[-1]


def test_a_bare_crown_catches_less_wind_than_one_in_leaf():
    """Bare branches let the wind through."""
    leafy, bare = (tips_at(pot("p", replace(TALL, evergreen=evergreen))) for evergreen in (True, False))

    assert bare > leafy


def test_feet_narrow_the_stance():
    """On three feet a pot tips sooner than on its full base."""
    assert tips_at(pot(feet=True)) < tips_at(pot())


def test_what_hangs_or_is_fixed_does_not_fall():
    """No gust tips a hanging basket or a railing box."""
    for shape in (Shape.HANGING, Shape.RAILING_BOX):
        assert tips_at(pot(shape=shape)) == float("inf")


def test_gusts_reach_each_spot_by_its_shelter_and_no_room():
    """An exposed railing has stronger gusts than a sheltered wall; a room has none."""
    railing, wall = spot("railing", wind_fraction=0.75), spot("wall", wind_fraction=0.2)
    where = garden(spots=(spot(), railing, wall, room(wind_fraction=0.5)))

    gusts = gusts_by_spot(evening_of(where, frosty_night(2.0, **GALE)), (0,))

    assert gusts["railing"] > gusts["deck"] > gusts["wall"] > 0.0
    assert gusts["wash room"] == 0.0


def test_only_gusts_of_the_nights_in_question_count():
    """A gale that is over by the question, or comes after the night, is none tonight."""

    def night_gusts(gusty_from: float, gusty_to: float) -> float:
        gusts = [30.0 if gusty_from <= hour <= gusty_to else 5.0 for hour in range(2, 63)]
        sky = weather(2.0, members=3, wind_gust_10m_m_s=gusts)
        return gusts_by_spot(evening_of(garden(), sky, days=2), (0,))["deck"]

    assert night_gusts(20, 26) > 3.0 * night_gusts(0, 14)
    assert night_gusts(0, 14) == night_gusts(40, 60)


def test_a_hood_that_is_on_comes_off_before_a_gale():
    """A hood in place is taken off where it would carry the pot away, and stays in a breeze."""
    where = garden(pot("peach", peach(height_m=1.2), covers_on=("fleece 30",)))

    gale = gale_jobs(evening_of(where, frosty_night(2.0, **GALE)), ())
    breeze = gale_jobs(evening_of(where, frosty_night(2.0)), ())

    assert Protection.UNCOVER in {job.protection for job in gale}
    assert breeze == []


def test_a_tied_crown_is_no_hood():
    """Leaves tied up round the heart of a palm stay tied in a gale: they are no sail."""
    palm = pot("palm", planting("trachycarpus-fortunei", height_m=1.0, width_m=0.6), covers_on=("tied crown",))

    jobs = gale_jobs(evening_of(garden(palm), weather(5.0, ahead_h=24, **GALE)), ())

    assert Protection.UNCOVER not in {job.protection for job in jobs}


def test_a_pot_that_would_go_over_is_secured():
    """A light pot with a tall crown is secured before a gale, a low heavy one is left alone."""
    where = garden(pot("tall", TALL), big_pot("low", planting(height_m=0.3)))

    jobs = gale_jobs(evening_of(where, frosty_night(2.0, **GALE)), ())

    assert [(job.pot, job.protection) for job in jobs] == [("tall", Protection.SECURE)]
    assert Caution.FALLING_POTS in jobs[0].cautions
    assert jobs[0].loss_otherwise.tissue is None
    assert jobs[0].loss_otherwise.expected_eur > 0.0


def test_a_pot_over_a_drop_is_not_laid_down():
    """What would go over on a railing comes with the caution of what stands over a drop, which no floor has."""
    for beneath in (Beneath.NOTHING, Beneath.DECKING):
        where = garden(pot("tall", TALL), spots=(spot(beneath=beneath),))

        (job,) = gale_jobs(evening_of(where, frosty_night(2.0, **GALE)), ())

        assert job.protection is Protection.SECURE
        assert (Caution.OVER_A_DROP in job.cautions) is (beneath is Beneath.NOTHING)


def test_a_pot_that_is_carried_in_needs_no_securing():
    """What leaves the terrace tonight cannot fall there."""
    where = garden(pot("tall", replace(TALL, value_eur=100.0)), spots=(spot(), room()))
    evening = evening_of(where, frosty_night(-8.0, **GALE))
    chosen = choices_of(evening)

    assert chosen[0].option.to_spot == "wash room"
    assert gale_jobs(evening, chosen) == []
    assert [job.protection for job in gale_jobs(evening, ())] == [Protection.SECURE]


def test_only_what_is_gone_before_the_gale_needs_no_securing():
    """A pot carried off for a spell that begins tonight is not tied first; for a later spell, or tomorrow, it is."""
    where = garden(pot("tall", replace(TALL, value_eur=100.0)), spots=(spot(), room()))
    evening = evening_of(where, frosty_night(-8.0, **GALE))
    (chosen,) = choices_of(evening)

    def secured(batch: Batch, nights: tuple[int, ...]) -> list[Protection]:
        later = replace(chosen, occasion=replace(chosen.occasion, batch=batch, nights=nights))
        return [job.protection for job in gale_jobs(evening, [later])]

    assert secured(Batch.BEFORE_SPELL, (0, 1)) == []
    assert secured(Batch.BEFORE_SPELL, (1,)) == [Protection.SECURE]
    assert secured(Batch.TOMORROW, (1,)) == [Protection.SECURE]


def test_no_cover_goes_back_over_a_pot_that_has_been_carried_in():
    """A hood is taken off before the gale, and the pot carried in the day after: "cover it again" is not said of it."""
    one = pot("tall", replace(TALL, value_eur=100.0), covers_on=("fleece 30",))
    where = garden(one, spots=(spot(), room()))
    evening = evening_of(where, frosty_night(-8.0, **GALE))
    (chosen,) = choices_of(evening)
    later = replace(chosen, occasion=replace(chosen.occasion, batch=Batch.BEFORE_SPELL, nights=(1,)))
    uncovered = [job for job in gale_jobs(evening, ()) if job.protection is Protection.UNCOVER]

    assert chosen.option.to_spot == "wash room" and len(uncovered) == 1
    assert ("tall", Protection.UNCOVER) in undo_times(evening, (), uncovered)
    assert ("tall", Protection.UNCOVER) not in undo_times(evening, (later,), uncovered)


def test_in_a_room_nothing_falls():
    """A pot indoors is neither secured nor uncovered."""
    where = garden(pot("tall", TALL, spot="wash room"), spots=(spot(), room()))

    assert gale_jobs(evening_of(where, frosty_night(2.0, **GALE)), ()) == []


def test_frost_with_gale_brings_no_hood():
    """A night in which fleece is advised in calm air gets none in a gale, by the whole plan."""
    where = garden(pot("peach", peach(height_m=1.2)), stock=shed(hoods(4, width_m=1.8)))
    covering = {Protection.FLEECE, Protection.DOUBLE_FLEECE}
    # the wind falls asleep after midnight, so leaves are as cold as on the calm night; the gale is at dusk
    gusts = [26.0 if 15 <= hour <= 22 else 4.0 for hour in range(2, 39)]

    calm = plan_of(where, frosty_night(0.0, **CLEAR))
    gale = plan_of(where, frosty_night(0.0, **CLEAR, wind_gust_10m_m_s=gusts))

    assert covering & {job.protection for job in calm.jobs}
    assert not covering & {job.protection for job in gale.jobs}
    assert all(job.start_by <= at(17) for job in gale.jobs)


def test_every_pots_gust_with_a_hood_is_known():
    """The planner is told for each pot at which gust a hood would tip it."""
    evening = evening_of(garden(pot("a"), big_pot("b"), pot("c", shape=Shape.HANGING)), frosty_night(2.0))

    told = topple_with_hood(evening)

    assert set(told) == {"a", "b", "c"}
    assert told["a"] < told["b"] <= told["c"]
    # a tub that nothing tips, and what hangs: the hood itself is torn off in a gale, Beaufort 8 from 17.2 m/s
    assert told["b"] == told["c"] == 17.2


def test_a_hood_comes_off_the_heaviest_tub_before_a_gale():
    """The tub stands, and its cover flies over the street; no new one is put on it either."""
    tub = big_pot("tub", peach(height_m=0.6), covers_on=("fleece 30",))
    bare = big_pot("bare", peach(height_m=0.6))
    where = garden(tub, bare, spots=(spot(wind_fraction=0.75),), stock=shed(hoods(4)))

    plan = plan_of(where, frosty_night(0.0, **CLEAR, **GALE))

    assert [(job.pot, job.protection) for job in plan.jobs] == [("tub", Protection.UNCOVER)]


def test_no_pot_is_put_on_feet_on_which_it_would_go_over():
    """On its full base it stands in that gust, on three feet it does not: then it is left on the floor."""
    evening = evening_of(garden(pot("tall", TALL)), frosty_night(2.0))
    floor, feet = (
        topple_gust(replace(evening.situations[0], feet=on_feet), CATALOGUE, hooded=False) for on_feet in (False, True)
    )

    assert topple_on_feet(evening)["tall"] == pytest.approx(0.9 * feet) and feet < floor


def test_a_conifer_goes_over_before_a_broadleaf_of_its_size():
    """Its crown streams less: in the wind tunnel at 20 m/s it has twice the drag."""
    # Rudnicki et al. 2004 and Vollsinger et al. 2005, see physics/stability
    one = stands(pot())
    broadleaf, conifer = (topple_gust(one, CATALOGUE, hooded=False, conifer=kind) for kind in (False, True))
    assert conifer < broadleaf


def test_a_pot_tied_down_is_stood_up_once_a_day_without_such_gusts_lies_ahead():
    """The gale's end is known from the plan: by day, after the last strong gust; not told while none is in sight."""
    hours = np.arange(-12, 73) + ASKED.hour  # since the midnight before the question
    wind = {
        "wind_speed_10m_m_s": np.where(hours < 34.0, 14.0, 0.5),
        "wind_gust_10m_m_s": np.where(hours < 34.0, 28.0, 1.0),
    }
    passing = evening_of(garden(pot("tall", TALL)), weather(2.0, ahead_h=72, **wind), days=3)
    lasting = evening_of(garden(pot("tall", TALL)), weather(2.0, ahead_h=72, **GALE), days=3)

    over, goes_on = (undo_times(one, (), gale_jobs(one, ()))["tall", Protection.SECURE] for one in (passing, lasting))

    assert isinstance(over, datetime) and at(10, days=1) <= over <= at(12, days=1)
    assert goes_on is Stay.NOT_IN_SIGHT


def test_a_heavy_pot_is_not_laid_down_alone():
    """What weighs more than one person may slide is told with its weight, and to be laid down by two."""
    tall, tub = (gale_jobs(evening_of(garden(one), weather(2.0, ahead_h=24, **GALE)), ()) for one in (
        pot("tall", TALL), big_pot("tub", planting(height_m=2.5, width_m=1.5)),
    ))  # fmt: skip

    assert [Caution.HEAVY in job.cautions for job in (*tall, *tub)] == [False, True]
    assert tub[0].weight_kg is not None and tub[0].weight_kg > 25.0
