"""The page served over a real socket on this machine, and a browser of the simplest kind."""

from __future__ import annotations

import re
import socket
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from threading import Lock, Thread

import httpx

from frostguard.logbook.book import open_logbook
from frostguard.page import work
from frostguard.page.guard import Keys
from frostguard.page.line import server_for
from frostguard.page.planner import Planner
from frostguard.page.process import carried_out
from frostguard.page.server import build_app
from frostguard.page.site import Site
from frostguard.page.work import Evening, Shown, Task, Trouble

_ANSWERS: dict[tuple[bytes, bytes, Path | None], Shown] = {}
_ONE_AT_A_TIME = Lock()


def carry(order):
    """Carry an order out here, in the thread that asks.

    Evenings of terraces alike of which nothing is signed off are worked out once for all tests; what the answer
    leaves in the logbook is put down each time.
    """
    now = datetime.now(UTC)
    if not isinstance(order, Evening):
        return carried_out(order, now)
    task = order.task
    with open_logbook(task.logbook) as book:
        if book.rows("SELECT 1 FROM sign_offs LIMIT 1"):
            return carried_out(order, now)
    settings = b"" if task.settings is None else task.settings.read_bytes()
    key = (task.garden.read_bytes(), settings, task.weather)
    with _ONE_AT_A_TIME:
        found: Shown | Trouble | None = _ANSWERS.get(key)
        if found is None:
            found = carried_out(order, now)
            if isinstance(found, Shown):
                _ANSWERS[key] = found
            return found
    with open_logbook(task.logbook) as book:
        work.put_down(book, found.garden, found.plan, task.moment(now))
    return found


def until(holds: Callable[[], bool], longest_s: float = 300.0) -> None:
    """Wait for what another thread brings about, however slow the machine; a failure if it never does."""
    ends = time.monotonic() + longest_s
    while not holds():
        assert time.monotonic() < ends, "it never came to that"
        time.sleep(0.02)


@dataclass
class Terrace:
    """The page with its files, and a clock for wrong links that is set by hand."""

    task: Task
    token: str | None = None
    address: str = "127.0.0.1"
    seconds: float = 0.0
    written: list[str] = field(default_factory=list)
    visitors: list[Visitor] = field(default_factory=list)

    def __post_init__(self) -> None:
        listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        listening.bind((self.address, 0))
        self.host = f"{self.address}:{listening.getsockname()[1]}"
        self.site = Site(
            Planner(self.task, carry=carry),
            now=lambda: datetime.now(UTC),
            write=self.written.append,
            new_settings=self.task.garden.with_name("new-settings.yaml"),
            carry=carry,
        )
        app = build_app(self.site, Keys(frozenset({self.host}), self.token), monotonic=lambda: self.seconds)
        self._server = server_for(app, lifespan="off")
        self._thread = Thread(target=self._server.run, kwargs={"sockets": [listening]}, daemon=True)
        self._thread.start()
        while not self._server.started:
            time.sleep(0.005)

    def stop(self) -> None:
        """Close everything."""
        for visitor in self.visitors:
            visitor.client.close()
        self._server.should_exit = True
        self._thread.join()

    @property
    def garden(self) -> Path:
        """The garden file."""
        return self.task.garden

    def visitor(self, address: str = "127.0.0.1") -> Visitor:
        """A browser with no cookie yet, at an address of this machine."""
        transport = httpx.HTTPTransport(local_address=address, verify=False)  # no TLS here
        visitor = Visitor(httpx.Client(base_url=f"http://{self.host}", transport=transport, timeout=300.0))
        self.visitors.append(visitor)
        return visitor

    def answered(self) -> Visitor:
        """A browser that has waited for the answer."""
        visitor = self.visitor()
        until(lambda: "being worked out" not in visitor.get("/").text)
        return visitor


@dataclass
class Visitor:
    """A browser: it keeps its cookie, and sends the forms that it was shown."""

    client: httpx.Client

    def get(self, address: str, **more):
        """A page."""
        return self.client.get(address, **more)

    def mark(self, address: str = "/settings") -> str:
        """What the forms of a page carry."""
        found = re.search(r'name="mark" value="([0-9a-f]+)"', self.get(address).text)
        assert found is not None
        return found[1]

    def field(self, address: str, name: str) -> str:
        """What stands in a field of a page."""
        found = re.search(rf'name="{name}"[^>]* value="([^"]*)"', self.get(address).text)
        assert found is not None
        return found[1]

    def send(self, address: str, fields: dict, *, mark: str | None = None, **more):
        """A form, with the right mark where none is given."""
        return self.client.post(address, data={"mark": self.mark() if mark is None else mark, **fields}, **more)

    def awaited(self, answer) -> httpx.Response:
        """What came of something that takes its time."""
        assert answer.status_code == 303, answer.text
        found = self.get(answer.headers["location"])

        def is_done() -> bool:
            nonlocal found
            found = self.get(answer.headers["location"])
            return "<progress" not in found.text

        if "<progress" in found.text:
            until(is_done)
        return found
