"""The ways out: every channel of the settings, opened, each able to send a notice or to say why not."""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Protocol

from frostguard.garden.notice_settings import (
    AppriseSettings,
    ChannelSettings,
    FeedSettings,
    MailSettings,
    SecretSource,
    Tells,
    TerminalSettings,
    WebhookSettings,
)
from frostguard.garden.settings import Settings
from frostguard.notify.notice import Notice
from frostguard.notify.secrets import Secret, read_secret
from frostguard.notify.terminal import TerminalChannel
from frostguard.report.words import say


class Channel(Protocol):
    """A way to reach the person."""

    name: str
    tells: Tells

    def send(self, notice: Notice) -> None:
        """Deliver the notice, or raise NotificationFailed; returning means that it was taken."""


def open_channels(
    settings: Settings,
    *,
    write: Callable[[str], None] | None = None,
    secret_of: Callable[[SecretSource, str], Secret] = read_secret,
    now: Callable[[], datetime] = lambda: datetime.now(UTC),
) -> tuple[Channel, ...]:
    """The channels of the settings, in their order; the terminal where none is set. Nothing is dialled yet.

    Parameters
    ----------
    settings : Settings
        With the channels.
    write : callable, optional
        Where the terminal's text goes; standard output if not given.
    secret_of : callable
        Fetches a secret for a channel.
    now : callable
        The clock, aware.
    """
    listed = settings.channels or (TerminalSettings(say("terminal")),)
    return tuple(_open(channel, write or _to_standard_output, secret_of, now) for channel in listed)


def _open(
    settings: ChannelSettings,
    write: Callable[[str], None],
    secret_of: Callable[[SecretSource, str], Secret],
    now: Callable[[], datetime],
) -> Channel:
    # imported where they are needed: who has only a terminal waits for none of the others
    match settings:
        case TerminalSettings():
            return TerminalChannel(settings.name, write, settings.tells)
        case MailSettings():
            from frostguard.notify.mail import MailChannel

            return MailChannel(settings, secret_of)
        case WebhookSettings():
            from frostguard.notify.webhook import WebhookChannel

            return WebhookChannel(settings, secret_of, now)
        case FeedSettings():
            from frostguard.notify.feed import FeedChannel

            return FeedChannel(settings)
        case AppriseSettings():
            from frostguard.notify.apprise_channel import AppriseChannel

            return AppriseChannel(settings, secret_of)


def _to_standard_output(text: str) -> None:
    sys.stdout.write(text)
    sys.stdout.flush()
