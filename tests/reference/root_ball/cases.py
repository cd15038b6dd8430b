"""Random pots in made-up weather, described by a few numbers each, so that every solver sees the same inputs.

A table of parameters (one row per pot, columns named in `COLUMNS`) is turned into root balls and a 10-day
envelope by formulas only: the stored table is the case, no random generator is needed to read it.
"""

from __future__ import annotations

import numpy as np

from frostguard.physics.root_ball import Envelope, RootBalls

N_HOURS = 241
DEPTHS_M = (0.05, 0.10)
CROSSINGS_C = (0.0, -2.0, -5.0, -8.0)
WEATHERS = ("cold wave", "thaw", "sharp front", "marginal nights", "warm start", "clear nights")

COLUMNS = (
    "radius_m", "height_m", "wall_resistance_m2_k_w", "wall_heat_capacity_j_m2_k",
    "conductivity_unfrozen_w_m_k", "conductivity_ratio", "heat_capacity_unfrozen_j_m3_k",
    "heat_capacity_frozen_j_m3_k", "freezable_water_fraction", "freezing_start_c", "freezing_span_k",
    "start_c", "weather", "wrap_resistance_m2_k_w", "mulch_resistance_m2_k_w", "base_film_w_m2_k",
    "hangs", "floor_c", "amplitude_k", "shift_k", "onset_h", "wind", "sky_k", "sun_k",
    "phase_1", "phase_2", "phase_3", "phase_4",
)  # fmt: skip

# (conductivity W/mK, heat capacity MJ/m3K, thinnest and thickest mm): estimates, wide enough to span real pots
_WALLS = (
    (0.8, 1.5, 6, 20),  # terracotta
    (0.25, 1.7, 2, 4),  # plastic
    (0.13, 0.9, 15, 30),  # timber
    (1.4, 2.0, 25, 50),  # concrete
    (50.0, 3.6, 0.6, 2),  # metal
    (0.035, 0.04, 10, 25),  # foam
    (0.1, 0.3, 1, 3),  # fabric
)


def random_table(n: int, seed: int) -> np.ndarray:
    """Parameters of n random pots, shape (n, len(COLUMNS)); the weathers take turns."""
    rng = np.random.default_rng(seed)
    table = {name: np.zeros(n) for name in COLUMNS}
    wall = rng.integers(0, len(_WALLS), n)
    conductivity, capacity, thinnest, thickest = (np.array([row[i] for row in _WALLS])[wall] for i in range(4))
    thickness = 1e-3 * (thinnest + (thickest - thinnest) * rng.uniform(size=n))
    table["radius_m"] = rng.uniform(0.05, 0.32, n)
    table["height_m"] = rng.uniform(0.10, 0.50, n)
    table["wall_resistance_m2_k_w"] = thickness / conductivity
    table["wall_heat_capacity_j_m2_k"] = 1e6 * capacity * thickness
    water = rng.uniform(0.1, 0.6, n)
    table["freezable_water_fraction"] = water
    table["conductivity_unfrozen_w_m_k"] = rng.uniform(0.2, 0.4, n) + 0.5 * water
    table["conductivity_ratio"] = rng.uniform(1.5, 2.6, n)
    table["heat_capacity_unfrozen_j_m3_k"] = 0.6e6 + 4.2e6 * (water + 0.06)
    table["heat_capacity_frozen_j_m3_k"] = 0.6e6 + 2.0e6 * water + 4.2e6 * 0.06
    table["freezing_start_c"] = -rng.choice([0.0, 0.1, 0.3], n)
    table["freezing_span_k"] = rng.uniform(0.3, 1.2, n)
    weather = np.arange(n) % len(WEATHERS)
    table["weather"] = weather
    start = np.array([5.0, -5.0, 6.0, 3.0, 18.0, 4.0])[weather] + rng.uniform(-2.0, 2.0, n)
    partly = rng.uniform(size=n) < 0.12
    inside = table["freezing_start_c"] - table["freezing_span_k"] * rng.uniform(0.2, 0.9, n)
    table["start_c"] = np.where(partly, inside, start)
    table["wrap_resistance_m2_k_w"] = np.where(rng.uniform(size=n) < 0.4, rng.uniform(0.05, 0.35, n), 0.0)
    table["mulch_resistance_m2_k_w"] = np.where(rng.uniform(size=n) < 0.4, rng.uniform(0.1, 0.5, n), 0.0)
    table["base_film_w_m2_k"] = rng.uniform(3.0, 20.0, n)
    table["hangs"] = rng.uniform(size=n) < 0.25
    table["floor_c"] = rng.uniform(-2.0, 6.0, n)
    table["amplitude_k"] = rng.uniform(1.0, 5.0, n)
    table["shift_k"] = rng.uniform(-3.0, 3.0, n)
    table["onset_h"] = rng.uniform(20.0, 110.0, n)
    table["wind"] = rng.uniform(0.0, 1.0, n)
    table["sky_k"] = rng.uniform(0.0, 6.0, n)
    table["sun_k"] = rng.uniform(0.0, 4.0, n)
    for phase in range(1, 5):
        table[f"phase_{phase}"] = rng.uniform(0.0, 2.0 * np.pi, n)
    return np.column_stack([table[name] for name in COLUMNS])


def root_balls_of(table: np.ndarray) -> RootBalls:
    """The root balls of a table."""
    value = dict(zip(COLUMNS, table.T, strict=True))
    return RootBalls(
        radius_m=value["radius_m"],
        height_m=value["height_m"],
        wall_resistance_m2_k_w=value["wall_resistance_m2_k_w"],
        wall_heat_capacity_j_m2_k=value["wall_heat_capacity_j_m2_k"],
        conductivity_unfrozen_w_m_k=value["conductivity_unfrozen_w_m_k"],
        conductivity_frozen_w_m_k=value["conductivity_unfrozen_w_m_k"] * value["conductivity_ratio"],
        heat_capacity_unfrozen_j_m3_k=value["heat_capacity_unfrozen_j_m3_k"],
        heat_capacity_frozen_j_m3_k=value["heat_capacity_frozen_j_m3_k"],
        freezable_water_fraction=value["freezable_water_fraction"],
        freezing_start_c=value["freezing_start_c"],
        freezing_end_c=value["freezing_start_c"] - value["freezing_span_k"],
    )


def start_of(table: np.ndarray) -> np.ndarray:
    """Uniform start temperature of each pot."""
    return table[:, COLUMNS.index("start_c")]


def envelope_of(table: np.ndarray, n_hours: int = N_HOURS) -> Envelope:
    """Ten days of hourly films and environments for each pot."""
    value = dict(zip(COLUMNS, table.T, strict=True))
    hour = np.arange(n_hours)[:, None].astype(np.float64)
    day = 2.0 * np.pi * hour / 24.0
    after = np.clip(hour - value["onset_h"], 0.0, None)
    mean_air = np.choose(
        value["weather"].astype(int),
        [
            5.0 - 17.0 * np.clip(after / 70.0, 0.0, 1.0) + 8.0 * np.clip((after - 110.0) / 30.0, 0.0, 1.0),
            -6.0 + 10.0 * np.clip(after / 40.0, 0.0, 1.0) - 8.0 * np.clip((after - 80.0) / 20.0, 0.0, 1.0),
            6.0 - 16.0 * np.clip(after / 5.0, 0.0, 1.0) + 18.0 * np.clip((after - 48.0) / 12.0, 0.0, 1.0),
            1.0 - 3.0 * np.clip(after / 48.0, 0.0, 1.0),
            12.0 - 20.0 * np.clip(after / 50.0, 0.0, 1.0),
            -1.0 + 0.0 * hour,
        ],
    )
    swing = value["amplitude_k"] * np.where(value["weather"] == 5, 1.6, 1.0) * np.cos(day - 2.0 * np.pi * 15.0 / 24.0)
    gusts = 0.5 * np.sin(2.0 * np.pi * hour / 37.0 + value["phase_1"]) + 0.3 * np.sin(
        2.0 * np.pi * hour / 11.0 + value["phase_2"]
    )
    air = mean_air + value["shift_k"] * np.where(value["weather"] == 3, 0.3, 1.0) + swing + gusts
    wind = value["wind"] + 0.3 * np.sin(2.0 * np.pi * hour / 53.0 + value["phase_3"])
    convection = 5.0 + 22.0 * np.clip(wind + 0.2 * np.sin(2.0 * np.pi * hour / 7.0 + value["phase_4"]), 0.0, 1.0)
    cloud = 0.5 + 0.5 * np.sin(2.0 * np.pi * hour / 71.0 + value["phase_2"])
    daylight = np.clip(np.cos(day - np.pi) - 0.2, 0.0, None)
    film = convection + 4.5
    seen = air - 4.5 / film * value["sky_k"] * cloud + value["sun_k"] * daylight * (1.0 - 0.7 * cloud)
    top_seen = air - 4.5 / film * 2.0 * value["sky_k"] * cloud + value["sun_k"] * daylight * (1.0 - 0.7 * cloud)
    floor = value["floor_c"] + 0.5 * (mean_air - mean_air[0]) * np.clip(hour / 120.0, 0.0, 1.0)
    hangs = value["hangs"] > 0.5
    return Envelope(
        side_film_w_m2_k=film / (1.0 + film * value["wrap_resistance_m2_k_w"]),
        side_environment_c=seen,
        top_film_w_m2_k=film / (1.0 + film * value["mulch_resistance_m2_k_w"]),
        top_environment_c=top_seen,
        base_film_w_m2_k=np.where(hangs, film, value["base_film_w_m2_k"] + 0.0 * film),
        base_environment_c=np.where(hangs, seen, floor),
    )
