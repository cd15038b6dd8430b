"""An end to what never ends by itself: a connection is cut when the time for the whole answer is over.

The HTTP library limits each wait for a piece, not their sum; a service that sends its heading a byte now and then
would hold a caller for hours. (The greeting for encryption has one limit for all of it.) Only the look-up of a
host's name cannot be cut; the system's resolver gives up by itself.
"""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from typing import Any

GRACE_S = 0.25
"""By this much later it is cut, so that silence ends by the library's own limit and is told as silence [s]."""


class Line:
    """The connection that is open at present; `was_cut` tells whether its time was over."""

    def __init__(self) -> None:
        self._handle: socket.socket | None = None
        self._lock = threading.Lock()
        self.was_cut = False

    def trace(self, event: str, info: Mapping[str, Any]) -> None:
        """Told by the HTTP library of each step; keeps a handle of its own on every new connection.

        A second handle, since encryption takes the first one over.
        """
        if event != "connection.connect_tcp.complete":
            return
        opened = info["return_value"].get_extra_info("socket")
        with self._lock:
            self._close()
            if opened is not None:
                self._handle = opened.dup()
            if self.was_cut:
                self._shut()

    def cut(self) -> None:
        """End the connection under whoever waits at it."""
        with self._lock:
            self.was_cut = True
            self._shut()

    def close(self) -> None:
        """Give the handle back."""
        with self._lock:
            self._close()

    def _shut(self) -> None:
        if self._handle is not None:
            with suppress(OSError):  # the other side was quicker
                self._handle.shutdown(socket.SHUT_RDWR)

    def _close(self) -> None:
        if self._handle is not None:
            self._handle.close()
            self._handle = None


@contextmanager
def cut_after(seconds: float) -> Iterator[Line]:
    """A line that is cut after so long, if it is not done with before."""
    line = Line()
    timer = threading.Timer(seconds + GRACE_S, line.cut)
    timer.daemon = True
    timer.start()
    try:
        yield line
    finally:
        timer.cancel()
        line.close()
