"""What the advice is worth over a run of nights, beside the simple rules that people go by, as forecasters score it.

The score is the relative value of the cost-loss model: 0 for who knows only how often it gets too cold and always or
never acts, 1 for who knows each night beforehand (Richardson 2000, Skill and relative economic value of the ECMWF
ensemble prediction system, Q. J. R. Meteorol. Soc. 126:649-667, formula from memory).
"""

from __future__ import annotations

from collections import defaultdict
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from frostguard.advice import evening
from frostguard.advice.advise import reckon_evening
from frostguard.advice.evening import Evening
from frostguard.advice.occasion import TONIGHT_TISSUES
from frostguard.advice.state import TerraceState
from frostguard.garden.settings import Settings
from frostguard.hardiness.damage import expected_loss_share
from frostguard.hardiness.limits import load_limits
from frostguard.weather.series import HOUR, Provenance, WeatherSeries, series_on_hours, utc_hour
from tests.unit.advice.terraces import ASKED, garden, planting, pot, room, shed, simulate_coarsely, spot

Array = NDArray[np.float64]


def relative_value(cost_over_loss: float, base_rate: float, hit_rate: float, false_alarm_rate: float) -> float:
    """Richardson's value of a yes-or-no forecast, from the shares of bad nights and of others that it warns of."""
    a, s = cost_over_loss, base_rate
    climate = min(a, s)
    expense = false_alarm_rate * a * (1.0 - s) + hit_rate * s * a + (1.0 - hit_rate) * s
    return (climate - expense) / (climate - s * a)


@pytest.mark.parametrize(
    ("a", "s", "hits", "false_alarms", "value"),
    [
        (0.25, 0.25, 0.85, 0.15, 0.70),  # cost over loss as the base rate: the difference of the rates, the peak
        (0.10, 0.10, 0.85, 0.10, 0.75),
        (0.30, 0.10, 0.85, 0.10, 0.46),
        (0.50, 0.10, 0.85, 0.10, -0.05),  # too dear: who ignores the warnings fares better
        (0.02, 0.25, 0.85, 0.15, -1.60),  # precious and cheap to cover: every night is better than with misses
        (0.02, 0.25, 0.995, 0.60, 0.32),
    ],
)
def test_the_score_is_richardsons(a: float, s: float, hits: float, false_alarms: float, value: float) -> None:
    """Worked by hand from the formula as printed, V = [min(a,s) - F a (1-s) + H s (1-a) - s] / [min(a,s) - s a]."""
    assert relative_value(a, s, hits, false_alarms) == pytest.approx(value, abs=0.005)
    by_hand = (min(a, s) - false_alarms * a * (1 - s) + hits * s * (1 - a) - s) / (min(a, s) - s * a)
    assert relative_value(a, s, hits, false_alarms) == pytest.approx(by_hand)


# --- a month of nights for the real planner --------------------------------------------------------------------

MIDDLES_C = np.arange(-5.5, 6.5, 0.75)
"""The coldest of the middle member of each forecast, from hard frost to nothing to fear."""

OFFSETS_K = np.array([-2.4, -1.2, 0.0, 1.2, 2.4])
"""Members round it, all as likely: the night comes as one of them."""

WORTH_EUR = (3.5, 12.0, 40.0, 150.0)
"""Lemons that a trip of some two and a half euro saves: from hardly worth the trip to worth it on a mere suspicion."""


def night_of(coldest_c: Array) -> WeatherSeries:
    """A damp, cloudy night that is mild until two in the afternoon and coldest, in each member, from two to six."""
    now = utc_hour(ASKED.replace(minute=0))
    times = now + np.arange(-12, 25) * HOUR
    clock = (times - now) / HOUR + 14.0
    air = np.array([np.interp(clock, [14, 18, 26, 30, 36], [6.0, 2.0 + c / 2.0, c, c, 5.0]) for c in coldest_c])
    values: dict[str, Any] = {
        "air_temperature_c": air,
        "dew_point_c": air - 1.0,
        **{
            name: np.full(air.shape, value)
            for name, value in (
                ("pressure_hpa", 980.0), ("wind_speed_10m_m_s", 2.0), ("wind_gust_10m_m_s", 4.0),
                ("cloud_cover_percent", 100.0), ("global_horizontal_w_m2", 0.0),
            )
        },
    }  # fmt: skip
    return series_on_hours(times, values, Provenance("invented", None, None, ASKED, "", 46.05, 14.51, 298.0))


def losses_eur(found: Evening) -> Array:
    """What each plant would lose left alone, if the night came as in each member [euro], (plants, members)."""
    return np.array(
        [
            pot_.plantings[0].value_eur
            * expected_loss_share(
                np.array([one.chance for one in judged if one.limit.tissue in TONIGHT_TISSUES]),
                np.array([[one.limit.value_share] for one in judged if one.limit.tissue in TONIGHT_TISSUES]),
                axis=0,
            )
            for pot_, judged in zip(found.pots, found.judgements[0], strict=True)
        ]
    )


@pytest.fixture(scope="module")
def expenses() -> dict[str, Array]:
    """By way of deciding what the plant of each worth costs over the nights, in the mean over their members [euro]."""
    where = garden(
        *(pot(f"worth {worth}", planting("citrus-limon", value_eur=worth)) for worth in WORTH_EUR),
        spots=(spot(), room(free_floor_m2=2.0)),
        stock=shed(),
    )
    label_c = load_limits().taxon("citrus-limon").leaf_hardened.temperature_c
    wishes = Settings(days=1)
    trip_eur = 3.0 * 2.0 / 60.0 * wishes.effort_eur_h + 1.0  # there and back, and room indoors
    told: dict[str, Array] = defaultdict(lambda: np.zeros(len(WORTH_EUR)))
    with pytest.MonkeyPatch.context() as patch:
        simulate_coarsely(patch)
        # the members are the whole doubt here, so that forecasts are right as often as they say
        patch.setattr(evening, "with_error_curves", lambda series, *_, **__: series)
        for middle_c in MIDDLES_C:
            found = reckon_evening(where, night_of(middle_c + OFFSETS_K), TerraceState(), ASKED, wishes)
            assert all(choice.option.indoors for choice in found.choices)
            loss_eur = losses_eur(found.evening)
            chosen = {choice.pot for choice in found.choices}
            acts: dict[str, Any] = {
                "advice": [[row in chosen] for row in range(len(WORTH_EUR))],
                "below zero": middle_c < 0.0,
                "label": middle_c < label_c,
                "always": True,
                "never": False,
                "knowing": loss_eur > trip_eur,
            }
            for name, does in acts.items():
                told[name] += np.where(does, trip_eur, loss_eur).mean(axis=1)
    return dict(told)


def value_of(expenses: dict[str, Array], name: str) -> Array:
    """The relative value for the plant of each worth."""
    climate = np.minimum(expenses["always"], expenses["never"])
    return np.asarray((climate - expenses[name]) / (climate - expenses["knowing"]))


def test_advice_by_chance_is_worth_something_for_every_plant(expenses: dict[str, Array]) -> None:
    """Forecasts that are right as often as they say serve each cost over loss, dear plants and cheap ones.

    Murphy 1977, The value of climatological, categorical and probabilistic forecasts in the cost-loss ratio situation,
    Mon. Wea. Rev. 105:803-816 (abstract): reliable chances are worth at least as much as either other, whatever the
    cost over loss.
    """
    assert np.all(value_of(expenses, "advice") > 0.0), expenses
    assert np.all(value_of(expenses, "advice") <= 1.0)


@pytest.mark.parametrize(
    ("rule", "wrong_for"),
    [
        ("below zero", {3.5, 150.0}),  # trips for what is hardly worth one; misses of the dearest
        ("label", {40.0, 150.0}),  # acts when half is lost already, which only the cheap can bear
    ],
)
def test_one_threshold_for_all_plants_is_wrong_for_some(
    expenses: dict[str, Array], rule: str, wrong_for: set[float]
) -> None:
    """For some worth each rule does worse than always or never acting, and for none better than the advice."""
    ours, theirs = value_of(expenses, "advice"), value_of(expenses, rule)

    assert np.all(theirs < ours + 0.01), (ours, theirs)
    assert wrong_for <= {worth for worth, value in zip(WORTH_EUR, theirs, strict=True) if value < 0.0}, theirs
