"""The plant table for reading and as data: one plant, a rating, a search, a list."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostguard.garden.settings import Units
from frostguard.hardiness.limits import load_limits, plant_or_rating
from frostguard.hardiness.model import Mark, MovedLight
from frostguard.hardiness.taxon import Foliage, Habit, Limit, Sensitivity, Taxon
from frostguard.report import plant_words
from frostguard.report.layout import LINE_WIDTH, shown_width
from frostguard.report.marks import origin
from frostguard.report.plants import render_found, render_list, render_plant, render_rating
from frostguard.report.plants_json import render_plant_json, render_plants_json, render_rating_json

TABLE = load_limits()
LEMON = TABLE.taxon("citrus-limon")


def words(taxon: Taxon, units: Units = Units.METRIC) -> str:
    """The plant's page on one line."""
    return " ".join(render_plant(taxon, units).split())


def rating(text: str, units: Units = Units.METRIC) -> str:
    """A rating's page on one line."""
    taxon, band = plant_or_rating(text)
    assert band is not None
    return " ".join(render_rating(band, taxon, units).split())


def test_a_plant_is_shown_with_all_its_names():
    """Botanical, English and French, each with its synonyms."""
    shown = words(LEMON)

    assert shown.startswith("lemon (Citrus ×limon)")
    for name in LEMON.names:
        assert name in shown


def test_every_limit_stands_with_its_spread_and_its_origin():
    """Each value of the table in its own line: range, spread, and who says so."""
    for taxon in TABLE:
        shown = words(taxon)
        assert shown.count(", spread ") == len(list(taxon.limits())), taxon.key
        for _, limit in taxon.limits():
            assert origin(limit.mark, limit.source, Units.METRIC) in shown, taxon.key

    lemon = "Leaves, hardened: -2.0 °C to -3.0 °C in screen air, spread 0.9 °C. Common practice: W. Johnson"
    assert lemon in words(LEMON)
    box = words(load_limits().find("box"))
    assert "Leaves, hardened: -20.6 °C to -23.3 °C, spread 1.6 °C. Measured" in box  # of the leaf itself


def test_a_floor_is_told_as_seen_unhurt_and_with_the_limit_taken():
    """What plants stood unhurt is not passed off as their limit."""
    floor = Limit(-11.0, 1.5, Mark.FLOOR, "A. Author 1990, On roots")
    shown = words(replace(LEMON, whole_root=floor))

    # One in ten at most: 1.2816 standard deviations of 1.5 K below the floor; told rounded up.
    assert "Whole root system: unhurt at -11.0 °C, limit taken as -12.9 °C, spread 1.5 °C." in shown
    assert "so the true limit lies lower: A. Author 1990, On roots." in shown


def test_a_weak_page_is_not_named():
    """A weak source is called weak, and nothing else is said of it."""
    weak = Limit(-3.0, 1.0, Mark.WEAK_SOURCE, "somebody's page")
    shown = words(replace(LEMON, whole_root=weak))

    assert "Whole root system: -3.0 °C, spread 1.0 °C. Weak source." in shown
    assert "somebody" not in shown


def test_imperial_readers_get_fahrenheit_and_inches():
    """Temperatures, spreads and depths in the reader's units, limits rounded up."""
    shown = words(TABLE.taxon("tulipa"), Units.IMPERIAL)

    assert "Young roots at the pot wall: 28.4 °F, spread 1.6 °F." in shown  # -2 degC, 0.9 K
    assert "Planted 6 to 10 inches deep." in shown  # 15 to 25 cm
    assert "°C" not in shown and " cm " not in shown


@pytest.mark.parametrize(("habit", "foliage", "told"), [
    (Habit.WOODY, Foliage.EVERGREEN, "Keeps its leaves in winter."),
    (Habit.WOODY, Foliage.DECIDUOUS, "Loses its leaves in winter."),
    (Habit.PERENNIAL, Foliage.DECIDUOUS, "Dies down for its rest."),
    (Habit.ANNUAL, Foliage.DECIDUOUS, "Does not live through a frosty winter."),
    (Habit.PALM, Foliage.SEMI, "in a mild winter only."),
])
def test_whether_leaves_stay_is_told(habit, foliage, told):
    """Evergreen, bare, died down or gone, as the way of life has it."""
    assert told in words(replace(LEMON, habit=habit, foliage=foliage))


def test_the_limit_of_bare_wood_is_not_told_as_one_of_leaves():
    """A shrub that stands bare in winter has hardened wood, not hardened leaves."""
    assert "Wood, hardened:" in words(TABLE.taxon("hydrangea-macrophylla"))
    assert "Leaves, hardened:" in words(TABLE.taxon("olea-europaea"))


def test_how_it_comes_through_winter_is_told():
    """Light and warmth of a room, wet and drought, what it resents, what hurts people."""
    shown = words(replace(LEMON, moved_light=MovedLight.BRIGHT_OR_DARK, room_c=(5.0, 8.0), wet=Sensitivity.HIGH,
                          dry=Sensitivity.LOW, resents=("lime", "cold wind"), poisonous=True, spiny=True))

    assert "bright, or dark, cool and nearly dry. A good room has 5.0 °C to 8.0 °C." in shown
    assert "Rots in cold, wet mix" in shown and "Stands drought." in shown
    assert "Resents lime and cold wind." in shown
    assert "Poisonous" in shown and "wear gloves" in shown
    assert "no promise" in words(replace(LEMON, poisonous=False))


def test_what_tells_the_stage_is_told_where_it_is_not_the_heat_of_spring():
    """Nobody takes silence about a lemon's shoots for knowledge; a satsuma has its stage by heat, a petunia none."""
    assert "no date and no heat tells its stage" in words(LEMON)
    assert "No stage is told" in words(TABLE.taxon("petunia-atkinsiana"))
    assert "flushes" not in words(TABLE.taxon("citrus-unshiu"))


def test_a_banana_that_comes_again_from_its_rhizome_is_not_told_as_lost_with_its_stem():
    """Japanese banana and bird of paradise sprout from below; Abyssinian banana, palms and tree ferns do not."""
    for key in ("musa-basjoo", "strelitzia-reginae", "phormium-tenax"):
        assert "comes again from below" in words(TABLE.taxon(key))
        assert "does not come again" not in words(TABLE.taxon(key))
    for key in ("ensete-ventricosum", "trachycarpus-fortunei", "dicksonia-antarctica"):
        assert "does not come again" in words(TABLE.taxon(key))


@pytest.mark.parametrize(("text", "told"), [
    ("H4", "H4 on the UK scale: in open ground it stands -5.0 °C to -10.0 °C."),
    ("h7", "H7 on the UK scale: in open ground it stands colder than -20.0 °C."),
    ("H1a", "H1a on the UK scale: it needs more than 15.0 °C at all times."),
    # 5 to 10 degF by the zone scale; -12.22 degC is told rounded up.
    ("zone 7b", "Zone 7b on the USDA scale: hardy in open ground where the coldest night of an average year lies "
                "between -12.2 °C and -15.0 °C."),
])
def test_a_rating_is_told_as_what_it_stands_for(text, told):
    """The scale and its band, open at the ends, then what is made of it for a pot."""
    shown = rating(text)

    assert shown.startswith(told)
    by_rule = "whole roots of tender plants" if text == "H1a" else "two USDA zones warmer than the shoots"
    assert f"Derived by rule: {by_rule}" in shown
    assert "Nothing else is known" in shown


def test_a_search_shows_the_name_that_was_meant():
    """Best first, a line each, with the name that looks like what was written where it is another one."""
    shown = render_found("olivier", TABLE.search("olivier")).splitlines()

    assert shown[0].split() == ["olive", "Olea", "europaea", "olivier"]
    assert shown[-1].endswith("frostguard plants show NAME")


def test_a_search_that_finds_much_says_how_much_more():
    """Twelve at most, and the number of those left out."""
    found = TABLE.taxa[:15]

    assert "3 more look less like it" in render_found("x", found)
    assert "1 more looks less like it" in render_found("x", found[:13])
    assert "more" not in render_found("x", found[:12])


def test_the_list_holds_every_plant_once_under_its_group():
    """A line for each plant: names, young roots, whole roots, leaves."""
    lines = render_list(TABLE, Units.METRIC).splitlines()

    assert len([line for line in lines if line.startswith("lemon  ")]) == 1
    lemon = next(line for line in lines if line.startswith("lemon  "))
    assert lemon.split() == ["lemon", "Citrus", "×limon", "0.0", "-3.0", "-2.0"]
    assert lines.index("citrus") < lines.index(lemon) < lines.index("palms and the like")
    assert all(f"\n{plant_words.group_name(taxon.group)}\n" in "\n".join(lines) for taxon in TABLE)


def test_the_list_marks_what_was_seen_in_a_source():
    """A star for measured values, a sign for floors, nothing for all that nobody measured."""
    lines = render_list(
        [replace(LEMON,
                 young_root=Limit(-1.0, 0.4, Mark.ESTIMATE, "estimate"),
                 whole_root=Limit(-11.0, 1.5, Mark.FLOOR, "a journal"),
                 leaf_hardened=Limit(-15.0, 2.0, Mark.MEASURED, "a journal"))],
        Units.METRIC).splitlines()

    assert lines[-1].split()[-3:] == ["-1.0", "-11.0<", "-15.0*"]


def test_every_code_of_the_table_has_a_word():
    """No group or dislike in the table is shown as a bare code for want of a sentence."""
    names = plant_words.group_names()
    assert {taxon.group for taxon in TABLE} <= set(names)
    assert {code for taxon in TABLE for code in taxon.resents} <= set(plant_words.dislikes())
    assert plant_words.group_name("sea\x1b[2Jweed") == "sea?[2Jweed"
    assert plant_words.dislike("mo\x07ss") == "mo?ss"


@pytest.mark.parametrize(("units", "taxa"), [(Units.METRIC, TABLE.taxa), (Units.IMPERIAL, TABLE.taxa[::5])])
def test_every_page_of_the_table_fits_the_terminal(units, taxa):
    """No line is wider than 80 columns, whichever plant and units."""
    pages = [render_list(TABLE, units), render_found("a", TABLE.taxa)]
    pages += [render_plant(taxon, units) for taxon in taxa]
    for page in pages:
        for line in page.splitlines():
            assert shown_width(line) <= LINE_WIDTH, line
            assert line == line.rstrip()


@given(st.text(max_size=200), st.text(max_size=90))
def test_no_name_can_act_on_the_terminal_or_break_the_page(name, other):
    """Control characters in the table's names are shown, not sent, and long names are cut or wrapped."""
    hostile = replace(LEMON, english=name, botanical=other, french=name, synonyms=(other,),
                      whole_root=Limit(-3.0, 1.0, Mark.ESTIMATE, name), resents=(other,), group=name)
    pages = [render_plant(hostile, Units.METRIC), render_found(name, (hostile,)),
             render_list([hostile], Units.METRIC)]
    for page in pages:
        assert "\x1b" not in page and "\r" not in page and "\x07" not in page
        assert all(shown_width(line) <= LINE_WIDTH for line in page.split("\n"))


def test_a_plant_as_data_holds_everything_that_the_page_tells():
    """Format number 1, names, every limit with mark and source, light, dislikes, dangers."""
    data = json.loads(render_plant_json(TABLE.taxon("tulipa")))
    plant = data["plant"]

    assert data["format"] == 1
    assert (plant["botanical"], plant["french"], plant["foliage"]) == ("Tulipa", "tulipe", "deciduous")
    assert plant["bulb"]["depth_cm"] == [15.0, 25.0]
    limits = {limit["part"]: limit for limit in plant["limits"]}
    assert limits.keys() >= {"leaf hardened", "leaf soft", "young root", "whole root", "dry bulb survived"}
    assert limits["dry bulb survived"]["mark"] == "measured"
    assert all(limit["source"] for limit in plant["limits"])


def test_several_plants_as_data_keep_their_order():
    """A search's or list's data is the same record as one plant's."""
    data = json.loads(render_plants_json(TABLE.taxa[:3]))

    assert data["format"] == 1
    assert [plant["key"] for plant in data["plants"]] == [taxon.key for taxon in TABLE.taxa[:3]]
    assert data["plants"][0] == json.loads(render_plant_json(TABLE.taxa[0]))["plant"]


def test_a_rating_as_data_tells_its_band_and_the_stand_in():
    """The rating, its scale and ends, and limits that are all derived by rule."""
    taxon, band = plant_or_rating("H4")
    assert band is not None
    data = json.loads(render_rating_json(band, taxon))

    assert data["rating"] == {"rating": "H4", "scale": "UK", "c": -5.0, "colder_c": -10.0}
    assert data["plant"]["botanical"] is None
    assert {limit["mark"] for limit in data["plant"]["limits"]} == {"derived by rule"}
