"""What is drawn is what was simulated: pictures are read back and laid beside the arrays."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from xml.etree.ElementTree import Element

import numpy as np
import pytest

from frostguard.advice.pictures import Cut, PotPicture
from frostguard.garden.settings import Units
from frostguard.hardiness.model import Tissue
from frostguard.report.html.colours import step_colour
from frostguard.report.html.curves import LEFT, RIGHT, curves_picture
from frostguard.report.html.cut import GAP, MOST_LEVELS, THINNED_BY, TOP, WIDTH, cut_picture
from frostguard.report.html.nights import nights_image
from frostguard.report.html.scales import apart, degree_ticks, line, thinned
from tests.unit.report.html.drawn import HALF_A_ROUNDING, axes, of_class, points_of, small

IN_A_SMALL_BALL = 4.0
"""Kelvin for a unit of the picture at the most, where tolerances are argued; checked below."""


def picture(name: str) -> PotPicture:
    return next(one for one in small().pictures.pots if one.pot == name)


def cut_of(name: str, limit_c: float | None = None, units: Units = Units.METRIC) -> Element:
    drawn = picture(name)
    return cut_picture(drawn.cut, small().garden.pots[drawn.row], limit_c, units, "a cut")


def unit_per_m(drawn: Element, cut: Cut) -> float:
    """The scale of a cut, from the dotted line that stands a centimetre inside the wall."""
    (roots,) = of_class(drawn, "outer-roots")
    left, right = (float(part.split()[0]) for part in (roots.get("d") or "").split("M")[1:])
    return ((right - left) / 2.0 - GAP) / (float(cut.radial_edges_m[-1]) - cut.ring_width_m)


def temperature_at(cut: Cut, places: np.ndarray, scale: float) -> tuple[np.ndarray, np.ndarray]:
    """What the simulation says at places of the picture (bilinear between centres, even beyond them), and K a unit."""
    left = places[:, 0] < WIDTH / 2
    radius = (np.abs(places[:, 0] - WIDTH / 2) - GAP) / scale
    depth = (places[:, 1] - TOP) / scale
    r, z = cut.radial_centres_m, cut.axial_centres_m

    def bilinear(field: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        i = np.clip(np.searchsorted(r, radius) - 1, 0, r.size - 2)
        j = np.clip(np.searchsorted(z, depth) - 1, 0, z.size - 2)
        u = np.clip((radius - r[i]) / (r[i + 1] - r[i]), 0.0, 1.0)
        v = np.clip((depth - z[j]) / (z[j + 1] - z[j]), 0.0, 1.0)
        corners = field[j, i], field[j, i + 1], field[j + 1, i], field[j + 1, i + 1]
        value = (1 - v) * ((1 - u) * corners[0] + u * corners[1]) + v * ((1 - u) * corners[2] + u * corners[3])
        steep = (np.max(corners, axis=0) - np.min(corners, axis=0)) / np.minimum(
            r[i + 1] - r[i], z[j + 1] - z[j]
        )
        return value, steep / scale

    bare, mean = bilinear(cut.exposed_c), bilinear(cut.mean_c)
    return np.where(left, bare[0], mean[0]), np.where(left, bare[1], mean[1])


@pytest.mark.parametrize("name", ["lemon", "olive", "fuchsia"])
def test_the_frost_line_is_where_the_array_is_at_zero(name):
    """Every corner of the heavy line lies where the simulated field passes 0 degC."""
    cut, drawn = picture(name).cut, cut_of(name)
    corners = np.concatenate([part for path in of_class(drawn, "frost-line") for part in points_of(path.get("d"))])
    assert len(corners) > 4

    value_c, k_per_unit = temperature_at(cut, corners, unit_per_m(drawn, cut))

    # corners are points of the contour written to a tenth of a unit in each direction; the scale is read from a
    # line written so too, which adds as much at the wall
    assert np.all(np.abs(value_c) <= 4.0 * HALF_A_ROUNDING * k_per_unit + 1e-3)
    assert np.all(k_per_unit < IN_A_SMALL_BALL)


@pytest.mark.parametrize("name", ["lemon", "olive", "fuchsia"])
def test_every_place_has_the_colour_of_its_temperature(name):
    """At random places of both halves the uppermost area has the colour of the step that the field is in."""
    cut, drawn = picture(name).cut, cut_of(name)
    scale = unit_per_m(drawn, cut)
    random = np.random.default_rng(7)
    across = random.uniform(0.02, 0.98, 150) * cut.radial_edges_m[-1] * scale + GAP
    down = TOP + random.uniform(0.02, 0.98, 150) * cut.axial_edges_m[-1] * scale
    places = np.stack([WIDTH / 2 + random.choice([-1.0, 1.0], 150) * across, down], axis=1)
    value_c, k_per_unit = temperature_at(cut, places, scale)
    fields = (cut.exposed_c, cut.mean_c)
    ticks = degree_ticks(min(f.min() for f in fields), max(f.max() for f in fields), Units.METRIC, most=MOST_LEVELS)
    levels = np.array([tick.value_c for tick in ticks])
    # thinned lines may lie off by so much
    clear = np.abs(value_c[:, None] - levels).min(axis=1) > 2.0 * THINNED_BY * k_per_unit
    assert clear.sum() > 60

    for place, value in zip(places[clear], value_c[clear], strict=True):
        below = int(np.searchsorted(levels, value)) - 1
        expected = step_colour(below - int(np.flatnonzero(levels == 0.0)[0]))
        areas = [path for path in drawn.iter("path") if path.get("fill")]
        over = [path.get("fill") for path in areas if inside(points_of(path.get("d")), place)]
        assert over[-1] == expected, (place, value)


def inside(rings: list[np.ndarray], place: np.ndarray) -> bool:
    """Whether a place lies in an area, by counting crossings to its right over all its rings."""
    crossings = 0
    for ring in rings:
        for (x0, y0), (x1, y1) in pairwise([*ring, ring[0]]):
            if (y0 > place[1]) != (y1 > place[1]):
                crossings += place[0] < x0 + (place[1] - y0) / (y1 - y0) * (x1 - x0)
    return crossings % 2 == 1


def test_the_outer_roots_begin_a_centimetre_from_the_wall():
    """The dotted line lies one centimetre of the pot inside its wall, at the scale of the picture's own height."""
    cut, drawn = picture("olive").cut, cut_of("olive")
    (roots,) = of_class(drawn, "outer-roots")
    path = roots.get("d") or ""
    top, bottom = float(path.split()[1].split("V")[0]), float(path.split("V")[1].split("M")[0])
    by_height = (bottom - top) / float(cut.axial_edges_m[-1])

    assert unit_per_m(drawn, cut) == pytest.approx(by_height, rel=0.01)


def test_the_root_limit_is_drawn_where_it_lies_and_left_out_where_it_does_not():
    """The dash-and-dot line follows the limit within the ball; a limit colder than all of it has no line."""
    cut = picture("olive").cut
    limit_c = float(cut.exposed_c.min() + cut.exposed_c.max()) / 2.0
    drawn = cut_of("olive", limit_c)
    corners = np.concatenate([part for path in of_class(drawn, "root-limit") for part in points_of(path.get("d"))])

    value_c, k_per_unit = temperature_at(cut, corners, unit_per_m(drawn, cut))

    assert np.all(np.abs(value_c - limit_c) <= 4.0 * HALF_A_ROUNDING * k_per_unit + 1e-3)
    assert not of_class(cut_of("olive", -40.0), "root-limit")


def test_figures_on_the_lines_are_in_the_persons_unit():
    """In Fahrenheit the frost line is told as 32, and every figure lies on a line of its temperature."""
    metric = [text.text for text in of_class(cut_of("olive"), "figures")[0]]
    imperial = [text.text for text in of_class(cut_of("olive", units=Units.IMPERIAL), "figures")[0]]

    assert "0" in metric
    assert "32" in imperial
    assert of_class(cut_of("olive", units=Units.IMPERIAL), "frost-line")


@pytest.mark.parametrize(("units", "zero", "per_k"), [(Units.METRIC, 0.0, 1.0), (Units.IMPERIAL, 32.0, 1.8)])
@pytest.mark.parametrize("name", ["lemon", "olive", "fuchsia"])
def test_curves_read_back_are_the_simulated_hours(name, units, zero, per_k):
    """Each line, measured against the figures of its axis, is the array it was drawn from, in either unit."""
    drawn = picture(name)
    image = curves_picture(drawn, units, "curves")
    above, below = axes(image)
    hours = np.linspace(LEFT, RIGHT, len(drawn.hours))

    for kind, values_c, axis in (
        ("air", drawn.air_c, above),
        ("leaf", drawn.alone.leaf_c, above),
        ("ring", drawn.alone.ring_c, below),
        ("core", drawn.alone.core_c, below),
    ):
        (path,) = of_class(image, f"line {kind}")
        (places,) = points_of(path.get("d") or "")
        assert places[:, 0] == pytest.approx(hours, abs=HALF_A_ROUNDING)
        assert measured(places, axis) == pytest.approx(zero + per_k * values_c, abs=a_rounding(axis))


def measured(places: np.ndarray, axis: tuple[float, float]) -> np.ndarray:
    zero, slope = axis
    return (places[:, 1] - zero) / slope


def a_rounding(axis: tuple[float, float]) -> float:
    """Line and figures are each written to a tenth of a unit."""
    return 2.5 * HALF_A_ROUNDING / abs(axis[1])


def test_curves_with_the_jobs_are_their_own_simulation_from_their_hour():
    """The double line lies where the simulation with the jobs does, and begins when they are done."""
    drawn = picture("lemon")
    assert drawn.with_jobs is not None
    image = curves_picture(drawn, Units.METRIC, "curves")
    above, below = axes(image)
    paths = {path.get("id"): path.get("d") or "" for path in image.iter("path") if path.get("id")}

    for kind, values_c, axis in (
        ("leaf", drawn.with_jobs.leaf_c, above),
        ("ring", drawn.with_jobs.ring_c, below),
        ("core", drawn.with_jobs.core_c, below),
    ):
        (places,) = points_of(paths[f"{kind}-{drawn.row}"])
        assert measured(places, axis) == pytest.approx(values_c, abs=a_rounding(axis))
        strokes = [use.get("class") for use in image.iter("use") if use.get("href") == f"#{kind}-{drawn.row}"]
        assert strokes == [f"line {kind} double", "line hollow"]
    first = drawn.hours.index(drawn.done_at)
    assert places[0, 0] == pytest.approx(np.linspace(LEFT, RIGHT, len(drawn.hours))[first], abs=HALF_A_ROUNDING)


def test_limits_lie_at_their_temperature_and_are_named_with_it():
    """Each dash-and-dot line of the roots lies at the limit that its name tells."""
    drawn = picture("olive")
    image = curves_picture(drawn, Units.METRIC, "curves")
    _, below = axes(image)
    roots = [one.limit_c for one in drawn.limits if one.tissue in (Tissue.YOUNG_ROOT, Tissue.WHOLE_ROOT)]
    lines = [element for element in of_class(image, "limit") if element.tag == "path"]
    places = [float((path.get("d") or "").split()[1].split("H")[0]) for path in lines]

    for limit_c in roots:
        assert min(abs(measured(np.array([[0.0, y]]), below)[0] - limit_c) for y in places) < a_rounding(below)
    assert len(of_class(image, "limit")) == 2 * len(places)


def test_a_limit_far_from_everything_does_not_flatten_the_curves():
    """A limit of -40 degC is not drawn, and the axis stays as it was."""
    drawn = picture("olive")
    far = replace(drawn, limits=tuple(replace(one, limit_c=-40.0) for one in drawn.limits))
    image = curves_picture(far, Units.METRIC, "curves")

    assert not of_class(image, "limit")
    assert min(float(text.text) for group in of_class(image, "tick ending") for text in group) > -25.0


def test_the_nights_read_back_are_the_simulated_air():
    """Line and band, measured against the figures, are median and percentiles over members."""
    nights, plan = small().pictures.nights, small().reckoning.plan
    image = nights_image(nights, plan, Units.METRIC, "nights")
    (axis,) = axes(image)
    (course,) = points_of(of_class(image, "line air-course")[0].get("d") or "")
    band = (of_class(image, "band")[0].get("d") or "").split("L")
    upper, lower = points_of(band[0])[0], points_of("M" + band[1])[0][::-1]

    assert measured(course, axis) == pytest.approx(nights.air_c, abs=a_rounding(axis))
    assert measured(upper, axis) == pytest.approx(nights.band.high_c, abs=a_rounding(axis))
    assert measured(lower, axis) == pytest.approx(nights.band.low_c, abs=a_rounding(axis))
    assert len(of_class(image, "dark-hours")) == len(plan.nights)


def test_ticks_are_whole_degrees_with_freezing_among_them():
    """Marks reach over the values, are even, and one of them is at 0 degC in either unit."""
    for units in Units:
        for low_c, high_c in ((-7.3, 4.1), (-0.2, 0.1), (-31.0, 18.0), (1.2, 9.0)):
            ticks = degree_ticks(low_c, high_c, units, most=8)
            values = [tick.value_c for tick in ticks]
            assert values[0] <= low_c
            assert values[-1] >= high_c
            assert len(ticks) <= 8
            assert np.allclose(np.diff(values), values[1] - values[0])
            if low_c < 0.0 < high_c:
                assert 0.0 in values


def test_a_path_does_not_drift():
    """Steps between rounded places add up to the rounded last place."""
    xs, ys = np.linspace(0.0, 100.0, 300), np.sin(np.arange(300.0)) * 33.3
    (places,) = points_of(line(xs, ys))

    assert places[-1] == pytest.approx([round(xs[-1], 1), round(ys[-1], 1)], abs=1e-6)


def test_thinning_keeps_within_its_tolerance_and_the_ends():
    """No point lies farther from the thinned line than was allowed."""
    points = np.stack([np.linspace(0.0, 50.0, 200), 10.0 * np.sin(np.linspace(0.0, 6.0, 200))], axis=1)
    kept = thinned(points, 0.35)

    assert 3 < len(kept) < 40
    assert kept[[0, -1]] == pytest.approx(points[[0, -1]])
    assert np.abs(np.interp(points[:, 0], kept[:, 0], kept[:, 1]) - points[:, 1]).max() < 0.8  # slope up to 1.2


def test_names_are_moved_apart_and_stay_within():
    """Places are as far apart as asked, in their order, and within the bounds."""
    moved = apart([50.0, 50.0, 51.0, 99.0, 2.0], 13.0, 4.0, 100.0)

    assert min(np.diff(sorted(moved))) >= 13.0 - 1e-9
    assert min(moved) >= 4.0
    assert max(moved) <= 100.0
    assert np.argsort(moved).tolist() == [4, 0, 1, 2, 3]
