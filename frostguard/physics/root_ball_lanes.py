# mypy: allow-untyped-defs, allow-untyped-calls, allow-untyped-decorators, disable-error-code="misc"
# (numba takes the types of compiled functions from their first call; annotations would be ignored)
"""Conduction along the lines of cells of many balls side by side, as loops for numba to compile.

The equations of `root_ball_sweeps`; see there for what they mean. Written in the change x of each cell's enthalpy
beside its trial state, with Q = Q_trial + a x (a: diffusivity dQ/dH), which takes one division a cell:

    size x_i = size (goal_i - trial_i) + link_i (Q_i+1 - Q_i) + link_i-1 (Q_i-1 - Q_i)

The innermost loops run over lanes, one ball each, that lie side by side in memory, and do plain arithmetic: they
become vector instructions. That takes two things. The compiler must know that no two arrays overlap (`Apart`);
left to check it, it gives up at the eighth pair. And positions are unsigned (`at`), because a signed one might
count from the end. No rearranged arithmetic is allowed (`fastmath`): each lane then gives the same digits
alone, in a vector, and whatever its neighbours hold.
"""

from __future__ import annotations

from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numba import njit  # type: ignore[import-not-found,import-untyped,unused-ignore]
from numba.core.compiler import (  # type: ignore[import-not-found,import-untyped,unused-ignore]
    CompilerBase,
    DefaultPassBuilder,
)

from frostguard.physics.root_ball_inputs import FloatArray
from frostguard.physics.root_ball_sweeps import MAX_PASSES, PASS_TOLERANCE_K

at = np.uint64
"""A position in an array."""

SIDE_FILM, SIDE_C, TOP_FILM, TOP_C, BASE_FILM, BASE_C = range(6)
"""Rows of films, in the order of Envelope."""

START_C, END, LINEAR, SQUARE, SPREAD_U, SPREAD_F, K_U, K_GAIN, BY_C_U, BY_C_L, BY_C_F = range(11)
"""Rows of a freezing law: where freezing starts [degC] and ends [J/m3]; integral = (LINEAR + SQUARE H) H while it
freezes; diffusivities unfrozen and frozen; conductivity = K_U + K_GAIN H while it freezes; heat capacities inverted."""

OUTER_HALF_1_M, RADIUS, WALL_HALF, WALL_CAPACITY = range(4)
"""Rows of radial ends: distance from outermost cell to wall, inverted; half wall resistance; capacity a second."""

TOP_HALF, BASE_HALF = range(2)
"""Rows of axial ends: half the thickness of the first and last cell."""


class Apart(CompilerBase):  # type: ignore[misc,unused-ignore]
    """Compiles a function on the promise that no two of its arrays overlap."""

    def define_pipelines(self) -> list[Any]:
        """The usual passes, with the promise."""
        self.state.flags.noalias = True
        return [DefaultPassBuilder.define_nopython_pipeline(self.state)]


_SOURCES = sorted(Path(__file__).parent.glob("root_ball*.py"))
SOURCES_STAMP = sha256(b"".join(path.read_bytes() for path in _SOURCES)).digest()
"""What the engine's source files say: machine code of others is never used again."""


def _kept(**options: Any) -> Callable[[Callable[..., Any]], Any]:
    """A decorator that compiles, and keeps the machine code until any source of the engine changes.

    Left to itself the compiler watches only the file that a function stands in: what is called or counted with
    from another file could change, and the old machine code would go on answering.
    """

    def decorate(function: Callable[..., Any]) -> Any:
        compiled = njit(nogil=True, error_model="numpy", cache=True, **options)(function)
        compiled._cache._cache_file._source_stamp = SOURCES_STAMP  # not public: without it no compiled engine
        return compiled

    return decorate


loops = _kept(pipeline_class=Apart)
within = _kept(inline="always")


class Balls(NamedTuple):
    """Cells of some balls, one lane each, and room to work in; every array ends in the lanes."""

    law: FloatArray  # rows: see above
    radial_size: FloatArray  # (nr, lanes), over the length of a stage
    radial_link: FloatArray  # (nr, lanes), 0 at the wall
    radial_end: FloatArray  # rows: see above
    held: FloatArray  # (nz, lanes), heat that a height holds over the mean of its ball
    thickness: FloatArray  # (nz, lanes), over the length of a stage
    axial_size: FloatArray  # (nz, lanes), the thickness of the mean mix that would hold as much heat
    axial_link: FloatArray  # (nz, lanes), 0 at the base
    axial_end: FloatArray  # rows: see above
    cell: FloatArray  # (nr, nz, lanes), the trial enthalpy and then the new
    integral: FloatArray  # (nr, nz, lanes), conduction at `cell`
    spread: FloatArray  # (nr, nz, lanes), its slope dQ/dH
    goal: FloatArray  # (nr, nz, lanes), the enthalpy that a sweep would leave if nothing flowed in it
    excess: FloatArray  # (nr, nz, lanes), elimination
    inverse: FloatArray
    wall_start: FloatArray  # (nz, lanes)
    wall: FloatArray  # (nz, lanes)
    inner: FloatArray  # (lanes,), running values of the elimination: all that is coupled from before
    carried: FloatArray
    next_integral: FloatArray
    miss: FloatArray  # (lanes,), how far a line missed the freezing curve
    end_film: FloatArray
    end_level: FloatArray
    heat: FloatArray  # (3, lanes), through side, top and base


@loops
def radial_sweep(balls, films, first, last):
    """Conduction from the axis through the wall over one stage, for lanes `first` to before `last`."""
    for height in range(balls.cell.shape[1]):
        j = at(height)
        _radial_line(balls, films, j, first, last)
        for m in range(first, last):
            tolerance = PASS_TOLERANCE_K * balls.law[K_U, m]
            for _ in range(MAX_PASSES):
                if balls.miss[m] <= tolerance:
                    break
                _radial_line(balls, films, j, m, m + at(1))
        for m in range(first, last):
            outside = _outside(balls, films, m)
            balls.heat[0, m] += balls.thickness[j, m] * outside * (films[SIDE_C, m] - balls.wall[j, m])


@loops
def axial_sweep(balls, films, first, last):
    """Conduction from top to bottom over one stage, for lanes `first` to before `last`."""
    for radius in range(balls.cell.shape[0]):
        i = at(radius)
        _axial_line(balls, films, i, first, last)
        for m in range(first, last):
            tolerance = PASS_TOLERANCE_K * balls.law[K_U, m]
            for _ in range(MAX_PASSES):
                if balls.miss[m] <= tolerance:
                    break
                _axial_line(balls, films, i, m, m + at(1))
        for m in range(first, last):
            top = balls.end_film[m] * (balls.end_level[m] - balls.next_integral[m])
            balls.heat[1, m] += balls.radial_size[i, m] * top
            balls.heat[2, m] += balls.radial_size[i, m] * balls.carried[m]


@loops
def _radial_line(balls, films, j, first, last):
    """Solve the lines at one height once."""
    nr = balls.cell.shape[0]
    for m in range(first, last):
        balls.inner[m] = 0.0
        balls.carried[m] = 0.0
    for radius in range(nr):
        i = at(radius)
        for m in range(first, last):
            _eliminate(balls, i, j, m, balls.radial_size[i, m] * balls.held[j, m], balls.radial_link[i, m])
    i = at(nr - 1)
    for m in range(first, last):
        k, cell_c = _conductivity_and_temperature(balls.cell[i, j, m], balls.law, m)
        half_1_m, radius_m = balls.radial_end[OUTER_HALF_1_M, m], balls.radial_end[RADIUS, m]
        per_k = radius_m * half_1_m / (1.0 + half_1_m * k * balls.radial_end[WALL_HALF, m])
        to_wall, coupled = per_k * k, per_k * balls.spread[i, j, m]
        own, excess = 1.0 / balls.inverse[i, j, m], balls.excess[i, j, m]
        outside = _outside(balls, films, m)
        wall_own = radius_m * balls.radial_end[WALL_CAPACITY, m]
        inverse = 1.0 / (own + coupled)
        rest = to_wall * own * inverse
        load = wall_own * balls.wall_start[j, m] + outside * films[SIDE_C, m] + rest * cell_c
        wall = (load + coupled * inverse * excess) / (wall_own + outside + rest)
        balls.wall[j, m] = wall
        balls.excess[i, j, m] = excess + to_wall * (wall - cell_c)
        balls.inverse[i, j, m] = inverse
        balls.next_integral[m] = 0.0
        balls.miss[m] = 0.0
    for back in range(nr):
        i = at(nr - 1 - back)
        for m in range(first, last):
            _substitute(balls, i, j, m, balls.radial_link[i, m])


@loops
def _axial_line(balls, films, i, first, last):
    """Solve the lines at one radius once."""
    nz = balls.cell.shape[1]
    j = at(0)
    for m in range(first, last):
        k, cell_c = _conductivity_and_temperature(balls.cell[i, j, m], balls.law, m)
        film = films[TOP_FILM, m] / (k + films[TOP_FILM, m] * balls.axial_end[TOP_HALF, m])
        level = balls.integral[i, j, m] + k * (films[TOP_C, m] - cell_c)
        balls.end_film[m], balls.end_level[m] = film, level
        # as if a cell above held the film's load
        balls.inner[m], balls.carried[m] = film, film * level
    for height in range(nz):
        j = at(height)
        for m in range(first, last):
            _eliminate(balls, i, j, m, balls.axial_size[j, m], balls.axial_link[j, m])
    j = at(nz - 1)
    for m in range(first, last):
        k, cell_c = _conductivity_and_temperature(balls.cell[i, j, m], balls.law, m)
        film = films[BASE_FILM, m] / (k + films[BASE_FILM, m] * balls.axial_end[BASE_HALF, m])
        spread = balls.spread[i, j, m]
        inverse = 1.0 / (1.0 / balls.inverse[i, j, m] + spread * film)
        drive = k * (films[BASE_C, m] - cell_c)
        excess = balls.excess[i, j, m] + film * drive
        balls.inverse[i, j, m], balls.excess[i, j, m] = inverse, excess
        balls.carried[m] = film * (drive - spread * (inverse * excess))  # from here on: heat through the base
        balls.next_integral[m] = 0.0
        balls.miss[m] = 0.0
    for back in range(nz):
        j = at(nz - 1 - back)
        for m in range(first, last):
            _substitute(balls, i, j, m, balls.axial_link[j, m])


@within
def _eliminate(balls, i, j, m, size, link):
    """Fold one cell into the next along its line."""
    integral, spread, inner = balls.integral[i, j, m], balls.spread[i, j, m], balls.inner[m]
    own = size + spread * inner
    excess = size * (balls.goal[i, j, m] - balls.cell[i, j, m]) + (balls.carried[m] - inner * integral)
    inverse = 1.0 / (own + spread * link)
    balls.excess[i, j, m], balls.inverse[i, j, m] = excess, inverse
    through = link * inverse
    inner = through * own
    balls.inner[m] = inner
    balls.carried[m] = inner * integral + through * spread * excess


@within
def _substitute(balls, i, j, m, link):
    """One cell from the next along its line: new enthalpy, its conduction, and how far the line missed that."""
    integral = balls.integral[i, j, m]
    change = balls.inverse[i, j, m] * (balls.excess[i, j, m] + link * (balls.next_integral[m] - integral))
    solved = integral + balls.spread[i, j, m] * change
    balls.next_integral[m] = solved
    cell = balls.cell[i, j, m] + change
    integral, spread = conduction(cell, balls.law, m)
    balls.cell[i, j, m], balls.integral[i, j, m], balls.spread[i, j, m] = cell, integral, spread
    balls.miss[m] = max(balls.miss[m], abs(solved - integral))


@within
def conduction(enthalpy, law, m):
    """Conductivity integral of one cell, and its slope dQ/dH."""
    freezing = min(max(enthalpy, law[END, m]), 0.0)
    beyond = enthalpy - freezing
    linear, square = law[LINEAR, m], law[SQUARE, m]
    one_phase = law[SPREAD_U, m] if beyond > 0.0 else law[SPREAD_F, m]
    spread = linear + 2.0 * square * freezing if beyond == 0.0 else one_phase
    return (linear + square * freezing) * freezing + one_phase * beyond, spread


@within
def _conductivity_and_temperature(enthalpy, law, m):
    """Of one cell."""
    freezing = min(max(enthalpy, law[END, m]), 0.0)
    beyond = enthalpy - freezing
    one_phase = law[BY_C_U, m] if beyond > 0.0 else law[BY_C_F, m]
    warmth = law[START_C, m] + law[BY_C_L, m] * freezing + one_phase * beyond
    return law[K_U, m] + law[K_GAIN, m] * freezing, warmth


@within
def temperature(enthalpy, law, m):
    """Temperature of one cell."""
    return _conductivity_and_temperature(enthalpy, law, m)[1]


@within
def _outside(balls, films, m):
    """Conductance from the middle of the wall outward, per radian and metre of height."""
    film = films[SIDE_FILM, m]
    return balls.radial_end[RADIUS, m] * (film / (1.0 + film * balls.radial_end[WALL_HALF, m]))


@loops
def axial_flow(balls, films, flow, first, last):
    """Heat that each cell gains along the height over one stage at the present flows."""
    nr, nz = balls.cell.shape[:2]
    for radius in range(nr):
        i = at(radius)
        for m in range(first, last):
            balls.carried[m] = _through_end(balls, i, at(0), m, films[TOP_FILM, m], films[TOP_C, m], TOP_HALF)
        for height in range(nz - 1):
            j = at(height)
            for m in range(first, last):
                onward = balls.axial_link[j, m] * (balls.integral[i, j, m] - balls.integral[i, j + at(1), m])
                flow[i, j, m] = (balls.carried[m] - onward) / balls.axial_size[j, m]
                balls.carried[m] = onward
        j = at(nz - 1)
        for m in range(first, last):
            inward = _through_end(balls, i, j, m, films[BASE_FILM, m], films[BASE_C, m], BASE_HALF)
            flow[i, j, m] = (balls.carried[m] + inward) / balls.axial_size[j, m]


@within
def _through_end(balls, i, j, m, film, environment_c, end):
    """Heat through the film of an end cell, per square metre."""
    k, cell_c = _conductivity_and_temperature(balls.cell[i, j, m], balls.law, m)
    return film * k / (k + film * balls.axial_end[end, m]) * (environment_c - cell_c)
