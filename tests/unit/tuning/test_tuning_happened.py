"""The weather that happened, put together from kept answers."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from frostguard.errors import TuningFailed
from frostguard.logbook import answers
from frostguard.logbook.book import Logbook, in_memory
from frostguard.tuning.happened import BELIEVED_AHEAD, covered_share, happened, kept_forecasts
from frostguard.weather.raw_answer import RawAnswer
from tests.unit.advice.terraces import SITE
from tests.unit.weather.payloads import air_c, met_norway_answer

FIRST = datetime(2026, 1, 10, 14, 20, tzinfo=UTC)
HERE = (SITE.latitude_deg, SITE.longitude_deg)


def keep(book: Logbook, fetched: datetime, *, colder_k: float = 0.0, place: tuple[float, float] = HERE) -> None:
    """An answer that begins with the hour in which it was fetched, as that service's do."""
    answer = met_norway_answer(first=fetched.replace(minute=0), updated=fetched)
    for entry in answer["properties"]["timeseries"]:
        entry["data"]["instant"]["details"]["air_temperature"] -= colder_k
    answers.keep(book, "met-norway", RawAnswer("https://forecast.test/", json.dumps(answer).encode(), fetched), *place)


def test_each_hour_is_told_by_the_last_answer_about_it() -> None:
    """Three evenings: every hour from the latest word, the last answer to its end."""
    evenings = [FIRST + timedelta(days=day) for day in range(3)]
    with in_memory() as book:
        for number, fetched in enumerate(evenings):
            keep(book, fetched, colder_k=0.5 * number)
        keep(book, FIRST, colder_k=9.0, place=(48.2, 16.4))  # another garden
        series = happened(kept_forecasts(book, SITE, FIRST - timedelta(days=1)))
    for hour in range(0, 84, 5):  # later ones come six hours apart
        time = series.times[hour].astype("datetime64[s]").item().replace(tzinfo=UTC)
        told_by = max(number for number, fetched in enumerate(evenings) if fetched.replace(minute=0) <= time)
        assert series.values["air_temperature_c"][0, hour] == pytest.approx(air_c(time) - 0.5 * told_by)


def test_a_week_without_answers_is_a_gap_and_no_straight_line() -> None:
    """Of an answer the coming night counts, not what it foretold for the week; those hours stay unknown."""
    with in_memory() as book:
        keep(book, FIRST)
        keep(book, FIRST + timedelta(days=7))
        series = happened(kept_forecasts(book, SITE, FIRST - timedelta(days=1)))
    hours = (series.times - series.times[0]) / np.timedelta64(3600, "s")
    known = np.isfinite(series.values["air_temperature_c"][0])
    believed = BELIEVED_AHEAD / timedelta(hours=1)
    assert known[hours <= believed].all()
    assert not known[(hours > believed + 1) & (hours < 7 * 24)].any()
    assert covered_share(series, [FIRST + timedelta(days=1), FIRST + timedelta(days=4)]) == 0.5


def test_without_answers_it_says_what_to_do() -> None:
    """Nothing kept, or nothing that can be read, is one sentence and a way out."""
    with in_memory() as book:
        answers.keep(book, "met-norway", RawAnswer("https://forecast.test/", b"{", FIRST), *HERE)
        with pytest.raises(TuningFailed) as caught:
            happened(kept_forecasts(book, SITE, FIRST - timedelta(days=1)))
    assert "--weather" in caught.value.next_step
