"""Sending through a channel: a time limit, patient tries, and the truth about what came of it."""

from __future__ import annotations

import contextvars
import random
import threading
import time
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from frostguard.errors import NotificationFailed
from frostguard.garden.notice_settings import Tells
from frostguard.notify.channels import Channel
from frostguard.notify.failures import NotTakenNow
from frostguard.notify.notice import Notice, NoticeKind, shortened
from frostguard.report.words import all_of, harmless, say, say_count


@dataclass(frozen=True, slots=True)
class Persistence:
    """How long one try may take, and the waits between tries [s].

    Estimates: a mail server that makes callers wait answers within a minute or not at all; a fault that
    passes has mostly passed after some seconds. What fails for longer is owed, and the next run tries again; so
    does it with what took longer than `patient_s` to fail, as the other channels wait meanwhile.
    """

    one_try_s: float = 60.0
    waits_s: tuple[float, ...] = (3.0, 15.0)
    patient_s: float = 20.0


@dataclass(frozen=True, slots=True)
class Delivery:
    """What came of one notice on one channel; `failure` is None where it was taken."""

    channel: str
    tries: int
    failure: NotificationFailed | None = None

    @property
    def delivered(self) -> bool:
        """Whether the channel took the notice."""
        return self.failure is None


def is_for(channel: Channel, notice: Notice) -> bool:
    """Whether a channel carries this notice; tests and troubles go everywhere."""
    always = notice.kind in (NoticeKind.TEST, NoticeKind.CHANNEL_FAILED)
    return always or notice.interrupts or channel.tells is Tells.EVERYTHING


def send(
    channel: Channel,
    notice: Notice,
    persistence: Persistence | None = None,
    *,
    sleep: Callable[[float], None] = time.sleep,
    jitter: Callable[[], float] = random.random,
) -> Delivery:
    """Send a notice through one channel, in as many tries as persistence allows.

    Parameters
    ----------
    channel : Channel
        The way.
    notice : Notice
        What is sent.
    persistence : Persistence, optional
        Limits.
    sleep, jitter : callable
        Stand-ins for waiting in tests.
    """
    persistence = persistence or Persistence()
    waits = iter(persistence.waits_s)
    tries = 0
    while True:
        tries += 1
        began = time.monotonic()
        try:
            _within(persistence.one_try_s, channel, notice)
        except NotificationFailed as failure:
            soon = isinstance(failure, NotTakenNow) and time.monotonic() - began < persistence.patient_s
            wait_s = next(waits, None) if soon else None
            if wait_s is None:
                return Delivery(channel.name, tries, failure)
        else:
            return Delivery(channel.name, tries)
        sleep(wait_s * (1.0 + 0.5 * jitter()))


RINGS_AGAIN_D = 7
"""Days after which a channel that still does not work rings once more; estimate."""


def channel_trouble(
    deliveries: Sequence[Delivery], now: datetime, night: date, said: Collection[str] = ()
) -> Notice | None:
    """The notice that tells through the other channels which ones failed; None where none did or it was said.

    It rings, since somebody has to see to it, but not day after day.

    Parameters
    ----------
    deliveries : sequence of Delivery
        What came of a notice.
    now : datetime
        The clock, aware.
    night : date
        The evening that it belongs to.
    said : collection of str
        Keys of what was told before: a channel's trouble is told once a day.
    """
    new = [one for one in deliveries if one.failure is not None and _key(one.channel, night) not in said]
    if not new or not any(one.delivered for one in deliveries):
        return None
    subject = say_count(
        "1 channel does not work: {channels}.",
        "{count} channels do not work: {channels}.",
        len(new),
        channels=all_of([one.channel for one in new]),
    )
    told = [f"{one.failure.message} {one.failure.next_step}" for one in new if one.failure is not None]
    rings = [one.channel for one in new if not _has_rung_lately(one.channel, night, said)]
    return plain_notice(
        NoticeKind.CHANNEL_FAILED,
        (*(_key(one.channel, night) for one in new), *(_rang(channel, night) for channel in rings)),
        subject,
        [subject, *told],
        now,
        night,
        interrupts=bool(rings),
    )


def _has_rung_lately(channel: str, night: date, said: Collection[str]) -> bool:
    return any(_rang(channel, night - timedelta(days=day)) in said for day in range(1, RINGS_AGAIN_D))


def _rang(channel: str, night: date) -> str:
    return harmless(f"channel-rang/{channel}/{night.isoformat()}")


def trial_notice(now: datetime, night: date) -> Notice:
    """A notice that says that it is only a test."""
    subject = say("Test of frostguard: nothing has to be done.")
    lead = say("This is a test message. If you can read it, this channel works.")
    return plain_notice(NoticeKind.TEST, (f"test/{now.isoformat()}",), subject, [subject, lead], now, night)


def plain_notice(
    kind: NoticeKind,
    keys: tuple[str, ...],
    subject: str,
    paragraphs: Sequence[str],
    now: datetime,
    night: date,
    *,
    interrupts: bool = False,
) -> Notice:
    """A notice about frostguard itself, without weather or jobs."""
    import html

    body = "\n".join(f"<p>{html.escape(harmless(text))}</p>" for text in paragraphs)
    title = html.escape(harmless(subject))
    return Notice(
        key=keys[0],
        kind=kind,
        night=night,
        made_at=now,
        subject=harmless(subject),
        text="\n\n".join(harmless(text) for text in paragraphs),
        short=shortened(" ".join(paragraphs)),
        html=f'<!DOCTYPE html>\n<html>\n<head>\n<meta charset="utf-8"/>\n<title>{title}</title>\n</head>\n'
        f"<body>\n{body}\n</body>\n</html>\n",
        interrupts=interrupts,
        tells=keys,
    )


def channels_in_trouble(notice: Notice) -> frozenset[str]:
    """The names of the channels that such a notice is about; none of any other."""
    parts = [key.split("/") for key in notice.tells]
    return frozenset("/".join(part[1:-1]) for part in parts if part[0] == "channel-failed")


def _key(channel: str, night: date) -> str:
    return harmless(f"channel-failed/{channel}/{night.isoformat()}")


def _within(limit_s: float, channel: Channel, notice: Notice) -> None:
    """Send in a thread of its own and wait no longer than the limit.

    No library's own limit covers a server that answers a letter at a time, nor a name that nobody
    resolves. A try that is given up may still arrive later; a second message does less harm than none.
    """
    outcome: list[BaseException | None] = []

    def send_now() -> None:
        try:
            channel.send(notice)
        except BaseException as exc:  # handed to the waiting thread, which raises it
            outcome.append(exc)
        else:
            outcome.append(None)

    in_this_language = contextvars.copy_context()
    thread = threading.Thread(
        target=in_this_language.run, args=(send_now,), name=f"send {channel.name}", daemon=True
    )
    thread.start()
    thread.join(limit_s)
    if not outcome:
        raise NotTakenNow(
            say("{channel}: not done within {limit} seconds.", channel=channel.name, limit=f"{limit_s:g}"),
            next_step=say("Check the network and whether the other side answers; it is tried again."),
        )
    if outcome[0] is not None:
        raise outcome[0]
