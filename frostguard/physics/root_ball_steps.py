"""Root balls through time: from the films of an hour to the state at its end, in array operations.

A step has two implicit stages of 0.293 of its length: the first as such, the second from the first's change
carried on to 0.707 of the step. Together they are exact to second order and, like backward Euler, damp what
is too fast for the step (a thin wall, a cell beside a strong film). On random pots the error from time at one
step an hour is that of backward Euler at about eight.

Two stages may overshoot after a jump. So every step is held against the bounds that conduction cannot leave,
and made again by one plain backward-Euler step for the series that left them (one step in 5000).

References
----------
R. Alexander, Diagonally implicit Runge-Kutta methods for stiff O.D.E.'s, SIAM J. Numer. Anal. 14, 1977:
the two-stage method of order two (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from frostguard.physics.root_ball_freezing import Conduction, FreezingLaw, freezing_law
from frostguard.physics.root_ball_grid import Grid, build_grid
from frostguard.physics.root_ball_inputs import FloatArray, Resolution, RootBalls
from frostguard.physics.root_ball_sweeps import (
    AxialLines,
    Face,
    RadialLines,
    axial_flow,
    axial_sweep,
    radial_sweep,
    take_series,
)

SECONDS_PER_HOUR = 3600.0

STAGE_SHARE = 1.0 - 0.5**0.5
"""Length of each implicit stage over the step; the one below 1 that makes two stages second order and damping."""

CARRY_ON = (1.0 - STAGE_SHARE) / STAGE_SHARE
"""How far the second stage carries on the change of the first before it adds its own."""

BOUND_TOLERANCE_K = 1e-6
"""How far a step may pass the bounds of its old state and environments before it is made again, more simply."""


@dataclass(frozen=True, slots=True)
class Lines:
    """The cells of n root balls as the sweeps need them, for one length of stage."""

    law: FreezingLaw
    grid: Grid
    radial: RadialLines
    axial: AxialLines
    steps_per_hour: int


@dataclass(frozen=True, slots=True)
class Films:
    """Films and environments of the three faces at one moment, each shape (n,); rows in Envelope's order."""

    side_film: FloatArray
    side_environment: FloatArray
    top_film: FloatArray
    top_environment: FloatArray
    base_film: FloatArray
    base_environment: FloatArray

    @property
    def side(self) -> Face:
        """Outside the wall."""
        return Face(self.side_film, self.side_environment)

    @property
    def top(self) -> Face:
        """Above the mix."""
        return Face(self.top_film, self.top_environment)

    @property
    def base(self) -> Face:
        """Below the mix."""
        return Face(self.base_film, self.base_environment)


def build_lines(root_balls: RootBalls, resolution: Resolution) -> Lines:
    """Everything that stays the same through a run."""
    grid = build_grid(root_balls, resolution)
    stage_s = STAGE_SHARE * SECONDS_PER_HOUR / resolution.steps_per_hour
    radius = root_balls.radius_m
    radial = RadialLines(
        size_per_second=grid.half_annulus_m2 / stage_s,
        link=grid.radial_link,
        outer_half_1_m=1.0 / (radius * np.log(radius / grid.radial_centres_m[-1])),
        radius_m=radius,
        wall_half_resistance=0.5 * root_balls.wall_resistance_m2_k_w,
        wall_capacity_per_second=root_balls.wall_heat_capacity_j_m2_k / stage_s,
    )
    axial = AxialLines(
        size_per_second=grid.thickness_m / stage_s,
        link=grid.axial_link_1_m,
        top_half_m=0.5 * grid.thickness_m[0],
        base_half_m=0.5 * grid.thickness_m[-1],
    )
    return Lines(freezing_law(root_balls), grid, radial, axial, resolution.steps_per_hour)


def films_between(before: FloatArray, after: FloatArray, later: float) -> Films:
    """Films at a share of the hour, linear between two whole hours; arrays of shape (6, n)."""
    return Films(*(before + later * (after - before)))


def advance_hour(
    enthalpy: FloatArray, wall_c: FloatArray, lines: Lines, before: FloatArray, after: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """One hour of all series.

    Parameters
    ----------
    enthalpy : ndarray, shape (nr, nz, n)
    wall_c : ndarray, shape (nz, n)
    lines : Lines
    before, after : ndarray, shape (6, n)
        Films and environments at the two whole hours, in the order of Envelope.

    Returns
    -------
    enthalpy, wall_c : ndarray
        New arrays.
    heat : ndarray, shape (3, n)
        Through side, top and base over the hour [J], positive into the pot.
    """
    heat = np.zeros((3, enthalpy.shape[-1]))
    conduction = lines.law.conduction(enthalpy)
    films = films_between(before, after, 0.0)
    flow = axial_flow(enthalpy, conduction, lines.law, lines.axial, films.top, films.base)
    now = Moment(enthalpy, wall_c, conduction, flow)
    for step in range(lines.steps_per_hour):
        early = films_between(before, after, (step + STAGE_SHARE) / lines.steps_per_hour)
        late = films_between(before, after, (step + 1) / lines.steps_per_hour)
        then, step_heat = _two_stages(now, lines, early, late)
        astray = _astray(now, then, lines, early, late)
        if len(astray):
            _step_again_plainly(now, then, step_heat, astray, lines, late)
        now = then
        heat += step_heat
    heat *= 2.0 * np.pi * STAGE_SHARE * SECONDS_PER_HOUR / lines.steps_per_hour
    return now.enthalpy, now.wall_c, heat


@dataclass(frozen=True, slots=True)
class Moment:
    """State of n root balls, with its conduction and the axial flow that the next stage expects [J/m3]."""

    enthalpy: FloatArray
    wall_c: FloatArray
    conduction: Conduction
    flow: FloatArray


def _two_stages(now: Moment, lines: Lines, early: Films, late: Films) -> tuple[Moment, FloatArray]:
    """State one step later, and the heat through the faces in watts per radian times step over stage."""
    first, first_heat = _stage(now.enthalpy, now.wall_c, now, lines, early)
    carried = now.enthalpy + CARRY_ON * (first.enthalpy - now.enthalpy)
    wall_carried = now.wall_c + CARRY_ON * (first.wall_c - now.wall_c)
    second, second_heat = _stage(carried, wall_carried, first, lines, late)
    return second, CARRY_ON * first_heat + second_heat


def _stage(
    enthalpy: FloatArray, wall_c: FloatArray, trial: Moment, lines: Lines, films: Films
) -> tuple[Moment, FloatArray]:
    """State one stage after `enthalpy` and `wall_c`, and the heat through the faces [W/radian].

    `trial` is a state near the answer, from which the first straight lines and the expected flow are taken.
    """
    between, wall, conduction, from_side = radial_sweep(
        enthalpy + trial.flow, wall_c, trial.enthalpy, trial.conduction, lines.law, lines.radial, films.side
    )
    rest = between - trial.flow
    new, conduction, from_top, from_base = axial_sweep(
        rest, between, conduction, lines.law, lines.axial, films.top, films.base
    )
    heat = np.zeros((3, enthalpy.shape[-1]))
    # row by row: np.sum would add in another order for a single series
    for row, thickness in zip(from_side, lines.grid.thickness_m, strict=True):
        heat[0] += row * thickness
    for top, base, annulus in zip(from_top, from_base, lines.grid.half_annulus_m2, strict=True):
        heat[1] += top * annulus
        heat[2] += base * annulus
    return Moment(new, wall, conduction, new - rest), heat


def _astray(now: Moment, then: Moment, lines: Lines, early: Films, late: Films) -> NDArray[np.intp]:
    """Series that left the temperatures of their old state, wall and environments, which conduction cannot."""
    law = lines.law
    lowest = law.temperature_c(now.enthalpy.min(axis=(0, 1)))
    highest = law.temperature_c(now.enthalpy.max(axis=(0, 1)))
    has_wall = lines.radial.wall_capacity_per_second > 0.0
    lowest = np.where(has_wall, np.minimum(lowest, now.wall_c.min(axis=0)), lowest)
    highest = np.where(has_wall, np.maximum(highest, now.wall_c.max(axis=0)), highest)
    for films in (early, late):
        for face in (films.side, films.top, films.base):
            felt = face.film_w_m2_k > 0.0
            lowest = np.where(felt, np.minimum(lowest, face.environment_c), lowest)
            highest = np.where(felt, np.maximum(highest, face.environment_c), highest)
    too_cold = law.temperature_c(then.enthalpy.min(axis=(0, 1))) < lowest - BOUND_TOLERANCE_K
    too_warm = law.temperature_c(then.enthalpy.max(axis=(0, 1))) > highest + BOUND_TOLERANCE_K
    return np.flatnonzero(too_cold | too_warm)


def _step_again_plainly(
    now: Moment, then: Moment, heat: FloatArray, astray: NDArray[np.intp], lines: Lines, late: Films
) -> None:
    """Put in place of some series' step one backward-Euler step that expects no axial flow."""
    few = _as_one_stage(lines, astray)
    old = Moment(
        now.enthalpy[..., astray],
        now.wall_c[..., astray],
        take_series(now.conduction, astray),
        np.zeros_like(now.enthalpy[..., astray]),
    )
    plain, plain_heat = _stage(old.enthalpy, old.wall_c, old, few, take_series(late, astray))
    then.enthalpy[..., astray] = plain.enthalpy
    then.wall_c[..., astray] = plain.wall_c
    then.conduction.integral[..., astray] = plain.conduction.integral
    then.conduction.slope[..., astray] = plain.conduction.slope
    then.flow[..., astray] = STAGE_SHARE * plain.flow
    heat[..., astray] = plain_heat / STAGE_SHARE


def _as_one_stage(lines: Lines, index: NDArray[np.intp]) -> Lines:
    """Lines of some series for a stage as long as the step."""
    radial, axial = take_series(lines.radial, index), take_series(lines.axial, index)
    return Lines(
        take_series(lines.law, index),
        take_series(lines.grid, index),
        replace(
            radial,
            size_per_second=STAGE_SHARE * radial.size_per_second,
            wall_capacity_per_second=STAGE_SHARE * radial.wall_capacity_per_second,
        ),
        replace(axial, size_per_second=STAGE_SHARE * axial.size_per_second),
        lines.steps_per_hour,
    )
