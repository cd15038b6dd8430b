"""Air beside the pots on clear calm nights."""

from __future__ import annotations

import numpy as np
import pytest

from frostguard.physics.cold_air import near_ground_deficit_k


def test_the_grass_of_a_clear_calm_night_lies_between_a_common_one_and_snow():
    """R. Brugge, Weather 66, 2011: 4 to 5 K below the screen are common on such nights, 10 K over snow."""
    assert 4.5 < near_ground_deficit_k(0.05, 0.5, 90.0) < 10.0


def test_at_screen_height_and_in_wind_and_by_day_there_is_none():
    """The forecast's own height needs no correction; a moderate breeze (Beaufort 4 from 5.5 m/s) mixes the lowest
    metres; where the ground gains by the sun nothing chills the air."""
    assert near_ground_deficit_k(2.0, 0.5, 90.0) == 0.0
    assert near_ground_deficit_k(0.3, 6.0, 90.0) == 0.0
    assert near_ground_deficit_k(0.3, 0.5, -200.0) == 0.0


def test_lower_calmer_and_clearer_is_colder():
    """The signs of a radiation night."""
    heights = near_ground_deficit_k(np.array([0.05, 0.1, 0.3, 1.0, 2.0]), 1.0, 80.0)
    winds = near_ground_deficit_k(0.3, np.array([0.5, 2.0, 4.0, 6.0]), 80.0)
    losses = near_ground_deficit_k(0.3, 1.0, np.array([90.0, 40.0, 10.0, 0.0]))
    for falling in (heights, winds, losses):
        assert (np.diff(falling) < 0.0).all()


def test_a_loss_that_no_sky_makes_goes_no_further():
    """A broken value cannot chill the air without bound."""
    assert near_ground_deficit_k(0.05, 0.0, 1000.0) == pytest.approx(1.25 * near_ground_deficit_k(0.05, 0.0, 90.0))
