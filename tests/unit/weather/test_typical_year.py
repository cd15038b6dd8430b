"""Typical years: EPW and TMY3 on one year, in UTC, with their codes for what is missing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from frostguard.errors import ForecastFormatError
from frostguard.weather.files import load_weather, parse_weather
from frostguard.weather.series import Quality, WeatherSeries
from tests.unit.weather.payloads import epw_text, tmy3_text


def parsed(text: str, year: int | None = None) -> WeatherSeries:
    return parse_weather(text.encode(), "the file", year=year)


@pytest.fixture(scope="module")
def epw() -> WeatherSeries:
    """The whole invented EPW year."""
    return parsed(epw_text())


def test_months_of_different_years_are_put_on_one(epw: WeatherSeries) -> None:
    """January 2003 and February 1996 follow one another; the year is told."""
    assert epw.n_hours == 8760 and "typical-year:2003" in epw.notes
    assert epw.times[0] == np.datetime64("2003-01-01T00:00:00")  # hour 1 ends at 1:00 local, UTC+1
    assert epw.times[-1] == np.datetime64("2003-12-31T23:00:00")
    assert np.all(np.diff(epw.times) == np.timedelta64(3600, "s"))


def test_rows_are_the_ends_of_their_hours(epw: WeatherSeries) -> None:
    """The row of hour 14 holds the sun of 13:00 to 14:00 local and the temperature at its end."""
    sun = epw.values["global_horizontal_w_m2"][0]
    assert sun[9 - 1] == 0 and sun[10 - 1] == 150  # rows begin at 9:00 and 10:00 local: index hour - 1
    assert epw.values["air_temperature_c"][0, 13] == 3.0  # row of hour 14


def test_units_become_ours(epw: WeatherSeries) -> None:
    """Pascal, tenths and centimetres; the long-wave of the sky is taken from its column."""
    expected = {
        "pressure_hpa": 980.4, "cloud_cover_percent": 10.0, "snow_depth_m": 0.02, "sky_longwave_w_m2": 255.0,
        "wind_speed_10m_m_s": 1.5, "relative_humidity_percent": 86.0, "precipitation_mm": 0.3,
    }  # fmt: skip
    for column, value in expected.items():
        np.testing.assert_allclose(epw.values[column], value)


def test_codes_for_missing_values_are_missing() -> None:
    """99.9 degC, 9999 W/m2 and anything above are unknown (EPW data dictionary); so is an empty field."""
    lines = epw_text(days=2).splitlines()
    fields = lines[20].split(",")
    fields[6], fields[7], fields[12], fields[22] = "99.9", "", "9999.", "99"
    lines[20] = ",".join(fields)
    series = parsed("\n".join(lines))
    for column in ("air_temperature_c", "dew_point_c", "sky_longwave_w_m2", "cloud_cover_percent"):
        assert np.isnan(series.values[column][0, 12]) and not np.isnan(series.values[column][0, 13])


def test_a_year_can_be_asked_for() -> None:
    """On a leap year 28 February stands twice, flagged; on another a file's 29 February is left out."""
    leap = parsed(epw_text(), year=2028)
    assert leap.n_hours == 8784 and "typical-year:2028" in leap.notes
    day = (np.datetime64("2028-02-29T12:00:00") - leap.times[0]) // np.timedelta64(3600, "s")
    assert leap.quality["air_temperature_c"][0, day] == Quality.FILLED
    assert leap.values["air_temperature_c"][0, day] == leap.values["air_temperature_c"][0, day - 24]
    assert parsed(epw_text(), year=2027).n_hours == 8760


def test_a_zone_of_half_an_hour_keeps_whole_hours() -> None:
    """Hours at UTC+5:30 begin at half past in UTC; they are put on the whole hour before."""
    series = parsed(epw_text(days=30, offset=5.5))
    assert series.times[0] == np.datetime64("2002-12-31T19:00:00") and series.n_hours == 720


def test_tmy3_reads_its_own_columns() -> None:
    """Names decide, not places; -9900 is unknown; Eastern time becomes UTC."""
    series = parsed(tmy3_text())
    assert series.n_hours == 8760 and series.times[0] == np.datetime64("2003-01-01T06:00:00")
    assert "precipitation_mm" not in series.values and series.values["pressure_hpa"][0, 0] == 980.0
    assert series.values["air_temperature_c"][0, 13] == 3.0
    assert (series.provenance.latitude_deg, series.provenance.longitude_deg) == (30.0, -85.0)
    assert series.provenance.model == "TMY3"


Break = Callable[[list[str]], None]


def _cut_heading(lines: list[str]) -> None:
    lines[0] = "LOCATION,Town,-,SVN"


def _off_earth(lines: list[str]) -> None:
    lines[0] = lines[0].replace("46.05", "146.05")


def _short_row(lines: list[str]) -> None:
    lines[20] = "2003,1,1,13,60"


def _text_in_row(lines: list[str]) -> None:
    lines[20] = lines[20].replace(",86,", ",damp,")


def _no_such_day(lines: list[str]) -> None:
    lines[20] = lines[20].replace("2003,1,1,", "2003,2,30,")


def _row_twice(lines: list[str]) -> None:
    lines[20] = lines[19]


def _few_rows(lines: list[str]) -> None:
    del lines[20:]


@pytest.mark.parametrize(
    ("break_it", "sentence"),
    [
        (_cut_heading, "line 1: the LOCATION line is cut off"),
        (_off_earth, "line 1: no place on Earth"),
        (_short_row, "line 21: the row has 5 fields where 35"),
        (_text_in_row, "line 21: the row has 'damp' where a number"),
        (_no_such_day, "line 21: the row names a date or hour that no calendar has"),
        (_row_twice, "line 21: the row is not later"),
        (_few_rows, "has 12 hours; a typical year has 8760"),
    ],
)
def test_each_faulty_epw_is_told_with_its_line(break_it: Break, sentence: str) -> None:
    """Heading, length, numbers, dates and order."""
    lines = epw_text(days=3).splitlines()
    break_it(lines)
    with pytest.raises(ForecastFormatError, match=sentence):
        parsed("\n".join(lines))


def test_a_file_in_an_older_encoding_is_read(tmp_path: Path) -> None:
    """A station's name in Latin-1 is no reason to refuse the year."""
    path = tmp_path / "year.dat"
    path.write_bytes(epw_text(days=30).replace("Terrace Town", "Škofja".replace("Š", "\xe9")).encode("latin-1"))
    assert load_weather(path).n_hours == 720
