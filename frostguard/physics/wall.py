"""Pot walls and what is wrapped round them, as resistances per m2 of the mix's side.

A wall is a ring: heat leaves through more area than it enters. Every resistance, heat capacity and film
here is brought to one area, the inner one, so that they add up. Contact between mix and wall is taken as
perfect; a mix that has dried and shrunk from the wall is better insulated than this says.
"""

from __future__ import annotations

from enum import Enum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from frostguard.errors import PhysicsInputError
from frostguard.physics.substrate import ICE_CONDUCTIVITY_W_M_K, WATER_CONDUCTIVITY_W_M_K

FloatArray = NDArray[np.float64]

EXPANDED_POLYSTYRENE_CONDUCTIVITY_W_M_K = 0.0355
"""Bead board of 20 kg/m3 (ASHRAE Handbook of Fundamentals, 2013, as in the open library `ht`)."""

BUBBLE_FILM_SHARE_OF_AIR_LAYER = 0.8
"""Resistance of bubble film over that of a sealed air layer of its thickness.

Estimate: between the bubbles, on about a fifth of the area, the two skins touch. No measured resistance on a
pot was found.
"""


class HeatDirection(Enum):
    """Which way heat crosses a layer of air."""

    SIDEWAYS = "sideways"
    UP = "up"
    DOWN = "down"


# EN ISO 6946:2007, table 2 (from memory): unventilated air layers between surfaces of emissivity 0.9 and
# more, thickness [m] and resistance [m2 K/W]. Thick layers gain nothing, since the air turns over in them.
_AIR_LAYER_THICKNESS_M = (0.0, 0.005, 0.007, 0.010, 0.015, 0.025, 0.050, 0.100, 0.300)
_AIR_LAYER_RESISTANCE_M2_K_W = {
    HeatDirection.SIDEWAYS: (0.00, 0.11, 0.13, 0.15, 0.17, 0.18, 0.18, 0.18, 0.18),
    HeatDirection.UP: (0.00, 0.11, 0.13, 0.15, 0.16, 0.16, 0.16, 0.16, 0.16),
    HeatDirection.DOWN: (0.00, 0.11, 0.13, 0.15, 0.17, 0.19, 0.21, 0.22, 0.23),
}


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


def plate_resistance_m2_k_w(thickness_m: ArrayLike, conductivity_w_m_k: ArrayLike) -> FloatArray:
    """Resistance of a level layer, such as the base of a pot, a board under it, or mulch.

    Parameters
    ----------
    thickness_m : float or ndarray
        Thickness, 0 or more [m].
    conductivity_w_m_k : float or ndarray
        Conductivity, above 0 [W/(m K)].

    Returns
    -------
    ndarray, broadcast shape
        Resistance [m2 K/W].

    Raises
    ------
    PhysicsInputError
        If a value is outside its range.
    """
    thickness, conductivity = _arrays(thickness_m, conductivity_w_m_k)
    _check_not_negative("A layer", thickness)
    _check_positive("The conductivity of a layer", conductivity)
    resistance: FloatArray = thickness / conductivity
    return resistance


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


def series_film_w_m2_k(outer_film_w_m2_k: ArrayLike, added_resistance_m2_k_w: ArrayLike) -> FloatArray:
    """Film of a surface with a resistance in front of it, both per m2 of the same area.

    Parameters
    ----------
    outer_film_w_m2_k : float or ndarray
        Film outside, 0 or more; 0 means fully insulated [W/(m2 K)].
    added_resistance_m2_k_w : float or ndarray
        Resistance in front, 0 or more [m2 K/W].

    Returns
    -------
    ndarray, broadcast shape
        Film of both together [W/(m2 K)], never above the outer film.

    Raises
    ------
    PhysicsInputError
        If a value is negative.
    """
    film, resistance = _arrays(outer_film_w_m2_k, added_resistance_m2_k_w)
    _check_not_negative("A film or resistance", film, resistance)
    together: FloatArray = film / (1.0 + film * resistance)
    return together


def closed_air_layer_resistance_m2_k_w(
    thickness_m: ArrayLike, direction: HeatDirection = HeatDirection.SIDEWAYS
) -> FloatArray:
    """Resistance of a layer of air that nothing blows through.

    Parameters
    ----------
    thickness_m : float or ndarray
        Thickness of the layer, 0 to 0.3 [m].
    direction : HeatDirection, default SIDEWAYS
        Which way the heat flows.

    Returns
    -------
    ndarray, same shape
        Resistance [m2 K/W], linear between the standard's thicknesses.

    Raises
    ------
    PhysicsInputError
        If a thickness is outside the range.

    Notes
    -----
    For walls of ordinary emissivity at about 10 degC; about a tenth more at 0 degC, which is left out. A
    layer open to the wind at the rim has almost nothing of this.

    References
    ----------
    EN ISO 6946:2007, table 2 (from memory).
    """
    thickness = np.asarray(thickness_m, dtype=np.float64)
    if np.any((thickness < 0.0) | (thickness > _AIR_LAYER_THICKNESS_M[-1])):
        raise PhysicsInputError(
            "A layer of air is thinner than nothing or thicker than 0.3 m.",
            next_step="Check the thickness of the pot's wall or cover.",
        )
    resistance: FloatArray = np.asarray(
        np.interp(thickness, _AIR_LAYER_THICKNESS_M, _AIR_LAYER_RESISTANCE_M2_K_W[direction])
    )
    return resistance


def bubble_film_resistance_m2_k_w(thickness_m: ArrayLike, layers: ArrayLike = 1.0) -> FloatArray:
    """Resistance of dry bubble film, per m2 of its own.

    Parameters
    ----------
    thickness_m : float or ndarray
        Thickness of one layer, 0 to 0.3, usually 0.004 to 0.010 [m].
    layers : float or ndarray, default 1
        How many layers, 0 or more.

    Returns
    -------
    ndarray, broadcast shape
        Resistance [m2 K/W], always below that of as many sealed air layers.

    Raises
    ------
    PhysicsInputError
        If a value is outside its range.

    Notes
    -----
    Wet between the layers, or loose so that wind gets under it, it is worth much less.
    """
    count = np.asarray(layers, dtype=np.float64)
    _check_not_negative("A number of layers", count)
    resistance: FloatArray = (
        BUBBLE_FILM_SHARE_OF_AIR_LAYER * count * closed_air_layer_resistance_m2_k_w(thickness_m)
    )
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
