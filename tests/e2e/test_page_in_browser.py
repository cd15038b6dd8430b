"""The local page in a real browser: from the first visit to a finished job, on a telephone and on a desk."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from frostguard.garden.reader import load_garden
from frostguard.page.work import Task
from tests.e2e.command import SAMPLES
from tests.served_page import Terrace

pytestmark = pytest.mark.browser

SCREENS = {"phone": {"width": 390, "height": 844}, "desk": {"width": 1280, "height": 900}}
GLOVE_PX = 56  # 15 mm at 96 dots an inch, rounded down


@pytest.fixture
def terrace(tmp_path: Path) -> Iterator[Terrace]:
    """The page without a garden file yet."""
    wishes = tmp_path / "settings.yaml"
    wishes.write_text("days: 1\n")
    served = Terrace(Task(tmp_path / "garden.yaml", wishes, SAMPLES / "clear-calm-night.csv", tmp_path / "d" / "l.db"))
    yield served
    served.stop()


@pytest.fixture(params=[("phone", True), ("desk", True), ("phone", False)], ids=["phone", "desk", "without scripts"])
def page(request: pytest.FixtureRequest, terrace: Terrace) -> Iterator:
    """A browser at the page; everything that its console says is noted."""
    from playwright.sync_api import sync_playwright

    found = shutil.which("chromium")
    assert found is not None, "these tests need Debian's chromium: apt-get install chromium"
    screen, scripts = request.param
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=["--no-sandbox"])
        context = browser.new_context(viewport=SCREENS[screen], java_script_enabled=scripts)
        page = context.new_page()
        page.said, page.scripts = [], scripts
        page.on("console", lambda message: page.said.append(message.text))
        page.on("pageerror", lambda error: page.said.append(str(error)))
        page.goto(f"http://{terrace.host}/")
        yield page
        browser.close()


def set_up(page) -> None:
    """Answer the questions of the first visit."""
    for name, value in (("latitude", "46.05"), ("longitude", "14.51"), ("elevation_m", "298"),
                        ("time_zone", "Europe/Ljubljana")):  # fmt: skip
        page.fill(f"input[name={name}]", value)
    page.get_by_role("button", name="Go on to the spots").click()
    page.fill("input[name=name]", "deck")
    page.fill("input[name=free_floor_m2]", "2")
    page.get_by_role("button", name="Take it, and one more").click()
    page.fill("input[name=name]", "cellar")
    page.select_option("select[name=room]", "unheated")
    page.fill("input[name=free_floor_m2]", "2")
    page.get_by_role("button", name="go on to the first pot").click()
    page.fill("input[name=plant]", "pelargonium")
    page.fill("input[name=volume_l]", "3")
    page.get_by_role("button", name="Write the garden file").click()


def looks_well(page) -> None:
    """Nothing is wider than the screen; what is pressed is as large as a glove needs."""
    if page.scripts:
        wide = page.evaluate(
            "[...document.querySelectorAll('body *')].filter(e => e.getBoundingClientRect().right > innerWidth + 1)"
            ".map(e => e.tagName)"
        )
        small = page.evaluate(
            "[...document.querySelectorAll('button, select, input:not([type=hidden]), nav a, summary')]"
            f".filter(e => e.getBoundingClientRect().height > 0 && e.getBoundingClientRect().height < {GLOVE_PX})"
            ".map(e => e.tagName + e.textContent)"
        )
        assert (wide, small) == ([], [])


def test_from_the_first_visit_to_a_finished_job(page, terrace):
    """Set up, wait for the answer, finish a job; look at every part; the console stays silent."""
    set_up(page)
    assert load_garden(terrace.garden).spots[1].name == "cellar"
    page.get_by_role("button", name="Finished").first.wait_for(timeout=60_000)
    looks_well(page)
    page.get_by_role("button", name="Finished").first.click()
    page.get_by_text("Take back").first.wait_for()
    for address in ("/nights", "/pots", "/pot/pelargonium", "/pot/pelargonium/change", "/book", "/settings"):
        page.goto(f"http://{terrace.host}{address}")
        looks_well(page)
    assert page.said == []


def test_ticks_out_of_reach_are_kept_and_sent_later(page, terrace):
    """Without a connection a tick stays on the device; once there is one, it is in the logbook."""
    if not page.scripts:
        return
    set_up(page)
    button = page.get_by_role("button", name="Finished").first
    button.wait_for(timeout=60_000)
    page.context.set_offline(True)
    button.click()
    page.get_by_text("Kept on this device").wait_for()
    page.context.set_offline(False)
    page.get_by_text("Take back").first.wait_for(timeout=30_000)


def test_no_serious_barrier_is_found(page, terrace):
    """axe-core finds nothing serious on the pages that are used on the terrace."""
    if not page.scripts:
        return
    from axe_playwright_python.sync_playwright import Axe

    set_up(page)
    page.get_by_role("button", name="Finished").first.wait_for(timeout=60_000)
    for address in ("/", "/pot/pelargonium", "/new-pot"):
        page.goto(f"http://{terrace.host}{address}")
        page.evaluate((Path(__import__("axe_playwright_python").__file__).parent / "axe.min.js").read_text("utf-8"))
        found = Axe().run(page).response["violations"]
        assert [one["id"] for one in found if one["impact"] in ("serious", "critical")] == []
