"""The most likely parameters, from readings and from what was believed before: least squares with priors.

What the readings cannot tell stays at its prior, and the posterior spread says which is which.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LEARNT = 0.7
"""A parameter whose spread shrank below this share of its prior's counts as learnt from the readings."""

BOUND_SPREADS = 3.0
"""How many prior spreads a parameter may move."""


@dataclass(frozen=True, slots=True)
class Parameter:
    """One number to be learnt, in the scale it is fitted in (the logarithm, for a factor).

    Parameters
    ----------
    subject, name : str
        As the logbook keeps it: "spot/deck", "wind_factor".
    prior, spread : float
        What was believed before, as mean and standard deviation in the fitted scale.
    low, high : float
        Physical bounds in the fitted scale.
    is_factor : bool
        Whether the value told is the exponential of the fitted one.
    """

    subject: str
    name: str
    prior: float
    spread: float
    low: float = -np.inf
    high: float = np.inf
    is_factor: bool = False

    @property
    def bounds(self) -> tuple[float, float]:
        """The narrower of physical bounds and so many spreads."""
        reach = BOUND_SPREADS * self.spread
        return max(self.low, self.prior - reach), min(self.high, self.prior + reach)


@dataclass(frozen=True, slots=True)
class Fitted:
    """The most likely values with their covariance, both in the fitted scale."""

    parameters: tuple[Parameter, ...]
    values: Array  # (n_parameters,)
    covariance: Array  # (n_parameters, n_parameters)

    @property
    def spread(self) -> Array:
        """Posterior standard deviations."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))

    @property
    def learnt(self) -> NDArray[np.bool_]:
        """Which parameters the readings told something about."""
        return np.asarray(self.spread < LEARNT * np.array([one.spread for one in self.parameters]))

    def inseparable(self, above: float = 0.8) -> tuple[tuple[int, int], ...]:
        """Pairs of parameters that the readings cannot tell apart: posterior correlation above this."""
        correlation = self.covariance / np.outer(self.spread, self.spread)
        pairs = np.argwhere(np.triu(np.abs(correlation) > above, k=1))
        return tuple((int(one), int(other)) for one, other in pairs)


@dataclass(frozen=True, slots=True)
class Slopes:
    """A model's answers at some values, (n_observations,), and their slopes, (n_observations, n_parameters)."""

    values: Array
    answers: Array
    slopes: Array


Sloped = Callable[[Array], Slopes]
"""A model with its slopes; see `sloped`."""

STEP_SPREADS = 0.15
"""Prior spreads that a parameter is moved by to find a slope: far above rounding, well below what bends."""


def sloped(model: Callable[[Array], Array], parameters: Sequence[Parameter]) -> Sloped:
    """A model with its slopes by finite differences, all of them in one call of the model, remembered.

    Parameters
    ----------
    model : callable
        From values of shape (k, n_parameters) to what would be read, (k, n_observations): k sets at once.
    parameters : sequence of Parameter
    """
    step = STEP_SPREADS * np.array([one.spread for one in parameters])
    high = np.array([one.bounds[1] for one in parameters])
    known: dict[bytes, Slopes] = {}

    def both(values: Array) -> Slopes:
        key = values.tobytes()
        if key not in known:
            towards = np.where(values + step <= high, step, -step)
            answers = model(np.vstack([values, values + np.diag(towards)]))
            known[key] = Slopes(values.copy(), answers[0], ((answers[1:] - answers[0]) / towards[:, None]).T)
        return known[key]

    return both


MOST_STEPS = 12
"""Evaluations of a model with all its slopes; half of it where little changes any more."""


def fit_map(
    model: Sloped,
    observed: Array,
    covariance: Array,
    parameters: Sequence[Parameter],
    *,
    used: NDArray[np.bool_] | None = None,
    start: Array | None = None,
    most_steps: int = MOST_STEPS,
) -> Fitted:
    """The parameters that readings and priors together make most likely.

    Parameters
    ----------
    model : callable
        As `sloped` makes it.
    observed : ndarray, shape (n_observations,)
        Readings.
    covariance : ndarray, shape (n_observations,) or (n_observations, n_observations)
        How model and thermometer may miss them [K2]; variances alone where misses know nothing of each other.
    parameters : sequence of Parameter
    used : ndarray of bool, shape (n_observations,), optional
        Which readings are learnt from; all if not given.
    start : ndarray, shape (n_parameters,), optional
        Where to begin; the prior if not given.
    most_steps : int
        Evaluations of the model with all its slopes.

    Notes
    -----
    Residuals are made independent of each other by the Cholesky factor of their covariance, and then pass through
    the soft absolute loss 2 s^2 (sqrt(1 + (r / s)^2) - 1) with s = 2, written as a change of the residual, so that
    priors keep their squares. The covariance of the result is the inverse of the Gauss-Newton matrix at the end.
    """
    from scipy.optimize import least_squares

    wanted = np.ones(observed.size, dtype=np.bool_) if used is None else used
    prior = np.array([one.prior for one in parameters])
    spread = np.array([one.spread for one in parameters])
    low, high = np.array([one.bounds for one in parameters]).T
    whiten = _whitener(covariance[wanted] if covariance.ndim == 1 else covariance[np.ix_(wanted, wanted)])

    def residual(values: Array) -> Array:
        raw = whiten((model(values).answers - observed)[wanted, None])[:, 0]
        return np.concatenate([_soft(raw)[0], (values - prior) / spread])

    def jacobian(values: Array) -> Array:
        found = model(values)
        raw = whiten((found.answers - observed)[wanted, None])[:, 0]
        return np.vstack([whiten(found.slopes[wanted]) * _soft(raw)[1][:, None], np.diag(1.0 / spread)])

    margin = 1e-6 * (high - low)
    found = least_squares(
        residual,
        np.clip(prior if start is None else start, low + margin, high - margin),
        jac=jacobian,
        bounds=(low, high),
        x_scale=spread,
        ftol=1e-3,
        xtol=1e-3,
        max_nfev=most_steps,
    )
    last = jacobian(found.x)
    return Fitted(tuple(parameters), found.x, np.asarray(np.linalg.inv(last.T @ last), dtype=np.float64))


LOSS_BENDS_AT = 2.0
"""Standard deviations from which a residual counts by its size and no more by its square; estimate."""


def _whitener(covariance: Array) -> Callable[[Array], Array]:
    """Takes columns of residuals or slopes to columns whose errors are independent and of size one."""
    if covariance.ndim == 1:
        size = np.sqrt(covariance)[:, None]
        return lambda columns: np.asarray(columns / size)
    from scipy.linalg import cholesky, solve_triangular

    factor = cholesky(covariance, lower=True)
    return lambda columns: np.asarray(solve_triangular(factor, columns, lower=True))


def _soft(residual: Array) -> tuple[Array, Array]:
    """The residual whose square is the soft absolute loss, and its derivative."""
    scaled = residual / LOSS_BENDS_AT
    root = np.sqrt(1.0 + scaled**2)
    # 2 (root - 1) = 2 r^2 / (root + 1), which keeps its digits near zero
    tamed = residual * np.sqrt(2.0 / (root + 1.0))
    slope = np.sqrt(0.5 * (root + 1.0)) / root
    return tamed, slope
