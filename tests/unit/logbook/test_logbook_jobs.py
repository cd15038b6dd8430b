"""Jobs in the logbook: named, signed off, in force, and the terrace as they leave it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import plans
import pytest

from frostguard.advice.plan import AdvicePlan, CoverUse, Protection
from frostguard.advice.state import TerraceState, Told
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


def test_what_was_done_for_some_of_several_alike_leaves_the_others_as_they_stood(book: Logbook) -> None:
    """Fleece over two of three hydrangeas takes its pieces from the shed and covers no entry as a whole."""
    some = plans.job(
        "hydrangea", Protection.FLEECE, covers=FLEECE, count=2, alike=3, undo_after=plans.at(10, days=1)
    )
    keep(book, evening(jobs=(some,)))
    assert signed(book, Word.FINISHED, "hydrangea") == 1

    (listed,) = jobs.listed(book, plans.NIGHT)
    assert not listed.for_all
    assert pot_in(stands(book).garden, "hydrangea").covers_on == pot_in(garden(), "hydrangea").covers_on
