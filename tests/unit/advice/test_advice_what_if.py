"""One pot beside itself changed: the same numbers as the plan's, and signs that are true."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from frostguard.advice.evening import Evening
from frostguard.advice.plan import Protection
from frostguard.advice.rounds import round_now, round_tonight
from frostguard.advice.what_if import TO_TRY, Changes, Comparison, compare
from frostguard.cli.what_if import WORDS
from frostguard.errors import FrostguardError
from frostguard.garden.model import BareStem, Stem
from frostguard.garden.settings import Settings, Units
from frostguard.hardiness.model import Tissue
from frostguard.report.what_if import verdict_sentences
from tests.unit.advice.terraces import (
    CLEAR,
    at,
    big_pot,
    evening_of,
    frosty_night,
    garden,
    hoods,
    peach,
    plan_of,
    planting,
    pot,
    room,
    shed,
    sleeves,
    spot,
    standard_rose,
)

WHERE = garden(
    pot("peach", peach()),
    pot("lemon", planting(value_eur=80.0)),
    pot("box", planting("buxus-sempervirens")),
    spots=(spot(), spot("front"), room(), room("stairwell", escape_route=True)),
    stock=shed(hoods(2)),
)
SKY = frosty_night(0.0, **CLEAR)
COLD = frosty_night(-9.0, **CLEAR)


@cache
def evening(cold: bool = False) -> Evening:
    return evening_of(WHERE, COLD if cold else SKY)


def tried(row: int = 0, *, cold: bool = False, **changes: object) -> Comparison:
    turn = round_tonight(evening(cold), Settings(days=1))
    assert turn is not None
    return compare(evening(cold), row, Changes(**changes), turn)


def test_with_nothing_different_both_sides_are_alike():
    """The comparison brings no difference of its own."""
    same = tried()

    assert same.changed == same.as_it_stands
    assert (same.minutes, same.effort_eur) == (0.0, 0.0)


def test_a_protection_tried_is_what_the_plan_says_of_it():
    """What-if and advice are one reckoning: the chosen fleece tried alone ends where the plan ends."""
    only = garden(pot("peach", peach()), stock=shed(hoods(2)))
    plan = plan_of(only, SKY)
    alone = evening_of(only, SKY)
    turn = round_tonight(alone, Settings(days=1))
    assert turn is not None

    (job,) = plan.jobs
    comparison = compare(alone, 0, Changes(protections=(job.protection,)), turn)

    done = plan.pots[0].with_plan
    assert comparison.changed.coldest_leaf_c == pytest.approx(done.coldest_leaf_c, abs=0.05)
    assert comparison.changed.chance_of_damage == pytest.approx(done.chance_of_damage, abs=0.01)
    assert comparison.minutes == job.minutes


NOT_FOR_A_LEMON = {Protection.WATER, Protection.FILL_GAPS, Protection.TIE_CROWN, Protection.SLEEVE}
"""It is moist, stands in no group, and has no one heart and no bare stem."""


@pytest.mark.parametrize("kind", [kind for kind in TO_TRY if kind not in NOT_FOR_A_LEMON])
def test_every_protection_can_be_tried_though_the_shed_is_bare(kind: Protection):
    """What is not at hand could be bought, so it is tried all the same."""
    comparison = tried(1, protections=(kind,))

    assert comparison.minutes > 0.0
    assert comparison.changed.coldest_ring_c >= comparison.as_it_stands.coldest_ring_c - 0.2


def test_a_larger_pot_keeps_its_whole_ball_warmer():
    """From the same past under falling air a bigger ball of the same shape is never colder as a whole."""
    comparison = tried(2, cold=True, volume_l=200.0)

    assert comparison.changed.coldest_mean_c > comparison.as_it_stands.coldest_mean_c
    assert comparison.weight_kg > 100.0


def test_a_wall_of_foam_keeps_outer_roots_warmer():
    """Insulation of two centimetres slows the fall at the wall."""
    comparison = tried(2, cold=True, wall="foam")

    assert comparison.changed.coldest_ring_c > comparison.as_it_stands.coldest_ring_c + 0.3


def test_indoors_a_lemon_is_saved():
    """The same move that the plan would advise, with its minutes."""
    comparison = tried(1, cold=True, spot="wash room")

    # what is left is the clear afternoon's frost before anybody carries it
    assert comparison.as_it_stands.chance_of_damage > 0.9 > 0.4 > comparison.changed.chance_of_damage
    assert comparison.minutes > 0.0


def test_the_curves_cover_the_rest_of_the_night():
    """One value for every hour from the job to noon, the same hours for both."""
    comparison = tried(0, protections=(Protection.FLEECE,))

    assert len(comparison.times) == len(comparison.as_it_stands.curve_c) == len(comparison.changed.curve_c) > 15
    assert comparison.times[-1].hour == 12


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"wall": "fome"}, "foam"),
        ({"spot": "attic"}, "wash room"),
        ({"spot": "stairwell"}, "another place"),
        ({"protections": (Protection.WATER,)}, "bad for the plant"),
    ],
)
def test_what_cannot_be_tried_is_told_with_what_can(changes: dict[str, object], says: str):
    """An unknown wall or spot, a shared way out and a protection that is not open are sentences."""
    with pytest.raises(FrostguardError) as raised:
        tried(0, **changes)

    assert says in raised.value.next_step


def test_without_anybody_to_do_it_it_is_tried_as_if_done_at_once():
    """Curiosity needs no working window."""
    found = evening()

    comparison = compare(found, 0, Changes(protections=(Protection.FLEECE,)), round_now(found, Settings(days=1)))

    assert comparison.changed.coldest_leaf_c > comparison.as_it_stands.coldest_leaf_c


def test_the_words_of_the_command_are_the_protections():
    """The help text lists them without loading the numerics, so both lists must agree."""
    assert [word.replace("-", " ") for word in WORDS] == [kind.value for kind in TO_TRY]


def test_tried_late_a_room_does_not_undo_what_the_night_has_done():
    """Deep in a frosty night the lemon's leaves are lost in either place, as the plan has it."""
    late = evening_of(WHERE, frosty_night(-9.0, asked=at(14), **CLEAR), asked=at(5, days=1))
    comparison = compare(late, 1, Changes(spot="wash room"), round_now(late, Settings(days=1)))

    assert comparison.as_it_stands.chance_of_damage > 0.9
    assert comparison.changed.chance_of_damage > 0.9


def test_a_gain_is_told_with_its_spread_and_may_be_a_loss():
    """Fleece warms leaves by some kelvin on a clear calm night, in each course of the weather by another amount."""
    gain = tried(protections=(Protection.FLEECE,)).leaf_gain
    assert gain.low_k <= gain.middle_k <= gain.high_k
    assert gain.low_k < gain.high_k
    nothing = tried()
    assert nothing.leaf_gain == nothing.ring_gain == (0.0, 0.0, 0.0)


def test_a_sleeve_that_is_tried_shows_at_the_stem():
    """A stem of 4 cm in foam stays kelvins warmer through a short frost, its leaves and roots as they were."""
    rose = standard_rose(bare_stem=BareStem(Stem.STANDARD, 0.9, 0.04))
    evening = evening_of(garden(big_pot("rose", rose), stock=shed(sleeves(1))), frosty_night(-6.0, **CLEAR))

    comparison = compare(evening, 0, Changes(protections=(Protection.SLEEVE,)), round_now(evening, Settings(days=1)))

    bare, sleeved = comparison.as_it_stands, comparison.changed
    assert bare.coldest_stem_c is not None and sleeved.coldest_stem_c is not None
    assert sleeved.coldest_stem_c > bare.coldest_stem_c + 2.0
    assert sleeved.coldest_leaf_c == pytest.approx(bare.coldest_leaf_c)
    assert comparison.told_by is Tissue.STEM and comparison.stem_gain is not None
    assert max(comparison.changed.curve_c) >= min(comparison.changed.curve_c) == pytest.approx(sleeved.coldest_stem_c)
    assert tried(1, protections=(Protection.FLEECE,)).changed.coldest_stem_c is None


@pytest.mark.parametrize(
    ("loss_eur", "says"),
    [
        (19.4, "It does harm: 0.6 euro more are to be expected"),
        (18.82, "It saves nothing of"),
        (18.0, "It saves 0.8 euro of what is to be expected to be lost tonight, less than its work is worth."),
        (8.8, "It saves 10.0 euro of what is to be expected to be lost tonight."),
    ],
)
def test_a_saving_is_never_told_as_less_than_nothing(loss_eur: float, says: str):
    """What harms is said to harm, what does nothing to do nothing, and what costs more than it saves to do so."""
    found = tried(protections=(Protection.FLEECE,))
    before = replace(found.as_it_stands, expected_loss_eur=18.8)
    after = replace(found.changed, expected_loss_eur=loss_eur)

    told = verdict_sentences(replace(found, as_it_stands=before, changed=after, effort_eur=2.0), Units.METRIC)

    assert any(sentence.startswith(says) for sentence in told), told
    assert "-" not in told[1]


def test_what_two_people_must_carry_is_told_so():
    """Trying a move of some fifty kilos says what it weighs and that nobody lifts it alone; a light pot does not."""
    where = garden(big_pot("olive", planting("olea-europaea")), pot("lemon"), spots=(spot(), room()))
    heavy_evening = evening_of(where, COLD)
    turn = round_tonight(heavy_evening, Settings(days=1))
    assert turn is not None
    heavy, light = (compare(heavy_evening, row, Changes(spot="wash room"), turn) for row in (0, 1))

    assert heavy.people == 2 and light.people == 1
    assert any("two people" in sentence for sentence in verdict_sentences(heavy, Units.METRIC))
    assert not any("two people" in sentence for sentence in verdict_sentences(light, Units.METRIC))


def test_what_takes_the_same_place_is_not_tried_together():
    """One layer and two, or a wrap and a crate, are refused by name; the same named twice counts once."""
    with pytest.raises(FrostguardError, match="fleece and double fleece do not go together"):
        tried(protections=(Protection.FLEECE, Protection.DOUBLE_FLEECE))
    with pytest.raises(FrostguardError, match="wrap and plunge"):
        tried(protections=(Protection.WRAP, Protection.PLUNGE))
    once, twice = tried(protections=(Protection.FLEECE,)), tried(protections=(Protection.FLEECE,) * 2)
    assert twice.minutes == once.minutes


def test_a_pot_is_not_carried_to_where_it_stands():
    """Nothing would be compared but the trouble: it is said instead."""
    with pytest.raises(FrostguardError, match="stands there already"):
        tried(spot="deck")
