"""Sizes of misses found again in drawn readings."""

from __future__ import annotations

import numpy as np
import pytest

from frostguard.tuning.noise import Readout, Sizes, learnt_sizes

NIGHTS, EACH = 40, 8


def drawn(truth: Sizes) -> tuple[Readout, np.ndarray]:
    """Forty nights of one thermometer that feels eight tenths of the air's misses."""
    draw = np.random.default_rng(11)
    night = np.repeat(np.arange(NIGHTS), EACH)
    calm = np.arange(NIGHTS) % 2 == 0
    response = 0.8 * (night[:, None] == np.arange(NIGHTS))
    readout = Readout(night, np.zeros(night.size, dtype=np.intp), calm, response)
    left = np.linalg.cholesky(readout.covariance(truth)) @ draw.normal(size=night.size)
    return readout, left


def test_sizes_come_out_of_what_is_left():
    """Noise, and the misses of clear calm nights and of others, within what forty nights allow.

    The relative error of a standard deviation of twenty draws is 16 %; two of them, and the prior's pull.
    """
    truth = Sizes(reading_k=0.3, fault_k=0.05, clear_calm_k=1.4, other_k=0.4)
    readout, left = drawn(truth)
    found = learnt_sizes(readout, left, np.zeros((left.size, 1)), np.ones(1), Sizes(0.25, 0.25, 0.9, 0.6))
    assert found.reading_k == pytest.approx(0.3, rel=0.1)
    assert found.clear_calm_k == pytest.approx(1.4, rel=0.35)
    assert found.other_k == pytest.approx(0.4, rel=0.35)


def test_what_parameters_explain_is_no_miss():
    """A bias of 3 K that a parameter can take is not counted as misses of the air."""
    truth = Sizes(reading_k=0.3, fault_k=0.05, clear_calm_k=0.5, other_k=0.5)
    readout, left = drawn(truth)
    usual = Sizes(0.25, 0.25, 0.9, 0.6)
    slope = np.ones((left.size, 1))
    told = learnt_sizes(readout, left + 3.0, slope, np.full(1, 3.0), usual)
    untold = learnt_sizes(readout, left + 3.0, 0.0 * slope, np.full(1, 3.0), usual)
    assert told.clear_calm_k < 0.8 < untold.clear_calm_k
