"""Root, whole-pot and bulb limits against what was published, and ratings against their definition."""

from __future__ import annotations

from itertools import pairwise

import pytest

from frostguard.hardiness.damage import chance_of_damage
from frostguard.hardiness.hardening import SOFT, Season
from frostguard.hardiness.limits import load_limits
from frostguard.hardiness.model import Mark, Tissue, TissueLimit
from frostguard.hardiness.rating import uk_band, usda_band
from frostguard.hardiness.today import limits_today
from tests.hardened import HARD


def winter(key: str) -> dict[Tissue, TissueLimit]:
    """Limits of a hardened plant in mid-winter."""
    limits = limits_today(load_limits().taxon(key), hardening=HARD, season=Season.WINTER, stage=None,
                          evergreen=None, potted_this_autumn=False)
    return {limit.tissue: limit for limit in limits}


# Dirr & Smith 1988, Cold injury in the landscape: Georgia 1983-84, Ornamentals Northwest Archives 12(5):5-9:
# 10, 0 and -9 degF whole roots of three rhododendrons; white roots of box and Japanese holly lost from
# 25 degF, of firethorn at 22 degF, of plumleaf azalea at 20 degF; tops of firethorn to -15 degF, of box to
# -5 degF.
@pytest.mark.parametrize(("key", "cell", "fahrenheit"), [
    ("rhododendron-hinodegiri", "whole root", 10),
    ("rhododendron-catawbiense-hybrids", "whole root", 0),
    ("rhododendron-pjm", "whole root", -9),
    ("buxus-sempervirens", "young root", 25),
    ("ilex-crenata", "young root", 25),
    ("pyracantha-coccinea", "young root", 22),
    ("rhododendron-prunifolium", "young root", 20),
    ("pyracantha-coccinea", "leaf hardened", -15),
    ("buxus-sempervirens", "leaf hardened", -5),
])
def test_values_seen_in_dirr_and_smith_are_in_the_table(key: str, cell: str, fahrenheit: int) -> None:
    """Each published value stands in the table, marked as measured."""
    limit = dict(load_limits().taxon(key).limits())[cell]
    assert limit.mark is Mark.MEASURED
    assert limit.temperature_c == pytest.approx((fahrenheit - 32) / 1.8, abs=0.06)  # kept to 0.1 K


# Havis 1976, HortScience 11(4):385-386, abstract seen: 38 taxa, -5.0 to -23.3 degC in all; rows from memory.
def test_recalled_root_values_say_so_and_lie_in_the_published_range() -> None:
    """Rows recalled from Havis are marked so, are whole degF, and lie within the range of the abstract."""
    table = load_limits()
    recalled = [(taxon.key, taxon.whole_root) for taxon in table if "Havis" in taxon.whole_root.source]
    assert len(recalled) >= 12
    for key, limit in recalled:
        assert limit.mark is Mark.FROM_MEMORY, key
        assert -23.3 <= limit.temperature_c <= -5.0, key
        fahrenheit = limit.temperature_c * 1.8 + 32
        assert fahrenheit == pytest.approx(round(fahrenheit), abs=0.11), key  # 0.06 K


# The same 38 rows by degF, from memory: what stands in the table under a name of its own, by its key there.
RECALLED_F = {
    23: "magnolia-soulangeana magnolia-stellata",
    20: "cornus-florida daphne-cneorum ilex-crenata ilex-opaca",
    18: "pyracantha-coccinea",
    16: "cryptomeria-japonica",
    15: "cotoneaster-horizontalis viburnum-carlesii cytisus-praecox buxus-sempervirens ilex-glabra euonymus-fortunei "
        "hedera-helix pachysandra-terminalis vinca-minor pieris-japonica",
    14: "acer-palmatum",
    10: "cotoneaster-adpressus taxus-baccata rhododendron-gibraltar rhododendron-hinodegiri",
    5: "leucothoe-fontanesiana pieris-floribunda",
    0: "juniperus-horizontalis rhododendron-carolinianum rhododendron-catawbiense-hybrids",
    -10: "rhododendron-pjm potentilla-fruticosa picea-glauca-conica picea-omorika",
}  # fmt: skip


@pytest.mark.parametrize(("key", "fahrenheit"), [(key, f) for f, keys in RECALLED_F.items() for key in keys.split()])
def test_roots_are_never_trusted_beyond_the_recalled_row_and_rarely_less(key: str, fahrenheit: int) -> None:
    """The table holds the row, or what another source says where that is warmer, by less than a kelvin."""
    limit_c = load_limits().taxon(key).whole_root.temperature_c
    row_c = (fahrenheit - 32) / 1.8
    assert row_c - 0.06 <= limit_c <= row_c + 0.7  # 0.5 K: 22.8 for 23.3, and 9.4 for 10


# Mathers, quoted by growers (American holly, weak), and Dirr & Smith (firethorn): 23 / 9 / -20 degF and
# 22 / 2 / -15 degF for immature roots, mature roots and tops. The table keeps the warmer of two mature
# values.
@pytest.mark.parametrize(("key", "mature_c", "top_c"), [
    ("ilex-opaca", -12.8, -28.9), ("pyracantha-coccinea", -16.7, -26.1)])
def test_young_roots_are_lost_before_old_ones_and_old_ones_before_the_top(
        key: str, mature_c: float, top_c: float) -> None:
    """Young, old, top: each stands more than the one before, and the colder published value is kept."""
    taxon = load_limits().taxon(key)
    assert taxon.young_root.temperature_c > taxon.whole_root.temperature_c > taxon.leaf_hardened.temperature_c
    assert taxon.whole_root.colder_c == pytest.approx(mature_c)
    assert taxon.leaf_hardened.temperature_c == pytest.approx(top_c)


def test_a_cold_wall_and_a_mild_core_cost_firethorn_its_young_roots_only() -> None:
    """With -6 degC at the wall and -2 degC in the core: young roots more likely lost than not, plant safe."""
    limits = winter("pyracantha-coccinea")
    young, whole = limits[Tissue.YOUNG_ROOT], limits[Tissue.WHOLE_ROOT]
    assert chance_of_damage(young.limit_c, young.spread_k, -6.0) > 0.5
    assert chance_of_damage(whole.limit_c, whole.spread_k, -2.0) < 0.05


# Controlled freezing of 23 container-grown herbaceous perennials, University of Vermont, J. Environ. Hort.,
# abstract: coldest 30-minute treatment after which plants could still be sold; 15 of the 23 survived -8 degC.
@pytest.mark.parametrize(("key", "saleable_c"), [
    ("phlox-divaricata", -11),
    ("campanula-takesimana", -8),
    ("heuchera-americana", -8),
    ("penstemon-fruticosus", -8),
    ("salvia-rosmarinus-arp", -8),
    ("tiarella-cordifolia", -8),
    ("erodium-reichardii", -5),
    ("hebe-macrocarpa", -5),
    ("verbena-homestead-purple", -5),
    ("houttuynia-cordata-chameleon", -2),
    ("thelypteris-kunthii", -2),
])
def test_perennials_in_pots_are_saleable_to_the_published_step(key: str, saleable_c: int) -> None:
    """A step warmer than published each plant is safe, two steps of 3 K colder it is lost."""
    roots = winter(key)[Tissue.WHOLE_ROOT]
    assert load_limits().taxon(key).leaf_hardened.temperature_c == saleable_c
    # Plants still on sale have living roots, so the step is a floor of the root limit: one in ten at most.
    assert roots.mark is Mark.FLOOR or key in ("heuchera-americana", "tiarella-cordifolia")
    assert chance_of_damage(roots.limit_c, roots.spread_k, saleable_c) <= 0.1001
    assert chance_of_damage(roots.limit_c, roots.spread_k, saleable_c + 3) < 0.1
    assert chance_of_damage(roots.limit_c, roots.spread_k, saleable_c - 6) > 0.9


def test_heuchera_is_safe_at_minus_seven_hurt_at_minus_nine_and_lost_at_minus_twelve() -> None:
    """The three steps of the trial, for a hardened plant; unhardened in September -1 degC is a risk."""
    limits = winter("heuchera-americana")
    young, whole = limits[Tissue.YOUNG_ROOT], limits[Tissue.WHOLE_ROOT]
    assert chance_of_damage(young.limit_c, young.spread_k, -7.0) < 0.15
    assert chance_of_damage(young.limit_c, young.spread_k, -9.0) > 0.85
    assert chance_of_damage(whole.limit_c, whole.spread_k, -9.0) < 0.05
    assert chance_of_damage(whole.limit_c, whole.spread_k, -12.0) > 0.85

    # Perry, University of Vermont Extension COH31: the same plant may die at 0 degC in September and survive
    # -14 degC in January. A tenth is the chance from which a pot counts as at risk.
    september = limits_today(load_limits().taxon("heuchera-americana"), hardening=SOFT,
                             season=Season.AUTUMN, stage=None, evergreen=None, potted_this_autumn=False)
    leaf = next(limit for limit in september if limit.tissue is Tissue.LEAF)
    assert chance_of_damage(leaf.limit_c, leaf.spread_k, -1.0) > 0.1


def test_a_hardy_hibiscus_that_no_treatment_spared_is_tender_in_a_pot() -> None:
    """Hibiscus moscheutos was unsaleable after every freezing: -5 degC in the pot loses it."""
    roots = winter("hibiscus-moscheutos")[Tissue.WHOLE_ROOT]
    assert chance_of_damage(roots.limit_c, roots.spread_k, -5.0) > 0.95


def test_whole_bulbs_stand_frost_in_the_published_order() -> None:
    """Whole bulbs rank from muscari, the hardiest, down to freesia."""
    # Sakai 1960, J. Jap. Soc. Hort. Sci. 29(3):233-238: lowest temperature survived in 24 h, in winter.
    order = ["muscari", "ornithogalum", "narcissus-poeticus", "tulipa", "hyacinthus-orientalis",
             "crocosmia", "freesia"]
    survived = []
    for key in order:
        bulb = load_limits().taxon(key).bulb
        assert bulb is not None and bulb.survived is not None
        assert bulb.survived.mark is Mark.MEASURED
        survived.append(bulb.survived.range_middle_c)
    assert all(hardier < tenderer for hardier, tenderer in pairwise(survived))
    crocus = load_limits().taxon("crocus").bulb
    assert crocus is not None and crocus.survived is not None
    assert crocus.survived.temperature_c == survived[3]


def test_lily_roots_in_the_table_are_what_was_measured() -> None:
    """The warmest of the lilies measured stands for all."""
    # Du, Anderson & Xia 2013, Acta Hort. 1002, abstract: LT50 -6 degC for all tissues of Lilium longiflorum and
    # for the roots of L. formosanum.
    roots = load_limits().taxon("lilium").whole_root
    assert (roots.mark, roots.temperature_c) == (Mark.MEASURED, -6.0)


def test_rooted_bulbs_in_pots_are_never_trusted_beyond_dry_ones() -> None:
    """The root limit of a potted bulb is no colder than what whole bulbs survived in the freezer."""
    for taxon in load_limits():
        if taxon.bulb is not None and taxon.bulb.survived is not None:
            assert taxon.whole_root.middle_c >= taxon.bulb.survived.range_middle_c, taxon.key


# USDA Plant Hardiness Zone Map: 26 bands of 5 degF from -60 degF; degC to one decimal, as usually printed.
ZONES_C = [
    ("1a", -51.1, -48.3), ("1b", -48.3, -45.6), ("2a", -45.6, -42.8), ("2b", -42.8, -40.0),
    ("3a", -40.0, -37.2), ("3b", -37.2, -34.4), ("4a", -34.4, -31.7), ("4b", -31.7, -28.9),
    ("5a", -28.9, -26.1), ("5b", -26.1, -23.3), ("6a", -23.3, -20.6), ("6b", -20.6, -17.8),
    ("7a", -17.8, -15.0), ("7b", -15.0, -12.2), ("8a", -12.2, -9.4), ("8b", -9.4, -6.7),
    ("9a", -6.7, -3.9), ("9b", -3.9, -1.1), ("10a", -1.1, 1.7), ("10b", 1.7, 4.4),
    ("11a", 4.4, 7.2), ("11b", 7.2, 10.0), ("12a", 10.0, 12.8), ("12b", 12.8, 15.6),
    ("13a", 15.6, 18.3), ("13b", 18.3, 21.1),
]


@pytest.mark.parametrize(("zone", "colder_c", "warmer_c"), ZONES_C)
def test_every_zone_has_its_printed_temperatures(zone: str, colder_c: float, warmer_c: float) -> None:
    """Each of the 26 half-zones runs from its colder to its warmer end."""
    band = usda_band(zone)
    assert band.colder_c == pytest.approx(colder_c, abs=0.05)
    assert band.warmer_c == pytest.approx(warmer_c, abs=0.05)


# UK hardiness ratings sheet.
@pytest.mark.parametrize(("rating", "colder_c", "warmer_c"), [
    ("H1b", 10, 15), ("H1c", 5, 10), ("H2", 1, 5), ("H3", -5, 1), ("H4", -10, -5), ("H5", -15, -10),
    ("H6", -20, -15)])
def test_every_uk_rating_has_its_published_band(rating: str, colder_c: float, warmer_c: float) -> None:
    """The bands between the open ends are as published."""
    assert (uk_band(rating).colder_c, uk_band(rating).warmer_c) == (colder_c, warmer_c)


# Published partners of the UK ratings: H1a 13, H1b 12, H1c 11, H2 10b, H3 9b and 10a, H4 8b and 9a.
@pytest.mark.parametrize(("rating", "zones"), [
    ("H1b", {"12a", "12b"}), ("H1c", {"11a", "11b"}), ("H2", {"10b"}), ("H3", {"9b", "10a"}),
    ("H4", {"8b", "9a"})])
def test_uk_ratings_meet_their_published_usda_partners(rating: str, zones: set[str]) -> None:
    """The zones whose middle lies in a rating's band are the ones published beside it."""
    band = uk_band(rating)
    inside = {zone for zone, colder_c, warmer_c in ZONES_C
              if band.colder_c <= (colder_c + warmer_c) / 2 < band.warmer_c}
    assert inside == zones
