"""The forms of a notice: plain text, short, page, calendar; and names that try to break them."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from email import message_from_bytes, policy
from html.parser import HTMLParser
from typing import Any

import icalendar
import plans
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plans import ASKED, NIGHT, ZONE, at

from frostguard.advice.plan import Batch, Protection
from frostguard.garden.notice_settings import Away, NoticeSettings
from frostguard.garden.settings import Settings
from frostguard.notify.brief import brief_of
from frostguard.notify.calendar_file import Entry, calendar_attachment
from frostguard.notify.delivery import trial_notice
from frostguard.notify.mail import mail_of
from frostguard.notify.moment import InForce, Look, Unseen
from frostguard.notify.notice import Notice, NoticeKind, joined, notice_from_dict, repeated, shortened
from frostguard.notify.webhook import body_of
from tests.unit.notify.moments import day, garden, moment, told

HOSTILE = [
    "Lemon\r\nBcc: everybody@example.org",
    "Lemon\nEND:VEVENT\nBEGIN:VEVENT",
    "<script>alert(1)</script>",
    "</title><img src=x onerror=alert(1)>",
    "Lemon]]>&amp;<!DOCTYPE x>",
    "Lemon;CN=x:mailto\\,a,b;c",
    "\x1b[2J\x07Lemon\x00",
    "\u202eLemon\u2028\u2029\x85",
    "L\u00e9mon " + "\u6f22" * 60 + "\U0001f34b" * 20,
    "=?utf-8?q?Bcc=3A_x=40example=2Eorg?=",
    "Lemon\ufffe\uffff",
    '" onmouseover="x',
    "{0} {label} %s",
]


def with_names(name: str) -> Notice:
    """A frosty night in which pot, spot, target, site and credit are all called so."""
    frosty = plans.frosty_plan()
    jobs = tuple(replace(job, label=name, spot=name, to_spot=name) for job in frosty.jobs)
    pots = tuple(replace(pot, label=name, spot=name, id=name) for pot in frosty.pots)
    weather = replace(frosty.weather, credit=name, model=name, service=name)
    place = replace(garden(), site=replace(garden().site, name=name))
    cover = InForce(name, name, name, Protection.FLEECE, at(8, days=-2))
    plan = replace(frosty, jobs=jobs, pots=pots, weather=weather, site=name)
    return told(plan=plan, garden=place, in_force=(cover,), days=(day(1, 3.0, 12.0),))


class _Tags(HTMLParser):
    """The tags and attributes of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: set[str] = set()
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes |= {name for name, _ in attrs}


# --- names that try to break out -------------------------------------------------------------------------


@pytest.mark.parametrize("name", HOSTILE)
def test_no_name_breaks_a_mail_header(name: str):
    """Whatever a pot is called, the mail has the headers that it should have, and the recipients too."""
    notice = with_names(name)

    raw = mail_of(notice, "frost@example.org", ["me@example.org"]).as_bytes()
    read = message_from_bytes(raw, policy=policy.default)

    assert read["To"] == "me@example.org"
    assert set(read.keys()) == {
        "Subject", "From", "To", "Date", "Message-ID", "Auto-Submitted", "MIME-Version", "Content-Type"
    }  # fmt: skip
    assert not read.defects
    assert [part.get_content_type() for part in read.walk() if not part.is_multipart()] == [
        "text/plain", "text/html", "text/calendar"
    ]  # fmt: skip
    assert max(len(line) for line in raw.split(b"\r\n")) <= 998  # RFC 5322, section 2.1.1


@pytest.mark.parametrize("name", HOSTILE)
def test_no_name_becomes_markup(name: str):
    """The page holds the tags of a page without names, and nothing that runs or loads."""
    tags = _Tags(with_names(name).html)

    page = {"html", "head", "meta", "title", "style", "body", "h1", "h2", "p", "ul", "li", "footer", "br"}
    assert set(tags.tags) <= page
    assert tags.attributes <= {"charset", "name", "content"}


@pytest.mark.parametrize("name", HOSTILE)
def test_no_name_adds_a_calendar_entry(name: str):
    """A general-purpose calendar library reads an entry for each job, each with the lines that it should have."""
    (attachment,) = with_names(name).attachments

    calendar = icalendar.Calendar.from_ical(attachment.content)

    assert [part.name for part in calendar.subcomponents] == ["VEVENT"] * 3
    for event in calendar.subcomponents:
        assert not event.errors
        assert {key.upper() for key in event} == {
            "UID", "DTSTAMP", "SEQUENCE", "DTSTART", "DTEND", "SUMMARY", "LOCATION", "DESCRIPTION", "TRANSP"
        }  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
def test_no_name_breaks_a_line_or_the_terminal(name: str):
    """Subject and short form stay one line; no form holds a control character but the text's line breaks."""
    notice = with_names(name)

    for text in (notice.subject, notice.short, notice.key, notice.text.replace("\n", "")):
        assert not any(ord(character) < 32 or 127 <= ord(character) < 160 for character in text)
        assert len(text.splitlines()) == 1
    assert len(notice.short) <= 160


@pytest.mark.parametrize("name", HOSTILE)
def test_no_name_breaks_what_is_posted_or_kept(name: str):
    """As JSON the notice comes back as it was."""
    notice = with_names(name)

    posted = json.loads(body_of(notice))
    assert posted["format"] == 1
    assert notice_from_dict(posted) == notice


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=60))
def test_no_text_at_all_breaks_any_form(name: str):
    """Whatever a file may hold: mail, page, calendar, feed entry and kept notice are still what they should be."""
    notice = with_names(name or "x")

    calendar = icalendar.Calendar.from_ical(notice.attachments[0].content)
    assert len(calendar.walk("VEVENT")) == 3
    assert set(_Tags(notice.html).attributes) <= {"charset", "name", "content"}
    mail = message_from_bytes(mail_of(notice, "a@example.org", ["b@example.org"]).as_bytes(), policy=policy.default)
    assert mail["To"] == "b@example.org" and len(mail.keys()) == 8
    assert notice_from_dict(json.loads(body_of(notice))) == notice


# --- the calendar ----------------------------------------------------------------------------------------


def test_each_job_is_an_entry_with_its_deadline():
    """The entry begins at the latest moment at which the job can be begun, and lasts as long as the job."""
    notice = told(plan=plans.frosty_plan())

    calendar = icalendar.Calendar.from_ical(notice.attachments[0].content)
    events = calendar.walk("VEVENT")

    assert [event.decoded("DTSTART") for event in events] == [at(15, 20), at(15, 45), at(15, 50)]
    assert events[0].decoded("DTEND") - events[0].decoded("DTSTART") == timedelta(minutes=6)
    assert str(events[0]["SUMMARY"]) == "Lemon (front): slide or wheel to the cellar, 6 min, start by 15:20"
    assert events[0].decoded("DTSTAMP") == ASKED
    (alarm,) = events[0].walk("VALARM")
    assert alarm.decoded("TRIGGER") == timedelta(minutes=-30)
    assert len({str(event["UID"]) for event in events}) == 3


def test_a_changed_job_takes_the_place_of_the_earlier_entry():
    """Same UID and a higher SEQUENCE (RFC 5545, section 3.8.7.4), so that a calendar updates and does not double."""
    entry = Entry(("terrace", "lemon", "move"), NIGHT, at(15, 20), 6.0, "Lemon", "front", "Lemon to the cellar")

    first, second = (
        icalendar.Calendar.from_ical(calendar_attachment([entry], NIGHT, made).content).walk("VEVENT")[0]
        for made in (ASKED, ASKED + timedelta(hours=5))
    )

    assert first["UID"] == second["UID"]
    assert second["SEQUENCE"] > first["SEQUENCE"] >= 0


def test_a_job_told_too_late_is_the_same_entry_when_its_night_is_told():
    """What is for the next working hours keeps its UID when the next evening's message tells it again."""
    late = plans.job("lemon", Protection.MOVE, to_spot="cellar", batch=Batch.TOMORROW, start_by=at(15, 20, days=1))
    pots = (plans.pot("lemon", plans.tissue(chance=0.66)),)
    first = told(plan=plans.plan(jobs=(late,), pots=pots))
    tomorrow = plans.plan(
        night=NIGHT + timedelta(days=1),
        nights=(plans.night(1, -3.0),),
        jobs=(replace(late, batch=Batch.TONIGHT, start_by=at(15, 30, days=1)),),
        pots=pots,
    )
    second = told(plan=tomorrow, now=ASKED + timedelta(minutes=30))

    events = [
        icalendar.Calendar.from_ical(notice.attachments[0].content).walk("VEVENT")[0] for notice in (first, second)
    ]
    assert events[0]["UID"] == events[1]["UID"]
    assert events[1]["SEQUENCE"] > events[0]["SEQUENCE"]


def test_what_is_called_off_leaves_the_calendar():
    """The same UID, a higher SEQUENCE, STATUS:CANCELLED (RFC 5545, section 3.8.1.11) and no alarm any more."""
    frosty = plans.frosty_plan()
    first = told(plan=frosty)
    off = told(
        plan=plans.plan(pots=tuple(replace(pot, tissues=(plans.tissue(chance=0.0),)) for pot in frosty.pots)),
        told=brief_of(frosty),
        said={f"jobs/{NIGHT.isoformat()}": NIGHT},
        now=ASKED + timedelta(minutes=10),
    )
    assert off.kind is NoticeKind.CALLED_OFF

    before, after = (
        {str(event["UID"]): event for event in icalendar.Calendar.from_ical(one.attachments[0].content).walk("VEVENT")}
        for one in (first, off)
    )
    assert set(after) == set(before)
    for uid, event in after.items():
        assert event["STATUS"] == "CANCELLED" and event["SEQUENCE"] > before[uid]["SEQUENCE"]
        assert not event.walk("VALARM")


def _events(notice: Notice) -> dict[str, Any]:
    """The calendar's entries by their UID."""
    events = icalendar.Calendar.from_ical(notice.attachments[0].content).walk("VEVENT")
    return {str(event["UID"]): event for event in events}


def test_a_job_whose_place_another_takes_leaves_the_calendar():
    """Fleece that becomes a move: the old entry is cancelled and has no alarm any more, the new one stands alone."""
    pots = (plans.pot("lemon", plans.tissue(chance=0.4)),)
    fleece = plans.plan(jobs=(plans.job("lemon", Protection.FLEECE),), pots=pots)
    move = plans.plan(jobs=(plans.job("lemon", Protection.MOVE, to_spot="cellar"),), pots=pots)
    first = told(plan=fleece)
    changed = told(
        plan=move, told=brief_of(fleece), said={f"jobs/{NIGHT.isoformat()}": NIGHT}, now=ASKED + timedelta(minutes=10)
    )
    assert changed.kind is NoticeKind.CHANGED
    (old,), events = _events(first), _events(changed)
    assert len(events) == 2 and events[old]["STATUS"] == "CANCELLED" and not events[old].walk("VALARM")
    (new,) = (event for uid, event in events.items() if uid != old)
    assert "STATUS" not in new and new.walk("VALARM")


@pytest.mark.parametrize(("start_by", "ended"), [(at(14, days=1), False), (at(20), True)])
def test_an_earlier_job_moves_its_entry_and_one_of_another_day_ends_it(start_by: datetime, ended: bool):
    """An hour earlier it is the same entry; a day earlier the one of the later day is cancelled."""
    tomorrow = NIGHT + timedelta(days=1)
    late = plans.job("lemon", Protection.WRAP, start_by=at(15, days=1))
    before = plans.plan(night=tomorrow, jobs=(late,), pots=(plans.pot("lemon", plans.tissue(chance=0.4)),))
    first = told(plan=before)
    changed = told(
        plan=replace(before, jobs=(replace(late, start_by=start_by),)),
        told=brief_of(before),
        said={f"jobs/{tomorrow.isoformat()}": NIGHT},
        now=ASKED + timedelta(minutes=10),
    )
    assert changed.kind is NoticeKind.CHANGED
    (uid,), events = _events(first), _events(changed)
    assert len(events) == 1 + ended
    assert events[uid].get("STATUS") == ("CANCELLED" if ended else None)


@pytest.mark.parametrize("letter", ["x", "\u00e9", "\u6f22", "\U0001f34b", ",", ";", "\\"])
def test_long_lines_are_folded_between_characters(letter: str):
    """No line is longer than 75 octets and none is cut within a character (RFC 5545, section 3.1)."""
    summary = "a" + letter * 200
    entry = Entry(("terrace",), NIGHT, at(15, 20), 6.0, summary, "front", summary)

    content = calendar_attachment([entry], NIGHT, ASKED).content

    assert content.endswith(b"\r\n") and b"\n" not in content.replace(b"\r\n", b"")
    for line in content.split(b"\r\n"):
        assert len(line) <= 75
        line.decode("utf-8")
    event = icalendar.Calendar.from_ical(content).walk("VEVENT")[0]
    assert str(event["SUMMARY"]) == summary


def test_a_deadline_in_the_hour_that_comes_twice_is_one_moment():
    """Times are in UTC, so the night on which the clocks go back has no doubtful entry."""
    second = datetime(2026, 10, 25, 2, 30, tzinfo=ZONE, fold=1)
    entry = Entry(("terrace",), second.date(), second, 5.0, "Lemon", "front", "Lemon")

    event = icalendar.Calendar.from_ical(calendar_attachment([entry], NIGHT, ASKED).content).walk("VEVENT")[0]

    assert event.decoded("DTSTART") == datetime(2026, 10, 25, 1, 30, tzinfo=UTC)


# --- the other forms -------------------------------------------------------------------------------------


def test_the_page_says_what_the_text_says_and_is_whole():
    """It parses, stands alone, and holds every job line and the credit."""
    notice = told(plan=plans.frosty_plan())

    words = " ".join(" ".join(ET.fromstring(notice.html).itertext()).split())
    assert notice.subject in words
    for line in ("slide or wheel to the cellar", "Still at risk", "Weather data by Open-Meteo.com"):
        assert line in words
    assert "http" not in notice.html  # nothing is fetched


def test_two_looks_in_one_message_keep_their_jobs_in_the_short_form():
    """Tonight cannot be seen and tomorrow has jobs: both subjects, then the jobs as far as 160 characters go."""
    blind = told(plan=Unseen("No service answered.", "Look yourself."))
    jobs = told(plan=plans.frosty_plan())

    short = joined(blind, jobs).short

    assert short.startswith(f"{blind.subject} {jobs.subject} Lemon: to the cellar")
    assert len(short) <= 160


def test_two_looks_in_one_message_say_the_same_only_once():
    """Whom it goes to and the cautions stand there once, and what follows does not count on what stands above."""
    away = Away(NIGHT, NIGHT, "neighbour@example.org")
    wishes = Settings(notices=NoticeSettings(weekly_letter=None, away=(away,)))
    tonight = told(plan=plans.frosty_plan(), settings=wishes)

    text = " ".join(joined(tonight, replace(tonight, key="tomorrow")).text.split())

    assert text.count("Whoever looks after these plants") == text.count("Take care") == 1
    assert text.count("To do") == 2 and text.count("reckoned as if nothing of the above were done") == 1


def test_the_short_form_is_cut_between_words():
    """160 characters at most, ending in dots where something was left out."""
    assert shortened("a short one") == "a short one"
    cut = shortened("fleece " * 40)
    assert len(cut) <= 160 and cut.endswith("fleece...")
    assert len(shortened("x" * 500)) == 160


def test_a_notice_that_may_go_out_twice_is_marked():
    """The marked one keeps its identity, so that the other side can tell; it says so in every form."""
    notice = told(plan=plans.frosty_plan())

    again = repeated(notice)

    assert again.key == notice.key
    assert again.subject.startswith("(again) ")
    for form in (again.text, again.html):
        assert "This may be the second time" in form
    assert again.short.startswith("(again) ") and len(again.short) <= 160


def test_a_notice_refuses_what_would_break_a_line():
    """A mistake of ours stops where the notice is made, not in somebody's mailbox."""
    good = trial_notice(ASKED, NIGHT)
    with pytest.raises(ValueError):
        replace(good, subject="two\nlines")
    with pytest.raises(ValueError):
        replace(good, short="x" * 161)
    with pytest.raises(ValueError):
        replace(good, made_at=ASKED.replace(tzinfo=None))


def test_every_kind_of_notice_can_be_kept():
    """What is owed is put down before it is sent, and comes back the same."""
    notices = [
        told(plan=plans.frosty_plan(), now=at(22, 30)),
        told(),
        trial_notice(ASKED, NIGHT),
        told(days=(day(0, 2.0, 12.0),), look=Look.SUNRISE, now=at(8),
             in_force=(InForce("lemon", "Lemon", "front", Protection.FLEECE, at(8, days=-1)),)),
    ]  # fmt: skip
    for notice in notices:
        assert notice_from_dict(json.loads(json.dumps(notice.to_dict()))) == notice
    assert moment().night == NIGHT
    assert {notice.kind for notice in notices} >= {NoticeKind.JOBS, NoticeKind.TEST}
