"""Passwords, keys and secret addresses: read when needed, from the environment or a file, shown to nobody."""

from __future__ import annotations

import os
import stat
from collections.abc import Mapping

from frostguard.errors import NotificationFailed
from frostguard.garden.notice_settings import SecretSource
from frostguard.report.words import say

LONGEST_BYTES = 4096
"""No password or address is longer."""


class Secret:
    """A text that shows itself to nobody who does not ask for it by name."""

    __slots__ = ("_text",)

    def __init__(self, text: str) -> None:
        self._text = text

    def reveal(self) -> str:
        """The secret itself."""
        return self._text

    def __repr__(self) -> str:
        return "Secret(not shown)"

    __str__ = __repr__

    def __reduce__(self) -> str:
        raise TypeError("a secret is not put down anywhere")


def read_secret(source: SecretSource, channel: str, environment: Mapping[str, str] | None = None) -> Secret:
    """The secret from where the settings say that it lies.

    Parameters
    ----------
    source : SecretSource
        A variable or a file.
    channel : str
        The channel that needs it, for the message.
    environment : mapping of str to str, optional
        The process's environment if not given.

    Raises
    ------
    NotificationFailed
        If it is not there, empty, or in a file that others may read. Its content is never told.
    """
    if source.variable is not None:
        text = (os.environ if environment is None else environment).get(source.variable, "")
        if not text.strip():
            raise NotificationFailed(
                say("{channel}: the variable {variable} is not set.", channel=channel, variable=source.variable),
                next_step=say("Set {variable} where frostguard is started.", variable=source.variable),
            )
        return Secret(_checked(text, channel))
    return Secret(_checked(_from_file(source, channel), channel))


def _from_file(source: SecretSource, channel: str) -> str:
    """The file's text; only the owner may be able to read it."""
    name = str(source.file)
    try:
        handle = os.open(name, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))
        with os.fdopen(handle, "rb") as file:
            status = os.fstat(handle)
            if not stat.S_ISREG(status.st_mode):
                raise OSError("no ordinary file")
            if os.name == "posix" and (status.st_mode & 0o077 or status.st_uid not in (os.geteuid(), 0)):
                raise NotificationFailed(
                    say("{channel}: {file} can be read by others.", channel=channel, file=name),
                    next_step=say("Make it yours alone: chmod 600 {file}", file=name),
                )
            content = file.read(LONGEST_BYTES + 1)
    except OSError:
        raise NotificationFailed(
            say("{channel}: the file {file} cannot be read.", channel=channel, file=name),
            next_step=say("Write the secret into that file and make it yours alone: chmod 600 {file}", file=name),
        ) from None
    try:
        text = content.decode("utf-8").rstrip("\r\n")
    except UnicodeDecodeError:
        text = ""
    if not text.strip() or len(content) > LONGEST_BYTES:
        raise NotificationFailed(
            say("{channel}: the file {file} holds no secret.", channel=channel, file=name),
            next_step=say("Write the secret into it, on one line."),
        )
    return text


def _checked(text: str, channel: str) -> str:
    """The text without blanks round it, if it is one line."""
    secret = text.strip()
    if not secret.isprintable():
        raise NotificationFailed(
            say("{channel}: the secret has more than one line, or characters that cannot be typed.", channel=channel),
            next_step=say("Write it on one line, and nothing else."),
        )
    return secret
