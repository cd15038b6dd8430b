"""Logger exports of many shapes, all invented."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from frostguard.errors import TuningFailed
from frostguard.tuning.export_file import Clock, DateOrder, Kind, Unit, parse_export

ZONE = "Europe/Ljubljana"


def test_semicolons_decimal_commas_and_two_heading_lines():
    """A European export with a byte-order mark is read on the site's clock."""
    text = "\ufeffDevice;probe A\nTime;Temperature (°C)\n14.01.2026 06:00;-3,5\n14.01.2026 07:00;-4,0\n"
    found = parse_export(text.encode(), ZONE)
    (column,) = found.columns
    assert column.temperature_c == (-3.5, -4.0)
    assert column.times[0].astimezone(UTC) == datetime(2026, 1, 14, 5, tzinfo=UTC)
    assert (found.clock, found.clock_given, found.decimal_comma) == (Clock.LOCAL, False, True)


def test_fahrenheit_twelve_hour_clock_and_other_columns():
    """Fahrenheit in the heading, month first, a.m. and p.m.; humidity and dew point are no thermometers."""
    text = "Date,Time,Temp (°F),RH (%),Dew Point (°F)\n01/14/2026,11:00 PM,32.0,80,25\n01/15/2026,12:00 AM,23.0,82,20\n"
    found = parse_export(text.encode("cp1252"), ZONE)
    (column,) = found.columns
    assert column.unit is Unit.FAHRENHEIT and found.order is DateOrder.MONTH_FIRST
    assert column.temperature_c == pytest.approx((0.0, -5.0))
    assert column.times[1].hour == 0 and column.times[1].day == 15


def test_utc_minima_and_maxima_by_tab():
    """A heading that says UTC sets the clock; lowest and highest are told apart."""
    text = "Time (UTC)\tmin °C\tmax °C\n2026-01-14 08:00\t-5.0\t2.0\n2026-01-15 08:00\t-6.5\t1.0\n"
    found = parse_export(text.encode("utf-16"), ZONE)
    assert [column.kind for column in found.columns] == [Kind.LOWEST, Kind.HIGHEST]
    assert found.clock is Clock.UTC and found.columns[0].times[0] == datetime(2026, 1, 14, 8, tzinfo=UTC)


def test_a_logger_that_knows_no_summer_time():
    """ "GMT+01:00" in the heading holds in summer as well, when the site's own clock is an hour on."""
    text = b'"Plot"\n"#","Date Time, GMT+01:00","Temp, \xc2\xb0C"\n1,2025-10-20 06:00,1.0\n2,2025-12-20 06:00,2.0\n'
    found = parse_export(text, ZONE)
    assert [one.astimezone(UTC).hour for one in found.columns[0].times] == [5, 5] and found.clock_given
    assert [one.astimezone(UTC).hour for one in parse_export(text, ZONE, clock=Clock.LOCAL).columns[0].times] == [4, 5]


@pytest.mark.parametrize(
    ("cell", "celsius"), [("23,0 \u00b0F", -5.0), ("-1,5 \u00b0C", -1.5), ("23,0F", -5.0), ("-1,5 C", -1.5)]
)
def test_the_unit_may_stand_in_every_cell(cell, celsius):
    """Some write it behind each number."""
    found = parse_export(f"Zeit;Wert\n14.01.2026 06:00;{cell}\n14.01.2026 07:00;{cell}\n".encode(), ZONE)
    assert found.columns[0].temperature_c == pytest.approx((celsius, celsius))


def test_day_and_month_that_cannot_be_told_apart_are_asked():
    """01/02 may be either: nothing is guessed, and the person's word settles it."""
    text = b"time,t\n01/02/2026 06:00,1.0\n02/02/2026 06:00,2.0\n"
    with pytest.raises(TuningFailed) as caught:
        parse_export(text, ZONE)
    assert "--dates" in caught.value.next_step
    assert parse_export(text, ZONE, order=DateOrder.DAY_FIRST).columns[0].times[0].month == 2


def test_the_hour_that_comes_twice():
    """When clocks go back, the second pass of the hour is an hour later."""
    text = b"time,t\n2025-10-26 02:00,1.0\n2025-10-26 02:30,1.0\n2025-10-26 02:00,1.0\n2025-10-26 02:30,1.0\n"
    stamps = [time.timestamp() for time in parse_export(text, ZONE).columns[0].times]
    assert [later - stamps[0] for later in stamps] == [0, 1800, 3600, 5400]


@pytest.mark.parametrize("data", [b"", b"hello", b"a,b\n1,2\n", b"\0\1\2" * 50, b"x" * 20_000_001])
def test_what_is_no_table_of_temperatures_is_refused(data):
    """Every other file ends in one sentence, never in a traceback."""
    with pytest.raises(TuningFailed):
        parse_export(data, ZONE)


def test_the_same_logger_is_known_again():
    """The layout's code depends on the headings, not on the numbers."""
    one = parse_export(b"time,probe\n2026-01-14 06:00,1.0\n", ZONE)
    other = parse_export(b"time,probe\n2026-02-14 06:00,3.0\n2026-02-14 07:00,4.0\n", ZONE)
    assert one.layout == other.layout != parse_export(b"time,air\n2026-01-14 06:00,1.0\n", ZONE).layout
