"""A weather file is what its content is: every service's answer, plain or stored."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from frostguard.errors import ForecastFormatError
from frostguard.weather.client import RawAnswer
from frostguard.weather.files import load_weather, parse_weather
from frostguard.weather.store import StoredAnswer, stored_text
from tests.unit.weather import payloads

ANSWERS: dict[str, Any] = {
    "open-meteo": payloads.open_meteo_answer(hours=72),
    "open-meteo-ensemble": payloads.open_meteo_answer(hours=72, members=3),
    "met-norway": payloads.met_norway_answer(),
    "nws": payloads.nws_answer(),
    "bright-sky": payloads.bright_sky_answer(),
}


@pytest.mark.parametrize("service", ANSWERS)
def test_a_saved_answer_is_recognised(service: str) -> None:
    """By its keys alone; an ensemble's saved answer is Open-Meteo's with members."""
    series = parse_weather(json.dumps(ANSWERS[service]).encode(), "saved.txt")
    assert series.provenance.service == service.removesuffix("-ensemble") and series.provenance.fetched is None
    assert series.n_members == (3 if service == "open-meteo-ensemble" else 1)


@pytest.mark.parametrize("service", ANSWERS)
def test_a_stored_answer_knows_its_service_and_time(service: str, tmp_path: Path) -> None:
    """What the store keeps is a weather file too."""
    answer = RawAnswer("https://service.test/x", json.dumps(ANSWERS[service]).encode(), payloads.ASKED)
    path = tmp_path / "kept"
    path.write_text(stored_text(StoredAnswer(service, answer)), encoding="utf-8")
    series = load_weather(path)
    assert series.provenance.service == service and series.provenance.fetched == payloads.ASKED


def test_a_stored_answer_of_an_unknown_service_is_told() -> None:
    """Not guessed at."""
    answer = RawAnswer("https://service.test/x", b"{}", payloads.ASKED)
    with pytest.raises(ForecastFormatError, match="'crystal-ball', a service that is not known"):
        parse_weather(stored_text(StoredAnswer("crystal-ball", answer)).encode(), "kept")


def test_recorded_answers_are_recognised(feeds: Path) -> None:
    """Each recorded file goes to its own reader."""
    names = {
        "openmeteo_forecast_toronto_2026-03.json": "open-meteo",
        "nws_gridpoint_TAE_2022-02.json": "nws",
        "brightsky_weather_berlin_2025-09.json": "bright-sky",
    }
    for name, service in names.items():
        assert load_weather(feeds / name).provenance.service == service
