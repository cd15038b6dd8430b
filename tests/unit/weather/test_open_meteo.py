"""Open-Meteo: the request as documented, the answer in all its recorded shapes."""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from copy import deepcopy
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from frostguard.errors import ForecastFormatError
from frostguard.garden.model import Site
from frostguard.weather.files import load_weather
from frostguard.weather.json_answer import error_reason
from frostguard.weather.open_meteo import VARIABLES, forecast_query, parse_open_meteo
from frostguard.weather.series import COLUMNS, Quality, WeatherSeries
from tests.unit.weather.payloads import open_meteo_answer

Answer = dict[str, Any]
MakeAnswer = Callable[..., Answer]


def parsed(answer: Any) -> WeatherSeries:
    return parse_open_meteo(json.dumps(answer, ensure_ascii=False).encode(), "the answer")


def refusal(body: bytes) -> ForecastFormatError:
    with pytest.raises(ForecastFormatError) as caught:
        parse_open_meteo(body, "the answer")
    assert caught.value.next_step.endswith(".")
    return caught.value


# The request: Open-Meteo, documentation of the weather forecast interface, table of parameters, 2026-08.


def test_request_names_units_zone_height_and_cell_in_so_many_words(site: Site) -> None:
    """Nothing is left to the service's defaults, which are km/h, local text times and a terrain model."""
    query = forecast_query(site, 7)
    assert query["temperature_unit"] == "celsius"
    assert query["wind_speed_unit"] == "ms"
    assert query["precipitation_unit"] == "mm"
    assert query["timezone"] == "GMT" and query["timeformat"] == "unixtime"
    assert query["elevation"] == "298" and query["cell_selection"] == "land"
    assert (query["latitude"], query["longitude"]) == ("46.0500", "14.5100")
    assert not {"start_date", "end_date", "models", "daily"} & set(query)


def test_request_reaches_back_a_month_and_past_the_last_night(site: Site) -> None:
    """Thirty past days for the root balls; two days more than nights, within the documented limits."""
    assert forecast_query(site, 7)["past_days"] == "30"
    assert forecast_query(site, 7)["forecast_days"] == "9"
    assert forecast_query(site, 30)["forecast_days"] == "16"
    assert forecast_query(site, 0)["forecast_days"] == "2"
    with pytest.raises(ValueError, match="past_days"):
        forecast_query(site, 7, past_days=93)


def test_request_south_and_west_keeps_signs(site: Site) -> None:
    """A site south of the equator and west of Greenwich is asked for with both signs."""
    query = forecast_query(replace(site, latitude_deg=-33.45678, longitude_deg=-70.66), 3)
    assert (query["latitude"], query["longitude"]) == ("-33.4568", "-70.6600")


def test_every_variable_asked_for_has_its_own_column(site: Site) -> None:
    """The variables asked for are those read, one canonical column each."""
    names = forecast_query(site, 7)["hourly"].split(",")
    assert names == [variable.name for variable in VARIABLES]
    columns = [variable.column for variable in VARIABLES]
    assert len(set(columns)) == len(columns) and set(columns) <= set(COLUMNS)


# Answers in the documented shape.


def test_full_winter_answer_reads_into_every_column(winter_answer: MakeAnswer) -> None:
    """All seventeen variables of an answer arrive with place, credit and time of fetching."""
    fetched = datetime(2026, 1, 14, 14, 20, tzinfo=UTC)
    series = parse_open_meteo(json.dumps(winter_answer()).encode(), fetched=fetched)
    assert set(series.values) == {variable.column for variable in VARIABLES}
    assert series.n_hours == 24 * 39 and series.n_members == 1 and series.notes == ()
    assert series.times[0] == np.datetime64("2025-12-15T00:00:00")
    air = series.values["air_temperature_c"][0]
    assert air[14] == 3.0 and air[2] == -5.0  # as the invented curve has them at 14:00 and 2:00
    assert series.values["pressure_hpa"][0, 0] == 980.4
    source = series.provenance
    assert source.service == "open-meteo" and source.fetched == fetched and source.issued is None
    assert source.credit == "Weather data by Open-Meteo.com"
    assert (source.latitude_deg, source.longitude_deg, source.elevation_m) == (46.04, 14.52, 298.0)


def test_sun_of_the_hour_before_sunrise_is_none(winter_answer: MakeAnswer) -> None:
    """Radiation stays the mean of the hour before its time: zero up to sunrise, not after."""
    sun = parsed(winter_answer()).values["global_horizontal_w_m2"][0]
    assert sun[7] == 0.0 and sun[8] > 0.0


def test_units_are_read_from_the_answer(winter_answer: MakeAnswer) -> None:
    """Fahrenheit, miles, knots, inches and feet become the canonical units, whatever was asked."""
    answer = winter_answer(48)
    units, hourly = answer["hourly_units"], answer["hourly"]
    units.update(temperature_2m="°F", wind_speed_10m="mp/h", wind_gusts_10m="kn", precipitation="inch")
    units.update(snowfall="inch", snow_depth="ft", dew_point_2m="K")
    hourly.update(temperature_2m=[14.0] * 48, wind_speed_10m=[10.0] * 48, wind_gusts_10m=[20.0] * 48)
    hourly.update(precipitation=[0.5] * 48, snowfall=[1.0] * 48, snow_depth=[0.5] * 48)
    hourly.update(dew_point_2m=[258.15] * 48)
    series = parsed(answer)
    expected = {
        "air_temperature_c": -10.0,
        "dew_point_c": -15.0,
        "wind_speed_10m_m_s": 4.4704,
        "wind_gust_10m_m_s": 10.28888,
        "precipitation_mm": 12.7,
        "snowfall_cm": 2.54,
        "snow_depth_m": 0.1524,
    }
    for column, value in expected.items():
        np.testing.assert_allclose(series.values[column], value, rtol=1e-12)


def test_a_strange_temperature_unit_refuses_the_answer(winter_answer: MakeAnswer) -> None:
    """Without a known unit for the air temperature nothing is guessed."""
    answer = winter_answer(48)
    answer["hourly_units"]["temperature_2m"] = "°Ré"
    assert "temperature_2m in the unknown unit '°Ré'" in refusal(json.dumps(answer).encode()).message


def test_a_strange_unit_elsewhere_leaves_that_column_out(winter_answer: MakeAnswer) -> None:
    """A wind in an unknown unit is left out and noted; the frost warning lives on."""
    answer = winter_answer(48)
    answer["hourly_units"]["wind_speed_10m"] = "Bft"
    del answer["hourly_units"]["cloud_cover"]
    series = parsed(answer)
    assert "wind_speed_10m_m_s" not in series.values and "cloud_cover_percent" not in series.values
    assert set(series.notes) == {"unit-refused:wind_speed_10m_m_s", "unit-refused:cloud_cover_percent"}


def test_other_names_of_variables_are_understood(winter_answer: MakeAnswer) -> None:
    """An answer saved years ago, with windspeed_10m and its like, reads the same."""
    answer = winter_answer(48)
    plain = parsed(answer)
    for block in (answer["hourly"], answer["hourly_units"]):
        for variable in VARIABLES:
            if variable.other_name:
                block[variable.other_name] = block.pop(variable.name)
    older = parsed(answer)
    assert set(older.values) == set(plain.values)
    for column, array in plain.values.items():
        np.testing.assert_array_equal(array, older.values[column])


def test_empty_hours_behind_the_horizon_are_cut_off_and_noted(winter_answer: MakeAnswer) -> None:
    """Where the time goes on but every value is null, the series ends at the last temperature."""
    answer = winter_answer(72)
    for column, values in answer["hourly"].items():
        if column != "time":
            values[49:] = [None] * 23
    series = parsed(answer)
    assert series.n_hours == 49 and series.notes == ("tail-missing:23",)


def test_a_null_inside_stays_missing(winter_answer: MakeAnswer) -> None:
    """A hole in the temperature is missing, never zero."""
    answer = winter_answer(48)
    answer["hourly"]["temperature_2m"][10] = None
    series = parsed(answer)
    assert np.isnan(series.values["air_temperature_c"][0, 10])
    assert series.quality["air_temperature_c"][0, 10] == Quality.MISSING
    assert series.notes == ("hours-missing:1",)


def test_a_column_without_any_value_is_as_if_not_there(winter_answer: MakeAnswer) -> None:
    """A whole column of nulls, its unit 'undefined', is absent."""
    answer = winter_answer(48)
    answer["hourly"]["snow_depth"] = [None] * 48
    answer["hourly_units"]["snow_depth"] = "undefined"
    series = parsed(answer)
    assert "snow_depth_m" not in series.values and series.notes == ()


def test_members_are_found_by_pattern_and_the_control_stands_in(winter_answer: MakeAnswer) -> None:
    """Fifty-one members of the temperature; the wind, given once, is repeated and flagged as filled."""
    answer = winter_answer(48)
    for number in range(1, 51):
        key = f"temperature_2m_member{number:02d}"
        answer["hourly_units"][key] = "°C"
        answer["hourly"][key] = [value - 0.1 * number for value in answer["hourly"]["temperature_2m"]]
    series = parsed(answer)
    assert series.n_members == 51
    air = series.values["air_temperature_c"]
    np.testing.assert_allclose(air[0] - air[50], 5.0)
    np.testing.assert_array_equal(
        series.values["wind_speed_10m_m_s"][50], series.values["wind_speed_10m_m_s"][0]
    )
    quality = series.quality["wind_speed_10m_m_s"][:, 0]
    assert quality[0] == Quality.GIVEN and quality[50] == Quality.FILLED


def test_a_member_without_any_temperature_is_left_out(winter_answer: MakeAnswer) -> None:
    """An empty member does not make every hour unknown."""
    answer = winter_answer(48)
    for number, values in ((1, [None] * 48), (2, answer["hourly"]["temperature_2m"])):
        answer["hourly_units"][f"temperature_2m_member{number:02d}"] = "°C"
        answer["hourly"][f"temperature_2m_member{number:02d}"] = values
    series = parsed(answer)
    assert series.n_members == 2 and "members-dropped:1" in series.notes


@pytest.mark.parametrize(
    ("offset_s", "first_label", "first_utc"),
    [
        (3600, "2026-03-28T00:00", "2026-03-27T23:00"),  # the night before the clocks go forward in Europe
        (7200, "2025-10-25T00:00", "2025-10-24T22:00"),  # the night before they go back
        (-18000, "2026-03-07T00:00", "2026-03-07T05:00"),  # the same in North America
        (-10800, "2026-07-01T00:00", "2026-07-01T03:00"),  # a southern winter
    ],
)
def test_local_labels_carry_one_offset_for_the_whole_answer(
    winter_answer: MakeAnswer, offset_s: int, first_label: str, first_utc: str
) -> None:
    """Label minus offset is UTC through a clock change: every hour once, none missing, none twice."""
    answer = winter_answer(72)
    labels = np.datetime64(first_label, "m") + np.arange(72) * np.timedelta64(60, "m")
    answer["hourly"]["time"] = [str(label) for label in labels]
    answer["hourly_units"]["time"] = "iso8601"
    answer["utc_offset_seconds"] = offset_s
    series = parsed(answer)
    assert series.n_hours == 72 and series.notes == ()
    assert series.times[0] == np.datetime64(first_utc, "s")
    assert series.times[-1] == np.datetime64(first_utc, "s") + np.timedelta64(71 * 3600, "s")


def test_unix_times_need_no_offset(winter_answer: MakeAnswer) -> None:
    """Unix times are UTC even if the answer names a local zone."""
    answer = winter_answer(48)
    answer["utc_offset_seconds"] = 3600
    assert parsed(answer).times[0] == np.datetime64("2025-12-15T00:00:00")


def test_polar_night_and_southern_place_are_ordinary(winter_answer: MakeAnswer) -> None:
    """No sun at all, negative coordinates, and a height that is not told are all fine."""
    answer = winter_answer(48)
    answer.update(latitude=-77.85, longitude=-166.67)
    del answer["elevation"]
    for name in ("shortwave_radiation", "direct_normal_irradiance", "diffuse_radiation"):
        answer["hourly"][name] = [0.0] * 48
    series = parsed(answer)
    assert series.provenance.elevation_m is None and series.provenance.latitude_deg == -77.85
    assert series.values["global_horizontal_w_m2"].max() == 0.0


# Answers that cannot be used: each with its sentence.


def _without(answer: Answer, *path: str) -> Answer:
    block = answer
    for key in path[:-1]:
        block = block[key]
    del block[path[-1]]
    return answer


def _with(answer: Answer, value: Any, *path: str) -> Answer:
    block = answer
    for key in path[:-1]:
        block = block[key]
    block[path[-1]] = value
    return answer


def _with_entry(answer: Answer, column: str, row: int, value: Any) -> Answer:
    answer["hourly"][column][row] = value
    return answer


FAULTY: dict[str, tuple[Callable[[Answer], Any], str]] = {
    "error message": (
        lambda a: {"error": True, "reason": "No\x07 data\nhere"},
        "the service gives 'No data here'",
    ),
    "error without words": (lambda a: {"error": True}, "the service gives no reason"),
    "several places": (lambda a: [a, a], "is a list of 2 places"),
    "a word": (lambda a: "sunny", "is JSON but no weather answer"),
    "no hours": (lambda a: _without(a, "hourly"), "no readable 'hourly' block"),
    "no units": (lambda a: _without(a, "hourly_units"), "no readable 'hourly_units' block"),
    "hourly is a list": (lambda a: _with(a, [1], "hourly"), "no readable 'hourly' block"),
    "no time": (lambda a: _without(a, "hourly", "time"), "has no hours"),
    "empty time": (lambda a: _with(a, [], "hourly", "time"), "has no hours"),
    "strange time form": (lambda a: _with(a, "moons", "hourly_units", "time"), "in the unknown form 'moons'"),
    "text as unix time": (lambda a: _with_entry(a, "time", 3, "2026"), "has '2026' where a time in seconds"),
    "true as unix time": (lambda a: _with_entry(a, "time", 3, True), "has True where a time in seconds"),
    "half hour": (
        lambda a: _with_entry(a, "time", 47, a["hourly"]["time"][47] + 1800),
        "is not a whole hour",
    ),
    "time stands still": (
        lambda a: _with_entry(a, "time", 5, a["hourly"]["time"][4]),
        "does not come after the one before it",
    ),
    "centuries": (lambda a: _with_entry(a, "time", 47, 4102444800 - 3600), "spans more than"),
    "no temperature": (lambda a: _without(a, "hourly", "temperature_2m"), "has no column temperature_2m"),
    "several models": (
        lambda a: _with(
            _without(a, "hourly", "temperature_2m"), [1.0] * 48, "hourly", "temperature_2m_icon_eu"
        ),
        "has temperature_2m_icon_eu but no plain temperature_2m",
    ),
    "short column": (
        lambda a: _with(a, [1.0] * 47, "hourly", "cloud_cover"),
        "cloud_cover has 47 values for 48 hours",
    ),
    "column is a number": (lambda a: _with(a, 5, "hourly", "cloud_cover"), "cloud_cover has no values"),
    "text in a column": (lambda a: _with_entry(a, "temperature_2m", 2, "-3"), "has '-3' where a number"),
    "true in a column": (lambda a: _with_entry(a, "cloud_cover", 2, True), "has True where a number"),
    "no place": (lambda a: _without(a, "latitude"), "does not say which place"),
    "place off the earth": (lambda a: _with(a, 946.0, "latitude"), "does not say which place"),
    "null archive": (
        lambda a: _with(a, [None] * 48, "hourly", "temperature_2m"),
        "holds no temperature for this place",
    ),
    "kelvin called Celsius": (
        lambda a: _with(a, [268.0] * 48, "hourly", "temperature_2m"),
        "48 of 48 air temperatures outside -60 to 50",
    ),
    "two halves": (
        lambda a: _with(a, [1.0] * 24 + [18.0] * 24, "hourly", "temperature_2m"),
        "leaps from 1.0 to 18.0 °C within the hour to 2025-12-16T00:00:00 UTC",
    ),
}


@pytest.mark.parametrize("name", FAULTY)
def test_each_faulty_answer_is_told_in_one_sentence(winter_answer: MakeAnswer, name: str) -> None:
    """An answer that cannot be used is refused with what is wrong and what to do."""
    spoil, sentence = FAULTY[name]
    message = refusal(json.dumps(spoil(winter_answer(48))).encode()).message
    assert message.startswith("the answer") and sentence in message and "\n" not in message


@pytest.mark.parametrize(
    "spoil",
    [
        lambda body: b"",
        lambda body: body[: len(body) // 2],
        lambda body: body + b"Something went wrong.",
        lambda body: b"<html><body>502 Bad Gateway</body></html>",
        lambda body: body.replace(b'"latitude": 46.04', b'"latitude": nan'),
        lambda body: body.replace(b'"latitude": 46.04', b'"latitude": NaN'),
        lambda body: body.replace(b"980.4", b"Infinity", 1),
        lambda body: body.replace(b"980.4", b"9" * 5000, 1),
        lambda body: body.replace(b"Ljubljana", b"\xff").replace(b"GMT", b"\xff", 1),
        lambda body: b"[" * 100_000,
        lambda body: b'{"a":' * 100_000,
    ],
    ids=[
        "empty",
        "half",
        "tail",
        "page",
        "nan",
        "NaN",
        "Infinity",
        "digits",
        "not UTF-8",
        "lists",
        "objects",
    ],
)
def test_a_body_that_is_no_json_is_told_as_that(
    winter_answer: MakeAnswer, spoil: Callable[[bytes], bytes]
) -> None:
    """Cut off, an error text behind it, NaN, endless digits or nesting: one sentence; a page is called one."""
    body = spoil(json.dumps(winter_answer(48)).encode())
    words = "is a web page where data is due" if body.startswith(b"<") else "is not readable as JSON"
    assert words in refusal(body).message


def test_a_number_beyond_any_float_is_no_number(winter_answer: MakeAnswer) -> None:
    """1e999 is valid JSON and no value."""
    body = json.dumps(winter_answer(48)).encode().replace(b"980.4", b"1e999", 1)
    assert "surface_pressure has inf where a number should stand" in refusal(body).message


def test_error_words_are_found_only_in_error_answers() -> None:
    """The service's reason is shown shortened, on one line; other bodies have none."""
    assert error_reason(b'{"error":true,"reason":"too\\nmuch"}') == "too much"
    assert len(error_reason(json.dumps({"error": True, "reason": "x" * 999}).encode()) or "") == 160
    for body in (b"", b"busy", b"[]", b'{"reason":"x"}', b'{"error":true}', b'{"error":true,"reason":5}'):
        assert error_reason(body) is None


def test_mutated_answers_meet_only_our_own_errors(winter_answer: MakeAnswer) -> None:
    """Three hundred damaged answers are read or refused, never anything else; what reads is sound."""
    rng = random.Random(2026)
    refused = 0
    for _ in range(300):
        body = _mutated(rng, winter_answer(30))
        try:
            series = parse_open_meteo(body, "the answer")
        except ForecastFormatError as exc:
            refused += 1
            assert exc.message.startswith("the answer") and exc.next_step and exc.message.encode()
        else:
            air = series.values["air_temperature_c"]
            assert np.nanmin(air) >= -60.0 and np.nanmax(air) <= 50.0
            assert not np.isnan(air[:, [0, -1]]).all()
    assert 50 < refused < 300


STRANGE = (None, True, "x", -1, 1e18, -273, [], {}, [[1]], "2026-01-14T15:00", 0.5, "\ud800", 1e308, 10**40)


def _mutated(rng: random.Random, answer: Answer) -> bytes:
    """The answer with strange entries, keys dropped or renamed, or its text damaged."""
    for _ in range(rng.randint(1, 4)):
        block = rng.choice([answer, answer.get("hourly"), answer.get("hourly_units")])
        if not isinstance(block, dict) or not block:
            continue
        key = rng.choice(list(block))
        kind = rng.random()
        if kind < 0.5 and isinstance(block[key], list) and block[key]:
            block[key][rng.randrange(len(block[key]))] = deepcopy(rng.choice(STRANGE))
        elif kind < 0.65:
            block[key] = deepcopy(rng.choice(STRANGE))
        elif kind < 0.8:
            del block[key]
        else:
            block[key + rng.choice(["_member01", "_member99", "x"])] = block[key]
    body = bytearray(json.dumps(answer).encode())
    if rng.random() < 0.3:
        place = rng.randrange(len(body))
        body[place : place + rng.randint(0, 40)] = rng.choice([b"", b"nan", b"\xff", b",", b"1e9", b'"'])
    return bytes(body)


# Recorded answers; the expected values were read from the files by hand.


def test_recorded_toronto_answer_through_the_clock_change(feeds: Path) -> None:
    """Fahrenheit and mp/h convert; the label 02:00 on 8 March, which no clock showed, is 07:00 UTC."""
    series = load_weather(feeds / "openmeteo_forecast_toronto_2026-03.json")
    air = series.values["air_temperature_c"][0]
    assert series.n_hours == 192
    assert series.times[0] == np.datetime64("2026-03-04T05:00:00")
    assert air[0] == pytest.approx(0.0)  # 32.0 F
    assert series.times[98] == np.datetime64("2026-03-08T07:00:00")
    assert air[98] == pytest.approx((41.6 - 32) / 1.8)
    assert air[97] == pytest.approx((44.7 - 32) / 1.8) and air[99] == pytest.approx((39.4 - 32) / 1.8)
    assert air.argmin() == 191 and air[191] == pytest.approx(-3.0556, abs=1e-4)  # 26.5 F, the last hour
    assert series.times[191] == np.datetime64("2026-03-12T04:00:00")
    assert series.values["wind_speed_10m_m_s"][0, 191] == pytest.approx(9.7 * 0.44704)
    assert series.values["wind_gust_10m_m_s"][0, 9] == pytest.approx(
        0.7 * 0.44704
    )  # gust 0.4 below the mean 0.7
    assert series.notes == ("gust-raised:1",)
    assert series.values["precipitation_mm"].max() == pytest.approx(1.008 * 25.4)
    assert series.provenance.elevation_m == 165.0


def test_recorded_ensemble_answer_keeps_each_member(feeds: Path) -> None:
    """Control and nine members arrive in their order, with each member's own minimum."""
    series = load_weather(feeds / "openmeteo_ensemble_geps_whistler_2025-12_excerpt.json")
    air = series.values["air_temperature_c"]
    assert air.shape == (10, 120)
    assert series.times[0] == np.datetime64("2025-12-15T00:00:00")
    assert air[:, 0].tolist() == [-1.0, -1.2, -0.9, -0.9, -0.9, -1.2, -0.3, -1.1, -0.8, -0.9]
    assert air.min(axis=1).tolist() == [-7.2, -5.7, -6.6, -7.1, -7.4, -6.9, -6.3, -10.8, -9.1, -5.9]
    assert air[7].argmin() == 105 and air[9, -1] == -3.8


def edge_bodies(feeds: Path) -> dict[str, Any]:
    entries = json.loads((feeds / "error_and_edge_bodies.json").read_text(encoding="utf-8"))
    return {entry["id"]: entry for entry in entries}


def test_recorded_null_tail_is_cut_at_the_last_value(feeds: Path) -> None:
    """Seventy-two times with forty-nine values: the first null is hour 49, old names and km/h included."""
    series = parsed(edge_bodies(feeds)["om-null-tail"]["body"])
    air = series.values["air_temperature_c"][0]
    assert series.n_hours == 49 and series.notes == ("tail-missing:23",)
    assert (air[0], air[7], air[48]) == (4.2, -0.4, 7.4) and air.argmin() == 7
    assert series.values["wind_speed_10m_m_s"][0, 0] == pytest.approx(21.0 / 3.6)
    assert series.values["cloud_cover_percent"][0, 1] == 22.0


@pytest.mark.parametrize(
    ("entry", "sentence"),
    [
        ("om-bad-unit", "Cannot initialize TemperatureUnit"),
        ("om-bad-variable", "Cannot initialize SurfaceAndPressureVariable"),
        ("om-rate-minute", "Minutely API request limit exceeded"),
        ("om-overload", "The service is overloaded"),
        ("om-nan-body", "not readable as JSON"),
        ("om-geocoding-empty", "no readable 'hourly' block"),
        ("nws-grid-expired", "gives 'Forecast Grid Expired'"),
        ("brightsky-no-source", "no readable 'hourly' block"),
    ],
)
def test_recorded_error_bodies_are_told(feeds: Path, entry: str, sentence: str) -> None:
    """Recorded error answers, and answers of another kind, are refused with their sentence."""
    body = edge_bodies(feeds)[entry]
    raw = body["raw_body"].encode() if "raw_body" in body else json.dumps(body["body"]).encode()
    assert sentence in refusal(raw).message


def test_recorded_columns_of_earlier_runs_are_not_taken_for_the_forecast(feeds: Path) -> None:
    """Columns ending in _previous_dayN stand beside the forecast and are left alone."""
    series = parsed(edge_bodies(feeds)["om-previous-runs"]["body"])
    assert series.n_members == 1 and series.values["air_temperature_c"][0].tolist() == [13.8, 13.3, 12.1]


def test_members_of_hours_that_lie_years_apart_fill_no_memory() -> None:
    """Two hours ten years apart for each of fifty members would be a hundred thousand hours of all; one series may."""
    answer = open_meteo_answer(hours=24, members=50)
    answer["hourly"]["time"][-1] += 10 * 365 * 24 * 3600
    with pytest.raises(ForecastFormatError, match="members over more than 130 days"):
        parse_open_meteo(json.dumps(answer).encode())
    alone = open_meteo_answer(hours=24)
    alone["hourly"]["time"][-1] += 10 * 365 * 24 * 3600
    assert parse_open_meteo(json.dumps(alone).encode()).n_hours > 80_000
