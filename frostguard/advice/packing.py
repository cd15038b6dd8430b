"""Which piece each cut comes from: every cut from one that has enough left, a sheet spread at one spot only."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from frostguard.advice.supplies import ROUNDING, Needs, Piece, Supplies

MOST_TRIES = 5000
"""Cuts that are tried on pieces before a packing is given up, a hundredth of a second; the first tries are by the
rule of thumb, which is nearly always right."""


@dataclass(frozen=True, slots=True)
class Packed:
    """By need and material the piece as it was at first, and what is left of all pieces."""

    pieces: tuple[Mapping[str, Piece], ...]
    left: tuple[Piece, ...]


@dataclass(frozen=True, slots=True)
class _Cut:
    need: int
    material: str
    area_m2: float
    spot: str | None  # where it is spread; None for what is cut off a roll


def packed(needs: Sequence[Needs], supplies: Supplies, tries: int = MOST_TRIES) -> Packed | None:
    """All areas that these needs ask for, each cut from one piece; None where no way was found.

    Parameters
    ----------
    needs : sequence of Needs
        Their other wants are left aside.
    supplies : Supplies
        The pieces.
    tries : int
        1 for the rule of thumb alone: the large cuts first, each from the fullest used piece that has enough left.
    """
    found: dict[tuple[int, str], int] = {}
    left = list(supplies.pieces)
    for cuts in _by_material(needs, supplies):
        chosen = _search(cuts, left, tries)
        if chosen is None:
            return None
        for cut, number in zip(cuts, chosen, strict=True):
            found[cut.need, cut.material] = number
            left[number] = replace(left[number], left_m2=left[number].left_m2 - cut.area_m2, spot=cut.spot)
    pieces = tuple(
        {material: supplies.pieces[found[position, material]] for material in need.areas()}
        for position, need in enumerate(needs)
    )
    return Packed(pieces, tuple(left))


def _by_material(needs: Sequence[Needs], supplies: Supplies) -> Iterator[list[_Cut]]:
    """The cuts of each material, which have nothing to do with those of another: the large ones first."""
    cuts: dict[str, list[_Cut]] = {}
    for position, need in enumerate(needs):
        for material, area in need.areas().items():
            spot = need.spot if supplies.is_spread(material) else None
            cuts.setdefault(material, []).append(_Cut(position, material, area, spot))
    for of_one in cuts.values():
        yield sorted(of_one, key=lambda cut: -cut.area_m2)


def _search(cuts: Sequence[_Cut], pieces: Sequence[Piece], tries: int) -> list[int] | None:
    """For each cut the number of its piece, by going back where the rule of thumb ends in nothing."""
    if sum(cut.area_m2 for cut in cuts) > sum(one.left_m2 for one in pieces if one.material == cuts[0].material) + 1e-6:
        return None
    before = [list(pieces)]  # the pieces as each cut finds them
    ways = [_ways(cuts[0], before[0])]
    chosen: list[int] = []
    for _ in range(max(tries, len(cuts))):
        if not ways[-1]:
            if tries == 1 or len(ways) == 1:
                return None
            ways.pop()
            before.pop()
            chosen.pop()
            continue
        number, cut = ways[-1].pop(0), cuts[len(chosen)]
        chosen.append(number)
        if len(chosen) == len(cuts):
            return chosen
        after = list(before[-1])
        after[number] = replace(after[number], left_m2=after[number].left_m2 - cut.area_m2, spot=cut.spot)
        before.append(after)
        ways.append(_ways(cuts[len(chosen)], after))
    return None


def _ways(cut: _Cut, pieces: Sequence[Piece]) -> list[int]:
    """Pieces with enough left, the most used first, of equal ones the first."""
    fitting: dict[Piece, int] = {}
    for number, piece in enumerate(pieces):
        if piece.serves(cut.material, cut.spot) and piece.left_m2 >= cut.area_m2 - ROUNDING:
            fitting.setdefault(piece, number)
    return [fitting[piece] for piece in sorted(fitting, key=lambda piece: piece.left_m2)]
