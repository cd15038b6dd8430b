"""Nights run from noon to noon on the site's own clock, also where the clocks change or the sun stays away."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from frostguard.advice.nights import from_utc64, night_of, nights_from, utc64
from tests.unit.advice.terraces import SITE, ZONE, site

FAR_NORTH = site(latitude_deg=69.65, longitude_deg=18.96, time_zone="Europe/Oslo")
OSLO = ZoneInfo("Europe/Oslo")


def length_h(evening: date) -> float:
    night = night_of(evening, SITE)
    return (night.ends.astimezone(UTC) - night.begins.astimezone(UTC)) / timedelta(hours=1)


# clocks in the European Union: last Sundays of March and October, at 01:00 UTC
@pytest.mark.parametrize(
    ("evening", "hours"),
    [(date(2026, 3, 28), 23), (date(2026, 10, 24), 25), (date(2026, 3, 27), 24), (date(2026, 3, 29), 24)],
)
def test_a_night_has_23_or_25_hours_when_the_clocks_change(evening: date, hours: int):
    """Noon to noon is an hour shorter over the March change, an hour longer over that of October."""
    assert length_h(evening) == hours


@pytest.mark.parametrize(("evening", "hours"), [(date(2026, 3, 28), 23), (date(2026, 10, 24), 25)])
def test_every_hour_of_a_clock_change_night_counts_once(evening: date, hours: int):
    """The whole hours of such a night are as many as it is long: none twice, none left out."""
    night = night_of(evening, SITE)
    first = utc64(night.begins) - np.timedelta64(6, "h")
    times = first + np.arange(48) * np.timedelta64(1, "h")

    inside = times[night.hours_in(times)]

    assert inside.size == hours
    assert from_utc64(inside[-1], ZONE).hour == 12


def test_neighbouring_nights_share_no_hour_and_leave_none_out():
    """Each hour belongs to one night, also at noon and over a clock change."""
    nights = [night_of(date(2026, 10, 23) + timedelta(days=day), SITE) for day in range(4)]
    hour = np.timedelta64(1, "h")
    times = np.arange(utc64(nights[0].begins) + hour, utc64(nights[-1].ends) + hour, hour)

    counts = np.sum([night.hours_in(times) for night in nights], axis=0)

    assert (counts == 1).all()


def test_the_start_hour_is_never_part_of_the_night():
    """Neither noon itself nor the hour of the question counts, the next whole hour does."""
    night = night_of(date(2026, 1, 14), SITE)
    asked = datetime(2026, 1, 14, 15, 0, tzinfo=ZONE)
    times = utc64(night.begins) + np.arange(25) * np.timedelta64(1, "h")

    assert not night.hours_in(times)[0] and night.hours_in(times)[1]
    counted = [from_utc64(moment, ZONE).hour for moment in times[night.hours_in(times, after=asked)]]
    assert counted[0] == 16 and counted[-1] == 12


def test_a_question_before_noon_of_the_night_counts_from_noon():
    """Asked in the morning about the coming night, hours before its noon are not of that night."""
    night = night_of(date(2026, 1, 14), SITE)
    times = utc64(night.begins) + np.arange(-6, 3) * np.timedelta64(1, "h")
    asked = datetime(2026, 1, 14, 8, 30, tzinfo=ZONE)

    assert night.hours_in(times, after=asked).tolist() == [False] * 7 + [True] * 2


def test_the_sun_sets_in_the_evening_and_rises_in_the_morning_of_the_night():
    """Sunset belongs to the evening's date, sunrise to the next morning, both on the site's clock."""
    night = night_of(date(2026, 1, 14), SITE)

    assert night.sunset is not None and night.sunrise is not None
    assert (night.sunset.date(), night.sunrise.date()) == (date(2026, 1, 14), date(2026, 1, 15))
    assert night.sunset.tzinfo == ZONE
    # Ljubljana in mid January: sunset about 16:43, sunrise about 7:40 (recomputed; a quarter of an hour is
    # enough to know that the right event of the right day was taken)
    assert abs(night.sunset - datetime(2026, 1, 14, 16, 43, tzinfo=ZONE)) < timedelta(minutes=15)
    assert abs(night.sunrise - datetime(2026, 1, 15, 7, 40, tzinfo=ZONE)) < timedelta(minutes=15)


def test_in_polar_night_there_are_nights_without_sunset_or_sunrise():
    """Where the sun stays down a night still runs from noon to noon, and has no sun times."""
    night = night_of(date(2025, 12, 21), FAR_NORTH)

    assert night.sunset is None and night.sunrise is None
    assert night.begins == datetime(2025, 12, 21, 12, tzinfo=OSLO)
    assert [n.date.day for n in nights_from(datetime(2025, 12, 21, 14, tzinfo=OSLO), FAR_NORTH, 2)] == [21, 22]


def test_under_the_midnight_sun_there_are_no_sun_times_either():
    """Where the sun stays up sunset and sunrise are None, not some hour of their own making."""
    night = night_of(date(2026, 6, 21), FAR_NORTH)

    assert night.sunset is None and night.sunrise is None


@pytest.mark.parametrize(
    ("asked", "first"),
    [
        (datetime(2026, 1, 14, 14, 0, tzinfo=ZONE), date(2026, 1, 14)),
        (datetime(2026, 1, 14, 23, 30, tzinfo=ZONE), date(2026, 1, 14)),
        (datetime(2026, 1, 15, 3, 0, tzinfo=ZONE), date(2026, 1, 14)),  # the night that is on
        (datetime(2026, 1, 15, 5, 59, tzinfo=ZONE), date(2026, 1, 14)),
        (datetime(2026, 1, 15, 6, 0, tzinfo=ZONE), date(2026, 1, 15)),  # in the morning tonight is the evening to come
        (datetime(2026, 6, 15, 5, 30, tzinfo=ZONE), date(2026, 6, 15)),  # the sun is up: over
        (datetime(2026, 1, 15, 9, 0, tzinfo=ZONE), date(2026, 1, 15)),
        (datetime(2026, 1, 15, 12, 0, tzinfo=ZONE), date(2026, 1, 15)),
        (datetime(2026, 1, 15, 2, 0, tzinfo=UTC), date(2026, 1, 14)),  # three o'clock on the site's clock
        (datetime(2026, 3, 29, 3, 30, tzinfo=ZONE), date(2026, 3, 28)),  # just after the clocks went on
        (datetime(2026, 10, 25, 2, 30, tzinfo=ZONE, fold=1), date(2026, 10, 24)),  # the hour that comes twice
    ],
)
def test_the_coming_night_is_the_running_one_until_morning(asked: datetime, first: date):
    """Before six and before sunrise the running night is meant, from then on the next evening's."""
    nights = nights_from(asked, SITE, 3)

    assert [night.date for night in nights] == [first + timedelta(days=day) for day in range(3)]


def test_times_go_to_numpy_and_back_through_the_hour_that_comes_twice():
    """Both half past twos of the October night survive the way to UTC and back."""
    for fold in (0, 1):
        moment = datetime(2026, 10, 25, 2, 30, tzinfo=ZONE, fold=fold)

        back = from_utc64(utc64(moment), ZONE)

        assert back.astimezone(UTC) == moment.astimezone(UTC)
        assert back.fold == fold


def test_in_polar_night_the_running_night_is_not_skipped_before_morning():
    """Asked at three in the morning where no sun will rise, the night that is on still counts."""
    oslo = ZoneInfo("Europe/Oslo")
    north = site(latitude_deg=69.65, longitude_deg=18.96, time_zone="Europe/Oslo")

    first = nights_from(datetime(2026, 12, 15, 3, tzinfo=oslo), north, 2)[0]

    assert first.date == date(2026, 12, 14)
