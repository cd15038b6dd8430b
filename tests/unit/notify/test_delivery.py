"""Sending through all channels: retries, limits, and the truth about what came of it."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field

import plans
import pytest
from plans import ASKED, NIGHT

from frostguard.errors import NotificationFailed
from frostguard.garden.notice_settings import (
    AppriseSettings,
    FeedSettings,
    MailSecurity,
    MailSettings,
    SecretSource,
    Tells,
    TerminalSettings,
    WebhookSettings,
)
from frostguard.garden.settings import Settings
from frostguard.notify.channels import open_channels
from frostguard.notify.delivery import Persistence, channel_trouble, is_for, send, trial_notice
from frostguard.notify.failures import NotTakenNow
from frostguard.notify.notice import Notice, NoticeKind
from frostguard.notify.terminal import TerminalChannel
from frostguard.report import words
from tests.unit.notify.moments import told

NOTICE = told(plan=plans.frosty_plan())
QUIET = told()


@dataclass
class Fake:
    """A channel that fails as told, then takes everything."""

    name: str = "fake"
    tells: Tells = Tells.EVERYTHING
    faults: list[Exception] = field(default_factory=list)
    taken: list[Notice] = field(default_factory=list)

    def send(self, notice: Notice) -> None:
        if self.faults:
            raise self.faults.pop(0)
        self.taken.append(notice)


def now_not(text: str = "fake: not now.") -> NotTakenNow:
    return NotTakenNow(text, next_step="Wait.")


def for_good() -> NotificationFailed:
    return NotificationFailed("fake: never.", next_step="Check it.")


def test_passing_faults_are_tried_again_with_growing_and_jittered_waits():
    """Three tries in all by default; the waits grow, and are stretched by up to a half."""
    channel, waited = Fake(faults=[now_not(), now_not()]), []

    delivery = send(channel, NOTICE, sleep=waited.append, jitter=lambda: 1.0)

    assert delivery.delivered and delivery.tries == 3
    assert waited == [4.5, 22.5]
    assert channel.taken == [NOTICE]


def test_retries_are_bounded():
    """What does not pass is told as failed, with the last reason."""
    delivery = send(Fake(faults=[now_not(str(n)) for n in range(9)]), NOTICE, sleep=lambda s: None)

    assert not delivery.delivered and delivery.tries == 3
    assert delivery.failure is not None and delivery.failure.message == "2"


def test_a_refusal_for_good_is_not_tried_again():
    """A wrong password does not become right."""
    delivery = send(Fake(faults=[for_good()]), NOTICE, sleep=lambda s: pytest.fail("waited"))

    assert delivery.tries == 1 and not delivery.delivered


def test_what_takes_long_to_fail_is_left_to_the_next_run():
    """A server that answers a letter at a time is not asked three times while the others wait."""
    channel = Fake(faults=[now_not(), now_not()])
    delivery = send(channel, NOTICE, Persistence(patient_s=0.0), sleep=lambda s: pytest.fail("waited"))

    assert delivery.tries == 1 and not delivery.delivered


def test_our_own_mistakes_are_not_hidden():
    """What is no failed delivery stays an exception with its traceback."""
    with pytest.raises(ZeroDivisionError):
        send(Fake(faults=[ZeroDivisionError()]), NOTICE)


def test_a_channel_that_hangs_holds_nobody_up():
    """It is given up after its time, and the others are served."""
    never = threading.Event()

    class Hanging(Fake):
        def send(self, notice: Notice) -> None:
            never.wait(10)

    good = Fake("good")
    brief = Persistence(one_try_s=0.05, waits_s=())
    deliveries = [send(channel, NOTICE, brief) for channel in (Hanging("slow"), good)]
    never.set()

    assert [(one.channel, one.delivered) for one in deliveries] == [("slow", False), ("good", True)]
    assert deliveries[0].failure is not None and "not done within 0.05 seconds" in deliveries[0].failure.message


def test_the_person_s_language_goes_along(monkeypatch: pytest.MonkeyPatch):
    """A sentence said while sending is in the language that was chosen before."""
    heard = []

    class Listening(Fake):
        def send(self, notice: Notice) -> None:
            heard.append(words._catalogue.get())

    import gettext

    chosen = gettext.NullTranslations()
    token = words._catalogue.set(chosen)
    send(Listening(), NOTICE)
    words._catalogue.reset(token)

    assert heard == [chosen]


def test_a_failing_channel_is_told_through_the_others():
    """Once a day, with the reason and what to do; not where none works, and not where all do."""
    deliveries = [send(channel, NOTICE) for channel in (Fake("hook", faults=[for_good()]), Fake("mail"))]

    notice = channel_trouble(deliveries, ASKED, NIGHT)
    assert notice is not None and notice.kind is NoticeKind.CHANNEL_FAILED and notice.interrupts
    assert notice.subject == "1 channel does not work: hook."
    assert "fake: never. Check it." in notice.text
    assert channel_trouble(deliveries, ASKED, NIGHT, said=notice.tells) is None
    assert channel_trouble(deliveries[:1], ASKED, NIGHT) is None
    assert channel_trouble(deliveries[1:], ASKED, NIGHT) is None


def test_a_channel_carries_what_it_is_for():
    """A telephone gets what rings, tests and troubles; a mailbox everything."""
    phone = Fake(tells=Tells.WHAT_NEEDS_YOU)

    assert NOTICE.interrupts and is_for(phone, NOTICE)
    assert not QUIET.interrupts and not is_for(phone, QUIET)
    assert is_for(Fake(), QUIET)
    assert is_for(phone, trial_notice(ASKED, NIGHT))


def test_the_terminal_says_when_it_takes_nothing():
    """A closed output is no delivery."""
    shown: list[str] = []
    TerminalChannel("terminal", shown.append).send(NOTICE)
    assert shown[0].startswith(NOTICE.subject)

    def closed(text: str) -> None:
        raise ValueError("I/O operation on closed file.")

    with pytest.raises(NotificationFailed):
        TerminalChannel("terminal", closed).send(NOTICE)


def test_channels_open_in_their_order_and_dial_nothing(tmp_path):
    """Each kind of the settings becomes a channel with its name; without any there is the terminal."""
    assert [channel.name for channel in open_channels(Settings())] == ["terminal"]
    listed = (
        TerminalSettings("t"),
        MailSettings("m", "mail.example.org", 587, MailSecurity.STARTTLS, "a@example.org", ("b@example.org",)),
        WebhookSettings("w", "https://example.org/"),
        FeedSettings("f", tmp_path / "frost.xml"),
        AppriseSettings("a", SecretSource(variable="X")),
    )

    opened = open_channels(Settings(channels=listed), secret_of=lambda source, name: pytest.fail("read a secret"))

    assert [channel.name for channel in opened] == ["t", "m", "w", "f", "a"]
    assert [channel.tells for channel in opened] == [Tells.EVERYTHING] * 4 + [Tells.WHAT_NEEDS_YOU]
    assert list(tmp_path.iterdir()) == []
