"""From measured minima of the air to how this site's nights differ from the forecast."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from frostguard.weather.night_errors import SPREAD_K, SiteHabits

LEAST_SPREAD_K = 1.0
"""Below which no learnt spread goes: next winter is another one; estimate."""

PRIOR_NIGHTS = 4.0
"""Nights that the prior is worth: the table's spread of 2 K for one night over a prior spread of 1 K, squared."""

NIGHTS_FOR_SPREAD = 30
NIGHTS_OF_A_KIND = 15
"""Clear calm nights and others have spreads of their own once each kind has so many; estimate."""


@dataclass(frozen=True, slots=True)
class NightPair:
    """One night: measured less foretold minimum of the air [K], and whether it was clear and calm."""

    difference_k: float
    clear_calm: bool


def learnt_habits(pairs: Sequence[NightPair], usual: SiteHabits) -> SiteHabits:
    """Bias and spread of the site's nights after these nights.

    The bias of each kind is shrunk towards what was believed, by n / (n + 4): three mornings move it by 43 % of
    what they show. A spread is learnt from thirty nights, of each kind where both have fifteen.
    """
    calm = np.array([pair.difference_k for pair in pairs if pair.clear_calm])
    other = np.array([pair.difference_k for pair in pairs if not pair.clear_calm])
    bias = _shrunk(other, usual.bias_k)
    calm_bias = _shrunk(calm, usual.clear_calm_bias_k)
    spread = calm_spread = None
    if len(pairs) >= NIGHTS_FOR_SPREAD:
        if min(calm.size, other.size) >= NIGHTS_OF_A_KIND:
            spread, calm_spread = _spread(other, bias), _spread(calm, calm_bias)
        else:
            spread = calm_spread = _spread(np.concatenate([calm - calm_bias, other - bias]), 0.0)
    return SiteHabits(bias, calm_bias, spread, calm_spread)


def _shrunk(differences: np.ndarray, usual: float) -> float:
    n = differences.size
    return usual if n == 0 else float(usual + n / (n + PRIOR_NIGHTS) * (np.median(differences) - usual))


def _spread(differences: np.ndarray, bias: float) -> float:
    return min(max(float(np.sqrt(np.mean((differences - bias) ** 2))), LEAST_SPREAD_K), 1.5 * SPREAD_K[0])
