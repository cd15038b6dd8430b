"""The report and the charts as a person calls for them."""

from __future__ import annotations

import webbrowser
from pathlib import Path

import html5lib
import pytest

from frostguard import places
from frostguard.cli import exits
from tests.e2e.command import DEMO_GARDEN, SAMPLES, Reply, frostguard

NIGHT = ("--garden", DEMO_GARDEN, "--weather", SAMPLES / "clear-calm-night.csv", "--days", "1")


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> tuple[Reply, Path]:
    """The report of the demo terrace's clear night, in a file that was named."""
    file = tmp_path_factory.mktemp("report") / "page.html"
    return frostguard("report", *NIGHT, "--html", file), file


def test_the_report_is_written_where_asked_and_its_headline_told(written: tuple[Reply, Path]) -> None:
    """The file holds a page, the terminal the first words and the way to it; the exit code is tonight's."""
    reply, file = written

    assert reply.exit_code == exits.SOMETHING_TO_DO
    assert str(file) in reply.unfolded
    assert "jobs tonight" in reply.unfolded
    root = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(file.read_text(encoding="utf-8"))
    assert "jobs tonight" in "".join(root.find("body/main/header").itertext())
    assert file.stat().st_size < 500_000
    assert [other.name for other in file.parent.iterdir()] == [file.name]


def test_without_a_name_it_goes_into_the_cache_and_can_be_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    """The usual file is in a folder of our own, and `--open` hands its address to the browser."""
    shown: list[str] = []
    monkeypatch.setattr(webbrowser, "open", lambda address: bool(shown.append(address)) or True)

    reply = frostguard("report", "--garden", DEMO_GARDEN, "--weather", SAMPLES / "mild.csv", "--days", "1", "--open")

    assert reply.stderr == ""
    assert places.report_file().is_file()
    assert shown == [places.report_file().resolve().as_uri()]


def test_no_browser_is_said_not_swallowed(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Where no browser can be started, that is said, and the report is there all the same."""
    monkeypatch.setattr(webbrowser, "open", lambda _: False)
    mild = ("--weather", SAMPLES / "mild.csv", "--days", "1", "--units", "imperial")

    reply = frostguard("report", "--garden", DEMO_GARDEN, *mild, "--html", tmp_path / "page.html", "--open")

    assert "No browser" in reply.stderr
    page = (tmp_path / "page.html").read_text(encoding="utf-8")
    ours, _, _ = page.partition("Where the limits of the plants come from")  # sources keep their own units
    assert "°F" in ours
    assert "°C" not in ours


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    """No traceback, a sentence and a next step, and nothing is written."""
    reply = frostguard("report", "--garden", DEMO_GARDEN, "--weather", SAMPLES / "mild.csv", "--days", "1",
                       "--html", tmp_path / "nowhere" / "page.html")  # fmt: skip

    assert reply.exit_code == exits.COULD_NOT_TELL
    assert "cannot be written" in reply.stderr
    assert not list(tmp_path.iterdir())


def test_an_old_page_stays_whole_where_the_new_one_fails(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A disk that takes no more leaves the page of yesterday as it was, and nothing beside it."""
    file = tmp_path / "page.html"
    file.write_text("yesterday", encoding="utf-8")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    mild = ("--weather", SAMPLES / "mild.csv", "--days", "1")
    reply = frostguard("report", "--garden", DEMO_GARDEN, *mild, "--html", file)

    assert reply.exit_code == exits.COULD_NOT_TELL
    assert "No space left" in reply.stderr
    assert file.read_text(encoding="utf-8") == "yesterday"
    assert [other.name for other in tmp_path.iterdir()] == [file.name]


def test_charts_follow_the_answer_in_plain_characters() -> None:
    """`--chart` adds charts of the pots most at risk, at most 80 columns wide, hours beneath and a legend once."""
    reply = frostguard("tonight", *NIGHT, "--chart")
    charts = reply.stdout[reply.stdout.index("hour by hour") :]

    assert charts.count("hour by hour") == 3
    assert charts.count("a air") == 1
    assert all(len(line) <= 80 for line in reply.stdout.splitlines())
    assert charts.replace("°", "").isascii()


def test_a_chart_and_an_explanation_are_of_the_same_pot() -> None:
    """With `--explain` only that pot is charted."""
    reply = frostguard("tonight", *NIGHT, "--chart", "--explain", "lemon")

    assert reply.stdout.count("hour by hour in") == 1
    assert "Lemon by the door, hour by hour" in reply.stdout


def test_a_chart_is_no_data() -> None:
    """Asked together with `--json` the call is wrong usage, not half an answer."""
    reply = frostguard("tonight", *NIGHT, "--chart", "--json")

    assert reply.exit_code == 2
    assert reply.stdout == ""
