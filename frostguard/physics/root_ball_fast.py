"""Which of the two engines computes: compiled loops where the extra `fast` is installed and warm, else arrays.

Both give the same answers to about 1e-12 K. The choice is made once per process and never by the size of
a batch, so that a series' answer stays the same to the last digit whatever its company.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from importlib.util import find_spec
from typing import Any

import numpy as np

from frostguard.errors import FastEngineUnusable
from frostguard.physics import root_ball_steps
from frostguard.physics.root_ball_grid import build_grid
from frostguard.physics.root_ball_inputs import FloatArray, Resolution, RootBalls
from frostguard.physics.root_ball_outputs import Probe, build_probe

AdvanceHours = Callable[
    [FloatArray, FloatArray, root_ball_steps.Lines, FloatArray, Probe],
    tuple[FloatArray, FloatArray, FloatArray, FloatArray],
]
"""A batch through some hours; see `root_ball_steps.advance_hours`."""


def is_installed() -> bool:
    """Whether the extra `fast` is there."""
    return find_spec("numba") is not None


@cache
def chosen_engine() -> AdvanceHours:
    """The compiled engine if that works here and needs no compiling now, else the array one."""
    if not is_installed():
        return root_ball_steps.advance_hours
    try:
        from frostguard.physics import root_ball_compiled  # imports numba: half a second

        if not _is_warm(root_ball_compiled._run):
            return root_ball_steps.advance_hours
        root_ball_compiled.advance_hours(*_smallest_run())  # a damaged cache is found out here
    except Exception:  # a numba of another kind, nowhere to keep code: no query stops for that, `warm_up` says it
        return root_ball_steps.advance_hours
    return root_ball_compiled.advance_hours


def computes_compiled() -> bool:
    """Whether this process computes with the compiled engine."""
    return chosen_engine() is not root_ball_steps.advance_hours


def warm_up() -> bool:
    """Compile the fast engine now, so that no later run has to wait for it (some 20 s, once per installation).

    Returns
    -------
    bool
        Whether this and later processes compute fast; False without the extra `fast`.

    Raises
    ------
    FastEngineUnusable
        If the extra is there but does not work here; everything is then computed without it.
    """
    if not is_installed():
        return False
    try:
        from frostguard.physics import root_ball_compiled

        root_ball_compiled.advance_hours(*_smallest_run())
        warm = _is_warm(root_ball_compiled._run)
    except Exception as exc:  # of whatever kind: it is the compiler's
        reason = " ".join(str(exc).split())[:200] or type(exc).__name__
        raise FastEngineUnusable(
            f"The fast engine is installed but does not work here ({reason}); answers are the same without it, "
            "only slower.",
            next_step="Install the extra called fast again, or set NUMBA_CACHE_DIR to a folder that can be written to.",
        ) from exc
    chosen_engine.cache_clear()
    return warm


def _is_warm(dispatcher: Any) -> bool:
    """Whether machine code of this function, for sources and processor as they are, is here or in numba's cache."""
    if dispatcher.signatures:
        return True
    processor = dispatcher.targetctx.codegen().magic_tuple()
    kept = dispatcher._cache._cache_file._load_index()
    return any(of == processor for _, of, _ in kept)


def _smallest_run() -> tuple[FloatArray, FloatArray, root_ball_steps.Lines, FloatArray, Probe]:
    """Arguments of one hour of one ball."""
    one = np.ones(1)
    ball = RootBalls(0.1 * one, 0.2 * one, one, one, one, one, 2e6 * one, 2e6 * one, 0.1 * one, 0.0 * one, -one)
    resolution = Resolution(1, 2, 1, 1, 1, 1)
    grid = build_grid(ball, resolution)
    lines = root_ball_steps.build_lines(ball, grid, resolution)
    cells = np.zeros((resolution.radial_cells, resolution.axial_cells, 1))
    wall = np.zeros((resolution.axial_cells, 1))
    return cells, wall, lines, np.ones((6, 2, 1)), build_probe(grid, resolution, ())
