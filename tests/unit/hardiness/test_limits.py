"""The limits table: finding plants by name, refusing to guess, and the integrity of every value."""

from __future__ import annotations

import copy
import json
import re
from importlib.resources import files

import pytest

from frostguard.garden.model import Stage
from frostguard.hardiness.damage import chance_of_damage, held_margin_k
from frostguard.hardiness.limits import UnknownPlant, load_limits, normalised, parse_limits, plant_or_rating
from frostguard.hardiness.model import Mark, Tissue
from frostguard.hardiness.rating import (
    UnknownRating,
    whole_root_by_rule_c,
    whole_root_rule_source,
    young_root_by_rule_c,
    young_root_rule_source,
)
from frostguard.hardiness.taxon import Foliage, Habit, StageRule

TAXA = load_limits().taxa
TABLE = json.loads(files("frostguard.hardiness").joinpath("data/plants.json").read_text("utf-8"))


@pytest.mark.parametrize(("name", "key"), [
    ("Citrus ×limon", "citrus-limon"),
    ("citrus x limon", "citrus-limon"),
    ("Lemon", "citrus-limon"),
    ("lemon tree", "citrus-limon"),
    ("citronnier", "citrus-limon"),
    ("Laurier-rose", "nerium-oleander"),
    ("laurier rose", "nerium-oleander"),
    ("ŒILLET D’INDE", "tagetes-patula"),
    ("oeillet d'inde", "tagetes-patula"),
    ("érable du Japon", "acer-palmatum"),
    ("erable du japon", "acer-palmatum"),
    ("Acer palmatum 'Bloodgood'", "acer-palmatum"),
    ("Rosmarinus officinalis", "salvia-rosmarinus"),
    ("Salvia rosmarinus 'Arp'", "salvia-rosmarinus-arp"),
    ("geranium", "pelargonium-hortorum"),
    ("hardy geranium", "geranium-hardy"),
    ("tulips", "tulipa"),
    ("Tomatoes", "solanum-lycopersicum"),
    ("hart's tongue", "asplenium-scolopendrium"),
    ("perce-neige", "galanthus"),
    ("Viburnum davidii", "viburnum-davidii"),
    ("buxus-sempervirens", "buxus-sempervirens"),
])
def test_a_plant_is_found_by_any_name_people_use(name: str, key: str) -> None:
    """Botanical, English and French names, plural, accents, hyphens and cultivars lead to the plant."""
    assert load_limits().find(name).key == key


@pytest.mark.parametrize(("written", "meant"), [
    ("olender", "oleander"),
    ("camelia japonica", "Camellia japonica"),
    ("lavande papilon", "lavande papillon"),
    ("hidrangea", "hydrangea"),
    ("pelargonum", "pelargonium"),
])
def test_a_misspelt_name_is_refused_with_the_right_word_among_the_nearest(written: str, meant: str) -> None:
    """A name that is nearly right is not guessed but answered with suggestions and a way on."""
    with pytest.raises(UnknownPlant) as refusal:
        load_limits().find(written)
    assert meant in refusal.value.nearest or any(meant in name for name in refusal.value.nearest)
    assert written in refusal.value.message
    assert "rating:" in refusal.value.next_step


def test_a_name_like_nothing_in_the_table_has_no_suggestions() -> None:
    """Nonsense is refused without wild guesses."""
    with pytest.raises(UnknownPlant) as refusal:
        load_limits().find("qqqwwwzzz")
    assert refusal.value.nearest == ()


def test_a_bare_genus_with_unlike_species_is_not_guessed() -> None:
    """"Citrus" may be a lemon or a satsuma, 5 K apart: the person chooses."""
    with pytest.raises(UnknownPlant) as refusal:
        load_limits().find("Citrus")
    assert len(refusal.value.nearest) >= 3


@pytest.mark.parametrize(("name", "relatives"), [
    ("azalea", {"rhododendron-hinodegiri", "rhododendron-simsii"}),
    ("laurel", {"prunus-laurocerasus", "laurus-nobilis"}),
    ("laurier", {"laurus-nobilis", "nerium-oleander"}),
    ("jasmin", {"jasminum-officinale", "jasminum-polyanthum"}),
    ("banana", {"musa-basjoo", "ensete-ventricosum"}),
    ("Pennisetum", {"pennisetum-alopecuroides", "pennisetum-setaceum-rubrum"}),
    ("yucca", {"yucca-filamentosa", "yucca-gigantea"}),
    ("Opuntia", {"opuntia-hardy", "opuntia-ficus-indica"}),
    ("Chinese lantern", set()),  # a Physalis as often as an Abutilon
    ("castor oil plant", {"fatsia-japonica"}),  # Ricinus by rights; Fatsia is the false one
    ("ice plant", {"delosperma-cooperi"}),  # also a stonecrop, far hardier
])
def test_a_name_that_hardy_and_tender_plants_share_is_not_guessed(name: str, relatives: set[str]) -> None:
    """A name under which a tender plant may stand is refused, and those that may be meant are found."""
    limits = load_limits()
    with pytest.raises(UnknownPlant):
        limits.find(name)
    assert relatives <= {taxon.key for taxon in limits.search(name)}


@pytest.mark.parametrize(("name", "key", "hardier_relative"), [
    ("rhododendron", "rhododendron-garden-hybrids", "rhododendron-catawbiense-hybrids"),
    ("prickly pear", "opuntia-ficus-indica", "opuntia-hardy"),
    ("verbena", "verbena-hybrida", "verbena-homestead-purple"),
    ("penstemon", "penstemon-hybrids", "penstemon-fruticosus"),
    ("geranium", "pelargonium-hortorum", "geranium-hardy"),
    ("agapanthus", "agapanthus-africanus", "agapanthus-headbourne-hybrids"),
    ("hibiscus", "hibiscus-rosa-sinensis", "hibiscus-syriacus"),
    ("cyclamen", "cyclamen-persicum", "cyclamen-coum"),
])
def test_a_bare_name_means_the_tenderer_of_the_plants_sold_under_it(
        name: str, key: str, hardier_relative: str) -> None:
    """Who writes no more than the genus is not promised what only a hardy relative stands."""
    found, relative = load_limits().find(name), load_limits().taxon(hardier_relative)
    assert found.key == key
    assert found.whole_root.middle_c > relative.whole_root.middle_c


def test_search_puts_the_plant_meant_first() -> None:
    """Part of a word, a misspelt word or a French word finds the plant among the first."""
    limits = load_limits()
    lavenders = [taxon.key for taxon in limits.search("lavand")[:4]]
    assert lavenders[0] == "lavandula-angustifolia"
    assert all(key.startswith("lavandula-") for key in lavenders)
    assert limits.search("oliveir")[0].key == "olea-europaea"
    assert limits.search("azalée japonaise")[0].key == "rhododendron-hinodegiri"
    assert limits.search("") == ()


@pytest.mark.parametrize("name", [
    "Fatsia japonica", "Viburnum tinus", "Viburnum davidii", "Osteospermum", "Argyranthemum", "Gazania", "Salvia",
    "Musa basjoo", "Passiflora caerulea", "Cistus", "Ceanothus", "Convolvulus cneorum", "Leptospermum", "Aeonium",
    "Echeveria", "Crassula ovata", "Cymbidium", "Clematis armandii", "Aucuba japonica", "Sarcococca", "Mandevilla",
    "Erica gracilis", "Magnolia grandiflora", "Strelitzia", "Elaeagnus", "Eucalyptus", "Santolina", "Gaura",
])
def test_plants_that_often_stand_on_terraces_are_in_the_table(name: str) -> None:
    """A search for the botanical name brings the plant first, not one that merely looks like it."""
    first = load_limits().search(name)[0]
    assert any(normalised(each).startswith(normalised(name)) for each in first.names)


def test_no_name_belongs_to_two_plants() -> None:
    """A name leads to one plant, so that a look-up never depends on the order of the table."""
    owner: dict[str, str] = {}
    for taxon in TAXA:
        for name in (taxon.key, *taxon.names):
            assert owner.setdefault(normalised(name), taxon.key) == taxon.key, name


def test_the_table_is_large_and_every_plant_is_named_in_three_languages() -> None:
    """At least 160 plants, each with a key, a botanical, an English and a French name."""
    assert len(TAXA) >= 160
    assert len({taxon.key for taxon in TAXA}) == len(TAXA)
    for taxon in TAXA:
        assert taxon.botanical and taxon.english and taxon.french, taxon.key
        assert taxon.key == taxon.key.lower() and " " not in taxon.key


def test_every_value_has_a_known_mark_a_source_and_a_spread() -> None:
    """No number stands without saying who says so and how sure it is."""
    marked = list(_values(TABLE["plants"]))
    assert len(marked) > 800
    for value in marked:
        assert Mark(value["mark"])
        assert value["source"] in TABLE["sources"]
        assert 0.2 <= value["spread_k"] <= 5.0, value


def _values(node: object) -> list[dict[str, object]]:
    """Every entry of the raw table that holds a temperature."""
    if isinstance(node, list):
        return [value for item in node for value in _values(item)]
    if not isinstance(node, dict):
        return []
    inner = [value for item in node.values() for value in _values(item)]
    return [node, *inner] if "c" in node else inner


def test_weak_sources_are_marked_weak_and_name_no_page() -> None:
    """What trade pages, forums and explainers say is shown as weak, and no web address is in the table."""
    text = json.dumps(TABLE["sources"])
    assert "http" not in text and ".com" not in text and "www" not in text
    for key in ("trade", "hobby", "explainer", "report"):
        users = [value for value in _values(TABLE["plants"]) if value["source"] == key]
        assert users and all(value["mark"] == Mark.WEAK_SOURCE.value for value in users)


def test_measured_values_cite_a_publication() -> None:
    """A value counts as measured only with a journal, thesis, extension or archive reference."""
    for taxon in TAXA:
        for name, limit in taxon.limits():
            if limit.mark in (Mark.MEASURED, Mark.FLOOR):
                assert any(word in limit.source for word in (
                    "Hort", "Extension", "University", "thesis", "abstract", "Archives", "FAO")), (taxon.key, name)
                seen = re.sub(r"\(authors[^)]*from memory[^)]*\)", "", limit.source)  # the value was seen, not they
                assert "memory" not in seen or "names of the stages" in seen, (taxon.key, name)


def test_limits_of_every_plant_are_in_order_and_plausible() -> None:
    """Soft tissue is never hardier than hardened, young roots never hardier than old, ranges run cold."""
    for taxon in TAXA:
        assert taxon.leaf_soft.middle_c >= taxon.leaf_hardened.middle_c, taxon.key
        assert taxon.young_root.middle_c >= taxon.whole_root.middle_c, taxon.key
        for name, limit in taxon.limits():
            lowest, highest = (-35.0, 0.0) if name != "chill" else (0.0, 12.0)
            assert lowest <= limit.temperature_c <= highest, (taxon.key, name)


def test_every_plant_says_what_tells_its_stage_and_has_the_limits_that_go_with_it() -> None:
    """All plants have a stage rule: heat with shoots, buds or coming up to tell of, flushes, or none and no buds."""
    for taxon in load_limits():
        match taxon.stage_rule:
            case StageRule.BY_HEAT:
                dies_down = taxon.habit in (Habit.PERENNIAL, Habit.BULB, Habit.TUBER)
                assert taxon.buds or dies_down, taxon.key
                assert 10.0 <= taxon.bloom_heat_k_d <= 1000.0, taxon.key
            case StageRule.IN_FLUSHES:
                assert set(taxon.buds) <= {Stage.NEW_SHOOTS}, taxon.key
                assert taxon.leaf_hardened.temperature_c >= -10.0, taxon.key  # none of them is hardy
            case StageRule.NONE:
                assert not taxon.buds, taxon.key
    flushing = {taxon.key for taxon in load_limits() if taxon.stage_rule is StageRule.IN_FLUSHES}
    assert flushing >= {"citrus-limon", "bougainvillea", "hibiscus-rosa-sinensis", "pelargonium-hortorum"}


def test_a_table_without_a_stage_rule_is_refused() -> None:
    """A plant that is added without saying what tells its stage is a mistake in the table."""
    table = copy.deepcopy(TABLE)
    del table["plants"][0]["stage_rule"]
    with pytest.raises(KeyError, match="stage_rule"):
        parse_limits(table)


@pytest.mark.parametrize(("written", "first"), [
    ("palm tree", "palm"), ("oliv tree", "olive"), ("lemmon tree", "lemon"), ("olea", "olive"),
    ("gardenai", "gardenia"),
    ("laurier-tin", "laurustinus"), ("citronier", "lemon"), ("chene vert", "holm oak"), ("rododendron", "rhodo"),
    ("solanum rantonneti", "blue potato bush"), ("diplademia", "mandevilla"), ("romarain", "rosemary")])
def test_names_as_people_write_them_find_the_plant_first(written: str, first: str) -> None:
    """Slips, missing accents, old names and words like "tree" still lead to the plant, in both languages."""
    assert first in load_limits().search(written)[0].english


def test_suggestions_stand_for_names_with_a_word_too_many() -> None:
    """A name that is not in the table gets suggestions whatever word stands beside it."""
    assert load_limits().nearest("lemmon tree")[0] == "lemon tree"
    assert load_limits().nearest("tree")


def test_a_range_is_covered_by_the_spread() -> None:
    """Where sources give a range the warmer end is the value and half the range is within the spread."""
    ranges = [(taxon.key, name, limit) for taxon in TAXA for name, limit in taxon.limits()
              if limit.colder_c is not None]
    assert len(ranges) > 80
    for key, name, limit in ranges:
        assert limit.colder_c is not None and limit.colder_c < limit.temperature_c, (key, name)
        without_ice_k = max(0.3, -limit.temperature_c / 2.33)  # hardly a chance above 0 degC
        widest_k = 5.0 if name == "chill" else min(5.0, without_ice_k)
        half_k = (limit.temperature_c - limit.colder_c) / 2
        assert limit.spread_k >= min(half_k, widest_k) - 0.06, (key, name)  # kept to 0.1 K


def test_values_marked_as_derived_by_rule_are_what_the_rule_gives() -> None:
    """A root limit that claims to come from a rule follows from the shoot limit by that rule, and its source tells
    what of the rule was used."""
    derived = 0
    for taxon in TAXA:
        shoot_c = taxon.leaf_hardened.range_middle_c
        if taxon.whole_root.mark is Mark.BY_RULE:
            derived += 1
            rule_c = whole_root_by_rule_c(shoot_c)
            assert taxon.whole_root.temperature_c == pytest.approx(rule_c, abs=0.051), taxon.key
            assert taxon.whole_root.source == whole_root_rule_source(shoot_c), taxon.key
        if taxon.young_root.mark is Mark.BY_RULE:
            derived += 1
            assert taxon.young_root.temperature_c == young_root_by_rule_c(shoot_c), taxon.key
            assert taxon.young_root.source == young_root_rule_source(shoot_c), taxon.key
    assert derived > 100


@pytest.mark.parametrize(
    ("key", "share"),
    [("sempervivum", 0.01), ("opuntia-hardy", 0.05), ("hylotelephium-spectabile", 0.1), ("sedum-low", 0.1)])
def test_hardy_succulents_do_not_die_of_a_root_rule_made_for_shrubs(key: str, share: float) -> None:
    """A whole night at -8.5 degC in the mix does not kill houseleek, hardy prickly pear or stonecrop (common practice;
    all Sedum and Opuntia humifusa lasted three winters on shallow roofs in Michigan, HortScience 40(2):391-396)."""
    root = load_limits().taxon(key).whole_root
    assert root.mark is not Mark.BY_RULE
    dead = float(chance_of_damage(root.middle_c, root.spread_k, -8.5 - held_margin_k(8.0)))
    assert dead < share


def test_no_root_outlives_the_top_and_few_fall_far_short_of_it() -> None:
    """Whole roots stand less than hardy tops; more than 18 K less only where that was seen, or the rule is bounded."""
    for taxon in TAXA:
        short_k = taxon.whole_root.temperature_c - taxon.leaf_hardened.range_middle_c
        if taxon.leaf_hardened.range_middle_c <= -10.0:
            assert short_k >= -0.06, taxon.key
        # American holly 22 K, star magnolia 20 K, firethorn 18 K: Havis 1976, from memory
        if short_k > 18.0:
            assert taxon.key in {"ilex-opaca", "magnolia-stellata", "pyracantha-coccinea"}, taxon.key


def test_bulbs_know_their_depth_and_shares_stay_within_the_plant() -> None:
    """Every bulb has a planting depth, and no tissue is worth more than the plant."""
    for taxon in TAXA:
        if taxon.habit is Habit.BULB:
            assert taxon.bulb is not None, taxon.key
            assert 2 <= taxon.bulb.depth_cm[0] <= taxon.bulb.depth_cm[1] <= 30
        assert all(0 < share <= 1 for share in taxon.value_shares.values())
        assert all(isinstance(tissue, Tissue) for tissue in taxon.value_shares)


def test_plants_that_hurt_people_are_marked() -> None:
    """Oleander, angel's trumpet, yew and daffodil are poisonous, agave and firethorn are spiny."""
    limits = load_limits()
    for key in ("nerium-oleander", "brugmansia", "taxus-baccata", "narcissus", "tulipa", "lathyrus-odoratus"):
        assert limits.taxon(key).poisonous
    for key in ("agave-americana", "pyracantha-coccinea", "rosa-modern"):
        assert limits.taxon(key).spiny
    assert not limits.taxon("ocimum-basilicum").poisonous


# Common knowledge of gardeners, found in any flora; none of these is in doubt.
@pytest.mark.parametrize(("foliage", "keys"), [
    (Foliage.EVERGREEN, "buxus-sempervirens camellia-japonica nerium-oleander olea-europaea laurus-nobilis "
                        "magnolia-grandiflora cotoneaster-dammeri viburnum-tinus viburnum-davidii aucuba-japonica "
                        "fatsia-japonica clematis-armandii sarcococca trachelospermum-jasminoides"),
    (Foliage.DECIDUOUS, "acer-palmatum hydrangea-macrophylla magnolia-stellata cotoneaster-horizontalis "
                        "citrus-trifoliata ficus-carica vitis-vinifera wisteria-sinensis jasminum-nudiflorum "
                        "viburnum-carlesii lagerstroemia-indica punica-granatum rhododendron-prunifolium"),
])
def test_evergreen_and_bare_shrubs_are_told_apart(foliage: Foliage, keys: str) -> None:
    """Frost drought is a matter of those that keep their leaves, also where a relative drops them."""
    for key in keys.split():
        assert load_limits().taxon(key).foliage is foliage, key


def test_two_plants_of_one_name_are_a_mistake_in_the_table() -> None:
    """A table in which a name is given twice is refused when first asked."""
    first, second = TABLE["plants"][:2]
    twice = {**TABLE, "plants": [first, {**second, "english": first["english"]}]}
    with pytest.raises(ValueError, match="names both"):
        parse_limits(twice).find("anything")


@pytest.mark.parametrize(("written", "key"), [
    ("laurier", "nerium-oleander"),
    ("mapel", "acer-palmatum"),
    ("small lemon tree in a pot", "citrus-limon"),
    ("maple japanese", "acer-palmatum"),
])
def test_search_takes_words_in_any_order_and_within_a_longer_text(written: str, key: str) -> None:
    """A word misspelt within a name, words turned round and words beside the name still find it."""
    assert key in {taxon.key for taxon in load_limits().search(written)[:5]}


def test_a_rating_in_place_of_a_name_is_a_stand_in_with_its_band() -> None:
    """A name is looked up first; what is written like a rating is read as one or refused as one."""
    lemon, no_band = plant_or_rating("lemon")
    assert (lemon.key, no_band) == ("citrus-limon", None)
    stand_in, band = plant_or_rating("USDA zone 7b")
    assert band is not None and band.rating == "7b" and stand_in.group == "rating"
    with pytest.raises(UnknownRating):
        plant_or_rating("H8")
    with pytest.raises(UnknownPlant):
        plant_or_rating("hosta 7b or so")


@pytest.mark.parametrize(
    ("written", "suggested"),
    [("olvie", "olive"), ("oliver", "olive"), ("lavander", "lavender"), ("citronier", "citronnier")],
)
def test_the_suggestion_is_the_name_that_was_meant(written: str, suggested: str) -> None:
    """Exchanged letters are one slip, and the English name goes before a French one about as like."""
    assert load_limits().nearest(written)[0] == suggested
