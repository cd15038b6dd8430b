"""The report that goes with the evening's mail, and that no message waits for."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest

from frostguard.advice.advise import reckon_evening
from frostguard.advice.state import TerraceState
from frostguard.garden.notice_settings import MailSecurity, MailSettings, Tells
from frostguard.garden.settings import Settings
from frostguard.nightly import Answer
from frostguard.notify.days import days_of_weather
from frostguard.notify.mail import MailChannel, mail_of
from frostguard.notify.moment import Look, Moment
from frostguard.notify.notice import Notice, notice_from_dict
from frostguard.notify.owed import owed
from frostguard.watch import attached
from frostguard.watch.attached import LARGEST, with_report
from tests.unit.advice import terraces

Events = list[dict[str, Any]]


def no_secret(*_: object) -> Any:
    """No password is needed to look at a channel."""
    raise AssertionError


MAIL = MailChannel(
    MailSettings("mail", "localhost", 25, MailSecurity.NONE, "frost@example.org", ("me@example.org",)), no_secret
)


@pytest.fixture(scope="module")
def answer() -> Answer:
    """One lemon on a night of eight degrees of frost, reckoned in full."""
    with pytest.MonkeyPatch.context() as patch:
        terraces.simulate_coarsely(patch)
        garden, weather = terraces.garden(), terraces.frosty_night(-8.0, past_h=48)
        reckoning = reckon_evening(garden, weather, TerraceState(), terraces.ASKED, Settings())
    return Answer(reckoning.plan, None, garden, Settings(), weather, reckoning, (), None, None)


@pytest.fixture
def notice(answer: Answer) -> Notice:
    """What is owed that evening."""
    days = days_of_weather(answer.weather, "Europe/Ljubljana")
    now = datetime(2026, 1, 14, 13, 0, tzinfo=UTC)
    found = owed(Moment(now, Look.EVENING, answer.garden, answer.settings, answer.plan, days))
    assert found is not None
    return found


def log_into(events: Events) -> Callable[..., None]:
    """A log that is looked at afterwards."""
    return lambda event, **values: events.append({"event": event, **values})


def test_the_mail_with_the_jobs_has_the_report(answer: Answer, notice: Notice) -> None:
    """A page of its own under the evening's date, whole after the logbook and after the mail's coding."""
    events: Events = []
    sent = with_report(notice, answer, [MAIL], log_into(events))
    assert sent is not None and events == []
    kept = notice_from_dict(json.loads(json.dumps(sent.to_dict())))
    assert kept == sent
    assert len(json.dumps(sent.to_dict())) < len(json.dumps(notice.to_dict())) + len(sent.attachments[-1].content) / 2
    *_, page = mail_of(kept, "frost@example.org", ["me@example.org"]).iter_attachments()
    assert page.get_content_type() == "text/html" and page.get_filename() == "report-2026-01-14.html"
    content = page.get_payload(decode=True)
    assert isinstance(content, bytes) and content == sent.attachments[-1].content
    assert content.startswith(b"<!") and b"<svg" in content and content.rstrip().endswith(b"</html>")


def test_without_a_mail_that_carries_it_nothing_is_drawn(answer: Answer, notice: Notice) -> None:
    """No mail at all, a mail that only interrupts, or a notice that tells no plan: the notice stays as it is."""
    server = ("m", "localhost", 25, MailSecurity.NONE, "a@example.org", ("b@example.org",))
    deaf = MailChannel(MailSettings(*server, tells=Tells.WHAT_NEEDS_YOU), no_secret)
    assert with_report(notice, answer, [], log_into([])) is notice
    quiet = replace(notice, interrupts=False)
    assert with_report(quiet, answer, [deaf], log_into([])) is quiet
    other = replace(notice, tells=("weekly/2026-01-14",))
    assert with_report(other, answer, [MAIL], log_into([])) is other
    assert with_report(None, answer, [MAIL], log_into([])) is None


@pytest.mark.parametrize("fault", ["cannot be drawn", "too large"])
def test_a_page_that_cannot_go_stops_no_message(
    answer: Answer, notice: Notice, fault: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The message goes without it, and the log says why."""

    def page(_: Answer) -> bytes:
        if fault == "too large":
            return b" " * (LARGEST + 1)
        raise ZeroDivisionError

    monkeypatch.setattr(attached, "_page", page)
    events: Events = []
    assert with_report(notice, answer, [MAIL], log_into(events)) is notice
    assert [(one["event"], one["ended"]) for one in events] == [("report", "failed")]
    assert ("bytes" if fault == "too large" else "ZeroDivision") in events[0]["why"]
