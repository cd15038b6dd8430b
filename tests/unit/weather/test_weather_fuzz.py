"""Mutated payloads: whatever arrives, only our own errors leave a reader, soon, and without filling memory.

Twenty thousand of each kind, run on 2026-11-27 on two shared cores with Python 3.11: read and refused, seconds
for all of them, and what the process grew by at most.

open-meteo 6634, 13366: 23 s, 1 MB; previous runs 6656, 13344: 64 s, 0 MB; met-norway 7009, 12991: 56 s, 1 MB;
nws 10528, 9472: 66 s, 0 MB; nws points 814, 19186: 2 s; bright-sky 5789, 14211: 62 s, 0 MB; places 13022, 6978: 2 s;
height 2758, 17242: 1 s; csv 339, 19661: 17 s, 1 MB; epw 3597, 16403: 39 s, 0 MB; tmy3 1080, 18920: 10 s, 0 MB;
a kept answer 1799, 18201: 9 s, 0 MB. No other error than our own, no payload above 2 s.
"""

from __future__ import annotations

import json
import random
import resource
import sys
import time
from collections.abc import Callable
from copy import deepcopy
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest

from frostguard.errors import ForecastFormatError
from frostguard.weather.bright_sky import parse_bright_sky
from frostguard.weather.client import RawAnswer
from frostguard.weather.files import parse_weather
from frostguard.weather.gates import BOUNDS
from frostguard.weather.met_norway import parse_met_norway
from frostguard.weather.nws import parse_nws, parse_points
from frostguard.weather.open_meteo import parse_open_meteo
from frostguard.weather.open_meteo_past import parse_previous_runs
from frostguard.weather.open_meteo_places import parse_elevation, parse_places
from frostguard.weather.series import WeatherSeries
from frostguard.weather.store import StoredAnswer, parse_stored, stored_text
from tests.unit.weather import payloads

FIRST = datetime(2026, 1, 14, 12, tzinfo=UTC)
IN_THE_SUITE, LONG = 1_000, 20_000
LONGEST_S = 2.0
"""For one payload, on a machine that is busy with other things; usually about a millisecond."""

STRANGE: tuple[Any, ...] = (
    None, True, "", "x", "-3", "NaN", -1, 0, 1e308, -1e308, 10**400, 2**63, 0.1, 99999, [], {}, [[]], [None],
    {"value": 1}, "9999-12-31T23:59:59Z", "2026-01-14T12:30:00Z", "2026-01-14T12:00:00+00:00/P999D", "\ud800",
    "2026-01-14T12:00:00+00:00/PT999H", "\x1b[2J", "°C", "P1D", [1] * 50,
)  # fmt: skip


def _previous_runs() -> Any:
    answer = payloads.open_meteo_answer(first=FIRST, hours=24)
    for days in (1, 2):
        name = f"temperature_2m_previous_day{days}"
        answer["hourly"][name] = list(answer["hourly"]["temperature_2m"])
        answer["hourly_units"][name] = "°C"
    return answer


PLACES = {"results": [{"name": "Terrace", "latitude": 46.05, "longitude": 14.51, "elevation": 298.0,
                       "timezone": "Europe/Ljubljana"}], "generationtime_ms": 0.3}  # fmt: skip
POINT = {"properties": {"gridId": "TAE", "gridX": 58, "gridY": 65}}
CSV = "# issued: 2026-01-14T14:00:00Z\ntime,air_temperature_c,dew_point_c\n" + "".join(
    f"2026-01-14T{hour:02d}:00:00Z,-1.5,-3\n" for hour in range(24)
)

Read = Callable[[bytes], Any]
JSON_READERS: dict[str, tuple[Any, Read]] = {
    "open-meteo": (payloads.open_meteo_answer(first=FIRST, hours=24, members=3), parse_open_meteo),
    "previous runs": (_previous_runs(), parse_previous_runs),
    "met-norway": (
        payloads.met_norway_answer(first=FIRST, hourly=6, six_hourly=4, nordic=True), parse_met_norway
    ),
    "nws": (payloads.nws_answer(first=FIRST, hours=24), parse_nws),
    "nws points": (POINT, parse_points),
    "bright-sky": (payloads.bright_sky_answer(first=FIRST, hours=16), parse_bright_sky),
    "places": (PLACES, parse_places),
    "height": ({"elevation": [298.0]}, parse_elevation),
}  # fmt: skip
TEXT_READERS: dict[str, tuple[str, Read]] = {
    "csv": (CSV, lambda body: parse_weather(body, "file")),
    "epw": (payloads.epw_text(days=1), lambda body: parse_weather(body, "file")),
    "tmy3": (payloads.tmy3_text(days=1), lambda body: parse_weather(body, "file")),
    "stored": (
        stored_text(
            StoredAnswer(
                "nws",
                RawAnswer("https://x.test", json.dumps(payloads.nws_answer(hours=24)).encode(), FIRST),
            )
        ),
        lambda body: parse_weather(body, "file"),
    ),
}
READERS = (*JSON_READERS, *TEXT_READERS)


def mutated_json(whole: Any, rng: random.Random) -> bytes:
    """The answer with one to four nodes made strange, left out or doubled, sometimes damaged as bytes."""
    answer = deepcopy(whole)
    for _ in range(rng.randint(1, 4)):
        parent, key = _somewhere(answer, rng)
        if parent is None:
            continue
        match rng.randrange(5):
            case 0:
                del parent[key]
            case 1 if isinstance(parent, list):
                parent.insert(key, deepcopy(parent[key]))
            case 2 if isinstance(parent, list):
                rng.shuffle(parent)
            case 3 if isinstance(parent[key], int | float) and abs(parent[key]) < 1e300:
                parent[key] = parent[key] * rng.choice((-1, 10, 1000, 1e-3)) + rng.choice((0, 1, 273.15))
            case _:
                parent[key] = deepcopy(rng.choice(STRANGE))
    try:
        body = json.dumps(answer).encode()
    except (ValueError, RecursionError):
        body = b"{}"
    return mutated_bytes(body, rng) if rng.random() < 0.3 else body


def _somewhere(answer: Any, rng: random.Random) -> tuple[Any, Any]:
    """A container and a key in it, each level as likely to be the place."""
    parent, key, node = None, None, answer
    while isinstance(node, dict | list) and node and rng.random() < 0.85:
        parent = node
        key = rng.choice(list(node)) if isinstance(node, dict) else rng.randrange(len(node))
        node = node[key]
    return parent, key


PIECES = (
    b"", b"nan", b"\xff", b",", b"1e999", b'"', b"\n", b"\0", b"-", b"9" * 30, b"[" * 50, b"\x1b[2J"
)  # fmt: skip


def mutated_bytes(body: bytes, rng: random.Random) -> bytes:
    """The body with a few pieces cut out, exchanged or put in, or cut off."""
    changed = bytearray(body)
    for _ in range(rng.randint(1, 4)):
        place = rng.randrange(len(changed) + 1)
        length = rng.choice((0, 1, 1, 2, 5, 40))
        changed[place : place + length] = rng.choice(PIECES)
    return bytes(changed[: rng.randrange(len(changed) + 1)] if rng.random() < 0.1 else changed)


def payload(name: str, rng: random.Random) -> tuple[bytes, Read]:
    if name in JSON_READERS:
        whole, read = JSON_READERS[name]
        return mutated_json(whole, rng), read
    text, read = TEXT_READERS[name]
    return mutated_bytes(text.encode(), rng), read


def attack(name: str, times: int, seed: int) -> dict[str, int]:
    """How many payloads were read and how many refused; anything else is a failure that names the payload."""
    rng = random.Random(f"{name} {seed}")
    counts = {"read": 0, "refused": 0}
    for number in range(times):
        body, read = payload(name, rng)
        began = time.perf_counter()
        try:
            result = read(body)
        except ForecastFormatError as error:
            counts["refused"] += 1
            assert error.message and error.next_step
            assert all(c.isprintable() or c in "\n" for c in error.message), (name, number, error.message)
        except Exception as error:
            raise AssertionError(f"{name}, payload {number}: {error!r} from {body[:300]!r}") from error
        else:
            counts["read"] += 1
            if isinstance(result, WeatherSeries):
                _believable(result)
        assert time.perf_counter() - began < LONGEST_S, (name, number)
    return counts


def _believable(series: WeatherSeries) -> None:
    """What is read keeps to its bounds, hour by hour."""
    assert (np.diff(series.times) == np.timedelta64(3600, "s")).all()
    for column, values in series.values.items():
        known = values[~np.isnan(values)]
        bounds = BOUNDS[column]
        assert values.shape == (series.n_members, series.n_hours)
        assert ((known >= bounds.lowest) & (known <= bounds.highest)).all(), column


@pytest.mark.parametrize("name", READERS)
def test_mutated_payloads_meet_only_our_own_errors(name: str) -> None:
    """A thousand payloads of each kind: read within bounds or refused in one printable message."""
    counts = attack(name, IN_THE_SUITE, seed=1)
    assert counts["refused"] > 20  # the mutations bite


@pytest.mark.parametrize("name", READERS)
def test_untouched_payloads_are_read(name: str) -> None:
    """What is mutated is good before."""
    if name in JSON_READERS:
        whole, read = JSON_READERS[name]
        assert read(json.dumps(whole).encode()) is not None
    else:
        text, read = TEXT_READERS[name]
        assert read(text.encode()) is not None


def test_a_damaged_store_is_never_more_than_unreadable() -> None:
    """The store's own frame, a thousand times damaged: an answer or None."""
    text = TEXT_READERS["stored"][0].encode()
    rng = random.Random("frame")
    found = [parse_stored(mutated_bytes(text, rng)) for _ in range(IN_THE_SUITE)]
    assert None in found and any(one is not None for one in found)


@pytest.mark.long
@pytest.mark.parametrize("name", READERS)
def test_twenty_thousand_mutated_payloads(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The same, twenty thousand times, within 150 MB of what the process held before."""
    unit = 1 if sys.platform == "darwin" else 1024
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit
    began = time.perf_counter()
    counts = attack(name, LONG, seed=2)
    took_s = time.perf_counter() - began
    grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit - before
    with capsys.disabled():
        print(f"\n{name}: {counts}, {took_s:.1f} s, memory +{grown / 1e6:.0f} MB")
    assert grown < 150e6
