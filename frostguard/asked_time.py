"""The time that a question is about, from what a person wrote: on the site's clock, and never guessed."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from frostguard.errors import FrostguardError

EARLIEST_YEAR, LATEST_YEAR = 1950, 2050
"""Years for which `sun.solar_position` is stated."""

_DOTTED = re.compile(r"(?<![\d.:,])(\d{1,2})\.([0-5]\d)(?![\d.:,])")
"""Hours and minutes as many countries write them: 18.30."""

_PART_OF_HOUR_OR_MINUTE = re.compile(r"(?<!\d:[0-5]\d:[0-5]\d)[.,]")

EXAMPLE = "Write it like 2026-01-14T15:00, or 15:00 for today."


def is_time(written: str) -> bool:
    """Whether that can be read as a time of day, with or without its date."""
    return _parsed(written) is not None


def is_reckoned(written: str) -> bool:
    """Whether a time lies in the years that are reckoned; one without a date does."""
    parsed = _parsed(written)
    return not isinstance(parsed, datetime) or EARLIEST_YEAR <= parsed.year <= LATEST_YEAR


def asked_time(written: str, zone: ZoneInfo, today: datetime) -> datetime:
    """The moment meant, in UTC.

    Parameters
    ----------
    written : str
        ISO 8601; without a zone it is the site's clock, without a date the day of `today` there.
    zone : ZoneInfo
        The site's.
    today : datetime
        Now, aware.

    Raises
    ------
    FrostguardError
        If it is no time, lies outside the years that are reckoned, or is an hour that a change of clocks
        leaves out or brings twice.
    """
    parsed = _parsed(written)
    if parsed is None:
        raise FrostguardError(f"--at {written!r} is not a time.", next_step=EXAMPLE)
    if isinstance(parsed, time):
        parsed = datetime.combine(today.astimezone(zone).date(), parsed)
    if not EARLIEST_YEAR <= parsed.year <= LATEST_YEAR:
        raise FrostguardError(
            f"--at {written} lies outside the years {EARLIEST_YEAR} to {LATEST_YEAR}.", next_step=EXAMPLE
        )
    return (parsed if parsed.tzinfo is not None else _on_the_clock(parsed, zone)).astimezone(UTC)


def _parsed(written: str) -> datetime | time | None:
    """A date with a time, or a time of day; a date alone is neither."""
    written = _DOTTED.sub(lambda found: f"{found[1]:0>2}:{found[2]}", written)
    if _PART_OF_HOUR_OR_MINUTE.search(written):
        return None  # the library would silently cut it off
    for read in (date.fromisoformat, time.fromisoformat, datetime.fromisoformat):
        try:
            found = read(written)
        except ValueError:
            continue
        return found if isinstance(found, datetime | time) else None
    return None


def _on_the_clock(local: datetime, zone: ZoneInfo) -> datetime:
    """A time of the site's clock as one moment; refused where a change of clocks makes it none, or two."""
    first, second = (local.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if first.utcoffset() == second.utcoffset():
        return first
    exists = first.astimezone(UTC).astimezone(zone).replace(tzinfo=None) == local
    day = f"{local.day} {local:%B %Y}"
    if not exists:
        later = (local + timedelta(hours=1)).isoformat(timespec="minutes")
        raise FrostguardError(
            f"--at {local:%H:%M} on {day} is left out by the site's clocks, which go forward then.",
            next_step=f"Write {later}, or name the zone.",
        )
    raise FrostguardError(
        f"--at {local:%H:%M} on {day} comes twice, since the site's clocks go back then.",
        next_step=f"Write {first.isoformat(timespec='minutes')} for the first time, or "
        f"{second.isoformat(timespec='minutes')} for the second.",
    )
