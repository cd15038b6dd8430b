"""From the logbook to the channels: every step on disk before the next, so that a stop loses nothing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, tzinfo

from frostguard.errors import NotificationFailed
from frostguard.logbook import outbox
from frostguard.logbook.book import Logbook
from frostguard.notify.channels import Channel
from frostguard.notify.delivery import Delivery, channel_trouble, is_for, send
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
) -> list[Delivery]:
    """Send everything that is owed at this moment, and tell through the others which channels failed.

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
    """
    today = now().astimezone(zone).date()
    outbox.lapse(book, today, now())
    outbox.drop_channels(book, [channel.name for channel in channels], now())
    deliveries = _send_all(book, channels, now, log, send_one)
    trouble = channel_trouble(deliveries, now(), today, outbox.said(book))
    if trouble is not None:
        broken = {one.channel for one in deliveries if not one.delivered}
        names = [channel.name for channel in channels if channel.name not in broken]
        book.write(lambda connection: outbox.owe(connection, trouble, names, today, now()))
        deliveries += _send_all(book, [one for one in channels if one.name in names], now, log, send_one)
    return deliveries


def _send_all(
    book: Logbook, channels: Sequence[Channel], now: Callable[[], datetime], log: Log, send_one: Send
) -> list[Delivery]:
    by_name = {channel.name: channel for channel in channels}
    deliveries = []
    for one in outbox.due(book, now()):
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
