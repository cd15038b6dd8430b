"""Sun: position, rise and set, clear sky, split, beam on planes and cylinders."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pandas as pd
import pytest
from astral import Observer
from astral.sun import sunrise, sunset
from pvlib import irradiance, solarposition

from frostguard.errors import PhysicsInputError
from frostguard.physics.sun import (
    SOLAR_CONSTANT_W_M2,
    clearness_index,
    cylinder_beam_factor,
    erbs_diffuse_fraction,
    extraterrestrial_normal_w_m2,
    haurwitz_clear_sky_w_m2,
    horizontal_beam_factor,
    hour_means_to_instants,
    kasten_czeplak_cloud_factor,
    solar_position,
    split_global_w_m2,
    sunrise_sunset,
)


def utc(*moments: str) -> np.ndarray:
    """Instants in UTC."""
    return np.array(moments, dtype="datetime64[s]")


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg"), [(46.05, 14.51), (-35.0, 150.0), (69.0, -20.0), (0.1, 179.0)]
)
def test_sun_stands_where_an_independent_ephemeris_puts_it(latitude_deg, longitude_deg):
    """The direction of the sun agrees with pvlib to 0.02 deg over two decades, on four places."""
    moments = pd.date_range("2020-01-01", "2040-12-31", freq="211h17min", tz="UTC")
    expected = solarposition.get_solarposition(moments, latitude_deg, longitude_deg)

    sun = solar_position(moments.tz_localize(None).to_numpy("datetime64[s]"), latitude_deg, longitude_deg)

    assert np.abs(sun.elevation_deg - expected["elevation"].to_numpy()).max() < 0.02
    turn = (sun.azimuth_deg - expected["azimuth"].to_numpy() + 180.0) % 360.0 - 180.0
    # near the zenith and nadir azimuth loses its meaning, so compare along the sky
    assert np.abs(turn * np.cos(np.radians(sun.elevation_deg))).max() < 0.02


def refraction_deg(elevation_deg, pressure_hpa=1010.0, air_c=10.0):
    """How far the air lifts the sun [deg]: Saemundsson 1986, as eq. 16.4 in Meeus, Astronomical Algorithms, 1998."""
    arc_minutes = 1.02 / np.tan(np.radians(elevation_deg + 10.3 / (elevation_deg + 5.11)))
    return arc_minutes * pressure_hpa / 1010.0 * 283.0 / (273.0 + air_c) / 60.0


def test_published_position_is_met():
    """The worked example of the reference algorithm comes out to a hundredth of a degree."""
    sun = solar_position(utc("2003-10-17T19:30:30"), 39.742476, -105.1786)

    # Reda & Andreas, Solar Energy 76, 577-589, 2004, appendix: zenith 50.1116, azimuth 194.3402,
    # with 820 hPa and 11 degC (from memory, recomputed with pvlib).
    zenith = 90.0 - sun.elevation_deg - refraction_deg(sun.elevation_deg, 820.0, 11.0)
    assert zenith[0] == pytest.approx(50.1116, abs=0.01)
    assert sun.azimuth_deg[0] == pytest.approx(194.3402, abs=0.01)


@pytest.mark.parametrize(
    ("moment", "elevation_deg", "azimuth_deg"),
    [
        ("2026-12-21T12:00:00", 15.12, 180.49),
        ("2026-12-21T09:30:00", 8.44, 146.10),
        ("2026-01-15T12:00:00", 17.40, 177.73),
    ],
)
def test_winter_sun_at_london_latitude(moment, elevation_deg, azimuth_deg):
    """Three winter positions at 51.5 N, 0 E agree with values computed by pvlib."""
    sun = solar_position(utc(moment), 51.5, 0.0)

    # Apparent elevation; year not stated with the numbers, so one step of the leap cycle is allowed.
    apparent_deg = sun.elevation_deg + refraction_deg(sun.elevation_deg)
    assert apparent_deg[0] == pytest.approx(elevation_deg, abs=0.12)
    assert sun.azimuth_deg[0] == pytest.approx(azimuth_deg, abs=0.15)


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg"), [(46.05, 14.51), (-35.0, 15.0), (60.0, -12.0), (51.5, -0.1)]
)
def test_rise_and_set_agree_with_astral(latitude_deg, longitude_deg):
    """Sunrise and sunset agree with astral within a minute on every tenth day of a year."""
    place = Observer(latitude_deg, longitude_deg)
    for step in range(0, 365, 10):
        day = date(2026, 1, 1) + timedelta(days=step)
        rise, set_ = sunrise_sunset(day, latitude_deg, longitude_deg)
        assert rise is not None
        assert set_ is not None
        assert abs(rise - sunrise(place, day)) < timedelta(minutes=1)
        assert abs(set_ - sunset(place, day)) < timedelta(minutes=1)


def test_the_rim_is_on_the_horizon_at_rise_and_set():
    """At the times given, the sun's centre stands at -0.833 deg, up to the polar circle."""
    for latitude_deg in (-65.0, 0.0, 46.05, 66.0):
        for month in range(1, 13):
            for moment in sunrise_sunset(date(2026, month, 15), latitude_deg, 14.51):
                if moment is None:
                    continue
                seen = solar_position(utc(moment.replace(tzinfo=None).isoformat()), latitude_deg, 14.51)
                assert seen.elevation_deg[0] == pytest.approx(-0.833, abs=0.01)


def test_no_rise_in_polar_day_and_night():
    """North of the polar circle the sun neither rises nor sets at midsummer and midwinter."""
    assert sunrise_sunset(date(2026, 6, 21), 69.65, 18.96) == (None, None)
    assert sunrise_sunset(date(2026, 12, 21), 69.65, 18.96) == (None, None)
    assert sunrise_sunset(date(2026, 6, 21), 90.0, 0.0) == (None, None)


def test_rise_and_set_enclose_the_noon_of_the_place():
    """In New Zealand the sun of a day rises on the day before in UTC."""
    rise, set_ = sunrise_sunset(date(2026, 3, 20), -36.8, 174.8)

    noon = datetime(2026, 3, 20, 12, tzinfo=UTC) - timedelta(hours=174.8 / 15.0)
    assert rise is not None
    assert set_ is not None
    assert rise.date() == date(2026, 3, 19)
    assert rise < noon < set_
    assert timedelta(hours=12) < set_ - rise < timedelta(hours=12, minutes=20)


def test_a_place_off_the_globe_is_refused():
    """A latitude beyond the poles is an error with a next step."""
    with pytest.raises(PhysicsInputError) as caught:
        solar_position(utc("2026-01-01"), 91.0, 0.0)
    assert "-90 to 90" in caught.value.next_step


def test_extraterrestrial_sun_follows_the_distance():
    """The sun above the air agrees with pvlib's ephemeris series to 0.1 %."""
    moments = pd.date_range("2026-01-01", "2026-12-31", freq="5D", tz="UTC")
    expected = irradiance.get_extra_radiation(
        moments, solar_constant=SOLAR_CONSTANT_W_M2, method="nrel", how="numpy"
    )

    sun = extraterrestrial_normal_w_m2(moments.tz_localize(None).to_numpy("datetime64[s]"))

    assert sun == pytest.approx(expected.to_numpy(), rel=1e-3)


@pytest.mark.parametrize(
    ("latitude_deg", "day", "expected_mj_m2"),
    [
        # FAO-56 (Allen et al. 1998) example 8: 20 S, 3 September: 32.2; example 18: 50.8 N, 6 July: 41.09.
        # Third row: the same equations for 51.5 N on 21 December.
        (-20.0, "2026-09-03", 32.2),
        (50.8, "2026-07-06", 41.09),
        (51.5, "2026-12-21", 6.574),
    ],
)
def test_daily_extraterrestrial_sum_matches_published_examples(latitude_deg, day, expected_mj_m2):
    """The sum of a day's sun above the air is that of the published daily equation."""
    moments = np.datetime64(day, "s") + np.arange(0, 86400, 300).astype("timedelta64[s]")
    position = solar_position(moments, latitude_deg, 0.0)

    beam = extraterrestrial_normal_w_m2(moments) * horizontal_beam_factor(position.elevation_deg)
    sum_j_m2 = beam.sum() * 300.0

    # The published equation uses a solar constant of 1367 W/m2 and a one-term distance and declination.
    assert sum_j_m2 / 1e6 * 1366.7 / SOLAR_CONSTANT_W_M2 == pytest.approx(expected_mj_m2, rel=0.01)


@pytest.mark.parametrize(("elevation_deg", "expected"), [(15.12, 228.0), (8.44, 108.0), (17.40, 270.0)])
def test_haurwitz_clear_sky(elevation_deg, expected):
    """Clear-sky sun on the horizontal, against pvlib's values to the printed watt."""
    assert haurwitz_clear_sky_w_m2(elevation_deg) == pytest.approx(expected, abs=1.0)


def test_clear_sky_is_dark_at_night():
    """No clear-sky sun below the horizon, and no warning at it."""
    assert haurwitz_clear_sky_w_m2([-5.0, 0.0]) == pytest.approx([0.0, 0.0])


def test_cloud_factor_ends():
    """A clear sky passes all, an overcast one a quarter (Kasten & Czeplak 1980)."""
    assert kasten_czeplak_cloud_factor([0.0, 1.0]) == pytest.approx([1.0, 0.25])
    assert kasten_czeplak_cloud_factor(0.5) == pytest.approx(1.0 - 0.75 * 0.5**3.4)


def test_split_matches_pvlib():
    """Global sun is split into beam and diffuse as by pvlib's Erbs model."""
    above_air = irradiance.get_extra_radiation(15, solar_constant=1366.1)

    direct_normal, diffuse = split_global_w_m2(200.0, above_air, 20.0)

    # pvlib 0.16.1, irradiance.erbs(200, 70, 2026-01-15); it takes the day's distance by Spencer's series.
    assert direct_normal == pytest.approx(105.95, abs=0.3)
    assert diffuse == pytest.approx(163.76, abs=0.1)


def test_split_adds_up_and_is_dark_at_night():
    """Beam on the horizontal and diffuse add up to the global sun; a low sun is all diffuse."""
    elevation = np.array([-5.0, 0.0, 2.0, 5.0, 40.0])
    received = np.array([0.0, 3.0, 20.0, 60.0, 600.0])

    direct_normal, diffuse = split_global_w_m2(received, 1400.0, elevation)

    assert direct_normal * horizontal_beam_factor(elevation) + diffuse == pytest.approx(received)
    assert direct_normal[:3] == pytest.approx([0.0, 0.0, 0.0])
    assert direct_normal[4] > 0.0


def test_erbs_share_is_continuous_and_bounded():
    """The diffuse share falls from one to 0.165 with no jump above a hundredth."""
    share = erbs_diffuse_fraction(np.linspace(0.0, 1.0, 2001))
    assert share[0] == pytest.approx(1.0)
    assert share[-1] == pytest.approx(0.165)
    assert np.abs(np.diff(share)).max() < 0.01


def test_clearness_stays_in_bounds():
    """A global sun beyond what is possible, or in the dark, gives a clearness of one, or of zero."""
    assert clearness_index(500.0, 1400.0, 1.0) == pytest.approx(1.0)
    assert clearness_index(5.0, 1400.0, -2.0) == pytest.approx(0.0)


def test_cylinder_factor_is_the_mean_over_upright_planes():
    """The beam on a cylinder is the mean of the beam on planes all round, from low sun to high."""
    bearings = np.arange(0.0, 360.0, 0.5)
    for elevation_deg in (5.0, 30.0, 75.0):
        # an upright plane takes cos(elevation) times the cosine of the turn from the sun, none from behind
        mean = np.maximum(np.cos(np.radians(elevation_deg)) * np.cos(np.radians(bearings - 180.0)), 0.0).mean()
        assert cylinder_beam_factor(elevation_deg) == pytest.approx(mean, rel=1e-4)


def test_instants_lie_between_their_hours():
    """A mean becomes an instant by averaging its neighbours, and the last hour stands for itself."""
    assert hour_means_to_instants([100.0, 200.0, 400.0]) == pytest.approx([150.0, 300.0, 400.0])


def test_instants_are_dark_at_the_ends_of_dark_hours():
    """No sun is invented before sunrise or after sunset, and a day's sum stays within some per cent."""
    means = np.array([0.0, 0.0, 30.0, 120.0, 200.0, 120.0, 30.0, 0.0, 0.0])

    instants = hour_means_to_instants(means)

    assert instants[[0, 1, 6, 7, 8]] == pytest.approx([0.0] * 5)
    trapezoids = 0.5 * (instants[1:] + instants[:-1])
    assert trapezoids.sum() == pytest.approx(means.sum(), rel=0.08)


def test_a_missing_hour_is_bridged_by_its_neighbour():
    """One missing hour takes the value beside it; two in a row leave one instant missing."""
    instants = hour_means_to_instants([100.0, np.nan, 300.0, np.nan, np.nan, 500.0])
    assert instants == pytest.approx([100.0, 300.0, 300.0, np.nan, 500.0, 500.0], nan_ok=True)


def test_instants_along_another_axis():
    """Hours may run along the last axis, as in a weather table of members by hours."""
    table = np.array([[100.0, 200.0, 400.0], [10.0, 20.0, 40.0]])
    along_last = hour_means_to_instants(table, axis=1)
    assert along_last == pytest.approx(hour_means_to_instants(table.T).T)
