"""The numbers by which two solvers are compared on one pot."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

SETTLED_H = 48
"""Extremes are taken from here on: before it the uniform start may be the coldest moment of all."""

QUANTITIES = (
    "top ring minimum", "middle ring minimum", "bottom ring minimum", "mean minimum",
    "axis minimum at 5 cm", "axis minimum at 10 cm", "largest frozen share", "last frozen share",
)  # fmt: skip
"""First entries of a summary; the hours of first crossing follow."""


def summary(
    rings: np.ndarray, mean: np.ndarray, frozen: np.ndarray, axis: np.ndarray, crossings_c: Sequence[float]
) -> np.ndarray:
    """Minima, the largest frozen share, and when the coldest ring first falls below each temperature.

    `rings` (n_hours, 3), `axis` (n_hours, 2). Hours by linear interpolation, NaN if never crossed.
    """
    coldest = rings.min(axis=1)
    late = slice(SETTLED_H, None)
    hours = [first_crossing_h(coldest, limit) for limit in crossings_c]
    shares = [frozen[late].max(), frozen[-1]]
    return np.concatenate([rings[late].min(axis=0), [mean[late].min()], axis[late].min(axis=0), shares, hours])


def first_crossing_h(curve: np.ndarray, limit: float) -> float:
    """Hour at which a curve first falls below a limit; NaN if it starts below or never does."""
    below = np.flatnonzero(curve < limit)
    if not len(below) or below[0] == 0:
        return np.nan
    after = below[0]
    return float(after - (limit - curve[after]) / (curve[after - 1] - curve[after]))
