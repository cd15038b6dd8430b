"""Mail to real servers on the loopback: encrypted, signed in, refused, slow, absent."""

from __future__ import annotations

import smtplib
import socket
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import plans
import pytest

from frostguard.errors import NotificationFailed
from frostguard.garden.notice_settings import MailSecurity, MailSettings, SecretSource
from frostguard.notify import mail
from frostguard.notify.delivery import Persistence, send
from frostguard.notify.failures import NotTakenNow
from frostguard.notify.mail import MailChannel
from frostguard.notify.secrets import Secret
from tests.unit.notify.mail_server import (
    PASSWORD,
    USER,
    Mailbox,
    babble,
    bad_server,
    certificates,
    free_port,
    hang_up,
    mail_server,
    silent,
    tar_pit,
)
from tests.unit.notify.moments import told

# the whole line is encrypted then, which the server's library does not look at
encrypted_anyway = pytest.mark.filterwarnings("ignore:Requiring AUTH while not requiring TLS:UserWarning")

NOTICE = told(plan=plans.frosty_plan())


def channel(port: int, **changes: Any) -> MailChannel:
    """A channel to that port, not encrypted, without sign-in."""
    settings = MailSettings(
        name="my mail",
        server="localhost",
        port=port,
        security=MailSecurity.NONE,
        sender="frost@example.org",
        recipients=("me@example.org",),
    )
    password = changes.pop("password", PASSWORD)
    return MailChannel(replace(settings, **changes), lambda source, name: Secret(password))



def signed_in(port: int, security: MailSecurity, ca_file: Path | None, password: str = PASSWORD) -> MailChannel:
    """A channel that signs in."""
    settings = MailSettings(
        "my mail", "localhost", port, security, "frost@example.org", ("me@example.org",),
        user=USER, password=SecretSource(variable="X"), ca_file=ca_file,
    )  # fmt: skip
    return MailChannel(settings, lambda source, name: Secret(password))


@encrypted_anyway
@pytest.mark.parametrize("security", [MailSecurity.STARTTLS, MailSecurity.TLS])
def test_mail_arrives_encrypted_and_signed_in(security: MailSecurity, tmp_path: Path):
    """Over a server with a certificate and a password: text, page and calendar arrive as they were sent."""
    context, ca_file = certificates(tmp_path)
    box = Mailbox()
    way = {"starttls": context} if security is MailSecurity.STARTTLS else {"tls": context}
    with mail_server(box, sign_in=True, **way) as port:
        signed_in(port, security, ca_file).send(NOTICE)

    (got,) = box.mails
    assert got["Subject"] == NOTICE.subject
    assert got["Auto-Submitted"] == "auto-generated"
    body = got.get_body(("plain",))
    assert body is not None and body.get_content().replace("\r\n", "\n").strip() == NOTICE.text.strip()
    page = got.get_body(("html",))
    assert page is not None and "<h2>Still at risk</h2>" in page.get_content()
    (calendar,) = got.iter_attachments()
    assert calendar.get_content_type() == "text/calendar" and calendar.get_filename() == "jobs-2026-12-02.ics"
    payload = calendar.get_payload(decode=True)
    assert payload == NOTICE.attachments[0].content


@encrypted_anyway
def test_a_server_without_a_known_certificate_gets_nothing(tmp_path: Path):
    """Nobody vouches for it, so neither password nor mail is sent."""
    context, _ = certificates(tmp_path)
    box = Mailbox()
    with mail_server(box, tls=context, sign_in=True) as port, pytest.raises(NotificationFailed) as caught:
        signed_in(port, MailSecurity.TLS, None).send(NOTICE)

    assert "cannot prove who it is" in caught.value.message
    assert not isinstance(caught.value, NotTakenNow)
    assert box.mails == []


def test_a_server_that_offers_no_encryption_gets_no_password():
    """Stripped encryption is refused, not worked round."""
    box = Mailbox()
    with mail_server(box) as port, pytest.raises(NotificationFailed) as caught:
        signed_in(port, MailSecurity.STARTTLS, None).send(NOTICE)

    assert "does not offer encryption" in caught.value.message
    assert box.mails == []


def test_a_wrong_password_is_told_without_it(tmp_path: Path):
    """The sentence names the channel, not the secret; trying again would not help."""
    context, ca_file = certificates(tmp_path)
    wrong = "hunter2-and-a-half"
    with mail_server(Mailbox(), starttls=context, sign_in=True) as port, pytest.raises(NotificationFailed) as caught:
        signed_in(port, MailSecurity.STARTTLS, ca_file, wrong).send(NOTICE)

    assert "does not accept the name or the password" in caught.value.message
    assert not isinstance(caught.value, NotTakenNow)
    assert wrong not in f"{caught.value.message}{caught.value.next_step}{caught.value!r}"
    assert caught.value.__cause__ is None  # nor does a traceback show what the library had in hand


def test_a_stand_in_gets_the_mail_too():
    """While one is away."""
    box = Mailbox()
    with mail_server(box) as port:
        channel(port).send(replace(NOTICE, stand_in="neighbour@example.org"))

    assert box.recipients == [["me@example.org", "neighbour@example.org"]]


def test_a_refused_address_is_told_though_the_others_got_it():
    """Results are checked: half delivered is not delivered."""
    box = Mailbox(refused=frozenset({"typo@example.org"}))
    with mail_server(box) as port, pytest.raises(NotificationFailed) as caught:
        channel(port, recipients=("me@example.org", "typo@example.org")).send(NOTICE)

    assert "refused typo@example.org" in caught.value.message
    assert len(box.mails) == 1


@pytest.mark.parametrize(
    ("answer", "passing"), [("451 try later", True), ("421 closing", True), ("554 no", False), ("552 too much", False)]
)
def test_four_hundreds_pass_and_five_hundreds_do_not(answer: str, passing: bool):
    """RFC 5321, section 4.2.1: 4yz is a passing fault, 5yz is for good. The server's words are not repeated."""
    with mail_server(Mailbox(answers=[answer])) as port, pytest.raises(NotificationFailed) as caught:
        channel(port).send(NOTICE)

    assert isinstance(caught.value, NotTakenNow) is passing
    assert answer[4:] not in caught.value.message


def test_a_passing_fault_is_tried_again():
    """Greylisting: the first try is put off, the second is taken."""
    box, waited = Mailbox(answers=["451 try later"]), []
    with mail_server(box) as port:
        delivery = send(channel(port), NOTICE, sleep=waited.append, jitter=lambda: 0.0)

    assert delivery.delivered and delivery.tries == 2
    assert waited == [3.0]
    assert len(box.mails) == 1


def test_sent_twice_it_has_one_message_id():
    """So that a mail program shows a duplicate once; a marked duplicate is a message of its own."""
    box = Mailbox()
    with mail_server(box) as port:
        channel(port).send(NOTICE)
        channel(port).send(NOTICE)

    first, second = box.mails
    assert first["Message-ID"] == second["Message-ID"]


@pytest.mark.parametrize("behaviour", [tar_pit, silent, hang_up, babble])
def test_a_bad_server_costs_no_more_than_its_time(behaviour: Callable[..., None]):
    """A letter now and then, silence, a hung-up line, nonsense: each ends within the limit, as not taken."""
    with bad_server(behaviour) as port:
        delivery = send(channel(port, server="127.0.0.1"), NOTICE, Persistence(one_try_s=0.4, waits_s=()))

    assert delivery.failure is not None
    assert delivery.failure.message.startswith("my mail: ")
    assert isinstance(delivery.failure, NotTakenNow)


def test_nobody_listens():
    """No server there: told, and worth another try."""
    with pytest.raises(NotTakenNow) as caught:
        channel(free_port()).send(NOTICE)

    assert "cannot be reached" in caught.value.message


def test_no_name_is_resolved(monkeypatch: pytest.MonkeyPatch):
    """A machine without DNS says so, and tries again later."""

    def no_names(*arguments: Any, **options: Any) -> Any:
        raise socket.gaierror(socket.EAI_AGAIN, "Temporary failure in name resolution")

    monkeypatch.setattr(socket, "getaddrinfo", no_names)
    with pytest.raises(NotTakenNow) as caught:
        channel(25, server="mail.example.org").send(NOTICE)

    assert caught.value.message == "my mail: no server called mail.example.org is known here."


def test_mail_has_a_limit_for_every_answer(monkeypatch: pytest.MonkeyPatch):
    """The library is never called without one."""
    limits = []

    class Watched(smtplib.SMTP):
        def __init__(self, host: str, port: int, name: str, timeout: float) -> None:
            limits.append(timeout)
            super().__init__(host, port, name, timeout)

    monkeypatch.setattr(mail.smtplib, "SMTP", Watched)
    with mail_server(Mailbox()) as port:
        channel(port).send(NOTICE)

    assert limits == [mail.ANSWER_WITHIN_S]
