"""What is in the shed and how much floor is free, and what is left after each job has taken its share."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TypeVar

import numpy as np

from frostguard.advice.plan import COUNTED, CoverUse
from frostguard.garden.catalogue import Catalogue
from frostguard.garden.model import CoverPiece, CoverPlace, Garden, Stock

Key = TypeVar("Key")
Amount = TypeVar("Amount", int, float)

OVERLAP = 1.15
"""Overlap of a cover laid round a plant or a pot; common practice."""

HOOD_LENGTH_TO_WIDTH = 1.5
"""Of fleece hoods as sold, where the file gives only a width; common practice."""

ROUNDING = 1e-9
"""What sums of areas, litres and minutes may be off by: three times 0.1 m2 fit on 0.3 m2."""

WRAP_LAYERS = {"bubble film": 2, "jute bandage": 2}
"""Layers of a wrap where one is not usual; common practice."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One sheet, roll, mat or board: what is left of it [m2], and the spot that has begun it."""

    material: str
    piece: str
    whole_m2: float
    left_m2: float
    spot: str | None = None
    width_m: float | None = None
    length_m: float | None = None

    def serves(self, material: str, spot: str | None) -> bool:
        """Whether it is of that material, and not spread at another spot; `spot` is None for what is cut off."""
        return self.material == material and (spot is None or self.spot in (None, spot))

    def share(self, area_m2: float) -> CoverUse:
        """The piece as a job uses it: the share that the area takes."""
        return CoverUse(self.material, self.piece, area_m2 / self.whole_m2, self.width_m, self.length_m)


@dataclass(frozen=True, slots=True)
class Hood:
    """A kind of hood, or of sleeve for stems: its material, width and length, laid flat [m]."""

    material: str
    width_m: float
    length_m: float

    def fits(self, width_m: float, height_m: float) -> bool:
        """Whether it goes round and over a plant, or round a stem of that width and length."""
        return 2.0 * self.width_m >= np.pi * width_m and self.length_m >= height_m


@dataclass(frozen=True, slots=True)
class Needs:
    """What a job takes: hoods by kind, area cut or spread at a spot, litres, feet, floor."""

    hoods: tuple[tuple[Hood, int], ...] = ()
    area_m2: tuple[tuple[str, float], ...] = ()  # of a material
    spot: str | None = None
    mulch_litres: tuple[tuple[str, float], ...] = ()  # of a material
    pot_feet: int = 0
    crates: int = 0
    floor: tuple[tuple[str, float], ...] = ()

    @staticmethod
    def total(needs: Iterable[Needs]) -> Needs:
        """Several needs of one pot as one."""
        listed = tuple(needs)
        return Needs(
            hoods=tuple(pair for need in listed for pair in need.hoods),
            area_m2=tuple(pair for need in listed for pair in need.area_m2),
            spot=next((need.spot for need in listed if need.spot is not None), None),
            mulch_litres=tuple(pair for need in listed for pair in need.mulch_litres),
            pot_feet=sum(need.pot_feet for need in listed),
            crates=sum(need.crates for need in listed),
            floor=tuple(pair for need in listed for pair in need.floor),
        )

    def times(self, count: int) -> Needs:
        """The same for so many pots alike."""
        return Needs(
            hoods=tuple((hood, needed * count) for hood, needed in self.hoods),
            area_m2=tuple((material, area * count) for material, area in self.area_m2),
            spot=self.spot,
            mulch_litres=tuple((material, litres * count) for material, litres in self.mulch_litres),
            pot_feet=self.pot_feet * count,
            crates=self.crates * count,
            floor=tuple((spot, area * count) for spot, area in self.floor),
        )

    def areas(self) -> dict[str, float]:
        """Square metres of each material, each to come from one piece."""
        return _summed(self.area_m2)


@dataclass(frozen=True, slots=True)
class Cut:
    """A cover chosen for a plant or pot: what it is, how much of one piece it takes, and the needs."""

    use: CoverUse
    layers: int
    needs: Needs

    @property
    def material(self) -> str:
        """Its key in the catalogue."""
        return self.use.material


@dataclass(frozen=True, slots=True)
class Supplies:
    """What is left in the shed, and of the free floor."""

    catalogue: Catalogue
    hoods: Mapping[Hood, int]
    pieces: tuple[Piece, ...]
    mulch_litres: Mapping[str, float]
    pot_feet: int
    floor_m2: Mapping[str, float] = field(default_factory=dict)
    crates: int = 0

    def can_give(self, needs: Needs) -> bool:
        """Whether everything needed is still there."""
        return (
            all(self.hoods.get(hood, 0) >= count for hood, count in _summed(needs.hoods).items())
            and all(
                self._piece_for(material, area, needs.spot) is not None
                for material, area in needs.areas().items()
            )
            and all(
                self.mulch_litres.get(material, 0.0) >= litres - ROUNDING
                for material, litres in _summed(needs.mulch_litres).items()
            )
            and self.pot_feet >= needs.pot_feet
            and self.crates >= needs.crates
            and all(self.floor_m2.get(spot, 0.0) >= area - ROUNDING for spot, area in _summed(needs.floor).items())
        )

    def without(self, needs: Needs) -> Supplies:
        """What is left after these needs are met."""
        pieces = list(self.pieces)
        for material, area in needs.areas().items():
            used = self._piece_for(material, area, needs.spot)
            assert used is not None, "asked only after can_give"
            spot = needs.spot if self.is_spread(material) else None
            pieces[pieces.index(used)] = replace(used, left_m2=used.left_m2 - area, spot=spot)
        return replace(
            self,
            hoods=_less(self.hoods, needs.hoods),
            pieces=tuple(pieces),
            mulch_litres=_less(self.mulch_litres, needs.mulch_litres),
            pot_feet=self.pot_feet - needs.pot_feet,
            crates=self.crates - needs.crates,
            floor_m2=_less(self.floor_m2, needs.floor),
        )

    def is_spread(self, material: str) -> bool:
        """Whether a piece of it is spread over plants, so that it serves a single spot, and not cut up."""
        return self.catalogue.covers[material].place is CoverPlace.PLANT

    def _piece_for(self, material: str, area_m2: float, spot: str | None) -> Piece | None:
        """The most used piece with enough left; a sheet spread at one spot serves no other."""
        fitting = [
            piece
            for piece in self.pieces
            if piece.serves(material, spot) and piece.left_m2 >= area_m2 - ROUNDING
        ]
        return min(fitting, key=lambda piece: piece.left_m2, default=None)

    def covers_for_plant(
        self, width_m: float, height_m: float, spot: str, layers: int, count: int
    ) -> tuple[Cut, ...]:
        """All covers at hand that go over `count` plants, the warmest first, small hoods before large, then sheets."""
        cuts = [
            cut
            for material in self._materials(CoverPlace.PLANT)
            for cut in (
                *self._hoods(material, width_m, height_m, layers, count),
                self._sheet(material, width_m, height_m, spot, layers, count),
            )
            if cut is not None
        ]
        return tuple(sorted(cuts, key=lambda cut: self.catalogue.covers[cut.material].longwave_transmittance))

    def _hoods(self, material: str, width_m: float, height_m: float, layers: int, count: int) -> list[Cut]:
        wanted = layers * count
        fitting = [
            hood
            for hood, left in self.hoods.items()
            if hood.material == material and left >= wanted and hood.fits(width_m, height_m)
        ]
        return [
            Cut(
                CoverUse(material, "hood", wanted, hood.width_m, hood.length_m), layers, Needs(hoods=((hood, wanted),))
            )
            for hood in sorted(fitting, key=lambda hood: hood.width_m * hood.length_m)
        ]

    def _sheet(self, material: str, width_m: float, height_m: float, spot: str, layers: int, count: int) -> Cut | None:
        # round the plant with a gathered top, down to the rim
        one = OVERLAP * np.pi * width_m * (height_m + 0.3) + 1.3 * np.pi * width_m**2 / 4.0
        area = float(layers * count * one)
        piece = self._piece_for(material, area, spot)
        if piece is None:
            return None
        needs = Needs(area_m2=((material, area),), spot=spot)
        return Cut(piece.share(area), layers, needs)

    def covers_for_pot(self, diameter_m: float, height_m: float, count: int) -> tuple[Cut, ...]:
        """All wraps of which enough is left, the warmest first."""
        cuts = []
        for material in self._materials(CoverPlace.POT):
            layers = WRAP_LAYERS.get(material, 1)
            area = float(OVERLAP * np.pi * diameter_m * height_m * layers * count)
            piece = self._piece_for(material, area, None)
            if piece is not None:
                needs = Needs(area_m2=((material, area),))
                cuts.append(Cut(piece.share(area), layers, needs))
        return tuple(
            sorted(
                cuts, key=lambda cut: -self.catalogue.covers[cut.material].thermal_resistance_m2_k_w * cut.layers
            )
        )

    def covers_for_stem(self, thickness_m: float, length_m: float, count: int) -> tuple[Cut, ...]:
        """All sleeves and bandages of which enough is left for so many stems, the warmest first."""
        cuts = []
        for material in self._materials(CoverPlace.STEM):
            layers = WRAP_LAYERS.get(material, 1)
            cuts += [
                replace(cut, use=replace(cut.use, piece="sleeve"))
                for cut in self._hoods(material, thickness_m, length_m, 1, count)
            ]
            area = float(OVERLAP * np.pi * thickness_m * length_m * layers * count)
            piece = self._piece_for(material, area, None)
            if piece is not None:
                cuts.append(Cut(piece.share(area), layers, Needs(area_m2=((material, area),))))
        return tuple(
            sorted(
                cuts, key=lambda cut: -self.catalogue.covers[cut.material].thermal_resistance_m2_k_w * cut.layers
            )
        )

    def _materials(self, place: CoverPlace) -> list[str]:
        at_hand = dict.fromkeys([*(hood.material for hood in self.hoods), *(piece.material for piece in self.pieces)])
        return [material for material in at_hand if self.catalogue.covers[material].place is place]

    def mulches_for(self, litres: float) -> list[str]:
        """Kinds of mulch of which there is enough, that of which most is left first."""
        enough = [material for material, left in self.mulch_litres.items() if left >= litres - ROUNDING]
        return sorted(enough, key=lambda material: -self.mulch_litres[material])


USUAL = Stock(
    covers=(
        CoverPiece("fleece 30", "hood", 1.2, 1.8, None, 10),
        CoverPiece("bubble film", "roll", 1.0, 10.0, None, 1),
        CoverPiece("bark mulch", "bag", None, None, 50.0, 1),
        CoverPiece("jute bandage", "roll", 0.12, 25.0, None, 1),
    ),
    pot_feet=0,
    stated=False,
)
"""What a garden centre sells any day, for a garden file that does not say what is in the shed; estimate."""


def piece_size_m(cover: CoverPiece) -> tuple[float | None, float | None]:
    """Width and length of one piece laid flat [m], a hood's length from its width where the file leaves it out."""
    if cover.piece == "hood" and cover.length_m is None and cover.width_m is not None:
        return cover.width_m, round(HOOD_LENGTH_TO_WIDTH * cover.width_m, 3)
    return cover.width_m, cover.length_m


def supplies_of(garden: Garden, catalogue: Catalogue) -> Supplies:
    """Everything in the shed, and the free floor of each spot."""
    stock = garden.stock if garden.stock.stated else USUAL
    hoods: dict[Hood, int] = {}
    pieces: list[Piece] = []
    mulch: dict[str, float] = {}
    for cover in stock.covers:
        material = cover.material
        if catalogue.covers[material].place is CoverPlace.MIX:
            mulch[material] = mulch.get(material, 0.0) + (cover.litres or 0.0) * cover.count
        elif cover.piece in COUNTED:
            width, length = piece_size_m(cover)
            hood = Hood(material, width or 0.0, length or 0.0)
            hoods[hood] = hoods.get(hood, 0) + cover.count
        else:
            width, length = piece_size_m(cover)
            area = (width or 0.0) * (length or 0.0)
            pieces += [Piece(material, cover.piece, area, area, None, width, length)] * cover.count
    floor = {spot.name: spot.free_floor_m2 or 0.0 for spot in garden.spots}
    return Supplies(catalogue, hoods, tuple(pieces), mulch, stock.pot_feet, floor, stock.crates)


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
