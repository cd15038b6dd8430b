"""What is in the shed: nothing is promised twice, and nothing that does not fit."""

from __future__ import annotations

import numpy as np
import pytest

from frostguard.advice.supplies import USUAL, Cut, Needs, Supplies, supplies_of
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import CoverPiece, Stock
from tests.unit.advice.terraces import bark, film, garden, hoods, room, shed, sheets, spot

CATALOGUE = load_catalogue()


def supplies(*covers: CoverPiece, pot_feet: int = 0) -> Supplies:
    return supplies_of(garden(stock=shed(*covers, pot_feet=pot_feet), spots=(spot(), room())), CATALOGUE)


def best(cuts: tuple[Cut, ...]) -> Cut | None:
    """What is taken first of what is at hand."""
    return next(iter(cuts), None)


def test_an_empty_shed_gives_nothing():
    """Where the file says that the shed is empty no cover, mulch or feet are found."""
    empty = supplies()

    assert best(empty.covers_for_plant(0.4, 0.5, "deck", 1, 1)) is None
    assert best(empty.covers_for_pot(0.3, 0.3, 1)) is None
    assert empty.mulches_for(1.0) == []
    assert not empty.can_give(Needs(pot_feet=1))
    assert empty.can_give(Needs())


def test_a_file_that_says_nothing_of_the_shed_has_the_usual_things():
    """Unknown is not empty: what a garden centre sells any day is taken as at hand."""
    unstated = garden(stock=Stock(covers=(), pot_feet=0, stated=False))

    found = supplies_of(unstated, CATALOGUE)

    assert sum(found.hoods.values()) == sum(cover.count for cover in USUAL.covers if cover.piece == "hood")
    assert best(found.covers_for_pot(0.3, 0.3, 1)) is not None


def test_hoods_are_given_until_there_are_none():
    """Every plant and every layer takes a hood of its own, and the last one is the last."""
    three = supplies(hoods(3))

    double = best(three.covers_for_plant(0.4, 0.5, "deck", 2, 1))

    assert double is not None and double.use.count == 2
    left = three.without(double.needs)
    assert best(left.covers_for_plant(0.4, 0.5, "deck", 2, 1)) is None
    single = best(left.covers_for_plant(0.4, 0.5, "deck", 1, 1))
    assert single is not None
    assert not left.without(single.needs).can_give(single.needs)


def test_pots_alike_need_a_hood_each():
    """Four pots alike take four hoods, and three do not do."""
    assert best(supplies(hoods(3)).covers_for_plant(0.4, 0.5, "deck", 1, 4)) is None
    cut = best(supplies(hoods(4)).covers_for_plant(0.4, 0.5, "deck", 1, 4))
    assert cut is not None and cut.use.count == 4


@pytest.mark.parametrize(
    ("plant_width_m", "plant_height_m", "fits"),
    # a hood of 1.2 m by 1.8 m laid flat is 2.4 m round: it goes over a crown of up to 2.4 / pi = 0.76 m
    [(0.7, 1.7, True), (0.8, 1.0, False), (0.4, 1.9, False)],
)
def test_a_hood_fits_over_the_plant_or_is_not_offered(plant_width_m: float, plant_height_m: float, fits: bool):
    """Too wide a crown or too tall a plant finds no hood."""
    cut = best(supplies(hoods(2)).covers_for_plant(plant_width_m, plant_height_m, "deck", 1, 1))

    assert (cut is not None) is fits


def test_the_warmest_cover_at_hand_is_taken():
    """Of two fleeces the one that lets less heat radiation through goes over the plant."""
    both = supplies(hoods(2, "fleece 17"), hoods(2, "fleece 50"))

    cut = best(both.covers_for_plant(0.4, 0.5, "deck", 1, 1))

    assert cut is not None and cut.material == "fleece 50"


def test_a_sheet_serves_one_spot_only():
    """What is left of a sheet that is spread at one spot goes to its neighbours there and nowhere else."""
    one = supplies(sheets(1, 4.0, 4.0))
    first = best(one.covers_for_plant(0.4, 0.5, "deck", 1, 1))
    assert first is not None

    left = one.without(first.needs)

    assert best(left.covers_for_plant(0.4, 0.5, "deck", 1, 1)) is not None
    assert best(left.covers_for_plant(0.4, 0.5, "front", 1, 1)) is None
    assert not left.can_give(Needs(area_m2=(("fleece 30", 0.1),), spot="front"))


def test_a_roll_may_be_cut_for_any_spot():
    """A wrap is cut off: the rest of the roll goes where it is wanted."""
    roll = supplies(film(1, length_m=10.0))
    first = best(roll.covers_for_pot(0.3, 0.3, 1))
    assert first is not None

    left = roll.without(first.needs)

    assert left.can_give(Needs(area_m2=first.needs.area_m2, spot="front"))


def test_a_cut_is_never_longer_than_what_is_left_of_one_piece():
    """Two half used rolls are not one whole: a wrap is cut from a single piece."""
    two = supplies(film(2, length_m=2.0))

    assert not two.can_give(Needs(area_m2=(("bubble film", 3.0),)))
    assert two.can_give(Needs(area_m2=(("bubble film", 2.0),)))


def test_taking_from_the_shed_never_leaves_less_than_nothing():
    """Whatever is asked for, piece by piece, no piece and no floor goes below zero."""
    left = supplies(hoods(4), sheets(2), film(2, length_m=3.0), bark(50.0), pot_feet=7)
    hood = next(iter(left.hoods))
    random = np.random.default_rng(3)
    given = 0
    for _ in range(60):
        needs = Needs(
            hoods=((hood, int(random.integers(0, 2))),),
            area_m2=(("fleece 30", random.uniform(0, 1.5)), ("bubble film", random.uniform(0, 0.8))),
            spot=str(random.choice(["deck", "front"])),
            mulch_litres=(("bark mulch", random.uniform(0, 8)),),
            pot_feet=int(random.integers(0, 4)),
            floor=(("wash room", random.uniform(0, 0.3)),),
        )
        if left.can_give(needs):
            left = left.without(needs)
            given += 1

    assert 0 < given < 60
    assert min(left.hoods.values()) >= 0
    assert min(piece.left_m2 for piece in left.pieces) >= 0.0
    assert min(left.mulch_litres.values()) >= 0.0
    assert left.pot_feet >= 0
    assert min(left.floor_m2.values()) >= 0.0


def test_the_most_used_piece_that_is_long_enough_is_cut_first():
    """Offcuts are used up before a new roll is begun."""
    rolls = supplies(film(2, length_m=4.0)).without(Needs(area_m2=(("bubble film", 2.5),)))

    after = rolls.without(Needs(area_m2=(("bubble film", 1.0),)))

    assert sorted(piece.left_m2 for piece in after.pieces) == pytest.approx([0.5, 4.0])


def test_needs_of_one_pot_add_up():
    """Two wraps from one material in one answer need both areas together."""
    twice = Needs.total([Needs(area_m2=(("bubble film", 1.5),)), Needs(area_m2=(("bubble film", 1.5),))])

    assert not supplies(film(1, length_m=2.0)).can_give(twice)
    assert supplies(film(1, length_m=3.0)).can_give(twice)


def test_floor_is_free_only_where_the_file_says_so():
    """A spot without stated free floor takes no pot; a room's two square metres take two and no more."""
    there = supplies()

    assert not there.can_give(Needs(floor=(("deck", 0.01),)))
    assert there.can_give(Needs(floor=(("wash room", 2.0),)))
    assert not there.without(Needs(floor=(("wash room", 1.5),))).can_give(Needs(floor=(("wash room", 0.6),)))


def test_bubble_film_goes_round_twice():
    """Where one layer is not usual the cut is for the usual layers."""
    cut = best(supplies(film(1)).covers_for_pot(0.3, 0.3, 1))

    assert cut is not None and cut.layers == 2
    # two layers round a pot of 30 cm: 2 pi 0.3 0.3 m2 at the least, and some overlap
    assert 1.0 < cut.use.count * 10.0 / (2.0 * np.pi * 0.3 * 0.3) < 1.5


def test_mulch_is_found_only_where_one_kind_is_enough():
    """Litres of one kind must do for a pot."""
    bags = supplies(bark(20.0, count=2))

    assert bags.mulches_for(40.0) == ["bark mulch"]
    assert bags.mulches_for(41.0) == []


def test_a_small_hood_is_not_counted_on_for_a_large_plant():
    """Each plant gets the smallest hood that goes over it; small ones do not stand in for large ones."""
    left = supplies(hoods(1, width_m=2.0), hoods(5, width_m=0.6))

    first = best(left.covers_for_plant(1.0, 0.6, "deck", 1, 1))
    assert first is not None
    left = left.without(first.needs)

    assert best(left.covers_for_plant(1.0, 0.6, "deck", 1, 1)) is None
    small = best(left.covers_for_plant(0.3, 0.5, "deck", 1, 1))
    assert small is not None and small.needs.hoods[0][0].width_m == 0.6


def test_each_kind_of_mulch_is_offered_while_there_is_enough_of_it():
    """What is told is what is taken: of each kind by itself, the fullest sack first."""
    left = supplies(bark(20.0), CoverPiece("straw mulch", "bag", None, None, 30.0, 1))
    told: list[str] = []
    while kinds := left.mulches_for(12.0):
        told.append(kinds[0])
        left = left.without(Needs(mulch_litres=((kinds[0], 12.0),)))

    assert told == ["straw mulch", "bark mulch", "straw mulch"]
    assert left.mulch_litres == {"bark mulch": 8.0, "straw mulch": 6.0}


@pytest.mark.parametrize("each", [0.1, 0.2, 0.7])
def test_what_adds_up_to_the_whole_fits(each: float):
    """Three pots of 0.1 m2 stand on 0.3 m2, though a computer's 0.3 less 0.1 less 0.1 is a little less than 0.1."""
    whole = round(3.0 * each, 1)
    where = garden(stock=shed(sheets(1, 1.0, whole), bark(whole)), spots=(spot(), room(free_floor_m2=whole)))
    left = supplies_of(where, CATALOGUE)
    needs = Needs(
        area_m2=(("fleece 30", each),), spot="deck", mulch_litres=(("bark mulch", each),), floor=(("wash room", each),)
    )
    for _ in range(3):
        assert left.can_give(needs)
        left = left.without(needs)

    assert not left.can_give(needs)
