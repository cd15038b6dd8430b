"""From the size that a gardener gives to the cylinder of mix that is reckoned with.

Of a pot one knows litres, or what a tape measure says; the rest follows from the proportions usual in the
trade. A pot tapers, so its volume is that of a frustum; troughs and square pots become the cylinder with
the same ratio of side area to volume, since that ratio sets how fast the side cools the mix.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, pi

from frostguard.garden.model import Shape

RIM_M = 0.02
"""Mix ends this far below the rim, in a low pot a tenth of its height (common practice)."""

THICKEST_WALL = 0.1
"""A usual wall is no thicker than this share of the pot's width: small pots are made thinner (estimate)."""


@dataclass(frozen=True, slots=True)
class Proportions:
    """What pots of one shape have in common (common practice; tapers are estimates).

    `height_per_width` is height over width at the rim, `taper` width at the bottom over width at the
    rim. Round shapes have a diameter, the others a width and a length.
    """

    height_per_width: float
    taper: float
    round: bool
    needs_length: bool = False


PROPORTIONS = {
    Shape.ROUND: Proportions(1.0, 0.75, round=True),  # a standard pot is about as tall as wide
    Shape.PAN: Proportions(0.5, 0.8, round=True),  # a pan is half as tall
    Shape.HANGING: Proportions(0.6, 0.6, round=True),  # a basket is a bowl
    Shape.SQUARE: Proportions(1.0, 0.85, round=False),
    Shape.TROUGH: Proportions(1.0, 0.9, round=False, needs_length=True),  # a trough is as tall as deep
    Shape.RAILING_BOX: Proportions(1.0, 0.85, round=False, needs_length=True),
}


@dataclass(frozen=True, slots=True)
class Size:
    """A pot's inside at the rim [m] and its volume to the rim [m3].

    Round pots have the same `width_m` and `length_m`.
    """

    shape: Shape
    width_m: float
    length_m: float
    height_m: float
    volume_m3: float


@dataclass(frozen=True, slots=True)
class MixCylinder:
    """The cylinder of mix: radius and height [m]."""

    radius_m: float
    height_m: float


def size_from_volume(
    shape: Shape,
    volume_m3: float,
    *,
    width_m: float | None = None,
    length_m: float | None = None,
    height_m: float | None = None,
) -> Size:
    """The size of a pot of known volume; inner measures that are not given follow from the proportions.

    Parameters
    ----------
    shape : Shape
        Its proportions are used.
    volume_m3 : float
        To the rim [m3].
    width_m, length_m, height_m : float, optional
        Inner measures at the rim [m]; `length_m` counts only for shapes that have one, where it is
        needed for troughs and boxes. At most one of width and height may be given.

    Notes
    -----
    Volume = fullness x width x length x height, with the fullness of a frustum of that taper.
    """
    usual = PROPORTIONS[shape]
    base = volume_m3 / _fullness(usual)
    if length_m is None or usual.round:
        if width_m is None:
            width_m = (
                (base / height_m) ** 0.5
                if height_m is not None
                else (base / usual.height_per_width) ** (1 / 3)
            )
        length_m = width_m
        return Size(shape, width_m, length_m, base / width_m**2, volume_m3)
    if width_m is None:
        width_m = (
            base / (length_m * height_m)
            if height_m is not None
            else (base / (length_m * usual.height_per_width)) ** 0.5
        )
    return Size(shape, width_m, length_m, base / (width_m * length_m), volume_m3)


def size_from_measures(
    shape: Shape, width_m: float, length_m: float | None = None, height_m: float | None = None
) -> Size:
    """The size of a pot of known inner measures [m]; a height that is not given follows from the width."""
    usual = PROPORTIONS[shape]
    length = width_m if length_m is None or usual.round else length_m
    height = width_m * usual.height_per_width if height_m is None else height_m
    return Size(shape, width_m, length, height, _fullness(usual) * width_m * length * height)


def mix_cylinder(size: Size) -> MixCylinder:
    """The cylinder that stands for the mix in a pot: same height, same ratio of side area to volume.

    A cylinder's side area over its volume is 2 over its radius, so the radius is twice the mix's volume
    over its side area. Corners cool faster than this tells.
    """
    usual = PROPORTIONS[size.shape]
    height = size.height_m - min(RIM_M, 0.1 * size.height_m)
    # the taper is linear: width of the mix at its top, a little below the rim
    at_top = usual.taper + (1.0 - usual.taper) * height / size.height_m
    top = (size.width_m * at_top, size.length_m * at_top)
    bottom = (size.width_m * usual.taper, size.length_m * usual.taper)
    if usual.round:
        volume = pi / 12.0 * height * (top[0] ** 2 + top[0] * bottom[0] + bottom[0] ** 2)
        side = pi * (top[0] + bottom[0]) / 2.0 * hypot(height, (top[0] - bottom[0]) / 2.0)
    else:
        areas = (top[0] * top[1], bottom[0] * bottom[1])
        volume = height / 3.0 * (areas[0] + areas[1] + (areas[0] * areas[1]) ** 0.5)
        # two long sides, which lean by the difference in width, and two short ones
        side = (top[1] + bottom[1]) * hypot(height, (top[0] - bottom[0]) / 2.0)
        side += (top[0] + bottom[0]) * hypot(height, (top[1] - bottom[1]) / 2.0)
    return MixCylinder(2.0 * volume / side, height)


def floor_area_m2(size: Size, wall_thickness_m: float) -> float:
    """What the pot covers of the floor, by its outside at the rim [m2]."""
    width, length = size.width_m + 2.0 * wall_thickness_m, size.length_m + 2.0 * wall_thickness_m
    return (pi / 4.0 if PROPORTIONS[size.shape].round else 1.0) * width * length


def usual_wall_m(thickness_m: float, width_m: float) -> float:
    """The wall thickness of a pot of this width [m], from the usual one of its material."""
    return min(thickness_m, THICKEST_WALL * width_m)


def _fullness(usual: Proportions) -> float:
    """Volume over width x length x height of a frustum."""
    frustum = (1.0 + usual.taper + usual.taper**2) / 3.0
    return frustum * (pi / 4.0 if usual.round else 1.0)
