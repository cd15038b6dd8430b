"""Nights of clock changes, the far side of the world, and places where the sun does not rise or set.

A garden of three pots, and weather of one frosty night between mild ones: the frost must be found in the
night that it is in, and every time must be right on the clock of the place.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from tests.e2e.command import Reply, frostguard

Ask = Callable[..., "Evening"]

MILD_C, FROST_C = 12.0, -4.0


@dataclass(frozen=True, slots=True)
class Place:
    """An invented terrace somewhere on earth."""

    latitude_deg: float
    longitude_deg: float
    time_zone: str

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)


LJUBLJANA = Place(46.05, 14.51, "Europe/Ljubljana")
SOUTH = Place(-45.9, 170.5, "Pacific/Auckland")  # twelve and thirteen hours before Greenwich
FAR_NORTH = Place(69.65, 18.96, "Europe/Oslo")
WEST = Place(49.3, -123.1, "America/Vancouver")


@dataclass(frozen=True, slots=True)
class Evening:
    """What the command says, and the place that it says it for."""

    place: Place
    text: Reply
    data: dict[str, Any]

    @property
    def nights(self) -> list[date]:
        return [date.fromisoformat(night["date"]) for night in self.data["nights"]]

    @property
    def frosty(self) -> list[date]:
        """Nights whose coldest air is below zero."""
        return [date.fromisoformat(n["date"]) for n in self.data["nights"] if n["coldest_air_c"] < 0.0]

    @property
    def starts(self) -> list[datetime]:
        return [datetime.fromisoformat(job["start_by"]) for job in self.data["jobs"]]


def weather_text(place: Place, asked: date, frosty_evening: date, *, ahead: int = 4) -> str:
    """Hourly weather from four days before `asked`: mild days, and frost from 21:00 to 9:00 of one night.

    Frost comes and goes within an hour or two, so that an error of an hour on the clock would show.
    """
    begin = datetime.combine(asked - timedelta(days=4), time(0), place.zone)
    hours = (ahead + 5) * 24
    frost_begins = datetime.combine(frosty_evening, time(21), place.zone).timestamp()
    frost_ends = datetime.combine(frosty_evening + timedelta(days=1), time(9), place.zone).timestamp()
    first = np.datetime64(int(begin.timestamp()), "s")
    moments = first + np.arange(hours) * np.timedelta64(3600, "s")
    seconds = moments.astype("int64").astype(float)
    knots = [frost_begins - 14_400, frost_begins, frost_ends, frost_ends + 7_200]
    air = np.interp(seconds, knots, [MILD_C, FROST_C, FROST_C, MILD_C])
    rows = [
        f"{moment}Z,{value:.2f},{value - 3.0:.2f},1.5,20\n" for moment, value in zip(moments, air, strict=True)
    ]
    head = "time,air_temperature_c,dew_point_c,wind_speed_10m_m_s,cloud_cover_percent\n"
    return head + "".join(rows)


@pytest.fixture
def ask(tmp_path: Path) -> Callable[..., Evening]:
    """Asks about a place whose frosty night begins on a given evening."""

    def asked_at(place: Place, at: str, frosty_evening: date, days: int = 3) -> Evening:
        garden = tmp_path / "garden.yaml"
        garden.write_text(
            f"site: {{latitude: {place.latitude_deg}, longitude: {place.longitude_deg}, elevation_m: 20, "
            f"time_zone: {place.time_zone}}}\n"
            "spots:\n  - name: terrace\n  - name: shed\n    room: unheated\n    free_floor_m2: 2\n"
            "pots:\n"
            "  - {id: pelargonium, plant: pelargonium, material: plastic, volume_l: 3, spot: terrace}\n"
            "  - {id: box, plant: box, material: terracotta, volume_l: 20, spot: terrace}\n"
            "  - {id: rosemary, plant: rosemary, material: plastic, volume_l: 4, spot: terrace}\n",
            encoding="utf-8",
        )
        weather = tmp_path / "weather.csv"
        weather.write_text(
            weather_text(place, datetime.fromisoformat(at).date(), frosty_evening, ahead=days + 1),
            encoding="utf-8",
        )
        call = ("tonight", "--garden", garden, "--weather", weather, "--at", at, "--days", str(days))
        data = frostguard(*call, "--json")
        assert data.exit_code in (0, 3) and data.stderr == ""
        return Evening(place, data, data.data)

    return asked_at


def offsets_h(starts: list[datetime]) -> set[float]:
    return {start.utcoffset() / timedelta(hours=1) for start in starts}  # type: ignore[operator]


SPRING, AUTUMN = date(2026, 3, 29), date(2026, 10, 25)
"""The clocks go forward at 2:00 and back at 3:00 on these mornings in Ljubljana."""


@pytest.mark.parametrize(("changed", "before_h", "after_h"), [(SPRING, 1.0, 2.0), (AUTUMN, 2.0, 1.0)])
def test_the_night_of_the_change_is_one_night(ask: Ask, changed: date, before_h: float, after_h: float) -> None:
    """Twenty-three or twenty-five hours long, it is asked for, dated and left like any other."""
    eve = changed - timedelta(days=1)
    evening = ask(LJUBLJANA, f"{eve}T15:00", eve)

    assert evening.data["night"] == str(eve)
    assert evening.nights == [eve, changed, changed + timedelta(days=1)]  # none twice, none left out
    assert evening.frosty == [eve]
    assert evening.text.exit_code == 3 and evening.starts
    sunset = datetime.fromisoformat(evening.data["sunset"])
    for start in evening.starts:
        assert datetime.combine(eve, time(15), LJUBLJANA.zone) <= start <= sunset
    # before the change on the old clock, and undone the next morning on the new one
    assert offsets_h(evening.starts) == {before_h}
    undone = [datetime.fromisoformat(j["undo_after"]) for j in evening.data["jobs"] if j["undo_after"]]
    assert undone and offsets_h(undone) == {after_h}


@pytest.mark.parametrize("changed", [SPRING, AUTUMN])
def test_the_evening_after_the_change_is_on_the_new_clock(ask: Ask, changed: date) -> None:
    """Sunset and deadlines jump by the hour that the clocks jumped; the sun does not."""
    eve = changed - timedelta(days=1)
    old, new = (ask(LJUBLJANA, f"{day}T14:00", day) for day in (eve, changed))

    sunsets = [datetime.fromisoformat(evening.data["sunset"]) for evening in (old, new)]
    a_day = (sunsets[1] - sunsets[0]) / timedelta(hours=1)  # aware: true hours
    assert a_day == pytest.approx(24.0, abs=0.05)
    on_the_clock = [sunset.hour + sunset.minute / 60 for sunset in sunsets]
    assert on_the_clock[1] - on_the_clock[0] == pytest.approx(1.0 if changed == SPRING else -1.0, abs=0.06)
    assert new.frosty == [changed] and new.starts
    assert all(start.date() == changed and start <= sunsets[1] for start in new.starts)


@pytest.mark.parametrize("at", ["2026-03-29T03:30", "2026-10-25T02:30+02:00", "2026-10-25T02:30+01:00"])
def test_an_hour_beside_the_change_is_still_an_hour_of_that_night(ask: Ask, at: str) -> None:
    """Asked in the small hours of the change, the night is the one that began the evening before.

    An hour that comes twice is told apart by its zone; without one it is asked back.
    """
    eve = date.fromisoformat(at[:10]) - timedelta(days=1)
    evening = ask(LJUBLJANA, at, eve, days=2)

    assert evening.data["night"] == str(eve)
    asked = datetime.fromisoformat(evening.data["issued_at"])
    assert all(start >= asked - timedelta(minutes=5) for start in evening.starts)


@pytest.mark.parametrize("days_before", [0, 1, 2])
def test_the_frost_is_counted_to_its_own_night_from_afar(ask: Ask, days_before: int) -> None:
    """Seen from up to two days before, the frost of the night of the change stays in that night."""
    eve = AUTUMN - timedelta(days=1)
    evening = ask(LJUBLJANA, f"{eve - timedelta(days=days_before)}T12:30", eve, days=4)

    assert evening.frosty == [eve]


def test_in_the_southern_winter_july_is_cold(ask: Ask) -> None:
    """At 46 degrees south the sun sets about five in July; the date is that of the place, not of Greenwich."""
    day = date(2026, 7, 14)
    evening = ask(SOUTH, f"{day}T14:30", day)

    assert evening.data["night"] == str(day) and evening.frosty == [day]
    sunset = datetime.fromisoformat(evening.data["sunset"])
    assert (sunset.date(), sunset.utcoffset()) == (day, timedelta(hours=12))
    assert 16.8 < sunset.hour + sunset.minute / 60 < 17.6
    assert evening.text.exit_code == 3 and all(start <= sunset for start in evening.starts)


def test_a_hardy_shrub_is_as_hard_in_the_southern_july_as_in_the_northern_january(ask: Ask) -> None:
    """Half a year apart, the same weather meets the same limits, for the season is the place's own."""

    def limits(evening: Evening) -> dict[str, float]:
        (box,) = (pot for pot in evening.data["pots"] if pot["id"] == "box")
        return {tissue["tissue"]: tissue["limit_c"] for tissue in box["tissues"]}

    north_winter = limits(ask(LJUBLJANA, "2026-01-14T14:30", date(2026, 1, 14), days=1))
    south_winter = limits(ask(SOUTH, "2026-07-14T14:30", date(2026, 7, 14), days=1))
    south_summer = limits(ask(SOUTH, "2026-01-14T14:30", date(2026, 1, 14), days=1))

    assert south_winter == pytest.approx(north_winter, abs=0.5)
    assert south_summer["leaf"] > south_winter["leaf"] + 5.0


def test_the_southern_clocks_change_the_other_way(ask: Ask) -> None:
    """On 27 September 2026 the clocks of New Zealand go forward: the night before is short by an hour."""
    eve = date(2026, 9, 26)
    evening = ask(SOUTH, f"{eve}T15:00", eve)

    assert evening.nights == [eve + timedelta(days=k) for k in range(3)] and evening.frosty == [eve]
    assert offsets_h(evening.starts) == {12.0}
    undone = [datetime.fromisoformat(j["undo_after"]) for j in evening.data["jobs"] if j["undo_after"]]
    assert undone and offsets_h(undone) == {13.0}


def test_west_of_greenwich_the_evening_is_the_days_own(ask: Ask) -> None:
    """At four in the afternoon it is tomorrow in Greenwich, and still tonight on the terrace."""
    day = date(2026, 1, 14)
    evening = ask(WEST, f"{day}T15:30", day)

    assert evening.data["night"] == str(day) and evening.frosty == [day]
    assert all(start.date() == day for start in evening.starts)
    assert offsets_h(evening.starts) == {-8.0}


def test_where_the_sun_does_not_rise_the_evening_still_has_an_end(ask: Ask) -> None:
    """In the polar night there is no sunset to be ready by: deadlines are in the afternoon, not missing."""
    day = date(2026, 12, 15)
    evening = ask(FAR_NORTH, f"{day}T14:00", day)

    assert evening.data["sunset"] is None
    assert evening.nights == [day + timedelta(days=k) for k in range(3)] and evening.frosty == [day]
    assert evening.text.exit_code == 3 and evening.starts
    for start in evening.starts:
        assert start.date() == day and 14 <= start.hour < 20


def test_where_the_sun_does_not_set_a_cold_night_is_found(ask: Ask) -> None:
    """At midsummer in the far north a late frost is told with a deadline, without a sunset."""
    day = date(2026, 6, 10)
    evening = ask(FAR_NORTH, f"{day}T14:00", day)

    assert evening.data["sunset"] is None and evening.frosty == [day]
    assert evening.text.exit_code == 3 and all(start.date() == day for start in evening.starts)


@pytest.mark.parametrize(
    ("place", "day"), [(FAR_NORTH, date(2026, 12, 15)), (SOUTH, date(2026, 7, 14)), (LJUBLJANA, SPRING)]
)
def test_the_text_stands_on_the_same_clock_as_the_data(
    ask: Ask, tmp_path: Path, place: Place, day: date
) -> None:
    """What the person reads as a deadline is the local time of the data."""
    evening = ask(place, f"{day}T14:00", day)
    text = frostguard(
        "tonight",
        "--garden",
        tmp_path / "garden.yaml",
        "--weather",
        tmp_path / "weather.csv",
        "--at",
        f"{day}T14:00",
        "--days",
        "3",
    )

    assert text.exit_code == 3
    assert f"asked {day:%a} {day.day} {day:%b} 14:00" in text.unfolded
    for start in evening.starts:
        assert f"by {start:%H:%M}" in text.unfolded
