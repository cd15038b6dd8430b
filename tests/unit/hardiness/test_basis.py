"""Limits told as screen air against limits of the leaf itself: which is which, and what the leaf makes of them."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from frostguard.garden.model import OwnLimits, Stage
from frostguard.hardiness.basis import UNDERSHOOT_K, leaf_basis, undershoot_k
from frostguard.hardiness.damage import chance_of_damage
from frostguard.hardiness.hardening import SOFT, HardeningState, Season
from frostguard.hardiness.limits import load_limits
from frostguard.hardiness.model import Basis, Mark, Tissue, TissueLimit
from frostguard.hardiness.own import with_own_limits
from frostguard.hardiness.rating import taxon_from_rating
from frostguard.hardiness.taxon import Taxon
from frostguard.hardiness.today import limits_today
from frostguard.physics.foliage import bare_leaf_c, covered_leaf_c
from frostguard.physics.humidity import saturation_vapour_pressure_water_hpa
from frostguard.physics.radiation import default_sky_longwave_w_m2
from tests.fleeces import fleece
from tests.hardened import HARD

TAXA = load_limits().taxa
TYPICAL_WIND_M_S = 1.0
SHARES = st.floats(min_value=0, max_value=1)


def clear_night(air_c: float, *, wind_m_s: float = TYPICAL_WIND_M_S, sky_view: float = 1.0) -> dict[str, Any]:
    """An hour of a clear night, for the leaf's balance."""
    vapour_hpa = 0.8 * saturation_vapour_pressure_water_hpa(air_c)
    return {
        "air_temperature_c": air_c,
        "wind_speed_m_s": wind_m_s,
        "sky_longwave_w_m2": default_sky_longwave_w_m2(air_c, vapour_hpa, 0.0),
        "surroundings_c": air_c,
        "floor_c": air_c,
        "sun_w_m2": 0.0,
        "pressure_hpa": 1000.0,
        "sky_view": sky_view,
    }


def limits_of(taxon: Taxon, top: float = 1.0, **more: Any) -> dict[Tissue, TissueLimit]:
    asked: dict[str, Any] = {
        "hardening": HARD if top == 1.0 else HardeningState(top, top, 1.0, 0.0, 30),
        "season": Season.WINTER, "stage": None, "evergreen": None, "potted_this_autumn": False}
    return {limit.tissue: limit for limit in limits_today(taxon, **{**asked, **more})}


def chance(limit: TissueLimit, leaf_c: Any) -> float:
    return float(chance_of_damage(limit.limit_c, limit.spread_k, leaf_c))


def test_what_was_measured_is_tissue_and_what_is_told_is_air() -> None:
    """Freezing tests hold for the tissue; ratings, practice, memory and the gardener's word for the night's air."""
    assert {mark for mark in Mark if leaf_basis(mark) is Basis.TISSUE} == {Mark.MEASURED, Mark.FLOOR, Mark.LEARNED}
    limits = load_limits()
    assert limits.find("pansy").leaf_hardened.basis is Basis.SCREEN_AIR
    assert limits.find("box").leaf_hardened.basis is Basis.TISSUE  # Dirr & Smith 1988
    assert limits.find("strawberry").leaf_hardened.basis is Basis.TISSUE  # crowns, which the table says
    assert taxon_from_rating("H4").leaf_hardened.basis is Basis.SCREEN_AIR
    assert with_own_limits(limits.find("box"), OwnLimits(leaf_c=-9.0)).leaf_hardened.basis is Basis.SCREEN_AIR


def test_roots_buds_and_chilling_are_always_their_own_temperature() -> None:
    """Only leaves and wood are told as screen air, and the hearts told by them; no other limit moves by a hair."""
    for taxon in TAXA:
        told = dict(taxon.limits())
        assert all(one.basis is Basis.TISSUE for name, one in told.items() if not name.startswith("leaf")), taxon.key
        for stage in (None, *Stage):
            for tissue, limit in limits_of(taxon, stage=stage).items():
                assert limit.undershoot_k == 0.0 or tissue in (Tissue.LEAF, Tissue.HEART), (taxon.key, tissue)


@pytest.mark.parametrize("air_c", [-5.0, -8.0, -12.0])
def test_the_undershoot_is_that_of_a_leaf_on_a_typical_clear_calm_night(air_c: float) -> None:
    """A bare leaf under an open sky lies that far below the air in a wind of 1 m/s."""
    # 2 to 5 K below screen air (common practice, no source); a quarter kelvin for air from -5 to -12 degC
    below_k = air_c - bare_leaf_c(**clear_night(air_c))
    assert below_k == pytest.approx(UNDERSHOOT_K, abs=0.25)
    assert bare_leaf_c(**clear_night(air_c, wind_m_s=0.3)) < air_c - UNDERSHOOT_K  # a stiller night counts colder


@pytest.mark.parametrize("name", ["pansy", "olive", "camellia", "bay", "ivy"])
def test_a_limit_in_screen_air_is_an_even_chance_at_just_that_air(name: str) -> None:
    """On a typical clear calm night at the air of the table, half of the plants are hurt, as the table says."""
    taxon = load_limits().find(name)
    leaf = limits_of(taxon)[Tissue.LEAF]
    air_c = taxon.leaf_hardened.middle_c

    assert leaf.screen_air_c == pytest.approx(air_c)
    # the leaf's balance agrees with the undershoot within a quarter kelvin: 5 % of chance at these spreads
    assert chance(leaf, bare_leaf_c(**clear_night(air_c))) == pytest.approx(0.5, abs=0.06)


def test_a_limit_of_the_tissue_is_an_even_chance_at_just_that_leaf() -> None:
    """Box, whose leaves were frozen in a test, is judged by the leaf alone."""
    box = load_limits().find("box")
    leaf = limits_of(box)[Tissue.LEAF]
    assert leaf.limit_c == box.leaf_hardened.middle_c and leaf.screen_air_c is None


def test_soft_growth_gets_nothing_from_the_words_screen_air() -> None:
    """What is told to stand two degrees of frost or less is judged as if the limit were the leaf's own."""
    for taxon in TAXA:
        for limit in limits_of(taxon, hardening=SOFT, season=Season.AUTUMN).values():
            if limit.undershoot_k > 0.0:
                assert limit.limit_c + limit.undershoot_k < -2.0, taxon.key
    # zonal pelargoniums and busy Lizzies die with the first real frost (common practice, no source): on a clear
    # night with -1 degC of air their leaves are at -3
    for name in ("pelargonium", "busy Lizzie", "dahlia"):
        leaf = limits_of(load_limits().find(name), stage=Stage.NEW_SHOOTS)[Tissue.LEAF]
        assert chance(leaf, bare_leaf_c(**clear_night(-1.0))) > 0.9, name


@given(st.floats(min_value=-40, max_value=0), st.floats(min_value=0, max_value=10))
def test_hardier_as_told_is_never_tenderer_in_the_leaf(told_c: float, colder_k: float) -> None:
    """The undershoot keeps the order of limits, and is never negative nor above the whole."""
    assert 0.0 <= undershoot_k(told_c) <= UNDERSHOOT_K
    assert undershoot_k(told_c - colder_k) >= undershoot_k(told_c)


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(TAXA), SHARES, st.floats(min_value=-15, max_value=-1), SHARES, SHARES,
       st.floats(min_value=0.1, max_value=6.0))
def test_more_sky_is_never_safer(taxon: Taxon, top: float, air_c: float, one: float, other: float,
                                 wind_m_s: float) -> None:
    """A leaf that sees more of a clear sky is never the safer for it, whatever its limit was told for."""
    leaf = limits_of(taxon, top).get(Tissue.LEAF)
    if leaf is None:
        return
    under_less, under_more = (
        chance(leaf, bare_leaf_c(**clear_night(air_c, wind_m_s=wind_m_s, sky_view=view)))
        for view in sorted((one, other)))
    assert under_more >= under_less - 1e-9


@pytest.mark.parametrize("name", ["pansy", "olive", "oleander", "bay"])
def test_fleece_and_eaves_still_gain(name: str) -> None:
    """At the limit's own air on a clear calm night, fleece over the plant or a roof over it lowers the chance."""
    taxon = load_limits().find(name)
    leaf = limits_of(taxon)[Tissue.LEAF]
    night = clear_night(taxon.leaf_hardened.middle_c, wind_m_s=0.5)
    bare = chance(leaf, bare_leaf_c(**night))
    covered_c = covered_leaf_c(**night, cover=fleece(30.0, 2), mix_c=night["air_temperature_c"] + 3.0)
    assert chance(leaf, covered_c) < bare - 0.1
    assert chance(leaf, bare_leaf_c(**{**night, "sky_view": 0.25})) < bare - 0.1
