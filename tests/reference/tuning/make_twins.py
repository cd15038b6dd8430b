"""Makes `twins.npz`: pots whose readings come from the fine-grid solver, not from the engine that is fitted.

Run from the repository's top: python -m tests.reference.tuning.make_twins (numba makes it bearable).

Each twin has what the fitted model does not know or does not have: another wind, sky, water, conductivity and wall
than the garden file says, a side that is neither bare nor mean, a probe deeper than it is said to be, an offset, noise,
half-degree steps, gaps, and a forecast that misses every night by another amount. Its mix is uniform: a wetter
bottom is not
in the fine solver. What is kept: the hours with a reading, the readings, and the true ring.
"""

from __future__ import annotations

from dataclasses import fields, replace
from pathlib import Path

import numpy as np

from frostguard.advice.layout import Side
from frostguard.advice.pot_run import estimated_surface_c
from frostguard.advice.situation import as_it_stands, root_balls_of, surfaces_of
from frostguard.advice.state import TerraceState
from frostguard.advice.terrace import prepare_terrace
from frostguard.advice.tuned import PotTuning, SpotTuning, Tuned
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import Garden
from frostguard.physics.envelope import build_envelope
from frostguard.physics.microclimate import gather_hours
from frostguard.physics.root_ball import Envelope, RootBalls
from frostguard.tuning.tune import nights_of_bias
from frostguard.weather.series import WeatherSeries
from tests.reference.root_ball.fine_grid import MEAN, MIDDLE, fine_answer
from tests.unit.advice.terraces import ZONE, big_pot, garden, pot, weather

N_TWINS, NIGHTS = 10, 32
CELL_M = 0.006
LEAD_H = 110


def terrace_of(seed: int) -> tuple[Garden, WeatherSeries]:
    """The garden file and the forecast of a twin."""
    draw = np.random.default_rng(seed)
    level, swing = draw.uniform(-2.0, 3.0), draw.uniform(2.0, 5.0)
    nightly = draw.normal(0.0, 2.0, NIGHTS + 10)
    clear = draw.random(NIGHTS + 10) < 0.5

    def air(clock: np.ndarray) -> np.ndarray:
        days = (clock - 12.0) / 24.0
        base = np.interp(days, np.arange(-NIGHTS - 6, 4), nightly)
        base = np.where(days < -NIGHTS + 1.0, np.maximum(base, 1.0) + 5.0, base)  # nothing frozen at first
        return level + base + swing * np.cos((clock - 14.0) / 24.0 * 2.0 * np.pi)

    hours = 24 * NIGHTS + LEAD_H
    cloud = np.repeat(np.where(clear, 5.0, 95.0), 24)[: hours + 13]
    sky = weather(
        air, past_h=hours, ahead_h=12, cloud_cover_percent=cloud, wind_speed_10m_m_s=np.where(cloud < 50, 1.5, 3.5)
    )
    return garden(big_pot() if seed % 2 else pot(radius_m=0.12, height_m=0.24)), sky


def twin(seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Hours with a reading, the readings, and the true ring at every hour [degC]."""
    draw = np.random.default_rng((seed, 1))
    where, told = terrace_of(seed)
    catalogue = load_catalogue()
    weight, calm = nights_of_bias(told, str(ZONE))
    night = (np.arange(told.n_hours) + 12) // 24
    miss = draw.normal(0.0, 0.6, night.max() + 1)[night] + np.where(calm, draw.normal(-1.0, 0.8), draw.normal(0.0, 0.4))
    values = dict(told.values)
    for name in ("air_temperature_c", "dew_point_c"):
        values[name] = values[name] + weight * miss
    own = where.pots[0]
    tuned = Tuned(
        pots={own.id: PotTuning(
            1.0, draw.uniform(0.0, 0.03), float(np.exp(draw.normal(0, 0.25))), float(np.exp(draw.normal(0, 0.2)))
        )},
        spots={own.spot: SpotTuning(
            float(np.exp(draw.normal(0, 0.5))), float(draw.normal(-0.1, 0.15)), float(draw.normal(0, 1.5))
        )},
    )  # fmt: skip
    terrace = prepare_terrace(where, replace(told, values=values), tuned)
    situation = as_it_stands(own, TerraceState(tuned=tuned), catalogue)
    spot = terrace.spots[own.spot]
    none = np.zeros(1, dtype=np.intp)
    hours = gather_hours((spot,), none, none, slice(0, told.n_hours))
    balls = root_balls_of([situation], catalogue)
    surface = estimated_surface_c(balls, hours)
    bare, mean = (
        build_envelope(surfaces_of([situation], [spot], side, catalogue), hours, surface, surface)[0]
        for side in (Side.EXPOSED, Side.MEAN)
    )
    uneven = draw.uniform(0.3, 1.0)
    films = np.array(
        [
            uneven * getattr(bare, field.name)[:, 0] + (1.0 - uneven) * getattr(mean, field.name)[:, 0]
            for field in fields(Envelope)
        ]
    )
    numbers = {field.name: float(getattr(balls, field.name)[0]) for field in fields(RootBalls)}
    found = fine_answer(numbers, films, float(terrace.outdoor.air_temperature_c[:48].mean()), [0.1], CELL_M)
    ring = found[:, MIDDLE]
    deeper = draw.uniform(0.0, 0.4)  # of the way from the ring to the mean: up to some 2 cm
    read = (1.0 - deeper) * ring + deeper * found[:, MEAN] + draw.normal(0.0, 0.25)
    read = np.round((read + draw.normal(0.0, 0.15, ring.size)) * 2.0) / 2.0
    kept = (np.arange(ring.size) >= LEAD_H) & (draw.random(ring.size) > 0.05)
    gap = draw.integers(LEAD_H, ring.size - 40)
    kept[gap : gap + 30] = False
    return np.flatnonzero(kept), read[kept], ring


def main() -> None:
    """Compute and write."""
    stored = {}
    for seed in range(N_TWINS):
        hours, read, ring = twin(seed)
        stored |= {
            f"hours_{seed}": hours.astype(np.int16),
            f"read_{seed}": read.astype(np.float32),
            f"ring_{seed}": ring.astype(np.float32),
        }
        print(seed, read.min(), flush=True)
    np.savez_compressed(Path(__file__).parent / "twins.npz", **stored)


if __name__ == "__main__":
    main()
