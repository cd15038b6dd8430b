"""Scores of forecasts with chances: exact, and small enough to be checked by hand.

References
----------
G. W. Brier, "Verification of forecasts expressed in terms of probability", Monthly Weather Review 78, 1950.
T. Gneiting and A. E. Raftery, "Strictly proper scoring rules, prediction, and estimation", Journal of the American
Statistical Association 102, 2007, eq. 21 (score of an ensemble) and the closed form for the normal law.
"""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def brier_score(chances: Array, happened: NDArray[np.bool_]) -> float:
    """Mean squared difference of stated chance and outcome; 0 is perfect, 0.25 is a coin."""
    return float(((chances - happened) ** 2).mean())


def crps_of_members(members: Array, truth: Array) -> Array:
    """Continuous ranked probability score of each case [unit of the members], shape (n_cases,).

    `members` has shape (n_cases, n_members); the law is that of the members, each as likely.
    """
    away = np.abs(members - truth[:, None]).mean(axis=1)
    apart = np.abs(members[:, :, None] - members[:, None, :]).mean(axis=(1, 2))
    return np.asarray(away - 0.5 * apart)


def crps_of_normal(mean: float, spread: float, truth: float) -> float:
    """The same score of a normal law, in closed form."""
    normal, z = NormalDist(), (truth - mean) / spread
    return spread * (z * (2.0 * normal.cdf(z) - 1.0) + 2.0 * normal.pdf(z) - 1.0 / math.sqrt(math.pi))
