"""The latest answer, kept until what it was made from changes; the next one is worked out in the background."""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from threading import Lock, Thread

from frostguard.logbook.book import open_logbook
from frostguard.logbook.jobs import in_force, last_watered
from frostguard.logbook.losses import losses
from frostguard.page.process import Carrier, in_a_process
from frostguard.page.work import Evening, Shown, Task, Trouble
from frostguard.report.words import say

OLD_AFTER_S = 3600.0
"""Forecasts are renewed every hour at most."""

TRIED_AGAIN_AFTER_S = 60.0
@dataclass(frozen=True, slots=True)
class State:
    """What there is to show now, and whether a newer answer is on its way."""

    shown: Shown | None
    trouble: Trouble | None
    working: bool


class Planner:
    """Keeps the answer."""

    def __init__(
        self, task: Task, *, carry: Carrier[Shown] = in_a_process, monotonic: Callable[[], float] = time.monotonic
    ) -> None:
        self.task = task
        self._carry = carry
        self._monotonic = monotonic
        self._lock = Lock()
        self._shown: Shown | None = None
        self._trouble: Trouble | None = None
        self._made_from = ""
        self._made_at = 0.0
        self._working = False

    def look(self) -> State:
        """What is known now; sets a new answer going where what it stands on has changed, or it is old."""
        made_from = self._fingerprint()
        with self._lock:
            age = self._monotonic() - self._made_at
            lasts = OLD_AFTER_S if self._trouble is None else TRIED_AGAIN_AFTER_S
            if not self._working and (made_from != self._made_from or age > lasts):
                self._working = True
                Thread(target=self._work, args=(made_from,), daemon=True).start()
            return State(self._shown, self._trouble, self._working)

    def settings_at(self, path: Path) -> None:
        """Settings stand in this file from now on; there may have been none."""
        with self._lock:
            self.task = replace(self.task, settings=path)

    def _work(self, made_from: str) -> None:
        found: Shown | Trouble = Trouble(say("The answer could not be worked out."), say("Try again."))
        try:
            found = self._carry(Evening(self.task))
        finally:
            with self._lock:
                self._working = False
                self._made_from, self._made_at = made_from, self._monotonic()
                if isinstance(found, Shown):
                    self._shown, self._trouble = found, None
                else:
                    self._trouble = found

    def _fingerprint(self) -> str:
        """Of everything that the answer is made from, the weather itself left aside."""
        digest = hashlib.sha256()
        for path in (self.task.garden, self.task.settings, self.task.weather):
            digest.update(hashlib.sha256(_bytes(path)).digest())
        with open_logbook(self.task.logbook) as book:
            placed = [(one.job.number, one.since.isoformat()) for one in in_force(book)]
            watered = sorted((pot, at.isoformat()) for pot, at in last_watered(book).items())
            taught = (book.tuned(), losses(book))
        digest.update(repr((placed, watered, taught)).encode())
        return digest.hexdigest()


def _bytes(path: Path | None) -> bytes:
    try:
        return b"" if path is None else path.read_bytes()
    except OSError:
        return b""
