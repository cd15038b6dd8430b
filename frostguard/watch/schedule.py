"""When to look: the looks of a day, and which of them are due. It decides nothing about plants or messages."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from frostguard.garden.model import Site
from frostguard.garden.settings import Settings
from frostguard.notify.moment import Look
from frostguard.physics.sun import sunrise_sunset

GRACE = timedelta(hours=6)
"""How late a look may still be: after sleep or a power cut what matters is the night ahead; estimate."""

UNREMEMBERED = timedelta(minutes=15)
"""How late a look or message may be where the logbook cannot be written, so that nobody would know that it was
made: no longer than from one call of the timer to the next, or the same would be said again at each."""

BEFORE_WORK = timedelta(hours=1)
BEFORE_SUNSET = timedelta(hours=3)
AFTER_SUNRISE = timedelta(hours=1)
APART = timedelta(hours=1)
"""Two looks at the same night that lie nearer together would say the same."""

TOGETHER = timedelta(hours=1)
"""The evening's look and the last one that lie no further apart are made together, at the earlier time, so that
what both have to say rings once."""

USUAL_SUNRISE, USUAL_SUNSET = time(8), time(18)
"""Where the sun stays up or down all day; estimate."""

DAWN = time(6)
"""From when a day counts as begun where the sun does not rise, as in `advice.nights`."""


@dataclass(frozen=True, slots=True)
class Planned:
    """One look: its kind, when it is due, and the evening of the night that it is about."""

    look: Look
    at: datetime
    night: date


def looks_of(day: date, site: Site, settings: Settings) -> tuple[Planned, ...]:
    """The looks of one day on the site's clock, in order.

    The evening's is about the next day and night; the others are about the coming night. Evening and last look
    go together where they lie within an hour, for one message. All times of the settings lie where no clock is
    changed, so each exists once.
    """
    zone = ZoneInfo(site.time_zone)
    wishes = settings.nightly
    morning = datetime.combine(day, wishes.morning, tzinfo=zone)
    last = _last_look(day, site, settings, zone)
    evening = datetime.combine(day, wishes.evening, tzinfo=zone)
    if abs(_between(last, evening)) <= TOGETHER:
        last = evening = min(last, evening)
    looks = [
        Planned(Look.MORNING, morning, day),
        Planned(Look.SUNRISE, _sun(day, site, zone)[0] + AFTER_SUNRISE, day),
        Planned(Look.EVENING, evening, day + timedelta(days=1)),
    ]
    if _between(morning, last) >= APART:
        looks.append(Planned(Look.LAST, last, day))
    return tuple(sorted(looks, key=lambda planned: planned.at.astimezone(UTC)))


def _last_look(day: date, site: Site, settings: Settings, zone: ZoneInfo) -> datetime:
    """As the settings say, or before the first window of the day, or before sunset."""
    if settings.nightly.last_look is not None:
        return datetime.combine(day, settings.nightly.last_look, tzinfo=zone)
    windows = [window.begins for window in settings.windows if day.weekday() in window.days]
    if windows:
        return datetime.combine(day, min(windows), tzinfo=zone) - BEFORE_WORK
    return _sun(day, site, zone)[1] - BEFORE_SUNSET


def _sun(day: date, site: Site, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """Sunrise and sunset on the site's clock, or usual times."""
    rise, down = sunrise_sunset(day, site.latitude_deg, site.longitude_deg)
    return (
        datetime.combine(day, USUAL_SUNRISE, tzinfo=zone) if rise is None else rise.astimezone(zone),
        datetime.combine(day, USUAL_SUNSET, tzinfo=zone) if down is None else down.astimezone(zone),
    )


def due(
    now: datetime,
    site: Site,
    settings: Settings,
    *,
    is_done: Callable[[Planned], bool],
    is_looked_at: Callable[[date], bool],
    covers_on: bool,
) -> tuple[Planned, ...]:
    """The looks whose time has come, at most one for each night: of those that were missed the latest.

    A look is too late after some hours; but where nobody has looked at tonight at all, as on the first evening
    or after a power cut, its last look is due until midnight.

    Parameters
    ----------
    now : datetime
        Aware. A clock that was put back only makes looks due again that `is_done` knows to be done.
    site, settings
        The place, and the wished times.
    is_done : callable
        Whether a look was made.
    is_looked_at : callable
        Whether any look was made at the night of a date.
    covers_on : bool
        Whether anything is in place, without which nobody looks after sunrise.
    """
    today = now.astimezone(ZoneInfo(site.time_zone)).date()
    latest: dict[date, Planned] = {}
    for planned in (one for day in (today - timedelta(days=1), today) for one in looks_of(day, site, settings)):
        wanted = covers_on or planned.look is not Look.SUNRISE
        late = _between(planned.at, now)
        needed = planned.look is Look.LAST and planned.night == today and not is_looked_at(today)
        if wanted and timedelta(0) <= late and (late <= GRACE or needed):
            latest[planned.night] = planned
    return tuple(
        planned
        for planned in sorted(latest.values(), key=lambda planned: planned.night)
        if not is_done(planned)
    )


def is_unremembered(at: datetime, now: datetime) -> bool:
    """Whether something is too late where it cannot be known that it was done before."""
    return _between(at, now) > UNREMEMBERED


def coming(after: datetime, site: Site, settings: Settings) -> Iterator[Planned]:
    """All looks after a time, in order, without end."""
    day = after.astimezone(ZoneInfo(site.time_zone)).date()
    while True:
        yield from (planned for planned in looks_of(day, site, settings) if _between(after, planned.at) > timedelta(0))
        day += timedelta(days=1)


def next_message(now: datetime, site: Site, settings: Settings) -> datetime:
    """When the next look is made that mostly has something to tell, the morning's or the evening's."""
    return next(one.at for one in coming(now, site, settings) if one.look in (Look.MORNING, Look.EVENING))


def asked_from(planned: Planned, now: datetime, site: Site) -> datetime:
    """From when on something can be done for the night of a look: now, but not before its day has begun.

    So the evening's plan stands at the next sunrise. The hours until then have one course in it, which makes
    the spread of that night a little narrow; the morning's look sees them again.
    """
    zone = ZoneInfo(site.time_zone)
    sunrise, _ = sunrise_sunset(planned.night, site.latitude_deg, site.longitude_deg)
    dawn = datetime.combine(planned.night, DAWN, tzinfo=zone) if sunrise is None else sunrise
    return max(now.astimezone(UTC), dawn.astimezone(UTC))


def _between(first: datetime, second: datetime) -> timedelta:
    """Elapsed time; plain subtraction of two local times would count the wall clock's hours."""
    return second.astimezone(UTC) - first.astimezone(UTC)
