"""What pots are made of, filled with and protected by: the data files of this package as records.

Each value in `data/*.json` is written as [value, mark, source, note], so that none stands there without
saying where it comes from. To add a wall, a mix or a cover, add an entry to the file; nothing else.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any, NamedTuple, TypeVar

from frostguard.garden.model import CoverPlace
from frostguard.garden.names import folded
from frostguard.hardiness.model import Mark

Record = TypeVar("Record")


class Source(NamedTuple):
    """How much stands behind a value, and who says so."""

    mark: Mark
    citation: str


@dataclass(frozen=True, slots=True)
class Wall:
    """A wall material, dry, with the thickness usual for a pot of middle size.

    `added_resistance_m2_k_w` comes on top of conduction through the thickness (air between double
    walls). `porous` walls take up water and let it evaporate; `frost_proof` is None where only a look
    at the single pot tells. `sources` gives the source of each field.
    """

    key: str
    label: str
    label_fr: str
    aliases: tuple[str, ...]
    conductivity_w_m_k: float
    density_kg_m3: float
    specific_heat_j_kg_k: float
    thickness_m: float
    thickness_spread_m: float
    emissivity: float
    solar_absorptance: float
    added_resistance_m2_k_w: float
    porous: bool
    frost_proof: bool | None
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True)
class Mix:
    """A growing mix as it lies in the pot, per m3 of mix.

    `solids_heat_capacity_j_m3_k` and `dry_conductivity_w_m_k` are of the dry mix, `solids_conductivity_w_m_k`
    of the solid matter alone; `kersten_unfrozen` and `kersten_frozen` are the texture parameters of
    Cote and Konrad (2005). `water_fraction` gives [m3/m3] for the words dry, moist and wet; wet is what is left after
    draining, when the bottom holds more than the mean by the share `wetter_below`, and the top less.
    """

    key: str
    label: str
    label_fr: str
    aliases: tuple[str, ...]
    porosity: float
    dry_bulk_density_kg_m3: float
    solids_heat_capacity_j_m3_k: float
    solids_conductivity_w_m_k: float
    dry_conductivity_w_m_k: float
    kersten_unfrozen: float
    kersten_frozen: float
    unfreezable_water_fraction: float
    wetter_below: float
    water_fraction: Mapping[str, float]
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True)
class Cover:
    """One layer of a cover, dry.

    `thermal_resistance_m2_k_w` counts the layer and the air that it holds, sky radiation apart;
    transmittances and `wind_permeability` are shares let through (0 to 1). `grams_m2` is None for what is
    not sold by weight. `minutes` is the time to put it on one pot.
    """

    key: str
    label: str
    label_fr: str
    aliases: tuple[str, ...]
    place: CoverPlace
    thermal_resistance_m2_k_w: float
    thickness_m: float
    grams_m2: float | None
    longwave_transmittance: float
    light_transmittance: float
    wind_permeability: float
    breathable: bool
    minutes: float
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True)
class Catalogue:
    """Everything a garden file may name, by key."""

    walls: Mapping[str, Wall]
    mixes: Mapping[str, Mix]
    covers: Mapping[str, Cover]


@cache
def load_catalogue() -> Catalogue:
    """Walls, mixes and covers together."""
    return Catalogue(load_walls(), load_mixes(), load_covers())


@cache
def load_walls() -> Mapping[str, Wall]:
    """Wall materials by key."""
    return _load("walls.json", "walls", _wall)


@cache
def load_mixes() -> Mapping[str, Mix]:
    """Growing mixes by key."""
    return _load("mixes.json", "mixes", _mix)


@cache
def load_covers() -> Mapping[str, Cover]:
    """Covers by key."""
    return _load("covers.json", "covers", _cover)


@cache
def wall_names() -> Mapping[str, str]:
    """Keys of the walls by every name they go by, folded."""
    return _names(load_walls())


@cache
def mix_names() -> Mapping[str, str]:
    """Keys of the mixes by every name they go by, folded."""
    return _names(load_mixes())


@cache
def cover_names() -> Mapping[str, str]:
    """Keys of the covers by every name they go by, folded."""
    return _names(load_covers())


def _load(file: str, kind: str, read: Callable[[dict[str, Any], dict[str, str]], Any]) -> Mapping[str, Any]:
    text = files("frostguard.garden").joinpath("data", file).read_text(encoding="utf-8")
    content = json.loads(text)
    if content["format"] != 1:
        raise ValueError(f"{file} has format {content['format']}, expected 1")
    records = [read(row, content["sources"]) for row in content[kind]]
    return MappingProxyType({record.key: record for record in records})


def _names(records: Mapping[str, Any]) -> Mapping[str, str]:
    return MappingProxyType(
        {
            folded(name): key
            for key, record in records.items()
            for name in (key, record.label, record.label_fr, *record.aliases)
        }
    )


def _wall(row: dict[str, Any], sources: dict[str, str]) -> Wall:
    return Wall(**_fields(row, sources))


def _mix(row: dict[str, Any], sources: dict[str, str]) -> Mix:
    water = row.pop("water_fraction")
    fields = _fields(row, sources)
    water_sources = {f"water_fraction {word}": _source(cell, sources) for word, cell in water.items()}
    fields["sources"] = MappingProxyType({**fields["sources"], **water_sources})
    return Mix(water_fraction=MappingProxyType({word: cell[0] for word, cell in water.items()}), **fields)


def _cover(row: dict[str, Any], sources: dict[str, str]) -> Cover:
    return Cover(place=CoverPlace(row.pop("place")), **_fields(row, sources))


def _fields(row: dict[str, Any], sources: dict[str, str]) -> dict[str, Any]:
    """The words of an entry as they stand, and of each [value, mark, source, note] the value."""
    words = {name: row[name] for name in ("key", "label", "label_fr")}
    cells = {name: cell for name, cell in row.items() if name not in (*words, "aliases")}
    return {
        **words,
        "aliases": tuple(row["aliases"]),
        **{name: cell[0] for name, cell in cells.items()},
        "sources": MappingProxyType({name: _source(cell, sources) for name, cell in cells.items()}),
    }


def _source(cell: list[Any], sources: dict[str, str]) -> Source:
    _, mark, source, *note = cell
    return Source(Mark(mark), "; ".join((sources[source], *note)))
