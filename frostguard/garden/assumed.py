"""Everything that may be assumed where a garden file is silent: codes, and a sentence for each.

A code is a name, with the numbers that belong to it behind colons: "wall_thickness:12". The numbers fill
the placeholders of the sentence in the order in which they first stand there. Renderers put the sentence
through their gettext function before they fill it.
"""

from __future__ import annotations

from dataclasses import dataclass
from string import Formatter

from frostguard.garden.model import Garden

ASSUMED = {
    # the site
    "height_above_ground": "The terrace is taken to lie {metres} m above the ground.",
    "surroundings": "The land around is taken as a suburb: few obstacles to the wind.",
    # spots
    "wind": "Wind is taken to reach the pots as on an exposed terrace.",
    "sky": "The pots are taken to stand under the open sky.",
    "beneath": "The floor is taken to be decking, with air below it.",
    "no_house_wall": "No house wall is taken to stand behind the pots.",
    "no_free_floor": "Free floor is not stated, so no pot is sent here.",
    "room_lag": "The room is taken to follow the outdoors {days} days late.",
    "room_warmer": "The room is taken to be {kelvin} K warmer than the outdoors of the past days.",
    "room_lowest": "The room is taken to be kept above {celsius} °C.",
    "room_light": "The room is taken to be dim.",
    "room_light_bright": "Behind glass it is taken to be bright.",
    # pots
    "id": "The pot has no id of its own; it was made from the plant, and changes if the order of pots does.",
    "shape": "The pot is taken as round.",
    "shape_trough": "The pot has a length, so it is taken as a trough.",
    "shape_square": "The pot has a width and no length, so it is taken as square.",
    "size": "Its size follows from the volume by usual proportions: {width_cm} cm wide, {height_cm} cm tall.",
    "height": "Its height follows from its width by the usual proportions: {height_cm} cm.",
    "wall_thickness": "The wall is taken to be {millimetres} mm thick, usual for the material and size.",
    "rim": "The mix is taken to end 2 cm below the rim, in a low pot a tenth of its height.",
    "mix": "The mix is taken as multi-purpose.",
    "wetness": "The mix is taken to be kept moist; rain and drying are reckoned from there.",
    "neighbours": "The pot is taken to stand alone.",
    "nothing_extra": "No feet, saucer, mulch or covers are mentioned; there are taken to be none.",
    "drain_hole": "The pot is taken to have a drain hole.",
    "rooted_in": "The plant is taken to be rooted in, not potted this autumn.",
    # plants
    "plant_size": "Plant size goes by the pot: one and a half times its height, a fifth wider than it is "
    "({height_cm} cm tall, {width_cm} cm wide).",
    "plant_height": "Plant height goes by the pot, one and a half times its height: {height_cm} cm.",
    "plant_width": "Plant width goes by the pot, a fifth wider than it is: {width_cm} cm.",
    "stem_size": "Its bare stem is taken to be {height_cm} cm long and {thickness_cm} cm thick.",
    "value": "The plant is taken to be worth {euro} euro.",
    "irreplaceable": "The plant cannot be replaced; where money counts it stands for {euro} euro.",
    "by_rating": "The limits table does not know the plant; its limits follow from its rating by rule.",
}
"""Whole sentences by code; the same names of placeholders mean the same units everywhere."""


@dataclass(frozen=True, slots=True)
class Assumptions:
    """What was assumed of one thing in the garden file: "site", "spot" or "pot", its label, its codes."""

    of: str
    label: str
    line: int | None
    codes: tuple[str, ...]


def describe_assumptions(garden: Garden) -> tuple[Assumptions, ...]:
    """All that was assumed, in the order of the file; things of which nothing was assumed are left out."""
    everything = (
        Assumptions("site", garden.site.name, None, garden.site.assumed),
        *(Assumptions("spot", spot.label, None, spot.assumed) for spot in garden.spots),
        *(Assumptions("pot", pot.label, pot.line, pot.assumed) for pot in garden.pots),
    )
    return tuple(assumptions for assumptions in everything if assumptions.codes)


def assumed_sentence(code: str) -> tuple[str, dict[str, str]]:
    """The sentence of a code, with its placeholders still in it, and what fills them.

    Raises
    ------
    KeyError
        For a code that is not in the list.
    """
    name, *details = code.split(":")
    sentence = ASSUMED[name]
    return sentence, dict(zip(_placeholders(sentence), details, strict=True))


def assumed_code(name: str, *details: float) -> str:
    """The code of something assumed, with its numbers to three figures."""
    return ":".join((name, *(f"{float(f'{detail:.3g}'):g}" for detail in details)))


def _placeholders(sentence: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(field for _, field, _, _ in Formatter().parse(sentence) if field))
