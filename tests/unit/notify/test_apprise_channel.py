"""Apprise: delivered over a real web server, refused, not understood, not installed."""

from __future__ import annotations

import json
import logging
import sys

import plans
import pytest

from frostguard.errors import NotificationFailed
from frostguard.garden.notice_settings import AppriseSettings, SecretSource
from frostguard.notify.apprise_channel import AppriseChannel
from frostguard.notify.failures import NotTakenNow
from frostguard.notify.secrets import Secret
from tests.unit.notify.mail_server import free_port
from tests.unit.notify.moments import told
from tests.unit.notify.web_server import Inbox, web_server

# the library loads all its plug-ins, some of which lean on modules that Python is about to drop
pytestmark = pytest.mark.filterwarnings("ignore::DeprecationWarning")

NOTICE = told(plan=plans.frosty_plan())


def channel(address: str) -> AppriseChannel:
    """A channel to that address."""
    settings = AppriseSettings("phone", SecretSource(variable="FROSTGUARD_APPRISE"))
    return AppriseChannel(settings, lambda source, name: Secret(address))


def test_the_notice_arrives():
    """Through the library to a server on the loopback: subject and text as they are."""
    inbox = Inbox()
    with web_server(inbox) as port:
        channel(f"json://127.0.0.1:{port}/frost").send(NOTICE)

    posted = json.loads(inbox.posts[0].body)
    assert posted["title"] == NOTICE.subject
    assert "slide or wheel to the cellar" in posted["message"]


def test_a_refusal_is_not_taken_for_success(caplog: pytest.LogCaptureFixture):
    """The library's result is looked at, and its own log shows no address."""
    hidden = "token-4711"
    with caplog.at_level(logging.DEBUG):
        for statuses, port in (([500], None), ([], free_port())):
            with web_server(Inbox(statuses=list(statuses))) as good, pytest.raises(NotTakenNow) as caught:
                channel(f"json://127.0.0.1:{port or good}/{hidden}").send(NOTICE)
            assert hidden not in f"{caught.value}{caught.value.next_step}"

    assert hidden not in "".join(record.getMessage() for record in caplog.records if record.name.startswith("apprise"))


@pytest.mark.parametrize("address", ["nonsense", "unknown://4711", "", "mailto://4711"])
def test_an_address_that_is_not_understood(address: str):
    """Told at once, without the address; trying again would not help."""
    with pytest.raises(NotificationFailed) as caught:
        channel(address).send(NOTICE)

    assert "4711" not in caught.value.message
    assert not isinstance(caught.value, NotTakenNow)


def test_not_installed(monkeypatch: pytest.MonkeyPatch):
    """Who has not got the extra is told how to get it."""
    monkeypatch.setitem(sys.modules, "apprise", None)
    with pytest.raises(NotificationFailed) as caught:
        channel("json://127.0.0.1/").send(NOTICE)

    assert caught.value.message == "phone: the library Apprise is not installed."
    assert "pip install '.[notify]'" in caught.value.next_step
