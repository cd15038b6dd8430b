"""What each pot surface feels: a film coefficient and an environment temperature for side, top and base.

A surface that meets air (convection), radiating surroundings (long-wave) and sun at once is the same
as one that meets a single environment through a single film:

    film = h_c + h_r + h_e,    environment = (h_c T_air + h_r T_radiant + h_e T_wet + sun) / film

A wet surface evaporates by its own temperature, and takes dew below T_wet, near the dew point: h_e (T_wet - T).

Covers are resistances in series with it. Nothing here is a constant "gain in degrees".
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from frostguard.physics.convection import cylinder_side_film_w_m2_k, horizontal_surface_film_w_m2_k
from frostguard.physics.humidity import (
    evaporative_heat_loss_w_m2,
    psychrometric_constant_hpa_k,
    saturation_slope_water_hpa_k,
    saturation_vapour_pressure_water_hpa,
)
from frostguard.physics.microclimate import SpotHours
from frostguard.physics.radiation import (
    black_body_w_m2,
    radiant_temperature_c,
    radiative_coefficient_w_m2_k,
)
from frostguard.physics.root_ball import Envelope
from frostguard.physics.snow import sturm_snow_conductivity_w_m_k
from frostguard.physics.sun import cylinder_beam_factor, horizontal_beam_factor

Array = NDArray[np.float64]

MIX_EMISSIVITY = 0.95
"""Moist soil and organic mixes 0.92 to 0.97; from memory."""

MIX_SOLAR_ABSORPTANCE = 0.85
"""Dark moist organic mix; from memory."""

FLOOR_ALBEDO = 0.25
"""Weathered concrete and paving; from memory."""

SNOW_DENSITY_KG_M3 = 200.0
"""Snow that has lain for some days; fresh has about 100, wet and old 400 (from memory)."""

SNOW_CONDUCTIVITY_W_M_K = float(sturm_snow_conductivity_w_m_k(SNOW_DENSITY_KG_M3))

SNOW_SOLAR_ABSORPTANCE = 0.3
"""Snow that has lain for some days; clean snow 0.20 to 0.35 (hand tables, as in Bergman et al. 2011; from memory)."""

HIDDEN_BY_SNOW_M = 0.02
"""Snow through which hardly anything of the mix shows; estimate."""


@dataclass(frozen=True, slots=True)
class PotSurfaces:
    """What the surfaces of n series are, each array (n,).

    Parameters
    ----------
    outer_diameter_m, height_m, outer_area_ratio : ndarray
        Outside of the pot; outer side area over the side area of the mix.
    side_emissivity, side_solar_absorptance : ndarray
        Of the outermost side, wall or wrap.
    side_wetness : ndarray
        Evaporation of the wall over that of open water, 0 to 1: unglazed clay as long as the mix is moist.
    side_wind_factor : ndarray
        Wind along the side over wind at the spot: neighbours break it.
    side_sky_view, side_floor_view, side_wall_view, side_surroundings_view : ndarray
        View factors of the side to sky, floor, house wall, and all else (neighbours, parapet); sum 1.
    side_beam_share : ndarray
        1: the beam counts as its mean round the cylinder; 0: the shaded side, which has none of it.
    wrap_resistance_m2_k_w : ndarray
        Wraps round the pot, per m2 of the mix's side.
    top_wind_factor, top_sky_view, top_sun_share : ndarray
        Over the mix: wind past rim, stems and hood; sky and sun past the canopy and hood.
    top_resistance_m2_k_w : ndarray
        Mulch and the air under a hood, snow not counted.
    top_wetness : ndarray
        Evaporation of the mix surface over that of open water, 0 to 1.
    base_resistance_m2_k_w : ndarray
        Pot bottom, contact or board, and the spreading of heat in deep ground.
    base_air_share : ndarray
        0: the base stands on the floor; 1: it hangs in the air; between: on feet.
    snow_reaches_from : ndarray
        Share of the side's height that snow beside the pot must bury before this side feels it: 0 for the
        mean of the side, 1 for its barest strip.
    """

    outer_diameter_m: Array
    height_m: Array
    outer_area_ratio: Array
    side_emissivity: Array
    side_solar_absorptance: Array
    side_wetness: Array
    side_wind_factor: Array
    side_sky_view: Array
    side_floor_view: Array
    side_wall_view: Array
    side_surroundings_view: Array
    side_beam_share: Array
    wrap_resistance_m2_k_w: Array
    top_wind_factor: Array
    top_sky_view: Array
    top_sun_share: Array
    top_resistance_m2_k_w: Array
    top_wetness: Array
    base_resistance_m2_k_w: Array
    base_air_share: Array
    snow_reaches_from: Array


@dataclass(frozen=True, slots=True)
class Face:
    """One face before covers: its films, what each of them leads to, and absorbed sun.

    Arrays (n_hours, n): [W/m2 K], [degC], [W/m2]; `area_m2` is (n,), of the outer surface. `wet_c` is where a wet
    surface would lose nothing by evaporation.
    """

    area_m2: Array
    convective_w_m2_k: Array
    radiative_w_m2_k: Array
    evaporative_w_m2_k: Array
    air_temperature_c: Array
    radiant_c: Array
    wet_c: Array
    gain_w_m2: Array

    @property
    def film_w_m2_k(self) -> Array:
        """Convective, radiative and evaporative film together."""
        return self.convective_w_m2_k + self.radiative_w_m2_k + self.evaporative_w_m2_k

    @property
    def environment_c(self) -> Array:
        """The one temperature that stands for air, surroundings and sun."""
        return (
            self.convective_w_m2_k * self.air_temperature_c
            + self.radiative_w_m2_k * self.radiant_c
            + self.evaporative_w_m2_k * self.wet_c
            + self.gain_w_m2
        ) / self.film_w_m2_k

    def surface_c(self, heat_into_pot_w_m2: Array) -> Array:
        """Temperature of the outer surface when that much heat passes it into the pot [degC]."""
        return self.environment_c - heat_into_pot_w_m2 / self.film_w_m2_k


def side_face(surfaces: PotSurfaces, hours: SpotHours, surface_c: Array) -> Face:
    """The outside of the pot's side.

    Parameters
    ----------
    surfaces : PotSurfaces
        n series.
    hours : SpotHours
        Arrays (n_hours, n).
    surface_c : ndarray, shape (n_hours, n)
        Estimate of the surface's temperature, which films depend on weakly [degC].
    """
    convective = cylinder_side_film_w_m2_k(
        surfaces.outer_diameter_m,
        surfaces.height_m,
        hours.wind_speed_m_s * surfaces.side_wind_factor,
        surface_c,
        hours.air_temperature_c,
        hours.pressure_hpa,
    )
    incoming = (
        surfaces.side_sky_view * hours.sky_longwave_w_m2
        + surfaces.side_floor_view * black_body_w_m2(hours.floor_c)
        + surfaces.side_wall_view * black_body_w_m2(hours.house_wall_c)
        + surfaces.side_surroundings_view * black_body_w_m2(hours.surroundings_c)
    )
    radiant = radiant_temperature_c(incoming)
    on_floor = hours.direct_normal_w_m2 * horizontal_beam_factor(hours.sun_elevation_deg)
    reflected = FLOOR_ALBEDO * surfaces.side_floor_view * (on_floor + hours.diffuse_horizontal_w_m2)
    sun = surfaces.side_solar_absorptance * (
        surfaces.side_beam_share * hours.direct_normal_w_m2 * cylinder_beam_factor(hours.sun_elevation_deg)
        + 0.5 * hours.diffuse_horizontal_w_m2  # a vertical face sees half of the dome
        + reflected
    )
    radiative = radiative_coefficient_w_m2_k(surfaces.side_emissivity, surface_c, radiant)
    evaporative, wet_c = _evaporation(hours, surfaces.side_wetness, convective, surface_c)
    area = np.pi * surfaces.outer_diameter_m * surfaces.height_m
    return Face(area, convective, radiative, evaporative, hours.air_temperature_c, radiant, wet_c, sun)


def top_face(surfaces: PotSurfaces, hours: SpotHours, surface_c: Array) -> Face:
    """The surface of the mix, or of the mulch, snow or hood over it; arguments as for `side_face`."""
    convective = horizontal_surface_film_w_m2_k(
        surfaces.outer_diameter_m,
        hours.wind_speed_m_s * surfaces.top_wind_factor,
        surface_c,
        hours.air_temperature_c,
        hours.pressure_hpa,
    )
    incoming = surfaces.top_sky_view * hours.sky_longwave_w_m2 + (
        1.0 - surfaces.top_sky_view
    ) * black_body_w_m2(hours.surroundings_c)
    radiant = radiant_temperature_c(incoming)
    beam = hours.direct_normal_w_m2 * horizontal_beam_factor(hours.sun_elevation_deg)
    white = _under_snow(hours)
    absorptance = MIX_SOLAR_ABSORPTANCE + white * (SNOW_SOLAR_ABSORPTANCE - MIX_SOLAR_ABSORPTANCE)
    sun = absorptance * surfaces.top_sun_share * (beam + hours.diffuse_horizontal_w_m2)
    evaporative, wet_c = _evaporation(hours, (1.0 - white) * surfaces.top_wetness, convective, surface_c)
    radiative = radiative_coefficient_w_m2_k(
        np.full_like(surfaces.top_sky_view, MIX_EMISSIVITY), surface_c, radiant
    )
    area = np.pi * (0.5 * surfaces.outer_diameter_m / surfaces.outer_area_ratio) ** 2
    return Face(area, convective, radiative, evaporative, hours.air_temperature_c, radiant, wet_c, sun)


def _under_snow(hours: SpotHours) -> Array:
    """Share of the mix that snow hides, 0 to 1."""
    return np.minimum(hours.snow_depth_m / HIDDEN_BY_SNOW_M, 1.0)


def _evaporation(hours: SpotHours, wetness: Array, convective: Array, surface_c: Array) -> tuple[Array, Array]:
    """Film by which a surface as wet as that evaporates or takes dew, and where it would do neither [degC].

    Saturation is taken as straight round the estimate of the surface. Of dew, too, only the wet share counts, and
    below 0 degC what is over water: both err cold.
    """
    if not np.any(wetness > 0.0):
        return np.zeros_like(convective), hours.air_temperature_c
    slope = saturation_slope_water_hpa_k(surface_c)
    of_open_water = convective * slope / psychrometric_constant_hpa_k(hours.pressure_hpa)
    saturated = saturation_vapour_pressure_water_hpa(surface_c)
    loss = evaporative_heat_loss_w_m2(convective, saturated, hours.vapour_pressure_hpa, hours.pressure_hpa)
    return wetness * of_open_water, surface_c - loss / of_open_water


def _base(surfaces: PotSurfaces, hours: SpotHours, side: Face) -> tuple[Array, Array]:
    """Film and environment of the base: straight to the floor, or across an air gap to air and floor."""
    long_wave = 4.5  # 4 sigma T^3 at 0 degC and an emissivity of 0.97
    gap_film = surfaces.base_air_share * side.convective_w_m2_k + long_wave
    across_gap = np.where(surfaces.base_air_share > 0.0, 1.0 / gap_film, 0.0)
    film = 1.0 / (surfaces.base_resistance_m2_k_w + across_gap)
    environment = (
        surfaces.base_air_share * hours.air_temperature_c + (1.0 - surfaces.base_air_share) * hours.under_pot_c
    )
    return film, environment


def _with_snow_beside(surfaces: PotSurfaces, hours: SpotHours, bare_resistance: Array) -> Array:
    """Film of a side that snow buries in part: bare and buried height side by side [W/m2 K].

    Of the snow the depth counts that lies beside the pot, as if it were as thick as it is deep: a bank thins out
    upwards, so this errs warm near its top and cold at the pot's foot.
    """
    buried = np.minimum(hours.snow_beside_m / surfaces.height_m, 1.0)
    buried = np.where(buried >= surfaces.snow_reaches_from, buried, 0.0)
    snowed = bare_resistance + hours.snow_beside_m / SNOW_CONDUCTIVITY_W_M_K
    return (1.0 - buried) / bare_resistance + buried / snowed


def build_envelope(
    surfaces: PotSurfaces, hours: SpotHours, side_surface_c: Array, top_surface_c: Array
) -> tuple[Envelope, Face, Face]:
    """What n series feel hour by hour, and the side and top faces that it was made from.

    Parameters
    ----------
    surfaces : PotSurfaces
        n series.
    hours : SpotHours
        Arrays (n_hours, n).
    side_surface_c, top_surface_c : ndarray, shape (n_hours, n)
        Estimates of the surface temperatures [degC]: air in a first pass, the simulated surface in a
        second.

    Returns
    -------
    envelope : Envelope
    side, top : Face
    """
    side = side_face(surfaces, hours, side_surface_c)
    top = top_face(surfaces, hours, top_surface_c)
    bare_side = 1.0 / (side.film_w_m2_k * surfaces.outer_area_ratio) + surfaces.wrap_resistance_m2_k_w
    side_film = _with_snow_beside(surfaces, hours, bare_side)
    snow_resistance = hours.snow_depth_m / SNOW_CONDUCTIVITY_W_M_K
    top_film = 1.0 / (1.0 / top.film_w_m2_k + surfaces.top_resistance_m2_k_w + snow_resistance)
    # snow melts at 0 degC and gets no warmer, whatever the sun and the air
    top_environment = top.environment_c - _under_snow(hours) * np.maximum(top.environment_c, 0.0)
    base_film, base_environment = _base(surfaces, hours, side)
    envelope = Envelope(
        side_film_w_m2_k=side_film,
        side_environment_c=side.environment_c,
        top_film_w_m2_k=top_film,
        top_environment_c=top_environment,
        base_film_w_m2_k=base_film,
        base_environment_c=base_environment,
    )
    return envelope, side, top
