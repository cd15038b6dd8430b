"""Tonight's forecast: fetched, reused, or the last good one in its stead; and weather from files."""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest

from frostguard.errors import ForecastFormatError, WeatherUnavailable
from frostguard.garden.model import Site
from frostguard.garden.settings import Settings
from frostguard.weather.client import RawAnswer, WeatherClient
from frostguard.weather.files import MAX_FILE_BYTES, load_weather, load_weather_of
from frostguard.weather.forecast import fetch_forecast, forecast_or_stored
from frostguard.weather.open_meteo import FORECAST_URL, forecast_query
from frostguard.weather.series import WeatherSeries
from frostguard.weather.store import (
    ForecastStore,
    StoredAnswer,
    UnreadableStoreError,
    parse_stored,
    stored_text,
)

Answer = dict[str, Any]
MakeAnswer = Callable[..., Answer]
OpenClient = Callable[..., AbstractContextManager[WeatherClient]]
SETTINGS = Settings()


def answering(answer: Answer) -> Callable[[httpx.Request], httpx.Response]:
    return lambda request: httpx.Response(200, json=answer)


def dead(request: httpx.Request) -> httpx.Response:
    raise httpx.ConnectError("no network")


def never(request: httpx.Request) -> httpx.Response:
    raise AssertionError("nobody may be asked")


class Kitchen:
    """A site's forecast on a given network and store."""

    def __init__(self, client_on: OpenClient, site: Site, folder: Path) -> None:
        self.client_on, self.site, self.store = client_on, site, ForecastStore(folder)

    def ask(
        self, network: Callable[[httpx.Request], httpx.Response], now: datetime, days: int = 7
    ) -> WeatherSeries:
        settings = replace(SETTINGS, days=days)
        with self.client_on(network) as client:
            return forecast_or_stored(self.site, settings, client=client, store=self.store, now=now)

    @property
    def file(self) -> Path:
        return self.store.path("open-meteo", self.site.latitude_deg, self.site.longitude_deg)


@pytest.fixture
def kitchen(client_on: OpenClient, site: Site, tmp_path: Path) -> Kitchen:
    """The whole way from question to series with a store of its own."""
    return Kitchen(client_on, site, tmp_path / "cache")


def test_a_forecast_is_fetched_with_the_request_of_the_service(
    client_on: OpenClient, site: Site, winter_answer: MakeAnswer, asked: datetime
) -> None:
    """The site's query goes to the forecast address and comes back as a series with its fetch time."""
    seen = []

    def network(request: httpx.Request) -> httpx.Response:
        seen.append(request)
        return httpx.Response(200, json=winter_answer())

    with client_on(network) as client:
        series = fetch_forecast(client, site, SETTINGS)
    assert str(seen[0].url.copy_with(query=None)) == FORECAST_URL
    assert dict(seen[0].url.params) == forecast_query(site, SETTINGS.days)
    assert series.provenance.fetched == asked and not series.provenance.from_store


def test_a_service_that_worked_at_another_height_is_noted(
    client_on: OpenClient, site: Site, winter_answer: MakeAnswer
) -> None:
    """An echoed height 102 m above the site's is noted, one 40 m off is not."""
    for height_m, notes in ((400.0, ("height-differs:102",)), (338.0, ())):
        with client_on(answering({**winter_answer(), "elevation": height_m})) as client:
            assert fetch_forecast(client, site, SETTINGS).notes == notes


def test_a_frozen_old_run_is_no_forecast(
    client_on: OpenClient, site: Site, winter_answer: MakeAnswer
) -> None:
    """A well-formed answer whose window ends today is refused."""
    with (
        client_on(answering(winter_answer(24 * 31))) as client,
        pytest.raises(WeatherUnavailable, match="old forecast"),
    ):
        fetch_forecast(client, site, SETTINGS)


def test_within_an_hour_nobody_is_asked_again(
    kitchen: Kitchen, winter_answer: MakeAnswer, asked: datetime
) -> None:
    """The stored answer serves again for an hour, as a fresh one; after that the service is asked."""
    first = kitchen.ask(answering(winter_answer()), asked)
    again = kitchen.ask(never, asked + timedelta(minutes=59))
    np.testing.assert_array_equal(first.values["air_temperature_c"], again.values["air_temperature_c"])
    assert again.provenance.fetched == asked and not again.provenance.from_store
    with pytest.raises(AssertionError, match="nobody"):
        kitchen.ask(never, asked + timedelta(minutes=61))


def test_another_question_is_asked_anew(kitchen: Kitchen, winter_answer: MakeAnswer, asked: datetime) -> None:
    """More nights than before, or another height, do not reuse the stored answer."""
    kitchen.ask(answering(winter_answer()), asked)
    with pytest.raises(AssertionError, match="nobody"):
        kitchen.ask(never, asked, days=10)
    kitchen.site = replace(kitchen.site, elevation_m=350.0)
    with pytest.raises(AssertionError, match="nobody"):
        kitchen.ask(never, asked)


def test_without_a_network_the_last_good_answer_stands_in_dated(
    kitchen: Kitchen, winter_answer: MakeAnswer, asked: datetime
) -> None:
    """Five hours later, with no network, the stored answer comes with its date, flag and age."""
    kitchen.ask(answering(winter_answer()), asked)
    series = kitchen.ask(dead, asked + timedelta(hours=5))
    assert series.provenance.from_store and series.provenance.fetched == asked
    assert series.notes == ("stored-answer:5",)


@pytest.mark.parametrize(
    "network",
    [
        lambda request: httpx.Response(200, text="<html>maintenance</html>"),
        lambda request: httpx.Response(200, json={"error": True, "reason": "x"}),
        lambda request: httpx.Response(503),
        lambda request: httpx.Response(400, json={"error": True, "reason": "x"}),
    ],
    ids=["page", "error", "busy", "refused"],
)
def test_whatever_the_service_does_the_stored_answer_stands_in(
    kitchen: Kitchen,
    winter_answer: MakeAnswer,
    asked: datetime,
    network: Callable[[httpx.Request], httpx.Response],
) -> None:
    """A web page, an error, overload or a refusal all lead to the stored answer, which stays on disk."""
    kitchen.ask(answering(winter_answer()), asked)
    before = kitchen.file.read_bytes()
    assert kitchen.ask(network, asked + timedelta(hours=2)).provenance.from_store
    assert kitchen.file.read_bytes() == before


def test_a_stand_in_older_than_a_day_is_noted_loudly(
    kitchen: Kitchen, winter_answer: MakeAnswer, asked: datetime
) -> None:
    """After thirty hours the note is another one."""
    kitchen.ask(answering(winter_answer()), asked)
    assert kitchen.ask(dead, asked + timedelta(hours=30)).notes == ("stored-answer-old:30",)


def test_a_stored_answer_that_ends_before_the_night_is_no_help(
    kitchen: Kitchen, winter_answer: MakeAnswer, asked: datetime
) -> None:
    """After its last night the stored answer does not stand in; the person is told what to do by hand."""
    kitchen.ask(answering(winter_answer()), asked)
    with pytest.raises(WeatherUnavailable) as caught:
        kitchen.ask(dead, asked + timedelta(days=9))
    assert caught.value.message.startswith("api.open-meteo.com cannot be reached. No stored forecast")
    assert "By hand tonight" in caught.value.next_step


def test_with_nothing_stored_the_person_is_told_what_to_do(kitchen: Kitchen, asked: datetime) -> None:
    """No network and no stored answer: one error, no traceback, a next step for tonight."""
    with pytest.raises(WeatherUnavailable) as caught:
        kitchen.ask(dead, asked)
    assert "By hand tonight" in caught.value.next_step


@pytest.mark.parametrize(
    "damage",
    [
        b"",
        b"{",
        b"[]",
        b"null",
        b'{"frostguard_answer": 9}',
        b'{"frostguard_answer": 1, "service": 5}',
        b"\xff\xfe",
    ],
)
def test_a_damaged_store_is_ignored_and_noted(
    kitchen: Kitchen, winter_answer: MakeAnswer, asked: datetime, damage: bytes
) -> None:
    """A stored answer that cannot be read is passed over, said, and replaced by the next good one."""
    kitchen.ask(answering(winter_answer()), asked)
    kitchen.file.write_bytes(damage)
    series = kitchen.ask(answering(winter_answer()), asked)
    assert series.notes == ("store-unreadable",) and not series.provenance.from_store
    assert kitchen.ask(never, asked).notes == ()


def test_a_stored_answer_with_a_damaged_body_is_fetched_anew(
    kitchen: Kitchen, winter_answer: MakeAnswer, asked: datetime, site: Site
) -> None:
    """If the frame is whole but the answer inside is not, the service is asked."""
    kitchen.ask(answering(winter_answer()), asked)
    record = json.loads(kitchen.file.read_text())
    kitchen.file.write_text(json.dumps({**record, "body": record["body"][:500]}))
    assert kitchen.ask(answering(winter_answer()), asked).provenance.fetched == asked
    kitchen.file.write_text(json.dumps({**record, "body": record["body"][:500]}))
    with pytest.raises(WeatherUnavailable):
        kitchen.ask(dead, asked)


def test_a_disk_that_takes_nothing_does_not_stop_the_answer(
    client_on: OpenClient, site: Site, winter_answer: MakeAnswer, asked: datetime, tmp_path: Path
) -> None:
    """Where the cache folder cannot be made, the forecast is given all the same, and that is noted."""
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    series = Kitchen(client_on, site, blocked / "cache").ask(answering(winter_answer()), asked)
    assert series.n_hours == 24 * 39 and "store-not-written" in series.notes


def test_a_write_that_breaks_off_leaves_the_old_answer(
    kitchen: Kitchen, winter_answer: MakeAnswer, asked: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A disk that fills up while writing leaves the last good answer whole, and no rest behind."""
    kitchen.ask(answering(winter_answer()), asked)
    before = kitchen.file.read_bytes()

    def full(self: Path, text: str, **more: Any) -> int:
        self.write_bytes(text.encode()[:100])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_text", full)
    series = kitchen.ask(answering(winter_answer()), asked + timedelta(hours=2))
    assert series.notes == ("store-not-written",)
    assert kitchen.file.read_bytes() == before
    assert list(kitchen.file.parent.iterdir()) == [kitchen.file]


def test_a_clock_set_back_does_not_make_an_answer_fresh(
    kitchen: Kitchen, winter_answer: MakeAnswer, asked: datetime
) -> None:
    """An answer from the future is not reused as fresh, but may stand in."""
    kitchen.ask(answering(winter_answer()), asked)
    earlier = asked - timedelta(hours=3)
    with pytest.raises(AssertionError, match="nobody"):
        kitchen.ask(never, earlier)
    assert kitchen.ask(dead, earlier).notes == ("stored-answer:0",)


def test_each_place_has_its_own_answer(tmp_path: Path) -> None:
    """Two gardens do not overwrite each other, and north is not south."""
    store = ForecastStore(tmp_path)
    paths = {
        store.path("open-meteo", 46.05, 14.51),
        store.path("open-meteo", -46.05, 14.51),
        store.path("other", 46.05, 14.51),
    }
    assert len(paths) == 3 and all(path.parent == tmp_path for path in paths)


def test_stored_answers_survive_as_bytes(asked: datetime) -> None:
    """Any body, text or not, comes back byte for byte."""
    stored = StoredAnswer("open-meteo", RawAnswer("https://x.test/?a=1", b'{"\xff": "\xc2\xb0C"}', asked))
    assert parse_stored(stored_text(stored).encode()) == stored


def test_a_store_that_cannot_be_opened_is_told_to_the_caller(tmp_path: Path) -> None:
    """A folder where the file should be counts as damaged."""
    store = ForecastStore(tmp_path)
    store.path("open-meteo", 1.0, 2.0).mkdir()
    with pytest.raises(UnreadableStoreError):
        store.read("open-meteo", 1.0, 2.0)


# Files: the content decides.


def test_the_content_of_a_file_decides_what_it_is(
    tmp_path: Path, winter_answer: MakeAnswer, asked: datetime
) -> None:
    """A table, a service's answer and a stored answer are each read, whatever the name ends in."""
    path = tmp_path / "weather.txt"
    path.write_text("time,air_temperature_c\n2026-01-14T15:00:00Z,-2\n")
    assert load_weather(path).provenance.service == "file"
    body = json.dumps(winter_answer(), ensure_ascii=False).encode()
    path.write_bytes(b"\xef\xbb\xbf  " + body)
    assert load_weather(str(path)).provenance.service == "open-meteo"
    path.write_text(stored_text(StoredAnswer("open-meteo", RawAnswer("https://x.test", body, asked))))
    assert load_weather(path).provenance.fetched == asked


@pytest.mark.parametrize(("longitude_deg", "told"), [(14.6, None), (-14.5, 2226), (-79.4, 6779)])
def test_weather_of_another_place_is_told(
    tmp_path: Path, winter_answer: MakeAnswer, site: Site, longitude_deg: float, told: int | None
) -> None:
    """A wrong sign in the garden file, or an answer for Toronto's longitude; distances by hand on the sphere."""
    path = tmp_path / "saved.json"
    path.write_text(json.dumps({**winter_answer(), "longitude": longitude_deg}), encoding="utf-8")
    notes = [note for note in load_weather_of(path, site).notes if note.startswith("other-place")]
    assert (told is None) is (not notes)
    if told is not None:
        assert int(notes[0].split(":")[1]) == pytest.approx(told, rel=0.01)


def test_files_that_cannot_be_opened_are_told(tmp_path: Path) -> None:
    """A missing file, a folder and an impossible name each give the name and the reason."""
    for path in (tmp_path / "missing.csv", tmp_path, Path("a\0b")):
        with pytest.raises(WeatherUnavailable, match="cannot be opened") as caught:
            load_weather(path)
        assert "--weather" in caught.value.next_step


@pytest.mark.parametrize(
    ("body", "sentence"),
    [
        (b"", "is empty"),
        (b" \n\n", "is empty"),
        (b"<!doctype html><html>", "is a web page"),
        (b'{"type": "FeatureCollection"}', "no readable 'hourly' block"),
        (b"[1, 2]", "is a list of 2 places"),
        (b"hello", "the first column must be 'time', not 'hello'"),
    ],
)
def test_files_that_are_no_weather_are_told(tmp_path: Path, body: bytes, sentence: str) -> None:
    """An empty file, a web page, other JSON or a letter are named for what they are."""
    path = tmp_path / "weather.csv"
    path.write_bytes(body)
    with pytest.raises(ForecastFormatError) as caught:
        load_weather(path)
    assert sentence in caught.value.message and str(path) in caught.value.message


def test_a_giant_file_is_not_read_into_memory(tmp_path: Path) -> None:
    """A file beyond the limit is refused by its size."""
    path = tmp_path / "weather.csv"
    with path.open("wb") as file:
        file.truncate(MAX_FILE_BYTES + 1)
    with pytest.raises(ForecastFormatError, match="larger than 20 MB"):
        load_weather(path)
