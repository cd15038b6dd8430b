"""Potting mixes: how well they conduct and store heat, wet or dry, thawed or frozen, and what freezes.

Water content is a volume fraction of the whole mix (m3 of liquid water per m3), porosity likewise. Ice is
counted as the water that it was, so nothing swells.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from frostguard.errors import PhysicsInputError

FloatArray = NDArray[np.float64]

WATER_CONDUCTIVITY_W_M_K = 0.57
"""Water near 0 degC; handbooks give 0.561.

De Vries 1963, as in Moene and van Dam, Transport in the Atmosphere-Vegetation-Soil Continuum, 2014,
table 2.2.
"""

ICE_CONDUCTIVITY_W_M_K = 2.24
"""Ice near 0 degC (Cote and Konrad 2005, from memory; EN 12524 gives 2.2)."""

WATER_HEAT_CAPACITY_J_M3_K = 4.217e6
"""Per m3 of water at 0 degC: 999.8 kg/m3 times 4218 J/(kg K) (handbook value, from memory)."""

ICE_HEAT_CAPACITY_J_M3_K = 2.09e6
"""Per m3 of the water that froze: 999.8 kg/m3 times 2090 J/(kg K) (as in Moene and van Dam 2014)."""

LATENT_HEAT_J_M3 = 333.55e6
"""Heat of fusion per m3 of water (handbook value, from memory)."""

FREEZING_START_C = 0.0
FREEZING_END_C = -0.8
"""Interval in which the water of peat freezes.

Kujala, Seppala and Holappa, Physical properties of peat and palsa formation, Cold Regions Science and
Technology 52, 2008.
"""

PEAT_BOUND_WATER_FRACTION = 0.03
"""Liquid water left in peat at -0.8 degC [m3/m3], by the retention curve of fibric peat: ice sucks with
1.221 MPa/K (Clausius-Clapeyron), so with 99.6 m of water there, and 0.9 (99.6/0.0103)^(-1/2.7) is
left (Clapp & Hornberger 1978 with the constants of Letts et al., Atmosphere-Ocean 38, 2000)."""


@dataclass(frozen=True, slots=True)
class CoteKonradSoil:
    """Constants of one texture in the model of Cote and Konrad.

    Parameters
    ----------
    dry_factor_w_m_k, dry_slope : float
        The dry conductivity is the factor times ten to the minus slope times porosity [W/(m K)], [-].
    kersten_unfrozen, kersten_frozen : float
        How soon water bridges between grains carry the heat, thawed and frozen [-].
    """

    dry_factor_w_m_k: float
    dry_slope: float
    kersten_unfrozen: float
    kersten_frozen: float


# Cote and Konrad, A generalized thermal conductivity model for soils and construction materials, Canadian
# Geotechnical Journal 42, 2005, 443-458 (constants from memory; checked against measured peat and sand).
PEAT = CoteKonradSoil(0.30, 0.87, 0.60, 0.25)
SILT_AND_CLAY = CoteKonradSoil(0.75, 1.20, 1.90, 0.85)
SAND = CoteKonradSoil(0.75, 1.20, 3.55, 0.95)
GRAVEL = CoteKonradSoil(1.70, 1.80, 4.60, 1.70)

ORGANIC_SOLIDS_CONDUCTIVITY_W_M_K = 0.25
"""De Vries 1963, as in Moene and van Dam 2014, table 2.2; also Farouki 1986."""

ORGANIC_SOLIDS_HEAT_CAPACITY_J_M3_K = 2.5e6
"""1300 kg/m3 times 1900 J/(kg K), as above; also Farouki 1986.

Gnatowski et al. (Applied Sciences 12, 2022, 1579) measured 1202 J/(kg K) at 0 degC, a third less; solids are
a tenth of a mix, so this moves a moist one by 4 %.
"""


@dataclass(frozen=True, slots=True)
class MixProperties:
    """A mix at one wetness, as the root ball needs it; numbers, or arrays of one shape.

    Conductivities in W/(m K), heat capacities in J/(m3 K), freezable water in m3/m3. Between the two
    temperatures [degC] the share of freezable water that is ice grows from 0 to 1.
    """

    conductivity_unfrozen_w_m_k: FloatArray
    conductivity_frozen_w_m_k: FloatArray
    heat_capacity_unfrozen_j_m3_k: FloatArray
    heat_capacity_frozen_j_m3_k: FloatArray
    freezable_water_fraction: FloatArray
    freezing_start_c: FloatArray
    freezing_end_c: FloatArray


def cote_konrad_dry_conductivity_w_m_k(porosity: ArrayLike, soil: CoteKonradSoil = PEAT) -> FloatArray:
    """Conductivity of a dry mix.

    Parameters
    ----------
    porosity : float or ndarray
        Share of the volume that is not solid, 0 to 1.
    soil : CoteKonradSoil, default PEAT
        Texture; bark and other fibrous organic mixes count as peat.

    Returns
    -------
    ndarray, same shape
        Conductivity [W/(m K)].

    References
    ----------
    Cote and Konrad, Canadian Geotechnical Journal 42, 2005, 443-458 (eq. and constants from memory).
    """
    conductivity: FloatArray = soil.dry_factor_w_m_k * 10.0 ** (
        -soil.dry_slope * np.asarray(porosity, dtype=np.float64)
    )
    return conductivity


def cote_konrad_saturated_conductivity_w_m_k(
    porosity: ArrayLike, solids_conductivity_w_m_k: ArrayLike
) -> FloatArray:
    """Conductivity of a mix with all pores full of liquid water: geometric mean of solids and water.

    Parameters
    ----------
    porosity : float or ndarray
        Share of the volume that is not solid, 0 to 1.
    solids_conductivity_w_m_k : float or ndarray
        Conductivity of the solids [W/(m K)].

    Returns
    -------
    ndarray, broadcast shape
        Conductivity [W/(m K)].

    References
    ----------
    Cote and Konrad 2005, as above.
    """
    pores, solids = _arrays(porosity, solids_conductivity_w_m_k)
    conductivity: FloatArray = solids ** (1.0 - pores) * WATER_CONDUCTIVITY_W_M_K**pores
    return conductivity


def cote_konrad_saturated_frozen_conductivity_w_m_k(
    porosity: ArrayLike, solids_conductivity_w_m_k: ArrayLike, unfrozen_water_fraction: ArrayLike = 0.0
) -> FloatArray:
    """Conductivity of a mix with all pores full of ice and of the water that does not freeze.

    Parameters
    ----------
    porosity : float or ndarray
        Share of the volume that is not solid, 0 to 1.
    solids_conductivity_w_m_k : float or ndarray
        Conductivity of the solids [W/(m K)].
    unfrozen_water_fraction : float or ndarray, default 0
        Liquid water left, at most the porosity [m3/m3].

    Returns
    -------
    ndarray, broadcast shape
        Conductivity [W/(m K)]. With nothing left liquid about a fifth above measured frozen peat.

    References
    ----------
    Cote and Konrad 2005, as above.
    """
    pores, solids, liquid = _arrays(porosity, solids_conductivity_w_m_k, unfrozen_water_fraction)
    frozen = ICE_CONDUCTIVITY_W_M_K ** (pores - liquid) * WATER_CONDUCTIVITY_W_M_K**liquid
    conductivity: FloatArray = solids ** (1.0 - pores) * frozen
    return conductivity


def cote_konrad_kersten(saturation: ArrayLike, kersten: ArrayLike) -> FloatArray:
    """Share of the way from the dry to the saturated conductivity.

    Parameters
    ----------
    saturation : float or ndarray
        Water over pore space, 0 to 1.
    kersten : float or ndarray
        Constant of the texture, above 0 [-]; below 1 the first water helps little, as in peat.

    Returns
    -------
    ndarray, broadcast shape
        Kersten number, 0 to 1.

    References
    ----------
    Cote and Konrad 2005, as above.
    """
    wet, constant = _arrays(saturation, kersten)
    number: FloatArray = constant * wet / (1.0 + (constant - 1.0) * wet)
    return number


def cote_konrad_conductivity_w_m_k(
    dry_conductivity_w_m_k: ArrayLike,
    saturated_conductivity_w_m_k: ArrayLike,
    saturation: ArrayLike,
    kersten: ArrayLike,
) -> FloatArray:
    """Conductivity of a moist mix, between dry and saturated.

    Parameters
    ----------
    dry_conductivity_w_m_k, saturated_conductivity_w_m_k : float or ndarray
        The two ends [W/(m K)]; with the frozen saturated value, the frozen mix.
    saturation : float or ndarray
        Water over pore space, 0 to 1.
    kersten : float or ndarray
        Constant of the texture, thawed or frozen to match [-].

    Returns
    -------
    ndarray, broadcast shape
        Conductivity [W/(m K)]. A fair tolerance against measured mixes is 25 %.

    References
    ----------
    Cote and Konrad 2005, as above.
    """
    dry, saturated = _arrays(dry_conductivity_w_m_k, saturated_conductivity_w_m_k)
    return dry + (saturated - dry) * cote_konrad_kersten(saturation, kersten)


def volumetric_heat_capacity_j_m3_k(
    porosity: ArrayLike,
    solids_heat_capacity_j_m3_k: ArrayLike,
    liquid_water_fraction: ArrayLike,
    ice_fraction: ArrayLike = 0.0,
) -> FloatArray:
    """Heat capacity of a mix: the sum of its parts.

    Parameters
    ----------
    porosity : float or ndarray
        Share of the volume that is not solid, 0 to 1.
    solids_heat_capacity_j_m3_k : float or ndarray
        Per m3 of solids [J/(m3 K)].
    liquid_water_fraction : float or ndarray
        Liquid water [m3/m3].
    ice_fraction : float or ndarray, default 0
        Ice, as the water that it was [m3/m3].

    Returns
    -------
    ndarray, broadcast shape
        Heat capacity, without heat of freezing [J/(m3 K)]. Air, a thousandth of it, is left out.

    References
    ----------
    De Vries, Thermal properties of soils, in Physics of Plant Environment, 1963.
    """
    pores, solids, liquid, ice = _arrays(
        porosity, solids_heat_capacity_j_m3_k, liquid_water_fraction, ice_fraction
    )
    capacity: FloatArray = (
        (1.0 - pores) * solids + liquid * WATER_HEAT_CAPACITY_J_M3_K + ice * ICE_HEAT_CAPACITY_J_M3_K
    )
    return capacity


def freezable_water_fraction(water_fraction: ArrayLike, unfreezable_water_fraction: ArrayLike) -> FloatArray:
    """Water that turns to ice between the freezing temperatures.

    Parameters
    ----------
    water_fraction : float or ndarray
        All water [m3/m3].
    unfreezable_water_fraction : float or ndarray
        Water held so tightly that it stays liquid in any winter, for peat `PEAT_BOUND_WATER_FRACTION`
        [m3/m3].

    Returns
    -------
    ndarray, broadcast shape
        Freezable water [m3/m3], 0 in a mix drier than its bound water.
    """
    water, bound = _arrays(water_fraction, unfreezable_water_fraction)
    freezable: FloatArray = np.maximum(water - bound, 0.0)
    return freezable


def wetter_below(
    water_fraction: ArrayLike, drained_water_fraction: ArrayLike, porosity: ArrayLike, when_drained: ArrayLike
) -> FloatArray:
    """By which share the bottom of a pot holds more water than its mean, and the top less.

    Parameters
    ----------
    water_fraction : float or ndarray
        Mean of the pot [m3/m3].
    drained_water_fraction : float or ndarray
        Mean of the pot once it has drained [m3/m3].
    porosity : float or ndarray
        Share of the volume that is not solid.
    when_drained : float or ndarray
        The share asked for, of a pot that has just drained [-].

    Returns
    -------
    ndarray, broadcast shape
        0 or more: in proportion to the water as a pot dries, and no more than the pores at the bottom have room for.

    Notes
    -----
    At rest the suction rises by 1 kPa with every 10 cm above the drain hole (Passioura, Functional Plant Biology 33,
    2006), so what a drained mix holds falls with height. That the share falls as a pot dries is an estimate: then all
    of the mix is on the flat part of its retention curve.
    """
    water, drained, pores, share = _arrays(water_fraction, drained_water_fraction, porosity, when_drained)
    some = np.maximum(water, 1e-9)
    uneven: FloatArray = np.minimum(share * np.minimum(some / drained, 1.0), np.maximum(pores / some - 1.0, 0.0))
    return uneven


def mix_properties(
    *,
    porosity: ArrayLike,
    solids_heat_capacity_j_m3_k: ArrayLike,
    solids_conductivity_w_m_k: ArrayLike,
    dry_conductivity_w_m_k: ArrayLike,
    kersten_unfrozen: ArrayLike,
    kersten_frozen: ArrayLike,
    unfreezable_water_fraction: ArrayLike,
    water_fraction: ArrayLike,
) -> MixProperties:
    """Everything the root ball needs to know of a mix at a given wetness.

    Parameters
    ----------
    porosity : float or ndarray
        Share of the volume that is not solid, above 0 and below 1.
    solids_heat_capacity_j_m3_k, solids_conductivity_w_m_k : float or ndarray
        Of the solid matter alone, per m3 of solids [J/(m3 K)], [W/(m K)]. The heat capacity of a dry mix is
        the first times one minus porosity.
    dry_conductivity_w_m_k : float or ndarray
        Of the dry mix, measured or by `cote_konrad_dry_conductivity_w_m_k` [W/(m K)].
    kersten_unfrozen, kersten_frozen : float or ndarray
        Constants of the texture, see `CoteKonradSoil` [-].
    unfreezable_water_fraction : float or ndarray
        Bound water, 0 or more [m3/m3].
    water_fraction : float or ndarray
        All water, 0 to the porosity [m3/m3].

    Returns
    -------
    MixProperties
        With arrays of the broadcast shape. A mix drier than its bound water has nothing that freezes.

    Raises
    ------
    PhysicsInputError
        If a value is outside its range.

    References
    ----------
    Cote and Konrad 2005 (conductivity), de Vries 1963 (heat capacity), Kujala et al. 2008 (freezing
    interval).
    """
    pores, solids_capacity, solids_conductivity, dry, unfrozen, frozen, bound, water = np.broadcast_arrays(
        *_arrays(
            porosity,
            solids_heat_capacity_j_m3_k,
            solids_conductivity_w_m_k,
            dry_conductivity_w_m_k,
            kersten_unfrozen,
            kersten_frozen,
            unfreezable_water_fraction,
            water_fraction,
        )
    )
    _check_mix(pores, (solids_capacity, solids_conductivity, dry, unfrozen, frozen), bound, water)
    liquid_in_frost = np.minimum(bound, water)
    freezable = freezable_water_fraction(water, bound)
    saturation = water / pores
    saturated = cote_konrad_saturated_conductivity_w_m_k(pores, solids_conductivity)
    saturated_frozen = cote_konrad_saturated_frozen_conductivity_w_m_k(
        pores, solids_conductivity, liquid_in_frost
    )
    return MixProperties(
        conductivity_unfrozen_w_m_k=cote_konrad_conductivity_w_m_k(dry, saturated, saturation, unfrozen),
        conductivity_frozen_w_m_k=cote_konrad_conductivity_w_m_k(dry, saturated_frozen, saturation, frozen),
        heat_capacity_unfrozen_j_m3_k=volumetric_heat_capacity_j_m3_k(pores, solids_capacity, water),
        heat_capacity_frozen_j_m3_k=volumetric_heat_capacity_j_m3_k(
            pores, solids_capacity, liquid_in_frost, freezable
        ),
        freezable_water_fraction=freezable,
        freezing_start_c=np.full_like(water, FREEZING_START_C),
        freezing_end_c=np.full_like(water, FREEZING_END_C),
    )


def _check_mix(
    porosity: FloatArray, above_zero: tuple[FloatArray, ...], bound: FloatArray, water: FloatArray
) -> None:
    """Refuse a mix that cannot be."""
    next_step = "Check the mix and its wetness in the garden file."
    if np.any((porosity <= 0.0) | (porosity >= 1.0)):
        raise PhysicsInputError("The porosity of a mix is not between 0 and 1.", next_step=next_step)
    if any(np.any(value <= 0.0) for value in above_zero):
        raise PhysicsInputError(
            "A heat capacity, conductivity or Kersten constant of a mix is not above 0.", next_step=next_step
        )
    if np.any((water < 0.0) | (water > porosity) | (bound < 0.0)):
        raise PhysicsInputError(
            "A mix holds less than no water, or more than its pores have room for.", next_step=next_step
        )


def _arrays(*values: ArrayLike) -> tuple[FloatArray, ...]:
    """All values as float arrays."""
    return tuple(np.asarray(value, dtype=np.float64) for value in values)
