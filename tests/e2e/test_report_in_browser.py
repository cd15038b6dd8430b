"""The report in a real browser: Debian's chromium driven by playwright, on a telephone, a desk and on paper."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from frostguard.advice.advise import Reckoning, reckon_evening
from frostguard.advice.pictures import pictures_of
from frostguard.advice.state import TerraceState
from frostguard.garden.model import Garden
from frostguard.garden.reader import load_garden
from frostguard.garden.settings import Settings, Units
from frostguard.report.html.page import render_page
from frostguard.weather.files import load_weather
from tests.e2e.command import DEMO_GARDEN, SAMPLES

pytestmark = pytest.mark.browser

PHONE, DESK = {"width": 390, "height": 844}, {"width": 1280, "height": 900}

PAPER = {"A4": ("210mm", "297mm"), "Letter": ("8.5in", "11in")}


@pytest.fixture(scope="module")
def demo() -> tuple[Garden, Reckoning]:
    """The demo terrace's clear night."""
    garden = load_garden(DEMO_GARDEN)
    weather = load_weather(SAMPLES / "clear-calm-night.csv", year=2026)
    asked = weather.provenance.issued
    assert asked is not None
    return garden, reckon_evening(garden, weather, TerraceState(), asked, Settings())


@pytest.fixture(scope="module")
def address(demo: tuple[Garden, Reckoning], tmp_path_factory: pytest.TempPathFactory) -> str:
    """The report as a file."""
    garden, reckoning = demo
    file: Path = tmp_path_factory.mktemp("page") / "report.html"
    page = render_page(reckoning.plan, pictures_of(reckoning), garden, Units.METRIC)
    file.write_text(page, encoding="utf-8")
    return file.as_uri()


@pytest.fixture(scope="module")
def chromium() -> Iterator:
    """The browser; where it is missing the tests fail, since nothing else shows what a person sees."""
    from playwright.sync_api import sync_playwright

    found = shutil.which("chromium")
    assert found is not None, "these tests need Debian's chromium: apt-get install chromium"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture(params=["phone", "desk", "phone in the dark"])
def page(request: pytest.FixtureRequest, chromium, address: str) -> Iterator:
    """The report on a screen, with everything that the console says or the network is asked noted."""
    dark = "dark" in request.param
    context = chromium.new_context(
        viewport=DESK if request.param == "desk" else PHONE, color_scheme="dark" if dark else "light", bypass_csp=True
    )
    page = context.new_page()
    page.said, page.asked = [], []
    page.on("console", lambda message: page.said.append(message.text))
    page.on("pageerror", lambda error: page.said.append(str(error)))
    page.on("request", lambda asked: page.asked.append(asked.url))
    page.goto(address)
    yield page
    context.close()


def test_nothing_is_fetched_and_the_console_is_silent(page, address):
    """The page itself is all that is loaded, and nothing complains."""
    assert page.asked == [address]
    assert page.said == []


def test_no_screen_scrolls_sideways(page):
    """Neither the page nor any picture or table on it is wider than the screen."""
    wide = page.evaluate(
        "[...document.querySelectorAll('body *')].filter(e => e.getBoundingClientRect().right > innerWidth + 1)"
        ".map(e => e.tagName + ' ' + e.textContent.slice(0, 30))"
    )

    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert wide == []


def test_texts_in_pictures_can_be_read_and_are_not_cut_off(page):
    """Letters in pictures are 10 px or more on every screen, and lie within their picture."""
    faults = page.evaluate(
        """[...document.querySelectorAll('svg')].flatMap(svg => {
            const box = svg.getBoundingClientRect(), scale = box.width / svg.viewBox.baseVal.width;
            return [...svg.querySelectorAll('text')].filter(t => {
                const b = t.getBoundingClientRect();
                return parseFloat(getComputedStyle(t).fontSize) * scale < 9.5
                    || b.left < box.left - 1 || b.right > box.right + 1
                    || b.top < box.top - 2 || b.bottom > box.bottom + 2;
            }).map(t => t.textContent);
        })"""
    )

    assert faults == []


def test_names_in_pictures_do_not_cover_one_another(page):
    """Beside curves and nights no two texts overlap by more than a sliver."""
    covered = page.evaluate(
        """[...document.querySelectorAll('svg.curves, svg.nights')].flatMap(svg => {
            const boxes = [...svg.querySelectorAll('text')].map(t => [t.textContent, t.getBoundingClientRect()]);
            const faults = [];
            boxes.forEach(([one, a], i) => boxes.slice(i + 1).forEach(([other, b]) => {
                const across = Math.min(a.right, b.right) - Math.max(a.left, b.left);
                const down = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
                if (across > 1 && down > 0.45 * Math.min(a.height, b.height)) faults.push(one + ' / ' + other);
            }));
            return faults;
        })"""
    )

    assert covered == []


def test_axe_finds_nothing(page):
    """The accessibility engine axe-core finds no violation of any weight, by day and by night."""
    from axe_playwright_python.sync_playwright import Axe

    violations = Axe().run(page).response["violations"]

    assert [(one["id"], one["impact"], one["nodes"][0]["html"][:120]) for one in violations] == []


def test_boxes_can_be_ticked_by_keyboard_and_are_large_enough_for_gloves(page):
    """A job's whole line ticks its box and is 54 px high or more, 14 mm by 96 px an inch; so does the space bar.

    What leads to a pot's pictures is as high.
    """
    box = page.locator(".jobs input").first
    line = page.locator(".jobs label").first
    line.click()
    assert box.is_checked()

    box.focus()
    page.keyboard.press("Space")

    assert not box.is_checked()
    assert line.bounding_box()["height"] >= 54.0
    to_pot = page.locator(".pots a").first
    assert to_pot.bounding_box()["height"] >= 54.0
    to_pot.click()
    assert "#" in page.url


@pytest.mark.parametrize("paper", list(PAPER))
def test_print_is_one_sheet_for_each_spot_in_black_on_white(paper, chromium, address, demo):
    """On A4 and Letter as many pages as spots with jobs, each with its spot, its boxes and no picture."""
    _, reckoning = demo
    spots = {job.spot for job in reckoning.plan.jobs}
    width, height = PAPER[paper]
    context = chromium.new_context(color_scheme="dark")
    page = context.new_page()
    page.goto(address)

    pdf = page.pdf(width=width, height=height)
    page.emulate_media(media="print", color_scheme="dark")

    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == len(spots)
    shown = page.evaluate(
        "[...document.querySelectorAll('svg, h1, .pots, .headline')].filter(e => e.offsetParent || "
        "e.getClientRects().length).length"
    )
    assert shown == 0
    assert page.locator(".sheet h3:visible").count() == len(spots)
    ink = page.evaluate(
        "[...document.querySelectorAll('.sheet *')].filter(e => e.getClientRects().length)"
        ".map(e => getComputedStyle(e).color)"
    )
    assert all(_is_grey(colour) for colour in ink)
    assert page.evaluate("parseFloat(getComputedStyle(document.querySelector('.sheet strong')).fontSize)") >= 18.0
    context.close()


def _is_grey(colour: str) -> bool:
    red, green, blue = (int(part) for part in re.findall(r"\d+", colour)[:3])
    return max(red, green, blue) - min(red, green, blue) <= 16  # ink's own tint; a grey printer's smallest step
