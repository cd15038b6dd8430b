"""The weather services by their codes: what each is asked, how it is read, and what it lacks.

Adding a service means a module with its request and its reading, and an entry here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Protocol

from frostguard.garden.model import Site
from frostguard.garden.settings import Settings, WeatherService
from frostguard.weather import bright_sky, met_norway, nws, open_meteo, open_meteo_ensemble
from frostguard.weather.json_answer import json_object
from frostguard.weather.series import COLUMNS, WeatherSeries

DAY = timedelta(days=1)
HOUR = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Request:
    """What is asked: an address and its query."""

    url: str
    query: Mapping[str, str] = field(default_factory=dict)


class Parse(Protocol):
    """Reads an answer."""

    def __call__(self, body: bytes, source: str, *, fetched: datetime | None) -> WeatherSeries: ...


@dataclass(frozen=True, slots=True)
class Locate:
    """For a service that must first be asked which cell a place lies in: that question, and its reading."""

    url: Callable[[Site], str]
    parse: Callable[[bytes], str]
    kept: timedelta  # how long a cell is taken to stay the same


@dataclass(frozen=True, slots=True)
class Service:
    """A weather service.

    `request` gets site, settings, the moment, and the cell where the service has cells. `rest_after` says
    how long to leave the service alone after it refused with a status; without an entry it is asked
    again next time. `stale_after` is the age of its data from which they count as left lying.
    """

    code: str
    name: str
    home: str
    credit: str
    columns: Sequence[str]  # that it can give, in the best case
    request: Callable[[Site, Settings, datetime, str], Request]
    parse: Parse
    covers: Callable[[Site], bool]
    needs_contact: bool = False
    locate: Locate | None = None
    stale_after: timedelta = DAY
    rest_after: Mapping[int, timedelta] = field(default_factory=dict)

    @property
    def lacks(self) -> tuple[str, ...]:
        """Columns that it never gives; those that no forecast gives are not counted."""
        usual = [name for name in COLUMNS if name not in NOT_EXPECTED]
        return tuple(name for name in usual if name not in self.columns)


NOT_EXPECTED = ("pressure_hpa", "sky_longwave_w_m2", "air_temperature_spread_k", "service_difference_k")


def _everywhere(site: Site) -> bool:
    return True


# Corners of what the service covers, latitudes then longitudes; roughly, since beyond them it says so itself
# (from memory): contiguous states, Alaska (and beyond the date line), Hawaii, Puerto Rico, Guam.
_NWS_BOXES = (
    (24.0, 50.0, -126.0, -66.0),
    (51.0, 72.0, -180.0, -129.0),
    (51.0, 54.0, 172.0, 180.0),
    (18.5, 22.5, -161.0, -154.0),
    (17.5, 18.7, -68.0, -64.3),
    (13.0, 14.0, 144.0, 146.0),
)
# Where forecast points of the German service stand dense enough to be near (estimate).
_EUROPE = (35.0, 72.0, -12.0, 35.0)


def _inside(site: Site, box: tuple[float, float, float, float]) -> bool:
    south, north, west, east = box
    return south <= site.latitude_deg <= north and west <= site.longitude_deg <= east


def _in_the_states(site: Site) -> bool:
    return any(_inside(site, box) for box in _NWS_BOXES)


def _in_europe(site: Site) -> bool:
    return _inside(site, _EUROPE)


def _ask_open_meteo(site: Site, settings: Settings, now: datetime, cell: str) -> Request:
    return Request(open_meteo.FORECAST_URL, open_meteo.forecast_query(site, settings.days))


def _ask_members(site: Site, settings: Settings, now: datetime, cell: str) -> Request:
    query = open_meteo_ensemble.members_query(site, settings.days, settings.ensemble_model)
    return Request(open_meteo_ensemble.ENSEMBLE_URL, query)


def _ask_spread(site: Site, settings: Settings, now: datetime, cell: str) -> Request:
    query = open_meteo_ensemble.spread_query(site, settings.days, settings.spread_model)
    return Request(open_meteo_ensemble.ENSEMBLE_URL, query)


def _ask_met_norway(site: Site, settings: Settings, now: datetime, cell: str) -> Request:
    return Request(met_norway.URL, met_norway.forecast_query(site))


def _ask_nws(site: Site, settings: Settings, now: datetime, cell: str) -> Request:
    return Request(nws.grid_url(cell))


def _ask_bright_sky(site: Site, settings: Settings, now: datetime, cell: str) -> Request:
    return Request(bright_sky.URL, bright_sky.forecast_query(site, settings.days, now))


_OPEN_METEO_COLUMNS = tuple(variable.column for variable in open_meteo.VARIABLES)
_MEMBER_COLUMNS = tuple(
    variable.column
    for variable in open_meteo.VARIABLES
    if variable.name in open_meteo_ensemble.MEMBER_VARIABLES
)

SERVICES: Mapping[str, Service] = {
    service.code: service
    for service in (
        Service(
            code=WeatherService.OPEN_METEO.value,
            name="Open-Meteo",
            home="https://open-meteo.com",
            credit=open_meteo.CREDIT,
            columns=_OPEN_METEO_COLUMNS,
            request=_ask_open_meteo,
            parse=open_meteo.parse_open_meteo,
            covers=_everywhere,
        ),
        Service(
            code=WeatherService.OPEN_METEO_ENSEMBLE.value,
            name="Open-Meteo, ensemble",
            home="https://open-meteo.com",
            credit=open_meteo.CREDIT,
            columns=_MEMBER_COLUMNS,
            request=_ask_members,
            parse=open_meteo_ensemble.parse_members,
            covers=_everywhere,
        ),
        Service(
            code=WeatherService.OPEN_METEO_SPREAD.value,
            name="Open-Meteo, mean and spread",
            home="https://open-meteo.com",
            credit=open_meteo.CREDIT,
            columns=(*_MEMBER_COLUMNS, "air_temperature_spread_k"),
            request=_ask_spread,
            parse=open_meteo_ensemble.parse_spread,
            covers=_everywhere,
        ),
        Service(
            code=WeatherService.MET_NORWAY.value,
            name="MET Norway",
            home="https://api.met.no",
            credit=met_norway.CREDIT,
            columns=(*(column for column, _ in met_norway.INSTANTS.values()), "precipitation_mm"),
            request=_ask_met_norway,
            parse=met_norway.parse_met_norway,
            covers=_everywhere,
            needs_contact=True,
            # Its terms: a refusal must stop the caller; 429 means to back off hard.
            rest_after={403: DAY, 404: DAY, 422: DAY, 429: HOUR},
        ),
        Service(
            code=WeatherService.NWS.value,
            name="US National Weather Service",
            home="https://www.weather.gov",
            credit=nws.CREDIT,
            columns=tuple(layer.column for layer in nws.LAYERS),
            request=_ask_nws,
            parse=nws.parse_nws,
            covers=_in_the_states,
            needs_contact=True,
            locate=Locate(nws.points_url, nws.parse_points, kept=timedelta(days=21)),
            stale_after=timedelta(hours=18),  # an edge cache once served a grid 23 h old (its issue list, 71)
            rest_after={403: HOUR, 404: DAY},
        ),
        Service(
            code=WeatherService.BRIGHT_SKY.value,
            name="Bright Sky",
            home="https://brightsky.dev",
            credit=bright_sky.CREDIT,
            columns=tuple(column for column, _ in bright_sky.FIELDS.values()),
            request=_ask_bright_sky,
            parse=bright_sky.parse_bright_sky,
            covers=_in_europe,
            rest_after={404: DAY, 422: DAY},
        ),
    )
}


def usable_services(settings: Settings, site: Site) -> tuple[Service, ...]:
    """The services of the settings' order that may be asked about this site."""
    left_out = without_contact(settings, site)
    return tuple(service for service in _covering(settings, site) if service not in left_out)


def without_contact(settings: Settings, site: Site) -> tuple[Service, ...]:
    """Those of the settings that cover the site and want to know who calls, which the settings do not say."""
    if settings.contact is not None:
        return ()
    return tuple(service for service in _covering(settings, site) if service.needs_contact)


def _covering(settings: Settings, site: Site) -> list[Service]:
    wanted = dict.fromkeys(service.value for service in settings.weather_services)
    return [service for service in (SERVICES[code] for code in wanted) if service.covers(site)]


def service_of_answer(body: bytes, source: str) -> Service:
    """Whose answer a JSON body is, by its keys; Open-Meteo's where nothing else fits."""
    answer = json_object(body, source)
    properties = answer.get("properties")
    if isinstance(properties, dict):
        norway = "timeseries" in properties
        return SERVICES[(WeatherService.MET_NORWAY if norway else WeatherService.NWS).value]
    if "weather" in answer:
        return SERVICES[WeatherService.BRIGHT_SKY.value]
    return SERVICES[WeatherService.OPEN_METEO.value]
