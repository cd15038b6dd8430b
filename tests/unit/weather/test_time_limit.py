"""What never ends by itself is ended, in the greeting for encryption as well as behind it."""

from __future__ import annotations

import socket
import ssl
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from frostguard.weather.client import PostFailed, post_once
from frostguard.weather.manners import Patience
from frostguard.weather.time_limit import cut_after
from tests.unit.notify.mail_server import bad_server, certificates

PATIENCE = Patience(connect_s=0.5, read_s=0.5, total_s=0.6)
LONGEST_S = 3.0
"""Patience, and the pauses of a machine that is busy with other things."""

Drip = Callable[[socket.socket, threading.Event], None]


def greeting_drips(connection: socket.socket, over: threading.Event) -> None:
    """The head of a record of 16 kB, as the greeting begins, and then a byte of it now and then."""
    connection.sendall(b"\x16\x03\x03\x40\x00")
    while not over.is_set():
        connection.sendall(b"\x02")
        time.sleep(0.05)


def heading_drips(context: ssl.SSLContext) -> Drip:
    def behave(connection: socket.socket, over: threading.Event) -> None:
        with context.wrap_socket(connection, server_side=True) as encrypted:
            encrypted.sendall(b"HTTP/1.1 200 OK\r\nX-Patience: ")
            while not over.is_set():
                encrypted.sendall(b"x")
                time.sleep(0.05)

    return behave


@pytest.mark.parametrize("where", ["greeting", "heading"])
def test_a_drip_is_cut_behind_and_before_encryption(tmp_path: Path, where: str) -> None:
    """Each byte comes well within the limit of a single wait; the whole is ended at the limit of all."""
    context, ca_file = certificates(tmp_path)
    behaviour = greeting_drips if where == "greeting" else heading_drips(context)
    with bad_server(behaviour) as port:
        began = time.monotonic()
        with pytest.raises(PostFailed, match="did not answer in time"):
            post_once(f"https://localhost:{port}/", b"{}", {}, patience=PATIENCE, ca_file=ca_file)
        # of the greeting the connection's own limit ends all, of the heading only the limit of the whole answer
        least_s = PATIENCE.connect_s if where == "greeting" else PATIENCE.total_s
        assert 0.9 * least_s <= time.monotonic() - began < LONGEST_S


def test_a_line_that_opens_late_is_cut_at_once() -> None:
    """Time was over while the host's name was looked up: what opens then is shut again."""
    mine, theirs = socket.socketpair()
    with mine, theirs, cut_after(60.0) as line:
        line.cut()
        line.trace("connection.connect_tcp.complete", {"return_value": _Opened(mine)})
        assert theirs.recv(1) == b""


class _Opened:
    """What the HTTP library hands over for a new connection."""

    def __init__(self, opened: socket.socket) -> None:
        self.opened = opened

    def get_extra_info(self, name: str) -> socket.socket | None:
        return self.opened if name == "socket" else None
