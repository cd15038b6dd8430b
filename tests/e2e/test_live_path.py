"""The live forecast through the command: fetched, kept, used again, stood in for, or missing.

The network is a function from request to response, the clock is fixed, and waiting costs nothing.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, tzinfo
from functools import partial
from pathlib import Path
from typing import Any

import httpx
import pytest

import frostguard.cli.app as command_line
import frostguard.nightly as nightly
from frostguard import places
from frostguard.weather.client import open_weather_client
from frostguard.weather.csv_file import write_weather_csv
from frostguard.weather.series import HOUR, WeatherSeries, utc_hour
from tests.e2e.answers import open_meteo_answer
from tests.e2e.command import Reply, assert_told_not_thrown, frostguard, frostguard_process
from tests.e2e.weathers import CLEAR_CALM_ASKED, clear_calm_night
from tests.unit.weather.parts import select_hours

GARDEN = """\
site: {latitude: 46.05, longitude: 14.51, elevation_m: 298, time_zone: Europe/Ljubljana}
spots:
  - name: terrace
  - name: wash room
    room: unheated
    free_floor_m2: 1
pots:
  - plant: pelargonium
    material: plastic
    volume_l: 3
    spot: terrace
"""
"""A pot that a clear frosty night sends indoors."""

BY_HAND = "carry tender pots indoors and put fleece over the rest"

Handler = Callable[[httpx.Request], httpx.Response]


@dataclass
class World:
    """The service, the clock on the wall, and what has been asked and waited for."""

    garden: Path
    cache: Path
    now: datetime = CLEAR_CALM_ASKED
    answer: Handler = field(default=lambda request: httpx.Response(200))
    requests: list[httpx.Request] = field(default_factory=list)
    waited_s: float = 0.0

    def handle(self, request: httpx.Request) -> httpx.Response:
        self.requests.append(request)
        return self.answer(request)

    def sleep(self, seconds: float) -> None:
        self.waited_s += seconds

    def tonight(self, *more: str) -> Reply:
        """The command without a weather file; one night is enough here."""
        return frostguard("tonight", "--garden", self.garden, "--days", "1", *more)

    @property
    def stored(self) -> list[Path]:
        """What is kept on disk."""
        return sorted(self.cache.rglob("*.json"))


@pytest.fixture(scope="module")
def weather() -> WeatherSeries:
    """The clear calm night with a day or two before it and three after: less to reckon than the usual month."""
    asked = utc_hour(CLEAR_CALM_ASKED)
    return select_hours(clear_calm_night(), asked - 36 * HOUR, asked + 96 * HOUR)


@pytest.fixture(scope="module")
def forecast(weather: WeatherSeries) -> bytes:
    """What the service sends for it."""
    return json.dumps(open_meteo_answer(weather)).encode()


@pytest.fixture
def world(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, forecast: bytes) -> Iterator[World]:
    """A working service, an empty store, and the clock at the moment that the forecast is made for."""
    garden = tmp_path / "garden.yaml"
    garden.write_text(GARDEN, encoding="utf-8")
    world = World(garden, tmp_path / "cache", answer=lambda request: httpx.Response(200, content=forecast))
    monkeypatch.setenv(places.CACHE_VARIABLE, str(world.cache))
    monkeypatch.setenv(places.DATA_VARIABLE, str(tmp_path / "data"))  # the logbook keeps answers, too
    settings = tmp_path / "settings.yaml"
    settings.write_text("weather_services: [open-meteo]\n", encoding="utf-8")  # one service, one request
    monkeypatch.setenv(places.SETTINGS_VARIABLE, str(settings))

    class Clock(datetime):
        @classmethod
        def now(cls, tz: tzinfo | None = None) -> Any:
            return world.now.astimezone(tz)

    monkeypatch.setattr(command_line, "datetime", Clock)
    client = partial(
        open_weather_client,
        transport=httpx.MockTransport(world.handle),
        sleep=world.sleep,
        monotonic=lambda: world.waited_s,
        jitter=lambda: 0.0,
        now=lambda: world.now.astimezone(UTC),
    )
    monkeypatch.setattr(nightly, "open_weather_client", client)
    yield world


def down(request: httpx.Request) -> httpx.Response:
    """Nobody there."""
    raise httpx.ConnectError("no route to host", request=request)


def test_the_live_forecast_gives_the_same_evening_as_the_same_weather_in_a_file(
    world: World, weather: WeatherSeries, tmp_path: Path
) -> None:
    """Which way the weather came changes its credit, not the advice."""
    path = tmp_path / "weather.csv"
    write_weather_csv(path, weather, ())

    live = world.tonight("--json")
    filed = world.tonight("--json", "--weather", str(path))

    assert live.exit_code == filed.exit_code == 3
    assert {**live.data, "weather": None} == {**filed.data, "weather": None}
    assert live.data["jobs"] and len(world.requests) == 1
    weather = live.data["weather"]
    assert (weather["service"], weather["from_store"], weather["age_h"]) == ("open-meteo", False, 0.0)
    assert datetime.fromisoformat(weather["fetched"]) == world.now
    assert "Open-Meteo" in weather["credit"]  # CC BY 4.0 asks for the name


def test_the_request_is_for_the_site_of_the_garden_file(world: World) -> None:
    """Its place, its height, thirty days back for the root balls, and who is asking."""
    world.tonight()

    (request,) = world.requests
    query = request.url.params
    assert (request.url.scheme, request.url.host) == ("https", "api.open-meteo.com")
    assert (float(query["latitude"]), float(query["longitude"])) == (46.05, 14.51)
    assert (query["elevation"], query["past_days"]) == ("298", "30")
    assert int(query["forecast_days"]) >= 2  # a night ends at noon of the second day
    assert request.headers["User-Agent"].startswith("frostguard/")


def test_a_person_reads_whose_weather_it_is(world: World) -> None:
    """Service, credit and age stand at the end of the page."""
    reply = world.tonight()

    assert reply.exit_code == 3 and reply.stderr == ""
    last_lines = " ".join(reply.stdout.splitlines()[-4:])
    assert "Open-Meteo" in last_lines and "less than an hour old" in last_lines


def test_asked_again_within_the_hour_nobody_is_bothered(world: World) -> None:
    """Models are not run more often than hourly: the kept answer serves, and is not called a stand-in."""
    world.tonight()
    world.now += timedelta(minutes=50)
    again = world.tonight("--json")
    assert len(world.requests) == 1
    assert again.data["weather"]["from_store"] is False
    assert again.data["weather"]["age_h"] == pytest.approx(50 / 60, abs=0.05)

    world.now += timedelta(minutes=20)
    world.tonight()
    assert len(world.requests) == 2


def test_with_the_service_down_the_last_answer_stands_in_and_says_so(world: World) -> None:
    """The jobs of the night are still told, with exit code 3, and the weather's date with them."""
    world.now -= timedelta(hours=5)
    world.tonight()
    world.now += timedelta(hours=5)
    world.answer = down

    reply, data = world.tonight(), world.tonight("--json").data

    assert reply.exit_code == 3 and reply.stderr == ""
    assert "No new forecast could be fetched: this is the last one kept." in reply.unfolded
    assert "5 hours old" in reply.unfolded and "10:00" in reply.unfolded
    assert data["weather"]["from_store"] is True
    assert data["weather"]["age_h"] == pytest.approx(5.0, abs=0.05)
    assert any(note.startswith("stored-answer") for note in data["notes"]) and data["jobs"]


def test_an_old_stand_in_is_warned_of_in_the_first_lines(world: World) -> None:
    """A forecast from the day before yesterday is not told like a fresh one."""
    world.now -= timedelta(hours=30)
    world.tonight()
    world.now += timedelta(hours=30)
    world.answer = down

    reply = world.tonight()

    assert reply.exit_code == 3
    assert "more than a day old" in " ".join(reply.stdout.splitlines()[:4])
    assert "treat tender plants as if the night were colder" in reply.unfolded


def test_with_nothing_stored_it_could_not_tell_and_says_what_to_do(world: World) -> None:
    """Exit code 1, who did not answer, and the evening's work by hand; on standard output no all-clear, but the
    jobs of a very cold night."""
    world.answer = down

    reply = world.tonight()

    assert_told_not_thrown(reply)
    assert "api.open-meteo.com cannot be reached" in reply.stderr and BY_HAND in reply.stderr
    assert reply.stdout.startswith("Cannot see tonight") and "This is no forecast" in reply.unfolded
    assert "Nothing to do" not in reply.stdout and "elargonium" in reply.stdout
    assert len(world.requests) == 3 and world.waited_s < 80  # patient, but not for ever
    assert BY_HAND in world.tonight("--json").data["next_step"]


def test_a_stored_answer_that_ends_too_early_is_no_answer(world: World) -> None:
    """Eight days later the kept forecast has nothing to say about the coming night."""
    world.tonight()
    world.now += timedelta(days=8)
    world.answer = down

    reply = world.tonight()

    assert_told_not_thrown(reply)
    assert "No stored forecast reaches through the coming night" in reply.stderr and BY_HAND in reply.stderr


def test_a_stored_answer_for_another_place_is_no_answer(world: World) -> None:
    """The forecast of the old flat does not stand in at the new one."""
    world.tonight()
    world.garden.write_text(GARDEN.replace("46.05", "47.05"), encoding="utf-8")
    world.answer = down

    assert_told_not_thrown(world.tonight())


TROUBLE: dict[str, Handler] = {
    "no route": down,
    "silence": lambda request: (_ for _ in ()).throw(httpx.ReadTimeout("", request=request)),
    "cut off": lambda request: (_ for _ in ()).throw(httpx.RemoteProtocolError("", request=request)),
    "busy": lambda request: httpx.Response(429, headers={"Retry-After": "1"}),
    "busy for a day": lambda request: httpx.Response(429, headers={"Retry-After": "86400"}),
    "out of order": lambda request: httpx.Response(503, content=b"upstream"),
    "refused": lambda request: httpx.Response(400, json={"error": True, "reason": "No such\x1b[2J place"}),
    "hotel page": lambda request: httpx.Response(200, content=b"<html>Log in, guest!</html>"),
    "empty": lambda request: httpx.Response(200, content=b""),
    "error with 200": lambda request: httpx.Response(200, json={"error": True, "reason": "out of model"}),
    "half an answer": lambda request: httpx.Response(200, content=b'{"hourly": {"time": [1, 2'),
    "elsewhere": lambda request: httpx.Response(302, headers={"Location": "https://example.org/login"}),
    "in the clear": lambda request: httpx.Response(
        302, headers={"Location": "http://api.open-meteo.com/v1/forecast"}
    ),
    "in circles": lambda request: httpx.Response(302, headers={"Location": str(request.url)}),
    "not unpackable": lambda request: httpx.Response(
        200, headers={"Content-Encoding": "gzip"}, content=b"no gzip"
    ),
    "endless": lambda request: httpx.Response(200, content=b" " * 9_000_000),
}


@pytest.mark.parametrize("trouble", TROUBLE)
def test_every_kind_of_trouble_ends_in_what_to_do_by_hand(world: World, trouble: str) -> None:
    """Whatever the service does, the person learns that there is no forecast, and gets an evening's plan B."""
    world.answer = TROUBLE[trouble]

    reply = world.tonight()

    assert_told_not_thrown(reply)
    assert reply.stdout.startswith("Cannot see tonight") and BY_HAND in reply.stderr
    assert world.waited_s < 80 and len(world.requests) <= 5
    assert world.stored == []  # nothing bad is kept for another day


@pytest.mark.parametrize("trouble", ["silence", "out of order", "hotel page", "refused"])
def test_trouble_never_costs_the_kept_answer(world: World, trouble: str) -> None:
    """A bad answer neither replaces the good one nor stops it from standing in."""
    world.tonight()
    kept = [path.read_bytes() for path in world.stored]
    world.now += timedelta(hours=2)
    world.answer = TROUBLE[trouble]

    reply = world.tonight("--json")

    assert reply.exit_code == 3 and reply.data["weather"]["from_store"] is True
    assert [path.read_bytes() for path in world.stored] == kept


def test_a_passing_fault_is_waited_out(world: World, forecast: bytes) -> None:
    """A service that is busy at the first try and answers at the second gives an ordinary evening."""
    answers = iter([httpx.Response(503), httpx.Response(200, content=forecast)])
    world.answer = lambda request: next(answers)

    reply = world.tonight("--json")

    assert reply.exit_code == 3 and reply.data["weather"]["from_store"] is False
    assert len(world.requests) == 2 and 0 < world.waited_s < 10


def test_a_forecast_that_stopped_days_ago_is_not_taken_for_tonights(world: World) -> None:
    """The service may go on sending a frozen run: it does not reach the night, so there is no all-clear."""
    world.now += timedelta(days=9)

    reply = world.tonight()

    assert_told_not_thrown(reply)
    assert "old forecast" in reply.stderr


def test_a_damaged_store_is_noted_and_replaced(world: World) -> None:
    """A half-written file from a power cut does not stop the evening."""
    world.tonight()
    (path,) = world.stored
    path.write_bytes(path.read_bytes()[:100])

    reply = world.tonight()

    assert reply.exit_code == 3
    assert "The last kept forecast was damaged and is not used." in reply.unfolded
    assert json.loads(path.read_bytes())["frostguard_answer"] == 1


def test_a_store_that_cannot_be_written_is_noted(world: World) -> None:
    """Advice matters more than keeping the forecast."""
    world.cache.write_text("a file where the folder should be")

    reply = world.tonight()

    assert reply.exit_code == 3
    assert "This forecast could not be kept for later." in reply.unfolded


@pytest.mark.long
def test_a_machine_without_a_way_out_gives_up_in_time(tmp_path: Path) -> None:
    """A real process, real waiting: within its patience it says that there is no forecast."""
    garden = tmp_path / "garden.yaml"
    garden.write_text(GARDEN, encoding="utf-8")
    nowhere = "http://127.0.0.1:9"  # the discard port: nobody listens

    reply = frostguard_process(
        "tonight",
        "--garden",
        garden,
        HTTPS_PROXY=nowhere,
        https_proxy=nowhere,
        ALL_PROXY=nowhere,
        NO_PROXY="",
        no_proxy="",
        **{places.CACHE_VARIABLE: str(tmp_path)},
    )

    assert_told_not_thrown(reply)
    assert BY_HAND in reply.stderr
