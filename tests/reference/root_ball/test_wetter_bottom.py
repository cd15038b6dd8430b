"""A mix that is wetter towards the bottom: the fine-grid solver where the answer is known, and the engine beside it."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from frostguard.physics.root_ball import CURVES, Envelope, RootBalls, simulate_root_balls

from .fine_grid import BOTTOM, FROZEN, MEAN, TOP, fine_answer

POT = {
    "radius_m": 0.1, "height_m": 0.2, "wall_resistance_m2_k_w": 0.01, "wall_heat_capacity_j_m2_k": 5e3,
    "conductivity_unfrozen_w_m_k": 0.45, "conductivity_frozen_w_m_k": 0.9,
    "heat_capacity_unfrozen_j_m3_k": 2.2e6, "heat_capacity_frozen_j_m3_k": 1.6e6,
    "freezable_water_fraction": 0.35, "freezing_start_c": 0.0, "freezing_end_c": -1.0,
}  # fmt: skip
HOURS = 30
FILMS = np.array([np.full(HOURS, 10.0), np.full(HOURS, -8.0)] * 3)


@cache
def told(water_below: float | None) -> np.ndarray:
    """A small pot that stands in the cold for a day, alike on all sides."""
    below = None if water_below is None else {**POT, "freezable_water_fraction": water_below}
    return fine_answer(POT, FILMS, 2.0, [0.1], 0.04, below=below)


def test_a_bottom_that_hardly_differs_changes_nothing():
    """Resistances of half cells in place of the conductivity integral: the same answer but for the frozen front."""
    same = told(0.35 + 1e-9)
    assert same[:, [TOP, BOTTOM, MEAN]] == pytest.approx(told(None)[:, [TOP, BOTTOM, MEAN]], abs=0.15)
    assert same[:, FROZEN] == pytest.approx(told(None)[:, FROZEN], abs=0.02)


def test_a_wetter_bottom_stays_warmer_for_longer():
    """Water that has still to freeze holds the bottom up, as it holds a wetter pot up."""
    wetter = told(0.6)
    assert wetter[-1, BOTTOM] > told(None)[-1, BOTTOM] + 0.2
    assert abs(wetter[-1, TOP] - told(None)[-1, TOP]) < 0.2 + abs(wetter[-1, BOTTOM] - told(None)[-1, BOTTOM])


HELD = ("freezable_water_fraction", "heat_capacity_unfrozen_j_m3_k", "heat_capacity_frozen_j_m3_k")


@cache
def both(share: float) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Readings of the fine grid and curves of the engine for a mix that holds so much more below and less above."""
    top, below = ({**POT, **{name: (1.0 + sign * share) * POT[name] for name in HELD}} for sign in (-1.0, 1.0))
    fine = fine_answer(top, FILMS, 2.0, [0.1], 0.005, below=below)
    balls = RootBalls(**{name: np.array([value]) for name, value in POT.items()}, wetter_below=np.array([share]))
    run = simulate_root_balls(balls, Envelope(*FILMS[:, :, None]), 2.0, keep=CURVES)
    assert run.heat_balance_error.max() <= 1e-12
    names = {TOP: run.top_ring_c, BOTTOM: run.bottom_ring_c, MEAN: run.mean_c}
    return fine, {name: curve[:, 0] for name, curve in names.items()}


@pytest.mark.parametrize("share", [0.0, 0.25, 0.5])
def test_the_engine_agrees_with_the_fine_grid(share):
    """Rings and mean through cooling, freezing and beyond, within the 0.25 K that is asked of even mixes."""
    fine, curves = both(share)
    for column, curve in curves.items():
        assert np.abs(curve - fine[:, column]).max() <= 0.25, column


def test_a_wetter_bottom_freezes_the_top_first():
    """Pots drain downwards: with the same water in all the top ring is the colder, the bottom ring the warmer."""
    even, uneven = both(0.0)[1], both(0.5)[1]
    half_frozen = HOURS // 2
    assert uneven[TOP][half_frozen] < even[TOP][half_frozen] - 0.3
    assert uneven[BOTTOM][half_frozen] > even[BOTTOM][half_frozen] + 0.3
