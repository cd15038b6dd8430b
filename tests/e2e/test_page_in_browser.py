"""The local page in a real browser: from the first visit to a finished job, on a telephone and on a desk."""

from __future__ import annotations

import contextlib
import json
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from frostguard.cli.page import own_address
from frostguard.errors import FrostguardError
from frostguard.garden.reader import load_garden
from frostguard.logbook.book import open_logbook
from frostguard.logbook.jobs import JobState, in_force, listed
from frostguard.page.work import Task
from tests.e2e.command import SAMPLES
from tests.served_page import Terrace

pytestmark = pytest.mark.browser

SCREENS = {"phone": {"width": 390, "height": 844}, "desk": {"width": 1280, "height": 900}}
LONGEST_MS = 300_000
"""However slow the machine; what is waited for comes as soon as it is there."""

GLOVE_PX = 56  # 15 mm at 96 dots an inch, rounded down
READY = """\
site: {latitude: 46.05, longitude: 14.51, elevation_m: 298, time_zone: Europe/Ljubljana}
spots:
  - {name: deck, label: on the deck, free_floor_m2: 2}
  - {name: railing, label: at the railing, wind: exposed}
  - {name: cellar, label: in the cellar, room: unheated, free_floor_m2: 3}
pots:
  - {plant: pelargonium, material: plastic, volume_l: 3, spot: deck, label: Red pelargonium}
  - {plant: pelargonium, material: plastic, volume_l: 3, spot: deck, label: Pink pelargonium}
  - {plant: fuchsia, material: terracotta, volume_l: 8, spot: railing}
"""
EVERY = ("/", "/nights", "/pots", "/pot/fuchsia", "/pot/fuchsia/change", "/pot/fuchsia/remove", "/new-pot", "/new-spot",
         "/readings", "/taught", "/book", "/settings")  # fmt: skip


@pytest.fixture(scope="module")
def chromium() -> Iterator:
    """Debian's chromium; missing it is a failure, since nothing else shows what a person sees."""
    from playwright.sync_api import sync_playwright

    found = shutil.which("chromium")
    assert found is not None, "these tests need Debian's chromium: apt-get install chromium"
    with sync_playwright() as playwright:
        # a name that is not ours leads here, as on a network that somebody else runs
        rules = "--host-resolver-rules=MAP foreign.example 127.0.0.1"
        browser = playwright.chromium.launch(executable_path=found, args=["--no-sandbox", rules])
        yield browser
        browser.close()


@pytest.fixture
def served(tmp_path: Path) -> Iterator:
    """Starts the page on a garden file, or without one."""
    running: list[Terrace] = []

    def start(text: str | None = READY, **more: str) -> Terrace:
        garden, wishes = tmp_path / "garden.yaml", tmp_path / "settings.yaml"
        if text is not None:
            garden.write_text(text)
        wishes.write_text("days: 1\n")
        task = Task(garden, wishes, SAMPLES / "clear-calm-night.csv", tmp_path / "d" / "l.db")
        running.append(Terrace(task, **more))
        return running[-1]

    yield start
    for terrace in running:
        terrace.stop()


@pytest.fixture
def opened(chromium) -> Iterator:
    """Opens a browser's window at an address; everything that its console says is noted."""
    contexts = []

    def at(address: str, screen: str = "phone", **more):
        contexts.append(chromium.new_context(viewport=SCREENS[screen], **more))
        contexts[-1].set_default_timeout(LONGEST_MS)
        page = contexts[-1].new_page()
        page.said = []
        page.on("console", lambda message: page.said.append(message.text))
        page.on("pageerror", lambda error: page.said.append(str(error)))
        page.goto(address)
        return page

    yield at
    for context in contexts:
        context.close()


def planned(page) -> None:
    """Wait until the evening is worked out, and its page is whole."""
    page.get_by_role("button", name=re.compile("inished")).first.wait_for()
    page.wait_for_load_state()


def told(page) -> None:
    """Wait until what was said of a job stands on the page, and the page is whole."""
    page.locator("#jobs .way").wait_for()
    page.wait_for_load_state()


def jobs_of(terrace: Terrace) -> list:
    """All jobs in the logbook."""
    from datetime import date

    with open_logbook(terrace.task.logbook) as book:
        return listed(book, date(2020, 1, 1))


def looks_well(page) -> None:
    """Nothing is wider than the screen; what is pressed is as large as a glove needs."""
    wide = page.evaluate(
        "[...document.querySelectorAll('body *')].filter(e => e.getBoundingClientRect().right > innerWidth + 1)"
        ".map(e => e.tagName + e.textContent.slice(0, 30))"
    )
    small = page.evaluate(
        "[...document.querySelectorAll('button, select, textarea, input[type=text], .box, a, summary')]"
        f".filter(e => e.getBoundingClientRect().height > 0 && e.getBoundingClientRect().height < {GLOVE_PX})"
        ".map(e => e.tagName + e.textContent)"
    )
    assert (page.url, wide, small) == (page.url, [], [])


@pytest.mark.parametrize(("screen", "scripts"), [("phone", True), ("desk", True), ("phone", False)])
def test_from_the_first_visit_to_a_finished_job(screen, scripts, served, opened):
    """Set up, wait for the answer, finish a job, with scripts and without; the console stays silent."""
    terrace = served(None)
    page = opened(f"http://{terrace.host}/", screen, java_script_enabled=scripts)
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
    planned(page)
    assert load_garden(terrace.garden).spots[1].name == "cellar"
    page.get_by_role("button", name="Finished").first.click()
    page.locator("#jobs .way").get_by_role("button", name="Take back").wait_for()
    page.wait_for_load_state()
    assert [job.state for job in jobs_of(terrace)].count(JobState.FINISHED) == 1
    with open_logbook(terrace.task.logbook) as book:
        assert len(in_force(book)) == 1
    assert page.locator(".figures-row").count() == 0 or page.locator(".figures-row dd").first.inner_text() == str(
        page.locator("ol.jobs > li").count()
    )
    assert page.said == []


@pytest.mark.parametrize(("screen", "theme"), [("phone", "light"), ("desk", "light"), ("phone", "dark")])
def test_every_page_can_be_seen_and_used_by_everybody(screen, theme, served, opened):
    """No page scrolls sideways, all that is pressed is large, axe-core finds nothing, the console is silent."""
    from axe_playwright_python.sync_playwright import Axe

    page = opened(f"http://{served().host}/", screen, color_scheme=theme, bypass_csp=True)
    planned(page)
    home = page.url
    found = []
    for address in EVERY:
        page.goto(home.rstrip("/") + address)
        page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
        looks_well(page)
        found += [(address, one["id"], one["nodes"][0]["html"][:120]) for one in Axe().run(page).response["violations"]]
    assert found == []
    assert page.said == []


def test_the_whole_way_goes_without_a_mouse(served, opened):
    """By keys alone: a job finished and taken back, a pot looked up and tried otherwise, a reading put down."""
    terrace = served()
    page = opened(f"http://{terrace.host}/", "desk")
    planned(page)

    def step_to(tag: str, words: str) -> None:
        page.wait_for_load_state()
        for _ in range(120):
            page.keyboard.press("Tab")
            focus = page.evaluate("(e => [e.tagName, e.textContent + (e.name || '') + (e.value || ''), "
                                  "getComputedStyle(e).outlineStyle])(document.activeElement)")  # fmt: skip
            if focus[0] == tag and words in focus[1]:
                assert focus[2] != "none"  # one sees where one is
                return
        raise AssertionError(f"{tag} {words} is not reached")

    step_to("BUTTON", "inished")
    page.keyboard.press("Enter")
    told(page)
    assert any(job.state is JobState.FINISHED for job in jobs_of(terrace))
    step_to("BUTTON", "Take back")
    page.keyboard.press("Enter")
    page.get_by_text("taken back.").first.wait_for()
    step_to("A", "Pots")
    page.keyboard.press("Enter")
    page.wait_for_url("**/pots")
    step_to("A", "Fuchsia")
    page.keyboard.press("Enter")
    page.wait_for_url("**/pot/fuchsia")
    step_to("SUMMARY", "Try something")
    page.keyboard.press("Enter")
    step_to("INPUT", "protectfleece")
    page.keyboard.press("Space")
    step_to("BUTTON", "Try it")
    page.keyboard.press("Enter")
    page.get_by_role("columnheader", name="As it stands").wait_for()
    step_to("A", "Readings")
    page.keyboard.press("Enter")
    page.wait_for_url("**/readings")
    step_to("SELECT", "of")
    page.keyboard.type("Fuchsia")
    step_to("INPUT", "degrees")
    page.keyboard.type("-1,5")
    page.keyboard.press("Enter")
    page.get_by_text("Coldest: -1.5").wait_for()
    with open_logbook(terrace.task.logbook) as book:
        assert [(one.pot, one.temperature_c) for one in book.readings()] == [("fuchsia", -1.5)]


def test_ticks_out_of_reach_are_kept_and_sent_later(served, opened):
    """Without a connection ticks stay on the device; once there is one, all are in the logbook."""
    terrace = served()
    page = opened(f"http://{terrace.host}/")
    planned(page)
    before = len(jobs_of(terrace))
    page.context.set_offline(True)
    buttons = page.locator("ol.jobs > li > div > form").get_by_role("button", name=re.compile("inished"))
    buttons.nth(1).wait_for()
    buttons.nth(0).click()
    buttons.nth(1).click()
    page.get_by_text("Kept on this device, and sent as soon as there is one: 2.").wait_for()  # the first is told alone
    assert all(job.state is JobState.OPEN for job in jobs_of(terrace))
    page.context.set_offline(False)
    told(page)
    done = [job for job in jobs_of(terrace) if job.state is JobState.FINISHED]
    assert 2 <= len(done) <= before


def test_kept_ticks_outlive_a_page_loaded_anew_without_a_connection(served, opened):
    """Whoever loads the page out of reach sees the browser's own word; back in reach, the tick is sent all the same."""
    from playwright.sync_api import Error as PlaywrightError

    terrace = served()
    page = opened(f"http://{terrace.host}/")
    planned(page)
    page.context.route("**/*", lambda route: route.abort())  # for whole pages, too
    page.locator("ol.jobs > li > div > form").get_by_role("button", name=re.compile("inished")).first.click()
    page.get_by_text("Kept on this device").wait_for()
    with contextlib.suppress(PlaywrightError):  # the browser's word for a page that cannot be reached
        page.reload()
    page.locator("form.tick").first.wait_for(state="detached")
    assert not any(job.state is JobState.FINISHED for job in jobs_of(terrace))
    page.context.unroute("**/*")
    page.goto(f"http://{terrace.host}/pots")  # any page of ours will do
    told(page)
    assert any(job.state is JobState.FINISHED for job in jobs_of(terrace))
    assert page.evaluate("localStorage.getItem('frostguard-kept')") == "[]"


def test_what_waits_to_be_sent_stands_as_said_on_a_page_loaded_anew(served, opened):
    """While the server does not take ticks, the buttons of a kept one stay shut, those of the others open."""
    terrace = served()
    page = opened(f"http://{terrace.host}/")
    planned(page)
    page.context.route("**/say", lambda route: route.abort())
    forms = page.locator("ol.jobs > li > div > form")
    forms.nth(1).wait_for()
    forms.nth(0).get_by_role("button", name=re.compile("inished")).click()
    page.get_by_text("Kept on this device").wait_for()
    page.reload()
    page.get_by_text("Kept on this device").wait_for()
    page.wait_for_load_state()
    shut = forms.evaluate_all("forms => forms.map(form => form.querySelector('button').disabled)")
    assert (shut[0], any(shut[1:])) == (True, False)
    page.context.clear_cookies()  # as where the server was started anew: what this page carries is void
    page.context.unroute("**/say")
    page.evaluate("dispatchEvent(new Event('online'))")
    told(page)
    assert any(job.state is JobState.FINISHED for job in jobs_of(terrace))


def test_two_windows_that_send_at_once_lose_no_tick(served, opened):
    """Both send the first tick at once, then the connection breaks: the others are still kept, and sent later."""
    terrace = served()
    page = opened(f"http://{terrace.host}/")
    planned(page)
    other = page.context.new_page()
    other.goto(f"http://{terrace.host}/pots")
    numbers = [str(job.number) for job in jobs_of(terrace)]
    assert len(numbers) >= 2
    kept = [{"fields": [["job", number], ["word", "finished"]], "at": "2026-01-14T15:00:00Z"} for number in numbers]
    page.evaluate("text => localStorage.setItem('frostguard-kept', text)", json.dumps(kept))
    asked = []

    def break_off(route) -> None:
        asked.append(route)
        if len(asked) > 2:
            route.abort()
        elif len(asked) == 2:
            for one in asked:
                one.continue_()

    page.context.route("**/say", break_off)
    for window in (page, other):
        window.evaluate("dispatchEvent(new Event('online'))")
    for window in (page, other):
        window.get_by_text("Kept on this device").wait_for()
    still = json.loads(page.evaluate("localStorage.getItem('frostguard-kept')"))
    assert [one["fields"][0][1] for one in still] == numbers[1:]
    page.context.unroute("**/say")
    page.evaluate("dispatchEvent(new Event('online'))")
    told(page)
    assert {job.state for job in jobs_of(terrace)} == {JobState.FINISHED}


def test_a_kept_tick_that_nobody_knows_is_told(served, opened):
    """A tick for a job that is gone is not lost in silence, and does not hold up the others."""
    terrace = served()
    page = opened(f"http://{terrace.host}/")
    planned(page)
    known = str(jobs_of(terrace)[0].number)
    kept = [{"fields": [["job", number], ["word", "finished"]], "at": "2026-01-14T15:00:00Z"}
            for number in ("99999", known)]  # fmt: skip
    page.evaluate("text => localStorage.setItem('frostguard-kept', text)", json.dumps(kept))
    page.reload()
    page.get_by_text("could not be taken: 1").wait_for()
    assert next(job.state for job in jobs_of(terrace) if str(job.number) == known) is JobState.FINISHED


def test_another_device_gets_in_by_the_link_alone(served, opened):
    """Over this machine's own address: nothing without the link, everything after it, in the same browser only."""
    try:
        address = own_address()
    except FrostguardError:
        pytest.skip("this machine is in no network")
    terrace = served(token="right", address=address)
    page = opened(f"http://{terrace.host}/settings")
    assert "Open the link" in page.content()
    page.goto(f"http://{terrace.host}/enter/wrong")
    assert "not the one" in page.content()
    page.goto(f"http://{terrace.host}/enter/right")
    planned(page)
    page.get_by_role("button", name=re.compile("inished")).first.click()
    told(page)
    assert page.evaluate("document.cookie") == ""  # no script can read it
    (cookie,) = page.context.cookies()
    assert (cookie["httpOnly"], cookie["sameSite"]) == (True, "Strict")
    assert "Open the link" in opened(f"http://{terrace.host}/").content()


def test_a_foreign_name_shows_nothing(served, opened):
    """A name of somebody else's that leads to this machine shows one sentence, and sets no cookie."""
    port = served().host.rpartition(":")[2]
    page = opened(f"http://foreign.example:{port}/settings")
    assert "not served under that name" in page.content()
    assert page.context.cookies() == []


def test_a_page_of_somebody_else_cannot_press_our_buttons(served, opened, tmp_path):
    """A form on a foreign page that is sent to ours is refused, and no frame of theirs shows ours."""
    terrace = served()
    page = opened(f"http://{terrace.host}/settings")
    trap = f'<form method=post action="http://{terrace.host}/settings/test"><input name=mark value=x></form>'
    page.context.route("http://foreign.example/", lambda route: route.fulfill(
        content_type="text/html", body=f'{trap}<iframe src="http://{terrace.host}/"></iframe>'))  # fmt: skip
    page.goto("http://foreign.example/")
    assert len(page.frames) > 1
    assert all("Tonight" not in (frame.text_content("body") or "") for frame in page.frames[1:])
    page.evaluate("document.forms[0].submit()")
    page.wait_for_url(f"http://{terrace.host}/settings/test")
    assert "did not come from this page" in page.content()
    assert terrace.written == []


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_sheets_print_from_the_page_one_for_each_spot(paper, served, opened):
    """The link on the first page leads to the report, whose print has as many pages as spots with jobs."""
    terrace = served()
    page = opened(f"http://{terrace.host}/", "desk")
    planned(page)
    page.get_by_role("link", name="Job sheets").click()
    page.wait_for_url("**/report")
    spots = {job.spot for job in jobs_of(terrace)}
    pdf = page.pdf(format=paper)
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == len(spots) >= 2
    assert page.said == []
