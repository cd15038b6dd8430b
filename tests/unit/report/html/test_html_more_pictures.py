"""Pictures of the page alone: a trial's two courses, a thermometer's readings, nights kept back, read back."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from frostguard.advice.plan import Protection
from frostguard.advice.rounds import round_tonight
from frostguard.advice.what_if import Changes, Comparison, compare
from frostguard.garden.settings import Settings, Units
from frostguard.hardiness.model import Tissue
from frostguard.report.html.fit import NightRead, nights_kept_back_picture
from frostguard.report.html.read import HELD_TOGETHER, course_picture
from frostguard.report.html.side_by_side import fates_picture
from tests.unit.report.html.drawn import HALF_A_ROUNDING, axes, of_class, points_of, small

ZONE = ZoneInfo("Europe/Ljubljana")
UNITS = [(Units.METRIC, 0.0, 1.0), (Units.IMPERIAL, 32.0, 1.8)]


def temperature(y: float, axis: tuple[float, float]) -> float:
    """What the axis tells beside a place."""
    zero, slope = axis
    return (y - zero) / slope


def a_rounding(axis: tuple[float, float]) -> float:
    """Places and figures are each written to a tenth of a unit."""
    return 2.5 * HALF_A_ROUNDING / abs(axis[1])


@pytest.fixture(scope="module")
def comparison() -> Comparison:
    """The lemon under fleece."""
    evening = small().reckoning.evening
    turn = round_tonight(evening, Settings())
    assert turn is not None
    row = [pot.id for pot in evening.pots].index("lemon")
    return compare(evening, row, Changes((Protection.FLEECE,)), turn)


@pytest.mark.parametrize(("units", "zero", "per_k"), UNITS)
def test_both_courses_of_a_trial_are_those_that_were_simulated(comparison, units, zero, per_k):
    """The single line is the pot as it stands, the double one the changed pot, the dash and dot its limit."""
    image = fates_picture(comparison, units, "a trial")
    (axis,) = axes(image)
    single = next(path for path in image.iter("path") if path.get("class") in ("line leaf", "line ring", "line core"))
    double = next(path for path in image.iter("path") if path.get("id"))
    for path, fate in ((single, comparison.as_it_stands), (double, comparison.changed)):
        (places,) = points_of(path.get("d"))
        told = [temperature(y, axis) for _, y in places]
        assert told == pytest.approx([zero + per_k * value for value in fate.curve_c], abs=a_rounding(axis))
    limit = next(element for element in of_class(image, "limit") if element.tag == "path").get("d").split()[1]
    height = float(limit.split("H")[0])
    assert temperature(height, axis) == pytest.approx(zero + per_k * comparison.limit_c, abs=a_rounding(axis))


def test_the_lowest_points_of_a_trial_are_the_numbers_of_its_table(comparison):
    """Both courses fall as low as the table beside them tells of what they are told by."""
    for fate in (comparison.as_it_stands, comparison.changed):
        told = {Tissue.YOUNG_ROOT: fate.coldest_ring_c, Tissue.WHOLE_ROOT: fate.coldest_mean_c}
        assert min(fate.curve_c) == pytest.approx(told.get(comparison.told_by, fate.coldest_leaf_c), abs=1e-9)


@pytest.mark.parametrize(("units", "zero", "per_k"), UNITS)
def test_readings_are_drawn_where_they_were_read(units, zero, per_k):
    """Of each hour the coldest; far apart, readings are not joined; alone, one is a dot."""
    begins = datetime(2026, 1, 10, 18, tzinfo=ZONE)
    near = [(begins + timedelta(minutes=20 * k), -0.1 * k) for k in range(12)]
    alone = (begins + timedelta(hours=4) + HELD_TOGETHER, 3.0)
    image = course_picture([*near, alone], units, "readings")
    (axis,) = axes(image)
    (course,) = points_of(of_class(image, "line air-course")[0].get("d"))
    assert [temperature(y, axis) for _, y in course] == pytest.approx(
        [zero + per_k * value for value in (-0.2, -0.5, -0.8, -1.1)], abs=a_rounding(axis)
    )
    x, y = (float(part) for part in of_class(image, "dots")[0].get("d").removesuffix("h0")[1:].split())
    assert temperature(y, axis) == pytest.approx(zero + per_k * 3.0, abs=a_rounding(axis))
    hours = np.array([(at - near[2][0]).total_seconds() for at in (near[2][0], near[11][0], alone[0])])
    places = np.array([course[0][0], course[-1][0], x])
    assert np.diff(places) / np.diff(hours) == pytest.approx(np.ptp(places) / np.ptp(hours), rel=0.02)


def test_one_reading_alone_makes_a_picture():
    """A first reading is a dot on an axis that has room round it, and its day is named."""
    image = course_picture([(datetime(2026, 1, 10, 7, tzinfo=ZONE), -2.0)], Units.METRIC, "one")
    assert of_class(image, "dots")
    assert "10" in "".join(image.itertext())


def test_nights_kept_back_stand_where_they_were_read_and_told():
    """Dot, ring and bar of each night lie at what was read, told, and at the ends of the interval."""
    nights = [
        NightRead(date(2026, 1, 10) + timedelta(days=k), -3.0 - k, -5.0, -3.5 - k, -4.6 - k, -2.4 - k) for k in range(4)
    ]
    image = nights_kept_back_picture(nights, Units.METRIC, "nights")
    (axis,) = axes(image)
    dots = [float(one.removesuffix("h0").split()[1]) for one in of_class(image, "dots")[0].get("d").split("M")[1:]]
    bars = [one.split()[1].split("V") for one in of_class(image, "told-bar")[0].get("d").split("M")[1:]]
    rings = [float(one.split("a")[0].split()[1]) for one in of_class(image, "told-ring")[0].get("d").split("M")[1:]]
    near = {"abs": a_rounding(axis)}
    assert [temperature(y, axis) for y in dots] == pytest.approx([one.read_c for one in nights], **near)
    assert [temperature(y, axis) for y in rings] == pytest.approx([one.after_c for one in nights], **near)
    ends = [(temperature(float(low), axis), temperature(float(high), axis)) for low, high in bars]
    assert ends == [pytest.approx((one.low_c, one.high_c), **near) for one in nights]
    assert nights_kept_back_picture([replace(nights[0])], Units.IMPERIAL, "one") is not None
