"""The canonical CSV: what reads, what is told about what does not."""

from __future__ import annotations

import random
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from frostguard.errors import ForecastFormatError
from frostguard.weather.csv_file import parse_weather_csv, weather_csv, write_weather_csv
from frostguard.weather.series import Quality, WeatherSeries

GOOD = """\
# service: garden station
# model: thermometer on the railing
# issued: 2026-01-14T15:00:00+01:00
# latitude: 46.05
# longitude: 14.51
# elevation: 298
# just a remark, with: a colon
time,air_temperature_c,dew_point_c,wind_speed_10m_m_s
2026-01-14T14:00:00Z,1.5,-2.0,1.2
2026-01-14T15:00:00Z,0.9,,1.0
2026-01-14T18:00:00Z,-0.4,-2.5,nan
"""


def parsed(text: str) -> WeatherSeries:
    return parse_weather_csv(text.encode(), "weather.csv")


def refusal(text: str | bytes) -> ForecastFormatError:
    body = text if isinstance(text, bytes) else text.encode()
    with pytest.raises(ForecastFormatError) as caught:
        parse_weather_csv(body, "weather.csv")
    assert caught.value.next_step.endswith(".")
    return caught.value


def test_a_plain_file_reads_with_its_heading() -> None:
    """Values, gaps, empty fields and the heading arrive as written."""
    series = parsed(GOOD)
    assert series.n_hours == 5 and series.n_members == 1
    np.testing.assert_array_equal(series.values["air_temperature_c"][0], [1.5, 0.9, np.nan, np.nan, -0.4])
    np.testing.assert_array_equal(series.values["wind_speed_10m_m_s"][0], [1.2, 1.0, np.nan, np.nan, np.nan])
    assert series.quality["dew_point_c"][0].tolist() == [
        Quality.GIVEN, Quality.MISSING, Quality.MISSING, Quality.MISSING, Quality.GIVEN
    ]  # fmt: skip
    assert series.notes == ("hours-missing:2",)
    source = series.provenance
    assert (source.service, source.model) == ("garden station", "thermometer on the railing")
    assert source.issued == datetime(2026, 1, 14, 14, tzinfo=UTC) and source.fetched is None
    assert (source.latitude_deg, source.longitude_deg, source.elevation_m) == (46.05, 14.51, 298.0)
    assert not source.from_store


@pytest.mark.parametrize(
    "text",
    [
        "\ufeff" + GOOD,
        GOOD.replace("\n", "\r\n"),
        GOOD.replace("Z,", "+00:00,"),
        GOOD.replace("Z,", ","),
        GOOD.replace(":00Z,", "Z,"),
        GOOD.replace("2026-01-14T", "2026-01-14 "),
        GOOD.replace("2026-01-14T14:00:00Z", "2026-01-14T15:00:00+01:00"),
        GOOD.replace("T14:00:00Z,1.5", 'T14:00:00Z,"1.5"'),
        GOOD + "\n\n",
    ],
    ids=["mark", "crlf", "offset", "no zone", "no seconds", "blank", "other offset", "quotes", "blank lines"],
)
def test_harmless_ways_of_writing_mean_the_same(text: str) -> None:
    """Byte-order mark, line ends, UTC written otherwise, quotes and blank lines change nothing."""
    plain, other = parsed(GOOD), parsed(text)
    np.testing.assert_array_equal(plain.times, other.times)
    for column in plain.values:
        np.testing.assert_array_equal(plain.values[column], other.values[column])


def row_changed(row: str) -> str:
    return GOOD.replace("2026-01-14T15:00:00Z,0.9,,1.0", row)


FAULTY = {
    "no number": (
        row_changed("2026-01-14T15:00:00Z,cold,,1.0"),
        "line 10, column air_temperature_c: 'cold' is no number",
    ),
    "infinite": (
        row_changed("2026-01-14T15:00:00Z,inf,,1.0"),
        "line 10, column air_temperature_c: 'inf' is no number",
    ),
    "underscore": (
        row_changed("2026-01-14T15:00:00Z,1_0,,1.0"),
        "line 10, column air_temperature_c: '1_0' is no number",
    ),
    "decimal comma": (row_changed("2026-01-14T15:00:00Z,0,9,,1.0"), "line 10: the row has 5 fields"),
    "cut off": (
        row_changed("2026-01-14T15:00:00Z,0.9"),
        "line 10: the row has 2 fields where the header names 4",
    ),
    "no time": (row_changed("yesterday,0.9,,1.0"), "line 10, column time: 'yesterday' is no time"),
    "date only": (row_changed("2026-01-14,0.9,,1.0"), "line 10, column time: '2026-01-14' is no time"),
    "wrong day": (
        row_changed("2026-02-30T15:00:00Z,0.9,,1.0"),
        "line 10, column time: '2026-02-30T15:00:00Z' is no time",
    ),
    "year 1": (row_changed("0001-01-01T00:00:00+14:00,0.9,,1.0"), "line 10, column time"),
    "half hour": (
        row_changed("2026-01-14T15:30:00Z,0.9,,1.0"),
        "line 10, column time: '2026-01-14T15:30:00Z' is not a whole hour",
    ),
    "Indian offset": (row_changed("2026-01-14T21:00:00+05:30,0.9,,1.0"), "is not a whole hour in UTC"),
    "twice": (
        row_changed("2026-01-14T14:00:00Z,0.9,,1.0"),
        "line 10, column time: '2026-01-14T14:00:00Z' stands twice",
    ),
    "going back": (
        row_changed("2026-01-14T12:00:00Z,0.9,,1.0"),
        "line 10, column time: '2026-01-14T12:00:00Z' is earlier",
    ),
    "Fahrenheit": (
        row_changed("2026-01-14T15:00:00Z,77.5,,1.0"),
        "line 10, column air_temperature_c: 77.5 °C is outside -60 to 50",
    ),
    "kelvin": (row_changed("2026-01-14T15:00:00Z,273.6,,1.0"), "another unit?"),
    "unknown column": (
        GOOD.replace("dew_point_c", "dewpoint_c"),
        "line 8: 'dewpoint_c' is no known column (nearest: 'dew_point_c')",
    ),
    "column twice": (
        GOOD.replace("dew_point_c", "wind_speed_10m_m_s"),
        "line 8, column wind_speed_10m_m_s: the column stands 2 times",
    ),
    "no temperature": (
        GOOD.replace("air_temperature_c", "pressure_hpa"),
        "line 8: the column air_temperature_c is missing",
    ),
    "no time column": (
        GOOD.replace("time,air", "hour,air"),
        "line 8: the first column must be 'time', not 'hour'",
    ),
    "semicolons": (GOOD.replace(",", ";"), "line 8: the columns are parted by semicolons"),
    "tabs": (GOOD.replace(",", "\t"), "line 8: the columns are parted by tabs"),
    "heading only": (GOOD[: GOOD.index("time,")], "the table is missing"),
    "no rows": (GOOD[: GOOD.index("2026-01-14T14:00:00Z,")], "line 8: no row follows"),
    "unknown heading": (
        GOOD.replace("# issued", "# isued"),
        "line 3: 'isued' is no known heading (nearest: 'issued')",
    ),
    "heading twice": (GOOD.replace("# model", "# service"), "line 2: 'service' is given twice"),
    "faulty issued": (GOOD.replace("2026-01-14T15:00:00+01:00", "tonight"), "line 3: 'issued' is 'tonight'"),
    "faulty latitude": (GOOD.replace("latitude: 46.05", "latitude: 146"), "line 4: 'latitude' is '146'"),
    "centuries": (GOOD + "2090-01-14T18:00:00Z,-0.4,-2.5,1\n", "spans more than"),
    "UTF-16": (GOOD.encode("utf-16"), "written as UTF-16"),
    "Latin-1": (GOOD.replace("railing", "Gel\xe4nder").encode("latin-1"), "line 2: this is not UTF-8 text"),
    "spreadsheet": (b"PK\x03\x04" + bytes(40), "is a spreadsheet or archive"),
    "binary": (GOOD.encode() + b"\0\0", "is not a text file"),
    "leap": (
        row_changed("2026-01-14T15:00:00Z,28.9,,1.0").replace("T18:00:00Z,-0.4", "T16:00:00Z,28.4"),
        "leaps from 1.5 to 28.9 °C",
    ),
    "no value": (
        GOOD.replace("1.5,", ",").replace("0.9,", ",").replace("-0.4,", ","),
        "no air temperature at all",
    ),
}


@pytest.mark.parametrize("name", FAULTY)
def test_each_fault_is_told_with_its_place(name: str) -> None:
    """A faulty file gives one sentence with file, line and column, and a next step."""
    text, sentence = FAULTY[name]
    message = refusal(text).message
    assert message.startswith("weather.csv") and sentence in message


def test_all_faults_are_told_at_once_but_not_endlessly() -> None:
    """Two faults are both told; of thousands only the first few are."""
    message = refusal(GOOD.replace("1.5", "a").replace("0.9", "b")).message
    assert "line 9" in message and "line 10" in message
    many = GOOD + "".join(f"x{k},1,,\n" for k in range(3000))
    assert len(refusal(many).message.splitlines()) == 9
    assert "2992 more faults" in refusal(many).message


def test_what_was_written_reads_back_the_same(tmp_path: Path) -> None:
    """Writing and reading keep every number, every gap and the provenance."""
    series = parsed(GOOD)
    path = tmp_path / "out.csv"
    write_weather_csv(path, series, ["invented"])
    again = parse_weather_csv(path.read_bytes(), "out.csv")
    np.testing.assert_array_equal(series.times, again.times)
    for column, array in series.values.items():
        np.testing.assert_array_equal(array, again.values[column])
    assert series.provenance == again.provenance
    assert list(tmp_path.iterdir()) == [path]


def test_a_failed_write_leaves_nothing_behind(tmp_path: Path) -> None:
    """Where the file cannot be put in place, the old one stays and no half-written one is left."""
    target = tmp_path / "out.csv"
    (target / "full").mkdir(parents=True)
    with pytest.raises(IsADirectoryError):
        write_weather_csv(target, parsed(GOOD))
    assert [path.name for path in tmp_path.iterdir()] == ["out.csv"]


def test_only_one_member_fits_a_table() -> None:
    """An ensemble has no canonical CSV."""
    from tests.unit.weather.parts import stack_members

    with pytest.raises(ValueError, match="one member"):
        weather_csv(stack_members([parsed(GOOD), parsed(GOOD)]))


def test_mutated_files_meet_only_our_own_errors() -> None:
    """Three hundred damaged files are read or refused, never anything else."""
    rng = random.Random(14)
    refused = 0
    for _ in range(300):
        body = bytearray(GOOD.encode())
        for _ in range(rng.randint(1, 12)):
            place = rng.randrange(len(body))
            kind = rng.random()
            if kind < 0.5:
                body[place] = rng.choice(b'0123456789.,;:-+TZ#"\n\xff\0ae ')
            elif kind < 0.75:
                del body[place : place + rng.randint(1, 30)]
            else:
                body[place:place] = body[: rng.randint(0, 60)]
            if not body:
                body = bytearray(b"#")
        try:
            series = parse_weather_csv(bytes(body), "weather.csv")
            assert np.all(np.diff(series.times) == np.timedelta64(3600, "s"))
        except ForecastFormatError as exc:
            refused += 1
            assert exc.message and exc.next_step
    assert 100 < refused < 300
