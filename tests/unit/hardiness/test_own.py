"""The gardener's own limits, and what losses and survivals teach."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from scipy.special import ndtr

from frostguard.garden.model import OwnLimits, Stage
from frostguard.hardiness.limits import load_limits
from frostguard.hardiness.model import Mark, Tissue, TissueLimit
from frostguard.hardiness.own import OWN_SPREAD_K, Seen, Sighting, learned_limit, learned_today, with_own_limits
from frostguard.hardiness.taxon import Limit

PRIOR = Limit(-6.0, 2.0, Mark.ESTIMATE, "estimate")


def by_quadrature(limit: Limit, seen: Seen) -> tuple[float, float]:
    """Mean and standard deviation of the belief after one sighting, summed up on a fine grid."""
    at = np.linspace(limit.middle_c - 12 * limit.spread_k, limit.middle_c + 12 * limit.spread_k, 40001)
    z = (at - seen.coldest_c) / seen.error_k * (1.0 if seen.hurt else -1.0)
    weight = np.exp(-0.5 * ((at - limit.middle_c) / limit.spread_k) ** 2) * ndtr(z)
    mean = float(np.sum(at * weight) / np.sum(weight))
    return mean, float(np.sqrt(np.sum((at - mean) ** 2 * weight) / np.sum(weight)))


@pytest.mark.parametrize("coldest_c", [-12.0, -8.0, -6.0, -3.0, 0.0])
@pytest.mark.parametrize("hurt", [True, False])
def test_one_sighting_gives_the_moments_that_numerical_integration_gives(coldest_c: float, hurt: bool) -> None:
    """Mean and spread after a loss or survival are those of the prior times the probit."""
    seen = Seen(coldest_c, hurt)
    learned = learned_limit(PRIOR, [seen])
    mean, spread = by_quadrature(PRIOR, seen)
    assert learned.middle_c == pytest.approx(mean, abs=1e-3)
    assert learned.spread_k == pytest.approx(max(spread, OWN_SPREAD_K / 2), abs=1e-3)


def test_a_loss_makes_the_limit_warmer_and_a_survival_colder() -> None:
    """Damage at -4 degC moves a limit of -6 up, survival of -9 moves it down."""
    assert learned_limit(PRIOR, [Seen(-4.0, True)]).middle_c > -5.0
    assert learned_limit(PRIOR, [Seen(-9.0, False)]).middle_c < -8.0


def test_what_was_to_be_expected_teaches_little() -> None:
    """A survival at 0 degC, or a loss at -14 degC, hardly moves a limit of -6."""
    for seen in (Seen(0.0, False), Seen(-14.0, True)):
        assert learned_limit(PRIOR, [seen]).middle_c == pytest.approx(-6.0, abs=0.05)


def test_nothing_seen_changes_nothing_and_certainty_has_a_floor() -> None:
    """Without sightings the limit stays itself; hundreds of them never make it a knife's edge."""
    assert learned_limit(PRIOR, []) is PRIOR
    many = [Seen(-7.0, True), Seen(-5.0, False)] * 100
    learned = learned_limit(PRIOR, many)
    assert learned.spread_k == OWN_SPREAD_K / 2
    assert -7.5 < learned.middle_c < -4.5


def test_own_limits_win_over_the_table() -> None:
    """What the gardener names replaces the table's value and is marked as his own."""
    own = with_own_limits(load_limits().find("lemon"), OwnLimits(leaf_c=-5.0, flower_c=-1.5, whole_root_c=-4.0))
    assert own.leaf_hardened.temperature_c == -5.0 and own.leaf_hardened.mark is Mark.OWN
    assert own.buds[Stage.OPEN_FLOWERS].temperature_c == own.buds[Stage.BUDS_IN_COLOUR].temperature_c == -1.5
    assert own.whole_root.temperature_c == -4.0
    assert with_own_limits(own, OwnLimits()) == own


def test_own_limits_keep_the_order_of_tissues() -> None:
    """Soft growth never stands more than hardened, nor young roots more than the whole root system."""
    table = load_limits().find("box")
    tender = with_own_limits(table, OwnLimits(leaf_c=-1.0, whole_root_c=-2.0))
    assert tender.leaf_soft.temperature_c >= tender.leaf_hardened.temperature_c
    assert tender.young_root.temperature_c >= tender.whole_root.temperature_c == -2.0
    roots = with_own_limits(table, OwnLimits(young_root_c=-11.0))
    assert roots.young_root.temperature_c == -11.0 >= roots.whole_root.temperature_c


def today(tissue: Tissue, limit_c: float, spread_k: float = 1.5) -> TissueLimit:
    """A limit as `limits_today` gives it."""
    return TissueLimit(tissue, limit_c, spread_k, 0.5, Mark.MEASURED, "a table", "leaves, hardened")


def sighting(tissue: Tissue, coldest_c: float, limit_c: float, *, hurt: bool) -> Sighting:
    """Something seen of an olive in January."""
    return Sighting(date(2026, 1, 14), "olea europaea", tissue, coldest_c, limit_c, hurt)


def test_a_loss_moves_todays_limit_as_the_belief_tells() -> None:
    """Hurt two kelvin above that night's limit: today's moves as much as `learned_limit` would, and says why."""
    limit = today(Tissue.LEAF, -8.0)
    (moved,) = learned_today([limit], [sighting(Tissue.LEAF, -6.0, -8.0, hurt=True)])
    mean, _ = by_quadrature(Limit(-8.0, 1.5, Mark.ESTIMATE, ""), Seen(-6.0, True))
    assert moved.limit_c == pytest.approx(mean, abs=1e-3)
    assert moved.learned_k == pytest.approx(mean + 8.0, abs=1e-3) and moved.mark is Mark.LEARNED
    assert moved.source == "2026-01-14; before that: a table"


def test_what_was_seen_in_winter_moves_soft_shoots_little() -> None:
    """A survival four kelvin below a limit of -8 leaves soft leaves of -1 within half a kelvin of where they were."""
    seen = [sighting(Tissue.LEAF, -12.0, -8.0, hurt=False)]
    (hard,) = learned_today([today(Tissue.LEAF, -8.0)], seen)
    (soft,) = learned_today([today(Tissue.LEAF, -1.0, 0.5)], seen)
    assert hard.limit_c < -10.0
    assert -1.5 < soft.limit_c < -1.0


def test_no_limit_of_freezing_rises_to_the_freezing_point() -> None:
    """Leaves said to be hurt at +4 degC by air go on to freeze below -0.5 degC; chilling may rise."""
    (leaf,) = learned_today([today(Tissue.LEAF, -2.0)], [sighting(Tissue.LEAF, 4.0, -2.0, hurt=True)])
    (chill,) = learned_today([today(Tissue.CHILL, 5.0)], [sighting(Tissue.CHILL, 8.0, 5.0, hurt=True)])
    assert leaf.limit_c == -0.5 and chill.limit_c > 6.0


def test_what_kills_all_roots_kills_the_young_ones() -> None:
    """A plant dead at -3 degC, whose roots were thought to stand -9, has young roots no hardier than the whole."""
    before = [today(Tissue.YOUNG_ROOT, -6.0), today(Tissue.WHOLE_ROOT, -9.0, 3.0)]
    young, whole = learned_today(before, [sighting(Tissue.WHOLE_ROOT, -3.0, -9.0, hurt=True)])
    assert whole.limit_c > -6.0 and young.limit_c == whole.limit_c


def test_what_teaches_nothing_leaves_the_limit_as_it_was() -> None:
    """Other tissues, and survival in mild air, change neither the number nor who says so."""
    limit = today(Tissue.LEAF, -8.0)
    seen = [sighting(Tissue.BUD, -1.0, -2.0, hurt=True), sighting(Tissue.LEAF, 2.0, -8.0, hurt=False)]
    assert learned_today([limit], seen) == (limit,)


def test_the_heart_goes_with_the_leaves_that_were_seen_hurt_or_unhurt() -> None:
    """What is told by the leaves round it moves with them; seen by itself it keeps what was learned of it."""
    limits = (today(Tissue.LEAF, -6.0), today(Tissue.HEART, -8.5))
    for coldest_c, hurt in ((-4.0, True), (-8.0, False)):
        leaf, heart = learned_today(limits, [sighting(Tissue.LEAF, coldest_c, -6.0, hurt=hurt)])
        assert leaf.mark is Mark.LEARNED
        assert heart.limit_c - leaf.limit_c == pytest.approx(-2.5) and heart.learned_k == leaf.learned_k
    both = ((Tissue.LEAF, -6.0), (Tissue.HEART, -8.5))
    seen = [sighting(tissue, -5.0, limit_c, hurt=True) for tissue, limit_c in both]
    assert learned_today(limits, seen)[1] == learned_today(limits[1:], seen[1:])[0]
