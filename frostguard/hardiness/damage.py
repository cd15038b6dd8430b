"""Chance of damage and expected loss, from limits and how cold it gets for how long."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

TESTED_H = 0.5
"""How long most limits were tried for: half an hour in a freezer. A limit whose source names a longer time says so."""

PER_DOUBLING_K = 0.3
"""What each doubling of the time beyond that counts colder [K]. That equal steps of the logarithm of time weigh as
equal steps of temperature is the usual law of thermal tolerance (Rezende, Castaneda & Santos 2014, Tolerance
landscapes in thermal ecology, Funct. Ecol. 28:799-809, from memory). The step is an estimate, about 1 K a decade:
four hours count 0.9 K and a whole night 1.2 K, where common practice asks for a margin of 1 to 2 K. In 400 ml pots
120 min against 30 min told in one of three perennials (J. Environ. Hort. 14(4):214, 1996, abstract)."""

HELD_H = (1, 2, 4, 8)
"""Hours for which a cold is looked at; beyond eight nothing is added (estimate)."""


def chance_of_damage(limit_c: ArrayLike, spread_k: ArrayLike, coldest_c: ArrayLike) -> NDArray[np.float64]:
    """Chance that a tissue is damaged at its coldest.

    Parameters
    ----------
    limit_c : array_like
        Temperature at which damage is as likely as not [degC].
    spread_k : array_like
        Standard deviation of the normal distribution of limits, above 0 [K].
    coldest_c : array_like
        The coldest that the tissue comes to, from `effective_coldest_c` [degC].

    Returns
    -------
    ndarray
        Chance from 0 to 1, in the shape that the three broadcast to; NaN where the coldest is NaN.

    Notes
    -----
    The normal law is only a convention far out: beyond two spreads it says "one in fifty" of plants that
    nobody has seen hurt there. The chance therefore fades out between 1.5 and 2.5 spreads above the limit
    (estimate).

    The error function is a published approximation with an error below 1.5e-7, far inside what the
    limits are known to.

    References
    ----------
    Abramowitz & Stegun, Handbook of Mathematical Functions, 1964, eq. 7.1.26 (coefficients checked in
    the tests against an exact error function).
    """
    below_k = np.asarray(limit_c, dtype=float) - np.asarray(coldest_c, dtype=float)
    below = below_k / np.asarray(spread_k, dtype=float)
    chance = 0.5 * (1.0 + _error_function(below / np.sqrt(2.0)))
    faded: NDArray[np.float64] = np.clip(chance * np.clip(below + 2.5, 0.0, 1.0), 0.0, 1.0)
    return faded


def normal_through(ten_percent_c: float, ninety_percent_c: float) -> tuple[float, float]:
    """Mean and standard deviation of the normal distribution with 10 % killed at one temperature and
    90 % at the other [degC, K]."""
    return (ten_percent_c + ninety_percent_c) / 2, (ten_percent_c - ninety_percent_c) / (2 * 1.2815515655)


def effective_coldest_c(temperature_c: ArrayLike, *, step_h: float = 1.0,
                        axis: int = -1) -> NDArray[np.float64]:
    """The coldest of a night, counting a cold that lasts as colder than a short one.

    The lowest value, or the level below which it stayed for 1, 2, 4 or 8 hours less what that time counts,
    whichever is lowest. A level between 0 degC and that margin below counts twice, and one above 0 degC as it
    is: time alone makes no ice.

    Parameters
    ----------
    temperature_c : array_like
        Values at equal steps through the night along `axis` [degC]; at least one.
    step_h : float
        Hours between values.
    axis : int
        The axis of time.

    Returns
    -------
    ndarray
        The effective coldest [degC], without the axis of time; NaN where a value is NaN.

    Notes
    -----
    How much more a whole night does than the half hour of a freezing test has hardly been measured; see
    `PER_DOUBLING_K`. A lone value counts as that half hour.
    """
    held = np.moveaxis(np.asarray(temperature_c, dtype=float), axis, 0)
    levels, margins_k = [held.min(axis=0)], [0.0]
    points = 1
    for hours in HELD_H:
        wanted = round(hours / step_h) + 1
        while points < wanted and (more := min(wanted, 2 * points) - points) < held.shape[0]:
            # the highest of so many values on end, from the highest of fewer
            held = np.maximum(held[:-more], held[more:])
            points += more
        if points < wanted:
            break
        levels.append(held.min(axis=0))
        margins_k.append(held_margin_k(hours))
    level = np.stack(levels, axis=-1)
    return np.asarray((level - np.minimum(np.maximum(-level, 0.0), margins_k)).min(axis=-1))


def held_margin_k(hours: float) -> float:
    """What a cold that is held for so many hours counts colder than one of half an hour [K]."""
    return PER_DOUBLING_K * math.log2(max(hours / TESTED_H, 1.0))


def chance_of_any(chances: ArrayLike, *, axis: int = -1) -> NDArray[np.float64]:
    """Chance that at least one of several tissues is damaged, taken as independent."""
    return np.asarray(1.0 - np.prod(1.0 - np.asarray(chances, dtype=float), axis=axis))


def expected_loss_share(chances: ArrayLike, value_shares: ArrayLike, *,
                        axis: int = -1) -> NDArray[np.float64]:
    """Share of a plant's value to be expected as lost, over all its tissues.

    Each tissue takes its share of what the others leave, so that the sum never passes the whole plant.

    Parameters
    ----------
    chances, value_shares : array_like
        Chance of damage and share of the plant's value of each tissue, 0 to 1, along `axis`.
    axis : int
        The axis of tissues.

    Returns
    -------
    ndarray
        Expected loss over value, 0 to 1.

    Notes
    -----
    Tissues share the weather, so give this the chances of one course of the weather (a member) and average
    afterwards; within it they are taken as independent. In truth a cold that kills the roots has often taken
    the leaves, which makes this somewhat high where several chances are middling.
    """
    lost = np.asarray(chances, dtype=float) * np.asarray(value_shares, dtype=float)
    return np.asarray(1.0 - np.prod(1.0 - lost, axis=axis))


def _error_function(x: NDArray[np.float64]) -> NDArray[np.float64]:
    t = 1.0 / (1.0 + 0.3275911 * np.abs(x))
    tail = 1.421413741 + t * (-1.453152027 + t * 1.061405429)
    polynomial = t * (0.254829592 + t * (-0.284496736 + t * tail))
    return np.asarray(np.sign(x) * (1.0 - polynomial * np.exp(-x * x)))
