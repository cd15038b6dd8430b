"""The last good answer of each place, kept on disk for the night when no service answers."""

from __future__ import annotations

import json
import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Protocol

from frostguard.weather.raw_answer import RawAnswer
from frostguard.whole_files import write_whole

FORMAT = 1
LEFTOVER_AFTER_S = 3600.0
LOOKS_AGAIN_S = 0.25
"""Pause between two looks whether another process has finished asking [s]."""


@dataclass(frozen=True, slots=True)
class StoredAnswer:
    """A raw answer with the service that gave it.

    `same_since` is when the forecast in it was first seen, where the service has repeated it since.
    """

    service: str
    answer: RawAnswer
    same_since: datetime | None = None


class UnreadableStoreError(Exception):
    """A stored answer is damaged; never shown, the caller goes on without it."""


class Archive(Protocol):
    """Where all answers are kept for longer; it never fails, but may forget where the disk does not take them."""

    def keep(self, stored: StoredAnswer, latitude_deg: float, longitude_deg: float) -> None:
        """Keep an answer about a place [deg]."""

    def latest(self, service: str, latitude_deg: float, longitude_deg: float) -> StoredAnswer | None:
        """The youngest answer that is kept."""


@dataclass(frozen=True, slots=True)
class ForecastStore:
    """One file per service and place, written whole or not at all; the archive gets everything, too."""

    folder: Path
    archive: Archive | None = None

    def path(self, service: str, latitude_deg: float, longitude_deg: float) -> Path:
        """The file for a place; places within about 100 m share one."""
        return self.folder / f"{service}_{latitude_deg:+.3f}_{longitude_deg:+.3f}.json"

    def read(self, service: str, latitude_deg: float, longitude_deg: float) -> StoredAnswer | None:
        """The stored answer, or None if there is none; UnreadableStoreError if it is damaged."""
        try:
            body = self.path(service, latitude_deg, longitude_deg).read_bytes()
        except FileNotFoundError:
            return None
        except OSError as exc:
            raise UnreadableStoreError(str(exc)) from exc
        stored = parse_stored(body)
        if stored is None:
            raise UnreadableStoreError("no stored answer")
        return stored

    def archived(self, service: str, latitude_deg: float, longitude_deg: float) -> StoredAnswer | None:
        """The archive's youngest answer, for when the file is gone: folders of passing files are emptied."""
        return None if self.archive is None else self.archive.latest(service, latitude_deg, longitude_deg)

    def rest(self, service: str, until: datetime, latitude_deg: float, longitude_deg: float) -> None:
        """Remember to leave a service alone about a place; OSError if the disk does not take it."""
        path = self.path(service, latitude_deg, longitude_deg).with_suffix(".rest")
        self.folder.mkdir(parents=True, exist_ok=True)
        path.write_text(until.astimezone(UTC).isoformat(), encoding="utf-8")

    def forget(self, service: str, latitude_deg: float, longitude_deg: float) -> None:
        """Drop an answer that is known to be wrong; OSError if it cannot be removed."""
        self.path(service, latitude_deg, longitude_deg).unlink(missing_ok=True)

    def rests_until(self, service: str, latitude_deg: float, longitude_deg: float) -> datetime | None:
        """Until when to leave a service alone about a place, or None; damage counts as None."""
        path = self.path(service, latitude_deg, longitude_deg).with_suffix(".rest")
        try:
            until = datetime.fromisoformat(path.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return None
        return until if until.tzinfo is not None else None

    def size_bytes(self) -> int:
        """What the kept answers take on disk."""
        try:
            return sum(path.stat().st_size for path in self.folder.iterdir() if path.is_file())
        except OSError:
            return 0

    def write(self, stored: StoredAnswer, latitude_deg: float, longitude_deg: float) -> None:
        """Keep an answer; OSError if the disk does not take it."""
        if self.archive is not None:
            self.archive.keep(stored, latitude_deg, longitude_deg)
        self.folder.mkdir(parents=True, exist_ok=True)
        self._remove_leftovers()
        write_whole(self.path(stored.service, latitude_deg, longitude_deg), stored_text(stored))

    @contextmanager
    def turn(
        self, *, wait_s: float, sleep: Callable[[float], None], monotonic: Callable[[], float]
    ) -> Iterator[bool]:
        """One process at a time asks services; gives whether another one had to be waited for.

        Two that ask the same service at once count double against its limits, and the second could use
        the first one's answer. After `wait_s`, or where the system has no such locks, it goes on all
        the same: a process that hangs must not silence another.
        """
        with suppress(OSError):
            self.folder.mkdir(parents=True, exist_ok=True)
        try:
            import fcntl

            handle = os.open(self.folder, os.O_RDONLY)
        except (ImportError, OSError):
            yield False
            return
        waited, ends = False, monotonic() + wait_s
        try:
            while not _locked(handle, fcntl.LOCK_EX | fcntl.LOCK_NB) and monotonic() < ends:
                waited = True
                sleep(LOOKS_AGAIN_S)
            yield waited
        finally:
            os.close(handle)  # which gives the turn back

    def _remove_leftovers(self) -> None:
        """Half-written files of processes that were killed; those of the last hour may still be at work."""
        for path in self.folder.glob(".*.part"):
            with suppress(OSError):
                if time.time() - path.stat().st_mtime > LEFTOVER_AFTER_S:
                    path.unlink()


def _locked(handle: int, how: int) -> bool:
    """Whether the lock could be taken at once."""
    import fcntl

    try:
        fcntl.flock(handle, how)
    except OSError:
        return False
    return True


def stored_text(stored: StoredAnswer) -> str:
    """The stored answer as JSON text."""
    answer = stored.answer
    return json.dumps(
        {
            "frostguard_answer": FORMAT,
            "service": stored.service,
            "url": answer.url,
            "fetched": _stamp(answer.fetched),
            "confirmed": _stamp(answer.confirmed),
            "same_since": _stamp(stored.same_since),
            "status": answer.status,
            "headers": dict(answer.headers),
            "body": answer.body.decode("utf-8", errors="surrogateescape"),
        }
    )


def parse_stored(body: bytes) -> StoredAnswer | None:
    """The stored answer in `body`, or None if it is something else or damaged."""
    try:
        record = json.loads(body)
        if record["frostguard_answer"] != FORMAT:
            return None
        fetched = _moment(record["fetched"])
        if fetched is None:
            return None
        answer = RawAnswer(
            url=str(record["url"]),
            body=record["body"].encode("utf-8", errors="surrogateescape"),
            fetched=fetched,
            headers=tuple((str(name), str(value)) for name, value in record.get("headers", {}).items()),
            confirmed=_moment(record.get("confirmed")),
            status=int(record.get("status", 200)),
        )
        return StoredAnswer(str(record["service"]), answer, _moment(record.get("same_since")))
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError, OverflowError):
        return None


def _stamp(moment: datetime | None) -> str | None:
    return None if moment is None else moment.astimezone(UTC).isoformat()


def _moment(text: str | None) -> datetime | None:
    """The aware time, None where there is none; ValueError if it cannot be one."""
    if text is None:
        return None
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError("a stored time has no zone")
    return moment
