"""What a professional would say of some seventy pots, through the whole advice; and where two simple rules go wrong."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest

from frostguard import advise, load_garden
from frostguard.advice.state import TerraceState
from frostguard.hardiness.limits import load_limits
from tests.e2e.trade_cases import CASES, EVENINGS, QUICK, SITE, Case
from tests.unit.advice.terraces import simulate_coarsely

QUICK_CASES = tuple(case for case in CASES if case.evening in QUICK)

IN_DANGER, OUT_OF_DANGER = 0.25, 0.1
"""Chances from which an outcome counts as expected or as not to be feared: words for a professional's judgement."""


BY_THE_CENTIMETRE = frozenset({"frost and thaw"})
"""Evenings that hang on what freezes and thaws within a day at the wall, which few cells smear out."""


@pytest.fixture(scope="module")
def plans(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """The plan of each evening, made once: all its cases stand in one garden."""
    folder: Path = tmp_path_factory.mktemp("gardens")

    @cache
    def plan_of(evening: str) -> dict[str, Any]:
        make, asked = EVENINGS[evening]
        lines = [f"  - {{id: {case.id}, label: {case.id}, {case.pot}}}" for case in CASES if case.evening == evening]
        path = folder / f"{evening.replace(' ', '-')}.yaml"
        path.write_text(SITE + "\n".join(lines) + "\n", encoding="utf-8")
        with pytest.MonkeyPatch.context() as patch:
            if evening not in BY_THE_CENTIMETRE:
                simulate_coarsely(patch)
            return advise(load_garden(path), make(), TerraceState(), asked).to_dict()

    return plan_of


def outlook(plan: dict[str, Any], case: Case) -> dict[str, Any]:
    return next(pot for pot in plan["pots"] if pot["id"] == case.id)


def chances(plan: dict[str, Any], case: Case) -> dict[str, float]:
    return {tissue["tissue"]: tissue["chance"] for tissue in outlook(plan, case)["tissues"]}


def jobs(plan: dict[str, Any], case: Case) -> list[str]:
    return [job["protection"] for job in plan["jobs"] if job["pot"] == case.id]


def labels_of(plan: dict[str, Any], note: str) -> list[str]:
    """The pots that a strain names."""
    return [label for told in plan["notes"] if told.split(":")[0] == note for label in told.split(":")[1:]]


def staying(plan: dict[str, Any], case: Case) -> tuple[bool, bool]:
    """Whether something of it is left on by day, and whether something stays for the season, and until when."""
    of = [job for job in plan["jobs"] if job["pot"] == case.id]
    season = [job for job in of if job["stays"] == "for the season"]
    assert all(job["season_ends"] is not None for job in season)
    return any(job["left_on_by_day"] for job in of), bool(season)


def test_the_cases_are_many_and_each_has_its_reason() -> None:
    """At least forty cases, no two of the same name, each with an expectation."""
    assert len(CASES) >= 40
    assert len({case.id for case in CASES}) == len(CASES)
    for case in CASES:
        assert case.reason and case.evening in EVENINGS
        outlooks = (case.safe, case.lost, case.kept, case.spared, case.note, case.no_note)
        deeds = (case.job, case.never, case.no_job, case.why, case.on_by_day is not None)
        assert any(outlooks) or any(deeds), case.id


@pytest.mark.parametrize(
    "case",
    [pytest.param(case, id=case.id, marks=() if case.evening in QUICK else pytest.mark.long) for case in CASES],
)
def test_the_advice_says_what_a_professional_would_say(case: Case, plans: Any) -> None:
    """Tissues in danger, tissues out of it, jobs and strains of each pot are those expected."""
    plan = plans(case.evening)
    told = chances(plan, case)
    if case.safe:
        assert outlook(plan, case)["chance_of_damage"] < OUT_OF_DANGER, told
    for tissue in case.lost:
        assert told.get(tissue, 0.0) >= IN_DANGER, told
    for tissue in case.spared:
        assert told.get(tissue, 0.0) < IN_DANGER, told
    for tissue in case.kept:
        assert told.get(tissue, 0.0) < OUT_OF_DANGER, told
    if case.job is not None:
        assert case.job in jobs(plan, case), (jobs(plan, case), outlook(plan, case)["no_job"])
    assert not set(jobs(plan, case)) & set(case.never)
    if case.no_job:
        assert jobs(plan, case) == []
    if case.why is not None:
        assert outlook(plan, case)["no_job"] == case.why
    if case.on_by_day is not None:
        assert staying(plan, case)[0] is case.on_by_day
    if case.for_the_season is not None:
        assert staying(plan, case)[1] is case.for_the_season
    if case.note is not None:
        assert case.id in labels_of(plan, case.note), plan["notes"]
    if case.no_note is not None:
        assert case.id not in labels_of(plan, case.no_note), plan["notes"]


# --- two rules that people go by -----------------------------------------------------------------------------


def cover_all_below_zero(plan: dict[str, Any]) -> bool:
    """Whether the rule "cover everything when it falls below 0 degC" acts tonight."""
    return bool(plan["nights"][0]["coldest_air_c"] < 0.0)


def act_by_the_label(plan: dict[str, Any], plant: str) -> bool:
    """Whether the rule "act when the air falls below what the label says of the top" acts tonight."""
    label_c = load_limits().find(plant).leaf_hardened.temperature_c
    return bool(plan["nights"][0]["coldest_air_c"] < label_c)


def plant_of(case: Case) -> str:
    return case.pot.split(",")[0].removeprefix("plant: ")


def in_danger(case: Case) -> bool:
    """What the professional says: something of it is in danger tonight."""
    return bool(case.lost or case.job)


def test_covering_everything_below_zero_works_for_nothing_and_misses_what_chills(plans: Any) -> None:
    """The first rule covers hardy pots night after night, and does nothing for what suffers above zero."""
    for_nothing = [case.id for case in QUICK_CASES if case.safe and cover_all_below_zero(plans(case.evening))]
    missed = [case.id for case in QUICK_CASES if in_danger(case) and not cover_all_below_zero(plans(case.evening))]
    assert {"apple-left-alone", "box-left-alone", "houseleek-left-alone", "houseleek-in-spring"} <= set(for_nothing)
    assert {"hibiscus-chilled", "basil-chilled"} == set(missed)


def test_going_by_the_label_misses_roots_soft_plants_and_flowers(plans: Any) -> None:
    """The second rule never acts for a hardy top over dying roots, in spring blossom, or for what has not hardened."""
    missed = {
        case.id
        for case in QUICK_CASES
        if in_danger(case) and not act_by_the_label(plans(case.evening), plant_of(case))
    }
    assert {"outer-roots-of-hardy-shrubs", "maple-outer-roots", "lavender-in-clay"} <= missed  # roots
    assert {"apple-blossom", "maple-opening-leaves", "hydrangea-shoots"} <= missed  # stages
    assert {"bought-last-week"} <= missed  # not hardened
