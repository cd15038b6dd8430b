"""One implicit stage of many root balls: a radial sweep, then an axial sweep.

A stage is backward Euler in enthalpy H with the heat flows of both directions,

    H_new - H = radial flow + axial flow        (per cell, over the stage)

solved one direction at a time. The radial sweep takes the axial flow of the stage before as expected; the
axial sweep keeps the radial flow so found and puts the true axial flow in place of the expected one (the
scheme of Douglas). Without the expectation, the corner between a cold wall and a warm floor would be found
wherever the last sweep pulls it: an error that falls only with the step and was four times larger.

A sweep solves all lines of cells at once. Between flows and H stands the freezing curve H(Q) of three
pieces (Q: conductivity integral), so it is replaced by the straight line dH/dQ at a trial state, solved
(tridiagonal), and solved again from the answer for those lines in which a cell left its piece. Whatever the
number of passes, both sides of a face see the same flow: heat is conserved to rounding.

`root_ball_compiled` holds the same equations as loops over one ball; a change here is a change there.

References
----------
J. Douglas, Alternating direction methods for three space variables, Numerische Mathematik 4, 1962.
J. Crank, Free and Moving Boundary Problems, 1984, chapter 6 (enthalpy method). Both from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from frostguard.physics.root_ball_freezing import Conduction, FreezingLaw
from frostguard.physics.root_ball_inputs import FloatArray

PASS_TOLERANCE_K = 0.03
"""A line is solved again while a cell's straight line misses the freezing curve by more than this.

Chosen, not from a source: 0.01 to 0.3 K gave the same accuracy on random pots; the bounds hold to about this.
"""

MAX_PASSES = 12
"""Solutions after the first; four to six were enough on random pots."""

_Record = TypeVar("_Record")


@dataclass(frozen=True, slots=True)
class RadialLines:
    """What radial lines of cells are made of, per radian and metre of height."""

    size_per_second: FloatArray  # (nr, n), cell size over the length of a stage
    held: FloatArray  # (nz, n), heat that a height holds over the mean of its ball
    link: FloatArray  # (nr - 1, n)
    outer_half_1_m: FloatArray  # (n,), distance from the outermost cell to the wall, inverted
    radius_m: FloatArray
    wall_half_resistance: FloatArray
    wall_capacity_per_second: FloatArray  # per square metre of side, over the stage


@dataclass(frozen=True, slots=True)
class AxialLines:
    """What axial lines of cells are made of, per square metre of cross-section."""

    thickness_per_second: FloatArray  # (nz, n)
    size_per_second: FloatArray  # (nz, n), the thickness of the mean mix that would hold as much heat
    link: FloatArray  # (nz - 1, n)
    top_half_m: FloatArray  # (n,), half the thickness of the end cells
    base_half_m: FloatArray


@dataclass(frozen=True, slots=True)
class Face:
    """Film and environment temperature of one face at one moment; shape (n,)."""

    film_w_m2_k: FloatArray
    environment_c: FloatArray


def take_series(record: _Record, index: NDArray[np.intp]) -> _Record:
    """The same record for some of its series; every field ends in the series axis."""
    # the slots of these records are their fields in order; asking dataclasses.fields each time is slow
    names = type(record).__slots__  # type: ignore[attr-defined]
    return type(record)(*(getattr(record, name).take(index, axis=-1) for name in names))


def sum_rows(values: FloatArray) -> FloatArray:
    """Sum over the first axis, row by row.

    np.sum adds in another order when there is a single series, and a series' answer must not depend on its batch.
    """
    total: FloatArray = np.add.accumulate(values, axis=0)[-1]
    return total


def film_to_cell(film_w_m2_k: FloatArray, resistance_m2_k_w: FloatArray) -> FloatArray:
    """Conductance of a film and a resistance in series [W/(m2 K)]; right for a film of 0."""
    return film_w_m2_k / (1.0 + film_w_m2_k * resistance_m2_k_w)


def axial_flow(
    enthalpy: FloatArray, at: Conduction, law: FreezingLaw, lines: AxialLines, top: Face, base: Face
) -> FloatArray:
    """Heat that each cell gains along the height over one stage at the present flows [J/m3], (nr, nz, n)."""
    flow = np.zeros_like(enthalpy)
    down = lines.link * (at.integral[:, 1:] - at.integral[:, :-1])
    flow[:, :-1] += down
    flow[:, 1:] -= down
    for end, face, half in ((0, top, lines.top_half_m), (-1, base, lines.base_half_m)):
        film, level = _end_film(enthalpy[:, end], at.integral[:, end], law, face, half)
        flow[:, end] += film * (level - at.integral[:, end])
    flow /= lines.size_per_second
    return flow


def radial_sweep(
    goal: FloatArray, wall_c: FloatArray, trial: FloatArray, at: Conduction,
    law: FreezingLaw, lines: RadialLines, side: Face,
) -> tuple[FloatArray, FloatArray, Conduction, FloatArray]:  # fmt: skip
    """Enthalpy, wall temperature and conduction after the radial flow; and the heat from outside.

    `goal` is the enthalpy that the cells would have without radial flow, `trial` where the freezing curve
    is first replaced, `at` its conduction. The heat is in watts per radian and metre of height, (nz, n).
    """
    new, solved, wall, heat = _radial_pass(goal - trial, wall_c, trial, at, law, lines, side)
    conduction = law.conduction(new)
    height, series = np.nonzero(_missed(solved, conduction, law, line_axis=0))
    for _ in range(MAX_PASSES):
        if not len(series):
            break
        # each line that missed becomes a series of its own: no answer may depend on what else is solved again
        line = np.s_[:, height, series]
        some_law, some_lines = take_series(law, series), take_series(lines, series)
        some_lines = replace(some_lines, held=lines.held[height, series][None])
        old = new[line][:, None]
        better, solved, better_wall, better_heat = _radial_pass(
            goal[line][:, None] - old, wall_c[height, series][None], old,
            Conduction(conduction.integral[line][:, None], conduction.slope[line][:, None]),
            some_law, some_lines, take_series(side, series),
        )  # fmt: skip
        there = some_law.conduction(better)
        new[line], wall[height, series], heat[height, series] = better[:, 0], better_wall[0], better_heat[0]
        conduction.integral[line], conduction.slope[line] = there.integral[:, 0], there.slope[:, 0]
        missed = _missed(solved, there, some_law, line_axis=0)[0]
        height, series = height[missed], series[missed]
    return new, wall, conduction, heat


def axial_sweep(
    goal: FloatArray, trial: FloatArray, at: Conduction, law: FreezingLaw, lines: AxialLines, top: Face, base: Face
) -> tuple[FloatArray, Conduction, FloatArray, FloatArray]:
    """Enthalpy and conduction after the axial flow; and the heat through top and base.

    `goal` and `trial` as in the radial sweep. The heats are in watts per square metre, shape (nr, n).
    """
    new, solved, top_heat, base_heat = _axial_pass(goal - trial, trial, at, law, lines, top, base)
    conduction = law.conduction(new)
    annulus, series = np.nonzero(_missed(solved, conduction, law, line_axis=1))
    for _ in range(MAX_PASSES):
        if not len(series):
            break
        line = np.s_[annulus, :, series]
        some_law = take_series(law, series)
        old = new[line].T[None]
        better, solved, better_top, better_base = _axial_pass(
            goal[line].T[None] - old, old,
            Conduction(conduction.integral[line].T[None], conduction.slope[line].T[None]),
            some_law, take_series(lines, series), take_series(top, series), take_series(base, series),
        )  # fmt: skip
        there = some_law.conduction(better)
        new[line], top_heat[annulus, series], base_heat[annulus, series] = better[0].T, better_top[0], better_base[0]
        conduction.integral[line], conduction.slope[line] = there.integral[0].T, there.slope[0].T
        missed = _missed(solved, there, some_law, line_axis=1)[0]
        annulus, series = annulus[missed], series[missed]
    return new, conduction, top_heat, base_heat


def _missed(
    solved: FloatArray, conduction: Conduction, law: FreezingLaw, *, line_axis: int
) -> NDArray[np.bool_]:
    """Which lines of which series have a cell whose straight line missed the freezing curve."""
    miss = np.abs(solved - conduction.integral).max(axis=line_axis)
    again: NDArray[np.bool_] = miss > PASS_TOLERANCE_K * law.conductivity_unfrozen_w_m_k
    return again


def _radial_pass(
    gap: FloatArray, wall_old: FloatArray, trial: FloatArray, at: Conduction,
    law: FreezingLaw, lines: RadialLines, side: Face,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:  # fmt: skip
    """New enthalpy, solved conductivity integral, new wall temperature, heat from outside.

    `gap` is the goal less the trial.
    """
    last = len(trial) - 1
    size = lines.size_per_second[:, None, :] * lines.held
    own = size * at.slope  # later: with all that is coupled through cells further in
    load = own * at.integral
    load += size * gap
    coupled = _eliminate(list(own), list(load), list(lines.link))

    # outermost cell to the middle of the wall: temperatures, not conductivity integrals
    conductivity = law.conductivity_w_m_k(trial[last])
    above_line = law.temperature_c(trial[last]) - at.integral[last] / conductivity
    to_wall = lines.radius_m / (1.0 / (lines.outer_half_1_m * conductivity) + lines.wall_half_resistance)
    outside = lines.radius_m * film_to_cell(side.film_w_m2_k, lines.wall_half_resistance)
    wall_own = lines.radius_m * lines.wall_capacity_per_second
    slope = to_wall / conductivity
    soil_own = own[last] + slope
    soil_load = load[last] - to_wall * above_line
    # wall: (wall_own + outside + to_wall) T - slope q = wall_own T_old + outside T_env + to_wall above_line
    wall_load = wall_own * wall_old + outside * side.environment_c + to_wall * above_line
    wall_load += slope / soil_own * soil_load
    wall = wall_load / (wall_own + outside + to_wall * (own[last] / soil_own))
    load[last] = (soil_load + to_wall * wall) / soil_own
    load[:last] /= lines.link[:, None]
    solved = _back_substitute(load, list(load), coupled)
    new = solved - at.integral
    new *= at.slope
    new += trial
    return new, solved, wall, outside * (side.environment_c - wall)


def _axial_pass(
    gap: FloatArray, trial: FloatArray, at: Conduction,
    law: FreezingLaw, lines: AxialLines, top: Face, base: Face,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:  # fmt: skip
    """New enthalpy, solved conductivity integral, heat through top and base; `gap` as in the radial pass."""
    last = trial.shape[1] - 1
    own = lines.size_per_second * at.slope  # later: with all that is coupled from above
    load = own * at.integral
    load += lines.size_per_second * gap
    # heights first: rows that lie together in memory are added much faster
    own, load = np.ascontiguousarray(own.swapaxes(0, 1)), np.ascontiguousarray(load.swapaxes(0, 1))
    top_film, top_level = _end_film(trial[:, 0], at.integral[:, 0], law, top, lines.top_half_m)
    base_film, base_level = _end_film(trial[:, last], at.integral[:, last], law, base, lines.base_half_m)
    load[0] += top_film * top_level
    own[0] += top_film
    coupled = _eliminate(list(own), list(load), list(lines.link))
    load[last] = (load[last] + base_film * base_level) / (own[last] + base_film)
    load[:last] /= lines.link[:, None]
    solved = _back_substitute(load, list(load), coupled).swapaxes(0, 1)
    new = solved - at.integral
    new *= at.slope
    new += trial
    return new, solved, top_film * (top_level - solved[:, 0]), base_film * (base_level - solved[:, last])


def _eliminate(own: list[FloatArray], load: list[FloatArray], link: list[FloatArray]) -> list[FloatArray]:
    """Fold each row of cells into the next, in place; how strongly each hangs on the next, 0 to 1.

    Rows are views: an assignment to an element of an array would copy it onto itself.
    """
    coupled = []
    for i, between in enumerate(link):
        share = own[i] + between
        np.divide(between, share, out=share)
        load[i + 1] += share * load[i]
        own[i + 1] += share * own[i]
        coupled.append(share)
    return coupled


def _back_substitute(solved: FloatArray, rows: list[FloatArray], coupled: list[FloatArray]) -> FloatArray:
    """The solution, in place of loads over links, from the last row that holds it already."""
    for i in range(len(coupled) - 1, -1, -1):
        rows[i] += rows[i + 1]
        rows[i] *= coupled[i]
    return solved


def _end_film(
    trial: FloatArray, integral: FloatArray, law: FreezingLaw, face: Face, half_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Film per conductivity, and the environment as a conductivity integral, for the end cells."""
    conductivity = law.conductivity_w_m_k(trial)
    film = film_to_cell(face.film_w_m2_k, half_m / conductivity)
    level = integral + conductivity * (face.environment_c - law.temperature_c(trial))
    return film / conductivity, level
