"""The first visit: place, spots, first pot, step by step. What was said so far travels in the form; nothing is kept."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from xml.etree.ElementTree import Element

from starlette.requests import Request
from starlette.responses import Response

from frostguard.errors import FrostguardError
from frostguard.garden import drafts, writing
from frostguard.garden.catalogue import load_walls
from frostguard.garden.model import Beneath
from frostguard.garden.read_places import SITE_KEYS, SPOT_KEYS
from frostguard.garden.read_pots import POT_KEYS
from frostguard.garden.settings import Settings, Units
from frostguard.page.frame import (
    answer,
    button,
    choice,
    faults_told,
    field,
    fields,
    form,
    hidden,
    sent,
    without_blanks,
)
from frostguard.page.site import Site, nothing_there, sentences, to
from frostguard.page.work import Trouble
from frostguard.report import amounts
from frostguard.report.html.markup import Child, node
from frostguard.report.words import say
from frostguard.weather.client import open_weather_client
from frostguard.weather.lookup import find_places

LONGEST_NOTE = 20_000

STEPS = 3
"""Place, spots, first pot."""


@dataclass(frozen=True, slots=True)
class SoFar:
    """What was said so far."""

    site: dict[str, str]
    spots: list[dict[str, str]]

    def note(self) -> str:
        """As a form carries it."""
        return json.dumps([self.site, self.spots])


def so_far(note: str) -> SoFar:
    """What a form carried; nothing where it is none of ours. What is in it is judged by the strict reader."""
    try:
        site, spots = json.loads(note[:LONGEST_NOTE])
        named = [words for spot in spots[:50] if "name" in (words := _words(spot, SPOT_KEYS))]
        return SoFar(_words(site, SITE_KEYS), named)
    except (ValueError, TypeError, AttributeError, RecursionError):
        return SoFar({}, [])


def _words(given: Any, keys: tuple[str, ...]) -> dict[str, str]:
    return {str(key): str(value)[:200] for key, value in given.items() if key in keys}


def first_step(site: Site, request: Request) -> Response:
    """The first step of the set-up."""
    if site.path.exists():
        return to("/")
    return answer(say("Your terrace"), place_step(request, {}, site.settings().units), None)


def put_step(site: Site, request: Request) -> Response:
    """A step of the set-up, answered."""
    given = sent(request)
    units = site.settings().units
    known = so_far(next((value for name, value in fields(request) if name == "note"), ""))
    match request.path_params["step"]:
        case "find":
            return _find(site, given.get("place", ""))
        case "place":
            place = typed_site(given, units)
            if faults := faults_of_site(place):
                return answer(say("Your terrace"), place_step(request, given, units, faults), None, status=422)
            return _spots(request, SoFar(place, []), {}, units)
        case "spot":
            spot = typed_spot(given, units)
            if faults := drafts.faults_of_spot(known.spots, spot) if "name" in spot else (say("Name the spot."),):
                return _spots(request, known, given, units, faults)
            more = SoFar(known.site, [*known.spots, spot])
            if given.get("next") != "pot":
                return _spots(request, more, {}, units)
            return answer(say("The first pot"), pot_step(request, more, {}, units), None)
        case "pot":
            pot = typed_pot(given, units)
            try:
                writing.write(site.path, new_text(known, pot), version=writing.NOTHING)
            except FrostguardError as error:
                step = pot_step(request, known, given, units, sentences(error))
                return answer(say("The first pot"), step, None, status=422)
            return to("/")
        case _:
            return nothing_there(request)


def _find(site: Site, town: str) -> Response:
    """Look a place up, which may take as long as the network."""
    title, units = say("Your terrace"), site.settings().units

    def told(request: Request, found: tuple[dict[str, str], tuple[str, ...]] | Trouble) -> Response:
        if isinstance(found, Trouble):
            found = {"place": town}, (found.message, say("Write its numbers below; any map shows them."))
        values, faults = found
        return answer(title, place_step(request, amounts.to_write(values, units), units, faults), None)

    return site.begun_here(title, "/begin", lambda: found_place(town), told)


def _spots(
    request: Request, known: SoFar, values: dict[str, str], units: Units, faults: tuple[str, ...] = ()
) -> Response:
    body = spots_step(request, known, values, units, faults)
    return answer(say("Your spots"), body, None, status=422 if faults else 200)


def place_step(
    request: Request, values: Mapping[str, str], units: Units, faults: tuple[str, ...] = ()
) -> list[Child]:
    """Where it is."""
    high = amounts.to_write({"height_above_ground_m": "10"}, units)["height_above_ground_m"]
    surroundings = [(word, word) for word in ("open country", "suburb", "city")]
    return [
        _step(1),
        node("p", say("Frost depends on the place, so that comes first; then where pots stand, then the first pot. "
                      "Nothing is written before the end.")),
        faults_told(faults),
        form(
            request,
            "/begin/find",
            field("place", say("The nearest town"), values.get("place", "")),
            button(say("Look it up")),
            class_="fields",
        ),
        form(
            request,
            "/begin/place",
            field("name", say("What you call the place"), values.get("name", say("Terrace"))),
            field("latitude", say("Latitude"), values.get("latitude", ""), hint=say("degrees, north positive"),
                  kind="decimal", must=True),
            field("longitude", say("Longitude"), values.get("longitude", ""),
                  hint=say("degrees, east positive, west with a minus"), must=True),
            field("elevation_m",
                  amounts.label(units, say("Street above the sea, in metres"), say("Street above the sea, in feet")),
                  values.get("elevation_m", ""),
                  kind="decimal", must=True),
            field("time_zone", say("Time zone"), values.get("time_zone", ""), hint=say("such as Europe/Ljubljana"),
                  must=True),
            field("height_above_ground_m",
                  amounts.label(units, say("Terrace above the street, in metres"),
                                say("Terrace above the street, in feet")),
                  values.get("height_above_ground_m", high), kind="decimal"),
            choice("surroundings", say("Around it"), surroundings, values.get("surroundings", "city")),
            button(say("Go on to the spots"), class_="main"),
            class_="fields",
        ),
    ]  # fmt: skip


def found_place(town: str) -> tuple[dict[str, str], tuple[str, ...]]:
    """The likeliest place of that name, or why there is none."""
    if len(town) < 2:
        return {}, (say("A place's name has at least two letters."),)
    try:
        with open_weather_client(Settings()) as client:
            found = find_places(client, town)
    except FrostguardError as error:
        return {"place": town}, (error.message, say("Write its numbers below; any map shows them."))
    if not found:
        return {"place": town}, (say("No place of this name is known; write its numbers below."),)
    one = found[0]
    values = {"place": town, "latitude": f"{one.latitude_deg:.4f}", "longitude": f"{one.longitude_deg:.4f}"}
    values |= {"name": one.name, "time_zone": one.time_zone or ""}
    return values | ({} if one.elevation_m is None else {"elevation_m": f"{one.elevation_m:.0f}"}), ()


def spot_fields(values: Mapping[str, str], units: Units) -> list[Child]:
    """A spot as fields; what does not go with a room is left out when one is chosen."""
    rooms = [
        ("", say("outdoors")),
        ("unheated", say("an unheated room")),
        ("frost-free", say("a frost-free room")),
        ("cold frame", say("a cold frame")),
        ("glazed balcony", say("a glazed balcony")),
    ]
    beneath = [one.value for one in Beneath]
    return [
        field("name", say("Name of the spot"), values.get("name", ""), hint=say("such as railing or house wall"),
              must=True),
        choice("room", say("It is"), rooms, values.get("room", "")),
        choice("wind", say("Wind there"), _plain("exposed", "partly", "sheltered"), values.get("wind", "exposed"),
               hint=say("outdoors")),
        choice("sky", say("Sky above"), _plain("open", "under eaves", "roofed"), values.get("sky", "open"),
               hint=say("outdoors")),
        choice("beneath", say("Beneath it"), _plain(*beneath), values.get("beneath", "decking")),
        choice("house_wall", say("A house wall right behind"), _plain("no", "yes"), values.get("house_wall", "no"),
               hint=say("outdoors")),
        field("free_floor_m2",
              amounts.label(units, say("Free floor for pots carried there, in square metres"),
                            say("Free floor for pots carried there, in square feet")),
              values.get("free_floor_m2", ""), hint=say("without it no pot is sent there"), kind="decimal"),
    ]  # fmt: skip


def typed_spot(given: Mapping[str, str], units: Units) -> dict[str, str]:
    """What was said of a spot."""
    spot = without_blanks({key: given[key] for key in SPOT_KEYS if key in given})
    if "room" in spot:
        for key in ("wind", "sky", "house_wall", "beneath"):
            spot.pop(key, None)
    if "free_floor_m2" in spot:
        spot["free_floor_m2"] = spot["free_floor_m2"].replace(",", ".")
    return amounts.to_keep(spot, units)


def spots_step(
    request: Request, known: SoFar, values: Mapping[str, str], units: Units, faults: tuple[str, ...] = ()
) -> list[Child]:
    """The spots, one at a time."""
    names = [spot.get("name", "") for spot in known.spots]
    return [
        _step(2),
        node("p", say("A spot is a part of the terrace, or a room to carry pots into.")),
        node("p", say("So far: {spots}.", spots=", ".join(names))) if names else None,
        faults_told(faults),
        form(
            request,
            "/begin/spot",
            hidden("note", known.note()),
            *spot_fields(values, units),
            button(say("Take it, and one more"), "next", "spot"),
            button(say("Take it, and go on to the first pot"), "next", "pot", class_="main"),
            class_="fields",
        ),
    ]


def pot_step(
    request: Request, known: SoFar, values: Mapping[str, str], units: Units, faults: tuple[str, ...] = ()
) -> list[Child]:
    """The first pot, and the end."""
    walls = [(key, wall.label) for key, wall in load_walls().items()]
    spots = [(spot.get("name", ""), spot.get("name", "")) for spot in known.spots]
    return [
        _step(3),
        faults_told(faults),
        form(
            request,
            "/begin/pot",
            hidden("note", known.note()),
            field("plant", say("Plant"), values.get("plant", ""), hint=say("English, French or botanical name"),
                  must=True),
            field("rating", say("Hardiness rating"), values.get("rating", ""),
                  hint=say("such as 7b or H4; only for a plant that no table knows")),
            choice("material", say("Pot made of"), walls, values.get("material", "terracotta")),
            field("volume_l", amounts.label(units, say("Litres"), say("Gallons (US)")), values.get("volume_l", ""),
                  kind="decimal", must=True),
            choice("spot", say("Stands"), spots, values.get("spot", spots[0][0] if spots else "")),
            button(say("Write the garden file"), class_="main"),
            class_="fields",
        ),
    ]  # fmt: skip


def typed_site(given: Mapping[str, str], units: Units) -> dict[str, str]:
    """What was said of the place."""
    site = without_blanks({key: given[key] for key in SITE_KEYS if key in given})
    for key in ("latitude", "longitude", "elevation_m", "height_above_ground_m"):
        if key in site:
            site[key] = site[key].replace(",", ".")
    return amounts.to_keep(site, units)


def typed_pot(given: Mapping[str, str], units: Units) -> dict[str, str]:
    """What was said of the first pot."""
    pot = without_blanks({key: given[key] for key in POT_KEYS if key in given})
    if "volume_l" in pot:
        pot["volume_l"] = pot["volume_l"].replace(",", ".")
    return amounts.to_keep(pot, units)


def faults_of_site(site: Mapping[str, str]) -> tuple[str, ...]:
    """What is wrong with a place; nothing may be missing."""
    missing = [key for key in ("latitude", "longitude", "elevation_m", "time_zone") if key not in site]
    if missing:
        return (say("Still to be written: {fields}.", fields=", ".join(missing)),)
    return drafts.faults_of_site(site)


def new_text(known: SoFar, pot: Mapping[str, str]) -> str:
    """The whole garden file."""
    return writing.new_garden(known.site, known.spots, [pot])


def _step(number: int) -> Element:
    return node("p", say("Step {number} of {all}", number=str(number), all=str(STEPS)), class_="when")


def _plain(*words: str) -> list[tuple[str, str]]:
    return [(word, word) for word in words]
