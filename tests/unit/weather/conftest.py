"""An invented winter answer in the documented shape, a site, and a client without a network."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import httpx
import pytest

from frostguard.garden.model import Site, Surroundings
from frostguard.garden.settings import Settings
from frostguard.weather.client import WeatherClient, open_weather_client

ASKED = datetime(2026, 1, 14, 14, 20, tzinfo=UTC)
FIRST = datetime(2025, 12, 15, tzinfo=UTC)
HOURS = 24 * 39

Answer = dict[str, Any]


@pytest.fixture
def site() -> Site:
    """The invented roof terrace in Ljubljana."""
    return Site("Terrace", 46.05, 14.51, 298.0, "Europe/Ljubljana", 18.0, Surroundings.CITY)


@pytest.fixture
def asked() -> datetime:
    """The moment of asking that the winter answer is made for: 30 days behind it, more than 7 ahead."""
    return ASKED


def _winter_answer(hours: int = HOURS, first: datetime = FIRST) -> Answer:
    start = int(first.timestamp())
    clock = [(h % 24) for h in range(hours)]
    air = [round(-1.0 + 4.0 * math.cos((hour - 14) * math.pi / 12), 1) for hour in clock]
    sun = [
        round(max(0.0, 260.0 * math.sin((hour - 7) * math.pi / 8)), 1) if 7 < hour < 15 else 0.0
        for hour in clock
    ]
    hourly: dict[str, list[float | int | None]] = {
        "temperature_2m": list(air),
        "dew_point_2m": [value - 2.0 for value in air],
        "relative_humidity_2m": [86] * hours,
        "surface_pressure": [980.4] * hours,
        "wind_speed_10m": [1.5] * hours,
        "wind_gusts_10m": [4.0] * hours,
        "wind_direction_10m": [45] * hours,
        "cloud_cover": [10] * hours,
        "precipitation": [0.0] * hours,
        "snowfall": [0.0] * hours,
        "snow_depth": [0.0] * hours,
        "shortwave_radiation": list(sun),
        "direct_normal_irradiance": [2.0 * value for value in sun],
        "diffuse_radiation": [0.3 * value for value in sun],
        "soil_temperature_0cm": [0.5] * hours,
        "soil_temperature_6cm": [1.5] * hours,
        "soil_temperature_18cm": [3.5] * hours,
    }
    units = {
        "temperature_2m": "°C", "dew_point_2m": "°C", "relative_humidity_2m": "%", "surface_pressure": "hPa",
        "wind_speed_10m": "m/s", "wind_gusts_10m": "m/s", "wind_direction_10m": "°", "cloud_cover": "%",
        "precipitation": "mm", "snowfall": "cm", "snow_depth": "m", "shortwave_radiation": "W/m²",
        "direct_normal_irradiance": "W/m²", "diffuse_radiation": "W/m²", "soil_temperature_0cm": "°C",
        "soil_temperature_6cm": "°C", "soil_temperature_18cm": "°C",
    }  # fmt: skip
    return {
        "latitude": 46.04,
        "longitude": 14.52,
        "generationtime_ms": 0.9,
        "utc_offset_seconds": 0,
        "timezone": "GMT",
        "timezone_abbreviation": "GMT",
        "elevation": 298.0,
        "hourly_units": {"time": "unixtime", **units},
        "hourly": {"time": [start + 3600 * h for h in range(hours)], **hourly},
    }


@pytest.fixture
def winter_answer() -> Callable[..., Answer]:
    """Makes a fresh answer: invented, clear and calm, -5 to 3 degC each day, all columns."""
    return _winter_answer


@pytest.fixture
def feeds() -> Path:
    """The folder of recorded answers; tests that need it are left out where it is not set."""
    folder = os.environ.get("FROSTGUARD_FEEDS")
    if not folder:
        pytest.skip("FROSTGUARD_FEEDS is not set; own payloads cover the same code")
    return Path(folder)


class FakeTime:
    """A clock that only moves when somebody sleeps; it remembers the waits."""

    def __init__(self) -> None:
        self.elapsed_s = 0.0
        self.waits_s: list[float] = []

    def sleep(self, seconds: float) -> None:
        self.waits_s.append(seconds)
        self.elapsed_s += seconds

    def monotonic(self) -> float:
        return self.elapsed_s


OpenClient = Callable[..., Any]


@pytest.fixture
def fake_time() -> FakeTime:
    """A clock for the client."""
    return FakeTime()


@pytest.fixture
def client_on(fake_time: FakeTime) -> OpenClient:
    """Opens a client whose network is a function from request to response."""

    @contextmanager
    def opened(
        handler: Callable[[httpx.Request], httpx.Response], contact: str | None = None, **more: Any
    ) -> Iterator[WeatherClient]:
        with open_weather_client(
            Settings(contact=contact),
            transport=httpx.MockTransport(handler),
            sleep=fake_time.sleep,
            monotonic=fake_time.monotonic,
            jitter=lambda: 0.0,
            now=lambda: ASKED,
            **more,
        ) as client:
            yield client

    return opened
