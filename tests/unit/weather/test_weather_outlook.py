"""The nights of a series before any pot is thought of, and what a source lacks."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from frostguard.weather.files import parse_weather
from frostguard.weather.outlook import lacking_columns, nights_of_weather
from tests.unit.weather.payloads import ASKED, met_norway_answer, open_meteo_answer

LJUBLJANA = "Europe/Ljubljana"



def test_a_night_tells_how_cold_and_how_sure() -> None:
    """Hourly minimum -5; clear and calm, so half a kelvin for sampling and one for bias lower the middle."""
    series = parse_weather(json.dumps(open_meteo_answer()).encode(), "the answer")
    nights = nights_of_weather(series, ASKED, LJUBLJANA, 3)
    assert [night.night for night in nights] == [ASKED.date() + timedelta(days=day) for day in range(3)]
    first = nights[0]
    assert first.complete and first.clear_calm
    assert first.likely_c == pytest.approx(-6.5, abs=0.2)
    # eleven members hold a little more than eight in ten within their outer tenths: 1.42 spreads of 2.5 K
    assert first.high_c - first.low_c == pytest.approx(2 * 1.42 * 2.5, rel=0.06)
    assert (first.cloud_percent, first.wind_m_s, first.precipitation_mm) == (10.0, 1.5, 0.0)


def test_hours_before_the_question_do_not_count() -> None:
    """Asked at 4:20, after the low of -5 at 3:00, the night is as cold as the hour that follows, and not yet unsure."""
    series = parse_weather(json.dumps(open_meteo_answer()).encode(), "the answer")
    first = nights_of_weather(series, ASKED + timedelta(hours=13), LJUBLJANA, 1)[0]  # 3:20 UTC
    assert first.night == ASKED.date()
    at_four = series.values["air_temperature_c"][0, series.times == np.datetime64("2026-01-15T04:00")]
    assert at_four == -4.5 and -5.0 < first.likely_c < -4.5


def test_in_the_morning_the_night_that_is_over_is_not_told() -> None:
    """Asked at 8:20 as at 15:20 the first of three nights is today's, and no colder or milder for the hour."""
    series = parse_weather(json.dumps(open_meteo_answer()).encode(), "the answer")
    morning, afternoon = (
        nights_of_weather(series, ASKED + timedelta(days=1, hours=hours), LJUBLJANA, 3) for hours in (-7, 0)
    )
    assert [night.night for night in morning] == [ASKED.date() + timedelta(days=day) for day in (1, 2, 3)]
    assert [night.night for night in afternoon] == [night.night for night in morning]
    assert morning[0].likely_c == pytest.approx(afternoon[0].likely_c, abs=0.3)


def test_unknown_is_none_and_gaps_are_told() -> None:
    """Without cloud, wind and rain columns nothing is said of them; a night of holes is not complete."""
    series = parse_weather(json.dumps(open_meteo_answer()).encode(), "the answer")
    bare = replace(
        series,
        values={"air_temperature_c": series.values["air_temperature_c"].copy()},
        quality={"air_temperature_c": series.quality["air_temperature_c"]},
    )
    hole = (series.times > np.datetime64("2026-01-14T20:00")) & (series.times < np.datetime64("2026-01-15T06:00"))
    bare.values["air_temperature_c"][:, hole] = np.nan
    first = nights_of_weather(bare, ASKED, LJUBLJANA, 1)[0]
    assert first.cloud_percent is first.wind_m_s is first.precipitation_mm is None and not first.complete


def test_what_is_lacking_is_named() -> None:
    """Of MET Norway's answer: gusts outside the Nordic countries, snow, sun and soil."""
    series = parse_weather(json.dumps(met_norway_answer()).encode(), "the answer")
    assert set(lacking_columns(series, ASKED)) == {
        "wind_gust_10m_m_s", "wind_from_direction_deg", "snowfall_cm", "snow_depth_m", "global_horizontal_w_m2",
        "direct_normal_w_m2", "diffuse_horizontal_w_m2", "soil_temperature_0cm_c", "soil_temperature_6cm_c",
        "soil_temperature_18cm_c",
    }  # fmt: skip
    assert lacking_columns(series, ASKED + timedelta(days=60)) == ()


@pytest.mark.parametrize("first", [date(2026, 3, 28), date(2026, 10, 24)], ids=["23 hours", "25 hours"])
def test_nights_of_a_clock_change_are_whole(first: date) -> None:
    """The night on which the clocks change is found, complete, and counted once, whoever forecasts it."""
    at = datetime(first.year, first.month, first.day, 14, 20, tzinfo=UTC)
    start = at.replace(minute=0) - timedelta(hours=24)
    for answer in (
        open_meteo_answer(first=start, hours=24 * 5),
        met_norway_answer(first=start, hourly=60, six_hourly=12),
    ):
        series = parse_weather(json.dumps(answer).encode(), "the answer")
        nights = nights_of_weather(series, at, LJUBLJANA, 2)
        assert [night.night for night in nights] == [first, first + timedelta(days=1)]
        assert all(night.complete for night in nights)
