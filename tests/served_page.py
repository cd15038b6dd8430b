"""The page served over a real socket on this machine, and a browser of the simplest kind."""

from __future__ import annotations

import re
import socket
import time
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from threading import Thread

import httpx
import uvicorn

from frostguard.errors import FrostguardError
from frostguard.page import work
from frostguard.page.guard import Keys
from frostguard.page.planner import Planner
from frostguard.page.server import Site, build_app
from frostguard.page.work import Shown, Task, Trouble


def in_this_process(task: Task) -> Shown | Trouble:
    """Work it out here, in the thread that asks."""
    try:
        return work.work_out(task, datetime.now(UTC))
    except FrostguardError as error:
        return Trouble(error.message, error.next_step)


@dataclass
class Terrace:
    """The page with its files, and a clock for wrong links that is set by hand."""

    task: Task
    token: str | None = None
    seconds: float = 0.0
    written: list[str] = field(default_factory=list)
    visitors: list[Visitor] = field(default_factory=list)

    def __post_init__(self) -> None:
        listening = socket.socket()
        listening.bind(("127.0.0.1", 0))
        self.host = f"127.0.0.1:{listening.getsockname()[1]}"
        planner = Planner(self.task, work_out=in_this_process)
        site = Site(planner, now=lambda: datetime.now(UTC), write=self.written.append)
        app = build_app(site, Keys(frozenset({self.host}), self.token), monotonic=lambda: self.seconds)
        self._server = uvicorn.Server(uvicorn.Config(app, log_level="critical", ws="none", lifespan="off"))
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
        visitor = Visitor(httpx.Client(base_url=f"http://{self.host}", transport=transport, timeout=60.0))
        self.visitors.append(visitor)
        return visitor

    def answered(self) -> Visitor:
        """A browser that has waited for the answer."""
        visitor = self.visitor()
        ends = time.monotonic() + 60.0
        while "being worked out" in visitor.get("/").text and time.monotonic() < ends:
            time.sleep(0.05)
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
