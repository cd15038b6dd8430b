"""From a question to a plan: which garden, which weather, what time is meant."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import httpx
import pytest
from typer.testing import CliRunner

from frostguard import nightly
from frostguard.cli.app import app
from frostguard.errors import FrostguardError, GardenFileError, WeatherUnavailable
from frostguard.garden.reader import load_garden
from frostguard.garden.settings import Settings, Units
from frostguard.nightly import Answer, Query, answer_tonight
from frostguard.report.json_text import render_json
from frostguard.report.terminal import render_plan
from frostguard.weather.client import WeatherClient, open_weather_client
from frostguard.weather.csv_file import write_weather_csv
from tests.unit.advice.terraces import ASKED, frosty_night, frosty_nights, simulate_coarsely

GARDEN = """\
site:
  name: Roof terrace
  latitude: 46.05
  longitude: 14.51
  elevation_m: 298
  time_zone: Europe/Ljubljana
spots:
  - name: deck
    wind: partly
    beneath: decking
  - name: wash room
    room: frost-free
    light: bright
    free_floor_m2: 2
pots:
  - id: lemon
    label: Lemon by the door
    plant: lemon
    material: plastic
    volume_l: 4
    spot: deck
    value: high
"""

NOW = datetime(2026, 2, 1, 8, 0, tzinfo=UTC)  # weeks after the weather of the files
ZONE = ZoneInfo("Europe/Ljubljana")


@pytest.fixture(autouse=True)
def coarse_engine(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is asked and answered does not hang on a tenth of a kelvin."""
    simulate_coarsely(monkeypatch)


@pytest.fixture
def garden_file(tmp_path: Path) -> Path:
    """A terrace with one lemon and a room for it."""
    path = tmp_path / "garden.yaml"
    path.write_text(GARDEN, encoding="utf-8")
    return path


@pytest.fixture
def weather_file(tmp_path: Path) -> Path:
    """A hard frost in the night after the time of issue."""
    path = tmp_path / "weather.csv"
    write_weather_csv(path, frosty_night(-9.0, members=1))
    return path


@pytest.fixture
def ask(garden_file: Path, weather_file: Path) -> Any:
    """Asks with the two files, and whatever else is changed."""

    def asked(**changes: Any) -> Answer:
        usual = Query(garden=garden_file, settings=None, weather=weather_file, at=None, days=1, explain=None)
        return answer_tonight(replace(usual, **changes), now=NOW)

    return asked


def test_a_garden_and_a_weather_file_make_a_plan(ask: Any):
    """The way through the house: the lemon is carried in before the hard frost."""
    answer = ask()

    assert [(job.pot, job.to_spot) for job in answer.plan.jobs] == [("lemon", "wash room")]
    assert answer.plan.site == "Roof terrace"
    assert answer.garden.pots[0].id == "lemon"
    assert answer.explanation is None
    assert answer.plan.weather.members == 11


def test_a_weather_file_is_asked_about_at_its_time_of_issue(ask: Any):
    """Without --at a file speaks of the evening that it was made for, not of today."""
    assert ask().plan.asked_at == ASKED


def test_a_file_without_a_time_of_issue_is_asked_about_now(ask: Any, tmp_path: Path):
    """Where the file does not say when it was made the clock counts, and a file of January is none in February."""
    series = frosty_night(-9.0, members=1)
    path = tmp_path / "undated.csv"
    write_weather_csv(path, replace(series, provenance=replace(series.provenance, issued=None)))

    with pytest.raises(WeatherUnavailable) as raised:
        ask(weather=path)

    assert "2026-02-01" in raised.value.message
    assert "from 2026-01-14 02:00 to 2026-01-15 14:00 on the site's clock" in raised.value.message


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("2026-01-14T15:30", datetime(2026, 1, 14, 15, 30, tzinfo=ZONE)),  # no zone: the site's clock
        ("15:30", datetime(2026, 1, 14, 15, 30, tzinfo=ZONE)),  # no date: the day of the file
        ("2026-01-14T15:30+00:00", datetime(2026, 1, 14, 16, 30, tzinfo=ZONE)),
        ("2026-01-14T15:30Z", datetime(2026, 1, 14, 16, 30, tzinfo=ZONE)),
        ("2026-01-14T15:30-05:00", datetime(2026, 1, 14, 21, 30, tzinfo=ZONE)),
    ],
)
def test_a_time_without_a_zone_is_the_sites(ask: Any, written: str, meant: datetime):
    """--at is read on the site's clock unless it names another zone."""
    plan = ask(at=written).plan

    assert plan.asked_at == meant
    assert plan.asked_at.utcoffset() == timedelta(hours=1)


@pytest.mark.parametrize("written", ["tomorrow", "2026-01-14", "14.1.2026", "2026-01-32", ""])
def test_a_time_that_is_none_is_told_with_an_example(ask: Any, written: str):
    """What cannot be read as a time is one sentence with an example, not a traceback."""
    with pytest.raises(FrostguardError) as raised:
        ask(at=written)

    assert repr(written) in raised.value.message
    assert "2026-01-14T15:00" in raised.value.next_step


def test_days_count_before_the_settings(ask: Any, tmp_path: Path):
    """--days overrides the nights of the settings file, which overrides the usual seven."""
    settings = tmp_path / "settings.yaml"
    settings.write_text("days: 2\npeople: 2\n", encoding="utf-8")
    long = tmp_path / "long.csv"
    write_weather_csv(long, frosty_nights(-3.0, 4, members=1))

    by_settings = ask(settings=settings, weather=long, days=None)
    by_question = ask(settings=settings, weather=long, days=3)

    assert len(by_settings.plan.nights) == 2
    assert len(by_question.plan.nights) == 3
    assert by_question.settings.people == 2  # the rest of the settings stays


def test_explain_adds_the_long_answer_for_one_pot(ask: Any):
    """A pot to explain may be named by its label."""
    answer = ask(explain="lemon BY the door")

    assert answer.explanation is not None
    assert answer.explanation.pot == "lemon"
    assert answer.explanation.assumed == answer.garden.pots[0].assumed


def test_an_unknown_pot_to_explain_brings_the_near_one(ask: Any):
    """A misspelt pot is one sentence with the name that was meant."""
    with pytest.raises(FrostguardError) as raised:
        ask(explain="lemonn")

    assert "lemon" in raised.value.next_step


def test_a_faulty_garden_file_is_told_before_any_weather(ask: Any, tmp_path: Path):
    """Faults of the garden file come first, even where the weather file is missing too."""
    path = tmp_path / "faulty.yaml"
    path.write_text(GARDEN.replace("plastic", "plastik"), encoding="utf-8")

    with pytest.raises(GardenFileError) as raised:
        ask(garden=path, weather=tmp_path / "missing.csv")

    assert "plastik" in raised.value.message


def test_a_missing_weather_file_is_one_sentence(ask: Any, tmp_path: Path):
    """A weather file that is not there is told by its name."""
    with pytest.raises(FrostguardError) as raised:
        ask(weather=tmp_path / "missing.csv")

    assert "missing.csv" in raised.value.message
    assert raised.value.next_step


@pytest.fixture
def no_network(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No service answers, and nothing is kept."""

    def unreachable(request: httpx.Request) -> httpx.Response:
        raise httpx.ConnectError("no route", request=request)

    @contextmanager
    def offline(settings: Settings) -> Iterator[WeatherClient]:
        with open_weather_client(
            settings,
            transport=httpx.MockTransport(unreachable),
            sleep=lambda seconds: None,
            jitter=lambda: 0.0,
            now=lambda: NOW,
        ) as client:
            yield client

    monkeypatch.setenv("FROSTGUARD_CACHE_DIR", str(tmp_path / "cache"))
    monkeypatch.setattr(nightly, "open_weather_client", offline)


def test_without_any_weather_the_plan_is_for_the_worst_of_the_date(ask: Any, no_network: None):
    """No service answers and nothing is stored: that is said first, with what to do by hand, and the jobs are
    those of a very cold night of the date (no forecast means a message, never an all-clear)."""
    answer = ask(weather=None)

    assert answer.unseen is not None and answer.unseen.next_step
    assert answer.plan.weather.is_guess and answer.plan.jobs
    text = render_plan(answer.plan, Units.METRIC, garden=answer.garden)
    assert text.startswith("Cannot see tonight: no forecast could be had.")
    told = json.loads(render_json(answer.plan, unseen=answer.unseen))
    assert told["weather"]["is_guess"] and told["error"] == answer.unseen.message and told["jobs"]


@pytest.mark.parametrize("as_json", [False, True])
def test_a_night_that_cannot_be_seen_leaves_with_its_own_code(
    as_json: bool, no_network: None, garden_file: Path
):
    """Exit code 1, could not tell, whether there are jobs on the guess or none; the reason is on stderr."""
    reply = CliRunner().invoke(app, ["tonight", "--garden", str(garden_file), *(["--json"] if as_json else [])])

    assert reply.exit_code == 1
    assert "By hand tonight" in reply.stderr
    assert ("is_guess" if as_json else "Cannot see tonight") in reply.stdout


def test_the_same_question_has_the_same_answer(ask: Any):
    """Members come from a fixed seed: asked twice, the plan is the same to the last digit."""
    assert ask().plan.to_dict() == ask().plan.to_dict()


@pytest.mark.parametrize("written", ["0001-01-01T00:00", "9999-12-31T23:59"])
def test_a_time_beyond_the_sun_formulas_is_refused_in_a_sentence(written: str) -> None:
    """Years in which clocks overflow or the sun is not known: no traceback, but what to write."""
    site = load_garden(Path(__file__).parents[2] / "config" / "garden.yaml").site
    with pytest.raises(FrostguardError, match="outside the years"):
        nightly._moment(written, site, datetime(2026, 1, 14, tzinfo=UTC))
