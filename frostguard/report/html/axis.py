"""The marks of temperature beside a picture: a line and a figure each, freezing heavier."""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree.ElementTree import Element

from frostguard.report.html.markup import node
from frostguard.report.html.scales import Scale, Tick


def degree_axis(scale: Scale, ticks: Sequence[Tick], left: float, right: float) -> list[Element]:
    """A line from `left` to `right` for each mark, its figure to the left of it."""
    grid = "".join(f"M{left:.0f} {scale.at(tick.value_c):.1f}H{right:.0f}" for tick in ticks if tick.value_c != 0.0)
    zero = [f"M{left:.0f} {scale.at(0.0):.1f}H{right:.0f}" for tick in ticks if tick.value_c == 0.0]
    return [
        node("path", d=grid, class_="grid"),
        *(node("path", d=path, class_="zero") for path in zero),
        texts([(left - 5.0, scale.at(tick.value_c) + 4.0, tick.label) for tick in ticks], "tick ending"),
    ]


def texts(placed: Sequence[tuple[float, float, str]], kind: str) -> Element:
    """Several short texts of one kind at their places."""
    return node("g", *(node("text", text, x=x, y=y) for x, y, text in placed), class_=kind)
