"""Which of the likely courses of the weather comes out as the words tell.

Words tell the median over members of each one's coldest. A member that is in the middle by its mean warmth may lie
most of a kelvin beside that, so what is drawn is chosen by what is told, pot by pot.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.evening import Evening, so_far
from frostguard.advice.outlook import night_hours
from frostguard.advice.terrace import Terrace

Array = NDArray[np.float64]

ALIKE_K = 1e-9
"""Members whose distance from the median differs by less are equally near: rounding of the machine only."""


def coldest_by_column(evening: Evening, curve: str, row: int) -> Array:
    """The coldest of a pot in the coming night, left as it is and since dusk if that is past [degC], (columns,).

    Parameters
    ----------
    evening : Evening
        The terrace left as it is.
    curve : str
        Name of a curve of `PotRun`, such as "ring_c".
    row : int
        Of the pot.
    """
    run, past = evening.run, evening.past
    since_dusk = so_far(evening.terrace, past, np.array([row]), evening.nights[0], run.columns)
    inside = night_hours(evening.terrace, run, evening.nights[0], evening.now)
    before = since_dusk.part(getattr(past, curve))[:, 0]
    return np.asarray(np.concatenate([before, getattr(run, curve)[inside, row]]).min(axis=0))


def middle_member(coldest_c: Array, like: int | None = None) -> int:
    """The member whose coldest is nearest to the median of all.

    Of an odd number it is the median itself. Of an even number two are equally near, each half their distance from
    the median: the colder one is taken, or `like`, which is drawn beside it, where that is one of them.

    Parameters
    ----------
    coldest_c : ndarray, shape (n_members,)
        Each member's coldest [degC].
    like : int, optional
        The member to take if no other is nearer.
    """
    off = np.abs(coldest_c - np.median(coldest_c))
    nearest = np.flatnonzero(off <= off.min() + ALIKE_K)
    if like is not None and like in nearest:
        return like
    return int(nearest[np.argmin(coldest_c[nearest])])


def beside_median_k(coldest_c: Array, member: int) -> float:
    """How far a member's coldest lies from the median that is told [K]."""
    return float(abs(coldest_c[member] - np.median(coldest_c)))


def columns_of(terrace: Terrace, member: int) -> NDArray[np.intp]:
    """The weather columns of a member, one for each bounding case."""
    return member * terrace.n_cases + np.arange(terrace.n_cases)


def colder_column(terrace: Terrace, member: int, coldest_c: Array) -> int:
    """Of a member's columns the one of its colder case; `coldest_c` is (n_columns,)."""
    columns = columns_of(terrace, member)
    return int(columns[np.argmin(coldest_c[columns])])
