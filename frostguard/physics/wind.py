"""Wind: from the weather service's 10 m over open land to a terrace above suburb or city, and its gusts."""

from __future__ import annotations

from enum import Enum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from frostguard.errors import PhysicsInputError

FloatArray = NDArray[np.float64]

OPEN_LAND_ROUGHNESS_M = 0.03
"""Roughness length of the open grass over which stations measure [m]; WMO-No. 8, ch. 5 (from memory)."""

FORECAST_HEIGHT_M = 10.0
"""Height for which services give the wind [m]; WMO-No. 8."""

BLENDING_HEIGHT_M = 60.0
"""Height at which the wind no longer knows the roughness just below [m]; Wieringa, Quarterly Journal of the
Royal Meteorological Society 112, 867-889, 1986 (from memory)."""


class TerrainCategory(Enum):
    """Roughness length [m] and least height for which a profile holds [m]; EN 1991-1-4:2005, table 4.1."""

    SEA = (0.003, 1.0)
    FLAT = (0.01, 1.0)
    OPEN_COUNTRY = (0.05, 2.0)
    SUBURB = (0.3, 5.0)
    CITY = (1.0, 10.0)

    @property
    def roughness_m(self) -> float:
        """Roughness length [m]."""
        return self.value[0]

    @property
    def minimum_height_m(self) -> float:
        """Below this height the wind is taken as at it [m]."""
        return self.value[1]


def least_height_m(roughness_m: float) -> float:
    """Height below which a wind profile over this roughness means nothing.

    Parameters
    ----------
    roughness_m : float
        Roughness length, 0.0001 to 2 [m].

    Returns
    -------
    float
        The least height of the roughest category of EN 1991-1-4 that is no rougher than this; at least
        1 m, and never below ten roughness lengths.

    References
    ----------
    EN 1991-1-4:2005, table 4.1 (from memory).
    """
    _check_roughness(roughness_m)
    listed = [c.minimum_height_m for c in TerrainCategory if c.roughness_m <= roughness_m * (1.0 + 1e-9)]
    return max(1.0, 10.0 * roughness_m, *listed)


def log_profile_factor(
    height_m: ArrayLike, roughness_m: float, from_height_m: ArrayLike = FORECAST_HEIGHT_M
) -> FloatArray:
    """Wind at one height over wind at another, above the same surface in neutral air.

    Parameters
    ----------
    height_m, from_height_m : array_like
        The height wanted and the height known, both above the roughness length [m].
    roughness_m : float
        Roughness length [m].

    Returns
    -------
    ndarray
        Factor; 0.72 from 10 to 2 m over open land.

    Raises
    ------
    PhysicsInputError
        If a height is not above the roughness length, or that is out of range.

    Notes
    -----
    On clear calm nights the air is layered and the wind near the floor is weaker than this says.

    References
    ----------
    Logarithmic law of the wall, u ~ ln(z/z0); no displacement height.
    """
    _check_roughness(roughness_m)
    height = np.asarray(height_m, dtype=float)
    from_height = np.asarray(from_height_m, dtype=float)
    if np.any(height <= roughness_m) or np.any(from_height <= roughness_m):
        raise PhysicsInputError(
            f"A wind profile over a roughness length of {roughness_m} m starts above that height.",
            next_step="Give heights above the roughness length, in metres over the ground.",
        )
    return np.asarray(np.log(height / roughness_m) / np.log(from_height / roughness_m))


def wind_at_height_m_s(wind_speed_10m_m_s: ArrayLike, height_m: float, roughness_m: float) -> FloatArray:
    """Wind above a terrace, from the forecast's 10 m over open land.

    Parameters
    ----------
    wind_speed_10m_m_s : array_like
        Forecast wind, 10 m over open land [m/s].
    height_m : float
        Height of the terrace above the street [m]. Below `least_height_m` that height is taken, above
        the blending height that.
    roughness_m : float
        Roughness length of the land around, such as `TerrainCategory.SUBURB.roughness_m` [m].

    Returns
    -------
    ndarray
        Wind in the open at that height [m/s]; walls and railings come on top as the spot's own share.

    Raises
    ------
    PhysicsInputError
        If height or roughness are out of range.

    Notes
    -----
    Up by the log law over open land to 60 m, where both profiles meet, and down by the log law over the
    rougher land. Neutral air, no displacement by roofs: over a dense city it errs to more wind, the
    careful side for roots, the other side for leaves on clear nights.

    References
    ----------
    Two-layer transformation of Wieringa 1986; the blending height of 60 m is his (from memory).
    """
    if height_m < 0.0:
        raise PhysicsInputError(
            f"A terrace cannot stand {-height_m} m below the street.",
            next_step="Give the height of the terrace above the ground in metres, 0 or more.",
        )
    height = min(max(height_m, least_height_m(roughness_m)), BLENDING_HEIGHT_M)
    aloft = log_profile_factor(BLENDING_HEIGHT_M, OPEN_LAND_ROUGHNESS_M, FORECAST_HEIGHT_M)
    down = log_profile_factor(height, roughness_m, BLENDING_HEIGHT_M)
    return np.asarray(np.asarray(wind_speed_10m_m_s, dtype=float) * aloft * down)


def turbulence_intensity(height_m: ArrayLike, terrain: TerrainCategory) -> FloatArray:
    """Standard deviation of the wind over its mean, in strong wind.

    Parameters
    ----------
    height_m : array_like
        Height above ground, to 200 [m].
    terrain : TerrainCategory
        The land upwind.

    Returns
    -------
    ndarray
        Intensity; 0.19 at 10 m over open country.

    References
    ----------
    EN 1991-1-4:2005, eq. 4.7, turbulence and orography factors 1 (from memory).
    """
    height = np.maximum(np.asarray(height_m, dtype=float), terrain.minimum_height_m)
    return np.asarray(1.0 / np.log(height / terrain.roughness_m))


def gust_factor(height_m: ArrayLike, terrain: TerrainCategory) -> FloatArray:
    """Gust over mean wind, in strong wind.

    Parameters
    ----------
    height_m : array_like
        Height above ground, to 200 [m].
    terrain : TerrainCategory
        The land upwind.

    Returns
    -------
    ndarray
        Factor; 1.52 at 10 m over open country.

    References
    ----------
    EN 1991-1-4:2005, eq. 4.8: peak pressure over mean pressure is 1 + 7 I (from memory).
    """
    return np.asarray(np.sqrt(1.0 + 7.0 * turbulence_intensity(height_m, terrain)))


def _check_roughness(roughness_m: float) -> None:
    """Refuse a roughness length that no land has."""
    if not 1e-4 <= roughness_m <= 2.0:
        raise PhysicsInputError(
            f"A roughness length of {roughness_m} m fits no land.",
            next_step="Give 0.03 m for open land, 0.3 m for a suburb, 1 m for a city.",
        )
