"""Rows two hours apart for what is far off: every hour told, states where they are asked for, no warm bias."""

from __future__ import annotations

import numpy as np
import pytest

from frostguard.advice.readings import simulate_readings
from frostguard.physics.root_ball import STANDARD, Envelope, RootBalls, simulate_root_balls
from tests.reference.root_ball.cases import envelope_of, random_table, root_balls_of, start_of


@pytest.fixture(scope="module", autouse=True)
def coarse_engine() -> None:
    """Unlike its neighbours, this module is about the real resolutions."""


TABLE = random_table(40, 31)
HOURS = 97


def load() -> tuple[RootBalls, Envelope, np.ndarray]:
    """Random pots of all walls and sizes in random frosts of four days."""
    return root_balls_of(TABLE), envelope_of(TABLE, HOURS), start_of(TABLE)


def test_a_day_ahead_is_the_engine_s_own_answer():
    """Hours that are wanted finely are told as the engine tells them, to the last digit."""
    balls, envelope, start = load()
    readings = simulate_readings(balls, envelope, start, HOURS - 1)
    engine = simulate_root_balls(balls, envelope, start)
    assert np.array_equal(readings.coldest_ring_c, engine.coldest_ring_c)


@pytest.mark.parametrize("fine_hours", [0, 23, 24, HOURS - 2])
def test_every_hour_is_told_wherever_the_fine_ones_end(fine_hours):
    """An odd or even number of hours beyond the fine ones gives every hour of the weather, none of them empty."""
    balls, envelope, start = load()
    readings = simulate_readings(balls, envelope, start, fine_hours)
    for curves in (readings.coldest_ring_c, readings.frozen_fraction, readings.face_heat_w):
        assert len(curves) == HOURS and np.isfinite(curves).all()


def test_states_are_kept_at_the_hours_asked_for():
    """A pot branched from a kept state, at an odd or even hour, goes on as the pot itself does."""
    balls, envelope, start = load()
    readings = simulate_readings(balls, envelope, start, 24, states_at=(20, 24, 43, 66, 67))
    assert sorted(readings.states) == [20, 24, 43, 66, 67]
    for hour, state in readings.states.items():
        rest = Envelope(*(getattr(envelope, name)[hour:] for name in Envelope.__dataclass_fields__))
        mean_c = simulate_root_balls(balls, rest, state).mean_c[0]
        assert mean_c == pytest.approx(readings.mean_c[hour], abs=0.3)  # two grids freeze at other places


def test_the_coldest_of_far_nights_is_not_told_too_warm():
    """Coarse cells and rows two hours apart move the coldest ring of a day by some tenths of a kelvin, to either side.

    Held against the engine's standard resolution, whose own error beside fine references is tested elsewhere.
    These frosts are far harsher than nights; forecasts beyond the first night miss by 2 K.
    """
    balls, envelope, start = load()
    far = simulate_readings(balls, envelope, start, 0).coldest_ring_c
    fine = simulate_root_balls(balls, envelope, start, resolution=STANDARD).coldest_ring_c
    days = [slice(first, first + 24) for first in range(0, HOURS - 1, 24)]
    warmer = np.array([far[day].min(axis=0) - fine[day].min(axis=0) for day in days])
    assert abs(warmer.mean()) < 0.05
    assert np.percentile(np.abs(warmer), 95) < 0.3
    assert np.abs(warmer).max() < 1.0
