"""Covers over plants, as their radiation and their air see them: fleece and other sheets, one layer or more.

What a cover lets through, sends, and leaks are plain numbers of one `CanopyCover`. Nothing here says what
a cover gains; that comes out of the balance in `foliage`.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from frostguard.errors import PhysicsInputError
from frostguard.physics.air import air_density_kg_m3
from frostguard.physics.convection import iso_6946_outside_film_w_m2_k
from frostguard.physics.radiation import radiative_coefficient_w_m2_k

FloatArray = NDArray[np.float64]

LEAF_EMISSIVITY = 0.96
"""Leaves 0.94 to 0.98; Jones, Plants and Microclimate, 2nd ed., 1992, ch. 2 (from memory)."""

INSIDE_WIND_PER_LEAKAGE = 3.0
"""Air that comes in through a third of a hood and crosses it; estimate."""

MIX_FILM_UNDER_COVER_W_M2_K = 3.0
"""Still air over the mix, warmer than it: natural convection at 2 to 10 K gives 2 to 4; estimate."""

STILL_AIR_UNDER_COVER_M_S = 0.03
"""Air under a cover that is colder than the leaves is never at rest; estimate."""

LAYER_GAP_RESISTANCE_M2_K_W = 0.2
"""Still air some 5 mm to 1 cm thick between two loose layers, conduction alone (0.024 W/m K); estimate."""

COATED_SHARE = 0.5
"""Of what a cover lets through of thermal radiation, what it does under a coat of dew or hoar, which is black to it and
does not close all holes; estimate."""

COATING_W_M2 = 8.0
"""Heat of dew or hoar at which a cover is coated for most of a night: 10 g/m2 an hour, so that two hours make 0.02 mm,
which lets hardly any thermal radiation through; estimate."""

SPECIFIC_HEAT_OF_AIR_J_KG_K = 1006.0
"""At constant pressure, 0 degC; handbook value."""


@dataclass(frozen=True, slots=True)
class CanopyCover:
    """One or more equal layers over a plant.

    Parameters
    ----------
    longwave_transmittance, longwave_emissivity : float
        Of one layer, 0 to 1; what is left over is reflected.
    solar_transmittance : float
        Of one layer, 0 to 1.
    layers : int
        Number of layers, 1 or more.
    leakage_still_m_s : float
        Air exchanged with the outside in a calm, through all layers and round the hem, per m2 of cover [m/s].
    leakage_per_wind, leakage_per_wind_squared : float
        What wind adds to it: through gaps at the hem by its speed, and through the fabric, which lets air
        pass by pressure, by its square [-, s/m].
    thermal_resistance_m2_k_w : float
        From face to face of one layer, its own stuff only [m2 K/W]; small for fleece.
    gap_resistance_m2_k_w : float
        Of the air between two layers, radiation not counted [m2 K/W]; 0 where they cling together.
    contact_w_m2_k : float
        Heat passed where the cover lies on the leaves, mean over their upper sides [W/m2 K]; 0 where
        canes hold it off.

    Raises
    ------
    PhysicsInputError
        If a share is not within 0 to 1, a number is negative, or there is no layer.
    """

    longwave_transmittance: float
    longwave_emissivity: float
    solar_transmittance: float
    layers: int
    leakage_still_m_s: float
    leakage_per_wind: float
    leakage_per_wind_squared: float
    thermal_resistance_m2_k_w: float
    gap_resistance_m2_k_w: float
    contact_w_m2_k: float

    def __post_init__(self) -> None:
        shares = (
            self.longwave_transmittance,
            self.longwave_emissivity,
            self.longwave_transmittance + self.longwave_emissivity,
            self.solar_transmittance,
        )
        others = (
            self.leakage_still_m_s,
            self.leakage_per_wind,
            self.leakage_per_wind_squared,
            self.thermal_resistance_m2_k_w,
            self.gap_resistance_m2_k_w,
            self.contact_w_m2_k,
        )
        if not all(0.0 <= share <= 1.0 + 1e-9 for share in shares) or min(others) < 0.0 or self.layers < 1:
            raise PhysicsInputError(
                "A cover lets through, sends or leaks less than nothing or more than all, or has no layer.",
                next_step="Check the cover's shares (0 to 1), its resistance, its leakage and its layers.",
            )


# Estimates, argued: water is black to thermal radiation and fills most holes of a soaked sheet.
_REFLECTED_DRY, _REFLECTED_WET = 0.15, 0.04  # of what does not pass
_WET_SHARE_LET_THROUGH = 0.15  # of what passes when dry
_WET_PERMEABILITY_SHARE = 0.3
# A light fleece passes some 3 m/s of air at 125 Pa (estimate), 0.024 m/s for each Pa; permeability 0.3 stands
# for that. A wind of 1 m/s makes 0.65 Pa between front and sides, which air must pass twice, in through a
# third of the hood: 0.65 / 2 / 3. Air 3 K colder inside, over a height of 0.6 m, presses with 0.08 Pa.
_PASSED_M_S_PER_PA_AND_PERMEABILITY = 0.08
_PRESSURE_PA_PER_WIND_SQUARED = 0.65 / 6.0
_PRESSURE_STILL_PA = 0.08
# Cold air drains under the hem in a calm; in wind, gaps of 1 % of the fabric let it in and out. Estimates.
_LEAKAGE_HEM_M_S = 0.0005
_LEAKAGE_HEM_PER_WIND = 0.006
# Soaked fabric lies on a third of the leaves with half a millimetre of air between. Estimate.
_WET_CONTACT_W_M2_K = 15.0
_FABRIC_CONDUCTIVITY_W_M_K = 0.05  # fibres and air, as felt; ASHRAE Handbook of Fundamentals
_WET_FABRIC_CONDUCTIVITY_W_M_K = 0.5  # near that of water; estimate


def canopy_cover(
    *,
    longwave_transmittance: float,
    solar_transmittance: float,
    wind_permeability: float,
    thickness_m: float,
    layers: int,
    wet: bool = False,
) -> CanopyCover:
    """A cover over a plant, from what a catalogue tells of one dry layer.

    Parameters
    ----------
    longwave_transmittance, solar_transmittance : float
        Shares of thermal radiation and of sun that one dry layer lets through, 0 to 1.
    wind_permeability : float
        How open one dry layer is to wind, from 0 (film) to 1 (nothing there); 0.3 for the lightest fleece.
    thickness_m : float
        Of one layer [m].
    layers : int
        Number of layers, 1 or more.
    wet : bool
        Soaked: nearly black to radiation, holes filled, lying on the leaves, layers clinging together.

    Returns
    -------
    CanopyCover

    Notes
    -----
    Air must pass all layers, so leakage through them goes by one over their number. The heat that soaked
    fabric gives off while it freezes is left out: about 9 W/m2 for some hours, so errs cold.

    References
    ----------
    All conversions are estimates, argued beside the constants of this module.
    """
    passed_m_s_pa = _PASSED_M_S_PER_PA_AND_PERMEABILITY * wind_permeability / layers
    passed_m_s_pa *= _WET_PERMEABILITY_SHARE if wet else 1.0
    transmitted = longwave_transmittance * (_WET_SHARE_LET_THROUGH if wet else 1.0)
    reflected = _REFLECTED_WET if wet else _REFLECTED_DRY
    conductivity = _WET_FABRIC_CONDUCTIVITY_W_M_K if wet else _FABRIC_CONDUCTIVITY_W_M_K
    return CanopyCover(
        longwave_transmittance=transmitted,
        longwave_emissivity=(1.0 - transmitted) * (1.0 - reflected),
        solar_transmittance=solar_transmittance,
        layers=layers,
        leakage_still_m_s=_LEAKAGE_HEM_M_S + _PRESSURE_STILL_PA * passed_m_s_pa,
        leakage_per_wind=_LEAKAGE_HEM_PER_WIND,
        leakage_per_wind_squared=_PRESSURE_PA_PER_WIND_SQUARED * passed_m_s_pa,
        thermal_resistance_m2_k_w=thickness_m / conductivity,
        gap_resistance_m2_k_w=0.0 if wet else LAYER_GAP_RESISTANCE_M2_K_W,
        contact_w_m2_k=_WET_CONTACT_W_M2_K if wet else 0.0,
    )


def leakage_m_s(cover: CanopyCover, wind_speed_m_s: ArrayLike) -> FloatArray:
    """Air exchanged between inside and outside of a cover.

    Parameters
    ----------
    cover : CanopyCover
        All layers.
    wind_speed_m_s : array_like
        Wind outside [m/s].

    Returns
    -------
    ndarray
        Volume flow per m2 of cover [m/s].
    """
    wind = _numbers(wind_speed_m_s)
    by_wind = cover.leakage_per_wind + cover.leakage_per_wind_squared * wind
    return np.asarray(cover.leakage_still_m_s + by_wind * wind)


def inside_wind_m_s(cover: CanopyCover, wind_speed_m_s: ArrayLike) -> FloatArray:
    """How fast air moves under a cover.

    Parameters
    ----------
    cover : CanopyCover
        All layers.
    wind_speed_m_s : array_like
        Wind outside [m/s].

    Returns
    -------
    ndarray
        Speed at the leaves [m/s], never above the wind outside unless that is at rest.
    """
    stirred = STILL_AIR_UNDER_COVER_M_S + INSIDE_WIND_PER_LEAKAGE * leakage_m_s(cover, wind_speed_m_s)
    return np.minimum(stirred, np.maximum(_numbers(wind_speed_m_s), STILL_AIR_UNDER_COVER_M_S))


def leakage_film_w_m2_k(
    cover: CanopyCover, wind_speed_m_s: ArrayLike, air_temperature_c: ArrayLike, pressure_hpa: ArrayLike
) -> FloatArray:
    """Heat carried by air that passes a cover.

    Parameters
    ----------
    cover : CanopyCover
        All layers.
    wind_speed_m_s, air_temperature_c, pressure_hpa : array_like
        Outside [m/s, degC, hPa].

    Returns
    -------
    ndarray
        Per m2 of cover and kelvin between inside and outside [W/m2 K].
    """
    volume = SPECIFIC_HEAT_OF_AIR_J_KG_K * air_density_kg_m3(air_temperature_c, pressure_hpa)
    return np.asarray(volume * leakage_m_s(cover, wind_speed_m_s))


def joint_resistance_m2_k_w(cover: CanopyCover) -> float:
    """Between the inner and the outer face of a cover [m2 K/W], radiation not counted.

    The fabric of all layers, and one gap where there are two or more; further gaps are left out: errs cold
    where the cover keeps heat in.
    """
    gap = cover.gap_resistance_m2_k_w if cover.layers > 1 else 0.0
    return cover.layers * cover.thermal_resistance_m2_k_w + gap


@dataclass(frozen=True, slots=True)
class LongwaveExchange:
    """Shares of black-body exchange between outside, the two faces of the cover, and the leaf; numbers or arrays."""

    outside_leaf: FloatArray | float
    outside_outer: FloatArray | float
    outside_inner: FloatArray | float
    outer_inner: FloatArray | float
    outer_leaf: FloatArray | float
    inner_leaf: FloatArray | float


def coated(cover: CanopyCover) -> CanopyCover:
    """A cover under dew or hoar: what it lets through no more, it takes up; estimate, see `COATED_SHARE`."""
    passes = COATED_SHARE * cover.longwave_transmittance
    taken_up = cover.longwave_emissivity + cover.longwave_transmittance - passes
    return replace(cover, longwave_transmittance=passes, longwave_emissivity=taken_up)


def stack_optics(cover: CanopyCover, layers: int) -> tuple[float, float]:
    """Emissivity and transmittance of several layers, with all reflections between them.

    Parameters
    ----------
    cover : CanopyCover
        Gives the optics of one layer.
    layers : int
        How many to stack, 1 or more.

    Returns
    -------
    emissivity, transmittance : float

    References
    ----------
    Sum of the geometric series of reflections between parallel sheets (Stokes).
    """
    one_passes = cover.longwave_transmittance
    one_reflects = max(1.0 - one_passes - cover.longwave_emissivity, 0.0)
    passes, reflects = one_passes, one_reflects
    for _ in range(layers - 1):
        between = max(1.0 - reflects * one_reflects, 1e-6)
        reflects = reflects + passes * passes * one_reflects / between
        passes = passes * one_passes / between
    return 1.0 - passes - reflects, passes


def longwave_exchange(cover: CanopyCover) -> LongwaveExchange:
    """Who radiates to whom through a cover.

    Parameters
    ----------
    cover : CanopyCover
        One layer, whose faces send outwards and inwards; or several, parted in an outer and an inner half.

    Returns
    -------
    LongwaveExchange
        Each share times sigma (T1^4 - T2^4) is the net exchange of that pair. What a leaf reflects, one part
        in twenty-five, is left out.

    References
    ----------
    Geometric series of reflections between two parallel grey sheets.
    """
    if cover.layers == 1:
        emits, passes = stack_optics(cover, 1)
        return LongwaveExchange(LEAF_EMISSIVITY * passes, emits, 0.0, 0.0, 0.0, LEAF_EMISSIVITY * emits)
    emits_out, passes_out = stack_optics(cover, cover.layers - cover.layers // 2)
    emits_in, passes_in = stack_optics(cover, cover.layers // 2)
    reflects_out, reflects_in = 1.0 - emits_out - passes_out, 1.0 - emits_in - passes_in
    between = max(1.0 - reflects_out * reflects_in, 1e-6)
    # a face's own side, and what its other side sends through its partner or back through itself
    return LongwaveExchange(
        outside_leaf=LEAF_EMISSIVITY * passes_out * passes_in / between,
        outside_outer=emits_out * (1.0 + reflects_in * passes_out / between),
        outside_inner=emits_in * passes_out / between,
        outer_inner=emits_out * emits_in / between,
        outer_leaf=LEAF_EMISSIVITY * emits_out * passes_in / between,
        inner_leaf=LEAF_EMISSIVITY * emits_in * (1.0 + reflects_out * passes_in / between),
    )


def partly_coated_exchange(
    clean: LongwaveExchange, under_dew: LongwaveExchange, dew_heat_w_m2: ArrayLike
) -> LongwaveExchange:
    """Who radiates to whom through a cover that takes so much dew or hoar.

    Parameters
    ----------
    clean, under_dew : LongwaveExchange
        Of the dry cover, and of the same under a full coat.
    dew_heat_w_m2 : array_like
        Heat that dew or hoar gives the outer face, 0 or more [W/m2].

    Returns
    -------
    LongwaveExchange
        Straight between the two, up to `COATING_W_M2`.
    """
    share = np.clip(_numbers(dew_heat_w_m2) / COATING_W_M2, 0.0, 1.0)
    return LongwaveExchange(
        **{
            field.name: getattr(clean, field.name)
            + share * (getattr(under_dew, field.name) - getattr(clean, field.name))
            for field in fields(LongwaveExchange)
        }
    )


@dataclass(frozen=True, slots=True)
class HoodedTop:
    """What a hood changes for the surface of the mix under it.

    `added_resistance_m2_k_w` in series with the film over the mix, per m2 of mix [m2 K/W];
    `wind_over_mix_m_s` what moves there [m/s]; `sky_share` and `sun_share` what still comes through.
    """

    added_resistance_m2_k_w: FloatArray
    wind_over_mix_m_s: FloatArray
    sky_share: float
    sun_share: float


def hooded_top(
    cover: CanopyCover,
    *,
    wind_speed_m_s: ArrayLike,
    air_temperature_c: ArrayLike,
    pressure_hpa: ArrayLike,
    cover_area_per_mix_area: ArrayLike,
) -> HoodedTop:
    """What a hood over the plant, down to the rim of the pot, does for the top of the root ball.

    Parameters
    ----------
    cover : CanopyCover
        The hood.
    wind_speed_m_s, air_temperature_c, pressure_hpa : array_like
        Outside the hood [m/s, degC, hPa].
    cover_area_per_mix_area : array_like
        Fabric over area of the mix, 1 for a lid, 5 to 15 for a hood over a plant.

    Returns
    -------
    HoodedTop

    Notes
    -----
    Heat from the mix leaves the enclosed air by leakage and, beside it, through the fabric with still air
    inside (3 W/m2K, estimate, and radiation at 0 degC) and the standard's outside film. The more fabric per
    mix, the less a hood is worth to the root ball: a few hundredths of m2K/W.

    References
    ----------
    Resistances in series and parallel; EN ISO 6946 for the outside film.
    """
    layers_m2_k_w = cover.layers * cover.thermal_resistance_m2_k_w
    layers_m2_k_w += (cover.layers - 1) * cover.gap_resistance_m2_k_w
    emissivity, _ = stack_optics(cover, cover.layers)
    inside = MIX_FILM_UNDER_COVER_W_M2_K + radiative_coefficient_w_m2_k(emissivity, 0.0, 0.0)
    fabric = 1.0 / (1.0 / inside + layers_m2_k_w + 1.0 / iso_6946_outside_film_w_m2_k(wind_speed_m_s))
    leakage = leakage_film_w_m2_k(cover, wind_speed_m_s, air_temperature_c, pressure_hpa)
    return HoodedTop(
        added_resistance_m2_k_w=np.asarray(1.0 / ((leakage + fabric) * _numbers(cover_area_per_mix_area))),
        wind_over_mix_m_s=inside_wind_m_s(cover, wind_speed_m_s),
        sky_share=stack_optics(cover, cover.layers)[1],
        sun_share=cover.solar_transmittance**cover.layers,
    )


def _numbers(values: ArrayLike) -> FloatArray:
    """Values as floating-point numbers."""
    return np.asarray(values, dtype=np.float64)
