"""What was: nights, messages, losses, readings; and a reading of a thermometer written down."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from starlette.requests import Request

from frostguard.errors import FrostguardError
from frostguard.garden.model import Garden
from frostguard.garden.settings import Units
from frostguard.logbook.book import Logbook
from frostguard.logbook.measured import Reading
from frostguard.page.frame import button, choice, faults_told, field, form, table
from frostguard.report import measures
from frostguard.report.html.markup import Child, node
from frostguard.report.logbook import render_logbook
from frostguard.report.measures import Clock
from frostguard.report.words import say

LATEST = 24
COLDEST_READ_C, WARMEST_READ_C = -60.0, 60.0
PLACES = ("outer", "core", "leaf", "air")


def book_body(
    request: Request,
    book: Logbook,
    garden: Garden,
    units: Units,
    now: datetime,
    values: Mapping[str, str],
    faults: tuple[str, ...] = (),
) -> list[Child]:
    """The page."""
    clock = Clock(garden.site.time_zone, now)
    latest = book.readings(since=now - timedelta(days=14))[-LATEST:][::-1]
    labels = {pot.id: pot.label for pot in garden.pots}
    rows = [
        (
            f"{measures.day_and_date(clock.local(one.at).date())} {clock.local(one.at):%H:%M}",
            labels.get(one.pot or "", one.spot or one.series),
            _where(one.place),
            measures.measured_number(one.temperature_c, units),
        )
        for one in latest
    ]
    pots = [(pot.id, pot.label) for pot in garden.pots]
    return [
        node("h2", say("Your thermometer")),
        faults_told(faults),
        form(
            request,
            "/readings",
            choice("pot", say("Pot"), pots, values.get("pot", "")),
            choice("place", say("Where in it"), [(one, _where(one)) for one in PLACES], values.get("place", "outer")),
            field("temperature_c", say("Reading, in degrees Celsius"), values.get("temperature_c", ""), must=True),
            field("at", say("At"), values.get("at", ""), hint=say("such as 07:30 for today; empty for now")),
            button(say("Put it down"), class_="main"),
            class_="fields",
        ),
        table((say("When"), say("Pot"), say("Where"), say("Read")), rows) if rows else None,
        node("h2", say("The last two weeks")),
        node("pre", render_logbook(book, 14, now)),
    ]


def _where(place: str) -> str:
    match place:
        case "outer":
            return say("outer roots, at the wall")
        case "core":
            return say("core of the root ball")
        case "leaf":
            return say("at the leaves")
        case "air":
            return say("air beside the pot")
        case _:
            return place


def typed_reading(fields: Mapping[str, str], garden: Garden, now: datetime) -> Reading | tuple[str, ...]:
    """The reading that was written down, or what is wrong with it."""
    from frostguard.asked_time import asked_time

    faults = []
    try:
        value = float(fields.get("temperature_c", "").replace(",", ".").replace("−", "-"))
    except ValueError:
        value = float("nan")
    if not COLDEST_READ_C <= value <= WARMEST_READ_C:
        faults.append(say("The reading is a number of degrees from -60 to 60."))
    pot, place = fields.get("pot", ""), fields.get("place", "")
    if pot not in {one.id for one in garden.pots}:
        faults.append(say("No pot of the garden file is called that."))
    if place not in PLACES:
        faults.append(say("Say where in the pot the thermometer is."))
    at = now
    if fields.get("at"):
        try:
            at = asked_time(fields["at"], ZoneInfo(garden.site.time_zone), now)
        except FrostguardError as error:
            faults.append(error.message)
    if at > now + timedelta(minutes=5):
        faults.append(say("That time has not come yet."))
    if faults:
        return tuple(faults)
    return Reading(f"page {pot} {place}", at, value, place, pot=pot, source="page")
