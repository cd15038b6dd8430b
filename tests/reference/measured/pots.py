"""Pots for the published cases: peat mixes, surfaces and hours, put together from the physics alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from frostguard.physics.envelope import PotSurfaces, build_envelope
from frostguard.physics.microclimate import SpotHours
from frostguard.physics.radiation import black_body_w_m2
from frostguard.physics.root_ball import (
    STANDARD,
    RootBallHistory,
    RootBalls,
    simulate_root_balls,
)
from frostguard.physics.substrate import PEAT, cote_konrad_dry_conductivity_w_m_k, mix_properties

HOURLY = replace(STANDARD, steps_per_hour=1)

PLASTIC_WALL_M2_K_W = 0.004
"""1 mm of polypropylene at 0.22 W/m K (EN 12524)."""


def peat_ball(
    radius_m: float, height_m: float, water_fraction: float, wall_m2_k_w: float = PLASTIC_WALL_M2_K_W, n: int = 1
) -> RootBalls:
    """n equal pots full of peat with 90 % pores."""
    mix = mix_properties(
        porosity=0.9,
        solids_heat_capacity_j_m3_k=2.5e6,  # Farouki 1986, organic solids
        solids_conductivity_w_m_k=0.25,
        dry_conductivity_w_m_k=cote_konrad_dry_conductivity_w_m_k(0.9),
        kersten_unfrozen=PEAT.kersten_unfrozen,
        kersten_frozen=PEAT.kersten_frozen,
        unfreezable_water_fraction=0.03,
        water_fraction=water_fraction,
    )
    return RootBalls(
        np.full(n, radius_m),
        height_m,
        wall_m2_k_w,
        0.0,
        mix.conductivity_unfrozen_w_m_k,
        mix.conductivity_frozen_w_m_k,
        mix.heat_capacity_unfrozen_j_m3_k,
        mix.heat_capacity_frozen_j_m3_k,
        mix.freezable_water_fraction,
        mix.freezing_start_c,
        mix.freezing_end_c,
    )


def surfaces(outer_diameter_m: float, height_m: float, **changed: float | Sequence[float]) -> PotSurfaces:
    """Bare plastic pots in the open, on the floor, moist but not drying; a changed value may be one for each."""
    values = {
        "outer_diameter_m": outer_diameter_m,
        "height_m": height_m,
        "outer_area_ratio": 1.0,
        "side_emissivity": 0.9,
        "side_solar_absorptance": 0.95,
        "side_wetness": 0.0,
        "side_wind_factor": 1.0,
        "side_sky_view": 0.5,
        "side_floor_view": 0.5,
        "side_wall_view": 0.0,
        "side_surroundings_view": 0.0,
        "side_beam_share": 1.0,
        "wrap_resistance_m2_k_w": 0.0,
        "top_wind_factor": 0.7,
        "top_sky_view": 1.0,
        "top_sun_share": 1.0,
        "top_resistance_m2_k_w": 0.0,
        "top_wetness": 0.0,
        "base_resistance_m2_k_w": 0.03,
        "base_air_share": 0.0,
        "snow_reaches_from": 0.0,
    } | changed
    arrays = np.broadcast_arrays(*(np.atleast_1d(np.asarray(value, dtype=float)) for value in values.values()))
    return PotSurfaces(**dict(zip(values, arrays, strict=True)))


def hours(air_c, *, wind_m_s: float, **changed) -> SpotHours:
    """Hours with everything at air temperature, no sun and a closed sky, unless told.

    What is told is a number, one for each hour, or an array (hours or 1, series or 1).
    """
    air = np.asarray(air_c, dtype=float)[:, None]
    nothing = np.zeros_like(air)
    told = {
        name: nothing + (np.reshape(value, (-1, 1)) if np.ndim(value) == 1 else value)
        for name, value in changed.items()
    }
    values = {
        "air_temperature_c": air,
        "vapour_pressure_hpa": nothing + 5.0,
        "pressure_hpa": nothing + 1000.0,
        "wind_speed_m_s": nothing + wind_m_s,
        "sky_longwave_w_m2": black_body_w_m2(air),
        "surroundings_c": air,
        "house_wall_c": air,
        "floor_c": air,
        "under_pot_c": air,
        "sun_elevation_deg": nothing + 20.0,
        "direct_normal_w_m2": nothing,
        "diffuse_horizontal_w_m2": nothing,
        "snow_depth_m": nothing,
        "snow_beside_m": nothing,
    } | told
    return SpotHours(**values)


def simulate(
    ball: RootBalls, pot: PotSurfaces, weather: SpotHours, start_c: float
) -> RootBallHistory:
    """Root ball through days, in hourly steps; films at air temperature, then at the surface of that first run."""
    air = weather.air_temperature_c
    envelope, side, top = build_envelope(pot, weather, air, air)
    history = simulate_root_balls(ball, envelope, start_c, resolution=HOURLY)
    heat = history.face_heat_w
    envelope, _, _ = build_envelope(
        pot, weather, side.surface_c(heat[:, :, 0] / side.area_m2), top.surface_c(heat[:, :, 1] / top.area_m2)
    )
    return simulate_root_balls(ball, envelope, start_c, resolution=HOURLY)
