"""Manners on the network, in one place: time limits, few patient retries, size limits, and who is calling.

The only module that knows the HTTP library. Whatever goes wrong leaves it as a `WeatherUnavailable` or
`ForecastFormatError` with one sentence and a next step.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING, TypeVar

from frostguard.errors import ForecastFormatError, WeatherUnavailable
from frostguard.garden.settings import Settings

if TYPE_CHECKING:
    import httpx

T = TypeVar("T")

BY_HAND = (
    "By hand tonight: look up tonight's lowest temperature elsewhere; if it is below 2 degC, carry tender "
    "pots indoors before sunset and put fleece over the rest. Then try again, or give a weather file."
)


@dataclass(frozen=True, slots=True)
class Patience:
    """How long to wait and how often to ask [s].

    Estimates for a person who waits at a terminal, within the 90 s after which another source is the
    better idea. Waits grow because an overloaded service recovers only if callers stay away.
    """

    connect_s: float = 8.0
    read_s: float = 25.0
    total_s: float = 80.0
    waits_s: tuple[float, ...] = (2.0, 10.0)  # before the second and third try
    wait_when_refused_s: float = 15.0  # 429 without a Retry-After
    largest_answer_bytes: int = 8_000_000  # 39 days of 51 members and all columns are under 6 MB
    redirects: int = 3


@dataclass(frozen=True, slots=True)
class RawAnswer:
    """A body with where and when it was received."""

    url: str
    body: bytes
    fetched: datetime


@dataclass(slots=True)
class WeatherClient:
    """Asks weather services, patiently and politely, one request at a time.

    Clock, sleep and jitter are fields so that tests need no waiting.
    """

    http: httpx.Client
    patience: Patience = field(default_factory=Patience)
    sleep: Callable[[float], None] = time.sleep
    monotonic: Callable[[], float] = time.monotonic
    jitter: Callable[[], float] = random.random
    now: Callable[[], datetime] = lambda: datetime.now(UTC)

    def ask(self, url: str, query: Mapping[str, str], parse: Callable[[RawAnswer], T]) -> tuple[RawAnswer, T]:
        """The answer, raw and parsed, after as many tries as patience allows.

        Parameters
        ----------
        url : str
            Address without the query.
        query : mapping of str to str
            The query.
        parse : callable
            Turns the raw answer into what is wanted; its `ForecastFormatError` counts as a passing
            fault of the service, since a cut-off answer with status 200 is one.

        Raises
        ------
        WeatherUnavailable
            If no try brought an answer, or the service refuses the request for good.
        ForecastFormatError
            If the last try brought an unreadable answer.
        """
        deadline = self.monotonic() + self.patience.total_s
        waits = iter(self.patience.waits_s)
        while True:
            try:
                raw = self._get(url, query, deadline)
                return raw, parse(raw)
            except _PassingFaultError as fault:
                problem: WeatherUnavailable | ForecastFormatError = fault.problem
                problem.__cause__ = fault.__cause__
                least_wait_s = fault.least_wait_s
            except ForecastFormatError as exc:
                problem, least_wait_s = exc, 0.0
            wait_s = next(waits, None)
            if wait_s is None:
                raise problem
            wait_s = max(wait_s, least_wait_s) * (1.0 + 0.5 * self.jitter())
            if self.monotonic() + wait_s >= deadline:
                raise problem
            self.sleep(wait_s)

    def _get(self, url: str, query: Mapping[str, str], deadline: float) -> RawAnswer:
        """One try: a body with status 200, or the fault that stands in its way."""
        import httpx

        address = httpx.URL(url, params=dict(query))
        try:
            for _ in range(self.patience.redirects + 1):
                left_s = max(deadline - self.monotonic(), 0.1)
                limits = httpx.Timeout(
                    min(self.patience.read_s, left_s), connect=min(self.patience.connect_s, left_s)
                )
                with self.http.stream("GET", address, timeout=limits) as response:
                    if not response.has_redirect_location:
                        return RawAnswer(str(address), self._body(response, deadline), self.now())
                    address = _allowed_redirect(address, response)
        except httpx.TimeoutException as exc:
            raise _PassingFaultError(_unavailable(address, "did not answer in time")) from exc
        except (httpx.HTTPError, httpx.InvalidURL, OSError, ValueError) as exc:
            words = (
                "sent an answer that cannot be unpacked"
                if isinstance(exc, httpx.DecodingError)
                else ("cannot be reached")
            )
            raise _PassingFaultError(_unavailable(address, words)) from exc
        raise _unavailable(address, "sends the request round in circles")

    def _body(self, response: httpx.Response, deadline: float) -> bytes:
        body = bytearray()
        for chunk in response.iter_bytes():
            body += chunk
            if len(body) > self.patience.largest_answer_bytes:
                raise _unavailable(response.url, "sent an answer far too large for a forecast")
            if self.monotonic() > deadline:
                raise _PassingFaultError(_unavailable(response.url, "answered too slowly"))
        if response.status_code != 200:
            raise _refusal(response, bytes(body), self.patience, self.now())
        return bytes(body)


class _PassingFaultError(Exception):
    """A fault that may be gone at the next try."""

    def __init__(self, problem: WeatherUnavailable, least_wait_s: float = 0.0) -> None:
        super().__init__(str(problem))
        self.problem = problem
        self.least_wait_s = least_wait_s


def _unavailable(url: httpx.URL, words: str) -> WeatherUnavailable:
    return WeatherUnavailable(f"{url.host} {words}.", next_step=BY_HAND)


def _refusal(response: httpx.Response, body: bytes, patience: Patience, now: datetime) -> Exception:
    """What a status other than 200 means: decided by the status, told with the service's own words."""
    from frostguard.weather.json_answer import error_reason

    status = response.status_code
    reason = error_reason(body)
    words = f" ('{reason}')" if reason else ""
    if status == 429:
        wait_s = retry_after_s(response.headers.get("Retry-After"), now)
        return _PassingFaultError(
            _unavailable(response.url, f"is asked too often from here{words}"),
            patience.wait_when_refused_s if wait_s is None else wait_s,
        )
    if status >= 500:
        wait_s = retry_after_s(response.headers.get("Retry-After"), now)
        return _PassingFaultError(
            _unavailable(response.url, f"has trouble, status {status}{words}"), wait_s or 0.0
        )
    return _unavailable(response.url, f"refuses the request with status {status}{words}")


LONGEST_RETRY_AFTER_S = 3600.0


def retry_after_s(header: str | None, now: datetime) -> float | None:
    """Seconds that a Retry-After header (number or date) asks for, at most an hour; None if unreadable."""
    from email.utils import parsedate_to_datetime  # late: only an overloaded service needs it

    if header is None:
        return None
    try:
        wait_s = float(header)
    except ValueError:
        try:
            then = parsedate_to_datetime(header)
        except ValueError:
            return None
        then = then if then.tzinfo else then.replace(tzinfo=UTC)
        wait_s = (then - now).total_seconds()
    return min(max(wait_s, 0.0), LONGEST_RETRY_AFTER_S) if wait_s == wait_s else None


def _allowed_redirect(address: httpx.URL, response: httpx.Response) -> httpx.URL:
    """The address that a redirect names, if it stays with the same site and is encrypted."""
    target = address.join(response.headers["Location"])
    if target.scheme != "https" or _site(target.host) != _site(address.host):
        raise _unavailable(address, f"sends the request to a strange place ({target.host[:60]})")
    return target


def _site(host: str) -> str:
    """The last two labels of a host name; enough for the services known here."""
    return ".".join(host.lower().split(".")[-2:])


def user_agent(contact: str | None) -> str:
    """Who is calling: program, version, and the person's contact where the settings have one."""
    from importlib import metadata  # late: a weather file needs no caller

    try:
        version = metadata.version("frostguard")
    except metadata.PackageNotFoundError:
        version = "unknown"
    printable = "".join(c for c in contact or "" if c.isascii() and c.isprintable() and c not in "()")
    return f"frostguard/{version} ({printable.strip()})" if printable.strip() else f"frostguard/{version}"


@contextmanager
def open_weather_client(
    settings: Settings,
    *,
    transport: httpx.BaseTransport | None = None,
    patience: Patience | None = None,
    sleep: Callable[[float], None] = time.sleep,
    monotonic: Callable[[], float] = time.monotonic,
    jitter: Callable[[], float] = random.random,
    now: Callable[[], datetime] = lambda: datetime.now(UTC),
) -> Iterator[WeatherClient]:
    """A client for weather services, closed at the end.

    Parameters
    ----------
    settings : Settings
        For the contact in the User-Agent.
    transport : httpx.BaseTransport, optional
        Stands in for the network in tests.
    patience : Patience, optional
        Limits; the defaults suit a person who waits.
    sleep, monotonic, jitter, now : callable
        Stand-ins for waiting and clocks in tests.

    Raises
    ------
    WeatherUnavailable
        If the machine's proxy settings cannot be used.
    """
    import httpx

    patience = patience or Patience()
    try:
        http = httpx.Client(
            headers={"User-Agent": user_agent(settings.contact), "Accept-Encoding": "gzip"},
            limits=httpx.Limits(max_connections=1),
            follow_redirects=False,
            transport=transport,
        )
    except (ValueError, ImportError, OSError, httpx.InvalidURL) as exc:
        raise WeatherUnavailable(
            "The network cannot be used: this machine's proxy or certificate settings are not understood.",
            next_step="Check HTTP_PROXY, HTTPS_PROXY, ALL_PROXY and SSL_CERT_FILE, or give a weather file.",
        ) from exc
    with http:
        yield WeatherClient(http, patience, sleep, monotonic, jitter, now)
