"""The commands about the weather: what they print, save and refuse."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
from typer.testing import CliRunner

from frostguard.cli.app import app
from frostguard.weather import client as weather_client
from frostguard.weather.files import load_weather
from tests.unit.weather.payloads import epw_text, open_meteo_answer

ROOT = Path(__file__).parents[3]
GARDEN = ["--garden", str(ROOT / "config" / "garden.yaml")]
SAMPLE = ROOT / "samples" / "clear-calm-night.csv"


@pytest.fixture(autouse=True)
def _own_places(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FROSTGUARD_CACHE_DIR", str(tmp_path / "cache"))
    monkeypatch.setenv("FROSTGUARD_DATA_DIR", str(tmp_path / "data"))
    monkeypatch.setenv("FROSTGUARD_CONFIG_DIR", str(tmp_path / "config"))
    monkeypatch.setenv("FROSTGUARD_SETTINGS", "")


def run(*arguments: str) -> Any:
    return CliRunner().invoke(app, ["weather", *arguments])


class Asked(list[str]):
    """The hosts that were asked, and whether Open-Meteo answers."""

    answers = True


@pytest.fixture
def network(monkeypatch: pytest.MonkeyPatch) -> Asked:
    """Open-Meteo answers with invented hours about now, nobody else answers; the hosts that were asked."""
    asked = Asked()
    midnight = datetime.now(UTC).replace(hour=0, minute=0, second=0, microsecond=0)

    def handler(request: httpx.Request) -> httpx.Response:
        asked.append(request.url.host)
        if request.url.host == "api.open-meteo.com" and asked.answers:
            return httpx.Response(200, json=open_meteo_answer(first=midnight - timedelta(days=30)))
        raise httpx.ConnectError("no network")

    usual = weather_client.open_weather_client

    @contextmanager
    def opened(settings: Any) -> Iterator[Any]:
        with usual(settings, transport=httpx.MockTransport(handler), sleep=lambda seconds: None) as client:
            yield client

    monkeypatch.setattr(weather_client, "open_weather_client", opened)
    return asked


def test_show_draws_the_nights_of_a_file() -> None:
    """Seven nights of the sample, its credit, and the exit code of a question that was answered."""
    result = run("show", *GARDEN, "--weather", str(SAMPLE))
    assert result.exit_code == 0, result.output
    assert "14 Jan" in result.stdout and "clear, calm" in result.stdout
    assert "nothing here was measured or forecast" in result.stdout
    assert len([line for line in result.stdout.splitlines() if " Jan " in line]) == 7


def test_show_and_tonight_tell_the_same_nights() -> None:
    """Both reckon with what is usual for a site in a city, and later with what readings have taught."""
    shown = run("show", *GARDEN, "--weather", str(SAMPLE), "--days", "3").stdout
    reply = CliRunner().invoke(app, ["tonight", *GARDEN, "--weather", str(SAMPLE), "--days", "3", "--json"])
    nights = json.loads(reply.stdout)["nights"]
    likely = [float(line.split()[3]) for line in shown.splitlines() if " Jan " in line]
    assert likely == [night["coldest_air_c"] for night in nights]


def test_show_takes_time_days_and_units() -> None:
    """Two nights from a later day on, in Fahrenheit."""
    result = run(
        "show", *GARDEN, "--weather", str(SAMPLE), "--at", "2026-01-16T15:00", "--days", "2", "--units", "imperial"
    )
    assert "Fri 16 Jan  " in result.stdout and "Sun 18 Jan" not in result.stdout
    assert "°F" in result.stdout


def test_fetch_saves_a_table_and_the_answer_itself(tmp_path: Path, network: Asked) -> None:
    """Both kinds read back as the same hours; what is there already is not written over."""
    table, answer = tmp_path / "now.csv", tmp_path / "now.json"
    for target in (table, answer):
        result = run("fetch", *GARDEN, "--to", str(target))
        assert result.exit_code == 0, result.output
        assert "Open-Meteo" in result.stdout and str(target.name) in result.stdout.replace("\n", "")
    first, second = load_weather(table), load_weather(answer)
    assert first.n_hours == second.n_hours == 24 * 39
    assert first.provenance.fetched == second.provenance.fetched.replace(microsecond=0)  # type: ignore[union-attr]
    result = run("fetch", *GARDEN, "--to", str(table))
    assert result.exit_code == 1 and "is there already" in result.stderr
    assert run("fetch", *GARDEN, "--to", str(table), "--replace").exit_code == 0
    assert network.count("api.open-meteo.com") == 1  # within the hour nobody is asked again


def test_fetch_in_vain_says_so_and_leaves_with_one(network: Asked, monkeypatch: pytest.MonkeyPatch) -> None:
    """An earlier answer is told as that; it was not what was asked for."""
    run("fetch", *GARDEN)
    monkeypatch.setattr("frostguard.weather.chain.FRESH", timedelta(0))
    network.answers = False
    result = run("fetch", *GARDEN)
    assert result.exit_code == 1 and "No new forecast could be fetched" in " ".join(result.stdout.split())


def test_a_typical_year_is_put_on_the_year_asked_about(tmp_path: Path) -> None:
    """Asked about a night of 2027 the file's January is that of 2027."""
    source = tmp_path / "year.epw"
    source.write_text(epw_text(days=40), encoding="utf-8")
    result = run("show", *GARDEN, "--weather", str(source), "--at", "2027-01-14T15:00", "--days", "2")
    assert result.exit_code == 0, result.output
    assert "Thu 14 Jan" in result.stdout and "put on 2027" in result.stdout


def test_show_without_a_file_asks_the_services(network: Asked) -> None:
    """The chart comes from the network, once."""
    result = run("show", *GARDEN)
    assert result.exit_code == 0 and "Weather: Open-Meteo." in result.stdout and network


def test_convert_turns_a_typical_year_into_a_table(tmp_path: Path) -> None:
    """An EPW on a year of choice becomes a CSV, and the notes are told."""
    source, target = tmp_path / "year.epw", tmp_path / "year.csv"
    source.write_text(epw_text(days=40), encoding="utf-8")
    result = run("convert", str(source), str(target), "--year", "2027")
    assert result.exit_code == 0, result.output
    assert "960 hours from 2027-01-01 00:00" in result.stdout and "typical year, put on 2027" in result.stdout
    assert load_weather(target).n_hours == 960


def test_a_table_that_cannot_be_written_is_told_by_its_own_name(tmp_path: Path) -> None:
    """The folder is not there: the name that was asked for is told, and nothing is left behind."""
    target = tmp_path / "nowhere" / "x.csv"
    result = run("convert", "samples/mild.csv", str(target))
    assert result.exit_code == 1 and f"{target}: No such file" in result.stderr and ".part" not in result.stderr


def test_an_old_file_has_no_nights_to_show(tmp_path: Path) -> None:
    """Asked after its end nothing can be told (1), and how it is asked about is said."""
    result = run("show", *GARDEN, "--weather", "samples/mild.csv", "--at", "2026-06-01T15:00")
    assert result.exit_code == 1 and "No hours ahead are known." in result.stdout and "--at" in result.stdout


def test_convert_refuses_members_and_says_where_they_fit(tmp_path: Path) -> None:
    """A table holds one member."""
    source = tmp_path / "members.json"
    source.write_text(json.dumps(open_meteo_answer(hours=72, members=5)), encoding="utf-8")
    result = run("convert", str(source), str(tmp_path / "x.csv"))
    assert result.exit_code == 1 and "has 5 members" in result.stderr and ".json" in result.stderr
    assert not (tmp_path / "x.csv").exists()


def test_an_emptied_folder_does_not_lose_the_last_answer(tmp_path: Path, network: Asked) -> None:
    """The cache is cleared and the network is gone: the logbook's answer stands in; within the hour as a fresh one."""
    run("fetch", *GARDEN)
    shutil.rmtree(tmp_path / "cache")
    network.answers = False
    result = run("show", *GARDEN)
    assert result.exit_code == 0 and "Open-Meteo. Fetched" in result.stdout
    assert "Last answer: less than an hour ago." in run("sources", *GARDEN).stdout


def test_a_disk_that_takes_nothing_is_told_and_the_forecast_given(
    tmp_path: Path, network: Asked, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither the last answer nor the logbook can be written: the nights are shown, and both are said."""
    (tmp_path / "full").write_text("no folder", encoding="utf-8")
    for name in ("CACHE", "DATA"):
        monkeypatch.setenv(f"FROSTGUARD_{name}_DIR", str(tmp_path / "full"))
    result = run("show", *GARDEN)
    flat = " ".join(result.stdout.split())
    assert result.exit_code == 0, result.output
    assert "This forecast could not be kept for later." in flat and "eight chances in ten" in flat
    assert "logbook" in flat


def test_sources_tells_of_each_service(tmp_path: Path, network: Asked) -> None:
    """Without a contact two are not asked; after a fetch the age of the answer is told."""
    run("fetch", *GARDEN)
    result = run("sources", *GARDEN)
    assert result.exit_code == 0
    for text in ("1. Open-Meteo", "less than an hour ago", "2. MET Norway", "wants to know who", "Bright Sky"):
        assert text in result.stdout
    # the invented answer has no gusts, though the service can give them; what was fetched is kept in the logbook
    flat = " ".join(result.stdout.split())
    assert "Not in its last answer for here: the humidity, the gusts" in flat
    assert "The logbook keeps 1 answer of the last 90 days" in flat
    settings = tmp_path / "settings.yaml"
    settings.write_text("weather_services: [met-norway]\ncontact: me@example.org\n", encoding="utf-8")
    result = run("sources", *GARDEN, "--settings", str(settings))
    assert "1. MET Norway\n  Asked first." in result.stdout


def test_no_garden_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a garden file there is no place to ask about."""
    monkeypatch.setenv("FROSTGUARD_GARDEN", "")
    result = run("sources")
    assert result.exit_code == 1 and "no garden file" in result.stderr


@pytest.fixture
def archive(monkeypatch: pytest.MonkeyPatch) -> list[httpx.URL]:
    """The look-ups of Open-Meteo in their documented shape; the addresses that were asked."""
    asked: list[httpx.URL] = []

    def handler(request: httpx.Request) -> httpx.Response:
        asked.append(request.url)
        match request.url.host:
            case "geocoding-api.open-meteo.com" if request.url.params["name"] == "Nowhere":
                return httpx.Response(200, json={"generationtime_ms": 0.5})
            case "geocoding-api.open-meteo.com":
                hit = {
                    "name": "Ljub\x1b[2Jljana", "latitude": 46.05108, "longitude": 14.50513, "elevation": 298.0,
                    "country_code": "SI", "timezone": "Europe/Ljubljana", "admin1": "Ljubljana",
                }  # fmt: skip
                return httpx.Response(200, json={"results": [hit]})
            case "api.open-meteo.com":
                return httpx.Response(200, json={"elevation": [301.0]})
            case "historical-forecast-api.open-meteo.com" | "archive-api.open-meteo.com":
                return httpx.Response(200, json=open_meteo_answer(first=datetime(2024, 1, 1, tzinfo=UTC), hours=48))
        return httpx.Response(404)

    usual = weather_client.open_weather_client

    @contextmanager
    def opened(settings: Any) -> Iterator[Any]:
        with usual(settings, transport=httpx.MockTransport(handler), sleep=lambda seconds: None) as client:
            yield client

    monkeypatch.setattr(weather_client, "open_weather_client", opened)
    return asked


def test_a_place_by_name_gives_the_lines_of_a_garden_file(archive: list[httpx.URL]) -> None:
    """Coordinates, height and time zone, ready to copy; what the service sends is no command to the terminal."""
    reply = run("place", "Ljubljana")

    assert reply.exit_code == 0
    for line in ("latitude: 46.0511", "longitude: 14.5051", "elevation_m: 298", "time_zone: Europe/Ljubljana"):
        assert f"  {line}\n" in reply.stdout
    assert "\x1b" not in reply.stdout and "GeoNames" in reply.stdout
    assert dict(archive[0].params) == {"name": "Ljubljana", "count": "5", "language": "en", "format": "json"}


@pytest.mark.parametrize(
    ("words", "asked"),
    [
        (["-33.93,", "18.42"], {"latitude": "-33.9300", "longitude": "18.4200"}),
        (["-33.93, -70.66"], {"latitude": "-33.9300", "longitude": "-70.6600"}),
    ],
)
def test_a_southern_point_is_no_option(archive: list[httpx.URL], words: list[str], asked: dict[str, str]) -> None:
    """A minus in front and a blank between, with and without quotes."""
    reply = run("place", *words)

    assert reply.exit_code == 0 and dict(archive[0].params) == asked


def test_a_name_of_two_words_needs_no_quotes(archive: list[httpx.URL]) -> None:
    """They are one name."""
    run("place", "Novo", "mesto")

    assert archive[0].params["name"] == "Novo mesto"


def test_a_point_gives_its_height(archive: list[httpx.URL]) -> None:
    """Two numbers are a point; its height comes from the height model."""
    reply = run("place", "46.05, 14.51")

    assert reply.exit_code == 0 and "elevation_m: 301" in reply.stdout
    assert archive[0].path == "/v1/elevation"


@pytest.mark.parametrize(
    ("named", "told"), [("Nowhere", "No place of this name"), ("x", "at least two letters")]
)
def test_a_place_that_is_not_found_is_told(archive: list[httpx.URL], named: str, told: str) -> None:
    """One sentence, and what to try instead."""
    reply = run("place", named)

    assert reply.exit_code == 1 and told in reply.stderr and reply.stdout == ""


def test_a_place_without_a_network_is_looked_up_on_a_map(network: Asked) -> None:
    """The way out is a map, not the evening's work by hand."""
    reply = run("place", "Ljubljana")

    assert reply.exit_code == 1 and "from a map" in reply.stderr and "tonight" not in reply.stderr


@pytest.mark.parametrize(
    ("first", "last", "host"),
    [
        ("2024-01-01", "2024-01-02", "historical-forecast-api.open-meteo.com"),
        ("2001-01-01", "2001-01-02", "archive-api.open-meteo.com"),
    ],
)
def test_the_weather_that_was_is_saved(
    archive: list[httpx.URL], tmp_path: Path, first: str, last: str, host: str
) -> None:
    """Archived forecasts for recent years, the reanalysis for earlier ones (Open-Meteo, documentation)."""
    target = tmp_path / "past.csv"
    reply = run("past", first, last, str(target), *GARDEN)

    assert reply.exit_code == 0 and load_weather(target).n_hours == 48
    assert archive[0].host == host and archive[0].params["start_date"] == first


@pytest.mark.parametrize(
    ("first", "last"), [("2024-02-01", "2024-01-01"), ("1900-01-01", "1900-02-01"), ("2024-01-01", "2999-01-01")]
)
def test_days_that_no_archive_has_are_refused(
    archive: list[httpx.URL], tmp_path: Path, first: str, last: str
) -> None:
    """Backwards, before 1940 and in the future."""
    reply = run("past", first, last, str(tmp_path / "past.csv"), *GARDEN)

    assert reply.exit_code == 1 and "The archive has no days" in reply.stderr and not archive


def test_a_day_that_is_none_is_told_in_our_own_words() -> None:
    """The words of the library that reads the options do not show through."""
    reply = run("past", "nonsense", "2026-01-02", "x.csv")
    assert reply.exit_code == 2 and "'nonsense' is no day; write it like 2026-01-14." in " ".join(reply.stderr.split())
    assert "%Y" not in reply.stderr and "Value error" not in reply.stderr
