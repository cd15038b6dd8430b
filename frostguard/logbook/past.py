"""The days before a forecast begins, from answers that are kept: for services that tell no past."""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime, timedelta

from frostguard.errors import ForecastFormatError
from frostguard.garden.model import Site
from frostguard.logbook.book import Logbook
from frostguard.logbook.measured import moment, stamp
from frostguard.weather.opinions import completed_from
from frostguard.weather.series import WeatherSeries, utc_hour
from frostguard.weather.services import SERVICES

WANTED = timedelta(days=12)
"""Past with which balls, floors and rooms have forgotten how they began; fewer than ten are told as short."""

APART = timedelta(hours=5)
"""Answers nearer to each other add hours that hardly differ, and cost their reading."""


def with_kept_past(series: WeatherSeries, book: Logbook, site: Site, now: datetime) -> WeatherSeries:
    """The forecast with past hours from kept answers before its own, each hour from the last answer before it.

    Parameters
    ----------
    series : WeatherSeries
        The forecast; its own numbers all stay.
    book : Logbook
        Where the answers of the last months are.
    site : Site
        Only answers about this place count.
    now : datetime
        Aware.

    Returns
    -------
    WeatherSeries
        Reaching twelve days back, or as far as answers reach without a gap of a week; the same where the
        forecast brings its past itself. Lent hours are coded FILLED.
    """
    wanted = utc_hour(now - WANTED)
    if series.times[0] <= wanted:
        return series
    for kept in _kept(book, site, now - WANTED - APART):
        if series.times[0] <= wanted:
            break
        series = completed_from(series, kept, columns=False)
    return series


def _kept(book: Logbook, site: Site, since: datetime) -> Iterator[WeatherSeries]:
    """Kept answers as series, the youngest first, each some hours older than the one before; read one by one."""
    rows = book.rows(
        "SELECT id, service, fetched FROM answers WHERE latitude_deg = ? AND longitude_deg = ? AND fetched >= ? "
        "ORDER BY fetched DESC",
        (round(site.latitude_deg, 3), round(site.longitude_deg, 3), stamp(since)),
    )
    last: datetime | None = None
    for row in rows:
        fetched = moment(row["fetched"])
        service = SERVICES.get(row["service"])
        if service is None or (last is not None and last - fetched < APART):
            continue
        (found,) = book.rows("SELECT body FROM answers WHERE id = ?", (row["id"],))
        with suppress(ForecastFormatError, zlib.error):
            series = service.parse(zlib.decompress(found["body"]), f"The answer of {service.name}", fetched=fetched)
            if "air_temperature_c" in series.values:  # an answer about spreads alone tells no past
                last = fetched
                yield series
