"""Pictures and words of one pot tell one night: the lowest points, read back, are the numbers in the captions."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC
from functools import cache
from xml.etree.ElementTree import Element

import numpy as np
import pytest

from frostguard.advice.advise import reckon_evening
from frostguard.advice.outlook import night_hours
from frostguard.advice.pictures import PotPicture, pictures_of
from frostguard.advice.plan import PotOutlook
from frostguard.advice.state import TerraceState
from frostguard.garden.model import Shape
from frostguard.garden.settings import Settings, Units
from frostguard.report import measures
from frostguard.report.html.curves import curves_picture
from frostguard.report.html.inside import how_to_read, pot_section
from frostguard.report.html.nights import TOLD_BESIDE_K, nights_told
from frostguard.weather.series import WeatherSeries
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
    shed,
    spot,
)
from tests.unit.report.html.drawn import HALF_A_ROUNDING, Drawn, axes, of_class, points_of

NUMBER = r"(-?\d+\.\d)"

ENGINE_K = 1e-3
"""Each hour is iterated until it moves by less, so a second run of the same hours may differ by some of it."""


def terrace():
    """A lemon that wants fleece, a fuchsia, an olive at the wall; covers for two of them."""
    return garden(
        pot("lemon", label="Lemon by the door"),
        big_pot("olive", planting("olea-europaea"), spot="wall", label="Old olive"),
        pot("box", shape=Shape.SQUARE),
        pot("fuchsia", planting("fuchsia-hybrida"), spot="wall"),
        spots=(spot(), spot("wall", against_house_wall=True, label="by the wall")),
        stock=shed(hoods(2), film()),
    )


def ensemble(members: int, seed: int = 5) -> WeatherSeries:
    """Clear frosty nights in so many courses that differ in air, wind and cloud from the question on."""
    one = frosty_nights(-5.0, 2, members=1, **CLEAR)
    chance = np.random.default_rng(seed)
    ahead = one.times > np.datetime64(ASKED.astimezone(UTC).replace(tzinfo=None))
    values = {name: np.repeat(array, members, axis=0) for name, array in one.values.items()}
    colder_k, faster, cloud = (chance.normal(0.0, 1.5, members), chance.uniform(0.3, 3.0, members),
                               chance.uniform(0.0, 60.0, members))  # fmt: skip
    for name in ("air_temperature_c", "dew_point_c"):
        values[name][:, ahead] += colder_k[:, None]
    values["wind_speed_10m_m_s"][:, ahead] *= faster[:, None]
    values["cloud_cover_percent"][:, ahead] += cloud[:, None]
    quality = {name: np.repeat(code, members, axis=0) for name, code in one.quality.items()}
    return replace(one, values=values, quality=quality)


def drawn_in(sky: WeatherSeries, asked=ASKED) -> Drawn:
    where = terrace()
    reckoning = reckon_evening(where, sky, TerraceState(), asked, Settings(days=2))
    return Drawn(reckoning, pictures_of(reckoning, pots=[one.id for one in where.pots]), where)


@cache
def of_one_forecast() -> Drawn:
    """One forecast, of which eleven courses are made."""
    return drawn_in(frosty_nights(-5.0, 2, members=1, **CLEAR))


@cache
def of_some() -> Drawn:
    """Four rosemaries alike and two hoods of fleece, which two of them get."""
    where = garden(pot("rosemary", planting("salvia-rosmarinus"), count=4), spots=(spot(),), stock=shed(hoods(2)))
    reckoning = reckon_evening(where, frosty_nights(-6.0, 1, members=1, **CLEAR), TerraceState(), ASKED,
                               Settings(days=1))  # fmt: skip
    return Drawn(reckoning, pictures_of(reckoning), where)


@cache
def of_members(members: int) -> Drawn:
    return drawn_in(ensemble(members))


@cache
def late() -> Drawn:
    """Asked at eleven in the evening."""
    return drawn_in(frosty_nights(-5.0, 2, members=1, **CLEAR), ASKED.replace(hour=23))


CASES = [of_one_forecast, lambda: of_members(7)]


def pairs(drawn: Drawn) -> list[tuple[PotPicture, PotOutlook]]:
    outlooks = {one.id: one for one in drawn.reckoning.plan.pots}
    return [(picture, outlooks[picture.pot]) for picture in drawn.pictures.pots]


def tonight(drawn: Drawn, picture: PotPicture) -> np.ndarray:
    """Which of the drawn hours the words count: those of the night, later than the question unless it is past dusk."""
    evening = drawn.reckoning.evening
    inside = night_hours(evening.terrace, evening.run, evening.nights[0], evening.now)
    ahead = sum(hour > drawn.reckoning.plan.asked_at for hour in picture.hours)
    before = len(picture.hours) - ahead
    told = np.zeros(len(picture.hours), dtype=bool)
    told[before:] = inside[1 : ahead + 1]
    if before > 1:
        told[:before] = True
    return told


def lowest(image: Element, kind: str, axis: tuple[float, float], told: np.ndarray) -> float:
    (path,) = of_class(image, f"line {kind}")
    (places,) = points_of(path.get("d") or "")
    zero, slope = axis
    return float(((places[told, 1] - zero) / slope).min())


@pytest.mark.parametrize("units", list(Units))
@pytest.mark.parametrize("case", CASES)
def test_the_lowest_point_of_a_line_is_the_number_in_the_caption(case, units):
    """Leaves and outer roots, read back from the strokes by their axes, fall tonight to what the caption tells."""
    drawn = case()
    for picture, outlook in pairs(drawn):
        image = curves_picture(picture, units, "curves")
        above, below = axes(image)
        section = pot_section(picture, drawn.garden.pots[picture.row], outlook, units, sparse=False)
        words = "".join(section.itertext())
        leaf, ring = re.search(f"leaves down to {NUMBER}.*?outer roots to {NUMBER}", words).groups()
        told = tonight(drawn, picture)
        for kind, axis, number in (("leaf", above, leaf), ("ring", below, ring)):
            # told to a tenth, rounded down; strokes are written to a tenth of a unit
            low = lowest(image, kind, axis, told)
            slack = 2.5 * HALF_A_ROUNDING / abs(axis[1])
            assert float(number) - slack <= low <= float(number) + 0.1 + slack, (picture.pot, kind)


@pytest.mark.parametrize("case", CASES)
def test_drawn_and_told_are_the_same_number_to_the_last_digit(case):
    """With an odd number of courses the middle one is one of them: the lines' lowest is the plan's median itself."""
    drawn = case()
    for picture, outlook in pairs(drawn):
        told = tonight(drawn, picture)
        assert picture.alone.ring_c[told].min() == pytest.approx(outlook.coldest.ring_c, abs=1e-9)
        assert picture.alone.leaf_c[told].min() == pytest.approx(outlook.coldest.leaf_c, abs=1e-9)
        assert picture.beside_k == pytest.approx(0.0, abs=1e-9)


def test_of_several_alike_those_that_get_a_job_are_told_in_figures():
    """The caption gives the helped pot's own leaves, roots and chance, and says that the others stay as they are."""
    drawn = of_some()
    ((picture, outlook),) = pairs(drawn)
    (job,) = drawn.reckoning.plan.jobs
    assert (picture.done_for, outlook.count, job.count) == (2, 4, 2)
    words = "".join(pot_section(picture, drawn.garden.pots[0], outlook, Units.METRIC, sparse=False).itertext())
    told = re.search(f"one of the 2 that get a job.*leaves {NUMBER}.*outer roots {NUMBER}.*Harm: (.+?)\\.", words)
    assert (told[1], told[2]) == (
        measures.coldest(picture.served.coldest_leaf_c, Units.METRIC).partition("\u00a0")[0],
        measures.coldest(picture.served.coldest_ring_c, Units.METRIC).partition("\u00a0")[0],
    )
    assert told[3] == measures.chance(picture.served.chance_of_damage)
    (tissue,) = (one for one in picture.served.tissues if one.tissue is job.loss_otherwise.tissue)
    assert tissue.chance == pytest.approx(job.loss_otherwise.chance_with_jobs)
    assert picture.served.coldest_leaf_c > outlook.coldest.leaf_c + 0.5


@pytest.mark.parametrize("case", [*CASES, of_some])
def test_with_the_jobs_the_lines_fall_as_low_as_is_told(case):
    """Single line before the work and double line after it, its first hour aside, give the plan's number."""
    drawn = case()
    counted = 0
    for picture, outlook in pairs(drawn):
        done = picture.with_jobs
        if done is None or picture.after_tonight:
            continue
        counted += 1
        told, first = tonight(drawn, picture), picture.hours.index(picture.done_at)
        plan = picture.served
        assert plan == outlook.with_plan or picture.done_for < outlook.count
        for name, number in (("ring_c", plan.coldest_ring_c), ("leaf_c", plan.coldest_leaf_c)):
            alone, after = getattr(picture.alone, name), getattr(done, name)
            before = alone[:first][told[:first]]
            low = min([*before, *after[1:][told[first + 1 :]]])
            assert low == pytest.approx(number, abs=ENGINE_K), (picture.pot, name)
    assert counted


@pytest.mark.parametrize("case", CASES)
def test_a_cut_of_tonight_holds_the_root_temperature_that_is_told(case):
    """The ring of the cut, less the corner of a square pot, is the coldest of the outer roots told in words."""
    drawn = case()
    cut_tonight = 0
    for picture, outlook in pairs(drawn):
        if tonight(drawn, picture)[picture.hours.index(picture.cut.time)]:
            cut_tonight += 1
            section = pot_section(picture, drawn.garden.pots[picture.row], outlook, Units.METRIC, sparse=False)
            cut, curves = ("".join(one.itertext()) for one in section.iter("figcaption"))
            told = re.search(f"they are at {NUMBER}", cut) or re.search(f"outer roots at {NUMBER}", cut)
            assert f"outer roots to {told[1]}\u00a0°C;" in curves
            ring_c = picture.cut.ring_c - picture.cut.corner_k
            assert ring_c == pytest.approx(outlook.coldest.ring_c, abs=ENGINE_K)
            core = float(picture.cut.mean_c[picture.cut.mean_c.shape[0] // 2, 0])
            hour = picture.hours.index(picture.cut.time)
            # the core is the axis at half height, between the two cells beside it
            assert core == pytest.approx(picture.alone.core_c[hour], abs=0.05)
    assert cut_tonight


@pytest.mark.parametrize("members", [2, 6])
def test_of_an_even_number_the_legend_tells_what_remains(members):
    """No course is the median then: the nearest is drawn, the colder of two, and the legend bounds what is left."""
    drawn = of_members(members)
    legend = "".join(how_to_read(drawn.pictures.pots, Units.METRIC).itertext())
    bound = float(re.search(f"up to {NUMBER}", legend).group(1))
    off = []
    for picture, outlook in pairs(drawn):
        told = tonight(drawn, picture)
        off += [outlook.coldest.ring_c - picture.alone.ring_c[told].min(),
                outlook.coldest.leaf_c - picture.alone.leaf_c[told].min()]  # fmt: skip
    assert max(off) > 1e-3
    assert max(np.abs(off)) <= bound + 1e-9
    assert min(off) >= -1e-9 or members > 2  # the colder one, but for leaves that are drawn with the roots
    assert "even" not in "".join(how_to_read(of_members(7).pictures.pots, Units.METRIC).itertext())


def test_asked_in_the_night_the_lines_begin_at_dusk():
    """Hours since dusk are in the words, so they are in the picture as well, and the band has no width there."""
    drawn = late()
    for picture, outlook in pairs(drawn):
        assert picture.hours[0] < drawn.reckoning.plan.asked_at
        told = tonight(drawn, picture)
        assert picture.alone.ring_c[told].min() == pytest.approx(outlook.coldest.ring_c, abs=1e-9)
        assert picture.alone.leaf_c[told].min() == pytest.approx(outlook.coldest.leaf_c, abs=1e-9)
        now = picture.hours.index(drawn.reckoning.plan.asked_at)
        np.testing.assert_allclose(picture.ring_band.low_c[:now], picture.ring_band.high_c[:now])
        assert picture.cut.time > drawn.reckoning.plan.asked_at


@pytest.mark.parametrize("case", [*CASES, lambda: of_members(6)])
def test_the_nights_line_falls_as_low_as_is_told_or_its_words_bound_it(case):
    """In each night the line's lowest is the coldest air told, but for what its caption names."""
    drawn = case()
    evening, nights = drawn.reckoning.evening, drawn.pictures.nights
    words, _ = nights_told(nights, drawn.reckoning.plan, Units.METRIC)
    bound = re.search(f"up to {NUMBER}", words)
    for night, told in zip(evening.nights, drawn.reckoning.plan.nights, strict=True):
        inside = night_hours(evening.terrace, evening.run, night, evening.now)
        off = abs(nights.air_c[inside].min() - told.coldest_air_c)
        assert off <= (TOLD_BESIDE_K if bound is None else float(bound[1])) + 1e-9
