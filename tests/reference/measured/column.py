"""The heat engine as a column of soil: a root ball with an insulated side, held at a temperature on top."""

from __future__ import annotations

import numpy as np

from frostguard.physics.root_ball import (
    Envelope,
    Resolution,
    RootBallHistory,
    RootBalls,
    RootBallState,
    simulate_root_balls,
)

HELD_W_M2_K = 1e6
"""A film that holds a face at a temperature."""

SHRINK = 4.0
"""Lengths of the engine's column are a quarter of the soil's and its diffusivities a sixteenth, which is the same
Fourier number: the engine takes no ball that is deeper than any pot."""


def column_grid(steps_per_hour: int, between_cells: int = 16) -> Resolution:
    """Cells from 1 cm of soil at the top to a few decimetres half-way down; two across, which stay equal."""
    return Resolution(
        outer_cells=1,
        inner_cells=1,
        end_cells=8,
        between_cells=between_cells,
        middle_cells=1,
        steps_per_hour=steps_per_hour,
    )


def soil(n: int, height_m: float, diffusivity_m2_s: np.ndarray | float) -> RootBalls:
    """n columns that do not freeze, for soil of that height."""
    capacity = 5e6  # any: only the diffusivity counts between two temperatures
    conductivity = np.broadcast_to(np.asarray(diffusivity_m2_s) / SHRINK**2 * capacity, (n,))
    return RootBalls(1.0, height_m / SHRINK, 0.0, 0.0, conductivity, conductivity, capacity, capacity, 0.0, -1.0, -2.0)


def held_on_top(level_c: np.ndarray) -> Envelope:
    """Top at the given temperatures, shape (hours, n); side and base insulated."""
    none = np.zeros_like(level_c)
    return Envelope(none, level_c, none + HELD_W_M2_K, level_c, none, level_c)


def driven(
    columns: RootBalls,
    level_c: np.ndarray,
    start: np.ndarray | float | RootBallState,
    depths_m: np.ndarray,
    resolution: Resolution,
) -> RootBallHistory:
    """Run with the axis at `depths_m` below the held level kept."""
    return simulate_root_balls(
        columns, held_on_top(level_c), start, depths_m=list(depths_m), resolution=resolution
    )


def at_whole_hours(half_hour_means):
    """Instants at whole hours of a pandas table of half-hour means, stamped at their end."""
    bridged = half_hour_means.interpolate(limit=6)
    instants = 0.5 * (bridged + bridged.shift(-1))
    return instants[instants.index.minute == 0].iloc[:-1]


def daily_wave(hours: np.ndarray, values_c: np.ndarray) -> np.ndarray:
    """Complex amplitude of the 24 h wave along the first axis: its modulus [K], its argument the lag [rad].

    The running mean of the day is taken off first; hours with a gap count for nothing.
    """
    kernel = np.ones(25) / 24.0
    kernel[[0, -1]] *= 0.5
    columns = values_c.reshape(len(values_c), -1)
    wave = np.empty(columns.shape[1], dtype=complex)
    turn = np.exp(2j * np.pi * hours[12:-12] / 24.0)
    for i, column in enumerate(columns.T):
        swing = column[12:-12] - np.convolve(column, kernel, mode="valid")
        good = np.isfinite(swing)
        # regression on sine and cosine, so that unequal numbers of hours do no harm
        basis = np.column_stack([turn.real[good], turn.imag[good]])
        cosine, sine = np.linalg.lstsq(basis, swing[good], rcond=None)[0]
        wave[i] = cosine + 1j * sine
    return wave.reshape(values_c.shape[1:])


def rmse(error: np.ndarray) -> float:
    """Root of the mean square, gaps left out."""
    return float(np.sqrt(np.nanmean(error**2)))
