"""Mail servers on the loopback: a good one with encryption and sign-in, and bad ones over bare sockets."""

from __future__ import annotations

import socket
import ssl
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import trustme
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult, LoginPassword

USER, PASSWORD = "me", "correct horse 7Q"


@dataclass
class Mailbox:
    """What arrived; answers can be set by a test."""

    mails: list[EmailMessage] = field(default_factory=list)
    recipients: list[list[str]] = field(default_factory=list)
    refused: frozenset[str] = frozenset()
    answers: list[str] = field(default_factory=list)  # to the next messages, then 250

    async def handle_RCPT(self, server: Any, session: Any, envelope: Any, address: str, options: Any) -> str:  # noqa: N802 - aiosmtpd's name
        if address in self.refused:
            return "550 no such person"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:  # noqa: N802 - aiosmtpd's name
        answer = self.answers.pop(0) if self.answers else "250 OK"
        if answer.startswith("250"):
            read = message_from_bytes(envelope.content, policy=policy.default)
            assert isinstance(read, EmailMessage)
            self.mails.append(read)
            self.recipients.append(envelope.rcpt_tos)
        return answer


def free_port() -> int:
    """A port that nobody listens on; aiosmtpd cannot be given nought."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def certificates(folder: Path) -> tuple[ssl.SSLContext, Path]:
    """A server's context for "localhost", and the file of the authority that vouches for it."""
    authority = trustme.CA()
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    authority.issue_cert("localhost").configure_cert(context)
    file = folder / "authority.pem"
    authority.cert_pem.write_to_path(str(file))
    return context, file


def _authenticate(server: Any, session: Any, envelope: Any, mechanism: str, data: Any) -> AuthResult:
    good = isinstance(data, LoginPassword) and (data.login, data.password) == (USER.encode(), PASSWORD.encode())
    return AuthResult(success=good, handled=False)


@contextmanager
def mail_server(mailbox: Mailbox, *, starttls: ssl.SSLContext | None = None, tls: ssl.SSLContext | None = None,
                sign_in: bool = False) -> Iterator[int]:  # fmt: skip
    """A server that keeps what it gets, for as long as the block lasts; its port."""
    port = free_port()
    controller = Controller(
        mailbox,
        hostname="localhost",
        port=port,
        tls_context=starttls,
        require_starttls=starttls is not None,
        ssl_context=tls,
        authenticator=_authenticate if sign_in else None,
        auth_required=sign_in,
        auth_require_tls=tls is None,
    )
    controller.start()
    try:
        yield port
    finally:
        controller.stop()


@contextmanager
def bad_server(behaviour: Callable[[socket.socket, threading.Event], None]) -> Iterator[int]:
    """A server that does something else to each connection, until the block ends."""
    over = threading.Event()
    listener = socket.create_server(("127.0.0.1", 0))
    listener.settimeout(0.1)

    def serve() -> None:
        while not over.is_set():
            try:
                connection, _ = listener.accept()
            except TimeoutError:
                continue
            with connection, suppress(OSError):
                behaviour(connection, over)

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    try:
        yield int(listener.getsockname()[1])
    finally:
        over.set()
        thread.join(5)
        listener.close()


def tar_pit(connection: socket.socket, over: threading.Event) -> None:
    """A letter of a greeting that never ends, now and then: no single wait is long."""
    connection.sendall(b"220")
    while not over.is_set():
        connection.sendall(b"-")
        time.sleep(0.05)


def silent(connection: socket.socket, over: threading.Event) -> None:
    """Takes the connection and says nothing."""
    over.wait(10)


def hang_up(connection: socket.socket, over: threading.Event) -> None:
    """Greets and hangs up."""
    connection.sendall(b"220 hello\r\n")


def babble(connection: socket.socket, over: threading.Event) -> None:
    """Speaks no mail protocol."""
    connection.sendall(b"\x00\xff\x16nonsense\r\n" * 10)
