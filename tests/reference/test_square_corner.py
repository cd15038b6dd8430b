"""How far the corner of a square pot lies below the ring of the cylinder that stands for it.

The engine knows cylinders only. A square pot of width L is told as the cylinder with the same ratio of
side area to volume, radius L/2, and `corner_share` takes off what the corner loses beyond that. Here the
plan of a square pot is solved on its own: an explicit enthalpy scheme on a quarter of the square, with no
top and no bottom, beside the same scheme on the plan of the cylinder.

What the share must be. While mix is all unfrozen, or the corner is frozen through, the corner centimetre
loses through two sides what the ring loses through one, and lies below it by 0.2 to 0.45 of the ring's
excess over the outside under a film of 8 W/m2K, and by 0.35 to 0.7 under 20 W/m2K: more the wider the pot and
the longer it has cooled. One number for each film cannot follow that; it must lie within the range. While
the corner itself freezes its own latent heat holds it up, and the share is nearly nothing for some hours.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from frostguard.advice.pot_run import corner_share
from frostguard.physics.root_ball import Envelope, RootBalls, simulate_root_balls

Array = NDArray[np.float64]

CELL_M = 0.005  # the corner centimetre and the ring are two cells thick
STEP_S = 12.0  # below the explicit limit cell^2 / (4 diffusivity), 14.8 s in the frozen mix
WIDTHS_M = (0.2, 0.5)
FILMS_W_M2_K = np.array([8.0, 20.0])  # calm air round a thin wall; wind
SHARES = ((0.2, 0.45), (0.35, 0.7))  # see above, by film
HOURS = 22

# a moist peat mix, of the size of the mixes of the catalogue; estimate
START_C = 5.0
UNFROZEN_W_M_K, FROZEN_W_M_K = 0.30, 0.55
UNFROZEN_J_M3_K, FROZEN_J_M3_K = 2.1e6, 1.3e6
FREEZABLE = 0.35
FREEZING_C = -0.5  # from 0 degC on; frozen through here
MUSHY_J_M3 = 333.55e6 * FREEZABLE - 0.5 * (UNFROZEN_J_M3_K + FROZEN_J_M3_K) * FREEZING_C


@dataclass(frozen=True)
class Fall:
    """Ring and corner hour by hour, and the outside that falls, (n_hours, n_films) [degC]."""

    ring_c: Array
    corner_c: Array
    outside_c: Array

    @property
    def below_ring_k(self) -> Array:
        """How far the corner lies below the ring [K]."""
        return self.ring_c - self.corner_c

    @property
    def share(self) -> Array:
        """The same over the ring's excess over the outside."""
        return self.below_ring_k / (self.ring_c - self.outside_c)

    @property
    def told_k(self) -> Array:
        """What `corner_share` takes off the ring [K]."""
        return corner_share(FILMS_W_M2_K) * (self.ring_c - self.outside_c)

    @property
    def settled(self) -> NDArray[np.bool_]:
        """Hours at which the corner is all unfrozen, or 2.5 K below where it froze through."""
        cooling = (self.corner_c > 0.2) & (np.arange(HOURS + 1)[:, None] >= 2)
        return cooling | (self.corner_c < FREEZING_C - 2.5)


def temperature_c(enthalpy_j_m3: Array) -> Array:
    """Temperature of a mix whose enthalpy is counted from unfrozen at 0 degC."""
    above = enthalpy_j_m3 / UNFROZEN_J_M3_K
    mushy = -enthalpy_j_m3 / MUSHY_J_M3 * FREEZING_C
    below = FREEZING_C + (enthalpy_j_m3 + MUSHY_J_M3) / FROZEN_J_M3_K
    return np.where(enthalpy_j_m3 >= 0.0, above, np.where(enthalpy_j_m3 >= -MUSHY_J_M3, mushy, below))


def conductivity_w_m_k(temperature: Array) -> Array:
    """Linear in the frozen share."""
    frozen_share = np.clip(temperature / FREEZING_C, 0.0, 1.0)
    return UNFROZEN_W_M_K + frozen_share * (FROZEN_W_M_K - UNFROZEN_W_M_K)


def between(values: Array, conducting: Array) -> Array:
    """Flux density between neighbours along the first axis [W/m2]."""
    series = 2.0 * conducting[1:] * conducting[:-1] / (conducting[1:] + conducting[:-1])
    return series * (values[1:] - values[:-1]) / CELL_M


def from_outside(temperature: Array, conducting: Array, outside_c: float) -> Array:
    """Flux density into the outermost cells: half a cell of mix in series with each film [W/m2]."""
    return (outside_c - temperature) / (1.0 / FILMS_W_M2_K + 0.5 * CELL_M / conducting)


def falling_c(hour: float) -> float:
    """From 4 degC to -10 degC in sixteen hours, and there."""
    return 4.0 - 14.0 * min(hour / 16.0, 1.0)


def square_c(width_m: float, outside: Callable[[float], float], hours: int) -> Array:
    """Plan of a quarter of the square, (n_hours, x, y, n_films); the last cells lie at the wall."""
    cells = round(0.5 * width_m / CELL_M)
    enthalpy = np.full((cells, cells, FILMS_W_M2_K.size), START_C * UNFROZEN_J_M3_K)
    told = [temperature_c(enthalpy)]
    per_hour = round(3600.0 / STEP_S)
    for step in range(hours * per_hour):
        temperature = temperature_c(enthalpy)
        conducting = conductivity_w_m_k(temperature)
        now_c = outside((step + 0.5) / per_hour)
        gain = np.zeros_like(enthalpy)
        for axis in (0, 1):
            values, along, into = (np.moveaxis(field, axis, 0) for field in (temperature, conducting, gain))
            flux = between(values, along)
            into[:-1] += flux
            into[1:] -= flux
            into[-1] += from_outside(values[-1], along[-1], now_c)
        enthalpy = enthalpy + gain * STEP_S / CELL_M
        if (step + 1) % per_hour == 0:
            told.append(temperature_c(enthalpy))
    return np.array(told)


def cylinder_c(radius_m: float, outside: Callable[[float], float], hours: int) -> Array:
    """Plan of the cylinder from axis to wall, (n_hours, r, n_films)."""
    cells = round(radius_m / CELL_M)
    edges = np.arange(cells + 1)[:, None] * CELL_M
    area = 0.5 * (edges[1:] ** 2 - edges[:-1] ** 2)  # per radian
    enthalpy = np.full((cells, FILMS_W_M2_K.size), START_C * UNFROZEN_J_M3_K)
    told = [temperature_c(enthalpy)]
    per_hour = round(3600.0 / STEP_S)
    for step in range(hours * per_hour):
        temperature = temperature_c(enthalpy)
        conducting = conductivity_w_m_k(temperature)
        flux = edges[1:-1] * between(temperature, conducting)
        gain = np.zeros_like(enthalpy)
        gain[:-1] += flux
        gain[1:] -= flux
        gain[-1] += radius_m * from_outside(temperature[-1], conducting[-1], outside((step + 0.5) / per_hour))
        enthalpy = enthalpy + gain * STEP_S / area
        if (step + 1) % per_hour == 0:
            told.append(temperature_c(enthalpy))
    return np.array(told)


def ring_of(plan_c: Array, radius_m: float) -> Array:
    """The outermost centimetre by its area."""
    weights = [radius_m - 1.5 * CELL_M, radius_m - 0.5 * CELL_M]
    return np.average(plan_c[:, -2:], axis=1, weights=weights)


@cache
def fall(width_m: float) -> Fall:
    """A square pot and its cylinder through the same night, under both films."""
    ring = ring_of(cylinder_c(0.5 * width_m, falling_c, HOURS), 0.5 * width_m)
    corner = square_c(width_m, falling_c, HOURS)[:, -2:, -2:].mean(axis=(1, 2))
    outside = np.array([falling_c(hour) for hour in range(HOURS + 1)])[:, None]
    return Fall(ring, corner, np.broadcast_to(outside, ring.shape))


def test_the_plan_is_the_product_of_two_walls_while_nothing_freezes():
    """Without ice the excess in a square is the product of that of two slabs, here the same scheme in a row."""
    # Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed., 1959, sec. 1.15: products of solutions. A step
    # of the outside to 1 degC, so that nothing freezes; the discrete product differs by the square of a step.
    hours = 6
    plan = square_c(0.2, lambda hour: 1.0, hours)
    excess = (plan[-1] - 1.0) / (START_C - 1.0)
    cells = excess.shape[0]
    row = np.full((cells, FILMS_W_M2_K.size), START_C)
    for _ in range(round(hours * 3600.0 / STEP_S)):
        gain = np.zeros_like(row)
        flux = between(row, np.full_like(row, UNFROZEN_W_M_K))
        gain[:-1] += flux
        gain[1:] -= flux
        gain[-1] += from_outside(row[-1], np.full_like(row[-1], UNFROZEN_W_M_K), 1.0)
        row = row + gain * STEP_S / CELL_M / UNFROZEN_J_M3_K
    slab = (row - 1.0) / (START_C - 1.0)

    assert excess == pytest.approx(slab[:, None] * slab[None], abs=1e-3)


@pytest.mark.parametrize("width_m", WIDTHS_M)
def test_the_ring_of_the_plan_is_the_engines_middle_ring(width_m: float):
    """With top and bottom insulated the engine's cylinder and this plan are the same pot in the same night."""
    hours = np.array([falling_c(hour) for hour in range(HOURS + 1)])[:, None] * np.ones(2)
    nothing = np.zeros_like(hours)
    balls = RootBalls(
        0.5 * width_m,
        0.3,
        0.0,
        0.0,
        UNFROZEN_W_M_K,
        FROZEN_W_M_K,
        UNFROZEN_J_M3_K,
        FROZEN_J_M3_K,
        np.full(2, FREEZABLE),
        0.0,
        FREEZING_C,
    )

    ring = simulate_root_balls(
        balls, Envelope(nothing + FILMS_W_M2_K, hours, nothing, hours, nothing, hours), START_C
    ).middle_ring_c

    # the engine's standard resolution is good to 0.15 K; here, as there, the ring has cells of 5 mm, and a
    # freezing front that passes them shows in steps of a few tenths
    assert ring[-1] == pytest.approx(fall(width_m).ring_c[-1], abs=0.35)
    assert np.abs(ring - fall(width_m).ring_c).mean() < 0.15


@pytest.mark.parametrize("width_m", WIDTHS_M)
@pytest.mark.parametrize("film", [0, 1], ids=["8 W/m2K", "20 W/m2K"])
def test_the_share_lies_where_it_must_while_the_corner_cools(width_m: float, film: int):
    """Unfrozen, or frozen through, the corner lies below its ring by the stated share, and so does the model's."""
    found = fall(width_m)
    shares = found.share[found.settled[:, film], film]
    lowest, highest = SHARES[film]

    assert shares.size >= 6
    assert lowest <= shares.min() and shares.max() <= highest
    assert shares.min() < float(corner_share(FILMS_W_M2_K)[film]) < shares.max()


@pytest.mark.parametrize("width_m", WIDTHS_M)
def test_what_is_taken_off_is_right_within_a_kelvin_when_it_is_coldest(width_m: float):
    """At the end of the fall, where roots are judged, the corner is told to better than a kelvin."""
    # limits of outer roots have spreads of 1 to 2 K; the plain ring would be 2 to 3 K too warm
    found = fall(width_m)

    assert np.abs(found.told_k - found.below_ring_k)[-4:].max() < 1.0
    assert found.below_ring_k[-4:].min() > 1.5


@pytest.mark.parametrize("width_m", WIDTHS_M)
def test_while_the_corner_freezes_the_model_errs_to_the_cold_only(width_m: float):
    """Latent heat holds a freezing corner up, which the share knows nothing of: told up to 2 K too cold."""
    found = fall(width_m)
    freezing = (found.corner_c < 0.0) & (found.corner_c > FREEZING_C)
    error = (found.told_k - found.below_ring_k)[freezing]

    assert error.size >= 4
    assert error.min() > -0.3
    assert error.max() < 2.0


def test_a_corner_is_never_told_colder_than_the_outside():
    """The share stays below one whatever the film, so the corner stays above what cools it."""
    shares = corner_share(np.geomspace(0.1, 1e5, 50))

    assert ((shares > 0.0) & (shares < 1.0)).all()
    assert (np.diff(shares) > 0.0).all()
