"""The kept answers: what survives, what is remembered, what is cleared away."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from datetime import timedelta
from pathlib import Path

import pytest

from frostguard.weather.client import RawAnswer
from frostguard.weather.store import ForecastStore, StoredAnswer, parse_stored, stored_text
from tests.unit.weather.payloads import ASKED

PLACE = (46.05, 14.51)
ANSWER = RawAnswer(
    url="https://api.met.no/x?lat=46.0500",
    body=b'{"a": "\xc2\xb0C"}',
    fetched=ASKED,
    headers=(("Last-Modified", "Wed, 14 Jan 2026 14:18:07 GMT"), ("Cache-Control", "max-age=883")),
    confirmed=ASKED + timedelta(hours=1),
    status=203,
)


def test_everything_about_an_answer_comes_back() -> None:
    """Headers, status, the times of fetching and confirming, and since when it has been the same."""
    stored = StoredAnswer("met-norway", ANSWER, same_since=ASKED - timedelta(hours=3))
    assert parse_stored(stored_text(stored).encode()) == stored


def test_answers_kept_by_an_earlier_version_are_read() -> None:
    """Without headers, status and confirmation an answer is as it was then."""
    old = '{"frostguard_answer": 1, "service": "open-meteo", "url": "https://x.test", "fetched": "%s", "body": "{}"}'
    stored = parse_stored((old % ASKED.isoformat()).encode())
    assert stored == StoredAnswer("open-meteo", RawAnswer("https://x.test", b"{}", ASKED))


@pytest.mark.parametrize(
    ("headers", "minutes"),
    [
        ({}, None),
        ({"Cache-Control": "public, max-age=900, s-maxage=3600"}, 15),
        ({"Date": "Wed, 14 Jan 2026 10:00:00 GMT", "Expires": "Wed, 14 Jan 2026 10:32:00 GMT"}, 32),
        ({"Cache-Control": "max-age=60", "Expires": "Wed, 14 Jan 2026 23:00:00 GMT"}, 1),
        ({"Expires": "Wed, 14 Jan 2026 14:50:00 GMT"}, 30),
        ({"Expires": "0"}, None),
        ({"Expires": "Wed, 14 Jan 2026 10:00:00 GMT"}, 0),
        ({"Cache-Control": "max-age=99999999999"}, 24 * 60),
        ({"Cache-Control": "max-age=-5, no-cache"}, None),
    ],
)
def test_how_long_an_answer_is_good(headers: dict[str, str], minutes: int | None) -> None:
    """By age before date, by the difference of the service's own clock, at most a day."""
    answer = RawAnswer("https://x.test", b"", ASKED, tuple(headers.items()))
    expected = None if minutes is None else ASKED + timedelta(minutes=minutes)
    assert answer.good_until == expected


def test_a_confirmed_answer_is_good_from_then_on() -> None:
    """The life counts from the last time that the service spoke."""
    assert ANSWER.good_until == ASKED + timedelta(hours=1, seconds=883)


def test_a_rest_is_remembered_and_damage_forgives(tmp_path: Path) -> None:
    """Per service and place; a file that cannot be read is no rest."""
    store = ForecastStore(tmp_path)
    assert store.rests_until("met-norway", *PLACE) is None
    store.rest("met-norway", ASKED, *PLACE)
    assert store.rests_until("met-norway", *PLACE) == ASKED
    assert store.rests_until("nws", *PLACE) is None and store.rests_until("met-norway", 1.0, 2.0) is None
    for damage in ("", "soon", "2026-01-14T15:00:00"):
        next(tmp_path.glob("*.rest")).write_text(damage)
        assert store.rests_until("met-norway", *PLACE) is None


def test_size_and_leftovers(tmp_path: Path) -> None:
    """Half-written files of an hour ago are cleared away, younger ones may be at work."""
    store = ForecastStore(tmp_path / "cache")
    assert store.size_bytes() == 0
    store.write(StoredAnswer("met-norway", ANSWER), *PLACE)
    old, young = store.folder / ".a.json.1.part", store.folder / ".b.json.2.part"
    for path in (old, young):
        path.write_text("half")
    os.utime(old, (time.time() - 7200, time.time() - 7200))
    store.write(StoredAnswer("met-norway", ANSWER), *PLACE)
    assert not old.exists() and young.exists()
    assert store.size_bytes() == store.path("met-norway", *PLACE).stat().st_size + 4


@pytest.mark.skipif(sys.platform == "win32", reason="processes are killed differently there")
def test_a_kill_in_the_middle_of_writing_leaves_a_whole_answer(tmp_path: Path) -> None:
    """A process that writes without end is killed: what is on disk is one of its answers, whole."""
    code = (
        "import sys\nfrom datetime import datetime, UTC\nfrom pathlib import Path\n"
        "from frostguard.weather.raw_answer import RawAnswer\n"
        "from frostguard.weather.store import ForecastStore, StoredAnswer\n"
        "store, number = ForecastStore(Path(sys.argv[1])), 0\n"
        "while True:\n"
        "    number += 1\n"
        "    answer = RawAnswer('https://x.test', str(number).encode() * 200_000, datetime.now(UTC))\n"
        "    store.write(StoredAnswer('open-meteo', answer), 46.05, 14.51)\n"
        "    print(number, flush=True)\n"
    )
    process = subprocess.Popen([sys.executable, "-c", code, str(tmp_path)], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    for _ in range(3):
        assert process.stdout.readline()
    time.sleep(0.02)
    process.send_signal(signal.SIGKILL)
    process.wait(timeout=10)
    process.stdout.close()
    stored = ForecastStore(tmp_path).read("open-meteo", *PLACE)
    assert stored is not None
    body = stored.answer.body.decode()
    number = body[: len(body) // 200_000]
    assert int(number) >= 3 and body == number * 200_000


def test_one_module_knows_the_network_library() -> None:
    """Every import of the HTTP library stands in the client."""
    package = Path(__file__).parents[3] / "frostguard"
    users = {
        path.relative_to(package).as_posix()
        for path in package.rglob("*.py")
        if re.search(r"^\s*(import|from) httpx", path.read_text(encoding="utf-8"), re.MULTILINE)
    }
    assert users == {"weather/client.py"}
