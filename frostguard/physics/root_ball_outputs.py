"""What is read off a root ball at each whole hour: rings, mean, core, frozen share, temperatures at given depths."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from frostguard.physics.root_ball_freezing import FreezingLaw
from frostguard.physics.root_ball_grid import Grid
from frostguard.physics.root_ball_inputs import FloatArray, Resolution
from frostguard.physics.root_ball_sweeps import sum_rows

TOP, MIDDLE, BOTTOM, COLDEST, MEAN, CORE, FROZEN = range(7)
N_READINGS = 7
"""Rows of a reading; the depths follow."""


@dataclass(frozen=True, slots=True)
class Probe:
    """Where to read: cells and weights of n root balls."""

    outer: slice
    ring_rows: tuple[slice, slice, slice]
    middle_row: int
    annulus_share: FloatArray  # (outer cells, n)
    thickness_m: FloatArray
    cell_share: FloatArray  # (nr, nz, n)
    held: FloatArray  # (nz, n)
    row_above: NDArray[np.intp]  # (n_depths, n)
    weight_below: FloatArray  # (n_depths, n), NaN below the pot
    upright: Upright | None  # where the depths are read; the axis if None


@dataclass(frozen=True, slots=True)
class Upright:
    """An upright line in each of n root balls: the column of cells within it, and the weight of the next one."""

    inner: NDArray[np.intp]  # (n,)
    weight_outer: FloatArray  # (n,)

    def read(self, temperature_c: FloatArray) -> FloatArray:
        """Temperatures down the line, (nz, n) from (nr, nz, n)."""
        inner = np.take_along_axis(temperature_c, self.inner[None, None], axis=0)[0]
        outer = np.take_along_axis(temperature_c, self.inner[None, None] + 1, axis=0)[0]
        down: FloatArray = inner + self.weight_outer * (outer - inner)
        return down


def _upright_at(grid: Grid, off_wall_m: float) -> Upright:
    """The line so far within the wall, or the axis of a narrower ball; between cells in r^2, as heat flows there."""
    centres = grid.radial_centres_m**2
    at = np.maximum(grid.radial_edges_m[-1] - off_wall_m, 0.0) ** 2
    inner = np.clip((centres <= at).sum(axis=0) - 1, 0, len(centres) - 2)
    columns = np.arange(len(inner))
    nearer, farther = centres[inner, columns], centres[inner + 1, columns]
    return Upright(inner, np.clip((at - nearer) / (farther - nearer), 0.0, 1.0))


def build_probe(
    grid: Grid, resolution: Resolution, depths_m: Sequence[float], off_wall_m: float | None = None
) -> Probe:
    """Cells and weights for the rings and for the given depths below the mix surface."""
    nz = resolution.axial_cells
    outer = slice(resolution.inner_cells, resolution.radial_cells)
    end, between, middle = resolution.end_cells, resolution.between_cells, resolution.middle_cells
    rows = (slice(0, end), slice(end + between, end + between + middle), slice(nz - end, nz))
    annulus = grid.half_annulus_m2[outer]
    depths = np.asarray(depths_m, dtype=np.float64).reshape(-1, 1)
    centres = grid.axial_centres_m
    above = np.clip((centres[:, None, :] <= depths[None]).sum(axis=0) - 1, 0, nz - 2)
    upper = np.take_along_axis(centres, above, axis=0)
    lower = np.take_along_axis(centres, above + 1, axis=0)
    weight = np.clip((depths - upper) / (lower - upper), 0.0, 1.0)
    inside = (depths >= 0.0) & (depths <= grid.axial_edges_m[-1] * (1.0 + 1e-12))
    return Probe(
        outer=outer,
        ring_rows=rows,
        middle_row=nz // 2,
        annulus_share=annulus / sum_rows(annulus),
        thickness_m=grid.thickness_m,
        cell_share=grid.cell_share,
        held=grid.held,
        row_above=above,
        weight_below=np.where(inside, weight, np.nan),
        upright=None if off_wall_m is None else _upright_at(grid, off_wall_m),
    )


def read(enthalpy: FloatArray, law: FreezingLaw, probe: Probe) -> FloatArray:
    """Readings at one moment, shape (N_READINGS + n_depths, n)."""
    n = enthalpy.shape[-1]
    temperature = law.temperature_c(enthalpy)
    values = np.empty((N_READINGS + len(probe.row_above), n))
    for ring, rows in enumerate(probe.ring_rows):
        by_height = sum_rows(temperature[probe.outer, rows] * probe.annulus_share[:, None, :])
        thickness = probe.thickness_m[rows]
        values[ring] = sum_rows(by_height * thickness) / sum_rows(thickness)
    values[COLDEST] = np.minimum(np.minimum(values[TOP], values[MIDDLE]), values[BOTTOM])
    values[MEAN] = _sum_cells(temperature * probe.cell_share)
    values[CORE] = temperature[0, probe.middle_row]
    values[FROZEN] = _sum_cells(law.frozen_share(enthalpy) * probe.held * probe.cell_share)
    if probe.row_above.size:
        down = temperature[0] if probe.upright is None else probe.upright.read(temperature)
        upper = np.take_along_axis(down, probe.row_above, axis=0)
        lower = np.take_along_axis(down, probe.row_above + 1, axis=0)
        values[N_READINGS:] = upper + probe.weight_below * (lower - upper)
    return values


def heat_content_j(enthalpy: FloatArray, grid: Grid) -> FloatArray:
    """Heat of each root ball without its wall, shape (n,) [J]."""
    volume: FloatArray = np.pi * grid.radial_edges_m[-1] ** 2 * grid.axial_edges_m[-1]
    return volume * _sum_cells(enthalpy * grid.held * grid.cell_share)


def _sum_cells(values: FloatArray) -> FloatArray:
    return sum_rows(sum_rows(values))
