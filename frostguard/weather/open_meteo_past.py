"""Open-Meteo's interfaces for what is past: weather as it was, forecasts as they were made.

The archive (reanalysis) serves tuning over years, archived forecasts the spin-up of root balls, previous
runs the site's own bias: they give for each hour what was forecast one to seven days before it.

References
----------
Open-Meteo, documentation of the historical weather, historical forecast and previous runs interfaces, state
of August 2026.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, datetime

import numpy as np

from frostguard.errors import ForecastFormatError
from frostguard.garden.model import Site
from frostguard.weather.json_answer import SAVE_AGAIN, answer_object, block, numbers
from frostguard.weather.open_meteo import (
    MAX_PAST_DAYS,
    SERVICE,
    VARIABLES,
    hourly_query,
    series_of_answer,
)
from frostguard.weather.series import WeatherSeries

ARCHIVE_URL = "https://archive-api.open-meteo.com/v1/archive"
HISTORICAL_FORECAST_URL = "https://historical-forecast-api.open-meteo.com/v1/forecast"
PREVIOUS_RUNS_URL = "https://previous-runs-api.open-meteo.com/v1/forecast"

FIRST_DAY = date(1940, 1, 1)
LONGEST_LEAD_D = 7
RUN_VARIABLES = ("cloud_cover", "wind_speed_10m")
"""Asked beside the temperatures of earlier runs: they tell clear calm nights from others."""

_EARLIER_RUN = re.compile(r"(.+)_previous_day([1-7])")


def archive_query(site: Site, first: date, last: date, *, model: str = "era5_seamless") -> dict[str, str]:
    """The query for the weather from `first` to `last`, both included.

    The default model is one reanalysis throughout: the mixture that is given without one changes its
    character over the years, which a fit would take for weather.
    """
    if not FIRST_DAY <= first <= last:
        raise ValueError(f"the archive begins on {FIRST_DAY}, and {first} to {last} is no span in it")
    names = [v.other_name if v.name == "soil_temperature_18cm" else v.name for v in VARIABLES]
    layers = ("soil_temperature_0cm", "soil_temperature_6cm")  # the reanalysis has other layers
    return {
        **hourly_query(site, [name for name in names if name and name not in layers]),
        "start_date": first.isoformat(),
        "end_date": last.isoformat(),
        "models": model,
        "cell_selection": "land",
    }


def historical_forecast_query(site: Site, first: date, last: date) -> dict[str, str]:
    """The query for the first hours of archived forecasts, joined, from `first` to `last`."""
    if last < first:
        raise ValueError(f"{first} to {last} is no span")
    return {
        **hourly_query(site, [variable.name for variable in VARIABLES]),
        "start_date": first.isoformat(),
        "end_date": last.isoformat(),
        "cell_selection": "land",
    }


def previous_runs_query(site: Site, past_days: int) -> dict[str, str]:
    """The query for the air temperature as forecast zero to seven days ahead, over the past days."""
    if not 1 <= past_days <= MAX_PAST_DAYS:
        raise ValueError(f"past_days must be 1 to {MAX_PAST_DAYS}, not {past_days}")
    leads = [f"temperature_2m_previous_day{days}" for days in range(1, LONGEST_LEAD_D + 1)]
    return {
        **hourly_query(site, ["temperature_2m", *RUN_VARIABLES, *leads]),
        "past_days": str(past_days),
        "forecast_days": "1",
        "cell_selection": "land",
    }


def parse_previous_runs(
    body: bytes, source: str = "The answer of Open-Meteo", *, fetched: datetime | None = None
) -> Mapping[int, WeatherSeries]:
    """Series by days ahead: 0 the latest run, n the run that was made n days before each hour.

    Parameters
    ----------
    body : bytes
        The answer as received.
    source : str
        File or service, for messages.
    fetched : datetime, optional
        When it was received, aware.

    Returns
    -------
    mapping of int to WeatherSeries
        Runs without any temperature are left out.

    Raises
    ------
    ForecastFormatError
        As `parse_open_meteo`, or if no earlier run is in it.
    """
    answer = answer_object(body, source)
    hourly, units = block(answer, "hourly", source), block(answer, "hourly_units", source)
    runs: dict[int, WeatherSeries] = {}
    for lead in range(LONGEST_LEAD_D + 1):
        names = {key: _plain_name(key, lead) for key in hourly}
        column = next((key for key, plain in names.items() if plain == "temperature_2m"), None)
        labels = hourly.get("time")
        if column is None or not isinstance(labels, list):
            continue
        if np.isnan(numbers(column, hourly[column], len(labels), source)).all():
            continue
        wanted = {key: plain for key, plain in names.items() if plain is not None}
        part = {
            **answer,
            "hourly": {"time": labels, **{plain: hourly[key] for key, plain in wanted.items()}},
            "hourly_units": {
                "time": units.get("time"),
                **{plain: units.get(key) for key, plain in wanted.items()},
            },
        }
        runs[lead] = series_of_answer(part, source, fetched=fetched, service=SERVICE, model=None)
    if not set(runs) - {0}:
        raise ForecastFormatError(f"{source} holds no earlier runs.", next_step=SAVE_AGAIN)
    return runs


def _plain_name(key: str, lead: int) -> str | None:
    """The variable's name if the column belongs to that lead, else None."""
    match = _EARLIER_RUN.fullmatch(key)
    if match is None:
        return key if lead == 0 and key != "time" else None
    return match[1] if int(match[2]) == lead else None
