"""The pages by their addresses: read this first. What a page shows stands in the module of its name."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from importlib.resources import files
from pathlib import Path
from zoneinfo import ZoneInfo

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from frostguard.errors import FrostguardError, GardenFileError
from frostguard.garden import drafts, writing
from frostguard.garden.model import Garden, Pot
from frostguard.garden.reader import load_garden, load_settings
from frostguard.garden.settings import Settings
from frostguard.garden.yaml_edit import added, has_key, written
from frostguard.logbook.book import Logbook, open_logbook
from frostguard.logbook.jobs import Word, in_force, listed, numbered, sign_off
from frostguard.page import begin, book, pot_form, pots, tonight, wishes
from frostguard.page.frame import Part, answer, button, faults_told, fields, form, hidden, sent, trouble_told
from frostguard.page.guard import Guard, Keys
from frostguard.page.planner import Planner, State
from frostguard.page.work import Shown, Trouble
from frostguard.report.html.markup import Child, node
from frostguard.report.html.page import style_sheet
from frostguard.report.words import say

RENEWED_S = 2
"""Seconds between two looks while an answer is being worked out."""

KEPT_AT_MOST = timedelta(hours=24)
"""A tick that waited longer on a device without a connection counts from now."""


@dataclass(frozen=True, slots=True)
class Site:
    """What the pages work with.

    Parameters
    ----------
    planner : Planner
        Keeps the answer, and knows the files.
    now : callable
        The clock, aware.
    write : callable
        The terminal that the page was started in; the channel of that name writes there.
    """

    planner: Planner
    now: Callable[[], datetime]
    write: Callable[[str], None]

    @property
    def path(self) -> Path:
        """The garden file."""
        return self.planner.task.garden

    def settings(self) -> Settings:
        """As the settings file says now."""
        file = self.planner.task.settings
        return Settings() if file is None else load_settings(file)

    @contextmanager
    def book(self) -> Iterator[Logbook]:
        """The logbook, which must be one that keeps what is said."""
        with open_logbook(self.planner.task.logbook) as opened:
            if not opened.on_disk and opened.trouble is not None:
                raise opened.trouble
            yield opened
            if not opened.on_disk and opened.trouble is not None:  # the disk is full: nothing was kept
                raise opened.trouble

    def moment(self, shown: Shown | None) -> datetime:
        """Now; where a weather file stands for the forecast, the time that it is asked at."""
        return self.now() if shown is None or self.planner.task.weather is None else shown.plan.asked_at


def build_app(site: Site, keys: Keys, *, monotonic: Callable[[], float] = time.monotonic) -> Starlette:
    """The application, with the guard before it."""
    pages = Pages(site)
    routes = [
        Route("/", pages.tonight),
        Route("/say", pages.say, methods=["POST"]),
        Route("/nights", pages.nights),
        Route("/pots", pages.pots),
        Route("/pot/{pot}", pages.pot),
        Route("/pot/{pot}/change", pages.change),
        Route("/pot/{pot}/change", pages.put_change, methods=["POST"]),
        Route("/new-pot", pages.new_pot),
        Route("/new-pot", pages.put_new_pot, methods=["POST"]),
        Route("/new-spot", pages.new_spot),
        Route("/new-spot", pages.put_new_spot, methods=["POST"]),
        Route("/book", pages.book),
        Route("/readings", pages.put_reading, methods=["POST"]),
        Route("/settings", pages.settings),
        Route("/settings/test", pages.test_channels, methods=["POST"]),
        Route("/begin", pages.begin),
        Route("/begin/{step}", pages.put_begin, methods=["POST"]),
        Route("/style.css", _style),
        Route("/ticks.js", _script),
    ]
    return Starlette(
        routes=routes,
        middleware=[Middleware(Guard, keys=keys, now=monotonic)],
        exception_handlers={FrostguardError: _told, 404: _nothing_there, 500: _our_fault},
    )


class Pages:
    """One method for each address."""

    def __init__(self, site: Site) -> None:
        self._site = site

    # --- the evening -----------------------------------------------------------------------------------------

    def tonight(self, request: Request) -> Response:
        """What to do tonight."""
        if not self._site.path.exists():
            return _to("/begin")
        load_garden(self._site.path)  # a faulty file is told at once
        state = self._site.planner.look()
        if state.shown is None:
            return _waiting(say("Tonight"), state, Part.TONIGHT)
        shown, now = state.shown, self._site.moment(state.shown)
        with self._site.book() as opened:
            today = now.astimezone(ZoneInfo(shown.plan.time_zone)).date()
            known = listed(opened, min(today, shown.plan.night))
            placed = [one for one in in_force(opened) if not one.is_off_by_itself(now)]
        return answer(
            say("Tonight"), tonight.tonight_body(request, state, shown, known, placed), Part.TONIGHT
        )

    def say(self, request: Request) -> Response:
        """What a person says of jobs."""
        given = fields(request)
        numbers = [value for name, value in given if name == "job"]
        word = next((one for one in Word if ("word", one.value) in given), None)
        with self._site.book() as opened:
            jobs = [
                job
                for number in dict.fromkeys(numbers)
                if number.isascii() and number.isdigit() and (job := numbered(opened, int(number[:18]))) is not None
            ]
            if word is None or not jobs or len(jobs) < len(set(numbers)):
                return _problem(400, say("No job is known by that number."), say("Load the page anew."))
            state = self._site.planner.look()
            sign_off(opened, jobs, word, "", self._said_at(sent(request).get("at", ""), state))
        self._site.planner.look()  # sets the next answer going
        return _to("/#said")

    def _said_at(self, written: str, state: State) -> datetime:
        """When it was said: now, or while the device had no connection."""
        now = self._site.moment(state.shown)
        if self._site.planner.task.weather is not None or not written:
            return now
        try:
            at = datetime.fromisoformat(written).astimezone(UTC)
        except (ValueError, OverflowError):
            return now
        return at if now - KEPT_AT_MOST <= at <= now else now

    def nights(self, _request: Request) -> Response:
        """The week."""
        state = self._site.planner.look()
        if state.shown is None:
            return _waiting(say("Nights ahead"), state, Part.NIGHTS)
        body = [trouble_told(state.shown.unseen), *pots.nights_body(state.shown)]
        return answer(say("Nights ahead"), body, Part.NIGHTS)

    # --- pots --------------------------------------------------------------------------------------------------

    def pots(self, _request: Request) -> Response:
        """All pots."""
        garden = load_garden(self._site.path)
        return answer(say("Pots"), pots.pots_body(garden, self._site.planner.look().shown), Part.POTS)

    def pot(self, request: Request) -> Response:
        """One pot."""
        garden = load_garden(self._site.path)
        pot = _called(garden, request)
        if pot is None:
            return _nothing_there(request, None)
        state = self._site.planner.look()
        body: list[Child] = [tonight.on_its_way(state), *pots.pot_body(pot, state.shown)]
        return answer(pot.label, body, Part.POTS, renew_s=RENEWED_S if state.shown is None and state.working else None)

    def change(self, request: Request) -> Response:
        """The form to change a pot."""
        return self._change(request, None, ())

    def _change(self, request: Request, typed: dict[str, str] | None, faults: Sequence[str]) -> Response:
        before = writing.read(self._site.path)
        garden = before.garden
        pot = _called(garden, request)
        if pot is None:
            return _nothing_there(request, None)
        row = garden.pots.index(pot)
        shown = pot_form.shown_of(written(before.text, "pots", row))
        body = pot_form.pot_form(
            request,
            f"/pot/{pot.id}/change",
            garden,
            shown if typed is None else typed,
            before.version,
            faults,
            plant_is_fixed=has_key(before.text, "pots", row, "plants"),
        )
        return answer(say("Change {pot}", pot=pot.label), body, Part.POTS, status=422 if faults else 200)

    def put_change(self, request: Request) -> Response:
        """A pot as it was changed."""
        typed = pot_form.typed(sent(request))
        try:
            before = writing.read(self._site.path)
            pot = _called(before.garden, request)
            if pot is None:
                return _nothing_there(request, None)
            row = before.garden.pots.index(pot)
            _must_be(before, sent(request).get("version", ""))
            changes = pot_form.differences(pot_form.shown_of(written(before.text, "pots", row)), typed)
            text = writing.with_pot_changed(before, row, changes)
            after = writing.write(before.path, text, version=before.version)
        except FrostguardError as error:
            return self._change(request, typed, _sentences(error))
        return _to(f"/pot/{after.pots[row].id}")

    def new_pot(self, request: Request) -> Response:
        """The form for one more pot."""
        return self._new_pot(request, {}, ())

    def _new_pot(self, request: Request, values: dict[str, str], faults: Sequence[str]) -> Response:
        before = writing.read(self._site.path)
        body = pot_form.pot_form(request, "/new-pot", before.garden, values, before.version, faults)
        return answer(say("A new pot"), body, Part.POTS, status=422 if faults else 200)

    def put_new_pot(self, request: Request) -> Response:
        """One more pot."""
        typed = pot_form.typed(sent(request))
        try:
            before = writing.read(self._site.path)
            _must_be(before, sent(request).get("version", ""))
            text, _ = writing.with_pots(before, [{name: value for name, value in typed.items() if value}])
            after = writing.write(before.path, text, version=before.version)
        except FrostguardError as error:
            return self._new_pot(request, typed, _sentences(error))
        return _to(f"/pot/{after.pots[-1].id}")

    def new_spot(self, request: Request) -> Response:
        """The form for one more spot."""
        return self._new_spot(request, {}, ())

    def _new_spot(self, request: Request, values: dict[str, str], faults: Sequence[str]) -> Response:
        version = writing.read(self._site.path).version
        body = [
            faults_told(faults),
            form(
                request,
                "/new-spot",
                hidden("version", version),
                *begin.spot_fields(values),
                button(say("Write it into the garden file"), class_="main"),
                class_="fields",
            ),
        ]
        return answer(say("A new spot"), body, Part.POTS, status=422 if faults else 200)

    def put_new_spot(self, request: Request) -> Response:
        """One more spot."""
        spot = begin.typed_spot(sent(request))
        try:
            before = writing.read(self._site.path)
            _must_be(before, sent(request).get("version", ""))
            _ = before.garden
            text, _ = added(before.text, "spots", [spot or {"label": ""}])
            writing.write(before.path, text, version=before.version)
        except FrostguardError as error:
            return self._new_spot(request, sent(request), _sentences(error))
        return _to("/pots")

    # --- what was, and what is wished ---------------------------------------------------------------------------

    def book(self, request: Request) -> Response:
        """The logbook."""
        return self._book(request, {}, ())

    def _book(self, request: Request, values: dict[str, str], faults: tuple[str, ...]) -> Response:
        garden = load_garden(self._site.path)
        with self._site.book() as opened:
            body = book.book_body(
                request, opened, garden, self._site.settings().units, self._site.now(), values, faults
            )
        return answer(say("What was"), body, Part.BOOK, status=422 if faults else 200)

    def put_reading(self, request: Request) -> Response:
        """A reading of a thermometer."""
        reading = book.typed_reading(sent(request), load_garden(self._site.path), self._site.now())
        if isinstance(reading, tuple):
            return self._book(request, sent(request), reading)
        with self._site.book() as opened:
            opened.add_readings([reading])
        return _to("/book")

    def settings(self, request: Request) -> Response:
        """The settings."""
        task = self._site.planner.task
        body = wishes.settings_body(request, self._site.settings(), task.settings, task.garden, None)
        return answer(say("Settings"), body, Part.SETTINGS)

    def test_channels(self, request: Request) -> Response:
        """A test through every channel."""
        task, settings = self._site.planner.task, self._site.settings()
        tried = wishes.try_channels(settings, self._site.now(), self._site.write)
        body = wishes.settings_body(request, settings, task.settings, task.garden, tried)
        return answer(say("Settings"), body, Part.SETTINGS)

    # --- the first visit ----------------------------------------------------------------------------------------

    def begin(self, request: Request) -> Response:
        """The first step of the set-up."""
        if self._site.path.exists():
            return _to("/")
        return answer(say("Your terrace"), begin.place_step(request, {}), None)

    def put_begin(self, request: Request) -> Response:
        """A step of the set-up, answered."""
        given = sent(request)
        known = begin.so_far(next((value for name, value in fields(request) if name == "note"), ""))
        match request.path_params["step"]:
            case "find":
                values, faults = begin.found_place(given.get("place", ""))
                return answer(say("Your terrace"), begin.place_step(request, values, faults), None)
            case "place":
                place = begin.typed_site(given)
                if faults := begin.faults_of_site(place):
                    return answer(say("Your terrace"), begin.place_step(request, place, faults), None, status=422)
                return _spots(request, begin.SoFar(place, []), {})
            case "spot":
                spot = begin.typed_spot(given)
                if faults := drafts.faults_of_spot(known.spots, spot) if "name" in spot else (say("Name the spot."),):
                    return _spots(request, known, given, faults)
                more = begin.SoFar(known.site, [*known.spots, spot])
                if given.get("next") != "pot":
                    return _spots(request, more, {})
                return answer(say("The first pot"), begin.pot_step(request, more, {}), None)
            case "pot":
                pot = begin.typed_pot(given)
                try:
                    writing.write(self._site.path, begin.new_text(known, pot), version=writing.NOTHING)
                except FrostguardError as error:
                    body = begin.pot_step(request, known, given, _sentences(error))
                    return answer(say("The first pot"), body, None, status=422)
                return _to("/")
            case _:
                return _nothing_there(request, None)


def _spots(
    request: Request, known: begin.SoFar, values: dict[str, str], faults: tuple[str, ...] = ()
) -> Response:
    body = begin.spots_step(request, known, values, faults)
    return answer(say("Your spots"), body, None, status=422 if faults else 200)


def _called(garden: Garden, request: Request) -> Pot | None:
    return next((pot for pot in garden.pots if pot.id == request.path_params["pot"]), None)


def _must_be(before: writing.GardenText, version: str) -> None:
    """Refuse a change that was begun on an older text than the file now holds."""
    if before.version != version:
        raise writing.ChangedMeanwhile(
            say("The garden file was changed meanwhile; nothing was written."),
            next_step=say("Below stands what you wrote. Look whether it still fits, and press again."),
        )


def _sentences(error: FrostguardError) -> tuple[str, ...]:
    if isinstance(error, GardenFileError):
        return tuple(fault.sentence for fault in error.faults)
    return (error.message, error.next_step)


def _waiting(title: str, state: State, part: Part) -> Response:
    """While there is no answer yet: what is going on, asked again by the browser itself."""
    if state.trouble is not None and not state.working:
        return answer(title, [trouble_told(state.trouble)], part, status=503)
    told = node("p", say("The night is being worked out for every pot. It takes some seconds; this page renews "
                         "itself."), class_="way", role="status")  # fmt: skip
    return answer(title, [told], part, renew_s=RENEWED_S)


def _to(address: str) -> Response:
    return RedirectResponse(address, status_code=303)


def _problem(status: int, message: str, next_step: str) -> Response:
    return answer(say("That did not work"), [trouble_told(Trouble(message, next_step))], Part.TONIGHT, status=status)


def _told(_request: Request, error: Exception) -> Response:
    assert isinstance(error, FrostguardError)
    return _problem(500, error.message, error.next_step)


def _nothing_there(_request: Request, _error: Exception | None) -> Response:
    return _problem(404, say("There is no such page."), say("Go on from the parts above."))


def _our_fault(_request: Request, error: Exception) -> Response:
    return _problem(
        500,
        say("Something went wrong inside: {reason}.", reason=type(error).__name__),
        say("Ask 'frostguard tonight' in the terminal; it does not need this page."),
    )


def _style(_request: Request) -> Response:
    own = files("frostguard.page").joinpath("page.css").read_text(encoding="utf-8")
    return Response(style_sheet() + own, media_type="text/css")


def _script(_request: Request) -> Response:
    text = files("frostguard.page").joinpath("ticks.js").read_text(encoding="utf-8")
    return Response(text, media_type="text/javascript")
