"""The page as a whole: well-formed, self-contained, small, harmless whatever names are in it, and translatable."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import pairwise
from xml.etree.ElementTree import Element

import html5lib
import pytest

from frostguard.advice.pictures import NightsPicture, Pictures
from frostguard.advice.plan import Caution
from frostguard.garden.settings import Units
from frostguard.report import words
from frostguard.report.html.page import render_page
from tests.language_of_dots import language_of_dots
from tests.unit.advice.terraces import garden, pot
from tests.unit.report.html.drawn import drawn, renamed, small

HOSTILE = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "'/><svg onload=alert(1)>",
    "</title></style></textarea><b>bold",
    "&lt;b&gt; & {pot} %s",
    "Zitrone \u202ekcab \x1b[31m\x00\x85 ende",
    "a" * 300,
]


def parsed(page: str) -> Element:
    """The page as the HTML standard reads it; any parse error raises."""
    return html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(page)


@cache
def page(units: Units = Units.METRIC) -> str:
    return small().page(units)


def shown(root: Element) -> str:
    """Everything that a person reads or hears, styles left out."""
    return " ".join(" ".join(element.itertext()) for element in root.find("body"))


@pytest.mark.parametrize("units", list(Units))
def test_the_page_is_well_formed(units):
    """A strict parser of the HTML standard finds no fault in it."""
    root = parsed(page(units))

    assert root.get("lang") == "en"
    assert root.find("head/title").text
    assert root.find("head/meta[@name='viewport']") is not None


@pytest.mark.parametrize("units", list(Units))
def test_the_page_has_no_outside_address(units):
    """No element loads or links to anything outside, no style imports, and the page's own policy forbids it."""
    root = parsed(page(units))
    linking = {"href", "src", "srcset", "action", "formaction", "poster", "data", "background", "{x}href"}
    targets = [value for element in root.iter() for name, value in element.attrib.items() if name in linking]

    assert targets
    assert all(target.startswith("#") for target in targets)
    style = root.find("head/style").text
    assert "url(" not in style
    assert "@import" not in style
    assert not {"script", "link", "iframe", "img", "object", "embed", "base"} & {element.tag for element in root.iter()}
    policy = root.find("head/meta[@http-equiv='Content-Security-Policy']")
    assert policy.get("content").startswith("default-src 'none'")


def test_links_lead_somewhere_and_names_of_places_are_unique():
    """Every id stands once, and every inner link and reuse of a path finds its id."""
    root = parsed(page())
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    targets = {element.get("href") for element in root.iter() if element.get("href")}

    assert len(ids) == len(set(ids))
    assert {target.removeprefix("#") for target in targets} <= set(ids)


def test_headings_are_real_and_leave_no_level_out():
    """One h1, and no heading more than a level deeper than the one before it."""
    levels = [int(element.tag[1]) for element in parsed(page()).iter() if re.fullmatch(r"h[1-6]", str(element.tag))]

    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(later <= before + 1 for before, later in pairwise(levels))


def test_every_picture_has_a_text_and_a_caption():
    """A picture is told as one image with a name, and stands in a figure with a caption in words."""
    root = parsed(page())
    figures = list(root.iter("figure"))
    pictures = [element for element in root.iter() if str(element.tag).endswith("svg")]

    assert len(figures) == len(pictures) == 1 + 2 * len(small().pictures.pots)
    for figure in figures:
        assert "".join(figure.find("figcaption").itertext()).strip()
    for picture in pictures:
        assert picture.get("role") == "img"
        assert next(element.text for element in picture if str(element.tag).endswith("title")).strip()


@pytest.mark.parametrize("name", HOSTILE)
def test_whatever_a_name_holds_it_stays_a_name(name):
    """Names with markup, quotes, braces and control characters add no element and no attribute, and can be read."""
    told, plain = parsed(renamed(name).page()), parsed(page())

    assert {str(element.tag) for element in told.iter()} <= {str(element.tag) for element in plain.iter()}
    names = {attribute for element in told.iter() for attribute in element.attrib}
    assert names <= {attribute for element in plain.iter() for attribute in element.attrib}
    text = shown(told)
    assert words.harmless(name) in " ".join(text.split())
    assert not re.search("[\x00-\x08\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", renamed(name).page())


def test_sixty_pots_with_jobs_stay_under_half_a_megabyte():
    """The largest of the small terrace's pots sixty times over, each with its pictures and jobs."""
    base = small()
    largest = max(base.pictures.pots, key=lambda one: (one.with_jobs is not None, len(one.hours)))
    row = largest.row
    its = base.reckoning.plan.pots[row]
    jobs = [job for job in base.reckoning.plan.jobs if job.pot == its.id]
    night = len([hour for hour in largest.hours if hour <= base.reckoning.evening.nights[0].ends])
    brief = _first_hours(largest, night)
    assert jobs
    plan = replace(
        base.reckoning.plan,
        pots=tuple(replace(its, id=f"{its.id}-{k}", label=f"{its.label} {k}") for k in range(60)),
        jobs=tuple(replace(job, pot=f"{its.id}-{k}", label=f"{its.label} {k}") for k in range(60) for job in jobs),
    )
    where = replace(
        base.garden, pots=tuple(replace(base.garden.pots[row], id=f"{its.id}-{k}") for k in range(60))
    )
    pictures = Pictures(
        base.pictures.nights, tuple(replace(brief, pot=f"{its.id}-{k}", row=k) for k in range(60))
    )

    size = len(render_page(plan, pictures, where, Units.METRIC).encode())

    assert size < 500_000


def _first_hours(one, count):
    """A picture of the coming night only, as `pictures_of` makes for many pots."""
    done = one.with_jobs
    left = count - (len(one.hours) - done.ring_c.size)

    def part(record, hours):
        return replace(record, **{name: getattr(record, name)[:hours] for name in record.__dataclass_fields__})

    return replace(
        one,
        hours=one.hours[:count],
        air_c=one.air_c[:count],
        alone=part(one.alone, count),
        ring_band=part(one.ring_band, count),
        leaf_band=part(one.leaf_band, count),
        with_jobs=part(done, left),
    )


def test_each_job_stands_on_the_sheet_of_its_spot_with_a_box_and_its_cautions():
    """A sheet for each spot with jobs, a box for each line of jobs, and every caution of these jobs."""
    plan = small().reckoning.plan
    root = parsed(page())
    sheets = [element for element in root.iter("section") if element.get("class") == "spot sheet"]

    assert len(sheets) == len({job.spot for job in plan.jobs})
    for sheet in sheets:
        text = "".join(sheet.itertext())
        spot = next(one for one in small().garden.spots if one.label == sheet.find("h3").text)
        jobs = [job for job in plan.jobs if job.spot == spot.name]
        boxes = [element for element in sheet.iter("input") if element.get("type") == "checkbox"]
        assert 1 <= len(boxes) <= len(jobs)
        for job in jobs:
            assert job.label in text
            if job.weight_kg is not None:
                assert "kg" in text
        assert ("Take care" in text) == any(job.cautions for job in jobs)
        assert ("Bring:" in text) == any(job.covers for job in jobs)


def test_imperial_readers_meet_no_metric_unit():
    """With imperial units no degree Celsius, kilogram or litre is told, and Fahrenheit and pounds are."""
    text = shown(parsed(page(Units.IMPERIAL)))

    assert "°C" not in text
    assert not re.search(r"\d\s*(kg|cm|mm|m|K)\b|litre", text)
    assert "°F" in text


def test_covers_used_and_left_add_up():
    """What the jobs take and what is left make what is in the shed, line by line."""
    root = parsed(page())
    rows = [[("".join(cell.itertext())) for cell in row] for row in root.iter("tr")]
    hoods = next(row for row in rows if row[0] == "fleece, hoods")

    has, takes, left = (float(cell) for cell in hoods[1:])
    assert has == 2
    assert takes == sum(use.count for job in small().reckoning.plan.jobs for use in job.covers if use.piece == "hood")
    assert left == has - takes


def test_a_shed_that_is_not_told_has_no_amounts_made_up():
    """Where the file does not say what is in the shed, neither what is there nor what is left is told."""
    base = small()
    where = replace(base.garden, stock=replace(base.garden.stock, stated=False))
    root = parsed(render_page(base.reckoning.plan, base.pictures, where, Units.METRIC))
    row = next(r for r in root.iter("tr") if r.find("th") is not None and "hoods" in (r.find("th").text or ""))

    assert [cell.text for cell in row][1::2] == ["not told", "not told"]


def test_a_mild_night_has_a_page_without_sheets_and_says_that_nothing_is_to_be_done():
    """Without a job or a pot at risk the page still tells the nights, and print shows its head."""
    mild = drawn(garden(pot("lemon")), coldest_c=6.0)
    root = parsed(mild.page())

    assert not mild.reckoning.plan.jobs
    assert root.find("body").get("class") == "no-sheets"
    assert "Nothing to do tonight" in shown(root)
    assert not [element for element in root.iter("section") if element.get("class") == "spot sheet"]


def test_a_stale_or_stored_forecast_is_told_with_its_age():
    """Source, age and credit stand on the page; an old forecast is told in the first lines too."""
    base = small()
    weather = replace(base.reckoning.plan.weather, age_h=30.0, from_store=True, credit="Weather data by A (CC BY)")
    old = replace(base.reckoning.plan, weather=weather)
    root = parsed(render_page(old, base.pictures, base.garden, Units.METRIC))

    assert "more than a day old" in "".join(root.find("body/main/header").itertext())
    assert "30 hours old" in shown(root)
    assert "Weather data by A (CC BY)" in shown(root)


@pytest.fixture
def _blank_language() -> Iterator[None]:
    with language_of_dots():
        yield


@pytest.mark.usefixtures("_blank_language")
def test_no_word_of_the_page_bypasses_the_catalogue():
    """In a language of dots nothing of the English is left but what garden, table and weather themselves say."""
    base = small()
    cautious = replace(base.reckoning.plan, cautions=tuple(Caution))
    root = parsed(render_page(cautious, base.pictures, base.garden, Units.METRIC))
    data = {base.garden.site.name, *(one.label for one in base.garden.spots), *(one.name for one in base.garden.spots)}
    data |= {text for one in base.garden.pots for text in (one.label, *(p.name for p in one.plantings))}
    data |= {one.source for one in (t for p in base.reckoning.plan.pots for t in p.tissues)}
    data |= {base.reckoning.plan.weather.service, base.reckoning.plan.weather.credit}
    known = set(re.findall(r"[A-Za-z]+", " ".join(data))) | {"C", "x", "h", "kg", "min"}

    left = set(re.findall(r"[A-Za-z]+", shown(root))) - known

    assert not left


def test_nights_without_dark_have_no_columns_and_no_figures():
    """Where the sun stays up no dark hours are drawn; the page is whole all the same."""
    base = small()
    bright = replace(base.pictures, nights=_without_dark(base.pictures.nights))
    root = parsed(render_page(base.reckoning.plan, bright, base.garden, Units.METRIC))

    assert not [element for element in root.iter() if element.get("class") == "dark-hours"]


def _without_dark(nights: NightsPicture) -> NightsPicture:
    return replace(nights, dark=())


def test_jobs_that_the_curves_leave_out_are_told():
    """Where a pot has jobs for tonight and others for a cold spell, it is said that the curves hold only the first."""
    base = small()
    more = replace(base.pictures, pots=tuple(replace(one, more_jobs=True) for one in base.pictures.pots))
    text = shown(parsed(render_page(base.reckoning.plan, more, base.garden, Units.METRIC)))

    counted = sum(one.with_jobs is not None for one in more.pots)
    assert text.count("are not counted in here") == counted > 0
