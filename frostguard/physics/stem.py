"""Bare stems: how cold the bark of a standard or a young trunk gets, with and without a sleeve round it.

A stem is thin, so its own warmth is gone within the hour. What can carry it through a night is the heat that its
sap gives off in freezing, if something keeps that heat in. A sleeve therefore gains little in a long hard frost
and much in a short one; no gain in degrees is put in.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from frostguard.errors import PhysicsInputError
from frostguard.physics.convection import cylinder_side_film_w_m2_k
from frostguard.physics.radiation import black_body_w_m2, radiant_temperature_c, radiative_coefficient_w_m2_k

FloatArray = NDArray[np.float64]

BARK_EMISSIVITY = 0.95
"""Bark, jute and paper 0.9 to 0.97; Campbell & Norman 1998, table 11.3 (from memory)."""

GREEN_WOOD_HEAT_CAPACITY_J_M3_K = 2.3e6
"""500 kg of dry wood at 1300 J/kg K and 400 kg of sap in a cubic metre; wood science handbooks (from memory)."""

SAP_FRACTION = 0.4
"""Sap in green sapwood and bark by volume, 0.3 to 0.5; wood science handbooks (from memory)."""

SAP_FREEZES_C = -1.0
"""Where the sap begins to freeze: melting points of plant saps lie at -0.5 to -2 degC; estimate."""

LATENT_HEAT_J_M3 = 333.55e6
"""Of water that freezes, for each m3 of water."""

STEPS_PER_HOUR = 4

SURFACE_PASSES = 2
"""Times that the film is reckoned with the surface it leads to; it hangs on it by its fourth root."""


def stem_environment_c(
    *,
    diameter_m: ArrayLike,
    length_m: ArrayLike,
    air_temperature_c: ArrayLike,
    wind_speed_m_s: ArrayLike,
    sky_longwave_w_m2: ArrayLike,
    surroundings_c: ArrayLike,
    floor_c: ArrayLike,
    pressure_hpa: ArrayLike,
    sky_view: ArrayLike,
) -> tuple[FloatArray, FloatArray]:
    """What an upright stem, or the sleeve round it, exchanges heat with: one temperature and one film.

    Parameters
    ----------
    diameter_m, length_m : array_like
        Of the outer face, above 0 [m].
    air_temperature_c, wind_speed_m_s, pressure_hpa : array_like
        Beside the stem [degC, m/s, hPa].
    sky_longwave_w_m2, surroundings_c, floor_c : array_like
        Radiation of an open sky [W/m2]; what hides the rest of it, and the floor [degC].
    sky_view : array_like
        Share of the sky dome left open, 0 to 1.

    Returns
    -------
    environment_c, film_w_m2_k : ndarray
        Air and radiation together [degC], and the coefficient that goes with it [W/m2 K].

    Notes
    -----
    An upright cylinder sees the sky's half with one half of its view and the floor with the other. Sun is left
    out: errs cold by day, and says nothing of bark that the winter sun warms.

    References
    ----------
    Film of `cylinder_side_film_w_m2_k`; heat balance of a grey surface.
    """
    air = np.asarray(air_temperature_c, dtype=np.float64)
    view = np.asarray(sky_view, dtype=np.float64)
    above = view * np.asarray(sky_longwave_w_m2) + (1.0 - view) * black_body_w_m2(surroundings_c)
    around = radiant_temperature_c(0.5 * above + 0.5 * black_body_w_m2(floor_c))
    surface, film = air, air
    for _ in range(SURFACE_PASSES):
        convection = cylinder_side_film_w_m2_k(diameter_m, length_m, wind_speed_m_s, surface, air, pressure_hpa)
        radiation = radiative_coefficient_w_m2_k(BARK_EMISSIVITY, surface, around)
        film = np.asarray(convection + radiation)
        surface = np.asarray((convection * air + radiation * around) / film)
    return surface, film


def stem_c(
    environment_c: ArrayLike,
    film_w_m2_k: ArrayLike,
    *,
    radius_m: float,
    sleeve_m2_k_w: float = 0.0,
    sleeve_thickness_m: float = 0.0,
    sap_fraction: float = SAP_FRACTION,
    start_c: ArrayLike | None = None,
) -> FloatArray:
    """Temperature of a stem hour by hour.

    Parameters
    ----------
    environment_c, film_w_m2_k : array_like, shape (n_hours, ...)
        Outside the sleeve, at whole hours, linear between [degC, W/m2 K].
    radius_m : float
        Of the stem, above 0 [m].
    sleeve_m2_k_w, sleeve_thickness_m : float
        Resistance of what is round it, laid flat [m2 K/W], and its thickness [m]; 0 for a bare stem.
    sap_fraction : float
        Sap by volume, 0 to 1.
    start_c : array_like, shape (...), optional
        The stem at the first hour; as its environment then if not given [degC].

    Returns
    -------
    ndarray, shape (n_hours, ...)
        Mean over the stem [degC]. With half a millimetre to two centimetres of wood to cross, bark and pith
        differ by less than 1 K.

    Raises
    ------
    PhysicsInputError
        If a size or share is out of range.

    Notes
    -----
    One heat store with the sap freezing bit by bit: of a solution that begins to freeze at T0, the share T0 / T is
    still liquid at T. Stepped implicitly, in closed form. Sap that stays liquid below T0 for a while
    (supercooling), heat that comes up from the roots, and the store of the sleeve are left out: errs cold.

    References
    ----------
    Freezing of an ideal solution, as for plant tissue in Levitt 1980, Responses of Plants to Environmental
    Stresses, vol. 1 (from memory). Resistance of a ring: exact conduction in a cylinder.
    """
    if radius_m <= 0.0 or min(sleeve_m2_k_w, sleeve_thickness_m) < 0.0 or not 0.0 <= sap_fraction <= 1.0:
        raise PhysicsInputError(
            "A stem has no thickness, or a sleeve less than none.",
            next_step="Check the stem's thickness and the sleeve's resistance in the garden file.",
        )
    around, film = (np.asarray(values, dtype=np.float64) for values in (environment_c, film_w_m2_k))
    outer_m = radius_m + sleeve_thickness_m
    # of a ring, per metre of stem: laid flat r, so conductivity t / r
    ring = (
        np.log(outer_m / radius_m) * sleeve_m2_k_w / sleeve_thickness_m
        if sleeve_thickness_m > 0.0
        else sleeve_m2_k_w / radius_m
    ) / (2.0 * np.pi)
    resistance = ring + 1.0 / (2.0 * np.pi * outer_m * film)  # m K/W
    step_s = 3600.0 / STEPS_PER_HOUR
    per_volume = step_s / (resistance * np.pi * radius_m**2)  # J/m3 K
    latent = LATENT_HEAT_J_M3 * sap_fraction
    temperature = np.array(around[0] if start_c is None else start_c, dtype=np.float64)
    course = np.empty_like(around)
    course[0] = temperature
    for hour in range(1, around.shape[0]):
        for part in range(1, STEPS_PER_HOUR + 1):
            share = part / STEPS_PER_HOUR
            outside = around[hour - 1] + share * (around[hour] - around[hour - 1])
            conductance = per_volume[hour - 1] + share * (per_volume[hour] - per_volume[hour - 1])
            temperature = _stepped_c(temperature, outside, conductance, latent)
        course[hour] = temperature
    return course


def _stepped_c(temperature_c: FloatArray, outside_c: FloatArray, conductance: FloatArray, latent: float) -> FloatArray:
    """The stem after one implicit step: its heat content and what has come in give its new temperature."""
    frozen = temperature_c < SAP_FREEZES_C
    ice = latent * (1.0 - SAP_FREEZES_C / np.where(frozen, temperature_c, SAP_FREEZES_C))
    received = GREEN_WOOD_HEAT_CAPACITY_J_M3_K * temperature_c - ice + conductance * outside_c
    slope = GREEN_WOOD_HEAT_CAPACITY_J_M3_K + conductance
    liquid = received / slope
    # slope T - latent (1 - T0 / T) = received, its negative root
    whole = received + latent
    root = np.sqrt(whole**2 - 4.0 * slope * latent * SAP_FREEZES_C)
    return np.asarray(np.where(liquid >= SAP_FREEZES_C, liquid, (whole - root) / (2.0 * slope)))
