"""Open-Meteo's ensemble interface: many possible forecasts, or their mean and spread for a tenth of the cost.

References
----------
Open-Meteo, documentation of the ensemble interface, state of August 2026. Names of models have changed once
and will again, so they are settings. Members share few variables: what a model lacks arrives as null.
"""

from __future__ import annotations

from datetime import datetime

from frostguard.garden.model import Site
from frostguard.weather.open_meteo import SPREAD, hourly_query, parse_open_meteo
from frostguard.weather.series import WeatherSeries

MEMBERS_SERVICE = "open-meteo-ensemble"
SPREAD_SERVICE = "open-meteo-spread"
ENSEMBLE_URL = "https://ensemble-api.open-meteo.com/v1/ensemble"
LONGEST_AHEAD_D = 35
PAST_DAYS = 2
"""Members of the past are kept for about three days."""

MEMBER_VARIABLES = ("temperature_2m", "dew_point_2m", "wind_speed_10m", "cloud_cover", "precipitation")
"""What is asked of every member: each variable counts once per member in the service's quota."""


def members_query(site: Site, days: int, model: str) -> dict[str, str]:
    """The query for the members of a model: what decides a frost night, from two days ago on."""
    return _query(site, days, model, MEMBER_VARIABLES)


def spread_query(site: Site, days: int, model: str) -> dict[str, str]:
    """The query for a mean-and-spread model: means of all, and the spread of the temperature."""
    return _query(site, days, model, (*MEMBER_VARIABLES, SPREAD.name))


def _query(site: Site, days: int, model: str, variables: tuple[str, ...]) -> dict[str, str]:
    return {
        **hourly_query(site, variables),
        "models": model,
        "past_days": str(PAST_DAYS),
        "forecast_days": str(max(1, min(LONGEST_AHEAD_D, days + 2))),
        "cell_selection": "land",
    }


def parse_members(
    body: bytes,
    source: str = "The ensemble answer of Open-Meteo",
    *,
    fetched: datetime | None = None,
    model: str | None = None,
) -> WeatherSeries:
    """The series, one member per member of the model; errors as `parse_open_meteo`."""
    return parse_open_meteo(body, source, fetched=fetched, service=MEMBERS_SERVICE, model=model)


def parse_spread(
    body: bytes,
    source: str = "The ensemble answer of Open-Meteo",
    *,
    fetched: datetime | None = None,
    model: str | None = None,
) -> WeatherSeries:
    """The mean as a single member, its spread in `air_temperature_spread_k`; errors as `parse_open_meteo`."""
    return parse_open_meteo(body, source, fetched=fetched, service=SPREAD_SERVICE, model=model)
