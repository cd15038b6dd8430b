"""The last good answer of each place, kept on disk for the night when no service answers."""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from frostguard.weather.client import RawAnswer

FORMAT = 1


@dataclass(frozen=True, slots=True)
class StoredAnswer:
    """A raw answer with the service that gave it."""

    service: str
    answer: RawAnswer


class UnreadableStoreError(Exception):
    """A stored answer is damaged; never shown, the caller goes on without it."""


@dataclass(frozen=True, slots=True)
class ForecastStore:
    """One file per service and place, written whole or not at all."""

    folder: Path

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

    def write(self, stored: StoredAnswer, latitude_deg: float, longitude_deg: float) -> None:
        """Keep an answer; OSError if the disk does not take it."""
        path = self.path(stored.service, latitude_deg, longitude_deg)
        self.folder.mkdir(parents=True, exist_ok=True)
        temporary = path.with_name(f".{path.name}.{os.getpid()}.part")
        try:
            temporary.write_text(stored_text(stored), encoding="utf-8")
            temporary.replace(path)
        finally:
            temporary.unlink(missing_ok=True)


def stored_text(stored: StoredAnswer) -> str:
    """The stored answer as JSON text."""
    return json.dumps(
        {
            "frostguard_answer": FORMAT,
            "service": stored.service,
            "url": stored.answer.url,
            "fetched": stored.answer.fetched.astimezone(UTC).isoformat(),
            "body": stored.answer.body.decode("utf-8", errors="surrogateescape"),
        }
    )


def parse_stored(body: bytes) -> StoredAnswer | None:
    """The stored answer in `body`, or None if it is something else or damaged."""
    try:
        record = json.loads(body)
        if record["frostguard_answer"] != FORMAT:
            return None
        fetched = datetime.fromisoformat(record["fetched"])
        if fetched.tzinfo is None:
            return None
        answer = RawAnswer(
            str(record["url"]), record["body"].encode("utf-8", errors="surrogateescape"), fetched
        )
        return StoredAnswer(str(record["service"]), answer)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None
