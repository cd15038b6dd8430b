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


def sturm_log_snow_conductivity_w_m_k(snow_density_kg_m3: ArrayLike) -> FloatArray:
    """Conductivity of seasonal snow, by the logarithmic fit of the same samples.

    Parameters
    ----------
    snow_density_kg_m3 : float or ndarray
        Density, above 0 to 600 [kg/m3].

    Returns
    -------
    ndarray, same shape
        Conductivity [W/(m K)].

    Raises
    ------
    PhysicsInputError
        If a density is outside the range.

    References
    ----------
    Sturm et al. 1997, as for `sturm_snow_conductivity_w_m_k` (coefficients from memory).
    """
    conductivity: FloatArray = 10.0 ** (2.650 * _grams_per_cm3(snow_density_kg_m3) - 1.652)
    return conductivity


def yen_snow_conductivity_w_m_k(snow_density_kg_m3: ArrayLike) -> FloatArray:
    """Conductivity of snow, by a power law that is higher for dense snow.

    Parameters
    ----------
    snow_density_kg_m3 : float or ndarray
        Density, above 0 to 600 [kg/m3].

    Returns
    -------
    ndarray, same shape
        Conductivity [W/(m K)]; too low for fresh snow.

    Raises
    ------
    PhysicsInputError
        If a density is outside the range.

    References
    ----------
    Yen, Review of thermal properties of snow, ice and sea ice, CRREL Report 81-10, 1981 (coefficients from
    memory).
    """
    conductivity: FloatArray = 2.22362 * _grams_per_cm3(snow_density_kg_m3) ** 1.885
    return conductivity


def snow_resistance_m2_k_w(snow_depth_m: ArrayLike, snow_density_kg_m3: ArrayLike) -> FloatArray:
    """Resistance of a level layer of snow.

    Parameters
    ----------
    snow_depth_m : float or ndarray
        Depth, 0 or more [m].
    snow_density_kg_m3 : float or ndarray
        Density, above 0 to 600 [kg/m3].

    Returns
    -------
    ndarray, broadcast shape
        Resistance [m2 K/W], with the quadratic fit of Sturm et al. 1997.

    Raises
    ------
    PhysicsInputError
        If a depth is negative or a density outside the range.
    """
    depth = np.asarray(snow_depth_m, dtype=np.float64)
    if np.any(depth < 0.0):
        raise PhysicsInputError(
            "A depth of snow is negative.", next_step="Check the weather file for that hour."
        )
    resistance: FloatArray = depth / sturm_snow_conductivity_w_m_k(snow_density_kg_m3)
    return resistance


def _grams_per_cm3(snow_density_kg_m3: ArrayLike) -> FloatArray:
    """Density in the unit of the fits, refused outside their range."""
    density = np.asarray(snow_density_kg_m3, dtype=np.float64)
    if np.any((density <= 0.0) | (density > 600.0)):
        raise PhysicsInputError(
            "A density of snow is outside 0 to 600 kg/m3.",
            next_step="Give between 100 (fresh) and 400 (old, wet).",
        )
    return density / 1000.0
