"""An hour in which nothing freezes or thaws: the same stages with constant properties, several times faster.

With one conductivity and one heat capacity per ball the freezing curve is a straight line: no passes, and the
tridiagonal factors are the same for all lines of a ball. Whether the hour stayed quiet is seen afterwards;
series in which a cell touched the freezing range go the general way instead.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from frostguard.physics.root_ball_inputs import FloatArray
from frostguard.physics.root_ball_sweeps import AxialLines, Face, RadialLines, film_to_cell, sum_rows


class FacesAtOnce(Protocol):
    """The three faces at one moment."""

    @property
    def side(self) -> Face: ...
    @property
    def top(self) -> Face: ...
    @property
    def base(self) -> Face: ...


@dataclass(frozen=True, slots=True)
class Constant:
    """Constant properties of n balls, shape (n,)."""

    conductivity_w_m_k: FloatArray
    capacity_j_m3_k: FloatArray


@dataclass(frozen=True, slots=True)
class RadialFactors:
    """Elimination of the radial lines: g[i] = own[i] goal[i] + inner[i] g[i-1], then T[i] = g[i] + outer[i] T[i+1]."""

    own: FloatArray  # (nr, nz, n)
    inner: list[FloatArray]  # nr of shape (nz, n)
    outer: list[FloatArray]
    last_inner_w_k: FloatArray  # (nz, n), all that is coupled to the outermost cell from further in


@dataclass(slots=True)
class QuietState:
    """Temperatures, the axial flow expected [K], and the extremes met on the way."""

    temperature_c: FloatArray  # (nr, nz, n)
    wall_c: FloatArray  # (nz, n)
    flow_k: FloatArray
    coldest_c: FloatArray  # (n,)
    warmest_c: FloatArray


def radial_factors(lines: RadialLines, mix: Constant) -> RadialFactors:
    """The part of the radial elimination that does not depend on the films."""
    link = lines.link * mix.conductivity_w_m_k
    size = (lines.size_per_second * mix.capacity_j_m3_k)[:, None] * lines.held
    own, inner, outer = np.zeros_like(size), [], []
    coupled = np.zeros_like(size[0])
    for i in range(len(size) - 1):
        all_inner = size[i] + coupled
        inverse = 1.0 / (all_inner + link[i])
        np.multiply(inverse, size[i], out=own[i])
        inner.append(inverse * link[i - 1])  # of the axis: not used
        outer.append(inverse * link[i])
        coupled = outer[i] * all_inner
    return RadialFactors(own, inner, outer, size[-1] + coupled)


def start_quiet(
    temperature_c: FloatArray, wall_c: FloatArray, lines: AxialLines, mix: Constant, faces: FacesAtOnce
) -> QuietState:
    """State at the start of the hour, with the axial flow over one stage."""
    flow = np.zeros_like(temperature_c)
    down = (lines.link * mix.conductivity_w_m_k) * (temperature_c[:, 1:] - temperature_c[:, :-1])
    flow[:, :-1] += down
    flow[:, 1:] -= down
    for end, face, half in ((0, faces.top, lines.top_half_m), (-1, faces.base, lines.base_half_m)):
        film = film_to_cell(face.film_w_m2_k, half / mix.conductivity_w_m_k)
        flow[:, end] += film * (face.environment_c - temperature_c[:, end])
    flow /= lines.size_per_second * mix.capacity_j_m3_k
    coldest, warmest = temperature_c.min(axis=(0, 1)), temperature_c.max(axis=(0, 1))
    return QuietState(temperature_c, wall_c, flow, coldest, warmest)


def quiet_stage(
    start_c: FloatArray, wall_start_c: FloatArray, state: QuietState,
    radial: RadialLines, factors: RadialFactors, axial: AxialLines, mix: Constant, faces: FacesAtOnce,
) -> FloatArray:  # fmt: skip
    """One stage from `start_c`, with the answer in `state`; returns the heat as `root_ball_steps` sums it."""
    heat = np.zeros((3, start_c.shape[-1]))
    new, wall, from_side = _radial(start_c + state.flow_k, wall_start_c, radial, factors, mix, faces.side)
    heat[0] = sum_rows(from_side * axial.thickness_per_second)
    np.minimum(state.coldest_c, new.min(axis=(0, 1)), out=state.coldest_c)
    np.maximum(state.warmest_c, new.max(axis=(0, 1)), out=state.warmest_c)
    new -= state.flow_k
    rest = new
    new, from_top, from_base = _axial(rest, axial, mix, faces.top, faces.base)
    heat[1] = sum_rows(from_top * radial.size_per_second)
    heat[2] = sum_rows(from_base * radial.size_per_second)
    np.minimum(state.coldest_c, new.min(axis=(0, 1)), out=state.coldest_c)
    np.maximum(state.warmest_c, new.max(axis=(0, 1)), out=state.warmest_c)
    state.temperature_c, state.wall_c, state.flow_k = new, wall, new - rest
    return heat


def _radial(
    goal: FloatArray, wall_old: FloatArray, lines: RadialLines, factors: RadialFactors, mix: Constant, side: Face
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Temperatures after conduction along the radii, of the wall, and the heat from outside."""
    last = len(goal) - 1
    new = goal * factors.own
    rows = list(new)
    for i in range(1, last):
        rows[i] += factors.inner[i] * rows[i - 1]
    size = lines.size_per_second[last] * mix.capacity_j_m3_k * lines.held
    load = size * goal[last] + lines.link[last - 1] * mix.conductivity_w_m_k * new[last - 1]
    to_wall = lines.radius_m / (1.0 / (lines.outer_half_1_m * mix.conductivity_w_m_k) + lines.wall_half_resistance)
    outside = lines.radius_m * film_to_cell(side.film_w_m2_k, lines.wall_half_resistance)
    wall_own = lines.radius_m * lines.wall_capacity_per_second
    soil_own = factors.last_inner_w_k + to_wall
    wall_load = wall_own * wall_old + outside * side.environment_c + to_wall / soil_own * load
    wall = wall_load / (wall_own + outside + to_wall * (factors.last_inner_w_k / soil_own))
    new[last] = (load + to_wall * wall) / soil_own
    for i in range(last - 1, -1, -1):
        rows[i] += factors.outer[i] * rows[i + 1]
    return new, wall, outside * (side.environment_c - wall)


def _axial(
    goal: FloatArray, lines: AxialLines, mix: Constant, top: Face, base: Face
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Temperatures after conduction along the height, and the heat through top and base."""
    last = goal.shape[1] - 1
    link = lines.link * mix.conductivity_w_m_k
    size = lines.size_per_second * mix.capacity_j_m3_k
    top_film = film_to_cell(top.film_w_m2_k, lines.top_half_m / mix.conductivity_w_m_k)
    base_film = film_to_cell(base.film_w_m2_k, lines.base_half_m / mix.conductivity_w_m_k)
    # heights first, as in the general sweep
    new = np.ascontiguousarray(goal.swapaxes(0, 1))
    new *= size[:, None]
    new[0] += top_film * top.environment_c
    new[last] += base_film * base.environment_c
    rows, outer = list(new), []
    coupled = top_film
    for j in range(last):
        all_above = size[j] + coupled
        inverse = 1.0 / (all_above + link[j])
        outer.append(inverse * link[j])
        coupled = outer[j] * all_above
        rows[j] *= inverse
        rows[j + 1] += link[j] * rows[j]
    rows[last] /= size[last] + coupled + base_film
    for j in range(last - 1, -1, -1):
        rows[j] += outer[j] * rows[j + 1]
    return (
        np.ascontiguousarray(new.swapaxes(0, 1)),
        top_film * (top.environment_c - new[0]),
        base_film * (base.environment_c - new[last]),
    )


def stayed_out_of_freezing(
    state: QuietState, freezing_start_c: FloatArray, freezing_end_c: FloatArray
) -> NDArray[np.bool_]:
    """Series whose cells all stayed unfrozen, or all frozen."""
    unfrozen: NDArray[np.bool_] = state.coldest_c >= freezing_start_c
    return unfrozen | (state.warmest_c <= freezing_end_c)
