"""A whole winter planned by the real planner, through the real scheduler: an invented one, and one as measured.

The engine runs with few cells and hourly steps; what is tested is that every night comes to an end, that nothing
is said twice and that it rings seldom, not a tenth of a kelvin. Some ten minutes of one core with the compiled
engine (`frostguard warm-up`), three times that without.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from frostguard.logbook import nights
from frostguard.logbook.nights import Outcome
from frostguard.weather.series import WeatherSeries
from tests.e2e.winters import PlannedWinter, invented_winter, measured_winter
from tests.unit.advice.terraces import simulate_coarsely
from tests.unit.watch.driven import live
from tests.unit.watch.test_watch_winter import assert_sound, rings_in_mild_weeks

AT_MOST_A_WEEK = 3.0


def lived(
    folder: Path, weather: WeatherSeries, first: date, last: date, capsys: pytest.CaptureFixture[str]
) -> PlannedWinter:
    """The station after these nights, which must have been sound."""
    station = PlannedWinter(folder, weather_truth=weather)
    with pytest.MonkeyPatch.context() as patch:
        simulate_coarsely(patch)
        live(station, first, last)
    assert_sound(station, first, last)
    average = rings_in_mild_weeks(station, first, last)
    rang = sum(notice.interrupts for notice in station.ears[0].heard)
    with capsys.disabled():
        print(
            f"\n{weather.provenance.model}, {first} to {last}: {len(station.ears[0].heard)} messages, {rang} rang, "
            f"{average:.2f} a mild week, {station.taken_back} covers taken off when told"
        )
    assert average <= AT_MOST_A_WEEK
    return station


@pytest.mark.long
def test_an_invented_winter_from_october_to_april(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every night ends in exactly one way, and outside hard frost it rings thrice a week at most."""
    lived(tmp_path, invented_winter(1), date(2026, 10, 1), date(2027, 4, 30), capsys)


@pytest.mark.long
@pytest.mark.data
@pytest.mark.parametrize(("first", "last"), [((1, 11), (4, 30)), ((10, 1), (12, 20))])
def test_the_winter_of_new_york_in_2013(
    tmp_path: Path, first: tuple[int, int], last: tuple[int, int], capsys: pytest.CaptureFixture[str]
) -> None:
    """As measured hour by hour at JFK, six windy days of hard frost and all."""
    lived(tmp_path, measured_winter(), date(2013, *first), date(2013, *last), capsys)


@pytest.mark.data
def test_three_real_nights_of_hard_frost(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """21 to 23 January 2013, the coldest of that winter: jobs are told each evening."""
    first, last = date(2013, 1, 21), date(2013, 1, 23)
    station = PlannedWinter(tmp_path, weather_truth=measured_winter())
    with pytest.MonkeyPatch.context() as patch:
        simulate_coarsely(patch)
        live(station, first, last)
    with station.book() as book:
        ended = nights.outcomes(book, first)
    assert set(ended.values()) == {Outcome.PLAN_SENT}
