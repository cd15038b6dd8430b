# mypy: allow-untyped-defs, allow-untyped-calls, allow-untyped-decorators, disable-error-code="misc"
# (numba takes the types of compiled functions from their first call; annotations would be ignored)
"""Root balls through time once more, for numba to compile: many balls side by side, one vector lane each.

Imported only where the extra `fast` is installed. Same equations, same steps, same passes line by line as
`root_ball_steps`, so that answers agree to rounding; the sweeps themselves are in `root_ball_lanes`.

Why a second source: the array operations of the first, compiled as they stand, ran no faster than numpy runs
them, since each goes through memory on its own. Here a cell is read, worked on and written once a sweep: one
processor core advances a thousand balls some ten times faster than arrays do. The two are kept in step by a test
that compares them to 1e-9 K.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from frostguard.physics.root_ball_inputs import FloatArray
from frostguard.physics.root_ball_lanes import (
    BASE_C,
    BASE_FILM,
    END,
    SIDE_C,
    SIDE_FILM,
    TOP_C,
    TOP_FILM,
    WALL_CAPACITY,
    Balls,
    at,
    axial_flow,
    axial_sweep,
    conduction,
    loops,
    radial_sweep,
    temperature,
)
from frostguard.physics.root_ball_outputs import COLDEST, CORE, FROZEN, MEAN, N_READINGS, Probe
from frostguard.physics.root_ball_steps import (
    BOUND_TOLERANCE_K,
    CARRY_ON,
    MOST_PARTS,
    STAGE_SHARE,
    Lines,
)
from frostguard.physics.root_ball_sweeps import sum_rows

LANES = 64
"""Balls side by side: enough vectors to keep the arithmetic busy, few enough for the nearest caches."""


class Cells(NamedTuple):
    """What stays the same through a run; arrays end in the series axis, rows as in `Balls`."""

    law: FloatArray
    radial_size: FloatArray
    radial_link: FloatArray
    radial_end: FloatArray
    held: FloatArray
    thickness: FloatArray
    axial_size: FloatArray
    axial_link: FloatArray
    axial_end: FloatArray
    cell_share: FloatArray  # (nr, nz, n)
    outer_share: FloatArray  # (outer cells, n), of the ring's cross-section
    height_share: FloatArray  # (nz, n), of the height of its ring
    ring_rows: NDArray[np.intp]  # (3, 2), first and after the last
    row_above: NDArray[np.intp]  # (n_depths, n)
    weight_below: FloatArray  # (n_depths, n)
    column: NDArray[np.intp]  # (n,), where depths are read, and how much of the next column out
    weight_outer: FloatArray


def cells_of(lines: Lines, probe: Probe) -> Cells:
    """The same numbers in the shape that the loops take."""
    law, radial, axial = lines.law, lines.radial, lines.axial
    nothing = np.zeros_like(law.start_c)
    gain = (law.conductivity_frozen_w_m_k - law.conductivity_unfrozen_w_m_k) / law.end_enthalpy_j_m3
    height_share = np.zeros_like(probe.thickness_m)
    for rows in probe.ring_rows:
        height_share[rows] = probe.thickness_m[rows] / sum_rows(probe.thickness_m[rows])
    upright = probe.upright
    return Cells(
        law=np.array(
            [
                law.start_c, law.end_enthalpy_j_m3,
                law.conductivity_unfrozen_w_m_k / law.capacity_freezing_j_m3_k,
                0.5 * gain / law.capacity_freezing_j_m3_k,
                law.conductivity_unfrozen_w_m_k / law.capacity_unfrozen_j_m3_k,
                law.conductivity_frozen_w_m_k / law.capacity_frozen_j_m3_k,
                law.conductivity_unfrozen_w_m_k, gain, 1.0 / law.capacity_unfrozen_j_m3_k,
                1.0 / law.capacity_freezing_j_m3_k, 1.0 / law.capacity_frozen_j_m3_k,
            ]
        ),
        radial_size=radial.size_per_second,
        radial_link=np.concatenate([radial.link, nothing[None]]),
        radial_end=np.array(
            [radial.outer_half_1_m, radial.radius_m, radial.wall_half_resistance, radial.wall_capacity_per_second]
        ),
        held=radial.held,
        thickness=axial.thickness_per_second,
        axial_size=axial.size_per_second,
        axial_link=np.concatenate([axial.link, nothing[None]]),
        axial_end=np.array([axial.top_half_m, axial.base_half_m]),
        cell_share=probe.cell_share,
        outer_share=probe.annulus_share,
        height_share=height_share,
        ring_rows=np.array([(rows.start, rows.stop) for rows in probe.ring_rows]),
        row_above=probe.row_above,
        weight_below=probe.weight_below,
        column=np.zeros(len(nothing), dtype=np.intp) if upright is None else upright.inner,
        weight_outer=nothing if upright is None else upright.weight_outer,
    )  # fmt: skip


def advance_hours(
    enthalpy: FloatArray, wall_c: FloatArray, lines: Lines, films: FloatArray, probe: Probe
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """All series through all hours: takes and gives what `root_ball_steps.advance_hours` does."""
    rows, n = films.shape[1:]
    readings, heat = np.empty((N_READINGS + len(probe.row_above), rows, n)), np.zeros((3, rows, n))
    # one memory layout throughout: another would be compiled anew
    enthalpy, wall_c = np.array(enthalpy, order="C"), np.array(wall_c, order="C")
    cells = Cells._make(map(np.ascontiguousarray, cells_of(lines, probe)))
    _run(enthalpy, wall_c, cells, np.ascontiguousarray(films), lines.steps_per_hour, readings, heat)
    heat *= 2.0 * np.pi * lines.stage_s**2
    return enthalpy, wall_c, readings, heat


@loops
def _run(enthalpy, wall, cells, films, steps_per_hour, readings, heat):
    """All series through all hours, in place; `heat` takes heat per radian over the stage squared."""
    nr, nz, n = enthalpy.shape
    for start in range(0, n, LANES):
        here, lanes = at(start), min(LANES, n - start)
        first, last = at(0), at(lanes)
        balls = _balls(cells, wall, start, lanes)
        cell_share = _lanes_of(cells.cell_share, start, lanes)
        old, flow = _lanes_of(enthalpy, start, lanes), np.empty((nr, nz, lanes))
        wall_old, step_heat = _rows_of(wall, start, lanes), np.empty((3, lanes))
        now, early, late = np.empty((6, lanes)), np.empty((6, lanes)), np.empty((6, lanes))
        extremes, astray = np.empty((4, lanes)), np.empty(lanes, np.bool_)
        _take_as_trial(balls, old, first, last)
        _read(balls, cells, cell_share, here, readings[:, 0])
        for hour in range(films.shape[1] - 1):
            _films_at(films, hour, 0.0, here, now)
            _take_as_trial(balls, old, first, last)
            axial_flow(balls, now, flow, first, last)
            for step in range(steps_per_hour):
                _films_at(films, hour, (step + STAGE_SHARE) / steps_per_hour, here, early)
                _films_at(films, hour, (step + 1) / steps_per_hour, here, late)
                _two_stages(balls, old, wall_old, flow, early, late, step_heat)
                _mark_astray(balls, old, wall_old, early, late, extremes, astray, first, last)
                for m in range(first, last):
                    parts = np.int64(1)  # a literal would be compiled apart
                    while parts <= MOST_PARTS and astray[m]:
                        _step_again_plainly(balls, cells, old, wall_old, flow, late, step_heat, parts, here, m)
                        _mark_astray(balls, old, wall_old, early, late, extremes, astray, m, m + at(1))
                        parts *= 4
                _keep(balls, old, wall_old, at(0))
                for face in range(3):
                    for m in range(first, last):
                        heat[face, hour + 1, here + m] += step_heat[face, m]
            _read(balls, cells, cell_share, here, readings[:, hour + 1])
        _keep(balls, enthalpy, wall, here)


@loops
def _balls(cells, wall, start, lanes):
    """Some of the series, with room to work in."""
    nr, nz = len(cells.radial_size), len(cells.axial_size)
    size = (nr, nz, lanes)
    return Balls(
        _rows_of(cells.law, start, lanes), _rows_of(cells.radial_size, start, lanes),
        _rows_of(cells.radial_link, start, lanes), _rows_of(cells.radial_end, start, lanes),
        _rows_of(cells.held, start, lanes), _rows_of(cells.thickness, start, lanes),
        _rows_of(cells.axial_size, start, lanes), _rows_of(cells.axial_link, start, lanes),
        _rows_of(cells.axial_end, start, lanes),
        np.empty(size), np.empty(size), np.empty(size), np.empty(size), np.empty(size), np.empty(size),
        np.empty((nz, lanes)), _rows_of(wall, start, lanes), np.empty(lanes), np.empty(lanes), np.empty(lanes),
        np.empty(lanes), np.empty(lanes), np.empty(lanes), np.empty((3, lanes)),
    )  # fmt: skip


@loops
def _rows_of(values, start, lanes):
    """Rows of some of the series."""
    return values[:, start : start + lanes].copy()


@loops
def _lanes_of(values, start, lanes):
    """Cells of some of the series."""
    return values[:, :, start : start + lanes].copy()


@loops
def _keep(balls, enthalpy, wall, here):
    """Put the new state among the series from `here` on."""
    nr, nz, lanes = balls.cell.shape
    for height in range(nz):
        j = at(height)
        for lane in range(lanes):
            wall[j, here + at(lane)] = balls.wall[j, at(lane)]
        for radius in range(nr):
            i = at(radius)
            for lane in range(lanes):
                enthalpy[i, j, here + at(lane)] = balls.cell[i, j, at(lane)]


@loops
def _films_at(films, hour, later, here, now):
    """Films at a share of the hour, linear between two whole hours."""
    for row in range(6):
        for lane in range(now.shape[1]):
            m = at(lane)
            low = films[row, hour, here + m]
            now[row, m] = low + later * (films[row, hour + 1, here + m] - low)


@loops
def _take_as_trial(balls, enthalpy, first, last):
    """Take an enthalpy as the trial state and work out its conduction."""
    nr, nz = balls.cell.shape[:2]
    for radius in range(nr):
        for height in range(nz):
            i, j = at(radius), at(height)
            for m in range(first, last):
                cell = enthalpy[i, j, m]
                balls.cell[i, j, m] = cell
                balls.integral[i, j, m], balls.spread[i, j, m] = conduction(cell, balls.law, m)


@loops
def _two_stages(balls, old, wall_old, flow, early, late, step_heat):
    """One step of all lanes; the new state is the trial state of `balls`."""
    first, last = at(0), at(balls.cell.shape[2])
    nr, nz = balls.cell.shape[:2]
    for radius in range(nr):
        for height in range(nz):
            i, j = at(radius), at(height)
            for m in range(first, last):
                balls.goal[i, j, m] = old[i, j, m] + flow[i, j, m]
    for height in range(nz):
        for m in range(first, last):
            balls.wall_start[at(height), m] = wall_old[at(height), m]
    _stage(balls, flow, early, first, last)
    for radius in range(nr):
        for height in range(nz):
            i, j = at(radius), at(height)
            for m in range(first, last):
                start = old[i, j, m] + CARRY_ON * (balls.cell[i, j, m] - old[i, j, m])
                balls.goal[i, j, m] = start + flow[i, j, m]
    for height in range(nz):
        j = at(height)
        for m in range(first, last):
            balls.wall_start[j, m] = wall_old[j, m] + CARRY_ON * (balls.wall[j, m] - wall_old[j, m])
    for face in range(3):
        for m in range(first, last):
            step_heat[face, m] = CARRY_ON * balls.heat[face, m]
    _stage(balls, flow, late, first, last)
    for face in range(3):
        for m in range(first, last):
            step_heat[face, m] += balls.heat[face, m]


@loops
def _stage(balls, flow, films, first, last):
    """One stage: a radial and an axial sweep from the trial state, which they renew; `flow` is in the goal."""
    nr, nz = balls.cell.shape[:2]
    for face in range(3):
        for m in range(first, last):
            balls.heat[face, m] = 0.0
    radial_sweep(balls, films, first, last)
    for radius in range(nr):
        for height in range(nz):
            i, j = at(radius), at(height)
            for m in range(first, last):
                balls.goal[i, j, m] = balls.cell[i, j, m] - flow[i, j, m]
    axial_sweep(balls, films, first, last)
    for radius in range(nr):
        for height in range(nz):
            i, j = at(radius), at(height)
            for m in range(first, last):
                flow[i, j, m] = balls.cell[i, j, m] - balls.goal[i, j, m]


@loops
def _step_again_plainly(balls, cells, old, wall_old, flow, films, step_heat, parts, here, m):
    """The step of one lane in equal backward-Euler parts that expect no axial flow."""
    nr, nz = old.shape[:2]
    share = STAGE_SHARE * parts
    last = m + at(1)
    _take_as_trial(balls, old, m, last)
    _stretch(balls, cells, share, here, m)
    for face in range(3):
        step_heat[face, m] = 0.0
    for j in range(nz):
        balls.wall[j, m] = wall_old[j, m]
    for _ in range(parts):
        for j in range(nz):
            balls.wall_start[j, m] = balls.wall[j, m]
            for i in range(nr):
                balls.goal[i, j, m] = balls.cell[i, j, m]
                flow[i, j, m] = 0.0
        _stage(balls, flow, films, m, last)
        # heat has been weighed with sizes of the part: once for these, once for its length
        for face in range(3):
            step_heat[face, m] += balls.heat[face, m] / share / share
    _stretch(balls, cells, 1.0, here, m)
    for i in range(nr):
        for j in range(nz):
            flow[i, j, m] *= share


@loops
def _stretch(balls, cells, share, here, m):
    """Make stages of one lane a share as long as they were at first; a share of 1 undoes it to the last digit."""
    for i in range(len(balls.radial_size)):
        balls.radial_size[i, m] = share * cells.radial_size[i, here + m]
    for j in range(len(balls.axial_size)):
        balls.thickness[j, m] = share * cells.thickness[j, here + m]
        balls.axial_size[j, m] = share * cells.axial_size[j, here + m]
    balls.radial_end[WALL_CAPACITY, m] = share * cells.radial_end[WALL_CAPACITY, here + m]


@loops
def _mark_astray(balls, old, wall_old, early, late, extremes, astray, first, last):
    """Mark the lanes whose step left the temperatures of old state, wall and environments."""
    lowest, highest, low, high = 0, 1, 2, 3
    for m in range(first, last):
        extremes[lowest, m] = extremes[highest, m] = old[0, 0, m]
        extremes[low, m] = extremes[high, m] = balls.cell[0, 0, m]
    for radius in range(old.shape[0]):
        for height in range(old.shape[1]):
            i, j = at(radius), at(height)
            for m in range(first, last):
                extremes[lowest, m] = min(extremes[lowest, m], old[i, j, m])
                extremes[highest, m] = max(extremes[highest, m], old[i, j, m])
                extremes[low, m] = min(extremes[low, m], balls.cell[i, j, m])
                extremes[high, m] = max(extremes[high, m], balls.cell[i, j, m])
    for row in range(4):
        for m in range(first, last):
            extremes[row, m] = temperature(extremes[row, m], balls.law, m)
    for height in range(old.shape[1]):
        j = at(height)
        for m in range(first, last):
            if balls.radial_end[WALL_CAPACITY, m] > 0.0:
                extremes[lowest, m] = min(extremes[lowest, m], wall_old[j, m])
                extremes[highest, m] = max(extremes[highest, m], wall_old[j, m])
                extremes[low, m] = min(extremes[low, m], balls.wall[j, m])
                extremes[high, m] = max(extremes[high, m], balls.wall[j, m])
    for films in (early, late):
        for film, environment in ((SIDE_FILM, SIDE_C), (TOP_FILM, TOP_C), (BASE_FILM, BASE_C)):
            for m in range(first, last):
                if films[film, m] > 0.0:
                    extremes[lowest, m] = min(extremes[lowest, m], films[environment, m])
                    extremes[highest, m] = max(extremes[highest, m], films[environment, m])
    for m in range(first, last):
        too_cold = extremes[low, m] < extremes[lowest, m] - BOUND_TOLERANCE_K
        astray[m] = too_cold or extremes[high, m] > extremes[highest, m] + BOUND_TOLERANCE_K


@loops
def _read(balls, cells, cell_share, here, readings):
    """What `root_ball_outputs.read` reads, of the trial state."""
    nr, nz, lanes = balls.cell.shape
    first, last = at(0), at(lanes)
    inner_cells = nr - len(cells.outer_share)
    for row in range(N_READINGS):
        for m in range(first, last):
            readings[row, here + m] = 0.0
    for radius in range(nr):
        for height in range(nz):
            i, j = at(radius), at(height)
            for m in range(first, last):
                enthalpy, share = balls.cell[i, j, m], cell_share[i, j, m]
                readings[MEAN, here + m] += share * temperature(enthalpy, balls.law, m)
                frozen = min(max(enthalpy, balls.law[END, m]), 0.0) / balls.law[END, m]
                readings[FROZEN, here + m] += share * balls.held[j, m] * frozen
    for ring in range(3):
        for radius in range(inner_cells, nr):
            for height in range(cells.ring_rows[ring, 0], cells.ring_rows[ring, 1]):
                i, j, outer = at(radius), at(height), at(radius - inner_cells)
                for m in range(first, last):
                    share = cells.outer_share[outer, here + m] * cells.height_share[j, here + m]
                    readings[ring, here + m] += share * temperature(balls.cell[i, j, m], balls.law, m)
    middle = at(nz // 2)
    for m in range(first, last):
        readings[COLDEST, here + m] = min(readings[0, here + m], readings[1, here + m], readings[2, here + m])
        readings[CORE, here + m] = temperature(balls.cell[at(0), middle, m], balls.law, m)
    for depth in range(len(cells.row_above)):
        for m in range(first, last):
            row = cells.row_above[depth, here + m]
            upper = _at_column(balls, cells, row, here, m)
            lower = _at_column(balls, cells, row + 1, here, m)
            readings[N_READINGS + depth, here + m] = upper + cells.weight_below[depth, here + m] * (lower - upper)


@loops
def _at_column(balls, cells, j, here, m):
    """Temperature where depths are read, at the height of a row."""
    column = cells.column[here + m]
    inner = temperature(balls.cell[column, j, m], balls.law, m)
    outer = temperature(balls.cell[column + 1, j, m], balls.law, m)
    return inner + cells.weight_outer[here + m] * (outer - inner)
