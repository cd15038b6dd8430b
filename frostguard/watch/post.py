"""From the logbook to the channels: every step on disk before the next, so that a stop loses nothing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, tzinfo
from functools import partial

from frostguard.errors import NotificationFailed
from frostguard.logbook import outbox
from frostguard.logbook.book import Logbook
from frostguard.notify.channels import Channel
from frostguard.notify.delivery import Delivery, channel_trouble, channels_in_trouble, is_for, send
from frostguard.notify.notice import Notice, NoticeKind, repeated
from frostguard.watch.log import Log
from frostguard.watch.schedule import is_unremembered

NEED_NO_ONE = frozenset(
    {
        NoticeKind.ALL_WELL,
        NoticeKind.NOTHING_NEW,
        NoticeKind.WEEKLY,
        NoticeKind.GO_AHEAD,
        NoticeKind.SEASON,
        NoticeKind.SAFE_TO_UNCOVER,
    }
)
"""What may go untold where every channel carries only what somebody has to act on."""

Send = Callable[[Channel, Notice], Delivery]


def send_what_is_due(
    book: Logbook,
    channels: Sequence[Channel],
    *,
    now: Callable[[], datetime],
    zone: tzinfo,
    log: Log,
    send_one: Send = send,
    next_message: datetime | None = None,
    asides_wait: bool = False,
) -> list[Delivery]:
    """Send everything that is owed at this moment, and put down which channels failed, for the others to tell.

    That is no message of its own where another is owed soon: it waits until the next look, whose message takes it
    along, and is forgotten if the channel works again before.

    Parameters
    ----------
    book : Logbook
        With the notices.
    channels : sequence of Channel
        All of the settings; what is owed on others is given up.
    now : callable
        The clock, aware.
    zone : tzinfo
        The site's, for the date on which a night is over.
    log : Log
        Told of each delivery.
    send_one : callable
        Sends one notice through one channel, with its own limits and tries.
    next_message : datetime, optional
        The look to wait for with a channel's trouble; without it that is told at once.
    asides_wait : bool, optional
        Whether what may go with another notice waits for the look that is about to be made.
    """
    today = now().astimezone(zone).date()
    outbox.lapse(book, today, now())
    outbox.drop_channels(book, [channel.name for channel in channels], now())
    deliveries = _send_all(book, channels, now, log, send_one, asides_wait=asides_wait)
    _forget_what_has_passed(book, deliveries)
    trouble = channel_trouble(deliveries, now(), today, outbox.said(book))
    if trouble is not None:
        trouble = replace(trouble, not_before=next_message)
        broken = {one.channel for one in deliveries if not one.delivered}
        names = [channel.name for channel in channels if channel.name not in broken]
        book.write(lambda connection: outbox.owe(connection, trouble, names, today, now()))
        others = [one for one in channels if one.name in names]
        deliveries += _send_all(book, others, now, log, send_one, asides_wait=asides_wait)
    return deliveries


def _forget_what_has_passed(book: Logbook, deliveries: Sequence[Delivery]) -> None:
    """Let go of a trouble that nobody was told of yet where all its channels have taken something since."""
    work_again = {one.channel for one in deliveries if one.delivered}
    for aside in outbox.asides(book):
        failed = channels_in_trouble(aside)
        if failed and failed <= work_again:
            book.write(partial(outbox.withdraw, key=aside.key))


def _send_all(
    book: Logbook,
    channels: Sequence[Channel],
    now: Callable[[], datetime],
    log: Log,
    send_one: Send,
    *,
    asides_wait: bool,
) -> list[Delivery]:
    by_name = {channel.name: channel for channel in channels}
    deliveries = []
    for one in outbox.due(book, now(), asides_wait=asides_wait):
        if one.channel not in by_name:
            continue
        outbox.begin(book, one, now())
        if not book.on_disk and is_unremembered(one.notice.made_at, now()):
            continue
        delivery = _sent(send_one, by_name[one.channel], repeated(one.notice) if one.again else one.notice)
        failure = None if delivery.failure is None else delivery.failure.message
        outbox.end(book, one, failure, now())
        log("message", key=one.notice.key, channel=one.channel, sent=delivery.delivered, again=one.again, why=failure)
        deliveries.append(delivery)
    return deliveries


def _sent(send_one: Send, channel: Channel, notice: Notice) -> Delivery:
    """What came of it; a fault of our own in one channel keeps no message from the others."""
    try:
        return send_one(channel, notice)
    except Exception as exc:
        fault = NotificationFailed(f"{channel.name}: {type(exc).__name__}.", next_step="Report this fault.")
        return Delivery(channel.name, 1, fault)


def channels_for(channels: Sequence[Channel], notice: Notice) -> list[str]:
    """The names of those that carry a notice; of all where none would and somebody has to know it."""
    carry = [channel.name for channel in channels if is_for(channel, notice)]
    if carry or notice.kind in NEED_NO_ONE:
        return carry
    return [channel.name for channel in channels]
