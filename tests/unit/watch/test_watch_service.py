"""The waiting process, the machine's timer, the lock and the sign of life."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from frostguard import places
from frostguard.errors import NotificationFailed
from frostguard.garden.nightly_settings import NightlySettings
from frostguard.garden.notice_settings import SecretSource
from frostguard.garden.reader import load_settings
from frostguard.garden.settings import Settings
from frostguard.lock import only_one
from frostguard.notify.secrets import Secret
from frostguard.watch.heartbeat import give_sign_of_life
from frostguard.watch.install import SERVICE_NAME, TIMER_NAME, install_texts, write_timer
from frostguard.watch.log import log_to_stderr
from frostguard.weather.client import PostFailed
from tests.unit.watch.station import GARDEN, ZONE

NOWHERE = "http://127.0.0.1:9"  # no proxy there: nobody outside is asked
LARGEST_IDLE_MB = 60.0


@pytest.fixture
def home(tmp_path: Path) -> dict[str, str]:
    """An environment with places of its own and a garden file."""
    (tmp_path / "garden.yaml").write_text(GARDEN, encoding="utf-8")
    return {
        **os.environ,
        places.DATA_VARIABLE: str(tmp_path / "data"),
        places.CACHE_VARIABLE: str(tmp_path / "cache"),
        places.CONFIG_VARIABLE: str(tmp_path),
        places.GARDEN_VARIABLE: str(tmp_path / "garden.yaml"),
    }


def wait_for(condition: Any, seconds: float = 240.0) -> None:
    """Until something is true."""
    ends = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < ends, "it did not come to pass"
        time.sleep(0.05)


def nothing_is_due(home: dict[str, str]) -> None:
    """Every look of these days was made, so that the waiting process only waits."""
    from datetime import UTC, datetime, timedelta

    from frostguard.garden.reader import load_garden
    from frostguard.logbook import nights
    from frostguard.logbook.book import open_logbook
    from frostguard.watch.schedule import looks_of

    site = load_garden(Path(home[places.GARDEN_VARIABLE])).site
    now = datetime.now(UTC)
    with open_logbook(Path(home[places.DATA_VARIABLE]) / "logbook.sqlite3") as book:
        for day in (now.astimezone(ZONE).date() + timedelta(days=k) for k in (-1, 0, 1)):
            for planned in looks_of(day, site, Settings()):
                run = nights.begin_run(book, planned.look, planned.night, now)
                book.write(lambda connection, run=run: nights.end_run(connection, run, nights.Ended.WELL, now))


def test_it_waits_small_alone_and_stops_cleanly(home: dict[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    """It says the standing rule, holds less than 60 MB, lets no second one in, and leaves with 0 when told to stop."""
    nothing_is_due(home)
    command = [sys.executable, "-m", "frostguard", "nightly"]
    process = subprocess.Popen(command, env=home, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    try:
        assert process.stdout is not None and process.stderr is not None
        assert "No message by 19:00: look yourself." in process.stdout.readline()
        assert json.loads(process.stderr.readline())["ended"] == "waiting"
        second = subprocess.run(command, env=home, capture_output=True, text=True, timeout=240, check=False)
        assert second.returncode == 1 and "already waiting" in second.stderr
        status = Path(f"/proc/{process.pid}/status")
        if status.exists():
            lines = status.read_text().splitlines()
            resident_mb = int(next(line for line in lines if line.startswith("VmRSS")).split()[1]) / 1000
            with capsys.disabled():
                print(f"\nwaiting process: {resident_mb:.0f} MB resident")
            assert resident_mb < LARGEST_IDLE_MB
        process.send_signal(signal.SIGTERM)
        _, log = process.communicate(timeout=120)
        assert process.returncode == 0
        assert [json.loads(line)["ended"] for line in log.splitlines()] == ["stopping", "stopped"]
    finally:
        process.kill()
        process.communicate()


def test_a_stop_in_the_middle_of_a_round_ends_the_round_too(home: dict[str, str]) -> None:
    """The round's own process goes with the waiting one; what it left is found by the next."""
    process = subprocess.Popen(
        [sys.executable, "-m", "frostguard", "nightly"],
        env={**home, "http_proxy": NOWHERE, "https_proxy": NOWHERE, "HTTPS_PROXY": NOWHERE},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        lock = Path(home[places.DATA_VARIABLE]) / "logbook.lock"
        wait_for(lock.exists)  # the round is at work
        process.send_signal(signal.SIGTERM)
        process.communicate(timeout=120)
        assert process.returncode == 0
        with only_one(lock) as free:
            assert free
    finally:
        process.kill()
        process.communicate()


def test_only_one_holds_the_lock(tmp_path: Path) -> None:
    """A second one is told so, at once or after waiting; the lock is free again when the first is done."""
    path, slept = tmp_path / "a" / "x.lock", []
    clock = iter(range(100))
    with only_one(path) as first:
        assert first
        with only_one(path) as second:
            assert not second
        with only_one(path, wait_s=3.0, sleep=slept.append, monotonic=lambda: float(next(clock))) as third:
            assert not third
        assert slept
    with only_one(path) as again:
        assert again


def test_a_lock_of_a_killed_process_is_free(tmp_path: Path) -> None:
    """The system gives it back, whatever became of its owner."""
    path = tmp_path / "x.lock"
    code = (
        "import sys, time; from pathlib import Path; from frostguard.lock import only_one\n"
        f"with only_one(Path({str(path)!r})) as mine:\n    print(mine, flush=True)\n    time.sleep(60)"
    )
    process = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    assert process.stdout.readline() == "True\n"
    with only_one(path) as mine:
        assert not mine
    process.kill()
    process.communicate()
    with only_one(path) as mine:
        assert mine


# --- the machine's timer -----------------------------------------------------------------------------------


def test_the_timer_calls_the_check_and_holds_no_secret(tmp_path: Path) -> None:
    """Whole paths, folders that were set, quoted; a password in the environment stays there."""
    garden = tmp_path / 'my "50 %" garden.yaml'
    environment = {places.DATA_VARIABLE: str(tmp_path / "data here"), "FROSTGUARD_MAIL_PASSWORD": "swordfish"}
    texts = install_texts(garden, None, environment)
    assert "nightly --once --garden" in texts.service
    assert '\\"50 %%\\" garden.yaml"' in texts.service
    assert f'Environment="{places.DATA_VARIABLE}={tmp_path}/data here"' in texts.service
    plain = install_texts(tmp_path / "our ' $garden.yaml", None, {places.DATA_VARIABLE: "/home/a$b/it's"})
    assert "our ' $$garden.yaml\"" in plain.service  # a command's dollar is doubled, an assignment's is not
    assert f'Environment="{places.DATA_VARIABLE}=/home/a$b/it\'s"' in plain.service
    assert "Persistent=true" in texts.timer and "WantedBy=timers.target" in texts.timer
    assert "\\%" in texts.cron and texts.cron.endswith("--quiet") and "\n" not in texts.cron
    assert "swordfish" not in texts.service + texts.timer + texts.cron


def test_the_timer_is_written_into_its_folder_and_nowhere_else(tmp_path: Path) -> None:
    """Two files, whole."""
    texts = install_texts(tmp_path / "garden.yaml", tmp_path / "settings.yaml", {})
    written = write_timer(texts, tmp_path / "systemd" / "user")
    assert [path.name for path in written] == [SERVICE_NAME, TIMER_NAME]
    assert written[0].read_text() == texts.service and written[1].read_text() == texts.timer
    assert sorted(path.name for path in (tmp_path / "systemd" / "user").iterdir()) == [SERVICE_NAME, TIMER_NAME]


# --- the sign of life --------------------------------------------------------------------------------------


def test_the_heartbeat_is_called_and_its_address_never_logged() -> None:
    """Heard where the answer says so; refused, unreachable or without its secret it is logged without the address."""
    logged: list[dict[str, object]] = []

    def log(event: str, **values: object) -> None:
        logged.append({"event": event, **values})

    def answers(status: int | PostFailed) -> Any:
        def post(url: str, *_: object, **__: object) -> int:
            assert url == "https://alive.test/secret"
            if isinstance(status, PostFailed):
                raise status
            return status

        return post

    settings = NightlySettings(heartbeat="https://alive.test/secret")
    assert give_sign_of_life(settings, log, post=answers(200))
    assert logged == []
    assert not give_sign_of_life(settings, log, post=answers(503))
    assert not give_sign_of_life(settings, log, post=answers(PostFailed("cannot be reached")))

    def no_secret(*_: object) -> Secret:
        raise NotificationFailed("heartbeat: the variable ALIVE is not set.", next_step="Set it.")

    hidden = NightlySettings(heartbeat_from=SecretSource(variable="ALIVE"))
    assert not give_sign_of_life(hidden, log, post=answers(200), secret_of=no_secret)
    assert give_sign_of_life(hidden, log, post=answers(204), secret_of=lambda *_: Secret("https://alive.test/secret"))
    assert [entry["heard"] for entry in logged] == [False] * 3
    assert "secret" not in json.dumps(logged)


def test_without_an_address_nobody_is_called() -> None:
    """The usual case."""
    assert not give_sign_of_life(NightlySettings(), lambda *_, **__: None, post=lambda *_, **__: 1 / 0)


# --- the settings ------------------------------------------------------------------------------------------


def test_times_of_the_settings_are_read_and_checked(tmp_path: Path) -> None:
    """Each within its span: the evening's message is to be there by 19:00, and no clock changes meanwhile."""
    from datetime import time as clock

    from frostguard.errors import GardenFileError

    file = tmp_path / "settings.yaml"
    file.write_text('nightly: {evening: "17:30", morning: "6:15", last_look: "14:00", heartbeat_from: env:ALIVE}')
    read = load_settings(file).nightly
    assert (read.evening, read.morning, read.last_look) == (clock(17, 30), clock(6, 15), clock(14))
    assert read.heartbeat_from == SecretSource(variable="ALIVE")
    file.write_text('nightly: {evening: "20:00", morning: "02:30", heartbeat: "http://x.test/a"}')
    with pytest.raises(GardenFileError) as told:
        load_settings(file)
    assert len(told.value.faults) == 3


def test_no_value_makes_a_second_line_in_the_log(capsys: pytest.CaptureFixture[str]) -> None:
    """Line breaks and marks in names stay inside the value."""
    log_to_stderr("message", key='a"\n{"event": "forged"}', why="\u001b[2J\u2028")
    line = capsys.readouterr().err
    assert line.count("\n") == 1 and "\u001b" not in line and "\u2028" not in line
    assert json.loads(line)["key"] == 'a"\n{"event": "forged"}'
