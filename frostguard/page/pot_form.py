"""A pot as a form: what is asked at once, what may be said besides, and what of it goes into the file."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from xml.etree.ElementTree import Element

from starlette.requests import Request

from frostguard.garden.catalogue import load_mixes, load_walls, mix_names, wall_names
from frostguard.garden.model import Garden, Neighbours, Shape, Stage, Stem, Wetness
from frostguard.garden.names import folded
from frostguard.garden.settings import Units
from frostguard.garden.yaml_edit import Value
from frostguard.page.frame import button, choice, faults_told, field, form, hidden, lines_field
from frostguard.report import amounts
from frostguard.report.html.markup import Child, node
from frostguard.report.words import say

DECIMALS = (
    "volume_l", "diameter_cm", "width_cm", "length_cm", "height_cm", "mulch_cm", "count", "plant_height_cm",
    "plant_width_cm", "stem_cm", "stem_thickness_cm",
)  # fmt: skip
"""Fields with a number; a comma in them is the decimal point of many a telephone's keyboard."""

NAMES = ("plant", "also", "material", "spot", "label", "shape", "mix", "wetness", "neighbours", "stage", "value",
         "rating", "stem", "feet", "saucer", "potted_this_autumn", "fed_late", *DECIMALS)  # fmt: skip

_NOT_SAID = ""


def pot_form(
    request: Request,
    action: str,
    garden: Garden,
    values: Mapping[str, str],
    version: str,
    units: Units,
    faults: Sequence[str] = (),
    *,
    plant_is_fixed: bool = False,
) -> list[Child]:
    """The form, filled with what is known; `plant_is_fixed` where the file says more of single plants of several.

    `values` are in the units of whoever reads: of what stands in a file, `shown_of` makes them.
    """

    def line(name: str, label: str, hint: str = "", *, must: bool = False) -> Element:
        kind = "decimal" if name in DECIMALS else "text"
        return field(name, label, values.get(name, ""), hint=hint, kind=kind, must=must)

    def length(name: str, metric: str, imperial: str, hint: str = "") -> Element:
        return line(name, amounts.label(units, metric, imperial), hint)

    def words(name: str, label: str, options: Sequence[tuple[str, str]], hint: str = "") -> Element:
        return choice(name, label, [(_NOT_SAID, say("not said")), *options], values.get(name, ""), hint=hint)

    def yes_no(name: str, label: str) -> Element:
        return words(name, label, [("yes", say("yes")), ("no", say("no"))])

    spots = [(spot.name, spot.label) for spot in garden.spots if not spot.escape_route]
    plant = (
        node("p", say("The garden file says more of single plants in this pot; change its plants there."))
        if plant_is_fixed
        else field("plant", say("Plant"), values.get("plant", ""), hint=say("English, French or botanical name"),
                   choices="plants", must=True)
    )  # fmt: skip
    walls = [(key, wall.label) for key, wall in load_walls().items()]
    known = choice("material", say("Pot made of"), walls, values.get("material", "terracotta"))
    more = node(
        "details",
        node("summary", say("Say more")),
        node(
            "div",
            line("label", say("What you call it")),
            None if plant_is_fixed else lines_field("also", say("Other plants in it"), values.get("also", ""),
                                                    hint=say("a line for each")),
            words("shape", say("Shape"), _pairs(Shape)),
            length("diameter_cm", say("Across at the rim, in centimetres"), say("Across at the rim, in inches"),
                        say("round pots, instead of what it holds")),
            length("width_cm", say("Width in centimetres"), say("Width in inches"),
                        say("square pots, troughs and boxes")),
            length("length_cm", say("Length in centimetres"), say("Length in inches"), say("troughs and boxes")),
            length("height_cm", say("Height of the pot in centimetres"), say("Height of the pot in inches")),
            words("mix", say("Filled with"), [(key, mix.label) for key, mix in load_mixes().items()]),
            words("wetness", say("How wet"), _pairs(Wetness)),
            words("neighbours", say("Beside others"), _pairs(Neighbours)),
            words("stage", say("What the plant is doing"), _pairs(Stage), say("only where you know better")),
            line("value", say("Worth"), say("low, medium, high, irreplaceable, or a sum in euro")),
            line("rating", say("Hardiness rating"), say("such as 7b or H4, for a plant that no table knows")),
            length("plant_height_cm", say("Height of the plant in centimetres"),
                        say("Height of the plant in inches")),
            length("plant_width_cm", say("Width of the plant in centimetres"),
                        say("Width of the plant in inches")),
            words("stem", say("What stands on a bare stem"), _pairs(Stem), say("bark that the frost can reach")),
            length("stem_cm", say("Length of the bare stem in centimetres"), say("Length of the bare stem in inches")),
            length("stem_thickness_cm", say("Thickness of the stem in centimetres"),
                        say("Thickness of the stem in inches")),
            length("mulch_cm", say("Mulch on the mix in centimetres"), say("Mulch on the mix in inches")),
            line("count", say("How many such pots")),
            yes_no("feet", say("On feet")),
            yes_no("saucer", say("In a saucer")),
            yes_no("potted_this_autumn", say("Potted this autumn")),
            yes_no("fed_late", say("Fed with nitrogen after mid-August")),
            class_="fields",
        ),
        open="open" if faults else None,
    )
    return [
        faults_told(faults),
        form(
            request,
            action,
            hidden("version", version),
            plant,
            known,
            line("volume_l", amounts.label(units, say("Litres"), say("Gallons (US)")),
                 say("as it stands on most pots; or measure it below")),
            choice("spot", say("Stands"), spots, values.get("spot", spots[0][0] if spots else "")),
            more,
            button(say("Write it into the garden file"), class_="main"),
            class_="fields",
        ),
        _plants(),
    ]


def typed(fields: Sequence[tuple[str, str]]) -> dict[str, str]:
    """What was written into the form's fields, decimal commas as points, other plants a line each."""
    found = {name: " ".join(value.split())[:200] for name, value in fields if name in NAMES and name != "also"}
    for name, value in fields:
        if name == "also":
            found["also"] = "\n".join(plant for one in value[:2000].splitlines() if (plant := " ".join(one.split())))
    for name in DECIMALS:
        if re.fullmatch(r"[0-9]+,[0-9]+", found.get(name, "")):
            found[name] = found[name].replace(",", ".")
    return found


def shown_of(written: Mapping[str, Value], units: Units) -> dict[str, str]:
    """What stands in the file as the form's fields have it: walls and mixes by their usual name."""
    found = {name: value for name, value in written.items() if name in NAMES and isinstance(value, str)}
    for name, known in (("material", wall_names()), ("mix", mix_names())):
        if name in found:
            found[name] = known.get(folded(found[name]), found[name])
    plants = written.get("plants", ())
    if plants and not isinstance(plants, str):
        found["plant"], found["also"] = plants[0], "\n".join(plants[1:])
    return amounts.to_write(found, units)


def differences(before: Mapping[str, str], after: Mapping[str, str], units: Units) -> dict[str, Value | None]:
    """What was changed in the form, as the file has it; an emptied field takes its key out of the file."""
    kept = amounts.to_keep(after, units)
    changes: dict[str, Value | None] = {}
    if any(after.get(name, "") != before.get(name, "") for name in ("plant", "also")):
        changes = dict(_plants_of(after))
    for name, value in after.items():
        if name not in ("plant", "also") and value != before.get(name, ""):
            changes[name] = kept[name] or None
    return changes


def entry(typed: Mapping[str, str], units: Units) -> dict[str, Value]:
    """A new pot as it goes into the file."""
    plants = {name: value for name, value in _plants_of(typed).items() if value}
    kept = amounts.to_keep(typed, units)
    return plants | {name: value for name, value in kept.items() if value and name not in ("plant", "also")}


def _plants_of(typed: Mapping[str, str]) -> dict[str, Value | None]:
    """One plant, or a list of several."""
    several = [name for name in (typed.get("plant", ""), *typed.get("also", "").split("\n")) if name]
    if len(several) > 1:
        return {"plant": None, "plants": tuple(several)}
    return {"plant": several[0] if several else None, "plants": None}


def _pairs(words: type[Shape] | type[Wetness] | type[Neighbours] | type[Stage] | type[Stem]) -> list[tuple[str, str]]:
    return [(one.value, one.value) for one in words]


def _plants() -> Element:
    """Names to choose from while typing."""
    from frostguard.hardiness.limits import load_limits

    names = sorted({taxon.english for taxon in load_limits().taxa})
    return node("datalist", *(node("option", value=name) for name in names), id="plants")
