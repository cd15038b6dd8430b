"""A pot with its place and covers as numbers for the physics."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from frostguard.advice.layout import Side
from frostguard.advice.situation import Situation, as_it_stands, hood_over, root_balls_of, surfaces_of
from frostguard.advice.state import TerraceState
from frostguard.advice.terrace import prepare_terrace
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import Beneath, Neighbours, Pot, Shape, Wetness
from frostguard.physics.envelope import PotSurfaces
from tests.unit.advice.terraces import garden, planting, pot, room, spot, weather

CATALOGUE = load_catalogue()
SPOTS = (
    spot(),
    spot("wall", against_house_wall=True),
    spot("roofed", sky_view=0.1),
    spot("ground", beneath=Beneath.GROUND),
    spot("railing", beneath=Beneath.NOTHING),
    room(),
)
CLIMATES = prepare_terrace(garden(spots=SPOTS), weather(0.0, past_h=2, ahead_h=2)).spots


def stands(one: Pot | None = None, state: TerraceState | None = None) -> Situation:
    return as_it_stands(one or pot(), state or TerraceState(), CATALOGUE)


def surfaces(situation: Situation, side: Side = Side.MEAN) -> PotSurfaces:
    return surfaces_of([situation], [CLIMATES[situation.spot]], side, CATALOGUE)


def test_covers_of_the_file_go_where_they_belong():
    """Fleece is over the plant, film round the pot, bark on the mix."""
    found = stands(pot(covers_on=("fleece 30", "bubble film", "bark mulch")))

    assert found.over_plant == ("fleece 30",)
    assert found.round_pot == ("bubble film",)
    assert found.mulch_m > 0.02


def test_what_the_logbook_knows_replaces_the_file():
    """Covers in force and the wetness that was reckoned count before the file's word."""
    state = TerraceState(covers_in_force={"lemon": ()}, water_fraction={"lemon": 0.11})

    found = stands(pot(covers_on=("fleece 30",), wetness=Wetness.WET), state)

    assert found.over_plant == ()
    assert found.water_fraction == 0.11


def test_wetter_mixes_hold_more_that_can_freeze():
    """Dry, moist and wet differ in freezable water, and all can freeze at all."""
    balls = root_balls_of([stands(pot(wetness=wetness)) for wetness in Wetness], CATALOGUE)

    assert (np.diff(balls.freezable_water_fraction) > 0.05).all()
    assert balls.freezable_water_fraction[0] > 0.0


def test_every_mix_wall_and_wetness_makes_a_root_ball():
    """No combination that a garden file can name is refused by the physics."""
    situations = [
        stands(pot(wall=wall, mix=mix, wetness=wetness))
        for wall in CATALOGUE.walls
        for mix in CATALOGUE.mixes
        for wetness in Wetness
    ]

    balls = root_balls_of(situations, CATALOGUE)

    assert len(balls) == len(situations)
    assert (balls.conductivity_frozen_w_m_k > balls.conductivity_unfrozen_w_m_k).all()  # ice conducts better


def test_a_thick_foam_wall_resists_many_times_more_than_terracotta():
    """Walls differ by their conductivity over their thickness."""
    foam, clay = (
        float(root_balls_of([stands(pot(wall=wall, wall_thickness_m=0.02))], CATALOGUE).wall_resistance_m2_k_w[0])
        for wall in ("polystyrene", "terracotta")
    )

    assert foam > 10.0 * clay


@pytest.mark.parametrize("place", [climate for climate in SPOTS if climate.room is None], ids=lambda s: s.name)
@pytest.mark.parametrize("neighbours", list(Neighbours))
@pytest.mark.parametrize("side", list(Side))
@pytest.mark.parametrize("shape", [Shape.ROUND, Shape.HANGING])
def test_what_a_side_sees_adds_up_to_all_round(place, neighbours: Neighbours, side: Side, shape: Shape):
    """View factors of a side to sky, floor, wall and all else are shares of one whole."""
    seen = surfaces(replace(stands(pot(shape=shape, spot=place.name)), neighbours=neighbours), side)
    shares = np.array(
        [
            seen.side_sky_view[0],
            seen.side_floor_view[0],
            seen.side_wall_view[0],
            seen.side_surroundings_view[0],
        ]
    )

    assert (shares >= 0.0).all()
    assert shares.sum() == pytest.approx(1.0)


def test_the_exposed_side_has_no_sun_and_sees_most_sky():
    """Outer roots die where the pot is bare to the sky and has no sun; the mean side is milder."""
    grouped = replace(stands(), neighbours=Neighbours.GROUP)
    exposed, mean = surfaces(grouped, Side.EXPOSED), surfaces(grouped, Side.MEAN)

    assert exposed.side_beam_share[0] == 0.0 < mean.side_beam_share[0]
    assert exposed.side_sky_view[0] > mean.side_sky_view[0]


def test_neighbours_break_the_wind_and_hide_the_sky():
    """The closer the neighbours, the less wind along the side and the less sky in sight."""
    found = [
        surfaces(replace(stands(), neighbours=how))
        for how in (Neighbours.ALONE, Neighbours.ROW, Neighbours.GROUP)
    ]

    winds = [float(seen.side_wind_factor[0]) for seen in found]
    skies = [float(seen.side_sky_view[0]) for seen in found]
    assert winds == sorted(winds, reverse=True) and winds[0] > winds[-1]
    assert skies == sorted(skies, reverse=True) and skies[0] > skies[-1]


def test_neighbours_take_nothing_from_the_area_of_the_side():
    """A pot in a group keeps the whole of its side: neighbours reduce wind and view, not area."""
    alone, grouped = (surfaces(replace(stands(), neighbours=how)) for how in (Neighbours.ALONE, Neighbours.GROUP))

    for name in ("outer_diameter_m", "height_m", "outer_area_ratio"):
        assert getattr(alone, name) == getattr(grouped, name)


def test_a_hood_shelters_the_mix_from_wind_sky_and_sun():
    """Under fleece the mix has less wind, less sky, less sun, and a layer of air more."""
    bare, hooded = surfaces(stands()), surfaces(replace(stands(), over_plant=("fleece 30",)))

    assert hooded.top_wind_factor[0] < bare.top_wind_factor[0]
    assert hooded.top_sky_view[0] < bare.top_sky_view[0]
    assert hooded.top_sun_share[0] < bare.top_sun_share[0]
    assert hooded.top_resistance_m2_k_w[0] > bare.top_resistance_m2_k_w[0]


def test_no_cover_is_no_hood_and_two_layers_are_more_than_one():
    """A bare plant has no hood; a second layer lets less radiation through."""
    assert hood_over(stands(), CATALOGUE) is None
    one, two = (
        surfaces(replace(stands(), over_plant=("fleece 30",) * layers)).top_sky_view[0] for layers in (1, 2)
    )
    assert two < one


def test_a_wrap_adds_its_resistance_round_the_side_only():
    """Film round the pot changes the side and neither top nor base."""
    bare, wrapped = surfaces(stands()), surfaces(replace(stands(), round_pot=("bubble film",) * 2))

    assert bare.wrap_resistance_m2_k_w[0] == 0.0 < wrapped.wrap_resistance_m2_k_w[0]
    assert wrapped.top_resistance_m2_k_w[0] == bare.top_resistance_m2_k_w[0]
    assert wrapped.base_resistance_m2_k_w[0] == bare.base_resistance_m2_k_w[0]


def test_mulch_resists_by_its_depth_and_stops_evaporation():
    """Twice the mulch is twice the resistance, and a mulched surface gives off no water."""
    shallow, deep = (surfaces(replace(stands(), mulch_m=depth)) for depth in (0.02, 0.04))

    assert deep.top_resistance_m2_k_w[0] == pytest.approx(2.0 * shallow.top_resistance_m2_k_w[0])
    assert deep.top_wetness[0] == 0.0 < surfaces(stands()).top_wetness[0]


def test_what_a_base_feels_depends_on_what_it_stands_on():
    """Hanging it feels the air, on feet partly, standing the floor; deep ground adds its own resistance."""
    hanging = surfaces(stands(pot(shape=Shape.HANGING)))
    over_nothing = surfaces(replace(stands(), spot="railing"))
    on_feet = surfaces(replace(stands(), feet=True))
    standing = surfaces(stands())

    assert hanging.base_air_share[0] == over_nothing.base_air_share[0] == 1.0
    assert 0.0 < on_feet.base_air_share[0] < 1.0
    assert standing.base_air_share[0] == 0.0
    on_ground = surfaces(replace(stands(), spot="ground"))
    on_board = surfaces(replace(stands(), board=True))
    assert on_ground.base_resistance_m2_k_w[0] > standing.base_resistance_m2_k_w[0]
    assert on_board.base_resistance_m2_k_w[0] > standing.base_resistance_m2_k_w[0] + 0.5


def test_the_widest_and_tallest_plant_of_a_pot_counts():
    """A pot with two plants is as wide and as high as the larger of them."""
    both = stands(pot("box", planting(height_m=0.2, width_m=0.6), planting(height_m=0.9, width_m=0.3)))

    assert (both.width_m, both.height_m) == (0.6, 0.9)


def test_an_evergreen_shades_its_mix_more_than_bare_stems():
    """Leaves over the mix hide the sky that bare stems leave open."""
    leafy, bare = (
        surfaces(stands(pot("p", planting(evergreen=evergreen, width_m=0.4))))
        for evergreen in (True, False)
    )

    assert leafy.top_sky_view[0] < bare.top_sky_view[0]
    assert leafy.top_sun_share[0] < bare.top_sun_share[0]


def test_leaves_in_the_gaps_keep_warm_what_faces_the_neighbours_and_not_the_outer_strip():
    """A packed group gains on the sides between pots only: what looks outwards is as bare as in any group."""
    grouped, packed = (stands(pot(neighbours=standing)) for standing in (Neighbours.GROUP, Neighbours.PACKED))

    assert surfaces(packed).wrap_resistance_m2_k_w > surfaces(grouped).wrap_resistance_m2_k_w + 0.1
    outer = [surfaces(one, Side.EXPOSED) for one in (grouped, packed)]
    assert outer[0].wrap_resistance_m2_k_w == outer[1].wrap_resistance_m2_k_w == 0.0


def test_a_crate_of_bark_keeps_more_than_bubble_film():
    """A hand of damp bark resists more than two layers of film, and less than the same of dry foam."""
    resistance = {
        cover: float(surfaces(stands(pot(covers_on=(cover,)))).wrap_resistance_m2_k_w[0])
        for cover in ("bubble film", "crate of bark")
    }

    assert 2.0 * resistance["bubble film"] < resistance["crate of bark"] < 0.08 / 0.036
