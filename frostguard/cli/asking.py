"""Questions in the terminal, one at a time; an answer that cannot stand is told why, and asked again."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

import typer

from frostguard.cli.output import print_out
from frostguard.garden import drafts
from frostguard.garden.settings import Units
from frostguard.garden.yaml_edit import Entry, Value
from frostguard.report import amounts
from frostguard.report.words import harmless, say

Faults = Callable[[Entry], tuple[str, ...]]

NUMBERS = ("latitude", "longitude", "elevation_m", "height_above_ground_m", "free_floor_m2", "volume_l")
"""Answers in which a comma is the decimal point, as many write it."""

YES, NO = ("y", "yes"), ("n", "no")

BENEATH = ("ground", "slab over heated room", "slab over open air", "slab over insulated roof", "decking", "nothing")


def ask_site(units: Units) -> Entry:
    """Where it is; heights are asked for in the units of whoever answers, and kept in metres."""
    print_out(say("First the place: frost depends on it. Nothing is written before the end."))
    site: dict[str, Value] = {}
    place = typer.prompt(say("The nearest town, or leave it empty to write numbers"), default="", show_default=False)
    found = _found(place.strip()) if place.strip() else None
    if found is not None:
        site |= found
    street = amounts.label(units, say("Height of the street above the sea in metres"),
                           say("Height of the street above the sea in feet"))  # fmt: skip
    above = amounts.label(units, say("Height of the terrace above the street in metres"),
                          say("Height of the terrace above the street in feet"))  # fmt: skip
    for key, question in (
        ("latitude", say("Latitude in degrees, north positive, such as 46.05")),
        ("longitude", say("Longitude in degrees, east positive, such as 14.51")),
        ("elevation_m", street),
        ("time_zone", say("Time zone, such as Europe/Ljubljana")),
    ):
        if key not in site:
            _answer(site, key, question, drafts.faults_of_site, units)
    usual = amounts.to_write({"height_above_ground_m": "10"}, units)["height_above_ground_m"]
    _answer(site, "height_above_ground_m", above, drafts.faults_of_site, units, usual=usual)
    _answer(site, "surroundings", say("Around it: open country, suburb or city"), drafts.faults_of_site, units,
            usual="city")
    return site


def _found(place: str) -> Entry | None:
    """The place of that name from the weather service's list; None where it cannot be asked or knows none."""
    from frostguard.errors import FrostguardError
    from frostguard.garden.settings import Settings
    from frostguard.weather.client import open_weather_client
    from frostguard.weather.lookup import find_places

    try:
        with open_weather_client(Settings()) as client:
            places = find_places(client, place)
    except FrostguardError as error:
        print_out(harmless(error.message))
        return None
    usable = [one for one in places if one.elevation_m is not None and one.time_zone is not None][:9]
    if not usable:
        print_out(say("No place of this name is known; write its numbers."))
        return None
    for number, one in enumerate(usable, start=1):
        print_out(say("{number}  {name}, {region}, {country}", number=str(number), name=one.name,
                      region=one.region or "", country=one.country_code or ""))
    chosen = _one_of(say("Which one? 0 for none of them"), len(usable))
    if chosen == 0:
        return None
    one = usable[chosen - 1]
    return {
        "name": one.name,
        "latitude": f"{one.latitude_deg:.4f}",
        "longitude": f"{one.longitude_deg:.4f}",
        "elevation_m": f"{one.elevation_m:.0f}",
        "time_zone": one.time_zone or "",
    }


def ask_spots(units: Units) -> list[Entry]:
    """Where pots stand, in the order of walking."""
    print_out(say("Now the spots where pots stand or could stand, in the order in which you walk them."))
    floor = amounts.label(units, say("Square metres of floor for pots carried in; 0 for none"),
                          say("Square feet of floor for pots carried in; 0 for none"))  # fmt: skip
    spots: list[Entry] = []
    while not spots or _yes(say("One more spot?")):
        spot: dict[str, Value] = {}

        def faults(draft: Entry) -> tuple[str, ...]:
            return drafts.faults_of_spot(spots, draft)

        _answer(spot, "name", say("Its name, such as railing or house wall"), faults, units)
        if _yes(say("Is it indoors?")):
            _answer(spot, "room", say("The room: unheated or frost-free"), faults, units, usual="unheated")
            if _yes(say("Is it a shared stairwell or another way out in a fire?")):
                spot["escape_route"] = "yes"
            else:
                _answer(spot, "free_floor_m2", floor, faults, units)
        else:
            _answer(spot, "wind", say("Wind there: exposed, partly or sheltered"), faults, units, usual="exposed")
            _answer(spot, "sky", say("Sky above: open, under eaves or roofed"), faults, units, usual="open")
            _answer(spot, "beneath", say("What lies beneath: {words}", words=", ".join(BENEATH)), faults, units,
                    usual="decking")
            spot["house_wall"] = "yes" if _yes(say("Is a house wall right behind?")) else "no"
        spots.append(spot)
    return spots


def ask_pots(spots: Sequence[Entry], units: Units) -> list[Entry]:
    """The first pots."""
    print_out(say("Now the pots. Four answers make one; everything else is assumed, and can be said later."))
    pots: list[Entry] = []
    while not pots or _yes(say("One more pot?"), usual=True):
        pots.append(ask_pot(spots, units))
    return pots


def ask_pot(spots: Sequence[Entry], units: Units) -> Entry:
    """One pot."""
    pot: dict[str, Value] = {}

    def faults(draft: Entry) -> tuple[str, ...]:
        return drafts.faults_of_pot(spots, draft)

    _ask_plant(pot, faults)
    _answer(pot, "material", say("What the pot is made of, such as terracotta or plastic"), faults, units,
            usual="terracotta")
    _answer(pot, "volume_l", amounts.label(units, say("Its litres"), say("Its gallons (US)")), faults, units)
    names = [str(spot["name"]) for spot in spots if spot.get("escape_route") != "yes"]
    usual = names[0] if len(names) == 1 else None
    _answer(pot, "spot", say("Where it stands: {spots}", spots=", ".join(names)), faults, units, usual=usual)
    return pot


def _ask_plant(pot: dict[str, Value], faults: Faults) -> None:
    while True:
        plant = typer.prompt(say("The plant")).strip()
        sentences = faults({"plant": plant})
        if not sentences:
            pot["plant"] = plant
            return
        _tell(sentences)
        rating = typer.prompt(
            say("Its rating, such as 7b or H4; leave it empty to write the plant anew"), default="", show_default=False
        ).strip()
        sentences = faults({"plant": plant, "rating": rating}) if rating else ()
        if rating and not sentences:
            pot |= {"plant": plant, "rating": rating}
            return
        _tell(sentences)


def _answer(
    draft: dict[str, Value], key: str, question: str, faults: Faults, units: Units, *, usual: str | None = None
) -> None:
    """Ask until the reader takes the answer."""
    while True:
        given = str(typer.prompt(question, default=usual or "", show_default=usual is not None)).strip()
        if key in NUMBERS and re.fullmatch(r"-?[0-9]+,[0-9]+", given):
            given = given.replace(",", ".")
        kept = amounts.to_keep({key: given}, units)[key]
        sentences = faults({**draft, key: kept}) if given else (say("Nothing can be assumed here; write something."),)
        if not sentences:
            draft[key] = kept
            return
        _tell(sentences)


def _yes(question: str, *, usual: bool = False) -> bool:
    """Ask until it is yes or no."""
    shown = say("yes") if usual else say("no")
    while True:
        given = str(typer.prompt(question, default=shown)).strip().casefold()
        if given in YES:
            return True
        if given in NO:
            return False
        print_out(say("Write yes or no."))


def _one_of(question: str, most: int) -> int:
    while True:
        given = str(typer.prompt(question, default="1")).strip()
        if given.isascii() and given.isdigit() and int(given[:3]) <= most:
            return int(given)
        print_out(say("Write a number from 0 to {most}.", most=most))


def _tell(sentences: Sequence[str]) -> None:
    for sentence in sentences:
        print_out(harmless(sentence))
