"""Long-wave radiation: what the sky sends, with and without cloud, and what a surface trades with it.

Every published sky emissivity and cloud law is its own function. The pair used where no measured sky
radiation is at hand is `default_sky_longwave_w_m2`; its docstring gives the reason for the choice.
View factors say which shares of a pot's side and top look at sky, floor, house wall and neighbours.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
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
        point -13 to 24 degC.

    References
    ----------
    Berdahl & Martin, Solar Energy 32, 663-664, 1984, eq. 2 (from memory).
    """
    hundredth = dew_point_from_vapour_pressure_c(vapour_pressure_hpa) / 100.0
    emissivity = 0.711 + hundredth * (0.56 + 0.73 * hundredth)
    return np.asarray(emissivity)


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


def dilley_obrien_sky_emissivity(air_temperature_c: ArrayLike, vapour_pressure_hpa: ArrayLike) -> FloatArray:
    """Clear-sky emissivity of the radiation 59.38 + 113.7 (T/273.16)^6 + 96.96 sqrt(w/25) W/m2.

    Parameters
    ----------
    air_temperature_c, vapour_pressure_hpa : array_like
        Screen air [degC, hPa]; w = 465 e/T is the water in the air [kg/m2].

    Returns
    -------
    ndarray
        Emissivity. Its authors fitted it to computed radiation of real soundings from polar to tropical air.

    References
    ----------
    Dilley & O'Brien, Quarterly Journal of the Royal Meteorological Society 124, 1391-1401, 1998 (from memory); the
    water in the air after Prata 1996.
    """
    kelvin = _kelvin(air_temperature_c)
    water_kg_m2 = 465.0 * _numbers(vapour_pressure_hpa) / kelvin
    sky = 59.38 + 113.7 * (kelvin / 273.16) ** 6 + 96.96 * np.sqrt(water_kg_m2 / 25.0)
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
    cloud_fraction: ArrayLike,
) -> FloatArray:
    """Radiation of the sky where no service tells it.

    Parameters
    ----------
    air_temperature_c, vapour_pressure_hpa : array_like
        Screen air [degC, hPa].
    cloud_fraction : array_like
        Share of the sky covered, 0 to 1.

    Returns
    -------
    ndarray
        Downward long-wave radiation [W/m2].

    Notes
    -----
    The pair is Dilley & O'Brien (1998) and, for cloud, Konzelmann et al. (1994). Of sixteen published clear skies by
    seven published cloud laws it has the smallest largest miss, 13 W/m2, and the smallest mean one, 7, over six
    classes of cloud by day at three places (Davos 1640 m, Hesse 300 m, Twitchell -9 m, air below 12 degC); bias,
    formula less measured:

    - Davos, ten years, by cloud: 1, 2, 2, 0, 1 and -1 W/m2; nights between two clear noons: 3, 2, 0, -7 and -8 in
      classes from below -10 to 5..12 degC. On nights chosen by a low reading of the sky itself 6 to 15 too high;
    - Hesse -8 to -13, where Berdahl & Martin (1984) miss by -9 to -17 and Brunt by more;
    - Twitchell 12 on clear days to -13 under broken cloud; clear nights 3 to 9;
    - Alamosa, 2317 m, one day: 6 at noon, -13 in the inversion of a night of -10 to -23 degC (Berdahl & Martin
      -25), where the air that radiates is warmer than the air in the screen, which no formula by it can know.

    Cloud laws that are linear in cloud are 20 to 45 W/m2 too high under scattered and broken cloud. Cloud here is what
    the sun told; cloud shares of forecasts may mean something else. 10 W/m2 is about 1 K at a leaf in calm air.

    References
    ----------
    As for `dilley_obrien_sky_emissivity` and `konzelmann_cloudy_emissivity`; the data are named in
    tests/reference/measured/archives.py.
    """
    clear = dilley_obrien_sky_emissivity(air_temperature_c, vapour_pressure_hpa)
    return sky_longwave_w_m2(konzelmann_cloudy_emissivity(clear, cloud_fraction), air_temperature_c)


def sky_longwave_by_every_formula_w_m2(
    air_temperature_c: ArrayLike, vapour_pressure_hpa: ArrayLike, cloud_fraction: ArrayLike
) -> dict[str, FloatArray]:
    """What each published formula makes of the same air, by its authors: how sure the sky is.

    Parameters
    ----------
    air_temperature_c, vapour_pressure_hpa : array_like
        Screen air [degC, hPa].
    cloud_fraction : array_like
        Share of the sky covered, 0 to 1.

    Returns
    -------
    dict of str to ndarray
        Downward long-wave radiation [W/m2], cloud after Konzelmann et al. 1994 but for the last, Unsworth & Monteith's
        law of cloud over the default's clear sky.
    """
    air, vapour = _numbers(air_temperature_c), _numbers(vapour_pressure_hpa)
    clear = {name: formula(air, vapour) for name, formula in CLEAR_SKIES.items()}
    skies = {name: konzelmann_cloudy_emissivity(value, cloud_fraction) for name, value in clear.items()}
    skies["Unsworth & Monteith 1975"] = unsworth_monteith_cloudy_emissivity(
        dilley_obrien_sky_emissivity(air, vapour), cloud_fraction
    )
    return {name: sky_longwave_w_m2(value, air) for name, value in skies.items()}


CLEAR_SKIES: Mapping[str, Callable[[ArrayLike, ArrayLike], FloatArray]] = {
    "Brunt 1932": brunt_sky_emissivity,
    "Brutsaert 1975": brutsaert_sky_emissivity,
    "Idso 1981": idso_1981_sky_emissivity,
    "Berdahl & Martin 1984": berdahl_martin_sky_emissivity,
    "Prata 1996": prata_sky_emissivity,
    "Dilley & O'Brien 1998": dilley_obrien_sky_emissivity,
}
"""Clear skies by their authors; the last is the default."""


# --- view factors of a pot ------------------------------------------------------------------------------

NEIGHBOUR_SHARE_ALONE = 0.0
"""Share of a pot's side that looks at other pots when it stands alone."""

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


NEIGHBOUR_SHARE_ROW = 5.0 / 6.0 * 2.0 * adjacent_cylinder_view_factor(0.0, 1.0)
"""In a row, one pot touching on each side, 0.30: as endless cylinders, less a sixth for the finite height; estimate."""


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


def _check_shares(*shares: float) -> None:
    """Refuse a share outside 0 to 1."""
    for share in shares:
        if not 0.0 <= share <= 1.0:
            raise PhysicsInputError(
                f"A share of the view of {share} is not possible.",
                next_step="Give a share from 0 (none) to 1 (all), for example 0.5 beside a house wall.",
            )
