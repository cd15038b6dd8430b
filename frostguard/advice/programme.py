"""The integer programme behind the sharing out, and HiGHS that solves it."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import Any

import numpy as np

from frostguard.advice.scarce import GROUP_OF, TIE_EUR, AtHand, Offer
from frostguard.advice.supplies import ROUNDING, Piece

GAP, GAP_OF_MANY = 1e-4, 5e-3
"""A sharing that saves more by less than this share is not looked for: pennies. Among more offers than `NEAREST`
what is lacking to the best is less than what is known of any limit."""

NEAREST = 300
"""Offers that are chosen among in whole numbers: those that the best sharing in parts takes, or nearly takes.
What is far from paying at its prices is in no sharing that is as good as the best, but for pennies."""

MOST_BRANCHES, TIME_LIMIT_S = 10, 5.0
"""Then the best found so far is taken. Branches come first, in less than a second of one processor, so that the
answer hangs on no machine's speed; time is a last resort on one that is overloaded."""


@dataclass(frozen=True, slots=True)
class Parts:
    """A solution in parts: how much of each offer is taken, and how far each is from the other choice [euro]."""

    taken: Mapping[int, float]
    distance_eur: Mapping[int, float]

    def nearest(self, count: int) -> set[int]:
        """The offers that are taken in part or whole, and the nearest to it, so many in all."""
        order = sorted(self.taken, key=lambda one: (self.taken[one] < 1e-9, self.distance_eur[one], one))
        return set(order[:count])


class Programme:
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

    def in_parts(self) -> Parts:
        """The optimum where parts of offers may be taken."""
        found = self._solved(whole=False).getSolution()
        if not found.value_valid:
            return Parts({}, {})
        taken, prices = self._by_offer(found.col_value), self._by_offer(found.col_dual)
        return Parts(taken, {position: abs(price) for position, price in prices.items()})

    def in_whole(self, parts: Parts | None = None, begin_with: Sequence[int] = ()) -> dict[int, float]:
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
