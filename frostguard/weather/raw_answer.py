"""A raw answer as it was received, and what its headers say about time."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

KEPT_HEADERS = ("Date", "Expires", "Last-Modified", "Cache-Control", "Content-Type")
"""Headers of an answer that are read later: what kind it is, and when it may be asked for again."""

LONGEST_LIFE = timedelta(days=1)
"""Longest time for which an answer is taken to be good on its service's word: a night later it is not."""


@dataclass(frozen=True, slots=True)
class RawAnswer:
    """A body with where and when it was received.

    `confirmed` is when the service last said that it has nothing newer (status 304), with `headers` of
    that moment; `status` is 203 where the service says that this interface will end.
    """

    url: str
    body: bytes
    fetched: datetime
    headers: tuple[tuple[str, str], ...] = ()
    confirmed: datetime | None = None
    status: int = 200

    def header(self, name: str) -> str | None:
        """The kept header of that name."""
        return dict(self.headers).get(name)

    @property
    def good_until(self) -> datetime | None:
        """Until when the service asks not to be asked again, on this machine's clock; None if it is silent.

        Dates in headers are on the service's clock, so only their difference counts.
        """
        received = self.confirmed or self.fetched
        life = _max_age(self.header("Cache-Control"))
        if life is None:
            expires = _http_date(self.header("Expires"))
            if expires is None:
                return None
            life = expires - (_http_date(self.header("Date")) or received)
        return received + min(max(life, timedelta(0)), LONGEST_LIFE)


def _max_age(header: str | None) -> timedelta | None:
    """The life that a Cache-Control header gives an answer."""
    for part in (header or "").split(","):
        name, _, seconds = part.strip().partition("=")
        if name.lower() == "max-age" and seconds.isascii() and seconds.isdigit():
            return timedelta(seconds=min(int(seconds[:10]), 10**8))
    return None


def _http_date(header: str | None) -> datetime | None:
    from email.utils import parsedate_to_datetime  # late: few answers have dates that matter

    try:
        moment = parsedate_to_datetime(header) if header else None
    except (ValueError, TypeError, OverflowError):
        return None
    return moment if moment is None or moment.tzinfo else moment.replace(tzinfo=UTC)


LONGEST_RETRY_AFTER_S = 3600.0


def retry_after_s(header: str | None, now: datetime) -> float | None:
    """Seconds that a Retry-After header (number or date) asks for, at most an hour; None if unreadable."""
    if header is None:
        return None
    try:
        wait_s = float(header)
    except ValueError:
        then = _http_date(header)
        if then is None:
            return None
        wait_s = (then - now).total_seconds()
    return min(max(wait_s, 0.0), LONGEST_RETRY_AFTER_S) if wait_s == wait_s else None
