"""What the root-ball engine is told: the balls themselves, what their faces feel, and how finely to compute."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike, NDArray

from frostguard.errors import PhysicsInputError

FloatArray = NDArray[np.float64]

LATENT_HEAT_J_M3 = 333.55e6
"""Heat of freezing of one cubic metre of liquid water, 1000 kg/m3 times 333.55 kJ/kg.

Feistel and Wagner, A new equation of state for H2O ice Ih, 2006: 333.43 kJ/kg; the older rounded
333.55 kJ/kg of the tables is kept, the difference is 0.04 %.
"""

LEAST_WATER_J_M3_K, LEAST_ICE_J_M3_K = 4.0e6, 1.7e6
"""Below the heat capacities of water at 0 degC, 4.2, and of ice at -10 degC, 1.8 MJ/(m3 K); from memory."""

FASTEST_M2_S = 1e-5
"""Diffusivity that no mix comes near: ice has 1.2e-6, mixes 2e-7 to 1.5e-6 m2/s; from memory."""

LEGAL_RANGES = {
    "radius_m": (0.02, 2.0),
    "height_m": (0.03, 2.0),
    "wall_resistance_m2_k_w": (0.0, 5.0),
    "wall_heat_capacity_j_m2_k": (0.0, 1e6),
    "conductivity_unfrozen_w_m_k": (0.02, 5.0),
    "conductivity_frozen_w_m_k": (0.02, 5.0),
    "heat_capacity_unfrozen_j_m3_k": (5e4, 6e6),
    "heat_capacity_frozen_j_m3_k": (5e4, 6e6),
    "freezable_water_fraction": (0.0, 1.0),
    "freezing_start_c": (-30.0, 5.0),
    "freezing_end_c": (-40.0, 4.9),
    "wetter_below": (0.0, 0.8),
}
"""What any pot on a terrace can be, a tree's box and a foam house among them. Every run within is held to the promises
of bounds and heat by the tests."""

LEGAL_ENVELOPE = {
    "side_film_w_m2_k": (0.0, 1e4),  # a thin wall behind a larger one loses heat to rounding
    "side_environment_c": (-150.0, 150.0),
    "top_film_w_m2_k": (0.0, 1e6),
    "top_environment_c": (-150.0, 150.0),
    "base_film_w_m2_k": (0.0, 1e6),
    "base_environment_c": (-150.0, 150.0),
}

_NEXT_STEP = "Check the pot's size, wall and mix in the garden file."


def _fail_unless(good: NDArray[np.bool_] | np.bool_, sentence: str, next_step: str) -> None:
    """Raise with the position of the first series that is not good."""
    if not np.all(good):
        raise PhysicsInputError(f"Series {int(np.argmin(good))}: {sentence}.", next_step=next_step)


@dataclass(frozen=True, slots=True)
class RootBalls:
    """Upright cylinders of mix, one per series; every field an array of shape (n,), or a number for all.

    Parameters
    ----------
    radius_m, height_m : ndarray, shape (n,)
        Of the mix, not of the pot [m].
    wall_resistance_m2_k_w, wall_heat_capacity_j_m2_k : ndarray, shape (n,)
        Per square metre of the mix's side, 2 pi R H [m2 K/W, J/(m2 K)]; either may be 0. The heat
        capacity sits halfway through the resistance.
    conductivity_unfrozen_w_m_k, conductivity_frozen_w_m_k : ndarray, shape (n,)
        Of the mix [W/(m K)]; in between linear in the frozen share. Frozen not below unfrozen.
    heat_capacity_unfrozen_j_m3_k, heat_capacity_frozen_j_m3_k : ndarray, shape (n,)
        Of the mix, water included [J/(m3 K)]; in between their mean.
    freezable_water_fraction : ndarray, shape (n,)
        Water that can freeze, by volume of mix [m3/m3]: the water less what the mix binds.
    freezing_start_c, freezing_end_c : ndarray, shape (n,)
        The frozen share grows linearly from 0 to 1 between them [degC]; at least 0.1 K apart.
    wetter_below : ndarray, shape (n,)
        By which share the mix at the bottom holds more heat and water than the mean, and at the top less; it changes
        evenly with depth [-]. What the mix conducts is the same at all heights.

    Raises
    ------
    PhysicsInputError
        If a number is missing, not finite, or one that no pot can have.
    """

    radius_m: FloatArray
    height_m: FloatArray
    wall_resistance_m2_k_w: FloatArray
    wall_heat_capacity_j_m2_k: FloatArray
    conductivity_unfrozen_w_m_k: FloatArray
    conductivity_frozen_w_m_k: FloatArray
    heat_capacity_unfrozen_j_m3_k: FloatArray
    heat_capacity_frozen_j_m3_k: FloatArray
    freezable_water_fraction: FloatArray
    freezing_start_c: FloatArray
    freezing_end_c: FloatArray
    wetter_below: FloatArray | float = 0.0

    def __post_init__(self) -> None:
        names = [field.name for field in fields(self)]
        try:
            arrays = np.broadcast_arrays(*(np.atleast_1d(getattr(self, name)) for name in names))
        except ValueError as exc:
            raise PhysicsInputError("The root balls' arrays differ in length.", next_step=_NEXT_STEP) from exc
        for name, values in zip(names, arrays, strict=True):
            values = np.array(values, dtype=np.float64)
            if values.ndim != 1:
                raise PhysicsInputError(f"{name} must have one value per series.", next_step=_NEXT_STEP)
            lowest, highest = LEGAL_RANGES[name]
            sentence = f"{name} must lie between {lowest:g} and {highest:g}"
            _fail_unless((values >= lowest) & (values <= highest), sentence, _NEXT_STEP)
            object.__setattr__(self, name, values)
        self._check_mix()

    def _check_mix(self) -> None:
        """Refuse mixes that no water and ice can make: the passes of the sweeps need not settle on them."""
        apart = self.freezing_start_c - self.freezing_end_c >= 0.1 - 1e-9
        _fail_unless(apart, "freezing must end at least 0.1 K below its start", _NEXT_STEP)
        conducts = self.conductivity_frozen_w_m_k >= 0.99 * self.conductivity_unfrozen_w_m_k
        _fail_unless(conducts, "a frozen mix conducts at least as well as an unfrozen one", _NEXT_STEP)
        fastest = FASTEST_M2_S * (1.0 + 1e-9) * (1.0 - self.wetter_below)
        slow = (self.conductivity_unfrozen_w_m_k <= fastest * self.heat_capacity_unfrozen_j_m3_k) & (
            self.conductivity_frozen_w_m_k <= fastest * self.heat_capacity_frozen_j_m3_k
        )
        _fail_unless(slow, f"no mix conducts more than {FASTEST_M2_S:g} m2/s of the heat that it holds", _NEXT_STEP)
        water = self.freezable_water_fraction
        holds = (self.heat_capacity_unfrozen_j_m3_k >= LEAST_WATER_J_M3_K * water) & (
            self.heat_capacity_frozen_j_m3_k >= LEAST_ICE_J_M3_K * water
        )
        _fail_unless(holds, "a mix holds at least the heat of its freezable water", _NEXT_STEP)

    def __len__(self) -> int:
        return len(self.radius_m)


@dataclass(frozen=True, slots=True)
class Envelope:
    """What the three faces of each root ball feel, at whole hours and linear between them.

    Parameters
    ----------
    side_film_w_m2_k, side_environment_c : ndarray, shape (n_hours, n)
        Outside the wall, per square metre of the mix's side [W/(m2 K), degC].
    top_film_w_m2_k, top_environment_c : ndarray, shape (n_hours, n)
        From the mix surface; mulch, snow and covers are inside the film.
    base_film_w_m2_k, base_environment_c : ndarray, shape (n_hours, n)
        From the mix's underside to what it stands on.

    Raises
    ------
    PhysicsInputError
        If shapes differ or a value is not finite, a film negative, or a temperature beyond 150 degC.

    Notes
    -----
    A film of 0 insulates the face. A film may be large (side 1e4, top and base 1e6) to hold a face at a temperature.
    """

    side_film_w_m2_k: FloatArray
    side_environment_c: FloatArray
    top_film_w_m2_k: FloatArray
    top_environment_c: FloatArray
    base_film_w_m2_k: FloatArray
    base_environment_c: FloatArray

    def __post_init__(self) -> None:
        next_step = "Check the weather file for hours without values."
        shape = np.shape(self.side_film_w_m2_k)
        for field in fields(self):
            values = np.asarray(getattr(self, field.name), dtype=np.float64)
            if values.ndim != 2 or values.shape != shape or values.shape[0] == 0:
                raise PhysicsInputError(
                    f"{field.name} has shape {values.shape}; all parts of an envelope need one shape (hours, series).",
                    next_step=next_step,
                )
            lowest, highest = LEGAL_ENVELOPE[field.name]
            good = ((values >= lowest) & (values <= highest)).all(axis=0)
            _fail_unless(good, f"{field.name} must lie between {lowest:g} and {highest:g} at all hours", next_step)
            object.__setattr__(self, field.name, values)

    @property
    def n_hours(self) -> int:
        """Number of whole hours, the start among them."""
        return len(self.side_film_w_m2_k)


@dataclass(frozen=True, slots=True)
class Resolution:
    """How many cells and steps; STANDARD unless convergence is being shown.

    Parameters
    ----------
    outer_cells : int
        Cells across the outermost centimetre, over which rings are means.
    inner_cells : int
        Cells from there to the axis, growing inward.
    end_cells : int
        Cells in each of the top and bottom 2 cm.
    between_cells : int
        Cells from each end to the middle 2 cm, growing toward the middle.
    middle_cells : int
        Cells in the middle 2 cm; odd, so that one of them lies at half height.
    steps_per_hour : int
        Time steps in each hour.
    """

    outer_cells: int
    inner_cells: int
    end_cells: int
    between_cells: int
    middle_cells: int
    steps_per_hour: int

    def __post_init__(self) -> None:
        counts = [getattr(self, field.name) for field in fields(self)]
        if min(counts) < 1 or self.middle_cells % 2 == 0:
            raise ValueError("cell and step counts must be at least 1, and middle_cells odd")

    @property
    def radial_cells(self) -> int:
        """Cells of mix from the axis to the wall."""
        return self.outer_cells + self.inner_cells

    @property
    def axial_cells(self) -> int:
        """Cells of mix from top to bottom."""
        return 2 * (self.end_cells + self.between_cells) + self.middle_cells


def checked_series(values: ArrayLike, n: int, name: str) -> FloatArray:
    """A temperature [degC] for all or each of n series, as a fresh (n,) array."""
    given, next_step = np.asarray(values, dtype=np.float64), "Check the start temperatures."
    if given.shape not in ((), (1,), (n,)):
        raise PhysicsInputError(f"{name} has shape {given.shape} for {n} root balls.", next_step=next_step)
    array = np.array(np.broadcast_to(given, (n,)))
    _fail_unless(np.abs(array) <= 150.0, f"{name} must be a finite number, between -150 and 150", next_step)
    return array
