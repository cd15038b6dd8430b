"""Root balls through time: from the films of an hour to the state at its end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from frostguard.physics.root_ball_freezing import FreezingLaw, freezing_law
from frostguard.physics.root_ball_grid import Grid, build_grid
from frostguard.physics.root_ball_inputs import Envelope, FloatArray, Resolution, RootBalls
from frostguard.physics.root_ball_sweeps import (
    AxialLines,
    Conduction,
    Face,
    RadialLines,
    axial_sweep,
    radial_sweep,
)

SECONDS_PER_HOUR = 3600.0


@dataclass(frozen=True, slots=True)
class Lines:
    """The cells of n root balls as the sweeps need them, for one length of step."""

    law: FreezingLaw
    grid: Grid
    radial: RadialLines
    axial: AxialLines
    steps_per_hour: int


def build_lines(root_balls: RootBalls, resolution: Resolution) -> Lines:
    """Everything that stays the same through a run."""
    grid = build_grid(root_balls, resolution)
    step_s = SECONDS_PER_HOUR / resolution.steps_per_hour
    radius = root_balls.radius_m
    radial = RadialLines(
        size_per_second=grid.half_annulus_m2 / step_s,
        link=grid.radial_link,
        outer_half_1_m=1.0 / (radius * np.log(radius / grid.radial_centres_m[-1])),
        radius_m=radius,
        wall_half_resistance=0.5 * root_balls.wall_resistance_m2_k_w,
        wall_capacity_per_second=root_balls.wall_heat_capacity_j_m2_k / step_s,
    )
    axial = AxialLines(
        size_per_second=grid.thickness_m / step_s,
        link=grid.axial_link_1_m,
        top_half_m=0.5 * grid.thickness_m[0],
        base_half_m=0.5 * grid.thickness_m[-1],
    )
    return Lines(freezing_law(root_balls), grid, radial, axial, resolution.steps_per_hour)


@dataclass(slots=True)
class Moment:
    """State of a chunk of series while it is computed."""

    enthalpy: FloatArray
    wall_c: FloatArray
    conduction: Conduction
    steps_done: int


def step_through_hour(moment: Moment, lines: Lines, envelope: Envelope, hour: int) -> FloatArray:
    """Advance by the hour that starts at row `hour`; returns the heat into the pot [J], shape (3, n)."""
    heat = np.zeros((3, moment.enthalpy.shape[-1]))
    for step in range(1, lines.steps_per_hour + 1):
        later = step / lines.steps_per_hour
        side, top, base = (_face_at(envelope, name, hour, later) for name in ("side", "top", "base"))
        # the order alternates over the whole run: starting each hour afresh would leave a bias
        if moment.steps_done % 2 == 0:
            _radial(moment, lines, side, heat)
            _axial(moment, lines, top, base, heat)
        else:
            _axial(moment, lines, top, base, heat)
            _radial(moment, lines, side, heat)
        moment.steps_done += 1
    return heat * (2.0 * np.pi * SECONDS_PER_HOUR / lines.steps_per_hour)


def _face_at(envelope: Envelope, name: str, hour: int, later: float) -> Face:
    film: FloatArray = getattr(envelope, f"{name}_film_w_m2_k")
    environment: FloatArray = getattr(envelope, f"{name}_environment_c")
    return Face(
        film[hour] + later * (film[hour + 1] - film[hour]),
        environment[hour] + later * (environment[hour + 1] - environment[hour]),
    )


def _radial(moment: Moment, lines: Lines, side: Face, heat: FloatArray) -> None:
    moment.enthalpy, moment.wall_c, moment.conduction, inflow = radial_sweep(
        moment.enthalpy, moment.wall_c, moment.conduction, lines.law, lines.radial, side
    )
    for row, thickness in zip(inflow, lines.grid.thickness_m, strict=True):
        heat[0] += row * thickness


def _axial(moment: Moment, lines: Lines, top: Face, base: Face, heat: FloatArray) -> None:
    moment.enthalpy, moment.conduction, from_top, from_base = axial_sweep(
        moment.enthalpy, moment.conduction, lines.law, lines.axial, top, base
    )
    for i, annulus in enumerate(lines.grid.half_annulus_m2):
        heat[1] += from_top[i] * annulus
        heat[2] += from_base[i] * annulus
