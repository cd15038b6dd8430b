"""Notices as a feed file (Atom, RFC 4287) that any feed reader follows, also over a shared folder or a web server."""

from __future__ import annotations

import errno
import os
import uuid
import xml.etree.ElementTree as ET
from pathlib import Path

from frostguard.errors import NotificationFailed
from frostguard.garden.notice_settings import FeedSettings
from frostguard.lock import only_one
from frostguard.notify.failures import NotTakenNow
from frostguard.notify.notice import Notice
from frostguard.report.words import say
from frostguard.whole_files import write_whole

ATOM = "http://www.w3.org/2005/Atom"
GENERATOR = "frostguard"
WAITS_FOR_ANOTHER_S = 10.0
"""A feed is written in milliseconds; who holds it for longer is stuck (estimate)."""

LARGEST_BYTES = 20_000_000
"""Five hundred notices take about 10 MB; a larger file is none of ours."""


class FeedChannel:
    """Puts each notice on top of a feed file; the file is written whole or left as it was.

    Parameters
    ----------
    settings : FeedSettings
        The file, and how many notices stay in it.
    """

    def __init__(self, settings: FeedSettings) -> None:
        self.name = settings.name
        self.tells = settings.tells
        self._settings = settings

    def send(self, notice: Notice) -> None:
        """Write the notice into the file; NotificationFailed if it cannot be, or is somebody else's file."""
        file = self._settings.file
        if not file.parent.is_dir():
            raise self._not_written(FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT)))
        # two writers at once would each put back what they read, and one notice would be gone
        with only_one(file.with_name(f".{file.name}.lock"), wait_s=WAITS_FOR_ANOTHER_S) as alone:
            if not alone:
                raise NotTakenNow(
                    say("{channel}: {file} is being written by somebody else.", **self._values()),
                    next_step=say("It is tried again; look which other process writes there."),
                )
            self._put(file, notice)

    def _put(self, file: Path, notice: Notice) -> None:
        try:
            kept = _read(file)
            feed = _new_feed() if kept is None else _feed_of(kept)
        except OSError as exc:
            raise self._not_written(exc) from None
        if feed is None:
            raise NotificationFailed(
                say("{channel}: {file} is there already, and is no feed of frostguard.", **self._values()),
                next_step=say("Name another file for this channel, or move that one away; it was not touched."),
            )
        _put_on_top(feed, notice, self._settings.entries)
        text = '<?xml version="1.0" encoding="utf-8"?>\n' + ET.tostring(feed, encoding="unicode") + "\n"
        try:
            write_whole(file, text)
        except OSError as exc:
            raise self._not_written(exc) from None

    def _not_written(self, exc: OSError) -> NotificationFailed:
        reason = exc.strerror or type(exc).__name__
        return NotTakenNow(
            say("{channel}: {file} cannot be written ({reason}).", reason=reason, **self._values()),
            next_step=say("Check that its folder is there, may be written to, and has room."),
        )

    def _values(self) -> dict[str, str]:
        return {"channel": self.name, "file": str(self._settings.file)}


def _read(file: Path) -> bytes | None:
    """What is in the file; None where there is none yet."""
    try:
        with file.open("rb") as opened:
            return opened.read(LARGEST_BYTES + 1)
    except FileNotFoundError:
        return None


def _feed_of(content: bytes) -> ET.Element | None:
    """The feed that the bytes hold, if it is one of ours; declarations, which ours never has, are refused."""
    if len(content) > LARGEST_BYTES or b"<!" in content:
        return None
    try:
        feed = ET.fromstring(content)
    except (ET.ParseError, ValueError):
        return None
    generator = feed.find(_tag("generator"))
    ours = feed.tag == _tag("feed") and generator is not None and generator.text == GENERATOR
    return feed if ours else None


def _new_feed() -> ET.Element:
    feed = ET.Element(_tag("feed"))
    _add(feed, "id", uuid.uuid4().urn)
    _add(feed, "title", say("Frost advice"))
    _add(feed, "generator", GENERATOR)
    author = ET.SubElement(feed, _tag("author"))
    _add(author, "name", GENERATOR)
    _add(feed, "updated", "")
    return feed


def _put_on_top(feed: ET.Element, notice: Notice, most: int) -> None:
    """The notice as the first entry; one with the same identity takes the place of the earlier one."""
    feed_id = feed.findtext(_tag("id"), "")
    identity = uuid.uuid5(uuid.NAMESPACE_URL, f"{feed_id}#{notice.key}").urn
    entries = [one for one in feed.findall(_tag("entry")) if one.findtext(_tag("id")) != identity]
    for one in feed.findall(_tag("entry")):
        feed.remove(one)
    updated = feed.find(_tag("updated"))
    if updated is None:
        updated = ET.SubElement(feed, _tag("updated"))
    updated.text = notice.made_at.isoformat()
    feed.append(_entry(identity, notice))
    feed.extend(entries[: most - 1])


def _entry(identity: str, notice: Notice) -> ET.Element:
    entry = ET.Element(_tag("entry"))
    _add(entry, "id", identity)
    _add(entry, "title", notice.subject)
    _add(entry, "updated", notice.made_at.isoformat())
    _add(entry, "summary", notice.short)
    content = _add(entry, "content", _body_of(notice.html))
    content.set("type", "html")
    category = ET.SubElement(entry, _tag("category"))
    category.set("term", notice.kind.value)
    return entry


def _body_of(page: str) -> str:
    """What stands between the body's tags of one of our own pages."""
    return page.partition("<body>")[2].partition("</body>")[0].strip()


def _add(parent: ET.Element, name: str, text: str) -> ET.Element:
    child = ET.SubElement(parent, _tag(name))
    child.text = "".join(character if _is_xml(character) else "?" for character in text)
    return child


def _is_xml(character: str) -> bool:
    """Whether XML 1.0 allows the character (section 2.2)."""
    code = ord(character)
    return character in "\t\n" or 0x20 <= code <= 0xD7FF or 0xE000 <= code <= 0xFFFD or code >= 0x10000


def _tag(name: str) -> str:
    return f"{{{ATOM}}}{name}"


ET.register_namespace("", ATOM)
