"""The hours of one pot: leaves and air above, roots below, left as it is and with its jobs done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from xml.etree.ElementTree import Element

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.pictures import Band, PotPicture
from frostguard.advice.plan import TissueOutlook
from frostguard.garden.settings import Units
from frostguard.hardiness.model import Tissue
from frostguard.report import measures
from frostguard.report.html.axis import degree_axis, texts
from frostguard.report.html.markup import node
from frostguard.report.html.scales import Scale, apart, degree_ticks, line, span
from frostguard.report.words import say

Array = NDArray[np.float64]

WIDTH, TOP, PANEL, BETWEEN, BOTTOM = 360.0, 20.0, 112.0, 30.0, 30.0
HEIGHT = TOP + 2 * PANEL + BETWEEN + BOTTOM
LEFT, RIGHT = 30.0, 240.0
"""Where the hours begin and end; to the right of them stand the names of the lines."""

NAME_HEIGHT = 13.0
LEAST_SPAN_C = 6.0
"""Fewest degrees that a panel spans, so that a mild night does not look wild."""

NEAR_C = 6.0
"""A limit further than this from all that happens is not drawn: it would only flatten the curves."""

SPARSE_BAND_H = 3

EVERY_H = 6
"""Hours between marks."""

ABOVE_THE_MIX = (Tissue.LEAF, Tissue.BUD, Tissue.HEART, Tissue.STEM, Tissue.CHILL)


@dataclass(frozen=True, slots=True)
class Curve:
    """One line of a panel: what it is, its name at the end, its values, and the hour at which it begins."""

    kind: str  # "air", "leaf", "ring", "core"
    name: str
    values_c: Array
    first: int = 0
    with_jobs: bool = False  # or otherwise changed: drawn double


@dataclass(frozen=True, slots=True)
class End:
    """What is written beside the end of a line, and the value there."""

    name: str
    kind: str
    value_c: float


def curves_picture(picture: PotPicture, units: Units, title: str, *, sparse: bool = False) -> Element:
    """The curves as a picture of two panels.

    Parameters
    ----------
    picture : PotPicture
        Hours, curves, bands and limits.
    units : Units
        Of the axis.
    title : str
        What the picture shows, for those who cannot see it.
    sparse : bool
        Draw the bands by every third hour only, for a page with many pots.
    """
    time = Scale(0.0, len(picture.hours) - 1.0, LEFT, RIGHT)
    alone, done = picture.alone, picture.with_jobs
    first = len(picture.hours) - (0 if done is None else done.ring_c.size)
    above = [Curve("air", say("air"), picture.air_c), Curve("leaf", say("leaves"), alone.leaf_c)]
    below = [Curve("core", say("core"), alone.core_c), Curve("ring", say("outer roots"), alone.ring_c)]
    if done is not None:
        above.append(Curve("leaf", say("leaves with jobs"), done.leaf_c, first, True))
        below.append(Curve("core", say("core with jobs"), done.core_c, first, True))
        below.append(Curve("ring", say("roots with jobs"), done.ring_c, first, True))
    over_mix = [one for one in picture.limits if one.tissue in ABOVE_THE_MIX]
    in_mix = [one for one in picture.limits if one.tissue not in ABOVE_THE_MIX]
    top, second = TOP, TOP + PANEL + BETWEEN
    every = SPARSE_BAND_H if sparse else 1
    return node(
        "svg",
        node("title", title),
        *_panel(say("Leaves and air"), top, time, above, (picture.leaf_band, every), over_mix, units, picture.row),
        *_panel(say("Roots"), second, time, below, (picture.ring_band, every), in_mix, units, picture.row),
        *hour_marks(picture.hours, time, second + PANEL),
        class_="curves",
        viewBox=f"0 0 {WIDTH:.0f} {HEIGHT:.0f}",
        role="img",
    )


def _panel(
    heading: str,
    top: float,
    time: Scale,
    curves: Sequence[Curve],
    banded: tuple[Band, int],  # and the hours between its corners
    limits: Sequence[TissueOutlook],
    units: Units,
    row: int,
) -> list[Element]:
    low, high = span(*(curve.values_c for curve in curves), banded[0].low_c, banded[0].high_c)
    drawn = [one for one in _limits_to_draw(limits) if low - NEAR_C <= one.limit_c <= high + NEAR_C]
    low, high = span([low, high], [one.limit_c for one in drawn])
    ticks = degree_ticks(low, max(high, low + LEAST_SPAN_C), units, most=7)
    scale = Scale(ticks[0].value_c, ticks[-1].value_c, top + PANEL, top)
    ends = [End(curve.name, curve.kind, float(curve.values_c[-1])) for curve in curves if curve.values_c.size]
    ends += [End(limit_name(one, units), "limit", one.limit_c) for one in drawn]
    return [
        node("text", f"{heading}, {measures.degree_unit(units)}", x=0.0, y=top - 9.0, class_="heading"),
        _band(*banded, time, scale),
        *degree_axis(scale, ticks, LEFT, RIGHT),
        *(node("path", d=f"M{LEFT:.0f} {scale.at(one.limit_c):.1f}H{RIGHT:.0f}", class_="limit") for one in drawn),
        *(part for curve in curves for part in stroke(curve, time, scale, row)),
        *names_at_ends(ends, scale, top),
    ]


def _band(band: Band, every: int, time: Scale, scale: Scale) -> Element:
    last = band.low_c.size - 1
    hours = [*range(0, last, every), last]
    there = line([time.at(hour) for hour in hours], [scale.at(float(band.high_c[hour])) for hour in hours])
    hours.reverse()
    back = line([time.at(hour) for hour in hours], [scale.at(float(band.low_c[hour])) for hour in hours])
    return node("path", d=f"{there}{back.replace('M', 'L', 1)}z", class_="band")


def _limits_to_draw(limits: Sequence[TissueOutlook]) -> list[TissueOutlook]:
    """Of each tissue the limit of the plant that stands least."""
    warmest: dict[Tissue, TissueOutlook] = {}
    for one in limits:
        if one.tissue not in warmest or one.limit_c > warmest[one.tissue].limit_c:
            warmest[one.tissue] = one
    return list(warmest.values())


def limit_name(outlook: TissueOutlook, units: Units) -> str:
    number = measures.limit_number(outlook.limit_c, units)
    match outlook.tissue:
        case Tissue.LEAF:
            return say("leaf limit {number}", number=number)
        case Tissue.BUD:
            return say("bud limit {number}", number=number)
        case Tissue.HEART:
            return say("heart limit {number}", number=number)
        case Tissue.STEM:
            return say("stem limit {number}", number=number)
        case Tissue.CHILL:
            return say("chill limit {number}", number=number)
        case Tissue.YOUNG_ROOT:
            return say("outer limit {number}", number=number)
        case Tissue.WHOLE_ROOT:
            return say("whole limit {number}", number=number)


def stroke(curve: Curve, time: Scale, scale: Scale, row: int) -> list[Element]:
    """A stroke; with the jobs done a double one: broad in its colour, and the paper's over its middle."""
    xs = [time.at(curve.first + hour) for hour in range(curve.values_c.size)]
    path = line(xs, [scale.at(value) for value in curve.values_c])
    if not path:
        return []
    if not curve.with_jobs:
        return [node("path", d=path, class_=f"line {curve.kind}")]
    name = f"{curve.kind}-{row}"
    return [
        node("defs", node("path", d=path, id=name)),
        node("use", href=f"#{name}", class_=f"line {curve.kind} double"),
        node("use", href=f"#{name}", class_="line hollow"),
    ]


def names_at_ends(ends: Sequence[End], scale: Scale, top: float, panel: float = PANEL) -> list[Element]:
    """The names at the ends of the lines, moved apart where they would cover one another."""
    heights = [scale.at(end.value_c) for end in ends]
    places = apart(heights, NAME_HEIGHT, top + 2.0, top + panel)
    leaders = (
        f"M{RIGHT + 1:.0f} {height:.1f}L{RIGHT + 9:.0f} {place:.1f}h2"
        for height, place in zip(heights, places, strict=True)
    )
    return [
        node("path", d="".join(leaders), class_="leader"),
        *(
            node("text", end.name, x=RIGHT + 14.0, y=place + 4.0, class_=end.kind)
            for end, place in zip(ends, places, strict=True)
        ),
    ]


def hour_marks(hours: Sequence[datetime], time: Scale, bottom: float) -> list[Element]:
    """Marks at every sixth hour of the site's clock, and the day's name at midnight."""
    every = 2 * EVERY_H if len(hours) > 30 else EVERY_H
    marked = [(time.at(k), hour) for k, hour in enumerate(hours) if hour.hour % every == 0]
    told = [(x, bottom + 16.0, f"{hour:%H}") for x, hour in marked]
    told += [(x, bottom + 28.0, measures.short_weekday(hour.date())) for x, hour in marked if hour.hour == 0]
    return [
        node("path", d="".join(f"M{x:.1f} {bottom:.0f}v5" for x, _ in marked), class_="axis"),
        texts(told, "tick middle"),
    ]
