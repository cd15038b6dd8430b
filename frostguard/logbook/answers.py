"""Raw answers of weather services, kept whole for some months: what was foretold is what tuning learns from."""

from __future__ import annotations

import json
import sqlite3
import zlib
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from urllib.parse import parse_qsl, urlencode, urlsplit, urlunsplit

from frostguard.logbook.book import Logbook
from frostguard.logbook.measured import moment, stamp
from frostguard.weather.raw_answer import RawAnswer
from frostguard.weather.store import StoredAnswer

KEPT = timedelta(days=90)
"""How long answers are kept: a season's worth for learning."""

SECRET_PARAMETERS = frozenset({"apikey", "api_key", "key", "token", "access_token", "appid", "signature"})


@dataclass(frozen=True, slots=True)
class KeptSize:
    """How many answers there are, what they take on disk, and the age of the oldest."""

    count: int
    bytes_on_disk: int
    oldest: datetime | None


def keep(book: Logbook, service: str, answer: RawAnswer, latitude_deg: float, longitude_deg: float) -> None:
    """Keep an answer, its request without secrets; one that the service only confirmed is not kept twice."""

    def insert(connection: sqlite3.Connection) -> None:
        connection.execute(
            "INSERT INTO answers (service, latitude_deg, longitude_deg, fetched, confirmed, url, status, headers, "
            "body) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET confirmed = excluded.confirmed",
            (
                service,
                round(latitude_deg, 3),
                round(longitude_deg, 3),
                stamp(answer.fetched),
                None if answer.confirmed is None else stamp(answer.confirmed),
                without_secrets(answer.url),
                answer.status,
                json.dumps(dict(answer.headers)),
                zlib.compress(answer.body),
            ),
        )
        connection.execute("DELETE FROM answers WHERE fetched < ?", (stamp(answer.fetched - KEPT),))

    book.write(insert)


@dataclass(frozen=True, slots=True)
class LogbookArchive:
    """The logbook as the archive of a `ForecastStore`."""

    book: Logbook

    def keep(self, stored: StoredAnswer, latitude_deg: float, longitude_deg: float) -> None:
        """Keep an answer about a place [deg]."""
        keep(self.book, stored.service, stored.answer, latitude_deg, longitude_deg)

    def latest(self, service: str, latitude_deg: float, longitude_deg: float) -> StoredAnswer | None:
        """The youngest answer of a service about a place [deg]; None if there is none."""
        rows = self.book.rows(
            "SELECT * FROM answers WHERE service = ? AND latitude_deg = ? AND longitude_deg = ? "
            "ORDER BY fetched DESC LIMIT 1",
            (service, round(latitude_deg, 3), round(longitude_deg, 3)),
        )
        found = _readable(rows)
        return StoredAnswer(service, found[0]) if found else None


def answers(book: Logbook, service: str, since: datetime) -> list[RawAnswer]:
    """The kept answers of a service since then, the oldest first."""
    rows = book.rows(
        "SELECT * FROM answers WHERE service = ? AND fetched >= ? ORDER BY fetched", (service, stamp(since))
    )
    return _readable(rows)


def _readable(rows: Iterable[sqlite3.Row]) -> list[RawAnswer]:
    """The answers in rows; damaged ones are as if they were not there."""
    found = []
    for row in rows:
        with suppress(zlib.error, ValueError, TypeError, AttributeError):
            found.append(_answer(row))
    return found


def _answer(row: sqlite3.Row) -> RawAnswer:
    return RawAnswer(
        url=row["url"],
        body=zlib.decompress(row["body"]),
        fetched=moment(row["fetched"]),
        headers=tuple(json.loads(row["headers"]).items()),
        confirmed=None if row["confirmed"] is None else moment(row["confirmed"]),
        status=row["status"],
    )


def size(book: Logbook) -> KeptSize:
    """What the kept answers take."""
    row = book.rows("SELECT count(*) AS n, coalesce(sum(length(body)), 0) AS bytes, min(fetched) AS first FROM answers")
    first = row[0]["first"]
    return KeptSize(row[0]["n"], row[0]["bytes"], None if first is None else moment(first))


def without_secrets(url: str) -> str:
    """The address without user, password and parameters that are keys."""
    try:
        parts = urlsplit(url)
        host = parts.hostname or ""
        port = "" if parts.port is None else f":{parts.port}"
    except ValueError:
        return ""
    query = [
        (name, "-" if name.lower() in SECRET_PARAMETERS else value)
        for name, value in parse_qsl(parts.query, keep_blank_values=True)
    ]
    return urlunsplit((parts.scheme, host + port, parts.path, urlencode(query, safe=",:"), ""))
