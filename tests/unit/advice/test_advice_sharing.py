"""Sharing out what is scarce: as good as trying everything, and never more than there is."""

from __future__ import annotations

from dataclasses import replace
from itertools import chain, combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from frostguard.advice.plan import CoverUse
from frostguard.advice.sharing import GROUP_OF, AtHand, Offer, Scarce, Shared, pieces_given, share_out, short_of
from frostguard.advice.supplies import Hood, Needs, Piece, Supplies
from frostguard.garden.catalogue import load_catalogue

CATALOGUE = load_catalogue()
SMALL, LARGE = Hood("fleece 30", 0.8, 1.0), Hood("fleece 30", 1.6, 2.0)
SPOTS = ("deck", "front")


def at_hand(**changes: object) -> AtHand:
    """Two small hoods and a large one, a sheet, a roll, a bag, six feet, half a square metre of room, 30 minutes."""
    shed = Supplies(
        CATALOGUE,
        hoods={SMALL: 2, LARGE: 1},
        pieces=(Piece("fleece 30", "sheet", 4.0, 4.0), Piece("bubble film", "roll", 3.0, 3.0)),
        mulch_litres={"bark mulch": 20.0},
        pot_feet=6,
        floor_m2={"room": 0.5},
    )
    return AtHand(replace(shed, **changes), {0: 30.0}, {"deck": 4, "front": 3})


def hooded(hood: Hood) -> Needs:
    return Needs(hoods=((hood, 1),))


def spread(area_m2: float, spot: str) -> Needs:
    return Needs(area_m2=(("fleece 30", area_m2),), spot=spot)


def cut(area_m2: float, spot: str) -> Needs:
    return Needs(area_m2=(("bubble film", area_m2),), spot=spot)


def carried(area_m2: float) -> Needs:
    return Needs(floor=(("room", area_m2),))


@st.composite
def offers_of_a_terrace(draw: st.DrawFn) -> list[Offer]:
    """Up to four pots with up to three offers each, for tonight, for the spell, or for both."""
    offers = []
    for pot in range(draw(st.integers(1, 4))):
        spot = draw(st.sampled_from(SPOTS))
        for _ in range(draw(st.integers(1, 3))):
            needs = draw(
                st.one_of(
                    st.sampled_from([hooded(SMALL), hooded(LARGE), Needs(mulch_litres=12.0)]),
                    st.sampled_from([Needs(pot_feet=3), Needs()]),
                    st.builds(spread, st.sampled_from([1.0, 2.0, 3.0]), st.just(spot)),
                    st.builds(cut, st.sampled_from([1.0, 2.0]), st.just(spot)),
                    st.builds(carried, st.sampled_from([0.2, 0.3])),
                )
            )
            kinds = draw(st.sampled_from([("tonight",), ("spell",), ("tonight", "spell")]))
            offers.append(
                Offer(
                    pot=pot,
                    slots=frozenset((pot, kind) for kind in kinds),
                    saves_eur=draw(st.integers(-2, 40)) + pot / 7.0,
                    needs=needs,
                    minutes=float(draw(st.integers(1, 14))),
                    window=0,
                    leaves=spot if needs.floor else None,
                    groups_at=spot if needs == Needs() else None,
                )
            )
    return offers


def fits(offers: list[Offer], taken: tuple[int, ...], there: AtHand) -> bool:
    """Whether these can all be done, told by trying every way to cut the pieces."""
    chosen = [offers[position] for position in taken]
    slots = list(chain.from_iterable(offer.slots for offer in chosen))
    if len(slots) != len(set(slots)) or sum(offer.minutes for offer in chosen) > there.minutes[0] + 1e-9:
        return False
    for offer in chosen:
        gone = sum(other.count for other in chosen if other.leaves == offer.groups_at and other.pot != offer.pot)
        if offer.groups_at is not None and there.standing[offer.groups_at] - offer.count - gone < GROUP_OF:
            return False
    return all(
        sum(need(offer) for offer in chosen) <= limit + 1e-9
        for need, limit in (
            (lambda offer: dict(offer.needs.hoods).get(SMALL, 0), there.supplies.hoods.get(SMALL, 0)),
            (lambda offer: dict(offer.needs.hoods).get(LARGE, 0), there.supplies.hoods.get(LARGE, 0)),
            (lambda offer: offer.needs.mulch_litres, there.supplies.mulch_litres.get("bark mulch", 0.0)),
            (lambda offer: offer.needs.pot_feet, there.supplies.pot_feet),
            (lambda offer: sum(area for _, area in offer.needs.floor), there.supplies.floor_m2["room"]),
        )
    ) and cuts_fit(chosen, list(there.supplies.pieces))


def cuts_fit(chosen: list[Offer], pieces: list[Piece]) -> bool:
    """Whether the areas can be cut or spread, by trying every piece for every one of them."""
    wanted = [(material, area, offer.needs.spot) for offer in chosen for material, area in offer.needs.areas().items()]

    def place(rest: list[tuple[str, float, str | None]], left: list[Piece]) -> bool:
        if not rest:
            return True
        (material, area, spot), *others = rest
        for number, piece in enumerate(left):
            if piece.material == material and piece.left_m2 >= area - 1e-9 and piece.spot in (None, spot):
                used = replace(piece, left_m2=piece.left_m2 - area, spot=spot if material == "fleece 30" else None)
                if place(others, [*left[:number], used, *left[number + 1 :]]):
                    return True
        return False

    return place(wanted, pieces)


def saved(offers: list[Offer], taken: tuple[int, ...]) -> float:
    return sum(offers[position].saves_eur for position in taken)


def by_brute_force(offers: list[Offer], there: AtHand) -> float:
    """The most that any set of offers saves, of all there are."""
    positions = range(len(offers))
    every = chain.from_iterable(combinations(positions, size) for size in range(len(offers) + 1))
    return max(saved(offers, taken) for taken in every if fits(offers, taken, there))


@settings(max_examples=40, deadline=None)
@given(offers_of_a_terrace())
def test_the_sharing_is_as_good_as_trying_everything(offers: list[Offer]):
    """On small terraces no set of jobs within hands, covers and floor saves more, and what is taken fits."""
    shared = share_out(offers, at_hand())

    assert fits(offers, shared.taken, at_hand())
    assert saved(offers, shared.taken) == pytest.approx(by_brute_force(offers, at_hand()), abs=1e-3)
    assert all(offers[position].saves_eur > 0.0 for position in shared.taken)
    assert len(pieces_given([offers[one].needs for one in shared.taken], at_hand().supplies)) == len(shared.taken)


@settings(max_examples=20, deadline=None)
@given(offers_of_a_terrace(), st.sampled_from(["hoods", "pieces", "pot_feet", "floor_m2"]))
def test_more_in_the_shed_never_saves_less(offers: list[Offer], what: str):
    """One more hood, sheet, set of feet or square metre leaves all pots together at least as well off."""
    supplies = at_hand().supplies
    more = {
        "hoods": {**supplies.hoods, SMALL: 3},
        "pieces": (*supplies.pieces, Piece("fleece 30", "sheet", 4.0, 4.0)),
        "pot_feet": 9,
        "floor_m2": {"room": 0.8},
    }
    fuller = at_hand(**{what: more[what]})

    with_less, with_more = share_out(offers, at_hand()), share_out(offers, fuller)

    assert saved(offers, with_more.taken) >= saved(offers, with_less.taken) - 1e-3


@settings(max_examples=20, deadline=None)
@given(offers_of_a_terrace())
def test_what_is_left_is_what_was_there_less_what_was_taken(offers: list[Offer]):
    """Hoods, areas, mulch, feet, floor and minutes add up to what there was, whoever shared them out."""
    shared = share_out(offers, at_hand())

    before, after = at_hand(), shared.left
    taken = [offers[position] for position in shared.taken]
    assert sum(after.supplies.hoods.values()) == 3 - sum(count for one in taken for _, count in one.needs.hoods)
    assert sum(piece.left_m2 for piece in after.supplies.pieces) == pytest.approx(
        7.0 - sum(area for one in taken for area in one.needs.areas().values())
    )
    assert after.supplies.mulch_litres["bark mulch"] == 20.0 - sum(one.needs.mulch_litres for one in taken)
    assert after.supplies.pot_feet == 6 - sum(one.needs.pot_feet for one in taken)
    assert after.minutes[0] == pytest.approx(before.minutes[0] - sum(one.minutes for one in taken))
    assert all(piece.left_m2 >= -1e-9 for piece in after.supplies.pieces)


def offer(pot: int, saves_eur: float, needs: Needs = Needs(), **changes: object) -> Offer:  # noqa: B008 a frozen record
    usual = Offer(pot, frozenset({(pot, "tonight")}), saves_eur, needs, 5.0, 0)
    return replace(usual, **changes)


def taken_of(*offers: Offer, **more: object) -> tuple[int, ...]:
    return share_out(offers, at_hand(**more)).taken


def test_two_small_gains_go_before_one_great_one_that_takes_all():
    """The dearest pot first would take the whole sheet and leave the other two bare."""
    whole, halves = offer(0, 30.0, spread(4.0, "deck")), [offer(pot, 20.0, spread(2.0, "deck")) for pot in (1, 2)]

    assert taken_of(whole, *halves) == (1, 2)


def test_who_has_another_way_leaves_the_scarce_one_to_others():
    """A pot that is nearly as well off under a hood gives its place indoors to one that has no other way."""
    room_for_one = {"floor_m2": {"room": 0.3}}
    indoors, under_a_hood = offer(0, 50.0, carried(0.3)), offer(0, 48.0, hooded(SMALL))
    only_way = offer(1, 40.0, carried(0.3))

    assert taken_of(indoors, under_a_hood, only_way, **room_for_one) == (1, 2)


def test_neighbours_that_are_carried_away_leave_no_group():
    """Of three pots one cannot be grouped when the other two go indoors."""
    grouped = offer(0, 5.0, groups_at="front")
    leaving = [offer(pot, 20.0, carried(0.2), leaves="front") for pot in (1, 2)]

    assert taken_of(grouped, *leaving) == (1, 2)
    assert taken_of(replace(grouped, saves_eur=50.0), *leaving) == (0,)  # where the group is worth more they stay


def test_equal_offers_are_taken_in_the_order_of_the_garden():
    """The same question twice has the same answer, and no pot jumps the queue."""
    alike = [offer(pot, 10.0, hooded(LARGE)) for pot in range(5)]

    assert taken_of(*alike) == (0,)


@pytest.mark.parametrize(
    ("needs", "minutes", "lacking"),
    [
        (hooded(LARGE), 5.0, Scarce.COVERS),
        (carried(0.4), 5.0, Scarce.ROOM),
        (hooded(SMALL), 28.0, Scarce.TIME),
        (hooded(SMALL), 5.0, None),
    ],
)
def test_what_was_lacking_is_told(needs: Needs, minutes: float, lacking: Scarce | None):
    """After others have had the large hood, most of the room and five minutes, each refusal has its reason."""
    others = [offer(0, 90.0, replace(hooded(LARGE), floor=(("room", 0.3),)))]
    left = share_out(others, at_hand()).left

    assert short_of(offer(1, 10.0, needs, minutes=minutes), left) is lacking


def test_a_terrace_where_everybody_can_have_the_best_needs_no_solver(monkeypatch: pytest.MonkeyPatch):
    """Most evenings nothing is scarce: then the answer is each pot's best, and no solver is loaded."""
    monkeypatch.setattr("frostguard.advice.sharing._Programme", None)

    shared = share_out([offer(0, 9.0, hooded(SMALL)), offer(0, 7.0), offer(1, 5.0, hooded(SMALL))], at_hand())

    assert isinstance(shared, Shared) and shared.taken == (0, 2)


def test_each_cut_is_told_with_the_piece_that_it_comes_from():
    """The large cut takes the large sheet, and what is left goes to the small one, though it was first to be asked."""
    sheets = [Piece("fleece 30", "sheet", 2.0 * length, 2.0 * length, None, 2.0, length) for length in (1.5, 3.0)]
    supplies = at_hand(pieces=tuple(sheets)).supplies

    small, large = pieces_given([spread(1.5, "front"), spread(5.0, "deck")], supplies)

    assert small["fleece 30"] == CoverUse("fleece 30", "sheet", 0.5, 2.0, 1.5)
    assert large["fleece 30"] == CoverUse("fleece 30", "sheet", 5.0 / 6.0, 2.0, 3.0)
