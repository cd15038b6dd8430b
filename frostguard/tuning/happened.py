"""The weather that happened, put together from what the services answered evening by evening."""

from __future__ import annotations

import zlib
from collections import Counter
from collections.abc import Sequence
from datetime import datetime, timedelta

import numpy as np

from frostguard.advice.nights import utc64
from frostguard.errors import FrostguardError, TuningFailed
from frostguard.garden.model import Site
from frostguard.logbook.book import Logbook
from frostguard.logbook.measured import moment, stamp
from frostguard.report.words import say
from frostguard.weather.series import HOUR, WeatherSeries, series_on_hours
from frostguard.weather.services import SERVICES

BELIEVED_AHEAD = timedelta(hours=36)
"""How far an answer counts as what happened, where no later one tells: the coming night. Further ahead forecasts miss
by more than what is to be learnt (`weather/night_errors.SPREAD_K`)."""


def kept_forecasts(book: Logbook, site: Site, since: datetime) -> tuple[WeatherSeries, ...]:
    """Answers about the site as they were fetched since then, the oldest first: those of the service most heard.

    Answers about other places, members and what cannot be read are passed over.
    """
    parts = _answers(book, site, since)
    usual = Counter(part.provenance.service for part in parts).most_common(1)
    return tuple(part for part in parts if part.provenance.service == usual[0][0])


def happened(parts: Sequence[WeatherSeries]) -> WeatherSeries:
    """Kept answers of one service, the oldest first, as one series: each hour from the last answer that tells of it.

    Returns
    -------
    WeatherSeries
        On whole hours without gaps in time; NaN where no answer tells of an hour, which is then not learnt from.

    Raises
    ------
    TuningFailed
        If there is none.
    """
    if not parts:
        raise TuningFailed(
            say("No weather of the past nights is kept."),
            next_step=say("Name a file of the weather that happened with --weather, or let 'nightly' run some days."),
        )
    ends = [_believed_until(part) for part in parts[:-1]] + [parts[-1].times[-1]]
    first = min(part.times[0] for part in parts)
    last = max(part.times[part.times <= end][-1] for part, end in zip(parts, ends, strict=True))
    times = np.arange(first, last + HOUR, HOUR)
    names = dict.fromkeys(name for part in parts for name in part.values)
    columns = {name: np.full(times.size, np.nan) for name in names}
    for part, end in zip(parts, ends, strict=True):
        told = part.times <= end
        rows = ((part.times[told] - first) / HOUR).astype(np.intp)
        for name, values in part.values.items():
            given = values.mean(axis=0)[told]
            known = np.isfinite(given)
            columns[name][rows[known]] = given[known]
    return series_on_hours(times, columns, parts[-1].provenance)


def covered_share(series: WeatherSeries, moments: Sequence[datetime]) -> float:
    """Share of these moments at which the air is known."""
    hours = ((np.array([utc64(one) for one in moments]) - series.times[0]) / HOUR).astype(np.int64)
    known = np.isfinite(series.values["air_temperature_c"][0])
    inside = (hours >= 0) & (hours < known.size)
    return float(np.mean(inside & known[np.clip(hours, 0, known.size - 1)]))


def _believed_until(part: WeatherSeries) -> np.datetime64:
    fetched = part.provenance.fetched
    return part.times[-1] if fetched is None else utc64(fetched + BELIEVED_AHEAD)


def _answers(book: Logbook, site: Site, since: datetime) -> list[WeatherSeries]:
    rows = book.rows(
        "SELECT service, fetched, body FROM answers WHERE latitude_deg = ? AND longitude_deg = ? AND fetched >= ? "
        "ORDER BY fetched",
        (round(site.latitude_deg, 3), round(site.longitude_deg, 3), stamp(since)),
    )
    found = []
    for row in rows:
        service = SERVICES.get(row["service"])
        if service is None:
            continue
        try:
            body = zlib.decompress(row["body"])
            series = service.parse(body, f"The answer of {service.name}", fetched=moment(row["fetched"]))
        except (FrostguardError, zlib.error):
            continue  # a damaged answer leaves a gap, and gaps are not learnt from
        # members are for doubt, not for what happened
        if series.n_members == 1 and "air_temperature_c" in series.values and series.times.size:
            found.append(series)
    return found
