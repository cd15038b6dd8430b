"""Pot walls and what is wrapped round them, as resistances per m2 of the mix's side.

A wall is a ring: heat leaves through more area than it enters. Every resistance, heat capacity and film
here is brought to one area, the inner one, so that they add up. Contact between mix and wall is taken as
perfect; a mix that has dried and shrunk from the wall is better insulated than this says.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from frostguard.errors import PhysicsInputError
from frostguard.physics.substrate import ICE_CONDUCTIVITY_W_M_K, WATER_CONDUCTIVITY_W_M_K

FloatArray = NDArray[np.float64]


def annulus_resistance_m2_k_w(
    inner_radius_m: ArrayLike, thickness_m: ArrayLike, conductivity_w_m_k: ArrayLike
) -> FloatArray:
    """Resistance of a ring, per m2 of its inner side.

    Parameters
    ----------
    inner_radius_m, thickness_m : float or ndarray
        Inner radius, above 0, and thickness, 0 or more [m].
    conductivity_w_m_k : float or ndarray
        Conductivity of the ring, above 0 [W/(m K)].

    Returns
    -------
    ndarray, broadcast shape
        Resistance [m2 K/W].

    Raises
    ------
    PhysicsInputError
        If a value is outside its range.

    References
    ----------
    Exact solution of steady conduction in a cylinder: r ln(R / r) / k.
    """
    return wrap_resistance_m2_k_w(inner_radius_m, inner_radius_m, thickness_m, conductivity_w_m_k)


def annulus_heat_capacity_j_m2_k(
    inner_radius_m: ArrayLike,
    thickness_m: ArrayLike,
    density_kg_m3: ArrayLike,
    specific_heat_j_kg_k: ArrayLike,
) -> FloatArray:
    """Heat capacity of a ring, per m2 of its inner side.

    Parameters
    ----------
    inner_radius_m, thickness_m : float or ndarray
        Inner radius, above 0, and thickness, 0 or more [m].
    density_kg_m3, specific_heat_j_kg_k : float or ndarray
        Of the ring [kg/m3], [J/(kg K)].

    Returns
    -------
    ndarray, broadcast shape
        Heat capacity [J/(m2 K)].

    Raises
    ------
    PhysicsInputError
        If a value is outside its range.
    """
    inner, thickness, density, specific_heat = _arrays(
        inner_radius_m, thickness_m, density_kg_m3, specific_heat_j_kg_k
    )
    _check_positive("The radius of a pot", inner)
    _check_not_negative("A wall", thickness, density, specific_heat)
    outer = inner + thickness
    capacity: FloatArray = density * specific_heat * (outer * outer - inner * inner) / (2.0 * inner)
    return capacity


def outer_area_ratio(inner_radius_m: ArrayLike, thickness_m: ArrayLike) -> FloatArray:
    """Outer over inner side area of a ring: what an outside film gains when it is counted per inner m2.

    Parameters
    ----------
    inner_radius_m, thickness_m : float or ndarray
        Inner radius, above 0, and thickness, 0 or more, of wall and wraps together [m].

    Returns
    -------
    ndarray, broadcast shape
        Ratio, 1 or more [-].

    Raises
    ------
    PhysicsInputError
        If a value is outside its range.
    """
    inner, thickness = _arrays(inner_radius_m, thickness_m)
    _check_positive("The radius of a pot", inner)
    _check_not_negative("A wall", thickness)
    ratio: FloatArray = 1.0 + thickness / inner
    return ratio


def wrap_resistance_m2_k_w(
    inner_radius_m: ArrayLike,
    wrapped_radius_m: ArrayLike,
    thickness_m: ArrayLike,
    conductivity_w_m_k: ArrayLike,
) -> FloatArray:
    """Resistance that a wrap adds, per m2 of the mix's side.

    Parameters
    ----------
    inner_radius_m : float or ndarray
        Radius of the mix, above 0 [m].
    wrapped_radius_m : float or ndarray
        Radius on which the wrap lies: outside of the wall, or of the wrap before; not below the inner one
        [m].
    thickness_m : float or ndarray
        Thickness of the wrap, 0 or more [m].
    conductivity_w_m_k : float or ndarray
        Its conductivity, above 0 [W/(m K)].

    Returns
    -------
    ndarray, broadcast shape
        Resistance [m2 K/W]: less than on a flat wall, since the wrap lies on a wider ring.

    Raises
    ------
    PhysicsInputError
        If a value is outside its range.

    Notes
    -----
    The wrap also widens the pot, so the outside film acts on more area: use `outer_area_ratio` of wall and
    wrap.

    References
    ----------
    Exact solution of steady conduction in a cylinder.
    """
    inner, wrapped, thickness, conductivity = _arrays(
        inner_radius_m, wrapped_radius_m, thickness_m, conductivity_w_m_k
    )
    _check_positive("The radius of a pot", inner)
    _check_positive("The conductivity of a wall or wrap", conductivity)
    _check_not_negative("A wall or wrap", thickness, wrapped - inner)
    resistance: FloatArray = inner * np.log1p(thickness / wrapped) / conductivity
    return resistance


def sheet_resistance_m2_k_w(
    inner_radius_m: ArrayLike, wrapped_radius_m: ArrayLike, resistance_m2_k_w: ArrayLike
) -> FloatArray:
    """Resistance that a thin sheet of known resistance adds, per m2 of the mix's side.

    Parameters
    ----------
    inner_radius_m, wrapped_radius_m : float or ndarray
        Radius of the mix, above 0, and that on which the sheet lies, not below it [m].
    resistance_m2_k_w : float or ndarray
        Of the sheet per m2 of its own, 0 or more [m2 K/W].

    Returns
    -------
    ndarray, broadcast shape
        Resistance per m2 of the mix's side [m2 K/W].

    Raises
    ------
    PhysicsInputError
        If a value is outside its range.
    """
    inner, wrapped, sheet = _arrays(inner_radius_m, wrapped_radius_m, resistance_m2_k_w)
    _check_positive("The radius of a pot", inner)
    _check_not_negative("A sheet", sheet, wrapped - inner)
    resistance: FloatArray = sheet * inner / wrapped
    return resistance


def wet_fibre_conductivity_w_m_k(
    dry_conductivity_w_m_k: ArrayLike, porosity: ArrayLike, water_fraction: ArrayLike, *, frozen: bool
) -> FloatArray:
    """Conductivity of jute, coir, felt or wool that has taken up water.

    Parameters
    ----------
    dry_conductivity_w_m_k : float or ndarray
        Of the dry fibre mat, above 0 [W/(m K)].
    porosity : float or ndarray
        Share of the mat that is not fibre, above 0, at most 1; felt about 0.9.
    water_fraction : float or ndarray
        Water in the mat, 0 to the porosity [m3/m3].
    frozen : bool
        Whether that water is ice.

    Returns
    -------
    ndarray, broadcast shape
        Conductivity [W/(m K)]: soaked felt conducts ten times better than dry.

    Raises
    ------
    PhysicsInputError
        If a value is outside its range.

    Notes
    -----
    Water is taken to replace air side by side along the flow of heat, the highest conductivity that such a
    mixture can have: on the safe side, that is, too cold a pot.

    References
    ----------
    Upper bound of Wiener 1912 for two phases in parallel.
    """
    dry, pores, water = _arrays(dry_conductivity_w_m_k, porosity, water_fraction)
    _check_positive("The conductivity or porosity of a fibre mat", dry, pores)
    _check_not_negative("The water in a fibre mat", water, pores - water)
    filling = ICE_CONDUCTIVITY_W_M_K if frozen else WATER_CONDUCTIVITY_W_M_K
    conductivity: FloatArray = dry + (filling - dry) * water / pores
    return conductivity


def freeze_thaw_cycles(
    temperature_c: ArrayLike, *, freezes_below_c: float = -1.0, thaws_above_c: float = 0.0
) -> NDArray[np.int_]:
    """How often something wet froze and thawed again: a clay wall, or the top of a mix.

    Parameters
    ----------
    temperature_c : ndarray, shape (n_hours, ...)
        Its temperature, in order of time [degC]. A missing value changes nothing.
    freezes_below_c : float, default -1
        Water in fine pores of fired clay freezes somewhat below 0 degC (estimate); 0 for the mix [degC].
    thaws_above_c : float, default 0
        Not below the former [degC].

    Returns
    -------
    ndarray of int, shape (...)
        Finished cycles. A wall that is still frozen at the end has not finished its last one.

    Raises
    ------
    PhysicsInputError
        If it would thaw at a lower temperature than it freezes.

    Notes
    -----
    Each cycle of a wall that is full of water can break it; dry clay takes no harm.
    """
    if thaws_above_c < freezes_below_c:
        raise PhysicsInputError(
            "A wall would thaw at a lower temperature than it freezes.",
            next_step="Give a thawing temperature that is not below the freezing one.",
        )
    temperature = np.asarray(temperature_c, dtype=np.float64)
    frozen = np.zeros(temperature.shape[1:], dtype=np.bool_)
    cycles = np.zeros(temperature.shape[1:], dtype=np.int_)
    for hour_c in temperature:
        thaws = frozen & (hour_c > thaws_above_c)
        cycles = cycles + thaws
        frozen = (frozen & ~thaws) | (hour_c < freezes_below_c)
    return cycles


def _check_positive(what: str, *values: ArrayLike) -> None:
    """Refuse 0 and below."""
    if any(np.any(np.asarray(value) <= 0.0) for value in values):
        raise PhysicsInputError(
            f"{what} has a size or property that is not above 0.",
            next_step="Check the pot in the garden file.",
        )


def _check_not_negative(what: str, *values: ArrayLike) -> None:
    """Refuse values below 0."""
    if any(np.any(np.asarray(value) < 0.0) for value in values):
        raise PhysicsInputError(
            f"{what} has a size or property outside its range.", next_step="Check the pot in the garden file."
        )


def _arrays(*values: ArrayLike) -> tuple[FloatArray, ...]:
    """All values as float arrays."""
    return tuple(np.asarray(value, dtype=np.float64) for value in values)
