"""Leaves that have not hardened, against freezing trials: neither as soft as new shoots nor as hard as in winter."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from frostguard.hardiness.damage import chance_of_damage, held_margin_k
from frostguard.hardiness.hardening import SOFT, HardeningState, Season, next_day
from frostguard.hardiness.limits import load_limits
from frostguard.hardiness.model import Tissue, TissueLimit
from frostguard.hardiness.pace import pace_of
from frostguard.hardiness.taxon import Foliage, Habit
from frostguard.hardiness.today import limits_today
from tests.hardened import HARD

RIPE_EVERGREENS = tuple(
    taxon.key
    for taxon in load_limits()
    if taxon.habit is Habit.WOODY
    and taxon.foliage is Foliage.EVERGREEN
    and taxon.group in ("citrus", "mediterranean")
    and taxon.leaf_hardened.temperature_c <= -5.0
)


def leaf(key: str, state: HardeningState) -> TissueLimit:
    limits = limits_today(load_limits().taxon(key), hardening=state, season=Season.AUTUMN, stage=None, evergreen=None,
                          potted_this_autumn=False)
    return next(limit for limit in limits if limit.tissue is Tissue.LEAF)


def chance(limit: TissueLimit, coldest_c: float) -> float:
    return float(chance_of_damage(limit.limit_c, limit.spread_k, coldest_c))


@pytest.mark.parametrize("key", RIPE_EVERGREENS)
def test_evergreens_of_mild_winters_are_hurt_in_summer_within_the_published_range(key: str) -> None:
    """Before any cool night their leaves are unhurt at the first ice, and dead where summer plants were."""
    # Warrington & Stanley 1987, N. Z. J. Exp. Agric. 15:357-365, abstract: whole plants in summer were first hurt at
    # -2 to -5 degC and killed at -4 to -9 degC, two species of Metrosideros, which the table does not hold, aside.
    limit = leaf(key, SOFT)
    assert chance(limit, -0.5) <= 0.1
    assert chance(limit, -9.0) >= 0.95
    assert -5.0 <= limit.limit_c <= -2.0


@pytest.mark.parametrize("key", ["citrus-sinensis", "citrus-reticulata", "citrus-unshiu", "citrus-japonica"])
def test_ripe_citrus_leaves_that_have_not_hardened_are_not_lost_at_three_degrees_of_frost(key: str) -> None:
    """Oranges and mandarins keep most leaves at -3 degC before they have hardened, lemons do not."""
    # C. Oswalt, University of Florida, IFAS Extension: citrus leaves generally survive to 24 degF (-4.4 degC)
    # unhardened. Of lemons and limes, the tenderest, nothing was found: they stay at -1 degC.
    assert chance(leaf(key, SOFT), -3.0) <= 0.2
    assert chance(leaf("citrus-limon", SOFT), -3.0) >= 0.9


def test_an_orange_is_lost_soft_and_may_keep_its_leaves_hardened_as_in_the_trial() -> None:
    """Four hours at -6.7 degC kill a soft orange; after six weeks at 15.6 and 4.4 degC they do not for certain."""
    # 'Hamlin' on rough lemon, HortScience 25(1):98, abstract: unhardened trees died to the rootstock, hardened ones
    # lost no leaf; 'Valencia', Ability of 'Valencia' sweet orange to cold-acclimate on cold-sensitive citron
    # rootstock, HortScience, abstract: hardened trees lost nearly all leaves. So hardened leaves lie near -6.7 degC.
    orange = load_limits().taxon("citrus-sinensis")
    trial_c = -6.7 - held_margin_k(4.0)
    state = SOFT
    for day in range(42):
        state = next_day(state, date(2025, 10, 1) + timedelta(days=day), 4.4, 10.0, 28.5, pace_of(orange))
    assert state.top > 0.85
    assert chance(leaf("citrus-sinensis", SOFT), trial_c) >= 0.95
    assert 0.05 <= chance(leaf("citrus-sinensis", state), trial_c) <= 0.95


@pytest.mark.parametrize("minimum_c", [4.4, 7.0])
def test_citrus_hardens_at_means_below_the_growth_threshold(minimum_c: float) -> None:
    """Weeks of cool nights with means below 10 degC harden citrus, however short of frost they stay."""
    # Oswalt, Citrus Industry, 2 February 2021: below 55 degF growth slows and hardening goes on.
    orange = load_limits().taxon("citrus-sinensis")
    state = SOFT
    for day in range(28):
        state = next_day(state, date(2025, 11, 1) + timedelta(days=day), minimum_c, 10.0, 28.5, pace_of(orange))
    assert state.top >= 0.5


def test_olive_organs_are_tender_in_the_published_order() -> None:
    """In an olive roots go before leaves, and young roots first."""
    # Fiorino & Mancuso 2000, Differential thermal analysis, supercooling and cell viability in organs of Olea europaea
    # at subzero temperatures, Adv. Hort. Sci., abstract: secondary roots, primary roots, leaves, shoots, buds.
    olive = load_limits().taxon("olea-europaea")
    assert olive.young_root.middle_c > olive.whole_root.middle_c > olive.leaf_hardened.middle_c


def test_an_olive_loses_most_in_a_warm_week_of_winter_and_some_in_a_mild_one() -> None:
    """Six days near 18 degC take most of an olive's hardening, six near 12 degC a part of it."""
    # A Texan grower with R. A. Lane (Sam Houston State University), January 2017, weak source: from 29 December to
    # 3 January 60 to 70 degF, "most of their hardening" lost. An olive maker's page, weak source: a part is lost where
    # it is above 16 degC six days running, on sunny slopes in January, which is a mean of some 11 to 12 degC.
    olive = pace_of(load_limits().taxon("olea-europaea"))
    left = {}
    for mean_c in (18.0, 12.0):
        state = HARD
        for day in range(6):
            state = next_day(state, date(2025, 12, 29) + timedelta(days=day), mean_c - 5.0, mean_c, 30.5, olive)
        left[mean_c] = state.top
    assert left[18.0] < 0.5
    assert 0.5 < left[12.0] < 0.9


def test_citrus_softens_faster_than_it_hardens_and_not_all_comes_back() -> None:
    """Half of it goes in fewer warm days than it took cool ones, and after midwinter some is gone for good."""
    # Oswalt, Citrus Industry, 2 February 2021: softening is quick beside hardening, and the level before is not
    # reached again.
    orange = pace_of(load_limits().taxon("citrus-sinensis"))
    gaining, losing = SOFT, HARD
    cool_days = warm_days = 0
    while gaining.top < 0.5:
        gaining, cool_days = next_day(gaining, date(2025, 11, 1), 4.4, 10.0, 28.5, orange), cool_days + 1
    while losing.top > 0.5:
        losing, warm_days = next_day(losing, date(2026, 1, 20), 13.0, 18.0, 28.5, orange), warm_days + 1
    assert warm_days < cool_days
    for day in range(60):
        losing = next_day(losing, date(2026, 1, 20) + timedelta(days=day), 0.0, 5.0, 28.5, orange)
    assert losing.top < HARD.top
