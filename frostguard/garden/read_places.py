"""The site, the spots and the shed of a garden file."""

from __future__ import annotations

from enum import Enum

from frostguard.garden.assumed import assumed_code
from frostguard.garden.catalogue import cover_names, load_covers
from frostguard.garden.fields import Block
from frostguard.garden.model import (
    Beneath,
    CoverPiece,
    CoverPlace,
    Light,
    Room,
    RoomKind,
    Site,
    SnowLies,
    Spot,
    Stock,
    Surroundings,
)
from frostguard.garden.names import folded, nearest
from frostguard.garden.yaml_text import Faults, Node, Table, Text, shown

WIND_FRACTIONS = {"exposed": 0.75, "partly": 0.45, "sheltered": 0.2}
"""Wind at the pots over wind at terrace height: a railing or parapet always takes some (estimates)."""

SKY_VIEWS = {"open": 0.9, "under eaves": 0.5, "roofed": 0.1}
"""Share of the sky dome that pots see: parapet and house hide some even in the open (estimates)."""

ROOM_LAG_D = {
    RoomKind.UNHEATED: 2.0,
    RoomKind.FROST_FREE: 2.0,
    RoomKind.COLD_FRAME: 0.3,
    RoomKind.GLAZED_BALCONY: 0.5,
}
"""Masonry holds a room back by days, the soil of a frame and the wall of a glazed balcony by hours; estimates."""

ROOM_WARMER_K = {
    RoomKind.UNHEATED: 4.0,
    RoomKind.FROST_FREE: 6.0,
    RoomKind.COLD_FRAME: 2.0,
    RoomKind.GLAZED_BALCONY: 3.0,
}
"""Unheated rooms are 3 to 6 K warmer than the past days outdoors, thin garages less (from memory). One pane between
ground or house wall and the night: 2 to 4 K (from memory), of which less is taken, as the sun by day is left out."""

GLASS = frozenset({RoomKind.COLD_FRAME, RoomKind.GLAZED_BALCONY})
"""Rooms that are bright unless the file says otherwise."""

FROST_FREE_C = 3.0
"""What a frost-free room is kept above [degC]; usual setting of a frost guard (common practice)."""

HEIGHT_ABOVE_GROUND_M = 10.0
"""A third floor (estimate)."""

LONGEST_DAY_SHIFT_H = 4.5
"""Clocks differ from the sun by less than this anywhere on land (western China has 3.2 h; from memory)."""

SITE_KEYS = (
    "name",
    "latitude",
    "longitude",
    "elevation_m",
    "time_zone",
    "height_above_ground_m",
    "surroundings",
    "coldest_night_c",
)
OUTDOOR_KEYS = ("wind", "sky", "house_wall", "facing", "horizon_deg", "snow")
ROOM_KEYS = ("light", "lag_days", "warmer_k", "lowest_c")
SPOT_KEYS = ("name", "label", *OUTDOOR_KEYS, "beneath", "free_floor_m2", "room", *ROOM_KEYS, "escape_route")
STOCK_KEYS = ("covers", "pot_feet", "crates")
PIECE_KEYS = ("cover", "piece", "width_m", "length_m", "litres", "count")
PIECES = ("hood", "sheet", "roll", "mat", "board", "sleeve", "bag")
SLEEVE_WIDTH_M = 0.07
"""Of a stem sleeve laid flat, which goes round 4 cm of stem, where the file gives only a length; estimate."""


_SURROUNDINGS = {folded(land.value): land for land in Surroundings} | {"country": Surroundings.OPEN_COUNTRY}
_SNOW = {folded(lies.value): lies for lies in SnowLies}
_BENEATH = {folded(beneath.value): beneath for beneath in Beneath} | {
    "heated room": Beneath.HEATED_ROOM,
    "open air": Beneath.OPEN_AIR,
    "insulated roof": Beneath.INSULATED_ROOF,
}
_COMPASS = {
    "n": ("north",),
    "nne": (),
    "ne": ("northeast", "north east"),
    "ene": (),
    "e": ("east",),
    "ese": (),
    "se": ("southeast", "south east"),
    "sse": (),
    "s": ("south",),
    "ssw": (),
    "sw": ("southwest", "south west"),
    "wsw": (),
    "w": ("west",),
    "wnw": (),
    "nw": ("northwest", "north west"),
    "nnw": (),
}
_FACING = {
    word: 22.5 * point
    for point, (letters, names) in enumerate(_COMPASS.items())
    for word in (*names, letters)
}


def _words(choices: type[Enum]) -> tuple[str, ...]:
    """The words that stand for the choices of an enumeration."""
    return tuple(choice.value for choice in choices)


def read_site(table: Table | None, faults: Faults) -> Site | None:
    """The site, or None with its faults noted."""
    if table is None:
        return None
    block = Block(table, SITE_KEYS, "the site", faults)
    for key, example in (
        ("latitude", "46.05"),
        ("longitude", "14.51"),
        ("elevation_m", "300"),
        ("time_zone", "Europe/Ljubljana"),
    ):
        block.require(key, example)
    assumed: list[str] = []
    name = block.text("name")
    latitude = block.number("latitude", -90, 90, "degrees")
    longitude = block.number("longitude", -180, 180, "degrees")
    elevation = block.number("elevation_m", -430, 6000, "metres")
    time_zone = _time_zone(block, longitude)
    height = block.number("height_above_ground_m", 0, 500, "metres")
    if height is None:
        height = HEIGHT_ABOVE_GROUND_M
        assumed.append(assumed_code("height_above_ground", height))
    surroundings = block.word("surroundings", _SURROUNDINGS, _words(Surroundings))
    if surroundings is None:
        assumed.append("surroundings")
    coldest = block.number("coldest_night_c", -60, 20, "degrees Celsius")
    if latitude is None or longitude is None or elevation is None or time_zone is None:
        return None
    return Site(
        name=name or "Terrace",
        latitude_deg=latitude,
        longitude_deg=longitude,
        elevation_m=elevation,
        time_zone=time_zone,
        height_above_ground_m=height,
        surroundings=surroundings or Surroundings.SUBURB,
        assumed=tuple(assumed),
        coldest_night_c=coldest,
    )


def _time_zone(block: Block, longitude: float | None) -> str | None:
    """A time zone that this computer knows and that fits the longitude."""
    from datetime import datetime
    from zoneinfo import ZoneInfo, available_timezones

    name = block.text("time_zone")
    if name is None:
        return None
    try:
        shift = datetime(2026, 1, 1, tzinfo=ZoneInfo(name)).utcoffset()
    except (LookupError, ValueError, OSError):  # not there; not a zone's name; a folder of zones
        alike = nearest(name, sorted(available_timezones()))
        sentence = (
            '{where}: "{name}" is no time zone; perhaps {alike} is meant.'
            if alike
            else '{where}: "{name}" is no time zone; write one such as Europe/Ljubljana.'
        )
        block.fault("time_zone", sentence, name=shown(name), alike="".join(alike[:1]))
        return None
    if longitude is not None and shift is not None:
        apart = abs(shift.total_seconds() / 3600.0 - longitude / 15.0) % 24.0
        if min(apart, 24.0 - apart) > LONGEST_DAY_SHIFT_H:
            block.fault(
                "longitude",
                "{where}: the clock of {name} does not fit longitude {longitude}; east is "
                "positive, west negative.",
                name=name,
                longitude=f"{longitude:g}",
            )
    return name


def read_spots(nodes: tuple[Node, ...], faults: Faults) -> tuple[Spot, ...]:
    """The spots, in walking order as they stand in the file."""
    spots: list[Spot] = []
    line_of: dict[str, int] = {}
    for number, node in enumerate(nodes, start=1):
        if not isinstance(node, Table):
            faults.add(
                node.line,
                "spot {number} must be keys with values, such as name: railing; write each key on a "
                "line of its own.",
                number=number,
            )
            continue
        name = node.entries.get("name")
        where = f'spot "{shown(name.text)}"' if isinstance(name, Text) and name.text else f"spot {number}"
        spot = _spot(Block(node, SPOT_KEYS, where, faults))
        if spot is None:
            continue
        if folded(spot.name) in line_of:
            faults.add(
                node.line,
                'a spot "{name}" stands in line {first} already; give each spot its own name.',
                name=spot.name,
                first=line_of[folded(spot.name)],
            )
        line_of.setdefault(folded(spot.name), node.line)
        spots.append(spot)
    return tuple(spots)


def _spot(block: Block) -> Spot | None:
    assumed: list[str] = []
    block.require("name", "railing")
    name = block.text("name")
    label = block.text("label")
    room = _room(block, assumed)
    wind = sky = 0.0
    house_wall, facing, snow = False, None, None
    if not block.has("room"):
        wind, sky, house_wall, facing = _outdoors(block, assumed)
        snow = block.word("snow", _SNOW, _words(SnowLies))
    beneath = block.word("beneath", _BENEATH, _words(Beneath))
    if beneath is None and not block.has("room"):
        assumed.append("beneath")
    free_floor = block.number("free_floor_m2", 0, 1000, "square metres")
    escape_route = block.switch("escape_route") or False
    if free_floor is None and not escape_route:
        assumed.append("no_free_floor")
    if name is None:
        return None
    return Spot(
        name=name,
        label=label or name,
        wind_fraction=wind,
        sky_view=sky,
        beneath=beneath or Beneath.DECKING,
        against_house_wall=house_wall,
        facing_deg=facing,
        free_floor_m2=free_floor,
        room=room,
        escape_route=escape_route,
        assumed=() if escape_route else tuple(assumed),
        snow=snow or SnowLies.NO,
        horizon_deg=0.0 if block.has("room") else block.number("horizon_deg", 0, 80, "degrees") or 0.0,
    )


def _outdoors(block: Block, assumed: list[str]) -> tuple[float, float, bool, float | None]:
    """Wind fraction, sky view, house wall and facing of a spot under the open sky or a roof."""
    for key in ROOM_KEYS:
        if block.has(key):
            block.fault(key, '{where}: "{key}" is said of rooms; add room: unheated, or take the line out.')
    wind = block.number_or_word("wind", 0, 1, WIND_FRACTIONS)
    sky = block.number_or_word("sky", 0, 1, SKY_VIEWS)
    house_wall = block.switch("house_wall")
    for missing, code in (
        (wind is None, "wind"),
        (sky is None, "sky"),
        (house_wall is None, "no_house_wall"),
    ):
        if missing:
            assumed.append(code)
    return (
        WIND_FRACTIONS["exposed"] if wind is None else wind,
        SKY_VIEWS["open"] if sky is None else sky,
        house_wall or False,
        block.number_or_word("facing", 0, 360, _FACING, ("north", "east", "south", "west", "north east")),
    )


def _room(block: Block, assumed: list[str]) -> Room | None:
    if not block.has("room"):
        return None
    for key in OUTDOOR_KEYS:
        if block.has(key):
            block.fault(key, '{where} is a room, so "{key}" does not belong there; take the line out.')
    told = block.scalar("room")
    if told is not None and folded(told.text) == "heated":
        block.fault(
            "room", "{where}: a heated room is written as frost-free, with what it is kept above, such as lowest_c: 18."
        )
        return None
    kind = (
        block.word("room", {folded(kind.value): kind for kind in RoomKind}, _words(RoomKind))
        or RoomKind.UNHEATED
    )
    light = block.word("light", {light.value: light for light in Light})
    lag = block.number("lag_days", 0, 14, "days")
    warmer = block.number("warmer_k", 0, 25, "kelvin")
    lowest = block.number("lowest_c", -20, 20, "degrees Celsius")
    if light is None:
        assumed.append("room_light_bright" if kind in GLASS else "room_light")
    if lag is None:
        assumed.append(assumed_code("room_lag", ROOM_LAG_D[kind]))
    if warmer is None:
        assumed.append(assumed_code("room_warmer", ROOM_WARMER_K[kind]))
    if lowest is None and kind is RoomKind.FROST_FREE:
        lowest = FROST_FREE_C
        assumed.append(assumed_code("room_lowest", lowest))
    return Room(
        kind=kind,
        light=light or (Light.BRIGHT if kind in GLASS else Light.DIM),
        lag_d=ROOM_LAG_D[kind] if lag is None else lag,
        warmer_than_outdoors_k=ROOM_WARMER_K[kind] if warmer is None else warmer,
        lowest_c=lowest,
    )


def read_stock(table: Table | None, faults: Faults) -> Stock:
    """The shed; not stated where the file says nothing of it."""
    if table is None:
        return Stock(covers=(), pot_feet=0, stated=False)
    block = Block(table, STOCK_KEYS, "the stock", faults)
    pieces = []
    for number, node in enumerate(block.listing("covers", "covers"), start=1):
        if not isinstance(node, Table):
            faults.add(
                node.line,
                "cover {number} of the stock must be keys with values, such as cover: fleece 30; "
                "write each key on a line of its own.",
                number=number,
            )
            continue
        piece = _piece(Block(node, PIECE_KEYS, f"cover {number} of the stock", faults))
        if piece is not None:
            pieces.append(piece)
    return Stock(
        covers=tuple(pieces),
        pot_feet=block.whole("pot_feet", 0, 10_000) or 0,
        crates=block.whole("crates", 0, 10_000) or 0,
    )


def _piece(block: Block) -> CoverPiece | None:
    block.require("cover", "fleece 30")
    block.require("piece", "hood")
    scalar = block.scalar("cover")
    material = None if scalar is None else block.word_in("cover", scalar, cover_names(), load_covers())
    piece = block.word("piece", {name: name for name in PIECES})
    width = block.number("width_m", 0.03, 20, "metres")
    length = block.number("length_m", 0.1, 200, "metres")
    litres = block.number("litres", 1, 5000, "litres")
    count = block.whole("count", 0, 1000)
    needed = {"hood": ("width_m",), "sleeve": ("length_m",), "bag": ("litres",)}.get(
        piece or "", ("width_m", "length_m")
    )
    for key in needed if piece is not None else ():
        block.require(key, "50" if key == "litres" else "2")
    if material is None or piece is None:
        return None
    loose = load_covers()[material].place is CoverPlace.MIX
    if loose and piece != "bag":
        block.fault(
            "piece", "{where}: {cover} comes in bags; write piece: bag, and its litres:.", cover=material
        )
    for_stems = load_covers()[material].place is CoverPlace.STEM
    if not loose and not for_stems and piece == "bag":
        block.fault(
            "piece",
            "{where}: {cover} comes in pieces; write piece: hood, sheet, roll, mat or board, and measures.",
            cover=material,
        )
    if for_stems != (piece == "sleeve") and not (for_stems and piece == "roll"):
        block.fault(
            "piece",
            "{where}: {cover} goes round stems; write piece: sleeve, and its length_m:, or piece: roll."
            if for_stems
            else "{where}: {cover} comes in no sleeves; a stem takes stem sleeve or jute bandage.",
            cover=material,
        )
    return CoverPiece(
        material=material,
        piece=piece,
        width_m=SLEEVE_WIDTH_M if piece == "sleeve" and width is None else width,
        length_m=length,
        litres=litres,
        count=1 if count is None else count,
    )
