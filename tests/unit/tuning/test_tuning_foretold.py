"""What forecasts had said of the nights before they came, and what it teaches beside a thermometer of the air."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest
from typer.testing import CliRunner

from frostguard.advice.tuned import tuned_from
from frostguard.cli.app import app
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.reader import load_garden
from frostguard.garden.settings import Settings
from frostguard.logbook.answers import keep
from frostguard.logbook.book import open_logbook
from frostguard.logbook.measured import Reading
from frostguard.report.readings import render_session
from frostguard.tuning.foretold import foretold_by_answers, foretold_by_earlier_runs
from frostguard.tuning.habits import NightPair, learnt_habits
from frostguard.tuning.probe import Place, Probe
from frostguard.tuning.session import learn
from frostguard.weather.client import open_weather_client
from frostguard.weather.gates import night_window
from frostguard.weather.night_errors import NIGHTS, SPREAD_K, SiteHabits, night_errors
from frostguard.weather.open_meteo_past import parse_previous_runs
from frostguard.weather.raw_answer import RawAnswer
from frostguard.weather.series import WeatherSeries
from tests.unit.weather import payloads
from tests.unit.weather.test_open_meteo_others import body_of

ZONE = "Europe/Ljubljana"
FIRST = datetime(2025, 11, 1, tzinfo=UTC)
NIGHTS_TOLD = 80


def forecast(fetched: datetime, hours: int = 24 * 9, shift_k: float = 0.0) -> WeatherSeries:
    """An answer fetched then: it begins at that day's midnight."""
    from frostguard.weather.open_meteo import parse_open_meteo

    first = fetched.replace(hour=0, minute=0)
    series = parse_open_meteo(body_of(payloads.open_meteo_answer(first=first, hours=hours)), fetched=fetched)
    values = {**series.values, "air_temperature_c": series.values["air_temperature_c"] + shift_k}
    return replace(series, values=values)


def test_a_kept_answer_tells_its_own_night_and_those_behind_it() -> None:
    """Fetched at 17:00 local it foretold that night as the first and six more."""
    fetched = datetime(2026, 1, 14, 16, tzinfo=UTC)
    told = foretold_by_answers([forecast(fetched)], ZONE)
    assert sorted(told) == [(date(2026, 1, 14) + timedelta(days=n), n + 1) for n in range(7)]
    begin, end = night_window(date(2026, 1, 16), ZONE)
    series = forecast(fetched)
    inside = (series.times > begin) & (series.times <= end)
    assert told[date(2026, 1, 16), 3] == series.values["air_temperature_c"][0, inside].min()


def test_of_several_answers_of_a_day_the_last_of_the_evening_counts() -> None:
    """One fetched at 23:00, when part of the night is over, is no forecast of it."""
    day = datetime(2026, 1, 14, tzinfo=UTC)
    answers = [forecast(day + timedelta(hours=hour), shift_k=shift) for hour, shift in ((8, 0.0), (16, 1.0), (22, 5.0))]
    told = foretold_by_answers(answers, ZONE)
    plain = foretold_by_answers(answers[:1], ZONE)
    assert told[day.date(), 1] == pytest.approx(plain[day.date(), 1] + 1.0)


def test_a_night_with_a_gap_is_not_foretold() -> None:
    """Its coldest hour may be the one that is missing."""
    series = forecast(datetime(2026, 1, 14, 16, tzinfo=UTC))
    series.values["air_temperature_c"][0, 40] = np.nan
    assert (date(2026, 1, 15), 2) not in foretold_by_answers([series], ZONE)


def test_a_night_whose_last_hour_is_not_told_is_not_foretold() -> None:
    """Asked at 15:20 local, the rest of the night ends with the hour to noon, 11:00 UTC; up to 10:00 is too short."""
    fetched = datetime(2026, 1, 14, 14, 20, tzinfo=UTC)
    told = [foretold_by_answers([forecast(fetched, hours=hours)], ZONE) for hours in (35, 36)]
    assert told[0] == {} and sorted(told[1]) == [(date(2026, 1, 14), 1)]


# Eighty invented nights: forecasts miss by more the earlier they are made, and the terrace is colder than all.

SPREADS = {ahead: 1.2 * (1.0 + 0.5 * (ahead - 1) * 0.1) for ahead in range(1, 8)}
"""Half as large again as 1.2 K would be at night 11: slower than the table's growth, which has 1.85 at night 7."""
COLDER_K = 1.5


@pytest.fixture(scope="module")
def runs() -> dict[int, WeatherSeries]:
    """What the service's record of earlier runs would give, each night's error of each lead drawn by itself."""
    draw = np.random.default_rng(11)
    hours = 24 * (NIGHTS_TOLD + 1)
    answer = payloads.open_meteo_answer(first=FIRST, hours=hours)
    weather = np.interp(np.arange(hours), np.arange(0, hours + 24, 24), draw.normal(0.0, 2.0, NIGHTS_TOLD + 2))
    air = (np.array(answer["hourly"]["temperature_2m"]) + weather).round(3)
    answer["hourly"]["temperature_2m"] = air.tolist()
    days = (np.arange(hours) + 11) // 24  # from noon to noon, UTC+1
    for ahead, spread in SPREADS.items():
        errors = draw.normal(0.0, spread, days[-1] + 1)
        name = f"temperature_2m_previous_day{ahead}"
        answer["hourly"][name] = (air + errors[days]).round(3).tolist()
        answer["hourly_units"][name] = "°C"
    return dict(parse_previous_runs(body_of(answer)))


def test_earlier_runs_and_a_minimum_thermometer_teach_bias_spread_and_growth(runs: dict[int, WeatherSeries]) -> None:
    """1.5 K colder and errors of 1.2 K that grow to 1.56 K are found within what eighty nights allow; the
    uncertainty of later nights follows, and half a kelvin of hourly sampling is not learnt twice."""
    garden = load_garden(Path("config/garden.yaml"))
    happened = runs[0]
    readings = []
    for number in range(1, NIGHTS_TOLD):
        night = FIRST.date() + timedelta(days=number)
        begin, end = night_window(night, garden.site.time_zone)
        inside = (happened.times > begin) & (happened.times <= end)
        if inside.sum() < 24:
            continue
        lowest = float(happened.values["air_temperature_c"][0, inside].min()) - COLDER_K - 0.5
        at = datetime.combine(night + timedelta(days=1), datetime.min.time(), UTC) + timedelta(hours=7)
        readings.append(Reading("deck air", at, lowest, str(Probe(Place.AIR, True)), None, "deck", "by hand"))
    foretold = foretold_by_earlier_runs(runs, garden.site.time_zone)
    session = learn(garden, happened, load_catalogue(), readings, pots=(), foretold=foretold)
    habits = session.habits
    assert habits is not None and session.foretold_nights > 70
    assert habits.clear_calm_bias_k == pytest.approx(-COLDER_K, abs=0.45)  # every invented night is clear and calm
    assert habits.spread_k == pytest.approx(1.2, rel=0.25)  # three standard errors of a spread of eighty nights
    assert 0.0 < habits.spread_growth < 0.8  # the table's growth would be 1
    kept = tuned_from(session.values(), SiteHabits()).habits
    assert kept == habits
    errors = night_errors(forecast(datetime(2026, 1, 14, 16, tzinfo=UTC)), datetime(2026, 1, 14, 16, tzinfo=UTC), ZONE,
                          habits=replace(habits, clear_calm_spread_k=habits.spread_k))  # fmt: skip
    assert errors[6].spread_k == pytest.approx(SPREADS[7], rel=0.25)
    assert "with lead time that grows" in " ".join(render_session(session, stored=True).split())


@pytest.mark.parametrize("network", [True, False])
def test_the_command_asks_for_the_record_and_does_without(
    runs: dict[int, WeatherSeries], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, network: bool
) -> None:
    """`tune` looks earlier forecasts up once; without a network it says so and learns the bias alone."""
    asked: list[httpx.URL] = []

    def serve(request: httpx.Request) -> httpx.Response:
        asked.append(request.url)
        if not network:
            raise httpx.ConnectError("no route", request=request)
        return httpx.Response(200, content=body_of(_record(days=50)))

    @contextmanager
    def client(settings: Settings) -> Iterator[Any]:
        with open_weather_client(settings, transport=httpx.MockTransport(serve), sleep=lambda seconds: None) as opened:
            yield opened

    monkeypatch.setenv("FROSTGUARD_DATA_DIR", str(tmp_path))
    monkeypatch.setattr("frostguard.weather.client.open_weather_client", client)
    now = datetime.now(UTC).replace(minute=0, second=0, microsecond=0)
    draw = np.random.default_rng(4)
    with open_logbook(tmp_path / "logbook.sqlite3") as book:
        body = body_of(_record(days=50))
        keep(book, "open-meteo", RawAnswer("https://x.test", body, now - timedelta(hours=1)), 46.05, 14.51)
        book.add_readings(
            Reading("deck air", now.replace(hour=6) - timedelta(days=day), -7.0 + float(draw.normal(0.0, 0.5)),
                    str(Probe(Place.AIR, True)), None, "deck", "by hand")
            for day in range(1, 45)
        )  # fmt: skip
    reply = CliRunner().invoke(app, ["tune", "--garden", "config/garden.yaml"])
    words = " ".join(reply.output.split())
    assert reply.exit_code == 0, reply.output
    assert {url.host for url in asked} == {"previous-runs-api.open-meteo.com"}
    if network:
        assert "Forecasts of the day itself miss" in words
    else:
        assert "Earlier forecasts are not looked up" in words and "there are 0" in words


def _record(days: int) -> dict[str, Any]:
    """The service's record up to now: earlier runs that were half a kelvin too warm for every day ahead."""
    first = datetime.now(UTC).replace(hour=0, minute=0, second=0, microsecond=0) - timedelta(days=days)
    answer = payloads.open_meteo_answer(first=first, hours=24 * (days + 1))
    for ahead in range(1, 8):
        name = f"temperature_2m_previous_day{ahead}"
        answer["hourly"][name] = [value + 0.5 * ahead for value in answer["hourly"]["temperature_2m"]]
        answer["hourly_units"][name] = "°C"
    return answer


def test_without_forecasts_of_before_the_spread_stays_the_tables(runs: dict[int, WeatherSeries]) -> None:
    """Against the weather that happened, forty nights of exact agreement say nothing of how far forecasts miss."""
    pairs = [NightPair(-1.0, True, ahead=0)] * 40
    found = learnt_habits(pairs, SiteHabits())
    assert found.spread_k is None and found.clear_calm_bias_k == pytest.approx(-1.0)


def test_the_growth_is_that_of_the_leads() -> None:
    """Errors that follow the table grow once as fast; errors that do not grow, not at all."""
    draw = np.random.default_rng(5)
    z = draw.normal(0.0, 1.0, 200)

    def nights(grows: float) -> list[NightPair]:
        table = {ahead: float(np.interp(ahead, NIGHTS, SPREAD_K)) / SPREAD_K[0] - 1.0 for ahead in range(1, 8)}
        return [
            NightPair(1.5 * error * (1.0 + grows * table[ahead]), False, ahead) for ahead in range(1, 8) for error in z
        ]

    assert learnt_habits(nights(1.0), SiteHabits()).spread_growth == pytest.approx(1.0, abs=0.05)
    assert learnt_habits(nights(0.0), SiteHabits()).spread_growth == pytest.approx(0.0, abs=0.05)
