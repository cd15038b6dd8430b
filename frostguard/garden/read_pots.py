"""The pots of a garden file."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TypeVar

from frostguard.garden.assumed import assumed_code
from frostguard.garden.catalogue import (
    Wall,
    cover_names,
    load_covers,
    load_mixes,
    load_walls,
    mix_names,
    wall_names,
)
from frostguard.garden.fields import Block
from frostguard.garden.model import Neighbours, Pot, Shape, Spot, Wetness
from frostguard.garden.names import folded
from frostguard.garden.read_plants import POT_PLANT_KEYS, PotOutside, plant_names, read_plantings
from frostguard.garden.sizes import (
    PROPORTIONS,
    Size,
    floor_area_m2,
    mix_cylinder,
    size_from_measures,
    size_from_volume,
    usual_wall_m,
)
from frostguard.garden.yaml_text import Faults, Node, Table, Text, shown

T = TypeVar("T")

MOST_POTS = 2000
MOST_COVERS = 6

LEAST_RADIUS_M = 0.02
"""Of the mix, as the root-ball engine asks for."""

MOST_WALL_HEAT_J_M2_K = 1e6
"""Heat that a wall holds per square metre of the mix's side, as the root-ball engine asks for."""

SIZE_KEYS = ("volume_l", "diameter_cm", "width_cm", "length_cm", "height_cm")
EXTRA_KEYS = ("feet", "board", "saucer", "mulch_cm", "covers")
POT_KEYS = (
    "id",
    "label",
    *POT_PLANT_KEYS,
    "material",
    "shape",
    *SIZE_KEYS,
    "wall_mm",
    "mix",
    "wetness",
    *EXTRA_KEYS,
    "drain_hole",
    "spot",
    "neighbours",
    "potted_this_autumn",
    "fed_late",
    "count",
)

_SHAPES = {folded(shape.value): shape for shape in Shape} | {
    "pan": Shape.PAN,
    "bowl": Shape.PAN,
    "hanging basket": Shape.HANGING,
    "basket": Shape.HANGING,
    "window box": Shape.RAILING_BOX,
    "box": Shape.RAILING_BOX,
    "cube": Shape.SQUARE,
}
_WETNESS = {folded(wetness.value): wetness for wetness in Wetness}
_NEIGHBOURS = {folded(neighbours.value): neighbours for neighbours in Neighbours}


@dataclass(frozen=True, slots=True)
class _Measured:
    """A pot's size with its wall thickness [m], as given or assumed."""

    size: Size
    wall_thickness_m: float

    @property
    def outside(self) -> PotOutside:
        return PotOutside(self.size.width_m + 2.0 * self.wall_thickness_m, self.size.height_m)


def read_pots(nodes: tuple[Node, ...], spots: Mapping[str, Spot] | None, faults: Faults) -> tuple[Pot, ...]:
    """All pots; `spots` are by folded name, None where some could not be read and none is looked up."""
    if len(nodes) > MOST_POTS:
        faults.add(
            nodes[MOST_POTS].line,
            "there are more than {most} pots; write pots that are alike once, with "
            "count:, or split the file.",
            most=MOST_POTS,
        )
        return ()
    ids = _Ids(nodes, faults)
    labels = _Labels(nodes)
    pots = []
    for number, node in enumerate(nodes, start=1):
        if not isinstance(node, Table):
            faults.add(
                node.line,
                "pot {number} must be keys with values, such as plant: lemon; write each key on a "
                "line of its own.",
                number=number,
            )
            continue
        block = Block(
            node, POT_KEYS, f'pot "{_name_of(node)}"' if _name_of(node) else f"pot {number}", faults
        )
        pot = _pot(block, node, ids.of(node), labels, spots)
        if pot is not None:
            pots.append(pot)
    return tuple(pots)


def _name_of(node: Table) -> str:
    """How the person would call the pot: its id, label or plants, whatever is there."""
    for key in ("id", "label"):
        value = node.entries.get(key)
        if isinstance(value, Text) and value.text.strip():
            return " ".join(shown(value.text).split())
    return ", ".join(plant_names(node))


class _Ids:
    """Ids of all pots: those given, which must differ, and made ones that differ from them."""

    def __init__(self, nodes: tuple[Node, ...], faults: Faults) -> None:
        self._line_of: dict[str, int] = {}
        self._made: set[str] = set()
        for node in nodes:
            if isinstance(node, Table) and isinstance(given := node.entries.get("id"), Text) and given.text:
                self._check(given, faults)

    def _check(self, given: Text, faults: Faults) -> None:
        name = given.text.casefold()
        if re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,39}", given.text) is None:
            faults.add(
                given.line,
                'the id "{name}" must be one word of plain letters, digits and dashes, up to 40; '
                "put what people read into label:.",
                name=shown(given.text),
            )
        if name in self._line_of:
            faults.add(
                given.line,
                'the id "{name}" is already that of the pot in line {first}; give each pot its own.',
                name=shown(given.text),
                first=self._line_of[name],
            )
        self._line_of.setdefault(name, given.line)

    def of(self, node: Table) -> tuple[str, bool]:
        """The pot's id, and whether it was made from its plants."""
        given = node.entries.get("id")
        if isinstance(given, Text) and given.text:
            return given.text, False
        plain = re.sub(r"[^a-z0-9]+", "-", folded(" ".join(plant_names(node)[:2]))).strip("-")[:30] or "pot"
        name, number = plain, 1
        while name in self._line_of or name in self._made:
            number += 1
            name = f"{plain}-{number}"
        self._made.add(name)
        return name, True


class _Labels:
    """Labels made from plants, numbered where the same plants stand in several pots, and none that is given."""

    def __init__(self, nodes: tuple[Node, ...]) -> None:
        given = [node.entries.get("label") for node in nodes if isinstance(node, Table)]
        self._taken = {one.text for one in given if isinstance(one, Text)}

    def of(self, names: tuple[str, ...]) -> str:
        plain = " and ".join(names[:3]) or "Pot"
        label = plain = plain[:1].upper() + plain[1:70]
        number = 1
        while label in self._taken:
            number += 1
            label = f"{plain} {number}"
        self._taken.add(label)
        return label


def _pot(
    block: Block, node: Table, identity: tuple[str, bool], labels: _Labels, spots: Mapping[str, Spot] | None
) -> Pot | None:
    assumed: list[str] = ["id"] if identity[1] else []
    block.text("id")  # for what any text must be
    label = block.text("label") if block.has("label") else labels.of(plant_names(node))
    wall = _wall(block)
    shape = _shape(block, assumed)
    measured = _measured(block, shape, wall, assumed)
    spot = _spot(block, spots)
    mix = _mix(block, assumed)
    wetness = _or_assumed(block.word("wetness", _WETNESS), Wetness.MOIST, "wetness", assumed)
    neighbours = _or_assumed(block.word("neighbours", _NEIGHBOURS), Neighbours.ALONE, "neighbours", assumed)
    if not any(block.has(key) for key in EXTRA_KEYS):
        assumed.append("nothing_extra")
    feet, saucer = block.switch("feet") or False, block.switch("saucer") or False
    mulch_cm = block.number("mulch_cm", 0, 30, "centimetres") or 0.0
    covers_on = _covers(block)
    drain_hole = _or_assumed(block.switch("drain_hole"), True, "drain_hole", assumed)
    potted = _or_assumed(block.switch("potted_this_autumn"), False, "rooted_in", assumed)
    count = block.whole("count", 1, 1000)
    outside = PotOutside(0.3, 0.3) if measured is None else measured.outside
    plantings, plants_assumed = read_plantings(block, outside)
    if wall is None or measured is None or spot is None or label is None or not plantings:
        return None  # each has its fault
    cylinder = mix_cylinder(measured.size)
    return Pot(
        id=identity[0],
        label=label,
        plantings=plantings,
        wall=wall.key,
        wall_thickness_m=measured.wall_thickness_m,
        shape=shape,
        radius_m=cylinder.radius_m,
        height_m=cylinder.height_m,
        volume_l=1000.0 * measured.size.volume_m3,
        floor_m2=floor_area_m2(measured.size, measured.wall_thickness_m),
        mix=mix,
        wetness=wetness,
        feet=feet,
        board=block.switch("board") or False,
        saucer=saucer,
        drain_hole=drain_hole,
        mulch_m=mulch_cm / 100.0,
        covers_on=covers_on,
        spot=spot.name,
        neighbours=neighbours,
        potted_this_autumn=potted,
        fed_late=block.switch("fed_late") or False,
        count=1 if count is None else count,
        line=block.line,
        assumed=tuple(dict.fromkeys((*assumed, *plants_assumed))),
    )


def _or_assumed(given: T | None, usual: T, code: str, assumed: list[str]) -> T:
    if given is None:
        assumed.append(code)
        return usual
    return given


def _wall(block: Block) -> Wall | None:
    block.require("material", "terracotta")
    scalar = block.scalar("material")
    key = None if scalar is None else block.word_in("material", scalar, wall_names(), load_walls())
    return None if key is None else load_walls()[key]


def _mix(block: Block, assumed: list[str]) -> str:
    scalar = block.scalar("mix")
    key = None if scalar is None else block.word_in("mix", scalar, mix_names(), load_mixes())
    return _or_assumed(key, "multi-purpose", "mix", assumed)


def _covers(block: Block) -> tuple[str, ...]:
    texts = block.texts("covers")
    keys = [block.word_in("covers", text, cover_names(), load_covers()) for text in texts]
    if len(keys) > MOST_COVERS:
        block.fault(
            "covers",
            "{where} has more than {most} layers of covers on; write those that are really there.",
            most=MOST_COVERS,
        )
    return tuple(key for key in keys if key is not None)


def _spot(block: Block, spots: Mapping[str, Spot] | None) -> Spot | None:
    usable = [spot.name for spot in (spots or {}).values() if not spot.escape_route]
    block.require("spot", usable[0] if usable else "terrace")
    scalar = block.scalar("spot")
    if scalar is None or not spots:
        return None
    spot = block.word_in("spot", scalar, spots, usable)
    if spot is not None and spot.escape_route:
        block.fault(
            "spot",
            '{where} stands in "{spot}", an escape route, which must stay free; name another spot.',
            spot=spot.name,
        )
    return spot


def _shape(block: Block, assumed: list[str]) -> Shape:
    shape = block.word("shape", _SHAPES)
    if shape is not None:
        return shape
    if block.has("length_cm"):
        return _or_assumed(None, Shape.TROUGH, "shape_trough", assumed)
    if block.has("width_cm"):
        return _or_assumed(None, Shape.SQUARE, "shape_square", assumed)
    return _or_assumed(None, Shape.ROUND, "shape", assumed)


def _measured(block: Block, shape: Shape, wall: Wall | None, assumed: list[str]) -> _Measured | None:
    """Size and wall of the pot from volume, measures or both; None with a fault where that cannot be."""
    usual = PROPORTIONS[shape]
    across, other = ("diameter_cm", "width_cm") if usual.round else ("width_cm", "diameter_cm")
    if block.has(other):
        block.fault(
            other,
            '{where} is {shape}, so it has "{across}", not "{key}"; write that, or another shape:.',
            shape=shape.value,
            across=across,
        )
    if block.has("length_cm") and not usual.needs_length:
        block.fault(
            "length_cm",
            "{where} is {shape} and has no length; take the line out, or write shape: trough.",
            shape=shape.value,
        )
    volume_l = block.number("volume_l", 0.05, 3000, "litres")
    width_cm = block.number(across, 3, 300, "centimetres")
    height_cm = block.number("height_cm", 3, 200, "centimetres")
    length_cm = block.number("length_cm", 5, 600, "centimetres")
    thickness_mm = block.number("wall_mm", 0.2, 150, "millimetres")
    if usual.needs_length and block.missing("length_cm"):
        block.fault(
            None,
            "{where} is a {shape} and needs its length; add a line such as length_cm: 60.",
            shape=shape.value,
        )
    if block.missing("volume_l", across, other):
        block.fault(
            None,
            "{where} does not say how big it is; add volume_l: with its litres, or {across}: and "
            "height_cm: by tape measure.",
            across=across,
        )
    if wall is None or (volume_l is None and width_cm is None) or (usual.needs_length and length_cm is None):
        return None
    tape = _Tape(width_cm, length_cm if usual.needs_length else None, height_cm)
    measured = _fitted(shape, None if volume_l is None else volume_l / 1000.0, tape, thickness_mm, wall)
    if not _possible(block, measured, tape, volume_l, across, wall):
        return None
    _note_assumed(measured, tape, thickness_mm, assumed)
    return measured


@dataclass(frozen=True, slots=True)
class _Tape:
    """What a tape measure said, outside [cm]; None where it was not asked."""

    width_cm: float | None
    length_cm: float | None
    height_cm: float | None


def _fitted(
    shape: Shape, volume_m3: float | None, tape: _Tape, thickness_mm: float | None, wall: Wall
) -> _Measured:
    """The pot from what is known of it; where the tape says all, the volume given is only shown."""

    def thickness_for(width_m: float) -> float:
        return usual_wall_m(wall.thickness_m, width_m) if thickness_mm is None else thickness_mm / 1000.0

    height = None if tape.height_cm is None else tape.height_cm / 100.0
    if tape.width_cm is not None:
        thickness = thickness_for(min(tape.width_cm, tape.length_cm or tape.width_cm) / 100.0)
        width = max(tape.width_cm / 100.0 - 2.0 * thickness, 0.001)
        length = None if tape.length_cm is None else max(tape.length_cm / 100.0 - 2.0 * thickness, 0.001)
        if volume_m3 is None or height is not None:
            size = size_from_measures(shape, width, length, height)
            return _Measured(size if volume_m3 is None else replace(size, volume_m3=volume_m3), thickness)
        return _Measured(size_from_volume(shape, volume_m3, width_m=width, length_m=length), thickness)
    assert volume_m3 is not None  # the caller saw to it that volume or width is known
    length = None if tape.length_cm is None else tape.length_cm / 100.0
    size = size_from_volume(shape, volume_m3, length_m=length, height_m=height)
    return _Measured(size, thickness_for(min(size.width_m, size.length_m)))


def _possible(
    block: Block, measured: _Measured, tape: _Tape, volume_l: float | None, across: str, wall: Wall
) -> bool:
    """Whether volume, measures and wall go together; a fault where they do not."""
    size, thickness = measured.size, measured.wall_thickness_m
    if 2.0 * thickness > 0.8 * (min(size.width_m, size.length_m) + 2.0 * thickness):
        block.fault(
            "wall_mm",
            "{where}: walls of {millimetres} mm leave no room for mix; check wall_mm.",
            millimetres=f"{1000 * thickness:g}",
        )
        return False
    inside_m = mix_cylinder(size).radius_m
    heat_j_m2_k = wall.density_kg_m3 * wall.specific_heat_j_kg_k * thickness * (1.0 + thickness / (2.0 * inside_m))
    if heat_j_m2_k > MOST_WALL_HEAT_J_M2_K:
        block.fault(
            "wall_mm",
            "{where}: walls of {millimetres} mm hold so much more heat than the little mix in them that the pot cannot "
            "be reckoned; check wall_mm and the size.",
            millimetres=f"{1000 * thickness:g}",
        )
        return False
    if volume_l is None:
        return _big_enough(block, measured, across)
    by_tape = size_from_measures(size.shape, size.width_m, size.length_m, size.height_m).volume_m3 * 1000.0
    said_all = tape.width_cm is not None and tape.height_cm is not None
    strange = not (0.03 <= size.width_m <= 3.0 and 0.03 <= size.height_m <= 2.0)
    if said_all and not 0.6 <= volume_l / by_tape <= 1.7:
        block.fault(
            "volume_l",
            "{where}: a pot of these measures holds about {litres} litres, not {volume}; correct "
            "one of them or take volume_l out.",
            litres=f"{by_tape:.3g}",
            volume=f"{volume_l:g}",
        )
        return False
    if strange:
        block.fault(
            "volume_l",
            "{where}: {volume} litres would make a pot {width} cm wide and {height} cm tall; check "
            "volume_l, {across} and height_cm.",
            volume=f"{volume_l:g}",
            width=f"{100 * size.width_m:.0f}",
            height=f"{100 * size.height_m:.0f}",
            across=across,
        )
        return False
    return _big_enough(block, measured, "volume_l")


def _big_enough(block: Block, measured: _Measured, key: str) -> bool:
    """Whether the mix is wide enough to be reckoned; a fault at `key` where it is not."""
    if mix_cylinder(measured.size).radius_m >= LEAST_RADIUS_M:
        return True
    block.fault(
        key,
        "{where}: so small a pot is as cold as the air at once and cannot be reckoned; leave it out, or put several "
        "into a box and describe that.",
    )
    return False


def _note_assumed(measured: _Measured, tape: _Tape, thickness_mm: float | None, assumed: list[str]) -> None:
    outside = measured.outside
    if tape.width_cm is None:
        assumed.append(assumed_code("size", round(100.0 * outside.width_m), round(100.0 * outside.height_m)))
    elif tape.height_cm is None:
        assumed.append(assumed_code("height", round(100.0 * outside.height_m)))
    if thickness_mm is None:
        assumed.append(assumed_code("wall_thickness", 1000.0 * measured.wall_thickness_m))
    assumed.append("rim")
