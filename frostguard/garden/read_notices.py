"""The part of the settings file on notices and channels."""

from __future__ import annotations

import ipaddress
import re
from collections.abc import Callable
from datetime import date, time
from pathlib import Path
from urllib.parse import SplitResult, urlsplit

from frostguard.garden.fields import Block
from frostguard.garden.names import folded
from frostguard.garden.notice_settings import (
    AppriseSettings,
    Away,
    ChannelSettings,
    FeedSettings,
    MailSecurity,
    MailSettings,
    NoticeSettings,
    SecretSource,
    Tells,
    TerminalSettings,
    WebhookSettings,
)
from frostguard.garden.yaml_text import Faults, Node, Table, Text, shown

NOTICE_KEYS = ("quiet_hours", "weekly_letter", "all_well", "last_frost", "away")
AWAY_KEYS = ("first_day", "last_day", "stand_in")

_DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_NEVER = -1
_MOST_ENTRIES = 500
_USUAL_PORTS = {MailSecurity.STARTTLS: 587, MailSecurity.TLS: 465, MailSecurity.NONE: 25}
_MAIL = re.compile(r"[A-Za-z0-9._%+=-]+@[A-Za-z0-9.-]+")
_HOST = re.compile(r"[A-Za-z0-9.-]{1,253}|\[[0-9A-Fa-f:]{2,45}\]|[0-9A-Fa-f:]{2,45}")


def read_notices(table: Table | None, faults: Faults) -> NoticeSettings:
    """What is told and when; what is not said keeps its default."""
    usual = NoticeSettings()
    if table is None:
        return usual
    block = Block(table, NOTICE_KEYS, "the notices", faults)
    quiet = _quiet_hours(block)
    letter = block.word(
        "weekly_letter", {**{day: n for n, day in enumerate(_DAYS)}, "never": _NEVER}, (*_DAYS, "never")
    )
    all_well = block.switch("all_well")
    quiet_from, quiet_to = (usual.quiet_from, usual.quiet_to) if quiet is None else quiet
    return NoticeSettings(
        quiet_from=quiet_from,
        quiet_to=quiet_to,
        weekly_letter=usual.weekly_letter if letter is None else None if letter == _NEVER else letter,
        all_well=usual.all_well if all_well is None else all_well,
        last_frost=_last_frost(block),
        away=_away(block, faults),
    )


def read_channels(block: Block, faults: Faults) -> tuple[ChannelSettings, ...]:
    """The channels under the key `channels`, each under a name of its own."""
    channels: list[ChannelSettings] = []
    for number, node in enumerate(block.listing("channels", "channels"), start=1):
        channel = _channel(node, number, faults)
        if channel is None:
            continue
        if any(folded(channel.name) == folded(other.name) for other in channels):
            faults.add(
                node.line,
                'channel {number}: another channel is called "{name}" already; give it a name: of its own.',
                number=number,
                name=shown(channel.name),
            )
        channels.append(channel)
    return tuple(channels)


def stand_in_can_be_reached(
    block: Block, notices: NoticeSettings, channels: tuple[ChannelSettings, ...]
) -> None:
    """Note a fault where a stand-in is named and no channel is there that can reach one."""
    if notices.away and not any(isinstance(channel, MailSettings) for channel in channels):
        block.fault(
            "notices",
            "{where}: a stand-in is reached by e-mail, and there is no channel of that kind; add one.",
        )


# --- notices --------------------------------------------------------------------------------------------


def _quiet_hours(block: Block) -> tuple[time | None, time | None] | None:
    scalar = block.scalar("quiet_hours")
    if scalar is None:
        return None
    if folded(scalar.text) in ("no", "none", "never"):
        return None, None
    match = re.fullmatch(r"\s*([0-9]{1,2}):([0-9]{2})\s*[-–]\s*([0-9]{1,2}):([0-9]{2})\s*", scalar.text)
    if match is None or int(match[1]) > 23 or int(match[3]) > 23 or int(match[2]) > 59 or int(match[4]) > 59:
        block.fault(
            "quiet_hours",
            '{where}: "{text}" is no span of time; write it in quotation marks as "22:00-07:00", or no.',
            text=shown(scalar.text),
        )
        return None
    begins, ends = time(int(match[1]), int(match[2])), time(int(match[3]), int(match[4]))
    if begins == ends:
        block.fault("quiet_hours", "{where}: the quiet hours begin when they end; write no if there are none.")
        return None
    return begins, ends


def _last_frost(block: Block) -> tuple[int, int] | None:
    scalar = block.scalar("last_frost")
    if scalar is None:
        return None
    match = re.fullmatch(r"([0-9]{2})-([0-9]{2})", scalar.text.strip())
    try:
        if match is not None:
            day = date(2023, int(match[1]), int(match[2]))  # no leap year: a day that every year has
            return day.month, day.day
    except ValueError:
        pass
    block.fault(
        "last_frost",
        '{where}: "{text}" is no day of the year; write month and day as "05-15".',
        text=shown(scalar.text),
    )
    return None


def _away(block: Block, faults: Faults) -> tuple[Away, ...]:
    away = []
    for number, node in enumerate(block.listing("away", "spans of days"), start=1):
        where = f"being away, number {number}"
        if not isinstance(node, Table):
            faults.add(node.line, "{where}, must be keys with values, such as first_day: 2026-12-20.", where=where)
            continue
        span = Block(node, AWAY_KEYS, where, faults)
        span.require("first_day", "2026-12-20")
        span.require("last_day", "2027-01-03")
        span.require("stand_in", "neighbour@example.org")
        first, last = _day(span, "first_day"), _day(span, "last_day")
        stand_in = _mail_address(span, "stand_in")
        if first is None or last is None or stand_in is None:
            continue
        if last < first:
            span.fault("last_day", "{where}: it ends before it begins.")
            continue
        away.append(Away(first, last, stand_in))
    return tuple(away)


def _day(block: Block, key: str) -> date | None:
    scalar = block.scalar(key)
    if scalar is None:
        return None
    if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", scalar.text.strip()):
        try:
            return date.fromisoformat(scalar.text.strip())
        except ValueError:
            pass
    block.fault(key, '{where}: "{text}" is no day; write it as 2026-12-20.', text=shown(scalar.text))
    return None


# --- channels -------------------------------------------------------------------------------------------

_OF_EVERY_CHANNEL = ("kind", "name", "tells")


def _channel(node: Node, number: int, faults: Faults) -> ChannelSettings | None:
    if not isinstance(node, Table):
        faults.add(
            node.line,
            "channel {number} must be keys with values, such as kind: mail; write each key on a line of its own.",
            number=number,
        )
        return None
    kind_node = node.entries.get("kind")
    kind = folded(kind_node.text) if isinstance(kind_node, Text) else ""
    where = f"channel {number}"
    if kind not in _READERS:
        every_key = {key for keys, _ in _READERS.values() for key in keys}
        block = Block(node, (*_OF_EVERY_CHANNEL, *sorted(every_key)), where, faults)
        block.require("kind", "mail")
        block.word("kind", {name: name for name in _READERS})
        return None
    keys, read = _READERS[kind]
    block = Block(node, (*_OF_EVERY_CHANNEL, *keys), where, faults)
    return read(block, block.text("name") or kind)


def _tells(block: Block, usual: Tells) -> Tells:
    return block.word("tells", {tells.value: tells for tells in Tells}) or usual


def _terminal(block: Block, name: str) -> ChannelSettings:
    return TerminalSettings(name, _tells(block, Tells.EVERYTHING))


def _mail(block: Block, name: str) -> ChannelSettings | None:
    block.require("server", "mail.example.org")
    block.require("from", "frostguard@example.org")
    block.require("to", "me@example.org")
    server = _host(block)
    security = block.word("security", {kind.value: kind for kind in MailSecurity}) or MailSecurity.STARTTLS
    port = block.whole("port", 1, 65535)
    user = block.text("user")
    password = read_secret_source(block, "password_from")
    sender = _mail_address(block, "from")
    recipients = _mail_addresses(block)
    ca_file = _file(block, "ca_file")
    if block.has("user") != block.has("password_from"):
        block.fault(None, "{where}: user and password_from belong together; write both or neither.")
    if server is not None and security is MailSecurity.NONE and not is_loopback(server):
        block.fault("security", "{where}: without encryption only this machine itself may be the server.")
    if server is None or sender is None or not recipients:
        return None
    return MailSettings(
        name=name,
        server=server,
        port=_USUAL_PORTS[security] if port is None else port,
        security=security,
        sender=sender,
        recipients=recipients,
        user=user,
        password=password,
        ca_file=ca_file,
        tells=_tells(block, Tells.EVERYTHING),
    )


def _webhook(block: Block, name: str) -> ChannelSettings | None:
    if block.missing("address", "address_from"):
        block.fault(
            None,
            "{where} does not say its address; add a line such as address: https://example.org/frost, or "
            "address_from: env:FROSTGUARD_WEBHOOK where the address is a secret.",
        )
    if block.has("address") and block.has("address_from"):
        block.fault("address_from", "{where}: address and address_from say the same thing; keep one of them.")
    scalar = block.scalar("address")
    address = None
    if scalar is not None:
        address = scalar.text.strip()
        why = refused_address(address)
        if why is not None:
            block.fault("address", "{where}: {why}", why=why)
    return WebhookSettings(
        name=name,
        address=address,
        address_from=read_secret_source(block, "address_from"),
        signing_key=read_secret_source(block, "signing_key_from"),
        ca_file=_file(block, "ca_file"),
        tells=_tells(block, Tells.EVERYTHING),
    )


def _feed(block: Block, name: str) -> ChannelSettings | None:
    block.require("file", "/home/me/frostguard.xml")
    file = _file(block, "file")
    entries = block.whole("entries", 1, _MOST_ENTRIES)
    if file is None:
        return None
    return FeedSettings(name, file, 50 if entries is None else entries, _tells(block, Tells.EVERYTHING))


def _apprise(block: Block, name: str) -> ChannelSettings | None:
    block.require("address_from", "env:FROSTGUARD_APPRISE")
    source = read_secret_source(block, "address_from")
    if source is None:
        return None
    return AppriseSettings(name, source, _tells(block, Tells.WHAT_NEEDS_YOU))


_READERS: dict[str, tuple[tuple[str, ...], Callable[[Block, str], ChannelSettings | None]]] = {
    "terminal": ((), _terminal),
    "mail": (
        ("server", "port", "security", "user", "password_from", "from", "to", "ca_file"),
        _mail,
    ),
    "webhook": (("address", "address_from", "signing_key_from", "ca_file"), _webhook),
    "feed": (("file", "entries"), _feed),
    "apprise": (("address_from",), _apprise),
}


def _host(block: Block) -> str | None:
    """A host name or address; it is dialled, and nothing else may be in it."""
    text = block.text("server")
    if text is None or _HOST.fullmatch(text):
        return None if text is None else text.strip("[]")
    block.fault("server", '{where}: "{text}" is no name of a server; write it like mail.example.org.', text=shown(text))
    return None


def _mail_address(block: Block, key: str) -> str | None:
    scalar = block.scalar(key)
    return None if scalar is None else _mail_address_in(block, scalar)


def _mail_addresses(block: Block) -> tuple[str, ...]:
    found = [_mail_address_in(block, text) for text in block.texts("to")]
    return tuple(address for address in found if address is not None)


def _mail_address_in(block: Block, text: Text) -> str | None:
    """A mail address; it goes into headers, so nothing else may be in it."""
    address = text.text.strip()
    if len(address) <= 254 and _MAIL.fullmatch(address):
        return address
    block.faults.add(
        text.line,
        '{where}: "{text}" is no mail address; write it like me@example.org.',
        where=block.where,
        text=shown(text.text),
    )
    return None


def _file(block: Block, key: str) -> Path | None:
    scalar = block.scalar(key)
    if scalar is None:
        return None
    path = Path(scalar.text)
    try:
        path = path.expanduser()
    except RuntimeError:
        path = Path()
    if path.is_absolute() and scalar.text.isprintable():
        return path
    block.fault(
        key,
        '{where}: "{text}" is no whole path to a file; write it from the root, like /home/me/file.',
        text=shown(scalar.text),
    )
    return None


def read_secret_source(block: Block, key: str) -> SecretSource | None:
    """Where a secret lies; one that was written down here is refused and not repeated."""
    scalar = block.scalar(key)
    if scalar is None:
        return None
    kind, _, rest = scalar.text.strip().partition(":")
    if kind == "env" and re.fullmatch(r"[A-Za-z_][A-Za-z0-9_]{0,80}", rest):
        return SecretSource(variable=rest)
    if kind == "file" and rest.isprintable():
        try:
            path = Path(rest.strip()).expanduser()
        except RuntimeError:
            path = Path()
        if path.is_absolute():
            return SecretSource(file=path)
    block.fault(
        key,
        '{where}: "{key}" names where the secret lies, and is not the secret; write env:NAME_OF_A_VARIABLE or '
        "file:/whole/path, and take a secret that was written here out of use.",
    )
    return None


def refused_address(address: str) -> str | None:
    """Why a web address cannot be posted to, as a sentence; None where it can."""
    try:
        parts = urlsplit(address)
        port_is_sound = parts.port is None or parts.port > 0
    except ValueError:
        return "the address cannot be read; write it like https://example.org/frost."
    if not address.isascii() or not address.isprintable() or " " in address or not parts.hostname or not port_is_sound:
        return "the address cannot be read; write it like https://example.org/frost."
    if parts.username is not None or parts.password is not None:
        return "the address holds a name or password; put the whole address into a secret of its own (address_from)."
    return None if _is_sheltered(parts) else "the address must begin with https:// unless it is this machine itself."


def _is_sheltered(parts: SplitResult) -> bool:
    return parts.scheme == "https" or (parts.scheme == "http" and is_loopback(parts.hostname or ""))


def is_loopback(host: str) -> bool:
    """Whether a host is this machine itself, by its address or by the one name that always means it."""
    if host.lower() == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False
