"""Notices by e-mail, handed to the person's own server (SMTP, RFC 5321)."""

from __future__ import annotations

import hashlib
import smtplib
import socket
import ssl
from collections.abc import Callable
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime

from frostguard.errors import NotificationFailed
from frostguard.garden.notice_settings import MailSecurity, MailSettings, SecretSource
from frostguard.notify.failures import NotTakenNow
from frostguard.notify.notice import Notice
from frostguard.notify.secrets import Secret
from frostguard.report.words import say

ANSWER_WITHIN_S = 20.0
"""How long any one answer of the server may take; the whole delivery has a limit of its own (estimate)."""

OWN_NAME = "localhost"
"""What this machine calls itself to the server. The library would look its name up, which tells the server more
than it needs and hangs where no name server answers."""


class MailChannel:
    """Hands each notice to a mail server: plain text, a page, and the calendar of the jobs.

    Parameters
    ----------
    settings : MailSettings
        Server, encryption, addresses.
    read_secret : callable
        Fetches the password when it is needed.
    """

    def __init__(self, settings: MailSettings, read_secret: Callable[[SecretSource, str], Secret]) -> None:
        self.name = settings.name
        self.tells = settings.tells
        self._settings = settings
        self._read_secret = read_secret

    def send(self, notice: Notice) -> None:
        """Hand the notice over; NotificationFailed where the server does not take it for every address."""
        settings = self._settings
        recipients = list(settings.recipients)
        if notice.stand_in is not None and notice.stand_in not in recipients:
            recipients.append(notice.stand_in)
        message = mail_of(notice, settings.sender, recipients)
        password = None if settings.password is None else self._read_secret(settings.password, self.name)
        try:
            with self._connected() as server:
                if settings.user is not None and password is not None:
                    server.login(settings.user, password.reveal())
                refused = server.send_message(message, settings.sender, recipients)
        except smtplib.SMTPException as exc:
            raise self._failure(exc) from None  # the library's words may hold what was sent
        except ssl.SSLError:
            raise NotificationFailed(
                say("{channel}: {server} cannot prove who it is, or does not encrypt.", **self._values()),
                next_step=say("Check server, port and security of this channel; name the certificate by ca_file."),
            ) from None
        except (OSError, ValueError) as exc:
            raise self._unreachable(exc) from None
        if refused:
            addresses = ", ".join(sorted(refused))
            raise NotificationFailed(
                say("{channel}: {server} refused {addresses}.", addresses=addresses, **self._values()),
                next_step=say("Check the addresses of this channel; the others have got the message."),
            )

    def _connected(self) -> smtplib.SMTP:
        settings = self._settings
        if settings.security is MailSecurity.NONE:
            return smtplib.SMTP(settings.server, settings.port, OWN_NAME, ANSWER_WITHIN_S)
        context = ssl.create_default_context(cafile=None if settings.ca_file is None else str(settings.ca_file))
        if settings.security is MailSecurity.TLS:
            return smtplib.SMTP_SSL(
                settings.server, settings.port, OWN_NAME, timeout=ANSWER_WITHIN_S, context=context
            )
        server = smtplib.SMTP(settings.server, settings.port, OWN_NAME, ANSWER_WITHIN_S)
        try:
            server.starttls(context=context)
        except BaseException:
            server.close()
            raise
        return server

    def _failure(self, exc: smtplib.SMTPException) -> NotificationFailed:
        """What the server's refusal means: its code is told, its words are not."""
        values = self._values()
        if isinstance(exc, smtplib.SMTPAuthenticationError):
            return NotificationFailed(
                say("{channel}: {server} does not accept the name or the password.", **values),
                next_step=say("Check user and password_from of this channel."),
            )
        if isinstance(exc, smtplib.SMTPNotSupportedError):
            return NotificationFailed(
                say("{channel}: {server} does not offer encryption or sign-in as it is set.", **values),
                next_step=say("Check port and security of this channel: starttls, usually 587, or tls, usually 465."),
            )
        codes = _codes(exc)
        if codes and min(codes) >= 500:
            return NotificationFailed(
                say("{channel}: {server} refuses the message (code {code}).", code=str(min(codes)), **values),
                next_step=say("Check the addresses of this channel, and what the server allows."),
            )
        return NotTakenNow(
            say("{channel}: {server} did not take the message.", **values),
            next_step=say("It is tried again; if it stays so, ask whoever runs the server."),
        )

    def _unreachable(self, exc: Exception) -> NotificationFailed:
        values = self._values()
        if isinstance(exc, TimeoutError):
            sentence = say("{channel}: {server} did not answer in time.", **values)
        elif isinstance(exc, socket.gaierror):
            sentence = say("{channel}: no server called {server} is known here.", **values)
        else:
            sentence = say("{channel}: {server} cannot be reached.", **values)
        return NotTakenNow(sentence, next_step=say("Check the network, and server and port of this channel."))

    def _values(self) -> dict[str, str]:
        return {"channel": self.name, "server": self._settings.server}


def _codes(exc: smtplib.SMTPException) -> list[int]:
    if isinstance(exc, smtplib.SMTPRecipientsRefused):
        return [code for code, _ in exc.recipients.values()]
    return [exc.smtp_code] if isinstance(exc, smtplib.SMTPResponseException) else []


def mail_of(notice: Notice, sender: str, recipients: list[str]) -> EmailMessage:
    """The notice as a mail; sent twice it has one Message-ID, so that most programs show it once."""
    message = EmailMessage(policy=SMTP)
    message["Subject"] = notice.subject
    message["From"] = sender
    message["To"] = ", ".join(recipients)
    message["Date"] = format_datetime(notice.made_at)
    identity = hashlib.sha256(f"{notice.key}\n{notice.made_at.isoformat()}\n{notice.subject}".encode()).hexdigest()
    message["Message-ID"] = f"<{identity[:32]}@{sender.rpartition('@')[2]}>"
    message["Auto-Submitted"] = "auto-generated"  # RFC 3834: nobody's absence note answers it
    message.set_content(notice.text)
    message.add_alternative(notice.html, subtype="html")
    for attachment in notice.attachments:
        main, _, sub = attachment.media_type.partition("/")
        message.add_attachment(
            attachment.content, maintype=main, subtype=sub, filename=attachment.name, params={"charset": "utf-8"}
        )
    return message
