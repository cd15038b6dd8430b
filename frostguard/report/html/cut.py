"""A cut through a root ball: how cold it is where, where the frost stands, where the outer roots sit.

The left half is the side that is bare to wind and sky, the right half the mean of all sides, as the simulation has
them. Lines of equal temperature come from contourpy, straight between the centres of cells; between the outermost
centres and the faces the temperature is taken as that of the centre.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import cast
from xml.etree.ElementTree import Element

import numpy as np
from contourpy import FillType, LineType, contour_generator
from numpy.typing import NDArray

from frostguard.advice.pictures import Cut
from frostguard.garden.model import Pot
from frostguard.garden.settings import Units
from frostguard.report.html.colours import CUT_HALO, CUT_INK, CUT_LIMIT, step_colour
from frostguard.report.html.markup import node
from frostguard.report.html.scales import Tick, degree_ticks, line, thinned
from frostguard.report.words import say

Array = NDArray[np.float64]

_Outlines = tuple[list[Array], list[NDArray[np.uint32]]]
"""Points of each area, its holes after its rim, and where each of these begins."""

WIDTH, HEIGHT = 240.0, 236.0
MOST_WIDE, MOST_HIGH = 196.0, 152.0
"""Of the ball with its wall, in units of the picture."""

TOP = 48.0
"""Where the mix surface lies."""

GAP = 1.5
"""Between the axis and each half, so that two halves do not read as one."""

THINNED_BY = 0.35
"""Units that a thinned line may lie off: a fifteenth of a cell of the simulation at the wall of a usual pot."""

LABELS_APART = 15.0
MOST_LEVELS, FEW_LEVELS = 8, 5
"""Marks of temperature at the most, where there is room and where a page holds many pots."""

LEAST_WALL = 3.0


@dataclass(frozen=True, slots=True)
class _Half:
    """One half: its field on points that reach the faces, and the way to the picture."""

    radii_m: Array
    depths_m: Array
    field_c: Array
    unit_per_m: float
    direction: int  # -1 to the left, 1 to the right

    def places(self, points: Array) -> Array:
        """Picture coordinates of points (radius, depth), both of shape (n, 2), thinned by less than one can see."""
        across = WIDTH / 2 + self.direction * (GAP + points[:, 0] * self.unit_per_m)
        down = TOP + points[:, 1] * self.unit_per_m
        return thinned(np.stack([across, down], axis=1), THINNED_BY)


def cut_picture(
    cut: Cut, pot: Pot, young_root_limit_c: float | None, units: Units, title: str, *, sparse: bool = False
) -> Element:
    """The cut as a picture.

    Parameters
    ----------
    cut : Cut
        The simulated fields.
    pot : Pot
        For the thickness of its wall.
    young_root_limit_c : float or None
        The temperature that outer roots stand, drawn where it lies within the ball [degC].
    units : Units
        Of the figures on the lines.
    title : str
        What the picture shows, for those who cannot see it.
    sparse : bool
        Draw fewer lines, for a page with many pots.
    """
    radius, height = float(cut.radial_edges_m[-1]), float(cut.axial_edges_m[-1])
    unit = min(MOST_WIDE / (2.0 * (radius + pot.wall_thickness_m)), MOST_HIGH / (height + pot.wall_thickness_m))
    halves = (_half(cut, cut.exposed_c, unit, -1), _half(cut, cut.mean_c, unit, 1))
    fields = (cut.exposed_c, cut.mean_c)
    most = FEW_LEVELS if sparse else MOST_LEVELS
    ticks = degree_ticks(min(f.min() for f in fields), max(f.max() for f in fields), units, most=most)
    taken: list[tuple[float, float]] = []
    return node(
        "svg",
        node("title", title),
        _pot(radius, height, max(pot.wall_thickness_m * unit, LEAST_WALL), unit),
        *(part for half in halves for part in _steps(half, ticks)),
        *(part for half in halves for part in _lines(half, ticks, taken)),
        *(part for half in halves for part in _limit(half, young_root_limit_c)),
        *_outer_roots(cut, unit, height),
        *_names(height * unit),
        class_="cut",
        viewBox=f"0 0 {WIDTH:.0f} {HEIGHT:.0f}",
        role="img",
    )


def _half(cut: Cut, field_c: Array, unit_per_m: float, direction: int) -> _Half:
    radii = np.concatenate([[0.0], cut.radial_centres_m, cut.radial_edges_m[-1:]])
    depths = np.concatenate([[0.0], cut.axial_centres_m, cut.axial_edges_m[-1:]])
    return _Half(radii, depths, np.pad(field_c, 1, mode="edge"), unit_per_m, direction)


def _pot(radius_m: float, height_m: float, wall: float, unit: float) -> Element:
    """Wall and bottom, the floor under them, and a sprig for which way is up."""
    left, right, bottom = (
        WIDTH / 2 - GAP - radius_m * unit,
        WIDTH / 2 + GAP + radius_m * unit,
        TOP + height_m * unit,
    )
    outline = (
        f"M{left - wall:.1f} {TOP - 7:.1f}H{left:.1f}V{bottom:.1f}H{right:.1f}V{TOP - 7:.1f}H{right + wall:.1f}"
        f"V{bottom + wall:.1f}H{left - wall:.1f}z"
    )
    middle = WIDTH / 2
    sprig = (
        f"M{middle} {TOP}V16M{middle} 34q-15 0-19-14q15 0 19 14M{middle} 28q13-1 16-14q-13 1-16 14"
        f"M{middle} 18q-8-3-8-12q8 3 8 12"
    )
    floor = f"M12 {bottom + wall + 1:.1f}H{WIDTH - 12:.0f}"
    return node(
        "g",
        node("path", d=sprig, class_="sprig"),
        node("path", d=outline, class_="wall"),
        node("path", d=floor, class_="floor"),
    )


def _steps(half: _Half, ticks: list[Tick]) -> list[Element]:
    """Areas colder than each mark, painted over one another from the warmest down; their rims are the isotherms."""
    contours = contour_generator(half.radii_m, half.depths_m, half.field_c, fill_type=FillType.OuterOffset)
    frost = next((k for k, tick in enumerate(ticks) if tick.value_c >= 0.0), len(ticks))
    lowest = min(float(half.field_c.min()), ticks[0].value_c) - 1.0
    parts = []
    for k in range(len(ticks) - 1, 0, -1):
        polygons, offsets = cast("_Outlines", contours.filled(lowest, ticks[k].value_c))
        rings = [
            points[begins:ends]
            for points, breaks in zip(polygons, offsets, strict=True)
            for begins, ends in pairwise(breaks.tolist())
        ]
        path = "".join(line(*half.places(ring)[:-1].T, closed=True) for ring in rings)
        if path:
            parts.append(node("path", d=path, fill=step_colour(k - 1 - frost)))
    return [node("g", *parts, class_="steps")]


def _lines(half: _Half, ticks: list[Tick], taken: list[tuple[float, float]]) -> list[Element]:
    """The frost line, and figures on all lines of equal temperature."""
    parts, figures = [], []
    for tick in ticks:
        curves = [half.places(points) for points in _level(half, tick.value_c)]
        if not curves:
            continue
        if tick.value_c == 0.0:
            parts.append(node("path", d="".join(line(*curve.T) for curve in curves), class_="frost-line"))
        place = _free_place(max(curves, key=len), taken)
        if place is not None:
            taken.append(place)
            figures.append(node("text", tick.label, x=place[0], y=place[1] + 4.0))
    return [*parts, node("g", *figures, class_="figures")]


def _level(half: _Half, value_c: float) -> list[Array]:
    contours = contour_generator(half.radii_m, half.depths_m, half.field_c, line_type=LineType.Separate)
    return [np.asarray(points) for points in contours.lines(value_c)]


def _free_place(curve: Array, taken: list[tuple[float, float]]) -> tuple[float, float] | None:
    """The point of a curve nearest its middle where a figure covers no other one."""
    if np.ptp(curve, axis=0).max() < LABELS_APART:
        return None
    steps = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(curve, axis=0).T))])
    shares = sorted(np.linspace(0.05, 0.95, 19), key=lambda share: abs(share - 0.5))
    for share in shares:
        x, y = (float(np.interp(share * steps[-1], steps, curve[:, axis])) for axis in (0, 1))
        if all(abs(x - other_x) > LABELS_APART or abs(y - other_y) > LABELS_APART for other_x, other_y in taken):
            return x, y
    return None


def _limit(half: _Half, limit_c: float | None) -> list[Element]:
    if limit_c is None:
        return []
    path = "".join(line(*half.places(points).T) for points in _level(half, limit_c))
    return [node("path", d=path, class_="root-limit")] if path else []


def _outer_roots(cut: Cut, unit: float, height_m: float) -> list[Element]:
    """Where the outer centimetre begins, on both sides."""
    inner = (float(cut.radial_edges_m[-1]) - cut.ring_width_m) * unit
    bottom = TOP + height_m * unit
    lines = "".join(f"M{WIDTH / 2 + side * (GAP + inner):.1f} {TOP:.1f}V{bottom:.1f}" for side in (-1, 1))
    return [node("path", d=lines, class_="outer-roots")]


def _names(depth: float) -> list[Element]:
    y = min(TOP + depth + 24.0, HEIGHT - 6.0)
    return [
        node("text", say("barest side"), x=WIDTH / 2 - 12.0, y=y, class_="name", text_anchor="end"),
        node("text", say("all sides"), x=WIDTH / 2 + 12.0, y=y, class_="name"),
    ]


CUT_STYLE = (
    f".steps{{stroke:{CUT_INK};stroke-width:.7}}.frost-line{{stroke:{CUT_INK};stroke-width:2.6}}"
    f".root-limit{{stroke:{CUT_LIMIT};stroke-width:1.8;stroke-dasharray:7 2 1.5 2}}"
    f".outer-roots{{stroke:{CUT_INK};stroke-width:1.1;stroke-dasharray:1 3;stroke-linecap:round}}"
    f".figures{{fill:{CUT_INK};stroke:{CUT_HALO};text-anchor:middle}}"
)
"""Of what lies on the cut's own colours, which do not change in the dark."""
