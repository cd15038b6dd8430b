"""Curves of pots in the terminal: hours across, degrees up, plain characters."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.pictures import Pictures, PotPicture
from frostguard.advice.plan import AdvicePlan, TissueOutlook
from frostguard.garden.settings import Units
from frostguard.hardiness.model import Tissue
from frostguard.report import measures
from frostguard.report.headline import closest_pot
from frostguard.report.html.scales import Scale, degree_ticks, span
from frostguard.report.jobs import pot_name
from frostguard.report.layout import line_width, page, paragraph, right_aligned
from frostguard.report.words import say

Array = NDArray[np.float64]

ROWS = 14
"""Lines of a chart without its heading and hours; two to six pots fit a screen."""

MARGIN = 6
"""Columns for the degrees, and the line beside them."""

LEVEL_EVERY = 4
"""Columns between the marks of a level where every column is an hour."""

MOST_CHARTS = 3
"""Pots charted where none was asked for."""

AIR, LEAF, RING, CORE = "a", "l", "r", "c"
FREEZING, LEAF_LIMIT, OUTER_ROOT_LIMIT, WHOLE_ROOT_LIMIT = ".", "=", "-", "_"


def pots_to_chart(plan: AdvicePlan) -> list[str]:
    """Ids of the pots most at risk tonight, or of the one that comes nearest to harm."""
    at_risk = sorted((pot for pot in plan.pots if pot.at_risk), key=lambda pot: -pot.chance_of_damage)
    closest = closest_pot(plan)
    if at_risk or closest is None:
        return [pot.id for pot in at_risk[:MOST_CHARTS]]
    return [closest[0].id]


def render_charts(pictures: Pictures, plan: AdvicePlan, units: Units) -> str:
    """A chart for each picture, and once what the characters stand for."""
    if not pictures.pots:
        return say("No pot to chart.")
    names = {pot.id: pot_name(pot.label, pot.count) for pot in plan.pots}
    blocks = [_chart(picture, names[picture.pot], units) for picture in pictures.pots]
    legend = say(
        "a air, l leaves, r outer roots, c core; capitals: with the jobs done; . freezing. What the plant stands: "
        "= leaves, buds or shoots, - outer roots, _ whole roots."
    )
    return page([*blocks, paragraph(legend)])


def _chart(picture: PotPicture, name: str, units: Units) -> list[str]:
    columns = line_width() - MARGIN
    hours = len(picture.hours)
    each = max(columns // hours, 1)
    shown = min(hours, columns)
    low, high = span(*_values(picture, shown))
    ticks = degree_ticks(low, high, units, most=8)
    scale = Scale(ticks[0].value_c, ticks[-1].value_c, ROWS - 1.0, 0.0)
    rows = [[" "] * (shown * each) for _ in range(ROWS)]
    _draw_level(rows, scale, 0.0, FREEZING, each)
    for outlook in picture.limits:
        _draw_level(rows, scale, outlook.limit_c, _limit_character(outlook), each)
    for values, character, first in _curves(picture):
        _draw_curve(rows, scale, values[: shown - first], character, first, each)
    labels = {round(scale.at(tick.value_c)): tick.label for tick in ticks}
    return [
        *paragraph(say("{pot}, hour by hour in {unit}", pot=name, unit=measures.degree_unit(units))),
        *(right_aligned(labels.get(k, ""), MARGIN - 2) + " |" + "".join(row).rstrip() for k, row in enumerate(rows)),
        " " * MARGIN + _hours(picture.hours[:shown], each),
    ]


def _curves(picture: PotPicture) -> list[tuple[Array, str, int]]:
    """Values, character and first hour, what matters most last, so that it lies on top."""
    curves = [
        (picture.air_c, AIR, 0),
        (picture.alone.core_c, CORE, 0),
        (picture.alone.ring_c, RING, 0),
        (picture.alone.leaf_c, LEAF, 0),
    ]
    done = picture.with_jobs
    if done is not None:
        first = len(picture.hours) - done.ring_c.size
        with_jobs = ((done.core_c, CORE), (done.ring_c, RING), (done.leaf_c, LEAF))
        curves += [(values, character.upper(), first) for values, character in with_jobs]
    return curves


def _values(picture: PotPicture, shown: int) -> list[Array]:
    return [values[: max(shown - first, 0)] for values, _, first in _curves(picture)]


def _limit_character(outlook: TissueOutlook) -> str:
    match outlook.tissue:
        case Tissue.YOUNG_ROOT:
            return OUTER_ROOT_LIMIT
        case Tissue.WHOLE_ROOT:
            return WHOLE_ROOT_LIMIT
        case _:
            return LEAF_LIMIT


def _draw_level(rows: list[list[str]], scale: Scale, value_c: float, character: str, each: int) -> None:
    """A level line across, with gaps for the curves, where it lies within the chart."""
    row = round(scale.at(value_c))
    if 0 <= row < len(rows):
        every = each if each > 1 else LEVEL_EVERY
        rows[row][1::every] = [character] * len(rows[row][1::every])


def _draw_curve(
    rows: list[list[str]], scale: Scale, values_c: Array, character: str, first: int, each: int
) -> None:
    for hour, value_c in enumerate(values_c.tolist(), start=first):
        rows[round(scale.at(value_c))][hour * each] = character


def _hours(hours: Sequence[datetime], each: int) -> str:
    """The hour of the clock under every third or sixth hour, the weekday under midnight."""
    every = 3 if each >= 2 else 6
    line = [" "] * (len(hours) * each + 3)
    for k, hour in enumerate(hours):
        if hour.hour % every == 0:
            told = measures.short_weekday(hour.date()) if hour.hour == 0 else f"{hour:%H}"
            line[k * each : k * each + len(told)] = told
    return "".join(line).rstrip()
