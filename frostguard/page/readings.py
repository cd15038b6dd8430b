"""Readings of one's own thermometers: each as a picture of its last weeks, and one more written down by hand."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import groupby
from xml.etree.ElementTree import Element
from zoneinfo import ZoneInfo

from starlette.requests import Request
from starlette.responses import Response

from frostguard.asked_time import asked_time
from frostguard.errors import FrostguardError
from frostguard.garden.model import Garden
from frostguard.garden.reader import load_garden
from frostguard.garden.settings import Units
from frostguard.logbook.measured import Reading
from frostguard.page.frame import Part, answer, button, choice, faults_told, field, form, sent, table, tick_box
from frostguard.page.site import Site, to
from frostguard.report import measures
from frostguard.report.html.markup import Child, node
from frostguard.report.html.read import course_picture
from frostguard.report.measures import Clock
from frostguard.report.words import say
from frostguard.tuning.probe import Place, Probe, probe_of

SHOWN = timedelta(days=14)
LATEST = 12
COLDEST_READ_C, WARMEST_READ_C = -45.0, 70.0
"""Beyond these no thermometer of a terrace reads; as `frostguard readings add` has it."""


def readings(site: Site, request: Request) -> Response:
    """All thermometers."""
    return _readings(site, request, {}, ())


def _readings(site: Site, request: Request, values: Mapping[str, str], faults: tuple[str, ...]) -> Response:
    garden, units, now = load_garden(site.path), site.settings().units, site.now()
    with site.book() as opened:
        everything = opened.readings()
    latest = everything[-1].at if everything else now
    lately = [one for one in everything if one.at >= latest - SHOWN]
    clock = Clock(garden.site.time_zone, now)
    body: list[Child] = [
        site.trial_told(),
        node("p", say("A thermometer in the pot is the last word. What it reads can be learnt from.")),
        node("p", node("a", say("What was learnt"), href="/taught", class_="step quiet")),
        node("h2", say("Put a reading down")),
        faults_told(faults),
        _reading_form(request, garden, units, values),
        node("h2", say("What was read")),
        *_courses(lately, garden, clock, units),
    ]
    return answer(say("Readings"), body, Part.READINGS, status=422 if faults else 200)


def put_reading(site: Site, request: Request) -> Response:
    """A reading of a thermometer."""
    garden = load_garden(site.path)
    reading = typed_reading(sent(request), garden, site.settings().units, site.now())
    if isinstance(reading, tuple):
        return _readings(site, request, sent(request), reading)
    with site.book() as opened:
        opened.add_readings([reading])
    return to("/readings")


def _reading_form(request: Request, garden: Garden, units: Units, values: Mapping[str, str]) -> Element:
    pots = [(f"pot:{pot.id}", pot.label) for pot in garden.pots]
    spots = [(f"spot:{spot.name}", say("air {where}", where=spot.label)) for spot in garden.spots]
    return form(
        request,
        "/readings",
        choice("of", say("Thermometer"), [*pots, *spots], values.get("of", "")),
        choice("place", say("Where in the pot"), [(one.value, place_told(one)) for one in Place],
               values.get("place", Place.WALL.value)),
        field("degrees", say("It reads, in {unit}", unit=measures.degree_unit(units)), values.get("degrees", ""),
              must=True),
        field("at", say("At"), values.get("at", ""), hint=say("such as 07:30 for today; empty for now")),
        tick_box("lowest", "yes", say("It is the lowest of the night"), ticked=values.get("lowest") == "yes"),
        button(say("Put it down"), class_="main"),
        class_="fields",
    )  # fmt: skip


def place_told(place: Place) -> str:
    """Where a thermometer lies, in words."""
    match place:
        case Place.WALL:
            return say("outer roots, at the wall")
        case Place.CORE:
            return say("core of the root ball")
        case Place.LEAF:
            return say("at the leaves")
        case Place.AIR:
            return say("air beside it")


def typed_reading(fields: Mapping[str, str], garden: Garden, units: Units, now: datetime) -> Reading | tuple[str, ...]:
    """The reading that was written down, or what is wrong with it."""
    faults = []
    value = _degrees_c(fields.get("degrees", ""), units)
    if value is None:
        faults.append(say("The reading is a number of degrees that a terrace knows."))
    kind, _, name = fields.get("of", "").partition(":")
    pot = name if kind == "pot" and name in {one.id for one in garden.pots} else None
    spot = name if kind == "spot" and name in {one.name for one in garden.spots} else None
    if pot is None and spot is None:
        faults.append(say("Say which pot or spot the thermometer is at."))
    place = Place.AIR if spot is not None else next((p for p in Place if p.value == fields.get("place")), None)
    if place is None:
        faults.append(say("Say where in the pot the thermometer is."))
    at = now
    if fields.get("at"):
        try:
            at = asked_time(fields["at"], ZoneInfo(garden.site.time_zone), now)
        except FrostguardError:
            faults.append(say("When it was read is a time such as 07:30, or a day and a time: 2026-01-14T07:30."))
    if at > now + timedelta(minutes=5):
        faults.append(say("That time has not come yet."))
    if faults or value is None or place is None:
        return tuple(faults)
    probe = str(Probe(place, fields.get("lowest") == "yes"))
    return Reading(f"{pot or spot} {probe}", at, value, probe, pot=pot, spot=spot, source="by hand")


def _degrees_c(written: str, units: Units) -> float | None:
    try:
        value = float(written.replace(",", ".").replace("−", "-"))
    except ValueError:
        return None
    value_c = (value - 32.0) / 1.8 if units is Units.IMPERIAL else value
    return value_c if COLDEST_READ_C <= value_c <= WARMEST_READ_C else None


def _courses(read: Sequence[Reading], garden: Garden, clock: Clock, units: Units) -> Iterable[Child]:
    """Each thermometer: its course, and its latest readings."""
    if not read:
        yield node("p", say("Nothing yet."))
        return
    labels = {pot.id: pot.label for pot in garden.pots} | {spot.name: spot.label for spot in garden.spots}
    for series, group in groupby(sorted(read, key=lambda one: (one.series, one.at)), key=lambda one: one.series):
        own = list(group)
        name = labels.get(own[0].pot or own[0].spot or "", series)
        coldest = min(own, key=lambda one: one.temperature_c)
        value = f"{measures.measured_number(coldest.temperature_c, units)} {measures.degree_unit(units)}"
        told = say("Coldest: {value} on {when}.", value=value, when=_when(coldest.at, clock))
        title = say("{thermometer} over its last two weeks", thermometer=f"{name}, {_lies(own[0].place)}")
        rows = [(_when(one.at, clock), measures.measured_number(one.temperature_c, units)) for one in own[-LATEST:]]
        heads = (say("When"), say("Read, {unit}", unit=measures.degree_unit(units)))
        yield node(
            "section",
            node("h3", f"{name}, {_lies(own[0].place)}"),
            node("figure", course_picture([(clock.local(one.at), one.temperature_c) for one in own], units, title),
                 node("figcaption", told)),
            node("details", node("summary", say("The latest in figures")), table(heads, rows[::-1])),
            class_="card",
        )  # fmt: skip


def _lies(place: str) -> str:
    try:
        probe = probe_of(place)
    except ValueError:
        return place
    where = place_told(probe.place)
    return say("{where}, lowest of nights", where=where) if probe.lowest else where


def _when(at: datetime, clock: Clock) -> str:
    return f"{measures.day_and_date(clock.local(at).date())} {clock.local(at):%H:%M}"
