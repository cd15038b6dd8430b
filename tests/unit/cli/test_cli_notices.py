"""The commands about messages: a test through every channel, and what would be said now."""

from __future__ import annotations

import json
import logging
from dataclasses import replace
from functools import partial
from pathlib import Path
from types import SimpleNamespace

import httpx
import plans
import pytest
from typer.testing import CliRunner

from frostguard import places
from frostguard.cli import exits
from frostguard.cli.app import app
from frostguard.errors import WeatherUnavailable
from frostguard.garden.reader import load_garden
from frostguard.garden.settings import Settings
from frostguard.logbook import nights, outbox
from frostguard.logbook.book import open_logbook
from frostguard.notify.delivery import Persistence, trial_notice
from frostguard.weather import client
from frostguard.weather.files import load_weather
from tests.unit.notify.mail_server import PASSWORD, USER, Mailbox, certificates, free_port, mail_server
from tests.unit.notify.web_server import Inbox, web_server

ROOT = Path(__file__).parents[3]
GARDEN = ROOT / "config" / "garden.yaml"
CLEAR_NIGHT = ROOT / "samples" / "clear-calm-night.csv"
KEY = "signing-key-4711"


def run(*arguments: str | Path):
    """The command's exit code, standard output and standard error."""
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


@pytest.fixture(autouse=True)
def _own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FROSTGUARD_CONFIG_DIR", str(tmp_path / "config"))
    monkeypatch.setenv("FROSTGUARD_CACHE_DIR", str(tmp_path / "cache"))
    monkeypatch.setenv(places.DATA_VARIABLE, str(tmp_path / "data"))
    for variable in ("FROSTGUARD_GARDEN", "FROSTGUARD_SETTINGS"):
        monkeypatch.delenv(variable, raising=False)


def test_without_settings_the_test_goes_to_the_terminal():
    """Nothing set up: the terminal shows it, marked as a test."""
    result = run("notices", "test")

    assert result.exit_code == exits.NOTHING_TO_DO
    assert result.stdout.startswith("Test of frostguard: nothing has to be done.")
    assert "terminal: taken." in result.stdout
    assert "Taken is not arrived" in result.stdout


def test_the_test_goes_through_every_channel_and_the_report_is_true(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
):
    """Mail with sign-in, a signed post and a feed take it; a dead address does not, and no secret is shown anywhere."""
    context, ca_file = certificates(tmp_path)
    key_file = tmp_path / "key"
    key_file.write_text(KEY)
    key_file.chmod(0o600)
    monkeypatch.setenv("FROST_PW", PASSWORD)
    monkeypatch.setenv("FROST_DEAD", f"http://127.0.0.1:{free_port()}/token-4711")
    once = Persistence(one_try_s=10.0, waits_s=())
    monkeypatch.setattr("frostguard.notify.delivery.Persistence", lambda: once)
    box, inbox, settings, feed = Mailbox(), Inbox(), tmp_path / "settings.yaml", tmp_path / "frost.xml"
    with mail_server(box, starttls=context, sign_in=True) as mail_port, web_server(inbox) as web_port:
        settings.write_text(
            "channels:\n"
            f"  - kind: mail\n    server: localhost\n    port: {mail_port}\n    user: {USER}\n"
            f"    password_from: env:FROST_PW\n    from: a@example.org\n    to: b@example.org\n    ca_file: {ca_file}\n"
            f"  - kind: webhook\n    address: http://localhost:{web_port}/x\n    signing_key_from: file:{key_file}\n"
            "  - kind: webhook\n    name: dead\n    address_from: env:FROST_DEAD\n"
            f"  - kind: feed\n    file: {feed}\n"
        )
        with caplog.at_level(logging.DEBUG):
            result = run("notices", "test", "--settings", settings)

    assert result.exit_code == exits.COULD_NOT_TELL
    for taken in ("mail: taken.", "webhook: taken.", "feed: taken."):
        assert taken in result.stdout
    assert "dead: the address cannot be reached." in result.stderr
    assert "dead: taken" not in result.stdout
    assert box.mails[0]["Subject"].startswith("Test of frostguard")
    assert json.loads(inbox.posts[0].body)["kind"] == "test"
    assert b"Test of frostguard" in feed.read_bytes()
    everything = result.stdout + result.stderr + caplog.text + feed.read_text()
    for secret in (PASSWORD, KEY, "token-4711"):
        assert secret not in everything


def test_a_secret_that_is_missing_is_told(tmp_path: Path):
    """The channel, the variable, and no more."""
    settings = tmp_path / "settings.yaml"
    settings.write_text("channels:\n  - kind: apprise\n    name: phone\n    address_from: env:FROST_NOT_SET\n")

    result = run("notices", "test", "--settings", settings)

    assert result.exit_code == exits.COULD_NOT_TELL
    assert "phone: the variable FROST_NOT_SET is not set." in result.stderr


@pytest.fixture
def _frosty_evening(monkeypatch: pytest.MonkeyPatch) -> None:
    """An answer made by hand in place of the simulation, with the sample's weather."""
    answer = SimpleNamespace(
        plan=plans.frosty_plan(),
        garden=load_garden(GARDEN),
        settings=Settings(),
        weather=load_weather(CLEAR_NIGHT),
        unseen=None,
        in_force=(),
    )
    monkeypatch.setattr("frostguard.nightly.answer_by", lambda book, query, *, now: answer)


@pytest.mark.usefixtures("_frosty_evening")
def test_what_would_be_said_now():
    """The evening's message: jobs, short form, whether it rings, what goes with it."""
    result = run("notices", "show", "--garden", GARDEN)

    assert result.exit_code == exits.NOTHING_TO_DO
    told = " ".join(result.stdout.split())
    for words in ("the night of Wed 2 Dec", "Pansies x 4", "As a short message:", "It rings", "jobs-2026-12-02.ics"):
        assert words in told, words


@pytest.mark.usefixtures("_frosty_evening")
def test_what_was_said_is_not_shown_again_unless_asked_for():
    """Once told, tonight's jobs are confirmed and then not said again; afresh, or of a weather file, they are new."""
    plan = plans.frosty_plan()
    openings = []
    for _ in range(2):
        shown = json.loads(run("notices", "show", "--garden", GARDEN, "--json").stdout)
        openings.append(shown["kind"])
        sent = replace(trial_notice(plan.asked_at, plan.night), key=shown["key"], tells=tuple(shown["tells"]))
        with open_logbook(places.logbook_file()) as book:
            book.write(partial(outbox.owe, notice=sent, channels=["post"], today=plan.night, now=plan.asked_at))
            book.write(partial(nights.keep_told, plan=plan, now=plan.asked_at))

    again = run("notices", "show", "--garden", GARDEN)
    assert openings == ["jobs", "go ahead"]
    assert again.exit_code == exits.NOTHING_TO_DO
    assert again.stdout.startswith("There is nothing to say that was not said before")
    assert "Pansies x 4" in run("notices", "show", "--garden", GARDEN, "--afresh").stdout
    assert "Pansies x 4" in run("notices", "show", "--garden", GARDEN, "--weather", CLEAR_NIGHT).stdout


@pytest.mark.usefixtures("_frosty_evening")
def test_as_data():
    """The same as JSON, as a channel would get it."""
    told = json.loads(run("notices", "show", "--garden", GARDEN, "--json").stdout)

    assert told["key"] == "jobs/2026-12-02" and told["interrupts"] is True
    assert len(told["short"]) <= 160


def test_without_a_forecast_it_says_that_it_cannot_see(monkeypatch: pytest.MonkeyPatch):
    """No network and nothing kept: no all-clear, but why, and the jobs of the worst night that is likely."""
    trouble = WeatherUnavailable("No service answered.", next_step="Look outside.")
    answer = SimpleNamespace(
        plan=plans.frosty_plan(),
        garden=load_garden(GARDEN),
        settings=Settings(),
        weather=load_weather(CLEAR_NIGHT),
        unseen=trouble,
        in_force=(),
    )
    monkeypatch.setattr("frostguard.nightly.answer_by", lambda book, query, *, now: answer)

    result = run("notices", "show", "--garden", GARDEN)

    assert result.exit_code == exits.NOTHING_TO_DO
    told = " ".join(result.stdout.split())
    assert told.startswith("Cannot see tonight: no forecast. Look yourself. No service answered. Look outside.")
    assert "slide or wheel to the cellar" in told
    assert "It rings" in told


def test_the_library_for_the_network_stays_in_one_module():
    """A post without an answer leaves it in words of our own, never with the address."""

    def refused(request: httpx.Request) -> httpx.Response:
        raise httpx.ConnectError("no route to token-4711", request=request)

    with pytest.raises(client.PostFailed) as caught:
        client.post_once("https://example.org/token-4711", b"{}", {}, transport=httpx.MockTransport(refused))

    assert "4711" not in str(caught.value)
    taken = httpx.MockTransport(lambda request: httpx.Response(204))
    assert client.post_once("https://example.org/", b"", {}, transport=taken) == 204
