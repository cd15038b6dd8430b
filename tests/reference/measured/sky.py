"""How cloudy it was, told by the sun, where nobody looked at the sky."""

from __future__ import annotations

import numpy as np

from frostguard.physics.sun import extraterrestrial_normal_w_m2, solar_position

HIGH_SUN_DEG = 8.0


def sun_at(times_utc: np.ndarray, latitude_deg: float, longitude_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """Elevation of the sun [deg], and what a level surface above the air would receive [W/m2]."""
    times = times_utc.astype("datetime64[s]")
    elevation = solar_position(times, latitude_deg, longitude_deg).elevation_deg
    return elevation, extraterrestrial_normal_w_m2(times) * np.sin(np.radians(np.maximum(elevation, 1.0)))


def cloud_from_sun(
    pandas, sun_w_m2: np.ndarray, elevation_deg: np.ndarray, above_air_w_m2: np.ndarray, clear_share: float
) -> np.ndarray:
    """Share of the sky covered by half-hours, NaN under a low sun or none.

    Against the sun of clear half-hours at the same elevation: in each band of 2 degrees the quantile
    `clear_share` of all half-hours counts as clear, so a sunny place has a lower one. The share is that at
    which Kasten and Czeplak (1980) let as much sun through; means over 2.5 h.
    """
    high = elevation_deg > HIGH_SUN_DEG
    clearness = sun_w_m2 / above_air_w_m2
    band = (elevation_deg // 2).astype(int)
    best = {k: np.nanpercentile(clearness[high & (band == k)], 100 * clear_share) for k in np.unique(band[high])}
    relative = np.clip(clearness / np.array([best.get(k, np.nan) for k in band]), 0.0, 1.0)
    relative[~high] = np.nan
    smooth = pandas.Series(relative).rolling(5, center=True).mean().to_numpy()
    return (np.clip(1.0 - smooth, 0.0, 0.75) / 0.75) ** (1.0 / 3.4)


def between_clear_days(pandas, cloud: np.ndarray, most: float) -> np.ndarray:
    """Whether the last cloud told before and the first told after, both within 18 h, were below `most`."""
    series = pandas.Series(cloud)
    return ((series.ffill(limit=36) < most) & (series.bfill(limit=36) < most)).to_numpy()
