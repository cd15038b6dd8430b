"""The check in real trouble: a folder that it may not write to, a network without names, two of it at once."""

from __future__ import annotations

import ctypes
import os
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path

import pytest

from frostguard import places
from frostguard.garden.notice_settings import MailSecurity, MailSettings, WebhookSettings
from frostguard.garden.settings import Settings
from frostguard.logbook import nights, outbox
from frostguard.logbook.book import open_logbook
from frostguard.logbook.nights import Outcome
from frostguard.logbook.outbox import State
from frostguard.notify.channels import Channel, open_channels
from frostguard.notify.delivery import Persistence, send
from frostguard.notify.notice import NoticeKind
from frostguard.watch.look import Watch, do_what_is_due
from frostguard.weather import open_meteo
from tests.e2e.command import ROOT, SAMPLES
from tests.e2e.test_nightly_once import GARDEN
from tests.unit.watch.station import ZONE, Ear, in_silence

WEATHER = SAMPLES / "clear-calm-night.csv"
DROP_FROM_BOUNDS, WRITE_ANYWHERE = 24, 1  # PR_CAPBSET_DROP and CAP_DAC_OVERRIDE (linux/prctl.h, capability.h)


def _bound_by_rights() -> None:
    """Let the rights of files bind root as they bind everybody; called in the new process before the program."""
    if os.getuid() == 0 and ctypes.CDLL(None, use_errno=True).prctl(DROP_FROM_BOUNDS, WRITE_ANYWHERE, 0, 0, 0) != 0:
        os._exit(77)


@dataclass(frozen=True)
class Household:
    """A folder with a garden file and the data folder of whoever runs the check there."""

    folder: Path

    @property
    def data(self) -> Path:
        """Where the logbook lies."""
        return self.folder / "data"

    def check(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        """The command in a process of its own, which the rights of files bind."""
        return subprocess.run(
            [sys.executable, "-m", "frostguard", *arguments],
            env={
                "PATH": os.environ["PATH"],
                "HOME": str(self.folder),
                "PYTHONDONTWRITEBYTECODE": "1",
                places.GARDEN_VARIABLE: str(self.folder / "garden.yaml"),
                places.DATA_VARIABLE: str(self.data),
                places.CACHE_VARIABLE: str(self.folder / "cache"),
                places.CONFIG_VARIABLE: str(self.folder),
            },
            cwd=ROOT,
            capture_output=True,
            text=True,
            timeout=240,
            check=False,
            preexec_fn=_bound_by_rights,
        )

    def look_at(self, when: str) -> subprocess.CompletedProcess[str]:
        """What is due at that time."""
        return self.check("nightly", "--once", "--weather", str(WEATHER), "--at", when)

    def seal(self) -> None:
        """Nobody may write into the data folder, or to what lies there."""
        for file in self.data.iterdir():
            file.chmod(0o444)
        self.data.chmod(0o555)


@pytest.fixture
def household(tmp_path: Path) -> Iterator[Household]:
    """A garden, and an empty data folder."""
    home = Household(tmp_path)
    (tmp_path / "garden.yaml").write_text(GARDEN, encoding="utf-8")
    home.data.mkdir()
    yield home
    home.data.chmod(0o755)


def test_a_folder_that_may_only_be_read_does_not_keep_the_message(household: Household) -> None:
    """The message goes out and says why it may come twice; the exit code says that not all is well."""
    household.seal()
    evening = household.look_at("2026-01-13T18:05")

    assert evening.returncode == 1
    assert "Lemon by the door" in evening.stdout and "for the night of Wed 14 Jan" in " ".join(evening.stdout.split())
    assert "cannot be used" in " ".join(evening.stdout.split())
    assert "Traceback" not in evening.stderr
    assert list(household.data.iterdir()) == []


def test_a_logbook_that_may_only_be_read_is_left_as_it_is(household: Household) -> None:
    """Written one evening, sealed by the morning: what is due is told all the same, and nothing in it changes."""
    assert household.look_at("2026-01-13T18:05").returncode == 0
    household.seal()
    before = (household.data / "trial.sqlite3").read_bytes()
    morning = household.look_at("2026-01-14T07:05")

    assert morning.returncode == 1
    assert "Wed 14 Jan" in morning.stdout and "cannot be used" in " ".join(morning.stdout.split())
    assert "Traceback" not in morning.stderr
    assert (household.data / "trial.sqlite3").read_bytes() == before


def test_two_checks_at_once_say_it_once(household: Household) -> None:
    """A timer and a person, or two timers: one of the two processes waits, and then finds nothing to do."""
    with ThreadPoolExecutor(2) as both:
        replies = list(both.map(household.look_at, ["2026-01-13T18:05", "2026-01-13T18:05"]))

    assert [reply.returncode for reply in replies] == [0, 0]
    told = [reply for reply in replies if "Lemon by the door" in reply.stdout]
    (silent,) = [reply for reply in replies if reply not in told]
    assert len(told) == 1 and silent.stdout == "" and "Nothing is due" in silent.stderr
    with open_logbook(household.data / "trial.sqlite3") as book:
        looks = [(run.look, run.night) for run in nights.runs(book, datetime(2026, 1, 1, tzinfo=ZONE))]
        assert len(looks) == len(set(looks))
        assert {one.state for one in outbox.deliveries(book)} == {State.SENT}
        assert book.rows("PRAGMA integrity_check")[0][0] == "ok"


def test_without_names_nobody_is_asked_and_the_last_way_tells_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Through the real clients, with names that no server knows (".invalid", RFC 2606): the forecast cannot be had,
    mail and webhook cannot be reached, and the way that is left says both; what failed stays owed."""
    monkeypatch.setenv("NO_PROXY", "*")
    monkeypatch.setenv(places.CACHE_VARIABLE, str(tmp_path / "cache"))
    monkeypatch.setenv(places.DATA_VARIABLE, str(tmp_path / "data"))
    monkeypatch.setattr(open_meteo, "FORECAST_URL", "https://weather.invalid/v1/forecast")
    (tmp_path / "garden.yaml").write_text(GARDEN, encoding="utf-8")
    (tmp_path / "settings.yaml").write_text("weather_services: [open-meteo]\n", encoding="utf-8")
    lost = (
        MailSettings("mail", "mail.invalid", 587, MailSecurity.STARTTLS, "a@example.org", ("b@example.org",)),
        WebhookSettings("hook", "https://hook.invalid/frost"),
    )
    ear = Ear("ear")

    def ways(_: Settings) -> list[Channel]:
        return [*open_channels(Settings(channels=lost)), ear]

    clock = [datetime(2026, 11, 30, 18, 5, tzinfo=ZONE)]
    with open_logbook(tmp_path / "data" / "logbook.sqlite3", now=clock[0]) as book:
        watch = Watch(
            garden=tmp_path / "garden.yaml",
            settings=tmp_path / "settings.yaml",
            weather=None,
            book=book,
            channels=ways,
            now=lambda: clock[0],
            send_one=partial(send, persistence=Persistence(one_try_s=30.0, waits_s=())),
            log=in_silence,
        )
        do_what_is_due(watch)
        found = nights.outcomes(book, clock[0].date())
        states = {(one.channel, one.state) for one in outbox.deliveries(book) if one.kind == "cannot see"}
        assert [notice.kind for notice in ear.heard] == [NoticeKind.CANNOT_SEE]
        clock[0] = datetime(2026, 12, 1, 18, 5, tzinfo=ZONE)
        do_what_is_due(watch)

    assert {notice.kind for notice in ear.heard} == {NoticeKind.CANNOT_SEE}
    assert "no server called mail.invalid is known here" in " ".join(ear.heard[-1].text.split())
    assert "hook: the address" in ear.heard[-1].text and "hook.invalid" not in ear.heard[-1].text
    assert set(found.values()) == {Outcome.CANNOT_SEE_SENT}
    assert states == {("mail", State.FAILED), ("hook", State.FAILED), ("ear", State.SENT)}
