"""From how far above its limit a plant counts as at risk: by its chance of damage, which is no later than at +1 K."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
import pytest

from frostguard.advice.plan import RISK
from frostguard.hardiness.damage import chance_of_damage
from frostguard.hardiness.limits import load_limits
from frostguard.hardiness.taxon import Limit
from frostguard.weather.night_errors import DRESSING_K, SPREAD_K

RAISE_MARGIN_K = 1.0
"""The margin at which the trade's alarms are raised, a dead band below that of the all-clear (common practice)."""

SUREST_K = min(DRESSING_K, *SPREAD_K)
"""The least that a night's minimum is taken to be unsure by, where no thermometer has taught better."""

EVERY = [
    pytest.param(limit, id=f"{taxon.key}, {name}")
    for taxon in load_limits()
    for name, limit in taxon.limits()
    if name != "young root"  # a matter of the cold spell, with a threshold of its own
]


def chance_at_margin(limit: Limit, margin_k: float) -> float:
    """The chance of damage where the middle member comes to so much above the limit, over eleven members."""
    errors_k = SUREST_K * np.array([NormalDist().inv_cdf((number + 0.5) / 11.0) for number in range(11)])
    return float(chance_of_damage(limit.middle_c, limit.spread_k, limit.middle_c + margin_k + errors_k).mean())


def test_no_plant_of_the_table_is_passed_over_that_comes_within_a_kelvin_of_its_limit() -> None:
    """However sure its limit and the forecast are, it is told as at risk: with a job, or with why it has none."""
    least = min((chance_at_margin(param.values[0], RAISE_MARGIN_K), param.id) for param in EVERY)

    assert least[0] >= RISK, least


def test_far_above_its_limit_none_is_called_at_risk() -> None:
    """Four kelvin above it even the least known limit is no alarm: five spreads of a forecast, or two of a limit."""
    known = [param for param in EVERY if param.values[0].spread_k <= 1.5]
    most = max((chance_at_margin(param.values[0], 4.0), param.id) for param in known)

    assert len(known) > 500 and most[0] < RISK, most
