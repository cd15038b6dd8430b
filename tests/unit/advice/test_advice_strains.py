"""Which pots the notes of an evening's strains name."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from frostguard.advice.plan import AdvicePlan
from frostguard.advice.strains import Strain
from frostguard.garden.model import Beneath, Pot, Shape, Spot
from tests.unit.advice.terraces import (
    at,
    frosty_night,
    garden,
    plan_of,
    planting,
    pot,
    room,
    spot,
    weather,
)

GALE = {"wind_speed_10m_m_s": 18.0, "wind_gust_10m_m_s": 32.0}


def named(plan: AdvicePlan, strain: Strain) -> list[str]:
    """The labels behind a strain's code; empty where it is not noted."""
    codes = [note.split(":") for note in plan.notes if note.split(":")[0] == strain.value]
    return codes[0][1:] if codes else []


def over_a_drop() -> tuple[Pot, ...]:
    """A basket, a railing box, a pot over nothing, and one on the deck, all of what no frost of tonight hurts."""
    heath = planting("erica-carnea", height_m=0.15, width_m=0.15)
    return (
        pot("basket", heath, shape=Shape.HANGING),
        pot("box", heath, shape=Shape.RAILING_BOX),
        pot("ledge", heath, spot="railing"),
        pot("deck", heath),
    )


def test_what_hangs_over_a_drop_is_named_before_a_gale() -> None:
    """No gust tips a basket or a railing box, but what is torn off its hook can kill somebody below.

    Common practice: in a storm railing boxes and baskets come inside.
    """
    spots = (spot(wind_fraction=0.75), spot("railing", wind_fraction=0.75, beneath=Beneath.NOTHING))
    where = garden(*over_a_drop(), spots=spots)

    assert named(plan_of(where, frosty_night(4.0, **GALE), days=1), Strain.GALE) == ["Basket", "Box", "Ledge"]
    assert named(plan_of(where, frosty_night(4.0), days=1), Strain.GALE) == []


def test_what_is_carried_in_is_told_of_neither_gale_nor_snow() -> None:
    """A tender evergreen that goes indoors tonight needs no cord against snow."""
    n = weather(0.2, ahead_h=40).times.size
    snow = np.where((np.arange(n) > 16) & (np.arange(n) <= 26), 1.0, 0.0)
    sky = weather(
        lambda clock: np.interp(clock, [14, 20, 32, 36], [1.0, 0.2, -1.5, 1.0]),
        asked=at(14),
        ahead_h=40,
        snowfall_cm=snow,
        precipitation_mm=1.4 * snow,
    )
    lemon = pot("lemon", planting(height_m=1.0, value_eur=100.0))
    yew = pot("yew", planting("taxus-baccata", height_m=1.2, width_m=0.4))

    plan = plan_of(garden(lemon, yew, spots=(spot(), room())), sky, days=1)

    assert [job.to_spot for job in plan.jobs if job.pot == "lemon"] == ["wash room"]
    assert named(plan, Strain.WET_SNOW) == ["Yew"]


@pytest.mark.parametrize(("coldest_c", "told"), [(-14.0, True), (-28.0, False)])
def test_no_late_spring_is_promised_to_what_is_rather_lost(coldest_c: float, told: bool) -> None:
    """Half a frozen ball means a late spring, but not where the plant is likely to die of it."""
    box = pot("box", replace(planting("buxus-sempervirens"), value_eur=5.0))

    plan = plan_of(garden(box), frosty_night(coldest_c), days=1)

    lates = named(plan, Strain.HALF_BALL) + named(plan, Strain.WHOLE_BALL)
    assert lates == (["Box"] if told else [])


@pytest.mark.parametrize(("coldest_c", "dead"), [(-12.0, ["Lemon"]), (3.0, [])])
def test_what_past_frosts_have_killed_is_said_before_it_is_carried(coldest_c: float, dead: list[str]) -> None:
    """A lemon and a houseleek that stood through a fortnight of hard frost: nobody should trust the lemon to live."""
    hardy = pot("houseleek", planting("sempervivum"))
    sky = weather(lambda clock: np.where(clock < 0.0, coldest_c, 3.0), past_h=14 * 24, ahead_h=24, members=3)

    assert named(plan_of(garden(pot("lemon"), hardy), sky, days=1), Strain.KILLED) == dead


def test_what_a_later_night_is_likely_to_kill_is_told_before_there_is_a_job_for_it() -> None:
    """A lemon that freezes to death the day after tomorrow, with no place to go: there is time to find one.

    With a place it has a job for that cold, and once its own night has come it stands under what stays at risk.
    """
    hours, air_c = [14.0, 66.0, 76.0, 80.0, 90.0], [6.0, 6.0, -9.0, -9.0, 6.0]

    def noted(*spots: Spot) -> list[str]:
        sky = weather(lambda clock: np.interp(clock, hours, air_c), ahead_h=96, members=3)
        lemon = pot("lemon", planting("citrus-limon", value_eur=60.0))
        return named(plan_of(garden(lemon, spots=(spot(), *spots)), sky, days=4), Strain.LOST_LATER)

    assert noted(room()) == []
    assert noted() == [at(12, days=2).date().isoformat(), "Lemon"]
    tonight = weather(lambda clock: np.interp(clock, [14.0, 26.0, 32.0, 40.0], [6.0, -9.0, -9.0, 6.0]), ahead_h=96)
    assert named(plan_of(garden(pot("lemon", planting("citrus-limon"))), tonight, days=4), Strain.LOST_LATER) == []
