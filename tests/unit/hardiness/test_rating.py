"""Hardiness ratings and the rules for roots."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostguard.hardiness.model import Mark
from frostguard.hardiness.rating import (
    UnknownRating,
    band_of,
    capped_spread_k,
    taxon_from_rating,
    uk_band,
    usda_band,
    whole_root_by_rule_c,
    whole_root_rule_source,
    young_root_by_rule_c,
    young_root_rule_source,
)

SHOOTS_C = st.floats(min_value=-50, max_value=10)


@pytest.mark.parametrize("rating", ["7b", "7B", "zone 7b", "USDA 7b", "usda zone 7b", " 7 b ", "7"])
def test_a_zone_may_be_written_as_people_write_it(rating: str) -> None:
    """Zone and scale words and capitals make no difference; a whole zone is its warmer half."""
    assert band_of(rating).rating == "7b"


@pytest.mark.parametrize("rating", ["", "0a", "14a", "7c", "H8", "H0", "H1", "hardy", "-5", "b7"])
def test_a_rating_on_neither_scale_is_refused(rating: str) -> None:
    """Anything else is refused, with the two scales named."""
    with pytest.raises(UnknownRating) as refusal:
        taxon_from_rating(rating)
    assert "13b" in refusal.value.next_step and "H7" in refusal.value.next_step


@given(SHOOTS_C, SHOOTS_C)
def test_hardier_shoots_never_mean_tenderer_roots(one_c: float, other_c: float) -> None:
    """Both root rules follow the shoots in order."""
    colder_c, warmer_c = sorted((one_c, other_c))
    assert whole_root_by_rule_c(colder_c) <= whole_root_by_rule_c(warmer_c)
    assert young_root_by_rule_c(colder_c) <= young_root_by_rule_c(warmer_c)


@given(SHOOTS_C)
def test_young_roots_are_never_hardier_than_the_root_system_nor_roots_than_shoots(shoot_c: float) -> None:
    """The order young root, whole root, shoot holds for every shoot limit below freezing."""
    assert young_root_by_rule_c(shoot_c) >= whole_root_by_rule_c(shoot_c)
    assert -12.0 <= whole_root_by_rule_c(shoot_c) <= 0.0
    if shoot_c <= -5.0:
        assert whole_root_by_rule_c(shoot_c) > shoot_c


def test_two_zones_is_twenty_fahrenheit() -> None:
    """A plant rated to -20 degC keeps its roots to -8.9 degC in a pot, 20 degF warmer."""
    # Brooklyn Botanic Garden, advice on pots: two zones; 20 degF = 11.1 K, so -20 + 11.1.
    assert whole_root_by_rule_c(-20.0) == pytest.approx(-8.9, abs=0.05)


def test_a_rated_plant_has_every_value_marked_as_derived_by_rule() -> None:
    """Nothing about a plant that is known by rating only passes for more than it is."""
    for rating in ("1a", "7b", "9a", "13b", "H1a", "H1c", "H2", "H3", "H4", "H7"):
        taxon = taxon_from_rating(rating)
        assert all(limit.mark is Mark.BY_RULE for _, limit in taxon.limits())
        assert taxon.leaf_soft.middle_c >= taxon.leaf_hardened.middle_c
        assert taxon.young_root.middle_c >= taxon.whole_root.middle_c


def test_a_tender_rating_means_no_frost_and_a_tropical_one_no_chill() -> None:
    """H2 is hurt at the first ice; H1c, at home above 5 degC, is also chilled."""
    assert taxon_from_rating("H2").leaf_hardened.temperature_c == 0.0
    assert taxon_from_rating("H2").chill is None
    chilled = taxon_from_rating("H1c").chill
    assert chilled is not None and chilled.temperature_c == 10.0


@given(st.floats(min_value=-30, max_value=0), st.floats(min_value=0.3, max_value=6))
def test_a_capped_spread_leaves_little_chance_without_ice(temperature_c: float, spread_k: float) -> None:
    """From -1 degC down, the capped spread keeps 0 degC at least 2.3 spreads away."""
    capped = capped_spread_k(temperature_c, spread_k)
    assert 0 < capped <= spread_k
    if temperature_c <= -1.0:
        assert -temperature_c / capped >= 2.32


def test_bands_join_without_gap_or_overlap() -> None:
    """Every band's warmer end is the next one's colder end, on both scales."""
    zones = [usda_band(f"{number}{half}") for number in range(1, 14) for half in "ab"]
    for colder, warmer in pairwise(zones):
        assert colder.warmer_c == pytest.approx(warmer.colder_c, abs=1e-9)
    ratings = [uk_band(name) for name in ("H7", "H6", "H5", "H4", "H3", "H2", "H1c", "H1b", "H1a")]
    for colder, warmer in pairwise(ratings):
        assert colder.warmer_c == warmer.colder_c


def test_the_source_of_a_root_limit_by_rule_names_the_temperature_that_was_used() -> None:
    """A bound of the rule stands in the source of the limit that it gave, and in no other."""
    for shoot_c, young, whole in (
        (0.0, "0 degC", "-1 degC"),
        (-3.0, "-1 degC", "-2 degC"),
        (-7.0, "-2 degC", "-4 degC"),
        (-30.0, "-4 degC", "-12 degC"),
    ):
        assert young in young_root_rule_source(shoot_c)
        assert whole in whole_root_rule_source(shoot_c)
    assert "-4 degC" not in young_root_rule_source(0.0) + whole_root_rule_source(-20.0)
    tender = taxon_from_rating("H2")
    assert "-4 degC" not in tender.young_root.source + tender.whole_root.source
