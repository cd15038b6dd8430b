"""Tonight's forecast for a site: fetched, or the last good answer where fetching fails."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from datetime import datetime, timedelta

from frostguard.errors import ForecastFormatError, WeatherUnavailable
from frostguard.garden.model import Site
from frostguard.garden.settings import Settings
from frostguard.weather import gates, open_meteo
from frostguard.weather.client import BY_HAND, RawAnswer, WeatherClient
from frostguard.weather.gates import Note
from frostguard.weather.series import WeatherSeries, with_notes
from frostguard.weather.store import ForecastStore, StoredAnswer, UnreadableStoreError

FRESH = timedelta(hours=1)
"""An answer younger than this is used again: models are not run more often."""

OLD = timedelta(hours=24)
"""A stand-in older than this is warned of loudly."""

NOTABLE_HEIGHT_DIFFERENCE_M = 50.0
"""Between the site's height and the one the service worked with: 0.3 K by the lapse of 6.5 K/km."""


def fetch_forecast(client: WeatherClient, site: Site, settings: Settings) -> WeatherSeries:
    """The forecast for a site, as hourly series from 30 days ago to the last night wanted.

    Parameters
    ----------
    client : WeatherClient
        From `open_weather_client`.
    site : Site
        The place.
    settings : Settings
        For the number of nights.

    Raises
    ------
    WeatherUnavailable, ForecastFormatError
        If the service does not answer in time, or not readably, or with a frozen old run.
    """
    return _fetch(client, site, settings)[1]


def _fetch(client: WeatherClient, site: Site, settings: Settings) -> tuple[RawAnswer, WeatherSeries]:
    query = open_meteo.forecast_query(site, settings.days)
    raw, series = client.ask(open_meteo.FORECAST_URL, query, _parse)
    if gates.staleness(series, raw.fetched) is not None:
        raise WeatherUnavailable(
            "Open-Meteo answered with an old forecast that does not reach through the coming night.",
            next_step=BY_HAND,
        )
    return raw, _with_height_checked(series, site)


def _parse(raw: RawAnswer) -> WeatherSeries:
    return open_meteo.parse_open_meteo(raw.body, fetched=raw.fetched)


def _with_height_checked(series: WeatherSeries, site: Site) -> WeatherSeries:
    height_m = series.provenance.elevation_m
    if height_m is None or abs(height_m - site.elevation_m) <= NOTABLE_HEIGHT_DIFFERENCE_M:
        return series
    return with_notes(series, Note.OWN_HEIGHT_DIFFERS.of(round(height_m - site.elevation_m)))


def forecast_or_stored(
    site: Site, settings: Settings, *, client: WeatherClient, store: ForecastStore, now: datetime
) -> WeatherSeries:
    """The forecast, reused within an hour, fetched anew, or else the last good one, dated.

    Parameters
    ----------
    site, settings : Site, Settings
        The place, and how many nights.
    client : WeatherClient
        From `open_weather_client`.
    store : ForecastStore
        Where the last good answer is; usually in `places.weather_store()`.
    now : datetime
        Aware.

    Returns
    -------
    WeatherSeries
        `provenance.from_store` is true where a stored answer stands in; `notes` tell its age, and
        anything wrong with the store. A store that fails never stops an answer.

    Raises
    ------
    WeatherUnavailable
        If nothing could be fetched and nothing stored covers the coming night; the next step says
        what to do by hand tonight.
    """
    stored, notes = _read(store, site)
    if (
        stored is not None
        and timedelta(0) <= now - stored.answer.fetched < FRESH
        and _same_request(stored, site, settings)
    ):
        with suppress(ForecastFormatError):
            return with_notes(_with_height_checked(_parse(stored.answer), site), *notes)
    try:
        raw, series = _fetch(client, site, settings)
    except (WeatherUnavailable, ForecastFormatError) as exc:
        standing_in = _stand_in(stored, site, now)
        if standing_in is None:
            raise WeatherUnavailable(
                f"{exc.message.splitlines()[0]} No stored forecast reaches through the coming night.",
                next_step=BY_HAND,
            ) from exc
        return with_notes(standing_in, *notes)
    try:
        store.write(StoredAnswer(open_meteo.SERVICE, raw), site.latitude_deg, site.longitude_deg)
    except OSError:
        notes.append(Note.STORE_NOT_WRITTEN.of())
    return with_notes(series, *notes)


def _read(store: ForecastStore, site: Site) -> tuple[StoredAnswer | None, list[str]]:
    try:
        return store.read(open_meteo.SERVICE, site.latitude_deg, site.longitude_deg), []
    except UnreadableStoreError:
        return None, [Note.STORE_UNREADABLE.of()]


def _same_request(stored: StoredAnswer, site: Site, settings: Settings) -> bool:
    """Whether the stored answer is to the very question that would be asked now."""
    from urllib.parse import parse_qsl, urlsplit

    try:
        asked = dict(parse_qsl(urlsplit(stored.answer.url).query))
    except ValueError:
        return False
    return asked == open_meteo.forecast_query(site, settings.days)


def _stand_in(stored: StoredAnswer | None, site: Site, now: datetime) -> WeatherSeries | None:
    """The stored answer as a dated stand-in, or None if it does not cover the coming night."""
    if stored is None:
        return None
    try:
        series = _parse(stored.answer)
    except ForecastFormatError:
        return None
    if not gates.night_is_complete(
        series, gates.coming_night(now, site.time_zone), site.time_zone, since=now
    ):
        return None
    age = max(now - stored.answer.fetched, timedelta(0))
    note = Note.STORED_OLD if age > OLD else Note.STORED
    series = replace(series, provenance=replace(series.provenance, from_store=True))
    return with_notes(_with_height_checked(series, site), note.of(round(age / timedelta(hours=1))))
