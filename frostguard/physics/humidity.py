"""Water vapour in air: saturation, dew point, and the heat that evaporation takes.

Vapour pressures are over liquid water, as in weather reports, where humidity below 0 degC still means humidity
over supercooled water.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from frostguard.errors import PhysicsInputError

FloatArray = NDArray[np.float64]

_WATER = (17.62, 243.12)
_AT_ZERO_HPA = 6.112


def saturation_vapour_pressure_water_hpa(air_temperature_c: ArrayLike) -> FloatArray:
    """Saturation vapour pressure over liquid water, below 0 degC over supercooled water.

    Parameters
    ----------
    air_temperature_c : float or ndarray
        Temperature [degC].

    Returns
    -------
    ndarray, same shape
        Vapour pressure [hPa]. Valid from -45 to 60 degC; within 0.3 % of the tables there.

    Notes
    -----
    Pure vapour: in moist air at sea level the true value is 0.4 to 0.5 % higher. That factor cancels in
    humidities and dew points and is left out.

    References
    ----------
    World Meteorological Organization, Guide to Instruments and Methods of Observation, WMO-No. 8, 2018,
    Annex 4.B (Magnus form; coefficients from memory, checked against ASHRAE and FAO-56 figures).
    """
    factor, offset_c = _WATER
    temperature_c = np.asarray(air_temperature_c, dtype=np.float64)
    pressure: FloatArray = _AT_ZERO_HPA * np.exp(factor * temperature_c / (offset_c + temperature_c))
    return pressure


def saturation_slope_water_hpa_k(air_temperature_c: ArrayLike) -> FloatArray:
    """How fast the saturation vapour pressure over liquid water rises with temperature.

    Parameters
    ----------
    air_temperature_c : float or ndarray
        Temperature [degC], -45 to 60.

    Returns
    -------
    ndarray, same shape
        Slope [hPa/K]: 0.44 at 0 degC.

    References
    ----------
    Derivative of `saturation_vapour_pressure_water_hpa`.
    """
    factor, offset_c = _WATER
    temperature_c = np.asarray(air_temperature_c, dtype=np.float64)
    slope: FloatArray = (
        saturation_vapour_pressure_water_hpa(temperature_c) * factor * offset_c / (offset_c + temperature_c) ** 2
    )
    return slope


def vapour_pressure_from_dew_point_hpa(dew_point_c: ArrayLike) -> FloatArray:
    """Actual vapour pressure of air whose dew point (over water) is known [hPa].

    Parameters
    ----------
    dew_point_c : float or ndarray
        Dew point over water [degC], -45 to 60; services report it over water below 0 degC too.

    Returns
    -------
    ndarray, same shape
        Vapour pressure [hPa]: the saturation pressure at the dew point, by definition.
    """
    return saturation_vapour_pressure_water_hpa(dew_point_c)


def dew_point_from_vapour_pressure_c(vapour_pressure_hpa: ArrayLike) -> FloatArray:
    """Dew point over water of air with a known vapour pressure.

    Parameters
    ----------
    vapour_pressure_hpa : float or ndarray
        Vapour pressure, above 0 [hPa].

    Returns
    -------
    ndarray, same shape
        Dew point [degC]: the exact inverse of `saturation_vapour_pressure_water_hpa`.

    Raises
    ------
    PhysicsInputError
        If a pressure is 0 or below.
    """
    pressure_hpa = np.asarray(vapour_pressure_hpa, dtype=np.float64)
    _refuse_if(pressure_hpa <= 0.0, "A vapour pressure is 0 hPa or below.")
    factor, offset_c = _WATER
    logarithm = np.log(pressure_hpa / _AT_ZERO_HPA)
    dew_point: FloatArray = offset_c * logarithm / (factor - logarithm)
    return dew_point


def dew_point_from_humidity_c(
    air_temperature_c: ArrayLike, relative_humidity_percent: ArrayLike
) -> FloatArray:
    """Dew point over water from air temperature and relative humidity.

    Parameters
    ----------
    air_temperature_c : float or ndarray
        Air temperature [degC], -45 to 60.
    relative_humidity_percent : float or ndarray, broadcastable
        Relative humidity over water, above 0 [%]. Slightly more than 100 occurs in fog and is used as it is.

    Returns
    -------
    ndarray, broadcast shape
        Dew point [degC].

    Raises
    ------
    PhysicsInputError
        If a humidity is 0 % or below.

    References
    ----------
    Inverse of the Magnus form of WMO-No. 8, 2018, Annex 4.B.
    """
    humidity = np.asarray(relative_humidity_percent, dtype=np.float64)
    _refuse_if(humidity <= 0.0, "A relative humidity is 0 % or below.")
    return dew_point_from_vapour_pressure_c(
        saturation_vapour_pressure_water_hpa(air_temperature_c) * humidity / 100.0
    )


def relative_humidity_percent(air_temperature_c: ArrayLike, dew_point_c: ArrayLike) -> FloatArray:
    """Relative humidity over water from air temperature and dew point.

    Parameters
    ----------
    air_temperature_c, dew_point_c : float or ndarray, broadcastable
        Air temperature and dew point over water [degC], -45 to 60.

    Returns
    -------
    ndarray, broadcast shape
        Relative humidity [%]; above 100 where the dew point given is above the air temperature.
    """
    saturation_hpa = saturation_vapour_pressure_water_hpa(air_temperature_c)
    humidity: FloatArray = 100.0 * saturation_vapour_pressure_water_hpa(dew_point_c) / saturation_hpa
    return humidity


def standard_pressure_hpa(elevation_m: ArrayLike) -> FloatArray:
    """Mean air pressure at a height above sea level.

    Parameters
    ----------
    elevation_m : float or ndarray
        Height above sea level [m], -500 to 6000.

    Returns
    -------
    ndarray, same shape
        Air pressure [hPa]; weather moves the true value by about 3 %, which moves films by less than 2 %.

    Raises
    ------
    PhysicsInputError
        If a height is outside the range.

    References
    ----------
    Allen et al., FAO-56, 1998, eq. 7.
    """
    height_m = np.asarray(elevation_m, dtype=np.float64)
    outside = (height_m < -500.0) | (height_m > 6000.0)
    _refuse_if(outside, "A height above sea level is outside -500 to 6000 m.")
    pressure: FloatArray = 1013.0 * ((293.0 - 0.0065 * height_m) / 293.0) ** 5.26
    return pressure


def psychrometric_constant_hpa_k(pressure_hpa: ArrayLike) -> FloatArray:
    """Ratio of heat to vapour carried by the same air stream.

    Parameters
    ----------
    pressure_hpa : float or ndarray
        Air pressure, above 0 [hPa].

    Returns
    -------
    ndarray, same shape
        Psychrometric constant [hPa/K].

    References
    ----------
    Allen et al., FAO-56, 1998, eq. 8 (latent heat 2.45 MJ/kg, specific heat of air 1.013 kJ/(kg K)).
    """
    constant: FloatArray = 0.000665 * np.asarray(pressure_hpa, dtype=np.float64)
    return constant


def evaporative_heat_loss_w_m2(
    convective_film_w_m2_k: ArrayLike,
    surface_vapour_pressure_hpa: ArrayLike,
    air_vapour_pressure_hpa: ArrayLike,
    pressure_hpa: ArrayLike,
) -> FloatArray:
    """Heat that a wet surface loses by evaporation, or gains (negative) by dew.

    Parameters
    ----------
    convective_film_w_m2_k : float or ndarray
        Convective film coefficient of the surface, without radiation [W/(m2 K)].
    surface_vapour_pressure_hpa, air_vapour_pressure_hpa : float or ndarray
        Vapour pressure at the wet surface (saturation at its temperature) and of the air [hPa].
    pressure_hpa : float or ndarray
        Air pressure, above 0 [hPa].

    Returns
    -------
    ndarray, broadcast shape
        Heat lost by the surface [W/m2].

    Notes
    -----
    Heat and vapour are taken to cross the film equally well (Lewis number 1); the true diffusion of vapour is
    about 10 % better, so the loss is about 10 % too small. A drying surface evaporates less: multiply by the
    share that is still wet.

    References
    ----------
    Bowen, The ratio of heat losses by conduction and by evaporation from any water surface, Physical Review
    27, 1926; psychrometric constant of FAO-56, eq. 8.
    """
    film, surface_hpa, air_hpa = (
        np.asarray(value, dtype=np.float64)
        for value in (convective_film_w_m2_k, surface_vapour_pressure_hpa, air_vapour_pressure_hpa)
    )
    loss: FloatArray = film * (surface_hpa - air_hpa) / psychrometric_constant_hpa_k(pressure_hpa)
    return loss


def _refuse_if(wrong: NDArray[np.bool_], sentence: str) -> None:
    """Raise for any true element; a missing value (NaN) is never true and passes through."""
    if np.any(wrong):
        raise PhysicsInputError(
            sentence, next_step="Check the weather file or the service's answer for that hour."
        )
