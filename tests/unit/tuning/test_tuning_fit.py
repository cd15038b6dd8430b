"""The fit against exact answers of linear problems."""

from __future__ import annotations

import numpy as np
import pytest

from frostguard.tuning.fit import Parameter, fit_map, sloped


def test_linear_problem_has_the_exact_posterior():
    """One unknown mean with a normal prior: n readings give the textbook's shrunk mean and spread."""
    readings = np.full(8, 0.6)  # far within the quadratic part of the loss
    bias = [Parameter("site", "bias_k", 0.0, 1.0)]
    found = fit_map(sloped(lambda x: np.repeat(x, 8, axis=1), bias), readings, np.full(8, 16.0), bias)
    weight = 8 / 16.0 / (8 / 16.0 + 1.0)
    assert found.values[0] == pytest.approx(0.6 * weight, rel=0.02)  # the soft loss bends by less than 1 % at 0.15
    assert found.spread[0] == pytest.approx((1.0 + 8 / 16.0) ** -0.5, rel=0.02)


def test_readings_that_miss_together_count_as_one():
    """Generalised least squares: eight readings with one common miss of 1 K tell as much as one with that miss."""
    bias = [Parameter("site", "bias_k", 0.0, 1.0)]
    together = np.ones((8, 8)) + 0.01**2 * np.eye(8)
    found = fit_map(sloped(lambda x: np.repeat(x, 8, axis=1), bias), np.full(8, 0.4), together, bias)
    assert found.values[0] == pytest.approx(0.2, abs=0.005)
    assert found.spread[0] == pytest.approx(0.5**0.5, rel=0.02)


def test_what_cannot_be_told_apart_is_named_and_stays_near_its_prior():
    """Two parameters that act only by their sum are an inseparable pair, a third without effect keeps its prior."""
    three = [Parameter("a", "x", 0.0, 1.0), Parameter("a", "y", 0.0, 1.0), Parameter("a", "z", 0.3, 1.0)]
    found = fit_map(
        sloped(lambda x: np.repeat(x[:, :1] + x[:, 1:2], 30, axis=1), three),
        np.full(30, 1.0),
        np.full(30, 0.04),
        three,
    )
    assert found.values[:2] == pytest.approx([0.5, 0.5], abs=0.01)
    assert found.inseparable() == ((0, 1),)
    assert found.values[2] == pytest.approx(0.3) and not found.learnt[2]


def test_a_wild_reading_hardly_moves_the_fit():
    """One of twenty readings 30 K off moves the mean by an eighth of what least squares would (1.5 K)."""
    readings = np.zeros(20)
    readings[3] = 30.0
    one = [Parameter("a", "x", 0.0, 5.0)]
    found = fit_map(
        sloped(lambda x: np.repeat(x, 20, axis=1), one), readings, np.full(20, 0.25), one, most_steps=30
    )
    assert abs(found.values[0]) < 0.19
