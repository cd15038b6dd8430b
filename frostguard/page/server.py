"""The pages by their addresses: read this first. What stands at an address is in the module of its name."""

from __future__ import annotations

import time
from base64 import b64encode
from collections.abc import Callable
from functools import cache, partial
from hashlib import sha256
from importlib.resources import files

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from frostguard.errors import FrostguardError
from frostguard.page import begin, editing, logbook, pots, readings, site, taught, tonight, trial, wishes
from frostguard.page.frame import Part
from frostguard.page.guard import Guard, Keys, with_styles
from frostguard.page.site import Site, nothing_there, problem
from frostguard.report.html.page import style_sheet
from frostguard.report.words import say

Page = Callable[[Site, Request], Response]


def build_app(here: Site, keys: Keys, *, monotonic: Callable[[], float] = time.monotonic) -> Guard:
    """The application, with the guard before it: outermost, so that even a fault of ours leaves by its rules."""

    def at(address: str, shown: Page, changed: Page | None = None) -> list[Route]:
        """A page, and what its form leads to."""
        routes = [Route(address, partial(shown, here))]
        return routes if changed is None else [*routes, put(address, changed)]

    def put(address: str, changed: Page) -> Route:
        return Route(address, partial(changed, here), methods=["POST"])

    routes = [
        *at("/", tonight.page),
        put("/say", tonight.put_said),
        *at("/report", report),
        *at("/nights", pots.nights),
        *at("/pots", pots.all_pots),
        *at("/pot/{pot}", pots.one_pot),
        put("/pot/{pot}/what-if", trial.try_out),
        *at("/pot/{pot}/change", editing.change, editing.put_change),
        *at("/pot/{pot}/remove", editing.remove, editing.put_remove),
        *at("/new-pot", editing.new_pot, editing.put_new_pot),
        *at("/new-spot", editing.new_spot, editing.put_new_spot),
        *at("/readings", readings.readings, readings.put_reading),
        *at("/taught", taught.taught),
        put("/taught/learn", taught.learn_now),
        put("/taught/undo", taught.undo),
        *at("/book", logbook.logbook),
        *at("/settings", wishes.settings, wishes.put_settings),
        put("/settings/test", wishes.send_test),
        *at("/errand/{name}", site.errand),
        *at("/begin", begin.first_step),
        put("/begin/{step}", begin.put_step),
        Route("/style.css", _style),
        Route("/ticks.js", _script),
    ]
    app = Starlette(
        routes=routes, exception_handlers={FrostguardError: _told, 404: nothing_there, 500: _our_fault}
    )
    return Guard(app, keys, monotonic)


def report(here: Site, _request: Request) -> Response:
    """The whole report, as `frostguard report` makes it: on paper a job sheet for each spot."""
    state = here.planner.look()
    if state.shown is None or state.working or state.trouble is not None:  # no sheets of an older answer
        return site.waiting(say("The report"), state, Part.TONIGHT)
    digest = b64encode(sha256(style_sheet().encode()).digest()).decode()
    return HTMLResponse(state.shown.report, headers=with_styles(f"'sha256-{digest}'"))


def _told(_request: Request, error: Exception) -> Response:
    assert isinstance(error, FrostguardError)
    return problem(503, error.message, error.next_step)


def _our_fault(_request: Request, error: Exception) -> Response:
    return problem(
        500,
        say("Something went wrong inside: {reason}.", reason=type(error).__name__),
        say("Ask 'frostguard tonight' in the terminal; it does not need this page."),
    )


@cache
def _own(name: str) -> str:
    return files("frostguard.page").joinpath(name).read_text(encoding="utf-8")


def _style(_request: Request) -> Response:
    return Response(style_sheet() + _own("page.css"), media_type="text/css")


def _script(_request: Request) -> Response:
    return Response(_own("ticks.js"), media_type="text/javascript")
