"""Manners on the network: limits, retries on passing faults only, redirects, and who is calling."""

from __future__ import annotations

import errno
import gzip
import socket
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from datetime import UTC, datetime
from typing import Any

import httpx
import pytest

from frostguard.errors import ForecastFormatError, WeatherUnavailable
from frostguard.garden.settings import Settings
from frostguard.weather.client import (
    Patience,
    RawAnswer,
    WeatherClient,
    open_weather_client,
    retry_after_s,
    user_agent,
)

URL = "https://api.weather.test/v1/forecast"
OpenClient = Callable[..., AbstractContextManager[WeatherClient]]


def as_text(raw: RawAnswer) -> str:
    return raw.body.decode()


class Script:
    """Plays one response after another, the last for ever, and counts the calls."""

    def __init__(self, *steps: httpx.Response | Exception) -> None:
        self.steps = list(steps)
        self.requests: list[httpx.Request] = []

    def __call__(self, request: httpx.Request) -> httpx.Response:
        step = self.steps[min(len(self.requests), len(self.steps) - 1)]
        self.requests.append(request)
        if isinstance(step, Exception):
            raise step
        return httpx.Response(step.status_code, headers=step.headers, content=step.content)


OK = httpx.Response(200, text="sunny")
BUSY = httpx.Response(503, json={"error": True, "reason": "The service is overloaded"})


def test_a_good_answer_comes_at_once_with_its_time(
    client_on: OpenClient, fake_time: Any, asked: datetime
) -> None:
    """One call, no waiting; the raw answer knows address and moment."""
    script = Script(OK)
    with client_on(script) as client:
        raw, text = client.ask(URL, {"latitude": "46.05", "hourly": "a,b"}, as_text)
    assert text == "sunny" and raw.fetched == asked and fake_time.waits_s == []
    assert raw.url == f"{URL}?latitude=46.05&hourly=a%2Cb"
    assert len(script.requests) == 1 and script.requests[0].method == "GET"


def test_headers_are_kept_but_no_cookies(client_on: OpenClient) -> None:
    """What an answer came with is kept beside it, those that are read under their usual names."""
    headers = {"expires": "Wed, 14 Jan 2026 15:00:00 GMT", "ETag": "abc", "Set-Cookie": "who=me", "X-Long": "x" * 999}
    with client_on(lambda request: httpx.Response(200, json={}, headers=headers)) as client:
        raw, _ = client.ask("https://api.test/x", {}, lambda raw: None)
    assert raw.header("Expires") == headers["expires"] and raw.header("etag") == "abc"
    assert raw.header("x-long") == "x" * 200 and not any("cookie" in name.lower() for name, _ in raw.headers)


def test_the_caller_says_who_it_is(client_on: OpenClient) -> None:
    """Name, version and the contact from the settings stand in the User-Agent."""
    script = Script(OK)
    with client_on(script, contact="terrace@example.org") as client:
        client.ask(URL, {}, as_text)
    agent = script.requests[0].headers["User-Agent"]
    assert agent.startswith("frostguard/") and agent.endswith(" (terrace@example.org)")
    assert "(" not in user_agent(None)
    assert user_agent("a\r\nX-Evil: 1 (ü)").endswith(" (aX-Evil: 1)")


@pytest.mark.parametrize(
    "fault",
    [
        httpx.ConnectError("refused"),
        httpx.ConnectTimeout("slow"),
        httpx.ReadTimeout("slow"),
        httpx.RemoteProtocolError("peer closed connection"),
        httpx.ReadError("reset"),
        BUSY,
        httpx.Response(502, text="<html>Bad Gateway</html>"),
        httpx.Response(500, json={"error": True, "reason": "Something went wrong."}),
        httpx.Response(429, json={"error": True, "reason": "Too many concurrent requests"}),
    ],
    ids=lambda fault: type(fault).__name__ + str(getattr(fault, "status_code", "")),
)
def test_passing_faults_are_tried_again_and_forgotten(
    client_on: OpenClient, fake_time: Any, fault: httpx.Response | Exception
) -> None:
    """A network fault, a 5xx or a 429 twice, then an answer: the answer counts, after growing waits."""
    script = Script(fault, fault, OK)
    with client_on(script) as client:
        assert client.ask(URL, {}, as_text)[1] == "sunny"
    assert len(script.requests) == 3
    assert 2.0 <= fake_time.waits_s[0] <= 15.0 and fake_time.waits_s[1] >= 10.0


def test_retries_are_bounded_and_the_end_is_told(client_on: OpenClient, fake_time: Any) -> None:
    """After three tries it is over, with the service's name, its words and what to do by hand."""
    script = Script(BUSY)
    with client_on(script) as client, pytest.raises(WeatherUnavailable) as caught:
        client.ask(URL, {}, as_text)
    assert len(script.requests) == 3 and fake_time.elapsed_s < 90
    assert caught.value.message == "api.weather.test has trouble, status 503 ('The service is overloaded')."
    assert "By hand tonight" in caught.value.next_step


@pytest.mark.parametrize("status", [400, 401, 403, 404])
def test_a_refusal_for_good_is_not_asked_again(client_on: OpenClient, fake_time: Any, status: int) -> None:
    """A 4xx is decided by its status at once, and told with the service's own reason."""
    script = Script(httpx.Response(status, json={"error": True, "reason": "No data is available"}))
    with client_on(script) as client, pytest.raises(WeatherUnavailable, match=f"status {status} .'No data"):
        client.ask(URL, {}, as_text)
    assert len(script.requests) == 1 and fake_time.waits_s == []


@pytest.mark.parametrize(
    "reason",
    [socket.gaierror(socket.EAI_AGAIN, "no name"), OSError(errno.ENETUNREACH, "no network")],
    ids=["name", "network"],
)
def test_without_a_network_nobody_waits(client_on: OpenClient, fake_time: Any, reason: OSError) -> None:
    """A name that cannot be resolved and a network that is gone are tried once more, at once, and then told."""
    fault = httpx.ConnectError("cannot connect")
    fault.__cause__ = reason
    script = Script(fault)
    with client_on(script) as client, pytest.raises(WeatherUnavailable, match="cannot be reached") as caught:
        client.ask(URL, {}, as_text)
    assert len(script.requests) == 2 and fake_time.elapsed_s < 1.0
    assert "sunset" not in caught.value.next_step and "2 °C" in caught.value.next_step


def test_a_timeout_and_a_dead_network_read_differently(client_on: OpenClient) -> None:
    """The person learns whether the service was slow or could not be reached at all."""
    for fault, words in (
        (httpx.ReadTimeout("x"), "did not answer in time"),
        (httpx.ConnectError("x"), "cannot be reached"),
    ):
        with client_on(Script(fault)) as client, pytest.raises(WeatherUnavailable) as caught:
            client.ask(URL, {}, as_text)
        assert caught.value.message == f"api.weather.test {words}."
        assert isinstance(caught.value.__cause__, type(fault))


def test_retry_after_is_kept_to_while_patience_lasts(client_on: OpenClient, fake_time: Any) -> None:
    """Thirty seconds asked for are waited; an hour is not, the call gives up at once."""
    short = httpx.Response(429, headers={"Retry-After": "30"})
    with client_on(Script(short, OK)) as client:
        client.ask(URL, {}, as_text)
    assert fake_time.waits_s == [30.0]
    with (
        client_on(Script(httpx.Response(429, headers={"Retry-After": "3600"}))) as client,
        pytest.raises(WeatherUnavailable, match="asked too often"),
    ):
        client.ask(URL, {}, as_text)
    assert fake_time.waits_s == [30.0]


def test_retry_after_reads_seconds_and_dates() -> None:
    """Both forms of RFC 9110, section 10.2.3 are read; the wait is capped at an hour; nonsense is ignored."""
    now = datetime(2026, 1, 14, 14, 0, tzinfo=UTC)
    assert retry_after_s("120", now) == 120.0
    assert retry_after_s("Wed, 14 Jan 2026 14:00:45 GMT", now) == 45.0
    assert retry_after_s("Wed, 14 Jan 2026 13:00:00 GMT", now) == 0.0
    assert retry_after_s("99999", now) == 3600.0
    assert retry_after_s("-5", now) == 0.0
    for nonsense in (None, "", "soon", "nan"):
        assert retry_after_s(nonsense, now) is None


def test_unreadable_answers_are_asked_for_again(client_on: OpenClient) -> None:
    """A cut-off body with status 200 counts as a passing fault; if it stays, its own error is told."""

    def strict(raw: RawAnswer) -> str:
        if raw.body != b"sunny":
            raise ForecastFormatError("The answer is cut off.", next_step="Try again later.")
        return "read"

    script = Script(httpx.Response(200, text="sun"), OK)
    with client_on(script) as client:
        assert client.ask(URL, {}, strict)[1] == "read"
    with (
        client_on(Script(httpx.Response(200, text="sun"))) as client,
        pytest.raises(ForecastFormatError, match="cut off"),
    ):
        client.ask(URL, {}, strict)


def test_compressed_answers_are_unpacked_and_broken_ones_told(client_on: OpenClient) -> None:
    """gzip is understood; a body that only claims to be gzip is a passing fault with its own words."""
    packed = {"Content-Encoding": "gzip"}

    def good(request: httpx.Request) -> httpx.Response:
        assert request.headers["Accept-Encoding"] == "gzip"
        return httpx.Response(200, headers=packed, stream=Pieces(gzip.compress(b"sunny")))

    with client_on(good) as client:
        assert client.ask(URL, {}, as_text)[1] == "sunny"
    with (
        client_on(lambda request: httpx.Response(200, headers=packed, stream=Pieces(b"no gzip"))) as client,
        pytest.raises(WeatherUnavailable, match="cannot be unpacked"),
    ):
        client.ask(URL, {}, as_text)


class Pieces(httpx.SyncByteStream):
    """A body that arrives piece by piece, letting time pass between pieces."""

    def __init__(self, *pieces: bytes, pause: Callable[[], None] = lambda: None) -> None:
        self.pieces, self.pause = pieces, pause

    def __iter__(self) -> Iterator[bytes]:
        for piece in self.pieces:
            self.pause()
            yield piece


def test_the_size_is_limited_after_unpacking(client_on: OpenClient) -> None:
    """Fifty megabytes packed into fifty kilobytes are dropped at the limit, and not asked for again."""
    bomb = gzip.compress(bytes(50_000_000))
    pieces = [bomb[k : k + 4096] for k in range(0, len(bomb), 4096)]
    calls = []

    def handler(request: httpx.Request) -> httpx.Response:
        calls.append(request)
        return httpx.Response(200, headers={"Content-Encoding": "gzip"}, stream=Pieces(*pieces))

    with (
        client_on(handler, patience=Patience(largest_answer_bytes=100_000)) as client,
        pytest.raises(WeatherUnavailable, match="far too large"),
    ):
        client.ask(URL, {}, as_text)
    assert len(calls) == 1


def test_a_drip_ends_with_the_total_time(client_on: OpenClient, fake_time: Any) -> None:
    """A body that comes a byte every ten seconds is given up when the total time is over."""

    def handler(request: httpx.Request) -> httpx.Response:
        return httpx.Response(200, stream=Pieces(*[b"x"] * 1000, pause=lambda: fake_time.sleep(10.0)))

    with client_on(handler) as client, pytest.raises(WeatherUnavailable, match="too slowly"):
        client.ask(URL, {}, as_text)
    assert fake_time.elapsed_s <= 100.0


def moved(to: str) -> httpx.Response:
    return httpx.Response(302, headers={"Location": to})


def test_a_redirect_within_the_site_is_followed(client_on: OpenClient) -> None:
    """Another host of the same site over https is fine, a relative address too."""
    script = Script(moved("https://paid.weather.test/v1/forecast?a=1"), moved("/v2/forecast"), OK)
    with client_on(script) as client:
        client.ask(URL, {}, as_text)
    assert [str(request.url) for request in script.requests[1:]] == [
        "https://paid.weather.test/v1/forecast?a=1",
        "https://paid.weather.test/v2/forecast",
    ]


@pytest.mark.parametrize(
    "target",
    ["https://elsewhere.test/", "http://api.weather.test/v1/forecast", "https://weather.test.evil.test/", "file:///etc/passwd"],
)  # fmt: skip
def test_a_redirect_elsewhere_is_refused(client_on: OpenClient, target: str) -> None:
    """Another site, an unencrypted address or a file is not followed, and not tried again."""
    script = Script(moved(target))
    with client_on(script) as client, pytest.raises(WeatherUnavailable, match="strange place"):
        client.ask(URL, {}, as_text)
    assert len(script.requests) == 1


def test_redirects_in_a_circle_end(client_on: OpenClient) -> None:
    """After three redirects the request is given up."""
    script = Script(moved(URL))
    with client_on(script) as client, pytest.raises(WeatherUnavailable, match="in circles"):
        client.ask(URL, {}, as_text)
    assert len(script.requests) == 4


def test_an_address_that_is_none_is_told(client_on: OpenClient) -> None:
    """A redirect to nonsense does not end in a traceback."""
    with client_on(Script(moved("https://[not-an-address"))) as client, pytest.raises(WeatherUnavailable):
        client.ask(URL, {}, as_text)


def test_jitter_spreads_the_callers(client_on: OpenClient, fake_time: Any) -> None:
    """The wait is the plain one or up to half as long again."""
    with open_weather_client(
        Settings(),
        transport=httpx.MockTransport(Script(BUSY, OK)),
        sleep=fake_time.sleep,
        monotonic=fake_time.monotonic,
        jitter=lambda: 1.0,
    ) as client:
        client.ask(URL, {}, as_text)
    assert fake_time.waits_s == [3.0]


def test_proxy_settings_that_make_no_sense_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """A proxy of an unknown kind is a fault of the machine's settings, told in one sentence."""
    monkeypatch.setenv("ALL_PROXY", "gopher://proxy.test:70")
    with pytest.raises(WeatherUnavailable, match="proxy"), open_weather_client(Settings()):
        pass


def test_without_a_network_the_real_client_says_so_quickly() -> None:
    """A port where nobody listens is told as 'cannot be reached', with the real clock and no retries."""
    started = time.monotonic()
    with (
        open_weather_client(Settings(), patience=Patience(waits_s=())) as client,
        pytest.raises(WeatherUnavailable, match="cannot be reached"),
    ):
        client.ask("http://127.0.0.1:9/", {}, as_text)
    assert time.monotonic() - started < 5.0
