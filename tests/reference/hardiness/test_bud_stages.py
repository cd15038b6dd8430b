"""Bud-stage tables against the printed 10 % and 90 % kill temperatures."""

from __future__ import annotations

import pytest

from frostguard.garden.model import Stage
from frostguard.hardiness.damage import chance_of_damage
from frostguard.hardiness.hardening import Season
from frostguard.hardiness.limits import load_bud_stages, load_limits
from frostguard.hardiness.model import Tissue
from frostguard.hardiness.today import limits_today
from tests.hardened import HARD

# Penn State Extension table of WSU bulletins EB0913, EB0978, EB1128, EB0914, EB1240, 30 minutes, 10 % and
# 90 % kill, here as degC to one decimal (converted from whole degF by hand).
PRINTED_C = [
    ("apple", "silver tip", -9.4, -16.7),
    ("apple", "green tip", -7.8, -12.2),
    ("apple", "half-inch green", -5.0, -9.4),
    ("apple", "tight cluster", -2.8, -6.1),
    ("apple", "first pink", -2.2, -4.4),
    ("apple", "full bloom", -2.2, -3.9),
    ("peach", "first swelling", -7.8, -17.2),
    ("peach", "calyx green", -6.1, -15.0),
    ("peach", "calyx red", -5.0, -12.8),
    ("peach", "first pink", -3.9, -9.4),
    ("peach", "first bloom", -3.3, -6.1),
    ("peach", "full bloom", -2.8, -4.4),
    ("peach", "post bloom", -2.2, -3.9),
    ("pear", "scales separating", -9.4, -17.8),
    ("pear", "buds exposed", -6.7, -14.4),
    ("pear", "tight cluster", -4.4, -9.4),
    ("pear", "first white", -3.9, -7.2),
    ("pear", "full white", -3.3, -5.6),
    ("pear", "first bloom", -2.8, -5.0),
    ("pear", "full and post bloom", -2.2, -4.4),
    ("sweet cherry", "first swelling", -8.3, -15.0),
    ("sweet cherry", "side green", -5.6, -12.8),
    ("sweet cherry", "green tip", -3.9, -10.0),
    ("sweet cherry", "tight cluster", -3.3, -8.3),
    ("sweet cherry", "open cluster", -2.8, -6.1),
    ("sweet cherry", "first white", -2.8, -4.4),
    ("sweet cherry", "bloom and after", -2.2, -3.9),
    # Michigan State University sheet, degF 27/22 and 28/25, 26/22 and 28/23.
    ("apricot", "full bloom", -2.8, -5.6),
    ("apricot", "green fruit", -2.2, -3.9),
    ("plum", "first white", -3.3, -5.6),
    ("plum", "post bloom", -2.2, -5.0),
]


@pytest.mark.parametrize(("fruit", "stage", "ten_c", "ninety_c"), PRINTED_C)
def test_a_tenth_and_nine_tenths_are_killed_at_the_printed_temperatures(
        fruit: str, stage: str, ten_c: float, ninety_c: float) -> None:
    """The distribution of a stage passes through both printed points."""
    limit = load_bud_stages(fruit)[stage]
    # Printed to 0.1 K after conversion, and one spread is at least 0.65 K: 0.05 K is 1.4 % of chance.
    assert chance_of_damage(limit.temperature_c, limit.spread_k, ten_c) == pytest.approx(0.10, abs=0.02)
    assert chance_of_damage(limit.temperature_c, limit.spread_k, ninety_c) == pytest.approx(0.90, abs=0.02)


def test_half_the_apple_blossom_is_lost_half_way() -> None:
    """An apple in full bloom at -3.05 degC loses half its blossom, 10 % at -2.2 and 90 % at -3.9 degC."""
    apple = load_limits().find("apple")
    limits = limits_today(apple, hardening=HARD, season=Season.SPRING, stage=Stage.OPEN_FLOWERS,
                          evergreen=None, potted_this_autumn=False)
    bloom = next(limit for limit in limits if limit.tissue is Tissue.BUD)
    for coldest_c, chance in ((-2.2, 0.10), (-3.05, 0.50), (-3.9, 0.90)):
        assert chance_of_damage(bloom.limit_c, bloom.spread_k, coldest_c) == pytest.approx(chance, abs=0.02)


@pytest.mark.parametrize("fruit", ["apple", "peach", "pear", "sweet cherry", "apricot", "plum"])
def test_buds_grow_tenderer_from_stage_to_stage(fruit: str) -> None:
    """In every fruit the middle of each stage is no colder than that of the stage before."""
    middles = [limit.temperature_c for limit in load_bud_stages(fruit).values()]
    assert middles == sorted(middles)


# Michigan State University Extension, blueberry: bloom -2.2 degC (28 degF), late pink from -2.8 degC
# (27 degF), swelling buds from -9.4 degC (15 degF): the warmer ends.
@pytest.mark.parametrize(("stage", "limit_c"), [
    (Stage.SWELLING_BUDS, -9.4), (Stage.BUDS_IN_COLOUR, -2.8), (Stage.OPEN_FLOWERS, -2.2)])
def test_blueberry_stages_are_the_warmer_ends_of_the_printed_ranges(stage: Stage, limit_c: float) -> None:
    """Where a range is printed the warmer value is used."""
    assert load_limits().find("blueberry").buds[stage].temperature_c == pytest.approx(limit_c, abs=0.05)
