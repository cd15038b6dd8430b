"""Curves as characters stand where the simulation has them."""

from __future__ import annotations

import pytest

from frostguard.advice.pictures import pictures_of
from frostguard.garden.settings import Units
from frostguard.report.chart import MARGIN, pots_to_chart, render_charts
from frostguard.report.layout import line_width, use_width
from tests.unit.report.html.drawn import small


def chart_of(name: str, units: Units = Units.METRIC) -> list[str]:
    """The lines of one pot's chart, from its highest degree to its hours."""
    drawn = pictures_of(small().reckoning, pots=[name])
    lines = render_charts(drawn, small().reckoning.plan, units).splitlines()
    first = next(k for k, line in enumerate(lines) if "|" in line)
    return [line for line in lines[first:] if "|" in line]


def degrees(lines: list[str]) -> tuple[float, float]:
    """Degrees of the first line, and degrees lost from line to line, by the figures of the axis."""
    told = [(k, float(line[: MARGIN - 2])) for k, line in enumerate(lines) if line[: MARGIN - 2].strip()]
    (first, high), (last, low) = told[0], told[-1]
    per_line = (high - low) / (last - first)
    return high + first * per_line, per_line


@pytest.mark.parametrize(("units", "zero", "per_k"), [(Units.METRIC, 0.0, 1.0), (Units.IMPERIAL, 32.0, 1.8)])
def test_leaves_stand_where_they_were_simulated(units, zero, per_k):
    """Read back by the axis, each l is within half a line of the leaf's hour; figures stand on the nearest line."""
    lines = chart_of("fuchsia", units)
    top, per_line = degrees(lines)
    drawn = pictures_of(small().reckoning, pots=["fuchsia"]).pots[0]
    each = max((line_width() - MARGIN) // len(drawn.hours), 1)
    found = 0
    for hour, leaf_c in enumerate(drawn.alone.leaf_c):
        column = MARGIN + hour * each
        rows = [k for k, line in enumerate(lines) if len(line) > column and line[column] == "l"]
        for row in rows:
            found += 1
            assert top - row * per_line == pytest.approx(zero + per_k * leaf_c, abs=1.05 * per_line)

    assert found > 5


def test_curves_with_the_jobs_are_capitals_and_only_there():
    """A pot with a job has capitals, one without has none."""
    assert any("L" in line for line in chart_of("lemon"))
    assert not any(set("LRC") & set(line) for line in chart_of("inside"))


def test_charts_fit_a_narrow_terminal():
    """At forty columns no line is longer than that."""
    use_width(40)
    try:
        text = render_charts(pictures_of(small().reckoning), small().reckoning.plan, Units.METRIC)
    finally:
        use_width(80)

    assert all(len(line) <= 40 for line in text.splitlines())


def test_the_pots_most_at_risk_are_charted_the_worst_first():
    """Of the pots at risk the three with the greatest chance of damage, in that order."""
    plan = small().reckoning.plan
    chances = {pot.id: pot.chance_of_damage for pot in plan.pots}
    chosen = [chances[name] for name in pots_to_chart(plan)]

    assert 1 <= len(chosen) <= 3
    assert chosen == sorted(chances.values(), reverse=True)[: len(chosen)]
