"""Garden files that are right: what is read, what is assumed, and the example that comes with the project."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from frostguard.garden.assumed import ASSUMED, assumed_code, assumed_sentence, describe_assumptions
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import (
    BareStem,
    Beneath,
    Garden,
    Light,
    Neighbours,
    RoomKind,
    Shape,
    SnowLies,
    Stage,
    Stem,
    Surroundings,
    Wetness,
)
from frostguard.garden.reader import load_garden
from frostguard.hardiness.limits import load_limits
from frostguard.hardiness.rating import taxon_from_rating
from tests.unit.garden.garden_texts import CORRECT

DEMO = Path(__file__).parents[3] / "config" / "garden.yaml"

ReadGarden = Callable[[str], Garden]

END = "    spot: terrace\n"


def _with(lines: str) -> str:
    """The correct file with more lines in its pot."""
    return CORRECT.replace(END, END + "".join(f"    {line}\n" for line in lines.splitlines()))


def test_four_lines_are_enough_for_a_pot(read_garden: ReadGarden) -> None:
    """Plant, material, litres and spot make a pot; the rest is assumed and said so."""
    garden = read_garden(CORRECT)

    (pot,) = garden.pots
    assert (pot.id, pot.label, pot.wall, pot.mix, pot.spot) == (
        "lemon",
        "Lemon",
        "terracotta",
        "multi-purpose",
        "terrace",
    )
    assert (pot.shape, pot.wetness, pot.neighbours, pot.count) == (
        Shape.ROUND,
        Wetness.MOIST,
        Neighbours.ALONE,
        1,
    )
    assert pot.volume_l == pytest.approx(30)
    assert (pot.feet, pot.saucer, pot.drain_hole, pot.potted_this_autumn) == (False, False, True, False)
    assert pot.line == 12
    assert {code.split(":")[0] for code in pot.assumed} == {
        "id",
        "shape",
        "size",
        "wall_thickness",
        "rim",
        "mix",
        "wetness",
        "neighbours",
        "nothing_extra",
        "drain_hole",
        "rooted_in",
        "plant_size",
        "value",
    }
    (lemon,) = pot.plantings
    assert load_limits().taxon(lemon.taxon or "").english == "lemon"
    assert (lemon.value_eur, lemon.irreplaceable, lemon.stage, lemon.evergreen) == (20.0, False, None, None)


def test_what_is_said_is_not_assumed(read_garden: ReadGarden) -> None:
    """A pot that says everything has nothing assumed but the mix's distance from the rim."""
    garden = read_garden(
        _with(
            "id: lemon-1\nlabel: Lemon by the door\nshape: round\ndiameter_cm: 40\nheight_cm: 36\n"
            "wall_mm: 15\n"
            "mix: soil-based\nwetness: wet\nneighbours: row\nfeet: yes\nsaucer: no\nmulch_cm: 4.5\n"
            "drain_hole: yes\n"
            "covers: [bubble wrap, bubble film]\npotted_this_autumn: yes\ncount: 2\nplant_height_cm: 120\n"
            "plant_width_cm: 80\nvalue: 90\nevergreen: yes\nstage: open flowers\nrating: h2"
        )
    )

    (pot,) = garden.pots
    (lemon,) = pot.plantings
    assert pot.assumed == ("rim",)
    assert (pot.id, pot.label, pot.wall_thickness_m, pot.mulch_m, pot.count) == (
        "lemon-1",
        "Lemon by the door",
        0.015,
        pytest.approx(0.045),
        2,
    )
    assert pot.covers_on == ("bubble film", "bubble film")
    assert (lemon.height_m, lemon.width_m, lemon.value_eur) == (1.2, 0.8, 90.0)
    assert (lemon.stage, lemon.evergreen, lemon.rating) == (Stage.OPEN_FLOWERS, True, "H2")
    # 37 cm inside at the rim, 0.75 of that at the bottom, filled to 34 cm: the radius lies between the two
    assert 0.75 * 0.185 < pot.radius_m < 0.185
    assert pot.height_m == pytest.approx(0.34)


def test_what_a_gardener_has_seen_his_plant_stand_is_read(read_garden: ReadGarden) -> None:
    """Own limits are read in degrees; what is not given stays open for the table."""
    lines = "plant: lemon\n    leaf_limit_c: -4\n    whole_root_limit_c: -5.5"
    own = read_garden(CORRECT.replace("plant: lemon", lines, 1)).pots[0].plantings[0].own_limits
    assert (own.leaf_c, own.flower_c, own.young_root_c, own.whole_root_c) == (-4.0, None, None, -5.5)


def test_a_bare_stem_is_read_with_its_size_or_the_usual_one(read_garden: ReadGarden) -> None:
    """What stands on a bare stem says so; length and thickness follow from the plant where they are not given."""
    bare = read_garden(CORRECT.replace("plant: lemon", "plant: lemon\n    stem: grafted standard", 1)).pots[0]
    told = read_garden(
        CORRECT.replace("plant: lemon", "plant: lemon\n    stem: half-standard\n    stem_cm: 90", 1)
    ).pots[0]

    assert bare.plantings[0].bare_stem == BareStem(Stem.GRAFTED, pytest.approx(0.6 * bare.plantings[0].height_m), 0.02)
    assert any(code.startswith("stem_size:") for code in bare.assumed)
    assert told.plantings[0].bare_stem == BareStem(Stem.STANDARD, 0.9, 0.02)


def test_sleeves_lie_in_the_shed_by_the_piece(read_garden: ReadGarden) -> None:
    """A sleeve needs its length alone; a bandage is cut off its roll."""
    stock = """stock:
  covers:
    - {cover: stem sleeve, piece: sleeve, length_m: 1, count: 2}
    - {cover: jute bandage, piece: roll, width_m: 0.12, length_m: 25}
"""
    sleeve, roll = read_garden(CORRECT + stock).stock.covers
    assert (sleeve.material, sleeve.piece, sleeve.width_m, sleeve.length_m, sleeve.count) == (
        "stem sleeve", "sleeve", 0.07, 1.0, 2)
    assert (roll.material, roll.piece) == ("jute bandage", "roll")


def test_several_plants_in_one_pot(read_garden: ReadGarden) -> None:
    """A list of plants holds names, or keys where there is more to say."""
    garden = read_garden(
        CORRECT.replace(
            "plant: lemon",
            "plants:\n      - thyme\n      - plant: tulip\n        bulb_depth_cm: 15\n        value: low",
        )
    )

    (pot,) = garden.pots
    thyme, tulip = pot.plantings
    assert (thyme.name, tulip.name) == ("thyme", "tulip")
    assert (thyme.value_eur, tulip.value_eur, tulip.bulb_depth_m) == (20.0, 5.0, 0.15)
    assert (pot.id, pot.label) == ("thyme-tulip", "Thyme and tulip")


def test_a_plant_that_no_table_knows_goes_by_its_rating(read_garden: ReadGarden) -> None:
    """With a rating any name is right, and limits can be had from the rating."""
    for written, rating in (("7b", "7b"), ("zone 7b", "7b"), ("h4", "H4"), ("7", "7b")):
        garden = read_garden(_with(f"rating: {written}").replace("lemon", "bush from the market"))

        (planting,) = garden.pots[0].plantings
        assert (planting.taxon, planting.rating) == (None, rating)
        assert "by_rating" in garden.pots[0].assumed
        assert taxon_from_rating(planting.rating or "").key


@pytest.mark.parametrize("name", ["citronnier", "Citrus ×limon", "Citrus x limon", "LEMON", "lemons"])
def test_plants_go_by_french_and_botanical_names(read_garden: ReadGarden, name: str) -> None:
    """Any of a plant's names finds it."""
    garden = read_garden(CORRECT.replace("plant: lemon", f"plant: {name}"))

    assert garden.pots[0].plantings[0].taxon == "citrus-limon"
    assert garden.pots[0].plantings[0].name == name


def test_value_words(read_garden: ReadGarden) -> None:
    """Low, medium and high stand for 5, 20 and 100 euro; irreplaceable is kept as such."""
    worth = {
        word: read_garden(_with(f"value: {word}")).pots[0].plantings[0]
        for word in ("low", "medium", "high", "irreplaceable", "0", "12.50")
    }

    assert [plant.value_eur for plant in worth.values()] == [5.0, 20.0, 100.0, 100.0, 0.0, 12.5]
    assert [word for word, plant in worth.items() if plant.irreplaceable] == ["irreplaceable"]


def test_pots_without_ids_get_different_ones(read_garden: ReadGarden) -> None:
    """Made ids differ from one another and from those given."""
    pot = CORRECT[CORRECT.index("  - plant: lemon") :]
    garden = read_garden(CORRECT + pot + pot + "    id: lemon-2\n")

    assert [pot.id for pot in garden.pots] == ["lemon", "lemon-3", "lemon-2"]
    assert [pot.label for pot in garden.pots] == ["Lemon", "Lemon 2", "Lemon 3"]


@pytest.mark.parametrize(
    ("lines", "shape"),
    [
        ("length_cm: 80", Shape.TROUGH),
        ("width_cm: 30", Shape.SQUARE),
        ("shape: railing box\nlength_cm: 60", Shape.RAILING_BOX),
        ("shape: hanging basket", Shape.HANGING),
        ("shape: pan", Shape.PAN),
    ],
)
def test_shapes(read_garden: ReadGarden, lines: str, shape: Shape) -> None:
    """A shape may be said, or follow from a length or a width."""
    (pot,) = read_garden(_with(lines)).pots

    assert pot.shape is shape
    assert pot.volume_l == pytest.approx(30)
    assert pot.radius_m > 0 and pot.height_m > 0


@given(
    material=st.sampled_from(sorted(load_catalogue().walls)),
    litres=st.floats(0.3, 300).map(lambda value: round(value, 2)),
)
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_volume_of_any_material_makes_a_possible_pot(
    read_garden: ReadGarden, material: str, litres: float
) -> None:
    """Whatever the material, a pot of usual size has mix inside its walls, about as much as its litres."""
    text = CORRECT.replace("material: terracotta", f"material: {material}").replace("30", str(litres))
    (pot,) = read_garden(text).pots

    mix_l = 1000 * 3.141593 * pot.radius_m**2 * pot.height_m
    assert 0.75 * litres < mix_l < litres
    assert pot.wall_thickness_m < 0.25 * pot.radius_m  # a tenth of the width at the rim
    assert 3.14159 * pot.radius_m**2 < pot.floor_m2


def test_spots_by_words_and_numbers(read_garden: ReadGarden) -> None:
    """Shelter, sky and facing may be words or numbers."""
    garden = read_garden(
        CORRECT.replace(
            "  - name: terrace\n",
            "  - name: terrace\n    label: on the terrace\n    wind: sheltered\n    sky: 0.35\n"
            "    beneath: open air\n"
            "    house_wall: yes\n    facing: SW\n    free_floor_m2: 2.5\n",
        )
    )

    spot = garden.spot("terrace")
    assert (spot.label, spot.wind_fraction, spot.sky_view) == ("on the terrace", 0.2, 0.35)
    assert (spot.beneath, spot.against_house_wall, spot.facing_deg) == (Beneath.OPEN_AIR, True, 225.0)
    assert (spot.free_floor_m2, spot.room, spot.escape_route, spot.assumed) == (2.5, None, False, ())


@pytest.mark.parametrize(
    ("word", "degrees"), [("north", 0.0), ("NE", 45.0), ("south-west", 225.0), ("180", 180.0)]
)
def test_facings(read_garden: ReadGarden, word: str, degrees: float) -> None:
    """Compass words and degrees say where a spot looks to."""
    garden = read_garden(CORRECT.replace("- name: terrace", f"- name: terrace\n    facing: {word}"))

    assert garden.spot("terrace").facing_deg == degrees


@pytest.mark.parametrize("lies", SnowLies)
def test_snow_that_lies(read_garden: ReadGarden, lies: SnowLies) -> None:
    """Snow counts as a blanket only where the file says so."""
    assert read_garden(CORRECT).spot("terrace").snow is SnowLies.NO
    garden = read_garden(CORRECT.replace("- name: terrace", f"- name: terrace\n    snow: {lies.value}"))

    assert garden.spot("terrace").snow is lies


def test_rooms(read_garden: ReadGarden) -> None:
    """A frost-free room is held above a temperature, an unheated one follows the outdoors late."""
    garden = read_garden(
        CORRECT.replace(
            "    escape_route: yes\n",
            "    escape_route: yes\n  - name: cellar\n    room: frost-free\n    light: dark\n"
            "    free_floor_m2: 2\n"
            "  - name: shed\n    room: unheated\n    lag_days: 0.5\n    warmer_k: 2\n",
        )
    )

    cellar, shed = garden.spot("cellar").room, garden.spot("shed").room
    assert cellar is not None and shed is not None
    assert (cellar.kind, cellar.light, cellar.lowest_c) == (RoomKind.FROST_FREE, Light.DARK, 3.0)
    assert (shed.kind, shed.lag_d, shed.warmer_than_outdoors_k, shed.lowest_c) == (
        RoomKind.UNHEATED,
        0.5,
        2.0,
        None,
    )
    assert garden.spot("cellar").assumed == ("room_lag:2", "room_warmer:6", "room_lowest:3")
    assert garden.spot("stairwell").escape_route


def test_the_shed(read_garden: ReadGarden) -> None:
    """Covers are read with their pieces; a file without a shed says so."""
    stock = read_garden(
        CORRECT + "stock:\n  covers:\n    - cover: plastique à bulles\n"
        "      piece: roll\n      width_m: 1\n      length_m: 10\n    - cover: bark\n      piece: bag\n"
        "      litres: 40\n      count: 2\n  pot_feet: 8\n"
    ).stock

    film, bark = stock.covers
    assert (film.material, film.piece, film.width_m, film.length_m, film.count) == (
        "bubble film",
        "roll",
        1,
        10,
        1,
    )
    assert (bark.material, bark.litres, bark.count) == ("bark mulch", 40, 2)
    assert (stock.pot_feet, stock.stated) == (8, True)
    assert not read_garden(CORRECT).stock.stated


def test_the_same_file_in_other_clothes(read_garden: ReadGarden) -> None:
    """Windows line ends, a byte order mark and quotation marks make no difference."""
    plain = read_garden(CORRECT)

    for text in (
        "\ufeff" + CORRECT,
        CORRECT.replace("\n", "\r\n"),
        CORRECT.replace("30", "'30'"),
        CORRECT.replace("lemon", '"lemon"'),
        "---\n" + CORRECT.replace("plant: lemon", "plant:   lemon  "),
    ):
        other = read_garden(text)
        assert other.site == plain.site
        assert other.spots == plain.spots
        assert [pot.plantings for pot in other.pots] == [pot.plantings for pot in plain.pots]


def test_the_example_garden_has_no_faults_and_all_kinds() -> None:
    """The garden to copy loads, has 16 to 20 pots of every shape, and shows every kind of spot."""
    garden = load_garden(DEMO)

    assert (garden.site.latitude_deg, garden.site.longitude_deg) == (46.05, 14.51)
    assert garden.site.surroundings is Surroundings.CITY
    assert 16 <= len(garden.pots) <= 20
    assert {pot.shape for pot in garden.pots} == set(Shape)
    assert {pot.mix for pot in garden.pots} >= {"multi-purpose", "soil-based", "ericaceous", "gritty"}
    assert len({pot.wall for pot in garden.pots}) >= 12
    assert any(pot.count > 1 for pot in garden.pots)
    assert any(len(pot.plantings) > 1 for pot in garden.pots)
    assert sum(spot.escape_route for spot in garden.spots) == 1
    assert len([spot for spot in garden.spots if not spot.escape_route]) == 5
    assert any(spot.room is not None and spot.room.kind is RoomKind.UNHEATED for spot in garden.spots)
    assert garden.stock.covers and garden.stock.pot_feet


def test_everything_in_the_example_refers_to_something(read_garden: ReadGarden) -> None:
    """Spots, walls, mixes, covers and plants of the example are all known."""
    garden, catalogue = load_garden(DEMO), load_catalogue()

    for pot in garden.pots:
        assert garden.spot(pot.spot)
        assert pot.wall in catalogue.walls and pot.mix in catalogue.mixes
        assert all(cover in catalogue.covers for cover in pot.covers_on)
        for planting in pot.plantings:
            assert planting.rating if planting.taxon is None else load_limits().taxon(planting.taxon)
    assert all(piece.material in catalogue.covers for piece in garden.stock.covers)


def test_every_assumed_code_has_a_sentence() -> None:
    """What was assumed of the example can be told, sentence by sentence, with no placeholder left."""
    garden = load_garden(DEMO)
    told = describe_assumptions(garden)

    assert {"spot", "pot"} <= {assumptions.of for assumptions in told}
    for assumptions in told:
        for code in assumptions.codes:
            sentence, values = assumed_sentence(code)
            text = sentence.format(**values)
            assert text.endswith(".") and "{" not in text


def test_codes_carry_their_numbers_in_order() -> None:
    """The numbers behind a code fill its sentence in the order of the placeholders."""
    sentence, values = assumed_sentence(assumed_code("size", 41, 39.04))

    assert "41 cm wide, 39 cm tall" in sentence.format(**values)
    with pytest.raises(KeyError):
        assumed_sentence("no such code")
    with pytest.raises(ValueError, match="zip"):
        assumed_sentence("size:3")


def test_every_sentence_is_used() -> None:
    """No sentence stands in the list of assumptions that no code of the readers can call up."""
    package = Path(load_garden.__code__.co_filename).parent
    readers = "".join(path.read_text(encoding="utf-8") for path in package.glob("read_*.py"))

    assert [code for code in ASSUMED if f'"{code}"' not in readers] == []


def test_reading_is_fast_and_light() -> None:
    """The example is read in well under a tenth of a second, without data-frame or validation libraries."""
    load_garden(DEMO)
    begun = time.process_time()
    load_garden(DEMO)
    assert time.process_time() - begun < 0.2  # measured 0.02; slack for a busy machine

    heavy = "print([name for name in ('pandas', 'pydantic', 'httpx', 'scipy') if name in sys.modules])"
    script = (
        f"import sys; from frostguard.garden.reader import load_garden; load_garden({str(DEMO)!r}); {heavy}"
    )
    answer = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert answer.stdout.strip() == "[]"


def test_records_are_frozen(read_garden: ReadGarden) -> None:
    """A garden that was read cannot be changed behind one's back."""
    garden = read_garden(CORRECT)

    for record in (garden, garden.site, garden.spots[0], garden.pots[0], garden.pots[0].plantings[0]):
        name = fields(record)[0].name
        with pytest.raises(AttributeError):
            setattr(record, name, None)


def test_a_cold_frame_and_a_glazed_balcony_are_bright_and_follow_the_outdoors_within_hours(
    read_garden: ReadGarden,
) -> None:
    """Glass holds a night back by hours, not by days like masonry, and lets light in."""
    garden = read_garden(
        CORRECT.replace(
            "    escape_route: yes\n",
            "    escape_route: yes\n  - name: frame\n    room: cold frame\n    free_floor_m2: 1\n"
            "  - name: loggia\n    room: glazed balcony\n    free_floor_m2: 1\n",
        )
    )

    for name in ("frame", "loggia"):
        glass = garden.spot(name).room
        assert glass is not None
        assert glass.light is Light.BRIGHT
        assert 0.0 < glass.lag_d < 1.0
        assert 0.0 < glass.warmer_than_outdoors_k < 5.0
        assert glass.lowest_c is None
    assert garden.spot("frame").assumed == ("room_light_bright", "room_lag:0.3", "room_warmer:2")


def test_a_pot_on_a_board_among_leaves(read_garden: ReadGarden) -> None:
    """An insulating board below and leaves between the pots are read."""
    (pot,) = read_garden(_with("board: yes\nneighbours: packed")).pots
    assert pot.board
    assert pot.neighbours is Neighbours.PACKED


def test_a_horizon_hides_the_low_sun(read_garden: ReadGarden) -> None:
    """The height of what stands opposite is read in degrees; without it there is none."""
    with_houses = CORRECT.replace("  - name: terrace\n", "  - name: terrace\n    horizon_deg: 25\n", 1)
    assert with_houses != CORRECT
    assert [spot.horizon_deg for spot in read_garden(with_houses).spots if spot.horizon_deg] == [25.0]
