"""What a person writes as the time of a question, and which moment it means."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from frostguard.asked_time import asked_time, is_reckoned, is_time
from frostguard.errors import FrostguardError

ZONE = ZoneInfo("Europe/Ljubljana")
TODAY = datetime(2026, 1, 14, 23, 30, tzinfo=UTC)  # half past midnight of the 15th on the site's clock


def test_a_time_alone_is_todays_on_the_sites_clock():
    """Whoever writes 18:30 means this evening, where the pots stand."""
    assert asked_time("18:30", ZONE, TODAY) == datetime(2026, 1, 15, 18, 30, tzinfo=ZONE)
    assert asked_time("18:30Z", ZONE, TODAY) == datetime(2026, 1, 15, 18, 30, tzinfo=UTC)


@pytest.mark.parametrize("written", ["18.30", "2026-01-15T18.30", "18:30", "1830"])
def test_a_point_parts_hours_from_minutes_too(written: str):
    """Half of Europe writes 18.30; the library would read it as 18:00."""
    assert asked_time(written, ZONE, TODAY) == datetime(2026, 1, 15, 18, 30, tzinfo=ZONE)
    assert asked_time("8.05", ZONE, TODAY) == datetime(2026, 1, 15, 8, 5, tzinfo=ZONE)


def test_years_beyond_the_reckoned_are_known_before_the_question():
    """A year of 2099 is a mistake of the call, as a time that is none."""
    assert not is_reckoned("2099-01-14T15:00") and is_reckoned("2026-01-14T15:00") and is_reckoned("15:00")


@pytest.mark.parametrize(
    "written",
    ["2026-12-02", "tonight", "", "2026-02-30T15:00", "25:00", "20261202", "18.75", "18,5", "18:30.5"],
)
def test_what_names_no_time_of_day_is_none(written: str):
    """A date alone would silently mean midnight, and so the night before."""
    assert not is_time(written)
    with pytest.raises(FrostguardError) as raised:
        asked_time(written, ZONE, TODAY)
    assert "15:00 for today" in raised.value.next_step


def test_an_hour_that_comes_twice_is_asked_back():
    """On 25 October 2026 clocks in Ljubljana go from three back to two (EU Directive 2000/84/EC)."""
    with pytest.raises(FrostguardError) as raised:
        asked_time("2026-10-25T02:30", ZONE, TODAY)

    assert "comes twice" in raised.value.message
    first, second = "2026-10-25T02:30+02:00", "2026-10-25T02:30+01:00"
    assert first in raised.value.next_step and second in raised.value.next_step
    assert asked_time(first, ZONE, TODAY) == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert asked_time(second, ZONE, TODAY) == datetime(2026, 10, 25, 1, 30, tzinfo=UTC)


def test_an_hour_that_is_left_out_is_told():
    """On 29 March 2026 clocks in Ljubljana go from two to three (EU Directive 2000/84/EC)."""
    with pytest.raises(FrostguardError) as raised:
        asked_time("2026-03-29T02:30", ZONE, TODAY)

    assert "left out" in raised.value.message and "2026-03-29T03:30" in raised.value.next_step
    assert asked_time("2026-03-29T03:30", ZONE, TODAY) == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)


@pytest.mark.parametrize("written", ["2026-03-29T01:59", "2026-03-29T03:00", "2026-10-25T01:59", "2026-10-25T03:00"])
def test_hours_beside_a_change_of_clocks_are_taken_as_written(written: str):
    """Only the hours that are doubled or missing are asked back."""
    assert asked_time(written, ZONE, TODAY).astimezone(ZONE).isoformat()[:16] == written
