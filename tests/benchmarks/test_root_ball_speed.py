"""Speed of the root-ball engine: one table, ratios within one run, absolute figures for orientation.

Run with `pytest -m benchmark -s tests/benchmarks`. The extra `fast` adds the compiled engine to the table.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from frostguard import load_weather
from frostguard.physics import root_ball_fast, root_ball_steps
from frostguard.physics.root_ball import (
    COARSE,
    STANDARD,
    Envelope,
    Minima,
    RootBalls,
    select,
    simulate_root_balls,
)
from tests.reference.root_ball.cases import envelope_of, random_table, root_balls_of, start_of
from tests.reference.root_ball.peers import installed_peers, pot_of

pytestmark = [pytest.mark.benchmark, pytest.mark.filterwarnings("ignore")]  # warnings of the peers' libraries

DAYS_10 = 241
ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "samples"


def engines() -> dict[str, Callable[..., object]]:
    """Engines that can run here."""
    found: dict[str, Callable[..., object]] = {"arrays (numpy)": root_ball_steps.advance_hours}
    if root_ball_fast.is_installed():
        from frostguard.physics import root_ball_compiled

        root_ball_fast.warm_up()
        found["compiled (fast)"] = root_ball_compiled.advance_hours
    return found


def engines_here() -> tuple[str, ...]:
    """Their names, without compiling anything."""
    return ("arrays (numpy)", "compiled (fast)")[: 1 + root_ball_fast.is_installed()]


def use(monkeypatch, advance_hours):
    """Make all runs take one engine."""
    monkeypatch.setattr("frostguard.physics.root_ball.chosen_engine", lambda: advance_hours)
    arrays = advance_hours is root_ball_steps.advance_hours
    monkeypatch.setattr("frostguard.physics.root_ball_cores.computes_compiled", lambda: not arrays)


def batch(n, n_hours=DAYS_10, seed=5):
    """Random pots in random weather: all six kinds, most of them freezing."""
    table = random_table(n, seed)
    return root_balls_of(table), envelope_of(table, n_hours), start_of(table)


def wall_and_cpu_s(run):
    """Elapsed and processor seconds of one call, forked processes and all."""
    wall, cpu = time.perf_counter(), sum(os.times()[:4])
    run()
    return time.perf_counter() - wall, sum(os.times()[:4]) - cpu


def test_table_of_engines_and_peers(monkeypatch):
    """Milliseconds a 10-day series, alone and in batches, and the ratio to each peer."""
    table = random_table(1000, 5)
    row = table[0]
    peers = {}
    for name, peer in installed_peers().items():
        peers[name] = wall_and_cpu_s(lambda peer=peer: peer(pot_of(row, DAYS_10)))[1] * 1e3
    print(f"\n{'one 10-day series, processor ms':32s}" + "".join(f"{name:>16s}" for name in peers))
    print(f"{'peers, one series':32s}" + "".join(f"{ms:16.0f}" for ms in peers.values()))
    batched = {}
    for name, advance_hours in engines().items():
        use(monkeypatch, advance_hours)
        for n in (1, 20, 220, 1000):
            balls, envelope, start = root_balls_of(table[:n]), envelope_of(table[:n]), start_of(table[:n])
            wall, cpu = wall_and_cpu_s(lambda b=balls, e=envelope, s=start: simulate_root_balls(b, e, s, keep=Minima()))
            batched[name] = 1e3 * cpu / n
            ratios = "".join(f"{ms / batched[name]:15.0f}x" for ms in peers.values())
            print(f"{name:18s} n {n:5d} {batched[name]:7.2f}{ratios}   ({1e3 * wall / n:.2f} elapsed)")
    assert batched["arrays (numpy)"] < min(peers.values())
    if "compiled (fast)" in batched:  # processor time, last and largest batch
        assert min(peers.values()) >= 700.0 * batched["compiled (fast)"]
        assert peers.get("FiPy", np.inf) >= 10_000.0 * batched["compiled (fast)"]


def test_time_is_linear_in_series_and_days(monkeypatch):
    """Ten times the series or the days cost about ten times as long, over three decades of series-days."""
    for name, advance_hours in engines().items():
        use(monkeypatch, advance_hours)
        costs = []
        for n, days in ((256, 1), (256, 10), (2560, 10), (2560, 100)):
            balls, envelope, start = batch(n, 24 * days + 1)
            _, cpu = wall_and_cpu_s(
                lambda b=balls, e=envelope, s=start: simulate_root_balls(b, e, s, resolution=COARSE, keep=Minima())
            )
            costs.append(1e3 * cpu / (n * days))
            print(f"{name:18s} {n:5d} series, {days:2d} days: {costs[-1]:.3f} ms a series and day")
        assert max(costs) < 2.0 * min(costs)


def nightly(n_pots, n_options, n_members, n_hours):
    """Pots x options x members with one weather per pot and small differences between members."""
    table = random_table(n_pots, 9)
    index = np.repeat(np.arange(n_pots), n_options * n_members)
    balls, envelope, start = root_balls_of(table), envelope_of(table, n_hours), start_of(table)
    shift = np.random.default_rng(2).normal(0.0, 1.5, len(index))
    return balls, envelope, start, index, shift


def run_nightly(load):
    """The load in portions, as a caller with bounded memory runs it."""
    balls, envelope, start, index, shift = load
    lowest = []
    for first in range(0, len(index), 2048):
        some, warmer = index[first : first + 2048], shift[first : first + 2048]
        films = Envelope(*(getattr(envelope, name)[:, some] for name in envelope.__dataclass_fields__))
        films = replace(films, side_environment_c=films.side_environment_c + warmer)
        kept = simulate_root_balls(select(balls, some), films, start[some], keep=Minima(limits_c=(-2.0,)))
        lowest.append(kept.coldest_ring_c[0])
    return np.concatenate(lowest)


def test_nightly_load(monkeypatch):
    """A tenth of 60 pots x 8 options x 51 members x 10 days, and what the whole would take; memory flat in n."""
    for name, advance_hours in engines().items():
        use(monkeypatch, advance_hours)
        load = nightly(6, 8, 51, DAYS_10)
        run_nightly((*load[:3], load[3][:512], load[4][:512]))
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        wall, cpu = wall_and_cpu_s(lambda load=load: run_nightly(load))
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"\n{name}: {len(load[3])} series in {wall:.1f} s elapsed, {cpu:.1f} s processor;"
            f" all 24480 about {10 * wall:.0f} s elapsed; peak {peak:.0f} MB ({before:.0f} MB with 512 series)"
        )
        assert peak < before + 250.0


PEAK_OF = """
import resource, sys
from frostguard.physics import root_ball, root_ball_cores
from tests.benchmarks.test_root_ball_speed import engines, nightly, run_nightly
name, members = sys.argv[1], int(sys.argv[2])
engine = engines()[name]
root_ball.chosen_engine = lambda: engine
root_ball_cores.computes_compiled = lambda: "fast" in name
run_nightly(nightly(8, 8, members, 49))
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


@pytest.mark.parametrize("name", list(engines_here()))
def test_memory_is_flat_in_the_number_of_series(name):
    """Where only minima are kept, eight times the series take no more memory: 300 MB at most, in a fresh process."""
    peaks = []
    for members in (32, 256):
        process = [sys.executable, "-c", PEAK_OF, name, str(members)]
        peaks.append(float(subprocess.run(process, check=True, capture_output=True, cwd=ROOT).stdout))
    print(f"\n{name}: 2048 series {peaks[0]:.0f} MB, 16384 series {peaks[1]:.0f} MB")
    assert max(peaks) <= 300.0
    assert peaks[1] <= peaks[0] + 20.0


def terrace_week():
    """Sixty pots through the windy freeze of the samples: 51 members of ten days, and the limit of each pot."""
    rng = np.random.default_rng(4)
    air = load_weather(SAMPLES / "windy-freeze.csv").members[0]["air_temperature_c"].to_numpy()[-DAYS_10:]
    spread = rng.normal(0.0, 1.0, (51, 1)) * np.linspace(0.3, 2.5, DAYS_10)  # members part with lead time
    # limits of root systems from tender to bone-hardy, estimate
    return root_balls_of(random_table(60, 9)), (air + spread).T, rng.uniform(-18.0, -4.0, 60)


def coldest_ring(balls, pots, air, wrap_resistance, member, resolution=STANDARD):
    """Lowest ring of some pots, one each entry of the index arrays, in portions as a caller with bounded memory."""
    lowest = np.empty(len(pots))
    for first in range(0, len(pots), 2048):
        some = slice(first, first + 2048)
        felt, film = air[:, member[some]], np.full((len(air), len(pots[some])), 18.0)
        side = film / (1.0 + film * wrap_resistance[some])
        films = Envelope(side, felt, film, felt, 0.5 * film, 0.5 * felt + 2.0)
        kept = simulate_root_balls(select(balls, pots[some]), films, 3.0, resolution=resolution, keep=Minima())
        lowest[some] = kept.coldest_ring_c[0]
    return lowest


def test_screened_nightly_load(monkeypatch):
    """As the planner does it: every pot bare in every member; for those at risk seven wraps coarsely in three, and one
    in all."""
    balls, air, limit = terrace_week()
    wraps = np.linspace(0.05, 0.5, 7)

    def night():
        pots, member = np.repeat(np.arange(60), 51), np.tile(np.arange(51), 60)
        bare = coldest_ring(balls, pots, air, np.zeros(len(pots)), member).reshape(60, 51)
        at_risk = np.flatnonzero((bare < limit[:, None]).any(axis=1))
        some = np.array([5, 25, 45])
        pots, member = np.repeat(at_risk, 21), np.tile(some, 7 * len(at_risk))
        ranked = coldest_ring(balls, pots, air, np.tile(np.repeat(wraps, 3), len(at_risk)), member, COARSE)
        best = wraps[ranked.reshape(len(at_risk), 7, 3).min(axis=2).argmax(axis=1)]
        pots, member = np.repeat(at_risk, 51), np.tile(np.arange(51), len(at_risk))
        coldest_ring(balls, pots, air, np.repeat(best, 51), member)
        return len(at_risk)

    for name, advance_hours in engines().items():
        use(monkeypatch, advance_hours)
        found = []
        wall, cpu = wall_and_cpu_s(lambda found=found: found.append(night()))
        print(f"\n{name}: {found[0]} of 60 pots at risk: {wall:.1f} s elapsed, {cpu:.1f} s processor")
        assert 0 < found[0] < 60


def test_a_query(monkeypatch):
    """Twenty pots: a month of spin-up, eleven members for a week, and protections for those at risk."""
    for name, advance_hours in engines().items():
        use(monkeypatch, advance_hours)
        balls, envelope, start = batch(20, 24 * 30 + 1)
        week = Envelope(*(getattr(envelope, field)[-169:] for field in envelope.__dataclass_fields__))

        def query(balls=balls, envelope=envelope, start=start, week=week):
            spun = simulate_root_balls(balls, envelope, start, resolution=COARSE).final_state
            for copies in (11, 12):
                index = np.repeat(np.arange(20), copies)
                members = Envelope(*(getattr(week, field)[:, index] for field in week.__dataclass_fields__))
                simulate_root_balls(select(balls, index), members, select(spun, index))

        wall, cpu = wall_and_cpu_s(query)
        print(f"\n{name}: spin-up of 20 x 30 days and 460 series x 7 days: {wall:.2f} s elapsed, {cpu:.2f} s processor")


def test_accuracy_against_time():
    """Error of ring and mean minima against milliseconds, for the steps that were open to choice."""
    stored = np.load(Path(__file__).parents[1] / "reference" / "root_ball" / "references.npz")
    table, answers = stored["table"][:120], stored["answers"][:120]
    balls, envelope, start = root_balls_of(table), envelope_of(table), start_of(table)
    print(f"\n{'cells':>6s} {'steps/h':>8s} {'ms':>7s}   rings p95 / max     mean p95 / max   [K]")
    for cells in ((2, 6, 1, 3, 1), (2, 9, 2, 5, 1), (2, 9, 2, 6, 1), (2, 10, 2, 6, 1), (3, 12, 3, 6, 1)):
        for steps in (1, 2, 4):
            resolution = type(STANDARD)(*cells, steps)
            wall = time.process_time()
            history = simulate_root_balls(balls, envelope, start, resolution=resolution)
            wall = time.process_time() - wall
            curves = (history.top_ring_c, history.middle_ring_c, history.bottom_ring_c, history.mean_c)
            error = np.abs(np.stack([curve[48:].min(axis=0) for curve in curves]) - answers[:, :4].T)
            rings, mean = error[:3].ravel(), error[3]
            print(
                f"{resolution.radial_cells * resolution.axial_cells:6d} {steps:8d} {1e3 * wall / len(table):7.1f}"
                f"   {np.percentile(rings, 95):.3f} / {rings.max():.3f}"
                f"       {np.percentile(mean, 95):.3f} / {mean.max():.3f}"
            )


TYPICAL = {
    # radius, height [m], wall resistance, wall capacity: trade sizes, rounded
    "terracotta 24 cm": (0.115, 0.22, 0.013, 16e3),
    "plastic 30 cm": (0.147, 0.27, 0.012, 5e3),
    "wooden tub 50 cm": (0.23, 0.40, 0.17, 20e3),
    "railing box": (0.08, 0.16, 0.012, 5e3),
    "shallow pan": (0.15, 0.10, 0.013, 16e3),
}


def test_what_drives_the_answer():
    """How far each uncertain input moves the coldest ring of five typical pots in one night from +5 to -7 degC."""
    hour = np.arange(25)[:, None]  # noon to noon
    air = -1.0 + 6.0 * np.cos(2.0 * np.pi * (hour - 1.0) / 30.0)

    def ring(shape, *, water=0.35, conductivity=1.0, wall=1.0, wind=12.0, sky=2.0, floor=0.0):
        radius, height, resistance, capacity = shape
        film = wind + 4.5
        balls = RootBalls(
            radius, height, resistance * wall, capacity, 0.45 * conductivity, 0.95 * conductivity,
            0.7e6 + 4.2e6 * (water + 0.06), 0.95e6 + 2.0e6 * water, water, 0.0, -0.8,
        )  # fmt: skip
        ones = np.ones_like(air)
        side, top = air - 4.5 / film * sky, air - 4.5 / film * 2.0 * sky
        envelope = Envelope(film * ones, side, film * ones, top, 8.0 * ones, 0.5 * air + 1.0 + floor)
        return float(simulate_root_balls(balls, envelope, 5.0).coldest_ring_c.min())

    changes = {
        "freezable water 0.2 / 0.5": ({"water": 0.2}, {"water": 0.5}),
        "conductivity -30 / +30 %": ({"conductivity": 0.7}, {"conductivity": 1.3}),
        "wall half / double": ({"wall": 0.5}, {"wall": 2.0}),
        "wind film 6 / 25 W/m2K": ({"wind": 6.0}, {"wind": 25.0}),
        "sky deficit 0 / 5 K": ({"sky": 0.0}, {"sky": 5.0}),
        "floor 4 K colder / warmer": ({"floor": -4.0}, {"floor": 4.0}),
    }
    print(f"\n{'coldest ring [degC], change [K]':28s}" + "".join(f"{name:>20s}" for name in TYPICAL))
    base = {name: ring(shape) for name, shape in TYPICAL.items()}
    print(f"{'as described':28s}" + "".join(f"{value:20.1f}" for value in base.values()))
    for label, (low, high) in changes.items():
        moved = [
            f"{ring(shape, **low) - base[name]:+.1f} / {ring(shape, **high) - base[name]:+.1f}"
            for name, shape in TYPICAL.items()
        ]
        print(f"{label:28s}" + "".join(f"{text:>20s}" for text in moved))
    assert ring(TYPICAL["plastic 30 cm"], floor=4.0) > base["plastic 30 cm"]
