"""One implicit time step of many root balls: a radial and an axial sweep, each exactly conservative.

Each sweep solves, for every line of cells at once, the backward-Euler balance

    H_new - H_old = dt * (sum over the two faces of link * (Q_neighbour - Q)) / cell size

with fluxes at the new state. H(Q) is a curve of three pieces, so it is replaced by the straight line
dH/dQ at a trial state, solved (tridiagonal), and solved again from the answer for those series in which
a cell left its piece. Whatever the number of passes, both sides of a face see the same flux: heat is
conserved to rounding. Backward Euler keeps every cell between its neighbours, old self and environments.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from frostguard.physics.root_ball_freezing import FreezingLaw
from frostguard.physics.root_ball_inputs import FloatArray

PASS_TOLERANCE_K = 0.01
"""A series is solved again while any cell's straight line misses the freezing curve by more than this.

Chosen, not from a source: a tenth of the accuracy wanted of ring minima.
"""

MAX_PASSES = 12

_Record = TypeVar("_Record")


@dataclass(frozen=True, slots=True)
class Conduction:
    """Conductivity integral of every cell [W/m] and the slope dH/dQ there; shape (nr, nz, n)."""

    integral: FloatArray
    slope: FloatArray


@dataclass(frozen=True, slots=True)
class RadialLines:
    """What radial lines of cells are made of, per radian and metre of height."""

    size_per_second: FloatArray  # (nr, n), cell size over the time step
    link: FloatArray  # (nr - 1, n)
    outer_half_1_m: FloatArray  # (n,), distance from the outermost cell to the wall, inverted
    radius_m: FloatArray
    wall_half_resistance: FloatArray  # (n,)
    wall_capacity_per_second: FloatArray  # (n,), per square metre of side


@dataclass(frozen=True, slots=True)
class AxialLines:
    """What axial lines of cells are made of, per square metre of cross-section."""

    size_per_second: FloatArray  # (nz, n)
    link: FloatArray  # (nz - 1, n)
    top_half_m: FloatArray  # (n,), half the thickness of the end cells
    base_half_m: FloatArray


@dataclass(frozen=True, slots=True)
class Face:
    """Film and environment temperature of one face at the end of a step; shape (n,)."""

    film_w_m2_k: FloatArray
    environment_c: FloatArray


def take_series(record: _Record, index: NDArray[np.intp]) -> _Record:
    """The same record for some of its series; every field ends in the series axis."""
    return type(record)(*(getattr(record, field.name)[..., index] for field in fields(record)))  # type: ignore[arg-type]


def film_to_cell(film_w_m2_k: FloatArray, resistance_m2_k_w: FloatArray) -> FloatArray:
    """Conductance of a film and a resistance in series [W/(m2 K)]; right for a film of 0."""
    return film_w_m2_k / (1.0 + film_w_m2_k * resistance_m2_k_w)


def radial_sweep(
    enthalpy: FloatArray, wall_c: FloatArray, at: Conduction, law: FreezingLaw, lines: RadialLines, side: Face
) -> tuple[FloatArray, FloatArray, Conduction, FloatArray]:
    """Enthalpy, wall temperature and conduction after conduction along the radii; and heat from outside.

    The last is in watts per radian and metre of height, shape (nz, n).
    """
    new, solved, wall, heat = _radial_pass(enthalpy, wall_c, enthalpy, at, law, lines, side)
    conduction = Conduction(*law.conduction(new))
    redo = _missing_the_curve(solved, conduction, law)
    for _ in range(MAX_PASSES):
        if not len(redo):
            break
        few = take_series(law, redo)
        trial, start = take_series(conduction, redo), enthalpy[..., redo]
        new_few, solved_few, wall_few, heat_few = _radial_pass(
            start, wall_c[..., redo], new[..., redo], trial, few, take_series(lines, redo), take_series(side, redo)
        )
        conduction_few = Conduction(*few.conduction(new_few))
        new[..., redo], wall[..., redo], heat[..., redo] = new_few, wall_few, heat_few
        conduction.integral[..., redo], conduction.slope[..., redo] = conduction_few.integral, conduction_few.slope
        redo = redo[_missing_the_curve(solved_few, conduction_few, few)]
    return new, wall, conduction, heat


def axial_sweep(
    enthalpy: FloatArray, at: Conduction, law: FreezingLaw, lines: AxialLines, top: Face, base: Face
) -> tuple[FloatArray, Conduction, FloatArray, FloatArray]:
    """Enthalpy and conduction after conduction along the height; and heat through top and base.

    The last two are in watts per square metre, shape (nr, n).
    """
    new, solved, top_heat, base_heat = _axial_pass(enthalpy, enthalpy, at, law, lines, top, base)
    conduction = Conduction(*law.conduction(new))
    redo = _missing_the_curve(solved, conduction, law)
    for _ in range(MAX_PASSES):
        if not len(redo):
            break
        few = take_series(law, redo)
        new_few, solved_few, top_few, base_few = _axial_pass(
            enthalpy[..., redo], new[..., redo], take_series(conduction, redo), few,
            take_series(lines, redo), take_series(top, redo), take_series(base, redo),
        )  # fmt: skip
        conduction_few = Conduction(*few.conduction(new_few))
        new[..., redo], top_heat[..., redo], base_heat[..., redo] = new_few, top_few, base_few
        conduction.integral[..., redo], conduction.slope[..., redo] = conduction_few.integral, conduction_few.slope
        redo = redo[_missing_the_curve(solved_few, conduction_few, few)]
    return new, conduction, top_heat, base_heat


def _missing_the_curve(solved: FloatArray, conduction: Conduction, law: FreezingLaw) -> NDArray[np.intp]:
    """Positions of the series in which a cell's straight line missed the freezing curve."""
    miss = np.abs(solved - conduction.integral).max(axis=(0, 1))
    return np.flatnonzero(miss > PASS_TOLERANCE_K * law.conductivity_unfrozen_w_m_k)


def _radial_pass(
    old: FloatArray, wall_old: FloatArray, trial: FloatArray, at: Conduction,
    law: FreezingLaw, lines: RadialLines, side: Face,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:  # fmt: skip
    """New enthalpy, solved conductivity integral, new wall temperature, heat from outside."""
    last = len(old) - 1
    own = lines.size_per_second[:, None, :] * at.slope
    load = own * at.integral + lines.size_per_second[:, None, :] * (old - trial)
    solved = np.empty_like(old)
    inverse = np.empty_like(old)
    inner = own[0]  # own storage plus all that is coupled through cells further in
    for i in range(last):
        link = lines.link[i]
        inverse[i] = 1.0 / (inner + link)
        coupled = link * inverse[i]
        load[i + 1] += coupled * load[i]
        inner = own[i + 1] + coupled * inner

    # outermost cell to the middle of the wall: temperatures, not conductivity integrals
    conductivity = law.conductivity_w_m_k(trial[last])
    above_line = law.temperature_c(trial[last]) - at.integral[last] / conductivity
    to_wall = lines.radius_m / (1.0 / (lines.outer_half_1_m * conductivity) + lines.wall_half_resistance)
    outside = lines.radius_m * film_to_cell(side.film_w_m2_k, lines.wall_half_resistance)
    wall_own = lines.radius_m * lines.wall_capacity_per_second
    slope = to_wall / conductivity
    soil_own = inner + slope
    soil_load = load[last] - to_wall * above_line
    # wall row: (wall_own + outside + to_wall) T_wall - slope q = wall_own T_old + outside T_env + to_wall above_line
    share = slope / soil_own
    wall_load = wall_own * wall_old + outside * side.environment_c + to_wall * above_line + share * soil_load
    wall = wall_load / (wall_own + outside + to_wall * (inner / soil_own))
    solved[last] = (soil_load + to_wall * wall) / soil_own
    for i in range(last - 1, -1, -1):
        solved[i] = (load[i] + lines.link[i] * solved[i + 1]) * inverse[i]
    new = trial + at.slope * (solved - at.integral)
    return new, solved, wall, outside * (side.environment_c - wall)


def _axial_pass(
    old: FloatArray, trial: FloatArray, at: Conduction,
    law: FreezingLaw, lines: AxialLines, top: Face, base: Face,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:  # fmt: skip
    """New enthalpy, solved conductivity integral, heat through top and base."""
    last = old.shape[1] - 1
    own = lines.size_per_second * at.slope
    load = own * at.integral + lines.size_per_second * (old - trial)
    solved = np.empty_like(old)
    inverse = np.empty_like(old)
    top_film, top_level = _end_film(trial[:, 0], at.integral[:, 0], law, top, lines.top_half_m)
    base_film, base_level = _end_film(trial[:, last], at.integral[:, last], law, base, lines.base_half_m)
    load[:, 0] += top_film * top_level
    above = own[:, 0] + top_film
    for j in range(last):
        link = lines.link[j]
        inverse[:, j] = 1.0 / (above + link)
        coupled = link * inverse[:, j]
        load[:, j + 1] += coupled * load[:, j]
        above = own[:, j + 1] + coupled * above
    solved[:, last] = (load[:, last] + base_film * base_level) / (above + base_film)
    for j in range(last - 1, -1, -1):
        solved[:, j] = (load[:, j] + lines.link[j] * solved[:, j + 1]) * inverse[:, j]
    new = trial + at.slope * (solved - at.integral)
    return new, solved, top_film * (top_level - solved[:, 0]), base_film * (base_level - solved[:, last])


def _end_film(
    trial: FloatArray, integral: FloatArray, law: FreezingLaw, face: Face, half_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Film per conductivity, and the environment as a conductivity integral, on the end cells' straight line."""
    conductivity = law.conductivity_w_m_k(trial)
    film = film_to_cell(face.film_w_m2_k, half_m / conductivity)
    level = integral + conductivity * (face.environment_c - law.temperature_c(trial))
    return film / conductivity, level
