"""What minima of the air teach, on invented nights."""

from __future__ import annotations

import numpy as np
import pytest

from frostguard.tuning.habits import NightPair, learnt_habits
from frostguard.weather.night_errors import SiteHabits, is_surer

USUAL = SiteHabits(clear_calm_bias_k=-0.5)


def test_three_mornings_move_the_bias_part_of_the_way():
    """n / (n + 4): three nights 2 K colder than foretold move it by 0.86 K; nights of the other kind stay.

    What is known of the bias is taken off the spread: of 2^2 K2 so many sevenths of the bias's 1 K2.
    """
    found = learnt_habits([NightPair(-2.0, False)] * 3, USUAL)
    assert found.bias_k == pytest.approx(-2.0 * 3 / 7)
    assert found.spread_k == pytest.approx((4.0 - 3 / 7) ** 0.5)
    assert found.clear_calm_bias_k == -0.5 and found.clear_calm_spread_k is None
    assert is_surer(found) and not is_surer(USUAL)


def test_a_winter_teaches_bias_and_spread_of_each_kind():
    """Known numbers come out of eighty drawn nights within what chance allows (three standard errors)."""
    draw = np.random.default_rng(3)
    pairs = [NightPair(float(draw.normal(-2.0, 1.4)), True) for _ in range(40)]
    pairs += [NightPair(float(draw.normal(0.5, 1.1)), False) for _ in range(40)]
    found = learnt_habits(pairs, USUAL)
    assert found.clear_calm_bias_k == pytest.approx(-2.0, abs=3 * 1.25 * 1.4 / 40**0.5)
    assert found.spread_k is not None and found.spread_k == pytest.approx(1.1, rel=0.35)
    assert found.clear_calm_spread_k == pytest.approx(1.4, rel=0.35)


def test_three_mornings_already_help():
    """At two thousand drawn sites the next night is told nearer after three mornings than before any.

    A site's own bias is drawn with 1 K, a night's miss with 2 K, as raw forecasts miss (`weather/night_errors`). The
    variance of what is told falls from 1 + 4 to 4 + 0.57^2 + 0.43^2 4/3 = 4.6 (a little more, for the median of three).
    """
    draw = np.random.default_rng(8)
    before, after = [], []
    for bias in draw.normal(0.0, 1.0, 2000):
        pairs = [NightPair(float(bias + draw.normal(0.0, 2.0)), False) for _ in range(3)]
        night = bias + draw.normal(0.0, 2.0)
        before.append(night - SiteHabits().bias_k)
        after.append(night - learnt_habits(pairs, SiteHabits()).bias_k)
    assert np.linalg.norm(after) < 0.985 * np.linalg.norm(before)
