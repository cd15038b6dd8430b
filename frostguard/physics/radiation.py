"""Long-wave radiation: what the sky sends, with and without cloud, and what a surface trades with it.

Every published sky emissivity and cloud law is its own function. The pair used where no measured sky
radiation is at hand is `default_sky_longwave_w_m2`; its docstring gives the reason for the choice.
View factors say which shares of a pot's side and top look at sky, floor, house wall and neighbours.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from frostguard.errors import PhysicsInputError
from frostguard.physics.humidity import dew_point_from_vapour_pressure_c

FloatArray = NDArray[np.float64]

STEFAN_BOLTZMANN_W_M2_K4 = 5.670374419e-8
"""Stefan-Boltzmann constant [W/m2 K4]; CODATA 2018, exact by definition of the units."""

ABSOLUTE_ZERO_C = -273.15
"""Absolute zero [degC]; exact."""


def _kelvin(temperature_c: ArrayLike) -> FloatArray:
    """Absolute temperature."""
    return np.asarray(temperature_c, dtype=float) - ABSOLUTE_ZERO_C


def _numbers(values: ArrayLike) -> FloatArray:
    """Values as floating-point numbers."""
    return np.asarray(values, dtype=float)


# --- emission and exchange ------------------------------------------------------------------------------


def black_body_w_m2(temperature_c: ArrayLike) -> FloatArray:
    """Emission of a black surface [W/m2] at a temperature [degC] (Stefan-Boltzmann law)."""
    return np.asarray(STEFAN_BOLTZMANN_W_M2_K4 * _kelvin(temperature_c) ** 4)


def radiant_temperature_c(longwave_w_m2: ArrayLike) -> FloatArray:
    """Temperature of the black surface that sends as much.

    Parameters
    ----------
    longwave_w_m2 : array_like
        Long-wave radiation, 0 or more [W/m2]. A negative value gives NaN.

    Returns
    -------
    ndarray
        Temperature [degC].
    """
    flux = _numbers(longwave_w_m2)
    flux = np.where(flux >= 0.0, flux, np.nan)
    return np.asarray((flux / STEFAN_BOLTZMANN_W_M2_K4) ** 0.25 + ABSOLUTE_ZERO_C)


def radiative_coefficient_w_m2_k(
    emissivity: ArrayLike, surface_c: ArrayLike, surroundings_c: ArrayLike
) -> FloatArray:
    """Film coefficient that stands for long-wave exchange with black surroundings, exactly.

    Parameters
    ----------
    emissivity : array_like
        Emissivity of the surface, 0 to 1.
    surface_c, surroundings_c : array_like
        Surface, and radiant temperature of what it sees [degC].

    Returns
    -------
    ndarray
        Coefficient [W/m2 K]: times the difference of the two temperatures it gives the net exchange
        without any linearising; 4.62 for a black surface at 0 degC.

    References
    ----------
    Factorised difference of fourth powers, eps sigma (Ts^2 + Tr^2) (Ts + Tr) in kelvin.
    """
    surface, surroundings = _kelvin(surface_c), _kelvin(surroundings_c)
    return np.asarray(
        _numbers(emissivity)
        * STEFAN_BOLTZMANN_W_M2_K4
        * (surface * surface + surroundings * surroundings)
        * (surface + surroundings)
    )


def mean_radiant_temperature_c(
    view_factors: Sequence[ArrayLike], temperatures_c: Sequence[ArrayLike]
) -> FloatArray:
    """Temperature of even black surroundings that send as much as uneven ones.

    Parameters
    ----------
    view_factors : sequence of array_like
        Share of the view that each part of the surroundings takes; they add up to 1.
    temperatures_c : sequence of array_like
        Radiant temperature of each part, in the same order [degC].

    Returns
    -------
    ndarray
        Mean by fourth powers [degC].

    Raises
    ------
    PhysicsInputError
        If the two differ in length or the shares do not add up to 1.
    """
    total = np.asarray(sum(_numbers(share) for share in view_factors))
    if len(view_factors) != len(temperatures_c) or np.any(np.abs(total - 1.0) > 1e-6):
        raise PhysicsInputError(
            f"View factors of {len(view_factors)} parts for {len(temperatures_c)} temperatures, "
            f"adding up to {np.ravel(total)[0]:.4f} instead of 1.",
            next_step="Give every part of the surroundings one share and one temperature.",
        )
    received = sum(
        _numbers(share) * black_body_w_m2(temperature)
        for share, temperature in zip(view_factors, temperatures_c, strict=True)
    )
    return radiant_temperature_c(np.asarray(received))


# --- clear sky ------------------------------------------------------------------------------------------
# All take screen-height air temperature [degC] and vapour pressure [hPa], both even where a formula needs
# only one, so that they can be laid beside one another. Emissivity times sigma T^4 is the sky's radiation.


def brunt_sky_emissivity(air_temperature_c: ArrayLike, vapour_pressure_hpa: ArrayLike) -> FloatArray:
    """Clear-sky emissivity 0.52 + 0.065 sqrt(e).

    Parameters
    ----------
    air_temperature_c, vapour_pressure_hpa : array_like
        Screen air [degC, hPa]; the temperature is not used.

    Returns
    -------
    ndarray
        Emissivity. Fitted at 0 to 30 degC near sea level; among the lowest of the formulas.

    References
    ----------
    Brunt, Quarterly Journal of the Royal Meteorological Society 58, 389-420, 1932; constants from memory.
    """
    return np.asarray(0.52 + 0.065 * np.sqrt(_numbers(vapour_pressure_hpa)))


def fao56_sky_emissivity(air_temperature_c: ArrayLike, vapour_pressure_hpa: ArrayLike) -> FloatArray:
    """Clear-sky emissivity that the net long-wave equation of FAO-56 implies, 0.66 + 0.14 sqrt(e in kPa).

    Parameters
    ----------
    air_temperature_c, vapour_pressure_hpa : array_like
        Screen air [degC, hPa]; the temperature is not used.

    Returns
    -------
    ndarray
        Emissivity. Meant for net radiation of grass by the day; high for a single clear night.

    References
    ----------
    Allen et al., FAO Irrigation and Drainage Paper 56, 1998, eq. 39.
    """
    vapour_pressure_kpa = _numbers(vapour_pressure_hpa) / 10.0
    return np.asarray(0.66 + 0.14 * np.sqrt(vapour_pressure_kpa))


def brutsaert_sky_emissivity(air_temperature_c: ArrayLike, vapour_pressure_hpa: ArrayLike) -> FloatArray:
    """Clear-sky emissivity 1.24 (e/T)^(1/7), derived from the layering of the air.

    Parameters
    ----------
    air_temperature_c, vapour_pressure_hpa : array_like
        Screen air [degC, hPa].

    Returns
    -------
    ndarray
        Emissivity. For a standard lapse of temperature; low in cold dry air and in ground inversions.

    References
    ----------
    Brutsaert, Water Resources Research 11, 742-744, 1975, eq. 11 (from memory).
    """
    return np.asarray(1.24 * (_numbers(vapour_pressure_hpa) / _kelvin(air_temperature_c)) ** (1.0 / 7.0))


def swinbank_sky_emissivity(air_temperature_c: ArrayLike, vapour_pressure_hpa: ArrayLike) -> FloatArray:
    """Clear-sky emissivity of the radiation 5.31e-13 T^6 W/m2, by temperature alone.

    Parameters
    ----------
    air_temperature_c, vapour_pressure_hpa : array_like
        Screen air [degC, hPa]; the vapour pressure is not used.

    Returns
    -------
    ndarray
        Emissivity. Fitted at 8 to 29 degC.

    References
    ----------
    Swinbank, Quarterly Journal of the Royal Meteorological Society 89, 339-348, 1963 (from memory).
    """
    sky = 5.31e-13 * _kelvin(air_temperature_c) ** 6
    return np.asarray(sky / black_body_w_m2(air_temperature_c))


def idso_jackson_sky_emissivity(air_temperature_c: ArrayLike, vapour_pressure_hpa: ArrayLike) -> FloatArray:
    """Clear-sky emissivity 1 - 0.261 exp(-7.77e-4 (273 - T)^2), by temperature alone.

    Parameters
    ----------
    air_temperature_c, vapour_pressure_hpa : array_like
        Screen air [degC, hPa]; the vapour pressure is not used.

    Returns
    -------
    ndarray
        Emissivity, least (0.739) at freezing point and rising to both sides. Fitted from -29 to 37 degC.

    References
    ----------
    Idso & Jackson, Journal of Geophysical Research 74, 5397-5403, 1969 (from memory).
    """
    below_273 = 273.0 - _kelvin(air_temperature_c)
    return np.asarray(1.0 - 0.261 * np.exp(-7.77e-4 * below_273**2))


def idso_1981_sky_emissivity(air_temperature_c: ArrayLike, vapour_pressure_hpa: ArrayLike) -> FloatArray:
    """Clear-sky emissivity 0.70 + 5.95e-5 e exp(1500/T).

    Parameters
    ----------
    air_temperature_c, vapour_pressure_hpa : array_like
        Screen air [degC, hPa].

    Returns
    -------
    ndarray
        Emissivity. Fitted in a desert city; the highest of the formulas in cold air.

    References
    ----------
    Idso, Water Resources Research 17, 295-304, 1981 (from memory).
    """
    vapour = _numbers(vapour_pressure_hpa) * np.exp(1500.0 / _kelvin(air_temperature_c))
    return np.asarray(0.70 + 5.95e-5 * vapour)


def berdahl_fromberg_sky_emissivity(
    air_temperature_c: ArrayLike, vapour_pressure_hpa: ArrayLike
) -> FloatArray:
    """Clear-sky emissivity at night 0.741 + 0.0062 Td, by the dew point.

    Parameters
    ----------
    air_temperature_c, vapour_pressure_hpa : array_like
        Screen air [degC, hPa]; the temperature is not used.

    Returns
    -------
    ndarray
        Emissivity. Fitted at three places of the United States, dew point about -5 to 22 degC.

    References
    ----------
    Berdahl & Fromberg, Solar Energy 29, 299-314, 1982, night equation (from memory).
    """
    dew_point_c = dew_point_from_vapour_pressure_c(vapour_pressure_hpa)
    return np.asarray(0.741 + 0.0062 * dew_point_c)


def berdahl_martin_sky_emissivity(air_temperature_c: ArrayLike, vapour_pressure_hpa: ArrayLike) -> FloatArray:
    """Clear-sky emissivity 0.711 + 0.56 t + 0.73 t^2 with t a hundredth of the dew point in degC.

    Parameters
    ----------
    air_temperature_c, vapour_pressure_hpa : array_like
        Screen air [degC, hPa]; the temperature is not used.

    Returns
    -------
    ndarray
        Emissivity, mean over day and night, at sea level. Fitted at six places over some years, dew
        point -13 to 24 degC. `berdahl_martin_pressure_term` carries it to other heights.

    References
    ----------
    Berdahl & Martin, Solar Energy 32, 663-664, 1984, eq. 2 (from memory).
    """
    hundredth = dew_point_from_vapour_pressure_c(vapour_pressure_hpa) / 100.0
    emissivity = 0.711 + hundredth * (0.56 + 0.73 * hundredth)
    return np.asarray(emissivity)


def berdahl_martin_pressure_term(pressure_hpa: ArrayLike) -> FloatArray:
    """What thinner air takes from the clear-sky emissivity: 0.00012 per hPa below 1000 hPa.

    Parameters
    ----------
    pressure_hpa : array_like
        Station pressure [hPa].

    Returns
    -------
    ndarray
        Term to add; -0.02 at 1600 m.

    References
    ----------
    Martin & Berdahl, Solar Energy 33, 321-336, 1984 (from memory).
    """
    return np.asarray(0.00012 * (_numbers(pressure_hpa) - 1000.0))


def berdahl_martin_hour_term(local_solar_hour: ArrayLike) -> FloatArray:
    """Daily swing of the clear-sky emissivity, 0.013 cos(2 pi h/24): higher by night.

    Parameters
    ----------
    local_solar_hour : array_like
        Hours since solar midnight.

    Returns
    -------
    ndarray
        Term to add to the mean over day and night.

    References
    ----------
    Martin & Berdahl, Solar Energy 33, 321-336, 1984 (from memory).
    """
    return np.asarray(0.013 * np.cos(2.0 * np.pi * _numbers(local_solar_hour) / 24.0))


def prata_sky_emissivity(air_temperature_c: ArrayLike, vapour_pressure_hpa: ArrayLike) -> FloatArray:
    """Clear-sky emissivity 1 - (1 + w) exp(-sqrt(1.2 + 3 w)), w = 46.5 e/T being the rain in the air [cm].

    Parameters
    ----------
    air_temperature_c, vapour_pressure_hpa : array_like
        Screen air [degC, hPa].

    Returns
    -------
    ndarray
        Emissivity. Checked by its author from polar to tropical air at sea level.

    References
    ----------
    Prata, Quarterly Journal of the Royal Meteorological Society 122, 1127-1151, 1996 (from memory).
    """
    water_cm = 46.5 * _numbers(vapour_pressure_hpa) / _kelvin(air_temperature_c)
    return np.asarray(1.0 - (1.0 + water_cm) * np.exp(-np.sqrt(1.2 + 3.0 * water_cm)))


def unsworth_monteith_sky_emissivity(
    air_temperature_c: ArrayLike, vapour_pressure_hpa: ArrayLike
) -> FloatArray:
    """Clear-sky emissivity of the radiation 213 + 5.5 T W/m2, T in degC.

    Parameters
    ----------
    air_temperature_c, vapour_pressure_hpa : array_like
        Screen air [degC, hPa]; the vapour pressure is not used.

    Returns
    -------
    ndarray
        Emissivity. Fitted in the English Midlands at -5 to 25 degC.

    References
    ----------
    Unsworth & Monteith, Quarterly Journal of the Royal Meteorological Society 101, 13-24, 1975, as given in
    Monteith & Unsworth, Principles of Environmental Physics (from memory).
    """
    sky = 213.0 + 5.5 * _numbers(air_temperature_c)
    return np.asarray(sky / black_body_w_m2(air_temperature_c))


# --- cloud ----------------------------------------------------------------------------------------------


def unsworth_monteith_cloudy_emissivity(
    clear_sky_emissivity: ArrayLike, cloud_fraction: ArrayLike
) -> FloatArray:
    """Emissivity of a sky with cloud, (1 - 0.84 c) eps + 0.84 c.

    Parameters
    ----------
    clear_sky_emissivity, cloud_fraction : array_like
        Emissivity without cloud; share of the sky covered, 0 to 1.

    Returns
    -------
    ndarray
        Emissivity. Meant for low and middle cloud with a base about 11 K colder than the air.

    References
    ----------
    Unsworth & Monteith 1975, eq. 14 (from memory).
    """
    black_share = 0.84 * np.clip(cloud_fraction, 0.0, 1.0)
    return np.asarray((1.0 - black_share) * _numbers(clear_sky_emissivity) + black_share)


def crawford_duchon_cloudy_emissivity(
    clear_sky_emissivity: ArrayLike, cloud_fraction: ArrayLike
) -> FloatArray:
    """Emissivity of a sky with cloud, c + (1 - c) eps: cloud as warm as the air.

    Parameters
    ----------
    clear_sky_emissivity, cloud_fraction : array_like
        Emissivity without cloud; share of the sky covered, 0 to 1.

    Returns
    -------
    ndarray
        Emissivity. An upper bound; its authors' cloud share comes from sunshine, not from the eye.

    References
    ----------
    Crawford & Duchon, Journal of Applied Meteorology 38, 474-480, 1999 (from memory).
    """
    cloud = np.clip(cloud_fraction, 0.0, 1.0)
    return np.asarray(cloud + (1.0 - cloud) * _numbers(clear_sky_emissivity))


def maykut_church_cloudy_emissivity(
    clear_sky_emissivity: ArrayLike, cloud_fraction: ArrayLike
) -> FloatArray:
    """Emissivity of a sky with cloud, eps (1 + 0.22 c^2.75).

    Parameters
    ----------
    clear_sky_emissivity, cloud_fraction : array_like
        Emissivity without cloud; share of the sky covered, 0 to 1.

    Returns
    -------
    ndarray
        Emissivity, at most 1. Fitted on the arctic coast, where cloud is cold: low elsewhere.

    References
    ----------
    Maykut & Church, Journal of Applied Meteorology 12, 620-628, 1973 (from memory).
    """
    cloud = np.clip(cloud_fraction, 0.0, 1.0)
    return np.asarray(np.minimum(_numbers(clear_sky_emissivity) * (1.0 + 0.22 * cloud**2.75), 1.0))


def konzelmann_cloudy_emissivity(
    clear_sky_emissivity: ArrayLike, cloud_fraction: ArrayLike
) -> FloatArray:
    """Emissivity of a sky with cloud, eps (1 - c^4) + 0.952 c^4.

    Parameters
    ----------
    clear_sky_emissivity, cloud_fraction : array_like
        Emissivity without cloud; share of the sky covered, 0 to 1.

    Returns
    -------
    ndarray
        Emissivity. Scattered cloud counts for little, a closed deck for much: the cloud share that the sun
        and observers tell includes thin cloud at its edges.

    References
    ----------
    Konzelmann et al., Global and Planetary Change 9, 143-164, 1994, hourly values (from memory).
    """
    cover = np.clip(cloud_fraction, 0.0, 1.0) ** 4
    return np.asarray(_numbers(clear_sky_emissivity) * (1.0 - cover) + 0.952 * cover)


def fao56_cloud_factor(relative_shortwave: ArrayLike) -> FloatArray:
    """Net long-wave loss under cloud over that under a clear sky, by the day's sun.

    Parameters
    ----------
    relative_shortwave : array_like
        Sun received over sun of a clear day, 0.3 to 1.

    Returns
    -------
    ndarray
        Factor on the net loss, 0.055 when overcast to 1 when clear.

    References
    ----------
    Allen et al., FAO Irrigation and Drainage Paper 56, 1998, eq. 39.
    """
    return np.asarray(1.35 * np.clip(relative_shortwave, 0.3, 1.0) - 0.35)


def sky_longwave_w_m2(emissivity: ArrayLike, air_temperature_c: ArrayLike) -> FloatArray:
    """Radiation of the whole sky on the horizontal.

    Parameters
    ----------
    emissivity : array_like
        Sky emissivity, with cloud already in it.
    air_temperature_c : array_like
        Screen air temperature [degC].

    Returns
    -------
    ndarray
        Downward long-wave radiation [W/m2].
    """
    return np.asarray(_numbers(emissivity) * black_body_w_m2(air_temperature_c))


def default_sky_longwave_w_m2(
    air_temperature_c: ArrayLike,
    vapour_pressure_hpa: ArrayLike,
    pressure_hpa: ArrayLike,
    cloud_fraction: ArrayLike,
) -> FloatArray:
    """Radiation of the sky where no service tells it.

    Parameters
    ----------
    air_temperature_c, vapour_pressure_hpa : array_like
        Screen air [degC, hPa].
    pressure_hpa : array_like
        Station pressure [hPa]; not used by the present pair, see below.
    cloud_fraction : array_like
        Share of the sky covered, 0 to 1.

    Returns
    -------
    ndarray
        Downward long-wave radiation [W/m2].

    Notes
    -----
    The pair is Berdahl & Martin (1984) and, for cloud, Konzelmann et al. (1994), chosen by ten years of
    half-hours at Davos (2013 to 2022, 1640 m; bias, formula less measured):

    - steady clear nights: 3, 1, 2, 0 and 4 W/m2 in classes from below -10 to 5..12 degC, each value
      scattering by 15. Brunt -6 to -10, Brutsaert -8 to 7, Prata 14 to 18, Idso 1981 25 to 27;
    - by cloud from the sun: -2 to -4 by day (six classes), -3 to 5 by night (four). The laws that are
      linear in cloud are 20 to 45 W/m2 too high under scattered and broken cloud;
    - closed cloud by night -4, below freezing -9.

    The term for thin air would make those clear nights 3 to 6 W/m2 too low, and is left out. In one strong
    inversion (Alamosa, 2317 m, -10 to -23 degC) the pair lies 25 W/m2 low: errs cold. Night cloud there and
    here is known only from the sun before and after; cloud shares of forecasts may mean something else.

    References
    ----------
    As for `berdahl_martin_sky_emissivity` and `konzelmann_cloudy_emissivity`. Davos: example data of
    the package diive 0.90 (site CH-DAV); Alamosa: SURFRAD day in the test data of pvlib 0.16.
    """
    clear = berdahl_martin_sky_emissivity(air_temperature_c, vapour_pressure_hpa)
    return sky_longwave_w_m2(konzelmann_cloudy_emissivity(clear, cloud_fraction), air_temperature_c)


# --- view factors of a pot ------------------------------------------------------------------------------

NEIGHBOUR_SHARE_ALONE = 0.0
"""Share of a pot's side that looks at other pots when it stands alone."""

NEIGHBOUR_SHARE_ROW = 0.30
"""In a row, one pot touching on each side: twice 0.18 of endless cylinders (`touching pots` in
`adjacent_cylinder_view_factor`), less a sixth for the finite height; estimate."""

NEIGHBOUR_SHARE_GROUP = 0.65
"""Inside a tight group: all round, less what is seen over the neighbours' rims; estimate."""


@dataclass(frozen=True, slots=True)
class ViewFactors:
    """Shares of what a face of a pot looks at; they add up to 1.

    `surroundings` are parapets, furniture, opposite houses and the underside of a roof: whatever hides
    the sky and is neither house wall nor neighbour.
    """

    sky: float
    floor: float
    house_wall: float
    neighbours: float
    surroundings: float


def adjacent_cylinder_view_factor(gap_m: float, diameter_m: float) -> float:
    """Share of one long upright cylinder's side that looks at an equal one beside it.

    Parameters
    ----------
    gap_m : float
        Clear distance between the two sides, 0 or more [m].
    diameter_m : float
        Diameter of both [m].

    Returns
    -------
    float
        View factor, 0.182 when they touch. Endless height: for pots as high as wide some sixth less.

    Raises
    ------
    PhysicsInputError
        If the gap is negative or the diameter is not positive.

    References
    ----------
    Crossed strings after Hottel, for parallel cylinders; Howell, A Catalog of Radiation Heat Transfer
    Configuration Factors, C-63 (from memory).
    """
    if gap_m < 0.0 or diameter_m <= 0.0:
        raise PhysicsInputError(
            f"Two pots of {diameter_m} m with a gap of {gap_m} m cannot stand side by side.",
            next_step="Give a diameter above 0 and a gap of 0 or more, in metres.",
        )
    pitch = 1.0 + gap_m / diameter_m
    return float((np.sqrt(pitch**2 - 1.0) + np.arcsin(1.0 / pitch) - pitch) / np.pi)


def side_view_factors(
    sky_view: float, *, against_house_wall: bool, neighbour_share: float
) -> ViewFactors:
    """What the side of a pot looks at, mean over its whole side.

    Parameters
    ----------
    sky_view : float
        Share of the sky dome left open above the spot, 0 to 1, the house wall counted as hiding it.
    against_house_wall : bool
        Whether the wall of a house stands close behind the pot.
    neighbour_share : float
        Share of the side that looks at other pots, such as `NEIGHBOUR_SHARE_ROW`.

    Returns
    -------
    ViewFactors
        An upright side in the open sees half sky, half floor. A wall close behind takes half of both,
        so the sky keeps at most a quarter. Neighbours take their share evenly from all the rest.

    Raises
    ------
    PhysicsInputError
        If a share is not within 0 to 1.

    Notes
    -----
    The wall's half is exact for a long high wall right behind a round pot; at one pot width of distance it
    is a third too much, which errs to the warm side of the wall. The open sky of a spot is taken as even
    over the dome, although it is mostly the low sky, the warmer part, that an upright side sees: errs cold.
    """
    _check_shares(sky_view, neighbour_share)
    wall = 0.5 if against_house_wall else 0.0
    sky = 0.5 * min(sky_view, 1.0 - wall)
    floor = 0.5 * (1.0 - wall)
    left = 1.0 - neighbour_share
    return ViewFactors(
        sky=sky * left,
        floor=floor * left,
        house_wall=wall * left,
        neighbours=neighbour_share,
        surroundings=(1.0 - sky - floor - wall) * left,
    )


def open_side_view_factors(sky_view: float, *, against_house_wall: bool) -> ViewFactors:
    """What the most exposed strip of a pot's side looks at: away from wall and neighbours.

    Parameters
    ----------
    sky_view : float
        Share of the sky dome left open above the spot, 0 to 1, the house wall counted as hiding it.
    against_house_wall : bool
        Whether the wall of a house stands close behind; the strip then looks straight away from it.

    Returns
    -------
    ViewFactors
        Half floor; of the upper half, the share of the dome in front that is open.

    Raises
    ------
    PhysicsInputError
        If the share is not within 0 to 1.
    """
    _check_shares(sky_view)
    in_front = min(2.0 * sky_view, 1.0) if against_house_wall else sky_view
    return ViewFactors(
        sky=0.5 * in_front, floor=0.5, house_wall=0.0, neighbours=0.0, surroundings=0.5 * (1.0 - in_front)
    )


def top_view_factors(sky_view: float, *, against_house_wall: bool) -> ViewFactors:
    """What the surface of the mix looks at, with no plant over it.

    Parameters
    ----------
    sky_view : float
        Share of the sky dome left open above the spot, 0 to 1, the house wall counted as hiding it.
    against_house_wall : bool
        Whether the wall of a house stands close behind; it then takes half of the view.

    Returns
    -------
    ViewFactors
        Sky, house wall and surroundings; neither floor nor neighbours, whose rims are level with it.

    Raises
    ------
    PhysicsInputError
        If the share is not within 0 to 1.

    Notes
    -----
    Leaves above the mix and a rim that stands higher are left out: errs cold.
    """
    _check_shares(sky_view)
    wall = 0.5 if against_house_wall else 0.0
    sky = min(sky_view, 1.0 - wall)
    return ViewFactors(sky=sky, floor=0.0, house_wall=wall, neighbours=0.0, surroundings=1.0 - wall - sky)


def _check_shares(*shares: float) -> None:
    """Refuse a share outside 0 to 1."""
    for share in shares:
        if not 0.0 <= share <= 1.0:
            raise PhysicsInputError(
                f"A share of the view of {share} is not possible.",
                next_step="Give a share from 0 (none) to 1 (all), for example 0.5 beside a house wall.",
            )
