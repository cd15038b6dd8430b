"""A web server on the loopback that keeps what is posted to it, with or without encryption."""

from __future__ import annotations

import http.server
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field


@dataclass
class Posted:
    """One post."""

    path: str
    headers: dict[str, str]
    body: bytes


@dataclass
class Inbox:
    """What was posted, and what is answered: the statuses in turn, then 200."""

    posts: list[Posted] = field(default_factory=list)
    statuses: list[int] = field(default_factory=list)


@contextmanager
def web_server(inbox: Inbox, *, tls: ssl.SSLContext | None = None) -> Iterator[int]:
    """A server for as long as the block lasts; its port."""

    class Handler(http.server.BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers.get("Content-Length", "0")))
            inbox.posts.append(Posted(self.path, dict(self.headers.items()), body))
            status = inbox.statuses.pop(0) if inbox.statuses else 200
            self.send_response(status)
            if 300 <= status < 400:
                self.send_header("Location", "/elsewhere")
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, *arguments: object) -> None:
            """Say nothing."""

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    if tls is not None:
        server.socket = tls.wrap_socket(server.socket, server_side=True)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
    thread.start()
    try:
        yield int(server.server_address[1])
    finally:
        server.shutdown()
        server.server_close()
        thread.join(5)
