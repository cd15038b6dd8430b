"""Chance of damage, dose, and the loss over all tissues of a plant."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ndtr

from frostguard.hardiness.damage import (
    HELD_H,
    chance_of_any,
    chance_of_damage,
    effective_coldest_c,
    expected_loss_share,
    held_margin_k,
    normal_through,
)

CELSIUS = st.floats(min_value=-30, max_value=10)
CHANCES = st.lists(st.floats(min_value=0, max_value=1), min_size=1, max_size=5)


def test_at_the_limit_damage_is_as_likely_as_not() -> None:
    """The limit is the middle of the distribution, and one spread off it is 16 % and 84 %."""
    assert chance_of_damage(-5.0, 1.0, -5.0) == pytest.approx(0.5, abs=1e-6)
    assert chance_of_damage(-5.0, 1.0, -4.0) == pytest.approx(0.1587, abs=1e-4)
    assert chance_of_damage(-5.0, 1.0, -6.0) == pytest.approx(0.8413, abs=1e-4)


def test_the_chance_agrees_with_an_exact_normal_distribution() -> None:
    """Down to 1.5 spreads above the limit the approximation is within its published error of 1.5e-7."""
    coldest_c = np.linspace(-20, -6.0 + 1.5 * 1.7, 501)
    expected = ndtr((-6.0 - coldest_c) / 1.7)  # scipy's own normal distribution
    assert np.max(np.abs(chance_of_damage(-6.0, 1.7, coldest_c) - expected)) < 1.5e-7


def test_far_above_the_limit_the_chance_is_nothing_not_one_in_a_hundred() -> None:
    """The tail of the normal law fades out between 1.5 and 2.5 spreads, and the chance stays monotone."""
    coldest_c = np.linspace(-6.0, 2.0, 801)
    chance = chance_of_damage(-6.0, 2.0, coldest_c)
    assert (np.diff(chance) <= 1e-12).all()
    assert chance_of_damage(-6.0, 2.0, -6.0 + 2.5 * 2.0) == 0.0
    assert chance_of_damage(-6.0, 2.0, -6.0 + 1.5 * 2.0) == pytest.approx(ndtr(-1.5), abs=1e-6)


def test_limits_and_temperatures_broadcast() -> None:
    """Tissues along one axis and members along the other give a table of chances."""
    limits_c, spreads_k = np.array([[-2.0], [-8.0]]), np.array([[1.0], [2.0]])
    chances = chance_of_damage(limits_c, spreads_k, np.array([-1.0, -5.0, -9.0]))
    assert chances.shape == (2, 3)
    assert np.all(np.diff(chances, axis=1) > 0)


def test_an_unknown_temperature_has_an_unknown_chance() -> None:
    """NaN is not read as safe."""
    assert math.isnan(chance_of_damage(-5.0, 1.0, np.nan))


@given(CELSIUS, st.floats(min_value=0.3, max_value=5), CELSIUS, st.floats(min_value=0, max_value=10))
def test_colder_is_never_safer(limit_c: float, spread_k: float, coldest_c: float, colder_k: float) -> None:
    """The chance never falls as it gets colder, and is a chance."""
    here = float(chance_of_damage(limit_c, spread_k, coldest_c))
    colder = float(chance_of_damage(limit_c, spread_k, coldest_c - colder_k))
    assert 0.0 <= here <= colder + 1e-6 <= 1.0 + 1e-6


def test_a_cold_that_lasts_counts_colder_the_longer_it_lasts() -> None:
    """At -4 degC each doubling of the hours counts 0.3 K, from half an hour on: four hours about a kelvin."""
    nights = {hours: effective_coldest_c(np.full(hours + 1, -4.0)) for hours in (1, 2, 4, 8, 40)}
    short_dip = np.array([0.0, 0.0, 0.0, -4.0, 0.0, 0.0, 0.0])

    assert effective_coldest_c(short_dip) == pytest.approx(-4.0)
    assert nights[4] == pytest.approx(-4.9) and nights[8] == pytest.approx(-5.2)
    assert list(nights.values()) == sorted(nights.values(), reverse=True)
    assert nights[40] == nights[8]  # a margin of 1 to 2 K: common practice


def test_the_dose_is_what_trying_every_stretch_of_hours_gives() -> None:
    """For any curve: the lowest over 1, 2, 4 and 8 hours of the warmest within each stretch, less its margin."""
    curve = np.random.default_rng(7).normal(-3.0, 2.5, 24)
    tried = [curve.min()]
    for hours in HELD_H:
        for first in range(24 - hours):
            level = curve[first : first + hours + 1].max()
            tried.append(level - min(max(-level, 0.0), held_margin_k(hours)))

    assert effective_coldest_c(curve) == pytest.approx(min(tried))


def test_time_alone_makes_no_ice() -> None:
    """A whole night at +0.3 degC counts as +0.3 degC, and at -0.3 degC as -0.6 degC."""
    assert effective_coldest_c(np.full(12, 0.3)) == pytest.approx(0.3)
    assert effective_coldest_c(np.full(12, -0.3)) == pytest.approx(-0.6)


def test_a_night_too_short_to_be_held_counts_by_its_lowest() -> None:
    """An hour after a much warmer one is nothing held."""
    assert effective_coldest_c([-1.0, -3.0]) == -3.0
    assert effective_coldest_c([-3.0]) == -3.0


def test_the_axis_of_time_may_stand_anywhere_and_steps_may_be_short() -> None:
    """Hours along the first axis, or quarter hours, give the same answer."""
    curve = np.array([-1.0, -2.0, -3.0, -4.0, -3.5, -3.0, -2.0, -1.0, 0.0])
    table = np.stack([curve, curve - 1], axis=1)
    assert effective_coldest_c(table, axis=0) == pytest.approx(
        [float(effective_coldest_c(curve)), float(effective_coldest_c(curve - 1))])
    quarters = np.interp(np.arange(0, 8.01, 0.25), np.arange(9), curve)
    assert effective_coldest_c(quarters, step_h=0.25) <= effective_coldest_c(curve)
    hourly_c = float(effective_coldest_c(curve))  # steps of an hour may miss half a kelvin of this curve
    assert effective_coldest_c(quarters, step_h=0.25) == pytest.approx(hourly_c, abs=0.5)


@given(st.lists(CELSIUS, min_size=1, max_size=30))
def test_the_effective_coldest_lies_within_two_kelvin_below_the_lowest(curve: list[float]) -> None:
    """Dose never makes a night warmer than its lowest, nor more than the margin colder."""
    lowest = min(curve)
    assert lowest - held_margin_k(HELD_H[-1]) - 1e-9 <= effective_coldest_c(curve) <= lowest


@given(CHANCES)
def test_the_loss_never_passes_the_whole_plant_nor_the_chance_of_any_damage(chances: list[float]) -> None:
    """Even with every tissue worth the whole plant the loss stays within 1."""
    shares = [1.0] * len(chances)
    loss = float(expected_loss_share(chances, shares))
    assert max(chances) - 1e-12 <= loss <= min(1.0, sum(chances)) + 1e-12
    assert loss == pytest.approx(float(chance_of_any(chances)))


def test_losses_of_two_tissues_join_without_being_counted_twice() -> None:
    """Certain loss of leaves worth half and even chance of the roots worth all: 1 - 0.5 x 0.5."""
    assert expected_loss_share([1.0, 0.5], [0.5, 1.0]) == pytest.approx(0.75)


def test_losses_work_per_member() -> None:
    """Tissues along the first axis leave one loss per member."""
    chances = np.array([[0.0, 1.0], [0.0, 0.5]])
    assert expected_loss_share(chances, np.array([[0.2], [1.0]]), axis=0) == pytest.approx([0.0, 0.6])


def test_a_distribution_through_ten_and_ninety_per_cent_gives_them_back() -> None:
    """The normal distribution put through two points passes through them."""
    middle_c, spread_k = normal_through(-2.0, -6.0)
    assert chance_of_damage(middle_c, spread_k, -2.0) == pytest.approx(0.1, abs=1e-6)
    assert chance_of_damage(middle_c, spread_k, -6.0) == pytest.approx(0.9, abs=1e-6)
