"""The standard resolution against stored fine-grid answers for random pots in ten days of random weather."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from frostguard.physics.root_ball import STANDARD, simulate_root_balls

from .cases import COLUMNS, CROSSINGS_C, DEPTHS_M, WEATHERS, envelope_of, root_balls_of, start_of
from .fine_grid import fine_answer
from .summary import QUANTITIES, summary

STORED = np.load(Path(__file__).parent / "references.npz")
RINGS = slice(0, 3)
MEAN, AXIS_5, AXIS_10, MOST_FROZEN, LAST_FROZEN = range(3, 8)
HOURS = slice(len(QUANTITIES), None)


def engine_summaries(table, resolution=STANDARD):
    """Summaries of the engine's curves, one row per pot."""
    history = simulate_root_balls(
        root_balls_of(table), envelope_of(table), start_of(table), depths_m=DEPTHS_M, resolution=resolution
    )
    rings = np.stack([history.top_ring_c, history.middle_ring_c, history.bottom_ring_c], axis=-1)
    for curves in (rings, history.mean_c, history.core_c, history.frozen_fraction):
        assert np.isfinite(curves).all()
    return np.array(
        [
            summary(
                rings[:, i], history.mean_c[:, i], history.frozen_fraction[:, i], history.depths_c[:, i], CROSSINGS_C
            )
            for i in range(len(table))
        ]
    )


def check_accuracy(table, answers):
    """The demands on the standard resolution; a fine grid of 5 mm is itself good to some 0.02 K."""
    difference = engine_summaries(table) - answers
    size = np.abs(difference)
    for ring in range(3):
        assert np.percentile(size[:, ring], 95) <= 0.10, QUANTITIES[ring]
        assert size[:, ring].max() <= 0.25, QUANTITIES[ring]
    assert np.percentile(size[:, MEAN], 95) <= 0.10
    assert size[:, MEAN].max() <= 0.15
    assert np.percentile(size[:, AXIS_5], 95) <= 0.35
    assert np.percentile(size[:, AXIS_10], 95) <= 0.35
    assert np.percentile(size[:, MOST_FROZEN], 95) <= 0.01
    assert np.percentile(size[:, LAST_FROZEN], 95) <= 0.01
    marginal = table[:, COLUMNS.index("weather")] == WEATHERS.index("marginal nights")
    assert difference[marginal][:, RINGS].mean() <= 0.01  # warm is the unsafe side
    assert np.nanpercentile(60.0 * size[:, HOURS], 90) <= 30.0
    return difference


def test_engine_is_accurate_on_random_pots():
    """Ring, mean and axis minima, frozen shares and crossing times of 60 pots meet the demands."""
    check_accuracy(STORED["table"][:60], STORED["answers"][:60])


@pytest.mark.long
def test_engine_is_accurate_on_all_random_pots():
    """The same for all 240 pots, with the figures printed."""
    difference = check_accuracy(STORED["table"], STORED["answers"])
    size = np.abs(difference)
    for column, name in enumerate(QUANTITIES):
        print(
            f"{name:24s} bias {np.mean(difference[:, column]):+.3f}"
            f"  p95 {np.percentile(size[:, column], 95):.3f}  max {size[:, column].max():.3f}"
        )
    for column, limit in enumerate(CROSSINGS_C):
        minutes = 60.0 * size[:, len(QUANTITIES) + column]
        minutes = minutes[np.isfinite(minutes)]
        print(f"crossing of {limit:g} degC, {len(minutes)} pots: p90 {np.percentile(minutes, 90):.0f} min")
        assert np.percentile(minutes, 90) <= 30.0  # of each alone; 60 pots are too few for that


def test_stored_answers_are_converged():
    """Half the cell (and a quarter of the step) moves the stored extremes by little against the demands."""
    moved = np.abs(STORED["finer_answers"] - STORED["answers"][: len(STORED["finer_answers"])])
    assert np.nanmax(moved[:, : MEAN + 1]) <= 0.03
    assert np.nanmax(moved[:, AXIS_5 : AXIS_10 + 1]) <= 0.03
    assert np.nanmax(moved[:, MOST_FROZEN : LAST_FROZEN + 1]) <= 0.005
    assert np.nanmax(60.0 * moved[:, HOURS]) <= 10.0


def test_two_solvers_meet_on_a_fine_grid():
    """The engine on a finer grid comes closer to the stored answers: two discretisations, one limit."""
    some = slice(0, 6)
    table, answers = STORED["table"][some], STORED["answers"][some]
    finer = type(STANDARD)(4, 18, 4, 10, 3, 2)
    coarse_error = np.abs(engine_summaries(table) - answers)[:, : MEAN + 1]
    fine_error = np.abs(engine_summaries(table, finer) - answers)[:, : MEAN + 1]
    assert fine_error.mean() < 0.5 * coarse_error.mean()
    assert fine_error.max() <= 0.06


def test_fine_grid_solver_reproduces_a_stored_answer_roughly():
    """The script's solver, on a coarse grid that plain Python can bear, gives a stored pot's minima."""
    row = int(np.argmax(STORED["table"][:, COLUMNS.index("radius_m")] + STORED["table"][:, 1]))
    table = STORED["table"][row : row + 1]
    balls, envelope = root_balls_of(table), envelope_of(table, 31)
    pot = {name: float(getattr(balls, name)[0]) for name in balls.__dataclass_fields__}
    films = np.array([getattr(envelope, name)[:, 0] for name in envelope.__dataclass_fields__])
    readings = fine_answer(pot, films, float(start_of(table)[0]), DEPTHS_M, 0.04)
    history = simulate_root_balls(balls, envelope, start_of(table), depths_m=DEPTHS_M)
    # cells of 1 to 4 cm: a few tenths of a kelvin at the rings
    assert np.abs(readings[:, 3] - history.mean_c[:, 0]).max() < 0.3
    assert np.abs(readings[:, 4] - history.frozen_fraction[:, 0]).max() < 0.05
