"""The catalogues: nothing without a source, nothing implausible, and the values that the sources print."""

from __future__ import annotations

from dataclasses import fields

import pytest

from frostguard.garden.catalogue import (
    Cover,
    Mix,
    Wall,
    cover_names,
    load_catalogue,
    load_covers,
    load_mixes,
    load_walls,
    mix_names,
    wall_names,
)
from frostguard.garden.model import CoverPlace, Wetness
from frostguard.garden.names import by_name, folded
from frostguard.hardiness.model import Mark
from frostguard.physics.substrate import (
    GRAVEL,
    PEAT,
    SAND,
    SILT_AND_CLAY,
    cote_konrad_dry_conductivity_w_m_k,
)

WORDS = {"key", "label", "label_fr", "aliases", "place", "sources", "water_fraction"}

# What solids, layers and mixes can be at all: metals to foam, lead to felt, a film to a stone trough.
PLAUSIBLE = {
    "conductivity_w_m_k": (0.02, 200.0),
    "density_kg_m3": (10.0, 8000.0),
    "specific_heat_j_kg_k": (350.0, 2500.0),
    "thickness_m": (0.0001, 0.1),
    "thickness_spread_m": (0.0001, 0.03),
    "emissivity": (0.2, 0.98),
    "solar_absorptance": (0.2, 0.97),
    "added_resistance_m2_k_w": (0.0, 0.2),
    "porosity": (0.5, 0.98),
    "dry_bulk_density_kg_m3": (80.0, 1400.0),
    "solids_heat_capacity_j_m3_k": (1e5, 1.3e6),
    "solids_conductivity_w_m_k": (0.15, 4.0),
    "dry_conductivity_w_m_k": (0.03, 0.25),
    "kersten_unfrozen": (0.5, 5.0),
    "kersten_frozen": (0.2, 2.0),
    "unfreezable_water_fraction": (0.0, 0.1),
    "wetter_below": (0.05, 0.5),
    "thermal_resistance_m2_k_w": (0.01, 1.0),
    "grams_m2": (10.0, 100.0),
    "longwave_transmittance": (0.0, 0.9),
    "light_transmittance": (0.0, 1.0),
    "wind_permeability": (0.0, 1.0),
    "minutes": (0.5, 15.0),
}


def _records() -> list[Wall | Mix | Cover]:
    catalogue = load_catalogue()
    return [*catalogue.walls.values(), *catalogue.mixes.values(), *catalogue.covers.values()]


@pytest.mark.parametrize("record", _records(), ids=lambda record: record.key)
def test_every_value_has_a_mark_and_a_source(record: Wall | Mix | Cover) -> None:
    """No value stands in a catalogue without saying where it comes from."""
    valued = {field.name for field in fields(record)} - WORDS
    if isinstance(record, Mix):
        valued |= {f"water_fraction {wetness.value}" for wetness in Wetness}

    assert set(record.sources) == valued
    for mark, citation in record.sources.values():
        assert isinstance(mark, Mark)
        assert len(citation) > 10


@pytest.mark.parametrize("record", _records(), ids=lambda record: record.key)
def test_every_number_is_plausible(record: Wall | Mix | Cover) -> None:
    """A slip of the decimal point in a data file is found."""
    for field in fields(record):
        value = getattr(record, field.name)
        if isinstance(value, float | int) and not isinstance(value, bool):
            low, high = PLAUSIBLE[field.name]
            assert low <= value <= high, field.name


@pytest.mark.parametrize("record", _records(), ids=lambda record: record.key)
def test_every_record_has_labels_in_both_languages(record: Wall | Mix | Cover) -> None:
    """English and French stand side by side."""
    assert record.label.strip()
    assert record.label_fr.strip()


@pytest.mark.parametrize(
    ("records", "names"),
    [(load_walls(), wall_names()), (load_mixes(), mix_names()), (load_covers(), cover_names())],
    ids=["walls", "mixes", "covers"],
)
def test_no_name_stands_for_two_things(records: dict[str, Wall], names: dict[str, str]) -> None:
    """Key, labels and other names of one entry are none of another's."""
    for key, record in records.items():
        for name in (key, record.label, record.label_fr, *record.aliases):
            assert names[folded(name)] == key


# DIN EN 12524:2000 and ASHRAE Fundamentals 2013 as tabulated; outside film 14.2 W/m2K, perfect contact
# inside. The printed U values have three figures, so 1 %.
U_VALUES_W_M2_K = {
    "terracotta": 11.9,
    "hdpe": 13.1,
    "wood": 4.46,
    "cedar": 3.42,
    "oak": 5.32,
    "galvanised steel": 14.2,
    "concrete": 11.7,
    "polystyrene": 1.58,
}


@pytest.mark.parametrize(("key", "expected"), U_VALUES_W_M2_K.items())
def test_walls_let_through_what_their_sources_say(key: str, expected: float) -> None:
    """Conduction of the usual wall and an outside film give the U value reckoned from the tables."""
    wall = load_walls()[key]

    u_value = 1.0 / (1.0 / 14.2 + wall.thickness_m / wall.conductivity_w_m_k + wall.added_resistance_m2_k_w)

    assert u_value == pytest.approx(expected, rel=0.01)


# The same materials in the tables of a heat-transfer library that typed them in from the standards.
TABLE_NAMES = {
    "terracotta": "Brick, fired clay, 1920 kg/m^3",
    "soft terracotta": "Brick, fired clay, 1600 kg/m^3",
    "frost-proof terracotta": "Tiles, clay",
    "glazed stoneware": "Tiles, ceramic or porcelain",
    "plastic": "Plastics, polypropylene",
    "hdpe": "Plastics, polyethylene / polythene, high density",
    "ldpe": "Plastics, polyethylene / polythene, low density",
    "pvc": "Plastics, Polyvinylchloride (PVC)",
    "fibreglass": "Plastics, polyester resin",
    "glass-filled plastic": "Plastics, polypropylene with 25% glass fibre",
    "wood": "Southern yellow pine",
    "cedar": "Western red cedar",
    "oak": "Oak",
    "larch": "Douglas fir/larch",
    "galvanised steel": "Metals, steel",
    "aluminium": "Metals, aluminium alloys",
    "concrete": "Concrete, Sand and gravel or stone aggregate concretes, 2240 kg/m^3",
    "light concrete": "Concrete, Expanded shale, clay, or slate; expanded slags; cinders; pumice; "
    "scoria; 1600 kg/m^3",
    "fibre cement": "Board, Fiber/cement, 1400 kg/m^3",
    "light fibre cement": "Board, Fiber/cement, 1000 kg/m^3",
    "stone": "Stone, sandstone (silica)",
    "granite": "Stone, granite",
    "limestone": "Stone, limestone, semi-hard",
    "felt": "Floor covering, underlay, felt",
    "polystyrene": "Expanded polystyrene, molded beads",
}


@pytest.mark.parametrize(("key", "name"), TABLE_NAMES.items())
def test_walls_agree_with_an_independent_copy_of_the_standards(key: str, name: str) -> None:
    """Conductivity, density and heat of each wall are those of an independent library."""
    from ht import insulation

    wall = load_walls()[key]

    assert wall.conductivity_w_m_k == pytest.approx(insulation.k_material(name), rel=1e-3)
    assert wall.density_kg_m3 == pytest.approx(insulation.rho_material(name), rel=1e-3)  # larch: 557.5 there
    assert wall.specific_heat_j_kg_k == pytest.approx(insulation.Cp_material(name), rel=1e-3)


def test_bubble_film_is_no_better_than_the_air_it_holds() -> None:
    """Bubble film stays at or below an unventilated air layer of its thickness, and two layers below 0.30."""
    # EN ISO 6946, from memory: 5, 7, 10, 15, 25 mm of air.
    air_layers = {0.005: 0.11, 0.007: 0.13, 0.010: 0.15, 0.015: 0.17, 0.025: 0.18}
    film = load_covers()["bubble film"]

    assert film.thermal_resistance_m2_k_w <= air_layers[film.thickness_m]
    assert 2 * film.thermal_resistance_m2_k_w <= 0.30


@pytest.mark.parametrize("mix", load_mixes().values(), ids=lambda mix: mix.key)
def test_water_fits_into_the_pores(mix: Mix) -> None:
    """Dry holds less than moist, moist less than wet, and wet leaves some air."""
    water = mix.water_fraction

    assert mix.unfreezable_water_fraction < water["dry"] < water["moist"] < water["wet"] < mix.porosity


def test_peat_stores_the_heat_that_the_textbook_prints() -> None:
    """Dry peat mix stores about 0.25 MJ/m3K, and 2.13 with 0.45 m3/m3 of water."""
    # Moene & van Dam 2014, table 2.2: peat of pore volume 0.9, theta 0 and 0.45; two and three figures.
    mix = load_mixes()["multi-purpose"]

    assert mix.solids_heat_capacity_j_m3_k == pytest.approx(0.25e6, rel=0.05)
    assert mix.solids_heat_capacity_j_m3_k + 0.45 * 4.18e6 == pytest.approx(2.13e6, rel=0.03)


def test_heavier_fleece_holds_more_and_lets_less_through() -> None:
    """With its weight, fleece gains resistance and loses light, sky and wind."""
    light, middle, heavy = (load_covers()[key] for key in ("fleece 17", "fleece 30", "fleece 50"))

    for lighter, heavier in ((light, middle), (middle, heavy)):
        assert lighter.grams_m2 < heavier.grams_m2  # type: ignore[operator]  # fleeces have a weight
        assert lighter.thermal_resistance_m2_k_w < heavier.thermal_resistance_m2_k_w
        assert lighter.light_transmittance > heavier.light_transmittance
        assert lighter.longwave_transmittance > heavier.longwave_transmittance
        assert lighter.wind_permeability > heavier.wind_permeability


def test_covers_know_where_they_go() -> None:
    """There is something for the plant, the pot and the mix."""
    assert {cover.place for cover in load_covers().values()} == set(CoverPlace)


def test_every_mix_and_wall_that_gardeners_name_is_there() -> None:
    """The four main mixes and two more, and walls from clay to foam, are in the catalogue."""
    assert set(load_mixes()) == {
        "seed and cutting",
        "multi-purpose",
        "soil-based",
        "ericaceous",
        "gritty",
        "bark-based",
    }
    for name in (
        "clay tile",
        "terre cuite",
        "Polypropylene",
        "double-walled",
        "foam planter",
        "felt bag",
        "béton",
    ):
        assert by_name(name, wall_names()) in load_walls(), name


def test_records_cannot_be_changed() -> None:
    """What one caller gets from the catalogue, another cannot have changed."""
    with pytest.raises(TypeError):
        load_walls()["terracotta"] = None  # type: ignore[index]  # that is the point
    with pytest.raises(TypeError):
        load_mixes()["gritty"].water_fraction["wet"] = 0.9  # type: ignore[index]  # that is the point


def test_mixes_conduct_by_the_texture_that_they_are_marked_with():
    """The catalogue's dry conductivities and Kersten constants are those of Cote and Konrad 2005 for their textures."""
    textures = {"soil-based": SILT_AND_CLAY, "gritty": GRAVEL}
    for name, mix in load_mixes().items():
        texture = textures.get(name, PEAT)
        assert (mix.kersten_unfrozen, mix.kersten_frozen) == (texture.kersten_unfrozen, texture.kersten_frozen)
        dry = PEAT if texture is PEAT else SAND  # gravel's dry set is for crushed rock
        assert mix.dry_conductivity_w_m_k == pytest.approx(
            float(cote_konrad_dry_conductivity_w_m_k(mix.porosity, dry)), abs=1e-4
        )


def test_a_double_wall_is_worth_no_more_than_the_best_closed_air():
    """What a wall adds by the air it holds stays below the standard's best upright layer."""
    # EN ISO 6946:2007, table 2, horizontal heat flow, 25 mm and more (from memory)
    assert max(wall.added_resistance_m2_k_w for wall in load_walls().values()) <= 0.18
