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

from dataclasses import dataclass
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
    link: FloatArray  # (nr - 1, n)
    outer_half_1_m: FloatArray  # (n,), distance from the outermost cell to the wall, inverted
    radius_m: FloatArray
    wall_half_resistance: FloatArray
    wall_capacity_per_second: FloatArray  # per square metre of side, over the stage


@dataclass(frozen=True, slots=True)
class AxialLines:
    """What axial lines of cells are made of, per square metre of cross-section."""

    size_per_second: FloatArray  # (nz, n)
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
    return type(record)(*(getattr(record, name)[..., index] for name in type(record).__slots__))  # type: ignore[attr-defined]


def film_to_cell(film_w_m2_k: FloatArray, resistance_m2_k_w: FloatArray) -> FloatArray:
    """Conductance of a film and a resistance in series [W/(m2 K)]; right for a film of 0."""
    return film_w_m2_k / (1.0 + film_w_m2_k * resistance_m2_k_w)


def axial_flow(
    enthalpy: FloatArray, at: Conduction, law: FreezingLaw, lines: AxialLines, top: Face, base: Face
) -> FloatArray:
    """Heat that each cell gains along the height over one stage at the present flows [J/m3], (nr, nz, n)."""
    flow = np.zeros_like(enthalpy)
    down = lines.link * np.diff(at.integral, axis=1)
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
    again = _lines_to_solve_again(solved, conduction, law, line_axis=0)
    if again.any():
        series = np.flatnonzero(again.any(axis=0))
        again = again[:, series]
        few_law, few_lines, few_side = take_series(law, series), take_series(lines, series), take_series(side, series)
        few_goal, few_wall_old = goal[..., series], wall_c[..., series]
        few_new, few_conduction = new[..., series], take_series(conduction, series)
        few_wall, few_heat = wall[..., series], heat[..., series]
        for _ in range(MAX_PASSES):
            better, solved, better_wall, better_heat = _radial_pass(
                few_goal - few_new, few_wall_old, few_new, few_conduction, few_law, few_lines, few_side
            )
            # only the lines that asked for it: no answer may depend on what else is solved again
            np.copyto(few_new, better, where=again)
            np.copyto(few_wall, better_wall, where=again)
            np.copyto(few_heat, better_heat, where=again)
            few_conduction = few_law.conduction(few_new)
            again &= _lines_to_solve_again(solved, few_conduction, few_law, line_axis=0)
            if not again.any():
                break
        new[..., series], wall[..., series], heat[..., series] = few_new, few_wall, few_heat
        conduction.integral[..., series] = few_conduction.integral
        conduction.slope[..., series] = few_conduction.slope
    return new, wall, conduction, heat


def axial_sweep(
    goal: FloatArray, trial: FloatArray, at: Conduction, law: FreezingLaw, lines: AxialLines, top: Face, base: Face
) -> tuple[FloatArray, Conduction, FloatArray, FloatArray]:
    """Enthalpy and conduction after the axial flow; and the heat through top and base.

    `goal` and `trial` as in the radial sweep. The heats are in watts per square metre, shape (nr, n).
    """
    new, solved, top_heat, base_heat = _axial_pass(goal - trial, trial, at, law, lines, top, base)
    conduction = law.conduction(new)
    again = _lines_to_solve_again(solved, conduction, law, line_axis=1)
    if again.any():
        series = np.flatnonzero(again.any(axis=0))
        again = again[:, series]
        few_law, few_lines = take_series(law, series), take_series(lines, series)
        few_top, few_base = take_series(top, series), take_series(base, series)
        few_goal, few_new, few_conduction = goal[..., series], new[..., series], take_series(conduction, series)
        few_top_heat, few_base_heat = top_heat[..., series], base_heat[..., series]
        for _ in range(MAX_PASSES):
            better, solved, better_top, better_base = _axial_pass(
                few_goal - few_new, few_new, few_conduction, few_law, few_lines, few_top, few_base
            )
            np.copyto(few_new, better, where=again[:, None, :])
            np.copyto(few_top_heat, better_top, where=again)
            np.copyto(few_base_heat, better_base, where=again)
            few_conduction = few_law.conduction(few_new)
            again &= _lines_to_solve_again(solved, few_conduction, few_law, line_axis=1)
            if not again.any():
                break
        new[..., series], top_heat[..., series], base_heat[..., series] = few_new, few_top_heat, few_base_heat
        conduction.integral[..., series] = few_conduction.integral
        conduction.slope[..., series] = few_conduction.slope
    return new, conduction, top_heat, base_heat


def _lines_to_solve_again(
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
    size = lines.size_per_second[:, None, :]
    own = size * at.slope  # later: with all that is coupled through cells further in
    load = own * at.integral
    load += size * gap
    inverse = np.empty_like(trial)
    for i in range(last):
        inverse[i] = 1.0 / (own[i] + lines.link[i])
        coupled = lines.link[i] * inverse[i]
        load[i + 1] += coupled * load[i]
        own[i + 1] += coupled * own[i]

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
    solved = load  # each row is solved when its load has been used
    solved[last] = (soil_load + to_wall * wall) / soil_own
    for i in range(last - 1, -1, -1):
        solved[i] += lines.link[i] * solved[i + 1]
        solved[i] *= inverse[i]
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
    inverse = np.empty_like(trial)
    top_film, top_level = _end_film(trial[:, 0], at.integral[:, 0], law, top, lines.top_half_m)
    base_film, base_level = _end_film(trial[:, last], at.integral[:, last], law, base, lines.base_half_m)
    load[:, 0] += top_film * top_level
    own[:, 0] += top_film
    for j in range(last):
        inverse[:, j] = 1.0 / (own[:, j] + lines.link[j])
        coupled = lines.link[j] * inverse[:, j]
        load[:, j + 1] += coupled * load[:, j]
        own[:, j + 1] += coupled * own[:, j]
    solved = load
    solved[:, last] = (load[:, last] + base_film * base_level) / (own[:, last] + base_film)
    for j in range(last - 1, -1, -1):
        solved[:, j] += lines.link[j] * solved[:, j + 1]
        solved[:, j] *= inverse[:, j]
    new = solved - at.integral
    new *= at.slope
    new += trial
    return new, solved, top_film * (top_level - solved[:, 0]), base_film * (base_level - solved[:, last])


def _end_film(
    trial: FloatArray, integral: FloatArray, law: FreezingLaw, face: Face, half_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Film per conductivity, and the environment as a conductivity integral, for the end cells."""
    conductivity = law.conductivity_w_m_k(trial)
    film = film_to_cell(face.film_w_m2_k, half_m / conductivity)
    level = integral + conductivity * (face.environment_c - law.temperature_c(trial))
    return film / conductivity, level
