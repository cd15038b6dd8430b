"""A forest floor's temperatures, deeper down, out of the highest level alone.

Data: FR-Hes, Hesse beech forest, 2016, seven profiles of six levels, half-hours; example file of hesseflux 5.0
(MIT). How to get it: tests/reference/measured/archives.py.

The depths of the levels are not in the file. Only depth over the root of diffusivity matters between two
temperatures, so one depth is fitted to each level (at 5e-7 m2/s) on January to June, and nothing else; July to
December is then predicted from level 1. The year itself, run once before, stands for the unknown year 2015;
that start is the weak point of the fit. (A fit on March to June only, tried first to get away from the start, gave
0.13 to 0.57 K in the six whole profiles: it says too little about the deepest level.)

Outcome: six profiles 0.14 to 0.40 K (RMSE, 30 levels), all a little too cold (-0.04 to -0.2 K); the fifth, with a
third of the year missing, 0.48 to 0.59 K. The day's wave at levels 2 and 3 is 0.75 to 1.21 of the measured one and
late by -0.4 to 1.3 h; of the fifth, whose upper depth comes out too deep, 0.6 to 0.9 and 1.6 to 2.6 h. What this does
not prove: the depths are fitted, so no conductivity is tested, and hardly any of it freezes.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.reference.measured.archives import measured_file
from tests.reference.measured.column import SHRINK, at_whole_hours, column_grid, daily_wave, driven, rmse, soil

pytestmark = pytest.mark.data

PROFILES, LEVELS = 7, 6
DIFFUSIVITY_M2_S = 5e-7
DEPTHS_M = np.concatenate([np.arange(0.01, 0.30, 0.01), np.arange(0.30, 2.0, 0.02)])
BROKEN = 4
"""Profile 5: levels 2 to 6 without values for a third of the year, level 1 repaired over eleven days."""


@pytest.fixture(scope="module")
def measured():
    """Hours since the new year, month of each, and levels, shape (hours, profiles, levels)."""
    pandas = pytest.importorskip("pandas")
    table = pandas.read_csv(
        measured_file("hesseflux", "FR-Hes_europe-fluxdata_2016.txt"), na_values=[-9999], index_col=0
    )
    table.index = pandas.to_datetime(table.index.astype(str), format="%Y%m%d%H%M")
    names = [f"TS_{p}_{level}_1" for p in range(1, PROFILES + 1) for level in range(1, LEVELS + 1)]
    hourly = at_whole_hours(table[names])
    hours = (hourly.index - hourly.index[0]) / pandas.Timedelta("1h") + hourly.index[0].hour
    levels = hourly.to_numpy().reshape(-1, PROFILES, LEVELS)
    return np.asarray(hours, dtype=float), hourly.index.month.to_numpy(), levels


@pytest.fixture(scope="module")
def predicted(measured):
    """Temperatures of columns under level 1, shape (hours, profiles, DEPTHS_M)."""
    pandas = pytest.importorskip("pandas")
    _, _, levels = measured
    top = pandas.DataFrame(levels[:, :, 0]).interpolate(limit_direction="both").to_numpy()
    columns = soil(PROFILES, 8.0, DIFFUSIVITY_M2_S)
    grid = column_grid(steps_per_hour=1, between_cells=24)
    year_before = driven(columns, top, top.mean(axis=0), np.array([]), grid)
    return driven(columns, top, year_before.final_state, DEPTHS_M / SHRINK, grid).depths_c


@pytest.fixture(scope="module")
def fitted(measured, predicted):
    """Index into DEPTHS_M of each level below the first, shape (profiles, levels - 1), from January to June."""
    _, month, levels = measured
    fit = month <= 6
    error = predicted[fit][:, :, None, :] - levels[fit][:, :, 1:, None]
    return np.nanmean(error**2, axis=0).argmin(axis=-1)


def _at(predicted, fitted):
    return np.take_along_axis(predicted, fitted[None], axis=2)


def test_unseen_half_year(measured, predicted, fitted):
    """July to December comes out within half a kelvin at every level, from the highest level alone."""
    _, month, levels = measured
    unseen = month >= 7
    error = _at(predicted, fitted)[unseen] - levels[unseen][:, :, 1:]
    by_level = np.sqrt(np.nanmean(error**2, axis=0))
    print("\nFR-Hes: RMSE [K] of July to December, bias [K] and fitted depth [cm], levels 2 to 6")
    for p in range(PROFILES):
        bias = np.nanmean(error[:, p], axis=0)
        print(f"  profile {p + 1}:", by_level[p].round(2), bias.round(2), (100 * DEPTHS_M[fitted[p]]).round())
    whole = np.delete(by_level, BROKEN, axis=0)
    # the goal set for this test; sensors of this kind are good to 0.1 to 0.2 K, moisture changes all year
    assert whole.max() <= 0.5
    assert by_level[BROKEN].max() <= 0.7  # misses the goal: the fit rests on a third of the half year
    assert abs(np.nanmean(error)) <= 0.2


def test_deeper_levels_lie_deeper(fitted):
    """The fits know nothing of each other, and still every level lies below the one above it."""
    assert (np.diff(DEPTHS_M[fitted], axis=1) > 0.0).all()


def test_day_comes_at_its_hour(measured, predicted, fitted):
    """In July to September the day's wave at levels 2 and 3 has the measured height and hour."""
    hours, month, levels = measured
    summer = (month >= 7) & (month <= 9)
    model = daily_wave(hours[summer], _at(predicted, fitted)[summer])[:, :2]
    truth = daily_wave(hours[summer], levels[summer][:, :, 1:])[:, :2]
    late_h = np.angle(model / truth) * 24.0 / (2.0 * np.pi)
    print("\nFR-Hes: day's wave, levels 2 and 3: measured [K], model over measured, model late by [h]")
    for p in range(PROFILES):
        height = np.abs(model[p] / truth[p])
        print(f"  profile {p + 1}:", np.abs(truth[p]).round(2), height.round(2), late_h[p].round(1))
    seen = np.abs(truth) > 0.3  # a tenth-of-a-kelvin sensor tells no phase of a smaller wave
    seen[BROKEN] = False  # misses the hour by up to 2.6 h: its depths rest on a third of the half year
    assert seen.sum() >= 10
    assert np.median(np.abs(late_h[seen])) <= 1.0
    assert np.abs(late_h[seen]).max() <= 2.0


def test_other_soil_would_be_noticed(measured, predicted, fitted):
    """A soil of double the diffusivity misses the goal at the three deepest levels."""
    _, month, levels = measured
    unseen = month >= 7
    shallower = np.abs(DEPTHS_M - (DEPTHS_M[fitted] / np.sqrt(2.0))[..., None]).argmin(axis=-1)
    error = _at(predicted, shallower)[unseen] - levels[unseen][:, :, 1:]
    assert rmse(error[:, :, 2:]) > 0.6
