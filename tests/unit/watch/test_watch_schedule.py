"""When it is looked: on the site's clock, on both nights that change it, by the sun and by the person's hours."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from apscheduler.schedulers.background import BackgroundScheduler

from frostguard.garden.nightly_settings import NightlySettings
from frostguard.garden.settings import Settings, WorkingWindow
from frostguard.notify.moment import Look
from frostguard.watch import schedule
from frostguard.watch.schedule import Planned, asked_from, coming, due, looks_of
from frostguard.watch.service import LooksTrigger, put_in
from tests.unit.advice.terraces import site
from tests.unit.watch.station import in_silence

ZONE = ZoneInfo("Europe/Ljubljana")
SITE = site()
WINTER_DAY = date(2026, 1, 14)
CLOCKS_BACK, CLOCKS_FORWARD = date(2026, 10, 25), date(2026, 3, 29)  # EU directive 2000/84/EC: last Sundays


def at(day: date, hour: int, minute: int = 0) -> datetime:
    """A time on the site's clock."""
    return datetime.combine(day, time(hour, minute), tzinfo=ZONE)


def by_look(day: date, settings: Settings | None = None, place: object = SITE) -> dict[Look, datetime]:
    """The day's looks by kind."""
    return {one.look: one.at for one in looks_of(day, place, settings or Settings())}  # type: ignore[arg-type]


def test_a_usual_winter_day() -> None:
    """Morning at the end of the quiet hours, an hour after sunrise, three hours before sunset, evening at six."""
    looks = by_look(WINTER_DAY)
    assert list(looks) == [Look.MORNING, Look.SUNRISE, Look.LAST, Look.EVENING]
    assert looks[Look.MORNING] == at(WINTER_DAY, 7) and looks[Look.EVENING] == at(WINTER_DAY, 18)
    # sunrise 7:38 and sunset 16:42 in Ljubljana that day, by the U.S. Naval Observatory's method, from memory to 3 min
    assert abs(looks[Look.SUNRISE] - at(WINTER_DAY, 8, 38)) < timedelta(minutes=4)
    assert abs(looks[Look.LAST] - at(WINTER_DAY, 13, 42)) < timedelta(minutes=4)


def test_the_evening_is_about_the_next_night_the_others_about_this_one() -> None:
    """Which night a look plans."""
    nights = {one.look: one.night for one in looks_of(WINTER_DAY, SITE, Settings())}
    tomorrow = WINTER_DAY + timedelta(days=1)
    assert nights == {
        Look.MORNING: WINTER_DAY, Look.SUNRISE: WINTER_DAY, Look.LAST: WINTER_DAY, Look.EVENING: tomorrow
    }  # fmt: skip


def test_the_last_look_is_an_hour_before_the_first_window_of_the_day() -> None:
    """A working person's evening window on weekdays, by day at weekends; the settings' own time goes before both."""
    windows = (
        WorkingWindow(frozenset(range(5)), time(18, 30), time(19, 15), lit=True),
        WorkingWindow(frozenset((5, 6)), time(10), time(16), lit=False),
    )
    settings = Settings(windows=windows)
    assert by_look(WINTER_DAY, settings)[Look.LAST] == at(WINTER_DAY, 17, 30)
    saturday = date(2026, 1, 17)
    assert by_look(saturday, settings)[Look.LAST] == at(saturday, 9)
    own = replace(settings, nightly=NightlySettings(last_look=time(15)))
    assert by_look(saturday, own)[Look.LAST] == at(saturday, 15)


@pytest.mark.parametrize(
    ("last", "evening", "made"),
    [
        (time(17, 30), time(18), [time(17, 30)] * 2),
        (time(17), time(18), [time(17)] * 2),
        (time(18, 30), time(18), [time(18)] * 2),
        (time(16, 30), time(18), [time(16, 30), time(18)]),
    ],
)
def test_the_evenings_look_and_a_last_one_close_by_go_together(last: time, evening: time, made: list[time]) -> None:
    """Within an hour both are made at the earlier time, for one message; further apart each for itself."""
    looks = by_look(WINTER_DAY, Settings(nightly=NightlySettings(last_look=last, evening=evening)))
    assert [looks[Look.LAST].time(), looks[Look.EVENING].time()] == made


def test_looks_at_one_night_that_lie_close_are_one() -> None:
    """A window at half past seven leaves the morning's look alone."""
    early = Settings(windows=(WorkingWindow(frozenset(range(7)), time(7, 30), time(8, 30), lit=True),))
    assert Look.LAST not in by_look(WINTER_DAY, early)


@pytest.mark.parametrize("day", [CLOCKS_BACK, CLOCKS_FORWARD, date(2026, 12, 21)])
def test_every_look_comes_once_around_a_change_of_clocks(day: date) -> None:
    """Through the scheduler's own trigger, hour by hour over three days: each look fires once, at its wall time."""
    trigger = LooksTrigger(SITE, Settings())
    fired: list[datetime] = []
    previous: datetime | None = None
    now = at(day - timedelta(days=1), 0)
    ends = at(day + timedelta(days=2), 0)
    while (following := trigger.get_next_fire_time(previous, now)) < ends:
        fired.append(following)
        previous = now = following
    assert len(fired) == len(set(fired)) == 12
    assert [one.astimezone(UTC) for one in fired] == sorted(one.astimezone(UTC) for one in fired)
    wall = Counter((one.hour, one.minute) for one in fired)
    assert wall[18, 0] == 3 and wall[7, 0] == 3


@pytest.mark.parametrize(("day", "hours"), [(CLOCKS_BACK, 25), (CLOCKS_FORWARD, 23), (date(2026, 12, 21), 24)])
def test_from_evening_to_evening_a_night_is_as_long_as_it_is(day: date, hours: int) -> None:
    """Elapsed time, not the wall clock's."""
    evening = [by_look(day + timedelta(days=k))[Look.EVENING].astimezone(UTC) for k in (-1, 0)]
    assert evening[1] - evening[0] == timedelta(hours=hours)


@pytest.mark.parametrize("place", [site(latitude_deg=69.65, longitude_deg=18.96, time_zone="Europe/Oslo")])
@pytest.mark.parametrize("day", [date(2026, 12, 21), date(2026, 6, 21)])
def test_where_the_sun_stays_down_or_up_usual_times_hold(place: object, day: date) -> None:
    """Tromso in December and June: an hour after eight, three hours before six."""
    looks = by_look(day, place=place)
    assert looks[Look.SUNRISE].time() == time(9) and looks[Look.LAST].time() == time(15)


def due_at(moment: datetime, *, done: Look | None = None, looked: bool = True) -> list[tuple[Look, date]]:
    """The looks that are due, without covers on."""
    found = due(
        moment,
        SITE,
        Settings(),
        is_done=lambda one: one.look is done,
        is_looked_at=lambda _: looked,
        covers_on=False,
    )
    return [(one.look, one.night) for one in found]


def test_due_is_the_latest_of_each_night_within_grace() -> None:
    """Woken in the evening: tonight's last look, and tomorrow's plan; nothing older than six hours."""
    tomorrow = WINTER_DAY + timedelta(days=1)
    assert due_at(at(WINTER_DAY, 18, 5)) == [(Look.LAST, WINTER_DAY), (Look.EVENING, tomorrow)]
    assert due_at(at(WINTER_DAY, 23, 0)) == [(Look.EVENING, tomorrow)]


def test_a_night_at_which_nobody_looked_is_looked_at_until_midnight() -> None:
    """Set up late in the evening, or back after a power cut: tonight comes before tomorrow."""
    tomorrow = WINTER_DAY + timedelta(days=1)
    assert due_at(at(WINTER_DAY, 22), looked=False) == [(Look.LAST, WINTER_DAY), (Look.EVENING, tomorrow)]
    assert due_at(at(tomorrow, 0, 30), looked=False) == []


def test_a_done_look_hides_those_before_it() -> None:
    """The morning's is not made up for once the last look was made."""
    assert due_at(at(WINTER_DAY, 12, 59)) == [(Look.MORNING, WINTER_DAY)]
    assert due_at(at(WINTER_DAY, 13, 59), done=Look.LAST) == []


def test_the_evenings_plan_stands_at_the_next_sunrise() -> None:
    """By day a plan stands at the moment; before sunrise and in the evening, at the sunrise of the night's day."""
    evening = Planned(Look.EVENING, at(WINTER_DAY, 18), WINTER_DAY + timedelta(days=1))
    stands = asked_from(evening, at(WINTER_DAY, 18, 2), SITE).astimezone(ZONE)
    assert stands.date() == WINTER_DAY + timedelta(days=1) and 7 <= stands.hour < 8
    morning = Planned(Look.MORNING, at(WINTER_DAY, 7), WINTER_DAY)
    assert asked_from(morning, at(WINTER_DAY, 7), SITE).astimezone(ZONE).date() == WINTER_DAY
    assert asked_from(morning, at(WINTER_DAY, 11), SITE) == at(WINTER_DAY, 11)


def test_the_looks_to_come_go_on_over_midnight() -> None:
    """After the evening follows the next morning."""
    following = coming(at(WINTER_DAY, 18), SITE, Settings())
    assert [next(following).look for _ in range(3)] == [Look.MORNING, Look.SUNRISE, Look.LAST]


def test_the_scheduler_is_told_everything_it_would_guess() -> None:
    """Zone, hours of grace, one at a time, missed runs made one: the library's defaults would skip a late night."""
    scheduler = BackgroundScheduler(timezone=ZONE)
    put_in(scheduler, lambda: None, SITE, Settings(), in_silence)
    scheduler.start(paused=True)
    try:
        (job,) = scheduler.get_jobs()
        assert (job.misfire_grace_time, job.coalesce, job.max_instances) == (6 * 3600, True, 1)
        assert str(scheduler.timezone) == "Europe/Ljubljana"
        assert job.next_run_time is not None and job.next_run_time <= datetime.now(UTC) + timedelta(seconds=5)
        slept = datetime.now(UTC) + timedelta(days=2)  # all that was missed in two days is one run
        assert len(job._get_run_times(slept)) > 1 and job.coalesce
    finally:
        scheduler.shutdown(wait=False)


def test_grace_is_shorter_than_the_night() -> None:
    """A look that is still made must be of use: none of the evening's after the morning's."""
    looks = by_look(WINTER_DAY)
    following = by_look(WINTER_DAY + timedelta(days=1))
    assert looks[Look.EVENING] + schedule.GRACE < following[Look.MORNING]
