"""Which jobs: least expected loss plus effort, from what there is, and nothing that does not help."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from frostguard.advice import candidates, readings
from frostguard.advice.candidates import WORTHWHILE_CHANCE, WORTHWHILE_SHARE
from frostguard.advice.jobs import jobs_of
from frostguard.advice.occasion import SPELL_TISSUES, TONIGHT_TISSUES, Occasion
from frostguard.advice.option import Option
from frostguard.advice.outlook import Judgement, loss_of, night_hours
from frostguard.advice.plan import Batch, Protection
from frostguard.advice.protections import options_for
from frostguard.advice.reach import LEAF_PROTECTIONS
from frostguard.advice.scarce import Scarce
from frostguard.advice.state import Told
from frostguard.advice.supplies import Needs, supplies_of
from frostguard.advice.trial import CHANCE_CAP, Trial, simulate_trials, worst_of_nights
from frostguard.garden.model import Garden, Wetness
from frostguard.garden.settings import Settings
from frostguard.hardiness.model import Mark, Tissue, TissueLimit
from frostguard.physics.root_ball import COARSE, STANDARD
from tests.unit.advice.terraces import (
    CLEAR,
    at,
    bark,
    big_pot,
    choices_of,
    chosen_of,
    circumstances,
    evening_of,
    film,
    frosty_night,
    garden,
    hoods,
    occasion_tonight,
    peach,
    planting,
    pot,
    room,
    shed,
    sheets,
    spot,
    weather,
)

FULL_SHED = shed(hoods(8), film(2), bark(200.0), pot_feet=6)
UNHEATED = room("shed", lowest_c=None)


def simulate_options(evening, occasion, tried, columns):
    """The outcomes of some options on one occasion."""
    (outcomes,) = simulate_trials(evening, [Trial(occasion, tuple(tried), columns)])
    return outcomes


def nothing(evening, row: int = 0) -> Option:
    """The option of leaving a pot as it is."""
    return Option(evening.situations[row], (), Needs())


def mixed_terrace() -> Garden:
    """A peach in flower, a lemon, a heavy olive and a dry geranium, with everything at hand."""
    return garden(
        pot("peach", peach()),
        pot("lemon", planting(value_eur=60.0)),
        big_pot("olive", planting("olea-europaea", value_eur=200.0)),
        pot("geranium", planting("pelargonium-hortorum"), wetness=Wetness.DRY),
        spots=(spot(), room()),
        stock=FULL_SHED,
    )


@pytest.mark.parametrize("coldest_c", [-1.0, -4.0, -9.0])
def test_every_chosen_job_lowers_loss_plus_effort(coldest_c: float):
    """In all members together each choice costs less than doing nothing, by simulation."""
    evening = evening_of(mixed_terrace(), frosty_night(coldest_c, **CLEAR))
    columns = np.arange(evening.terrace.n_members)
    occasion = occasion_tonight(evening)

    chosen = choices_of(evening)

    assert chosen
    for choice in chosen:
        tried = [(choice.pot, nothing(evening, choice.pot)), (choice.pot, choice.option)]
        alone, with_it = simulate_options(evening, occasion, tried, columns)
        assert with_it.loss_eur + choice.option.effort_eur(Settings()) < alone.loss_eur
        assert with_it.loss_eur <= (1.0 - WORTHWHILE_SHARE) * choice.without.loss_eur


@pytest.mark.parametrize("coldest_c", [-4.0, -6.0, -8.0, -10.0])
def test_nobody_goes_out_for_one_chance_in_a_hundred(coldest_c: float):
    """However dear a plant, each of its jobs takes away two chances in a hundred of what it is for, at the least."""
    agave = planting("agave-americana", value_eur=3000.0, irreplaceable=True)
    evening = evening_of(
        garden(pot("agave", agave), pot("box", planting("buxus-sempervirens", value_eur=3000.0)), stock=FULL_SHED),
        frosty_night(coldest_c, **CLEAR),
    )

    chosen = choices_of(evening)

    for job in jobs_of(evening, chosen):
        before, after = job.loss_otherwise.chance, job.loss_otherwise.chance_with_jobs
        assert after is not None and before - after >= WORTHWHILE_CHANCE, job
    assert chosen or coldest_c > -8.0


def test_no_open_option_beats_the_one_that_was_chosen():
    """Of everything open to a single pot the cheapest in loss plus effort is taken."""
    # as many members as the ranking looks at, so that ranking and verifying see the same weather
    evening = evening_of(
        garden(pot("peach", peach()), spots=(spot(), room()), stock=FULL_SHED), frosty_night(0.0, **CLEAR)
    )
    occasion, about = occasion_tonight(evening), circumstances(evening)
    everything = options_for(evening.situations[0], about, frozenset(Protection), rooms=True)
    outcomes = simulate_options(evening, occasion, [(0, option) for option in everything], np.arange(3))

    (chosen,) = choices_of(evening)

    settings = Settings()
    cheapest = min(
        outcome.loss_eur + option.effort_eur(settings)
        for option, outcome in zip(everything, outcomes, strict=True)
    )
    cost = chosen.with_it.loss_eur + chosen.option.effort_eur(settings)
    assert cost == pytest.approx(cheapest)


def test_leaving_a_pot_as_it_is_costs_what_the_evening_says():
    """Nothing, simulated as an option from the hour of the jobs, ends where the evening's own run ends."""
    evening = evening_of(mixed_terrace(), frosty_night(-4.0, **CLEAR))
    rows = range(len(evening.pots))

    outcomes = simulate_options(
        evening,
        occasion_tonight(evening),
        [(row, nothing(evening, row)) for row in rows],
        np.arange(evening.terrace.n_members),
    )

    inside = evening.nights[0].hours_in(evening.terrace.times[evening.run.first :][: evening.run.ring_c.shape[0]])
    for row, outcome in zip(rows, outcomes, strict=True):
        # the first estimate of a wall's surface begins anew where a run begins: films hang on it a little
        assert outcome.coldest_ring_c == pytest.approx(
            np.median(evening.run.ring_c[inside, row].min(axis=0)), abs=0.1
        )
        assert outcome.coldest_leaf_c == pytest.approx(
            np.median(evening.run.leaf_c[inside, row].min(axis=0)), abs=1e-6
        )


def test_nights_far_ahead_are_reckoned_alike_with_and_without_a_job(monkeypatch: pytest.MonkeyPatch):
    """Beyond the hours of fine steps, too, leaving a pot as it is costs the same however it is reckoned."""
    monkeypatch.setattr(readings, "STANDARD", STANDARD)
    monkeypatch.setattr(readings, "COARSE", COARSE)
    sky = weather(
        lambda clock: np.interp(clock, [14.0, 74.0, 98.0], [5.0, 5.0, -6.0]), ahead_h=94, members=3, **CLEAR
    )
    where = garden(pot("box", planting("buxus-sempervirens", value_eur=100.0)))
    evening = evening_of(where, sky, days=4)
    third = evening.terrace.hour_at(at(16, days=3))
    occasion = Occasion(Batch.BEFORE_SPELL, third, (3,), SPELL_TISSUES)

    (outcome,) = simulate_options(evening, occasion, [(0, nothing(evening))], np.arange(3))

    inside = night_hours(evening.terrace, evening.run, evening.nights[3], third)
    left_alone = np.median(evening.run.ring_c[inside, 0].min(axis=0))
    assert left_alone < -3.0
    assert outcome.coldest_ring_c == pytest.approx(left_alone, abs=0.1)


def test_on_a_mild_night_nothing_is_done():
    """Where no plant is near its limit there are no jobs, however full the shed."""
    assert choices_of(evening_of(mixed_terrace(), frosty_night(6.0))) == ()


def test_what_cannot_help_is_not_advised():
    """Flowers that a hard frost takes under a hood as well get no hood."""
    peaches = garden(pot("peach", peach()), stock=shed(hoods(4)))
    evening = evening_of(peaches, frosty_night(-9.0))

    assert loss_of(evening.judgements[0][0], 1)[0] > 0.99
    assert choices_of(evening) == ()


def test_flowers_at_risk_are_covered_or_carried_and_nothing_else():
    """Where only what is above the mix is at risk no wrap, mulch or water is advised."""
    evening = evening_of(garden(pot("peach", peach()), stock=FULL_SHED), frosty_night(0.0, **CLEAR))

    (chosen,) = choices_of(evening)

    assert chosen.option.protections <= LEAF_PROTECTIONS


def test_a_cheap_plant_is_not_worth_dear_work():
    """The same risk is worth a job at a low wage and none at a high one."""
    evening = evening_of(
        garden(pot("peach", peach(value_eur=40.0)), stock=FULL_SHED), frosty_night(0.0, **CLEAR)
    )
    cheap, dear = Settings(effort_eur_h=5.0), Settings(effort_eur_h=200.0)

    assert choices_of(evening, settings=cheap)
    assert not choices_of(evening, settings=dear)


def test_an_irreplaceable_plant_is_protected_beyond_its_price():
    """What money cannot replace gets a job where the same plant at the same price would get none."""
    cheap = peach(value_eur=1.0)
    evenings = [
        evening_of(
            garden(pot("peach", replace(cheap, irreplaceable=irreplaceable)), spots=(spot(), UNHEATED)),
            frosty_night(0.0, **CLEAR),
        )
        for irreplaceable in (False, True)
    ]

    assert choices_of(evenings[0]) == ()
    (chosen,) = choices_of(evenings[1])
    assert chosen.without.chance > CHANCE_CAP
    assert chosen.with_it.chance <= CHANCE_CAP  # carried indoors


def test_below_the_cap_an_irreplaceable_plant_gets_no_more_than_others():
    """With less than one chance in a hundred even an irreplaceable plant of little price is left alone."""
    where = garden(pot("peach", peach(value_eur=1.0, irreplaceable=True)), spots=(spot(), UNHEATED))
    evening = evening_of(where, frosty_night(-0.1))
    chance = max(float(judgement.chance.mean()) for judgement in evening.judgements[0][0])

    assert 0.0 < chance < CHANCE_CAP
    assert choices_of(evening) == ()


# --- sharing out ---------------------------------------------------------------------------------------


def test_the_last_hoods_go_to_the_pot_that_gains_most():
    """With hoods for one of two peaches the dearer one gets them, wherever it stands in the file."""
    sky = frosty_night(0.0, **CLEAR)
    cheap, dear = pot("cheap", peach(value_eur=60.0)), pot("dear", peach(value_eur=300.0))
    for pots in ((cheap, dear), (dear, cheap)):
        where = garden(*pots, stock=shed(hoods(2)))

        chosen = choices_of(evening_of(where, sky))

        assert [where.pots[choice.pot].id for choice in chosen] == ["dear"]


def used(garden_: Garden, chosen) -> dict[str, float]:
    """What the choices take, added up."""
    total: Counter[str] = Counter()
    for choice in chosen:
        needs = choice.option.needs
        for material, count in needs.hoods:
            total[f"hoods of {material}"] += count
        for material, area in needs.area_m2:
            total[f"area of {material}"] += area
        for name, area in needs.floor:
            total[f"floor of {name}"] += area
        total["mulch"] += sum(litres for _, litres in needs.mulch_litres)
        total["feet"] += needs.pot_feet
    return total


def test_hoods_rolls_floor_and_feet_are_never_exceeded():
    """However many pots are at risk, all choices together take no more than there is."""
    pots = [pot(f"peach {n}", peach(value_eur=50.0 + n), floor_m2=0.09) for n in range(6)]
    pots += [pot(f"lemon {n}", planting(value_eur=80.0 + n), floor_m2=0.09) for n in range(4)]
    where = garden(
        *pots,
        spots=(spot(), room(free_floor_m2=0.2)),
        stock=shed(hoods(3), film(1, length_m=1.0), bark(3.0), pot_feet=3),
    )

    chosen = choices_of(evening_of(where, frosty_night(-1.0, **CLEAR)))

    total = used(where, chosen)
    assert len(chosen) >= 3
    assert total["hoods of fleece 30"] <= 3
    assert total["area of bubble film"] <= 1.0
    assert total["floor of wash room"] <= 0.2
    assert total["mulch"] <= 3.0
    assert total["feet"] <= 3


def test_one_sheet_is_not_spread_at_two_spots():
    """With a single sheet two peaches side by side are covered, two at different spots are not."""
    sky = frosty_night(0.0, **CLEAR)
    one, other = pot("one", peach()), pot("other", peach())
    spots = (spot(), spot("front"))

    together = choices_of(evening_of(garden(one, other, spots=spots, stock=shed(sheets(1, 4.0, 4.0))), sky))
    apart = choices_of(
        evening_of(garden(one, replace(other, spot="front"), spots=spots, stock=shed(sheets(1, 4.0, 4.0))), sky)
    )

    assert len(together) == 2
    assert len(apart) == 1


def test_what_was_chosen_is_gone_from_the_shed():
    """The shed that is handed on holds what the chosen jobs left."""
    evening = evening_of(garden(pot("peach", peach()), stock=shed(hoods(3))), frosty_night(0.0, **CLEAR))

    found = chosen_of(evening)

    (chosen,) = found.choices
    assert chosen.option.protections == {Protection.DOUBLE_FLEECE}
    assert list(found.left.supplies.hoods.values()) == [1]


def test_pots_that_are_not_asked_about_get_no_job():
    """Only the pots handed in are planned for."""
    evening = evening_of(
        garden(pot("a", peach()), pot("b", peach()), stock=FULL_SHED), frosty_night(0.0, **CLEAR)
    )

    assert [choice.pot for choice in chosen_of(evening, [1]).choices] == [1]


def test_a_pot_too_many_alike_changes_nothing_for_the_others():
    """A pot that needs no job leaves the choices for the others as they are."""
    sky = frosty_night(0.0, **CLEAR)
    hardy = pot("hardy", planting("hedera-helix"))

    alone = choices_of(evening_of(garden(pot("a", peach()), stock=FULL_SHED), sky))
    beside = choices_of(evening_of(garden(pot("a", peach()), hardy, stock=FULL_SHED), sky))

    assert [choice.option.protections for choice in alone] == [choice.option.protections for choice in beside]
    assert beside[0].without.loss_eur == pytest.approx(alone[0].without.loss_eur, rel=0.02)


# --- outcomes ------------------------------------------------------------------------------------------


def test_carrying_a_lemon_indoors_saves_it():
    """In a hard frost a lemon outdoors is lost; in the wash room it is not, but for the hour before."""
    where = garden(pot("lemon", planting(value_eur=100.0)), spots=(spot(), room()), stock=FULL_SHED)

    (chosen,) = choices_of(evening_of(where, frosty_night(-10.0)))

    assert chosen.option.to_spot == "wash room"
    assert chosen.without.chance > 0.9
    assert chosen.with_it.chance < 0.02  # bare leaves have come down to freezing by four


def test_jobs_act_only_from_the_hour_they_are_done():
    """The later a lemon is carried in, the colder its ring has become by then."""
    where = garden(pot(), spots=(spot(), room()))
    evening = evening_of(where, frosty_night(-8.0))
    carry = next(
        option
        for option in options_for(evening.situations[0], circumstances(evening), LEAF_PROTECTIONS, rooms=True)
        if option.to_spot == "wash room"
    )
    early = occasion_tonight(evening)
    late = replace(early, start_hour=early.start_hour + 12)  # four in the morning
    untouched = evening.run.ring_c[late.start_hour - evening.now, 0]

    after_early, after_late = (
        simulate_options(evening, occasion, [(0, carry)], np.arange(3))[0] for occasion in (early, late)
    )

    assert after_early.coldest_ring_c > 2.0  # as cold as it was when it was carried in
    assert after_late.coldest_ring_c < 0.0
    assert untouched.mean() < 0.0


def test_several_nights_count_by_the_worst_of_them():
    """Over a spell a tissue is as cold as in its coldest night, member by member."""
    limit = TissueLimit(Tissue.WHOLE_ROOT, -5.0, 1.0, 1.0, Mark.ESTIMATE, "estimate")
    one = planting()
    nights = [
        (Judgement(one, limit, np.array([-1.0, -6.0]), np.array([0.0, 0.8])),),
        (Judgement(one, limit, np.array([-3.0, -2.0]), np.array([0.1, 0.0])),),
    ]

    (worst,) = worst_of_nights(nights)

    assert worst.coldest_c.tolist() == [-3.0, -6.0]
    assert worst.chance.tolist() == [0.1, 0.8]


def test_tonights_jobs_do_not_answer_to_outer_roots():
    """Outer roots alone are no reason for a job tonight: they are a matter of spells."""
    assert Tissue.YOUNG_ROOT not in TONIGHT_TISSUES
    geranium_roots = garden(pot("box", planting("lavandula-angustifolia", value_eur=100.0)), stock=FULL_SHED)
    evening = evening_of(geranium_roots, frosty_night(-7.0))
    roots = next(j for j in evening.judgements[0][0] if j.limit.tissue is Tissue.YOUNG_ROOT)
    others = [j for j in evening.judgements[0][0] if j.limit.tissue is not Tissue.YOUNG_ROOT]

    chosen = choices_of(evening)

    assert roots.chance.mean() > 0.25
    assert max(float(j.chance.mean()) for j in others) < 0.02
    assert chosen == ()


def test_with_bounding_cases_a_job_must_pay_in_the_colder_one():
    """Without wind data a choice is weighed by the colder case of each member, as the outlook is."""
    unknown = ("wind_speed_10m_m_s", "wind_gust_10m_m_s")
    where = garden(pot("lemon", planting(value_eur=100.0)), spots=(spot(), room()))
    evening = evening_of(where, frosty_night(-5.0, without=unknown))
    assert evening.terrace.n_cases == 2

    (chosen,) = choices_of(evening)

    judged = {j.limit.tissue: j for j in chosen.without.judgements}
    assert judged[Tissue.LEAF].chance.shape == (3,)  # one for each member, not for each case
    after_four = evening.run.leaf_c[3:23, 0]  # the question is at two, jobs are done by four
    assert judged[Tissue.LEAF].coldest_c == pytest.approx(evening.terrace.colder(after_four.min(axis=0)))


def test_the_shed_of_the_garden_is_what_can_be_used():
    """A file that states an empty shed gets no covers advised."""
    where = garden(pot("peach", peach()), stock=shed())

    assert supplies_of(where, evening_of(where, frosty_night(0.0, **CLEAR)).catalogue).pieces == ()
    assert choices_of(evening_of(where, frosty_night(0.0, **CLEAR))) == ()


# --- all pots together ---------------------------------------------------------------------------------


def test_what_does_not_hold_gives_way_to_the_next_best(monkeypatch: pytest.MonkeyPatch):
    """Where an option fails in all members the pot gets its second best, and does not go without."""
    where = garden(pot("peach", peach()), spots=(spot(), UNHEATED), stock=shed(hoods(4)))
    evening = evening_of(where, frosty_night(0.0, **CLEAR))
    (first,) = choices_of(evening)

    def disappointing(evening, trials):
        return [
            [
                replace(outcome, loss_eur=1e3)
                if not trial.coarse and option.situation == first.option.situation
                else outcome
                for (_, option), outcome in zip(trial.tried, outcomes, strict=True)
            ]
            for trial, outcomes in zip(trials, simulate_trials(evening, trials), strict=True)
        ]

    monkeypatch.setattr(candidates, "simulate_trials", disappointing)
    (second,) = choices_of(evening)

    assert second.option.situation != first.option.situation
    assert second.with_it.loss_eur < second.without.loss_eur


def test_larger_hoods_serve_when_the_small_ones_are_gone():
    """Two peaches share one small and one large hood, though the small one fits both."""
    where = garden(
        pot("one", peach()), pot("other", peach()), stock=shed(hoods(1, width_m=1.0), hoods(1, width_m=2.0))
    )

    chosen = choices_of(evening_of(where, frosty_night(0.0, **CLEAR)))

    assert len(chosen) == 2


def test_what_others_have_taken_is_told_as_lacking():
    """With one hood for two peaches the plan says that covers were short for the other."""
    where = garden(pot("cheap", peach(value_eur=60.0)), pot("dear", peach(value_eur=300.0)), stock=shed(hoods(1)))

    found = chosen_of(evening_of(where, frosty_night(0.0, **CLEAR)))

    (missed,) = found.missed
    assert (missed.pot, missed.lacking) == (0, Scarce.COVERS)
    assert missed.without.loss_eur > 1.0


DAMP_AND_CLEAR = {**CLEAR, "without": ("dew_point_c",), "relative_humidity_percent": 99.0}
"""Air in which dew soon covers a fleece, so that one layer is of use."""


def test_of_several_pots_alike_as_many_are_covered_as_there_are_hoods():
    """Four hoods go over four of six peaches, and the plan says what the other two lack."""
    where = garden(pot("row", peach(value_eur=60.0), count=6), stock=shed(hoods(4)))

    found = chosen_of(evening_of(where, frosty_night(0.0, **DAMP_AND_CLEAR)))

    (choice,), (missed,) = found.choices, found.missed
    assert choice.count == 4 and sum(count for _, count in choice.option.needs.hoods) == 4
    assert (missed.pot, missed.lacking, missed.count) == (0, Scarce.COVERS, 2)
    whole = choice.without.loss_eur - choice.with_it.loss_eur
    assert choice.saved_eur == pytest.approx(whole * 4 / 6)


def test_pots_alike_are_covered_one_and_all_where_there_is_enough():
    """With hoods for all of them the job is for all, as for one pot six times."""
    row = garden(pot("row", peach(value_eur=60.0), count=6), stock=shed(hoods(6)))
    singly = garden(*(pot(f"p{n}", peach(value_eur=60.0)) for n in range(6)), stock=shed(hoods(6)))

    together, each = (choices_of(evening_of(where, frosty_night(0.0, **DAMP_AND_CLEAR))) for where in (row, singly))

    assert [choice.count for choice in together] == [6] and len(each) == 6
    assert together[0].saved_eur == pytest.approx(sum(choice.saved_eur for choice in each))
    assert together[0].option.minutes == pytest.approx(sum(choice.option.minutes for choice in each))


def test_a_row_shares_with_others_what_there_is():
    """A single dear peach and a row of four cheaper ones share three hoods, and none is left over."""
    dear, row = pot("dear", peach(value_eur=300.0)), pot("row", peach(value_eur=60.0), count=4)
    where = garden(row, dear, stock=shed(hoods(3)))

    chosen = choices_of(evening_of(where, frosty_night(0.0, **CLEAR)))

    assert {where.pots[choice.pot].id for choice in chosen} == {"row", "dear"}
    assert sum(count for choice in chosen for _, count in choice.option.needs.hoods) == 3


# --- what was told stays told --------------------------------------------------------------------------


def kept_at(coldest_c: float, told: frozenset[Told]) -> list[str]:
    """What is chosen for a peach on such a night, by a person who was told these jobs."""
    where = garden(pot("peach", peach(value_eur=50.0)), stock=shed(hoods(4)))
    evening = evening_of(where, frosty_night(coldest_c, **DAMP_AND_CLEAR))
    return [step.protection.value for choice in choices_of(evening, told=told) for step in choice.option.steps]


def test_a_job_once_told_is_not_taken_back_before_the_night_is_clearly_harmless():
    """A degree milder than what called for it the fleece stays; well above the limit it is called off."""
    fleece = frozenset({Told("peach", Protection.FLEECE, None)})
    nobody_told: frozenset[Told] = frozenset()
    nights = np.arange(0.0, 8.1, 0.5)

    called_for = {night for night in nights if kept_at(night, nobody_told)}
    stays = {night for night in nights if kept_at(night, fleece)}

    assert called_for and called_for < stays
    assert 0.5 <= max(stays) - max(called_for) <= 3.0
    assert max(stays) < 8.0


def test_of_two_ways_that_are_nearly_alike_the_one_that_was_told_is_kept():
    """For less than the price of two minutes nobody reads another plan than an hour ago."""
    single, double = (
        frozenset({Told("peach", kind, None)}) for kind in (Protection.FLEECE, Protection.DOUBLE_FLEECE)
    )
    nights = np.arange(-1.0, 1.6, 0.25)

    kept = [(kept_at(night, single), kept_at(night, double)) for night in nights]

    assert any(one == ["fleece"] and other == ["double fleece"] for one, other in kept)


def test_the_last_hood_stays_with_whom_it_was_promised():
    """Of two peaches that gain nearly the same the one that was told keeps the hood."""
    where = garden(
        pot("a", peach(value_eur=100.0)), pot("b", peach(value_eur=100.2)), stock=shed(hoods(1))
    )
    evening = evening_of(where, frosty_night(0.0, **CLEAR))

    (anew,) = choices_of(evening)
    (kept,) = choices_of(evening, told=frozenset({Told("a", Protection.FLEECE, None)}))

    assert (anew.pot, kept.pot) == (1, 0)
