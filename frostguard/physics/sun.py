"""Where the sun stands and what it sends: position, rise and set, clear sky, split, and beam on a pot.

Angles are in degrees, azimuth clockwise from north. Times are UTC. Elevations are geometric, without
refraction, unless a name says otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

import numpy as np
from numpy.typing import ArrayLike, NDArray

from frostguard.errors import PhysicsInputError

FloatArray = NDArray[np.float64]
Times = NDArray[np.datetime64]

SOLAR_CONSTANT_W_M2 = 1361.0
"""Sun at one astronomical unit [W/m2]; Kopp & Lean, Geophys. Res. Lett. 38, L01706, 2011."""

RISE_ELEVATION_DEG = -0.833
"""Centre of the sun as its upper rim shows: 16' radius and 34' refraction; Meeus 1998, ch. 15."""

EARTH_CLOCK_LAG_S = 69.0
"""Terrestrial time less universal time [s]; 69 s in the 2020s. A minute moves the sun by 0.0007 deg."""

SOLAR_PARALLAX_DEG = 8.794 / 3600.0
"""How far the sun looks lower from the ground than from the earth's centre; Meeus 1998, ch. 40."""

_J2000 = np.datetime64("2000-01-01T12:00:00", "s")
_DAYS_PER_CENTURY = 36525.0
_DAY_S = 86400.0


@dataclass(frozen=True, slots=True)
class SolarPosition:
    """Direction of the sun's centre: `elevation_deg` above the horizon, `azimuth_deg` from north by east."""

    elevation_deg: FloatArray
    azimuth_deg: FloatArray


@dataclass(frozen=True, slots=True)
class _Ephemeris:
    """The sun seen from the earth's centre, and the turn of the earth [deg, astronomical units]."""

    right_ascension_deg: FloatArray
    declination_deg: FloatArray
    distance_au: FloatArray
    greenwich_sidereal_deg: FloatArray


def _days_since_2000(times: Times) -> FloatArray:
    """Days since noon of 1 January 2000 in universal time."""
    return (np.asarray(times, dtype="datetime64[s]") - _J2000) / np.timedelta64(1, "s") / _DAY_S


def _ephemeris(days: FloatArray) -> _Ephemeris:
    """The low-accuracy sun of Meeus (1998), chapters 12, 22 and 25."""
    century = (days + EARTH_CLOCK_LAG_S / _DAY_S) / _DAYS_PER_CENTURY
    mean_longitude = 280.46646 + century * (36000.76983 + 0.0003032 * century)
    anomaly_deg = 357.52911 + century * (35999.05029 - 0.0001537 * century)
    anomaly = np.radians(anomaly_deg)
    eccentricity = 0.016708634 - century * (0.000042037 + 0.0000001267 * century)
    centre = (
        (1.914602 - century * (0.004817 + 0.000014 * century)) * np.sin(anomaly)
        + (0.019993 - 0.000101 * century) * np.sin(2.0 * anomaly)
        + 0.000289 * np.sin(3.0 * anomaly)
    )
    true_anomaly = np.radians(anomaly_deg + centre)
    distance = 1.000001018 * (1.0 - eccentricity**2) / (1.0 + eccentricity * np.cos(true_anomaly))
    node = np.radians(125.04 - 1934.136 * century)
    nutation_deg = -0.00478 * np.sin(node)
    longitude = np.radians(mean_longitude + centre - 0.00569 + nutation_deg)
    obliquity = np.radians(23.4392911 - 0.0130042 * century + 0.00256 * np.cos(node))
    right_ascension = np.arctan2(np.cos(obliquity) * np.sin(longitude), np.cos(longitude))
    declination = np.arcsin(np.sin(obliquity) * np.sin(longitude))
    sidereal = 280.46061837 + 360.98564736629 * days + nutation_deg * np.cos(obliquity)
    return _Ephemeris(np.degrees(right_ascension), np.degrees(declination), distance, sidereal % 360.0)


def _check_place(latitude_deg: float, longitude_deg: float) -> None:
    """Refuse a place that is not on the globe."""
    if not (-90.0 <= latitude_deg <= 90.0 and -360.0 <= longitude_deg <= 360.0):
        raise PhysicsInputError(
            f"Latitude {latitude_deg} and longitude {longitude_deg} are not a place on the globe.",
            next_step="Give degrees north from -90 to 90 and degrees east from -180 to 180.",
        )


def solar_position(times: Times, latitude_deg: float, longitude_deg: float) -> SolarPosition:
    """Direction of the sun's centre, without refraction.

    Parameters
    ----------
    times : ndarray of datetime64[s], any shape
        Instants in UTC.
    latitude_deg, longitude_deg : float
        Place, north and east positive [deg].

    Returns
    -------
    SolarPosition
        Elevation (-90 to 90) and azimuth (0 to 360) [deg], of the shape of `times`.

    Raises
    ------
    PhysicsInputError
        If the place is not on the globe.

    Notes
    -----
    Good to 0.02 deg from 1950 to 2050. Refraction, which lifts the sun by up to 0.5 deg at the horizon, is left
    out.

    References
    ----------
    Meeus, Astronomical Algorithms, 2nd ed., 1998, ch. 12 (sidereal time), 13 (horizontal coordinates),
    22 (obliquity), 25 (low-accuracy sun), 40 (parallax); from memory.
    """
    _check_place(latitude_deg, longitude_deg)
    days = _days_since_2000(times)
    sun = _ephemeris(days)
    hour_angle = np.radians(sun.greenwich_sidereal_deg + longitude_deg - sun.right_ascension_deg)
    latitude, declination = np.radians(latitude_deg), np.radians(sun.declination_deg)
    # the direction in the equator's frame, then turned into the horizon's; atan2 keeps the quadrant
    towards_meridian = np.cos(declination) * np.cos(hour_angle)
    up = np.sin(latitude) * np.sin(declination) + np.cos(latitude) * towards_meridian
    north = np.cos(latitude) * np.sin(declination) - np.sin(latitude) * towards_meridian
    east = -np.cos(declination) * np.sin(hour_angle)
    elevation = np.arcsin(np.clip(up, -1.0, 1.0))
    return SolarPosition(
        elevation_deg=np.asarray(np.degrees(elevation) - SOLAR_PARALLAX_DEG * np.cos(elevation)),
        azimuth_deg=np.asarray(np.degrees(np.arctan2(east, north)) % 360.0),
    )


def sunrise_sunset(
    day: date, latitude_deg: float, longitude_deg: float
) -> tuple[datetime | None, datetime | None]:
    """When the upper rim of the sun rises and sets over a level horizon.

    Parameters
    ----------
    day : date
        The day at the place; the rise before and the set after the noon of that longitude are meant.
    latitude_deg, longitude_deg : float
        Place, north and east positive [deg].

    Returns
    -------
    tuple of datetime or None
        Rise and set, aware, in UTC, to the second. None where the sun does not cross the horizon in
        that half of the day (polar day or night).

    Raises
    ------
    PhysicsInputError
        If the place is not on the globe.

    Notes
    -----
    Good to a minute up to latitude 65; near the pole a minute is less than the weather's refraction
    changes. Hills, houses and the height of the terrace are left out.

    References
    ----------
    Meeus, Astronomical Algorithms, 2nd ed., 1998, ch. 15, iterated on this module's own position.
    """
    _check_place(latitude_deg, longitude_deg)
    noon = datetime.combine(day, time(12), tzinfo=UTC) - timedelta(hours=longitude_deg / 15.0)
    noon_d = (noon.replace(tzinfo=None) - datetime(2000, 1, 1, 12)) / timedelta(days=1)
    rise, set_ = (_crossing_d(noon_d, latitude_deg, longitude_deg, side) for side in (-1.0, 1.0))
    return _instant(rise), _instant(set_)


def _crossing_d(noon_d: float, latitude_deg: float, longitude_deg: float, side: float) -> float | None:
    """Day count of the crossing before (-1) or after (+1) noon, or None."""
    latitude = np.radians(latitude_deg)
    sine_rise = np.sin(np.radians(RISE_ELEVATION_DEG))
    moment = noon_d
    cosine = 0.0
    for _ in range(8):  # the declination moves by at most 0.4 deg a day, so each turn gains two digits
        sun = _ephemeris(np.asarray(moment))
        declination = np.radians(sun.declination_deg)
        cosine = float(
            (sine_rise - np.sin(latitude) * np.sin(declination))
            / max(float(np.cos(latitude) * np.cos(declination)), 1e-9)
        )
        wanted_deg = side * np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
        hour_angle = sun.greenwich_sidereal_deg + longitude_deg - sun.right_ascension_deg
        # count the turn from the noon we started at, not from whichever noon is nearest by now
        behind = (hour_angle - wanted_deg + 180.0) % 360.0 - 180.0
        moment = moment - float(behind) / 360.9856
    return moment if -1.0 < cosine < 1.0 else None


def _instant(days: float | None) -> datetime | None:
    """The instant of a day count, to the second."""
    if days is None:
        return None
    return datetime(2000, 1, 1, 12, tzinfo=UTC) + timedelta(seconds=round(days * _DAY_S))


def extraterrestrial_normal_w_m2(times: Times) -> FloatArray:
    """Sun on a plane across its rays, above the air, at the day's distance.

    Parameters
    ----------
    times : ndarray of datetime64[s]
        Instants in UTC.

    Returns
    -------
    ndarray
        Irradiance [W/m2], 1316 in July to 1408 in January.

    References
    ----------
    Solar constant: Kopp & Lean 2011; distance: Meeus 1998, eq. 25.5.
    """
    return np.asarray(SOLAR_CONSTANT_W_M2 / _ephemeris(_days_since_2000(times)).distance_au ** 2)


def _sine_above_horizon(elevation_deg: ArrayLike) -> FloatArray:
    """Sine of the elevation, 0 where the sun is down."""
    return np.maximum(np.sin(np.radians(elevation_deg)), 0.0)


def haurwitz_clear_sky_w_m2(elevation_deg: ArrayLike) -> FloatArray:
    """Global sun on the horizontal under a clear sky.

    Parameters
    ----------
    elevation_deg : array_like
        Elevation of the sun [deg].

    Returns
    -------
    ndarray
        Global horizontal irradiance [W/m2]; 0 where the sun is down.

    Notes
    -----
    One curve for all clear days, fitted near sea level: some 5 to 10 % low in dry winter air and on
    mountains, and high in haze.

    References
    ----------
    Haurwitz, Journal of Meteorology 2, 154-166, 1945; constants 1098 and 0.059 from memory.
    """
    sine = _sine_above_horizon(elevation_deg)
    return np.asarray(1098.0 * sine * np.exp(-0.059 / np.maximum(sine, 1e-4)))


def kasten_czeplak_cloud_factor(cloud_fraction: ArrayLike) -> FloatArray:
    """Global sun under cloud over global sun under a clear sky.

    Parameters
    ----------
    cloud_fraction : array_like
        Sky covered by cloud, 0 to 1.

    Returns
    -------
    ndarray
        Factor, 1 when clear to 0.25 when overcast.

    Notes
    -----
    A mean over all cloud types of ten years at Hamburg: thin high cloud lets through more, rain cloud less.

    References
    ----------
    Kasten & Czeplak, Solar Energy 24, 177-189, 1980, eq. for all types (from memory).
    """
    return np.asarray(1.0 - 0.75 * np.clip(cloud_fraction, 0.0, 1.0) ** 3.4)


def clearness_index(
    global_horizontal_w_m2: ArrayLike, extraterrestrial_normal_w_m2: ArrayLike, elevation_deg: ArrayLike
) -> FloatArray:
    """Global sun on the horizontal over what would arrive without air.

    Parameters
    ----------
    global_horizontal_w_m2, extraterrestrial_normal_w_m2 : array_like
        Sun on the ground, and above the air across its rays [W/m2].
    elevation_deg : array_like
        Elevation of the sun [deg].

    Returns
    -------
    ndarray
        Clearness, 0 to 1; 0 where the sun is down. The sine of the elevation is held above 0.065
        (3.7 deg), as below it hourly values and instants no longer belong together.

    References
    ----------
    Definition; the lower bound is common practice.
    """
    sine = np.sin(np.radians(elevation_deg))
    received = np.asarray(global_horizontal_w_m2, dtype=float)
    without_air = np.asarray(extraterrestrial_normal_w_m2, dtype=float) * np.maximum(sine, 0.065)
    return np.asarray(np.where(sine > 0.0, np.clip(received / without_air, 0.0, 1.0), 0.0))


def erbs_diffuse_fraction(clearness: ArrayLike) -> FloatArray:
    """Share of the global sun that comes scattered from the sky.

    Parameters
    ----------
    clearness : array_like
        Clearness index, 0 to 1.

    Returns
    -------
    ndarray
        Diffuse over global, 0.165 to 1.

    References
    ----------
    Erbs, Klein & Duffie, Solar Energy 28, 293-302, 1982, eq. 1 (from memory).
    """
    k = np.clip(clearness, 0.0, 1.0)
    between = 0.9511 + k * (-0.1604 + k * (4.388 + k * (-16.638 + k * 12.336)))
    return np.asarray(np.where(k <= 0.22, 1.0 - 0.09 * k, np.where(k <= 0.80, between, 0.165)))


def split_global_w_m2(
    global_horizontal_w_m2: ArrayLike, extraterrestrial_normal_w_m2: ArrayLike, elevation_deg: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Beam across its rays, and diffuse on the horizontal, out of global sun.

    Parameters
    ----------
    global_horizontal_w_m2, extraterrestrial_normal_w_m2 : array_like
        Sun on the ground, and above the air across its rays [W/m2].
    elevation_deg : array_like
        Elevation of the sun [deg].

    Returns
    -------
    direct_normal_w_m2, diffuse_horizontal_w_m2 : ndarray
        They add up to the global sun wherever the sun is above 3 deg; below, all of it counts as
        diffuse, because a beam that grazes the horizon does not reach a terrace.

    References
    ----------
    Erbs, Klein & Duffie 1982 for the share; the bound at 3 deg is common practice.
    """
    clearness = clearness_index(global_horizontal_w_m2, extraterrestrial_normal_w_m2, elevation_deg)
    elevation = np.asarray(elevation_deg, dtype=float)
    received = np.maximum(global_horizontal_w_m2, 0.0)
    high = elevation > 3.0
    diffuse = np.where(high, erbs_diffuse_fraction(clearness), 1.0) * received
    sine = np.sin(np.radians(np.where(high, elevation, 90.0)))
    return np.asarray((received - diffuse) / sine), np.asarray(diffuse)


def cylinder_beam_factor(elevation_deg: ArrayLike) -> FloatArray:
    """Beam on the side of an upright cylinder, mean over its whole side, per beam across its rays.

    Parameters
    ----------
    elevation_deg : array_like
        Elevation of the sun [deg].

    Returns
    -------
    ndarray
        cos(elevation)/pi, 0 where the sun is down. The sunny middle of the side gets pi times this.

    References
    ----------
    Exact: shadow 2 R H cos(elevation) over side 2 pi R H.
    """
    elevation = np.asarray(elevation_deg, dtype=float)
    return np.asarray(np.where(elevation > 0.0, np.cos(np.radians(elevation)) / np.pi, 0.0))


def horizontal_beam_factor(elevation_deg: ArrayLike) -> FloatArray:
    """Beam on the horizontal per beam across its rays: the sine of the elevation, 0 at night."""
    return _sine_above_horizon(elevation_deg)


def hour_means_to_instants(values: ArrayLike, *, axis: int = 0) -> FloatArray:
    """Values at the whole hours, out of means over the hour that ends there.

    Parameters
    ----------
    values : array_like
        Means over the hour before each index, NaN where missing; hours run along `axis`.
    axis : int
        Axis of the hours; the first, as everywhere in the physics.

    Returns
    -------
    ndarray, shape of `values`
        At each index the average of the hour before and the hour after. Where one of the two is
        missing the other stands for both; where both are, NaN. The last index has no hour after it
        and takes the hour before. Where one of the two hours is dark (zero or less) the instant
        between them is dark as well: the sun was not up in any part of that hour, its end included.
    """
    before = np.moveaxis(np.asarray(values, dtype=float), axis, 0)
    after = np.concatenate([before[1:], before[-1:]], axis=0)
    average = np.where(
        np.isnan(before), after, np.where(np.isnan(after), before, 0.5 * (before + after))
    )
    dark = (before <= 0.0) | (after <= 0.0)
    return np.moveaxis(np.where(dark, np.minimum(average, 0.0), average), 0, axis)
