"""The whole plan for 150 pots and 51 members in a cold week: processor and elapsed seconds, with both engines.

Run with `nice pytest -m benchmark -s tests/benchmarks/test_large_terrace_speed.py`; it takes some minutes.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from frostguard.advice.advise import advise
from frostguard.advice.plan import Batch
from frostguard.advice.state import TerraceState
from frostguard.garden.model import Garden
from frostguard.garden.reader import garden_in
from frostguard.garden.settings import Settings
from frostguard.hardiness.limits import load_limits
from frostguard.physics import root_ball_fast
from frostguard.weather.series import WeatherSeries
from tests.e2e.weathers import AHEAD_DAYS, PAST_DAYS, TIME_ZONE, day_like, invented_weather

pytestmark = pytest.mark.benchmark

POTS, MEMBERS = 150, 51
ASKED = datetime(2026, 1, 12, 14, tzinfo=ZoneInfo(TIME_ZONE))

PLACES = """
site: {latitude: 46.05, longitude: 14.51, elevation_m: 298, time_zone: Europe/Ljubljana, height_above_ground_m: 14, surroundings: city}
spots:
  - {name: wall, wind: sheltered, sky: under eaves, beneath: slab over heated room, house_wall: yes, facing: south, free_floor_m2: 2}
  - {name: corner, wind: partly, sky: open, beneath: slab over insulated roof, house_wall: yes, facing: east, free_floor_m2: 1}
  - {name: deck, wind: partly, sky: open, beneath: decking, free_floor_m2: 3}
  - {name: railing, wind: exposed, sky: open, beneath: nothing}
  - {name: roofed, wind: partly, sky: roofed, beneath: slab over open air, free_floor_m2: 1}
  - {name: wash room, room: unheated, light: dim, lag_days: 2, warmer_k: 5, free_floor_m2: 4}
  - {name: porch, room: frost-free, light: bright, lowest_c: 5, warmer_k: 6, free_floor_m2: 3}
stock:
  pot_feet: 30
  covers:
    - {cover: fleece 30, piece: hood, width_m: 0.8, count: 8}
    - {cover: fleece 30, piece: hood, width_m: 1.2, count: 10}
    - {cover: fleece 50, piece: hood, width_m: 1.6, count: 5}
    - {cover: fleece 17, piece: sheet, width_m: 2, length_m: 5, count: 3}
    - {cover: bubble film, piece: roll, width_m: 1, length_m: 25, count: 2}
    - {cover: bark mulch, piece: bag, litres: 60, count: 4}
pots:
"""  # noqa: E501  one spot a line reads best


def terrace() -> Garden:
    """150 pots of 3 to 60 litres with plants from all over the limits table, five spots, a shed for half of them."""
    chance = np.random.default_rng(150)
    taxa = [taxon for taxon in load_limits() if taxon.leaf_hardened.middle_c < -1.0]
    lines = []
    for number in range(POTS):
        plant = taxa[number * len(taxa) // POTS].key
        volume = round(float(np.exp(chance.uniform(np.log(3.0), np.log(60.0)))))
        material = chance.choice(["nursery plastic", "terracotta", "fibre cement", "wood"])
        spot = chance.choice(["wall", "corner", "deck", "deck", "railing", "roofed"])
        value = chance.choice(["low", "medium", "medium", "high"])
        lines.append(
            f"  - {{id: pot{number}, plant: {plant}, material: {material}, volume_l: {volume}, spot: {spot}, "
            f"value: {value}, wetness: {chance.choice(['dry', 'moist'])}}}"
        )
    return garden_in(PLACES + "\n".join(lines) + "\n", "large terrace")


def cold_week() -> WeatherSeries:
    """A mild January, then a clear night, two windy ones near -8 degC, and thaw; members drift apart day by day."""
    past = [day_like(-1.0 + k % 4, 4.0 + k % 3, "cloudy", -1.0) for k in range(PAST_DAYS)]
    ahead = [
        day_like(0.0, 4.0, "fair", -3.0),
        day_like(-5.0, 1.0, "clear", -8.0),
        day_like(-8.0, -2.0, "windy", -11.0),
        day_like(-8.5, -1.0, "windy", -11.0),
        day_like(-6.0, 1.0, "clear", -8.0),
        *[day_like(-1.0, 5.0, "cloudy", -1.0)] * (AHEAD_DAYS - 4),
    ]
    one = invented_weather("cold week", ASKED, past, ahead)
    now = np.datetime64(ASKED.astimezone(ZoneInfo("UTC")).replace(tzinfo=None), "s")
    hours_ahead = np.maximum((one.times - now) / np.timedelta64(1, "h"), 0.0)
    drift = np.random.default_rng(51).normal(0.0, 1.0, MEMBERS)[:, None] * (0.8 * np.sqrt(hours_ahead / 24.0))
    values = {name: np.broadcast_to(value, (MEMBERS, value.shape[1])).copy() for name, value in one.values.items()}
    for name in ("air_temperature_c", "dew_point_c"):
        values[name] += drift
    quality = {name: np.broadcast_to(flag, (MEMBERS, flag.shape[1])) for name, flag in one.quality.items()}
    return replace(one, values=values, quality=quality)


@pytest.fixture(params=["compiled", "arrays"])
def engine(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """The compiled engine where it can be had, and the one on arrays."""
    if request.param == "compiled" and not root_ball_fast.warm_up():
        pytest.skip("the extra `fast` is not installed")
    with monkeypatch.context() as patch:
        if request.param == "arrays":
            patch.setattr(root_ball_fast, "is_installed", lambda: False)
        root_ball_fast.chosen_engine.cache_clear()
        yield request.param
    root_ball_fast.chosen_engine.cache_clear()


def test_a_cold_week_on_a_large_terrace(engine: str) -> None:
    """All pots get an answer, tonight and for the spell; what the shed or the hours lack is told."""
    garden, weather, settings = terrace(), cold_week(), Settings(people=2)
    began, worked_before = time.perf_counter(), sum(os.times()[:4])
    plan = advise(garden, weather, TerraceState(), ASKED, settings=settings)
    elapsed_s, worked_s = time.perf_counter() - began, sum(os.times()[:4]) - worked_before
    due = {batch: sum(job.batch is batch for job in plan.jobs) for batch in Batch}
    print(
        f"\n{engine}: {elapsed_s:.1f} s elapsed, {worked_s:.1f} s of all processors; {due[Batch.TONIGHT]} jobs "
        f"tonight, {due[Batch.BEFORE_SPELL]} before the spell, {len(plan.left_out)} left out, "
        f"{plan.minutes:.0f} minutes"
    )
    assert len(plan.pots) == POTS and plan.weather.members == MEMBERS
    assert plan.spell is not None and plan.jobs and plan.left_out
