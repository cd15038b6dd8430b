"""How far pots stay above their limits with their covers off, or back in their places."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from frostguard.advice.plan import CLEAR_MARGIN_K
from frostguard.advice.state import TerraceState
from frostguard.advice.taken_back import margins_as_they_stand_k
from tests.unit.advice.terraces import ASKED, frosty_nights, garden, peach, planting, pot, room, spot

TONIGHT = date(2026, 1, 14)
BARE = garden(pot("peach", peach()), pot("lemon"), pot("laurel", planting("prunus-laurocerasus")))


def margins_k(coldest_c: float, days: int = 2, ahead_h: int = 72) -> dict[str, dict[date, float]]:
    """Of the peach and the lemon, by nights that come down to so much."""
    sky = frosty_nights(coldest_c, 3, ahead_h=ahead_h)
    return margins_as_they_stand_k(BARE, sky, TerraceState(), ASKED, {"peach", "lemon"}, days)


def test_a_degree_colder_is_a_degree_less_of_margin() -> None:
    """Flowers stand about -2 to -3 degC (10 % killed at -2.7 degC: FAO frost manual, 2005, from memory): nights of
    6 degC leave them a margin to uncover by, of 0 degC none; and the margin follows the air."""
    mild, frosty = margins_k(6.0)["peach"], margins_k(0.0)["peach"]

    assert set(mild) == {TONIGHT, TONIGHT + timedelta(days=1)}
    assert min(mild.values()) > CLEAR_MARGIN_K > min(frosty.values())
    assert min(mild.values()) - min(frosty.values()) == pytest.approx(6.0, abs=0.5)


def test_only_what_is_asked_about_is_reckoned_and_tender_plants_stay_in_for_the_winter() -> None:
    """A lemon that was carried in is not told to go out for a mild week of January (common practice)."""
    assert set(margins_k(6.0)) == {"peach"}


def test_nights_that_the_weather_leaves_out_are_not_told_of() -> None:
    """What is not seen whole is no all-clear."""
    assert set(margins_k(6.0, days=7, ahead_h=34)["peach"]) == {TONIGHT}


def test_a_pot_that_is_back_outdoors_is_reckoned_at_its_spot() -> None:
    """At the same hour its place in the frost-free room would leave it more."""
    outdoors = garden(pot("peach", peach()), spots=(spot(), room()))
    indoors = garden(pot("peach", peach(), spot="wash room"), spots=(spot(), room()))
    sky = frosty_nights(-4.0, 2)
    out, within = (
        margins_as_they_stand_k(where, sky, TerraceState(), ASKED, {"peach"}, 1)["peach"][TONIGHT]
        for where in (outdoors, indoors)
    )
    assert out < 0.0 < within
