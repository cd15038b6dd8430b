"""The report as a file that goes with the evening's mail; a message never waits for it, nor fails with it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from frostguard.nightly import Answer
from frostguard.notify.channels import Channel
from frostguard.notify.delivery import is_for
from frostguard.notify.mail import MailChannel
from frostguard.notify.notice import Attachment, Notice
from frostguard.notify.owed import tells_the_plan
from frostguard.watch.log import Log

LARGEST = 500_000
"""Bytes of a page that is sent: far below what mail servers take (often 10 MB, from memory), and little on a
telephone; sixty pots stay below it."""


def with_report(notice: Notice | None, answer: Answer | None, channels: Iterable[Channel], log: Log) -> Notice | None:
    """The notice with the report of its plan, where it tells the plan and some mail carries it.

    Parameters
    ----------
    notice : Notice or None
        What is owed.
    answer : Answer or None
        The plan and what it was reckoned from.
    channels : iterable of Channel
        All of the settings.
    log : Log
        Told where there is no page after all: too large, or not to be drawn.
    """
    if notice is None or answer is None or not tells_the_plan(notice):
        return notice
    if not any(isinstance(channel, MailChannel) and is_for(channel, notice) for channel in channels):
        return notice
    try:
        page = _page(answer)
    except Exception as exc:  # whatever is wrong with a picture, the jobs must be told
        log("report", ended="failed", why=repr(exc))
        return notice
    if len(page) > LARGEST:
        log("report", ended="failed", why=f"{len(page)} bytes are more than {LARGEST}")
        return notice
    report = Attachment(f"report-{notice.night.isoformat()}.html", "text/html", page)
    return replace(notice, attachments=(*notice.attachments, report))


def _page(answer: Answer) -> bytes:
    from frostguard.advice.pictures import pictures_of
    from frostguard.report.html.page import render_page

    pictures = pictures_of(answer.reckoning)
    return render_page(answer.plan, pictures, answer.garden, answer.settings.units).encode()
