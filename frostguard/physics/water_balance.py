"""Water in a pot from day to day: what rains in, what dries off, what the mix holds."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from frostguard.physics.humidity import psychrometric_constant_hpa_k, saturation_vapour_pressure_water_hpa

FloatArray = NDArray[np.float64]

RAIN_FROM_SKY_VIEW, RAIN_TO_SKY_VIEW = 0.35, 0.85
"""Share of the sky seen from which rain reaches a pot, and from which all of it does: none under a roof, a third
under eaves; estimate."""

MELTS_ABOVE_C = 0.5
"""Air above which what falls is taken as rain; what falls colder is blown off or melts late, and is left out, which
errs dry, that is cold; estimate."""


def reference_evaporation_mm_h(
    net_radiation_w_m2: ArrayLike,
    air_temperature_c: ArrayLike,
    vapour_pressure_hpa: ArrayLike,
    wind_speed_m_s: ArrayLike,
    pressure_hpa: ArrayLike,
) -> FloatArray:
    """Water that well watered grass loses in an hour.

    Parameters
    ----------
    net_radiation_w_m2 : array_like
        Sun and long-wave that stay on the grass; negative by night [W/m2].
    air_temperature_c, vapour_pressure_hpa, wind_speed_m_s, pressure_hpa : array_like
        Air [degC, hPa], wind [m/s], pressure above 0 [hPa].

    Returns
    -------
    ndarray, broadcast shape
        Reference evapotranspiration, 0 or more [mm/h]; dew is not counted.

    References
    ----------
    Penman-Monteith by the hour, Allen et al., FAO Irrigation and Drainage Paper 56, 1998, eq. 53, with the heat into
    the soil of eq. 45 and 46 (from memory).
    """
    air = np.asarray(air_temperature_c, dtype=np.float64)
    wind = np.asarray(wind_speed_m_s, dtype=np.float64)
    received_mj_h = 0.0036 * np.asarray(net_radiation_w_m2, dtype=np.float64)
    kept_mj_h = np.where(received_mj_h > 0.0, 0.9, 0.5) * received_mj_h
    saturated_kpa = 0.1 * saturation_vapour_pressure_water_hpa(air)
    slope_kpa_k = 4098.0 * saturated_kpa / (air + 237.3) ** 2
    constant_kpa_k = 0.1 * psychrometric_constant_hpa_k(pressure_hpa)
    missing_kpa = np.maximum(saturated_kpa - 0.1 * np.asarray(vapour_pressure_hpa, dtype=np.float64), 0.0)
    by_wind = constant_kpa_k * 37.0 / (air + 273.0) * wind * missing_kpa
    loss = (0.408 * slope_kpa_k * kept_mj_h + by_wind) / (slope_kpa_k + constant_kpa_k * (1.0 + 0.34 * wind))
    return np.maximum(loss, 0.0)


def rain_share(sky_view: ArrayLike) -> FloatArray:
    """Share of the rain over open land that reaches a pot, by the share of the sky dome that it sees; estimate."""
    seen = np.asarray(sky_view, dtype=np.float64)
    return np.clip((seen - RAIN_FROM_SKY_VIEW) / (RAIN_TO_SKY_VIEW - RAIN_FROM_SKY_VIEW), 0.0, 1.0)


def drifted_water_fraction(
    start: FloatArray,
    *,
    gain: FloatArray,
    loss: FloatArray,
    least: FloatArray,
    watered_to: FloatArray,
    dry: FloatArray,
    moist: FloatArray,
    capacity: FloatArray,
) -> FloatArray:
    """Water in pots after some hours of rain and drying.

    Parameters
    ----------
    start : ndarray, shape (n,)
        Water at the beginning [m3/m3].
    gain, loss : ndarray, shape (n_hours, n)
        What rain adds in each hour, and what dries off a moist mix, as shares of the mix's volume [m3/m3].
    least : ndarray, shape (n_hours, n)
        Below this the gardener lets no pot get in that hour; `dry` where nobody waters.
    watered_to : ndarray, shape (n_hours, n)
        What a pot holds at the least once that hour is over, because it was watered then; 0 where it was not.
    dry, moist, capacity : ndarray, shape (n,)
        A mix at `dry` gives off nothing more, at `moist` all that is asked, between in proportion. What is above
        `capacity` drains off.

    Returns
    -------
    ndarray, shape (n,)
        Water at the end [m3/m3].

    Notes
    -----
    One bucket: how the water spreads within the pot is `substrate.wetter_below`'s.

    References
    ----------
    Bucket with a loss that falls with what is left, as the stress coefficient of FAO-56, eq. 84.
    """
    water: FloatArray = np.array(start, dtype=np.float64)
    span = np.maximum(moist - dry, 1e-6)
    highest = np.maximum(capacity, water)
    for hour in range(gain.shape[0]):
        supply = np.clip((water - dry) / span, 0.0, 1.0)
        water = np.minimum(np.maximum(water - loss[hour] * supply, np.minimum(least[hour], water)), highest)
        water = np.maximum(np.minimum(water + gain[hour], highest), watered_to[hour])
    return water
