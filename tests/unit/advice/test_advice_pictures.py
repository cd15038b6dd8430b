"""What is to be drawn of an evening comes from the simulation, to the last digit."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from frostguard.advice.advise import Reckoning, reckon_evening
from frostguard.advice.layout import Side
from frostguard.advice.outlook import night_hours
from frostguard.advice.pictures import LONGEST_CURVES_H, Pictures, PotPicture, pictures_of
from frostguard.advice.state import TerraceState
from frostguard.garden.settings import Settings
from tests.unit.advice.terraces import (
    ASKED,
    CLEAR,
    big_pot,
    frosty_night,
    frosty_nights,
    garden,
    hoods,
    planting,
    pot,
    room,
    shed,
    spot,
    weather,
)

ENGINE_K = 1e-3
"""Each hour is iterated until it moves by less, so a second run of the same hours may differ by some of it."""


@cache
def reckoning() -> Reckoning:
    """A lemon that wants fleece, an olive, and a lemon in a room, in a clear frosty night."""
    where = garden(
        pot("lemon"),
        big_pot("olive", planting("olea-europaea"), spot="wall"),
        pot("inside", spot="wash room"),
        spots=(spot(), spot("wall", against_house_wall=True), room()),
        stock=shed(hoods(3)),
    )
    return reckon_evening(where, frosty_night(-4.0, **CLEAR), TerraceState(), ASKED, Settings(days=1))


@cache
def pictures() -> Pictures:
    return pictures_of(reckoning(), pots=["lemon", "olive", "inside"])


def picture(name: str) -> PotPicture:
    return next(one for one in pictures().pots if one.pot == name)


def test_the_pots_at_risk_and_those_with_jobs_are_drawn_unless_pots_are_named():
    """Without names exactly the pots at risk or with a job are drawn, in the order of the file."""
    plan = reckoning().plan
    wanted = [
        one.id
        for one in plan.pots
        if one.at_risk or one.outer_roots_at_risk or any(job.pot == one.id for job in plan.jobs)
    ]

    drawn = [one.pot for one in pictures_of(reckoning()).pots]

    assert drawn == wanted
    assert "inside" not in drawn
    assert drawn


@pytest.mark.parametrize("name", ["lemon", "olive", "inside"])
def test_curves_are_the_simulated_hours_in_the_middle_member(name):
    """Each curve is a column of the evening's own run, from the question to the end of the night."""
    evening, drawn = reckoning().evening, picture(name)
    column = evening.terrace.middle_columns[0]
    hours = slice(0, len(drawn.hours))

    np.testing.assert_array_equal(drawn.alone.ring_c, evening.run.ring_c[hours, drawn.row, column])
    np.testing.assert_array_equal(drawn.alone.core_c, evening.run.core_c[hours, drawn.row, column])
    np.testing.assert_array_equal(drawn.alone.leaf_c, evening.run.leaf_c[hours, drawn.row, column])
    assert drawn.hours[0] == ASKED
    assert drawn.hours[-1] == evening.nights[0].ends


@pytest.mark.parametrize("name", ["lemon", "olive", "inside"])
def test_the_cut_is_taken_at_the_coldest_hour_and_holds_the_ring_that_is_told(name):
    """The hour is that of the coldest outer roots, and the field's outer ring is as cold as the run says."""
    evening, drawn = reckoning().evening, picture(name)
    cut = drawn.cut
    hour = drawn.hours.index(cut.time)
    series = evening.run.layout.series(drawn.row, Side.EXPOSED, int(evening.terrace.middle_columns[0]))

    assert drawn.alone.ring_c[hour] == drawn.alone.ring_c[1:].min()
    assert cut.ring_c == pytest.approx(evening.run.readings.coldest_ring_c[hour, series], abs=ENGINE_K)
    # the rings are means over the outermost centimetre, so the coldest cell of it lies at or below the coldest
    # ring and the warmest at or above it
    outer = cut.exposed_c[:, cut.radial_centres_m > cut.radial_edges_m[-1] - cut.ring_width_m]
    assert outer.min() - 1e-9 <= cut.ring_c <= outer.max() + 1e-9


def test_cells_and_fields_fit_together():
    """Fields have a value for each cell between the edges, which reach from axis to wall and from top to bottom."""
    cut, its_pot = picture("olive").cut, reckoning().evening.pots[1]

    assert cut.exposed_c.shape == cut.mean_c.shape == (cut.axial_edges_m.size - 1, cut.radial_edges_m.size - 1)
    assert cut.radial_edges_m[[0, -1]] == pytest.approx([0.0, its_pot.radius_m])
    assert cut.axial_edges_m[[0, -1]] == pytest.approx([0.0, its_pot.height_m])


def test_the_bare_side_is_colder_than_the_mean_of_all_sides():
    """Beside the house wall no cell of the mean side lies below the coldest of the exposed side, and most above."""
    cut = picture("olive").cut

    assert cut.exposed_c.min() <= cut.mean_c.min()
    assert cut.exposed_c.mean() < cut.mean_c.mean()


def test_curves_with_the_jobs_begin_when_they_are_done_and_help():
    """A job's curves begin at its hour with the ball as it is, end with the others, and keep leaves warmer."""
    drawn = picture("lemon")
    done = drawn.with_jobs
    assert done is not None
    assert drawn.done_at is not None
    first = drawn.hours.index(drawn.done_at)

    assert done.ring_c.size == len(drawn.hours) - first
    assert done.core_c[0] == pytest.approx(drawn.alone.core_c[first], abs=1e-6)
    assert done.leaf_c[1:].min() > drawn.alone.leaf_c[first + 1 :].min()


def test_a_pot_without_a_job_has_no_second_curves():
    """The lemon in the room needs nothing."""
    assert picture("inside").with_jobs is None
    assert picture("inside").done_at is None


def test_bands_hold_most_members_and_the_middle_one():
    """Tenth and ninetieth percentile enclose the middle member at every hour."""
    for drawn in pictures().pots:
        assert np.all(drawn.ring_band.low_c <= drawn.alone.ring_c + 1e-9)
        assert np.all(drawn.alone.ring_c <= drawn.ring_band.high_c + 1e-9)


def test_the_nights_air_is_the_median_over_members_and_each_night_has_its_dark_hours():
    """The picture of the nights takes the same air as the plan: coldest median minima agree with it."""
    evening, nights = reckoning().evening, pictures().nights
    inside = night_hours(evening.terrace, evening.run, evening.nights[0], evening.now)

    # the plan tells the median of each member's minimum; members share their hours, so both agree to a tenth
    assert nights.air_c[inside].min() == pytest.approx(reckoning().plan.nights[0].coldest_air_c, abs=0.1)
    assert [(begins, ends) for begins, ends in nights.dark] == [(one.sunset, one.sunrise) for one in evening.nights]


def test_curves_of_a_long_spell_are_cut_to_what_can_be_read():
    """However long the spell that the jobs are for, curves end after so many hours."""
    where = garden(big_pot("olive", planting("olea-europaea")), stock=shed(hoods(3)))
    found = reckon_evening(where, frosty_nights(-9.0, 5), TerraceState(), ASKED, Settings(days=5))

    for drawn in pictures_of(found).pots:
        assert len(drawn.hours) <= LONGEST_CURVES_H + 1


def test_bounding_cases_are_drawn_in_the_colder_one():
    """Where wind is not known, the curves are those of the case in which outer roots get coldest."""
    sky = weather(-3.0, without=["wind_speed_10m_m_s"], ahead_h=24, members=3)
    found = reckon_evening(garden(pot("lemon")), sky, TerraceState(), ASKED, Settings(days=1))
    drawn = pictures_of(found, pots=["lemon"]).pots[0]

    columns = found.evening.terrace.middle_columns
    assert columns.size == 2
    ring = found.evening.run.ring_c[: len(drawn.hours), 0][:, columns]
    assert drawn.alone.ring_c.min() == ring.min()
    hour = drawn.hours.index(drawn.cut.time)
    assert drawn.cut.ring_c == pytest.approx(ring[hour].min(), abs=ENGINE_K)




