"""The canonical table: gapless hours, members, selections."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from frostguard.weather.series import (
    MAX_HOURS,
    Provenance,
    Quality,
    WeatherSeries,
    series_on_hours,
    utc_hour,
    with_notes,
)
from tests.unit.weather.parts import select_hours, stack_members

NOWHERE = Provenance("test", None, None, None, "", None, None, None)


def at_hours(hours: list[int], air: list[float], start: str = "2026-01-14T00:00:00") -> WeatherSeries:
    times = np.datetime64(start, "s") + np.array(hours) * np.timedelta64(3600, "s")
    return series_on_hours(times, {"air_temperature_c": np.array(air)}, NOWHERE)


def test_hours_that_no_row_gives_are_missing_not_zero() -> None:
    """A gap in the rows becomes hours of NaN that are coded missing."""
    series = at_hours([0, 1, 4], [1.0, 0.0, -2.0])
    assert series.n_hours == 5
    np.testing.assert_array_equal(series.values["air_temperature_c"][0], [1.0, 0.0, np.nan, np.nan, -2.0])
    missing = series.quality["air_temperature_c"][0] == Quality.MISSING
    np.testing.assert_array_equal(missing, [False, False, True, True, False])
    assert np.all(np.diff(series.times) == np.timedelta64(3600, "s"))


@pytest.mark.parametrize("hours", [[0, 0], [1, 0]])
def test_times_must_rise(hours: list[int]) -> None:
    """Rows that stand twice or go back are a mistake of the reader, which has to catch them first."""
    with pytest.raises(ValueError, match="rise"):
        at_hours(hours, [1.0, 2.0])


def test_half_hours_are_refused() -> None:
    """A series lives on whole hours."""
    with pytest.raises(ValueError, match="whole"):
        at_hours([0], [1.0], start="2026-01-14T00:30:00")


def test_a_wrong_year_does_not_fill_the_memory() -> None:
    """Two rows centuries apart are refused instead of filled with millions of hours."""
    with pytest.raises(ValueError, match="more than"):
        at_hours([0, MAX_HOURS], [1.0, 2.0])


def test_selecting_hours_keeps_both_ends() -> None:
    """A selection holds its first and its last hour."""
    series = at_hours([0, 1, 2, 3], [1.0, 2.0, 3.0, 4.0])
    part = select_hours(series, series.times[1], series.times[2])
    np.testing.assert_array_equal(part.values["air_temperature_c"][0], [2.0, 3.0])
    with pytest.raises(ValueError, match="no hour"):
        select_hours(series, np.datetime64("2030-01-01", "s"), np.datetime64("2030-01-02", "s"))


def test_stacked_series_become_members_and_tables() -> None:
    """Two series over the same hours make two members, each readable as a table in UTC."""
    both = stack_members([at_hours([0, 1], [1.0, 2.0]), at_hours([0, 1], [-1.0, -2.0])])
    assert both.n_members == 2
    tables = both.members
    assert list(tables[1]["air_temperature_c"]) == [-1.0, -2.0]
    assert str(tables[0].index.tz) == "UTC" and tables[0].index[0].hour == 0
    with pytest.raises(ValueError, match="share"):
        stack_members([at_hours([0, 1], [1.0, 2.0]), at_hours([0, 1, 2], [1.0, 2.0, 3.0])])


def test_moments_are_compared_in_utc() -> None:
    """A local time is turned into the UTC hour it is; a time without zone is refused."""
    local = datetime(2026, 1, 14, 15, tzinfo=ZoneInfo("Europe/Ljubljana"))
    assert (
        utc_hour(local)
        == utc_hour(datetime(2026, 1, 14, 14, tzinfo=UTC))
        == np.datetime64("2026-01-14T14:00:00")
    )
    with pytest.raises(ValueError, match="zone"):
        utc_hour(datetime(2026, 1, 14, 15))


def test_a_note_stands_once() -> None:
    """Notes do not pile up when the same thing is noted again."""
    series = with_notes(with_notes(at_hours([0], [1.0]), "a", "b"), "b", "c")
    assert series.notes == ("a", "b", "c")
