"""A word on standard error while something takes long, so that silence is not taken for a standstill."""

from __future__ import annotations

from threading import Timer
from types import TracebackType

from frostguard.cli.output import print_err
from frostguard.report.words import say

SILENT_S = 3.0
"""Waiting longer than this without a word makes a person wonder; estimate."""


class ToldWhileWaiting:
    """Called with the name of a service as it is asked; says so once it has been silent for a while."""

    def __init__(self, silent_s: float = SILENT_S) -> None:
        self._silent_s = silent_s
        self._timer: Timer | None = None

    def __call__(self, service: str) -> None:
        """Begin to wait for this service."""
        self._stop()
        self._timer = Timer(self._silent_s, self._tell, (service,))
        self._timer.daemon = True
        self._timer.start()

    def __enter__(self) -> ToldWhileWaiting:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._stop()

    def _stop(self) -> None:
        if self._timer is not None:
            self._timer.cancel()

    def _tell(self, service: str) -> None:
        print_err(say("Still asking {service} for the weather ...", service=service))
