"""A program: rounds of the check that are killed at random instants, and what was lost or said twice by it.

Called with a folder, a number of kills and a seed; prints what happened as JSON. A process of its own, so that
the processes that it forks share nothing with the one that tests.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

from frostguard.garden.notice_settings import Tells
from frostguard.logbook import nights
from frostguard.notify.notice import Notice
from tests.unit.watch.station import ZONE, Station

MARK = "(again) "


@dataclass
class Paper:
    """A channel that writes each message into a file, and is slow at it."""

    name: str
    file: Path
    tells: Tells = Tells.EVERYTHING

    def send(self, notice: Notice) -> None:
        """Write the notice's key and subject down; what is written has arrived."""
        time.sleep(0.004)
        line = json.dumps([notice.key, notice.subject.startswith(MARK)]) + "\n"
        handle = os.open(self.file, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
        os.write(handle, line.encode())
        os.close(handle)
        time.sleep(0.004)

    def heard(self) -> list[tuple[str, bool]]:
        """What arrived, and whether it was marked as a repetition."""
        if not self.file.exists():
            return []
        return [(key, marked) for key, marked in map(json.loads, self.file.read_text().splitlines())]


def station_in(folder: Path) -> Station:
    """A check with two slow channels; every night is at -8 degC."""
    folder.mkdir(parents=True)
    station = Station(folder, coldest_c=-8.0)
    station.ears = [Paper(name, folder / f"{name}.txt") for name in ("post", "door")]  # type: ignore[misc]
    return station


def moments(count: int) -> list[datetime]:
    """Mornings and evenings in turn."""
    first = datetime(2026, 11, 2, 7, 30, tzinfo=ZONE)
    return [first + timedelta(days=k // 2, hours=0 if k % 2 == 0 else 10.5) for k in range(count)]


def forked(station: Station, at: datetime) -> int:
    """A process that makes one round."""
    child = os.fork()
    if child == 0:
        try:
            station.round(at)
        finally:
            os._exit(0)
    return child


def main(folder: Path, kills: int, seed: int) -> None:
    """Undisturbed, then killed; print how they differ."""
    dice = random.Random(seed)
    calm, rough = station_in(folder / "calm"), station_in(folder / "rough")
    durations = []
    for at in moments(kills):
        begun = time.monotonic()
        os.waitpid(forked(calm, at), 0)
        durations.append(time.monotonic() - begun)
    longest = sorted(durations)[len(durations) * 3 // 4]
    killed, broken = 0, 0
    for at in moments(kills):
        child = forked(rough, at)
        time.sleep(dice.uniform(0.0, longest))
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        killed += os.WIFSIGNALED(status)
        os.waitpid(forked(rough, at + timedelta(minutes=1)), 0)
        with rough.book() as book:
            broken += book.trouble is not None or book.rows("PRAGMA integrity_check")[0][0] != "ok"
    told = {}
    for before, after in zip(calm.ears, rough.ears, strict=True):
        plain, heard = Counter(key for key, _ in before.heard()), after.heard()  # type: ignore[attr-defined]
        count = Counter(key for key, _ in heard)
        unmarked = Counter(key for key, marked in heard if not marked)
        told[after.name] = {
            "messages": sum(plain.values()),
            "lost": sorted(set(plain) - set(count)),
            "invented": sorted(set(count) - set(plain)),
            "twice": sum(number == 2 for number in count.values()),
            "more": sorted(key for key, number in count.items() if number > 2),
            "unmarked": sorted(key for key, number in unmarked.items() if number > 1),
        }
    with rough.book() as book, calm.book() as other:
        first = date(2026, 1, 1)
        same = nights.outcomes(book, first) == nights.outcomes(other, first)
    print(json.dumps({"killed": killed, "broken": broken, "same_outcomes": same, "channels": told}))


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
