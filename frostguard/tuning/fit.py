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


def fit_map(
    model: Callable[[Array], Array],
    observed: Array,
    sigma: Array,
    parameters: Sequence[Parameter],
    *,
    start: Array | None = None,
    most_steps: int = 6,
) -> Fitted:
    """The parameters that readings and priors together make most likely.

    Parameters
    ----------
    model : callable
        From values of shape (k, n_parameters) to what would be read, (k, n_observations): k sets at once.
    observed, sigma : ndarray, shape (n_observations,)
        Readings, and what each may be off by [K]: thermometer, model, and their likeness from hour to hour.
    parameters : sequence of Parameter
    start : ndarray, shape (n_parameters,), optional
        Where to begin; the prior if not given.
    most_steps : int
        Evaluations of the model with all its derivatives.

    Notes
    -----
    Residuals of readings pass through the soft absolute loss 2 (sqrt(1 + r^2) - 1), written as a change of the
    residual, so that priors keep their squares. The covariance is the inverse of the Gauss-Newton matrix at the end.
    """
    from scipy.optimize import least_squares

    prior = np.array([one.prior for one in parameters])
    spread = np.array([one.spread for one in parameters])
    low, high = np.array([one.bounds for one in parameters]).T
    step = 0.15 * spread
    cache: dict[bytes, tuple[Array, Array]] = {}

    def both(values: Array) -> tuple[Array, Array]:
        key = values.tobytes()
        if key not in cache:
            towards = np.where(values + step <= high, step, -step)
            answers = model(np.vstack([values, values + np.diag(towards)]))
            raw = (answers[0] - observed) / sigma
            slopes = ((answers[1:] - answers[0]) / towards[:, None] / sigma).T
            tamed, rate = _soft(raw)
            cache[key] = (
                np.concatenate([tamed, (values - prior) / spread]),
                np.vstack([slopes * rate[:, None], np.diag(1.0 / spread)]),
            )
        return cache[key]

    margin = 1e-6 * (high - low)
    found = least_squares(
        lambda x: both(x)[0],
        np.clip(prior if start is None else start, low + margin, high - margin),
        jac=lambda x: both(x)[1],
        bounds=(low, high),
        x_scale=spread,
        ftol=1e-4,
        xtol=1e-4,
        max_nfev=most_steps,
    )
    jacobian = both(found.x)[1]
    return Fitted(tuple(parameters), found.x, np.asarray(np.linalg.inv(jacobian.T @ jacobian), dtype=np.float64))


def _soft(residual: Array) -> tuple[Array, Array]:
    """The residual whose square is the soft absolute loss, and its derivative."""
    root = np.sqrt(1.0 + residual**2)
    # 2 (root - 1) = 2 r^2 / (root + 1), which keeps its digits near zero
    tamed = residual * np.sqrt(2.0 / (root + 1.0))
    slope = np.sqrt(0.5 * (root + 1.0)) / root
    return tamed, slope
