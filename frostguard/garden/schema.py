"""The garden file's shape as a JSON Schema, for editors that complete keys and mark mistakes while one types.

An editor's schema says less than the strict reader: which pots, spots and plants go together only that one knows.
"""

from __future__ import annotations

from enum import Enum
from typing import Any

from frostguard.garden.catalogue import load_covers, load_mixes, load_walls
from frostguard.garden.model import (
    Beneath,
    Light,
    Neighbours,
    RoomKind,
    Shape,
    SnowLies,
    Stage,
    Stem,
    Surroundings,
    Wetness,
)
from frostguard.garden.read_places import (
    PIECE_KEYS,
    PIECES,
    SITE_KEYS,
    SKY_VIEWS,
    SPOT_KEYS,
    STOCK_KEYS,
    WIND_FRACTIONS,
)
from frostguard.garden.read_plants import LIST_PLANT_KEYS, VALUES_EUR
from frostguard.garden.read_pots import POT_KEYS

DIALECT = "http://json-schema.org/draft-07/schema#"

Schema = dict[str, Any]


def garden_schema() -> Schema:
    """The schema, as plain data."""
    return {
        "$schema": DIALECT,
        "title": "Garden file of frostguard",
        "type": "object",
        "additionalProperties": False,
        "required": ["site", "spots", "pots"],
        "properties": {
            "site": _table(SITE_KEYS, ("latitude", "longitude", "elevation_m", "time_zone")),
            "spots": _list(_table(SPOT_KEYS, ("name",))),
            "pots": _list(_pot()),
            "stock": _table(STOCK_KEYS, ()) | {},
        },
        "definitions": {"piece": _table(PIECE_KEYS, ("cover", "piece"))},
    }


def _pot() -> Schema:
    return _table(POT_KEYS, ("material", "spot")) | {
        "oneOf": [{"required": ["plant"]}, {"required": ["plants"]}],
        "anyOf": [{"required": ["volume_l"]}, {"required": ["diameter_cm"]}, {"required": ["width_cm"]}],
    }


def _table(keys: tuple[str, ...], required: tuple[str, ...]) -> Schema:
    table: Schema = {
        "type": "object",
        "additionalProperties": False,
        "properties": {key: _behind(key, keys) for key in keys},
    }
    return table | ({"required": list(required)} if required else {})


def _list(items: Schema) -> Schema:
    return {"type": "array", "minItems": 1, "items": items}


def _number(low: float, high: float) -> Schema:
    return {"type": "number", "minimum": low, "maximum": high}


def _words(*words: str) -> Schema:
    """Words are suggested, not prescribed: the reader takes other spellings and names for many of them."""
    return {"anyOf": [{"enum": list(words)}, {"type": "string"}]}


def _of(choices: type[Enum]) -> Schema:
    return _words(*(choice.value for choice in choices))


def _number_or(words: tuple[str, ...], low: float, high: float) -> Schema:
    return {"anyOf": [_number(low, high), _words(*words)]}


_SWITCH: Schema = {"anyOf": [{"type": "boolean"}, {"enum": ["yes", "no"]}]}
_TEXT: Schema = {"type": ["string", "number"]}
_SWITCHES = frozenset(
    ("house_wall", "escape_route", "feet", "board", "saucer", "drain_hole", "potted_this_autumn", "fed_late")
) | {"evergreen"}


def _behind(key: str, keys: tuple[str, ...]) -> Schema:
    """What may stand behind a key of a table."""
    if key in _SWITCHES:
        return _SWITCH
    if key == "covers":
        if keys is STOCK_KEYS:
            return {"type": "array", "items": {"$ref": "#/definitions/piece"}}
        cover = _words(*load_covers())
        return {"anyOf": [cover, {"type": "array", "items": cover}]}
    if key == "plants":
        one = {"anyOf": [{"type": "string"}, _table(LIST_PLANT_KEYS, ("plant",))]}
        return _list(one)
    special: dict[str, Schema] = {
        "latitude": _number(-90, 90),
        "longitude": _number(-180, 180),
        "surroundings": _of(Surroundings),
        "wind": _number_or(tuple(WIND_FRACTIONS), 0, 1),
        "sky": _number_or(tuple(SKY_VIEWS), 0, 1),
        "facing": _number_or(("north", "east", "south", "west"), 0, 360),
        "snow": _of(SnowLies) | {"description": "no, on top or buries"},
        "beneath": _of(Beneath),
        "room": _of(RoomKind),
        "light": _of(Light),
        "cover": _words(*load_covers()),
        "piece": _words(*PIECES),
        "material": _words(*load_walls()),
        "mix": _words(*load_mixes()),
        "shape": _of(Shape),
        "wetness": _of(Wetness),
        "neighbours": _of(Neighbours),
        "stage": _of(Stage),
        "stem": _of(Stem),
        "value": {"anyOf": [_number(0, 100_000), _words(*VALUES_EUR, "irreplaceable")]},
        "count": {"type": "integer", "minimum": 0 if keys is PIECE_KEYS else 1, "maximum": 1000},
        "clips": {"type": "integer", "minimum": 0},
        "pot_feet": {"type": "integer", "minimum": 0},
        "crates": {"type": "integer", "minimum": 0},
    }
    if key == "snow":
        return {"anyOf": [special["snow"], {"type": "boolean"}]}
    if key in special:
        return special[key]
    numeric = key.endswith(("_m", "_cm", "_mm", "_l", "_c", "_k", "_days", "_m2", "_deg", "litres"))
    return {"type": "number"} if numeric else _TEXT
