"""Working windows and the hour by which each job must be begun."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from frostguard.advice.deadlines import WorkTime, latest_starts, work_time
from frostguard.advice.nights import night_of
from frostguard.garden.settings import Settings, WorkingWindow
from tests.unit.advice.terraces import SITE, ZONE, at, site

EVERY_DAY = frozenset(range(7))
NIGHT = night_of(date(2026, 1, 14), SITE)  # a Wednesday
SUNSET = NIGHT.sunset or pytest.fail("the sun sets in Ljubljana")


def window(begins: str, ends: str, *, lit: bool = False, days: frozenset[int] = EVERY_DAY) -> WorkingWindow:
    return WorkingWindow(days, time.fromisoformat(begins), time.fromisoformat(ends), lit)


def work(asked: datetime, *windows: WorkingWindow) -> WorkTime | None:
    return work_time(NIGHT, asked, Settings(windows=windows), ZONE)


def test_without_windows_of_ones_own_work_ends_at_sunset():
    """By default there is time from now until the sun sets, by daylight."""
    found = work(at(13, 10))

    assert found == WorkTime(at(13, 10), SUNSET, dark=False)


def test_a_question_in_utc_is_answered_on_the_sites_clock():
    """The same moment in UTC gives the same window, told in the site's zone."""
    found = work(at(13, 10).astimezone(UTC))

    assert found is not None and found == WorkTime(at(13, 10), SUNSET, dark=False)
    assert found.begins.tzinfo == ZONE


def test_asked_after_dusk_an_hour_and_a_half_is_left_in_the_dark():
    """After sunset light jobs can still be done for a while, and the window says that it is dark."""
    found = work(at(18, 0))

    assert found == WorkTime(at(18, 0), at(19, 30), dark=True)


def test_a_quarter_of_an_hour_before_sunset_is_not_counted_on():
    """With too little daylight left the work is planned for the dark."""
    found = work(SUNSET - timedelta(minutes=15))

    assert found is not None and found.dark


def test_asked_deep_in_the_night_the_next_hours_count_too():
    """Whoever asks is up: before midnight and after it there is an hour and a half, by lamp, to sunrise."""
    assert work(at(22, 15)) == WorkTime(at(22, 15), at(23, 45), dark=True)
    assert work(at(23, 30)) == WorkTime(at(23, 30), at(1, 0, days=1), dark=True)
    assert work(at(3, 0, days=1)) == WorkTime(at(3, 0, days=1), at(4, 30, days=1), dark=True)

    before_dawn = work(at(6, 45, days=1))  # sunrise is at about twenty to eight
    assert before_dawn is not None and at(7, 30, days=1) < before_dawn.ends < at(7, 50, days=1)
    assert work(at(7, 30, days=1)) is None


def test_of_ones_own_windows_the_last_one_by_daylight_is_taken():
    """Late rather than early: the sun still warms and the forecast is fresher."""
    found = work(at(8, 0), window("15:00", "16:00"), window("09:00", "10:00"))

    assert found == WorkTime(at(15, 0), at(16, 0), dark=False)


def test_a_window_that_is_on_begins_now():
    """Asked inside a window, what is left of it counts."""
    found = work(at(15, 20), window("15:00", "16:00"))

    assert found == WorkTime(at(15, 20), at(16, 0), dark=False)


def test_a_window_that_runs_into_the_dusk_ends_at_sunset():
    """Of a window that begins by day and ends after sunset the daylight part counts."""
    found = work(at(14, 0), window("16:00", "18:00", lit=True))

    assert found == WorkTime(at(16, 0), SUNSET, dark=False)


def test_daylight_comes_before_a_lit_evening():
    """A window by daylight is preferred to a later one by lamp."""
    found = work(at(8, 0), window("10:00", "11:00"), window("18:00", "20:00", lit=True))

    assert found == WorkTime(at(10, 0), at(11, 0), dark=False)


def test_a_lit_window_after_dusk_is_dark_work():
    """Where only a lit evening is left, work is planned in it and told as dark."""
    found = work(at(13, 0), window("18:00", "20:00", lit=True))

    assert found == WorkTime(at(18, 0), at(20, 0), dark=True)


def test_in_an_unlit_window_after_dusk_nobody_can_work():
    """Without light there is no window, and none is made up beside the person's own."""
    assert work(at(13, 0), window("18:00", "20:00")) is None


def test_windows_hold_on_their_own_weekdays_only():
    """A later window of the weekend is none on a Wednesday."""
    weekend = window("14:00", "16:00", days=frozenset({5, 6}))
    wednesday = window("10:00", "11:00", days=frozenset({2}))

    assert work(at(8, 0), weekend, wednesday) == WorkTime(at(10, 0), at(11, 0), dark=False)


def test_a_window_that_is_over_does_not_count():
    """Asked after the last of one's own windows, nobody can work before that night."""
    assert work(at(17, 0), window("10:00", "16:00")) is None


def test_where_the_sun_stays_down_work_ends_in_the_early_evening():
    """In polar night there is still a window, and it does not wait for a sunset that never comes."""
    oslo = ZoneInfo("Europe/Oslo")
    north = night_of(
        date(2025, 12, 21), site(latitude_deg=69.65, longitude_deg=18.96, time_zone="Europe/Oslo")
    )

    found = work_time(north, datetime(2025, 12, 21, 13, tzinfo=oslo), Settings(), oslo)

    assert found is not None
    assert found.begins < found.ends <= datetime(2025, 12, 21, 20, tzinfo=oslo)


@pytest.mark.parametrize("evening", [date(2026, 3, 28), date(2026, 3, 29), date(2026, 10, 24), date(2026, 10, 25)])
def test_on_clock_change_days_windows_keep_to_the_clock(evening: date):
    """A window from three to four is at three by the clock on both evenings round a change."""
    asked = datetime.combine(evening, time(10), ZONE)

    found = work_time(night_of(evening, SITE), asked, Settings(windows=(window("15:00", "16:00"),)), ZONE)

    assert found == WorkTime(asked.replace(hour=15), asked.replace(hour=16), dark=False)


def test_latest_starts_leave_time_for_all_that_comes_after():
    """Each job must begin early enough that it and every later one are done when the window ends."""
    minutes = [12.0, 3.0, 20.0, 1.5]
    frame = WorkTime(at(13, 0), at(16, 40), dark=False)

    starts = latest_starts(minutes, frame)

    assert starts == sorted(starts)
    for position, start in enumerate(starts):
        left = sum(minutes[position:])
        slack = (frame.ends - start) / timedelta(minutes=1) - left
        assert 0.0 <= slack < 5.0  # rounded down to five minutes, never up
        assert start.minute % 5 == 0 and start.second == 0


def test_more_work_than_time_begins_at_once_and_never_before_now():
    """Where the jobs do not fit, none is dated before the window begins."""
    frame = WorkTime(at(16, 7), at(16, 40), dark=False)

    starts = latest_starts([30.0, 30.0, 10.0], frame)

    assert starts[0] == starts[1] == at(16, 7)
    assert starts[2] == at(16, 30)


def test_no_jobs_need_no_starts():
    """An evening without jobs has no deadlines."""
    assert latest_starts([], WorkTime(at(13), at(16), dark=False)) == []


def test_windows_of_other_days_are_no_windows_of_today():
    """Who works on the terrace only at weekends has no window on a Wednesday."""
    assert work(at(8, 0), window("10:00", "16:00", days=frozenset({5, 6}))) is None


def test_an_unlit_window_before_sunrise_is_not_daylight():
    """What lies before dawn is dark work, or none without a lamp."""
    assert work(at(4, 0), window("05:00", "06:30")) is None
    lit = work(at(4, 0), window("05:00", "06:30", lit=True))
    assert lit is not None and lit.dark


def test_in_polar_night_all_work_is_dark_work():
    """Where the sun stays down heavy pots are not moved at noon either."""
    oslo = ZoneInfo("Europe/Oslo")
    place = site(latitude_deg=69.65, longitude_deg=18.96, time_zone="Europe/Oslo")

    winter = work_time(
        night_of(date(2025, 12, 21), place), datetime(2025, 12, 21, 10, tzinfo=oslo), Settings(), oslo
    )
    summer = work_time(
        night_of(date(2025, 6, 21), place), datetime(2025, 6, 21, 10, tzinfo=oslo), Settings(), oslo
    )

    assert winter is not None and winter.dark
    assert summer is not None and not summer.dark


def test_a_job_that_is_due_before_the_window_ends_pulls_those_before_it_forward():
    """What passes its limit at five must be done by then, and so must what is done before it; the rest has time."""
    frame = WorkTime(at(16, 0), at(18, 0), dark=True)
    late = frame.ends

    starts = latest_starts([10.0, 5.0, 20.0], frame, [late, at(17, 0), late])

    assert starts == [at(16, 45), at(16, 55), at(17, 40)]
