"""When there are hands before each night, and which nights one time of work has to answer for."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from frostguard.advice.deadlines import WorkTime, own_windows, work_time
from frostguard.advice.evening import Evening
from frostguard.garden.settings import Settings

NIGHTS_AHEAD = 5
"""Nights beyond the coming one that something is done for today: forecasts beyond are too unsure; estimate."""


def work_before(evening: Evening, settings: Settings, night: int) -> WorkTime | None:
    """When there are hands before that night; None where nobody can work."""
    return work_time(evening.nights[night], evening.at, settings, evening.terrace.zone)


def nights_served(evening: Evening, settings: Settings, night: int) -> tuple[int, ...]:
    """A night, and those in sight after it before which nobody can work: the work before it has to do for all."""
    served = [night]
    for later in range(night + 1, min(len(evening.nights), night + NIGHTS_AHEAD + 1)):
        if not evening.complete[later] or work_before(evening, settings, later) is not None:
            break
        served.append(later)
    return tuple(served)


def nights_by_lamp(evening: Evening, settings: Settings) -> tuple[int, ...]:
    """Nights ahead before which there is no more work by daylight, though there is today; and some by lamp."""
    today = work_before(evening, settings, 0)
    if today is None or today.dark:
        return ()
    nights: list[int] = []
    first = nights_served(evening, settings, 0)[-1] + 1
    for night in range(first, min(len(evening.nights), NIGHTS_AHEAD + 1)):
        work = work_before(evening, settings, night)
        if not evening.complete[night] or (work is not None and not work.dark):
            break
        nights.append(night)
    return tuple(nights)


def next_there(settings: Settings, moment: datetime, zone: ZoneInfo) -> datetime | None:
    """When somebody is there from a moment on, by the hours of work: at once where none are said, None where none come
    within a week."""
    if not settings.windows:
        return moment
    local = moment.astimezone(zone)
    for days in range(8):
        for begins, ends, _ in own_windows(local.date() + timedelta(days=days), settings, zone):
            if ends > moment:
                return max(begins, local)
    return None


def window_for(evening: Evening, settings: Settings, night: int) -> int | None:
    """The last night up to that one before which there is work by daylight, else by lamp; None where there is none."""
    hours = [(earlier, work_before(evening, settings, earlier)) for earlier in range(night + 1)]
    some = [(earlier, work) for earlier, work in hours if work is not None]
    by_day = [earlier for earlier, work in some if not work.dark]
    return max(by_day or [earlier for earlier, _ in some], default=None)
