"""Answers that are well-formed and yet not to be trusted."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np

from frostguard.weather.series import WeatherSeries
from frostguard.weather.suspicion import Staleness, looks_like_sea, repeats, staleness
from tests.unit.weather.test_weather_gates import series_of


def test_well_formed_but_old_answers_are_found_out() -> None:
    """A series that begins after now, or ends within 36 hours, is stale; a whole one is not."""
    now = datetime(2026, 1, 14, 14, tzinfo=UTC)
    series = series_of("2026-01-14T00:00:00", air_temperature_c=[0.0] * 72)
    assert staleness(series, now) is None
    assert staleness(series, now - timedelta(days=1)) is Staleness.BEGINS_LATER
    assert staleness(series, now + timedelta(hours=22)) is Staleness.ENDS_TOO_SOON
    assert staleness(series, now + timedelta(hours=21)) is None


def _days(range_k: float, sun: float) -> WeatherSeries:
    hours = np.arange(24 * 5)
    air = 4.0 + 0.5 * range_k * np.cos((hours % 24 - 14) * np.pi / 12)
    shine = np.where((hours % 24 > 8) & (hours % 24 < 16), sun, 0.0)
    return series_of(air_temperature_c=air.tolist(), global_horizontal_w_m2=shine.tolist())


def test_a_cell_of_the_sea_gives_itself_away() -> None:
    """Sunny days hardly warmer than their nights are water's; dull ones and the polar night say nothing."""
    assert looks_like_sea(_days(1.0, 400.0))
    assert not looks_like_sea(_days(6.0, 400.0))
    assert not looks_like_sea(_days(1.0, 60.0))
    assert not looks_like_sea(_days(1.0, 0.0))


def test_the_same_to_the_last_digit_is_a_repetition() -> None:
    """A day of hours ahead decides; what is past may be the same, and fewer hours say nothing."""
    course = [float(hour % 7) for hour in range(60)]
    now = datetime(2026, 1, 14, 12, tzinfo=UTC)
    first = series_of(air_temperature_c=course)
    assert repeats(series_of(air_temperature_c=course), first, now)
    assert not repeats(series_of(air_temperature_c=[*course[:-1], 6.9]), first, now)
    assert not repeats(series_of(air_temperature_c=course), first, now + timedelta(hours=30))
    elsewhen = series_of("2027-01-01T00:00:00", air_temperature_c=course)
    assert not repeats(series_of(air_temperature_c=course), elsewhen, now)
