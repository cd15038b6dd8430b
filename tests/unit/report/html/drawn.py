"""A small drawn evening for the tests of pages and pictures, and how to read a picture back."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from xml.etree.ElementTree import Element

import numpy as np

from frostguard.advice.advise import Reckoning, reckon_evening
from frostguard.advice.pictures import Pictures, pictures_of
from frostguard.advice.state import TerraceState
from frostguard.garden.model import Garden
from frostguard.garden.settings import Settings, Units
from frostguard.report.html.page import render_page
from tests.unit.advice.terraces import (
    ASKED,
    CLEAR,
    big_pot,
    film,
    frosty_nights,
    garden,
    hoods,
    planting,
    pot,
    room,
    shed,
    spot,
)

HALF_A_ROUNDING = 0.051
"""Coordinates are written to a tenth of a unit."""


@dataclass(frozen=True)
class Drawn:
    """An evening with its pictures."""

    reckoning: Reckoning
    pictures: Pictures
    garden: Garden

    def page(self, units: Units = Units.METRIC) -> str:
        return render_page(self.reckoning.plan, self.pictures, self.garden, units)


@cache
def small() -> Drawn:
    """Two clear frosty nights on a terrace of three spots: pots with jobs, and one that needs nothing."""
    return drawn(
        garden(
            pot("lemon", label="Lemon by the door"),
            big_pot("olive", planting("olea-europaea"), spot="wall", label="Old olive"),
            pot("fuchsia", planting("fuchsia-hybrida"), spot="wall"),
            pot("inside", spot="wash room"),
            spots=(spot(), spot("wall", against_house_wall=True, label="by the wall"), room()),
            stock=shed(hoods(2), film()),
        )
    )


def drawn(where: Garden, coldest_c: float = -5.0) -> Drawn:
    """This terrace in two clear nights of that cold."""
    sky = frosty_nights(coldest_c, 2, **CLEAR)
    reckoning = reckon_evening(where, sky, TerraceState(), ASKED, Settings(days=2))
    return Drawn(reckoning, pictures_of(reckoning), where)


def renamed(text: str) -> Drawn:
    """The small terrace with every name that a person may write replaced by that text."""
    base = small()
    plan, where = base.reckoning.plan, base.garden
    ids = {one.id: f"{text}{k}" for k, one in enumerate(where.pots)}
    garden_told = replace(
        where,
        site=replace(where.site, name=text),
        spots=tuple(replace(one, label=text) for one in where.spots),
        pots=tuple(
            replace(
                one, id=ids[one.id], label=text, plantings=tuple(replace(plant, name=text) for plant in one.plantings)
            )
            for one in where.pots
        ),
    )
    plan_told = replace(
        plan,
        site=text,
        jobs=tuple(replace(job, pot=ids[job.pot], label=text) for job in plan.jobs),
        pots=tuple(
            replace(
                one,
                id=ids[one.id],
                label=text,
                plant=text,
                tissues=tuple(replace(tissue, planting=text) for tissue in one.tissues),
            )
            for one in plan.pots
        ),
        weather=replace(plan.weather, service=text, model=text, credit=text),
    )
    pictures = replace(
        base.pictures, pots=tuple(replace(one, pot=ids[one.pot]) for one in base.pictures.pots)
    )
    return Drawn(replace(base.reckoning, plan=plan_told), pictures, garden_told)


def points_of(path: str) -> list[np.ndarray]:
    """The corners of each part of a path of absolute moves and relative lines, arrays (n, 2)."""
    parts = []
    for part in path.split("M")[1:]:
        numbers = [float(found) for found in re.findall(r"-?\d*\.?\d+", part)]
        steps = np.array(numbers).reshape(-1, 2)
        parts.append(np.cumsum(steps, axis=0))
    return parts


def of_class(picture: Element, kind: str) -> list[Element]:
    """The elements of a picture with exactly this class."""
    return [element for element in picture.iter() if element.get("class") == kind]


def axes(picture: Element) -> Iterator[tuple[float, float]]:
    """From each axis of temperature of a picture: unit at 0 of its figures, and units for one of them."""
    for group in of_class(picture, "tick ending"):
        # a figure stands 4 units below its line
        marks = [(float(text.text or ""), float(text.get("y") or "") - 4.0) for text in group]
        values, places = zip(*marks, strict=True)
        slope, zero = np.polyfit(values, places, 1)
        yield float(zero), float(slope)
