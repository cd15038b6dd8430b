"""The days of a weather series on the site's clock."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from frostguard.notify.days import Day, days_of_weather
from frostguard.weather.series import Provenance, WeatherSeries, series_on_hours

NOWHERE = Provenance("file", None, None, None, "", None, None, None)


def series(first: str, hours: int, **columns: np.ndarray) -> WeatherSeries:
    """Hours from `first`, UTC, with these columns beside the air's."""
    times = np.datetime64(first, "s") + np.arange(hours) * np.timedelta64(3600, "s")
    air = columns.pop("air", np.arange(hours, dtype=float))
    return series_on_hours(times, {"air_temperature_c": air, **columns}, NOWHERE)


def test_days_are_those_of_the_site_s_clock():
    """An hour is named by its end: midnight UTC of Ljubljana's winter is the hour from 0 to 1 o'clock."""
    days = days_of_weather(series("2026-01-14T00:00", 24 + 24), "Europe/Ljubljana")

    assert days[0] == Day(date(2026, 1, 14), 0.0, 23.0)
    assert days[1] == Day(date(2026, 1, 15), 24.0, 47.0)
    assert days[0].mean_c == 11.5 and days[0].thaws


@pytest.mark.parametrize(("first", "hours"), [("2026-03-29T00:00", 23), ("2026-10-24T23:00", 25)])
def test_the_days_on_which_clocks_change(first: str, hours: int):
    """Twenty-three or twenty-five hours belong to one day."""
    whole = days_of_weather(series(first, hours, air=np.linspace(0.0, 10.0, hours)), "Europe/Ljubljana")

    assert len(whole) == 1
    assert (whole[0].coldest_c, whole[0].warmest_c) == (0.0, 10.0)


def test_a_day_that_is_hardly_known_is_left_out():
    """Seventeen known hours tell neither its coldest nor its warmest."""
    air = np.full(24, 5.0)
    air[:7] = np.nan
    assert days_of_weather(series("2026-01-14T00:00", 24, air=air), "Europe/Ljubljana") == ()
    air[0] = 5.0
    assert len(days_of_weather(series("2026-01-14T00:00", 24, air=air), "Europe/Ljubljana")) == 1


def test_members_give_medians_and_the_strongest_gust():
    """Three courses of the weather: the middle one's extremes, the sun and gust of any."""
    air = np.vstack([np.full(24, -1.0), np.full(24, 0.5), np.full(24, 9.0)])
    gusts = np.vstack([np.full(24, 5.0), np.full(24, 17.0), np.full(24, 6.0)])
    sun = np.zeros((3, 24))
    sun[0, 11] = 300.0

    (day,) = days_of_weather(
        series("2026-01-14T00:00", 24, air=air, wind_gust_10m_m_s=gusts, global_horizontal_w_m2=sun),
        "Europe/Ljubljana",
    )

    assert day == Day(date(2026, 1, 14), 0.5, 0.5, 17.0, True)
    assert not Day(date(2026, 1, 14), -3.0, 0.0).thaws
