"""The past of a forecast without one, put together from kept answers."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from frostguard.logbook import answers
from frostguard.logbook.book import Logbook, in_memory
from frostguard.logbook.past import WANTED, with_kept_past
from frostguard.weather.met_norway import parse_met_norway
from frostguard.weather.open_meteo import parse_open_meteo
from frostguard.weather.raw_answer import RawAnswer
from frostguard.weather.series import Quality, WeatherSeries, utc_hour
from tests.unit.advice.terraces import SITE
from tests.unit.weather.payloads import air_c, met_norway_answer, open_meteo_answer

NOW = datetime(2026, 1, 14, 14, 20, tzinfo=UTC)
HERE = (SITE.latitude_deg, SITE.longitude_deg)


def keep(book: Logbook, fetched: datetime, *, colder_k: float = 0.0, place: tuple[float, float] = HERE) -> None:
    """An answer that begins with the hour in which it was fetched, as that service's do."""
    answer = met_norway_answer(first=fetched.replace(minute=0), updated=fetched)
    for entry in answer["properties"]["timeseries"]:
        entry["data"]["instant"]["details"]["air_temperature"] -= colder_k
    raw = RawAnswer("https://forecast.test/", json.dumps(answer).encode(), fetched)
    answers.keep(book, "met-norway", raw, *place)


def now_answer() -> WeatherSeries:
    """The forecast of now, which begins now."""
    return parse_met_norway(json.dumps(met_norway_answer()).encode(), fetched=NOW)


def test_each_past_hour_comes_from_the_last_answer_before_it() -> None:
    """Two looks a day for a fortnight: twelve days of past, the freshest word on each hour, coded as filled."""
    with in_memory() as book:
        looks = [NOW - timedelta(hours=12 * k) for k in range(1, 29)]
        for k, fetched in enumerate(reversed(looks)):
            keep(book, fetched, colder_k=0.2 * k)  # every answer tells itself by how cold it is
        series = with_kept_past(now_answer(), book, SITE, NOW)

    past = series.times < now_answer().times[0]
    assert series.times[0] <= utc_hour(NOW - WANTED)
    for hour in np.flatnonzero(past)[::7]:
        time = series.times[hour].astype("datetime64[s]").item().replace(tzinfo=UTC)
        told_by = max(k for k, fetched in enumerate(reversed(looks)) if fetched.replace(minute=0) <= time)
        assert series.values["air_temperature_c"][0, hour] == pytest.approx(air_c(time) - 0.2 * told_by)
        assert series.quality["air_temperature_c"][0, hour] == Quality.FILLED
    mine = series.values["air_temperature_c"][:, ~past]
    np.testing.assert_array_equal(mine, now_answer().values["air_temperature_c"])


def test_what_cannot_be_read_or_is_of_another_place_tells_nothing() -> None:
    """Damaged answers, and those about another garden, are passed over; without any the forecast stays as it is."""
    with in_memory() as book:
        keep(book, NOW - timedelta(days=2), place=(47.0, 14.51))
        broken = RawAnswer("https://forecast.test/", b"{", NOW - timedelta(days=1))
        answers.keep(book, "met-norway", broken, *HERE)
        answers.keep(book, "a service of tomorrow", broken, *HERE)
        before = now_answer()
        assert with_kept_past(before, book, SITE, NOW) is before
        keep(book, NOW - timedelta(days=2))
        assert with_kept_past(before, book, SITE, NOW).times[0] == before.times[0] - np.timedelta64(48, "h")


def test_a_forecast_with_a_past_of_its_own_needs_none() -> None:
    """Where the service tells the weeks before, nothing is looked up."""
    series = parse_open_meteo(json.dumps(open_meteo_answer()).encode(), fetched=NOW)
    with in_memory() as book:
        keep(book, NOW - timedelta(days=1), colder_k=30.0)
        assert with_kept_past(series, book, SITE, NOW) is series
