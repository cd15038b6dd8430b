"""Weather from files: which kind it is shows in the content, not in the name."""

from __future__ import annotations

from pathlib import Path

from frostguard.errors import ForecastFormatError, WeatherUnavailable
from frostguard.garden.model import Site
from frostguard.weather.another_unit import refuse_impossible_warmth, with_unit_doubted
from frostguard.weather.csv_file import decoded, parse_weather_csv
from frostguard.weather.gates import Note
from frostguard.weather.series import WeatherSeries, with_notes

MAX_FILE_BYTES = 20_000_000
"""Largest weather file that is read; eleven years of the canonical table are smaller."""

FARTHEST_KM = 50.0
"""From here on the weather of a file is that of another place [km]; services choose cells nearer (estimate)."""


def load_weather(path: Path | str, *, year: int | None = None) -> WeatherSeries:
    """The weather in a file: canonical CSV, EPW, TMY3, or a saved answer of any of the services.

    Parameters
    ----------
    path : Path or str
        The file.
    year : int, optional
        For typical years (EPW, TMY3): the year to put them on.

    Raises
    ------
    WeatherUnavailable
        If the file cannot be opened.
    ForecastFormatError
        If it cannot be read as weather; the message names file and place.
    """
    path = Path(path)
    return parse_weather(_file_bytes(path), str(path), year=year)


def load_weather_of(path: Path | str, site: Site, *, year: int | None = None) -> WeatherSeries:
    """The weather in a file as that of a place; refused, too, where it is warmer than the place can be, and noted
    where it is so mild without a sign of its unit that it may be a hard frost in degrees Fahrenheit, and where the
    file says that it is for a place more than 50 km away.

    Parameters and errors are those of `load_weather`; `site` is the garden's.
    """
    series = load_weather(path, year=year)
    refuse_impossible_warmth(series, site.latitude_deg, str(path))
    return _with_place_checked(with_unit_doubted(series, site.latitude_deg), site)


def _with_place_checked(series: WeatherSeries, site: Site) -> WeatherSeries:
    """The series, noted where it is for another place: a saved answer of elsewhere, or a wrong sign in the garden."""
    latitude_deg, longitude_deg = series.provenance.latitude_deg, series.provenance.longitude_deg
    if latitude_deg is None or longitude_deg is None:
        return series
    apart_km = _apart_km(latitude_deg, longitude_deg, site.latitude_deg, site.longitude_deg)
    return with_notes(series, Note.OTHER_PLACE.of(round(apart_km))) if apart_km > FARTHEST_KM else series


def _apart_km(north_1: float, east_1: float, north_2: float, east_2: float) -> float:
    """Great-circle distance of two points [km], by the haversine formula."""
    from math import asin, cos, radians, sin, sqrt

    half = sin(radians(north_2 - north_1) / 2.0) ** 2
    half += cos(radians(north_1)) * cos(radians(north_2)) * sin(radians(east_2 - east_1) / 2.0) ** 2
    return 2.0 * 6371.0 * asin(sqrt(min(half, 1.0)))


def _file_bytes(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            body = file.read(MAX_FILE_BYTES + 1)
    except (OSError, ValueError) as exc:  # ValueError: a name that no file can have
        reason = getattr(exc, "strerror", None) or str(exc)
        raise WeatherUnavailable(
            f"The weather file {path} cannot be opened: {reason}.",
            next_step="Check the name, or leave out --weather to fetch the forecast.",
        ) from exc
    if len(body) > MAX_FILE_BYTES:
        raise ForecastFormatError(
            f"{path} is larger than {MAX_FILE_BYTES // 1_000_000} MB.",
            next_step="Keep the last 30 days and the days ahead; older weather does not change the answer.",
        )
    return body


def parse_weather(body: bytes, source: str, *, year: int | None = None) -> WeatherSeries:
    """The weather in `body`, recognised by its content."""
    start = body.removeprefix(b"\xef\xbb\xbf").lstrip()[:1]
    if not start:
        raise ForecastFormatError(f"{source} is empty.", next_step="Save the weather again.")
    if start == b"<":
        raise ForecastFormatError(
            f"{source} is a web page, not weather data.",
            next_step="Save the service's data answer, not its page.",
        )
    if start in b"{[":
        return _parse_answer(body, source)
    head = body[:4000].decode("latin-1").removeprefix("ï»¿")
    from frostguard.weather import typical_year

    if typical_year.is_epw(head):
        return typical_year.parse_epw(_old_text(body, source), source, year=year)
    if typical_year.is_tmy3(head):
        return typical_year.parse_tmy3(_old_text(body, source), source, year=year)
    return parse_weather_csv(body, source)


def _old_text(body: bytes, source: str) -> str:
    """Text of formats that are older than UTF-8: names of places may be in Latin-1."""
    try:
        return decoded(body, source)
    except ForecastFormatError:
        return body.decode("latin-1")


def _parse_answer(body: bytes, source: str) -> WeatherSeries:
    """A service's answer, as it was received or as the store keeps it."""
    from frostguard.weather.services import SERVICES, service_of_answer
    from frostguard.weather.store import parse_stored

    stored = parse_stored(body)
    if stored is None:
        return service_of_answer(body, source).parse(body, source, fetched=None)
    service = SERVICES.get(stored.service)
    if service is None:
        raise ForecastFormatError(
            f"{source} is a stored answer of '{stored.service[:40]}', a service that is not known.",
            next_step="Fetch the weather again.",
        )
    return service.parse(stored.answer.body, source, fetched=stored.answer.fetched)
