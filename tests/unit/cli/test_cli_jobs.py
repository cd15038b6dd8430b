"""The commands about jobs, losses and the logbook, as a person calls them."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import plans
import pytest
from typer.testing import CliRunner

from frostguard import places
from frostguard.advice.plan import Batch, Protection
from frostguard.cli.app import app
from frostguard.logbook import jobs, nights, outbox
from frostguard.logbook.book import open_logbook
from frostguard.logbook.losses import Harm, losses
from frostguard.notify.delivery import trial_notice
from frostguard.weather.gates import coming_night

GARDEN = str(Path(__file__).parents[3] / "config" / "garden.yaml")


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder of its own, and the demo garden."""
    monkeypatch.setenv(places.DATA_VARIABLE, str(tmp_path / "data"))
    monkeypatch.setenv(places.GARDEN_VARIABLE, GARDEN)
    return tmp_path


def with_jobs() -> None:
    """A logbook with two jobs of tonight and one night that came to something."""
    tonight = coming_night(datetime.now(UTC), "Europe/Ljubljana")
    told = plans.plan(
        night=tonight,
        jobs=(
            plans.job("camellia", Protection.FLEECE, start_by=datetime.now(UTC)),
            plans.job("lemon", Protection.MOVE, to_spot="wash room", start_by=datetime.now(UTC)),
        ),
    )
    notice = trial_notice(datetime.now(UTC), tonight)
    with open_logbook(places.logbook_file()) as book:
        book.write(lambda connection: jobs.keep_jobs(connection, told, replace_told=True, today=tonight))
        book.write(lambda connection: outbox.owe(connection, notice, ["post"], tonight, datetime.now(UTC)))
        found, now = nights.Found.NOTHING_TO_DO, datetime.now(UTC)
        book.write(lambda connection: nights.keep_night(connection, tonight, found, None, now))


def run(*arguments: str) -> Any:
    """The command's exit code and output."""
    result = CliRunner().invoke(app, list(arguments))
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def test_without_a_check_there_are_no_jobs() -> None:
    """The list says where jobs come from."""
    result = run("jobs")
    assert result.exit_code == 0 and "frostguard nightly" in result.stdout


def test_a_job_for_another_night_says_so() -> None:
    """Preparations for a spell, and what comes too late, are not taken for tonight's."""
    tonight, now = coming_night(datetime.now(UTC), "Europe/Ljubljana"), datetime.now(UTC)
    named = (("camellia", Batch.TONIGHT), ("olive", Batch.BEFORE_SPELL), ("lemon", Batch.TOMORROW))
    several = tuple(plans.job(pot, Protection.WRAP, batch=batch, start_by=now) for pot, batch in named)
    told = plans.plan(night=tonight, jobs=several)
    with open_logbook(places.logbook_file()) as book:
        book.write(lambda connection: jobs.keep_jobs(connection, told, replace_told=True, today=tonight))
    lines = {words[1]: line for line in run("jobs").stdout.splitlines() if len(words := line.split()) > 1}
    assert not lines["Camellia:"].endswith("night.") and "spell" not in lines["Camellia:"]
    assert lines["Olive:"].endswith("For the cold spell.")
    assert lines["Lemon:"].endswith("Too late for this night; for the next one.")


def test_jobs_are_listed_signed_off_and_taken_back() -> None:
    """By number and by pot; what is done is shown as in place until it is taken back."""
    with_jobs()
    shown = run("jobs").stdout
    assert "1  Camellia: fleece: open" in shown and "2  Lemon: to the wash room: open" in shown

    assert run("jobs", "finished", "1", "lemon", "--name", "Ana").stdout == (
        "Noted: 1: Camellia: fleece; 2: Lemon: to the wash room.\n"
    )
    shown = run("jobs").stdout
    assert "Camellia: fleece: done" in shown and "Done and still in place" in shown
    run("jobs", "take-back", "all")
    assert "still in place" not in run("jobs").stdout
    run("jobs", "ask-again", "camellia")
    assert "1  Camellia: fleece: open" in run("jobs").stdout
    run("jobs", "not-tonight", "fleece")
    assert "Camellia: fleece: not tonight" in run("jobs").stdout


def test_the_garden_may_be_named_before_and_behind_the_word(monkeypatch: pytest.MonkeyPatch) -> None:
    """People write it at the end; wherever it stands it is the file that is read."""
    with_jobs()
    monkeypatch.delenv(places.GARDEN_VARIABLE)
    assert run("jobs", "finished", "camellia", "--garden", GARDEN).exit_code == 0
    assert run("jobs", "--garden", GARDEN, "take-back", "camellia").exit_code == 0
    for word in ("ask-again", "not-tonight"):
        assert run("jobs", word, "--garden", GARDEN, "camellia").exit_code == 0
    nowhere = str(Path(GARDEN).with_name("nowhere.yaml"))
    behind = ("jobs", "finished", "lemon", "--garden", nowhere)
    for call in (behind, ("jobs", "--garden", nowhere, "finished", "lemon")):
        result = run(*call)
        assert result.exit_code == 1 and "nowhere.yaml" in result.stderr


def test_a_name_that_fits_no_job_is_told() -> None:
    """Nothing is signed off where one of several names is wrong."""
    with_jobs()
    result = run("jobs", "finished", "camellia", "palm")
    assert result.exit_code == 1 and "'palm' fits no job" in result.stderr
    assert "1  Camellia: fleece: open" in run("jobs").stdout


def test_a_loss_is_noted_with_its_night() -> None:
    """Dead or hurt, with the night that did it and what was seen."""
    result = run("loss", "lemon", "--hurt", "--night", "2026-01-14", "--note", "brown tips")
    assert result.exit_code == 0 and "hurt in the night of 2026-01-14" in result.stdout
    run("loss", "lemon")
    with open_logbook(places.logbook_file()) as book:
        hurt, dead = losses(book)
    assert (hurt.harm, hurt.night, hurt.note, hurt.pot) == (Harm.HURT, date(2026, 1, 14), "brown tips", "lemon")
    assert dead.harm is Harm.DEAD


def test_a_loss_that_was_a_mistake_is_taken_back() -> None:
    """With it goes what was learned; a second time there is nothing to take back."""
    run("loss", "lemon", "--hurt", "--night", "2026-01-14", "--coldest", "-3")
    taken = run("loss", "lemon", "--take-back")
    assert taken.exit_code == 0 and "night of 2026-01-14" in taken.stdout
    assert "What you have seen" not in run("plants", "show", "lemon").stdout
    again = run("loss", "lemon", "--take-back")
    assert again.exit_code == 1 and "Nothing is noted" in again.stderr
    assert "--take-back" in run("loss", "--help").stdout


def test_a_loss_without_a_plan_asks_for_the_temperature_and_learns_from_it() -> None:
    """Said without, it says what is missing; said again with it, the plant's page shows what was learned."""
    first = run("loss", "lemon", "--hurt", "--night", "2026-01-14").stdout
    assert "No plan of that night is kept" in first and "--night 2026-01-14 --coldest" in first
    again = run("loss", "lemon", "--hurt", "--night", "2026-01-14", "--coldest", "-3").stdout
    assert "leaves or shoots hurt at -3.0" in again
    shown = " ".join(run("plants", "show", "lemon").stdout.split())
    assert "What you have seen it stand" in shown and "2026-01-14: leaves or shoots hurt at -3.0" in shown
    assert "What you have seen" not in run("plants", "show", "olive").stdout
    with open_logbook(places.logbook_file()) as book:
        assert len(losses(book)) == 1
    assert run("loss", "lemon", "--hurt", "--unhurt").exit_code == 2


def test_a_pot_that_is_not_there_is_told() -> None:
    """As everywhere else."""
    assert run("loss", "palm tree in the moon").exit_code == 1


def test_without_a_logbook_there_is_nothing_to_show(home: Path) -> None:
    """It says how one begins, and makes none."""
    for word in ("show", "check"):
        result = run("logbook", word)
        assert result.exit_code == 1 and "no logbook yet" in result.stderr
    assert not (home / "data").exists()


def test_what_was_open_in_past_nights_is_not_now() -> None:
    """Jobs of a night that is over are told as never signed off, without a deadline, and nobody is asked to."""
    yesterday = coming_night(datetime.now(UTC), "Europe/Ljubljana") - timedelta(days=1)
    told = plans.plan(night=yesterday, jobs=(plans.job("camellia", Protection.FLEECE),))
    with open_logbook(places.logbook_file()) as book:
        book.write(lambda connection: jobs.keep_jobs(connection, told, replace_told=True, today=yesterday))
    shown = run("jobs", "--past", "3").stdout
    assert "Camellia: fleece: never signed off." in shown
    assert "now" not in shown and "Sign off" not in shown


def test_the_logbook_is_shown() -> None:
    """Nights, messages by the site's clock, losses and sizes."""
    before = datetime.now(ZoneInfo("Europe/Ljubljana"))
    with_jobs()
    after = datetime.now(ZoneInfo("Europe/Ljubljana"))
    run("loss", "lemon")
    shown = run("logbook", "show").stdout
    assert "nothing to do" in shown and "test, post: still to be sent" in shown
    assert any(f"{one:%H:%M}: test, post" in shown for one in (before, after))
    assert "Lemon by the door" in shown and "kept for 90 days" in shown


def test_the_logbook_is_exported_and_backed_up_into_new_files_only(home: Path) -> None:
    """Lines of JSON; one file with everything; neither writes over another."""
    with_jobs()
    lines, copy = home / "all.jsonl", home / "copy.sqlite3"
    assert run("logbook", "export", str(lines)).exit_code == 0
    rows = [json.loads(line) for line in lines.read_text(encoding="utf-8").splitlines()]
    assert rows[0] == {"frostguard_logbook": 1}
    assert [row["pot"] for row in rows if row.get("table") == "jobs"] == ["camellia", "lemon"]
    assert run("logbook", "backup", str(copy)).exit_code == 0
    with closing(sqlite3.connect(copy)) as kept:
        assert kept.execute("SELECT count(*) FROM jobs").fetchone() == (2,)
        assert kept.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert copy.stat().st_mode & 0o077 == 0
    assert lines.stat().st_mode & 0o077 == 0  # names and addresses
    for command, target in (("export", lines), ("backup", copy)):
        assert run("logbook", command, str(target)).exit_code == 1


def test_a_sound_logbook_is_called_so_and_a_strange_file_is_not(home: Path) -> None:
    """The exit code tells scripts."""
    with_jobs()
    assert run("logbook", "check").exit_code == 0
    places.logbook_file().write_bytes(b"recipes\n")
    result = run("logbook", "check")
    assert result.exit_code == 1 and "no logbook of frostguard" in result.stderr


def test_a_sign_off_that_cannot_be_kept_is_no_success(home: Path) -> None:
    """With a strange file in the logbook's place nothing can be signed off, and that is said."""
    (home / "data").mkdir()
    places.logbook_file().write_bytes(b"recipes\n")
    assert run("jobs", "finished", "1").exit_code == 1
