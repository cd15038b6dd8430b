"""Notices posted as JSON to an address of the person's own, signed so that the other side can tell who sent them."""

from __future__ import annotations

import hashlib
import hmac
import json
from collections.abc import Callable
from datetime import datetime

from frostguard.errors import NotificationFailed
from frostguard.garden.notice_settings import SecretSource, WebhookSettings
from frostguard.garden.read_notices import refused_address
from frostguard.notify.failures import NotTakenNow
from frostguard.notify.notice import Notice
from frostguard.notify.secrets import Secret
from frostguard.report.words import say
from frostguard.weather.client import PostFailed, post_once

SIGNATURE_HEADER = "Frostguard-Signature"
TIME_HEADER = "Frostguard-Time"

BODY_FORMAT = 1


class WebhookChannel:
    """Posts each notice; any answer in the two hundreds means that it was taken.

    With a signing key, `Frostguard-Signature` holds the HMAC-SHA256 (RFC 2104, hexadecimal) of the text
    "TIME.BODY", where TIME is what `Frostguard-Time` says (seconds since 1970): who checks both cannot be
    fed an old message.

    Parameters
    ----------
    settings : WebhookSettings
        Address, and where the key lies.
    read_secret : callable
        Fetches address and key when they are needed.
    now : callable
        The clock, aware.
    """

    def __init__(
        self,
        settings: WebhookSettings,
        read_secret: Callable[[SecretSource, str], Secret],
        now: Callable[[], datetime],
    ) -> None:
        self.name = settings.name
        self.tells = settings.tells
        self._settings = settings
        self._read_secret = read_secret
        self._now = now

    def send(self, notice: Notice) -> None:
        """Post the notice; NotificationFailed where the other side does not say that it was taken."""
        address = self._address()
        body = body_of(notice)
        identity = hashlib.sha256(notice.key.encode()).hexdigest()
        headers = {"Content-Type": "application/json", "Idempotency-Key": identity}
        if self._settings.signing_key is not None:
            key = self._read_secret(self._settings.signing_key, self.name)
            stamp = str(int(self._now().timestamp()))
            headers[TIME_HEADER] = stamp
            headers[SIGNATURE_HEADER] = signature(key.reveal(), stamp, body)
        try:
            status = post_once(address, body, headers, ca_file=self._settings.ca_file)
        except PostFailed as exc:
            raise NotTakenNow(
                say("{channel}: the address {reason}.", channel=self.name, reason=exc.reason),
                next_step=say("Check the network, and the address of this channel."),
            ) from None
        self._judge(status)

    def _judge(self, status: int) -> None:
        if 200 <= status < 300:
            return
        sentence = say("{channel}: the address answered with status {status}.", channel=self.name, status=str(status))
        next_step = say("Look at what stands at that address; only an answer in the two hundreds counts as taken.")
        if status == 429 or status >= 500:
            raise NotTakenNow(sentence, next_step=next_step)
        raise NotificationFailed(sentence, next_step=next_step)

    def _address(self) -> str:
        if self._settings.address is not None:
            return self._settings.address
        assert self._settings.address_from is not None, "the reader lets no webhook through without an address"
        address = self._read_secret(self._settings.address_from, self.name).reveal()
        why = refused_address(address)
        if why is not None:
            raise NotificationFailed(
                say("{channel}: {why}", channel=self.name, why=why),
                next_step=say("Put the whole address where address_from says."),
            )
        return address


def signature(key: str, stamp: str, body: bytes) -> str:
    """HMAC-SHA256 of time and body, in hexadecimal."""
    return hmac.new(key.encode(), stamp.encode() + b"." + body, hashlib.sha256).hexdigest()


def body_of(notice: Notice) -> bytes:
    """The notice as JSON, with a format number."""
    return json.dumps({"format": BODY_FORMAT, **notice.to_dict()}, ensure_ascii=True).encode("ascii")
