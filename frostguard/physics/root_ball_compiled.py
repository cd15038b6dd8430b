# mypy: allow-untyped-defs, allow-untyped-calls, allow-untyped-decorators, disable-error-code="misc"
# (numba takes the types of compiled functions from their first call; annotations would be ignored)
"""The sweeps of `root_ball_sweeps` once more, as plain loops over one root ball, for numba to compile.

Imported only where the extra `fast` is installed. Same equations, same order, same passes line by line, so
that answers agree to rounding; see `root_ball_sweeps` for what they mean.

Why a second source: array operations over rows of series, compiled as they stand, ran no faster than numpy
runs them (13 ns against 8 a cell and solve), and loops over blocks of series were not turned into vector
instructions reliably. One ball at a time needs no vectors, stays in the nearest cache, solves again only the
lines that need it, and is as quick for a single pot as for a thousand. It is kept in step with the arrays by a
test that compares both to 1e-9 K.
"""

from __future__ import annotations

from dataclasses import fields
from typing import NamedTuple

import numpy as np
from numba import njit  # type: ignore[import-not-found,import-untyped,unused-ignore]

from frostguard.physics.root_ball_inputs import FloatArray
from frostguard.physics.root_ball_steps import (
    BOUND_TOLERANCE_K,
    CARRY_ON,
    MOST_PARTS,
    STAGE_SHARE,
    Lines,
)
from frostguard.physics.root_ball_sweeps import MAX_PASSES, PASS_TOLERANCE_K

compiled = njit(nogil=True, error_model="numpy", cache=True)


class Cells(NamedTuple):
    """What stays the same through a run; arrays end in the series axis."""

    law: FloatArray  # rows: the fields of FreezingLaw in their order
    radial_size: FloatArray
    radial_link: FloatArray
    radial_end: FloatArray  # rows: outer half distance inverted, radius, half wall resistance, wall capacity
    axial_size: FloatArray
    axial_link: FloatArray
    axial_end: FloatArray  # rows: half thickness of the top and of the bottom cell


def cells_of(lines: Lines) -> Cells:
    """The same numbers in the shape that the loops take."""
    radial, axial = lines.radial, lines.axial
    return Cells(
        law=np.array([getattr(lines.law, field.name) for field in fields(lines.law)]),
        radial_size=np.ascontiguousarray(radial.size_per_second),
        radial_link=np.ascontiguousarray(radial.link),
        radial_end=np.array(
            [radial.outer_half_1_m, radial.radius_m, radial.wall_half_resistance, radial.wall_capacity_per_second]
        ),
        axial_size=np.ascontiguousarray(axial.size_per_second),
        axial_link=np.ascontiguousarray(axial.link),
        axial_end=np.array([axial.top_half_m, axial.base_half_m]),
    )


def advance_hour(
    enthalpy: FloatArray, wall_c: FloatArray, lines: Lines, before: FloatArray, after: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """One hour of all series: takes and gives what `root_ball_steps.advance_hour` does."""
    heat = np.zeros((3, enthalpy.shape[-1]))
    # one memory layout throughout: another would be compiled anew
    enthalpy, wall_c = np.array(enthalpy, order="C"), np.array(wall_c, order="C")
    before, after = np.ascontiguousarray(before), np.ascontiguousarray(after)
    _advance(enthalpy, wall_c, cells_of(lines), before, after, lines.steps_per_hour, heat)
    return enthalpy, wall_c, heat * (2.0 * np.pi * lines.stage_s**2)


class Ball(NamedTuple):
    """One ball's cells, and arrays to work in."""

    law: FloatArray
    size_r: FloatArray
    link_r: FloatArray
    end_r: FloatArray
    size_z: FloatArray
    link_z: FloatArray
    end_z: FloatArray
    cell: FloatArray  # (nr, nz), the trial enthalpy and then the new
    integral: FloatArray  # (nr, nz), conduction at `cell`
    slope: FloatArray
    flow: FloatArray  # (nr, nz), the expected axial flow and then the true one
    load: FloatArray
    inverse: FloatArray
    goal: FloatArray
    line: FloatArray  # (8, lines), running values of each line
    inflow: FloatArray  # through side, top and base


@compiled
def _advance(enthalpy, wall, cells, before, after, steps_per_hour, heat):
    """Advance all series by one hour, in place; `heat` (3, n) gains heat per radian over the stage squared."""
    nr, nz, n = enthalpy.shape
    ball = Ball(
        np.empty(14), np.empty(nr), np.empty(nr), np.empty(4), np.empty(nz), np.empty(nz), np.empty(2),
        np.empty((nr, nz)), np.empty((nr, nz)), np.empty((nr, nz)), np.empty((nr, nz)),
        np.empty((nr, nz)), np.empty((nr, nz)), np.empty((nr, nz)), np.empty((8, max(nr, nz))), np.empty(3),
    )  # fmt: skip
    old, start = np.empty((nr, nz)), np.empty((nr, nz))
    wall_old, wall_start, wall_new = np.empty(nz), np.empty(nz), np.empty(nz)
    early, late, step_heat = np.empty(6), np.empty(6), np.empty(3)
    for series in range(n):
        fill(ball, cells, series)
        for i in range(nr):
            for j in range(nz):
                old[i, j] = enthalpy[i, j, series]
        for j in range(nz):
            wall_old[j] = wall[j, series]
        conduct_all(ball, old)
        for row in range(6):
            early[row] = before[row, series]
        axial_flow(ball.cell, ball.integral, ball.flow, ball.law, ball.size_z, ball.link_z, ball.end_z, early)
        for step in range(steps_per_hour):
            for row in range(6):
                low, high = before[row, series], after[row, series]
                early[row] = low + (step + STAGE_SHARE) / steps_per_hour * (high - low)
                late[row] = low + (step + 1) / steps_per_hour * (high - low)
            stage(ball, old, wall_old, wall_new, early)
            for i in range(nr):
                for j in range(nz):
                    start[i, j] = old[i, j] + CARRY_ON * (ball.cell[i, j] - old[i, j])
            for j in range(nz):
                wall_start[j] = wall_old[j] + CARRY_ON * (wall_new[j] - wall_old[j])
            for row in range(3):
                step_heat[row] = CARRY_ON * ball.inflow[row]
            stage(ball, start, wall_start, wall_new, late)
            for row in range(3):
                step_heat[row] += ball.inflow[row]
            parts = 1
            while parts <= MOST_PARTS and astray(ball, old, wall_old, wall_new, early, late):
                step_again_plainly(
                    ball, cells, series, old, wall_old, start, wall_start, wall_new, late, step_heat, parts
                )
                parts *= 4
            old[:] = ball.cell
            wall_old[:] = wall_new
            for row in range(3):
                heat[row, series] += step_heat[row]
        for i in range(nr):
            for j in range(nz):
                enthalpy[i, j, series] = old[i, j]
        for j in range(nz):
            wall[j, series] = wall_old[j]


@compiled
def fill(ball, cells, series):
    """Copy what one series is made of."""
    nr, nz = ball.cell.shape
    for i in range(nr):
        ball.size_r[i] = cells.radial_size[i, series]
        ball.link_r[i] = cells.radial_link[i, series] if i < nr - 1 else 0.0
    for j in range(nz):
        ball.size_z[j] = cells.axial_size[j, series]
        ball.link_z[j] = cells.axial_link[j, series] if j < nz - 1 else 0.0
    for row in range(4):
        ball.end_r[row] = cells.radial_end[row, series]
    for row in range(2):
        ball.end_z[row] = cells.axial_end[row, series]
    law = ball.law
    for row in range(7):
        law[row] = cells.law[row, series]
    _, end, c_u, c_l, c_f, k_u, k_f = law[:7]
    gain = (k_f - k_u) / end
    law[7], law[8], law[9], law[10], law[11] = gain, k_u / c_l, 0.5 * gain / c_l, k_u / c_u, k_f / c_f
    law[12], law[13] = c_u / k_u, c_f / k_f


@compiled
def conduct_all(ball, enthalpy):
    """Take an enthalpy as the trial state and work out its conduction."""
    nr, nz = ball.cell.shape
    for i in range(nr):
        for j in range(nz):
            ball.cell[i, j] = enthalpy[i, j]
            ball.integral[i, j], ball.slope[i, j] = conduction(enthalpy[i, j], ball.law)


@compiled
def stage(ball, start, wall_start, wall_new, films):
    """One stage from `start`: a radial and an axial sweep from the trial state in `ball`, which they renew."""
    ball.inflow[:] = 0.0
    radial_sweep(
        ball.cell, ball.integral, ball.slope, ball.flow, ball.law, ball.size_r, ball.link_r, ball.end_r, ball.size_z,
        ball.load, ball.inverse, ball.goal, ball.line, start, wall_start, wall_new, films, ball.inflow,
    )  # fmt: skip
    axial_sweep(
        ball.cell, ball.integral, ball.slope, ball.flow, ball.law, ball.size_z, ball.link_z, ball.end_z, ball.size_r,
        ball.load, ball.inverse, ball.goal, ball.line, films, ball.inflow,
    )  # fmt: skip


@compiled
def step_again_plainly(ball, cells, series, old, wall_old, start, wall_start, wall_new, films, step_heat, parts):
    """The step in equal backward-Euler parts that expect no axial flow; starts are arrays to work in."""
    share = STAGE_SHARE * parts
    conduct_all(ball, old)
    ball.size_r[:] *= share
    ball.size_z[:] *= share
    ball.end_r[3] *= share
    step_heat[:] = 0.0
    wall_new[:] = wall_old
    for _ in range(parts):
        start[:] = ball.cell
        wall_start[:] = wall_new
        ball.flow[:] = 0.0
        stage(ball, start, wall_start, wall_new, films)
        # inflow has been weighed with sizes of the part: once for these, once for its length
        for row in range(3):
            step_heat[row] += ball.inflow[row] / share / share
    fill(ball, cells, series)
    ball.flow[:] *= share


@compiled
def astray(ball, old, wall_old, wall_new, early, late):
    """Whether the step left the temperatures of its old state, wall and environments."""
    nr, nz = old.shape
    lowest, highest = np.inf, -np.inf
    low, high = np.inf, -np.inf
    for i in range(nr):
        for j in range(nz):
            lowest, highest = min(lowest, old[i, j]), max(highest, old[i, j])
            low, high = min(low, ball.cell[i, j]), max(high, ball.cell[i, j])
    lowest, highest = temperature(lowest, ball.law), temperature(highest, ball.law)
    low, high = temperature(low, ball.law), temperature(high, ball.law)
    if ball.end_r[3] > 0.0:
        for j in range(nz):
            lowest, highest = min(lowest, wall_old[j]), max(highest, wall_old[j])
            low, high = min(low, wall_new[j]), max(high, wall_new[j])
    for films in (early, late):
        for face in range(3):
            if films[2 * face] > 0.0:
                lowest, highest = min(lowest, films[2 * face + 1]), max(highest, films[2 * face + 1])
    return low < lowest - BOUND_TOLERANCE_K or high > highest + BOUND_TOLERANCE_K


@compiled
def axial_flow(cell, integral, flow, law, size, link, end, films):
    """Heat that each cell gains along the height over one stage at the present flows."""
    nr, nz = cell.shape
    for i in range(nr):
        film, level = end_film(cell[i, 0], integral[i, 0], films[2], films[3], end[0], law)
        inflow = film * (level - integral[i, 0])
        for j in range(nz - 1):
            outflow = link[j] * (integral[i, j] - integral[i, j + 1])
            flow[i, j] = (inflow - outflow) / size[j]
            inflow = outflow
        film, level = end_film(cell[i, nz - 1], integral[i, nz - 1], films[4], films[5], end[1], law)
        flow[i, nz - 1] = (inflow + film * (level - integral[i, nz - 1])) / size[nz - 1]


@compiled
def conduction(enthalpy, law):
    """Conductivity integral and slope dH/dQ of one cell."""
    if enthalpy > 0.0:
        return enthalpy * law[10], law[12]
    if enthalpy >= law[1]:
        return enthalpy * (law[8] + law[9] * enthalpy), law[3] / (law[5] + law[7] * enthalpy)
    end = law[1]
    return end * (law[8] + law[9] * end) + (enthalpy - end) * law[11], law[13]


@compiled
def temperature(enthalpy, law):
    """Temperature of one cell."""
    if enthalpy > 0.0:
        return law[0] + enthalpy / law[2]
    if enthalpy >= law[1]:
        return law[0] + enthalpy / law[3]
    return law[0] + law[1] / law[3] + (enthalpy - law[1]) / law[4]


@compiled
def conductivity(enthalpy, law):
    """Conductivity of one cell."""
    return law[5] + law[7] * min(max(enthalpy, law[1]), 0.0)


@compiled
def radial_sweep(
    cell, integral, slope, flow, law, size, link, end, thickness, load, inverse, goal, line,
    start, wall_start, wall_new, films, inflow,
):  # fmt: skip
    """Conduction from the axis through the wall over one stage.

    All lines go outward together and back together: one line alone would wait for each of its divisions.
    """
    nr, nz = cell.shape
    outer_half_1_m, radius, half, capacity = end
    outside = radius * (films[0] / (1.0 + films[0] * half))
    wall_own = radius * capacity
    inner, coupled, before, miss = line[0], line[1], line[2], line[3]
    todo = np.arange(nz)
    count = nz
    for i in range(nr):
        for j in range(nz):
            goal[i, j] = start[i, j] + flow[i, j]
    for _ in range(MAX_PASSES + 1):
        inner[:], coupled[:], before[:] = 0.0, 0.0, 0.0
        for i in range(nr):
            for at in range(count):
                j = todo[at]
                own = size[i] * slope[i, j]
                gap = size[i] * (goal[i, j] - cell[i, j])
                before[j] = own * integral[i, j] + gap + coupled[j] * before[j]
                load[i, j] = before[j]
                inner[j] = own + coupled[j] * inner[j]
                inverse[i, j] = 1.0 / (inner[j] + link[i])
                coupled[j] = link[i] * inverse[i, j]
        for at in range(count):
            j = todo[at]
            trial = cell[nr - 1, j]
            k = conductivity(trial, law)
            above_line = temperature(trial, law) - integral[nr - 1, j] / k
            to_wall = radius / (1.0 / (outer_half_1_m * k) + half)
            soil_own = inner[j] + to_wall / k
            soil_load = before[j] - to_wall * above_line
            wall_load = wall_own * wall_start[j] + outside * films[1] + to_wall * above_line
            wall_load += to_wall / k / soil_own * soil_load
            wall_new[j] = wall_load / (wall_own + outside + to_wall * (inner[j] / soil_own))
            before[j] = (soil_load + to_wall * wall_new[j]) / soil_own  # from here on: the solution
            miss[j] = 0.0
        for i in range(nr - 1, -1, -1):
            for at in range(count):
                j = todo[at]
                if i < nr - 1:
                    before[j] = (load[i, j] + link[i] * before[j]) * inverse[i, j]
                new = cell[i, j] + slope[i, j] * (before[j] - integral[i, j])
                cell[i, j] = new
                integral[i, j], slope[i, j] = conduction(new, law)
                miss[j] = max(miss[j], abs(before[j] - integral[i, j]))
        count = lines_to_solve_again(todo, count, miss, law)
        if count == 0:
            break
    for j in range(nz):
        inflow[0] += thickness[j] * outside * (films[1] - wall_new[j])


@compiled
def axial_sweep(
    cell, integral, slope, flow, law, size, link, end, annulus, load, inverse, goal, line, films, inflow
):
    """Conduction from top to bottom over one stage."""
    nr, nz = cell.shape
    inner, coupled, before, miss = line[0], line[1], line[2], line[3]
    film, level, top_heat, base_heat = line[4], line[5], line[6], line[7]
    todo = np.arange(nr)
    count = nr
    for i in range(nr):
        for j in range(nz):
            goal[i, j] = cell[i, j] - flow[i, j]
    for _ in range(MAX_PASSES + 1):
        for at in range(count):
            i = todo[at]
            film[i], level[i] = end_film(cell[i, 0], integral[i, 0], films[2], films[3], end[0], law)
            # as if a cell above held the film's load
            inner[i], coupled[i], before[i] = film[i], 1.0, film[i] * level[i]
            miss[i] = 0.0
        for j in range(nz):
            for at in range(count):
                i = todo[at]
                own = size[j] * slope[i, j]
                gap = size[j] * (goal[i, j] - cell[i, j])
                before[i] = own * integral[i, j] + gap + coupled[i] * before[i]
                load[i, j] = before[i]
                inner[i] = own + coupled[i] * inner[i]
                inverse[i, j] = 1.0 / (inner[i] + link[j])
                coupled[i] = link[j] * inverse[i, j]
        for at in range(count):
            i = todo[at]
            base_film, base_level = end_film(cell[i, nz - 1], integral[i, nz - 1], films[4], films[5], end[1], law)
            before[i] = (before[i] + base_film * base_level) / (inner[i] + base_film)
            base_heat[i] = base_film * (base_level - before[i])
        for j in range(nz - 1, -1, -1):
            for at in range(count):
                i = todo[at]
                if j < nz - 1:
                    before[i] = (load[i, j] + link[j] * before[i]) * inverse[i, j]
                new = cell[i, j] + slope[i, j] * (before[i] - integral[i, j])
                cell[i, j] = new
                integral[i, j], slope[i, j] = conduction(new, law)
                miss[i] = max(miss[i], abs(before[i] - integral[i, j]))
        for at in range(count):
            i = todo[at]
            top_heat[i] = film[i] * (level[i] - before[i])
        count = lines_to_solve_again(todo, count, miss, law)
        if count == 0:
            break
    for i in range(nr):
        inflow[1] += annulus[i] * top_heat[i]
        inflow[2] += annulus[i] * base_heat[i]
        for j in range(nz):
            flow[i, j] = cell[i, j] - goal[i, j]


@compiled
def lines_to_solve_again(todo, count, miss, law):
    """Keep in `todo` those lines that missed the freezing curve; how many there are."""
    kept = 0
    for at in range(count):
        if miss[todo[at]] > PASS_TOLERANCE_K * law[5]:
            todo[kept] = todo[at]
            kept += 1
    return kept


@compiled
def end_film(enthalpy, integral, film, environment_c, half_m, law):
    """Film per conductivity, and the environment as a conductivity integral, of one end cell."""
    k = conductivity(enthalpy, law)
    level = integral + k * (environment_c - temperature(enthalpy, law))
    return film / (1.0 + film * (half_m / k)) / k, level
