"""Invented faults of thermometers, put into invented series."""

from __future__ import annotations

import numpy as np
import pytest

from frostguard.tuning.gates import Trouble, inspect

HOURS = 24 * 12
TIMES = np.datetime64("2026-01-01T00:00:00", "s") + np.arange(HOURS) * np.timedelta64(3600, "s")
CLOCK = np.arange(HOURS) % 24
DAY = np.arange(HOURS) / 24.0
AIR = 2.0 + 3.0 * np.sin(DAY * 0.9) + 5.0 * np.cos((CLOCK - 14) / 24 * 2 * np.pi)
MIX = 2.0 + 3.0 * np.sin(DAY * 0.9 - 0.3) + 1.5 * np.cos((CLOCK - 19) / 24 * 2 * np.pi)
SUN = np.where((CLOCK > 8) & (CLOCK < 16), 350.0, 0.0)
NOISE = np.random.default_rng(7).normal(0.0, 0.2, HOURS)


def in_the_air(values, times=TIMES):
    return inspect(times, values, reference_times=TIMES, reference_c=AIR, air_c=AIR, sun_w_m2=SUN, in_pot=False)


def in_the_pot(values, times=TIMES):
    return inspect(times, values, reference_times=TIMES, reference_c=MIX, air_c=AIR, sun_w_m2=SUN, in_pot=True)


def troubles(found):
    return {finding.trouble for finding in found.findings}


def test_a_sound_thermometer_passes():
    """Noise and a small offset are no faults, in the air and in the pot."""
    assert troubles(in_the_air(AIR + 0.4 + NOISE)) == set()
    assert troubles(in_the_pot(MIX - 0.8 + NOISE)) == set()


def test_spikes_duplicates_and_impossible_values_are_left_out():
    """What cannot be is taken away and counted; the rest stays."""
    values, times = MIX + NOISE, TIMES.copy()
    values[50], values[80], times[101] = 40.0, 200.0, times[100]
    found = in_the_pot(values, times)
    assert troubles(found) == {Trouble.SPIKE, Trouble.IMPOSSIBLE, Trouble.DUPLICATE}
    assert found.times.size == HOURS - 3 and not found.refused


def test_stuck_but_not_at_zero():
    """Two days of the same number are a fault; two days at zero are freezing mix."""
    values = MIX + NOISE
    values[100:150] = 3.5
    assert Trouble.STUCK in troubles(in_the_pot(values))
    values[100:150] = 0.0
    assert Trouble.STUCK not in troubles(in_the_pot(values))


def test_sun_on_the_sensor_is_refused():
    """A thermometer of the air that is 8 K too warm by day stands in the sun."""
    assert in_the_air(AIR + 8.0 * (SUN > 0) + NOISE).refused[0].trouble is Trouble.SUN


@pytest.mark.parametrize("hours", [1, -1, 2])
def test_a_clock_that_is_off_is_found_by_correlation(hours):
    """An hour off is found to a quarter of an hour."""
    (finding,) = in_the_air(AIR + NOISE, TIMES + np.timedelta64(hours * 3600, "s")).refused
    assert finding.trouble is Trouble.CLOCK and finding.size == pytest.approx(hours, abs=0.25)


def test_fahrenheit_read_as_celsius():
    """Numbers that make sense as Fahrenheit only are refused."""
    assert in_the_pot(1.8 * MIX + 32.0 + NOISE).refused[0].trouble is Trouble.WRONG_UNIT


def test_a_probe_that_fell_out():
    """From the sixth day on it swings with the air."""
    found = in_the_pot(np.where(DAY > 6.0, AIR, MIX) + NOISE)
    assert found.refused[0].trouble is Trouble.FELL_OUT
