"""Sharing out what is scarce: as good as trying everything, and never more than there is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable
from dataclasses import replace
from itertools import chain

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from frostguard.advice.plan import CoverUse
from frostguard.advice.scarce import GROUP_OF, AtHand, Offer, Scarce
from frostguard.advice.sharing import Shared, pieces_given, share_out, short_of
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


@st.composite
def something_at_hand(draw: st.DrawFn) -> AtHand:
    """Plenty to nothing at all of each, and two windows of which one may be a minute or none."""
    sheets = draw(st.sampled_from([(), (4.0,), (2.0, 3.0), (3.0, 3.0, 1.0)]))
    rolls = draw(st.sampled_from([(), (3.0,), (2.0, 1.5)]))
    shed = Supplies(
        CATALOGUE,
        hoods={SMALL: draw(st.integers(0, 2)), LARGE: draw(st.integers(0, 1))},
        pieces=(
            *(Piece("fleece 30", "sheet", area, area) for area in sheets),
            *(Piece("bubble film", "roll", area, area) for area in rolls),
        ),
        mulch_litres=draw(st.sampled_from([{}, {"bark mulch": 24.0}, {"bark mulch": 12.0, "straw mulch": 20.0}])),
        pot_feet=draw(st.sampled_from([0, 3, 6])),
        floor_m2={"room": draw(st.sampled_from([0.0, 0.3, 0.6])), "shed": draw(st.sampled_from([0.0, 0.3]))},
        crates=draw(st.integers(0, 2)),
    )
    minutes = draw(st.sampled_from([{0: 0.0, 1: 30.0}, {0: 1.0, 1: 8.0}, {0: 15.0, 1: 15.0}, {0: 60.0}]))
    return AtHand(shed, minutes, {})


def hooded(hood: Hood) -> Needs:
    return Needs(hoods=((hood, 1),))


def spread(area_m2: float, spot: str) -> Needs:
    return Needs(area_m2=(("fleece 30", area_m2),), spot=spot)


def cut(area_m2: float, spot: str) -> Needs:
    return Needs(area_m2=(("bubble film", area_m2),), spot=spot)


def carried(area_m2: float, room: str = "room") -> Needs:
    return Needs(floor=((room, area_m2),))


def mulched(litres: float, material: str = "bark mulch") -> Needs:
    return Needs(mulch_litres=((material, litres),))


@st.composite
def needs_at(draw: st.DrawFn, spot: str) -> Needs:
    """What one pot at that spot might take, and now and then a crate besides."""
    needs = draw(
        st.one_of(
            st.sampled_from([hooded(SMALL), hooded(LARGE), mulched(12.0), mulched(12.0, "straw mulch")]),
            st.sampled_from([Needs(pot_feet=3), Needs(), Needs.total([cut(1.0, spot), mulched(6.0)])]),
            st.builds(spread, st.sampled_from([1.0, 1.5, 2.0, 3.0]), st.just(spot)),
            st.builds(cut, st.sampled_from([1.0, 1.25, 2.0]), st.just(spot)),
            st.builds(carried, st.sampled_from([0.1, 0.2, 0.3]), st.sampled_from(["room", "shed"])),
        )
    )
    return replace(needs, crates=1) if draw(st.integers(0, 7)) == 7 else needs


@st.composite
def offers_of_a_terrace(draw: st.DrawFn, windows: tuple[int, ...] = (0,)) -> list[Offer]:
    """Up to four pots, some of two alike, with up to three offers each, for tonight, for the spell, or for both."""
    offers = []
    for pot in range(draw(st.integers(1, 4))):
        spot = draw(st.sampled_from(SPOTS))
        for _ in range(draw(st.integers(1, 3))):
            needs, count = draw(needs_at(spot)), draw(st.sampled_from([1, 1, 2]))
            kinds = draw(st.sampled_from([("tonight",), ("spell",), ("tonight", "spell")]))
            offers.append(
                Offer(
                    pot=pot,
                    slots=frozenset((pot, kind) for kind in kinds),
                    saves_eur=draw(st.integers(-2, 40)) + pot / 7.0,
                    needs=needs.times(count),
                    minutes=float(draw(st.integers(1, 14))),
                    window=draw(st.sampled_from(windows)),
                    count=count,
                    leaves=spot if needs.floor else None,
                    groups_at=spot if needs == Needs() else None,
                )
            )
    return offers


def standing_of(offers: list[Offer]) -> dict[str, int]:
    """One pot at each spot, and those that the offers carry away or group."""
    spots = {offer.pot: offer.leaves or offer.groups_at for offer in offers if offer.leaves or offer.groups_at}
    standing = dict.fromkeys(SPOTS, 1)
    for pot, spot in spots.items():
        standing[spot] += max(offer.count for offer in offers if offer.pot == pot)
    return standing


def fits(offers: list[Offer], taken: tuple[int, ...], there: AtHand) -> bool:
    """Whether these can all be done, told by trying every way to cut the pieces."""
    chosen = [offers[position] for position in taken]
    slots = list(chain.from_iterable(offer.slots for offer in chosen))
    if len(slots) != len(set(slots)):
        return False
    for offer in chosen:
        gone = sum(other.count for other in chosen if other.leaves == offer.groups_at and other.pot != offer.pot)
        if offer.groups_at is not None and there.standing[offer.groups_at] - offer.count - gone < GROUP_OF:
            return False
    used: Counter[Hashable] = Counter()
    for offer in chosen:
        used.update({("minutes", offer.window): offer.minutes, "feet": offer.needs.pot_feet})
        used.update({"crates": offer.needs.crates})
        for pairs in (offer.needs.hoods, offer.needs.mulch_litres, offer.needs.floor):
            used.update(dict(pairs))
    supplies = there.supplies
    limits: dict[Hashable, float] = {"feet": supplies.pot_feet, "crates": supplies.crates}
    limits |= {("minutes", window): left for window, left in there.minutes.items()}
    limits |= {**supplies.hoods, **supplies.mulch_litres, **supplies.floor_m2}
    endless = {("minutes", offer.window): 1e9 for offer in chosen}
    enough = all(amount <= (endless | limits).get(what, 0.0) + 1e-9 for what, amount in used.items())
    return enough and cuts_fit(chosen, list(supplies.pieces))


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
    """The most that any set of offers saves: every set is tried, but what grows from one that does not fit."""
    best = 0.0
    tried: list[tuple[int, ...]] = [()]
    while tried:
        taken = tried.pop()
        best = max(best, saved(offers, taken))
        after = range(taken[-1] + 1 if taken else 0, len(offers))
        tried += [(*taken, position) for position in after if fits(offers, (*taken, position), there)]
    return best


def assert_as_good_as_trying_everything(offers: list[Offer], there: AtHand) -> None:
    shared = share_out(offers, there)

    assert fits(offers, shared.taken, there)
    best = by_brute_force(offers, there)
    assert saved(offers, shared.taken) == pytest.approx(best, abs=1e-3, rel=1e-4)  # the gap of the solver
    assert all(offers[position].saves_eur > 0.0 for position in shared.taken)
    assert len(pieces_given([offers[one].needs for one in shared.taken], there.supplies)) == len(shared.taken)


@settings(max_examples=40, deadline=None)
@given(offers_of_a_terrace(windows=(0, 0, 1)), something_at_hand())
def test_the_sharing_is_as_good_as_trying_everything(offers: list[Offer], there: AtHand):
    """On small terraces no set of jobs within hands, covers and floor saves more, and what is taken fits."""
    assert_as_good_as_trying_everything(offers, replace(there, standing=standing_of(offers)))


@pytest.mark.long
@settings(max_examples=1500, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(offers_of_a_terrace(windows=(0, 0, 1)), something_at_hand())
def test_many_more_sharings_are_as_good_as_trying_everything(offers: list[Offer], there: AtHand):
    """The same on fifteen hundred terraces."""
    assert_as_good_as_trying_everything(offers, replace(there, standing=standing_of(offers)))


@settings(max_examples=20, deadline=None)
@given(offers_of_a_terrace(), st.sampled_from(["hoods", "pieces", "mulch_litres", "pot_feet", "crates", "floor_m2"]))
def test_more_in_the_shed_never_saves_less(offers: list[Offer], what: str):
    """One more hood, sheet, set of feet or square metre leaves all pots together at least as well off."""
    supplies, standing = at_hand().supplies, standing_of(offers)
    more = {
        "hoods": {**supplies.hoods, SMALL: 3},
        "pieces": (*supplies.pieces, Piece("fleece 30", "sheet", 4.0, 4.0)),
        "mulch_litres": {**supplies.mulch_litres, "straw mulch": 20.0},
        "pot_feet": 9,
        "crates": 2,
        "floor_m2": {"room": 0.8},
    }
    less, fuller = (replace(there, standing=standing) for there in (at_hand(), at_hand(**{what: more[what]})))

    with_less, with_more = share_out(offers, less), share_out(offers, fuller)

    assert saved(offers, with_more.taken) >= saved(offers, with_less.taken) - 1e-3


@settings(max_examples=20, deadline=None)
@given(offers_of_a_terrace(), something_at_hand())
def test_what_is_left_is_what_was_there_less_what_was_taken(offers: list[Offer], there: AtHand):
    """Hoods, areas, mulch, feet, floor and minutes add up to what there was, whoever shared them out."""
    before = replace(there, standing=standing_of(offers))
    shared = share_out(offers, before)

    had, left = before.supplies, shared.left.supplies
    taken = [offers[position] for position in shared.taken]
    total = Needs.total(one.needs for one in taken)
    assert sum(left.hoods.values()) == sum(had.hoods.values()) - sum(count for _, count in total.hoods)
    assert sum(piece.left_m2 for piece in left.pieces) == pytest.approx(
        sum(piece.left_m2 for piece in had.pieces) - sum(area for _, area in total.area_m2)
    )
    for had_of, left_of, used in (
        (had.mulch_litres, left.mulch_litres, total.mulch_litres),
        (had.floor_m2, left.floor_m2, total.floor),
    ):
        assert sum(left_of.values()) == pytest.approx(sum(had_of.values()) - sum(amount for _, amount in used))
    assert (left.pot_feet, left.crates) == (had.pot_feet - total.pot_feet, had.crates - total.crates)
    assert shared.left.minutes[0] == pytest.approx(before.minutes[0] - sum(one.minutes for one in taken))
    assert all(piece.left_m2 >= -1e-9 for piece in left.pieces)


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
    # the group is worth more than either, and less than both: whoever takes the best first goes wrong
    assert taken_of(replace(grouped, saves_eur=30.0), *leaving) == (1, 2)


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
    monkeypatch.setattr("frostguard.advice.sharing.Programme", None)

    shared = share_out([offer(0, 9.0, hooded(SMALL)), offer(0, 7.0), offer(1, 5.0, hooded(SMALL))], at_hand())

    assert isinstance(shared, Shared) and shared.taken == (0, 2)


def test_a_large_cut_leaves_the_small_sheet_to_another_spot():
    """Plain turns would lay the largest cut on the smallest sheet that holds it, and leave the third pot bare."""
    sheets = (Piece("fleece 30", "sheet", 2.0, 2.0), Piece("fleece 30", "sheet", 3.0, 3.0))
    offers = [
        offer(0, 9.0, spread(1.5, "front")),
        offer(1, 5.0, spread(1.0, "front")),
        offer(2, 5.0, spread(1.0, "deck")),
    ]

    assert taken_of(*offers, pieces=sheets) == (0, 1, 2)


def test_one_sheet_is_spread_at_one_spot_however_large_it_is():
    """Two small plants at two spots share no sheet, though it has area for both; at one spot they do."""
    apart = [offer(0, 9.0, spread(1.0, "front")), offer(1, 8.0, spread(1.0, "deck"))]

    assert taken_of(*apart) == (0,)
    assert taken_of(apart[0], replace(apart[1], needs=spread(1.0, "front"))) == (0, 1)


def test_each_kind_of_mulch_is_shared_out():
    """Two bags of different kinds do for two pots, and neither pot is told a mixture."""
    bags = {"bark mulch": 12.0, "straw mulch": 14.0}
    offers = [offer(pot, 9.0, mulched(12.0, material)) for pot in range(3) for material in bags]

    shared = share_out(offers, at_hand(mulch_litres=bags))

    assert sorted(offers[one].needs.mulch_litres[0][0] for one in shared.taken) == ["bark mulch", "straw mulch"]


def test_three_pots_stand_where_there_is_room_for_three():
    """0.3 m2 less twice 0.1 m2 is enough for the third, though not in a computer's sums; a fourth finds no room."""
    offers = [offer(pot, 9.0, carried(0.1)) for pot in range(4)]

    assert taken_of(*offers, floor_m2={"room": 0.3}) == (0, 1, 2)


def test_each_cut_is_told_with_the_piece_that_it_comes_from():
    """The large cut takes the large sheet, and what is left goes to the small one, though it was first to be asked."""
    sheets = [Piece("fleece 30", "sheet", 2.0 * length, 2.0 * length, None, 2.0, length) for length in (1.5, 3.0)]
    supplies = at_hand(pieces=tuple(sheets)).supplies

    small, large = pieces_given([spread(1.5, "front"), spread(5.0, "deck")], supplies)

    assert small["fleece 30"] == CoverUse("fleece 30", "sheet", 0.5, 2.0, 1.5)
    assert large["fleece 30"] == CoverUse("fleece 30", "sheet", 5.0 / 6.0, 2.0, 3.0)
