"""How readings miss a model whose parameters are right: thermometer, night, and the model's own faults.

The misses of one night are alike: the weather that is taken for what happened was off by some amount, and every
reading of the night with it. Taken for independent, such readings would seem to tell far more than they do of levels;
taken one night as one number, they would tell nothing of how fast a pot cools, which they tell well.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

MOST_JUDGED = 400
"""Readings from which the sizes of misses are learnt; more make it slow and tell the same."""


@dataclass(frozen=True, slots=True)
class Sizes:
    """Standard deviations [K] of four kinds of misses.

    Parameters
    ----------
    reading_k : float
        Of each number for itself: noise, and the steps of a display.
    fault_k : float
        Of one thermometer through one night: what the model lacks.
    clear_calm_k, other_k : float
        Of the air through a clear calm night, and through another one.
    """

    reading_k: float
    fault_k: float
    clear_calm_k: float
    other_k: float

    def times(self, wider: float) -> Sizes:
        """All of them that many times as large."""
        return Sizes(*(wider * size for size in (self.reading_k, self.fault_k, self.clear_calm_k, self.other_k)))

    def air_k(self, clear_calm: NDArray[np.bool_]) -> Array:
        """Of the air in each night."""
        return np.where(clear_calm, self.clear_calm_k, self.other_k)


AT_FIRST = {
    False: Sizes(reading_k=0.25, fault_k=0.25, clear_calm_k=0.9, other_k=0.6),
    True: Sizes(reading_k=0.25, fault_k=0.25, clear_calm_k=0.3, other_k=0.2),
}
"""By whether the air was measured on the spot; estimates, replaced by what the nights show. A thermometer that shows
half degrees is off by 0.14 K for that alone; past weather of a service is off by less than a forecast, whose first
night is off by 1.2 to 1.4 K where its local bias is known (`weather/night_errors`)."""

UNSURE_OF_SIZES = 0.5
"""Standard deviation of the logarithm of each size before any reading; estimate."""


@dataclass(frozen=True, slots=True)
class Readout:
    """Where each reading belongs.

    Parameters
    ----------
    night, thermometer : ndarray of int, shape (n_observations,)
    clear_calm : ndarray of bool, shape (n_nights,)
    air_response : ndarray, shape (n_observations, n_nights)
        Kelvins that a reading moves by when the air of a night is a kelvin warmer.
    """

    night: NDArray[np.intp]
    thermometer: NDArray[np.intp]
    clear_calm: NDArray[np.bool_]
    air_response: Array

    def part(self, rows: NDArray[np.intp]) -> Readout:
        """Some of the readings."""
        return Readout(self.night[rows], self.thermometer[rows], self.clear_calm, self.air_response[rows])

    def covariance(self, sizes: Sizes) -> Array:
        """Of the misses of all readings [K2]."""
        together = (self.night[:, None] == self.night) & (self.thermometer[:, None] == self.thermometer)
        from_air = self.air_response * sizes.air_k(self.clear_calm)
        return np.asarray(
            from_air @ from_air.T + sizes.fault_k**2 * together + sizes.reading_k**2 * np.eye(self.night.size)
        )


def learnt_sizes(
    readout: Readout, left_k: Array, slopes: Array, prior_spread: Array, usual: Sizes
) -> Sizes:
    """The sizes that make what the nights show most likely, whatever the parameters are.

    Parameters
    ----------
    readout : Readout
    left_k : ndarray, shape (n_observations,)
        Readings less what a model that is linear about the fit tells at the prior [K].
    slopes : ndarray, shape (n_observations, n_parameters)
    prior_spread : ndarray, shape (n_parameters,)
    usual : Sizes
        What is believed of them before.

    Notes
    -----
    Marginal likelihood of a linear Gaussian model, parameters integrated out (Rasmussen and Williams, Gaussian
    Processes for Machine Learning, 2006, section 2.7), so that a fit with many parameters does not pass for a good
    model.
    """
    from scipy.linalg import cho_factor, cho_solve
    from scipy.optimize import minimize

    if left_k.size > MOST_JUDGED:
        rows = np.arange(0, left_k.size, -(-left_k.size // MOST_JUDGED))
        readout, left_k, slopes = readout.part(rows), left_k[rows], slopes[rows]
    known = (slopes * prior_spread) @ (slopes * prior_spread).T
    start = np.log([usual.reading_k, usual.fault_k, usual.clear_calm_k, usual.other_k])

    def unlikely(moved: Array) -> float:
        factor = cho_factor(known + readout.covariance(Sizes(*np.exp(start + moved))), lower=True)
        size = np.log(np.diag(factor[0])).sum() + 0.5 * left_k @ cho_solve(factor, left_k)
        return float(size + 0.5 * np.sum((moved / UNSURE_OF_SIZES) ** 2))

    found = minimize(unlikely, np.zeros(4), method="L-BFGS-B", bounds=[(-1.5, 1.5)] * 4, options={"maxiter": 12})
    return Sizes(*(float(size) for size in np.exp(start + found.x)))
