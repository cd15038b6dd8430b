"""What is in the shed and how much floor is free, and what is left after each job has taken its share."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TypeVar

import numpy as np

from frostguard.garden.catalogue import Catalogue
from frostguard.garden.model import CoverPiece, CoverPlace, Garden, Stock

Key = TypeVar("Key")
Amount = TypeVar("Amount", int, float)

OVERLAP = 1.15
"""Overlap of a cover laid round a plant or a pot; common practice."""

HOOD_LENGTH_TO_WIDTH = 1.5
"""Of fleece hoods as sold, where the file gives only a width; common practice."""

WRAP_LAYERS = {"bubble film": 2}
"""Layers of a wrap where one is not usual; common practice."""


@dataclass(frozen=True, slots=True)
class Needs:
    """What a job takes: pieces by (material, piece), area by (material, piece), litres, feet, floor."""

    pieces: tuple[tuple[tuple[str, str], int], ...] = ()
    area_m2: tuple[tuple[tuple[str, str], float], ...] = ()
    mulch_litres: float = 0.0
    pot_feet: int = 0
    floor: tuple[tuple[str, float], ...] = ()

    @staticmethod
    def total(needs: Iterable[Needs]) -> Needs:
        """Several needs as one."""
        listed = tuple(needs)
        return Needs(
            pieces=tuple(pair for need in listed for pair in need.pieces),
            area_m2=tuple(pair for need in listed for pair in need.area_m2),
            mulch_litres=sum(need.mulch_litres for need in listed),
            pot_feet=sum(need.pot_feet for need in listed),
            floor=tuple(pair for need in listed for pair in need.floor),
        )


@dataclass(frozen=True, slots=True)
class Supplies:
    """What is left. `sizes` gives width and length of the largest piece of a kind [m]."""

    catalogue: Catalogue
    pieces: Mapping[tuple[str, str], int]
    area_m2: Mapping[tuple[str, str], float]
    sizes: Mapping[tuple[str, str], tuple[float, float]]
    mulch_litres: Mapping[str, float]
    pot_feet: int
    floor_m2: Mapping[str, float] = field(default_factory=dict)

    def can_give(self, needs: Needs) -> bool:
        """Whether everything needed is still there."""
        return (
            all(self.pieces.get(key, 0) >= count for key, count in _summed(needs.pieces).items())
            and all(self.area_m2.get(key, 0.0) >= area for key, area in _summed(needs.area_m2).items())
            and max(self.mulch_litres.values(), default=0.0) >= needs.mulch_litres
            and self.pot_feet >= needs.pot_feet
            and all(self.floor_m2.get(spot, 0.0) >= area for spot, area in _summed(needs.floor).items())
        )

    def without(self, needs: Needs) -> Supplies:
        """What is left after these needs are met."""
        fullest = max(self.mulch_litres, key=lambda key: self.mulch_litres[key], default=None)
        mulch = dict(self.mulch_litres)
        if fullest is not None:
            mulch[fullest] -= needs.mulch_litres
        return replace(
            self,
            pieces=_less(self.pieces, needs.pieces),
            area_m2=_less(self.area_m2, needs.area_m2),
            mulch_litres=mulch,
            pot_feet=self.pot_feet - needs.pot_feet,
            floor_m2=_less(self.floor_m2, needs.floor),
        )

    def cover_for_plant(
        self, width_m: float, height_m: float, spot: str, pieces: int
    ) -> tuple[str, str, Needs] | None:
        """The warmest cover at hand that goes over a plant: a hood that fits, else part of a sheet."""
        del spot
        kinds = [key for key in self.sizes if self.catalogue.covers[key[0]].place is CoverPlace.PLANT]
        kinds.sort(key=lambda key: (self.catalogue.covers[key[0]].longwave_transmittance, key[1] != "hood"))
        for key in kinds:
            width, length = self.sizes[key]
            if key[1] == "sheet":
                # round the plant with a gathered top, down to the rim
                wanted = pieces * (
                    OVERLAP * np.pi * width_m * (height_m + 0.3) + 1.3 * np.pi * width_m**2 / 4.0
                )
                if self.area_m2.get(key, 0.0) >= wanted:
                    return key[0], key[1], Needs(area_m2=((key, float(wanted)),))
            elif 2.0 * width >= np.pi * width_m and length >= height_m and self.pieces.get(key, 0) >= pieces:
                return key[0], key[1], Needs(pieces=((key, pieces),))
        return None

    def cover_for_pot(
        self, diameter_m: float, height_m: float, count: int
    ) -> tuple[str, str, int, Needs] | None:
        """The warmest wrap of which enough is left, with its layers."""
        kinds = [key for key in self.area_m2 if self.catalogue.covers[key[0]].place is CoverPlace.POT]
        kinds.sort(key=lambda key: -self._wrap_resistance(key[0]))
        for key in kinds:
            layers = WRAP_LAYERS.get(key[0], 1)
            area = OVERLAP * np.pi * diameter_m * height_m * layers * count
            if self.area_m2[key] >= area:
                return key[0], key[1], layers, Needs(area_m2=((key, float(area)),))
        return None

    def _wrap_resistance(self, material: str) -> float:
        return self.catalogue.covers[material].thermal_resistance_m2_k_w * WRAP_LAYERS.get(material, 1)

    def mulch_for(self, litres: float) -> str | None:
        """A mulch of which that much is left."""
        enough = [key for key, left in self.mulch_litres.items() if left >= litres]
        return enough[0] if enough else None


USUAL = Stock(
    covers=(
        CoverPiece("fleece 30", "hood", 1.2, 1.8, None, 10),
        CoverPiece("bubble film", "roll", 1.0, 10.0, None, 1),
        CoverPiece("bark mulch", "bag", None, None, 50.0, 1),
    ),
    clips=20,
    pot_feet=0,
    stated=False,
)
"""What a garden centre sells any day, for a garden file that does not say what is in the shed; estimate."""


def supplies_of(garden: Garden, catalogue: Catalogue) -> Supplies:
    """Everything in the shed, and the free floor of each spot."""
    stock = garden.stock if garden.stock.stated else USUAL
    pieces: dict[tuple[str, str], int] = {}
    area: dict[tuple[str, str], float] = {}
    sizes: dict[tuple[str, str], tuple[float, float]] = {}
    mulch: dict[str, float] = {}
    for cover in stock.covers:
        key = (cover.material, cover.piece)
        if catalogue.covers[cover.material].place is CoverPlace.MIX:
            mulch[cover.material] = mulch.get(cover.material, 0.0) + (cover.litres or 0.0) * cover.count
            continue
        width = cover.width_m or 0.0
        length = cover.length_m or (HOOD_LENGTH_TO_WIDTH * width if cover.piece == "hood" else 0.0)
        pieces[key] = pieces.get(key, 0) + cover.count
        area[key] = area.get(key, 0.0) + width * length * cover.count
        sizes[key] = max(sizes.get(key, (0.0, 0.0)), (width, length))
    floor = {spot.name: spot.free_floor_m2 or 0.0 for spot in garden.spots}
    return Supplies(catalogue, pieces, area, sizes, mulch, stock.pot_feet, floor)


def _summed(pairs: Iterable[tuple[Key, float]]) -> dict[Key, float]:
    total: dict[Key, float] = {}
    for key, amount in pairs:
        total[key] = total.get(key, 0.0) + amount
    return total


def _less(stock: Mapping[Key, Amount], needs: Iterable[tuple[Key, Amount]]) -> dict[Key, Amount]:
    left = dict(stock)
    for key, amount in needs:
        left[key] = left[key] - amount
    return left
