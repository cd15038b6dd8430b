"""Jobs in the logbook: named, signed off, in force, and the terrace as they leave it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from typing import Any

import plans
import pytest

from frostguard.advice.plan import AdvicePlan, Batch, CoverUse, Protection
from frostguard.advice.state import PartDone, TerraceState, Told
from frostguard.errors import FrostguardError
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import CoverPiece, Garden, Neighbours
from frostguard.logbook import jobs, nights
from frostguard.logbook.book import Logbook, in_memory
from frostguard.logbook.jobs import JobState, Word
from frostguard.logbook.terrace import Standing, claim, standing, with_told
from tests.unit.notify.moments import garden

NOW = plans.ASKED
FLEECE = (CoverUse("fleece 30", "hood", 1),)


@pytest.fixture
def book() -> Iterator[Logbook]:
    """A logbook with the jobs of one evening."""
    with in_memory() as opened:
        keep(opened, evening())
        yield opened


def keep(book: Logbook, plan: AdvicePlan) -> None:
    """Put a plan's jobs down as told."""
    book.write(lambda connection: jobs.keep_jobs(connection, plan, replace_told=True, today=plans.NIGHT))


def evening(**changes: object) -> AdvicePlan:
    """Three jobs for the demo terrace: two under fleece, one carried in."""
    pots = {pot.id: pot for pot in garden().pots}

    def job(pot: str, protection: Protection, minute: int, **more: object) -> object:
        spot, label = pots[pot].spot, pots[pot].label
        return plans.job(pot, protection, label=label, spot=spot, start_by=plans.at(15, minute), **more)

    off = plans.at(10, days=1)
    told = (
        job("camellia", Protection.FLEECE, 20, covers=FLEECE, undo_after=off),
        job("hydrangea", Protection.FLEECE, 30, covers=FLEECE, undo_after=off),
        job("pelargoniums", Protection.MOVE, 40, to_spot="wash room"),
    )
    return plans.plan(**{"jobs": told, **changes})


def signed(book: Logbook, word: Word, written: str) -> int:
    """Sign off what is meant by that; how many jobs it was."""
    meant = jobs.meant_by(book, word, written, plans.NIGHT)
    jobs.sign_off(book, meant, word, "Ana", NOW)
    return len(meant)


def stands(book: Logbook, later: timedelta = timedelta(0)) -> Standing:
    """The demo terrace by this logbook."""
    return standing(book, garden(), load_catalogue(), NOW + later)


def pot_in(found: Garden, name: str) -> object:
    """A pot by its id."""
    return next(pot for pot in found.pots if pot.id == name)


@pytest.mark.parametrize(
    ("written", "count"), [("1", 1), ("camellia", 1), ("Camellia", 1), ("fleece", 2), ("ALL", 3), ("palm", 0), ("9", 0)]
)
def test_jobs_are_named_by_number_pot_kind_or_all(book: Logbook, written: str, count: int) -> None:
    """Whatever a person would write names the jobs that it fits."""
    assert len(jobs.meant_by(book, Word.FINISHED, written, plans.NIGHT)) == count


def test_what_came_too_late_is_one_job_with_that_of_the_next_night(book: Logbook) -> None:
    """Told beside tonight's as too late, and told by the next evening's plan: it is listed once, under its night."""
    tomorrow = plans.NIGHT + timedelta(days=1)
    late = plans.job("olive", Protection.MOVE, to_spot="wash room", batch=Batch.TOMORROW)
    tonight, next_night = evening(jobs=(late,)), evening(night=tomorrow, jobs=(replace(late, batch=Batch.TONIGHT),))
    for plan in (tonight, next_night, tonight):
        keep(book, plan)
        found = [one for one in jobs.listed(book, plans.NIGHT) if one.pot == "olive"]
        assert len(found) == 1
    assert found[0].night == tomorrow


def test_a_whole_group_is_named_by_its_spot(book: Logbook) -> None:
    """All jobs at one spot at once."""
    at_wall = [job for job in evening().jobs if job.spot == "house wall"]
    assert at_wall
    assert len(jobs.meant_by(book, Word.FINISHED, "House Wall", plans.NIGHT)) == len(at_wall)


def test_what_is_signed_off_stands_on_the_terrace(book: Logbook) -> None:
    """The next question finds fleece on the camellia, the pelargoniums indoors, and a hood less in the shed."""
    before = {piece.piece: piece.count for piece in garden().stock.covers if piece.material == "fleece 30"}
    signed(book, Word.FINISHED, "camellia")
    signed(book, Word.FINISHED, "pelargoniums")
    now = stands(book)
    camellia, inside = pot_in(now.garden, "camellia"), pot_in(now.garden, "pelargoniums")
    assert camellia.covers_on == ("fleece 30",)
    assert now.state.covers_in_force["camellia"] == ("fleece 30",)
    assert (inside.spot, inside.neighbours) == ("wash room", Neighbours.ROW)
    after = {piece.piece: piece.count for piece in now.garden.stock.covers if piece.material == "fleece 30"}
    assert after["hood"] == before["hood"] - 1
    assert {one.pot: one.spot for one in now.in_force}["pelargoniums"] != "wash room"  # where it belongs
    assert jobs.finished_on(book, plans.NIGHT) == {
        ("camellia", Protection.FLEECE),
        ("pelargoniums", Protection.MOVE),
    }


def test_the_shed_holds_what_is_left(book: Logbook) -> None:
    """A roll is shorter by what was cut off, a sheet that is spread is gone, mulch is measured, feet go by three."""
    uses = (
        CoverUse("bubble film", "roll", 0.25),
        CoverUse("fleece 17", "sheet", 0.4),
        CoverUse("bark mulch", "litres", 15.0),
        CoverUse("pot feet", "set", 2),
    )
    told = replace(evening().jobs[0], protection=Protection.WRAP, covers=uses)
    keep(book, evening(jobs=(told,)))
    signed(book, Word.FINISHED, "wrap")
    left = stands(book).garden.stock
    assert {(piece.material, piece.count, piece.length_m, piece.litres) for piece in left.covers} == {
        ("fleece 30", 3, None, None),
        ("bubble film", 1, 7.5, None),
        ("bark mulch", 1, None, 25.0),
    }
    assert left.pot_feet == garden().stock.pot_feet - 6


def test_the_sheet_that_is_out_is_gone_and_not_another_one(book: Logbook) -> None:
    """Of two sheets of one fleece the small one is spread: the large one is still in the shed."""
    small = CoverUse("fleece 17", "sheet", 1.0, 2.0, 1.5)
    told = replace(evening().jobs[0], protection=Protection.FLEECE, covers=(small,))
    keep(book, evening(jobs=(told,)))
    signed(book, Word.FINISHED, "fleece")
    sheets = tuple(CoverPiece("fleece 17", "sheet", 2.0, length, None, 1) for length in (5.0, 1.5))
    shed = replace(garden().stock, covers=sheets)

    left = standing(book, replace(garden(), stock=shed), load_catalogue(), NOW).garden.stock

    assert [piece.length_m for piece in left.covers] == [5.0]


def test_what_is_taken_back_is_as_the_file_says_again(book: Logbook) -> None:
    """Cover off, pot back to its place: nothing is in force, and the job is not open again."""
    signed(book, Word.FINISHED, "all")
    assert signed(book, Word.TAKE_BACK, "all") == 3
    assert stands(book).garden == garden()
    assert {job.state for job in jobs.listed(book, plans.NIGHT)} == {JobState.TAKEN_BACK}


def test_a_sign_off_by_mistake_is_withdrawn(book: Logbook) -> None:
    """To ask again opens the job, and it is as if it had never been said; the history keeps both words."""
    signed(book, Word.FINISHED, "camellia")
    assert signed(book, Word.ASK_AGAIN, "camellia") == 1
    assert stands(book).garden == garden()
    assert jobs.numbered(book, 1).state is JobState.OPEN
    words = book.rows("SELECT word, name FROM sign_offs WHERE job = 1 ORDER BY id")
    assert [(row["word"], row["name"]) for row in words] == [("finished", "Ana"), ("ask again", "Ana")]


def test_a_job_put_off_is_not_in_force(book: Logbook) -> None:
    """Not tonight is an answer, not a cover."""
    signed(book, Word.NOT_TONIGHT, "hydrangea")
    assert stands(book).in_force == ()
    assert jobs.numbered(book, 2).state is JobState.NOT_TONIGHT


def test_fleece_of_which_nobody_says_that_it_is_still_on_counts_as_off(book: Logbook) -> None:
    """A day and a half after its time to come off; what was carried in stays in."""
    signed(book, Word.FINISHED, "all")
    assert len(stands(book, timedelta(hours=50)).in_force) == 3
    later = stands(book, timedelta(hours=60))
    assert [one.pot for one in later.in_force] == ["pelargoniums"]
    assert pot_in(later.garden, "camellia").covers_on == pot_in(garden(), "camellia").covers_on


def test_a_later_plan_of_the_night_keeps_numbers_and_sign_offs(book: Logbook) -> None:
    """A known job keeps its number; one that is not asked for any more is dropped unless it was done."""
    signed(book, Word.FINISHED, "hydrangea")
    earlier = replace(evening().jobs[0], start_by=plans.at(14))
    keep(book, evening(jobs=(earlier,)))
    shown = {job.number: (job.pot, job.state) for job in jobs.listed(book, plans.NIGHT)}
    assert shown == {1: ("camellia", JobState.OPEN), 2: ("hydrangea", JobState.FINISHED)}
    assert jobs.numbered(book, 1).start_by == plans.at(14)


def test_jobs_have_their_numbers_before_anybody_is_told(book: Logbook) -> None:
    """A number given beforehand stays when the job is put down; until then the job is neither listed nor asked for."""
    late = replace(evening().jobs[0], pot="olive", label="Olive")
    plan = evening(jobs=(*evening().jobs, late))
    book.write(lambda connection: jobs.reserve_numbers(connection, plan))
    assert [job.number for job in jobs.with_numbers(book, plan).jobs] == [1, 2, 3, 4]
    assert [job.number for job in jobs.listed(book, plans.NIGHT)] == [1, 2, 3]
    for _ in range(3):  # as often as a page is asked
        keep(book, plan)
    assert {job.number: job.pot for job in jobs.listed(book, plans.NIGHT)}[4] == "olive"
    keep(book, evening(jobs=(*plan.jobs, replace(late, pot="bay", label="Bay"))))
    assert {job.pot: job.number for job in jobs.listed(book, plans.NIGHT)}["bay"] == 5
    other_night = replace(plan, night=plan.night + timedelta(days=1))
    assert {job.number for job in jobs.with_numbers(book, other_night).jobs} == {None}


def test_the_next_question_knows_when_a_pot_was_watered(book: Logbook) -> None:
    """Signed off, the next question reckons from a moist mix at that hour."""
    dry = next(pot for pot in garden().pots if pot.wetness.value == "dry")
    watered = plans.job(dry.id, Protection.WATER, label=dry.label, spot=dry.spot, litres=1.5)
    keep(book, evening(jobs=(watered,)))
    signed(book, Word.FINISHED, dry.id)
    assert set(stands(book).state.watered_at) == {dry.id}


def test_pots_and_spots_that_are_gone_are_passed_over(book: Logbook) -> None:
    """The garden file was changed since: what it no longer knows is not in force."""
    signed(book, Word.FINISHED, "all")
    fewer = replace(garden(), pots=tuple(pot for pot in garden().pots if pot.id != "camellia"))
    found = standing(book, fewer, load_catalogue(), NOW)
    assert {one.pot for one in found.in_force} == {"hydrangea", "pelargoniums"}


def test_a_logbook_serves_one_garden(book: Logbook) -> None:
    """What was signed off at one place says nothing of another, and the check of another is refused."""
    claim(book, garden())
    signed(book, Word.FINISHED, "all")
    elsewhere = replace(garden(), site=replace(garden().site, latitude_deg=50.0))
    assert standing(book, elsewhere, load_catalogue(), NOW).garden == elsewhere
    with pytest.raises(FrostguardError, match="another place"):
        claim(book, elsewhere)
    claim(book, garden())


def test_what_was_told_for_a_night_is_known_at_the_next_question(book: Logbook) -> None:
    """The planner keeps to what the person has heard, and only for the night that it was about."""
    book.write(lambda connection: nights.keep_told(connection, evening(), NOW))

    heard = with_told(TerraceState(), book, plans.NIGHT)

    assert Told("pelargoniums", Protection.MOVE, "wash room") in heard.told and len(heard.told) == 3
    assert with_told(TerraceState(), book, plans.NIGHT + timedelta(days=1)).told == frozenset()


def alike(pot_id: str = "hydrangea", count: int = 3) -> Garden:
    """The demo terrace with several pots alike."""
    found = garden()
    return replace(found, pots=tuple(replace(pot, count=count) if pot.id == pot_id else pot for pot in found.pots))


def done_for(book: Logbook, count: int, protection: Protection, days: int = 0, **more: Any) -> None:
    """So many of three hydrangeas are seen to, some evenings on."""
    some = plans.job(
        "hydrangea", protection, count=count, alike=3, undo_after=plans.at(10, days=days + 1), **more
    )
    keep(book, evening(jobs=(some,), night=plans.NIGHT + timedelta(days=days)))
    meant = [job for job in jobs.listed(book, plans.NIGHT) if job.state is JobState.OPEN]
    jobs.sign_off(book, meant, Word.FINISHED, "Ana", NOW + timedelta(days=days))


def test_what_is_done_for_some_of_several_alike_is_remembered_and_the_rest_asked_about(book: Logbook) -> None:
    """Fleece over two of three hydrangeas: the next evening is about the third, and says so."""
    done_for(book, 2, Protection.FLEECE, covers=FLEECE)
    (listed,) = (job for job in jobs.listed(book, plans.NIGHT) if job.pot == "hydrangea")
    assert (listed.for_all, listed.count) == (False, 2)

    found = standing(book, alike(), load_catalogue(), NOW)
    third = pot_in(found.garden, "hydrangea")

    assert (third.count, third.set_aside) == (1, 2)
    assert third.covers_on == pot_in(garden(), "hydrangea").covers_on
    assert found.state.in_part == (PartDone(third.label, 2, 3, set_aside=True),)
    evening_after = standing(book, alike(), load_catalogue(), NOW + timedelta(days=4))
    assert pot_in(evening_after.garden, "hydrangea").count == 3  # nobody said that the fleece is still on


def test_the_rest_done_on_another_evening_makes_the_whole(book: Logbook) -> None:
    """Two hydrangeas under fleece, then the third: all three are, until some of it is taken back."""
    done_for(book, 2, Protection.FLEECE, covers=FLEECE)
    done_for(book, 1, Protection.FLEECE, days=1, covers=FLEECE)

    found = standing(book, alike(), load_catalogue(), NOW + timedelta(days=1))
    every = pot_in(found.garden, "hydrangea")
    assert (every.count, every.set_aside, found.state.in_part) == (3, 0, ())
    assert "fleece 30" in every.covers_on

    first = min(jobs.in_force(book), key=lambda one: one.since).job
    jobs.sign_off(book, [first], Word.TAKE_BACK, "Ana", NOW + timedelta(days=1))
    bare = pot_in(standing(book, alike(), load_catalogue(), NOW + timedelta(days=1)).garden, "hydrangea")
    assert (bare.count, bare.set_aside) == (2, 1)


def test_parts_seen_to_in_different_ways_leave_the_last_to_be_judged(book: Logbook) -> None:
    """Two carried in, the third under fleece: what may still need more is the one outdoors."""
    done_for(book, 2, Protection.MOVE, to_spot="wash room")
    done_for(book, 1, Protection.FLEECE, days=1, covers=FLEECE)

    last = pot_in(standing(book, alike(), load_catalogue(), NOW + timedelta(days=1)).garden, "hydrangea")
    assert (last.count, last.set_aside, last.spot) == (1, 2, pot_in(garden(), "hydrangea").spot)
    assert "fleece 30" in last.covers_on


def test_pots_carried_off_free_their_floor_and_take_it_where_they_went(book: Logbook) -> None:
    """Two of three hydrangeas in the wash room: room for two fewer there and for two more outside."""
    there = replace(alike(), spots=tuple(replace(one, free_floor_m2=1.5) for one in garden().spots))
    hydrangea = pot_in(there, "hydrangea")
    done_for(book, 2, Protection.MOVE, to_spot="wash room")

    def floor(where: Garden) -> dict[str, float]:
        left = standing(book, where, load_catalogue(), NOW).garden
        return {one.name: one.free_floor_m2 for one in left.spots}

    after = floor(there)
    assert after["wash room"] == pytest.approx(1.5 - 2 * hydrangea.floor_m2)
    assert after[hydrangea.spot] == pytest.approx(1.5 + 2 * hydrangea.floor_m2)
    assert {area for name, area in after.items() if name not in ("wash room", hydrangea.spot)} == {1.5}
    assert floor(replace(there, spots=tuple(replace(one, free_floor_m2=None) for one in there.spots))) == dict.fromkeys(
        after, None
    )
    # brought up to date, the file has it right by itself
    in_the_file = tuple(replace(one, spot="wash room") if one.id == "hydrangea" else one for one in there.pots)
    assert set(floor(replace(there, pots=in_the_file)).values()) == {1.5}


def test_some_that_are_wrapped_go_on_being_judged_with_the_others(book: Logbook) -> None:
    """A wrap sees to no night by itself: all three are reckoned as the unwrapped one, and that is said."""
    done_for(book, 2, Protection.WRAP)

    found = standing(book, alike(), load_catalogue(), NOW)
    every = pot_in(found.garden, "hydrangea")
    assert (every.count, every.set_aside) == (3, 0)
    assert every.covers_on == pot_in(garden(), "hydrangea").covers_on
    assert found.state.in_part == (PartDone(every.label, 2, 3, set_aside=False),)


def test_a_finished_part_is_not_made_what_a_later_plan_asks_for_the_rest(book: Logbook) -> None:
    """Told anew the same evening for the third pot, the job that was done stays one for two."""
    done_for(book, 2, Protection.FLEECE, covers=FLEECE)
    keep(book, evening(jobs=(plans.job("hydrangea", Protection.FLEECE, count=1, alike=3),)))
    (listed,) = (job for job in jobs.listed(book, plans.NIGHT) if job.pot == "hydrangea")
    assert (listed.state, listed.count) == (JobState.FINISHED, 2)


def test_when_pots_stood_otherwise_than_in_the_file(book: Logbook) -> None:
    """From the word that a job is done to the word that it is undone; fleece ends by itself, carrying in does not."""
    assert not jobs.times_of_jobs(book)
    signed(book, Word.FINISHED, "camellia")
    signed(book, Word.FINISHED, "pelargoniums")
    times = {one.pot: one for one in jobs.times_of_jobs(book)}
    assert set(times) == {"camellia", "pelargoniums"} and times["pelargoniums"].until is None
    until = times["camellia"].until
    assert until is not None and NOW + timedelta(hours=12) < until < NOW + timedelta(days=3)
    meant = jobs.meant_by(book, Word.TAKE_BACK, "pelargoniums", plans.NIGHT)
    jobs.sign_off(book, meant, Word.TAKE_BACK, "Ana", NOW + timedelta(days=5))
    assert {one.pot: one.until for one in jobs.times_of_jobs(book)}["pelargoniums"] == NOW + timedelta(days=5)
