"""Which tissues count today, what they stand, and what they are worth."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from frostguard.garden.model import Stage, Stem
from frostguard.hardiness.damage import chance_of_damage, held_margin_k
from frostguard.hardiness.hardening import SOFT, HardeningState, Season, climatological_state, next_day
from frostguard.hardiness.limits import load_limits
from frostguard.hardiness.model import Mark, Tissue, TissueLimit
from frostguard.hardiness.rating import taxon_from_rating
from frostguard.hardiness.taxon import StageRule, Taxon
from frostguard.hardiness.today import STAGE_CODES, limits_today
from tests.hardened import HARD

TAXA = load_limits().taxa
BUDDING = HardeningState(top=0.5, root=0.6, ceiling=0.7, heat_k_d=110.0, days_known=30)
SHARES = st.floats(min_value=0, max_value=1)


def today(taxon: Taxon | str, hardening: HardeningState = HARD, season: Season = Season.WINTER, *,
          stage: Stage | None = None, evergreen: bool | None = None,
          potted_this_autumn: bool = False, stem: Stem | None = None) -> dict[Tissue, TissueLimit]:
    """Today's limits by tissue."""
    plant = load_limits().taxon(taxon) if isinstance(taxon, str) else taxon
    limits = limits_today(plant, hardening=hardening, season=season, stage=stage, evergreen=evergreen,
                          potted_this_autumn=potted_this_autumn, stem=stem)
    found = {limit.tissue: limit for limit in limits}
    assert len(found) == len(limits), "a tissue is told twice"
    return found


def test_a_leafless_shrub_in_winter_is_judged_by_its_wood() -> None:
    """A dormant Japanese maple has wood and two root limits, and neither buds nor chill."""
    limits = today("acer-palmatum")
    assert set(limits) == {Tissue.LEAF, Tissue.YOUNG_ROOT, Tissue.WHOLE_ROOT}
    assert limits[Tissue.LEAF].stage == "wood, hardened"
    assert limits[Tissue.LEAF].screen_air_c == pytest.approx(-18.0)


def test_the_same_shrub_with_new_leaves_is_tender() -> None:
    """New shoots of a Japanese maple stand about -1 degC, whether seen or told by the season."""
    seen = today("acer-palmatum", BUDDING, Season.SPRING, stage=Stage.NEW_SHOOTS)[Tissue.LEAF]
    later = HardeningState(top=0.3, root=0.4, ceiling=0.5, heat_k_d=200.0, days_known=30)
    told = today("acer-palmatum", later, Season.SPRING)[Tissue.LEAF]
    assert seen.stage == told.stage == "new shoots"
    assert seen.limit_c == told.limit_c == pytest.approx(-1.0)


def test_an_evergreen_keeps_its_leaves_and_its_new_shoots_are_told_apart() -> None:
    """Red pieris shoots are a BUD limit of -1 degC beside the old leaves."""
    limits = today("pieris-japonica", BUDDING, Season.SPRING, stage=Stage.NEW_SHOOTS)
    assert limits[Tissue.BUD].limit_c == pytest.approx(-1.0)
    assert limits[Tissue.LEAF].limit_c < -5.0
    assert limits[Tissue.LEAF].stage.startswith("leaves")


@pytest.mark.parametrize("key", ["hosta", "dahlia", "tulipa", "dryopteris-filix-mas"])
def test_a_plant_that_has_died_down_has_no_leaf_to_lose(key: str) -> None:
    """Below the mix only roots count, in winter and through autumn's first frosts."""
    assert Tissue.LEAF not in today(key)
    assert Tissue.LEAF not in today(key, SOFT, Season.AUTUMN)


def test_a_plant_that_dies_down_is_tender_when_it_comes_up() -> None:
    """Hosta noses in April stand -1 degC however hard the winter was."""
    limits = today("hosta", HardeningState(0.6, 0.7, 0.8, 180.0, 30), Season.SPRING)
    assert limits[Tissue.LEAF].limit_c == pytest.approx(-1.0)


def test_buds_count_only_when_they_can_be_lost() -> None:
    """An apple in January has no bud limit; in bloom it has, by the gardener's word or the heat sum."""
    assert Tissue.BUD not in today("malus-domestica")
    seen = today("malus-domestica", BUDDING, Season.SPRING, stage=Stage.OPEN_FLOWERS)[Tissue.BUD]
    bloom = HardeningState(top=0.2, root=0.3, ceiling=0.4, heat_k_d=240.0, days_known=30)
    told = today("malus-domestica", bloom, Season.SPRING)[Tissue.BUD]
    assert seen == told
    assert seen.stage == "open flowers"


def test_early_bloomers_are_ahead_of_late_ones_on_the_same_day() -> None:
    """With the heat that opens an apricot an apple's buds only swell."""
    assert today("prunus-armeniaca", BUDDING, Season.SPRING)[Tissue.BUD].stage == "open flowers"
    assert today("malus-domestica", BUDDING, Season.SPRING)[Tissue.BUD].stage == "swelling buds"


def test_a_stage_that_the_gardener_sees_counts_even_without_a_value_in_the_table() -> None:
    """Flowers on a plant without flower limits get a cautious estimate, marked so."""
    limits = today("laurus-nobilis", stage=Stage.OPEN_FLOWERS)
    assert limits[Tissue.BUD].mark is Mark.ESTIMATE
    assert -3.0 < limits[Tissue.BUD].limit_c < 0.0
    assert Tissue.BUD not in today("laurus-nobilis", BUDDING, Season.SPRING)


def test_a_bare_stem_goes_by_leaves_or_wood_and_a_graft_stands_less() -> None:
    """A stem outlives evergreen leaves, is as hard as leafless wood, and where it is grafted stands 2 K less."""
    # Common practice: the graft is the weak place of standard roses; an olive that has lost its leaves shoots again.
    assert Tissue.STEM not in today("rosa-modern")
    rose = {stem: today("rosa-modern", stem=stem)[Tissue.STEM] for stem in Stem}
    assert rose[Stem.GRAFTED].limit_c == pytest.approx(rose[Stem.STANDARD].limit_c + 2.0, abs=0.01)
    assert rose[Stem.STANDARD].limit_c < rose[Stem.YOUNG_TRUNK].limit_c < rose[Stem.GRAFTED].limit_c
    assert {limit.mark for limit in rose.values()} == {Mark.BY_RULE}
    assert rose[Stem.GRAFTED].value_share == 1.0 > rose[Stem.STANDARD].value_share  # below a dead graft is a rootstock
    olive = today("olea-europaea", stem=Stem.STANDARD)
    air_c = {tissue: olive[tissue].screen_air_c for tissue in (Tissue.STEM, Tissue.LEAF)}
    assert air_c[Tissue.STEM] == pytest.approx((air_c[Tissue.LEAF] or 0.0) - 2.0, abs=0.01)


@pytest.mark.parametrize("key", [taxon.key for taxon in TAXA if taxon.stage_rule is StageRule.IN_FLUSHES])
def test_what_grows_in_flushes_has_soft_shoots_while_it_is_soft_and_flowers_by_word_only(key: str) -> None:
    """A lemon flushes whenever it is warm (common practice): no heat sum says so, only that it has not hardened."""
    ripe = HardeningState(top=0.6, root=0.5, ceiling=1.0, heat_k_d=900.0, days_known=60)
    assert Tissue.BUD not in today(key, ripe, Season.SPRING)
    soft = today(key, SOFT, Season.WINTER)
    told = soft.get(Tissue.BUD, soft[Tissue.LEAF])
    assert "new shoots" in told.stage or "soft" in told.stage
    flowers = today(key, SOFT, Season.WINTER, stage=Stage.OPEN_FLOWERS)[Tissue.BUD]
    assert flowers.limit_c >= min(load_limits().taxon(key).leaf_hardened.middle_c, -0.5)


def test_every_citrus_that_flushes_is_judged_by_its_shoots_in_a_warm_room() -> None:
    """A lemon that has spent January at 15 degC is in growth: its shoots are lost at the first degree of frost."""
    for key in ("citrus-limon", "citrus-sinensis", "citrus-microcarpa"):
        # Oswalt, University of Florida: leaves of the spring flush rarely survive 31 degF; to the tenth that is printed
        assert today(key, SOFT, Season.WINTER)[Tissue.BUD].limit_c == pytest.approx((31 - 32) / 1.8, abs=0.06)
        assert Tissue.BUD not in today(key, HARD, Season.WINTER)


def test_the_shoots_of_bedding_are_the_whole_plant_in_may() -> None:
    """A petunia, or a fuchsia, that freezes on an ice saint's night is not told as regrowth that comes again."""
    may = HardeningState(top=0.0, root=0.0, ceiling=0.2, heat_k_d=340.0, days_known=60)
    assert today("petunia-atkinsiana", may, Season.SPRING)[Tissue.LEAF].value_share == 1.0
    assert today("fuchsia-hybrida", may, Season.SPRING)[Tissue.LEAF].value_share == 0.5
    assert today("dahlia", may, Season.SPRING)[Tissue.LEAF].value_share == 0.15


def test_dormant_flower_buds_of_a_hortensia_count_in_winter() -> None:
    """Hortensia flower buds are lost near -10 degC while the wood stands -18 degC."""
    limits = today("hydrangea-macrophylla")
    assert limits[Tissue.BUD].limit_c == pytest.approx(-10.0)
    assert limits[Tissue.LEAF].limit_c == pytest.approx(-18.0)


def test_the_gardeners_word_on_leaves_wins() -> None:
    """A fuchsia kept in leaf and a privet that dropped its leaves are taken as they are."""
    assert today("pyracantha-coccinea", evergreen=False)[Tissue.LEAF].stage.startswith("wood")
    assert today("hosta", evergreen=True)[Tissue.LEAF].stage.startswith("leaves")


def test_chilling_counts_for_plants_of_warm_climates_only() -> None:
    """Basil is harmed well above freezing, and bay is not."""
    assert today("ocimum-basilicum", SOFT, Season.AUTUMN)[Tissue.CHILL].limit_c > 5.0
    assert Tissue.CHILL not in today("laurus-nobilis")


def test_what_is_lost_with_a_tissue_fits_the_plant() -> None:
    """Top loss is the whole of a tomato, half of a lemon, a blemish on a box."""
    assert today("solanum-lycopersicum", SOFT, Season.AUTUMN)[Tissue.LEAF].value_share == 1.0
    assert today("citrus-limon")[Tissue.LEAF].value_share == 0.5
    assert today("buxus-sempervirens")[Tissue.LEAF].value_share == 0.15
    assert today("buxus-sempervirens")[Tissue.WHOLE_ROOT].value_share == 1.0
    assert today("buxus-sempervirens")[Tissue.YOUNG_ROOT].value_share == 0.15


def test_a_floor_is_read_as_a_small_chance_and_not_as_an_even_one() -> None:
    """At -19 degC, where Chinese juniper was unhurt, the chance of scorch is a tenth."""
    limit = today("juniperus-chinensis")[Tissue.LEAF]
    assert limit.mark is Mark.FLOOR
    assert chance_of_damage(limit.limit_c, limit.spread_k, -19.0) == pytest.approx(0.1, abs=0.005)


def test_what_was_fed_late_is_softer_in_every_tissue_that_hardens() -> None:
    """Nitrogen after mid-August leaves shoots and roots less hard, and never hardens young roots."""
    taxon = load_limits().taxon("buxus-sempervirens")
    season = {"season": Season.WINTER, "stage": None, "evergreen": None, "potted_this_autumn": False}
    lean, fed = (
        {limit.tissue: limit.limit_c for limit in limits_today(taxon, hardening=HARD, fed_late=late, **season)}
        for late in (False, True)
    )

    assert fed[Tissue.LEAF] > lean[Tissue.LEAF] + 1.0 and fed[Tissue.WHOLE_ROOT] > lean[Tissue.WHOLE_ROOT]
    assert 0.0 <= fed[Tissue.YOUNG_ROOT] - lean[Tissue.YOUNG_ROOT] <= 1.0


def test_potted_this_autumn_is_softer_in_every_tissue_that_hardens() -> None:
    """A plant potted in autumn stands less in leaves and in roots, and the young roots at most 1 K less."""
    settled, fresh = today("buxus-sempervirens"), today("buxus-sempervirens", potted_this_autumn=True)
    assert fresh[Tissue.LEAF].limit_c > settled[Tissue.LEAF].limit_c + 2.0
    assert fresh[Tissue.WHOLE_ROOT].limit_c > settled[Tissue.WHOLE_ROOT].limit_c + 1.0
    assert 0.0 < fresh[Tissue.YOUNG_ROOT].limit_c - settled[Tissue.YOUNG_ROOT].limit_c <= 1.0


def test_a_soft_root_system_says_that_the_limit_is_a_rule() -> None:
    """In October the whole-root limit of a box is not the measured winter value, and does not claim to be."""
    soft = today("rhododendron-pjm", SOFT, Season.AUTUMN)[Tissue.WHOLE_ROOT]
    hard = today("rhododendron-pjm")[Tissue.WHOLE_ROOT]
    assert soft.mark is Mark.BY_RULE and soft.limit_c == pytest.approx(-3.0)
    assert hard.mark is Mark.MEASURED and hard.limit_c == pytest.approx(-22.8)


def test_a_plant_known_by_rating_only_has_today_limits_too() -> None:
    """A rated plant goes the same way and every limit says that it is derived."""
    limits = today(taxon_from_rating("H5"))
    assert all(limit.mark is Mark.BY_RULE for limit in limits.values())
    assert limits[Tissue.LEAF].screen_air_c == pytest.approx(-10.0)


@pytest.mark.parametrize(("hardening", "season"), [
    (HARD, Season.WINTER), (SOFT, Season.AUTUMN), (BUDDING, Season.SPRING)])
def test_frost_needs_ice(hardening: HardeningState, season: Season) -> None:
    """At 0 degC no tissue of any plant but chilled ones has more than one chance in twenty to be hurt."""
    for taxon in TAXA:
        for tissue, limit in today(taxon, hardening, season).items():
            if tissue is not Tissue.CHILL:
                assert chance_of_damage(limit.limit_c, limit.spread_k, 0.0) <= 0.05, (taxon.key, tissue)


@settings(max_examples=200, deadline=None)
@given(st.sampled_from(TAXA), SHARES, SHARES, st.booleans())
def test_harder_plants_never_stand_less(taxon: Taxon, softer: float, more: float, potted: bool) -> None:
    """Within a season, more hardening never makes any limit warmer, and roots keep their order."""
    low = HardeningState(softer, softer, 1.0, 0.0, 30)
    high = HardeningState(max(softer, more), max(softer, more), 1.0, 0.0, 30)
    before = today(taxon, low, potted_this_autumn=potted)
    after = today(taxon, high, potted_this_autumn=potted)
    # what grows in flushes has soft shoots only while it is soft
    flushes = taxon.stage_rule is StageRule.IN_FLUSHES
    assert after.keys() <= before.keys() and before.keys() - after.keys() <= ({Tissue.BUD} if flushes else set())
    for tissue in after:
        assert after[tissue].limit_c <= before[tissue].limit_c + 1e-9
        assert before[tissue].stage in STAGE_CODES and after[tissue].stage in STAGE_CODES
        assert before[tissue].spread_k > 0 and 0 < before[tissue].value_share <= 1
    assert before[Tissue.YOUNG_ROOT].limit_c >= before[Tissue.WHOLE_ROOT].limit_c - 1e-9


@pytest.mark.parametrize("mean_c", [10.5, 13.0, 17.0])
def test_ten_warm_january_days_raise_the_root_limit_by_one_to_ten_kelvin(mean_c: float) -> None:
    """Ten mild days in January move whole-root limits up by 1 to 10 K, young-root limits by at most 1 K."""
    # Inference from published directions: roots track the temperature of the week before (Pellett group,
    # 1967-68), white roots hardly harden (Mityga & Lanphear 1971). A limit that already lies near the
    # freezing of the mix has no room to move by a whole kelvin.
    first = date(2026, 1, 10)
    state = cold = climatological_state(first, 46.0)
    for offset in range(10):
        state = next_day(state, first + timedelta(days=offset), mean_c - 4, mean_c, 46.0)
    for taxon in TAXA:
        before, after, soft = today(taxon, cold), today(taxon, state), today(taxon, SOFT)
        moved_k = after[Tissue.WHOLE_ROOT].limit_c - before[Tissue.WHOLE_ROOT].limit_c
        room_k = soft[Tissue.WHOLE_ROOT].limit_c - before[Tissue.WHOLE_ROOT].limit_c
        assert 0.0 <= moved_k <= 10.0, taxon.key
        assert moved_k >= 1.0 or room_k < 2.6, taxon.key
        assert 0.0 <= after[Tissue.YOUNG_ROOT].limit_c - before[Tissue.YOUNG_ROOT].limit_c <= 1.0, taxon.key


def test_young_roots_hardly_follow_the_season() -> None:
    """Between full growth and mid-winter the young-root limit of every plant moves by at most 1 K."""
    for taxon in TAXA:
        summer = today(taxon, SOFT, Season.AUTUMN)[Tissue.YOUNG_ROOT].limit_c
        winter = today(taxon)[Tissue.YOUNG_ROOT].limit_c
        assert 0.0 <= summer - winter <= 1.0, taxon.key


def test_young_roots_in_growth_stand_the_first_ice_in_the_mix() -> None:
    """In September young roots of plants that are not tender are not lost before -2 degC."""
    # inference from Coleman et al. 1992, Can. J. For. Res. 22:932-938: unhardened roots die with bulk freezing
    for taxon in TAXA:
        soft = today(taxon, SOFT, Season.AUTUMN)[Tissue.YOUNG_ROOT]
        if taxon.young_root.middle_c <= -2.0:
            assert soft.limit_c <= -2.0, taxon.key


def test_a_time_that_the_source_names_is_not_counted_again() -> None:
    """Pansies are in danger where -9 degC is held for several hours: that cold held so long is as likely to hurt as
    not, and half an hour of it less so; where no time is told a limit is that of half an hour."""
    leaf = today("viola-wittrockiana")[Tissue.LEAF]
    assert leaf.held_k == pytest.approx(held_margin_k(4.0))
    held_c, short_c = leaf.limit_c - held_margin_k(4.0), leaf.limit_c
    held, short = (
        float(chance_of_damage(leaf.limit_c - leaf.held_k, leaf.spread_k, cold_c)) for cold_c in (held_c, short_c))
    assert held == pytest.approx(0.5, abs=0.01) and short < 0.45
    assert today("viola-wittrockiana", SOFT, Season.AUTUMN)[Tissue.LEAF].held_k == 0.0
    assert today("buxus-sempervirens")[Tissue.LEAF].held_k == 0.0
    # 60 min by the abstract of Nobel & De la Barrera 2003
    assert today("opuntia-ficus-indica")[Tissue.WHOLE_ROOT].held_k == pytest.approx(held_margin_k(1.0))


def test_what_has_one_growing_point_dies_with_it() -> None:
    """Palms and rosettes have a heart that stands a little more than the leaves, and with it goes all of their value;
    what comes again from the base has none (from memory)."""
    palm, rosette = today("trachycarpus-fortunei"), today("echeveria")
    for limits in (palm, rosette):
        assert limits[Tissue.HEART].limit_c < limits[Tissue.LEAF].limit_c
        assert limits[Tissue.HEART].value_share == 1.0 and limits[Tissue.HEART].mark is Mark.BY_RULE
    spare_k = [limits[Tissue.LEAF].limit_c - limits[Tissue.HEART].limit_c for limits in (palm, rosette)]
    assert spare_k == pytest.approx([4.0, 2.0])
    sprouting = (
        "cordyline-australis", "musa-basjoo", "strelitzia-reginae", "phormium-tenax", "canna-indica", "brugmansia",
        "agapanthus-africanus", "zantedeschia-aethiopica", "yucca-filamentosa", "sempervivum", "olea-europaea")
    for key in sprouting:
        assert Tissue.HEART not in today(key), key
    for key in ("ensete-ventricosum", "dicksonia-antarctica", "chamaerops-humilis", "washingtonia-robusta"):
        assert Tissue.HEART in today(key), key


def test_a_grafted_citrus_dies_with_the_wood_above_its_graft() -> None:
    """The wood above its graft is all that an orange is worth; an olive shoots from roots of its own."""
    soft, hard = today("citrus-sinensis", SOFT, Season.AUTUMN), today("citrus-sinensis")
    assert soft[Tissue.HEART].value_share == 1.0 and soft[Tissue.HEART].mark is Mark.BY_RULE
    # four hours at -6.7 degC: soft 'Hamlin' died to the rootstock (HortScience 25(1):98, abstract), hardened
    # 'Valencia' lost no wood (Ability of 'Valencia' sweet orange to cold-acclimate, HortScience, abstract)
    trial_c = -6.7 - held_margin_k(4.0)
    dies, lives = (
        float(chance_of_damage(limits[Tissue.HEART].limit_c, limits[Tissue.HEART].spread_k, trial_c))
        for limits in (soft, hard))
    assert dies > 0.75 and lives < 0.5
    assert Tissue.HEART not in today("olea-europaea") and Tissue.HEART not in today("citrus-trifoliata")
