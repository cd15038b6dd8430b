"""How a wet mix freezes: temperature, frozen share and conduction as functions of its enthalpy.

Enthalpy H [J/m3] counts from the unfrozen mix at the start of freezing: above 0 the mix is unfrozen,
between `end_enthalpy_j_m3` and 0 it freezes, below it is frozen. Conduction is written with the
conductivity integral (Kirchhoff variable) Q = integral of k dT [W/m] from the start of freezing,
so that a flux between two cells is exactly (Q1 - Q2)/distance even across a freezing front.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from frostguard.physics.root_ball_inputs import LATENT_HEAT_J_M3, FloatArray, RootBalls


@dataclass(frozen=True, slots=True)
class Conduction:
    """Conductivity integral Q of every cell [W/m] and the slope dH/dQ of its piece there; shape (nr, nz, n)."""

    integral: FloatArray
    slope: FloatArray


@dataclass(frozen=True, slots=True)
class FreezingLaw:
    """The three straight pieces of the enthalpy curve for n series; all arrays of shape (n,)."""

    start_c: FloatArray
    end_enthalpy_j_m3: FloatArray  # below 0
    capacity_unfrozen_j_m3_k: FloatArray
    capacity_freezing_j_m3_k: FloatArray
    capacity_frozen_j_m3_k: FloatArray
    conductivity_unfrozen_w_m_k: FloatArray
    conductivity_frozen_w_m_k: FloatArray

    def temperature_c(self, enthalpy_j_m3: FloatArray) -> FloatArray:
        """Temperature at an enthalpy of shape (..., n)."""
        freezing = _between(enthalpy_j_m3, self.end_enthalpy_j_m3)
        beyond = enthalpy_j_m3 - freezing
        temperature = np.maximum(beyond, 0.0)
        temperature *= 1.0 / self.capacity_unfrozen_j_m3_k
        np.minimum(beyond, 0.0, out=beyond)
        beyond *= 1.0 / self.capacity_frozen_j_m3_k
        freezing *= 1.0 / self.capacity_freezing_j_m3_k
        temperature += beyond
        temperature += freezing
        temperature += self.start_c
        return temperature

    def enthalpy_j_m3(self, temperature_c: FloatArray) -> FloatArray:
        """Enthalpy at a temperature of shape (..., n)."""
        above_start = temperature_c - self.start_c
        span = self.end_enthalpy_j_m3 / self.capacity_freezing_j_m3_k
        freezing = _between(above_start, span)
        beyond = above_start - freezing
        return (
            np.where(above_start <= span, self.end_enthalpy_j_m3, freezing * self.capacity_freezing_j_m3_k)
            + np.maximum(beyond, 0.0) * self.capacity_unfrozen_j_m3_k
            + np.minimum(beyond, 0.0) * self.capacity_frozen_j_m3_k
        )

    def frozen_share(self, enthalpy_j_m3: FloatArray) -> FloatArray:
        """Share of the freezable water that is frozen, 0 to 1."""
        return _between(enthalpy_j_m3, self.end_enthalpy_j_m3) / self.end_enthalpy_j_m3

    def conductivity_w_m_k(self, enthalpy_j_m3: FloatArray) -> FloatArray:
        """Conductivity, linear in the frozen share."""
        gain = (self.conductivity_frozen_w_m_k - self.conductivity_unfrozen_w_m_k) / self.end_enthalpy_j_m3
        return self.conductivity_unfrozen_w_m_k + gain * _between(enthalpy_j_m3, self.end_enthalpy_j_m3)

    def conduction(self, enthalpy_j_m3: FloatArray) -> Conduction:
        """Conduction variables at an enthalpy of shape (..., n)."""
        conductivity_gain = (self.conductivity_frozen_w_m_k - self.conductivity_unfrozen_w_m_k) / self.end_enthalpy_j_m3
        linear = self.conductivity_unfrozen_w_m_k / self.capacity_freezing_j_m3_k
        square = 0.5 * conductivity_gain / self.capacity_freezing_j_m3_k
        freezing = _between(enthalpy_j_m3, self.end_enthalpy_j_m3)
        beyond = enthalpy_j_m3 - freezing
        # +1 unfrozen, 0 freezing, -1 frozen: arithmetic on a sign is several times faster than np.where
        piece = np.sign(beyond)
        integral = square * freezing
        integral += linear
        integral *= freezing
        beyond *= _by_piece(
            piece,
            self.conductivity_unfrozen_w_m_k / self.capacity_unfrozen_j_m3_k,
            self.conductivity_frozen_w_m_k / self.capacity_frozen_j_m3_k,
        )
        integral += beyond
        mean_capacity = 0.5 * (self.capacity_unfrozen_j_m3_k + self.capacity_frozen_j_m3_k)
        slope = (mean_capacity - self.capacity_freezing_j_m3_k) * piece
        slope += 0.5 * (self.capacity_unfrozen_j_m3_k - self.capacity_frozen_j_m3_k)
        slope *= piece
        slope += self.capacity_freezing_j_m3_k
        freezing *= conductivity_gain
        freezing += self.conductivity_unfrozen_w_m_k
        slope /= freezing
        return Conduction(integral, slope)


def _between(values: FloatArray, lowest: FloatArray) -> FloatArray:
    """Values cut off at `lowest` and 0; np.clip does the same more slowly."""
    cut: FloatArray = np.maximum(values, lowest)
    return np.minimum(cut, 0.0, out=cut)


def _by_piece(piece: FloatArray, unfrozen: FloatArray, frozen: FloatArray) -> FloatArray:
    """The one value where `piece` is +1, the other where it is -1; their mean at 0."""
    value = (0.5 * (unfrozen - frozen)) * piece
    value += 0.5 * (unfrozen + frozen)
    return value


def freezing_law(root_balls: RootBalls) -> FreezingLaw:
    """The enthalpy curve of each root ball's mix."""
    span_k = root_balls.freezing_start_c - root_balls.freezing_end_c
    mean_capacity = 0.5 * (root_balls.heat_capacity_unfrozen_j_m3_k + root_balls.heat_capacity_frozen_j_m3_k)
    capacity_freezing = LATENT_HEAT_J_M3 * root_balls.freezable_water_fraction / span_k + mean_capacity
    return FreezingLaw(
        start_c=root_balls.freezing_start_c,
        end_enthalpy_j_m3=-capacity_freezing * span_k,
        capacity_unfrozen_j_m3_k=root_balls.heat_capacity_unfrozen_j_m3_k,
        capacity_freezing_j_m3_k=capacity_freezing,
        capacity_frozen_j_m3_k=root_balls.heat_capacity_frozen_j_m3_k,
        conductivity_unfrozen_w_m_k=root_balls.conductivity_unfrozen_w_m_k,
        conductivity_frozen_w_m_k=root_balls.conductivity_frozen_w_m_k,
    )
