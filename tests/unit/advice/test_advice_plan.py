"""The plan as plain data: format 1 has the documented keys, and says times, numbers and codes plainly."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta
from functools import cache
from typing import Any

import pytest

from frostguard.advice.plan import (
    AdvicePlan,
    Batch,
    Caution,
    CoverUse,
    Job,
    Loss,
    Protection,
    TissueOutlook,
    pieces_to_fetch,
)
from frostguard.hardiness.model import Mark, Tissue
from tests.unit.advice.terraces import (
    CLEAR,
    at,
    bark,
    film,
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
)

DOCUMENTED = {
    "": {"format", "site", "issued_at", "night", "weather", "jobs", "pots", "nights", "totals", "cautions"},
    "weather": {"service", "model", "issued", "fetched", "age_h", "credit", "members"},
    "jobs": {
        "pot",
        "protection",
        "to_spot",
        "start_by",
        "minutes",
        "people",
        "covers",
        "loss_otherwise",
        "cautions",
    },
    "pots": {
        "id",
        "plant",
        "spot",
        "coldest_ring_c",
        "coldest_ring_c_p10",
        "coldest_mean_c",
        "coldest_mean_c_p10",
        "coldest_core_c",
        "coldest_core_c_p10",
        "coldest_leaf_c",
        "coldest_leaf_c_p10",
        "frozen_fraction",
        "hours_ring_below_0",
        "tissues",
        "chance_of_damage",
        "expected_loss",
        "with_plan",
    },
    "tissues": {"tissue", "limit_c", "coldest_c", "margin_c", "chance", "source"},
    "with_plan": {"coldest_ring_c", "coldest_leaf_c", "chance_of_damage", "expected_loss"},
    "nights": {"date", "coldest_air_c", "pots_at_risk"},
}
"""What format 1 promises to every reader."""

BESIDE = {
    "": {"sunset", "spell", "fetch_first", "left_out", "notes"},
    "weather": {"from_store", "is_guess"},
    "jobs": {"batch", "count", "in_time", "weight_kg", "litres", "undo_after", "stays", "left_on_by_day",
             "season_ends", "too_cold_there_from", "for_night", "there_again", "warm_till_then", "number", "with_job"},
    "pots": {"count", "no_job", "irreplaceable", "harmed_already", "water_fraction", "unattended"},
    "tissues": {"plant", "coldest_c_p10", "learned_k", "mark", "screen_air_limit_c"},
    "with_plan": set(),
    "nights": {"coldest_air_c_p10", "young_roots_at_risk", "complete"},
}
"""What format 1 says beyond that. A new key belongs here; one that goes away needs a new format."""


@cache
def full_plan() -> AdvicePlan:
    """A plan with jobs, a pot carried in, one covered, one left alone, and two nights."""
    where = garden(
        pot("lemon", planting(value_eur=100.0), floor_m2=0.05),
        pot("peach", peach(), count=2),
        pot("ivy", planting("hedera-helix")),
        spots=(spot(), room(free_floor_m2=0.06)),
        stock=shed(hoods(6), film(), bark(50.0)),
    )
    return plan_of(where, frosty_nights(-0.5, 2, **CLEAR), days=2)


def parts(told: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    yield "", told
    yield "weather", told["weather"]
    for name in ("jobs", "pots", "nights"):
        for part in told[name]:
            yield name, part
    for one in told["pots"]:
        yield from (("tissues", tissue) for tissue in one["tissues"])
        yield "with_plan", one["with_plan"]


def test_every_part_of_the_plan_has_exactly_its_keys():
    """Each part holds all documented keys, and beside them only those that are listed here."""
    seen = set()
    for name, part in parts(full_plan().to_dict()):
        assert set(part) == DOCUMENTED[name] | BESIDE[name], name
        seen.add(name)

    assert seen == set(DOCUMENTED)


def test_the_plan_is_json_without_special_numbers():
    """It goes through JSON and back unchanged, with neither NaN nor infinity in it."""
    told = full_plan().to_dict()

    assert json.loads(json.dumps(told, allow_nan=False)) == told
    assert told["format"] == 1


def test_a_plan_without_jobs_is_json_too():
    """A mild evening has the same shape."""
    mild = plan_of(garden(), frosty_nights(6.0, 1)).to_dict()

    assert json.loads(json.dumps(mild, allow_nan=False)) == mild
    assert mild["jobs"] == [] and mild["fetch_first"] == [] and mild["spell"] is None
    assert mild["totals"]["jobs"] == 0 and mild["totals"]["minutes"] == 0
    for name, part in parts(mild):
        assert set(part) == DOCUMENTED[name] | BESIDE[name]


def test_times_carry_their_offset():
    """Every time is ISO 8601 with the site's offset, every date a date."""
    told = full_plan().to_dict()

    times = [told["issued_at"], told["sunset"], *(job["start_by"] for job in told["jobs"])]
    times += [job["undo_after"] for job in told["jobs"] if job["undo_after"] is not None]
    assert len(times) > 3
    for moment in times:
        assert datetime.fromisoformat(moment).utcoffset() == timedelta(hours=1)
    assert datetime.fromisoformat(told["weather"]["issued"]).utcoffset() is not None
    assert date.fromisoformat(told["night"]) == date(2026, 1, 14)
    assert [date.fromisoformat(night["date"]).day for night in told["nights"]] == [14, 15]


def test_codes_are_those_of_the_enumerations():
    """Protections, batches, tissues, marks and cautions are told by their codes, not in prose."""
    told = full_plan().to_dict()

    for job in told["jobs"]:
        assert Protection(job["protection"]) and Batch(job["batch"])
        assert set(job["cautions"]) <= {caution.value for caution in Caution}
        assert job["loss_otherwise"]["tissue"] in {tissue.value for tissue in Tissue}
        assert set(job["loss_otherwise"]) == {"tissue", "plant", "chance", "chance_with_jobs", "expected"}
    for one in told["pots"]:
        for tissue in one["tissues"]:
            assert Tissue(tissue["tissue"]) and Mark(tissue["mark"])
            assert tissue["source"]


def test_every_pot_tells_how_it_fares_with_the_plan():
    """`with_plan` differs for the pots that have jobs, and repeats how the others stand."""
    told = full_plan().to_dict()

    with_jobs = {job["pot"] for job in told["jobs"]}
    assert with_jobs == {"lemon", "peach"}
    for one in told["pots"]:
        assert (one["with_plan"]["expected_loss"] < one["expected_loss"]) == (one["id"] in with_jobs)
        if one["id"] not in with_jobs:
            assert one["with_plan"] == {key: one[key] for key in one["with_plan"]}


def test_a_job_takes_some_of_the_chance_away():
    """Beside the chance without a pot's jobs stands the smaller one with them."""
    for job in full_plan().to_dict()["jobs"]:
        assert job["loss_otherwise"]["chance_with_jobs"] < job["loss_otherwise"]["chance"]


def test_margins_and_chances_are_what_they_are_called():
    """A margin is coldest less limit; chances lie between nothing and certainty."""
    for name, part in parts(full_plan().to_dict()):
        if name == "tissues":
            assert part["margin_c"] == pytest.approx(part["coldest_c"] - part["limit_c"], abs=0.06)
            assert 0.0 <= part["chance"] <= 1.0
        if name == "pots":
            assert 0.0 <= part["chance_of_damage"] <= 1.0
            assert 0.0 <= part["frozen_fraction"] <= 1.0
            assert part["coldest_ring_c_p10"] <= part["coldest_ring_c"]


def test_totals_are_the_sums_of_the_parts():
    """Jobs, minutes, pots and losses add up over the plan."""
    told = full_plan().to_dict()
    totals = told["totals"]

    assert totals["jobs"] == len(told["jobs"])
    assert totals["minutes"] == pytest.approx(sum(job["minutes"] for job in told["jobs"]), abs=0.1)
    assert totals["pots"] == 4  # two peaches in one entry
    assert totals["expected_loss"] == pytest.approx(sum(one["expected_loss"] for one in told["pots"]), abs=0.02)
    with_plan = sum(one["with_plan"]["expected_loss"] for one in told["pots"])
    assert totals["expected_loss_with_plan"] == pytest.approx(with_plan, abs=0.02)
    assert totals["expected_loss_with_plan"] < totals["expected_loss"]


def test_the_cautions_of_the_plan_are_those_of_its_jobs():
    """Each caution of a job stands once in the plan, and none beside."""
    plan = full_plan()

    of_jobs = {caution for job in plan.jobs for caution in job.cautions}
    assert set(plan.cautions) == of_jobs
    assert len(plan.cautions) == len(of_jobs)


def job_with(*covers: CoverUse) -> Job:
    return Job(
        pot="p",
        label="P",
        spot="deck",
        protection=Protection.WRAP,
        batch=Batch.TONIGHT,
        to_spot=None,
        start_by=at(16),
        minutes=2.0,
        people=1,
        weight_kg=None,
        covers=covers,
        litres=None,
        loss_otherwise=Loss(None, 0.5, 1.0),
        cautions=(),
        undo_after=None,
    )


def test_pieces_to_fetch_are_whole_and_added_up():
    """Shares of one roll add up to whole rolls, hoods count one by one, in the order of the jobs."""
    shares = [job_with(CoverUse("bubble film", "roll", 0.3)) for _ in range(4)]
    plan = replace(full_plan(), jobs=(job_with(CoverUse("fleece 30", "hood", 2)), *shares))

    assert plan.fetch_first == (CoverUse("fleece 30", "hood", 2), CoverUse("bubble film", "roll", 2))


def test_a_whole_roll_in_tenths_is_one_roll():
    """Tenths that add up to one are one piece, whatever binary fractions make of them."""
    tenths = (0.2, 0.4, 0.3, 0.1)
    assert 0.2 + 0.4 + 0.3 + 0.1 > 1.0  # sum() is compensated from Python 3.12 on
    plan = replace(full_plan(), jobs=tuple(job_with(CoverUse("bubble film", "roll", share)) for share in tenths))

    assert plan.fetch_first == (CoverUse("bubble film", "roll", 1),)


def test_a_pot_that_falls_is_told_as_such():
    """A loss without a tissue is the pot going over."""
    told = replace(full_plan(), jobs=(job_with(),)).to_dict()

    assert told["jobs"][0]["loss_otherwise"] == {
        "tissue": "pot falls",
        "plant": None,
        "chance": 0.5,
        "chance_with_jobs": None,
        "expected": 1.0,
    }


def test_the_weather_is_told_with_its_age():
    """Issued when asked, the weather is no hours old; its members are counted."""
    weather = full_plan().to_dict()["weather"]

    assert weather["service"] == "invented"
    assert weather["age_h"] == 0.0
    assert weather["members"] == 3
    assert weather["from_store"] is False


def test_a_margin_below_the_limit_is_negative():
    """Colder than the limit is a negative margin."""
    told = TissueOutlook(Tissue.LEAF, "p", -3.0, -4.5, -6.0, 0.9, Mark.MEASURED, "s", "")

    assert told.margin_c == -1.5


def test_a_sheet_serves_one_spot_and_a_roll_is_cut_for_all():
    """Half a sheet at each of two spots is two sheets; half a roll twice is one roll, three times two."""

    def uses(piece: str, *spots: str) -> list[Job]:
        return [replace(job_with(CoverUse("x", piece, 0.48)), spot=place) for place in spots]

    assert [use.count for use in pieces_to_fetch(uses("sheet", "deck", "front"))] == [2]
    assert [use.count for use in pieces_to_fetch(uses("sheet", "deck", "deck"))] == [1]
    assert [use.count for use in pieces_to_fetch(uses("roll", "deck", "front"))] == [1]
    assert [use.count for use in pieces_to_fetch(uses("roll", "a", "b", "c"))] == [2]
