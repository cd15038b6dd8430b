"""Makes `twins.npz`: pots whose readings come from the fine-grid solver, not from the engine that is fitted.

Run from the repository's top: python -m tests.reference.tuning.make_twins (with numba ten minutes).

Each twin is another pot at another spot, described in a garden file that is as wrong as such files are: wind, sky,
what is beneath, wall, water and conductivity of the mix are drawn from the spreads with which they are believed. Beside
that it has what the fitted model lacks: a mix that is wetter towards the bottom, a side that is neither bare nor mean,
a probe up to 2 cm deeper than it is said to be, an offset, noise, half-degree steps, gaps, and a weather that misses
every night by another amount. What is kept: the readings in half degrees, and the true lowest ring of each night.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from pathlib import Path

import numpy as np

from frostguard.advice.layout import Side
from frostguard.advice.pot_run import estimated_surface_c
from frostguard.advice.situation import as_it_stands, root_balls_of, surfaces_of
from frostguard.advice.state import TerraceState
from frostguard.advice.terrace import prepare_terrace
from frostguard.advice.tuned import PotTuning, SpotTuning, Tuned
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import Beneath, Garden, Neighbours, Wetness
from frostguard.physics.envelope import build_envelope
from frostguard.physics.microclimate import gather_hours
from frostguard.physics.root_ball import Envelope, RootBalls
from frostguard.tuning.tune import nights_of_bias
from frostguard.weather.series import WeatherSeries
from tests.reference.root_ball.fine_grid import AXIS, MIDDLE, fine_answer
from tests.unit.advice.terraces import ZONE, garden, pot, spot, weather

N_TWINS, NIGHTS = 200, 32
CELL_M = 0.008
LEAD_H = 110
NO_READING = -128
WALLS = ("plastic", "terracotta", "glazed earthenware", "wood", "concrete", "felt")
FLOORS = (Beneath.DECKING, Beneath.GROUND, Beneath.HEATED_ROOM, Beneath.INSULATED_ROOF)


@dataclass(frozen=True, slots=True)
class Twin:
    """What the person knows (file and weather told), and what is so (weather, parameters, the rest)."""

    garden: Garden
    told: WeatherSeries
    happened: WeatherSeries
    tuned: Tuned
    clear_calm_bias_k: float
    bias_k: float
    uneven: float  # 1: the side is its barest strip all round; 0: the mean of all sides
    wetter: float  # by which share the bottom has more, and the top less, water than the middle
    probe_off_wall_m: float
    offset_k: float


def terrace_of(seed: int) -> tuple[Garden, WeatherSeries]:
    """The garden file and the weather of a twin, as they are told."""
    draw = np.random.default_rng(seed)
    level, swing = draw.uniform(-3.0, 3.0), draw.uniform(2.0, 5.0)
    nightly = draw.normal(0.0, 2.0, NIGHTS + 10)
    cloud_of_night = draw.choice([5.0, 50.0, 95.0], NIGHTS + 10, p=[0.4, 0.2, 0.4])
    wind_of_night = np.exp(draw.normal(np.log(2.0), 0.5, NIGHTS + 10))

    def air(clock: np.ndarray) -> np.ndarray:
        days = (clock - 12.0) / 24.0
        base = np.interp(days, np.arange(-NIGHTS - 6, 4), nightly)
        base = np.where(days < -NIGHTS + 1.0, np.maximum(base, 1.0) + 5.0, base)  # nothing frozen at first
        return level + base + swing * np.cos((clock - 14.0) / 24.0 * 2.0 * np.pi)

    hours = 24 * NIGHTS + LEAD_H
    cloud, wind = (np.repeat(of_night, 24)[: hours + 13] for of_night in (cloud_of_night, wind_of_night))
    gusts = ("wind_gust_10m_m_s",)
    sky = weather(
        air, past_h=hours, ahead_h=12, without=gusts, cloud_cover_percent=cloud, wind_speed_10m_m_s=wind
    )
    wall = str(draw.choice(WALLS))
    radius = draw.uniform(0.09, 0.16)
    own = pot(
        wall=wall,
        wall_thickness_m=load_catalogue().walls[wall].thickness_m,
        radius_m=radius,
        height_m=radius * draw.uniform(1.5, 2.5),
        wetness=Wetness(draw.choice([one.value for one in Wetness])),
        feet=bool(draw.random() < 0.3),
        neighbours=Neighbours(draw.choice([one.value for one in Neighbours])),
    )
    deck = spot(
        wind_fraction=draw.uniform(0.2, 0.7),
        sky_view=draw.uniform(0.4, 0.9),
        beneath=FLOORS[draw.integers(len(FLOORS))],
        against_house_wall=bool(draw.random() < 0.4),
    )
    return garden(own, spots=(deck,)), sky


def twin_of(seed: int) -> Twin:
    """A twin with all that is hidden from the person."""
    draw = np.random.default_rng((seed, 1))
    where, told = terrace_of(seed)
    weight, calm = nights_of_bias(told, str(ZONE))
    night = (np.arange(told.n_hours) + 12) // 24
    miss = draw.normal(0.0, 0.6, night.max() + 1)[night]
    # locally uncorrected minima miss by about 2.1 K, corrected ones by 1.6 K (both as CRPS of Rasp and Lerch 2018,
    # Gaussian): a station's own bias is 1.3 K; a little less of it here, the calm side colder
    clear_calm_bias_k, bias_k = draw.normal(-0.5, 1.0), draw.normal(0.0, 0.7)
    miss += np.where(calm, clear_calm_bias_k, bias_k)
    values = dict(told.values)
    for name in ("air_temperature_c", "dew_point_c"):
        values[name] = values[name] + weight * miss
    own = where.pots[0]

    def factor(spread: float) -> float:
        return float(np.exp(draw.normal(0.0, spread)))

    tuned = Tuned(
        pots={own.id: PotTuning(factor(0.2), float(draw.normal(0.0, 0.02)), factor(0.3), factor(0.2))},
        spots={own.spot: SpotTuning(factor(0.5), float(draw.normal(0.0, 0.2)), float(draw.normal(0.0, 2.0)))},
    )
    return Twin(
        where,
        told,
        replace(told, values=values),
        tuned,
        float(clear_calm_bias_k),
        float(bias_k),
        uneven=draw.uniform(0.3, 1.0),
        wetter=draw.uniform(0.1, 0.5),
        probe_off_wall_m=draw.uniform(0.005, 0.025),
        offset_k=float(draw.normal(0.0, 0.25)),
    )


def felt(twin: Twin) -> tuple[list[dict[str, float]], np.ndarray, float]:
    """Mix at the top and at the bottom, what the faces feel as (6, n_hours), and the start [degC]."""
    catalogue = load_catalogue()
    own = twin.garden.pots[0]
    terrace = prepare_terrace(twin.garden, twin.happened, twin.tuned)
    situation = as_it_stands(own, TerraceState(tuned=twin.tuned), catalogue)
    porosity = catalogue.mixes[own.mix].porosity
    dry, wet = (
        replace(situation, water_fraction=min(situation.water_fraction * (1.0 + sign * twin.wetter), porosity - 0.01))
        for sign in (-1.0, 1.0)
    )
    here = terrace.spots[own.spot]
    none = np.zeros(1, dtype=np.intp)
    hours = gather_hours((here,), none, none, slice(0, twin.told.n_hours))
    balls = root_balls_of([dry, wet], catalogue)
    surface = estimated_surface_c(root_balls_of([situation], catalogue), hours)
    bare, mean = (
        build_envelope(surfaces_of([situation], [here], side, catalogue), hours, surface, surface)[0]
        for side in (Side.EXPOSED, Side.MEAN)
    )
    films = np.array(
        [
            twin.uneven * getattr(bare, field.name)[:, 0] + (1.0 - twin.uneven) * getattr(mean, field.name)[:, 0]
            for field in fields(Envelope)
        ]
    )
    names = [field.name for field in fields(RootBalls)]
    mixes = [{name: float(getattr(balls, name)[row]) for name in names} for row in (0, 1)]
    return mixes, films, float(terrace.outdoor.air_temperature_c[:48].mean())


def truth(twin: Twin) -> tuple[np.ndarray, np.ndarray]:
    """The ring at half height, and what lies where the probe is, at every hour [degC]."""
    (top, bottom), films, start = felt(twin)
    half = 0.5 * twin.garden.pots[0].height_m
    found = fine_answer(top, films, start, [half], CELL_M, below=bottom, off_wall_m=twin.probe_off_wall_m)
    return found[:, MIDDLE], found[:, AXIS]


def marks(twin: Twin) -> np.ndarray:
    """Means of what the faces feel, by which it shows whether stored twins are still those of the code."""
    return np.asarray(felt(twin)[1].mean(axis=1), dtype=np.float32)


def readings(seed: int, twin: Twin, at_probe: np.ndarray) -> np.ndarray:
    """What a cheap thermometer shows, in half degrees; `NO_READING` where it shows nothing."""
    draw = np.random.default_rng((seed, 2))
    shown = np.round((at_probe + twin.offset_k + draw.normal(0.0, 0.15, at_probe.size)) * 2.0)
    kept = (np.arange(at_probe.size) >= LEAD_H) & (draw.random(at_probe.size) > 0.05)
    gap = draw.integers(LEAD_H, at_probe.size - 40)
    kept[gap : gap + 30] = False
    return np.where(kept, shown, NO_READING).astype(np.int8)


def main() -> None:
    """Compute and write; all are written again after every ten, so that a look at the first ones need not wait."""
    read, lowest, marked = [], [], []
    for seed in range(N_TWINS):
        twin = twin_of(seed)
        ring, at_probe = truth(twin)
        read.append(readings(seed, twin, at_probe))
        lowest.append(ring[LEAD_H : LEAD_H + 24 * NIGHTS].reshape(NIGHTS, 24).min(axis=1))
        marked.append(marks(twin))
        print(seed, lowest[-1].min(), flush=True)
        if seed % 10 == 9:
            np.savez_compressed(
                Path(__file__).parent / "twins.npz",
                read=np.array(read),
                lowest=np.array(lowest, dtype=np.float32),
                marks=np.array(marked),
            )


if __name__ == "__main__":
    main()
