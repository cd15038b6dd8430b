"""Choices into jobs, and when they may be undone."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache

import numpy as np
import pytest

from frostguard.advice.evening import Evening
from frostguard.advice.jobs import SAFE_AIR_C, jobs_of, undo_times
from frostguard.advice.nights import from_utc64
from frostguard.advice.occasion import SPELL_TISSUES
from frostguard.advice.outlook import Judgement
from frostguard.advice.plan import Batch, Protection, Stay
from frostguard.advice.planner import Choice
from frostguard.advice.state import PartDone, TerraceState
from frostguard.garden.model import Pot
from frostguard.hardiness.model import Tissue
from frostguard.report import measures
from tests.unit.advice.terraces import (
    ASKED,
    CLEAR,
    ZONE,
    at,
    choices_of,
    evening_of,
    film,
    frosty_night,
    frosty_nights,
    garden,
    hoods,
    peach,
    plan_of,
    planting,
    pot,
    room,
    shed,
    spot,
    weather,
)


@cache
def covered_peach() -> tuple[Evening, tuple[Choice, ...]]:
    """A peach that gets a double fleece on a clear night."""
    where = garden(pot("peach", peach(), count=2), stock=shed(hoods(4)))
    evening = evening_of(where, frosty_night(0.0, **CLEAR))
    return evening, choices_of(evening)


@cache
def carried_lemon() -> tuple[Evening, tuple[Choice, ...]]:
    """A lemon that is carried indoors for two frosty nights of four."""
    return carried(pot("lemon", planting(value_eur=100.0)))


def carried(one: Pot) -> tuple[Evening, tuple[Choice, ...]]:
    """A pot, two frosty nights and two mild ones, and a room indoors."""

    def air_c(clock: np.ndarray) -> np.ndarray:
        dark = (clock % 24.0 < 8.0) | (clock % 24.0 > 18.0)
        return np.where(dark & (clock > 14.0) & (clock < 60.0), -6.0, 6.0)

    where = garden(one, spots=(spot(), room("shed", lowest_c=None), room()))
    evening = evening_of(where, weather(air_c, ahead_h=96, members=3), days=4)
    return evening, choices_of(evening)


def test_each_step_of_a_choice_is_a_job_of_its_pot():
    """A job says what is done, where, for how many alike, by whom, with which pieces."""
    evening, chosen = covered_peach()

    (job,) = jobs_of(evening, chosen)

    assert (job.pot, job.spot, job.count) == ("peach", "deck", 2)
    assert job.protection is Protection.DOUBLE_FLEECE
    assert job.batch is Batch.TONIGHT
    assert job.to_spot is None and job.weight_kg is None
    assert [(use.material, use.piece, use.count) for use in job.covers] == [("fleece 30", "hood", 4)]


def test_a_job_for_the_rest_of_several_alike_says_of_how_many():
    """One of three peaches is left: the job is for one of three, and the answer notes the two that are done."""
    rest = replace(pot("peach", peach()), count=1, set_aside=2)
    state = TerraceState(in_part=(PartDone("Peach", 2, 3, set_aside=True),))
    evening = evening_of(garden(rest, stock=shed(hoods(4))), frosty_night(0.0, **CLEAR), state=state)

    (job,) = jobs_of(evening, choices_of(evening))

    assert (job.count, job.alike) == (1, 3)
    assert "set aside:Peach:2:3" in evening.notes


def test_a_job_says_which_tissue_is_lost_otherwise():
    """The tissue that costs most is named, with its chance and all the loss to be expected."""
    evening, chosen = covered_peach()

    (job,) = jobs_of(evening, chosen)

    assert job.loss_otherwise.tissue is Tissue.BUD
    assert 0.0 < job.loss_otherwise.chance < 1.0
    assert job.loss_otherwise.expected_eur == pytest.approx(chosen[0].without.loss_eur)


def test_a_move_names_its_goal_and_its_weight():
    """Who carries must know where to, and how heavy."""
    evening, chosen = carried_lemon()

    (job,) = jobs_of(evening, chosen)

    assert job.protection is Protection.MOVE
    assert job.to_spot == chosen[0].option.to_spot is not None
    assert job.weight_kg is not None and 1.0 < job.weight_kg < 10.0


def test_fleece_comes_off_in_the_thaw_of_the_next_morning():
    """A hood is taken off once the sun has been up for a while and the air is well above freezing."""
    evening, chosen = covered_peach()

    off = undo_times(evening, chosen)["peach", Protection.DOUBLE_FLEECE]

    assert off is not None and off.tzinfo == ZONE
    sunrise = evening.nights[0].sunrise
    assert sunrise is not None
    assert sunrise + timedelta(hours=1) <= off <= at(13, days=1)
    hour = evening.terrace.hour_at(off)
    assert np.quantile(evening.terrace.outdoor.air_temperature_c[hour], 0.1) > SAFE_AIR_C


def test_fleece_stays_on_through_a_day_without_thaw():
    """Where the next day does not thaw the plan does not say to uncover."""
    frozen_day = weather(
        lambda clock: np.interp(clock, [14, 18, 26, 30, 36], [5.0, 2.0, -0.5, -0.5, -0.5]),
        ahead_h=47,
        members=3,
        **CLEAR,
    )
    where = garden(pot("peach", peach()), stock=shed(hoods(4)))
    evening = evening_of(where, frozen_day, days=2)
    chosen = choices_of(evening)

    assert chosen
    assert undo_times(evening, chosen)["peach", Protection.DOUBLE_FLEECE] is Stay.NOT_IN_SIGHT


def test_a_pot_goes_back_before_the_first_night_that_it_stands_outdoors():
    """A peach in flower that is carried in for two frosty nights may go back at noon before the first mild one."""
    evening, chosen = carried(pot("peach", peach()))

    assert undo_times(evening, chosen)["peach", Protection.MOVE] == at(12, days=2)


def test_a_tender_plant_once_indoors_stays_there_for_the_winter():
    """A lemon is not carried out again for two mild nights of January."""
    evening, chosen = carried_lemon()

    assert undo_times(evening, chosen)["lemon", Protection.MOVE] is Stay.UNTIL_SPRING


def test_a_pot_stays_in_while_no_mild_night_is_in_sight():
    """Where every night that is known would harm it there is no time to carry it back."""
    where = garden(pot("peach", peach()), spots=(spot(), room("shed", lowest_c=None)))
    evening = evening_of(where, frosty_nights(-8.0, 3), days=3)
    chosen = choices_of(evening)

    assert chosen[0].option.to_spot == "shed"
    assert undo_times(evening, chosen)["peach", Protection.MOVE] is Stay.NOT_IN_SIGHT


def test_nothing_is_carried_back_before_the_nights_are_over_that_it_was_carried_in_for():
    """What a spell endangers only at its outer roots goes back after the spell, never at a noon that is past."""
    evening, chosen = carried(pot("peach", peach()))
    for_three_nights = [
        replace(choice, occasion=replace(choice.occasion, nights=(0, 1, 2), tissues=SPELL_TISSUES))
        for choice in chosen
    ]
    for_all = [replace(choice, occasion=replace(choice.occasion, nights=(0, 1, 2, 3))) for choice in chosen]

    assert undo_times(evening, for_three_nights)["peach", Protection.MOVE] == at(12, days=3)
    assert undo_times(evening, for_all)["peach", Protection.MOVE] is Stay.NOT_IN_SIGHT


def test_each_of_two_steps_at_a_pot_is_told_for_what_it_reaches():
    """A fleece is put on for what is above the mix, and a wrap for the roots, where both save something."""
    evening, (choice,) = covered_peach()
    wrap = replace(choice.option.steps[0], protection=Protection.WRAP)
    both = replace(choice, option=replace(choice.option, steps=(*choice.option.steps, wrap)))
    whole_root_saved = [
        replace(one, chance=one.chance + 0.2) if one.limit.tissue is Tissue.WHOLE_ROOT else one
        for one in both.without.judgements
    ]
    both = replace(both, without=replace(both.without, judgements=tuple(whole_root_saved)))

    told = {job.protection: job.loss_otherwise.tissue for job in jobs_of(evening, [both])}

    assert told == {Protection.DOUBLE_FLEECE: Tissue.BUD, Protection.WRAP: Tissue.WHOLE_ROOT}


def test_the_minutes_of_the_lines_add_up_to_those_of_the_heading():
    """Each job has whole minutes, whatever the pace, so that a person who adds up the list gets the same sum."""
    pots = [pot(f"peach {n}", peach(value_eur=50.0 + n)) for n in range(3)]
    where = garden(*pots, stock=shed(hoods(6)))
    plan = plan_of(where, frosty_night(0.0, **CLEAR), state=TerraceState(pace_of_work=1.3))

    assert len(plan.jobs) > 1
    assert all(job.minutes == int(job.minutes) for job in plan.jobs)
    lines = [measures.minutes(job.minutes) for job in plan.jobs]
    assert sum(int("".join(filter(str.isdigit, line))) for line in lines) == plan.minutes


def test_the_hour_to_uncover_is_a_whole_hour_of_the_weather():
    """The time told is an hour that the forecast speaks of, not one made up between."""
    evening, chosen = covered_peach()

    off = undo_times(evening, chosen)["peach", Protection.DOUBLE_FLEECE]

    assert off in {from_utc64(moment, ZONE) for moment in evening.terrace.times}
    assert isinstance(off, datetime) and off > ASKED


def test_in_april_a_wrap_comes_off_with_the_frosts():
    """What was wrapped for two frosts in April is not left on for a winter that is over, but comes off at noon before
    the first harmless night (common practice, no source)."""

    def air_c(clock: np.ndarray) -> np.ndarray:
        dark = (clock % 24.0 < 8.0) | (clock % 24.0 > 18.0)
        return np.where(dark & (clock > 14.0) & (clock < 60.0), -6.0, 9.0)

    bay = pot("bay", planting("laurus-nobilis", value_eur=300.0))
    april = datetime(2026, 4, 15, 14, 0, tzinfo=ZONE)
    sky = weather(air_c, asked=april, ahead_h=96, members=3)
    plan = plan_of(garden(bay, stock=shed(film())), sky, april, days=4)

    wraps = [job for job in plan.jobs if job.protection is Protection.WRAP]
    off = april.replace(hour=12) + timedelta(days=2)
    assert wraps and all((job.stays, job.undo_after) == (None, off) for job in wraps)


def test_a_crown_tied_in_april_is_untied_with_the_frosts():
    """Leaves in growth stay tied for no longer than the cold lasts; feet are nothing to undo (common practice)."""
    april = datetime(2026, 4, 15, 14, 0, tzinfo=ZONE)
    sky = weather(
        lambda clock: np.interp(clock, [14, 20, 26, 30, 36], [9.0, 4.0, -4.0, -4.0, 9.0]),
        asked=april,
        ahead_h=48,
        members=3,
    )
    evening = evening_of(garden(pot("palm", planting("chamaerops-humilis"))), sky, april, days=2)
    (bare,) = covered_peach()[1]

    def ends(protection: Protection) -> datetime | Stay:
        step = replace(bare.option.steps[0], protection=protection)
        return undo_times(evening, [replace(bare, option=replace(bare.option, steps=(step,)))])["palm", protection]

    assert ends(Protection.TIE_CROWN) == april.replace(hour=12) + timedelta(days=1)
    assert ends(Protection.RAISE) is Stay.FOR_THE_WINTER


def test_fleece_is_told_for_what_it_lies_on():
    """The job of fleece over a plant names leaves or buds, though the pot gains by it a little too."""
    bay = pot("bay", planting("laurus-nobilis", value_eur=300.0))
    evening = evening_of(garden(bay, stock=shed(hoods(2))), frosty_night(-7.0, **CLEAR))

    told = [job.loss_otherwise.tissue for job in jobs_of(evening, choices_of(evening))]

    assert told and set(told) == {Tissue.LEAF}


def test_fleece_that_saves_no_flower_is_told_for_what_it_does_save():
    """Nobody is sent out for a chance that stays as it was: where fleece spares the roots alone, the roots are told."""
    evening, (choice,) = covered_peach()

    def flowers_lost(before: Judgement, after: Judgement) -> Judgement:
        lost = before.limit.tissue is not Tissue.WHOLE_ROOT
        return replace(before, chance=np.minimum(after.chance + 0.005, 1.0) if lost else after.chance + 0.1)

    pairs = zip(choice.without.judgements, choice.with_it.judgements, strict=True)
    without = replace(choice.without, judgements=tuple(flowers_lost(*pair) for pair in pairs))

    (told,) = jobs_of(evening, [replace(choice, without=without)])

    assert told.loss_otherwise.tissue is Tissue.WHOLE_ROOT
