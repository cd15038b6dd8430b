"""The coming nights' air as one picture: likely course, eight chances in ten, the dark hours, and what leaves stand."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from xml.etree.ElementTree import Element

from frostguard.advice.pictures import NightsPicture
from frostguard.advice.plan import RISK, AdvicePlan
from frostguard.garden.settings import Units
from frostguard.hardiness.model import Tissue
from frostguard.report import measures
from frostguard.report.html.axis import degree_axis, texts
from frostguard.report.html.markup import node
from frostguard.report.html.scales import Scale, apart, degree_ticks, line, span
from frostguard.report.words import all_of, say

WIDTH, HEIGHT = 360.0, 258.0
LEFT, RIGHT, TOP, BOTTOM = 28.0, 312.0, 24.0, 176.0
MOST_LIMITS = 5

TOLD_BESIDE_K = 0.01
"""Less than this nobody sees, nor could it be more than a rounding of what is told."""

LEAST_PLACE = 24.0
"""Units that a night needs for its figures; with less, every other night is told."""


def nights_told(picture: NightsPicture, plan: AdvicePlan, units: Units) -> tuple[str, list[str]]:
    """What the picture shows, and whose limits are drawn in it."""
    told = say(
        "The line is the likely air, the pale band holds eight of ten likely courses, darker columns are the nights. "
        "Dash and dot: what leaves, buds or shoots of pots at risk tonight stand; on a clear night leaves get colder "
        "than the air."
    )
    if picture.beside_k >= TOLD_BESIDE_K:
        told += " " + say(
            "Courses are coldest at different hours, so the line may lie up to {less} beside the coldest air told.",
            less=measures.difference_at_most(picture.beside_k, units),
        )
    limits = [
        say("{limit}: {pots}.", limit=measures.limit(limit_c, units), pots=all_of(labels))
        for limit_c, labels in leaf_limits(plan)
    ]
    return told, limits


def nights_image(picture: NightsPicture, plan: AdvicePlan, units: Units, title: str) -> Element:
    """The picture of all nights ahead.

    Parameters
    ----------
    picture : NightsPicture
        The air's hours.
    plan : AdvicePlan
        How many pots are at risk in each night, and the limits of those at risk tonight.
    units : Units
        Of the axis.
    title : str
        What the picture shows, for those who cannot see it.
    """
    time = Scale(0.0, len(picture.hours) - 1.0, LEFT, RIGHT)
    limits = leaf_limits(plan)
    low, high = span(picture.band.low_c, picture.band.high_c)
    shown = [(limit_c, names) for limit_c, names in limits if low - 3.0 <= limit_c <= high + 3.0]
    low, high = span([low, high, 0.0], [limit_c for limit_c, _ in shown])
    ticks = degree_ticks(low, high, units, most=9)
    scale = Scale(ticks[0].value_c, ticks[-1].value_c, BOTTOM, TOP)
    xs = [time.at(hour) for hour in range(len(picture.hours))]
    band = line(xs, [scale.at(value) for value in picture.band.high_c])
    back = line(xs[::-1], [scale.at(value) for value in picture.band.low_c[::-1]]).replace("M", "L", 1)
    return node(
        "svg",
        node("title", title),
        node("text", say("Air, {unit}", unit=measures.degree_unit(units)), x=0.0, y=10.0, class_="heading"),
        *_dark(picture, time),
        *degree_axis(scale, ticks, LEFT, RIGHT),
        node("path", d=f"{band}{back}z", class_="band"),
        *_limits(shown, scale, units),
        node("path", d=line(xs, [scale.at(value) for value in picture.air_c]), class_="line air-course"),
        *_under(picture, plan, time),
        class_="nights",
        viewBox=f"0 0 {WIDTH:.0f} {HEIGHT:.0f}",
        role="img",
    )


def leaf_limits(plan: AdvicePlan) -> list[tuple[float, list[str]]]:
    """What leaves, buds and shoots of the pots at risk tonight stand, warmest first: limit [degC] and labels.

    Each pot's limit is that of its tissue most at risk above the mix; equal ones, to half a degree, stand together.
    """
    by_limit: dict[float, list[str]] = {}
    for pot in plan.pots:
        over = [one for one in pot.tissues if one.tissue in (Tissue.LEAF, Tissue.BUD, Tissue.STEM, Tissue.CHILL)]
        worst = max(over, key=lambda one: one.chance, default=None)
        if worst is not None and worst.chance >= RISK:
            by_limit.setdefault(round(worst.limit_c * 2) / 2, []).append(pot.label)
    return [(limit_c, by_limit[limit_c]) for limit_c in sorted(by_limit, reverse=True)][:MOST_LIMITS]


def _dark(picture: NightsPicture, time: Scale) -> list[Element]:
    parts = []
    for begins, ends in picture.dark:
        start, end = (_place(moment, picture.hours, time) for moment in (begins, ends))
        if end > start:
            parts.append(
                node("rect", x=start, y=TOP, width=end - start, height=BOTTOM - TOP, class_="dark-hours")
            )
    return parts


def _place(moment: datetime, hours: Sequence[datetime], time: Scale) -> float:
    since = (moment - hours[0]).total_seconds() / 3600.0
    return time.at(min(max(since, 0.0), len(hours) - 1.0))


def _limits(limits: Sequence[tuple[float, list[str]]], scale: Scale, units: Units) -> list[Element]:
    ends = [scale.at(limit_c) for limit_c, _ in limits]
    places = apart(ends, 13.0, TOP, BOTTOM)
    parts = []
    for (limit_c, _), end, place in zip(limits, ends, places, strict=True):
        path = f"M{LEFT:.0f} {end:.1f}H{RIGHT + 2:.0f}L{RIGHT + 9:.0f} {place:.1f}"
        parts.append(node("path", d=path, class_="limit"))
        figure = measures.limit_number(limit_c, units)
        parts.append(node("text", figure, x=RIGHT + 12.0, y=place + 4.0, class_="limit-name"))
    return parts


def _under(picture: NightsPicture, plan: AdvicePlan, time: Scale) -> list[Element]:
    """Under each night its day, its coldest air, and how many pots are at risk."""
    centres = {begins.date(): (begins, ends) for begins, ends in picture.dark}
    step = 1 if (RIGHT - LEFT) / max(len(plan.nights), 1) >= LEAST_PLACE else 2
    days: list[tuple[float, float, str]] = []
    counts: list[tuple[float, float, str]] = []
    for night in plan.nights[::step]:
        if night.date in centres:
            begins, ends = (_place(moment, picture.hours, time) for moment in centres[night.date])
            x = (begins + ends) / 2.0
            days.append((x, BOTTOM + 15.0, measures.short_weekday(night.date)))
            counts.append((x, BOTTOM + 46.0, str(night.pots_at_risk)))
            counts.append((x, BOTTOM + 78.0, str(night.young_roots_at_risk)))
    headings = [
        (LEFT, BOTTOM + 32.0, say("Pots at risk")),
        (LEFT, BOTTOM + 64.0, say("Pots whose outer roots are at risk")),
    ]
    return [texts(days, "tick middle"), texts(counts, "count middle"), texts(headings, "tick")]
