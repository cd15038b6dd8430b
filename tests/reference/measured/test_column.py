"""The soil columns of the measured groups against an exact solution; this part needs no data."""

from __future__ import annotations

import numpy as np
import pytest

from tests.reference.measured.column import SHRINK, column_grid, daily_wave, driven, soil


@pytest.mark.parametrize("height_m", [3.0, 8.0])
def test_a_column_of_soil_is_one_that_the_engine_takes_and_damps_a_wave_exactly(height_m: float) -> None:
    """At 5 to 20 cm of soil the day's wave shrinks and lags as in a deep uniform body."""
    # exp(-z/d), late by z/d, d = sqrt(2 a / omega): Carslaw and Jaeger 1959, sec. 2.6
    diffusivity, depths_m = 5e-7, np.array([0.05, 0.1, 0.2])
    hours = np.arange(24 * 12 + 1)
    top = 10.0 + 5.0 * np.cos(2.0 * np.pi * hours / 24.0)
    told = driven(
        soil(1, height_m, diffusivity), top[:, None], 10.0, depths_m / SHRINK, column_grid(4, between_cells=24)
    ).depths_c[:, 0]
    late = slice(24 * 6, None)
    ratio = daily_wave(hours[late], told[late]) / 5.0
    damping_m = np.sqrt(2.0 * diffusivity * 86400.0 / (2.0 * np.pi))

    assert np.abs(ratio) == pytest.approx(np.exp(-depths_m / damping_m), rel=0.05)  # cells of 1 to 3 cm
    assert np.angle(ratio) == pytest.approx(depths_m / damping_m, rel=0.06)
