"""Manners on the network, in one place: time limits, few patient retries, size limits, and who is calling.

The only module that knows the HTTP library. Whatever goes wrong with the weather leaves it as a
`WeatherUnavailable` or `ForecastFormatError` with one sentence and a next step; a post that fails leaves it
as a `PostFailed`.
"""

from __future__ import annotations

import random
import time
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from frostguard.errors import ForecastFormatError, WeatherUnavailable
from frostguard.garden.settings import Settings
from frostguard.weather.manners import BY_HAND, Patience, user_agent
from frostguard.weather.raw_answer import KEPT_HEADERS, RawAnswer, retry_after_s
from frostguard.weather.time_limit import Line, cut_after

if TYPE_CHECKING:
    import httpx

T = TypeVar("T")

MOST_OTHER_HEADERS = 30
"""Headers beyond those that are read; more come from no weather service (estimate)."""

class ServiceRefused(WeatherUnavailable):
    """The service said no or not now; `status` says how, `again_after_s` when it may be asked again, if told."""

    def __init__(
        self, message: str, *, next_step: str, status: int, again_after_s: float | None = None
    ) -> None:
        super().__init__(message, next_step=next_step)
        self.status = status
        self.again_after_s = again_after_s


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

    def ask(
        self,
        url: str,
        query: Mapping[str, str],
        parse: Callable[[RawAnswer], T],
        *,
        known: RawAnswer | None = None,
        tries: int | None = None,
        total_s: float | None = None,
    ) -> tuple[RawAnswer, T]:
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
        known : RawAnswer, optional
            The last answer to the same question; the service is told its date and may say that it has
            nothing newer, which gives this answer again, confirmed.
        tries, total_s : int, float, optional
            Fewer tries and less time than patience allows.

        Raises
        ------
        WeatherUnavailable
            If no try brought an answer, or the service refuses the request for good.
        ForecastFormatError
            If the last try brought an unreadable answer.
        """
        deadline = self.monotonic() + min(self.patience.total_s, total_s or self.patience.total_s)
        waits = iter(self.patience.waits_s if tries is None else self.patience.waits_s[: tries - 1])
        seen_no_way = False
        while True:
            try:
                raw = self._get(url, query, known, deadline)
                return raw, parse(raw)
            except _PassingFaultError as fault:
                problem: WeatherUnavailable | ForecastFormatError = fault.problem
                problem.__cause__ = fault.__cause__
                least_wait_s = fault.least_wait_s
                if fault.no_way_there:
                    waits = iter(() if seen_no_way else (self.patience.wait_without_way_s,))
                    seen_no_way = True
            except ForecastFormatError as exc:
                problem, least_wait_s = exc, 0.0
            wait_s = next(waits, None)
            if wait_s is None:
                raise problem
            wait_s = max(wait_s, least_wait_s) * (1.0 + 0.5 * self.jitter())
            if self.monotonic() + wait_s >= deadline:
                raise problem
            self.sleep(wait_s)

    def _get(
        self, url: str, query: Mapping[str, str], known: RawAnswer | None, deadline: float
    ) -> RawAnswer:
        """One try: a body with status 200, or the fault that stands in its way."""
        import httpx

        asked_as = httpx.URL(url, params=dict(query)) if query else httpx.URL(url)
        address = asked_as
        since = None if known is None else known.header("Last-Modified")
        headers = {} if since is None else {"If-Modified-Since": since}
        line = Line()
        try:
            for _ in range(self.patience.redirects + 1):
                left_s = max(deadline - self.monotonic(), 0.1)
                limits = httpx.Timeout(
                    min(self.patience.read_s, left_s), connect=min(self.patience.connect_s, left_s)
                )
                with (
                    cut_after(left_s) as line,
                    self.http.stream(
                        "GET", address, headers=headers, timeout=limits, extensions={"trace": line.trace}
                    ) as response,
                ):
                    if known is not None and since is not None and response.status_code == 304:
                        return self._confirmed(known, response)
                    if not response.has_redirect_location:
                        body = self._body(response, deadline)
                        return RawAnswer(
                            str(asked_as), body, self.now(), _kept(response), None, response.status_code
                        )
                    address = _allowed_redirect(address, response)
        except httpx.TimeoutException as exc:
            raise _PassingFaultError(_unavailable(address, "did not answer in time")) from exc
        except zlib.error as exc:
            raise _PassingFaultError(_unavailable(address, "sent an answer that cannot be unpacked")) from exc
        except (httpx.HTTPError, httpx.InvalidURL, OSError, ValueError) as exc:
            words = "answered too slowly" if line.was_cut else "cannot be reached"
            raise _PassingFaultError(_unavailable(address, words), no_way_there=_no_way_there(exc)) from exc
        raise _unavailable(address, "sends the request round in circles")

    def _confirmed(self, known: RawAnswer, response: httpx.Response) -> RawAnswer:
        """The known answer, said to be the newest; only its headers are renewed."""
        headers = {**dict(known.headers), **dict(_kept(response))}
        return replace(known, headers=tuple(headers.items()), confirmed=self.now())

    def _body(self, response: httpx.Response, deadline: float) -> bytes:
        """The body, unpacked piece by piece so that a small answer cannot swell to any size."""
        limit = self.patience.largest_answer_bytes
        unpack = _unpacker(response)
        body = bytearray()
        for chunk in _pieces(response):
            body += chunk if unpack is None else unpack.decompress(chunk, limit + 1 - len(body))
            if len(body) > limit or (unpack is not None and unpack.unconsumed_tail):
                raise _unavailable(response.url, "sent an answer far too large for a forecast")
            if self.monotonic() > deadline:
                raise _PassingFaultError(_unavailable(response.url, "answered too slowly"))
        if unpack is not None and body and not unpack.eof:
            raise zlib.error("the packed answer is cut off")
        if response.status_code not in (200, 203):
            raise _refusal(response, bytes(body), self.patience, self.now())
        return bytes(body)


def _pieces(response: httpx.Response) -> Iterable[bytes]:
    """The body as it comes over the wire, still packed."""
    stream = response.stream
    if not isinstance(stream, Iterable):  # an answer of the other, asynchronous kind of client
        raise TypeError("the client was made with an asynchronous transport")
    return stream


def _unpacker(response: httpx.Response) -> zlib._Decompress | None:
    """What unpacks the body, None where it is not packed; zlib.error for a packing not asked for."""
    packing = response.headers.get("Content-Encoding", "identity").strip().lower()
    if packing in ("", "identity"):
        return None
    if packing not in ("gzip", "x-gzip"):
        raise zlib.error(f"packed as {packing[:20]}, which nobody asked for")
    return zlib.decompressobj(16 + zlib.MAX_WBITS)


def _kept(response: httpx.Response) -> tuple[tuple[str, str], ...]:
    """The headers to keep: those that are read later by their usual names, then the others, but no cookies."""
    read = {name: response.headers[name] for name in KEPT_HEADERS if name in response.headers}
    passed_over = {"set-cookie", *(name.lower() for name in KEPT_HEADERS)}
    others = [pair for pair in response.headers.items() if pair[0].lower() not in passed_over]
    return tuple((name, value[:200]) for name, value in [*read.items(), *others[:MOST_OTHER_HEADERS]])


class _PassingFaultError(Exception):
    """A fault that may be gone at the next try."""

    def __init__(
        self, problem: WeatherUnavailable, least_wait_s: float = 0.0, *, no_way_there: bool = False
    ) -> None:
        super().__init__(str(problem))
        self.problem = problem
        self.least_wait_s = least_wait_s
        self.no_way_there = no_way_there


def _no_way_there(exc: BaseException) -> bool:
    """Whether the name cannot be resolved or the network is gone: waiting for the service is then of no use."""
    import errno
    import socket

    cause: BaseException | None = exc
    while cause is not None:
        if isinstance(cause, socket.gaierror):
            return True
        if isinstance(cause, OSError) and cause.errno in (errno.ENETUNREACH, errno.EHOSTUNREACH, errno.ENETDOWN):
            return True
        cause = cause.__cause__ or cause.__context__
    return False


def _unavailable(url: httpx.URL, words: str) -> WeatherUnavailable:
    return WeatherUnavailable(f"{url.host} {words}.", next_step=BY_HAND)


def _refusal(response: httpx.Response, body: bytes, patience: Patience, now: datetime) -> Exception:
    """What a status other than 200 means: decided by the status, told with the service's own words."""
    from frostguard.weather.json_answer import error_reason

    status = response.status_code
    reason = error_reason(body)
    words = f" ('{reason}')" if reason else ""
    if status == 429 or status >= 500:
        wait_s = retry_after_s(response.headers.get("Retry-After"), now)
        trouble = f"is asked too often from here{words}" if status == 429 else f"has trouble, status {status}{words}"
        usual_s = patience.wait_when_refused_s if status == 429 else 0.0
        return _PassingFaultError(
            ServiceRefused(
                f"{response.url.host} {trouble}.", next_step=BY_HAND, status=status, again_after_s=wait_s
            ),
            usual_s if wait_s is None else wait_s,
        )
    return ServiceRefused(
        f"{response.url.host} refuses the request with status {status}{words}.",
        next_step=BY_HAND,
        status=status,
    )


def _allowed_redirect(address: httpx.URL, response: httpx.Response) -> httpx.URL:
    """The address that a redirect names, if it stays with the same site and is encrypted."""
    target = address.join(response.headers["Location"])
    if target.scheme != "https" or _site(target.host) != _site(address.host):
        raise _unavailable(address, f"sends the request to a strange place ({target.host[:60]})")
    return target


def _site(host: str) -> str:
    """The last two labels of a host name; enough for the services known here."""
    return ".".join(host.lower().split(".")[-2:])


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
            limits=httpx.Limits(max_connections=1, max_keepalive_connections=0),  # each is timed from its begin
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


class PostFailed(Exception):
    """A post that got no answer; `reason` says why in words that hold nothing of the address."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


def post_once(
    url: str,
    body: bytes,
    headers: Mapping[str, str],
    *,
    patience: Patience | None = None,
    ca_file: Path | None = None,
    transport: httpx.BaseTransport | None = None,
) -> int:
    """The status with which an address answers a body; redirects are not followed, the answer is not read.

    Parameters
    ----------
    url : str
        The whole address; it may be a secret, so it is never told.
    body : bytes
        What is posted.
    headers : mapping of str to str
        Beside the caller's name.
    patience : Patience, optional
        Its limits for connecting and for one answer count.
    ca_file : Path, optional
        Certificates to trust instead of the machine's.
    transport : httpx.BaseTransport, optional
        Stands in for the network in tests.

    Raises
    ------
    PostFailed
        If no answer came.
    """
    import ssl

    import httpx

    patience = patience or Patience()
    limits = httpx.Timeout(patience.read_s, connect=patience.connect_s)
    line = Line()
    try:
        trusted = ssl.create_default_context(cafile=None if ca_file is None else str(ca_file))
        with (
            cut_after(patience.total_s) as line,
            httpx.Client(
                headers={"User-Agent": user_agent(None)},
                verify=trusted,
                follow_redirects=False,
                trust_env=url.startswith("https:"),  # what is not encrypted must not leave by a proxy
                transport=transport,
            ) as http,
            http.stream(
                "POST", url, content=body, headers=dict(headers), timeout=limits, extensions={"trace": line.trace}
            ) as response,
        ):
            return response.status_code
    except httpx.TimeoutException:
        raise PostFailed("did not answer in time") from None
    except (httpx.HTTPError, httpx.InvalidURL, OSError, ValueError, ImportError):
        raise PostFailed("did not answer in time" if line.was_cut else "cannot be reached") from None
