"""What a thermometer read over days: a line where readings follow one another, dots where they stand alone."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from xml.etree.ElementTree import Element

from frostguard.garden.settings import Units
from frostguard.report import measures
from frostguard.report.html.axis import degree_axis, texts
from frostguard.report.html.markup import node
from frostguard.report.html.scales import Scale, degree_ticks, line, span
from frostguard.report.words import say

WIDTH, TOP, PANEL, BOTTOM = 360.0, 20.0, 130.0, 24.0
LEFT, RIGHT = 30.0, 352.0
HELD_TOGETHER = timedelta(hours=6)
"""Readings further apart are not joined: nobody knows what was between."""

MOST_DAYS_NAMED = 7


def course_picture(read: Sequence[tuple[datetime, float]], units: Units, title: str) -> Element:
    """One thermometer's readings.

    Parameters
    ----------
    read : sequence of (datetime, float)
        Local times, ascending, and what was read [degC]; of each hour the coldest is drawn.
    units : Units
        Of the axis.
    title : str
        What the picture shows, for those who cannot see it.
    """
    hourly = _coldest_of_each_hour(read)
    first, last = hourly[0][0], max(hourly[-1][0], hourly[0][0] + timedelta(hours=12))
    time = Scale(first.timestamp(), last.timestamp(), LEFT + 4.0, RIGHT)
    low, high = span([value for _, value in hourly], [0.0])
    ticks = degree_ticks(low, max(high, low + 4.0), units, most=7)
    scale = Scale(ticks[0].value_c, ticks[-1].value_c, TOP + PANEL, TOP)
    places = [(time.at(at.timestamp()), scale.at(value)) for at, value in hourly]
    lines, dots = _strokes(hourly, places)
    return node(
        "svg",
        node("title", title),
        node("text", say("Read, {unit}", unit=measures.degree_unit(units)), x=0.0, y=TOP - 9.0, class_="heading"),
        *degree_axis(scale, ticks, LEFT, RIGHT),
        node("path", d=lines, class_="line air-course") if lines else None,
        node("path", d=dots, class_="dots") if dots else None,
        *_days(first, last, time),
        class_="read",
        viewBox=f"0 0 {WIDTH:.0f} {TOP + PANEL + BOTTOM:.0f}",
        role="img",
    )


def _coldest_of_each_hour(read: Sequence[tuple[datetime, float]]) -> list[tuple[datetime, float]]:
    kept: dict[datetime, tuple[datetime, float]] = {}
    for at, value in read:
        hour = at.replace(minute=0, second=0, microsecond=0)
        if hour not in kept or value < kept[hour][1]:
            kept[hour] = (at, value)
    return list(kept.values())


def _strokes(
    hourly: Sequence[tuple[datetime, float]], places: Sequence[tuple[float, float]]
) -> tuple[str, str]:
    """Lines through readings close in time, and dots for those that stand alone."""
    runs = [[places[0]]]
    for (before, after), place in zip(pairwise(hourly), places[1:], strict=True):
        if after[0] - before[0] > HELD_TOGETHER:
            runs.append([])
        runs[-1].append(place)
    lines = "".join(line(*zip(*run, strict=True)) for run in runs if len(run) > 1)
    dots = "".join(f"M{x:.1f} {y:.1f}h0" for run in runs if len(run) == 1 for x, y in run)
    return lines, dots


def _days(first: datetime, last: datetime, time: Scale) -> list[Element]:
    """The days' midnights, and their names where there is room."""
    days = [first.replace(hour=0, minute=0, second=0, microsecond=0) + timedelta(days=k)
            for k in range((last.date() - first.date()).days + 1)]  # fmt: skip
    step = -(-len(days) // MOST_DAYS_NAMED)
    marks = [(time.at(day.timestamp()), day) for day in days if day >= first]
    named = [(x, TOP + PANEL + 16.0, measures.day_and_date(day.date()).rpartition(" ")[0]) for x, day in marks[::step]
             if x < RIGHT - 12.0]  # fmt: skip
    if not named:
        named = [(LEFT + 16.0, TOP + PANEL + 16.0, measures.day_and_date(first.date()).rpartition(" ")[0])]
    return [
        node("path", d="".join(f"M{x:.1f} {TOP + PANEL:.0f}v5" for x, _ in marks), class_="axis"),
        texts(named, "tick middle"),
    ]
