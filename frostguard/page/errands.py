"""Whatever takes longer than a second: done in the background, asked after by a page that renews itself."""

from __future__ import annotations

import secrets
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock, Thread
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from frostguard.errors import FrostguardError
from frostguard.page.work import Trouble
from frostguard.report.words import say

KEPT = 30
MOST_AT_ONCE = 2
"""The machine may be a small one, and the evening's own answer comes first."""


class Busy(FrostguardError):
    """Too much is under way already."""


@dataclass(slots=True)
class Errand:
    """Something under way, or what came of it.

    `told` makes a page of it once it is done; `back` is the address to return to.
    """

    title: str
    back: str
    told: Callable[[Request, Any], Response]
    begun_s: float
    done: bool = False
    found: Any = None


class Errands:
    """All that is under way, and the latest that was done."""

    def __init__(self, monotonic: Callable[[], float] = time.monotonic) -> None:
        self._monotonic = monotonic
        self._lock = Lock()
        self._all: OrderedDict[str, Errand] = OrderedDict()

    def begin(
        self, title: str, back: str, work: Callable[[], Any], told: Callable[[Request, Any], Response]
    ) -> str:
        """Set something going; returns the name to ask after it by. Busy where too much is under way."""
        errand = Errand(title, back, told, self._monotonic())
        with self._lock:
            if sum(not one.done for one in self._all.values()) >= MOST_AT_ONCE:
                raise Busy(
                    say("Other things are still being worked out."),
                    next_step=say("Wait some seconds, then try again."),
                )
            name = secrets.token_urlsafe(12)
            self._all[name] = errand
            for old in [one for one, kept in self._all.items() if kept.done][: max(len(self._all) - KEPT, 0)]:
                del self._all[old]
        Thread(target=self._do, args=(errand, work), daemon=True).start()
        return name

    def look(self, name: str) -> Errand | None:
        """How it stands; None for a name that was never given, or long ago."""
        with self._lock:
            return self._all.get(name)

    def seconds(self, errand: Errand) -> int:
        """For how long it has been under way."""
        return int(self._monotonic() - errand.begun_s)

    @staticmethod
    def _do(errand: Errand, work: Callable[[], Any]) -> None:
        found: Any = Trouble(say("Something went wrong inside."), say("Try again."))
        try:
            found = work()
        except FrostguardError as error:
            found = Trouble(error.message, error.next_step)
        finally:
            errand.found, errand.done = found, True
