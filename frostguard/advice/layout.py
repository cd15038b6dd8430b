"""Which root balls stand for a pot: its exposed side in every weather, its mean side in the middle one.

Outer roots die where a pot is bare to the wind and has no sun, and there the weather of each member
counts. The core feels the mean of all sides; its members differ by the weather as those of the exposed
side do, so one member's mean side is simulated and the others take over the difference. That nearly
halves the work; what it costs is shown in the tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Positions = NDArray[np.intp]


class Side(Enum):
    """Which side of a pot a series stands for.

    A side half exposed is not a whole side half as exposed.
    """

    EXPOSED = "exposed"
    MEAN = "mean"


@dataclass(frozen=True, slots=True)
class SeriesLayout:
    """The order of the series of a run: exposed sides first, then mean sides, each pot by pot.

    Parameters
    ----------
    n_pots : int
        Number of situations.
    columns : ndarray of int
        Weather columns in use: members, and the bounding cases of a member side by side.
    middle : ndarray of int
        Positions in `columns` of the middle member, one for each bounding case, in their order.
    """

    n_pots: int
    columns: Positions
    middle: Positions

    @property
    def n_exposed(self) -> int:
        """Number of series that stand for an exposed side; those of mean sides follow."""
        return self.n_pots * self.columns.size

    @property
    def pot_of_series(self) -> Positions:
        """The situation of each series."""
        pots = np.arange(self.n_pots)
        return np.concatenate([np.repeat(pots, self.columns.size), np.repeat(pots, self.middle.size)])

    @property
    def column_of_series(self) -> Positions:
        """The weather column of each series."""
        return np.concatenate([np.tile(self.columns, self.n_pots), np.tile(self.columns[self.middle], self.n_pots)])

    def exposed(self, values: Array) -> Array:
        """The exposed sides of (n_hours, n_series) as (n_hours, n_pots, n_columns)."""
        return values[:, : self.n_exposed].reshape(-1, self.n_pots, self.columns.size)

    def mean(self, values: Array) -> Array:
        """The mean sides, in every column: the middle member's, moved as the exposed side moves."""
        exposed = self.exposed(values)
        middle = values[:, self.n_exposed :].reshape(-1, self.n_pots, self.middle.size)
        case = self._case
        return middle[:, :, case] + exposed - exposed[:, :, self.middle[case]]

    def series(self, pot: int, side: Side, column: int) -> int:
        """Position of one series; of a mean side the middle member's, whichever the column."""
        if side is Side.EXPOSED:
            return pot * self.columns.size + column
        return self.n_exposed + pot * self.middle.size + int(self._case[column])

    def part(self, pots: Positions, columns: Positions) -> Positions:
        """Positions here of the series of a smaller run: some pots, in some columns, middle ones included."""
        exposed = pots[:, None] * self.columns.size + columns[None, :]
        mean = self.n_exposed + pots[:, None] * self.middle.size + np.arange(self.middle.size)[None, :]
        return np.concatenate([exposed.ravel(), mean.ravel()])

    @property
    def _case(self) -> Positions:
        """For each column the position among the middle ones of its bounding case."""
        return np.asarray(self.columns % self.middle.size)
