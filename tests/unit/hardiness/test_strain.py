"""Drought over frozen roots, sun on buds, snow and ice, soaked pots, dark rooms, shares of the ball."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostguard.hardiness.model import MovedLight
from frostguard.hardiness.strain import (
    BallShare,
    DarkStay,
    ball_share,
    dark_days,
    dark_days_left,
    days_spent_in_the_dark,
    drying_hours,
    freezing_rain_mm,
    is_soaked,
    share_below,
    sun_thaws_buds,
    wet_snow_cm,
)


def test_only_hours_with_frozen_roots_and_sun_or_wind_dry_leaves_out() -> None:
    """Sun on a thawed ball, or a frozen ball in the shade and calm, counts for nothing."""
    frozen = np.array([0.9, 0.9, 0.9, 0.1, 0.9])
    sun = np.array([300.0, 0.0, 0.0, 300.0, 300.0])
    wind = np.array([0.5, 5.0, 0.5, 5.0, 5.0])
    assert drying_hours(frozen, sun, wind) == 3


def test_sun_harms_buds_only_while_they_are_or_were_just_frozen() -> None:
    """The first beam on buds at -3 degC counts, the same beam three hours after they thawed does not."""
    bud = np.array([-3.0, -3.0, 2.0, 3.0, 4.0, 5.0])
    assert sun_thaws_buds(bud, np.array([0, 0, 200, 0, 0, 0]))
    assert not sun_thaws_buds(bud, np.array([0, 0, 0, 0, 0, 300]))
    assert not sun_thaws_buds(bud, np.zeros(6))


def test_snow_sticks_near_freezing_and_blows_off_in_hard_frost() -> None:
    """Only what falls between -1 and +1 degC counts as wet; gaps count as none."""
    assert wet_snow_cm([4.0, 3.0, np.nan, 5.0], [0.2, -0.8, 0.0, -6.0]) == pytest.approx(7.0)


def test_rain_below_freezing_glazes_and_snow_does_not() -> None:
    """Rain at -2 degC counts; snow, or rain at +1 degC, does not."""
    assert freezing_rain_mm([1.0, 1.0, 2.0], [0.0, 0.7, 0.0], [-2.0, -2.0, 1.0]) == pytest.approx(1.0)


def test_a_pot_is_soaked_when_said_to_be_or_when_rain_cannot_leave_it() -> None:
    """A week of rain soaks a pot in a saucer, not one that drains."""
    assert is_soaked(wet=True, drains=True, rain_week_mm=0.0)
    assert is_soaked(wet=False, drains=False, rain_week_mm=40.0)
    assert not is_soaked(wet=False, drains=True, rain_week_mm=40.0)
    assert not is_soaked(wet=False, drains=False, rain_week_mm=5.0)


def test_what_rests_leafless_may_stand_dark_and_evergreens_not_for_long() -> None:
    """Common practice: one to two weeks for evergreens, no limit for what rests or is kept dry."""
    assert dark_days(MovedLight.DARK_OK, keeps_leaves=False) is None
    assert dark_days(MovedLight.BRIGHT_OR_DARK, keeps_leaves=True) is None
    days = dark_days(MovedLight.BRIGHT, keeps_leaves=True)
    assert days is not None and 7 <= days <= 14


TEMPERATURE = st.floats(min_value=-15, max_value=5)


@given(TEMPERATURE, TEMPERATURE, st.floats(min_value=0.02, max_value=0.98), TEMPERATURE)
def test_shares_lie_between_nothing_and_the_whole_ball_and_rise_with_the_limit(
        ring_c: float, core_c: float, towards_core: float, limit_c: float) -> None:
    """Whatever the ball, the share is 0 to 1 and a warmer limit never has a smaller share below it."""
    mean_c = ring_c + (core_c - ring_c) * towards_core
    share, warmer = share_below([limit_c, limit_c + 1.0], ring_c, mean_c, core_c)
    assert 0.0 <= share <= warmer <= 1.0


def test_a_ball_that_cools_evenly_by_volume_has_half_of_it_below_its_mean() -> None:
    """With the mean half way between ring and core, half of the ball is colder than the mean."""
    assert share_below(-4.0, -8.0, -4.0, 0.0) == pytest.approx(0.5)
    assert share_below(-9.0, -8.0, -4.0, 0.0) == 0.0
    assert share_below(1.0, -8.0, -4.0, 0.0) == 1.0


def test_the_share_of_a_slab_that_cools_from_outside_agrees_with_its_profile() -> None:
    """A parabolic profile over the radius of a cylinder is linear in volume: the share is exact for it."""
    # T = core + (ring - core) (r/R)^2 and the volume share outside r is 1 - (r/R)^2, so T is linear in it.
    for limit_c, share in ((-6.0, 0.25), (-2.0, 0.75)):
        assert share_below(limit_c, -8.0, -4.0, 0.0) == pytest.approx(share)


def test_a_ball_with_a_small_mild_core_is_mostly_below_the_middle_between_ring_and_core() -> None:
    """A mean near to the ring says that most of the ball is cold, a mean near to the core that little of it is."""
    # T = ring + rise v^p over the volume share v from outside has the mean ring + rise / (p + 1): p = 2 for -8 + 8/3,
    # and -6 is reached at v = (2/8)^(1/2); p = 1/2 for -8 + 16/3, and -4 at v = (4/8)^2
    assert share_below(-6.0, -8.0, -8.0 + 8.0 / 3.0, 0.0) == pytest.approx(0.5)
    assert share_below(-4.0, -8.0, -8.0 + 16.0 / 3.0, 0.0) == pytest.approx(0.25)


@pytest.mark.parametrize(("share", "word"), [
    (0.0, BallShare.NONE), (0.1, BallShare.OUTER_ROOTS), (0.5, BallShare.HALF), (0.9, BallShare.WHOLE)])
def test_shares_have_words(share: float, word: BallShare) -> None:
    """Thirds of the ball: outer roots, half, whole."""
    assert ball_share(share) is word


NOW = datetime(2026, 12, 20, 15, tzinfo=UTC)


def _stay(days_ago: float, until_days_ago: float | None = None) -> DarkStay:
    until = None if until_days_ago is None else NOW - timedelta(days=until_days_ago)
    return DarkStay(NOW - timedelta(days=days_ago), until)


@pytest.mark.parametrize(("stays", "days"), [
    ((), 0.0),
    ((_stay(6.0),), 6.0),
    ((_stay(6.0), _stay(4.0)), 6.0),  # told twice, counted once
    ((_stay(10.0, 4.0), _stay(1.0)), 4.0),  # six in, three out, one in
    ((_stay(10.0, 4.0),), 2.0),
    ((_stay(30.0, 29.0), _stay(2.0)), 2.0),
    ((_stay(-1.0),), 0.0),
])
def test_days_in_the_dark_are_taken_back_one_by_one_in_the_light(stays: tuple[DarkStay, ...], days: float) -> None:
    """What a plant has spent in the dark grows by the day there and shrinks by the day outside, never below none."""
    assert days_spent_in_the_dark(stays, NOW) == pytest.approx(days)


def test_days_spent_are_no_longer_left() -> None:
    """A plant that stands ten days of dark and has spent six and a half stands four more, and what rests any number."""
    assert dark_days_left(10, 6.5) == 4
    assert dark_days_left(10, 12.0) == 0
    assert dark_days_left(None, 100.0) is None
