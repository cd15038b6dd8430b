"""Root balls through time: from the films of an hour to the state at its end, in array operations.

A step has two implicit stages of 0.293 of its length: the first as such, the second from the first's change
carried on to 0.707 of the step. Together they are exact to second order and, like backward Euler, damp what
is too fast for the step (a thin wall, a cell beside a strong film). On random pots the error from time at one
step an hour is that of backward Euler at about eight.

Two stages may overshoot after a jump. So every step is held against the bounds that conduction cannot leave,
and made again by one plain backward-Euler step for the series that left them (one step in 5000); where even that
goes astray, because the passes along a line of a strange mix do not settle, by more and shorter ones.

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
from frostguard.physics.root_ball_grid import Grid
from frostguard.physics.root_ball_inputs import FloatArray, Resolution, RootBalls
from frostguard.physics.root_ball_outputs import N_READINGS, Probe, read
from frostguard.physics.root_ball_quiet import (
    Constant,
    quiet_stage,
    radial_factors,
    start_quiet,
    stayed_out_of_freezing,
)
from frostguard.physics.root_ball_sweeps import (
    AxialLines,
    Face,
    RadialLines,
    axial_flow,
    axial_sweep,
    radial_sweep,
    sum_rows,
    take_series,
)

SECONDS_PER_HOUR = 3600.0

STAGE_SHARE = 1.0 - 0.5**0.5
"""Length of each implicit stage over the step; the one below 1 that makes two stages second order and damping."""

CARRY_ON = (1.0 - STAGE_SHARE) / STAGE_SHARE
"""How far the second stage carries on the change of the first before it adds its own."""

MOST_PARTS = 256
"""Backward-Euler steps that a step is divided into at the most; 16 were enough for the strangest balls tried."""

BOUND_TOLERANCE_K = 1e-6
"""How far a step may pass the bounds of its old state and environments before it is made again, more simply."""


@dataclass(frozen=True, slots=True)
class Lines:
    """The cells of n root balls as the sweeps need them, for one length of stage."""

    law: FreezingLaw
    radial: RadialLines
    axial: AxialLines
    steps_per_hour: int
    stage_s: float


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


def build_lines(root_balls: RootBalls, grid: Grid, resolution: Resolution, row_hours: float = 1.0) -> Lines:
    """Everything that stays the same through a run whose rows are `row_hours` apart."""
    stage_s = STAGE_SHARE * SECONDS_PER_HOUR * row_hours / resolution.steps_per_hour
    radius = root_balls.radius_m
    radial = RadialLines(
        size_per_second=grid.half_annulus_m2 / stage_s,
        held=grid.held,
        link=grid.radial_link,
        outer_half_1_m=1.0 / (radius * np.log(radius / grid.radial_centres_m[-1])),
        radius_m=radius,
        wall_half_resistance=0.5 * root_balls.wall_resistance_m2_k_w,
        wall_capacity_per_second=root_balls.wall_heat_capacity_j_m2_k / stage_s,
    )
    axial = AxialLines(
        thickness_per_second=grid.thickness_m / stage_s,
        size_per_second=grid.thickness_m * grid.held / stage_s,
        link=grid.axial_link_1_m,
        top_half_m=0.5 * grid.thickness_m[0],
        base_half_m=0.5 * grid.thickness_m[-1],
    )
    return Lines(freezing_law(root_balls), radial, axial, resolution.steps_per_hour, stage_s)


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
    law = lines.law
    unfrozen = enthalpy.min(axis=(0, 1)) >= 0.0
    frozen = enthalpy.max(axis=(0, 1)) <= law.end_enthalpy_j_m3
    new_enthalpy, new_wall = np.empty_like(enthalpy), np.empty_like(wall_c)
    heat = np.empty((3, enthalpy.shape[-1]))
    done = unfrozen | frozen
    one_phase = np.flatnonzero(done)
    if len(one_phase):
        few = take_lines(lines, one_phase)
        temperature = few.law.temperature_c(enthalpy[..., one_phase])
        quiet, temperature, wall, quiet_heat = _quiet_hour(
            temperature, wall_c[..., one_phase], frozen[one_phase], few, before[:, one_phase], after[:, one_phase]
        )
        done[one_phase] = quiet
        new_enthalpy[..., one_phase] = few.law.enthalpy_j_m3(temperature)
        new_wall[..., one_phase] = wall
        heat[..., one_phase] = quiet_heat
    general = np.flatnonzero(~done)
    if len(general):
        new_enthalpy[..., general], new_wall[..., general], heat[..., general] = _freezing_hour(
            enthalpy[..., general], wall_c[..., general], take_lines(lines, general),
            before[:, general], after[:, general],
        )  # fmt: skip
    # heats were summed with cell sizes per second of a stage: once for the size, once for the time
    heat *= 2.0 * np.pi * lines.stage_s**2
    return new_enthalpy, new_wall, heat


def advance_hours(
    enthalpy: FloatArray, wall_c: FloatArray, lines: Lines, films: FloatArray, probe: Probe
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """All series through some hours.

    Parameters
    ----------
    enthalpy : ndarray, shape (nr, nz, n)
    wall_c : ndarray, shape (nz, n)
    lines : Lines
    films : ndarray, shape (6, n_hours + 1, n)
        Films and environments at whole hours, in the order of Envelope.
    probe : Probe

    Returns
    -------
    enthalpy, wall_c : ndarray
        New arrays, at the last hour.
    readings : ndarray, shape (n_readings, n_hours + 1, n)
        At whole hours, from the start on.
    heat : ndarray, shape (3, n_hours + 1, n)
        Through side, top and base over the hour before [J], positive into the pot; 0 at the start.
    """
    rows, n = films.shape[1:]
    readings, heat = np.empty((N_READINGS + len(probe.row_above), rows, n)), np.zeros((3, rows, n))
    readings[:, 0] = read(enthalpy, lines.law, probe)
    for hour in range(1, rows):
        enthalpy, wall_c, heat[:, hour] = advance_hour(enthalpy, wall_c, lines, films[:, hour - 1], films[:, hour])
        readings[:, hour] = read(enthalpy, lines.law, probe)
    return enthalpy, wall_c, readings, heat


def _quiet_hour(
    temperature: FloatArray, wall_c: FloatArray, frozen: NDArray[np.bool_],
    lines: Lines, before: FloatArray, after: FloatArray,
) -> tuple[NDArray[np.bool_], FloatArray, FloatArray, FloatArray]:  # fmt: skip
    """One hour with constant properties; the first answer is for which series that was right."""
    law = lines.law
    mix = Constant(
        np.where(frozen, law.conductivity_frozen_w_m_k, law.conductivity_unfrozen_w_m_k),
        np.where(frozen, law.capacity_frozen_j_m3_k, law.capacity_unfrozen_j_m3_k),
    )
    factors = radial_factors(lines.radial, mix)
    state = start_quiet(temperature, wall_c, lines.axial, mix, films_between(before, after, 0.0))
    heat = np.zeros((3, temperature.shape[-1]))
    in_bounds = np.ones(temperature.shape[-1], dtype=bool)
    for step in range(lines.steps_per_hour):
        early = films_between(before, after, (step + STAGE_SHARE) / lines.steps_per_hour)
        late = films_between(before, after, (step + 1) / lines.steps_per_hour)
        old, wall_old = state.temperature_c, state.wall_c
        heat += CARRY_ON * quiet_stage(old, wall_old, state, lines.radial, factors, lines.axial, mix, early)
        carried = old + CARRY_ON * (state.temperature_c - old)
        wall_carried = wall_old + CARRY_ON * (state.wall_c - wall_old)
        heat += quiet_stage(carried, wall_carried, state, lines.radial, factors, lines.axial, mix, late)
        cells = _extremes(old), _extremes(state.temperature_c)
        in_bounds &= ~_astray(cells, (_extremes(wall_old), _extremes(state.wall_c)), lines, early, late)
    phase_end = law.start_c + law.end_enthalpy_j_m3 / law.capacity_freezing_j_m3_k
    quiet = in_bounds & stayed_out_of_freezing(state, law.start_c, phase_end)
    return quiet, state.temperature_c, state.wall_c, heat


def _freezing_hour(
    enthalpy: FloatArray, wall_c: FloatArray, lines: Lines, before: FloatArray, after: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """One hour on the whole freezing curve."""
    law = lines.law
    heat = np.zeros((3, enthalpy.shape[-1]))
    conduction = law.conduction(enthalpy)
    films = films_between(before, after, 0.0)
    flow = axial_flow(enthalpy, conduction, law, lines.axial, films.top, films.base)
    now = Moment(enthalpy, wall_c, conduction, flow)
    reached = _extremes(enthalpy)
    for step in range(lines.steps_per_hour):
        early = films_between(before, after, (step + STAGE_SHARE) / lines.steps_per_hour)
        late = films_between(before, after, (step + 1) / lines.steps_per_hour)
        then, step_heat = _two_stages(now, lines, early, late)
        left, reached = reached, _extremes(then.enthalpy)
        cells = tuple(map(law.temperature_c, left)), tuple(map(law.temperature_c, reached))
        walls = _extremes(now.wall_c), _extremes(then.wall_c)
        astray = np.flatnonzero(_astray(cells, walls, lines, early, late))
        if len(astray):
            _step_again_plainly(now, then, step_heat, astray, lines, early, late)
            reached = _extremes(then.enthalpy)
        now = then
        heat += step_heat
    return now.enthalpy, now.wall_c, heat


def _extremes(cells: FloatArray) -> tuple[FloatArray, ...]:
    """Lowest and highest value of each series."""
    over = tuple(range(cells.ndim - 1))
    return cells.min(axis=over), cells.max(axis=over)


@dataclass(frozen=True, slots=True)
class Moment:
    """State of n root balls, with its conduction and the axial flow that the next stage expects [J/m3]."""

    enthalpy: FloatArray
    wall_c: FloatArray
    conduction: Conduction
    flow: FloatArray


def _two_stages(now: Moment, lines: Lines, early: Films, late: Films) -> tuple[Moment, FloatArray]:
    """State one step later, and the heat through the faces."""
    first, first_heat = _stage(now.enthalpy, now.wall_c, now, lines, early)
    carried = now.enthalpy + CARRY_ON * (first.enthalpy - now.enthalpy)
    wall_carried = now.wall_c + CARRY_ON * (first.wall_c - now.wall_c)
    second, second_heat = _stage(carried, wall_carried, first, lines, late)
    return second, CARRY_ON * first_heat + second_heat


def _stage(
    enthalpy: FloatArray, wall_c: FloatArray, trial: Moment, lines: Lines, films: Films
) -> tuple[Moment, FloatArray]:
    """State one stage after `enthalpy` and `wall_c`, and the heat through the faces: watts per radian times m3/s.

    `trial` is a state near the answer, from which the first straight lines and the expected flow are taken.
    """
    between, wall, conduction, from_side = radial_sweep(
        enthalpy + trial.flow, wall_c, trial.enthalpy, trial.conduction, lines.law, lines.radial, films.side
    )
    rest = between - trial.flow
    new, conduction, from_top, from_base = axial_sweep(
        rest, between, conduction, lines.law, lines.axial, films.top, films.base
    )
    heat = np.empty((3, enthalpy.shape[-1]))
    heat[0] = sum_rows(from_side * lines.axial.thickness_per_second)
    heat[1] = sum_rows(from_top * lines.radial.size_per_second)
    heat[2] = sum_rows(from_base * lines.radial.size_per_second)
    return Moment(new, wall, conduction, new - rest), heat


_Extremes = tuple[tuple[FloatArray, ...], tuple[FloatArray, ...]]
"""Lowest and highest temperatures before and after a step."""


def _astray(cells: _Extremes, walls: _Extremes, lines: Lines, early: Films, late: Films) -> NDArray[np.bool_]:
    """Whether a step left the temperatures of old state, wall and environments, which conduction cannot."""
    (lowest, highest), (coldest, warmest) = cells
    has_wall = lines.radial.wall_capacity_per_second > 0.0
    lowest = np.where(has_wall, np.minimum(lowest, walls[0][0]), lowest)
    highest = np.where(has_wall, np.maximum(highest, walls[0][1]), highest)
    coldest = np.where(has_wall, np.minimum(coldest, walls[1][0]), coldest)
    warmest = np.where(has_wall, np.maximum(warmest, walls[1][1]), warmest)
    for films in (early, late):
        for face in (films.side, films.top, films.base):
            felt = face.film_w_m2_k > 0.0
            lowest = np.where(felt, np.minimum(lowest, face.environment_c), lowest)
            highest = np.where(felt, np.maximum(highest, face.environment_c), highest)
    too_cold: NDArray[np.bool_] = coldest < lowest - BOUND_TOLERANCE_K
    return too_cold | (warmest > highest + BOUND_TOLERANCE_K)


def _step_again_plainly(
    now: Moment, then: Moment, heat: FloatArray, astray: NDArray[np.intp], lines: Lines, early: Films, late: Films
) -> None:
    """Put in place of some series' step backward-Euler steps, as many as it takes to stay in bounds."""
    parts = 1
    while len(astray) and parts <= MOST_PARTS:
        plain, heat[..., astray] = _plain_steps(now, astray, lines, late, parts)
        then.enthalpy[..., astray] = plain.enthalpy
        then.wall_c[..., astray] = plain.wall_c
        then.conduction.integral[..., astray] = plain.conduction.integral
        then.conduction.slope[..., astray] = plain.conduction.slope
        then.flow[..., astray] = plain.flow
        few = take_lines(lines, astray)
        temperatures = [few.law.temperature_c(state[..., astray]) for state in (now.enthalpy, then.enthalpy)]
        cells = _extremes(temperatures[0]), _extremes(temperatures[1])
        walls = _extremes(now.wall_c[..., astray]), _extremes(plain.wall_c)
        astray = astray[_astray(cells, walls, few, take_series(early, astray), take_series(late, astray))]
        parts *= 4


def _plain_steps(
    now: Moment, index: NDArray[np.intp], lines: Lines, late: Films, parts: int
) -> tuple[Moment, FloatArray]:
    """One step of some series in equal backward-Euler parts that expect no axial flow, and its heat."""
    few, films = _in_parts(lines, index, parts), take_series(late, index)
    share = STAGE_SHARE * parts
    nothing = np.zeros_like(now.enthalpy[..., index])
    state = Moment(now.enthalpy[..., index], now.wall_c[..., index], take_series(now.conduction, index), nothing)
    heat = np.zeros((3, len(index)))
    for _ in range(parts):
        state, part_heat = _stage(state.enthalpy, state.wall_c, replace(state, flow=nothing), few, films)
        heat += part_heat
    # heat was summed with other sizes per second: once for the size, once for the time
    return replace(state, flow=share * state.flow), heat / share**2


def take_lines(lines: Lines, index: NDArray[np.intp]) -> Lines:
    """The lines of some of the series."""
    if len(index) == len(lines.law.start_c):
        return lines
    return Lines(
        take_series(lines.law, index),
        take_series(lines.radial, index),
        take_series(lines.axial, index),
        lines.steps_per_hour,
        lines.stage_s,
    )


def _in_parts(lines: Lines, index: NDArray[np.intp], parts: int) -> Lines:
    """Lines of some series for stages as long as a part of the step."""
    radial, axial = take_series(lines.radial, index), take_series(lines.axial, index)
    share = STAGE_SHARE * parts
    return Lines(
        take_series(lines.law, index),
        replace(
            radial,
            size_per_second=share * radial.size_per_second,
            wall_capacity_per_second=share * radial.wall_capacity_per_second,
        ),
        replace(
            axial,
            thickness_per_second=share * axial.thickness_per_second,
            size_per_second=share * axial.size_per_second,
        ),
        lines.steps_per_hour,
        lines.stage_s,
    )
