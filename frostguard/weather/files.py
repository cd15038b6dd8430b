"""Weather from files: which kind it is shows in the content, not in the name."""

from __future__ import annotations

from pathlib import Path

from frostguard.errors import ForecastFormatError, WeatherUnavailable
from frostguard.weather.csv_file import parse_weather_csv
from frostguard.weather.open_meteo import parse_open_meteo
from frostguard.weather.series import WeatherSeries
from frostguard.weather.store import parse_stored

MAX_FILE_BYTES = 20_000_000
"""Largest weather file that is read; eleven years of the canonical table are smaller."""


def load_weather(path: Path | str) -> WeatherSeries:
    """The weather in a file: canonical CSV, or a saved answer of the forecast service.

    Parameters
    ----------
    path : Path or str
        The file.

    Raises
    ------
    WeatherUnavailable
        If the file cannot be opened.
    ForecastFormatError
        If it cannot be read as weather; the message names file and place.
    """
    path = Path(path)
    return parse_weather(_file_bytes(path), str(path))


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


def parse_weather(body: bytes, source: str) -> WeatherSeries:
    """The weather in `body`, recognised by its content."""
    start = body.removeprefix(b"\xef\xbb\xbf").lstrip()[:1]
    if not start:
        raise ForecastFormatError(f"{source} is empty.", next_step="Save the weather again.")
    if start == b"<":
        raise ForecastFormatError(
            f"{source} is a web page, not weather data.",
            next_step="Save the service's data answer, not its page.",
        )
    if start not in b"{[":
        return parse_weather_csv(body, source)
    stored = parse_stored(body)
    if stored is None:
        return parse_open_meteo(body, source)
    return parse_open_meteo(stored.answer.body, source, fetched=stored.answer.fetched)
