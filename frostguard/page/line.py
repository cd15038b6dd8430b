"""The lines to the browsers: how many there may be, and how long one may do nothing."""

from __future__ import annotations

import asyncio
from typing import Any

import uvicorn
from starlette.types import ASGIApp
from uvicorn.protocols.http.h11_impl import H11Protocol

MOST_LINES = 50

LONGEST_SILENCE_S = 15.0
"""A head that is not whole by then is given up, or a few slow senders could hold all lines."""

LONGEST_ANSWER_LOOKS = 4
"""Looks after which a line is cut whose answer is not taken; no answer of ours takes a second."""


class Watched(H11Protocol):
    """A line that is looked after now and then: whoever neither asks nor listens is cut off."""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to look after it."""
        super().connection_made(transport)
        self._looks = 0
        self._next_look = self.loop.call_later(LONGEST_SILENCE_S, self._look)

    def connection_lost(self, exc: Exception | None) -> None:
        """It is over."""
        self._next_look.cancel()
        super().connection_lost(exc)

    def _look(self) -> None:
        self._looks += 1
        if self.cycle is None or self.cycle.response_complete:
            self.transport.close()  # browsers come back by themselves
        elif self._looks >= LONGEST_ANSWER_LOOKS:
            self.transport.abort()
        else:
            self._next_look = self.loop.call_later(LONGEST_SILENCE_S, self._look)


def server_for(app: ASGIApp, **more: Any) -> uvicorn.Server:
    """The server of the pages; it tells neither its name nor what is asked, and knows no web sockets."""
    return uvicorn.Server(
        uvicorn.Config(
            app, http=Watched, ws="none", log_level="error", access_log=False, server_header=False,
            proxy_headers=False, limit_concurrency=MOST_LINES, timeout_keep_alive=5,
            h11_max_incomplete_event_size=16_384, **more,
        )
    )  # fmt: skip
