"""What every page works with: the files, the logbook, the clock; and answers that several pages give."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any, TypeVar
from xml.etree.ElementTree import Element

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from frostguard.errors import FrostguardError, GardenFileError
from frostguard.garden import writing
from frostguard.garden.model import Garden, Pot
from frostguard.garden.settings import Settings
from frostguard.logbook.book import Logbook, open_logbook
from frostguard.page.errands import Errands
from frostguard.page.frame import Part, answer, trouble_told, under_way
from frostguard.page.planner import Planner, State
from frostguard.page.process import Carrier, Order, in_a_process
from frostguard.page.work import Shown, Trouble
from frostguard.report.html.markup import node
from frostguard.report.words import say

RENEWED_S = 2
"""Seconds between two looks while an answer is being worked out."""

Found = TypeVar("Found")


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
    carry : callable
        Works out an order, usually in a process of its own.
    new_settings : Path
        Where settings are written that no file holds yet.
    errands : Errands
        What is under way.
    """

    planner: Planner
    now: Callable[[], datetime]
    write: Callable[[str], None]
    new_settings: Path
    carry: Carrier[Any] = in_a_process
    errands: Errands = field(default_factory=Errands)

    @property
    def path(self) -> Path:
        """The garden file."""
        return self.planner.task.garden

    def settings(self) -> Settings:
        """As the settings file says now."""
        return self.planner.task.wishes()

    def trial_told(self) -> Element | None:
        """Where a weather file stands for the forecast: that the logbook goes with this page."""
        if self.planner.task.weather is None:
            return None
        told = say("A weather file stands for the forecast, so this is a trial: what you say of jobs and readings is "
                   "forgotten when the page is stopped. Pots and settings are kept.")  # fmt: skip
        return node("p", told, class_="soft")

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

    def begun(
        self, title: str, back: str, order: Order[Found], told: Callable[[Request, Found | Trouble], Response]
    ) -> Response:
        """Set an order going; the answer leads to the page that waits for it."""
        return self.begun_here(title, back, lambda: self.carry(order), told)

    def begun_here(
        self, title: str, back: str, work: Callable[[], Found], told: Callable[[Request, Found | Trouble], Response]
    ) -> Response:
        """Set something going in this process, such as a call to another machine."""
        return to(f"/errand/{self.errands.begin(title, back, work, told)}")


def errand(site: Site, request: Request) -> Response:
    """How something stands that takes longer than a second; once done, what came of it."""
    found = site.errands.look(request.path_params["name"])
    if found is None:
        return problem(404, say("Nothing is known of that any more."), say("Go on from the parts above."))
    if not found.done:
        told = say("This is being worked out, for {seconds} s now; the page renews itself.",
                   seconds=site.errands.seconds(found))  # fmt: skip
        return answer(found.title, [under_way(told)], Part.of(found.back), renew_s=RENEWED_S)
    return found.told(request, found.found)


def to(address: str) -> Response:
    """On to another page."""
    return RedirectResponse(address, status_code=303)


def problem(status: int, message: str, next_step: str, part: Part | None = Part.TONIGHT) -> Response:
    """A page that says what went wrong."""
    return answer(say("That did not work"), [trouble_told(Trouble(message, next_step))], part, status=status)


def troubled(title: str, trouble: Trouble, part: Part) -> Response:
    """A page on which something could not be worked out."""
    return answer(title, [trouble_told(trouble)], part, status=503)


def nothing_there(_request: Request, _error: Exception | None = None) -> Response:
    """No page has that address."""
    return problem(404, say("There is no such page."), say("Go on from the parts above."))


def waiting(title: str, state: State, part: Part) -> Response:
    """While there is no answer yet: what is going on, asked again by the browser itself."""
    if state.trouble is not None and not state.working:
        return troubled(title, state.trouble, part)
    told = say("The night is being worked out for every pot. It takes some seconds; this page renews itself.")
    return answer(title, [under_way(told)], part, renew_s=RENEWED_S)


def pot_asked_for(garden: Garden, request: Request) -> Pot | None:
    """The pot that an address names; None where the garden has none of that name."""
    return next((pot for pot in garden.pots if pot.id == request.path_params["pot"]), None)


def must_be(before: writing.GardenText, version: str) -> None:
    """Refuse a change that was begun on an older text than the file now holds."""
    if before.version != version:
        raise writing.ChangedMeanwhile(
            say("The file was changed meanwhile; nothing was written."),
            next_step=say("Below stands what you wrote. Look whether it still fits, and press again."),
        )


def sentences(error: FrostguardError) -> tuple[str, ...]:
    """What is wrong, a sentence each."""
    if isinstance(error, GardenFileError):
        return tuple(fault.sentence for fault in error.faults)
    return (error.message, error.next_step)
