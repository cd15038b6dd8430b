"""From measured minima of the air to how this site's nights differ from the forecast.

Bias and spread are not learnt from the same nights: how much colder the terrace is shows against the weather that
happened as well; how far forecasts miss shows only against what was said before the night.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from frostguard.weather.night_errors import CLEAR_CALM_SPREAD_FACTOR, NIGHTS, SPREAD_K, SiteHabits

LEAST_SPREAD_K = 1.0
"""Below which no learnt spread goes: next winter is another one; estimate."""

BIAS_SPREAD_K = 1.0
"""How far a site's own bias is believed to reach; estimate, below what correction by station takes off the error of raw
minima (from 2.0 to 1.3 K, `weather/night_errors`: 1.5 K)."""

PRIOR_NIGHTS = (SPREAD_K[0] / BIAS_SPREAD_K) ** 2
"""Nights that the prior is worth: the table's spread for one night over that of the bias, squared."""

MINIMA_NEEDED = 3
"""Mornings from which the air teaches something."""

NIGHTS_FOR_SPREAD = 30
NIGHTS_OF_A_KIND = 15
"""Clear calm nights and others have spreads of their own once each kind has so many; estimate."""


FASTEST_GROWTH = 2.0
"""Of the spread with lead time, over the table's; estimate."""


@dataclass(frozen=True, slots=True)
class NightPair:
    """One night: measured less foretold minimum of the air [K], and whether it was clear and calm.

    `ahead` is how many nights before it was foretold, 1 on the day itself; 0 is the weather that happened.
    """

    difference_k: float
    clear_calm: bool
    ahead: int = 1


def learnt_habits(pairs: Sequence[NightPair], usual: SiteHabits) -> SiteHabits:
    """Bias and spread of the site's nights after these nights.

    The bias of each kind is shrunk towards what was believed, by n / (n + 4): three mornings move it by 43 % of
    what they show; by what is then known of the bias the table's spread narrows. A spread of its own is learnt from
    thirty nights foretold on their day, of each kind where both have fifteen; how it grows with lead time from nights
    foretold earlier, thirty of a lead.
    """
    calm_bias = _shrunk(_differences(pairs, clear_calm=True, aheads=(0, 1)), usual.clear_calm_bias_k)
    bias = _shrunk(_differences(pairs, clear_calm=False, aheads=(0, 1)), usual.bias_k)
    calm = _differences(pairs, clear_calm=True, aheads=(1,)) - calm_bias
    other = _differences(pairs, clear_calm=False, aheads=(1,)) - bias
    if calm.size + other.size < NIGHTS_FOR_SPREAD:
        return SiteHabits(
            bias,
            calm_bias,
            spread_with_bias_k(_known_k2(_differences(pairs, clear_calm=False, aheads=(0, 1)).size), clear_calm=False),
            spread_with_bias_k(_known_k2(_differences(pairs, clear_calm=True, aheads=(0, 1)).size), clear_calm=True),
        )
    if min(calm.size, other.size) >= NIGHTS_OF_A_KIND:
        spread, calm_spread = _spread(other), _spread(calm)
    else:
        spread = calm_spread = _spread(np.concatenate([calm, other]))
    growth = _growth([(pair.ahead, _in_spreads(pair, bias, calm_bias, spread, calm_spread)) for pair in pairs])
    return SiteHabits(bias, calm_bias, spread, calm_spread, growth)


def spread_with_bias_k(known_k2: float, *, clear_calm: bool) -> float | None:
    """The table's spread for the first night without the variance of a bias that is now known; None if nothing is.

    Parameters
    ----------
    known_k2 : float
        By how much the variance of the site's bias shrank [K2].
    clear_calm : bool
        Of clear calm nights, or of others.
    """
    if known_k2 <= 0.0:
        return None
    usual_k = SPREAD_K[0] * (CLEAR_CALM_SPREAD_FACTOR if clear_calm else 1.0)
    return max(float(np.sqrt(usual_k**2 - min(known_k2, BIAS_SPREAD_K**2))), LEAST_SPREAD_K)


def _known_k2(n: int) -> float:
    return BIAS_SPREAD_K**2 * n / (n + PRIOR_NIGHTS)


def _differences(pairs: Sequence[NightPair], *, clear_calm: bool, aheads: Sequence[int]) -> np.ndarray:
    return np.array(
        [pair.difference_k for pair in pairs if pair.clear_calm is clear_calm and pair.ahead in aheads]
    )


def _shrunk(differences: np.ndarray, usual: float) -> float:
    n = differences.size
    return usual if n == 0 else float(usual + n / (n + PRIOR_NIGHTS) * (np.median(differences) - usual))


def _spread(errors: np.ndarray) -> float:
    return min(max(float(np.sqrt(np.mean(errors**2))), LEAST_SPREAD_K), 1.5 * SPREAD_K[0])


def _in_spreads(pair: NightPair, bias: float, calm_bias: float, spread: float, calm_spread: float) -> float:
    """The pair's error in units of the first night's spread of its kind."""
    if pair.clear_calm:
        return (pair.difference_k - calm_bias) / calm_spread
    return (pair.difference_k - bias) / spread


def _growth(errors: Sequence[tuple[int, float]]) -> float:
    """How fast errors grow with lead time over the table, by least squares over the leads; 1 where nothing tells."""
    table, seen = [], []
    for ahead in sorted({one for one, _ in errors if one > 1}):
        of_lead = np.array([error for one, error in errors if one == ahead])
        if of_lead.size >= NIGHTS_FOR_SPREAD:
            table.append(float(np.interp(ahead, NIGHTS, SPREAD_K)) / SPREAD_K[0] - 1.0)
            seen.append(float(np.sqrt(np.mean(of_lead**2))) - 1.0)
    if not table:
        return 1.0
    return min(max(float(np.dot(table, seen) / np.dot(table, table)), 0.0), FASTEST_GROWTH)
