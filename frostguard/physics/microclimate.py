"""The same hours at each spot: air, wind at the pots, what the spot radiates with, sun, floor.

Outdoors first (`OutdoorClimate`, one for the terrace), then spot by spot (`SpotClimate`). All arrays
are (n_hours, n_members) or broadcast to it, and hold instants at whole hours.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from frostguard.physics.humidity import saturation_vapour_pressure_water_hpa
from frostguard.physics.radiation import black_body_w_m2, radiative_coefficient_w_m2_k
from frostguard.physics.sun import horizontal_beam_factor

Array = NDArray[np.float64]

INDOOR_C = 20.0
"""Air of a heated dwelling [degC]; common practice in building physics."""

FLOOR_SOLAR_ABSORPTANCE = 0.65
"""Weathered concrete, ASHRAE Handbook of Fundamentals."""

FLOOR_EMISSIVITY = 0.94
"""Concrete 0.92 to 0.97, ASHRAE Handbook of Fundamentals."""

CALMEST_WIND_M_S = 0.25
"""Air over a terrace is never quite still for an hour: cold air drains, warm walls lift it; estimate."""

BY_A_WALL_COLD_AIR = 0.5
"""Of the cold air that lies on open ground, what is left before the wall of a heated house; estimate."""

WIND_OVER_GLASS = 0.45
"""Wind over the glass of a frame or balcony over wind at terrace height, as at a spot partly open to it; estimate."""

STILL_ROOM_M_S = 0.1
"""Air in a closed room; common practice in building physics."""


@dataclass(frozen=True, slots=True)
class OutdoorClimate:
    """Air, sky and sun over the terrace, at terrace height; arrays (n_hours, n_members).

    `sun_elevation_deg` and `sun_azimuth_deg` are (n_hours, 1), since members share the sun.
    """

    air_temperature_c: Array
    vapour_pressure_hpa: Array
    pressure_hpa: Array
    wind_speed_terrace_m_s: Array
    sky_longwave_w_m2: Array
    sun_elevation_deg: Array
    sun_azimuth_deg: Array
    direct_normal_w_m2: Array
    diffuse_horizontal_w_m2: Array
    snow_depth_m: Array
    cold_air_k: Array  # air beside pots under open sky less the air told, 0 or more the colder


@dataclass(frozen=True, slots=True)
class Floor:
    """How what is beneath a spot follows the weather.

    Parameters
    ----------
    time_constant_h : float
        Lag of its surface behind the outdoors [h].
    indoor_share : float
        Share of the step from outdoors to a heated room below that reaches the surface.
    weather_share : float
        Share of sun and sky radiation that its open surface feels: 0 for deep ground, 1 for a bare slab.
    under_pot_share : float
        Share of it that reaches the patch under a pot, which the pot itself shades: by conduction
        sideways, so more in thick concrete than in boards.
    spreading_conductivity_w_m_k : float or None
        Conductivity of a solid deep enough for heat to spread in below the pot [W/m K]; None for
        a thin floor, whose temperature the pot feels directly.
    open_below : bool
        No floor: the base hangs in the air.
    """

    time_constant_h: float
    indoor_share: float
    weather_share: float
    under_pot_share: float
    spreading_conductivity_w_m_k: float | None = None
    open_below: bool = False


# All numbers of these floors are estimates: time constants from thickness squared over diffusivity
# (0.2 m of concrete open on both sides about 5 h, 5 cm of paving on insulation about 3 h, boards 1 h),
# the indoor share from a U-value of 0.8 W/m2K under an outside film of 12 W/m2K (an older slab).
# Sideways, a wave of 12 h comes 0.2 m far in concrete (root of diffusivity times time), as far as a pot is
# wide, and hardly into boards.
GROUND = Floor(
    240.0, indoor_share=0.0, weather_share=0.7, under_pot_share=0.0, spreading_conductivity_w_m_k=1.2
)
SLAB_OVER_HEATED_ROOM = Floor(10.0, indoor_share=0.07, weather_share=0.7, under_pot_share=0.3)
SLAB_OVER_OPEN_AIR = Floor(5.0, indoor_share=0.0, weather_share=0.7, under_pot_share=0.3)
SLAB_OVER_INSULATED_ROOF = Floor(3.0, indoor_share=0.01, weather_share=1.0, under_pot_share=0.4)
DECKING = Floor(1.0, indoor_share=0.0, weather_share=0.8, under_pot_share=0.1)
NO_FLOOR = Floor(0.5, indoor_share=0.0, weather_share=0.0, under_pot_share=0.0, open_below=True)
INDOOR_FLOOR = Floor(1.0, indoor_share=0.0, weather_share=0.0, under_pot_share=0.0)


@dataclass(frozen=True, slots=True)
class SpotHours:
    """What a pot meets at one spot; arrays (n_hours, n_members).

    `direct_normal_w_m2` is the beam where no wall stands in its way, `diffuse_horizontal_w_m2` what
    the sky left open sends. In a room there is neither sky nor sun.
    """

    air_temperature_c: Array
    vapour_pressure_hpa: Array
    pressure_hpa: Array
    wind_speed_m_s: Array
    sky_longwave_w_m2: Array
    surroundings_c: Array
    house_wall_c: Array
    floor_c: Array  # open floor, which the pot's side looks at
    under_pot_c: Array  # floor below the pot
    sun_elevation_deg: Array
    direct_normal_w_m2: Array
    diffuse_horizontal_w_m2: Array
    snow_depth_m: Array  # lying on the pots' tops
    snow_beside_m: Array  # lying against their sides


@dataclass(frozen=True, slots=True)
class SpotClimate:
    """A spot's hours, and what of it does not change with the hours."""

    hours: SpotHours
    sky_view: float
    house_wall: bool
    floor: Floor
    indoors: bool


def gather_hours(
    spots: tuple[SpotClimate, ...],
    spot_of_series: NDArray[np.intp],
    member_of_series: NDArray[np.intp],
    window: slice,
) -> SpotHours:
    """The hours of many series side by side.

    Parameters
    ----------
    spots : tuple of SpotClimate
        All with the same hours and members.
    spot_of_series, member_of_series : ndarray of int, shape (n_series,)
        Index into `spots`, and into the members of its arrays, for each series.
    window : slice
        Hours to take.

    Returns
    -------
    SpotHours
        Arrays (n_hours, n_series).
    """
    full = spots[0].hours.air_temperature_c.shape

    def side_by_side(name: str) -> Array:
        of_spots = [np.broadcast_to(getattr(spot.hours, name), full)[window] for spot in spots]
        return np.stack(of_spots, axis=1)[:, spot_of_series, member_of_series]

    return SpotHours(**{field.name: side_by_side(field.name) for field in fields(SpotHours)})


def lagged(values: Array, time_constant_h: float | Array) -> Array:
    """What follows `values` with a first-order lag, starting in step with it.

    Parameters
    ----------
    values : ndarray, shape (n_hours, ...)
        The leading quantity at whole hours, linear between them.
    time_constant_h : float or ndarray, shape of one hour of `values`
        Time constant, above 0 [h].

    Returns
    -------
    ndarray, shape of `values`
        The lagged quantity, exact for a leading quantity that is linear within each hour.

    References
    ----------
    Exact solution of tau dy/dt = x(t) - y with x linear over the step.
    """
    kept = np.exp(-1.0 / time_constant_h)
    # y1 = x1 - s tau + (y0 - x0 + s tau) kept, with the slope s = x1 - x0 per hour
    rise = 1.0 - time_constant_h * (1.0 - kept)
    follower = np.array(values, dtype=np.float64)
    follower[1:] = values[:-1] * (1.0 - kept) + np.diff(values, axis=0) * rise
    # y[t] = u[t] + kept y[t - 1] by doubling: each pass adds what lies as far back again, until nothing is left
    reach, share = 1, np.asarray(kept, dtype=np.float64)
    while reach < values.shape[0] and np.any(share > 1e-18):
        follower[reach:] += share * follower[:-reach]
        reach, share = 2 * reach, share**2
    return follower


def sol_air_temperature_c(
    air_temperature_c: Array,
    wind_speed_m_s: Array,
    global_horizontal_w_m2: Array,
    sky_longwave_w_m2: Array,
    sky_view: float,
) -> Array:
    """Air temperature at which a bare floor would lose as little, or gain as much, without sun and sky.

    Parameters
    ----------
    air_temperature_c, wind_speed_m_s, global_horizontal_w_m2, sky_longwave_w_m2 : ndarray
        Air [degC], wind over the floor [m/s], sun on the horizontal, downward long-wave [W/m2].
    sky_view : float
        Share of the sky dome that the floor sees.

    Returns
    -------
    ndarray
        Sol-air temperature [degC].

    References
    ----------
    ASHRAE Handbook of Fundamentals, sol-air temperature; convective film 4 + 4 v from EN ISO 6946
    annex (from memory).
    """
    radiative = radiative_coefficient_w_m2_k(FLOOR_EMISSIVITY, air_temperature_c, air_temperature_c)
    film = 4.0 + 4.0 * wind_speed_m_s + radiative
    gain = FLOOR_SOLAR_ABSORPTANCE * sky_view * global_horizontal_w_m2 - FLOOR_EMISSIVITY * sky_view * (
        black_body_w_m2(air_temperature_c) - sky_longwave_w_m2
    )
    return np.asarray(air_temperature_c + gain / film)


def floor_temperature_c(
    floor: Floor, air_temperature_c: Array, sol_air_c: Array, *, under_pot: bool
) -> Array:
    """Temperature of the open floor, or of the floor below a pot [degC].

    From the outdoors with the floor's lag, and a heated room below. The skin of an open floor follows
    the sky at once; what lies below a pot follows the bulk of the floor.
    """
    radiation = floor.weather_share * (sol_air_c - air_temperature_c)
    if under_pot:
        outdoors = lagged(air_temperature_c + floor.under_pot_share * radiation, floor.time_constant_h)
    else:
        outdoors = lagged(air_temperature_c, min(floor.time_constant_h, 10.0)) + lagged(radiation, 1.0)
    return outdoors + floor.indoor_share * (INDOOR_C - outdoors)


def house_wall_temperature_c(air_temperature_c: Array) -> Array:
    """Outer face of the wall of a heated house [degC].

    Follows the air with a lag of 8 h, and is warmer by the share 0.04 of the step to the room (U-value
    0.6 W/m2K under an outside film of 15 W/m2K). Both estimates: old masonry is warmer, a newly
    insulated front no warmer than the air.
    """
    outdoors = lagged(air_temperature_c, 8.0)
    return outdoors + 0.04 * (INDOOR_C - outdoors)


def room_air_temperature_c(
    air_temperature_c: Array, lag_d: float, warmer_than_outdoors_k: float, lowest_c: float | None
) -> Array:
    """Air of an unheated or frost-free room [degC], which follows the outdoors with a lag of days.

    Parameters
    ----------
    air_temperature_c : ndarray, shape (n_hours, n_members)
        Outdoor air [degC].
    lag_d : float
        Time constant of the room [d].
    warmer_than_outdoors_k : float
        Steady excess over the outdoors, from the house and the ground [K].
    lowest_c : float or None
        Where a heater holds the room above a temperature [degC].
    """
    room = lagged(air_temperature_c, 24.0 * lag_d) + warmer_than_outdoors_k
    return room if lowest_c is None else np.maximum(room, lowest_c)


def sunlit(
    outdoor: OutdoorClimate, facing_deg: float | None, sky_view: float, horizon_deg: float = 0.0
) -> Array:
    """Share 0 or 1 of the beam that reaches a spot, by hour, shape (n_hours, 1).

    A spot that faces somewhere has the house behind it: the sun counts only from the half circle in
    front, above `horizon_deg`. Under a roof (sky view under a half) a sun higher than 40 degrees is cut off (estimate).
    """
    up = outdoor.sun_elevation_deg > horizon_deg
    if facing_deg is not None:
        up &= np.cos(np.radians(outdoor.sun_azimuth_deg - facing_deg)) > 0.0
    if sky_view < 0.5:
        up &= outdoor.sun_elevation_deg < 40.0
    return up.astype(np.float64)


def outdoor_spot(
    outdoor: OutdoorClimate,
    *,
    wind_fraction: float,
    sky_view: float,
    house_wall: bool,
    facing_deg: float | None,
    floor: Floor,
    horizon_deg: float = 0.0,
    ground_c: Array | None = None,
    snow_on_pots_m: Array | None = None,
    snow_beside_pots_m: Array | None = None,
) -> SpotClimate:
    """The hours at a spot out of doors.

    Parameters
    ----------
    outdoor : OutdoorClimate
        The hours over the terrace.
    wind_fraction : float
        Wind at the pots over wind at terrace height, 0 to 1.
    sky_view : float
        Share of the sky dome left open, 0 to 1.
    house_wall : bool
        The wall of a heated house stands behind the pots.
    facing_deg : float or None
        Bearing that the spot looks to [deg], None where it is open all round.
    floor : Floor
        What is beneath.
    horizon_deg : float
        Height of the sun below which it stays behind what stands opposite [deg].
    ground_c : ndarray or None
        Soil temperature where the weather service tells it and the floor is the ground [degC].
    snow_on_pots_m, snow_beside_pots_m : ndarray or None
        Snow that lies on the pots and against them, where it can be relied on [m]; else none is counted.

    Notes
    -----
    The pots stand in the cold air of open ground as far as the spot is open to the sky. The floor is reckoned
    from the air told: its own chill is what makes that air cold.
    """
    wind = np.maximum(outdoor.wind_speed_terrace_m_s * wind_fraction, CALMEST_WIND_M_S)
    lit = sunlit(outdoor, facing_deg, sky_view, horizon_deg)
    beam = outdoor.direct_normal_w_m2 * lit
    on_floor = beam * horizontal_beam_factor(outdoor.sun_elevation_deg)
    global_here = on_floor + outdoor.diffuse_horizontal_w_m2 * sky_view
    sol_air = sol_air_temperature_c(
        outdoor.air_temperature_c, wind, global_here, outdoor.sky_longwave_w_m2, sky_view
    )
    air = outdoor.air_temperature_c
    here = air - outdoor.cold_air_k * sky_view * (BY_A_WALL_COLD_AIR if house_wall else 1.0)
    none = np.zeros_like(air)
    if floor.spreading_conductivity_w_m_k is not None and ground_c is not None:
        under_pot = ground_c
    else:
        under_pot = floor_temperature_c(floor, air, sol_air, under_pot=True)
    hours = SpotHours(
        air_temperature_c=here,
        # what colder air cannot hold lies on the ground as dew
        vapour_pressure_hpa=np.minimum(outdoor.vapour_pressure_hpa, saturation_vapour_pressure_water_hpa(here)),
        pressure_hpa=outdoor.pressure_hpa,
        wind_speed_m_s=wind,
        sky_longwave_w_m2=outdoor.sky_longwave_w_m2,
        surroundings_c=lagged(here, 2.0),  # parapets, furniture: a light mass, estimate
        house_wall_c=house_wall_temperature_c(outdoor.air_temperature_c),
        floor_c=floor_temperature_c(floor, air, sol_air, under_pot=False),
        under_pot_c=under_pot,
        sun_elevation_deg=outdoor.sun_elevation_deg,
        direct_normal_w_m2=beam,
        diffuse_horizontal_w_m2=outdoor.diffuse_horizontal_w_m2 * sky_view,
        snow_depth_m=none if snow_on_pots_m is None else snow_on_pots_m,
        snow_beside_m=none if snow_beside_pots_m is None else snow_beside_pots_m,
    )
    return SpotClimate(hours=hours, sky_view=sky_view, house_wall=house_wall, floor=floor, indoors=False)


def room_spot(
    outdoor: OutdoorClimate,
    *,
    lag_d: float,
    warmer_than_outdoors_k: float,
    lowest_c: float | None,
    glass_sky_view: float = 0.0,
) -> SpotClimate:
    """The hours in a room: air, walls and floor at one lagged temperature, no wind, no sky, no sun.

    Parameters
    ----------
    outdoor : OutdoorClimate
        The hours over the terrace.
    lag_d, warmer_than_outdoors_k, lowest_c
        As for `room_air_temperature_c`.
    glass_sky_view : float
        Share of the sky dome that its outside sees where it is of glass, 0 for masonry, which holds more warmth than
        a night's sky takes. Glass is black to the sky: by night the room follows it, by day the sun, left out, makes
        up for that.
    """
    outside = outdoor.air_temperature_c
    if glass_sky_view > 0.0:
        wind = np.maximum(outdoor.wind_speed_terrace_m_s * WIND_OVER_GLASS, CALMEST_WIND_M_S)
        no_sun = np.zeros_like(outside)
        sky = outdoor.sky_longwave_w_m2
        under_the_sky = sol_air_temperature_c(outside, wind, no_sun, sky, glass_sky_view)
        outside = np.where(outdoor.sun_elevation_deg > 0.0, outside, np.minimum(under_the_sky, outside))
    room = room_air_temperature_c(outside, lag_d, warmer_than_outdoors_k, lowest_c)
    nothing = np.zeros_like(room)
    hours = SpotHours(
        air_temperature_c=room,
        # a room that is still colder than the outdoors holds no more than it can
        vapour_pressure_hpa=np.minimum(outdoor.vapour_pressure_hpa, saturation_vapour_pressure_water_hpa(room)),
        pressure_hpa=outdoor.pressure_hpa,
        wind_speed_m_s=np.full_like(room, STILL_ROOM_M_S),
        sky_longwave_w_m2=black_body_w_m2(room),
        surroundings_c=room,
        house_wall_c=room,
        floor_c=room,
        under_pot_c=room,
        sun_elevation_deg=outdoor.sun_elevation_deg,
        direct_normal_w_m2=nothing,
        diffuse_horizontal_w_m2=nothing,
        snow_depth_m=nothing,
        snow_beside_m=nothing,
    )
    return SpotClimate(hours=hours, sky_view=0.0, house_wall=False, floor=INDOOR_FLOOR, indoors=True)
