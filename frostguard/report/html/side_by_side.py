"""One pot twice: the tissue most in danger through the night as it stands, and changed."""

from __future__ import annotations

from xml.etree.ElementTree import Element

import numpy as np

from frostguard.advice.what_if import Comparison
from frostguard.garden.settings import Units
from frostguard.hardiness.model import Tissue
from frostguard.report import measures
from frostguard.report.html.axis import degree_axis
from frostguard.report.html.curves import LEFT, RIGHT, Curve, End, hour_marks, names_at_ends, stroke
from frostguard.report.html.markup import node
from frostguard.report.html.scales import Scale, degree_ticks, span
from frostguard.report.what_if import told_by
from frostguard.report.words import say

WIDTH, TOP, PANEL, BOTTOM = 360.0, 20.0, 170.0, 32.0


def fates_picture(comparison: Comparison, units: Units, title: str) -> Element:
    """The two courses with the limit: a single line as the pot stands, a double line changed, as in all pictures."""
    kind = {Tissue.YOUNG_ROOT: "ring", Tissue.WHOLE_ROOT: "core"}.get(comparison.told_by, "leaf")
    before, after = (np.array(fate.curve_c) for fate in (comparison.as_it_stands, comparison.changed))
    low, high = span(before, after, [comparison.limit_c, 0.0])
    ticks = degree_ticks(low, high, units, most=9)
    scale = Scale(ticks[0].value_c, ticks[-1].value_c, TOP + PANEL, TOP)
    time = Scale(0.0, max(len(comparison.times) - 1.0, 1.0), LEFT, RIGHT)
    limit = scale.at(comparison.limit_c)
    curves = [
        Curve(kind, say("as it stands"), before),
        Curve(kind, say("changed"), after, with_jobs=True),
    ]
    ends = [End(curve.name, kind, float(curve.values_c[-1])) for curve in curves]
    number = measures.limit_number(comparison.limit_c, units)
    ends.append(End(say("limit {number}", number=number), "limit", comparison.limit_c))
    heading = f"{told_by(comparison.told_by)}, {measures.degree_unit(units)}"
    return node(
        "svg",
        node("title", title),
        node("text", heading, x=0.0, y=TOP - 9.0, class_="heading"),
        *degree_axis(scale, ticks, LEFT, RIGHT),
        node("path", d=f"M{LEFT:.0f} {limit:.1f}H{RIGHT:.0f}", class_="limit"),
        *(part for curve in curves for part in stroke(curve, time, scale, 0)),
        *names_at_ends(ends, scale, TOP, PANEL),
        *hour_marks(comparison.times, time, TOP + PANEL),
        class_="curves",
        viewBox=f"0 0 {WIDTH:.0f} {TOP + PANEL + BOTTOM:.0f}",
        role="img",
    )
