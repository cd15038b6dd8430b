"""Error curves: what they claim about the nights holds exactly, and nothing else moves."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from frostguard.weather.gates import night_window
from frostguard.weather.night_errors import DRESSING_K, SAMPLING_K, night_errors
from frostguard.weather.series import (
    HOUR,
    Provenance,
    Quality,
    WeatherSeries,
    series_on_hours,
    utc_hour,
)
from frostguard.weather.uncertainty import (
    N_MEMBERS,
    NIGHT_TO_NIGHT_CORRELATION,
    with_error_curves,
)
from tests.unit.weather.parts import stack_members

LJUBLJANA = "Europe/Ljubljana"
ASKED = datetime(2026, 1, 14, 15, tzinfo=ZoneInfo(LJUBLJANA))

# Table of the spread by night, "raw grid value": interpolated between the published figures that
# frostguard.weather.night_errors names; written out here a second time on purpose.
RAW_GRID_SPREAD_K = {1: 2.0, 2: 2.2, 3: 2.4, 4: 2.7, 5: 3.0, 6: 3.3, 7: 3.7, 8: 4.2, 9: 4.2, 10: 4.2}


def weather(
    asked: datetime = ASKED,
    *,
    nights: int = 7,
    cloud: float | None = 90.0,
    wind: float | None = 3.0,
    zone: str = LJUBLJANA,
    seed: int = 1,
    issued: datetime | None = None,
) -> WeatherSeries:
    """Two past days and some nights ahead; coldest at 6:00 local, at a level of its own each night.

    The day's course of 12 K keeps every member's minimum at dawn; in a flat course a member that turns
    colder from night to night can have it in the afternoon.
    """
    first = utc_hour(asked.replace(minute=0)) - 48 * HOUR
    day = asked.astimezone(ZoneInfo(zone)).date()
    _, last = night_window(day + timedelta(days=nights - 1), zone)
    times = np.arange(first, last + HOUR, HOUR)
    local = [datetime.fromtimestamp(int(t.astype(int)), ZoneInfo(zone)) for t in times]
    draw = np.random.default_rng(seed)
    nights_of = [(t - timedelta(hours=12, minutes=30)).date() for t in local]
    level = {night: draw.normal(0, 2) for night in sorted(set(nights_of))}
    course = [6.0 * np.cos((t.hour - 18) * np.pi / 12) for t in local]
    air = np.array([level[night] + part for night, part in zip(nights_of, course, strict=True)])
    columns = {
        "air_temperature_c": air,
        "dew_point_c": air - draw.uniform(0, 3, air.size),
        "relative_humidity_percent": np.full(air.size, 80.0),
        "sky_longwave_w_m2": np.full(air.size, 250.0),
        "precipitation_mm": draw.uniform(0, 1, air.size),
    }
    if cloud is not None:
        columns["cloud_cover_percent"] = np.full(air.size, cloud)
    if wind is not None:
        columns["wind_speed_10m_m_s"] = np.full(air.size, wind)
    provenance = Provenance("test", None, None, issued, "", 46.05, 14.51, 298.0)
    return series_on_hours(times, columns, provenance)


def minima_c(series: WeatherSeries, night: date, zone: str = LJUBLJANA) -> NDArray[np.float64]:
    """Each member's lowest air temperature of a night."""
    begin, end = night_window(night, zone)
    inside = (series.times > begin) & (series.times <= end)
    return np.asarray(series.values["air_temperature_c"][:, inside].min(axis=1))


@pytest.mark.parametrize(
    ("cloud", "wind", "bias_k", "factor"),
    [(90.0, 3.0, 0.0, 1.0), (10.0, 3.0, 0.0, 1.0), (90.0, 1.0, 0.0, 1.0), (10.0, 1.0, -1.0, 1.25)],
    ids=["cloudy", "clear and windy", "cloudy and calm", "clear and calm"],
)
def test_mean_and_spread_of_each_nights_minimum_are_the_tables(
    cloud: float, wind: float, bias_k: float, factor: float
) -> None:
    """Over members, a night's minimum has bias and sampling as mean error, and the table's spread."""
    series = weather(nights=10, cloud=cloud, wind=wind)
    members = with_error_curves(series, ASKED, LJUBLJANA)
    assert members.n_members == N_MEMBERS == 11
    for number, spread_k in RAW_GRID_SPREAD_K.items():
        night = date(2026, 1, 14) + timedelta(days=number - 1)
        lowest = minima_c(members, night)
        assert lowest.mean() - minima_c(series, night)[0] == pytest.approx(bias_k - 0.5, abs=1e-9)
        assert lowest.std() == pytest.approx(factor * spread_k, abs=1e-9)


def test_each_night_is_sampled_evenly() -> None:
    """Every night holds the same eleven normal quantiles, one in each eleventh of the law."""
    from scipy.stats import norm

    series = weather()
    members = with_error_curves(series, ASKED, LJUBLJANA)
    expected = norm.ppf((np.arange(11) + 0.5) / 11)
    for number in range(1, 8):
        lowest = np.sort(minima_c(members, date(2026, 1, 13) + timedelta(days=number)))
        standard = (lowest - lowest.mean()) / lowest.std()
        np.testing.assert_allclose(standard, expected / expected.std(), atol=1e-9)


def test_neighbouring_nights_lean_on_each_other() -> None:
    """Members too warm one night tend to be so the next: 0.7, its square the night after, then fading."""
    members = with_error_curves(weather(nights=14), ASKED, LJUBLJANA)
    nights = [minima_c(members, date(2026, 1, 14) + timedelta(days=n)) for n in range(14)]
    together = np.corrcoef(nights)
    for n in range(13):
        assert together[n, n + 1] == pytest.approx(NIGHT_TO_NIGHT_CORRELATION, abs=0.06)
    assert np.diag(together, 2).mean() == pytest.approx(NIGHT_TO_NIGHT_CORRELATION**2, abs=0.1)
    assert abs(np.diag(together, 7).mean()) < 0.35


def test_what_is_past_is_the_same_in_every_member() -> None:
    """Up to the moment of asking nothing moves, and the first hours after it move little."""
    series = weather()
    members = with_error_curves(series, ASKED, LJUBLJANA)
    past = series.times <= utc_hour(ASKED)
    assert past.sum() == 49
    for column, array in members.values.items():
        expected = np.broadcast_to(series.values[column][:, past], (11, int(past.sum())))
        np.testing.assert_array_equal(array[:, past], expected)
    spread_k = members.values["air_temperature_c"].std(axis=0)
    first, second, third = spread_k[49:52]
    assert 0.0 < first < second < third == pytest.approx(2.0)


def test_dew_point_moves_with_the_air_and_never_passes_it() -> None:
    """The dew-point depression is the same in every member; rain and humidity are untouched."""
    series = weather(cloud=0.0, wind=0.5)
    members = with_error_curves(series, ASKED, LJUBLJANA)
    depression = members.values["air_temperature_c"] - members.values["dew_point_c"]
    plain = series.values["air_temperature_c"] - series.values["dew_point_c"]
    np.testing.assert_allclose(depression, np.broadcast_to(plain, depression.shape), atol=1e-12)
    assert depression.min() >= 0.0
    for column in ("precipitation_mm", "relative_humidity_percent", "cloud_cover_percent"):
        np.testing.assert_array_equal(members.values[column], np.repeat(series.values[column], 11, axis=0))


def test_sky_radiation_keeps_its_emissivity() -> None:
    """A member 1 % colder in kelvin gets about 4 % less from the sky."""
    series = weather()
    members = with_error_curves(series, ASKED, LJUBLJANA)
    kelvin = 273.15 + members.values["air_temperature_c"]
    emissivity = members.values["sky_longwave_w_m2"] / kelvin**4
    plain = series.values["sky_longwave_w_m2"] / (273.15 + series.values["air_temperature_c"]) ** 4
    np.testing.assert_allclose(emissivity, np.broadcast_to(plain, emissivity.shape), rtol=1e-12)


def test_moved_values_are_flagged_missing_ones_stay_missing() -> None:
    """A moved temperature is derived, an untouched one given, a missing one missing."""
    series = weather()
    air, code = series.values["air_temperature_c"].copy(), series.quality["air_temperature_c"].copy()
    air[0, 80], code[0, 80] = np.nan, Quality.MISSING
    series = replace(
        series,
        values={**series.values, "air_temperature_c": air},
        quality={**series.quality, "air_temperature_c": code},
    )
    quality = with_error_curves(series, ASKED, LJUBLJANA).quality["air_temperature_c"]
    assert set(quality[:, 80]) == {Quality.MISSING}
    assert set(quality[:, 10]) == {Quality.GIVEN} and set(quality[:, 70]) == {Quality.DERIVED}


def test_the_curve_has_no_steps() -> None:
    """Within an hour no member's error changes by more than 2 K after the first hours."""
    series = weather(nights=10, cloud=0.0, wind=0.5)
    members = with_error_curves(series, ASKED, LJUBLJANA)
    shift_k = members.values["air_temperature_c"] - series.values["air_temperature_c"]
    after = series.times > utc_hour(ASKED) + 3 * HOUR
    assert np.abs(np.diff(shift_k[:, after], axis=1)).max() < 2.0


def test_the_bias_is_a_matter_of_the_night() -> None:
    """On clear calm days the members' mean is lower by 1 K at night and not at all in the afternoon."""
    series = weather(cloud=0.0, wind=0.5)
    members = with_error_curves(series, ASKED, LJUBLJANA)
    mean_k = (members.values["air_temperature_c"] - series.values["air_temperature_c"]).mean(axis=0)
    local = [datetime.fromtimestamp(int(t.astype(int)), ZoneInfo(LJUBLJANA)) for t in series.times]
    for k, moment in enumerate(local):
        if moment > ASKED + timedelta(hours=9):
            if 13 <= moment.hour <= 15:
                assert mean_k[k] == pytest.approx(0.0, abs=1e-9)
            elif moment.hour in (22, 23):
                assert mean_k[k] == pytest.approx(-1.0, abs=1e-9)


@settings(max_examples=30, deadline=None)
@given(st.integers(1, 12), st.integers(1, 10_000), st.integers(0, 23))
def test_the_same_question_gets_the_same_members(nights: int, seed: int, hour: int) -> None:
    """Nothing is left to chance, and a longer forecast begins as a shorter one does."""
    asked = ASKED.replace(hour=hour)
    series = weather(asked, nights=nights, seed=seed)
    once = with_error_curves(series, asked, LJUBLJANA)
    np.random.default_rng().normal(size=3)
    again = with_error_curves(series, asked, LJUBLJANA)
    np.testing.assert_array_equal(once.values["air_temperature_c"], again.values["air_temperature_c"])
    longer = weather(asked, nights=nights + 2, seed=seed)
    shift_k = once.values["air_temperature_c"] - series.values["air_temperature_c"]
    longer_k = with_error_curves(longer, asked, LJUBLJANA).values["air_temperature_c"]
    longer_k = (longer_k - longer.values["air_temperature_c"])[:, : series.n_hours]
    # From 10:00 on the last morning the longer one already turns to the next night's error.
    until_ten = series.times <= series.times[-1] - 2 * HOUR
    np.testing.assert_allclose(longer_k[:, until_ten], shift_k[:, until_ten], atol=1e-9)


def test_asked_in_the_morning_the_coming_night_is_the_first() -> None:
    """At 8:00 the rest of the old night and the coming one both count as night 1, with the same error."""
    morning = datetime(2026, 1, 14, 8, tzinfo=ZoneInfo(LJUBLJANA))
    errors = night_errors(weather(morning), morning, LJUBLJANA)
    assert [(error.night.day, error.number) for error in errors[:3]] == [(13, 1), (14, 1), (15, 2)]
    assert errors[0].spread_k == errors[1].spread_k == 2.0


@pytest.mark.parametrize(
    ("asked", "hours"),
    [
        (datetime(2026, 3, 27, 15, tzinfo=ZoneInfo(LJUBLJANA)), {date(2026, 3, 28): 23}),
        (datetime(2025, 10, 24, 15, tzinfo=ZoneInfo(LJUBLJANA)), {date(2025, 10, 25): 25}),
    ],
    ids=["forward", "back"],
)
def test_nights_when_the_clocks_change_are_sized_like_others(asked: datetime, hours: dict[date, int]) -> None:
    """The night of 23 or 25 hours is night 2 and has its spread exactly."""
    series = weather(asked)
    members = with_error_curves(series, asked, LJUBLJANA)
    for night, length in hours.items():
        begin, end = night_window(night, LJUBLJANA)
        assert (end - begin) / HOUR == length
        assert minima_c(members, night).std() == pytest.approx(2.2, abs=1e-9)


def test_an_old_forecast_is_as_unsure_as_its_age() -> None:
    """Issued a day before asking, a forecast has the spread of night 2 for the coming night."""
    for age_h, spread_k in ((0, 2.0), (12, 2.1), (24, 2.2), (24 * 30, 4.2)):
        series = weather(issued=ASKED.astimezone(UTC) - timedelta(hours=age_h))
        assert night_errors(series, ASKED, LJUBLJANA)[0].spread_k == pytest.approx(spread_k)
    later = weather(issued=ASKED.astimezone(UTC) + timedelta(days=2))
    assert night_errors(later, ASKED, LJUBLJANA)[0].spread_k == 2.0


def test_real_members_are_dressed_not_multiplied() -> None:
    """Twenty members stay twenty, each moved by the bias and a spread for being a grid cell."""
    one = weather(cloud=0.0, wind=0.5)
    ensemble = stack_members([one] * 20)
    dressed = with_error_curves(ensemble, ASKED, LJUBLJANA)
    assert dressed.n_members == 20
    night = date(2026, 1, 16)
    lowest = minima_c(dressed, night)
    assert lowest.std() == pytest.approx(DRESSING_K, abs=1e-9)
    assert lowest.mean() - minima_c(one, night)[0] == pytest.approx(-1.0 + SAMPLING_K, abs=1e-9)


def test_where_the_sky_is_not_known_the_colder_case_is_taken() -> None:
    """No cloud given on calm nights counts as clear, no wind on clear ones as calm, and that is noted."""
    for series in (
        weather(cloud=None, wind=1.0),
        weather(cloud=5.0, wind=None),
        weather(cloud=None, wind=None),
    ):
        assert all(error.clear_calm for error in night_errors(series, ASKED, LJUBLJANA))
        assert with_error_curves(series, ASKED, LJUBLJANA).notes == ("sky-or-wind-unknown:7",)
    windy = weather(cloud=None, wind=6.0)
    assert not any(error.clear_calm for error in night_errors(windy, ASKED, LJUBLJANA))
    assert with_error_curves(windy, ASKED, LJUBLJANA).notes == ()


def test_a_question_after_the_end_moves_nothing() -> None:
    """Asked about a time behind the series, the members are all alike."""
    series = weather()
    members = with_error_curves(series, ASKED + timedelta(days=60), LJUBLJANA)
    assert members.n_members == 11 and np.ptp(members.values["air_temperature_c"], axis=0).max() == 0.0


def test_a_southern_site_has_its_own_nights() -> None:
    """Noon to noon on a southern and western clock, in its winter."""
    zone = "America/Santiago"
    asked = datetime(2026, 7, 1, 16, tzinfo=ZoneInfo(zone))
    series = weather(asked, zone=zone)
    members = with_error_curves(series, asked, zone)
    lowest = minima_c(members, date(2026, 7, 3), zone)
    assert lowest.std() == pytest.approx(2.4, abs=1e-9)
