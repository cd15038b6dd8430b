"""Situations simulated: what the weather brings to each pot, and how warm its roots and leaves are hour by hour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.layout import SeriesLayout, Side
from frostguard.advice.readings import Readings, simulate_readings
from frostguard.advice.situation import Situation, hood_over, root_balls_of, sleeve_of, surfaces_of
from frostguard.advice.terrace import Terrace
from frostguard.garden.catalogue import Catalogue
from frostguard.garden.model import Planting, Pot, Shape
from frostguard.physics.envelope import Face, PotSurfaces, build_envelope
from frostguard.physics.foliage import bare_leaf_c, covered_leaf_c
from frostguard.physics.microclimate import SpotHours, gather_hours, lagged
from frostguard.physics.root_ball import Envelope, RootBalls, RootBallState, select
from frostguard.physics.stem import stem_c, stem_environment_c
from frostguard.physics.sun import horizontal_beam_factor

Array = NDArray[np.float64]

CORNERED = frozenset({Shape.SQUARE, Shape.TROUGH, Shape.RAILING_BOX})

NO_ICE_ABOVE_K = 4.0
"""Mean of a ball from which hardly any of it can be ice: beside ice at 0 degC its other half would have 8; estimate."""

CORNER_FILM_W_M2_K = 19.0
"""See `corner_share`."""

BULBS_OFF_WALL_M = 0.03
"""How far within the wall the outermost bulbs of a pot stand: half a tulip's width, and a finger of mix beside it
(common practice)."""


@dataclass(frozen=True, slots=True)
class PotRun:
    """Several situations simulated over hours `first` to `last` of the terrace; arrays (n_hours, n, columns).

    `ring_c` is the coldest ring of the exposed side, corner included; `shaded_ring_c` that of the mean
    side. `bulb_depths_m` are the depths that `readings` hold. `readings`, `side` and `top` hold everything,
    series by series, in the order of `layout`.
    """

    situations: tuple[Situation, ...]
    first: int
    layout: SeriesLayout
    ring_c: Array
    shaded_ring_c: Array
    mean_c: Array
    core_c: Array
    frozen_fraction: Array
    leaf_c: Array
    stem_c: Array  # of the thinnest bare stem, what lies under a hood or in a room included; elsewhere as the leaf
    root_balls: RootBalls
    bulb_depths_m: tuple[float, ...]
    readings: Readings
    side: Face
    top: Face
    hours: SpotHours

    @property
    def states(self) -> dict[int, RootBallState]:
        """The states that were kept, the last one included, by hour of the terrace."""
        readings = self.readings
        last = self.first + readings.mean_c.shape[0] - 1
        return {self.first + row: state for row, state in readings.states.items()} | {last: readings.final_state}

    @property
    def columns(self) -> NDArray[np.intp]:
        """The weather columns of this run."""
        return self.layout.columns


def run_pots(
    terrace: Terrace,
    situations: Sequence[Situation],
    catalogue: Catalogue,
    start: float | Array | RootBallState,
    first: int,
    last: int,
    *,
    columns: NDArray[np.intp] | None = None,
    fine_until: int | None = None,
    surfaces_c: tuple[Array, Array] | None = None,
    states_at: Sequence[int] = (),
    mean_columns: NDArray[np.intp] | None = None,
) -> PotRun:
    """Simulate these situations from hour `first` to hour `last`, both included.

    Parameters
    ----------
    terrace : Terrace
        The hours at each spot.
    situations : sequence of Situation
        What to simulate.
    catalogue : Catalogue
        Walls, mixes, covers.
    start : float, ndarray or RootBallState
        Of the series in their order, at hour `first`.
    first, last : int
        Hours of `terrace.times`.
    columns : ndarray of int, optional
        Weather columns to use; all if not given.
    fine_until : int, optional
        Hour until which the engine's standard resolution is wanted, the coarse one after it; all hours if not given.
    surfaces_c : pair of ndarray, optional
        Better estimates of the side's and the top's surface than the built-in one [degC]: the second pass.
    states_at : sequence of int
        Hours whose states are kept, to branch from.
    mean_columns : ndarray of int, optional
        The columns of the member whose mean sides are simulated; the middle member's if not given.
    """
    used = terrace.columns if columns is None else columns
    mean = terrace.middle_columns if mean_columns is None else mean_columns
    layout = SeriesLayout(len(situations), used, np.flatnonzero(np.isin(used, mean)))
    if layout.middle.size != terrace.n_cases:
        raise ValueError("a run needs among its columns those of the member whose mean sides are simulated")
    hours = _hours_of(terrace, situations, layout, first, last)
    root_balls = select(root_balls_of(situations, catalogue), layout.pot_of_series)
    surfaces = _surfaces(terrace, situations, catalogue, layout)
    side_surface_c, top_surface_c = surfaces_c or (estimated_surface_c(root_balls, hours),) * 2
    envelope, side, top = build_envelope(surfaces, hours, side_surface_c, top_surface_c)
    fine_hours = (last if fine_until is None else min(max(fine_until, first), last)) - first
    depths = _bulb_depths_m(situations)
    readings = simulate_readings(
        root_balls,
        envelope,
        start,
        fine_hours,
        states_at=[hour - first for hour in states_at],
        depths_m=depths,
        off_wall_m=BULBS_OFF_WALL_M,
    )
    leaf_c = _leaves(terrace, situations, catalogue, first, used, layout.mean(readings.top_ring_c))
    mean_c = layout.mean(readings.mean_c)
    return PotRun(
        situations=tuple(situations),
        first=first,
        layout=layout,
        ring_c=_cornered_ring_c(situations, layout, root_balls, envelope, readings),
        shaded_ring_c=layout.mean(readings.coldest_ring_c),
        mean_c=mean_c,
        core_c=layout.mean(readings.core_c),
        frozen_fraction=_frozen_share(layout, readings, mean_c),
        leaf_c=leaf_c,
        stem_c=_stems(terrace, situations, catalogue, first, used, leaf_c),
        root_balls=root_balls,
        bulb_depths_m=depths,
        readings=readings,
        side=side,
        top=top,
        hours=hours,
    )


def _frozen_share(layout: SeriesLayout, readings: Readings, mean_c: Array) -> Array:
    """Frozen share of the mean sides; moved as the exposed sides move, no more than the ball's warmth leaves."""
    moved = np.clip(layout.mean(readings.frozen_fraction), 0.0, 1.0)
    possible = np.minimum(moved, np.clip(1.0 - mean_c / NO_ICE_ABOVE_K, 0.0, 1.0))
    possible[..., layout.middle] = moved[..., layout.middle]  # simulated, not moved
    return np.asarray(possible)


def _cornered_ring_c(
    situations: Sequence[Situation],
    layout: SeriesLayout,
    root_balls: RootBalls,
    envelope: Envelope,
    readings: Readings,
) -> Array:
    """The coldest ring of the exposed side, and of a square pot its corner."""
    ring = layout.exposed(readings.coldest_ring_c)
    through = 1.0 / (1.0 / envelope.side_film_w_m2_k + root_balls.wall_resistance_m2_k_w)
    outside = layout.exposed(envelope.side_environment_c)
    cornered = np.array([situation.pot.shape in CORNERED for situation in situations])[:, None]
    return ring - cornered * corner_share(layout.exposed(through)) * np.maximum(ring - outside, 0.0)


def bulb_depth_m(pot: Pot, planting: Planting) -> float | None:
    """How deep a plant's bulbs stand [m]: as written, but above the floor of the pot; None where it has none."""
    return None if planting.bulb_depth_m is None else min(planting.bulb_depth_m, pot.height_m - 0.01)


def _bulb_depths_m(situations: Sequence[Situation]) -> tuple[float, ...]:
    depths = {bulb_depth_m(one.pot, planting) for one in situations for planting in one.pot.plantings}
    return tuple(sorted(depth for depth in depths if depth is not None))


def corner_share(film_w_m2_k: Array) -> Array:
    """How far the corner centimetre of a square pot lies below its ring, as a share of ring over outside.

    Parameters
    ----------
    film_w_m2_k : ndarray
        From the mix to the outside, wall included [W/m2 K].

    Returns
    -------
    ndarray
        U / (U + 19): 0.3 at 8 and 0.5 at 20 W/m2K. Fitted to our own two-dimensional plans of square pots
        of 20 to 50 cm, which give 0.22 to 0.44 and 0.38 to 0.65 before and after freezing (see the tests).
        While the corner itself freezes it stays nearer to the ring: told up to 1.6 K too cold then.
    """
    return film_w_m2_k / (film_w_m2_k + CORNER_FILM_W_M2_K)


def _surfaces(
    terrace: Terrace, situations: Sequence[Situation], catalogue: Catalogue, layout: SeriesLayout
) -> PotSurfaces:
    """The surfaces of all series: exposed sides, then mean sides."""
    spots = [terrace.spots[situation.spot] for situation in situations]
    exposed = surfaces_of(situations, spots, Side.EXPOSED, catalogue)
    mean = surfaces_of(situations, spots, Side.MEAN, catalogue)
    return PotSurfaces(
        **{
            field.name: np.concatenate(
                [
                    np.repeat(getattr(exposed, field.name), layout.columns.size),
                    np.repeat(getattr(mean, field.name), layout.middle.size),
                ]
            )
            for field in fields(PotSurfaces)
        }
    )


def _hours_of(
    terrace: Terrace, situations: Sequence[Situation], layout: SeriesLayout, first: int, last: int
) -> SpotHours:
    names = list(terrace.spots)
    spot = np.array([names.index(situation.spot) for situation in situations], dtype=np.intp)
    return gather_hours(
        tuple(terrace.spots[name] for name in names),
        spot[layout.pot_of_series],
        layout.column_of_series,
        slice(first, last + 1),
    )


def estimated_surface_c(root_balls: RootBalls, hours: SpotHours) -> Array:
    """A first estimate of the wall's outer surface [degC]: a third of the way from the air to the ball.

    The ball is taken to follow the air with a lag of R^2 / (5.8 alpha), the first mode of a cylinder.
    Films depend on it weakly; the second pass of an explanation shows by how much.
    """
    air = hours.air_temperature_c
    diffusivity = root_balls.conductivity_unfrozen_w_m_k / root_balls.heat_capacity_unfrozen_j_m3_k
    lag_h = np.maximum(root_balls.radius_m**2 / (5.8 * diffusivity) / 3600.0, 1.0)
    return np.asarray(air + (lagged(air, lag_h) - air) / 3.0)


def _leaves(
    terrace: Terrace,
    situations: Sequence[Situation],
    catalogue: Catalogue,
    first: int,
    columns: NDArray[np.intp],
    mix_c: Array,
) -> Array:
    """Leaf or bud temperature of each situation, (n_hours, n, columns)."""
    leaves = np.empty_like(mix_c)
    bare: dict[tuple[str, float], Array] = {}
    for position, situation in enumerate(situations):
        key = (situation.spot, situation.wind_factor)
        if situation.over_plant:
            leaves[:, position] = leaf_curve_c(terrace, situation, catalogue, first, columns, mix_c[:, position])
            continue
        if key not in bare:
            bare[key] = leaf_curve_c(terrace, situation, catalogue, first, columns, mix_c[:, position])
        leaves[:, position] = bare[key]
    return leaves


STILL_FILM_W_M2_K = 8.0
"""Of a stem under a hood or in a room, where hardly any air moves: 3 of air and 5 of radiation; estimate."""


BARE_BEFORE_H = 24
"""Hours before a run through which a stem is followed bare, to know how much of its sap is frozen; a stem that had its
sleeve on before is then taken as colder than it is."""


def _stems(
    terrace: Terrace,
    situations: Sequence[Situation],
    catalogue: Catalogue,
    first: int,
    columns: NDArray[np.intp],
    leaf_c: Array,
) -> Array:
    """Temperature of the bare stems, (n_hours, n, columns); that of the leaves where there are none."""
    with_stems = [position for position, situation in enumerate(situations) if situation.bare_stems]
    if not with_stems:
        return leaf_c
    stems = leaf_c.copy()
    for position in with_stems:
        stems[:, position] = stem_curve_c(
            terrace, situations[position], catalogue, first, columns, leaf_c[:, position]
        )
    return stems


def stem_curve_c(
    terrace: Terrace,
    situation: Situation,
    catalogue: Catalogue,
    first: int,
    columns: NDArray[np.intp],
    leaf_c: Array,
) -> Array:
    """Temperature of the thinnest bare stem of a situation [degC].

    Parameters
    ----------
    terrace, situation, catalogue, first, columns
        As for `leaf_curve_c`.
    leaf_c : ndarray, shape (n_hours, n_columns)
        Of its leaves: what is round a stem under a hood, and in a room [degC].
    """
    stem = min(situation.bare_stems, key=lambda one: one.thickness_m)
    resistance, thickness_m = sleeve_of(situation, catalogue)
    spot = terrace.spots[situation.spot]

    def outdoors(hours: slice, diameter_m: float) -> tuple[Array, Array]:
        def part(values: Array) -> Array:
            return np.broadcast_to(values, spot.hours.air_temperature_c.shape)[hours][:, columns]

        return stem_environment_c(
            diameter_m=diameter_m,
            length_m=stem.length_m,
            air_temperature_c=part(spot.hours.air_temperature_c),
            wind_speed_m_s=part(spot.hours.wind_speed_m_s) * situation.wind_factor,
            sky_longwave_w_m2=part(spot.hours.sky_longwave_w_m2),
            surroundings_c=part(spot.hours.surroundings_c),
            floor_c=part(spot.hours.floor_c),
            pressure_hpa=part(spot.hours.pressure_hpa),
            sky_view=spot.sky_view,
        )

    radius_m, start_c = stem.thickness_m / 2.0, None
    if spot.indoors or situation.over_plant:
        around, film = leaf_c, np.full_like(leaf_c, STILL_FILM_W_M2_K)
    else:
        around, film = outdoors(slice(first, first + leaf_c.shape[0]), stem.thickness_m + 2.0 * thickness_m)
        before = outdoors(slice(max(first - BARE_BEFORE_H, 0), first + 1), stem.thickness_m)
        start_c = stem_c(*before, radius_m=radius_m)[-1]
    return stem_c(
        around,
        film,
        radius_m=radius_m,
        sleeve_m2_k_w=resistance,
        sleeve_thickness_m=thickness_m,
        start_c=start_c,
    )


def leaf_curve_c(
    terrace: Terrace,
    situation: Situation,
    catalogue: Catalogue,
    first: int,
    columns: NDArray[np.intp],
    mix_c: Array,
    *,
    with_dew: bool = True,
) -> Array:
    """Temperature of the outermost leaves or buds [degC]; the air in a room.

    Parameters
    ----------
    terrace, situation, catalogue
        Where the plant stands, and what is over it.
    first : int
        Hour of the terrace at which `mix_c` begins.
    columns : ndarray of int
        Weather columns.
    mix_c : ndarray, shape (n_hours, n_columns)
        Upper ring of the root ball, which warms what is under a cover [degC].
    with_dew : bool
        Whether the heat of dew and hoar counts.
    """
    spot = terrace.spots[situation.spot]
    hours = spot.hours
    window = slice(first, first + mix_c.shape[0])

    def part(values: Array) -> Array:
        return np.broadcast_to(values, hours.air_temperature_c.shape)[window][:, columns]

    if spot.indoors:
        return part(hours.air_temperature_c)
    beam = part(hours.direct_normal_w_m2) * horizontal_beam_factor(part(hours.sun_elevation_deg))
    weather: dict[str, Any] = {
        "air_temperature_c": part(hours.air_temperature_c),
        "wind_speed_m_s": part(hours.wind_speed_m_s) * situation.wind_factor,
        "sky_longwave_w_m2": part(hours.sky_longwave_w_m2),
        "surroundings_c": part(hours.surroundings_c),
        "floor_c": part(hours.floor_c),
        "sun_w_m2": beam + part(hours.diffuse_horizontal_w_m2),
        "pressure_hpa": part(hours.pressure_hpa),
        "vapour_pressure_hpa": part(hours.vapour_pressure_hpa) if with_dew else None,
        "sky_view": spot.sky_view,
    }
    hood = hood_over(situation, catalogue)
    return bare_leaf_c(**weather) if hood is None else covered_leaf_c(cover=hood, mix_c=mix_c, **weather)
