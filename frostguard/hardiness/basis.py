"""Limits told as screen air, turned into limits of the leaf that the simulation can be held against."""

from __future__ import annotations

from frostguard.hardiness.model import Basis, Mark

UNDERSHOOT_K = 2.2
"""How much colder than screen air a leaf was on the nights that such limits come from [K].

Rating bands and what growers tell are lowest air temperatures: USDA zones are means of each year's lowest value
at weather stations, UK hardiness ratings are absolute minima of winter. Such minima fall on clear nights with
little wind, when a leaf under the open sky lies 2 to 5 K below the screen (common practice). Our own leaf
balance gives 1.7 K at 2 m/s, the upper end of wind in a radiation frost (Snyder & de Melo-Abreu 2005, FAO), 2.2 K
at 1 m/s and 3.4 K at 0.3 m/s. Below the middle, to the safe side: some minima came with wind.
"""

UNDERSHOOT_SPREAD_K = 1.0
"""Standard deviation of that undershoot from night to night [K]; estimate, the range above."""

NO_UNDERSHOOT_ABOVE_C = -2.0
FULL_UNDERSHOOT_BELOW_C = -5.0
"""Limits between which the undershoot grows from nothing to its whole; estimate.

Growth that stands a kelvin or two of frost dies with the first ice in it, whoever tells its limit, and evergreens
in growth were hurt at -1 to -5 degC in a freezing chamber. There nothing is made of the words "screen air".
"""

_OF_THE_TISSUE = (Mark.MEASURED, Mark.FLOOR, Mark.LEARNED)


def leaf_basis(mark: Mark) -> Basis:
    """Whose temperature a limit of leaves or wood is, where the table does not say.

    What was measured, was measured in a freezing test or with the tissue's own temperature, and what was learned
    goes by the simulated leaf; practice, memory, estimates, ratings, pages and the gardener's own word go by the
    air of a night.
    """
    return Basis.TISSUE if mark in _OF_THE_TISSUE else Basis.SCREEN_AIR


def undershoot_k(limit_c: float) -> float:
    """By how much a limit told as screen air lies lower in the leaf [K].

    Parameters
    ----------
    limit_c : float
        As told [degC].

    Returns
    -------
    float
        `UNDERSHOOT_K` for what stands -5 degC or more, nothing for what stands -2 degC at most, linear between.
    """
    span_k = NO_UNDERSHOOT_ABOVE_C - FULL_UNDERSHOOT_BELOW_C
    return UNDERSHOOT_K * min(max((NO_UNDERSHOOT_ABOVE_C - limit_c) / span_k, 0.0), 1.0)
