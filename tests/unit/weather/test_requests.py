"""Every parameter of every request against the documentation of its service, one by one.

Each row names the document, whether it asks for the parameter, and what it lets it be. A request that sends what
its document does not know, or a value outside of it, or leaves out what is required, fails by that name.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime

import pytest

from frostguard.garden.model import Site
from frostguard.garden.settings import Settings
from frostguard.weather.open_meteo_past import archive_query, historical_forecast_query, previous_runs_query
from frostguard.weather.open_meteo_places import elevation_query, places_query
from frostguard.weather.services import SERVICES

NOW = datetime(2026, 1, 14, 14, 20, tzinfo=UTC)
Rule = Callable[[str], bool]


def one_of(*words: str) -> Rule:
    return lambda value: value in words


def whole(lowest: int, highest: int) -> Rule:
    return lambda value: re.fullmatch(r"-?\d+", value) is not None and lowest <= int(value) <= highest


def degrees(most: float, decimals: int = 15) -> Rule:
    return lambda value: (
        re.fullmatch(rf"-?\d{{1,3}}(\.\d{{1,{decimals}}})?", value) is not None and abs(float(value)) <= most
    )


def a_day(value: str) -> bool:
    return date.fromisoformat(value).isoformat() == value


def metres(value: str) -> bool:
    return re.fullmatch(r"-?\d+(\.\d+)?", value) is not None


def names(*known: str) -> Rule:
    return lambda value: set(value.split(",")) <= set(known) and len(set(value.split(","))) == value.count(",") + 1


@dataclass(frozen=True)
class Parameter:
    """What a document says of a parameter."""

    rule: Rule
    required: bool = False


@dataclass(frozen=True)
class Document:
    """A table of parameters, and the address that it belongs to."""

    title: str
    url: str
    parameters: Mapping[str, Parameter]


FORECAST_HOURLY = (
    "temperature_2m", "relative_humidity_2m", "dew_point_2m", "surface_pressure", "cloud_cover", "wind_speed_10m",
    "wind_gusts_10m", "wind_direction_10m", "precipitation", "snowfall", "snow_depth", "shortwave_radiation",
    "direct_normal_irradiance", "diffuse_radiation", "soil_temperature_0cm", "soil_temperature_6cm",
    "soil_temperature_18cm", "soil_temperature_54cm",
)  # fmt: skip
ARCHIVE_HOURLY = (
    *(name for name in FORECAST_HOURLY if not name.startswith("soil_")),
    "soil_temperature_0_to_7cm", "soil_temperature_7_to_28cm", "soil_temperature_28_to_100cm",
)  # fmt: skip
PLACE = {
    "latitude": Parameter(degrees(90.0), required=True),
    "longitude": Parameter(degrees(180.0), required=True),
}
OPEN_METEO = {
    **PLACE,
    "elevation": Parameter(metres),
    "temperature_unit": Parameter(one_of("celsius", "fahrenheit")),
    "wind_speed_unit": Parameter(one_of("kmh", "ms", "mph", "kn")),
    "precipitation_unit": Parameter(one_of("mm", "inch")),
    "timezone": Parameter(one_of("GMT", "auto", "Europe/Ljubljana")),
    "timeformat": Parameter(one_of("iso8601", "unixtime")),
    "cell_selection": Parameter(one_of("land", "sea", "nearest")),
}
SPAN = {"start_date": Parameter(a_day, required=True), "end_date": Parameter(a_day, required=True)}

FORECAST = Document(
    "Open-Meteo, Weather Forecast API, table of URL parameters, 2026",
    "https://api.open-meteo.com/v1/forecast",
    {
        **OPEN_METEO,
        "hourly": Parameter(names(*FORECAST_HOURLY)),
        "past_days": Parameter(whole(0, 92)),
        "forecast_days": Parameter(whole(0, 16)),
    },
)
ENSEMBLE = Document(
    "Open-Meteo, Ensemble API, table of URL parameters and list of variables, 2026",
    "https://ensemble-api.open-meteo.com/v1/ensemble",
    {
        **OPEN_METEO,
        "models": Parameter(names("icon_seamless_eps", "ecmwf_ifs025_ensemble", "ncep_gefs025"), required=True),
        "hourly": Parameter(names(*FORECAST_HOURLY)),
        "past_days": Parameter(whole(0, 92)),
        "forecast_days": Parameter(whole(0, 35)),
    },
)
SPREAD = Document(
    "Open-Meteo, Ensemble Mean API, form and list of variables, 2026",
    "https://ensemble-api.open-meteo.com/v1/ensemble",
    {
        **ENSEMBLE.parameters,
        "models": Parameter(names("dwd_icon_eps_ensemble_mean_seamless", "ecmwf_ifs025_ensemble_mean"), required=True),
        "hourly": Parameter(names(*FORECAST_HOURLY, *(f"{name}_spread" for name in FORECAST_HOURLY))),
        "forecast_days": Parameter(whole(0, 16)),
    },
)
ARCHIVE = Document(
    "Open-Meteo, Historical Weather API, table of URL parameters, 2026",
    "https://archive-api.open-meteo.com/v1/archive",
    {**OPEN_METEO, **SPAN, "hourly": Parameter(names(*ARCHIVE_HOURLY)), "models": Parameter(names("era5_seamless"))},
)
HISTORICAL = Document(
    "Open-Meteo, Historical Forecast API, table of URL parameters, 2026",
    "https://historical-forecast-api.open-meteo.com/v1/forecast",
    {**OPEN_METEO, **SPAN, "hourly": Parameter(names(*FORECAST_HOURLY))},
)
EARLIER = Document(
    "Open-Meteo, Previous Runs API: parameters of the forecast, variables with _previous_day1 to 7, 2026",
    "https://previous-runs-api.open-meteo.com/v1/forecast",
    {
        **FORECAST.parameters,
        "hourly": Parameter(
            names(*FORECAST_HOURLY, *(f"{n}_previous_day{d}" for n in FORECAST_HOURLY for d in range(8)))
        ),
    },
)
GEOCODING = Document(
    "Open-Meteo, Geocoding API, table of URL parameters, 2026",
    "https://geocoding-api.open-meteo.com/v1/search",
    {
        "name": Parameter(lambda value: len(value) >= 2, required=True),
        "count": Parameter(whole(1, 100)),
        "language": Parameter(one_of("en", "de", "fr", "es", "it", "pt", "ru", "tr", "hi")),
        "format": Parameter(one_of("json", "protobuf")),
        "countryCode": Parameter(lambda value: len(value) == 2),
    },
)
ELEVATION = Document(
    "Open-Meteo, Elevation API, table of URL parameters, 2026", "https://api.open-meteo.com/v1/elevation", PLACE
)
NORWAY = Document(
    "MET Norway, Locationforecast 2.0 documentation, section parameters; Terms of Service: at most 4 decimals",
    "https://api.met.no/weatherapi/locationforecast/2.0/complete",
    {
        "lat": Parameter(degrees(90.0, decimals=4), required=True),
        "lon": Parameter(degrees(180.0, decimals=4), required=True),
        "altitude": Parameter(whole(-500, 9000)),
    },
)
BRIGHT_SKY = Document(
    "Bright Sky, API documentation of /weather, query parameters, 2026",
    "https://api.brightsky.dev/weather",
    {
        "date": Parameter(a_day, required=True),
        "last_date": Parameter(a_day),
        "lat": Parameter(degrees(90.0)),
        "lon": Parameter(degrees(180.0)),
        "max_dist": Parameter(whole(0, 500_000)),
        "tz": Parameter(one_of("Etc/UTC", "Europe/Berlin")),
        "units": Parameter(one_of("dwd", "si")),
    },
)
GRID = Document(
    "US National Weather Service, API specification: /gridpoints/{wfo}/{x},{y} has no query parameters",
    "https://api.weather.gov/gridpoints/TAE/58,65",
    {},
)


Asked = Callable[[Site, int], tuple[str, Mapping[str, str]]]


def of_service(code: str, cell: str = "") -> Asked:
    def asked(site: Site, days: int) -> tuple[str, Mapping[str, str]]:
        request = SERVICES[code].request(site, replace(Settings(), days=days), NOW, cell)
        return request.url, request.query

    return asked


def of_query(document: Document, query: Callable[[Site], Mapping[str, str]]) -> Asked:
    return lambda site, days: (document.url, query(site))


OLD, NEW = (date(2001, 1, 1), date(2001, 3, 1)), (date(2024, 1, 1), date(2024, 3, 1))
REQUESTS: dict[str, tuple[Document, Asked]] = {
    "forecast": (FORECAST, of_service("open-meteo")),
    "members": (ENSEMBLE, of_service("open-meteo-ensemble")),
    "mean and spread": (SPREAD, of_service("open-meteo-spread")),
    "archive": (ARCHIVE, of_query(ARCHIVE, lambda site: archive_query(site, *OLD))),
    "historical forecasts": (HISTORICAL, of_query(HISTORICAL, lambda site: historical_forecast_query(site, *NEW))),
    "previous runs": (EARLIER, of_query(EARLIER, lambda site: previous_runs_query(site, 92))),
    "place": (GEOCODING, of_query(GEOCODING, lambda site: places_query("Ljubljana", most=5))),
    "height": (ELEVATION, of_query(ELEVATION, lambda site: elevation_query(site.latitude_deg, site.longitude_deg))),
    "MET Norway": (NORWAY, of_service("met-norway")),
    "Bright Sky": (BRIGHT_SKY, of_service("bright-sky")),
    "US grid": (GRID, of_service("nws", "TAE/58,65")),
}
SITES = ((46.05108, 14.50513, 298.4), (-54.80191, -68.30295, 14.0), (78.22, 15.65, -3.0))


@pytest.mark.parametrize("days", [1, 7, 14])
@pytest.mark.parametrize("place", SITES)
@pytest.mark.parametrize("name", REQUESTS)
def test_every_parameter_is_as_documented(
    site: Site, name: str, place: tuple[float, float, float], days: int
) -> None:
    """Known to its document, within what that allows, none that is required left out, at the documented address."""
    document, request = REQUESTS[name]
    latitude, longitude, height = place
    url, query = request(replace(site, latitude_deg=latitude, longitude_deg=longitude, elevation_m=height), days)
    assert url == document.url
    for parameter, value in query.items():
        assert parameter in document.parameters, f"{parameter} is not in {document.title}"
        assert document.parameters[parameter].rule(value), f"{parameter}={value} is not what {document.title} allows"
    missing = [one for one, said in document.parameters.items() if said.required and one not in query]
    assert not missing, f"{document.title} requires {missing}"


def test_dates_and_counts_of_days_are_not_mixed(site: Site) -> None:
    """Open-Meteo, Weather Forecast API: start_date and end_date exclude past_days and forecast_days (else 400)."""
    for _, request in REQUESTS.values():
        _, query = request(site, 7)
        assert not ({"start_date", "end_date"} & set(query) and {"past_days", "forecast_days"} & set(query))


def test_every_service_and_lookup_is_in_the_table() -> None:
    """A service that is added has its document here."""
    addresses = {document.url for document, _ in REQUESTS.values()}
    assert len(REQUESTS) == len(SERVICES) + 5  # archive, historical forecasts, previous runs, places, heights
    assert len(addresses) == len(REQUESTS) - 1  # members and spreads share one
