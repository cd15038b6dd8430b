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
from frostguard.physics.envelope import PotSurfaces, build_envelope
from frostguard.physics.microclimate import gather_hours
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
ZERO = np.zeros(1, dtype=np.intp)
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
    state = TerraceState(covers_in_force={"lemon": ()})

    one = pot(covers_on=("fleece 30",), wetness=Wetness.WET)
    found = as_it_stands(one, state, CATALOGUE, water_fraction=0.11)

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


def test_unglazed_clay_gives_off_water_as_long_as_its_mix_is_moist():
    """Bare clay round a moist mix evaporates; round a dry one, wrapped, or of plastic it does not."""
    moist, dry = (stands(pot(wall="terracotta", wetness=wetness)) for wetness in (Wetness.MOIST, Wetness.DRY))
    assert surfaces(moist).side_wetness[0] > 0.0
    assert surfaces(dry).side_wetness[0] == 0.0
    assert surfaces(replace(moist, round_pot=("jute and straw",))).side_wetness[0] == 0.0
    assert surfaces(stands()).side_wetness[0] == 0.0


def test_evaporating_clay_is_colder_than_glazed_clay_in_dry_wind():
    """Above freezing a wet wall in dry air lies below the air, no colder than the wet bulb."""
    # at 5 degC and half of saturation the wet bulb is 1.3 degC (FAO-56 eq. 15, solved)
    sky = weather(5.0, past_h=2, ahead_h=2, dew_point_c=-4.5, wind_speed_10m_m_s=6.0)
    hours = gather_hours((prepare_terrace(garden(spots=SPOTS), sky).spots["roofed"],), ZERO, ZERO, slice(0, 4))
    wet, dry = (
        build_envelope(seen, hours, hours.air_temperature_c, hours.air_temperature_c)[0].side_environment_c[-1, 0]
        for seen in (surfaces(stands(pot(wall=wall, spot="roofed"))) for wall in ("terracotta", "glazed earthenware"))
    )
    assert 1.3 < wet < dry - 0.3


def test_a_bag_of_felt_is_as_wet_as_its_mix():
    """Felt round a moist mix insulates a tenth of what the dry mat would."""
    # 4 mm of dry felt at 0.05 W/mK resist 0.08, soaked about 0.01 m2K/W (from memory)
    bag = pot(wall="felt", wall_thickness_m=0.004)
    dry, wet = (
        root_balls_of([as_it_stands(bag, TerraceState(), CATALOGUE, water_fraction=water)], CATALOGUE)
        .wall_resistance_m2_k_w[0]
        for water in (0.0, 0.6)
    )
    assert dry == pytest.approx(0.08, rel=0.05)
    assert wet < 0.01


def test_rain_takes_most_of_a_mat_and_nothing_of_film():
    """A soaked mat round the pot resists less than half of a dry one; bubble film does not soak."""
    for cover, kept in (("coir mat", (0.0, 0.5)), ("bubble film", (1.0, 1.0))):
        dry = replace(stands(), round_pot=(cover,))
        share = surfaces(replace(dry, covers_wet=True)).wrap_resistance_m2_k_w / surfaces(dry).wrap_resistance_m2_k_w
        assert kept[0] <= share[0] <= kept[1]


def test_wet_fleece_lies_on_the_leaves_and_lets_less_radiation_through():
    """Soaked fleece is nearly black to radiation, less open to the air, and touches what it covers."""
    dry, wet = (
        hood_over(replace(stands(), over_plant=("fleece 30",), covers_wet=how), CATALOGUE) for how in (False, True)
    )
    assert dry is not None and wet is not None
    assert wet.longwave_transmittance < dry.longwave_transmittance
    assert wet.contact_w_m2_k > dry.contact_w_m2_k == 0.0


def test_an_insulating_board_shuts_the_base():
    """A pot on a board of polystyrene feels the floor through it."""
    bare, boarded = surfaces(stands()), surfaces(stands(pot(board=True)))
    # 20 mm at 0.0355 W/mK
    assert boarded.base_resistance_m2_k_w[0] - bare.base_resistance_m2_k_w[0] == pytest.approx(0.563, abs=0.001)


def test_pots_of_nine_centimetres_and_of_a_metre_can_be_reckoned():
    """The smallest pot that is sold with a plant and a large tub make root balls and surfaces."""
    for radius, height in ((0.04, 0.08), (0.5, 0.8)):
        one = stands(pot(radius_m=radius, height_m=height))
        assert root_balls_of([one], CATALOGUE).radius_m[0] == radius
        assert surfaces(one).height_m[0] == height


@pytest.mark.parametrize("wall", ["stone", "concrete", "terracotta"])
@pytest.mark.parametrize("radius_m", [0.2, 1.0])
def test_the_thickest_wall_of_a_garden_file_can_be_reckoned(wall, radius_m):
    """15 cm of a heavy material, the most that a garden file may say, is no impossible pot for the engine."""
    balls = root_balls_of([stands(pot(wall=wall, wall_thickness_m=0.15, radius_m=radius_m))], CATALOGUE)

    assert balls.wall_heat_capacity_j_m2_k[0] > 2e5
