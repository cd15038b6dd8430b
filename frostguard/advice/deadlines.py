"""When there are hands: the person's working windows, and the hour by which a job must be done."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import accumulate
from zoneinfo import ZoneInfo

from frostguard.advice.nights import Night
from frostguard.garden.settings import Settings

LATE_HOURS = timedelta(hours=1.5)
"""Asked after dusk, work is planned for the next hour and a half at most, since whoever asks is up; estimate."""

USUAL_DAY = (time(8), time(18))
"""Hours in which people work on a terrace where the sun does not set the day; estimate."""

UNSURE = timedelta(minutes=10)
"""A job counts as in time when it is done so long after its deadline: deadlines come from hourly weather, and are
not known to the minute; estimate."""

LEAST = timedelta(minutes=20)
"""A window with less left than this is not counted on; estimate."""


@dataclass(frozen=True, slots=True)
class WorkTime:
    """The window in which an evening's jobs are to be done; aware local times.

    `dark` says that the sun is down by its end: light jobs only, on a dry and lit floor.
    """

    begins: datetime
    ends: datetime
    dark: bool


def work_time(night: Night, at: datetime, settings: Settings, zone: ZoneInfo) -> WorkTime | None:
    """The best window before that night's cold that is still to come, or None when nobody can work.

    By daylight before in the dark, and late rather than early: the sun still warms, and the forecast
    is fresher. Asked after dusk with no window of one's own, the next hour and a half counts.

    Parameters
    ----------
    night : Night
        The night to be ready for.
    at : datetime
        Now, aware.
    settings : Settings
        Working windows; empty means any time between sunrise and sunset.
    zone : ZoneInfo
        The site's.
    """
    local = at.astimezone(zone)
    day_begins, day_ends = _daylight(night, zone)
    windows = own_windows(night.date, settings, zone) if settings.windows else [(day_begins, day_ends, False)]
    left = [
        (max(begins, local), ends, lit)
        for begins, ends, lit in windows
        if ends - max(begins, local) >= LEAST
    ]
    by_day = [
        WorkTime(max(begins, day_begins), min(ends, day_ends), dark=night.midday_dark)
        for begins, ends, _ in left
        if min(ends, day_ends) - max(begins, day_begins) >= LEAST
    ]
    if by_day:
        return by_day[-1]
    by_lamp = [WorkTime(begins, ends, dark=True) for begins, ends, lit in left if lit]
    if by_lamp:
        return by_lamp[0]
    return None if settings.windows else _late(night, local, zone)


def _daylight(night: Night, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """Sunrise and sunset of the day that ends in the night; usual hours where the sun stays up or down."""
    return (
        night.sunup or datetime.combine(night.date, USUAL_DAY[0], tzinfo=zone),
        night.sunset or datetime.combine(night.date, USUAL_DAY[1], tzinfo=zone),
    )


def _late(night: Night, local: datetime, zone: ZoneInfo) -> WorkTime | None:
    """Asked after dusk or in the night: what light work can still be done now, before the sun is up."""
    ends = min((local.astimezone(UTC) + LATE_HOURS).astimezone(zone), night.sunrise or night.ends)
    return WorkTime(local, ends, dark=True) if ends - local >= LEAST else None


def own_windows(day: date, settings: Settings, zone: ZoneInfo) -> list[tuple[datetime, datetime, bool]]:
    """The person's windows of that day, in order."""
    windows = [
        (
            datetime.combine(day, window.begins, tzinfo=zone),
            datetime.combine(day, window.ends, tzinfo=zone),
            window.lit,
        )
        for window in settings.windows
        if day.weekday() in window.days
    ]
    return sorted(windows)


def latest_starts(
    minutes: Sequence[float], work: WorkTime, done_by: Sequence[datetime] | None = None
) -> list[datetime]:
    """When each job must be begun at the latest, so that it and all after it are done in time.

    Rounded down to five minutes, and never before the window begins.

    Parameters
    ----------
    minutes : sequence of float
        Of each job, in the order of doing.
    work : WorkTime
        The window.
    done_by : sequence of datetime, optional
        When each job must be done, where that is before the window's end.
    """
    starts = []
    start = work.ends
    for job_minutes, due in zip(reversed(minutes), reversed(done_by or [work.ends] * len(minutes)), strict=True):
        start = min(start, due) - timedelta(minutes=job_minutes)
        rounded = start - timedelta(minutes=start.minute % 5, seconds=start.second, microseconds=start.microsecond)
        starts.append(max(rounded, work.begins.replace(second=0, microsecond=0)))
    return starts[::-1]


@dataclass(frozen=True, slots=True)
class Doing:
    """Jobs one after the other: by position the order, and what in it is done late, with the earliest end of that."""

    order: tuple[int, ...]
    late: dict[int, datetime]


def order_in_time(
    minutes: Sequence[float], work: WorkTime, done_by: Sequence[datetime], *, first: int = 0
) -> Doing:
    """The order given where everything is done by its own deadline in it; else what lets most of it be in time.

    Then the jobs are gone through in the order given, which is that of their urgency: each is kept that can be
    done in time, by deadline, with those kept before it. What cannot is done as early as it makes none of them late.

    Parameters
    ----------
    minutes : sequence of float
        Of each job, in the order of their urgency.
    work : WorkTime
        The window; work begins with it.
    done_by : sequence of datetime
        The deadline of each. What is due at once is in time when it is the first thing done.
    first : int
        How many at the head stay there whatever the others need: plants that cannot be replaced.
    """
    every = range(len(minutes))
    due = [max(by, work.begins + timedelta(minutes=each)) + UNSURE for by, each in zip(done_by, minutes, strict=True)]

    def ends(order: Sequence[int]) -> list[datetime]:
        done = accumulate(minutes[position] for position in order)
        return [work.begins + timedelta(minutes=passed) for passed in done]

    def in_time(order: Sequence[int], counted: Collection[int]) -> bool:
        return all(
            end <= due[position] for position, end in zip(order, ends(order), strict=True) if position in counted
        )

    if in_time(every, every):
        return Doing(tuple(every), {})
    kept = list(range(first))
    for position in every[first:]:
        tried = kept[:first] + sorted((*kept[first:], position), key=lambda one: (due[one], one))
        if in_time(tried, tried[first:]):
            kept = tried
    order, after = list(kept), first
    for position in every:
        if position not in kept:
            places = range(after, len(order) + 1)
            tries = ((place, [*order[:place], position, *order[place:]]) for place in places)
            after, order = next((place + 1, tried) for place, tried in tries if in_time(tried, kept[first:]))
    late = {position: end for position, end in zip(order, ends(order), strict=True) if end > due[position]}
    return Doing(tuple(order), late)
