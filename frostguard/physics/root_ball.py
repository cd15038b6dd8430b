"""Temperatures and freezing inside root balls, many at once: the heat engine behind everything else.

A root ball is an upright cylinder of wet mix in a thin wall. Heat moves along the radius and the height;
water freezes over a range of temperatures. `simulate_root_balls` is the one entry; a `RootBallState`
carries a night over to the next, or branches one pot into members and protections.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields
from functools import partial
from itertools import pairwise
from typing import TypeVar, overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

from frostguard.errors import PhysicsInputError
from frostguard.physics.root_ball_cores import for_all_series, shared_array
from frostguard.physics.root_ball_fast import chosen_engine, warm_up
from frostguard.physics.root_ball_freezing import freezing_law
from frostguard.physics.root_ball_grid import Grid, build_grid, held_at, overlaps
from frostguard.physics.root_ball_inputs import Envelope, FloatArray, Resolution, RootBalls, checked_series
from frostguard.physics.root_ball_outputs import (
    BOTTOM,
    COLDEST,
    CORE,
    FROZEN,
    MEAN,
    MIDDLE,
    N_READINGS,
    TOP,
    Probe,
    build_probe,
    heat_content_j,
)
from frostguard.physics.root_ball_steps import SECONDS_PER_HOUR, build_lines
from frostguard.physics.root_ball_sweeps import sum_rows

__all__ = [
    "COARSE",
    "CURVES",
    "STANDARD",
    "Curves",
    "Envelope",
    "Minima",
    "Resolution",
    "RootBallHistory",
    "RootBallMinima",
    "RootBallState",
    "RootBalls",
    "carry_over",
    "select",
    "simulate_root_balls",
    "state_at_temperature",
    "temperature_field_c",
    "warm_up",
]

STANDARD = Resolution(
    outer_cells=2, inner_cells=9, end_cells=2, between_cells=6, middle_cells=1, steps_per_hour=2
)
"""The resolution whose accuracy is tested against fine-grid references."""

COARSE = Resolution(
    outer_cells=2, inner_cells=6, end_cells=1, between_cells=3, middle_cells=1, steps_per_hour=1
)
"""Two fifths of the cells, hourly steps: for the weeks before, later nights and to rank options.

Beside STANDARD the coldest of a night at the ring is within 0.15 K in 95 of 100 cases on the sample weathers (0.5 K
on harsh random ones) and 0.5 K (1.3 K) off at worst, to either side; forecasts beyond the first night miss by 2 K.
"""

_Selectable = TypeVar("_Selectable", RootBalls, "RootBallState")
_NEXT_STEP = "This is a fault in the numbers handed to the heat engine; please report it with the garden file."


@dataclass(frozen=True, slots=True)
class RootBallState:
    """Heat content of n root balls and their walls at one moment.

    Parameters
    ----------
    enthalpy_j_m3 : ndarray, shape (radial cells, axial cells, n)
        From the axis outward and from the top down; 0 is unfrozen mix where freezing starts.
    wall_c : ndarray, shape (axial cells, n)
        Temperature of the middle of the wall [degC].
    resolution : Resolution
        The grid that the cells belong to.
    """

    enthalpy_j_m3: FloatArray
    wall_c: FloatArray
    resolution: Resolution = STANDARD

    def __len__(self) -> int:
        return int(self.wall_c.shape[-1])


@dataclass(frozen=True, slots=True)
class Curves:
    """Keep every hour of every series.

    Parameters
    ----------
    states_at : tuple of int
        Hours whose whole states are kept too, to branch protections from.
    """

    states_at: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Minima:
    """Keep only the coldest values and the hours below limits, so that memory does not grow with hours.

    Parameters
    ----------
    limits_c : ndarray, shape (n_limits,) or (n_limits, n)
        Hours with the coldest ring below each are counted.
    periods : tuple of (int, int), optional
        First and last hour (both counted) of each period, such as the nights; the whole run if not given.
    """

    limits_c: ArrayLike = ()
    periods: tuple[tuple[int, int], ...] | None = None


CURVES = Curves()


@dataclass(frozen=True, slots=True)
class _Run:
    """What a history was computed from, so that a single field can be computed again on request."""

    root_balls: RootBalls
    envelope: Envelope
    start: RootBallState
    row_hours: float


@dataclass(frozen=True, slots=True)
class RootBallHistory:
    """Curves of n root balls at the envelope's hours, the first being the start.

    Parameters
    ----------
    top_ring_c, middle_ring_c, bottom_ring_c : ndarray, shape (n_hours, n)
        Means over the outermost centimetre: its top, middle and bottom 2 cm [degC]. In balls lower than
        6.7 cm a ring is three tenths of the height.
    coldest_ring_c : ndarray, shape (n_hours, n)
        The lowest of the three.
    mean_c, core_c : ndarray, shape (n_hours, n)
        Volume mean, and the axis at half height.
    frozen_fraction : ndarray, shape (n_hours, n)
        Volume mean of the frozen share of the freezable water, 0 to 1.
    depths_c : ndarray, shape (n_hours, n, n_depths)
        At the given depths below the mix surface, on the axis or so far within the wall; NaN below the pot.
    face_heat_w : ndarray, shape (n_hours, n, 3)
        Heat into the pot through side (outside of the wall), top and base, mean over the hour before [W];
        0 at the start.
    heat_balance_error : ndarray, shape (n,)
        |heat in - heat stored| / max(sum of |heat| through all faces, heat capacity x 1 K).
    final_state : RootBallState
        Where the next run can go on.
    states : mapping of int to RootBallState
        The states that `Curves.states_at` asked for, by hour.
    """

    top_ring_c: FloatArray
    middle_ring_c: FloatArray
    bottom_ring_c: FloatArray
    coldest_ring_c: FloatArray
    mean_c: FloatArray
    core_c: FloatArray
    frozen_fraction: FloatArray
    depths_c: FloatArray
    face_heat_w: FloatArray
    heat_balance_error: FloatArray
    final_state: RootBallState
    states: Mapping[int, RootBallState]
    _run: _Run

    def field_c(self, series: int, hour: int) -> FloatArray:
        """Temperature of every cell of one series at one hour.

        Parameters
        ----------
        series, hour : int
            Position in the batch, and row of the curves.

        Returns
        -------
        ndarray, shape (axial cells, radial cells)
            From the top down and from the axis outward [degC]. The fields are not kept: the one series is
            computed again up to that hour, with the same answer to the last digit.
        """
        n_hours, n = self.mean_c.shape
        if not (0 <= series < n and 0 <= hour < n_hours):
            raise IndexError(f"series {series}, hour {hour} of {n} series and {n_hours} hours")
        one = np.array([series])
        balls = select(self._run.root_balls, one)
        envelope = Envelope(
            *(getattr(self._run.envelope, field.name)[: hour + 1, one] for field in fields(Envelope))
        )
        start = select(self._run.start, one)
        history = simulate_root_balls(
            balls, envelope, start, resolution=start.resolution, row_hours=self._run.row_hours
        )
        field: FloatArray = temperature_field_c(balls, history.final_state)[0]
        return field


@dataclass(frozen=True, slots=True)
class RootBallMinima:
    """Coldest values of n root balls within each period.

    Parameters
    ----------
    top_ring_c, middle_ring_c, bottom_ring_c, coldest_ring_c, mean_c, core_c : ndarray, shape (n_periods, n)
        Lowest at whole hours within the period [degC].
    frozen_fraction : ndarray, shape (n_periods, n)
        Largest within the period.
    hours_below : ndarray, shape (n_periods, n_limits, n)
        Whole hours of the period at which the coldest ring is below each limit.
    heat_balance_error : ndarray, shape (n,)
    final_state : RootBallState
    """

    top_ring_c: FloatArray
    middle_ring_c: FloatArray
    bottom_ring_c: FloatArray
    coldest_ring_c: FloatArray
    mean_c: FloatArray
    core_c: FloatArray
    frozen_fraction: FloatArray
    hours_below: NDArray[np.int64]
    heat_balance_error: FloatArray
    final_state: RootBallState


def select(record: _Selectable, index_array: ArrayLike) -> _Selectable:
    """The same root balls or states, reordered or repeated: branch one pot into members and protections.

    Parameters
    ----------
    record : RootBalls or RootBallState
    index_array : array_like of int
        Positions of the series to take, any number of times.

    Returns
    -------
    RootBalls or RootBallState
        One series per position.
    """
    index = np.atleast_1d(np.asarray(index_array))
    if isinstance(record, RootBallState):
        enthalpy, wall = record.enthalpy_j_m3[..., index], record.wall_c[..., index]
        return RootBallState(enthalpy, wall, record.resolution)
    return RootBalls(*(getattr(record, field.name)[index] for field in fields(RootBalls)))


def state_at_temperature(
    root_balls: RootBalls, temperature_c: ArrayLike, resolution: Resolution = STANDARD
) -> RootBallState:
    """Root balls at a known temperature, frozen as far as that temperature says.

    Parameters
    ----------
    root_balls : RootBalls
    temperature_c : float, or ndarray of shape (n,) or (n, axial cells, radial cells)
        Uniform in each ball, or a field as `temperature_field_c` gives it [degC]. With a field this
        carries a state over to balls whose mix has changed (watered, drained); the wall takes the
        temperature of the mix beside it.

    Returns
    -------
    RootBallState
    """
    n = len(root_balls)
    nr, nz = resolution.radial_cells, resolution.axial_cells
    given = np.asarray(temperature_c, dtype=np.float64)
    if given.ndim == 3:
        if given.shape != (n, nz, nr) or not np.isfinite(given).all():
            raise PhysicsInputError("The start field does not fit the root balls.", next_step=_NEXT_STEP)
        field = np.ascontiguousarray(given.transpose(2, 1, 0))
    else:
        field = np.array(np.broadcast_to(checked_series(given, n, "The start temperature"), (nr, nz, n)))
    return RootBallState(freezing_law(root_balls).enthalpy_j_m3(field), field[-1].copy(), resolution)


def carry_over(root_balls: RootBalls, state: RootBallState, resolution: Resolution) -> RootBallState:
    """The same heat, on the cells of another resolution.

    Parameters
    ----------
    root_balls : RootBalls
    state : RootBallState
    resolution : Resolution

    Returns
    -------
    RootBallState
        Each cell takes the mean enthalpy of the old cells that it overlaps, by what the mix holds in the part they
        share: no heat is lost or made.
    """
    _check_state(root_balls, state)
    if _cells(state.resolution) == _cells(resolution):
        return RootBallState(state.enthalpy_j_m3, state.wall_c, resolution)
    old, new = build_grid(root_balls, state.resolution), build_grid(root_balls, resolution)
    across = overlaps(old.radial_edges_m**2, new.radial_edges_m**2)
    along, along_heat = (
        overlaps(old.axial_edges_m, new.axial_edges_m, held) for held in (None, partial(held_at, root_balls))
    )
    heat = state.enthalpy_j_m3
    columns = np.stack([sum_rows(one.share[:, None] * heat[one.cells]) for one in across], axis=1)
    enthalpy = np.stack([sum_rows(one.share[:, None] * columns[one.cells]) for one in along_heat], axis=1)
    wall = np.stack([sum_rows(one.share * state.wall_c[one.cells]) for one in along])
    return RootBallState(enthalpy, wall, resolution)


def temperature_field_c(root_balls: RootBalls, state: RootBallState) -> FloatArray:
    """Temperature of every cell.

    Parameters
    ----------
    root_balls : RootBalls
    state : RootBallState

    Returns
    -------
    ndarray, shape (n, axial cells, radial cells)
        From the top down and from the axis outward [degC].
    """
    _check_state(root_balls, state)
    field = freezing_law(root_balls).temperature_c(state.enthalpy_j_m3)
    return np.ascontiguousarray(field.transpose(2, 1, 0))


@overload
def simulate_root_balls(
    root_balls: RootBalls,
    envelope: Envelope,
    start: ArrayLike | RootBallState,
    *,
    depths_m: Sequence[float] = (),
    off_wall_m: float | None = None,
    resolution: Resolution = STANDARD,
    keep: Curves = CURVES,
    row_hours: float = 1.0,
) -> RootBallHistory: ...
@overload
def simulate_root_balls(
    root_balls: RootBalls,
    envelope: Envelope,
    start: ArrayLike | RootBallState,
    *,
    depths_m: Sequence[float] = (),
    off_wall_m: float | None = None,
    resolution: Resolution = STANDARD,
    keep: Minima,
    row_hours: float = 1.0,
) -> RootBallMinima: ...
def simulate_root_balls(
    root_balls: RootBalls,
    envelope: Envelope,
    start: ArrayLike | RootBallState,
    *,
    depths_m: Sequence[float] = (),
    off_wall_m: float | None = None,
    resolution: Resolution = STANDARD,
    keep: Curves | Minima = CURVES,
    row_hours: float = 1.0,
) -> RootBallHistory | RootBallMinima:
    """Temperatures and freezing in every root ball, hour by hour.

    Parameters
    ----------
    root_balls : RootBalls
        n balls.
    envelope : Envelope
        What their faces feel, shape (n_hours, n); the first hour is the start.
    start : float, ndarray of shape (n,), or RootBallState
        Uniform temperature [degC], or the final state of an earlier run on the same grid.
    depths_m : sequence of float
        Depths below the mix surface at which temperatures are wanted [m].
    off_wall_m : float, optional
        How far within the wall they are read [m]; on the axis if not given, or in a ball that narrow.
    resolution : Resolution
        STANDARD, COARSE where much is unsure anyway, or others to show convergence.
    keep : Curves or Minima
        Every hour, or only the coldest values of each period.
    row_hours : float
        Hours between the rows of the envelope. Three hours with COARSE are enough for history more than a
        week old; all that is said of hours then holds for rows.

    Returns
    -------
    RootBallHistory, or RootBallMinima if `keep` is Minima
        The answer of a series does not depend on which others share its batch, to the last digit.

    Raises
    ------
    PhysicsInputError
        If shapes do not fit, a start is not finite, or an hour, a period or a limit is wanted that is none.

    Notes
    -----
    Enthalpy method on an axisymmetric finite-volume grid, conductivity integrals between cells,
    backward Euler in time with a radial and an axial sweep. Left out: water moving in
    the mix, supercooling (real plants and mixes often freeze below the given start), and heat along
    the wall. The first errs to neither side in general, the second reports freezing too early.

    References
    ----------
    V. Voller and M. Cross, Accurate solutions of moving boundary problems using the enthalpy method,
    Int. J. Heat Mass Transfer 24, 1981 (method; from memory).
    """
    n = len(root_balls)
    if not 0.01 <= row_hours <= 24.0:
        raise PhysicsInputError("Rows of an envelope are between 0.01 and 24 hours apart.", next_step=_NEXT_STEP)
    if off_wall_m is not None and not off_wall_m >= 0.0:
        raise PhysicsInputError("Depths are read within the wall, not outside it.", next_step=_NEXT_STEP)
    state = _start_state(root_balls, start, resolution)
    if envelope.side_film_w_m2_k.shape[1] != n:
        raise PhysicsInputError(
            f"The envelope has {envelope.side_film_w_m2_k.shape[1]} series for {n} root balls.",
            next_step=_NEXT_STEP,
        )
    record = (
        _HourByHour(keep, envelope.n_hours, len(depths_m), state)
        if isinstance(keep, Curves)
        else _ColdestOnly(keep, envelope.n_hours, n)
    )
    final = _empty_like(state)
    balance_error = shared_array(n)

    def probe_of(grid: Grid) -> Probe:
        return build_probe(grid, resolution, depths_m, off_wall_m)

    def run(chunk: slice) -> None:
        enthalpy, wall, error = _simulate_chunk(root_balls, envelope, state, chunk, probe_of, row_hours, record)
        final.enthalpy_j_m3[..., chunk] = enthalpy
        final.wall_c[..., chunk] = wall
        balance_error[chunk] = error

    for_all_series(run, n, envelope.n_hours - 1)
    if isinstance(record, _ColdestOnly):
        return record.minima(balance_error, final)
    return record.history(balance_error, final, _Run(root_balls, envelope, state, row_hours))


class _HourByHour:
    """Readings of every hour."""

    def __init__(self, keep: Curves, n_hours: int, n_depths: int, start: RootBallState) -> None:
        n = len(start)
        self._readings = shared_array(N_READINGS + n_depths, n_hours, n)
        self._face_heat_w = shared_array(n_hours, n, 3)
        if any(not 0 <= hour < n_hours for hour in keep.states_at):
            raise PhysicsInputError(
                f"States are wanted at hours {keep.states_at} of a run of {n_hours}.", next_step=_NEXT_STEP
            )
        self._states = {hour: _empty_like(start) for hour in keep.states_at}
        self.states_at = keep.states_at

    def take(self, first: int, chunk: slice, readings: FloatArray, face_heat_w: FloatArray) -> None:
        """Keep what was read from hour `first` on; shapes (n_readings, some hours, some n) and (3, ...)."""
        hours = slice(first, first + readings.shape[1])
        self._readings[:, hours, chunk] = readings
        self._face_heat_w[hours, chunk] = np.moveaxis(face_heat_w, 0, -1)

    def keep_state(self, hour: int, chunk: slice, enthalpy: FloatArray, wall_c: FloatArray) -> None:
        if hour in self._states:
            self._states[hour].enthalpy_j_m3[..., chunk] = enthalpy
            self._states[hour].wall_c[..., chunk] = wall_c

    def history(self, balance_error: FloatArray, final: RootBallState, run: _Run) -> RootBallHistory:
        readings = self._readings
        return RootBallHistory(
            top_ring_c=readings[TOP],
            middle_ring_c=readings[MIDDLE],
            bottom_ring_c=readings[BOTTOM],
            coldest_ring_c=readings[COLDEST],
            mean_c=readings[MEAN],
            core_c=readings[CORE],
            frozen_fraction=readings[FROZEN],
            depths_c=np.moveaxis(readings[N_READINGS:], 0, 2),
            face_heat_w=self._face_heat_w,
            heat_balance_error=balance_error,
            final_state=final,
            states=self._states,
            _run=run,
        )


class _ColdestOnly:
    """Coldest readings of each period."""

    def __init__(self, keep: Minima, n_hours: int, n: int) -> None:
        self._periods = ((0, n_hours - 1),) if keep.periods is None else keep.periods
        if any(not 0 <= begin <= end < n_hours for begin, end in self._periods):
            raise PhysicsInputError(
                f"A period of {self._periods} lies outside a run of {n_hours} hours.", next_step=_NEXT_STEP
            )
        self.states_at: tuple[int, ...] = ()
        limits = np.asarray(keep.limits_c, dtype=np.float64)
        limits = limits[:, None] if limits.ndim == 1 else limits
        if limits.ndim != 2 or limits.shape[1] not in (1, n) or np.isnan(limits).any():
            raise PhysicsInputError("Limits are numbers, for all root balls or for each.", next_step=_NEXT_STEP)
        self._limits_c = np.broadcast_to(limits, (len(limits), n))
        self._lowest = shared_array(len(self._periods), N_READINGS, n)
        self._lowest[:] = np.inf
        self._lowest[:, FROZEN] = -np.inf
        self._hours_below = shared_array(len(self._periods), len(limits), n)

    def take(self, first: int, chunk: slice, readings: FloatArray, face_heat_w: FloatArray) -> None:
        """Keep the extremes of what was read from hour `first` on, as `_HourByHour.take`."""
        del face_heat_w
        for period, (begin, end) in enumerate(self._periods):
            within = readings[:N_READINGS, max(begin - first, 0) : max(end + 1 - first, 0)]
            if not within.shape[1]:
                continue
            lowest = self._lowest[period, :, chunk]
            most_frozen = np.maximum(lowest[FROZEN], within[FROZEN].max(axis=0))
            np.minimum(lowest, within.min(axis=1), out=lowest)
            lowest[FROZEN] = most_frozen
            below = within[COLDEST] < self._limits_c[:, None, chunk]
            self._hours_below[period, :, chunk] += below.sum(axis=1)

    def keep_state(self, hour: int, chunk: slice, enthalpy: FloatArray, wall_c: FloatArray) -> None:
        """Nothing: where only minima are kept nobody branches."""

    def minima(self, balance_error: FloatArray, final: RootBallState) -> RootBallMinima:
        lowest = self._lowest
        return RootBallMinima(
            top_ring_c=lowest[:, TOP],
            middle_ring_c=lowest[:, MIDDLE],
            bottom_ring_c=lowest[:, BOTTOM],
            coldest_ring_c=lowest[:, COLDEST],
            mean_c=lowest[:, MEAN],
            core_c=lowest[:, CORE],
            frozen_fraction=lowest[:, FROZEN],
            hours_below=self._hours_below.astype(np.int64),
            heat_balance_error=balance_error,
            final_state=final,
        )


def _empty_like(state: RootBallState) -> RootBallState:
    """Room for a state of the same series on the same cells."""
    return RootBallState(
        shared_array(*state.enthalpy_j_m3.shape), shared_array(*state.wall_c.shape), state.resolution
    )


def _simulate_chunk(
    root_balls: RootBalls,
    envelope: Envelope,
    start: RootBallState,
    chunk: slice,
    probe_of: Callable[[Grid], Probe],
    row_hours: float,
    record: _HourByHour | _ColdestOnly,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Run some of the series from start to end; their last enthalpy, wall and heat-balance error."""
    balls = RootBalls(*(getattr(root_balls, field.name)[chunk] for field in fields(RootBalls)))
    films = np.array([getattr(envelope, field.name)[:, chunk] for field in fields(Envelope)])
    grid = build_grid(balls, start.resolution)
    lines = build_lines(balls, grid, start.resolution, row_hours)
    probe = probe_of(grid)
    enthalpy = np.array(start.enthalpy_j_m3[..., chunk], order="C")
    wall = np.array(start.wall_c[..., chunk], order="C")
    content_before = _heat_content_j(enthalpy, wall, grid, balls)
    heat_in = np.zeros(len(balls))
    heat_through = np.zeros(len(balls))
    record.keep_state(0, chunk, enthalpy, wall)
    last = envelope.n_hours - 1
    stops = (0, *sorted(hour for hour in set(record.states_at) if 0 < hour < last), last)
    for now, then in pairwise(stops):
        enthalpy, wall, readings, heat = chosen_engine()(enthalpy, wall, lines, films[:, now : then + 1], probe)
        heat_in += sum_rows((heat[0] + heat[1]) + heat[2])
        heat_through += sum_rows((np.abs(heat[0]) + np.abs(heat[1])) + np.abs(heat[2]))
        known = min(now, 1)  # rows that the part before has ended with
        record.take(now + known, chunk, readings[:, known:], heat[:, known:] / (SECONDS_PER_HOUR * row_hours))
        record.keep_state(then, chunk, enthalpy, wall)
    stored = _heat_content_j(enthalpy, wall, grid, balls) - content_before
    one_kelvin = balls.heat_capacity_unfrozen_j_m3_k * np.pi * balls.radius_m**2 * balls.height_m
    return enthalpy, wall, np.abs(heat_in - stored) / np.maximum(heat_through, one_kelvin)


def _heat_content_j(enthalpy: FloatArray, wall_c: FloatArray, grid: Grid, balls: RootBalls) -> FloatArray:
    """Heat of mix and wall."""
    wall = np.zeros(len(balls))
    for row, thickness in zip(wall_c, grid.thickness_m, strict=True):
        wall += row * thickness
    wall *= 2.0 * np.pi * balls.radius_m * balls.wall_heat_capacity_j_m2_k
    return heat_content_j(enthalpy, grid) + wall


def _start_state(root_balls: RootBalls, start: ArrayLike | RootBallState, resolution: Resolution) -> RootBallState:
    if not isinstance(start, RootBallState):
        start_c = checked_series(start, len(root_balls), "The start temperature")
        return state_at_temperature(root_balls, start_c, resolution)
    _check_state(root_balls, start)
    if _cells(start.resolution) != _cells(resolution):
        raise PhysicsInputError("The start state is on another grid than the run.", next_step=_NEXT_STEP)
    return RootBallState(start.enthalpy_j_m3, start.wall_c, resolution)


def _cells(resolution: Resolution) -> tuple[int, ...]:
    return tuple(getattr(resolution, field.name) for field in fields(Resolution) if field.name != "steps_per_hour")


def _check_state(root_balls: RootBalls, state: RootBallState) -> None:
    expected = (state.resolution.radial_cells, state.resolution.axial_cells, len(root_balls))
    if state.enthalpy_j_m3.shape != expected or state.wall_c.shape != expected[1:]:
        raise PhysicsInputError(
            f"The start state holds {len(state)} series for {len(root_balls)} root balls.", next_step=_NEXT_STEP
        )
    if not (np.isfinite(state.enthalpy_j_m3).all() and np.isfinite(state.wall_c).all()):
        raise PhysicsInputError("The start state holds values that are not finite.", next_step=_NEXT_STEP)
