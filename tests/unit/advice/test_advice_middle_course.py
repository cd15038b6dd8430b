"""Which likely course of the weather is drawn: the one whose coldest is what words tell."""

from __future__ import annotations

import numpy as np
import pytest

from frostguard.advice.middle_course import beside_median_k, colder_column, coldest_by_column, middle_member
from frostguard.advice.outlook import night_hours
from tests.unit.advice.terraces import CLEAR, evening_of, frosty_night, garden, pot


@pytest.mark.parametrize(
    ("coldest_c", "like", "member", "beside_k"),
    [
        ([-3.0, -5.0, -4.0], None, 2, 0.0),
        ([-3.0, -5.0, -4.0], 0, 2, 0.0),  # another is nearer than the one that is liked
        ([-3.0, -5.0, -4.0, -4.5], None, 3, 0.25),  # of two in the middle the colder
        ([-3.0, -5.0, -4.0, -4.5], 2, 2, 0.25),
        ([-3.0, -5.0, -4.0, -4.5], 1, 3, 0.25),
        ([-4.0, -4.0, -4.0], 1, 1, 0.0),
        ([-2.0], None, 0, 0.0),
    ],
)
def test_the_member_nearest_to_the_median_is_drawn(coldest_c, like, member, beside_k):
    """Of an odd number it is the median itself, of an even one the colder of two, or the one that is drawn already."""
    found = middle_member(np.array(coldest_c), like)

    assert found == member
    assert beside_median_k(np.array(coldest_c), found) == pytest.approx(beside_k)


def test_of_a_member_the_colder_bounding_case_is_drawn():
    """Without wind each member has two columns, and what counts of it is the colder one."""
    evening = evening_of(garden(pot("lemon")), frosty_night(-4.0, without=["wind_speed_10m_m_s"], **CLEAR))
    coldest_c = coldest_by_column(evening, "ring_c", 0)
    inside = night_hours(evening.terrace, evening.run, evening.nights[0], evening.now)

    assert evening.terrace.n_cases == 2
    np.testing.assert_array_equal(coldest_c, evening.run.ring_c[inside, 0].min(axis=0))
    for member in range(evening.terrace.n_members):
        column = colder_column(evening.terrace, member, coldest_c)
        assert column // 2 == member
        assert coldest_c[column] == coldest_c[2 * member : 2 * member + 2].min()
