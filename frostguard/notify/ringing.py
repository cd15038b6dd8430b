"""When a message may ring: once an evening, and not in the quiet hours but for what cannot be replaced."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, time, timedelta

from frostguard.advice.plan import Job
from frostguard.garden.notice_settings import NoticeSettings
from frostguard.notify.jobs import WORTH_ONE_MORE_EUR, at_stake_eur
from frostguard.notify.matter import Matter
from frostguard.notify.moment import Moment
from frostguard.notify.notice import NoticeKind

EVENING_BEGINS = time(14)
"""From when a ring counts as the evening's: the earliest that its look may be set to."""

WAKES_WHEN_DUE = timedelta(hours=2)
"""How long after the quiet hours a job for an irreplaceable plant may be due and still wakes; estimate."""


def has_rung_this_evening(pushes: Sequence[datetime], local: datetime) -> bool:
    """Whether a message rang since two o'clock of this day, on the clock of a local time."""
    since = datetime.combine(local.date(), EVENING_BEGINS, tzinfo=local.tzinfo)
    return any(since <= pushed <= local for pushed in pushes)


CAN_WAIT = frozenset({NoticeKind.SEASON})
"""What is told a day later as well, if it cannot ring."""


def without_what_can_wait(moment: Moment, matters: Sequence[Matter]) -> list[Matter]:
    """What is to be told now: after a ring this evening not that which would ring and can as well tomorrow."""
    if not has_rung_this_evening(moment.pushes, moment.clock.local(moment.now)):
        return list(matters)
    return [matter for matter in matters if not (matter.interrupts and matter.kind in CAN_WAIT)]


def rings(moment: Moment, matters: Sequence[Matter]) -> bool:
    """Whether what is told may ring; the second one of an evening only where much is lost by not hearing it.

    That is an irreplaceable plant, or a loss that is worth a further message of what has to be done before the
    morning. Everything else waits for the morning's look to ring.
    """
    jobs = _jobs_that_ring(matters)
    if not any(matter.interrupts for matter in matters):
        return False
    if not has_rung_this_evening(moment.pushes, moment.clock.local(moment.now)):
        return True
    if any(job.irreplaceable for job in jobs):
        return True
    tomorrow = datetime.combine(
        moment.today + timedelta(days=1), moment.settings.nightly.morning, tzinfo=moment.zone
    )
    return at_stake_eur([job for job in jobs if job.start_by < tomorrow]) >= WORTH_ONE_MORE_EUR


def not_before(moment: Moment, matters: Sequence[Matter]) -> datetime | None:
    """When the quiet hours end, where it is within them and nothing irreplaceable is at stake before that."""
    over = quiet_until(moment.clock.local(moment.now), moment.settings.notices)
    if over is None:
        return None
    deadline = min((job.start_by for job in _jobs_that_ring(matters) if job.irreplaceable), default=None)
    if deadline is not None and deadline < over + WAKES_WHEN_DUE:
        return None
    return over


def _jobs_that_ring(matters: Sequence[Matter]) -> tuple[Job, ...]:
    return tuple(job for matter in matters if matter.interrupts for job in matter.jobs)


def quiet_until(local: datetime, wishes: NoticeSettings) -> datetime | None:
    """When the quiet hours end that a local time lies in; None where it lies in none."""
    begins, ends = wishes.quiet_from, wishes.quiet_to
    if begins is None or ends is None or not is_quiet(local.time(), begins, ends):
        return None
    day = local.date() if local.time() < ends else local.date() + timedelta(days=1)
    return datetime.combine(day, ends, tzinfo=local.tzinfo)


def is_quiet(at: time, begins: time, ends: time) -> bool:
    """Whether a time of day lies in the quiet hours, which may go over midnight."""
    if begins < ends:
        return begins <= at < ends
    return at >= begins or at < ends
