"""The feed file: read by a general-purpose feed reader, kept short, written whole or not at all."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import feedparser
import plans
import pytest

from frostguard.errors import NotificationFailed
from frostguard.garden.notice_settings import FeedSettings
from frostguard.lock import only_one
from frostguard.notify import feed
from frostguard.notify.failures import NotTakenNow
from frostguard.notify.feed import FeedChannel
from frostguard.notify.notice import Notice
from tests.unit.notify.moments import told
from tests.unit.notify.test_notice_forms import HOSTILE, with_names

NOTICE = told(plan=plans.frosty_plan())
ATOM = "{http://www.w3.org/2005/Atom}"


def numbered(number: int) -> Notice:
    """Another notice, so many hours later."""
    return replace(NOTICE, key=f"jobs/{number}", made_at=NOTICE.made_at + timedelta(hours=number))


def read(file: Path) -> Any:
    """What a feed reader makes of the file."""
    parsed = feedparser.parse(file.read_bytes())
    assert not parsed.bozo, parsed.get("bozo_exception")
    return parsed


def test_a_feed_reader_reads_the_notices_newest_first(tmp_path: Path):
    """Title, short text, page and time arrive; the feed is as new as its newest entry."""
    file = tmp_path / "frost.xml"
    channel = FeedChannel(FeedSettings("feed", file))
    for number in range(3):
        channel.send(numbered(number))

    parsed = read(file)
    assert parsed.version == "atom10"
    assert [entry.updated for entry in parsed.entries] == [numbered(n).made_at.isoformat() for n in (2, 1, 0)]
    assert parsed.feed.updated == numbered(2).made_at.isoformat()
    assert parsed.entries[0].title == NOTICE.subject
    assert parsed.entries[0].summary == NOTICE.short
    assert "<h2>Still at risk</h2>" in parsed.entries[0].content[0].value


def test_what_the_standard_demands_is_there(tmp_path: Path):
    """RFC 4287, sections 4.1.1 and 4.1.2: id, title, updated of the feed and of each entry, once; an author."""
    file = tmp_path / "frost.xml"
    FeedChannel(FeedSettings("feed", file)).send(NOTICE)

    root = ET.parse(file).getroot()
    assert root.tag == f"{ATOM}feed"
    assert root.find(f"{ATOM}author/{ATOM}name") is not None
    for part in (root, *root.findall(f"{ATOM}entry")):
        for name in ("id", "title", "updated"):
            assert len(part.findall(ATOM + name)) == 1, name
    identities = [element.text or "" for element in root.iter(f"{ATOM}id")]
    assert len(set(identities)) == 2 and all(identity.startswith("urn:uuid:") for identity in identities)


def test_the_same_notice_takes_the_place_of_the_earlier_one(tmp_path: Path):
    """A duplicate is no second entry, and the feed keeps its identity."""
    file = tmp_path / "frost.xml"
    channel = FeedChannel(FeedSettings("feed", file))
    channel.send(NOTICE)
    first = read(file).feed.id
    channel.send(replace(NOTICE, subject="(again) the same"))

    parsed = read(file)
    assert [entry.title for entry in parsed.entries] == ["(again) the same"]
    assert parsed.feed.id == first


def test_two_writers_at_once_lose_no_entry(tmp_path: Path):
    """Two checks that write into one feed, as of two gardens: each waits until the other's entry is in it."""
    file = tmp_path / "frost.xml"

    def write(first: int) -> None:
        for number in range(first, first + 10):
            FeedChannel(FeedSettings("feed", file)).send(numbered(number))

    with ThreadPoolExecutor(2) as writers:
        for written in [writers.submit(write, first) for first in (0, 10)]:
            written.result()

    assert len(read(file).entries) == 20


def test_a_feed_that_somebody_holds_is_tried_again_later(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """A writer that hangs costs a try, not the message."""
    monkeypatch.setattr(feed, "WAITS_FOR_ANOTHER_S", 0.0)
    file = tmp_path / "frost.xml"
    with only_one(tmp_path / ".frost.xml.lock") as mine, pytest.raises(NotTakenNow) as caught:
        assert mine
        FeedChannel(FeedSettings("feed", file)).send(NOTICE)

    assert "written by somebody else" in caught.value.message
    assert not file.exists()


def test_old_notices_leave_the_feed(tmp_path: Path):
    """It does not grow for ever."""
    file = tmp_path / "frost.xml"
    channel = FeedChannel(FeedSettings("feed", file, entries=3))
    for number in range(5):
        channel.send(numbered(number))

    assert len(read(file).entries) == 3


@pytest.mark.parametrize(
    "content",
    [b"my shopping list", b"", b"<feed/>", b"<feed xmlns='http://www.w3.org/2005/Atom'><title>mine</title></feed>",
     b"\x00\xff\xfe", b"<!DOCTYPE x [<!ENTITY a 'aaaa'><!ENTITY b '&a;&a;'>]><feed>&b;</feed>"],
)  # fmt: skip
def test_somebody_else_s_file_is_never_written_over(tmp_path: Path, content: bytes):
    """A wrong file name must not cost a file; entities are not unfolded."""
    file = tmp_path / "frost.xml"
    file.write_bytes(content)

    with pytest.raises(NotificationFailed) as caught:
        FeedChannel(FeedSettings("feed", file)).send(NOTICE)

    assert file.read_bytes() == content
    assert "is no feed of frostguard" in caught.value.message


@pytest.mark.parametrize("name", HOSTILE)
def test_no_name_breaks_the_feed(tmp_path: Path, name: str):
    """One entry with its one title, whatever a pot is called."""
    file = tmp_path / "frost.xml"
    channel = FeedChannel(FeedSettings("feed", file))
    channel.send(with_names(name))
    channel.send(replace(NOTICE, subject=with_names(name).subject, key="other"))

    parsed = read(file)
    assert len(parsed.entries) == 2
    root = ET.parse(file).getroot()
    assert {element.tag.removeprefix(ATOM) for element in root.iter()} == {
        "feed", "id", "title", "generator", "author", "name", "updated", "entry", "summary", "content", "category"
    }  # fmt: skip
    page = root.findall(f"{ATOM}entry/{ATOM}content")[1].text or ""
    assert "<script" not in page and "<img" not in page  # names are escaped within the page as well


def test_a_disk_that_takes_nothing_leaves_the_feed_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Whole or not at all."""
    file = tmp_path / "frost.xml"
    channel = FeedChannel(FeedSettings("feed", file))
    channel.send(NOTICE)
    before = file.read_bytes()

    def full(self: Path, *arguments: Any, **options: Any) -> int:
        with self.open("wb") as opened:
            opened.write(b"<fee")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_text", full)
    with pytest.raises(NotTakenNow) as caught:
        channel.send(numbered(1))

    assert "No space left on device" in caught.value.message
    assert file.read_bytes() == before
    assert [one for one in tmp_path.iterdir() if one.suffix != ".lock"] == [file]


def test_a_folder_that_is_not_there_is_told(tmp_path: Path):
    """With what to check."""
    with pytest.raises(NotTakenNow) as caught:
        FeedChannel(FeedSettings("feed", tmp_path / "no" / "frost.xml")).send(NOTICE)

    assert "cannot be written" in caught.value.message
