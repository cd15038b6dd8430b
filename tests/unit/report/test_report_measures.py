"""Numbers, times and chances as a person reads them."""

from __future__ import annotations

from datetime import UTC, date, datetime

import plans
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostguard.garden.settings import Units
from frostguard.report import measures

NBSP = "\u00a0"
METRIC, IMPERIAL = Units.METRIC, Units.IMPERIAL


def number(shown: str) -> float:
    """The number before the unit."""
    return float(shown.split(NBSP)[0])


@given(st.floats(-60, 60), st.sampled_from(Units))
def test_beside_a_limit_numbers_are_rounded_toward_danger(value_c, units):
    """A coldest value is never shown warmer than it is, a limit never colder."""
    exact = value_c * 1.8 + 32 if units is IMPERIAL else value_c
    assert number(measures.coldest(value_c, units)) <= exact + 1e-5
    assert number(measures.limit(value_c, units)) >= exact - 1e-5
    assert exact - number(measures.coldest(value_c, units)) < 0.1 + 1e-5
    assert number(measures.limit(value_c, units)) - exact < 0.1 + 1e-5


@given(st.floats(-60, 60), st.sampled_from(Units))
def test_a_temperature_reads_the_same_in_a_sentence_and_in_a_table(value_c, units):
    """One rounding for all: the number in a table is the one that stands with its unit elsewhere."""
    assert measures.coldest(value_c, units).split(NBSP)[0] == measures.coldest_number(value_c, units)
    assert measures.limit(value_c, units).split(NBSP)[0] == measures.limit_number(value_c, units)


def test_a_value_on_the_step_stays_there():
    """Binary noise does not push a round number to the next step."""
    assert measures.coldest(-3.0, METRIC) == f"-3.0{NBSP}°C"
    assert measures.limit(0.1 + 0.2, METRIC) == f"0.3{NBSP}°C"
    assert measures.coldest(0.0, IMPERIAL) == f"32.0{NBSP}°F"


def test_what_is_not_known_says_so():
    """A missing number is no crash and no "nan"."""
    nothing = float("nan")
    assert measures.coldest(nothing, METRIC) == "not known"
    assert measures.coldest_number(nothing, METRIC) == "-"
    assert measures.measured_number(nothing, IMPERIAL) == "-"
    assert measures.wind(nothing, METRIC) == "-"


def test_units_by_their_definitions():
    """Pounds, gallons, miles an hour and BTU follow their legal definitions."""
    # International avoirdupois pound 0.45359237 kg; US gallon 3.785411784 l; mile 1609.344 m;
    # International Table BTU 1055.05585262 J.
    assert measures.weight(45.359237, IMPERIAL) == f"100{NBSP}lb"
    assert measures.liquid(3.785411784, IMPERIAL) == "1 gallon (US)"
    assert measures.wind(0.44704 * 10, IMPERIAL) == "10.0"
    assert measures.energy(-105.505585262, IMPERIAL) == "-100"
    assert measures.difference(1.0, IMPERIAL) == f"1.8{NBSP}°F"


@pytest.mark.parametrize(
    ("minutes", "shown"), [(2.2, "3 min"), (89.0, "89 min"), (90.0, "1 h 30 min"), (124.5, "2 h 5 min")]
)
def test_minutes_are_rounded_up(minutes, shown):
    """Work is not made to look shorter than it is."""
    assert measures.minutes(minutes).replace(NBSP, " ") == shown


@pytest.mark.parametrize(
    ("share", "shown"),
    [
        (0.0, "less than 1 chance in 100"),
        (0.004, "less than 1 chance in 100"),
        (0.012, "about 1 chance in 50, 2 %"),
        (0.142, "about 1 chance in 7, 15 %"),
        (0.15, "about 1 chance in 7, 15 %"),
        (0.25, "about 1 chance in 4, 25 %"),
        (0.5, "an even chance, 50 %"),
        (0.66, "about 2 chances in 3, 66 %"),
        (0.801, "about 4 chances in 5, 81 %"),
        (0.951, "almost certain, 96 %"),
        (0.992, "almost certain, over 99 %"),
        (1.0, "almost certain, over 99 %"),
    ],
)
def test_a_chance_is_told_in_words_and_per_cent(share, shown):
    """The nearest plain fraction, and the per cent rounded up."""
    assert measures.chance(share).replace(NBSP, " ") == shown


@given(st.floats(0, 1), st.floats(0, 1))
def test_a_greater_chance_never_reads_smaller(one, other):
    """The fraction in words grows with the chance."""
    low, high = sorted((one, other))
    assert _fraction(measures.chance(low)) <= _fraction(measures.chance(high))


def test_deadlines_are_on_the_sites_clock():
    """A deadline given in UTC is told in local time, with its day where that is another one."""
    clock = measures.Clock("Europe/Ljubljana", plans.ASKED)

    assert clock.at(datetime(2026, 12, 2, 14, 50, tzinfo=UTC)) == "15:50"
    assert clock.at(datetime(2026, 12, 2, 23, 10, tzinfo=UTC)) == f"Thu{NBSP}00:10"
    assert clock.at(plans.at(12, days=9)) == f"Fri{NBSP}11{NBSP}Dec{NBSP}12:00"


def test_a_deadline_that_has_come_is_now():
    """Nothing is asked for "start by 14:00" of somebody who asks at half past two."""
    clock = measures.Clock("Europe/Ljubljana", plans.ASKED)

    assert clock.start_by(plans.at(14, 0)) == "now"
    assert clock.start_first_by(plans.ASKED, 2) == "now"
    assert clock.start_by(plans.at(14, 35)) == f"start by{NBSP}14:35".replace(" ", NBSP)
    assert clock.start_first_by(plans.at(14, 35), 2) == "start the first by 14:35"


def test_the_clock_change_moves_deadlines_with_it():
    """On the Sunday that summer time ends, 14:50 UTC is 15:50; the day before, it is 16:50."""
    clock = measures.Clock("Europe/Ljubljana", datetime(2026, 10, 24, 8, 0, tzinfo=UTC))

    assert clock.at(datetime(2026, 10, 24, 14, 50, tzinfo=UTC)) == "16:50"
    assert clock.at(datetime(2026, 10, 25, 14, 50, tzinfo=UTC)) == f"Sun{NBSP}15:50"


def test_days_within_the_week_go_by_their_weekday():
    """The weekday alone would mislead a week ahead or in the past."""
    clock = measures.Clock("Europe/Ljubljana", plans.ASKED)

    assert clock.day(date(2026, 12, 8)) == "Tue"
    assert clock.day(date(2026, 12, 9)) == "Wed 9 Dec"
    assert clock.day(date(2026, 12, 1)) == "Tue 1 Dec"


def test_what_is_to_spare_agrees_with_the_numbers_shown():
    """The words follow from the rounded numbers that stand beside them."""
    assert measures.to_spare(-1.2, -3.15, METRIC) == "about 1 degree to spare"  # shown as -1.2 and -3.1
    assert measures.to_spare(2.0, -3.0, METRIC) == "about 5 degrees to spare"
    assert measures.to_spare(-3.04, -3.12, METRIC) == "nothing to spare"  # shown as -3.1 and -3.1
    assert measures.to_spare(-2.4, -3.2, METRIC) == "hardly a degree to spare"
    assert measures.to_spare(-6.0, -3.0, METRIC) == "about 3 degrees too cold"
    assert measures.to_spare(15.0, -3.0, METRIC) == "at least 10 degrees to spare"


def _fraction(words: str) -> float:
    if words.startswith("less"):
        return 0.0
    if words.startswith("almost"):
        return 1.0
    if words.startswith("an even"):
        return 0.5
    parts = words.split(",")[0].split()
    return int(parts[1]) / int(parts[-1])


def test_a_limit_in_a_table_is_rounded_up_as_beside_its_unit():
    """The number without its unit is the one that stands with it elsewhere."""
    assert measures.limit_number(-12.22, Units.METRIC) == "-12.2"
    assert measures.limit(-12.22, Units.METRIC).split()[0] == "-12.2"
    assert measures.limit_number(-0.04, Units.METRIC) == "0.0"


def test_planting_depth_is_in_whole_inches_for_imperial_readers():
    """15 to 25 cm are 6 to 10 inches."""
    assert measures.planting_depth(15.0, 25.0, Units.METRIC) == "15 to 25 cm".replace(" ", "\u00a0")
    assert measures.planting_depth(15.0, 25.0, Units.IMPERIAL) == "6 to 10 inches".replace(" ", "\u00a0")
