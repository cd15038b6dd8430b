"""Asked once by a person, not every evening: where a place lies, how high, and what its weather was."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import date
from typing import TypeVar

from frostguard.errors import ForecastFormatError, FrostguardError, WeatherUnavailable
from frostguard.garden.model import Site
from frostguard.garden.settings import Settings
from frostguard.weather.client import WeatherClient
from frostguard.weather.open_meteo import MAX_PAST_DAYS, parse_open_meteo
from frostguard.weather.open_meteo_past import (
    ARCHIVE_URL,
    HISTORICAL_FORECAST_URL,
    PREVIOUS_RUNS_URL,
    archive_query,
    historical_forecast_query,
    parse_previous_runs,
    previous_runs_query,
)
from frostguard.weather.open_meteo_places import (
    ELEVATION_URL,
    GEOCODING_URL,
    Place,
    elevation_query,
    parse_elevation,
    parse_places,
    places_query,
)
from frostguard.weather.raw_answer import RawAnswer
from frostguard.weather.series import WeatherSeries
from frostguard.weather.store import ForecastStore

T = TypeVar("T")

MOST_PLACES = 5
FIRST_ARCHIVED_FORECAST = date(2022, 1, 1)
"""Archived forecasts, finer than the reanalysis, reach back to 2021 or 2022 (Open-Meteo, documentation)."""

LONGEST_WAIT_S = 30.0
"""Wait for another process that asks services [s]; one question of an evening is seldom longer (estimate)."""

_NUMBER = r"[+-]?\d{1,3}(?:\.\d+)?"
_COORDINATES = re.compile(rf"\s*({_NUMBER})\s*[,; ]\s*({_NUMBER})\s*")


def coordinates(text: str) -> tuple[float, float] | None:
    """Latitude and longitude [deg] if the text is two such numbers, as "46.05, 14.51"; else None."""
    match = _COORDINATES.fullmatch(text)
    if match is None:
        return None
    latitude, longitude = float(match[1]), float(match[2])
    return (latitude, longitude) if abs(latitude) <= 90.0 and abs(longitude) <= 180.0 else None


@contextmanager
def client_in_turn(settings: Settings, store: ForecastStore) -> Iterator[WeatherClient]:
    """A client for look-ups, which asks when no other process does, and after half a minute all the same."""
    from frostguard.weather.client import open_weather_client

    with (
        open_weather_client(settings) as client,
        store.turn(wait_s=LONGEST_WAIT_S, sleep=client.sleep, monotonic=client.monotonic),
    ):
        yield client


def find_places(client: WeatherClient, name: str) -> tuple[Place, ...]:
    """The places that a name may mean, the likeliest first, at most `MOST_PLACES`.

    Raises
    ------
    FrostguardError
        If the search cannot be reached or read, with what to do instead.
    """
    query = places_query(name, most=MOST_PLACES)
    return _asked(client, GEOCODING_URL, query, lambda raw: parse_places(raw.body), by_hand=_BY_MAP)


def ground_height_m(client: WeatherClient, latitude_deg: float, longitude_deg: float) -> float:
    """The ground's height at a point [m], of a model with cells of 90 m.

    Raises
    ------
    FrostguardError
        As `find_places`.
    """
    query = elevation_query(latitude_deg, longitude_deg)
    return _asked(client, ELEVATION_URL, query, lambda raw: parse_elevation(raw.body), by_hand=_BY_MAP)


def past_weather(client: WeatherClient, site: Site, first: date, last: date) -> WeatherSeries:
    """The weather of a site from `first` to `last`, both included.

    From archived forecasts where they reach back far enough, else from a reanalysis, one source throughout.

    Raises
    ------
    FrostguardError
        As `find_places`.
    """
    if first >= FIRST_ARCHIVED_FORECAST:
        url, query = HISTORICAL_FORECAST_URL, historical_forecast_query(site, first, last)
    else:
        url, query = ARCHIVE_URL, archive_query(site, first, last)
    source = "The archive of Open-Meteo"
    return _asked(
        client,
        url,
        query,
        lambda raw: parse_open_meteo(raw.body, source, fetched=raw.fetched),
        by_hand="Try again later, or with fewer days.",
    )


def earlier_runs(client: WeatherClient, site: Site, past_days: int) -> Mapping[int, WeatherSeries]:
    """The air of the past days as it was forecast one to seven days before, by days ahead.

    Raises
    ------
    FrostguardError
        As `find_places`.
    """
    query = previous_runs_query(site, min(max(past_days, 1), MAX_PAST_DAYS))
    return _asked(
        client,
        PREVIOUS_RUNS_URL,
        query,
        lambda raw: parse_previous_runs(raw.body, "The record of earlier forecasts", fetched=raw.fetched),
        by_hand="Try again later; forecasts that are kept from now on teach the same.",
    )


_BY_MAP = "Take latitude, longitude and height from a map, and the time zone from your computer's clock."


def _asked(
    client: WeatherClient,
    url: str,
    query: Mapping[str, str],
    parse: Callable[[RawAnswer], T],
    *,
    by_hand: str,
) -> T:
    """The parsed answer; what fails has another way out than an evening without a forecast."""
    try:
        return client.ask(url, query, parse)[1]
    except (WeatherUnavailable, ForecastFormatError) as exc:
        raise FrostguardError(exc.message, next_step=by_hand) from exc
