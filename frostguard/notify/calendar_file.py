"""Jobs as calendar entries with their deadlines (iCalendar, RFC 5545)."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from frostguard.notify.notice import Attachment
from frostguard.report.words import harmless

LINE_OCTETS = 75
"""Longest line without its line break (RFC 5545, section 3.1)."""

ALARM_BEFORE_MIN = 30
"""How long before a job's deadline a calendar reminds of it; estimate."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry: what tells it from others, when it is to be begun at the latest, how long it takes, words.

    `day` is the day on which it is to be done, by which it stays one entry whichever night's message tells it. One
    that is `called_off` takes the earlier one, with its alarm, out of the calendar.
    """

    identity: tuple[str, ...]
    day: date
    start_by: datetime
    minutes: float
    summary: str
    place: str
    description: str
    called_off: bool = False


def calendar_attachment(entries: Sequence[Entry], night: date, made_at: datetime) -> Attachment:
    """The entries as one calendar file.

    An entry that is sent again, changed, takes the place of the earlier one: same UID, higher SEQUENCE.

    Parameters
    ----------
    entries : sequence of Entry
        At least one; times aware.
    night : date
        The evening that the message is about, for the file's name.
    made_at : datetime
        When the notice was worded, aware.
    """
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//frostguard//jobs//EN", "CALSCALE:GREGORIAN"]
    for entry in entries:
        lines += _event(entry, made_at)
    lines.append("END:VCALENDAR")
    content = "".join(f"{folded_line}\r\n" for line in lines for folded_line in _folded(line))
    return Attachment(f"jobs-{night.isoformat()}.ics", "text/calendar", content.encode("utf-8"))


def _event(entry: Entry, made_at: datetime) -> list[str]:
    identity = "\x1f".join((entry.day.isoformat(), *entry.identity))
    uid = hashlib.sha256(identity.encode("utf-8", "replace")).hexdigest()[:32]
    long_before = datetime.combine(entry.day - timedelta(days=60), time(0), tzinfo=UTC)
    ends = entry.start_by + timedelta(minutes=max(entry.minutes, 1.0))
    return [
        "BEGIN:VEVENT",
        f"UID:{uid}@frostguard",
        f"DTSTAMP:{_utc(made_at)}",
        f"SEQUENCE:{max(0, int((made_at - long_before).total_seconds() // 60))}",
        f"DTSTART:{_utc(entry.start_by)}",
        f"DTEND:{_utc(ends)}",
        f"SUMMARY:{_escaped(entry.summary)}",
        f"LOCATION:{_escaped(entry.place)}",
        f"DESCRIPTION:{_escaped(entry.description)}",
        "TRANSP:TRANSPARENT",
        *(["STATUS:CANCELLED"] if entry.called_off else _alarm(entry)),
        "END:VEVENT",
    ]


def _alarm(entry: Entry) -> list[str]:
    return [
        "BEGIN:VALARM",
        "ACTION:DISPLAY",
        f"TRIGGER:-PT{ALARM_BEFORE_MIN}M",
        f"DESCRIPTION:{_escaped(entry.summary)}",
        "END:VALARM",
    ]


def _utc(moment: datetime) -> str:
    return f"{moment.astimezone(UTC):%Y%m%dT%H%M%SZ}"


def _escaped(text: str) -> str:
    """A TEXT value (RFC 5545, section 3.3.11); a text of ours is one line, so no line break is left in it."""
    shown = harmless(text)
    return shown.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")


def _folded(line: str) -> Iterable[str]:
    """The line in pieces of at most 75 octets, each but the first led by a blank; no character is cut."""
    piece, used = "", 0
    for character in line:
        octets = len(character.encode("utf-8", "replace"))
        if used + octets > LINE_OCTETS:
            yield piece
            piece, used = " ", 1
        piece += character
        used += octets
    yield piece
