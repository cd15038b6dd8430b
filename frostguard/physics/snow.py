"""Snow as a blanket: how well it insulates, by its density."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from frostguard.errors import PhysicsInputError

FloatArray = NDArray[np.float64]


def sturm_snow_conductivity_w_m_k(snow_density_kg_m3: ArrayLike) -> FloatArray:
    """Conductivity of seasonal snow, by the quadratic fit.

    Parameters
    ----------
    snow_density_kg_m3 : float or ndarray
        Density, above 0 to 600 [kg/m3]: about 100 fresh, 200 after days, 300 wind-packed, 400 wet and old.

    Returns
    -------
    ndarray, same shape
        Conductivity [W/(m K)]. Single samples scatter by a factor of about 1.5 round the fit.

    Raises
    ------
    PhysicsInputError
        If a density is outside the range.

    References
    ----------
    Sturm, Holmgren, Konig and Morris, The thermal conductivity of seasonal snow, Journal of Glaciology 43,
    1997, 26-41 (coefficients from memory).
    """
    density = _grams_per_cm3(snow_density_kg_m3)
    dense = 0.138 - 1.01 * density + 3.233 * density * density
    conductivity: FloatArray = np.where(density < 0.156, 0.023 + 0.234 * density, dense)[()]
    return conductivity


def _grams_per_cm3(snow_density_kg_m3: ArrayLike) -> FloatArray:
    """Density in the unit of the fits, refused outside their range."""
    density = np.asarray(snow_density_kg_m3, dtype=np.float64)
    if np.any((density <= 0.0) | (density > 600.0)):
        raise PhysicsInputError(
            "A density of snow is outside 0 to 600 kg/m3.",
            next_step="Give between 100 (fresh) and 400 (old, wet).",
        )
    return density / 1000.0
