"""Who may ask, and how: everything that a request must pass before any page sees it.

A page on one's own machine can be reached by every web page that the same browser has open. So a request must name
this very host (else a foreign name could be pointed here), and whatever changes something must bring a mark that only
our own pages carry. With `--lan` nobody gets in without the link that the terminal shows.
"""

from __future__ import annotations

import asyncio
import hashlib
import hmac
import html
import secrets
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from http.cookies import SimpleCookie
from urllib.parse import parse_qsl

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import HTMLResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from frostguard.report.words import say

COOKIE = "frostguard-{port}"
"""Browsers keep cookies by host, whatever the port: each page on this machine has one of its own."""

LONGEST_BODY_S = 10.0
"""Whoever sends slower than this is cut off, so that nobody holds a connection for good."""

LARGEST_BODY_BYTES = 64_000
"""A form of ours takes a few kilobytes."""

MOST_FIELDS = 500
WRONG_TRIES = 5
TRIES_FORGOTTEN_S = 600.0
"""Five wrong links in ten minutes from one address, and fifty from all: a token of 32 bytes is then out of reach."""

WRONG_TRIES_OF_ALL = 50

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; connect-src 'self'; "
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",  # with no-referrer browsers send their own forms as from nowhere
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}


def with_styles(source: str) -> dict[str, str]:
    """The headers of a page whose style stands within it; `source` is that style's own hash."""
    name = "Content-Security-Policy"
    return {name: HEADERS[name].replace("style-src 'self'", f"style-src {source}")}


@dataclass(frozen=True, slots=True)
class Keys:
    """What this run of the server was given: the hosts it answers to, and its secrets.

    `token` is what the link carries; None where only this machine can ask.
    """

    hosts: frozenset[str]
    token: str | None
    secret: bytes = field(default_factory=lambda: secrets.token_bytes(32))

    def mark(self, session: str) -> str:
        """What a form carries for who is looking now."""
        return self._signed("form", session)

    def new_session(self) -> str:
        """A session that `knows` will know again."""
        name = secrets.token_urlsafe(18)
        return f"{name}.{self._signed('session', name)}"

    def knows(self, session: str) -> bool:
        """Whether this run gave out that session."""
        name, _, signature = session.partition(".")
        return hmac.compare_digest(signature.encode(), self._signed("session", name).encode())

    def _signed(self, what: str, text: str) -> str:
        return hmac.new(self.secret, f"{what}:{text}".encode(), hashlib.sha256).hexdigest()


class Tries:
    """Wrong links lately, of each address and of all."""

    def __init__(self, now: Callable[[], float]) -> None:
        self._now = now
        self._all: deque[tuple[float, str]] = deque(maxlen=WRONG_TRIES_OF_ALL)

    def too_many(self, address: str) -> bool:
        """Whether that address, or all together, must wait."""
        since = self._now() - TRIES_FORGOTTEN_S
        lately = [who for when, who in self._all if when > since]
        return len(lately) >= WRONG_TRIES_OF_ALL or lately.count(address) >= WRONG_TRIES

    def note(self, address: str) -> None:
        """One more."""
        self._all.append((self._now(), address))


class Guard:
    """The gate before all pages.

    It puts `session`, `mark` (for forms) and, of a form that was sent, `fields` into the request's state.
    """

    def __init__(self, app: ASGIApp, keys: Keys, now: Callable[[], float]) -> None:
        self._app = app
        self._keys = keys
        self._tries = Tries(now)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return  # no other kind, such as a web socket, is answered
        headers = Headers(scope=scope)
        refusal, session, fresh = self._let_in(scope, headers)
        if refusal is None and scope["method"] == "POST":
            fields, refusal = await self._form(headers, receive, session)
            scope.setdefault("state", {})["fields"] = fields
        if refusal is not None:
            await refusal(scope, receive, _with_headers(send, headers, None))
            return
        scope.setdefault("state", {}).update(session=session, mark=self._keys.mark(session))
        await self._app(scope, receive, _with_headers(send, headers, session if fresh else None))

    def _let_in(self, scope: Scope, headers: Headers) -> tuple[Response | None, str, bool]:
        """A refusal or None, the session, and whether it is a new one."""
        if headers.get("host", "").casefold() not in self._keys.hosts:
            return _told(421, say("This page is not served under that name.")), "", False
        if scope["method"] not in ("GET", "HEAD", "POST"):
            return _told(405, say("That cannot be asked of this page.")), "", False
        session = _cookie(headers)
        known = self._keys.knows(session)
        if self._keys.token is None:
            return None, session if known else self._keys.new_session(), not known
        if scope["path"].startswith("/enter/") and scope["method"] == "GET":
            return self._enter(scope, headers), "", False
        if known:
            return None, session, False
        return _told(403, say("Open the link that the terminal shows; it lets this device in.")), "", False

    def _enter(self, scope: Scope, headers: Headers) -> Response:
        address = str((scope.get("client") or ("",))[0])
        if self._tries.too_many(address):
            return _told(429, say("Too many wrong links. Wait ten minutes, then open the right one."))
        given = scope["path"].removeprefix("/enter/")
        if not hmac.compare_digest(given.encode(), (self._keys.token or "").encode()):
            self._tries.note(address)
            return _told(403, say("This link is not the one that the terminal shows."))
        # Not a redirect: a browser that came here from elsewhere would follow it without the strict cookie.
        word = html.escape(say("Go on"))
        answer = HTMLResponse(
            f'<!doctype html><meta charset="utf-8"><meta http-equiv="refresh" content="0;url=/"><a href="/">{word}</a>'
        )
        _set_cookie(answer.headers, headers, self._keys.new_session())
        return answer

    async def _form(
        self, headers: Headers, receive: Receive, session: str
    ) -> tuple[list[tuple[str, str]], Response | None]:
        origin, site = headers.get("origin"), headers.get("sec-fetch-site")
        foreign = (origin is not None and origin.casefold() != f"http://{headers['host'].casefold()}") or (
            site is not None and site != "same-origin"
        )
        if foreign:
            return [], _told(403, say("That did not come from this page."))
        if headers.get("content-type", "").partition(";")[0].strip() != "application/x-www-form-urlencoded":
            return [], _told(415, say("That is no form of this page."))
        try:
            body = await asyncio.wait_for(_body(headers, receive), LONGEST_BODY_S)
        except TimeoutError:
            return [], _told(408, say("That came too slowly."))
        if body is None:
            return [], _told(413, say("That is more than a form of this page holds."))
        try:
            fields = parse_qsl(
                body.decode("utf-8"), keep_blank_values=True, max_num_fields=MOST_FIELDS, errors="strict"
            )
        except ValueError:
            return [], _told(400, say("That cannot be read."))
        mark = next((value for name, value in fields if name == "mark"), "")
        if not hmac.compare_digest(mark.encode(), self._keys.mark(session).encode()):
            return [], _told(403, say("This page is too old, or not ours. Load it anew and try again."))
        return fields, None


async def _body(headers: Headers, receive: Receive) -> bytes | None:
    """The whole body; None where it is too large, whatever its head says."""
    said = headers.get("content-length", "0")
    if not said.isascii() or not said.isdigit() or int(said[:12]) > LARGEST_BODY_BYTES:
        return None
    body = b""
    while True:
        message = await receive()
        if message["type"] != "http.request":
            return None  # the other side has gone
        body += bytes(message.get("body", b""))
        if len(body) > LARGEST_BODY_BYTES:
            return None
        if not message.get("more_body", False):
            return body


def _cookie(headers: Headers) -> str:
    cookies: SimpleCookie = SimpleCookie()
    try:
        cookies.load(headers.get("cookie", ""))
    except Exception:  # whatever it is, it is no cookie of ours
        return ""
    found = cookies.get(cookie_name(headers))
    return "" if found is None else found.value


def cookie_name(asked: Headers) -> str:
    """The name of the cookie of this very page, by the port that was asked."""
    port = asked.get("host", "").rpartition(":")[2]
    return COOKIE.format(port=port if port.isascii() and port.isdigit() else "80")


def _set_cookie(headers: MutableHeaders, asked: Headers, session: str) -> None:
    name = cookie_name(asked)
    headers.append("Set-Cookie", f"{name}={session}; Path=/; HttpOnly; SameSite=Strict; Max-Age=15552000")


def _told(status: int, sentence: str) -> Response:
    """A refusal: a sentence that can be read on a telephone, and nothing of ours besides."""
    told = html.escape(sentence)
    return HTMLResponse(
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" '
        f'content="width=device-width, initial-scale=1"><title>frostguard</title></head><body><h1>{told}</h1></body>'
        "</html>\n",
        status_code=status,
    )


def _with_headers(send: Send, asked: Headers, session: str | None) -> Send:
    """Sends with the headers that every answer has, and with the cookie of a new session."""

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            if session is not None:
                _set_cookie(headers, asked, session)
        await send(message)

    return sending
