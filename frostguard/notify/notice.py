"""What is told to a person: one notice, ready in every form that a channel may want."""

from __future__ import annotations

import base64
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from enum import Enum
from typing import Any

from frostguard.report.words import harmless, say

SHORT_LENGTH = 160
"""Characters of the short form: what one text message holds in the GSM alphabet (3GPP TS 23.038)."""


DEFLATED_FROM = 10_000
"""Bytes of an attachment from which it is kept deflated; calendars stay readable."""


class NoticeKind(Enum):
    """What a notice is about; a batch goes by the weightiest thing in it."""

    CANNOT_SEE = "cannot see"  # no forecast: look yourself
    JOBS = "jobs"  # what to do before the coming night
    CHANGED = "changed"  # other jobs, or earlier ones, than told before
    GO_AHEAD = "go ahead"  # the morning still says so
    CALLED_OFF = "called off"  # what was told is not needed after all
    GALE = "gale"
    MUST_UNCOVER = "must uncover"  # take covers off, or vent them: it gets warm under them
    SAFE_TO_UNCOVER = "safe to uncover"
    WATER_FIRST = "water first"  # the day before the freeze, in the morning
    BEFORE_SPELL = "before spell"  # three to five days ahead: prepare, what is missing
    SEASON = "season"  # firsts and lasts of the season, and the jobs that hang on them
    WAS_DOWN = "was down"  # nights of which nothing was told
    CHANNEL_FAILED = "channel failed"  # told through the others, with their next message
    NOTHING_NEW = "nothing new"  # something is still open or at risk, all of it told before
    WEEKLY = "weekly"
    ALL_WELL = "all well"
    TEST = "test"


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file that goes with a notice."""

    name: str
    media_type: str  # such as "text/calendar"
    content: bytes


@dataclass(frozen=True, slots=True)
class Notice:
    """One message.

    Parameters
    ----------
    key : str
        Identity: two notices with one key are the same message, which is said once.
    kind : NoticeKind
        The weightiest matter in it.
    night : date
        The evening that it belongs to, on the site's clock.
    made_at : datetime
        When it was worded, aware.
    subject, text, short, html : str
        One line; the whole in plain text; at most 160 characters; the whole as an HTML page, escaped.
    interrupts : bool
        Whether somebody has to do something, so that a telephone may ring for it.
    tells : tuple of str
        Keys of everything that is told in it, to be remembered once it is on its way.
    attachments : tuple of Attachment
        A calendar of the jobs with their deadlines, where there are any, and the report where a mail carries it.
    not_before : datetime or None
        When it may go out, where it waits for the end of the quiet hours.
    stand_in : str or None
        The mail address of whoever looks after the plants meanwhile.
    """

    key: str
    kind: NoticeKind
    night: date
    made_at: datetime
    subject: str
    text: str
    short: str
    html: str
    interrupts: bool
    tells: tuple[str, ...] = ()
    attachments: tuple[Attachment, ...] = ()
    not_before: datetime | None = None
    stand_in: str | None = None

    def __post_init__(self) -> None:
        if self.made_at.tzinfo is None:
            raise ValueError("a notice is made at an aware time")
        if len(self.short) > SHORT_LENGTH:
            raise ValueError(f"the short form has {len(self.short)} characters")
        for line in (self.subject, self.short, self.key):
            if line != harmless(line):
                raise ValueError(f"not one harmless line: {line!r}")

    def to_dict(self) -> dict[str, Any]:
        """The notice as plain data, to be kept until it is delivered."""
        return {
            "key": self.key,
            "kind": self.kind.value,
            "night": self.night.isoformat(),
            "made_at": self.made_at.isoformat(),
            "subject": self.subject,
            "text": self.text,
            "short": self.short,
            "html": self.html,
            "interrupts": self.interrupts,
            "tells": list(self.tells),
            "attachments": [_attachment_dict(one) for one in self.attachments],
            "not_before": None if self.not_before is None else self.not_before.isoformat(),
            "stand_in": self.stand_in,
        }


def notice_from_dict(kept: Mapping[str, Any]) -> Notice:
    """The notice that `Notice.to_dict` put down; ValueError, KeyError or TypeError if it is none."""
    not_before = kept["not_before"]
    return Notice(
        key=str(kept["key"]),
        kind=NoticeKind(kept["kind"]),
        night=date.fromisoformat(kept["night"]),
        made_at=datetime.fromisoformat(kept["made_at"]),
        subject=str(kept["subject"]),
        text=str(kept["text"]),
        short=str(kept["short"]),
        html=str(kept["html"]),
        interrupts=bool(kept["interrupts"]),
        tells=tuple(str(key) for key in kept["tells"]),
        attachments=tuple(
            Attachment(str(one["name"]), str(one["media_type"]), _content(one)) for one in kept["attachments"]
        ),
        not_before=None if not_before is None else datetime.fromisoformat(not_before),
        stand_in=None if kept["stand_in"] is None else str(kept["stand_in"]),
    )


def _attachment_dict(attachment: Attachment) -> dict[str, Any]:
    """A page is kept deflated: it is a tenth as large then, and the logbook keeps one for every evening with jobs."""
    deflated = len(attachment.content) > DEFLATED_FROM
    content = zlib.compress(attachment.content) if deflated else attachment.content
    told: dict[str, Any] = {
        "name": attachment.name,
        "media_type": attachment.media_type,
        "content": base64.b64encode(content).decode("ascii"),
    }
    return told | {"deflated": True} if deflated else told


def _content(kept: Mapping[str, Any]) -> bytes:
    content = base64.b64decode(kept["content"], validate=True)
    return zlib.decompress(content) if kept.get("deflated") else content


def joined(first: Notice, second: Notice) -> Notice:
    """Both as one message under the first one's key: tonight's, then tomorrow's, so that it rings once an evening."""
    waits = first.not_before is not None and second.not_before is not None
    rings = first.interrupts or second.interrupts
    body = second.html.partition("<body>")[2].rpartition("</body>")[0]
    return replace(
        first,
        night=max(first.night, second.night),
        text=_joined_text(first, second),
        short=_joined_short(first, second),
        html=first.html.replace("</body>", f"<hr/>{body}</body>", 1),
        interrupts=rings,
        tells=tuple(key for key in dict.fromkeys((*first.tells, *second.tells)) if not (rings and is_unrung(key))),
        attachments=(*first.attachments, *second.attachments),
        not_before=first.not_before if waits else None,
        stand_in=first.stand_in or second.stand_in,
    )


def _joined_text(first: Notice, second: Notice) -> str:
    """Both texts; whom they go to and the same cautions stand in the first alone."""
    told, more = first.text.split("\n\n"), second.text.split("\n\n")
    once = {block for k, block in enumerate(told) if k == 0 or block.startswith(say("Take care"))}
    has_jobs = any(key.partition("/")[0] in ("jobs", "maybe", "guess", "changed", "gale") for key in first.tells)
    between = [say("What follows is reckoned as if nothing of the above were done.")] if has_jobs else []
    return "\n\n".join((*told, *between, *(block for block in more if block not in once)))


def _joined_short(first: Notice, second: Notice) -> str:
    """Both subjects, then what each adds to its own, as far as it goes."""
    subjects = [one.subject.replace("°", "") for one in (first, second)]
    pairs = zip((first.short, second.short), subjects, strict=True)
    added = [short.removeprefix(subject).strip() for short, subject in pairs if short.startswith(subject)]
    return shortened(" ".join(part for part in (*subjects, *added) if part))


def with_asides(notice: Notice, asides: Sequence[Notice], *, rings: bool) -> Notice:
    """The notice with what is about frostguard itself at its end, so that it is no message of its own.

    Parameters
    ----------
    notice : Notice
        Key, night and subject stay its own.
    asides : sequence of Notice
        Those about frostguard itself.
    rings : bool
        Whether they may ring by themselves.
    """
    for aside in asides:
        body = aside.html.partition("<body>")[2].rpartition("</body>")[0]
        notice = replace(
            notice,
            text=f"{notice.text}\n\n{aside.text}",
            short=shortened(f"{notice.short} {aside.subject}"),
            html=notice.html.replace("</body>", f"<hr/>{body}</body>", 1),
            interrupts=notice.interrupts or (rings and aside.interrupts),
            tells=tuple(dict.fromkeys((*notice.tells, *aside.tells))),
        )
    return notice


def unrung(night: date) -> str:
    """The key of a message about a night that did not ring since another had rung that evening."""
    return f"unrung/{night.isoformat()}"


def is_unrung(key: str) -> bool:
    """Whether a key is one of those."""
    return key.startswith("unrung/")


def repeated(notice: Notice) -> Notice:
    """The same notice, marked: it may have gone out before, and the machine stopped before that was noted."""
    remark = say("This may be the second time that you get this message.")
    return replace(
        notice,
        subject=say("(again) {subject}", subject=notice.subject),
        text=f"{remark}\n\n{notice.text}",
        short=shortened(say("(again) {subject}", subject=notice.short)),
        html=notice.html.replace("<body>", f"<body>\n<p>{remark}</p>", 1),
    )


def shortened(text: str) -> str:
    """The text on one line and no longer than the short form; what is cut ends in dots."""
    line = harmless(text)
    if len(line) <= SHORT_LENGTH:
        return line
    kept = line[: SHORT_LENGTH - 3]
    return (kept.rpartition(" ")[0] or kept).rstrip(" ,.;:") + "..."
