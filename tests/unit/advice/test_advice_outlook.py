"""What a night does to pots: the signs that are true, and how tissues are judged."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from frostguard.advice.layout import Side
from frostguard.advice.outlook import Judgement, Stretch, judge_pots, loss_of, night_hours, tissue_outlook
from frostguard.advice.pot_run import corner_share, run_pots
from frostguard.advice.situation import Situation, as_it_stands
from frostguard.advice.state import TerraceState
from frostguard.advice.terrace import Terrace, prepare_terrace
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import Neighbours, Pot, Shape
from frostguard.hardiness.damage import held_margin_k
from frostguard.hardiness.model import Mark, Tissue, TissueLimit
from tests.unit.advice.terraces import (
    CLEAR,
    big_pot,
    evening_of,
    frosty_night,
    garden,
    peach,
    planting,
    pot,
    room,
    spot,
    weather,
)

CATALOGUE = load_catalogue()
SPOTS = (spot(), spot("roofed", sky_view=0.1), room())


@pytest.fixture(scope="module", autouse=True)
def coarse_engine() -> None:
    """Signs are shown with the engine as it is, not on the coarse grid of the other tests."""


def falling(**more: Any) -> Terrace:
    """Sixteen hours of falling air, from 4 to -8 degC."""
    sky = weather(np.linspace(4.0, -8.0, 17), past_h=0, ahead_h=16, **more)
    return prepare_terrace(garden(spots=SPOTS), sky)


def stands(one: Pot | None = None, **changes: Any) -> Situation:
    return replace(as_it_stands(one or pot(), TerraceState(), CATALOGUE), **changes)


def judged(tissue: Tissue, chance: float, *, share: float = 1.0, value_eur: float = 10.0) -> Judgement:
    limit = TissueLimit(tissue, -2.0, 1.0, share, Mark.ESTIMATE, "estimate")
    return Judgement(planting(value_eur=value_eur), limit, np.array([-1.0]), np.array([chance]))


# --- signs that are true -------------------------------------------------------------------------------


def test_wind_never_warms_the_ring_while_the_air_falls_under_cloud():
    """With surroundings at air temperature and air falling, more wind is never better for the ring."""
    rings = []
    for wind in (0.5, 2.0, 5.0, 10.0):
        found = falling(wind_speed_10m_m_s=wind)
        rings.append(run_pots(found, [stands(spot="roofed")], CATALOGUE, 5.0, 0, 16).ring_c[:, 0, 0].min())

    assert rings == sorted(rings, reverse=True)


def test_on_a_clear_night_wind_warms_leaves_that_the_sky_has_chilled():
    """Under a clear sky leaves lie below the air, and wind brings them back towards it."""
    calm, windy = (
        run_pots(falling(wind_speed_10m_m_s=wind, **CLEAR), [stands()], CATALOGUE, 5.0, 0, 16).leaf_c[:, 0, 0]
        for wind in (1.0, 8.0)
    )
    air = falling(**CLEAR).outdoor.air_temperature_c[:, 0]

    assert (calm[4:] < windy[4:]).all()
    assert (windy[4:] < air[4:]).all()


def test_a_bigger_ball_of_the_same_shape_never_has_a_colder_core():
    """From one start under falling air the core of the bigger ball stays warmer all the time."""
    small = stands(pot(radius_m=0.08, height_m=0.16))
    big = stands(pot(radius_m=0.16, height_m=0.32))

    run = run_pots(falling(), [small, big], CATALOGUE, 5.0, 0, 16)

    assert (run.core_c[:, 1] >= run.core_c[:, 0] - 1e-9).all()
    assert run.core_c[-1, 1] > run.core_c[-1, 0]


def test_a_ring_in_a_group_is_never_colder_than_alone_under_cloud():
    """While the air cools a pot by wind alone, neighbours that break it keep every ring warmer."""
    alone, grouped = stands(), stands(neighbours=Neighbours.GROUP)

    run = run_pots(falling(wind_speed_10m_m_s=5.0), [alone, grouped], CATALOGUE, 5.0, 0, 16)

    for rings in (run.ring_c, run.shaded_ring_c, run.layout.mean(run.readings.middle_ring_c)):
        assert (rings[1:, 1] >= rings[1:, 0] - 1e-9).all()
        assert (rings[-1, 1] > rings[-1, 0] + 0.05).all()


def test_in_a_group_the_mean_side_stays_warmer_under_a_clear_sky():
    """Neighbours hide part of the sky, so the mean of all sides cools less than alone."""
    alone, grouped = stands(), stands(neighbours=Neighbours.GROUP)

    run = run_pots(falling(**CLEAR), [alone, grouped], CATALOGUE, 5.0, 0, 16)

    assert (run.shaded_ring_c[1:, 1] >= run.shaded_ring_c[1:, 0] - 1e-9).all()


def test_under_a_roof_leaves_stay_warmer_on_a_clear_night():
    """A plant that sees little sky loses less to it than one in the open."""
    run = run_pots(falling(**CLEAR), [stands(), stands(spot="roofed")], CATALOGUE, 5.0, 0, 16)

    assert (run.leaf_c[4:, 1] > run.leaf_c[4:, 0] + 0.5).all()


def test_a_wrap_slows_the_fall_and_slows_the_thaw():
    """Wrapped warm, the ring stays warmer; wrapped frozen, it thaws later."""
    both = [stands(), stands(round_pot=("bubble film",) * 2)]
    thaw = prepare_terrace(garden(), weather(4.0, past_h=0, ahead_h=16))

    bare, wrapped = run_pots(falling(), both, CATALOGUE, 5.0, 0, 16).ring_c[:, :, 0].min(axis=0)
    thawing = run_pots(thaw, both, CATALOGUE, -6.0, 0, 16).mean_c[-1, :, 0]

    assert wrapped > bare + 0.5
    assert thawing[1] < thawing[0]


def test_the_ring_is_the_coldest_and_never_colder_than_all_that_surrounds_it():
    """The ring leads the mean as the air falls under cloud, and stays above the air itself."""
    found = falling()
    run = run_pots(found, [stands(spot="roofed")], CATALOGUE, 5.0, 0, 16)

    assert (run.ring_c[1:] < run.mean_c[1:]).all()
    assert (run.ring_c[:, 0, 0] >= found.outdoor.air_temperature_c[:, 0] - 0.5).all()


def test_leaves_in_a_room_are_at_the_rooms_air():
    """Indoors there is neither sky nor wind to part leaves from the air."""
    found = falling()
    run = run_pots(found, [stands(spot="wash room")], CATALOGUE, 5.0, 0, 16)

    assert run.leaf_c[:, 0, 0] == pytest.approx(found.spots["wash room"].hours.air_temperature_c[:, 0])


# --- corners -------------------------------------------------------------------------------------------


def test_a_square_pot_has_a_colder_ring_than_a_round_one_while_it_loses_heat():
    """Corners lie below the ring of the cylinder that stands for the pot, and never below what cools them."""
    round_pot, square = stands(), stands(pot(shape=Shape.SQUARE))

    run = run_pots(falling(), [round_pot, square], CATALOGUE, 5.0, 0, 16)
    outside = run.side.environment_c[:, run.layout.series(1, Side.EXPOSED, 0)]

    colder_by = run.ring_c[:, 0, 0] - run.ring_c[:, 1, 0]
    assert (colder_by[2:] > 0.2).all()
    assert (run.ring_c[2:, 1, 0] > outside[2:]).all()


def test_a_corner_is_not_colder_while_the_pot_warms_up():
    """In a thaw the corner leads upwards, so nothing is taken off the ring."""
    thaw = prepare_terrace(garden(), weather(6.0, past_h=0, ahead_h=8))

    run = run_pots(thaw, [stands(), stands(pot(shape=Shape.SQUARE))], CATALOGUE, -6.0, 0, 8)

    assert run.ring_c[:, 1] == pytest.approx(run.ring_c[:, 0])


def test_the_better_a_wall_insulates_the_smaller_the_corners_share():
    """From no film to an endless one the share rises from nothing towards the whole."""
    shares = corner_share(np.array([0.0, 1.0, 8.0, 20.0, 1e6]))

    assert (np.diff(shares) > 0.0).all()
    assert shares[0] == 0.0 and 0.99 < shares[-1] < 1.0


# --- judging -------------------------------------------------------------------------------------------


def test_leaves_are_judged_by_the_leaf_and_roots_by_ring_and_mean():
    """Leaf, outer roots and the whole root system each live by their own curve."""
    evening = evening_of(garden(), frosty_night(-4.0, **CLEAR))
    inside = night_hours(evening.terrace, evening.run, evening.nights[0], evening.now)

    by_tissue = {judgement.limit.tissue: judgement for judgement in evening.judgements[0][0]}

    run = evening.run
    assert by_tissue[Tissue.LEAF].coldest_c == pytest.approx(run.leaf_c[inside, 0].min(axis=0))
    assert by_tissue[Tissue.YOUNG_ROOT].coldest_c == pytest.approx(run.ring_c[inside, 0].min(axis=0))
    assert by_tissue[Tissue.WHOLE_ROOT].coldest_c == pytest.approx(run.mean_c[inside, 0].min(axis=0))


@pytest.mark.parametrize("depth_m", [0.05, 0.12])
def test_bulbs_are_judged_where_the_outermost_stand(depth_m: float):
    """At their depth, 3 cm within the wall, on the exposed side: as the field of that series has it."""
    tulips = pot("tulips", planting("tulipa", bulb_depth_m=depth_m), radius_m=0.15, height_m=0.25)
    evening = evening_of(garden(tulips), frosty_night(-8.0))
    run, inside = evening.run, night_hours(evening.terrace, evening.run, evening.nights[0], evening.now)
    whole = next(j for j in evening.judgements[0][0] if j.limit.tissue is Tissue.WHOLE_ROOT)

    bulbs = run.layout.exposed(run.readings.depths_c[:, :, 0])[inside, 0]
    ring = run.layout.exposed(run.readings.coldest_ring_c)[inside, 0]
    assert run.bulb_depths_m == (depth_m,)
    assert whole.coldest_c == pytest.approx(bulbs.min(axis=0))
    assert (ring.min(axis=0) < whole.coldest_c).all()
    assert (whole.coldest_c < run.core_c[inside, 0].min(axis=0)).all()


def test_bulbs_deeper_than_the_pot_stand_on_its_floor():
    """A depth for the open ground in a low pot is no place outside of it."""
    deep = pot("tulips", planting("tulipa", bulb_depth_m=0.4), height_m=0.16)
    evening = evening_of(garden(deep), frosty_night(-6.0))
    assert evening.run.bulb_depths_m == (pytest.approx(0.15),)
    assert all(np.isfinite(judgement.coldest_c).all() for judgement in evening.judgements[0][0])


def test_outer_roots_are_half_on_the_exposed_side():
    """The chance for outer roots lies between those of the exposed and of the mean side."""
    evening = evening_of(
        garden(pot("box", peach(), neighbours=Neighbours.GROUP)), frosty_night(-6.0, **CLEAR)
    )
    inside = night_hours(evening.terrace, evening.run, evening.nights[0], evening.now)
    the_pot = np.array([0])
    shaded_only = replace(evening.run, ring_c=evening.run.shaded_ring_c)
    exposed_only = replace(evening.run, shaded_ring_c=evening.run.ring_c)

    chances = [
        next(
            float(judgement.chance.mean())
            for judgement in judge_pots(
                evening.terrace, run.columns, evening.pots, evening.limits, [Stretch(run, the_pot, inside, run.columns)]
            )[0]
            if judgement.limit.tissue is Tissue.YOUNG_ROOT
        )
        for run in (shaded_only, evening.run, exposed_only)
    ]

    assert chances[0] < chances[1] < chances[2]
    assert chances[1] == pytest.approx(0.5 * (chances[0] + chances[2]))


def test_the_coldest_never_includes_the_hour_of_the_question():
    """A frosty hour that is over when the question is asked is not part of the coming night."""
    past_frost = np.full(49, 5.0)
    past_frost[18:25] = -8.0  # the last hour of it is the hour of the question
    evening = evening_of(garden(), weather(past_frost, past_h=24, ahead_h=24))
    inside = night_hours(evening.terrace, evening.run, evening.nights[0], evening.now)

    assert not inside[0] and inside[1]
    assert evening.run.leaf_c[0, 0, 0] < -5.0
    leaf = next(j for j in evening.judgements[0][0] if j.limit.tissue is Tissue.LEAF)
    assert leaf.coldest_c.min() > -5.0


def test_a_limit_of_several_hours_is_not_reckoned_colder_for_lasting_as_long():
    """The same limit, once of half an hour and once of four, in a night that lasts: the second is less likely passed,
    by what four hours count."""
    evening = evening_of(garden(pot("pansy", planting("viola-wittrockiana"))), frosty_night(-8.0))
    run, inside = evening.run, np.ones(evening.run.ring_c.shape[0], dtype=bool)
    limit = TissueLimit(Tissue.LEAF, -8.0, 1.5, 0.5, Mark.WEAK_SOURCE, "a source", "leaves, hardened")
    held_k = held_margin_k(4.0)

    def chance(one: TissueLimit) -> np.ndarray:
        the_pot = np.array([0])
        stretch = Stretch(run, the_pot, inside, run.columns)
        return judge_pots(
            evening.terrace, run.columns, evening.pots, (((planting(), (one,)),),), [stretch])[0][0].chance  # fmt: skip

    short, long = chance(limit), chance(replace(limit, held_k=held_k))
    assert (long < short).all() and short.max() > 0.3
    assert long == pytest.approx(chance(replace(limit, limit_c=-8.0 - held_k)))


def test_medians_and_tenth_percentiles_are_over_members():
    """A tissue is told by the median of its members' coldest, with the tenth percentile beside it."""
    limit = TissueLimit(Tissue.LEAF, -2.0, 1.0, 0.5, Mark.MEASURED, "a source", "leaves, hardened")
    coldest = np.array([-5.0, -1.0, 0.0, 1.0, 2.0])
    chance = np.array([1.0, 0.2, 0.1, 0.0, 0.0])

    told = tissue_outlook(Judgement(planting(), limit, coldest, chance))

    assert told.coldest_c == 0.0
    # Hazen's plotting positions put the tenth percentile of five at the lowest: (1 - 0.5) / 5 = 0.1
    assert told.coldest_c_p10 == pytest.approx(-5.0)
    assert told.chance == pytest.approx(0.26)
    assert told.margin_c == pytest.approx(2.0)


def test_the_loss_of_a_plant_is_never_more_than_the_plant():
    """Two tissues that each take all lose the plant once."""
    one, other = planting(value_eur=10.0), planting("olea-europaea", value_eur=7.0)
    leaf, root = (replace(judged(tissue, 1.0), planting=one) for tissue in (Tissue.LEAF, Tissue.WHOLE_ROOT))
    beside = replace(judged(Tissue.LEAF, 1.0), planting=other)

    chance, loss = loss_of([leaf, root, beside], 1)

    assert chance == pytest.approx(1.0)
    assert loss == pytest.approx(17.0)


def test_tissues_of_one_plant_share_what_is_left():
    """Half the value with the leaves, and half of what is left with the roots."""
    one = planting(value_eur=10.0)
    leaf, root = (
        replace(judged(tissue, chance, share=share), planting=one)
        for tissue, chance, share in ((Tissue.LEAF, 1.0, 0.5), (Tissue.WHOLE_ROOT, 0.5, 1.0))
    )

    chance, loss = loss_of([leaf, root], 1)

    assert chance == pytest.approx(1.0)
    assert loss == pytest.approx(10.0 * (1.0 - 0.5 * 0.5))


def test_pots_alike_lose_alike():
    """The loss of four pots alike is four times that of one; the chance that each is hurt is the same."""
    one, four = loss_of([judged(Tissue.LEAF, 0.3)], 1), loss_of([judged(Tissue.LEAF, 0.3)], 4)

    assert four[1] == pytest.approx(4.0 * one[1])
    assert four[0] == one[0]


def test_members_are_averaged_last():
    """In a member in which leaves and roots both die the plant is lost once, not twice by halves."""
    one = planting(value_eur=10.0)
    leaf, root = (
        replace(judged(tissue, 0.0), planting=one, chance=np.array([1.0, 0.0]), coldest_c=np.array([-5.0, 1.0]))
        for tissue in (Tissue.LEAF, Tissue.WHOLE_ROOT)
    )

    assert loss_of([leaf, root], 1)[1] == pytest.approx(5.0)


# --- runs ----------------------------------------------------------------------------------------------


def test_a_run_in_two_parts_ends_where_one_run_ends():
    """Branching at an hour from the state that an earlier run left changes nothing."""
    found = falling()
    whole = run_pots(found, [stands()], CATALOGUE, 5.0, 0, 16)

    first = run_pots(found, [stands()], CATALOGUE, 5.0, 0, 7)
    second = run_pots(found, [stands()], CATALOGUE, first.readings.final_state, 7, 16)

    # the estimate of the wall's surface, on which films hang a little, begins anew with each run
    assert second.ring_c[-1] == pytest.approx(whole.ring_c[-1], abs=0.1)
    assert second.ring_c[0] == pytest.approx(whole.ring_c[7], abs=0.1)


def test_identical_situations_have_identical_answers():
    """Two pots alike in one batch do not differ, whatever stands between them."""
    run = run_pots(falling(), [stands(), stands(big_pot()), stands()], CATALOGUE, 5.0, 0, 16)

    for name in ("ring_c", "mean_c", "core_c", "leaf_c", "frozen_fraction"):
        values = getattr(run, name)
        assert (values[:, 0] == values[:, 2]).all(), name


def test_some_members_of_a_run_are_those_of_the_whole():
    """A run of chosen columns gives what the run of all columns gives for them."""
    found = falling(members=3)

    chosen = run_pots(found, [stands()], CATALOGUE, 5.0, 0, 16, columns=np.array([0, 2]))

    everything = run_pots(found, [stands()], CATALOGUE, 5.0, 0, 16)
    assert chosen.ring_c[:, 0] == pytest.approx(everything.ring_c[:, 0][:, [0, 2]])


def test_two_equal_plants_in_a_pot_are_two_plants():
    """What is lost of each is added up, also where the two are alike in every respect."""
    limit = TissueLimit(Tissue.LEAF, -2.0, 1.0, 1.0, Mark.ESTIMATE, "a source", "leaves")
    both = [
        Judgement(planting(value_eur=20.0), limit, np.array([-9.0]), np.array([1.0])) for _ in range(2)
    ]

    assert loss_of(both, 1)[1] == pytest.approx(40.0)
    assert loss_of(both[:1], 1)[1] == pytest.approx(20.0)
