"""How a pot stands tonight, and the numbers that the physics needs for it.

A `Situation` is a pot with its place and everything put on or round it. A protection is a changed
copy of it; both are turned into the same arrays and simulated alike.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.layout import Side
from frostguard.advice.state import TerraceState
from frostguard.garden.catalogue import Catalogue, Cover
from frostguard.garden.model import BareStem, CoverPlace, Neighbours, Pot, Shape, Wetness
from frostguard.physics.envelope import PotSurfaces
from frostguard.physics.microclimate import SpotClimate
from frostguard.physics.plant_cover import CanopyCover, canopy_cover, hooded_top
from frostguard.physics.radiation import (
    NEIGHBOUR_SHARE_ALONE,
    NEIGHBOUR_SHARE_GROUP,
    NEIGHBOUR_SHARE_ROW,
    open_side_view_factors,
    side_view_factors,
)
from frostguard.physics.root_ball import RootBalls
from frostguard.physics.substrate import mix_properties, wetter_below
from frostguard.physics.wall import (
    annulus_heat_capacity_j_m2_k,
    annulus_resistance_m2_k_w,
    outer_area_ratio,
    sheet_resistance_m2_k_w,
    wet_fibre_conductivity_w_m_k,
)

Array = NDArray[np.float64]

MULCH_CONDUCTIVITY_W_M_K = 0.06
"""Loose bark, leaves or straw: straw thatch 0.07 W/m K (EN 12524), looser when laid by hand; estimate."""

CONTACT_RESISTANCE_M2_K_W = 0.03
"""Between a pot's bottom and an uneven floor, about 1 mm of air; estimate."""

BOARD_RESISTANCE_M2_K_W = 0.563
"""Polystyrene board of 20 mm at 0.0355 W/m K (EN 12524)."""

WRAP_EMISSIVITY = 0.9
WRAP_SOLAR_ABSORPTANCE = 0.5
"""Light plastic or jute; estimate."""

HOOD_WIND_QUANTILE = 0.75
"""Wind of the spot's hours at which a hood's worth for the mix under it is reckoned: rather windy, so that it
is not worth more than it is; estimate."""

SURFACE_WETNESS = {Wetness.DRY: 0.1, Wetness.MOIST: 0.3, Wetness.WET: 0.6}
"""Evaporation of the mix surface over that of open water; estimate."""

CLAY_WETNESS = 0.3
"""The same of the outside of unglazed clay round a moist mix; it falls with the water that is left. Estimate."""

FIBRE_CONDUCTIVITY_W_M_K = 0.15
"""Porous walls that conduct less when dry are mats of fibre, felt or coir, and as wet as the mix they hold."""

THICKEST_MAT_M = 0.05
"""What lies thicker round a pot, such as a crate of bark, is reckoned as damp at any time."""

FIBRE_POROSITY = 0.9
"""Felt and coir mats; from memory."""

SOAKED_MAT_WATER_FRACTION = 0.1
"""Water that a mat round a pot holds after rain once it has drained; estimate."""

SIDE_WIND = {Neighbours.ALONE: 1.0, Neighbours.ROW: 0.85, Neighbours.GROUP: 0.7, Neighbours.PACKED: 0.7}
"""Wind along the free side of a pot with neighbours over wind at the spot; estimate."""

PACKED_GAP_RESISTANCE_M2_K_W = 0.25
"""What leaves or straw in the gaps of a group add on all but the free side: 2 to 3 cm at 0.09 W/m K; estimate."""

NEIGHBOUR_SHARE = {
    Neighbours.ALONE: NEIGHBOUR_SHARE_ALONE,
    Neighbours.ROW: NEIGHBOUR_SHARE_ROW,
    Neighbours.GROUP: NEIGHBOUR_SHARE_GROUP,
    Neighbours.PACKED: NEIGHBOUR_SHARE_GROUP,
}


EDGE_OF_VIEW = 0.5
"""Share of what neighbours take of a pot's view that they take of its barest strip's; estimate."""


@dataclass(frozen=True, slots=True)
class Situation:
    """One pot, its place, and what is on and round it.

    `over_plant`, `round_pot` and `round_stem` are keys of the cover catalogue, one for each layer.
    """

    pot: Pot
    spot: str
    over_plant: tuple[str, ...]
    round_pot: tuple[str, ...]
    mulch_m: float
    feet: bool
    board: bool
    neighbours: Neighbours
    water_fraction: float
    side_resistance_m2_k_w: float = 0.0  # a wall that is not there, for "what if"
    wind_factor: float = 1.0
    conductivity_factor: float = 1.0
    covers_wet: bool = False
    round_stem: tuple[str, ...] = ()

    @property
    def bare_stems(self) -> tuple[BareStem, ...]:
        """The bare stems of its plants."""
        return tuple(one.bare_stem for one in self.pot.plantings if one.bare_stem is not None)

    @property
    def width_m(self) -> float:
        """Width of the widest plant."""
        return max(planting.width_m for planting in self.pot.plantings)

    @property
    def height_m(self) -> float:
        """Height of the tallest plant."""
        return max(planting.height_m for planting in self.pot.plantings)


def as_it_stands(
    pot: Pot,
    state: TerraceState,
    catalogue: Catalogue,
    *,
    water_fraction: float | None = None,
    covers_wet: bool = False,
) -> Situation:
    """The pot as the garden file and the logbook know it; as wet as the file says where it was not reckoned."""
    covers = state.covers_in_force.get(pot.id, pot.covers_on)
    by_place = {place: tuple(key for key in covers if catalogue.covers[key].place is place) for place in CoverPlace}
    mix = catalogue.mixes[pot.mix]
    tuned = state.tuned.pot(pot.id)
    water = mix.water_fraction[pot.wetness.value] if water_fraction is None else water_fraction
    loose = 0.05 if by_place[CoverPlace.MIX] else 0.0  # a usual depth, common practice
    return Situation(
        pot=pot,
        spot=pot.spot,
        over_plant=by_place[CoverPlace.PLANT],
        round_pot=by_place[CoverPlace.POT],
        mulch_m=max(pot.mulch_m, loose),
        feet=pot.feet,
        board=pot.board,
        neighbours=pot.neighbours,
        water_fraction=min(water * tuned.water_factor, mix.porosity),
        side_resistance_m2_k_w=tuned.side_resistance_m2_k_w,
        wind_factor=tuned.wind_factor,
        conductivity_factor=tuned.conductivity_factor,
        covers_wet=covers_wet,
        round_stem=by_place[CoverPlace.STEM],
    )


def root_balls_of(situations: Sequence[Situation], catalogue: Catalogue) -> RootBalls:
    """The root balls of these situations, arrays (n_situations,)."""
    walls = [catalogue.walls[situation.pot.wall] for situation in situations]
    mixes = [catalogue.mixes[situation.pot.mix] for situation in situations]
    radius = _column(situations, lambda s: s.pot.radius_m)
    thickness = _column(situations, lambda s: s.pot.wall_thickness_m)
    properties = mix_properties(
        porosity=np.array([mix.porosity for mix in mixes]),
        # the catalogue counts solids per m3 of mix, the physics per m3 of solids
        solids_heat_capacity_j_m3_k=np.array([mix.solids_heat_capacity_j_m3_k / (1.0 - mix.porosity) for mix in mixes]),
        solids_conductivity_w_m_k=np.array([mix.solids_conductivity_w_m_k for mix in mixes]),
        dry_conductivity_w_m_k=np.array([mix.dry_conductivity_w_m_k for mix in mixes]),
        kersten_unfrozen=np.array([mix.kersten_unfrozen for mix in mixes]),
        kersten_frozen=np.array([mix.kersten_frozen for mix in mixes]),
        unfreezable_water_fraction=np.array([mix.unfreezable_water_fraction for mix in mixes]),
        water_fraction=_column(situations, lambda s: s.water_fraction),
    )
    conduction = annulus_resistance_m2_k_w(
        radius, thickness, np.array([_wall_conductivity_w_m_k(one, catalogue) for one in situations])
    )
    added = np.array([wall.added_resistance_m2_k_w for wall in walls])
    what_if = _column(situations, lambda s: s.side_resistance_m2_k_w)
    conducts = _column(situations, lambda s: s.conductivity_factor)
    return RootBalls(
        radius_m=radius,
        height_m=_column(situations, lambda s: s.pot.height_m),
        wall_resistance_m2_k_w=np.maximum(conduction + added + what_if, 0.0),
        wall_heat_capacity_j_m2_k=annulus_heat_capacity_j_m2_k(
            radius,
            thickness,
            np.array([wall.density_kg_m3 for wall in walls]),
            np.array([wall.specific_heat_j_kg_k for wall in walls]),
        ),
        conductivity_unfrozen_w_m_k=conducts * properties.conductivity_unfrozen_w_m_k,
        conductivity_frozen_w_m_k=conducts * properties.conductivity_frozen_w_m_k,
        heat_capacity_unfrozen_j_m3_k=properties.heat_capacity_unfrozen_j_m3_k,
        heat_capacity_frozen_j_m3_k=properties.heat_capacity_frozen_j_m3_k,
        freezable_water_fraction=properties.freezable_water_fraction,
        freezing_start_c=properties.freezing_start_c,
        freezing_end_c=properties.freezing_end_c,
        wetter_below=wetter_below(
            _column(situations, lambda s: s.water_fraction),
            np.array([mix.water_fraction["wet"] for mix in mixes]),
            np.array([mix.porosity for mix in mixes]),
            np.array([mix.wetter_below for mix in mixes]),
        ),
    )


def surfaces_of(
    situations: Sequence[Situation], spots: Sequence[SpotClimate], side: Side, catalogue: Catalogue
) -> PotSurfaces:
    """The surfaces of these situations at their spots, arrays (n_situations,)."""
    rows = [_surfaces_row(situation, spot, side, catalogue) for situation, spot in zip(situations, spots, strict=True)]
    return PotSurfaces(**{name: np.array([row[name] for row in rows]) for name in rows[0]})


def _surfaces_row(situation: Situation, spot: SpotClimate, side: Side, catalogue: Catalogue) -> dict[str, float]:
    pot = situation.pot
    wall = catalogue.walls[pot.wall]
    wraps = [catalogue.covers[key] for key in situation.round_pot]
    return (
        {
            "outer_diameter_m": 2.0 * (pot.radius_m + pot.wall_thickness_m),
            "height_m": pot.height_m,
            "outer_area_ratio": float(outer_area_ratio(pot.radius_m, pot.wall_thickness_m)),
            "side_emissivity": WRAP_EMISSIVITY if wraps else wall.emissivity,
            "side_solar_absorptance": WRAP_SOLAR_ABSORPTANCE if wraps else wall.solar_absorptance,
            "side_wetness": CLAY_WETNESS * _supply(situation, catalogue) if wall.porous and not wraps else 0.0,
            "wrap_resistance_m2_k_w": float(
                sheet_resistance_m2_k_w(
                    pot.radius_m,
                    pot.radius_m + pot.wall_thickness_m,
                    sum(_wrap_m2_k_w(cover, soaked=situation.covers_wet) for cover in wraps)
                    + _gap_resistance(situation, side),
                )
            ),
        }
        | _side_views(situation, spot, side)
        | _top(situation, spot, catalogue)
        | _base_of(situation, spot, catalogue)
    )


def _gap_resistance(situation: Situation, side: Side) -> float:
    """Of what fills the gaps to the neighbours; the strip that faces outwards has none."""
    packed = situation.neighbours is Neighbours.PACKED and side is Side.MEAN
    return PACKED_GAP_RESISTANCE_M2_K_W if packed else 0.0


def _wall_conductivity_w_m_k(situation: Situation, catalogue: Catalogue) -> float:
    """Of the wall as it is: a bag of felt is as wet as its mix, and in the nights that matter that is ice."""
    wall, mix = catalogue.walls[situation.pot.wall], catalogue.mixes[situation.pot.mix]
    if not wall.porous or wall.conductivity_w_m_k > FIBRE_CONDUCTIVITY_W_M_K:
        return wall.conductivity_w_m_k
    water = FIBRE_POROSITY * min(situation.water_fraction / mix.porosity, 1.0)
    return float(wet_fibre_conductivity_w_m_k(wall.conductivity_w_m_k, FIBRE_POROSITY, water, frozen=True))


def _wrap_m2_k_w(cover: Cover, *, soaked: bool) -> float:
    """Resistance of one layer round a pot; a soaked mat holds ice in the nights that matter, film stays dry."""
    if not soaked or not cover.breathable or cover.thickness_m > THICKEST_MAT_M:
        return cover.thermal_resistance_m2_k_w
    dry = cover.thickness_m / cover.thermal_resistance_m2_k_w
    wet = wet_fibre_conductivity_w_m_k(dry, FIBRE_POROSITY, SOAKED_MAT_WATER_FRACTION, frozen=True)
    return float(cover.thickness_m / wet)


def sleeve_of(situation: Situation, catalogue: Catalogue) -> tuple[float, float]:
    """What is round the bare stems: resistance laid flat [m2 K/W] and thickness [m]; 0 for nothing."""
    layers = [catalogue.covers[key] for key in situation.round_stem]
    resistance = sum(_wrap_m2_k_w(cover, soaked=situation.covers_wet) for cover in layers)
    return resistance, sum(cover.thickness_m for cover in layers)


def _supply(situation: Situation, catalogue: Catalogue) -> float:
    """Share of what a moist mix gives off that this one still does, 0 when it is dry."""
    water = catalogue.mixes[situation.pot.mix].water_fraction
    return float(np.clip((situation.water_fraction - water["dry"]) / (water["moist"] - water["dry"]), 0.0, 1.0))


def _surface_wetness(situation: Situation, catalogue: Catalogue) -> float:
    """Evaporation of the mix surface over that of open water, between those of the three words."""
    water = catalogue.mixes[situation.pot.mix].water_fraction
    words = list(Wetness)
    known = [water[word.value] for word in words]
    return float(np.interp(situation.water_fraction, known, [SURFACE_WETNESS[word] for word in words]))


def _side_views(situation: Situation, spot: SpotClimate, side: Side) -> dict[str, float]:
    """What the exposed strip, or the whole side in the mean, meets."""
    share = NEIGHBOUR_SHARE[situation.neighbours]
    if side is Side.EXPOSED:
        views = open_side_view_factors(spot.sky_view, against_house_wall=spot.house_wall)
    else:
        views = side_view_factors(spot.sky_view, against_house_wall=spot.house_wall, neighbour_share=share)
    # even the barest strip of a pot in a group has neighbours at both edges of its view
    sky = views.sky * (1.0 - EDGE_OF_VIEW * share) if side is Side.EXPOSED else views.sky
    # below a hanging pot lies the street or the court, as warm as other surroundings
    hanging = spot.floor.open_below or situation.pot.shape is Shape.HANGING
    floor = 0.0 if hanging else views.floor
    return {
        "side_wind_factor": SIDE_WIND[situation.neighbours] * situation.wind_factor,
        "side_sky_view": sky,
        "side_floor_view": floor,
        "side_wall_view": views.house_wall,
        "side_surroundings_view": 1.0 - sky - floor - views.house_wall,
        "side_beam_share": 0.0 if side is Side.EXPOSED else 1.0 - share,
        "snow_reaches_from": 1.0 if side is Side.EXPOSED else 0.0,
    }


def _top(situation: Situation, spot: SpotClimate, catalogue: Catalogue) -> dict[str, float]:
    """The mix surface under canopy, mulch and hood."""
    pot = situation.pot
    in_leaf = any(planting.evergreen is not False for planting in pot.plantings)
    # stems and a bare crown shade about a quarter, a full one at most four fifths of the mix; estimate
    canopy = min(0.8, (situation.width_m / (2.0 * pot.radius_m)) ** 2 * 0.8) if in_leaf else 0.25
    wind_share, sky_share, sun_share, hood_resistance = _under_hood(situation, spot, catalogue)
    wetness = 0.0 if situation.mulch_m > 0.0 else _surface_wetness(situation, catalogue)
    return {
        # rim and stems break the wind over the mix by about a half; estimate
        "top_wind_factor": 0.5 * situation.wind_factor * SIDE_WIND[situation.neighbours] * wind_share,
        "top_sky_view": spot.sky_view * (1.0 - canopy) * sky_share,
        "top_sun_share": (1.0 - canopy) * sun_share,
        "top_resistance_m2_k_w": situation.mulch_m / MULCH_CONDUCTIVITY_W_M_K + hood_resistance,
        "top_wetness": wetness * wind_share,
    }


def _under_hood(situation: Situation, spot: SpotClimate, catalogue: Catalogue) -> tuple[float, float, float, float]:
    """Shares of wind, sky and sun that a cover over the plant lets through to the mix, and the resistance it adds."""
    hood = hood_over(situation, catalogue)
    if hood is None:
        return 1.0, 1.0, 1.0, 0.0
    wind = float(np.quantile(spot.hours.wind_speed_m_s, HOOD_WIND_QUANTILE))
    under = hooded_top(
        hood,
        wind_speed_m_s=wind,
        air_temperature_c=0.0,
        pressure_hpa=1013.25,
        cover_area_per_mix_area=_fabric_per_mix(situation),
    )
    return (
        float(under.wind_over_mix_m_s) / wind,
        under.sky_share,
        under.sun_share,
        float(under.added_resistance_m2_k_w),
    )


def hood_over(situation: Situation, catalogue: Catalogue) -> CanopyCover | None:
    """The cover over the plant, all its layers taken as the outermost one; None where there is none."""
    if not situation.over_plant:
        return None
    cover = catalogue.covers[situation.over_plant[-1]]
    return canopy_cover(
        longwave_transmittance=cover.longwave_transmittance,
        solar_transmittance=cover.light_transmittance,
        wind_permeability=cover.wind_permeability,
        thickness_m=cover.thickness_m,
        layers=len(situation.over_plant),
        wet=situation.covers_wet,
    )


def _fabric_per_mix(situation: Situation) -> float:
    """Fabric of a hood over the plant down to the rim, over the area of the mix; 1 at the least."""
    width, height = situation.width_m, situation.height_m
    fabric = np.pi * width * height + np.pi * width**2 / 4.0
    return max(float(fabric / (np.pi * situation.pot.radius_m**2)), 1.0)


def _base_of(situation: Situation, spot: SpotClimate, catalogue: Catalogue) -> dict[str, float]:
    """What lies between the mix's underside and the floor or the air below it."""
    pot = situation.pot
    wall = catalogue.walls[pot.wall]
    bottom = pot.wall_thickness_m / wall.conductivity_w_m_k + wall.added_resistance_m2_k_w
    if spot.floor.open_below or pot.shape in (Shape.HANGING, Shape.RAILING_BOX):
        return {"base_resistance_m2_k_w": bottom, "base_air_share": 1.0}
    board = BOARD_RESISTANCE_M2_K_W if situation.board else 0.0
    if situation.feet and not situation.board:
        return {"base_resistance_m2_k_w": bottom, "base_air_share": 0.4}  # wind under a pot; estimate
    deep = spot.floor.spreading_conductivity_w_m_k
    # a disc on deep ground spreads its heat over 4 k R (Carslaw and Jaeger 1959, sec. 8.2)
    spreading = 0.0 if deep is None else np.pi * pot.radius_m / (4.0 * deep)
    return {
        "base_resistance_m2_k_w": bottom + CONTACT_RESISTANCE_M2_K_W + board + spreading,
        "base_air_share": 0.0,
    }


def _column(situations: Sequence[Situation], value: Callable[[Situation], float]) -> Array:
    return np.array([value(situation) for situation in situations], dtype=np.float64)
