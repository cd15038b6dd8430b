"""Short stays in the dark: as an experienced grower would have it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest

from frostguard.advice.plan import AdvicePlan, Protection, Stay
from frostguard.garden.model import Light
from tests.unit.advice.terraces import at, film, garden, plan_of, planting, pot, room, shed, spot, weather

NIGHTS = 5


@dataclass(frozen=True)
class Case:
    """What a grower would say of a plant that wants light, a cold of some nights, and a dark cellar; common
    practice, no source."""

    id: str
    plant: str
    cold_nights: int
    carried: bool
    reason: str


CASES = (
    Case("one-night", "echeveria", 1, True, "no plant misses the light in a day"),
    Case("three-nights", "echeveria", 3, True, "evergreens stand a cool dark room for a week and more"),
    Case("citrus-one-night", "citrus-limon", 1, True, "a night in the cellar, and out again the day after"),
    Case("no-end-in-sight", "echeveria", NIGHTS, False, "nobody knows how long it would stand in the dark"),
)


@cache
def plan_with_a_cellar(plant: str, cold_nights: int) -> AdvicePlan:
    """A plant in a small pot on the deck, frost of -6 degC for so many nights, and no room but a dark cellar."""

    def air_c(clock: np.ndarray) -> np.ndarray:
        in_the_cold = (clock > 18.0) & (clock < 24.0 * cold_nights + 10.0)
        dark = (clock % 24.0 < 8.0) | (clock % 24.0 > 18.0)
        return np.where(in_the_cold & dark, -6.0, 8.0)

    one = pot("one", planting(plant, value_eur=80.0))
    where = garden(one, spots=(spot(), room("cellar", light=Light.DARK)), stock=shed(film()))
    return plan_of(where, weather(air_c, ahead_h=24 * NIGHTS + 12, members=3), days=NIGHTS)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.id)
def test_a_plant_of_the_light_stands_in_the_dark_for_a_few_nights_only(case: Case) -> None:
    """It is carried into a dark room where the end of the cold is in sight, and not else."""
    jobs = plan_with_a_cellar(case.plant, case.cold_nights).jobs

    assert any(job.protection is Protection.MOVE for job in jobs) is case.carried, case.reason


@pytest.mark.parametrize("case", [case for case in CASES if case.carried], ids=lambda case: case.id)
def test_it_is_told_when_to_bring_it_out_of_the_dark(case: Case) -> None:
    """Even what winters indoors comes out at noon before the first harmless night, and the answer says how long the
    dark may last."""
    plan = plan_with_a_cellar(case.plant, case.cold_nights)

    (job,) = [job for job in plan.jobs if job.protection is Protection.MOVE]
    assert job.stays is None and job.undo_after == at(12, days=case.cold_nights)
    assert [note for note in plan.notes if note.startswith("dark room:")] == ["dark room:10:One"]


def test_in_a_lit_room_it_may_winter() -> None:
    """The same plant carried to where there is light stays until spring."""
    one = pot("one", planting("echeveria", value_eur=80.0))
    where = garden(one, spots=(spot(), room()), stock=shed())
    plan = plan_of(where, weather(lambda clock: np.where((clock > 18.0) & (clock < 32.0), -6.0, 8.0)), days=2)

    (job,) = plan.jobs
    assert job.stays is Stay.UNTIL_SPRING
