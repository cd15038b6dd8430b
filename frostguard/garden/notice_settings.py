"""Settings of what is told and how: quiet hours, letters, being away, and the channels."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, time
from enum import Enum
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Away:
    """Days on which somebody else looks after the plants, both included, and that person's mail address."""

    first: date
    last: date
    stand_in: str


@dataclass(frozen=True, slots=True)
class NoticeSettings:
    """When and of what to tell.

    `quiet_from` and `quiet_to` bound the hours in which nothing rings but for an irreplaceable plant
    (22 to 7 o'clock, common practice); None for none. `weekly_letter` is a day, Monday 0, or None.
    `last_frost` is month and day of the last frost of the place; None for the usual of its half of the globe.
    """

    quiet_from: time | None = time(22)
    quiet_to: time | None = time(7)
    weekly_letter: int | None = 6
    all_well: bool = True
    last_frost: tuple[int, int] | None = None
    away: tuple[Away, ...] = ()


class Tells(Enum):
    """What a channel carries."""

    EVERYTHING = "everything"
    WHAT_NEEDS_YOU = "what needs you"  # only what somebody has to act on


@dataclass(frozen=True, slots=True)
class SecretSource:
    """Where a secret is read from when it is needed: an environment variable or a file, never the settings."""

    variable: str | None = None
    file: Path | None = None


class MailSecurity(Enum):
    """How the way to the mail server is encrypted."""

    STARTTLS = "starttls"
    TLS = "tls"
    NONE = "none"  # only to this machine itself


@dataclass(frozen=True, slots=True)
class TerminalSettings:
    """Messages on the terminal."""

    name: str
    tells: Tells = Tells.EVERYTHING


@dataclass(frozen=True, slots=True)
class MailSettings:
    """Messages by e-mail, handed to a server."""

    name: str
    server: str
    port: int
    security: MailSecurity
    sender: str
    recipients: tuple[str, ...]
    user: str | None = None
    password: SecretSource | None = None
    ca_file: Path | None = None
    tells: Tells = Tells.EVERYTHING


@dataclass(frozen=True, slots=True)
class WebhookSettings:
    """Messages posted as JSON; the address is here, or a secret itself."""

    name: str
    address: str | None
    address_from: SecretSource | None = None
    signing_key: SecretSource | None = None
    ca_file: Path | None = None
    tells: Tells = Tells.EVERYTHING


@dataclass(frozen=True, slots=True)
class FeedSettings:
    """Messages in a feed file that any feed reader follows."""

    name: str
    file: Path
    entries: int = 50
    tells: Tells = Tells.EVERYTHING


@dataclass(frozen=True, slots=True)
class AppriseSettings:
    """Messages through the library Apprise; its addresses hold secrets, so they are read from elsewhere."""

    name: str
    address_from: SecretSource = field(default_factory=SecretSource)
    tells: Tells = Tells.WHAT_NEEDS_YOU


ChannelSettings = TerminalSettings | MailSettings | WebhookSettings | FeedSettings | AppriseSettings
