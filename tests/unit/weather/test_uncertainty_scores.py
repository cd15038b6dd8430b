"""Stated chances against simulated nights whose error law is the assumed one, and others.

What this shows: that the code states the chances of the law that it assumes, and how far off they are if
errors have heavier tails, another bias or another size. What it does not show: that real errors follow any
of these laws; that takes readings.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from frostguard.weather import uncertainty
from frostguard.weather.gates import night_window
from frostguard.weather.night_errors import NO_HABITS, SAMPLING_K, SiteHabits, coldest_hour, night_errors
from frostguard.weather.series import Quality, WeatherSeries
from frostguard.weather.uncertainty import with_error_curves
from tests.unit.weather.parts import stack_members
from tests.unit.weather.scores import brier_score, crps_of_members, crps_of_normal
from tests.unit.weather.test_uncertainty import ASKED, LJUBLJANA, minima_c, weather

Array = NDArray[np.float64]
Law = Callable[[np.random.Generator, int], Array]
SERIES, NIGHTS = 100, 5


# The scores themselves, checked against what can be reckoned by hand.


def test_the_score_of_members_by_hand() -> None:
    """Members 0, 1, 2 and the truth 0.3: 0.9 mean distance less half of 8/9, the mean distance of two."""
    score = crps_of_members(np.array([[0.0, 1.0, 2.0]]), np.array([0.3]))
    assert score[0] == pytest.approx((0.3 + 0.7 + 1.7) / 3 - 0.5 * 8 / 9)
    assert crps_of_members(np.array([[4.0]]), np.array([1.0]))[0] == 3.0  # one member: the absolute error


def test_the_score_of_many_members_is_that_of_their_law() -> None:
    """Two thousand normal quantiles score as the closed form; its mean over the law is spread / sqrt(pi)."""
    from statistics import NormalDist

    quantiles = np.array([NormalDist(1.0, 2.0).inv_cdf((k + 0.5) / 2000) for k in range(2000)])
    for truth in (-3.0, 1.0, 2.5):
        score = crps_of_members(quantiles[None, :], np.array([truth]))[0]
        assert score == pytest.approx(crps_of_normal(1.0, 2.0, truth), abs=2e-3)
    mean = np.mean([crps_of_normal(1.0, 2.0, truth) for truth in quantiles])
    assert mean == pytest.approx(2.0 / math.sqrt(math.pi), rel=2e-3)


def test_the_brier_score_by_hand() -> None:
    """Chances 0.9, 0.2, 0.5 of what did, did not and did happen: (0.01 + 0.04 + 0.25) / 3."""
    assert brier_score(np.array([0.9, 0.2, 0.5]), np.array([True, False, True])) == pytest.approx(0.1)


# Nights.


@dataclass(frozen=True)
class Nights:
    """Members' minima (n_nights, n_members), what they were sized by, and the forecast's hourly minimum."""

    members: Array
    spread_k: Array
    bias_k: Array
    hourly_minimum_c: Array


@cache
def simulated(clear_calm: bool, habits: SiteHabits = NO_HABITS) -> Nights:
    rows, spreads, biases, forecasts = [], [], [], []
    for seed in range(SERIES):
        series = weather(
            nights=NIGHTS, seed=seed, cloud=5.0 if clear_calm else 90.0, wind=1.0 if clear_calm else 4.0
        )
        curves = with_error_curves(series, ASKED, LJUBLJANA, habits=habits)
        for error in night_errors(series, ASKED, LJUBLJANA, habits=habits):
            rows.append(minima_c(curves, error.night))
            forecasts.append(minima_c(series, error.night)[0])
            spreads.append(error.spread_k)
            biases.append(error.bias_k)
    return Nights(*(np.array(part) for part in (rows, spreads, biases, forecasts)))


def normal(draw: np.random.Generator, size: int) -> Array:
    return draw.standard_normal(size)


def heavy_tailed(draw: np.random.Generator, size: int) -> Array:
    """Student's law with four degrees of freedom, scaled to a standard deviation of 1 (that law's is sqrt 2)."""
    return draw.standard_t(4, size) / math.sqrt(2.0)


def truths(nights: Nights, law: Law, *, bias_k: float = 0.0, wider: float = 1.0, repeats: int = 20) -> Array:
    """What thermometers would show, shape (n_nights, repeats), if errors followed the law."""
    draw = np.random.default_rng(20260114)
    noise = law(draw, nights.spread_k.size * repeats).reshape(-1, repeats)
    middle = nights.hourly_minimum_c + SAMPLING_K + nights.bias_k + bias_k
    return np.asarray(middle[:, None] + wider * nights.spread_k[:, None] * noise)


def stated_and_seen(nights: Nights, truth: Array, offset_spreads: float) -> tuple[float, float, float]:
    """Mean stated chance that a night is colder than a limit, the share that was, and the Brier score.

    The limit lies some spreads above the members' mean; the chance is the share of members below it.
    """
    limit = nights.members.mean(axis=1) + offset_spreads * nights.spread_k
    chance = (nights.members < limit[:, None]).mean(axis=1)
    happened = truth < limit[:, None]
    repeated = np.repeat(chance, truth.shape[1])
    return float(chance.mean()), float(happened.mean()), brier_score(repeated, happened.ravel())


def mean_score(nights: Nights, truth: Array) -> float:
    """Mean score in units of each night's spread, so that nights count alike."""
    scaled = nights.members / nights.spread_k[:, None]
    return float(np.mean([crps_of_members(scaled, column / nights.spread_k).mean() for column in truth.T]))


BEST = 1.0 / math.sqrt(math.pi)
"""The mean score of the true normal law of spread 1: no forecast of such errors can do better."""


@pytest.mark.parametrize("clear_calm", [False, True])
def test_chances_are_right_under_the_assumed_law(clear_calm: bool) -> None:
    """Eleven members miss the best possible score by under 4 %, and stated chances by under 5 points."""
    nights = simulated(clear_calm)
    truth = truths(nights, normal)
    assert BEST * 0.98 < mean_score(nights, truth) < BEST * 1.04
    for offset in (-1.3, -0.6, 0.1, 0.6, 1.3):
        stated, seen, _ = stated_and_seen(nights, truth, offset)
        assert stated == pytest.approx(seen, abs=0.05)


def test_heavier_tails_cost_little_in_the_middle_and_are_understated_far_out() -> None:
    """Same size of errors, four degrees of freedom: chances hold within 6 points; nights 3 spreads colder than
    stated as possible happen about five times as often as the assumed law has them."""
    nights = simulated(False)
    truth = truths(nights, heavy_tailed, repeats=100)
    for offset in (-1.3, -0.6, 0.1, 0.6, 1.3):
        stated, seen, _ = stated_and_seen(nights, truth, offset)
        assert stated == pytest.approx(seen, abs=0.06)
    far_out = (truth < (nights.members.mean(axis=1) - 3.0 * nights.spread_k)[:, None]).mean()
    # Student's law with four degrees of freedom: P(t < -3 sqrt 2) = 0.0066; the normal law has 0.00135.
    assert 0.004 < far_out < 0.009
    draws = heavy_tailed(np.random.default_rng(7), 200_000)
    best = 0.5 * np.abs(draws[::2] - draws[1::2]).mean()  # the mean score of the true law itself
    assert best * 0.98 < mean_score(nights, truth) < best * 1.06


def test_a_bias_of_clear_nights_shows_and_readings_mend_it() -> None:
    """If clear calm nights are 1.5 K colder still, chances of cold are understated; the hook sets them right."""
    nights = simulated(True)
    truth = truths(nights, normal, bias_k=-1.5)
    stated, seen, wrong = stated_and_seen(nights, truth, 0.1)
    assert seen - stated > 0.12
    learnt = simulated(True, SiteHabits(clear_calm_bias_k=-2.5))
    stated, seen, _ = stated_and_seen(learnt, truth, 0.1)
    assert stated == pytest.approx(seen, abs=0.05)
    assert mean_score(learnt, truth) < mean_score(nights, truth)
    assert brier_at_same_limits(learnt, nights, truth) < wrong


def brier_at_same_limits(nights: Nights, limits_of: Nights, truth: Array) -> float:
    limit = limits_of.members.mean(axis=1) + 0.1 * limits_of.spread_k
    chance = (nights.members < limit[:, None]).mean(axis=1)
    return brier_score(np.repeat(chance, truth.shape[1]), (truth < limit[:, None]).ravel())


def test_errors_of_another_size_show_and_readings_mend_them() -> None:
    """Errors half as large again leave 8 of 10 in fewer than 8 of 10 nights; a learnt spread sets it right."""
    nights = simulated(False)
    truth = truths(nights, normal, wider=1.5)
    assert within_eight_of_ten(nights, truth) < 0.70
    wider = simulated(False, SiteHabits(spread_k=3.0))
    np.testing.assert_allclose(wider.spread_k, 1.5 * nights.spread_k)
    # eleven stretched members hold 84 % between their outer tenths: a little more than they promise
    assert 0.80 < within_eight_of_ten(wider, truth) < 0.87
    assert 0.80 < within_eight_of_ten(nights, truths(nights, normal)) < 0.87


def within_eight_of_ten(nights: Nights, truth: Array) -> float:
    low, high = np.quantile(nights.members, (0.1, 0.9), axis=1, method="hazen")
    return float(((truth >= low[:, None]) & (truth <= high[:, None])).mean())


# What sizes a night's spread.


def with_column(series: WeatherSeries, name: str, value: float) -> WeatherSeries:
    full = np.full((series.n_members, series.n_hours), value)
    code = np.full(full.shape, Quality.GIVEN, dtype=np.uint8)
    return replace(series, values={**series.values, name: full}, quality={**series.quality, name: code})


def test_a_source_that_knows_its_spread_is_believed() -> None:
    """0.4 K of its own and 1.3 K for the place, whatever the night's number."""
    series = with_column(weather(), "air_temperature_spread_k", 0.4)
    for error in night_errors(series, ASKED, LJUBLJANA):
        assert error.spread_k == pytest.approx(math.hypot(0.4, 1.3))


def test_a_difference_adds_half_of_itself() -> None:
    """6 K between services are 3 K of spread, beside the table's; for members beside the dressing."""
    usual = night_errors(weather(), ASKED, LJUBLJANA)
    apart = night_errors(with_column(weather(), "service_difference_k", -6.0), ASKED, LJUBLJANA)
    assert [error.spread_k for error in apart] == pytest.approx(
        [math.hypot(error.spread_k, 3.0) for error in usual]
    )
    members = stack_members([weather(), weather()])
    dressed = night_errors(with_column(members, "service_difference_k", 6.0), ASKED, LJUBLJANA)
    assert dressed[0].spread_k == pytest.approx(math.hypot(1.3, 3.0))


def test_the_difference_is_that_of_its_own_night() -> None:
    """A difference in the hours of the second night leaves the first alone."""
    series = with_column(weather(), "service_difference_k", np.nan)
    begin, end = night_window(ASKED.date() + timedelta(days=1), LJUBLJANA)
    series.values["service_difference_k"][:, (series.times > begin) & (series.times <= end)] = 6.0
    first, second, *_ = night_errors(series, ASKED, LJUBLJANA)
    assert first.spread_k == 2.0 and second.spread_k == pytest.approx(math.hypot(2.2, 3.0))


def test_models_with_long_steps_miss_more_of_the_minimum() -> None:
    """A three-hourly model's night is lowered by another half kelvin at its coldest hour."""
    hourly = weather()
    coarse = replace(hourly, provenance=replace(hourly.provenance, model="ncep_gefs025"))
    night = ASKED.date()
    apart = minima_c(with_error_curves(coarse, ASKED, LJUBLJANA), night) - minima_c(
        with_error_curves(hourly, ASKED, LJUBLJANA), night
    )
    np.testing.assert_allclose(apart, -0.5, atol=1e-9)


@pytest.mark.parametrize(("service", "milder_k"), [("met-norway", 0.5), ("nws", 0.5), ("bright-sky", 0.0)])
def test_a_minimum_that_the_service_states_is_not_lowered_again(service: str, milder_k: float) -> None:
    """The lowest of six hours, written into the coldest one, misses nothing; a neighbour's hour does."""
    plain = weather()
    source = replace(plain, provenance=replace(plain.provenance, service=service))
    night = ASKED.date() + timedelta(days=1)
    coldest = coldest_hour(source, night, LJUBLJANA)
    assert coldest is not None
    codes = {name: code.copy() for name, code in source.quality.items()}
    codes["air_temperature_c"][:, coldest] = Quality.DERIVED
    stated = minima_c(with_error_curves(replace(source, quality=codes), ASKED, LJUBLJANA), night)
    usual = minima_c(with_error_curves(plain, ASKED, LJUBLJANA), night)
    assert np.median(stated - usual) == pytest.approx(milder_k, abs=0.15)


@pytest.mark.reference
def test_scores_agree_with_a_scoring_library() -> None:
    """The two scores, on random members and nights, to the last digits."""
    import scoringrules

    draw = np.random.default_rng(3)
    members, truth = draw.normal(0, 2, (200, 11)), draw.normal(0, 2, 200)
    np.testing.assert_allclose(
        crps_of_members(members, truth), scoringrules.crps_ensemble(truth, members), rtol=1e-12
    )
    assert crps_of_normal(0.3, 2.0, -1.0) == pytest.approx(float(scoringrules.crps_normal(-1.0, 0.3, 2.0)))
    chances, happened = draw.uniform(0, 1, 200), truth < 0.0
    library = scoringrules.brier_score(happened.astype(float), chances).mean()
    assert brier_score(chances, happened) == pytest.approx(float(library))


# Law, whether nights are clear and calm, bias [K] and size of the errors; then CRPS, the best possible one, Brier
# score, stated and seen chance of a night colder than 1.3 spreads below the middle. Told in `weather/uncertainty`.
TABLE: dict[str, tuple[Law, bool, float, float, tuple[float, float, float, float, float]]] = {
    "the assumed law": (normal, False, 0.0, 1.0, (0.571, 0.564, 0.090, 0.09, 0.10)),
    "heavier tails (Student, 4)": (heavy_tailed, False, 0.0, 1.0, (0.531, 0.521, 0.065, 0.09, 0.07)),
    "1.5 K colder on clear nights": (normal, True, -1.5, 1.0, (0.640, 0.564, 0.187, 0.09, 0.22)),
    "half as large again": (normal, False, 0.0, 1.5, (0.879, 0.846, 0.171, 0.09, 0.20)),
    "a third smaller": (normal, False, 0.0, 0.67, (0.407, 0.378, 0.030, 0.09, 0.03)),
}


@pytest.mark.reference
@pytest.mark.parametrize("errors", TABLE)
def test_scores_under_other_laws_are_those_that_are_told(errors: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Each row of the table in the module, by the scoring library on simulated nights; to half a hundredth."""
    import scoringrules

    law, clear, bias_k, wider, told = TABLE[errors]
    nights = simulated(clear)
    truth = truths(nights, law, bias_k=bias_k, wider=wider, repeats=60)
    scaled = nights.members / nights.spread_k[:, None]
    crps = float(np.mean([scoringrules.crps_ensemble(seen / nights.spread_k, scaled).mean() for seen in truth.T]))
    draws = law(np.random.default_rng(7), 400_000)
    best = wider * 0.5 * float(np.abs(draws[::2] - draws[1::2]).mean())  # the mean score of the law itself
    limit = nights.members.mean(axis=1) - 1.3 * nights.spread_k
    chance = np.repeat((nights.members < limit[:, None]).mean(axis=1)[:, None], truth.shape[1], axis=1)
    happened = truth < limit[:, None]
    brier = float(scoringrules.brier_score(happened.astype(float), chance).mean())
    found = (crps, best, brier, float(chance.mean()), float(happened.mean()))
    with capsys.disabled():
        print(f"\n{errors}: CRPS {crps:.3f} (best {best:.3f}), Brier {brier:.3f}, ", end="")
        print(f"{found[3]:.0%} stated, {found[4]:.0%} seen")
    assert found == pytest.approx(told, abs=0.005)
    assert f"{errors:<29}{told[0]:>7.3f}" in str(uncertainty.__doc__)
