"""The weather as it reaches the terrace: gaps bounded, sun and sky completed, spot by spot.

Everything that a weather source may lack is either derived by a named law or bounded: where wind or
cloud is missing, a calm and a windy, a clear and an overcast case are run, and the colder counts.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import product
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.nights import utc64
from frostguard.advice.plan import PlanNote
from frostguard.advice.tuned import NO_SPOT_TUNING, NOTHING_TUNED, SpotTuning, Tuned
from frostguard.garden.model import Beneath, Garden, RoomKind, Site, SnowLies, Spot, Surroundings
from frostguard.physics import microclimate
from frostguard.physics.cold_air import near_ground_deficit_k
from frostguard.physics.humidity import (
    dew_point_from_humidity_c,
    standard_pressure_hpa,
    vapour_pressure_from_dew_point_hpa,
)
from frostguard.physics.microclimate import Floor, OutdoorClimate, SpotClimate
from frostguard.physics.radiation import black_body_w_m2, default_sky_longwave_w_m2
from frostguard.physics.sun import (
    extraterrestrial_normal_w_m2,
    haurwitz_clear_sky_w_m2,
    horizontal_beam_factor,
    hour_means_to_instants,
    kasten_czeplak_cloud_factor,
    solar_position,
    split_global_w_m2,
)
from frostguard.physics.water_balance import MELTS_ABOVE_C
from frostguard.physics.wind import TerrainCategory, gust_factor, wind_at_height_m_s
from frostguard.weather.gates import LONGEST_BRIDGED_H
from frostguard.weather.series import WeatherSeries

Array = NDArray[np.float64]

TERRAIN = {
    Surroundings.OPEN_COUNTRY: TerrainCategory.OPEN_COUNTRY,
    Surroundings.SUBURB: TerrainCategory.SUBURB,
    Surroundings.CITY: TerrainCategory.CITY,
}

FLOORS: Mapping[Beneath, Floor] = {
    Beneath.GROUND: microclimate.GROUND,
    Beneath.HEATED_ROOM: microclimate.SLAB_OVER_HEATED_ROOM,
    Beneath.OPEN_AIR: microclimate.SLAB_OVER_OPEN_AIR,
    Beneath.INSULATED_ROOF: microclimate.SLAB_OVER_INSULATED_ROOF,
    Beneath.DECKING: microclimate.DECKING,
    Beneath.NOTHING: microclimate.NO_FLOOR,
}

GLASS_SKY_VIEW = {RoomKind.COLD_FRAME: 0.5, RoomKind.GLAZED_BALCONY: 0.25}
"""Share of the sky that the outside of a room of glass sees, mean over all that it loses heat through: the lid of a
frame sees all, its sides and what leaks none; the front of a balcony half, under the balcony above less; estimates."""

POT_HEIGHT_M = 1.0
"""Height of pots and crowns over the terrace floor at which the wind is wanted; estimate."""

CALM_AND_WINDY_M_S = (0.5, 8.0)
CLEAR_AND_OVERCAST = (0.0, 1.0)
"""The bounding cases for what the source does not say; estimates of a winter night's range."""

SNOW_SHARE = 0.5
"""Of the snow depth told for a model's cell of some kilometres, what is counted where the garden file says that
snow lies on the pots: on roofs and terraces it is blown off, and walls melt it; estimate."""

COLD_AIR = {Surroundings.OPEN_COUNTRY: 1.0, Surroundings.SUBURB: 0.5, Surroundings.CITY: 0.0}
"""Share of the cold air of open land that lies on the ground there: houses stir and warm it; estimates."""

COLD_AIR_TOP_M = 10.0
"""Height over the ground of a terrace that such air does not reach; estimate. A roof's own is left out."""

POT_AIR_M = 0.3
"""Height of pots and low crowns over the floor, at which cold air is reckoned; estimate."""

GROUND_ALBEDO = 0.2
"""Grass and bare soil, 0.15 to 0.25; FAO-56 has 0.23 for grass."""

DRIER_THAN_AIR_K = 4.0
"""Dew point below the air where no humidity is known: 75 % near freezing; a dry winter night, estimate."""

DRIEST_PERCENT = 1.0
"""Humidity of the driest air: what is told as 0 is a rounded or a failed sensor; estimate, and errs to a cold sky."""


@dataclass(frozen=True, slots=True)
class Terrace:
    """The hours on the terrace, ready for pots.

    `spots` holds the hours of each spot by name; arrays have `n_members * n_cases` columns, the cases
    of one member side by side. `gust_m_s` is (n_hours, columns) at terrace height. `notes` are codes
    of what was derived or bounded.
    """

    garden: Garden
    times: NDArray[np.datetime64]
    outdoor: OutdoorClimate
    spots: Mapping[str, SpotClimate]
    gust_m_s: Array
    cloud_fraction: Array
    n_members: int
    n_cases: int
    notes: tuple[str, ...]
    ground_c: Array | None = None  # soil where the source tells it [degC]
    rain_mm: Array | None = None  # of each hour, what fell as water, (n_hours, columns); None where not told
    sky_told: bool = False  # whether the source tells the sky's radiation

    @property
    def zone(self) -> ZoneInfo:
        """The site's time zone."""
        return ZoneInfo(self.garden.site.time_zone)

    @property
    def columns(self) -> NDArray[np.intp]:
        """All weather columns."""
        return np.arange(self.n_members * self.n_cases)

    @property
    def middle_columns(self) -> NDArray[np.intp]:
        """The columns of the member of middling warmth, one for each bounding case."""
        warmth = self.outdoor.air_temperature_c.mean(axis=0)[:: self.n_cases]
        member = int(np.argsort(warmth, kind="stable")[self.n_members // 2])
        return member * self.n_cases + np.arange(self.n_cases)

    def hour_at(self, moment: datetime) -> int:
        """Index of the last whole hour that is not later than `moment`."""
        return int(np.searchsorted(self.times, utc64(moment), side="right")) - 1

    def colder(self, minima: Array) -> Array:
        """Of each member's cases the colder one: (..., columns) to (..., n_members)."""
        split: Array = minima.reshape(*minima.shape[:-1], self.n_members, self.n_cases)
        return np.asarray(split.min(axis=-1))


def prepare_terrace(garden: Garden, series: WeatherSeries, tuned: Tuned = NOTHING_TUNED) -> Terrace:
    """The hours of a weather series on the terrace of a garden.

    Parameters
    ----------
    garden : Garden
        Site and spots.
    series : WeatherSeries
        Hourly, one or several members.
    tuned : Tuned
        What readings have taught about the spots.

    Returns
    -------
    Terrace
    """
    notes: list[str] = []
    known = np.all(np.isfinite(series.values["air_temperature_c"]), axis=0)
    last = int(np.flatnonzero(known)[-1]) + 1  # the source's horizon: nothing is made up beyond it
    times = series.times[:last]
    winds, clouds = (
        _bounded(series, last, "wind_speed_10m_m_s", CALM_AND_WINDY_M_S, notes),
        _bounded(series, last, "cloud_cover_percent", tuple(100.0 * share for share in CLEAR_AND_OVERCAST), notes),
    )
    cases = list(product(winds, clouds))
    air = _side_by_side([_bridged(series, "air_temperature_c", last)] * len(cases))
    wind = _side_by_side([wind for wind, _ in cases])
    cloud = _side_by_side([cloud for _, cloud in cases]) / 100.0
    outdoor = _outdoor(garden.site, series, last, air, wind, cloud, len(cases), notes)
    gusts = _optional(series, "wind_gust_10m_m_s", last, len(cases))
    height = garden.site.height_above_ground_m + POT_HEIGHT_M
    terrain = TERRAIN[garden.site.surroundings]
    gust_m_s = wind_at_height_m_s(wind, height, terrain.roughness_m) * gust_factor(height, terrain)
    if gusts is not None:
        told = wind_at_height_m_s(gusts, height, terrain.roughness_m)
        gust_m_s = np.where(np.isfinite(told), told, gust_m_s)
    if gusts is None:
        notes.append(PlanNote.GUST_RECKONED.value)
    ground = _optional(series, "soil_temperature_18cm_c", last, len(cases))
    ground = None if ground is None or not np.isfinite(ground).all() else ground
    return Terrace(
        garden=garden,
        times=times,
        outdoor=outdoor,
        spots={spot.name: spot_climate(spot, outdoor, ground, tuned.spot(spot.name)) for spot in garden.spots},
        gust_m_s=gust_m_s,
        cloud_fraction=cloud,
        n_members=series.n_members,
        n_cases=len(cases),
        notes=tuple(dict.fromkeys(notes)),
        ground_c=ground,
        rain_mm=_rain_mm(series, last, air, len(cases)),
        sky_told=_optional(series, "sky_longwave_w_m2", last, len(cases)) is not None,
    )


def _rain_mm(series: WeatherSeries, last: int, air: Array, n_cases: int) -> Array | None:
    """What falls as water in each hour; a missing hour counts as dry."""
    fallen = _optional(series, "precipitation_mm", last, n_cases)
    return None if fallen is None else np.where(air > MELTS_ABOVE_C, np.nan_to_num(fallen, nan=0.0), 0.0)


def _bridged(series: WeatherSeries, column: str, last: int) -> Array:
    """A column as (n_hours, n_members), gaps bridged linearly: the simulation must not stop at them."""
    values = series.values[column][:, :last].T.copy()
    hours = np.arange(last)
    for member in range(values.shape[1]):
        given = np.isfinite(values[:, member])
        if given.any() and not given.all():
            values[:, member] = np.interp(hours, hours[given], values[given, member])
    return values


def _bounded(series: WeatherSeries, last: int, column: str, bounds: tuple[float, ...], notes: list[str]) -> list[Array]:
    """The column as given, or one array per bounding case with the bound in every long gap."""
    if column not in series.values:
        notes.append(f"{column} missing")
        shape = (last, series.n_members)
        return [np.full(shape, bound) for bound in bounds]
    values = series.values[column][:, :last].T
    bridged = _bridged(series, column, last)
    long_gap = _long_gaps(np.isfinite(values))
    if not long_gap.any():
        return [bridged]
    notes.append(f"{column} partly missing")
    return [np.where(long_gap, bound, bridged) for bound in bounds]


def _long_gaps(given: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Hours in gaps longer than can be bridged by a straight line."""
    gaps = np.zeros_like(given)
    for member in range(given.shape[1]):
        missing = np.flatnonzero(~given[:, member])
        for run in np.split(missing, np.flatnonzero(np.diff(missing) > 1) + 1):
            if run.size > LONGEST_BRIDGED_H:
                gaps[run, member] = True
    return gaps


def _side_by_side(cases: list[Array]) -> Array:
    """Cases of each member next to one another: list of (n_hours, n_members) to (n_hours, columns)."""
    return np.stack(cases, axis=2).reshape(cases[0].shape[0], -1)


def _optional(series: WeatherSeries, column: str, last: int, n_cases: int) -> Array | None:
    """A column repeated for the cases, or None where the source has none of it."""
    if column not in series.values or not np.isfinite(series.values[column][:, :last]).any():
        return None
    return np.repeat(series.values[column][:, :last].T, n_cases, axis=1)


def _outdoor(
    site: Site,
    series: WeatherSeries,
    last: int,
    air: Array,
    wind: Array,
    cloud: Array,
    n_cases: int,
    notes: list[str],
) -> OutdoorClimate:
    times = series.times[:last]
    vapour = _vapour_pressure(series, last, air, n_cases, notes)
    standard = float(standard_pressure_hpa(site.elevation_m))
    given_pressure = _optional(series, "pressure_hpa", last, n_cases)
    pressure = np.full_like(air, standard)
    if given_pressure is not None:
        pressure = np.where(np.isfinite(given_pressure), given_pressure, standard)
    position = solar_position(times, site.latitude_deg, site.longitude_deg)
    elevation, azimuth = position.elevation_deg[:, None], position.azimuth_deg[:, None]
    direct, diffuse = _sunshine(series, last, times, elevation, cloud, n_cases, notes)
    reckoned = default_sky_longwave_w_m2(air, vapour, cloud)
    longwave = _instants(series, "sky_longwave_w_m2", last, n_cases, reckoned)
    snow = _optional(series, "snow_depth_m", last, n_cases)
    sun = direct * horizontal_beam_factor(elevation) + diffuse
    loss = black_body_w_m2(air) - longwave - (1.0 - GROUND_ALBEDO) * sun
    lies_here = COLD_AIR[site.surroundings] * max(0.0, 1.0 - site.height_above_ground_m / COLD_AIR_TOP_M)
    return OutdoorClimate(
        air_temperature_c=air,
        vapour_pressure_hpa=vapour,
        pressure_hpa=pressure,
        wind_speed_terrace_m_s=wind_at_height_m_s(
            wind, site.height_above_ground_m + POT_HEIGHT_M, TERRAIN[site.surroundings].roughness_m
        ),
        sky_longwave_w_m2=longwave,
        sun_elevation_deg=elevation,
        sun_azimuth_deg=azimuth,
        direct_normal_w_m2=direct,
        diffuse_horizontal_w_m2=diffuse,
        # snow that nobody reports is not counted on: bare pots are the colder case
        snow_depth_m=np.zeros_like(air) if snow is None else np.nan_to_num(snow, nan=0.0),
        cold_air_k=lies_here * near_ground_deficit_k(POT_AIR_M, wind, loss),
    )


def _vapour_pressure(series: WeatherSeries, last: int, air: Array, n_cases: int, notes: list[str]) -> Array:
    """From dew point, else humidity, else a dry guess that makes the sky cold."""
    dew_point = np.full_like(air, np.nan)
    given = _optional(series, "dew_point_c", last, n_cases)
    humidity = _optional(series, "relative_humidity_percent", last, n_cases)
    if given is not None:
        dew_point = given
    if humidity is not None:
        told = dew_point_from_humidity_c(air, np.maximum(humidity, DRIEST_PERCENT))
        dew_point = np.where(np.isfinite(dew_point), dew_point, told)
    unknown = ~np.isfinite(dew_point)
    if unknown.any():
        notes.append("humidity missing")
        dew_point = np.where(unknown, air - DRIER_THAN_AIR_K, dew_point)
    return np.asarray(vapour_pressure_from_dew_point_hpa(np.minimum(dew_point, air)))


def _sunshine(
    series: WeatherSeries,
    last: int,
    times: NDArray[np.datetime64],
    elevation: Array,
    cloud: Array,
    n_cases: int,
    notes: list[str],
) -> tuple[Array, Array]:
    """Direct normal and diffuse horizontal sun as instants [W/m2]; clear sky with cloud where not given."""
    reckoned = haurwitz_clear_sky_w_m2(elevation) * kasten_czeplak_cloud_factor(cloud)
    total = _instants(series, "global_horizontal_w_m2", last, n_cases, reckoned)
    if "global_horizontal_w_m2" not in series.values:
        notes.append(PlanNote.SUN_RECKONED.value)
    total = np.where(elevation > 0.0, total, 0.0)
    direct, diffuse = split_global_w_m2(total, extraterrestrial_normal_w_m2(times)[:, None], elevation)
    diffuse = np.minimum(_instants(series, "diffuse_horizontal_w_m2", last, n_cases, diffuse), total)
    direct = _instants(series, "direct_normal_w_m2", last, n_cases, direct)
    return np.where(elevation > 0.0, direct, 0.0), diffuse


def _instants(series: WeatherSeries, column: str, last: int, n_cases: int, otherwise: Array) -> Array:
    """A column of hour means as instants, with `otherwise` where it is not given."""
    given = _optional(series, column, last, n_cases)
    if given is None:
        return otherwise
    instants = hour_means_to_instants(given)
    return np.where(np.isfinite(instants), instants, otherwise)


def spot_climate(
    spot: Spot, outdoor: OutdoorClimate, ground_c: Array | None, tuned: SpotTuning = NO_SPOT_TUNING
) -> SpotClimate:
    """The hours at one spot, as the file and what was learnt describe it."""
    if spot.room is not None:
        return microclimate.room_spot(
            outdoor,
            lag_d=spot.room.lag_d,
            warmer_than_outdoors_k=spot.room.warmer_than_outdoors_k,
            lowest_c=spot.room.lowest_c,
            glass_sky_view=GLASS_SKY_VIEW.get(spot.room.kind, 0.0),
        )
    climate = microclimate.outdoor_spot(
        outdoor,
        wind_fraction=spot.wind_fraction * tuned.wind_factor,
        sky_view=min(max(spot.sky_view + tuned.sky_view_shift, 0.0), 1.0),
        house_wall=spot.against_house_wall,
        facing_deg=spot.facing_deg,
        floor=FLOORS[spot.beneath],
        horizon_deg=spot.horizon_deg,
        ground_c=ground_c,
        snow_on_pots_m=None if spot.snow is SnowLies.NO else SNOW_SHARE * outdoor.snow_depth_m,
        snow_beside_pots_m=SNOW_SHARE * outdoor.snow_depth_m if spot.snow is SnowLies.BURIES else None,
    )
    if tuned.floor_offset_k == 0.0:
        return climate
    hours = climate.hours
    warmer = {"floor_c": hours.floor_c + tuned.floor_offset_k, "under_pot_c": hours.under_pot_c + tuned.floor_offset_k}
    return replace(climate, hours=replace(hours, **warmer))
