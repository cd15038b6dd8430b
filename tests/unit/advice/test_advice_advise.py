"""Whole evenings: batches and spells, orders of doing, notes, and what one pot has to do with another."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from typing import Any

import numpy as np
import pytest

from frostguard.advice.plan import AdvicePlan, Batch, Caution, NoJob, Protection, Stay
from frostguard.advice.rounds import round_tonight
from frostguard.garden.model import BareStem, Garden, Light, Room, RoomKind, Spot, Stem, Stock, Wetness
from frostguard.garden.settings import Settings, WorkingWindow
from frostguard.hardiness.model import Tissue
from frostguard.weather.series import WeatherSeries
from tests.unit.advice.terraces import (
    ASKED,
    CLEAR,
    ZONE,
    at,
    bark,
    big_pot,
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
    sleeves,
    spot,
    standard_rose,
    weather,
)

EVERY_DAY = frozenset(range(7))
HARDIEST_ROOTS = "heuchera-americana"
UNHEATED = room("shed", lowest_c=None)
ROOT_SHED = shed(film(3), bark(300.0), pot_feet=12)


def lavenders(*spots_of: str, value_eur: float = 60.0) -> Garden:
    """Lavenders in terracotta, whose outer roots are what a cold spell takes first."""
    pots = [
        pot(
            f"lavender {n}",
            planting("lavandula-angustifolia", value_eur=value_eur),
            wall="terracotta",
            wall_thickness_m=0.01,
            spot=where,
        )
        for n, where in enumerate(spots_of or ("deck", "deck", "deck"))
    ]
    return garden(*pots, spots=(spot(), spot("front"), UNHEATED), stock=ROOT_SHED)


def spell(first_night: int, nights: int, low_c: float = -8.0, *, past_c: float = 6.0, days: int = 7) -> WeatherSeries:
    """Mild weather but for a cold spell that begins at six on that evening and lasts so many nights."""

    def air_c(clock: np.ndarray) -> np.ndarray:
        begins = 24.0 * first_night + 18.0
        in_spell = (clock > begins) & (clock < begins + 24.0 * nights - 8.0)
        return np.where(clock < 14.0, past_c, np.where(in_spell, low_c, 6.0))

    return weather(air_c, past_h=48 if past_c < 0.0 else 12, ahead_h=24 * days, members=3)


# --- cold spells ---------------------------------------------------------------------------------------


@cache
def plan_before_a_spell() -> AdvicePlan:
    """Asked two mild nights before two cold ones."""
    return plan_of(lavenders(), spell(2, 2, low_c=-4.0, days=5), days=5)


def test_a_late_spring_is_told_of_what_has_a_spring_to_come():
    """Roots of an annual that freeze through start no late spring: only the shrub beside it is named."""
    hardy, annual = pot("lavender", planting("lavandula-angustifolia")), pot("petunia", planting("petunia-atkinsiana"))
    frost = weather(lambda clock: np.where(clock < 14.0, 4.0, -11.0), members=3)
    plan = plan_of(garden(hardy, annual, stock=shed()), frost)

    (told,) = [note for note in plan.notes if note.startswith(("half ball", "whole ball"))]
    assert "Lavender" in told and "Petunia" not in told


def test_the_graft_of_a_standard_is_sleeved_before_a_short_frost():
    """What pays for a bay on a bare stem is a sleeve; a bush beside it, as hard, gets none; it stays on after."""
    graft = standard_rose(taxon="laurus-nobilis", bare_stem=BareStem(Stem.GRAFTED, 0.9, 0.04))
    where = garden(
        big_pot("standard", graft), big_pot("bush", planting("laurus-nobilis", value_eur=80.0)), stock=shed(sleeves(3))
    )
    plan = plan_of(where, frosty_night(-6.0, **CLEAR))

    sleeved = [job for job in plan.jobs if job.protection is Protection.SLEEVE]
    assert [job.pot for job in sleeved] == ["standard"]
    (job,) = sleeved
    assert job.loss_otherwise.tissue is Tissue.STEM
    assert job.loss_otherwise.chance_with_jobs is not None
    assert job.loss_otherwise.chance_with_jobs < 0.5 * job.loss_otherwise.chance
    assert job.stays in (Stay.FOR_THE_WINTER, Stay.FOR_THE_SEASON) and job.season_ends is not None
    assert Caution.LOOSE_SLEEVE in plan.cautions


def test_before_a_spell_there_is_one_batch_of_preparations():
    """Two mild nights before two cold ones each pot is prepared once, on the spell's first evening."""
    plan = plan_before_a_spell()

    assert plan.spell is not None and not plan.spell.began
    assert (plan.spell.first_night, plan.spell.last_night) == (date(2026, 1, 16), date(2026, 1, 17))
    assert plan.jobs
    assert {job.batch for job in plan.jobs} == {Batch.BEFORE_SPELL}
    assert {job.start_by.date() for job in plan.jobs} == {date(2026, 1, 16)}
    assert max(Counter((job.pot, job.protection) for job in plan.jobs).values()) == 1


def test_preparations_are_done_by_daylight_before_the_spell():
    """The batch ends at the sunset of the spell's first evening at the latest."""
    for job in plan_before_a_spell().jobs:
        assert job.start_by + timedelta(minutes=job.minutes) <= at(16, 50, days=2)
        assert Caution.DARK_WORK not in job.cautions


def test_preparations_answer_to_roots_and_stay_for_the_winter():
    """Wraps, mulch, company and feet for outer roots are not undone next morning, and need no fleece."""
    for job in plan_before_a_spell().jobs:
        assert job.protection not in (Protection.FLEECE, Protection.DOUBLE_FLEECE)
        assert job.loss_otherwise.tissue in (Tissue.YOUNG_ROOT, Tissue.WHOLE_ROOT)
        assert job.undo_after is None


def test_nobody_carries_a_hardy_shrub_indoors_for_its_outer_roots():
    """While only outer roots are at risk no pot is moved into a room."""
    hard = plan_of(lavenders("deck"), spell(0, 2, low_c=-14.0, days=2), days=2)

    assert not [job for job in plan_before_a_spell().jobs if job.to_spot is not None]
    assert [job.to_spot for job in hard.jobs] == ["shed"]  # there its life is at stake


def test_a_spell_that_has_begun_brings_no_more_preparations():
    """After two nights that took the outer roots the spell is told as begun, and no batch is made of it."""
    plan = plan_of(lavenders(), spell(0, 3, past_c=-8.0), days=4)

    assert plan.spell is not None and plan.spell.began
    assert [job for job in plan.jobs if job.batch is Batch.BEFORE_SPELL] == []


def after_a_cold_morning(n_small: int, n_big: int) -> AdvicePlan:
    """A cold morning took the outer roots of the small pots, not of the big ones; a cold night comes for all."""
    big = [
        big_pot(f"big {n}", planting("lavandula-angustifolia", value_eur=90.0)) for n in range(n_big)
    ]
    where = garden(*lavenders().pots[:n_small], *big, spots=(spot(),), stock=ROOT_SHED)
    sky = weather(
        lambda clock: np.where(clock < 2, 6.0, np.where(clock < 9, -9.0, np.where(clock < 19, 3.0, -4.0))),
        past_h=36,
        ahead_h=30,
        members=3,
    )
    return plan_of(where, sky)


def test_pots_whose_outer_roots_are_lost_already_are_not_prepared():
    """With one of four pots hurt the spell has not begun, and only the other three are prepared for it."""
    plan = after_a_cold_morning(1, 3)

    assert plan.spell is not None and not plan.spell.began
    prepared = {job.pot for job in plan.jobs if job.batch is Batch.BEFORE_SPELL}
    assert prepared == {"big 0", "big 1", "big 2"}


def test_with_most_pots_hurt_a_spell_has_begun():
    """With three of four pots hurt the spell is on, and the last one is no reason for a batch either."""
    plan = after_a_cold_morning(3, 1)

    assert plan.spell is not None and plan.spell.began
    assert plan.jobs == ()


def test_a_tender_pot_does_not_stretch_a_spell_over_mild_nights():
    """Two cold nights for lavenders are a spell; the nights round freezing after them, which only a lemon minds, are
    not, and the lemon is none of the pots that the spell is told for (common practice: it winters indoors)."""

    def air_c(clock: np.ndarray) -> np.ndarray:
        night = np.where(clock < 50.0, -6.0, -1.5)
        return np.where(clock < 14.0, 6.0, np.where((clock % 24.0 > 17.0) | (clock % 24.0 < 9.0), night, 5.0))

    sky = weather(air_c, ahead_h=24 * 5, members=3)
    where = garden(pot("lemon"), *lavenders("deck", "deck").pots, spots=(spot(), UNHEATED), stock=ROOT_SHED)
    plan = plan_of(where, sky, days=5)

    assert plan.spell is not None
    assert (plan.spell.first_night, plan.spell.last_night) == (date(2026, 1, 14), date(2026, 1, 15))
    assert plan.spell.pots == 2
    alone = plan_of(garden(pot("lemon"), spots=(spot(), UNHEATED)), sky, days=5)
    assert alone.spell is None


def test_a_spell_is_no_nightly_stream_of_jobs():
    """Evening after evening through a spell, only the first has root jobs."""
    where = lavenders()
    jobs = []
    for evening in range(3):
        asked = ASKED + timedelta(days=evening)
        # as it comes: warm until the first evening, cold since
        sky = weather(
            lambda clock, evening=evening: np.where(clock + 24.0 * evening < 18.0, 6.0, -8.0),
            asked=asked,
            past_h=72,
            ahead_h=48,
            members=3,
        )
        jobs.append(plan_of(where, sky, asked, days=2).jobs)

    assert jobs[0]
    assert jobs[1] == () and jobs[2] == ()


def test_a_spell_too_far_ahead_is_told_and_not_yet_prepared_for():
    """A spell that begins in seven nights is named; forecasts so far out are too unsure to work by."""
    plan = plan_of(lavenders(), spell(6, 2, days=9), days=9)

    assert plan.spell is not None and plan.spell.first_night == date(2026, 1, 20)
    assert plan.jobs == ()


def test_one_pot_of_many_makes_no_spell():
    """A cold that only one of five outdoor pots minds is no spell."""
    hardy = [pot(f"ivy {n}", planting("hedera-helix")) for n in range(4)]
    tender = pot("lemon", spot="deck")
    where = garden(tender, *hardy, stock=ROOT_SHED)

    plan = plan_of(where, spell(1, 1, low_c=-2.0), days=2)

    assert plan.nights[1].young_roots_at_risk == 1
    assert plan.spell is None


def test_a_lone_night_counts_only_where_half_the_pots_mind_it():
    """One of three pots at risk makes a spell of two nights, and none of a single one."""
    hardy = [pot(f"hardy {n}", planting(HARDIEST_ROOTS)) for n in range(2)]
    where = garden(lavenders().pots[0], *hardy, stock=ROOT_SHED)

    lone, pair = (plan_of(where, spell(1, nights, low_c=-5.0, days=3), days=3) for nights in (1, 2))

    assert lone.nights[1].young_roots_at_risk == pair.nights[1].young_roots_at_risk == 1
    assert lone.spell is None
    assert pair.spell is not None


def test_a_pot_indoors_does_not_count_for_a_spell():
    """Only what stands outdoors makes a night part of a spell."""
    draughty = Room(RoomKind.UNHEATED, Light.DIM, lag_d=0.1, warmer_than_outdoors_k=0.0, lowest_c=None)
    inside = garden(
        pot("lemon", spot="shed"),
        pot("ivy", planting("hedera-helix")),
        spots=(spot(), room("shed", room=draughty)),
        stock=ROOT_SHED,
    )

    plan = plan_of(inside, spell(1, 2, low_c=-1.5, days=3), days=3)

    assert [night.young_roots_at_risk for night in plan.nights] == [0, 1, 1]
    assert plan.spell is None


def test_a_mild_week_has_no_spell_and_no_jobs():
    """With nothing but mild nights ahead there is nothing to do and nothing to announce."""
    plan = plan_of(lavenders(), weather(6.0, ahead_h=96, members=3), days=4)

    assert plan.spell is None
    assert plan.jobs == ()
    assert [night.pots_at_risk for night in plan.nights] == [0, 0, 0, 0]


def test_batches_that_share_an_evening_follow_one_another():
    """Where a spell begins tonight, tonight's jobs and its preparations are done one after the other."""
    where = garden(
        pot("lemon", planting(value_eur=100.0)),
        *lavenders().pots,
        spots=(spot(), spot("front"), room()),
        stock=ROOT_SHED,
    )

    plan = plan_of(where, spell(0, 2), days=2)

    assert {job.batch for job in plan.jobs} == {Batch.TONIGHT, Batch.BEFORE_SPELL}
    assert [job.batch for job in plan.jobs] == sorted(
        (job.batch for job in plan.jobs), key=lambda batch: list(Batch).index(batch)
    )
    sunset = plan.sunset
    assert sunset is not None
    for position, job in enumerate(plan.jobs):
        left = sum(later.minutes for later in plan.jobs[position:])
        assert job.start_by + timedelta(minutes=left) <= sunset


# --- hands and hours -----------------------------------------------------------------------------------


def lemon_and_heavy_palm() -> Garden:
    """A light lemon and a palm of some fifty kilos, and room indoors for both."""
    return garden(
        pot("lemon", planting(value_eur=100.0)),
        big_pot("palm", planting("phoenix-canariensis", value_eur=300.0, height_m=1.0, width_m=0.8)),
        spots=(spot(), room()),
    )


def test_asked_after_dusk_light_work_is_for_now_and_heavy_work_for_tomorrow():
    """In the dark the lemon is carried in at once; the palm waits for two people and daylight."""
    clock_and_air = ([14, 20, 26, 30, 36, 50, 54, 62], [6.0, 4.0, -5.0, -5.0, 6.0, -12.0, -12.0, 6.0])
    sky = weather(lambda clock: np.interp(clock, *clock_and_air), asked=at(18, 0), ahead_h=44, members=3)
    plan = plan_of(lemon_and_heavy_palm(), sky, at(18, 0), days=2, people=2)

    batches = {job.pot: job.batch for job in plan.jobs if job.protection is not Protection.TIE_CROWN}
    assert batches == {"lemon": Batch.TONIGHT, "palm": Batch.TOMORROW}
    assert "asked after dusk" in plan.notes
    by_pot = {job.pot: job for job in plan.jobs if job.protection is not Protection.TIE_CROWN}
    assert by_pot["lemon"].start_by.date() == date(2026, 1, 14)
    assert Caution.DARK_WORK in by_pot["lemon"].cautions
    assert by_pot["palm"].start_by.date() == date(2026, 1, 15)
    assert by_pot["palm"].start_by < at(16, 45, days=1)
    assert Caution.DARK_WORK not in by_pot["palm"].cautions


def test_asked_by_day_heavy_pots_are_moved_today_with_two_people():
    """By daylight both are carried in before tonight, the palm by two."""
    plan = plan_of(lemon_and_heavy_palm(), frosty_nights(-12.0, 2), days=2, people=2)

    people = {job.pot: job.people for job in plan.jobs}
    assert people == {"lemon": 1, "palm": 2}
    assert {job.batch for job in plan.jobs} == {Batch.TONIGHT}


def test_alone_nobody_moves_a_heavy_pot():
    """With one pair of hands the palm stays where it is, tonight and tomorrow."""
    plan = plan_of(lemon_and_heavy_palm(), frosty_nights(-12.0, 2), at(18, 0), days=2)

    assert "palm" not in {job.pot for job in plan.jobs if job.protection is Protection.MOVE}


def test_where_jobs_hardly_save_a_pot_what_keeps_it_outdoors_is_told():
    """Fleece is all that one pair of hands can do for a heavy lemon, which needs a second one; two carry it in."""
    lemon = big_pot("lemon", planting(value_eur=300.0, height_m=0.6, width_m=0.5))
    where = garden(lemon, spots=(spot(), room()), stock=shed(hoods(2)))

    alone, together = (plan_of(where, frosty_night(-1.0, **CLEAR), days=1, people=people) for people in (1, 2))

    assert {job.protection for job in alone.jobs} == {Protection.DOUBLE_FLEECE}
    assert alone.pots[0].no_job is NoJob.TOO_HEAVY
    assert {job.protection for job in together.jobs} == {Protection.MOVE}
    assert together.pots[0].no_job is None


def test_a_crown_is_tied_once():
    """Leaves that are tied up by lamp are not tied up again the next day, where the palm is too heavy to carry in."""
    plan = plan_of(lemon_and_heavy_palm(), frosty_nights(-5.0, 2), at(18, 0), days=2)

    tied = [job.batch for job in plan.jobs if job.pot == "palm" and job.protection is Protection.TIE_CROWN]
    assert tied == [Batch.TONIGHT]


def test_where_nobody_can_work_nothing_is_asked_of_anybody_tonight():
    """Without a window before the night no job is dated tonight, and the plan says why."""
    morning = WorkingWindow(EVERY_DAY, time(9), time(11), lit=False)

    # a lemon lives through the first night, and is carried in before the second
    plan = plan_of(lemon_and_heavy_palm(), frosty_nights(-3.0, 2), days=2, windows=(morning,))

    assert "nobody can work before tonight" in plan.notes
    assert [job for job in plan.jobs if job.batch is Batch.TONIGHT] == []
    tomorrow = [job for job in plan.jobs if job.batch is Batch.TOMORROW]
    assert tomorrow
    for job in tomorrow:
        assert at(9, days=1) <= job.start_by < at(11, days=1)


def test_what_there_is_no_time_for_tonight_and_is_done_next_is_not_told_as_left():
    """Many pots before a long frost and twenty minutes an evening by lamp: what tomorrow sees to has its time."""
    where = garden(
        *(pot(f"oleander {n}", planting("nerium-oleander", value_eur=80.0)) for n in range(20)),
        spots=(spot(), room(free_floor_m2=3.0)),
        stock=shed(),
    )
    window = WorkingWindow(EVERY_DAY, time(18), time(18, 20), lit=True)

    plan = plan_of(where, frosty_nights(-3.0, 3), days=3, windows=(window,))

    later = {job.pot for job in plan.jobs if job.batch is Batch.TOMORROW}
    left = {one.pot for one in plan.left_out if one.batch is Batch.BEFORE_SPELL}
    assert later and left and not later & left


def test_jobs_are_dated_inside_ones_own_window():
    """With a window from three to half past three every job begins in it and ends in it."""
    window = WorkingWindow(EVERY_DAY, time(15), time(15, 30), lit=False)

    plan = plan_of(lemon_and_heavy_palm(), frosty_night(-12.0), people=2, windows=(window,))

    assert len(plan.jobs) == 2
    for job in plan.jobs:
        assert at(15) <= job.start_by
        assert job.start_by + timedelta(minutes=job.minutes) <= at(15, 30)


def test_a_lit_evening_is_work_by_lamp():
    """Where the person's own window is after dark and lit, the plan says so, and jobs carry the caution."""
    window = WorkingWindow(EVERY_DAY, time(19), time(20), lit=True)

    plan = plan_of(garden(spots=(spot(), room())), frosty_night(-8.0), windows=(window,))

    assert "work by lamp" in plan.notes
    assert plan.jobs and all(Caution.DARK_WORK in job.cautions for job in plan.jobs)


def test_more_work_than_time_is_said():
    """Eight lemons in a window of twenty minutes do not fit: as many as do are planned, and the plan tells it."""
    lemons = [pot(f"lemon {n}", planting(value_eur=50.0 + n)) for n in range(8)]
    where = garden(*lemons, spots=(spot(), room()))
    window = WorkingWindow(EVERY_DAY, time(15), time(15, 20), lit=False)

    short = plan_of(where, frosty_night(-8.0), windows=(window,))
    long = plan_of(where, frosty_night(-8.0))

    assert len(long.jobs) == 8 and "more work than time" not in long.notes
    assert "more work than time" in short.notes
    assert 15.0 < short.minutes <= 20.0
    left_out = {one.id for one in short.pots if one.no_job is NoJob.NO_TIME}
    assert left_out == {one.id for one in short.pots} - {job.pot for job in short.jobs}
    assert "lemon 7" not in left_out and "lemon 0" in left_out  # the dearest are saved first


@pytest.mark.parametrize(
    ("plant", "coldest_c", "wrapped"),
    [
        ("echeveria", -6.0, False),  # a rosette whose heart froze does not come again from its roots
        ("agave-americana", -14.0, False),
        ("citrus-sinensis", -14.0, False),  # grafted: its roots are those of another kind
        ("nerium-oleander", -14.0, True),  # on roots of its own, which shoot again
        ("cordyline-australis", -14.0, True),  # shoots from the base as long as its roots live
    ],
)
def test_no_roots_are_saved_of_what_is_dead_above_them(plant: str, coldest_c: float, wrapped: bool):
    """With only film in the shed the pot of a plant whose growing point or grafted head dies for certain is left alone
    (common practice, no source), and that of one that comes again from the base is wrapped."""
    one = pot("one", planting(plant, value_eur=200.0))
    sky = weather(lambda clock: np.where((clock > 17.0) & (clock < 34.0), coldest_c, 8.0), members=3)
    plan = plan_of(garden(one, stock=shed(film())), sky)

    assert any(job.protection is Protection.WRAP for job in plan.jobs) is wrapped, plan.pots


def test_why_a_pot_at_risk_has_no_job_is_told():
    """Too heavy for one, only after dark, no room, nobody there: each pot at risk without a job says which."""
    palm = big_pot("palm", planting("phoenix-canariensis", value_eur=300.0, height_m=1.0, width_m=0.8))
    sky = frosty_night(-15.0)
    window = WorkingWindow(EVERY_DAY, time(9), time(10), lit=False)

    def told(*spots: Spot, **settings: Any) -> NoJob | None:
        return plan_of(garden(palm, spots=(spot(), *spots)), sky, **settings).pots[0].no_job

    assert told(room()) is NoJob.TOO_HEAVY
    assert told() is NoJob.NO_ROOM
    assert told(room(), windows=(window,)) is NoJob.TOO_LATE
    assert told(room(), people=2) is None  # it is carried in
    lamp = WorkingWindow(EVERY_DAY, time(18, 30), time(19, 15), lit=True)
    assert told(room(), people=2, windows=(lamp,)) is NoJob.TOO_DARK
    assert told(room(free_floor_m2=0.01), people=2) is NoJob.NO_ROOM


def test_a_room_that_others_have_filled_is_no_room():
    """The lemon that is left outdoors since a dearer one took the floor has no room, not "nothing helps"."""
    dear = pot("dear", planting(value_eur=90.0), floor_m2=0.2)
    cheap = pot("cheap", planting(value_eur=60.0), floor_m2=0.2)
    where = garden(dear, cheap, spots=(spot(), room(free_floor_m2=0.3)))

    plan = plan_of(where, frosty_night(-12.0))

    assert [job.pot for job in plan.jobs] == ["dear"]
    assert {one.id: one.no_job for one in plan.pots} == {"dear": None, "cheap": NoJob.NO_ROOM}


def test_film_that_does_not_go_round_leaves_roots_at_risk_and_says_so():
    """With film for one of three lavenders before a spell, the plan names the two that go without."""
    places = tuple(spot(name) for name in ("deck", "front", "side"))
    where = replace(lavenders("deck", "front", "side"), stock=shed(film(1, length_m=0.25)), spots=places)

    plan = plan_of(where, spell(0, 2), days=2)

    wrapped = {job.pot for job in plan.jobs if job.protection is Protection.WRAP}
    short = {one.pot: one for one in plan.left_out}
    assert wrapped and short and not wrapped & set(short)
    for one in short.values():
        assert (one.batch, one.lacking) == (Batch.BEFORE_SPELL, NoJob.NO_COVERS)
        assert one.loss.chance > 0.1 and one.loss.expected_eur > 0.0


def test_the_last_hood_goes_to_one_and_the_other_is_told_so():
    """Covers that others make more of are named as what is lacking."""
    where = garden(pot("cheap", peach(value_eur=60.0)), pot("dear", peach(value_eur=300.0)), stock=shed(hoods(1)))

    plan = plan_of(where, frosty_night(0.0, **CLEAR))

    assert {one.id: one.no_job for one in plan.pots} == {"dear": None, "cheap": NoJob.NO_COVERS}


def test_starts_are_cumulative_to_the_sunset():
    """The last job ends at sunset at the latest, each earlier one so much sooner as the later ones take."""
    pots = [pot(f"lemon {n}", planting(value_eur=100.0)) for n in range(4)]

    plan = plan_of(garden(*pots, spots=(spot(), room())), frosty_night(-8.0))

    assert len(plan.jobs) == 4 and plan.sunset is not None
    starts = [job.start_by for job in plan.jobs]
    assert starts == sorted(starts)
    for position, start in enumerate(starts):
        left = timedelta(minutes=sum(job.minutes for job in plan.jobs[position:]))
        assert timedelta(0) <= plan.sunset - start - left < timedelta(minutes=6)


def test_the_irreplaceable_comes_first_and_the_rest_in_walking_order():
    """Urgent jobs lead; otherwise one goes from spot to spot as they stand in the file."""
    pots = [
        pot("far", peach(), spot="front"),
        pot("near", peach()),
        pot("heirloom", peach(irreplaceable=True), spot="front"),
    ]
    where = garden(*pots, spots=(spot(), spot("front")), stock=shed(hoods(6)))

    plan = plan_of(where, frosty_night(0.0, **CLEAR))

    assert [job.pot for job in plan.jobs] == ["heirloom", "near", "far"]


# --- one pot and another -------------------------------------------------------------------------------


def test_one_more_pot_elsewhere_changes_nothing_for_the_others():
    """A further pot that shares no pieces leaves jobs and outlook of the others as they were."""
    others = [pot("peach", peach()), pot("lemon", planting(value_eur=60.0))]
    spots = (spot(), spot("front"), room())
    more = big_pot("laurel", planting("laurus-nobilis"), spot="front")
    sky = frosty_night(-1.0, **CLEAR)

    without = plan_of(garden(*others, spots=spots, stock=shed(hoods(9))), sky)
    with_it = plan_of(garden(*others, more, spots=spots, stock=shed(hoods(9))), sky)

    theirs = [job for job in with_it.jobs if job.pot != "laurel"]
    assert [(job.pot, job.protection, job.covers) for job in theirs] == [
        (job.pot, job.protection, job.covers) for job in without.jobs
    ]
    for before, after in zip(without.pots, with_it.pots, strict=False):
        assert after.coldest.leaf_c == pytest.approx(before.coldest.leaf_c, abs=1e-9)
        assert after.coldest.ring_c == pytest.approx(before.coldest.ring_c, abs=0.05)
        assert after.expected_loss_eur == pytest.approx(before.expected_loss_eur, rel=0.02)


def test_pots_alike_are_told_alike():
    """Two entries that say the same of two pots get the same numbers."""
    plan = plan_of(garden(pot("a"), pot("b")), frosty_night(-6.0))

    first, second = plan.pots
    assert first.coldest == second.coldest
    assert first.tissues == second.tissues


def test_a_pot_with_a_count_stands_for_so_many_entries():
    """Three pots alike in one entry lose as much as three entries."""
    where = frosty_night(-6.0)

    one, three = plan_of(garden(pot()), where), plan_of(garden(pot(count=3)), where)

    assert three.pots[0].expected_loss_eur == pytest.approx(3.0 * one.pots[0].expected_loss_eur)
    assert three.pots[0].chance_of_damage == one.pots[0].chance_of_damage
    assert three.nights[0].pots_at_risk == 3 * one.nights[0].pots_at_risk


def test_the_order_of_the_file_changes_no_pots_outlook():
    """Pots listed the other way round have the same nights."""
    pots = [pot("peach", peach()), big_pot("olive", planting("olea-europaea")), pot()]
    sky = frosty_night(-4.0)

    forward, backward = plan_of(garden(*pots), sky), plan_of(garden(*reversed(pots)), sky)

    assert sorted(forward.pots, key=lambda p: p.id) == sorted(backward.pots, key=lambda p: p.id)


# --- what must never be --------------------------------------------------------------------------------


NO_WIND = ("wind_speed_10m_m_s", "wind_gust_10m_m_s")


@pytest.mark.parametrize(
    ("coldest_c", "missing"), [(0.0, ()), (-4.0, ()), (-12.0, ()), (-1.0, NO_WIND), (-9.0, NO_WIND)]
)
def test_nothing_advised_is_worse_than_nothing(coldest_c: float, missing: tuple[str, ...]):
    """Every pot with a plan has no greater loss to expect with it than without it."""
    where = garden(
        pot("peach", peach()),
        pot("lemon", planting(value_eur=60.0)),
        big_pot("olive", planting("olea-europaea", value_eur=150.0), wetness=Wetness.DRY),
        spots=(spot(), room(free_floor_m2=0.1)),
        stock=shed(hoods(3), film(), bark(80.0), pot_feet=3),
    )

    plan = plan_of(where, frosty_night(coldest_c, without=missing, **CLEAR))

    better = {one.id for one in plan.pots if one.with_plan.expected_loss_eur < one.expected_loss_eur}
    assert all(one.with_plan.expected_loss_eur <= one.expected_loss_eur for one in plan.pots)
    assert {job.pot for job in plan.jobs} == better


@pytest.mark.parametrize(
    ("past_c", "past_h", "icy", "frozen"),
    [(5.0, 48, set(), set()), (-3.0, 9, {"big", "small"}, set()), (-4.0, 168, {"big", "small"}, {"big", "small"})],
)
def test_ice_in_the_balls_is_known_when_jobs_are_chosen(past_c: float, past_h: int, icy: set[str], frozen: set[str]):
    """A cold morning makes a skin of ice, which forbids watering; a week of frost a ball that must not be wrapped."""
    where = garden(pot("small"), big_pot("big"))
    sky = weather(lambda clock: np.where(clock > 14.0 - past_h, past_c, 4.0), past_h=240, ahead_h=24, members=3)

    tonight = round_tonight(evening_of(where, sky), Settings())

    assert tonight is not None
    assert (tonight.about.icy, tonight.about.frozen) == (icy, frozen)


def test_ice_counts_as_it_is_when_the_work_is_done():
    """A small pot that is thawed by daylight is frozen by eleven, when its owner has time: a wrap would come late."""
    tiny = pot("tiny", radius_m=0.04, height_m=0.08, volume_l=0.4)
    sky = weather(lambda clock: np.where(clock <= 17.0, 3.0, -14.0), ahead_h=24, members=3, wind_speed_10m_m_s=8.0)
    late = Settings(windows=(WorkingWindow(EVERY_DAY, time(22), time(23), lit=True),))
    found = evening_of(garden(tiny), sky)

    by_day, by_lamp = round_tonight(found, Settings()), round_tonight(found, late)

    assert by_day is not None and by_lamp is not None
    assert by_day.about.frozen == frozenset() and by_lamp.about.frozen == {"tiny"}


@pytest.mark.parametrize(
    ("at_two_c", "at_four_c", "waters"), [(6.0, 3.0, True), (2.0, 3.9, False), (-1.0, -3.0, False)]
)
def test_water_is_given_by_daylight_and_while_it_is_mild(at_two_c: float, at_four_c: float, waters: bool):
    """Above 4 degC in the hours that there are hands, and never by lamp."""
    sky = weather(lambda clock: np.interp(clock, [14.0, 17.0], [at_two_c, at_four_c]), ahead_h=24, members=3)
    lamp = Settings(windows=(WorkingWindow(EVERY_DAY, time(18), time(19), lit=True),))
    found = evening_of(garden(), sky)

    by_day, by_lamp = round_tonight(found, Settings()), round_tonight(found, lamp)

    assert by_day is not None and by_day.about.mild_enough_to_water is waters
    assert by_lamp is not None and not by_lamp.about.mild_enough_to_water


def test_a_mild_morning_before_the_hours_of_work_is_no_time_to_water():
    """Six degrees at nine, when the question is asked, help nobody who has time at three, in one degree."""
    sky = weather(lambda clock: np.where(clock <= 12.0, 6.0, 1.0), asked=at(9), ahead_h=30, members=3)
    found = evening_of(garden(pot(wetness=Wetness.DRY)), sky, at(9))
    at_three = Settings(windows=(WorkingWindow(EVERY_DAY, time(15), time(16), lit=False),))

    at_once, later = round_tonight(found, Settings()), round_tonight(found, at_three)

    assert at_once is not None and at_once.about.mild_enough_to_water
    assert later is not None and not later.about.mild_enough_to_water


def test_what_the_gale_asks_for_comes_out_of_the_same_minutes():
    """With twenty minutes in all, tying down three pots leaves eleven for hoods."""
    tall = {"height_m": 1.6, "width_m": 0.8}
    where = garden(
        *(pot(f"tall {n}", planting("laurus-nobilis", **tall)) for n in range(3)),
        *(pot(f"peach {n}", peach(value_eur=200.0), spot="front") for n in range(8)),
        spots=(spot(), spot("front", wind_fraction=0.1)),
        stock=shed(hoods(20)),
    )
    window = WorkingWindow(EVERY_DAY, time(14), time(14, 20), lit=False)
    sky = frosty_night(-1.0, wind_gust_10m_m_s=28.0, **CLEAR)

    plan = plan_of(where, sky, windows=(window,))

    tonight = [job for job in plan.jobs if job.batch is Batch.TONIGHT]
    kinds = Counter(job.protection for job in tonight)
    assert kinds[Protection.SECURE] == 3 and kinds[Protection.FLEECE] + kinds[Protection.DOUBLE_FLEECE] >= 1
    assert sum(job.minutes * job.people for job in tonight) <= 20.0
    assert any(one.lacking is NoJob.NO_TIME for one in plan.left_out)


def test_a_ball_that_is_frozen_by_the_evening_is_not_wrapped():
    """An oleander that a wrap would be put on after mild days gets none after two days of frost."""
    where = garden(pot("oleander", planting("nerium-oleander", value_eur=100.0)), stock=shed(film()))

    def jobs_after(past_c: float) -> set[Protection]:
        sky = weather(
            lambda clock: np.where(clock < 17.0, past_c, -9.0), past_h=48, ahead_h=24, members=3
        )
        return {job.protection for job in plan_of(where, sky).jobs}

    assert jobs_after(5.0) == {Protection.WRAP}
    assert jobs_after(-4.0) == set()


def test_a_frozen_ball_is_not_watered_or_mulched_by_any_plan():
    """After a week of frost pots hold ice: the lemon is carried in, and nothing is done that keeps the cold in."""
    where = garden(
        pot("lemon", planting(value_eur=100.0), wetness=Wetness.DRY),
        pot("box", planting("buxus-sempervirens", value_eur=100.0), wetness=Wetness.DRY),
        spots=(spot(), room()),
        stock=shed(hoods(4), film(), bark(80.0)),
    )
    sky = weather(lambda clock: np.where(clock < 14.0, -4.0, -9.0), past_h=120, ahead_h=48, members=3)

    plan = plan_of(where, sky, days=2)

    assert all(one.frozen_fraction > 0.1 for one in plan.pots)
    assert plan.jobs
    assert not {job.protection for job in plan.jobs} & {Protection.WRAP, Protection.WATER, Protection.MULCH}


def test_no_plan_uses_an_escape_route():
    """With nothing but a shared stairwell to go to, a freezing lemon stays outdoors."""
    where = garden(
        pot("lemon", planting(value_eur=100.0)), spots=(spot(), room("stairwell", escape_route=True))
    )

    assert "stairwell" not in {job.to_spot for job in plan_of(where, frosty_night(-10.0)).jobs}


# --- notes and outlook ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("missing", "note"),
    [
        (("wind_speed_10m_m_s",), "wind_speed_10m_m_s missing"),
        (("cloud_cover_percent",), "cloud_cover_percent missing"),
        (("dew_point_c",), "humidity missing"),
    ],
)
def test_what_the_weather_lacks_is_told(missing: tuple[str, ...], note: str):
    """Missing wind, cloud or humidity is in the plan's notes, once."""
    plan = plan_of(garden(), frosty_night(-3.0, without=missing))

    assert Counter(plan.notes)[note] == 1


def test_an_unstated_shed_is_told_as_assumed():
    """Where the file says nothing of covers the plan says that the usual ones were taken."""
    unstated = garden(stock=Stock((), 0, stated=False))

    assert "stock assumed" in plan_of(unstated, frosty_night(3.0)).notes
    assert "stock assumed" not in plan_of(garden(), frosty_night(3.0)).notes


def test_nights_are_told_one_by_one_with_their_coldest_air():
    """Each coming night has its date, its coldest air, and how many pots are at risk in it."""
    plan = plan_of(garden(), spell(1, 1, low_c=-9.0), days=3)

    assert [night.date.day for night in plan.nights] == [14, 15, 16]
    assert plan.nights[1].coldest_air_c < -8.0 < 3.0 < plan.nights[0].coldest_air_c
    assert [night.pots_at_risk for night in plan.nights] == [0, 1, 0]
    assert all(night.coldest_air_c_p10 <= night.coldest_air_c for night in plan.nights)
    assert all(night.complete for night in plan.nights)


def test_the_coldest_values_are_medians_with_tenth_percentiles_below():
    """Ring, mean, core and leaf are told in the middle of the members, and in the cold tenth."""
    coldest = plan_of(garden(), frosty_night(-5.0)).pots[0].coldest

    assert coldest.ring_c < coldest.mean_c < coldest.core_c
    for name in ("ring_c", "mean_c", "leaf_c"):
        assert getattr(coldest, f"{name}_p10") < getattr(coldest, name)


def test_asked_before_dawn_what_still_helps_is_told():
    """At three in the morning the running night is meant, and what is light enough for the dark is for now."""
    asked = at(3, 0, days=1)
    light_and_heavy = lemon_and_heavy_palm()

    plan = plan_of(light_and_heavy, weather(-6.0, asked=asked, members=3), asked, days=2)

    assert plan.night == date(2026, 1, 14)
    assert "asked after dusk" in plan.notes
    tonight = [job for job in plan.jobs if job.batch is Batch.TONIGHT]
    assert {job.pot for job in tonight} <= {"lemon"}
    assert all(asked <= job.start_by < asked + timedelta(hours=1.5) for job in tonight)


def test_a_question_in_utc_gives_the_same_plan():
    """The zone in which the time of asking is written changes nothing."""
    where, sky = garden(spots=(spot(), room())), frosty_night(-8.0)

    local, universal = plan_of(where, sky), plan_of(where, sky, ASKED.astimezone(UTC))

    assert local.to_dict() == universal.to_dict()


@pytest.mark.parametrize("asked", [datetime(2026, 3, 28, 14, tzinfo=ZONE), datetime(2026, 10, 24, 14, tzinfo=ZONE)])
def test_on_clock_change_evenings_deadlines_keep_to_the_clock(asked: datetime):
    """On both evenings round a change of clocks jobs are due before that evening's sunset, local time."""
    sky = weather(
        lambda clock: np.where((clock > 18.0) & (clock < 33.0), -8.0, 8.0), asked=asked, ahead_h=30, members=3
    )

    plan = plan_of(garden(pot("lemon", planting(value_eur=100.0)), spots=(spot(), room())), sky, asked)

    assert plan.night == asked.date()
    (job,) = plan.jobs
    assert plan.sunset is not None and asked <= job.start_by < plan.sunset
    assert job.start_by.utcoffset() == asked.utcoffset()  # still the evening's own offset


def test_polar_night_has_a_plan_without_sunset():
    """Where the sun stays down there is a plan, with jobs, and no sunset in it."""
    oslo_noon = datetime(2025, 12, 21, 13, tzinfo=ZONE)
    where = garden(
        pot("lemon", planting(value_eur=100.0)),
        spots=(spot(), room()),
        latitude_deg=69.65,
        longitude_deg=18.96,
        time_zone="Europe/Oslo",
    )

    falling = [*[4.0] * 5, *[-6.0] * 28]  # from two hours before the question
    plan = plan_of(where, weather(falling, asked=oslo_noon, past_h=2, ahead_h=30, members=3), oslo_noon)

    assert plan.sunset is None
    assert plan.to_dict()["sunset"] is None
    assert [job.protection for job in plan.jobs] == [Protection.MOVE]
