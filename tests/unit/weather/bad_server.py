"""A server on the loopback that behaves as badly as real ones have, over real sockets."""

from __future__ import annotations

import json
import socket
import socketserver
import struct
import threading
import time
import zlib
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import httpx

LONGEST_S = 4.0
"""No behaviour keeps a connection longer than this."""


@dataclass
class Wire:
    """One connection with the request that came over it."""

    socket: socket.socket
    host: str
    headers: dict[str, str]
    sent_bytes: int = 0
    began: float = field(default_factory=time.monotonic)

    def send(self, data: bytes) -> bool:
        """Send, and tell whether the other side still listens."""
        if time.monotonic() - self.began > LONGEST_S:
            return False
        try:
            self.socket.sendall(data)
        except OSError:
            return False
        self.sent_bytes += len(data)
        return True

    def answer(self, status: int, body: bytes, **headers: str) -> None:
        """A whole answer."""
        names = {name.replace("_", "-"): value for name, value in headers.items()}
        names = {"Content-Type": "application/json", "Content-Length": str(len(body)), **names}
        lines = [f"HTTP/1.1 {status} Said", "Connection: close", *(f"{k}: {v}" for k, v in names.items())]
        self.send("\r\n".join([*lines, "", ""]).encode() + body)


Behaviour = Callable[[Wire], None]


def good(answer: Any, **headers: str) -> Behaviour:
    """The answer, promptly."""
    body = json.dumps(answer).encode()
    return lambda wire: wire.answer(200, body, **headers)


def status(code: int, body: bytes = b"{}", **headers: str) -> Behaviour:
    """The same status every time."""
    return lambda wire: wire.answer(code, body, **headers)


def dripping(wire: Wire) -> None:
    """Promises much and sends a byte now and then: each read succeeds, the whole never comes."""
    wire.send(b"HTTP/1.1 200 OK\r\nContent-Type: application/json\r\nContent-Length: 100000\r\n\r\n")
    while wire.send(b" "):
        time.sleep(0.05)


def dripping_heading(wire: Wire) -> None:
    """The heading itself comes a byte now and then and never ends."""
    wire.send(b"HTTP/1.1 200 OK\r\nX-Patience: ")
    while wire.send(b"x"):
        time.sleep(0.05)


def silent(wire: Wire) -> None:
    """Takes the request and says nothing."""
    while time.monotonic() - wire.began < LONGEST_S:
        wire.socket.settimeout(0.05)
        try:
            if not wire.socket.recv(1):
                return
        except TimeoutError:
            continue
        except OSError:
            return


def resetting(wire: Wire) -> None:
    """Half a head, then a reset of the connection."""
    wire.send(b"HTTP/1.1 200 OK\r\nContent-")
    wire.socket.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))


def cut_off(wire: Wire) -> None:
    """Half of the promised body."""
    wire.send(b'HTTP/1.1 200 OK\r\nContent-Length: 5000\r\n\r\n{"hourly": {"time": [')


def huge(wire: Wire) -> None:
    """A body of a hundred megabytes."""
    piece = b" " * 65536
    wire.send(b"HTTP/1.1 200 OK\r\nContent-Type: application/json\r\nContent-Length: 104857600\r\n\r\n")
    for _ in range(1600):
        if not wire.send(piece):
            return


def _bomb(megabytes: int) -> bytes:
    pack = zlib.compressobj(9, zlib.DEFLATED, 16 + zlib.MAX_WBITS)
    zeros = b"0" * 1_000_000
    return b"".join([*(pack.compress(zeros) for _ in range(megabytes)), pack.flush()])


BOMB = _bomb(200)


def bomb(wire: Wire) -> None:
    """A fifth of a megabyte that swells to two hundred."""
    wire.answer(200, BOMB, Content_Encoding="gzip")


def page(wire: Wire) -> None:
    """A web page with status 200 where data is due."""
    wire.answer(200, b"<!doctype html><title>Maintenance</title>", Content_Type="text/html")


def elsewhere(wire: Wire) -> None:
    """A redirect to another site."""
    wire.answer(302, b"", Location="https://elsewhere.test/x")


def noise(wire: Wire) -> None:
    """No HTTP at all."""
    wire.send(b"\x00\x01\x02 220 mail ready\r\n\r\n")


class BadServer:
    """Plays the behaviour of each host; remembers every connection."""

    def __init__(self) -> None:
        self.hosts: dict[str, Behaviour] = {}
        self.wires: list[Wire] = []
        town = self

        class Handler(socketserver.BaseRequestHandler):
            def handle(self) -> None:
                self.request.settimeout(LONGEST_S)
                head = b""
                while b"\r\n\r\n" not in head:
                    try:
                        piece = self.request.recv(4096)
                    except OSError:
                        return
                    if not piece:
                        return
                    head += piece
                lines = head.decode("latin-1").split("\r\n")[1:]
                headers = dict(line.lower().split(": ", 1) for line in lines if ": " in line)
                wire = Wire(self.request, headers.get("host", ""), headers)
                town.wires.append(wire)
                town.hosts.get(wire.host, status(404))(wire)

        class Server(socketserver.ThreadingTCPServer):
            daemon_threads = True
            allow_reuse_address = True

            def handle_error(self, request: Any, client_address: Any) -> None:
                pass  # a caller that goes away is what is tested

        self.server = Server(("127.0.0.1", 0), Handler)
        self.thread = threading.Thread(target=self.server.serve_forever, kwargs={"poll_interval": 0.02})
        self.thread.start()

    def close(self) -> None:
        """Stop, and wait until the port is free."""
        self.server.shutdown()
        self.thread.join(timeout=10)
        self.server.server_close()

    def transport(self) -> httpx.BaseTransport:
        """Real sockets, all hosts being this server."""
        return _Rerouted(self.server.server_address[1])


class _Rerouted(httpx.BaseTransport):
    """Sends every request to the loopback; its Host header still names the service."""

    def __init__(self, port: int) -> None:
        self.port = port
        self.wire = httpx.HTTPTransport(verify=False)  # plain loopback; certificates take time to load

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        url = request.url.copy_with(scheme="http", host="127.0.0.1", port=self.port)
        rerouted = httpx.Request(
            request.method, url, headers=request.headers, extensions=request.extensions
        )
        return self.wire.handle_request(rerouted)

    def close(self) -> None:
        self.wire.close()
