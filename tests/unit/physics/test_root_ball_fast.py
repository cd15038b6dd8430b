"""The compiled engine gives the answers of the array engine, and is used only when nothing needs compiling."""

from __future__ import annotations

import importlib.util

import numpy as np
import pytest

from frostguard.errors import FastEngineUnusable
from frostguard.physics import root_ball_fast, root_ball_steps
from frostguard.physics.root_ball import COARSE, STANDARD, Curves, Envelope, RootBalls, simulate_root_balls

needs_numba = pytest.mark.skipif(
    importlib.util.find_spec("numba") is None, reason="the compiled engine needs the extra `fast`"
)


def balls_and_weather(n=12, n_hours=49):
    """Small, large, bare and walled balls through frost, thaw and a jump of films that upsets two stages."""
    rng = np.random.default_rng(7)
    water = rng.uniform(0.1, 0.5, n)
    balls = RootBalls(
        rng.uniform(0.05, 0.3, n), rng.uniform(0.08, 0.5, n), rng.choice([0.0, 0.1], n), rng.choice([0.0, 1.0, 2e4], n),
        rng.uniform(0.2, 0.6, n), rng.uniform(0.7, 1.4, n), 4.2e6 * water + 6e5, 2e6 * water + 6e5, water, 0.0, -0.6,
    )  # fmt: skip
    hour = np.arange(n_hours)[:, None]
    air = -4.0 + 7.0 * np.sin(hour / 4.0 + rng.uniform(0, 6, n)) + np.where(hour == 20, 15.0, 0.0)
    film = np.where((hour > 30) & (hour < 34), 0.0, 14.0) + 0.0 * air
    return balls, Envelope(film, air, film, air - 2.0, 0.5 * film + 2.0, 3.0 + 0.0 * air)


STRANGE_MIX = {
    "radius_m": 1.0, "height_m": 1.0, "wall_resistance_m2_k_w": 0.0, "wall_heat_capacity_j_m2_k": 0.0,
    "conductivity_unfrozen_w_m_k": 0.125, "conductivity_frozen_w_m_k": 2.125, "heat_capacity_unfrozen_j_m3_k": 1e5,
    "heat_capacity_frozen_j_m3_k": 4.25e5, "freezable_water_fraction": 0.0, "freezing_start_c": -5.0,
    "freezing_end_c": -7.0,
}  # fmt: skip


@needs_numba
@pytest.mark.parametrize("resolution", [STANDARD, COARSE])
def test_both_engines_give_the_same_curves(monkeypatch, resolution):
    """Arrays and compiled loops agree to 1e-9 K, far below the 0.003 K that is asked of them."""
    from frostguard.physics import root_ball_compiled

    balls, envelope = balls_and_weather()
    # one ball of a strange mix, whose steps are made again in parts
    for name, value in STRANGE_MIX.items():
        getattr(balls, name)[0] = value
    answers = []
    for advance_hours in (root_ball_steps.advance_hours, root_ball_compiled.advance_hours):
        monkeypatch.setattr("frostguard.physics.root_ball.chosen_engine", lambda chosen=advance_hours: chosen)
        answers.append(simulate_root_balls(balls, envelope, 4.0, resolution=resolution))
    for name in ("top_ring_c", "middle_ring_c", "bottom_ring_c", "mean_c", "core_c", "frozen_fraction"):
        np.testing.assert_allclose(getattr(answers[0], name), getattr(answers[1], name), atol=1e-9, err_msg=name)
    np.testing.assert_allclose(answers[0].face_heat_w, answers[1].face_heat_w, atol=1e-7)
    assert answers[1].heat_balance_error.max() <= 1e-12


@needs_numba
def test_steps_made_again_leave_no_trace(monkeypatch):
    """A run cut in parts and one that goes through give the same digits, even where steps were made again."""
    from frostguard.physics import root_ball_compiled

    monkeypatch.setattr("frostguard.physics.root_ball.chosen_engine", lambda: root_ball_compiled.advance_hours)
    balls, envelope = balls_and_weather()
    for name, value in STRANGE_MIX.items():
        getattr(balls, name)[:6] = value
    through = simulate_root_balls(balls, envelope, 4.0)
    parts = simulate_root_balls(balls, envelope, 4.0, keep=Curves(states_at=(10, 21, 35)))
    np.testing.assert_array_equal(parts.final_state.enthalpy_j_m3, through.final_state.enthalpy_j_m3)
    np.testing.assert_array_equal(parts.coldest_ring_c, through.coldest_ring_c)


@pytest.fixture
def _choice_forgotten():
    """The choice of engine is made anew, before and after."""
    root_ball_fast.chosen_engine.cache_clear()
    yield
    root_ball_fast.chosen_engine.cache_clear()


@needs_numba
@pytest.mark.usefixtures("_choice_forgotten")
@pytest.mark.parametrize("fault", [AttributeError("no such flag"), RuntimeError("no locator available"), EOFError()])
def test_a_compiler_that_fails_stops_no_query(monkeypatch, fault):
    """With a damaged cache or another numba the arrays compute; only warming up says that something is wrong."""
    from frostguard.physics import root_ball_compiled

    def fail(*_):
        raise fault

    monkeypatch.setattr(root_ball_compiled, "advance_hours", fail)
    assert root_ball_fast.chosen_engine() is root_ball_steps.advance_hours
    with pytest.raises(FastEngineUnusable, match=r"only slower"):
        root_ball_fast.warm_up()


@needs_numba
def test_machine_code_of_other_sources_or_processors_is_not_warm():
    """Only code of these very sources, all of them, and for this processor spares the compiling."""
    from frostguard.physics import root_ball_compiled, root_ball_lanes

    assert root_ball_fast.warm_up()
    for function in (root_ball_compiled._run, root_ball_lanes.radial_sweep, root_ball_lanes.conduction):
        assert function._cache._cache_file._source_stamp == root_ball_lanes.SOURCES_STAMP
    assert {path.name for path in root_ball_lanes._SOURCES} >= {"root_ball_sweeps.py", "root_ball_steps.py"}

    class Kept:
        signatures = ()
        targetctx = root_ball_compiled._run.targetctx
        _cache = root_ball_compiled._run._cache

    assert root_ball_fast._is_warm(Kept)
    elsewhere = type("Elsewhere", (), {"codegen": lambda: type("It", (), {"magic_tuple": lambda: ("another",)})})
    assert not root_ball_fast._is_warm(type("Other", (Kept,), {"targetctx": elsewhere}))


@needs_numba
def test_warm_up_makes_the_compiled_engine_the_chosen_one():
    """After warming up, runs are compiled."""
    assert root_ball_fast.warm_up()
    assert root_ball_fast.chosen_engine().__module__.endswith("root_ball_compiled")


def test_without_the_extra_the_arrays_compute(monkeypatch):
    """Nothing is compiled or imported where the extra is missing, and warming up says so."""
    monkeypatch.setattr(root_ball_fast, "is_installed", lambda: False)
    root_ball_fast.chosen_engine.cache_clear()
    assert root_ball_fast.chosen_engine() is root_ball_steps.advance_hours
    assert not root_ball_fast.warm_up()
    root_ball_fast.chosen_engine.cache_clear()
