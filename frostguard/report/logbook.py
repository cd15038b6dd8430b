"""What the logbook tells a person: nights, messages, losses, and what it holds."""

from __future__ import annotations

from datetime import datetime, timedelta, tzinfo

from frostguard.logbook import answers, nights, outbox
from frostguard.logbook.book import Logbook
from frostguard.logbook.losses import Harm, PlantLoss, losses
from frostguard.logbook.nights import Outcome
from frostguard.logbook.outbox import State
from frostguard.report import measures
from frostguard.report.words import say, say_count

LATEST_MESSAGES = 20


def render_logbook(book: Logbook, days: int, now: datetime, zone: tzinfo) -> str:
    """The logbook as lines for the terminal."""
    blocks = logbook_blocks(book, days, now, zone)
    return "\n\n".join("\n".join([heading, *(f"  {line}" for line in lines)]) for heading, lines in blocks)


def logbook_blocks(book: Logbook, days: int, now: datetime, zone: tzinfo) -> list[tuple[str, list[str]]]:
    """The nights of the last days and what they came to, the latest messages, losses, sizes: headings with lines.

    Parameters
    ----------
    book : Logbook
        An open logbook.
    days : int
        How many days back.
    now : datetime
        Aware.
    zone : tzinfo
        The clock to tell times by: the site's.
    """
    since = (now - timedelta(days=days)).astimezone(zone).date()
    came_to = [
        say("{night}: {outcome}.", night=measures.day_and_date(night), outcome=_outcome(outcome))
        for night, outcome in nights.outcomes(book, since).items()
    ]
    latest = outbox.deliveries(book, LATEST_MESSAGES)
    sent = [_message(one, zone) for one in latest if one.made_at >= now - timedelta(days=days)]
    lost = [_loss(one) for one in losses(book)]
    blocks = [
        (say("Nights"), came_to or [say("Nobody has looked yet.")]),
        (say("Messages, the latest first"), sent),
        (say("Losses, and what came through"), lost),
        (say("The logbook"), _sizes(book)),
    ]
    return [(heading, [line.rstrip() for line in lines]) for heading, lines in blocks if lines]


def _loss(one: PlantLoss) -> str:
    values = {"pot": one.label, "night": one.night.isoformat(), "note": one.note}
    match one.harm:
        case Harm.DEAD:
            return say("{pot}, night of {night}: died. {note}", **values)
        case Harm.HURT:
            return say("{pot}, night of {night}: hurt. {note}", **values)
        case Harm.UNHURT:
            return say("{pot}, night of {night}: came through unhurt. {note}", **values)


def _outcome(outcome: Outcome) -> str:
    match outcome:
        case Outcome.PLAN_SENT:
            return say("a plan was sent")
        case Outcome.NOTHING_TO_DO:
            return say("nothing to do")
        case Outcome.CANNOT_SEE_SENT:
            return say("could not see, and said so")
        case Outcome.OWED:
            return say("a message is still owed")


def _message(one: outbox.Delivered, zone: tzinfo) -> str:
    made_at = one.made_at.astimezone(zone)
    values = {
        "when": f"{measures.day_and_date(made_at.date())} {made_at:%H:%M}",
        "kind": one.kind,
        "channel": one.channel,
        "failure": one.failure or "",
    }
    match one.state:
        case State.SENT if one.repeats:
            return say("{when}: {kind}, {channel}: sent, perhaps twice.", **values)
        case State.SENT:
            return say("{when}: {kind}, {channel}: sent.", **values)
        case State.FAILED:
            return say_count(
                "{when}: {kind}, {channel}: failed at the first try: {failure}",
                "{when}: {kind}, {channel}: failed, {count} tries so far: {failure}",
                one.tries,
                **values,
            )
        case State.LAPSED:
            return say("{when}: {kind}, {channel}: not sent before its night was over.", **values)
        case State.OWED | State.SENDING:
            return say("{when}: {kind}, {channel}: still to be sent.", **values)


def _sizes(book: Logbook) -> list[str]:
    kept = answers.size(book)
    size = 0 if book.path is None else book.path.stat().st_size
    return [
        say("File: {path}, {size} kB.", path=str(book.path), size=str(round(size / 1000))),
        say(
            "Weather answers: {count}, {size} kB, kept for {days} days.",
            count=str(kept.count),
            size=str(round(kept.bytes_on_disk / 1000)),
            days=str(answers.KEPT.days),
        ),
    ]
