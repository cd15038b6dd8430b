"""Losses and survivals: what a night's plan says of them, and what the next question makes of it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import plans
import pytest

from frostguard.advice.plan import PotWithPlan, Protection
from frostguard.advice.state import TerraceState
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import Pot
from frostguard.hardiness.model import Mark, Tissue
from frostguard.hardiness.own import SEEN_ERROR_K, Sighting
from frostguard.logbook import jobs, nights
from frostguard.logbook.book import Logbook, in_memory, open_logbook
from frostguard.logbook.lessons import TOLD_ERROR_K, lesson_of
from frostguard.logbook.losses import Harm, Lesson, losses, record_loss, sightings
from frostguard.logbook.schema import APPLICATION_ID, FIRST
from frostguard.logbook.terrace import standing
from frostguard.notify.moment import Look
from tests.unit.advice import terraces
from tests.unit.notify.moments import garden

NIGHT = plans.NIGHT


@pytest.fixture
def book() -> Iterator[Logbook]:
    """An empty logbook."""
    with in_memory() as opened:
        yield opened


def lemon() -> Pot:
    """The lemon of the demo terrace."""
    return next(pot for pot in garden().pots if pot.id == "lemon")


def keep_a_night(book: Logbook, **leaf: object) -> None:
    """A plan with the lemon's leaves at -4 and its roots at -1.5 degC, if nothing is done."""
    name = lemon().plantings[0].name
    tissues = (
        plans.tissue(planting=name, limit_c=-3.0, coldest_c=-4.0, coldest_c_p10=-6.0, chance=0.8, **leaf),
        plans.tissue(tissue=Tissue.WHOLE_ROOT, planting=name, limit_c=-5.0, coldest_c=-1.5, coldest_c_p10=-1.5),
    )
    seen = plans.pot("lemon", *tissues)
    cold = replace(seen.coldest, ring_c=-2.5, leaf_c=-4.0)
    seen = replace(seen, coldest=cold, with_plan=PotWithPlan(-0.5, -1.0, tissues, 0.1, 1.0))
    plan = plans.plan(
        pots=(seen,), nights=(plans.night(0, -4.5),), jobs=(plans.job("lemon", Protection.FLEECE),)
    )
    run = nights.begin_run(book, Look.LAST, NIGHT, plans.ASKED)
    book.write(lambda connection: nights.keep_plan(connection, run, plan, plans.ASKED))
    book.write(lambda connection: jobs.keep_jobs(connection, plan, replace_told=True, today=NIGHT))


def lesson(book: Logbook, harm: Harm, coldest_c: float | None = None, night: date = NIGHT) -> Lesson:
    """What that night teaches of the lemon."""
    return lesson_of(book, garden().site, lemon(), harm, night, coldest_c)


def test_the_last_plan_of_the_night_tells_how_cold_it_was(book: Logbook) -> None:
    """The likeliest tissue was hurt, at the plan's coldest and with its doubt; roots of what lives came through."""
    keep_a_night(book)
    found = lesson(book, Harm.HURT)
    leaf, root = found.sightings
    assert found.air_c == -4.5
    assert (leaf.tissue, leaf.hurt, leaf.coldest_c, leaf.limit_c) == (Tissue.LEAF, True, -4.0, -3.0)
    assert leaf.error_k == pytest.approx((SEEN_ERROR_K**2 + (2.0 / 1.2816) ** 2) ** 0.5)
    assert (root.tissue, root.hurt, root.coldest_c) == (Tissue.WHOLE_ROOT, False, -1.5)
    assert [one.hurt for one in lesson(book, Harm.UNHURT).sightings] == [False, False]
    assert [one.tissue for one in lesson(book, Harm.DEAD).sightings] == [Tissue.LEAF]  # the likeliest of the two


def test_what_was_learned_before_is_not_learned_twice(book: Logbook) -> None:
    """A plan whose limit had moved by a kelvin teaches beside the limit before that."""
    keep_a_night(book, learned_k=1.0)
    assert lesson(book, Harm.HURT).sightings[0].limit_c == -4.0


def test_a_pot_that_was_covered_is_judged_as_covered(book: Logbook) -> None:
    """With its fleece signed off the leaf stood what the plan had under fleece, roots as much warmer as the ring."""
    keep_a_night(book)
    meant = jobs.meant_by(book, jobs.Word.FINISHED, "lemon", NIGHT)
    jobs.sign_off(book, meant, jobs.Word.FINISHED, "", plans.ASKED)
    leaf, root = lesson(book, Harm.HURT).sightings
    assert leaf.coldest_c == -1.0
    assert root.coldest_c == pytest.approx(0.5) and root.error_k > SEEN_ERROR_K


def test_without_a_plan_only_the_persons_word_teaches(book: Logbook) -> None:
    """No plan and no temperature: nothing. A temperature is laid beside the limit of that date, not of today's."""
    assert lesson(book, Harm.DEAD) == Lesson()
    (winter,) = (one for one in lesson(book, Harm.HURT, -6.0, date(2026, 1, 20)).sightings)
    (autumn,) = (one for one in lesson(book, Harm.HURT, -6.0, date(2025, 10, 10)).sightings)
    assert (winter.coldest_c, winter.error_k, winter.hurt) == (-6.0, TOLD_ERROR_K, True)
    assert winter.limit_c < autumn.limit_c  # less hard in October


def test_a_garden_thermometer_shows_the_air_and_the_leaf_was_colder(book: Logbook) -> None:
    """Where the limit of leaves is told as screen air, the person's degrees are laid beside it as air."""
    olive = terraces.pot("olive", terraces.planting("olea-europaea"))
    told = lesson_of(book, garden().site, olive, Harm.HURT, date(2026, 1, 20), -6.0).sightings
    leaf = next(one for one in told if one.tissue is Tissue.LEAF)
    # hardened olive leaves are told to stand -7 degC of air: hurt a kelvin above that
    assert leaf.coldest_c - leaf.limit_c == pytest.approx(1.0, abs=0.1)


def test_the_persons_word_wins_over_the_plan(book: Logbook) -> None:
    """A temperature that was read counts in place of the one that was expected."""
    keep_a_night(book)
    leaf, root = lesson(book, Harm.HURT, -7.5).sightings
    assert (leaf.coldest_c, leaf.error_k) == (-7.5, TOLD_ERROR_K) and root.coldest_c == -1.5


def test_the_later_word_on_a_night_counts(book: Logbook) -> None:
    """Said again, a loss is one loss, with what was said last."""
    keep_a_night(book)
    for harm in (Harm.DEAD, Harm.HURT):
        record_loss(book, lemon(), harm, NIGHT, "", plans.ASKED, lesson(book, harm))
    (kept,) = losses(book)
    assert kept.harm is Harm.HURT and kept.air_c == -4.5
    assert sightings(book) == lesson(book, Harm.HURT).sightings


def test_the_next_advice_goes_by_what_was_lost(book: Logbook) -> None:
    """Leaves hurt above their limit: the next evening their limit is warmer and its chance of damage greater."""
    keep_a_night(book)
    record_loss(book, lemon(), Harm.HURT, NIGHT, "", plans.ASKED, lesson(book, Harm.HURT, -0.5))
    state = standing(book, garden(), load_catalogue(), plans.ASKED + timedelta(days=1)).state
    assert state.seen and state.seen[0].plant == lemon().plantings[0].taxon

    of = terraces.garden()  # with a lemon of the same kind in another pot
    before, after = (
        terraces.evening_of(of, terraces.frosty_night(-3.0, past_h=48), state=known).judgements[0][0]
        for known in (TerraceState(), state)
    )
    leaf_before, leaf_after = (
        next(one for one in found if one.limit.tissue is Tissue.LEAF) for found in (before, after)
    )
    assert leaf_after.limit.mark is Mark.LEARNED
    assert leaf_after.limit.limit_c > leaf_before.limit.limit_c + 0.3
    assert leaf_after.chance.mean() > leaf_before.chance.mean()


def test_a_logbook_of_the_first_version_keeps_its_losses(tmp_path: Path) -> None:
    """Losses written before anything was learned from them are there after the step, and more can be added."""
    path = tmp_path / "logbook.sqlite3"
    with closing(sqlite3.connect(path)) as old, old:
        for statement in FIRST:
            old.execute(statement)
        old.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        old.execute("PRAGMA user_version = 1")
        old.execute(
            "INSERT INTO losses (pot, label, plants, harm, night, at) VALUES "
            "('lemon', 'Lemon', 'citrus limon', 'dead', '2026-01-10', '2026-01-11T08:00:00+00:00')"
        )
    with open_logbook(path) as book:
        assert [one.harm for one in losses(book)] == [Harm.DEAD]
        seen = Sighting(NIGHT, "citrus limon", Tissue.LEAF, -4.0, -3.0, False)
        record_loss(book, lemon(), Harm.UNHURT, NIGHT, "", plans.ASKED, Lesson(-4.0, (seen,)))
        assert sightings(book) == (seen,) and len(losses(book)) == 2
