"""How well learning did: of each night that was kept back what was read, and what would have been told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from xml.etree.ElementTree import Element

from frostguard.garden.settings import Units
from frostguard.report import measures
from frostguard.report.html.axis import degree_axis, texts
from frostguard.report.html.markup import node
from frostguard.report.html.scales import Scale, degree_ticks, span
from frostguard.report.words import say

WIDTH, TOP, PANEL, BOTTOM = 360.0, 20.0, 130.0, 24.0
LEFT, RIGHT = 30.0, 352.0
RING = 3.4


@dataclass(frozen=True, slots=True)
class NightRead:
    """Lowest of a night: read, told before and after learning, and the interval told after [degC]."""

    night: date
    read_c: float
    before_c: float
    after_c: float
    low_c: float
    high_c: float


def nights_kept_back_picture(nights: Sequence[NightRead], units: Units, title: str) -> Element:
    """A bar for what is told, with a ring at its middle, and a dot for what was read, night beside night."""
    low, high = span(*((one.read_c, one.low_c, one.high_c) for one in nights), [0.0])
    ticks = degree_ticks(low, high, units, most=7)
    scale = Scale(ticks[0].value_c, ticks[-1].value_c, TOP + PANEL, TOP)
    place = Scale(-0.5, max(len(nights) - 0.5, 0.5), LEFT, RIGHT)
    bars = "".join(f"M{place.at(k):.1f} {scale.at(one.low_c):.1f}V{scale.at(one.high_c):.1f}"
                   for k, one in enumerate(nights))  # fmt: skip
    rings = "".join(
        f"M{place.at(k) - RING:.1f} {scale.at(one.after_c):.1f}a{RING} {RING} 0 1 0 {2 * RING} 0"
        f"a{RING} {RING} 0 1 0 {-2 * RING} 0"
        for k, one in enumerate(nights)
    )
    dots = "".join(f"M{place.at(k):.1f} {scale.at(one.read_c):.1f}h0" for k, one in enumerate(nights))
    step = -(-len(nights) // 6)
    named = [(place.at(k), TOP + PANEL + 16.0, measures.day_and_date(one.night).partition(" ")[2])
             for k, one in enumerate(nights) if k % step == 0]  # fmt: skip
    return node(
        "svg",
        node("title", title),
        node("text", say("Lowest of the night, {unit}", unit=measures.degree_unit(units)), x=0.0, y=TOP - 9.0,
             class_="heading"),
        *degree_axis(scale, ticks, LEFT, RIGHT),
        node("path", d=bars, class_="told-bar"),
        node("path", d=rings, class_="told-ring"),
        node("path", d=dots, class_="dots"),
        texts(named, "tick middle"),
        class_="read",
        viewBox=f"0 0 {WIDTH:.0f} {TOP + PANEL + BOTTOM:.0f}",
        role="img",
    )  # fmt: skip
