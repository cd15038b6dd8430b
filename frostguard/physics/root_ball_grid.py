"""The cells of a root ball: edges that meet the ring borders, thin at the faces and growing inward."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from frostguard.physics.root_ball_inputs import FloatArray, Resolution, RootBalls

RING_WIDTH_M = 0.01
"""Rings are means over the outermost centimetre of the root ball."""

RING_HEIGHT_M = 0.02
"""Height of the top, middle and bottom ring, where the ball is high enough for all three."""

LARGEST_RING_SHARE = 0.3
"""Rings in shallow balls: this share of the height, which leaves room between them."""


@dataclass(frozen=True, slots=True)
class Grid:
    """Cells of n root balls; all arrays end in the series axis.

    `radial_edges_m` (nr + 1, n) from axis to wall and `axial_edges_m` (nz + 1, n) from the top down.
    A radial link is conductance per conductivity, radian and metre of height between neighbouring
    cells, an axial link the same per square metre. `cell_share` (nr, nz, n) is each cell's share
    of the volume, `held` (nz, n) the heat and water that a height holds over the mean of its ball.
    """

    radial_edges_m: FloatArray
    axial_edges_m: FloatArray
    radial_centres_m: FloatArray
    axial_centres_m: FloatArray
    half_annulus_m2: FloatArray  # cross-section of each annulus per radian
    thickness_m: FloatArray
    radial_link: FloatArray  # (nr - 1, n)
    axial_link_1_m: FloatArray  # (nz - 1, n)
    cell_share: FloatArray
    held: FloatArray


RADIAL_GROWTH, AXIAL_GROWTH = 2.3, 1.5
"""First cell inside a ring over the ring's own cells; the best of some thirty pairs tried on random pots."""


def growing_edges(length_m: FloatArray, first_m: FloatArray, count: int) -> FloatArray:
    """Edges, shape (count + 1, n), of cells whose widths grow evenly from about `first_m` over `length_m`."""
    step = np.arange(count + 1)[:, None] / count
    even = 1.0 / count
    # width_i = a/count + (1 - a)(2i + 1)/count^2: the first is first_m where that fits, else all are even
    if count == 1:
        return length_m * step
    slope = np.clip((first_m / length_m - even**2) / (even - even**2), 0.0, 1.0)
    return length_m * (slope * step + (1.0 - slope) * step**2)


def build_grid(root_balls: RootBalls, resolution: Resolution) -> Grid:
    """Grid of each root ball.

    Parameters
    ----------
    root_balls : RootBalls
    resolution : Resolution

    Returns
    -------
    Grid
        The same number of cells for each ball, whatever its size.
    """
    radial_edges = _radial_edges(root_balls.radius_m, resolution)
    axial_edges = _axial_edges(root_balls.height_m, resolution)
    squares = radial_edges**2
    radial_centres = np.sqrt(0.5 * (squares[1:] + squares[:-1]))
    axial_centres = 0.5 * (axial_edges[1:] + axial_edges[:-1])
    half_annulus = 0.5 * np.diff(squares, axis=0)
    thickness = np.diff(axial_edges, axis=0)
    annulus_share = half_annulus / (0.5 * root_balls.radius_m**2)
    share = annulus_share[:, None, :] * (thickness / root_balls.height_m)
    return Grid(
        radial_edges_m=radial_edges,
        axial_edges_m=axial_edges,
        radial_centres_m=radial_centres,
        axial_centres_m=axial_centres,
        half_annulus_m2=half_annulus,
        thickness_m=thickness,
        radial_link=_radial_links(radial_edges, radial_centres),
        axial_link_1_m=1.0 / np.diff(axial_centres, axis=0),
        cell_share=share,
        held=held_at(root_balls, axial_centres),
    )


def held_at(root_balls: RootBalls, depth_m: FloatArray) -> FloatArray:
    """Heat and water that the mix holds at depths of shape (..., n), over the mean of its ball."""
    held: FloatArray = 1.0 + root_balls.wetter_below * (2.0 * depth_m / root_balls.height_m - 1.0)
    return held


@dataclass(frozen=True, slots=True)
class Overlap:
    """The old cells that a new cell lies in, in any series, and the share of the new cell in each, (cells, n)."""

    cells: NDArray[np.intp]
    share: FloatArray


def overlaps(
    old_edges: FloatArray, new_edges: FloatArray, held: Callable[[FloatArray], FloatArray] | None = None
) -> list[Overlap]:
    """What each new cell shares with the old ones.

    Rising edges of shape (cells + 1, n), in a measure that volume is proportional to. With `held`, which changes
    evenly along it, the share of what the new cell holds.
    """
    found = []
    for low, high in pairwise(new_edges):
        cells = np.flatnonzero(((old_edges[:-1] < high) & (old_edges[1:] > low)).any(axis=1))
        begins, ends = np.maximum(old_edges[cells], low), np.minimum(old_edges[cells + 1], high)
        inside, whole = np.maximum(ends - begins, 0.0), high - low
        if held is not None:
            inside *= held(0.5 * (begins + ends))
            whole = whole * held(0.5 * (high + low))
        found.append(Overlap(cells, inside / whole))
    return found


def _radial_links(edges_m: FloatArray, centres_m: FloatArray) -> FloatArray:
    """Conductance between neighbouring annuli per conductivity, radian and metre of height.

    2 r^2/(difference of the squared centre radii) is exact for a profile in r^2, as it is round the axis;
    1/log(ratio of radii) is exact without storage, but a quarter out at the innermost face, and cost twice
    the error and half an order on the Bessel solution. In the thin cells near the wall they are the same.
    """
    return 2.0 * edges_m[1:-1] ** 2 / np.diff(centres_m**2, axis=0)


def _radial_edges(radius_m: FloatArray, resolution: Resolution) -> FloatArray:
    outer = np.linspace(0.0, 1.0, resolution.outer_cells + 1)[:, None] * RING_WIDTH_M
    first = np.full_like(radius_m, RADIAL_GROWTH * RING_WIDTH_M / resolution.outer_cells)
    inner = RING_WIDTH_M + growing_edges(radius_m - RING_WIDTH_M, first, resolution.inner_cells)
    inner[-1] = radius_m
    from_wall = np.concatenate([np.broadcast_to(outer, (len(outer), len(radius_m))), inner[1:]])
    edges: FloatArray = radius_m - from_wall[::-1]
    edges[0] = 0.0
    return edges


def _axial_edges(height_m: FloatArray, resolution: Resolution) -> FloatArray:
    ring = np.minimum(RING_HEIGHT_M, LARGEST_RING_SHARE * height_m)
    end = np.linspace(0.0, 1.0, resolution.end_cells + 1)[:, None] * ring
    gap = 0.5 * (height_m - 3.0 * ring)
    between = ring + growing_edges(gap, AXIAL_GROWTH * ring / resolution.end_cells, resolution.between_cells)
    half_middle = np.linspace(0.0, 1.0, resolution.middle_cells + 1)[:, None] * ring
    top = np.concatenate([end, between[1:]])
    middle = top[-1] + half_middle[1:]
    bottom = height_m - top[-2::-1]
    return np.concatenate([top, middle, bottom])
