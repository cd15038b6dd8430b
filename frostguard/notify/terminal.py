"""A notice on the terminal, or in the log of whatever runs the evening."""

from __future__ import annotations

from collections.abc import Callable

from frostguard.errors import NotificationFailed
from frostguard.garden.notice_settings import Tells
from frostguard.notify.notice import Notice
from frostguard.report.words import say


class TerminalChannel:
    """Prints the text, which begins with what the subject says.

    Parameters
    ----------
    name : str
        How the person calls this channel.
    write : callable
        Takes the text; it must fail where the text cannot be written.
    tells : Tells
        What it carries.
    """

    def __init__(self, name: str, write: Callable[[str], None], tells: Tells = Tells.EVERYTHING) -> None:
        self.name = name
        self.tells = tells
        self._write = write

    def send(self, notice: Notice) -> None:
        """Print the notice; NotificationFailed if the stream takes nothing."""
        try:
            self._write(f"{notice.text}\n")
        except (OSError, ValueError) as exc:
            raise NotificationFailed(
                say("{channel}: the terminal takes no text.", channel=self.name),
                next_step=say("Look at the other channels, or write the output into a file."),
            ) from exc
