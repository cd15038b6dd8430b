"""The plants of a pot, as the garden file names them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from frostguard.garden.assumed import assumed_code
from frostguard.garden.fields import Block, or_list
from frostguard.garden.model import BareStem, OwnLimits, Planting, Stage, Stem
from frostguard.garden.names import folded
from frostguard.garden.yaml_text import Listing, Table, Text, shown

if TYPE_CHECKING:
    pass

VALUES_EUR = {"low": 5.0, "medium": 20.0, "high": 100.0}
"""What a plant is worth by word [euro]; estimate, about what a small, a usual and a big plant cost."""

IRREPLACEABLE_EUR = 100.0
"""What stands for a plant that no money brings back, where money counts [euro]; as "high", estimate."""

TALLER_THAN_POT = 1.5
WIDER_THAN_POT = 1.2
"""Usual height and width of a plant over those of its pot (estimate)."""

OWN_LIMIT_KEYS = ("leaf_limit_c", "flower_limit_c", "young_root_limit_c", "whole_root_limit_c")
STEM_KEYS = ("stem", "stem_cm", "stem_thickness_cm")
FACT_KEYS = ("stage", "value", "evergreen", "rating", "bulb_depth_cm", *STEM_KEYS, *OWN_LIMIT_KEYS)
POT_PLANT_KEYS = ("plant", "plants", "plant_height_cm", "plant_width_cm", *FACT_KEYS)
LIST_PLANT_KEYS = ("plant", "height_cm", "width_cm", *FACT_KEYS)

STEM_OF_HEIGHT = 0.6
"""Bare stem of a standard over the height of the plant; estimate."""

STEM_THICKNESS_M = 0.02
"""Of a standard or young trunk in a pot, as thick as a thumb; estimate."""

_STAGES = {folded(stage.value): stage for stage in Stage}
_STEMS = {folded(stem.value): stem for stem in Stem} | {
    "half standard": Stem.STANDARD,
    "quarter standard": Stem.STANDARD,
    "lollipop": Stem.STANDARD,
    "grafted half standard": Stem.GRAFTED,
    "trunk": Stem.YOUNG_TRUNK,
}


@dataclass(frozen=True, slots=True)
class PotOutside:
    """Outer width at the rim and height of a pot [m], which plant sizes go by."""

    width_m: float
    height_m: float


def read_plantings(pot: Block, outside: PotOutside) -> tuple[tuple[Planting, ...], tuple[str, ...]]:
    """All plants of a pot, and codes of what was assumed of them."""
    assumed: list[str] = []
    if pot.has("plant") and pot.has("plants"):
        pot.fault("plants", '{where} has both "plant" and "plants"; keep one, "plants" for several.')
    if pot.has("plants"):
        plantings = _from_list(pot, outside, assumed)
    else:
        pot.require("plant", "lemon")
        plantings = [_planting(pot, pot.text("plant"), "plant_", outside, assumed)]
    found = tuple(planting for planting in plantings if planting is not None)
    return found, tuple(dict.fromkeys(assumed))


def plant_names(pot: Table) -> tuple[str, ...]:
    """The plants' names as written, before anything is checked."""
    node = pot.entries.get("plants", pot.entries.get("plant"))
    items = node.items if isinstance(node, Listing) else (node,)
    named = (item.entries.get("plant") if isinstance(item, Table) else item for item in items)
    return tuple(
        " ".join(shown(name.text).split()) for name in named if isinstance(name, Text) and name.text.strip()
    )


def _from_list(pot: Block, outside: PotOutside, assumed: list[str]) -> list[Planting | None]:
    for key in ("plant_height_cm", "plant_width_cm", *FACT_KEYS):
        if pot.has(key):
            pot.fault(
                key,
                '{where}: "{key}" must be said of each plant; move it into the list "plants".',
            )
    plantings: list[Planting | None] = []
    items = pot.listing("plants", "plants")
    if not items and not pot.has("plant"):
        pot.fault("plants", '{where}: the list "plants" is empty; name at least one plant.')
    for item in items:
        if isinstance(item, Text):
            plantings.append(_planting_of_name(pot, item, outside, assumed))
        elif isinstance(item, Table):
            block = Block(item, LIST_PLANT_KEYS, f"a plant of {pot.where}", pot.faults)
            block.require("plant", "lemon")
            plantings.append(_planting(block, block.text("plant"), "", outside, assumed))
        else:
            pot.faults.add(
                item.line,
                "{where}: a plant is a name or keys such as plant: and value:, not a list.",
                where=pot.where,
            )
    return plantings


def _planting_of_name(pot: Block, name: Text, outside: PotOutside, assumed: list[str]) -> Planting | None:
    """A plant of which the list holds nothing but the name."""
    alone = Table({"plant": name}, {"plant": name.line}, name.line)
    block = Block(alone, LIST_PLANT_KEYS, pot.where, pot.faults)
    return _planting(block, block.text("plant"), "", outside, assumed)


def _planting(
    block: Block, name: str | None, prefix: str, outside: PotOutside, assumed: list[str]
) -> Planting | None:
    rating = _rating(block)
    height_m, width_m = _plant_size(block, prefix, outside, assumed)
    value_eur, irreplaceable = _value(block, assumed)
    evergreen, stage = (
        block.switch("evergreen"),
        block.word("stage", _STAGES, tuple(stage.value for stage in Stage)),
    )
    depth_cm = block.number("bulb_depth_cm", 1, 40, "centimetres")
    bare_stem = _bare_stem(block, height_m, assumed)
    own_limits = OwnLimits(*(block.number(key, -40, 0, "degrees Celsius") for key in OWN_LIMIT_KEYS))
    if name is None:
        return None
    taxon = _taxon_key(block, name, block.has("rating"))
    if bare_stem is not None and taxon is not None:
        _check_has_a_stem(block, name, taxon)
    if taxon is None:
        assumed.append("by_rating")
    return Planting(
        name=name,
        taxon=taxon,
        rating=rating,
        height_m=height_m,
        width_m=width_m,
        evergreen=evergreen,
        stage=stage,
        value_eur=value_eur,
        irreplaceable=irreplaceable,
        bulb_depth_m=None if depth_cm is None else depth_cm / 100.0,
        own_limits=own_limits,
        bare_stem=bare_stem,
    )


def _bare_stem(block: Block, height_m: float, assumed: list[str]) -> BareStem | None:
    """The stem that stands bare, where the file tells of one."""
    kind = block.word("stem", _STEMS, tuple(stem.value for stem in Stem))
    length_cm = block.number("stem_cm", 5, 300, "centimetres")
    thickness_cm = block.number("stem_thickness_cm", 0.5, 15, "centimetres")
    if kind is None:
        for key in ("stem_cm", "stem_thickness_cm"):
            if block.has(key) and not block.has("stem"):
                block.fault(
                    key,
                    '{where}: "{key}" needs the kind of stem as well; write stem: standard, '
                    "stem: grafted standard or stem: young trunk.",
                )
        return None
    length_m = STEM_OF_HEIGHT * height_m if length_cm is None else length_cm / 100.0
    thickness_m = STEM_THICKNESS_M if thickness_cm is None else thickness_cm / 100.0
    if length_cm is None or thickness_cm is None:
        assumed.append(assumed_code("stem_size", round(100.0 * length_m), 100.0 * thickness_m))
    return BareStem(kind, length_m, thickness_m)


def _check_has_a_stem(block: Block, name: str, taxon: str) -> None:
    """A fault where the plant is none that is grown on a bare stem: a bulb, a palm, a bedding plant."""
    from frostguard.hardiness.limits import load_limits
    from frostguard.hardiness.taxon import GROWN_ON_STEMS

    if load_limits().taxon(taxon).habit not in GROWN_ON_STEMS:
        block.fault(
            "stem",
            '{where}: "{name}" makes no stem to protect; take "stem" out, or name the plant that has one.',
            name=shown(name),
        )


def _taxon_key(block: Block, name: str, has_rating: bool) -> str | None:
    """The plant's key in the limits table; a fault for a plant that is neither there nor rated."""
    from frostguard.hardiness.limits import load_limits

    taxon = load_limits().named(name)
    if taxon is not None:
        return taxon.key
    if not has_rating:
        near = load_limits().nearest(name)
        sentence = (
            '{where}: the limits table knows no plant "{name}"; write {alike} if that is meant, or say how '
            "hardy it is with a line such as rating: 7b or rating: H4."
            if near
            else '{where}: the limits table knows no plant "{name}"; say how hardy it is with a line such as '
            "rating: 7b or rating: H4."
        )
        block.fault("plant", sentence, name=shown(name), alike=or_list(near[:3]))
    return None


def _rating(block: Block) -> str | None:
    """A USDA zone or UK hardiness rating, in its usual spelling."""
    from frostguard.hardiness.rating import UnknownRating, band_of

    scalar = block.scalar("rating")
    if scalar is None:
        return None
    try:
        return band_of(scalar.text).rating
    except UnknownRating:
        block.fault(
            "rating",
            '{where}: "{text}" is no hardiness rating; write a USDA zone from 1a to 13b or '
            "a UK rating from H1a to H7.",
            text=shown(scalar.text),
        )
        return None


def _plant_size(block: Block, prefix: str, outside: PotOutside, assumed: list[str]) -> tuple[float, float]:
    """Height and width of the plant [m]."""
    height_cm = block.number(f"{prefix}height_cm", 1, 1000, "centimetres")
    width_cm = block.number(f"{prefix}width_cm", 1, 600, "centimetres")
    height_m = outside.height_m * TALLER_THAN_POT if height_cm is None else height_cm / 100.0
    width_m = outside.width_m * WIDER_THAN_POT if width_cm is None else width_cm / 100.0
    if height_cm is None and width_cm is None:
        assumed.append(assumed_code("plant_size", round(100.0 * height_m), round(100.0 * width_m)))
    elif height_cm is None:
        assumed.append(assumed_code("plant_height", round(100.0 * height_m)))
    elif width_cm is None:
        assumed.append(assumed_code("plant_width", round(100.0 * width_m)))
    return height_m, width_m


def _value(block: Block, assumed: list[str]) -> tuple[float, bool]:
    """What the plant is worth [euro], and whether it cannot be replaced."""
    scalar = block.scalar("value")
    if scalar is not None and folded(scalar.text) == "irreplaceable":
        assumed.append(assumed_code("irreplaceable", IRREPLACEABLE_EUR))
        return IRREPLACEABLE_EUR, True
    if scalar is None:
        value = None
    elif scalar.text[:1] in "+-.0123456789":
        value = block.number_in("value", scalar.text, 0, 100_000, "euro")
    else:
        value = block.word_in("value", scalar, VALUES_EUR, ("low", "medium", "high", "irreplaceable"))
    if value is None:
        assumed.append(assumed_code("value", VALUES_EUR["medium"]))
        return VALUES_EUR["medium"], False
    return value, False
