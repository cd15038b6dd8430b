"""Sharing out what is scarce: hands, covers and floor go where all pots together lose least.

One integer programme over all offers at once. Where every pot can have what is best for it, that is the
answer, and no solver is needed: nothing can be better than everybody's best.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from itertools import accumulate
from typing import Any

import numpy as np

from frostguard.advice.packing import MOST_TRIES, packed
from frostguard.advice.plan import CoverUse
from frostguard.advice.supplies import ROUNDING, Needs, Piece, Supplies

GROUP_OF = 2
"""Neighbours that must be left where a pot is pushed into a group."""

TIE_EUR = 1e-6
"""What an offer is worth less than the one before it, so that equal ones are chosen in the order of the garden."""

GAP, GAP_OF_MANY = 1e-4, 5e-3
"""A sharing that saves more by less than this share is not looked for: pennies. Among more offers than `NEAREST`
what is lacking to the best is less than what is known of any limit."""

NEAREST = 300
"""Offers that are chosen among in whole numbers: those that the best sharing in parts takes, or nearly takes.
What is far from paying at its prices is in no sharing that is as good as the best, but for pennies."""

FEW_OFFERS = 400
"""Up to so many every single cut is reckoned with where areas do not pack; beyond it would take too long."""

MOST_BRANCHES, TIME_LIMIT_S = 10, 5.0
"""Then the best found so far is taken. Branches come first, in less than a second of one processor, so that the
answer hangs on no machine's speed; time is a last resort on one that is overloaded."""


class Scarce(Enum):
    """What an offer can fail for."""

    TIME = "time"
    ROOM = "room"
    COVERS = "covers"
    NEIGHBOURS = "neighbours"


@dataclass(frozen=True, slots=True)
class Offer:
    """One thing that could be done for one pot.

    `slots` are taken by at most one offer each: an occasion of a pot, for instance. `saves_eur` is the
    expected loss taken away less the effort. `minutes` of all hands come out of `window`. A pot that is
    carried off takes `count` pots away from the spot `leaves`; one that is grouped wants neighbours at
    `groups_at`.
    """

    pot: int
    slots: frozenset[Hashable]
    saves_eur: float
    needs: Needs
    minutes: float
    window: int
    count: int = 1
    leaves: str | None = None
    groups_at: str | None = None


@dataclass(frozen=True, slots=True)
class AtHand:
    """What there is to share: the shed and the floor, minutes of all hands by window, pots standing by spot."""

    supplies: Supplies
    minutes: Mapping[int, float]
    standing: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Shared:
    """Which offers are taken, by position, and what is left."""

    taken: tuple[int, ...]
    left: AtHand


def share_out(offers: Sequence[Offer], at_hand: AtHand) -> Shared:
    """The offers that together save most within what there is.

    Parameters
    ----------
    offers : sequence of Offer
        Those that save nothing are never taken.
    at_hand : AtHand
        Limits; a window that is not named has no end.

    Notes
    -----
    Solved by HiGHS: first in parts of offers, which is quick and gives each offer its distance from being
    taken, then in whole numbers among the nearest. Pieces are packed exactly: what is cut or spread comes
    from one piece, and a sheet serves one spot.
    """
    worthwhile = [position for position, offer in enumerate(offers) if offer.saves_eur > 0.0]
    best = _best_of_each_pot(offers, worthwhile)
    left = _all_given(offers, best, at_hand)
    if left is not None:
        return Shared(best, left)
    programme = _Programme(offers, worthwhile, at_hand)
    parts = programme.in_parts()
    found = [_by_turns(offers, _by_share(offers, worthwhile, parts.taken), at_hand)]
    whole = programme.in_whole(parts, begin_with=found[0].taken)
    shared = _shared(offers, whole, at_hand)
    if shared is None and len(worthwhile) <= FEW_OFFERS:
        exact = _Programme(offers, worthwhile, at_hand, exact=True)
        shared = _shared(offers, exact.in_whole(), at_hand)
    if shared is None:  # areas that do not pack: as much of it as does, and what else fits
        shared = _by_turns(offers, _by_share(offers, worthwhile, whole), at_hand)
    return _best(offers, [*found, shared])


def _by_share(offers: Sequence[Offer], worthwhile: Iterable[int], taken: Mapping[int, float]) -> list[int]:
    """Offers in the order in which a solution takes most of them, the better before the worse."""
    return sorted(worthwhile, key=lambda position: (-taken.get(position, 0.0), -offers[position].saves_eur))


def _best(offers: Sequence[Offer], found: Sequence[Shared]) -> Shared:
    """The last of those that save most: the solver's, where it is no worse than plain turns."""
    return max(reversed(found), key=lambda one: sum(offers[position].saves_eur for position in one.taken))


def _shared(offers: Sequence[Offer], solution: Mapping[int, float], at_hand: AtHand) -> Shared | None:
    """A whole solution with what it leaves; None where its pieces do not pack."""
    taken = tuple(sorted(position for position, share in solution.items() if share > 0.5))
    left = _all_given(offers, taken, at_hand)
    return None if left is None else Shared(taken, left)


def short_of(offer: Offer, left: AtHand) -> Scarce | None:
    """What is lacking for an offer when others have had their share; None where nothing is."""
    if offer.minutes > left.minutes.get(offer.window, float("inf")) + ROUNDING:
        return Scarce.TIME
    if not left.supplies.can_give(Needs(floor=offer.needs.floor)):
        return Scarce.ROOM
    if not left.supplies.can_give(offer.needs):
        return Scarce.COVERS
    if offer.groups_at is not None and left.standing.get(offer.groups_at, 0) - offer.count < GROUP_OF:
        return Scarce.NEIGHBOURS
    return None


def _best_of_each_pot(offers: Sequence[Offer], worthwhile: Iterable[int]) -> tuple[int, ...]:
    """What each pot would take if it were alone: its best offer, or its best two that go together."""
    of_pot: dict[int, list[int]] = defaultdict(list)
    for position in worthwhile:
        of_pot[offers[position].pot].append(position)
    chosen: list[int] = []
    for every in of_pot.values():
        best: dict[frozenset[Hashable], int] = {}  # by the slots that they fill
        for one in every:
            found = best.setdefault(offers[one].slots, one)
            if offers[one].saves_eur - TIE_EUR * one > offers[found].saves_eur - TIE_EUR * found:
                best[offers[one].slots] = one
        mine = list(best.values())
        sets: list[tuple[int, ...]] = [(one,) for one in mine]
        sets += [
            (one, other)
            for place, one in enumerate(mine)
            for other in mine[place + 1 :]
            if not offers[one].slots & offers[other].slots
        ]
        chosen += max(sets, key=lambda taken: sum(offers[one].saves_eur - TIE_EUR * one for one in taken))
    return tuple(sorted(chosen))


def _by_turns(offers: Sequence[Offer], order: Iterable[int], at_hand: AtHand) -> Shared:
    """One after the other in that order, whatever still fits."""
    taken: list[int] = []
    left = at_hand
    slots: set[Hashable] = set()
    grouped: set[str] = set()
    for position in order:
        offer = offers[position]
        if offer.slots & slots or short_of(offer, left) is not None:
            continue
        given: AtHand | None = _less(left, offer)
        if offer.needs.area_m2 or offer.leaves in grouped:  # cuts are packed anew, and a group must stay one
            given = _all_given(offers, [*taken, position], at_hand, tries=1)
        if given is None:
            continue
        taken.append(position)
        left = given
        slots |= offer.slots
        if offer.groups_at is not None:
            grouped.add(offer.groups_at)
    return Shared(tuple(sorted(taken)), left)


def _less(left: AtHand, offer: Offer) -> AtHand:
    """What is left when one more has had its share."""
    minutes, standing = dict(left.minutes), dict(left.standing)
    if offer.window in minutes:
        minutes[offer.window] -= offer.minutes
    if offer.leaves is not None:
        standing[offer.leaves] = standing.get(offer.leaves, 0) - offer.count
    return AtHand(left.supplies.without(offer.needs), minutes, standing)


def _all_given(
    offers: Sequence[Offer], taken: Sequence[int], at_hand: AtHand, tries: int = MOST_TRIES
) -> AtHand | None:
    """What is left when these have had their share; None where it does not suffice."""
    minutes, standing = dict(at_hand.minutes), dict(at_hand.standing)
    for position in taken:
        offer = offers[position]
        if offer.window in minutes:
            minutes[offer.window] -= offer.minutes
        if offer.leaves is not None:
            standing[offer.leaves] = standing.get(offer.leaves, 0) - offer.count
    chosen = [offers[position] for position in taken]
    if any(left < -ROUNDING for left in minutes.values()):
        return None
    for offer in chosen:
        gone = sum(other.count for other in chosen if other.leaves == offer.groups_at and other.pot != offer.pot)
        here = at_hand.standing.get(offer.groups_at or "", 0)
        if offer.groups_at is not None and here - gone - offer.count < GROUP_OF:
            return None
    supplies = _given([offer.needs for offer in chosen], at_hand.supplies, tries)
    return None if supplies is None else AtHand(supplies, minutes, standing)


def _given(needs: Sequence[Needs], supplies: Supplies, tries: int) -> Supplies | None:
    """The supplies less these needs; None where they do not suffice."""
    counted = replace(Needs.total(needs), area_m2=())
    if not supplies.can_give(counted):
        return None
    found = packed(needs, supplies, tries)
    return None if found is None else replace(supplies.without(counted), pieces=found.left)


def pieces_given(needs: Sequence[Needs], supplies: Supplies) -> tuple[Mapping[str, CoverUse], ...]:
    """For each of these needs, which can all be met, the pieces that it is cut from, by material."""
    found = packed(needs, supplies)
    assert found is not None, "asked only of what was shared out"
    return tuple(
        {material: piece.share(need.areas()[material]) for material, piece in pieces.items()}
        for need, pieces in zip(needs, found.pieces, strict=True)
    )


@dataclass(frozen=True, slots=True)
class _Parts:
    """A solution in parts: how much of each offer is taken, and how far each is from the other choice [euro]."""

    taken: Mapping[int, float]
    distance_eur: Mapping[int, float]

    def nearest(self, count: int) -> set[int]:
        """The offers that are taken in part or whole, and the nearest to it, so many in all."""
        order = sorted(self.taken, key=lambda one: (self.taken[one] < 1e-9, self.distance_eur[one], one))
        return set(order[:count])


class _Programme:
    """The integer programme: a column for each offer, and one for the pieces of a kind that a spot gets.

    Pieces are first counted by their area, since equal ones in any order would keep the solver busy; `exact`
    adds a column for every cut from every piece, for the rare case that the areas do not pack.
    """

    def __init__(
        self, offers: Sequence[Offer], worthwhile: Sequence[int], at_hand: AtHand, *, exact: bool = False
    ) -> None:
        self.offers, self.at_hand = offers, at_hand
        self.gain: list[float] = []
        self.most: list[float] = []
        self.rows: list[tuple[dict[int, float], float]] = []  # coefficients by column, at most
        self.column = {position: self._new(offers[position].saves_eur - TIE_EUR * position) for position in worthwhile}
        self._slots()
        self._minutes()
        self._counted()
        self._groups()
        if exact:
            self._cuts()
        else:
            self._areas()

    def _new(self, gain: float = 0.0, most: float = 1.0) -> int:
        self.gain.append(gain)
        self.most.append(most)
        return len(self.gain) - 1

    def _mine(self) -> Iterator[tuple[int, Offer]]:
        return ((column, self.offers[position]) for position, column in self.column.items())

    def _slots(self) -> None:
        takers: dict[Hashable, dict[int, float]] = defaultdict(dict)
        for column, offer in self._mine():
            for slot in offer.slots:
                takers[slot][column] = 1.0
        self.rows += [(row, 1.0) for row in takers.values() if len(row) > 1]

    def _minutes(self) -> None:
        for window, minutes in self.at_hand.minutes.items():
            row = {column: offer.minutes for column, offer in self._mine() if offer.window == window}
            self.rows.append((row, minutes))

    def _counted(self) -> None:
        """What is given by the piece, the litre or the square metre of floor."""
        supplies = self.at_hand.supplies
        takes: dict[Hashable, dict[int, float]] = defaultdict(lambda: defaultdict(float))
        for column, offer in self._mine():
            for hood, count in offer.needs.hoods:
                takes[hood][column] += count
            for spot, area in offer.needs.floor:
                takes["floor", spot][column] += area
            for material, litres in offer.needs.mulch_litres:
                takes["mulch", material][column] += litres
            if offer.needs.pot_feet:
                takes["feet"][column] += offer.needs.pot_feet
            if offer.needs.crates:
                takes["crates"][column] += offer.needs.crates
        there: dict[Hashable, float] = {
            **{hood: float(count) for hood, count in supplies.hoods.items()},
            **{("floor", spot): area for spot, area in supplies.floor_m2.items()},
            **{("mulch", material): litres for material, litres in supplies.mulch_litres.items()},
            "feet": supplies.pot_feet,
            "crates": supplies.crates,
        }
        self.rows += [(dict(row), there.get(key, 0.0)) for key, row in takes.items()]

    def _groups(self) -> None:
        """Neighbours that are carried away leave no group."""
        leaving: dict[str, dict[int, Offer]] = defaultdict(dict)
        for column, offer in self._mine():
            if offer.leaves is not None:
                leaving[offer.leaves][column] = offer
        for column, offer in self._mine():
            if offer.groups_at is None:
                continue
            row = {
                other: float(one.count) for other, one in leaving[offer.groups_at].items() if one.pot != offer.pot
            }
            others = self.at_hand.standing.get(offer.groups_at, 0) - offer.count
            self.rows.append(({**row, column: float(GROUP_OF)}, float(others)))

    def _areas(self) -> None:
        """Square metres by material, and by spot where a sheet is spread: so many sheets of a kind at a spot."""
        kinds: Counter[Piece] = Counter(self.at_hand.supplies.pieces)
        wanted: dict[tuple[str, str | None], dict[int, float]] = defaultdict(dict)
        for column, offer in self._mine():
            for material, area in offer.needs.areas().items():
                spot = offer.needs.spot if self.at_hand.supplies.is_spread(material) else None
                wanted[material, spot][column] = area
        given: dict[Piece, dict[int, float]] = defaultdict(dict)
        for (material, spot), row in wanted.items():
            fitting = {piece: count for piece, count in kinds.items() if piece.serves(material, spot)}
            largest = max((piece.left_m2 for piece in fitting), default=0.0)
            self.rows += [({column: 1.0}, 0.0) for column, area in row.items() if area > largest + ROUNDING]
            if spot is None:
                self.rows.append((row, sum(piece.left_m2 * count for piece, count in fitting.items())))
                continue
            here = {piece: self._new(most=float(count)) for piece, count in fitting.items()}
            self.rows.append(({**row, **{column: -piece.left_m2 for piece, column in here.items()}}, 0.0))
            for piece, column in here.items():
                given[piece][column] = 1.0
        self.rows += [(row, float(kinds[piece])) for piece, row in given.items()]

    def _cuts(self) -> None:
        """Every cut from one piece that has enough; a sheet is spread at one spot."""
        pieces = self.at_hand.supplies.pieces
        taken: dict[tuple[int, str | None], dict[int, float]] = defaultdict(dict)
        for column, offer in self._mine():
            for material, area in offer.needs.areas().items():
                spot = offer.needs.spot if self.at_hand.supplies.is_spread(material) else None
                row = {column: 1.0}
                for number, piece in enumerate(pieces):
                    if piece.left_m2 >= area - ROUNDING and piece.serves(material, spot):
                        cut = self._new()
                        row[cut] = -1.0
                        taken[number, spot][cut] = area
                self.rows.append((row, 0.0))
        spots: dict[int, dict[int, float]] = defaultdict(dict)
        for (number, spot), row in taken.items():
            left = pieces[number].left_m2
            if spot is None:
                self.rows.append((row, left))
                continue
            here = self._new()
            self.rows.append(({**row, here: -left}, 0.0))
            spots[number][here] = 1.0
        self.rows += [(row, 1.0) for row in spots.values()]

    def in_parts(self) -> _Parts:
        """The optimum where parts of offers may be taken."""
        found = self._solved(whole=False).getSolution()
        if not found.value_valid:
            return _Parts({}, {})
        taken, prices = self._by_offer(found.col_value), self._by_offer(found.col_dual)
        return _Parts(taken, {position: abs(price) for position, price in prices.items()})

    def in_whole(self, parts: _Parts | None = None, begin_with: Sequence[int] = ()) -> dict[int, float]:
        """The optimum in whole offers, sought from those that it may begin with, among those nearest to the parts."""
        near = set(self.column) if parts is None else parts.nearest(NEAREST) | set(begin_with)
        far = [column for position, column in self.column.items() if position not in near]
        found = self._solved(whole=True, leave=far, begin_with=begin_with).getSolution()
        if not found.value_valid:  # doing nothing is always allowed, so only time can have run out
            return {}
        return self._by_offer(found.col_value)

    def _by_offer(self, of_column: Sequence[float]) -> dict[int, float]:
        return {position: of_column[column] for position, column in self.column.items()}

    def _solved(self, *, whole: bool, leave: Sequence[int] = (), begin_with: Sequence[int] = ()) -> Any:
        import highspy

        solver = highspy.Highs()  # type: ignore[no-untyped-call]
        options = {
            "output_flag": False,
            "threads": 1,
            "time_limit": TIME_LIMIT_S,
            "mip_max_nodes": MOST_BRANCHES if leave else highspy.kHighsIInf,
            "mip_rel_gap": GAP_OF_MANY if leave else GAP,
        }
        for option, value in options.items():
            solver.setOptionValue(option, value)
        model = self._model(whole=whole)
        left = set(leave)
        model.col_upper_ = [0.0 if column in left else most for column, most in enumerate(self.most)]
        solver.passModel(model)
        if begin_with:
            columns = np.array([self.column[position] for position in begin_with], dtype=np.int32)
            solver.setSolution(columns.size, columns, np.ones(columns.size))
        solver.run()
        return solver

    def _model(self, *, whole: bool) -> Any:
        """The programme as HiGHS reads it: row by row."""
        import highspy

        model = highspy.HighsLp()
        model.num_col_, model.num_row_ = len(self.gain), len(self.rows)
        model.sense_ = highspy.ObjSense.kMaximize
        model.col_cost_, model.col_lower_, model.col_upper_ = self.gain, [0.0] * len(self.gain), self.most
        # rows of one size: what is whole to a millionth then keeps its limit to a millionth too
        scales = [max(map(abs, terms.values()), default=1.0) for terms, _ in self.rows]
        model.row_lower_ = [-highspy.kHighsInf] * len(self.rows)
        model.row_upper_ = [limit / scale for (_, limit), scale in zip(self.rows, scales, strict=True)]
        model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        model.a_matrix_.start_ = [0, *accumulate(len(terms) for terms, _ in self.rows)]
        model.a_matrix_.index_ = [column for terms, _ in self.rows for column in terms]
        model.a_matrix_.value_ = [
            value / scale for (terms, _), scale in zip(self.rows, scales, strict=True) for value in terms.values()
        ]
        if whole:
            model.integrality_ = [highspy.HighsVarType.kInteger] * len(self.gain)
        return model
