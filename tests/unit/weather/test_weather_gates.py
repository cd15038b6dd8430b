"""Plausibility gates, nights on the local clock, gaps, and answers that are well-formed but old."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostguard.errors import ForecastFormatError
from frostguard.weather import gates
from frostguard.weather.series import HOUR, Provenance, Quality, WeatherSeries, series_on_hours

LJUBLJANA = "Europe/Ljubljana"
NOWHERE = Provenance("test", None, None, None, "", None, None, None)


def series_of(start: str = "2026-01-14T00:00:00", **columns: list[float]) -> WeatherSeries:
    n_hours = len(next(iter(columns.values())))
    times = np.datetime64(start, "s") + np.arange(n_hours) * HOUR
    filled = {"air_temperature_c": [0.0] * n_hours, **columns}
    return series_on_hours(times, {name: np.array(values) for name, values in filled.items()}, NOWHERE)


def test_every_column_has_its_bounds() -> None:
    """No column of the table can pass unchecked."""
    from frostguard.weather.series import COLUMNS

    assert set(gates.BOUNDS) == set(COLUMNS)


def test_a_hurricane_beyond_all_measure_is_missing_and_noted() -> None:
    """A mean wind of 1048 mph, as one real record holds, is rejected; the hour keeps its temperature."""
    series = gates.checked(series_of(wind_speed_10m_m_s=[5.0, 1048.36 * 0.44704, 6.0]), "test")
    assert np.isnan(series.values["wind_speed_10m_m_s"][0, 1])
    assert series.quality["wind_speed_10m_m_s"][0, 1] == Quality.MISSING
    assert series.values["air_temperature_c"][0, 1] == 0.0
    assert series.notes == ("values-rejected:wind_speed_10m_m_s:1",)


def test_humidity_a_little_outside_is_clamped_and_counted() -> None:
    """103 and -2 per cent become 100 and 0; 180 per cent is no humidity at all."""
    series = gates.checked(series_of(relative_humidity_percent=[103.0, -2.0, 180.0, 50.0]), "test")
    np.testing.assert_array_equal(series.values["relative_humidity_percent"][0], [100.0, 0.0, np.nan, 50.0])
    assert series.quality["relative_humidity_percent"][0].tolist() == [
        Quality.DERIVED,
        Quality.DERIVED,
        Quality.MISSING,
        Quality.GIVEN,
    ]
    assert set(series.notes) == {
        "values-clamped:relative_humidity_percent:2",
        "values-rejected:relative_humidity_percent:1",
    }


def test_dew_point_is_brought_down_to_the_air() -> None:
    """A dew point above the air temperature is set to it and counted."""
    series = gates.checked(series_of(air_temperature_c=[1.0, 2.0, 3.0], dew_point_c=[1.5, 2.0, -3.0]), "test")
    assert series.values["dew_point_c"][0].tolist() == [1.0, 2.0, -3.0]
    assert series.notes == ("dew-point-clamped:1",)


def test_gust_is_brought_up_to_the_mean_wind() -> None:
    """A gust below the mean wind is raised to it and counted."""
    series = gates.checked(series_of(wind_speed_10m_m_s=[5.0, 5.0], wind_gust_10m_m_s=[4.0, 9.0]), "test")
    assert series.values["wind_gust_10m_m_s"][0].tolist() == [5.0, 9.0]
    assert series.notes == ("gust-raised:1",)


def test_negative_night_radiation_of_an_instrument_is_zero() -> None:
    """A few watts below zero at night are set to zero; hundreds are no radiation."""
    series = gates.checked(series_of(global_horizontal_w_m2=[-4.0, 100.0, -400.0]), "test")
    np.testing.assert_array_equal(series.values["global_horizontal_w_m2"][0], [0.0, 100.0, np.nan])


def test_a_single_spike_is_missing() -> None:
    """One hour that stands 16 K off both its neighbours is rejected, up or down."""
    for spike in (17.0, -15.0):
        series = gates.checked(series_of(air_temperature_c=[1.0, 1.0, spike, 1.0, 1.0]), "test")
        np.testing.assert_array_equal(series.values["air_temperature_c"][0], [1.0, 1.0, np.nan, 1.0, 1.0])


def test_a_steep_but_possible_change_stays() -> None:
    """Fifteen kelvin within an hour is the edge and still taken."""
    series = gates.checked(series_of(air_temperature_c=[10.0, 10.0, -5.0, -5.0]), "test")
    assert series.notes == ()
    with pytest.raises(ForecastFormatError, match=r"leaps from 10\.0 to -5\.1"):
        gates.checked(series_of(air_temperature_c=[10.0, 10.0, -5.1, -5.1]), "test")


def test_few_impossible_temperatures_are_missing_many_mean_another_unit() -> None:
    """One value of 999 among forty is blanked; a tenth and more refuses the whole."""
    air = [1.0] * 40
    air[7] = 999.0
    assert np.isnan(gates.checked(series_of(air_temperature_c=air), "test").values["air_temperature_c"][0, 7])
    air[8:13] = [999.0] * 5
    with pytest.raises(ForecastFormatError, match="another one"):
        gates.checked(series_of(air_temperature_c=air), "test")


def test_ends_without_temperature_are_cut_off() -> None:
    """Leading and trailing hours without a temperature go, with their numbers in the notes."""
    nan = np.nan
    series = gates.checked(series_of(air_temperature_c=[nan, 1.0, nan, 2.0, nan, nan]), "test")
    np.testing.assert_array_equal(series.values["air_temperature_c"][0], [1.0, nan, 2.0])
    assert series.times[0] == np.datetime64("2026-01-14T01:00:00")
    assert set(series.notes) == {"head-missing:1", "tail-missing:2", "hours-missing:1"}


@given(
    st.lists(st.one_of(st.none(), st.floats(-1e4, 1e4)), min_size=1, max_size=30),
    st.sampled_from(sorted(set(gates.BOUNDS) - {"air_temperature_c"})),
)
def test_gates_leave_only_possible_values(numbers: list[float | None], column: str) -> None:
    """Whatever comes in, a column holds values within its bounds, or NaN coded missing."""
    values = [np.nan if number is None else number for number in numbers]
    series = gates.checked(series_of(**{column: values}), "test")
    array, bounds = series.values[column], gates.BOUNDS[column]
    given_values = array[~np.isnan(array)]
    assert np.all((given_values >= bounds.lowest) & (given_values <= bounds.highest))
    np.testing.assert_array_equal(series.quality[column] == Quality.MISSING, np.isnan(array))


@pytest.mark.parametrize(
    ("night", "hours"),
    [
        (date(2026, 1, 14), 24),
        (date(2026, 3, 28), 23),  # clocks go forward on 29 March
        (date(2025, 10, 25), 25),  # and back on 26 October
    ],
)
def test_a_night_runs_from_noon_to_noon_on_the_local_clock(night: date, hours: int) -> None:
    """A night has 24 hours, 23 when the clocks go forward, 25 when they go back."""
    begin, end = gates.night_window(night, LJUBLJANA)
    assert (end - begin) / HOUR == hours
    complete = series_of(str(begin + HOUR), air_temperature_c=[0.0] * hours)
    assert complete.times[-1] == end
    assert gates.night_is_complete(complete, night, LJUBLJANA)


def local(*parts: int) -> datetime:
    return datetime(*parts, tzinfo=ZoneInfo(LJUBLJANA))  # type: ignore[arg-type, misc]  # only whole numbers


def test_which_night_a_moment_belongs_to() -> None:
    """Noon begins a night; after midnight it is still yesterday's; in the morning the next one is meant."""
    assert gates.night_of(local(2026, 1, 14, 12, 0), LJUBLJANA) == date(2026, 1, 14)
    assert gates.night_of(local(2026, 1, 14, 11, 59), LJUBLJANA) == date(2026, 1, 13)
    assert gates.coming_night(local(2026, 1, 15, 2, 0), LJUBLJANA) == date(2026, 1, 14)
    assert gates.coming_night(local(2026, 1, 15, 9, 0), LJUBLJANA) == date(2026, 1, 15)
    assert gates.night_of(datetime(2026, 1, 14, 11, 30, tzinfo=UTC), LJUBLJANA) == date(2026, 1, 14)


def test_a_night_needs_twenty_hours_and_no_long_gap() -> None:
    """Four single hours may lack; five may not; nor may four on end, which can hide the coldest."""
    night = date(2026, 1, 14)
    begin, _ = gates.night_window(night, LJUBLJANA)

    def lacking(*hours: int) -> bool:
        air = [np.nan if hour in hours else 0.0 for hour in range(24)]
        return gates.night_is_complete(series_of(str(begin + HOUR), air_temperature_c=air), night, LJUBLJANA)

    assert lacking()
    assert lacking(2, 5, 8, 11)
    assert not lacking(2, 5, 8, 11, 14)
    assert lacking(15, 16, 17)
    assert not lacking(15, 16, 17, 18)
    assert not lacking(20, 21, 22, 23)


def test_of_a_night_that_has_begun_only_the_rest_counts() -> None:
    """Asked at 22:00 with a series from 22:00 on, the night is complete."""
    asked = local(2026, 1, 14, 22, 0)
    series = series_of("2026-01-14T21:00:00", air_temperature_c=[0.0] * 15)
    assert gates.night_is_complete(series, date(2026, 1, 14), LJUBLJANA, since=asked)
    assert not gates.night_is_complete(series, date(2026, 1, 14), LJUBLJANA)
    assert not gates.night_is_complete(series, date(2026, 1, 15), LJUBLJANA, since=asked)
