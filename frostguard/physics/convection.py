"""Convection: how readily a pot, the surface of its mix, or a leaf exchanges heat with moving air.

First the published correlations, each under its own name; then the films assembled from them. A film
coefficient is per m2 of surface and per kelvin between surface and air, without radiation.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from frostguard.errors import PhysicsInputError
from frostguard.physics.air import (
    GRAVITY_M_S2,
    ZERO_CELSIUS_KELVIN,
    air_in_a_film,
)

FloatArray = NDArray[np.float64]

TURBULENCE_FACTOR = 1.25
"""Forced film on a terrace over that of a long cylinder or sharp-edged plate in a smooth wind tunnel.

Estimate. Free-stream turbulence of 10 to 30 %, usual among roofs and rails, raises cylinder films by 10 to
50 %, and the free end of a short cylinder adds to it. One number for all of this, meant to be tuned by
readings.
"""

LEAF_TURBULENCE_FACTOR = 1.4
"""Forced film of a leaf outdoors over that of a flat plate in laminar flow.

Campbell and Norman, An Introduction to Environmental Biophysics, 2nd ed., 1998, ch. 7 (from memory).
"""

SMALLEST_TEMPERATURE_DIFFERENCE_K = 0.5
"""Natural convection is never taken weaker than at this difference between surface and air.

Estimate: a surface is never evenly warm, and air near it never quite at rest; without a floor the film
would vanish whenever the two temperatures cross.
"""


def reynolds(
    wind_speed_m_s: ArrayLike, length_m: ArrayLike, kinematic_viscosity_m2_s: ArrayLike
) -> FloatArray:
    """Reynolds number: inertia of the stream over its viscosity.

    Parameters
    ----------
    wind_speed_m_s : float or ndarray
        Speed of the stream, 0 or more [m/s].
    length_m : float or ndarray
        Diameter of a cylinder, or length of a plate along the stream [m].
    kinematic_viscosity_m2_s : float or ndarray
        At the mean of surface and air temperature [m2/s].

    Returns
    -------
    ndarray, broadcast shape
        Reynolds number [-].
    """
    speed, length, viscosity = _arrays(wind_speed_m_s, length_m, kinematic_viscosity_m2_s)
    number: FloatArray = speed * length / viscosity
    return number


def grashof(
    temperature_difference_k: ArrayLike,
    length_m: ArrayLike,
    mean_temperature_c: ArrayLike,
    kinematic_viscosity_m2_s: ArrayLike,
) -> FloatArray:
    """Grashof number of air: buoyancy over viscosity.

    Parameters
    ----------
    temperature_difference_k : float or ndarray
        Surface less air; the sign is ignored [K].
    length_m : float or ndarray
        Height of a wall; area over perimeter of a horizontal plate [m].
    mean_temperature_c : float or ndarray
        Mean of surface and air [degC]; an ideal gas expands by one part in its absolute temperature.
    kinematic_viscosity_m2_s : float or ndarray
        At that mean [m2/s].

    Returns
    -------
    ndarray, broadcast shape
        Grashof number [-].
    """
    difference, length, mean_c, viscosity = _arrays(
        temperature_difference_k, length_m, mean_temperature_c, kinematic_viscosity_m2_s
    )
    buoyancy = GRAVITY_M_S2 * np.abs(difference) / (mean_c + ZERO_CELSIUS_KELVIN)
    number: FloatArray = buoyancy * (length * length * length) / (viscosity * viscosity)
    return number


def rayleigh(
    temperature_difference_k: ArrayLike,
    length_m: ArrayLike,
    mean_temperature_c: ArrayLike,
    kinematic_viscosity_m2_s: ArrayLike,
    prandtl: ArrayLike,
) -> FloatArray:
    """Rayleigh number of air: Grashof times Prandtl number.

    Parameters
    ----------
    temperature_difference_k, length_m, mean_temperature_c, kinematic_viscosity_m2_s : float or ndarray
        As for `grashof`.
    prandtl : float or ndarray
        Prandtl number [-].

    Returns
    -------
    ndarray, broadcast shape
        Rayleigh number [-].
    """
    number: FloatArray = grashof(
        temperature_difference_k, length_m, mean_temperature_c, kinematic_viscosity_m2_s
    ) * np.asarray(prandtl, dtype=np.float64)
    return number


def churchill_bernstein_nusselt(reynolds: ArrayLike, prandtl: ArrayLike) -> FloatArray:
    """Mean Nusselt number of a long cylinder across a smooth stream.

    Parameters
    ----------
    reynolds : float or ndarray
        With the diameter, up to 1e7 [-].
    prandtl : float or ndarray
        Prandtl number; Reynolds times Prandtl above 0.2 [-].

    Returns
    -------
    ndarray, broadcast shape
        Nusselt number with the diameter [-]; 0.3 in still air, where natural convection takes over.

    Notes
    -----
    Correlations of different authors differ by 8 to 13 % at one Reynolds number. Turbulence of the wind and
    free ends are left out: too small a film outdoors, so too warm a pot.

    References
    ----------
    Churchill and Bernstein, A correlating equation for forced convection from gases and liquids to a circular
    cylinder in crossflow, Journal of Heat Transfer 99, 1977, eq. 9 (number from memory).
    """
    re, pr = _arrays(reynolds, prandtl)
    laminar = 0.62 * np.sqrt(re) * np.cbrt(pr) / (1.0 + (0.4 / pr) ** (2.0 / 3.0)) ** 0.25
    nusselt: FloatArray = 0.3 + laminar * (1.0 + (re / 282000.0) ** 0.625) ** 0.8
    return nusselt


def churchill_chu_plate_nusselt(rayleigh: ArrayLike, prandtl: ArrayLike) -> FloatArray:
    """Mean Nusselt number of a vertical wall in still air, over all Rayleigh numbers.

    Parameters
    ----------
    rayleigh : float or ndarray
        With the height, 0.1 to 1e12 [-].
    prandtl : float or ndarray
        Prandtl number [-].

    Returns
    -------
    ndarray, broadcast shape
        Nusselt number with the height [-].

    References
    ----------
    Churchill and Chu, Correlating equations for laminar and turbulent free convection from a vertical plate,
    International Journal of Heat and Mass Transfer 18, 1975, eq. 9 (number from memory).
    """
    ra, pr = _arrays(rayleigh, prandtl)
    root: FloatArray = 0.825 + 0.387 * ra ** (1.0 / 6.0) / (1.0 + (0.492 / pr) ** 0.5625) ** (8.0 / 27.0)
    return root * root


def popiel_slender_cylinder_factor(
    diameter_m: ArrayLike, height_m: ArrayLike, grashof: ArrayLike, prandtl: ArrayLike
) -> FloatArray:
    """Nusselt number of a vertical cylinder over that of a wall of the same height.

    Parameters
    ----------
    diameter_m, height_m : float or ndarray
        Size of the cylinder [m].
    grashof : float or ndarray
        With the height, above 0 [-].
    prandtl : float or ndarray
        Prandtl number, 0.01 to 100 [-].

    Returns
    -------
    ndarray, broadcast shape
        Factor, 1 for a wall and larger for slender cylinders [-]: 1.03 for a pot as wide as high.

    References
    ----------
    Popiel, Wojtkowiak and Bober, Laminar free convective heat transfer from isothermal vertical slender
    cylinder, Experimental Thermal and Fluid Science 32, 2007, 607-613 (constants as in the open library
    `ht`).
    """
    diameter, height, gr, pr = _arrays(diameter_m, height_m, grashof, prandtl)
    share = 0.0571322 + 0.20305 * pr**-0.43
    power = 0.9165 - 0.0043 * np.sqrt(pr) + 0.01333 * np.log(pr) + 0.0004809 / pr
    factor: FloatArray = 1.0 + share * (np.sqrt(32.0 / np.sqrt(gr)) * height / diameter) ** power
    return factor


def lloyd_moran_buoyant_plate_nusselt(rayleigh: ArrayLike) -> FloatArray:
    """Mean Nusselt number of a horizontal plate that sheds air: warm side up, or cold side down.

    Parameters
    ----------
    rayleigh : float or ndarray
        With area over perimeter, 1e4 to 1e11 [-]; below, for leaves, the laminar law is carried on, which
        is up to 10 % low.

    Returns
    -------
    ndarray, same shape
        Nusselt number with area over perimeter [-].

    Notes
    -----
    The larger of the laminar and the turbulent law, which cross at 4.7e6. The source switches at 1e7 and so
    jumps there by 6 %; between the two, this stays up to 6 % above it.

    References
    ----------
    McAdams, Heat Transmission, 3rd ed., 1954; Lloyd and Moran, Journal of Heat Transfer 96, 1974 (length
    scale).
    """
    ra = np.asarray(rayleigh, dtype=np.float64)
    nusselt: FloatArray = np.maximum(0.54 * np.sqrt(np.sqrt(ra)), 0.15 * np.cbrt(ra))
    return nusselt


def mcadams_stable_plate_nusselt(rayleigh: ArrayLike) -> FloatArray:
    """Mean Nusselt number of a horizontal plate under or over stable air: cold side up, or warm side down.

    Parameters
    ----------
    rayleigh : float or ndarray
        With area over perimeter, 1e5 to 1e10; carried on below for leaves [-].

    Returns
    -------
    ndarray, same shape
        Nusselt number with area over perimeter [-].

    References
    ----------
    McAdams, Heat Transmission, 3rd ed., 1954, as given in Bergman et al., 6th ed., 2011, ch. 9 (from memory).
    """
    nusselt: FloatArray = 0.27 * np.sqrt(np.sqrt(np.asarray(rayleigh, dtype=np.float64)))
    return nusselt


def laminar_plate_nusselt(reynolds: ArrayLike, prandtl: ArrayLike) -> FloatArray:
    """Mean Nusselt number of a flat plate along a smooth stream, laminar all the way.

    Parameters
    ----------
    reynolds : float or ndarray
        With the plate's length, up to 5e5 [-].
    prandtl : float or ndarray
        Prandtl number, above 0.6 [-].

    Returns
    -------
    ndarray, broadcast shape
        Nusselt number with the length [-].

    References
    ----------
    Pohlhausen 1921, as given in Bergman et al., Introduction to Heat Transfer, 6th ed., 2011, ch. 7 (from
    memory).
    """
    re, pr = _arrays(reynolds, prandtl)
    nusselt: FloatArray = 0.664 * np.sqrt(re) * np.cbrt(pr)
    return nusselt


def mixed_plate_nusselt(reynolds: ArrayLike, prandtl: ArrayLike) -> FloatArray:
    """Mean Nusselt number of a flat plate along a stream, laminar at first, then turbulent.

    Parameters
    ----------
    reynolds : float or ndarray
        With the plate's length, up to 1e8 [-].
    prandtl : float or ndarray
        Prandtl number, 0.6 to 60 [-].

    Returns
    -------
    ndarray, broadcast shape
        Nusselt number with the length [-]; the laminar value below a Reynolds number of 5e5.

    References
    ----------
    Bergman et al., Introduction to Heat Transfer, 6th ed., 2011, ch. 7 (from memory).
    """
    re, pr = _arrays(reynolds, prandtl)
    turbulent = (0.037 * re**0.8 - 871.0) * np.cbrt(pr)
    nusselt: FloatArray = np.maximum(laminar_plate_nusselt(re, pr), turbulent)
    return nusselt


def mixed_nusselt(forced: ArrayLike, natural: ArrayLike) -> FloatArray:
    """Forced and natural convection together where they help or cross each other, by the cube law.

    Parameters
    ----------
    forced, natural : float or ndarray
        Nusselt numbers with one length, or film coefficients.

    Returns
    -------
    ndarray, broadcast shape
        The combined number, in the unit given.

    References
    ----------
    Churchill, A comprehensive correlating equation for laminar, assisting, forced and free convection, AIChE
    Journal 23, 1977.
    """
    first, second = _arrays(forced, natural)
    combined: FloatArray = np.cbrt(first * first * first + second * second * second)
    return combined


def iso_6946_outside_film_w_m2_k(wind_speed_m_s: ArrayLike) -> FloatArray:
    """Convective film of a large outside wall by the building standard.

    Parameters
    ----------
    wind_speed_m_s : float or ndarray
        Wind beside the wall, 1 to 10 [m/s].

    Returns
    -------
    ndarray, same shape
        Film coefficient [W/(m2 K)]. For house walls; a pot's film is larger, being small.

    References
    ----------
    EN ISO 6946, annex on surface resistances (from memory).
    """
    film: FloatArray = 4.0 + 4.0 * np.asarray(wind_speed_m_s, dtype=np.float64)
    return film


def cylinder_side_film_w_m2_k(
    diameter_m: ArrayLike,
    height_m: ArrayLike,
    wind_speed_m_s: ArrayLike,
    surface_c: ArrayLike,
    air_temperature_c: ArrayLike,
    pressure_hpa: ArrayLike,
    turbulence_factor: ArrayLike = TURBULENCE_FACTOR,
) -> FloatArray:
    """Convective film of the side of a standing pot, mean over its circumference and height.

    Parameters
    ----------
    diameter_m, height_m : float or ndarray
        Outer diameter and height of the pot, above 0 [m].
    wind_speed_m_s : float or ndarray
        Wind at the pot, 0 or more [m/s].
    surface_c, air_temperature_c : float or ndarray
        Outer surface of the wall, and air [degC].
    pressure_hpa : float or ndarray
        Air pressure, above 0 [hPa].
    turbulence_factor : float or ndarray, default `TURBULENCE_FACTOR`
        Forced film over that of a long cylinder in smooth flow; 1 in a wind tunnel, tuned where readings
        exist.

    Returns
    -------
    ndarray, broadcast shape
        Film coefficient per m2 of outer wall [W/(m2 K)]; above 0 in still air and at equal temperatures.

    Raises
    ------
    PhysicsInputError
        If a size or pressure is 0 or below, or a wind speed negative.

    Notes
    -----
    Forced (Churchill and Bernstein) and natural (Churchill and Chu on a wall, with the addition of Popiel
    et al. for slender cylinders) by the cube law. Published scatter of the parts is about 15 %; the
    turbulence factor is less certain than that.
    """
    _check(lengths_m=(diameter_m, height_m), wind_speed_m_s=wind_speed_m_s, pressure_hpa=pressure_hpa)
    film_c, difference_k, conductivity, viscosity, prandtl = _film_air(
        surface_c, air_temperature_c, pressure_hpa
    )
    diameter, height, factor = _arrays(diameter_m, height_m, turbulence_factor)
    forced = churchill_bernstein_nusselt(reynolds(wind_speed_m_s, diameter, viscosity), prandtl) / diameter
    gr = grashof(difference_k, height, film_c, viscosity)
    natural = churchill_chu_plate_nusselt(gr * prandtl, prandtl) / height
    natural = natural * popiel_slender_cylinder_factor(diameter, height, gr, prandtl)
    film: FloatArray = conductivity * mixed_nusselt(factor * forced, natural)
    return film


def horizontal_surface_film_w_m2_k(
    length_m: ArrayLike,
    wind_speed_m_s: ArrayLike,
    surface_c: ArrayLike,
    air_temperature_c: ArrayLike,
    pressure_hpa: ArrayLike,
    turbulence_factor: ArrayLike = TURBULENCE_FACTOR,
) -> FloatArray:
    """Convective film of a level surface that faces up, such as the mix in a pot.

    Parameters
    ----------
    length_m : float or ndarray
        Diameter of a round surface or side of a square one, above 0 [m].
    wind_speed_m_s : float or ndarray
        Wind over the surface, 0 or more [m/s].
    surface_c, air_temperature_c : float or ndarray
        Surface and air [degC].
    pressure_hpa : float or ndarray
        Air pressure, above 0 [hPa].
    turbulence_factor : float or ndarray, default `TURBULENCE_FACTOR`
        Forced film over that of a sharp-edged plate in smooth flow.

    Returns
    -------
    ndarray, broadcast shape
        Film coefficient [W/(m2 K)]; above 0 in still air and at equal temperatures.

    Raises
    ------
    PhysicsInputError
        If a size or pressure is 0 or below, or a wind speed negative.

    Notes
    -----
    A surface warmer than the air adds rising air to the wind, by the cube law. Over a colder surface the
    air is stable and helps no wind: the larger of the two films counts. The rim of a pot, which shelters a
    low surface of mix, is left out: too large a film.
    """
    return _level_film(
        length_m,
        wind_speed_m_s,
        surface_c,
        air_temperature_c,
        pressure_hpa,
        turbulence_factor,
        warm_is_buoyant=True,
    )


def leaf_film_w_m2_k(
    leaf_width_m: ArrayLike,
    wind_speed_m_s: ArrayLike,
    leaf_c: ArrayLike,
    air_temperature_c: ArrayLike,
    pressure_hpa: ArrayLike,
    turbulence_factor: ArrayLike = LEAF_TURBULENCE_FACTOR,
) -> FloatArray:
    """Convective film of a level leaf, mean of its two sides, per m2 of one side.

    Parameters
    ----------
    leaf_width_m : float or ndarray
        Width of the leaf along the wind, above 0 [m].
    wind_speed_m_s : float or ndarray
        Wind at the leaf, 0 or more [m/s].
    leaf_c, air_temperature_c : float or ndarray
        Leaf and air [degC].
    pressure_hpa : float or ndarray
        Air pressure, above 0 [hPa].
    turbulence_factor : float or ndarray, default `LEAF_TURBULENCE_FACTOR`
        Forced film over that of a flat plate in laminar flow.

    Returns
    -------
    ndarray, broadcast shape
        Film coefficient per m2 of one side [W/(m2 K)]; a leaf exchanges twice this per m2 of leaf.

    Raises
    ------
    PhysicsInputError
        If a size or pressure is 0 or below, or a wind speed negative.

    Notes
    -----
    Sheltering by neighbouring leaves is left out: too large a film inside a dense crown, so too warm a leaf
    on a clear night there.
    """
    _check(lengths_m=(leaf_width_m,), wind_speed_m_s=wind_speed_m_s, pressure_hpa=pressure_hpa)
    film_c, difference_k, conductivity, viscosity, prandtl = _film_air(
        leaf_c, air_temperature_c, pressure_hpa
    )
    width, factor = _arrays(leaf_width_m, turbulence_factor)
    forced = factor * laminar_plate_nusselt(reynolds(wind_speed_m_s, width, viscosity), prandtl) / width
    scale = width / 4.0
    ra = rayleigh(difference_k, scale, film_c, viscosity, prandtl)
    buoyant_side = mixed_nusselt(forced, lloyd_moran_buoyant_plate_nusselt(ra) / scale)
    stable_side = np.maximum(forced, mcadams_stable_plate_nusselt(ra) / scale)
    film: FloatArray = conductivity * 0.5 * (buoyant_side + stable_side)
    return film


def _level_film(
    length_m: ArrayLike,
    wind_speed_m_s: ArrayLike,
    surface_c: ArrayLike,
    air_temperature_c: ArrayLike,
    pressure_hpa: ArrayLike,
    turbulence_factor: ArrayLike,
    *,
    warm_is_buoyant: bool,
) -> FloatArray:
    """Film of one level side, up or down."""
    _check(lengths_m=(length_m,), wind_speed_m_s=wind_speed_m_s, pressure_hpa=pressure_hpa)
    film_c, difference_k, conductivity, viscosity, prandtl = _film_air(
        surface_c, air_temperature_c, pressure_hpa
    )
    length, factor = _arrays(length_m, turbulence_factor)
    forced = factor * mixed_plate_nusselt(reynolds(wind_speed_m_s, length, viscosity), prandtl) / length
    scale = length / 4.0  # area over perimeter, of a disc and of a square alike
    ra = rayleigh(difference_k, scale, film_c, viscosity, prandtl)
    buoyant = mixed_nusselt(forced, lloyd_moran_buoyant_plate_nusselt(ra) / scale)
    stable = np.maximum(forced, mcadams_stable_plate_nusselt(ra) / scale)
    sheds_air = difference_k > 0.0 if warm_is_buoyant else difference_k < 0.0
    film: FloatArray = conductivity * np.where(sheds_air, buoyant, stable)
    return film


def _film_air(
    surface_c: ArrayLike, air_temperature_c: ArrayLike, pressure_hpa: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    """Mean temperature, signed difference (floored), and conductivity, viscosity, Prandtl number."""
    surface, air = _arrays(surface_c, air_temperature_c)
    film_c: FloatArray = 0.5 * (surface + air)
    gap = surface - air
    floor = SMALLEST_TEMPERATURE_DIFFERENCE_K
    difference_k: FloatArray = np.where(gap > 0.0, np.maximum(gap, floor), np.minimum(gap, -floor))
    return film_c, difference_k, *air_in_a_film(film_c, pressure_hpa)


def _check(*, lengths_m: tuple[ArrayLike, ...], wind_speed_m_s: ArrayLike, pressure_hpa: ArrayLike) -> None:
    """Refuse sizes, pressures and winds that cannot be; a missing value (NaN) passes through."""
    if any(np.any(np.asarray(length) <= 0.0) for length in lengths_m):
        raise PhysicsInputError(
            "A pot or leaf measures 0 m or less.", next_step="Check its size in the garden file."
        )
    if np.any(np.asarray(wind_speed_m_s) < 0.0) or np.any(np.asarray(pressure_hpa) <= 0.0):
        raise PhysicsInputError(
            "A wind speed is negative, or an air pressure not above 0 hPa.",
            next_step="Check the weather file or the service's answer for that hour.",
        )


def _arrays(*values: ArrayLike) -> tuple[FloatArray, ...]:
    """All values as float arrays."""
    return tuple(np.asarray(value, dtype=np.float64) for value in values)
