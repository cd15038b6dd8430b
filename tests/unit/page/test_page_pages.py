"""The pages: jobs said to be done, pots written into the file, the first visit."""

from __future__ import annotations

import re
from base64 import b64encode
from concurrent.futures import ThreadPoolExecutor
from dataclasses import fields as fields_of
from dataclasses import replace
from datetime import UTC, date, datetime
from hashlib import sha256
from threading import Event

import pytest

from frostguard.garden.reader import load_garden
from frostguard.garden.settings import Units
from frostguard.logbook.book import open_logbook
from frostguard.logbook.jobs import JobState, in_force, listed
from frostguard.logbook.measured import Reading, TunedValue
from frostguard.notify.brief import PlanBrief, brief_of, brief_of_job
from frostguard.page.errands import Busy, Errands
from frostguard.page.taught import FitTold, Learnt, learnt_body
from frostguard.report import measures
from frostguard.report.html.fit import NightRead
from frostguard.report.html.markup import node
from frostguard.report.jobs import grouped, number_fact
from frostguard.report.measures import Clock
from frostguard.tuning.export_file import parse_export
from frostguard.tuning.probe import probe_of
from tests.e2e.command import DEMO_GARDEN, SAMPLES
from tests.served_page import until

PLACE = {"name": "Roof", "latitude": "46,05", "longitude": "14.51", "elevation_m": "298",
         "time_zone": "Europe/Ljubljana", "height_above_ground_m": "14", "surroundings": "city"}  # fmt: skip
POT = {"plant": "lemon", "material": "terracotta", "volume_l": "2,5", "spot": "deck"}


EVERY = ("/", "/report", "/nights", "/pots", "/pot/pelargonium", "/pot/pelargonium/change", "/pot/pelargonium/remove",
         "/new-pot", "/new-spot", "/readings", "/taught", "/book", "/settings")  # fmt: skip


@pytest.fixture
def terrace(begun):
    """The small terrace."""
    return begun()


def jobs_of(terrace):
    """All jobs in the logbook."""
    from datetime import date

    with open_logbook(terrace.task.logbook) as book:
        return listed(book, date(2020, 1, 1)), in_force(book)


def test_names_are_shown_as_they_are_written(terrace):
    """Signs that mean something in a page are letters like others, on every page and in what was tried."""
    visitor = terrace.answered()
    visitor.send("/readings", {"of": "pot:pelargonium", "place": "core", "degrees": "1", "at": ""})
    first = jobs_of(terrace)[0][0]
    visitor.send("/say", {"job": str(first.number), "word": "not tonight"})
    tried = visitor.awaited(visitor.send("/pot/pelargonium/what-if", {"protect": "fleece"})).text
    pages = {address: visitor.get(address).text for address in EVERY} | {"tried": tried}
    for address, page in pages.items():
        assert "<b>Red</b>" not in page, address
    assert "&lt;b&gt;Red&lt;/b&gt; &amp; \"white\"" in pages["/"]
    assert sum("&lt;b&gt;Red" in page for page in pages.values()) >= 8


def test_jobs_can_be_finished_and_taken_back(terrace):
    """A whole group is finished by one press, asked again, put off, and taken back; the logbook knows each."""
    visitor = terrace.answered()
    page = visitor.get("/").text
    first = page.split('<ol class="jobs">')[1]
    assert "All finished" in first  # two pots alike at one spot
    numbers = re.findall(r'name="job" value="(\d+)"', first.split("</form>")[0])
    assert len(numbers) == 2
    assert visitor.send("/say", {"job": numbers, "word": "finished"}).status_code == 303
    jobs, placed = jobs_of(terrace)
    assert [job.state for job in jobs if str(job.number) in numbers] == [JobState.FINISHED] * 2
    assert len(placed) == 2
    page = visitor.get("/").text
    assert "Take back" in page
    assert all(f"{number}: " in page for number in numbers)  # in what was said of them too
    for word, state, standing in (("take back", JobState.TAKEN_BACK, 1), ("ask again", JobState.OPEN, 1),
                                  ("not tonight", JobState.NOT_TONIGHT, 1)):  # fmt: skip
        assert visitor.send("/say", {"job": numbers[:1], "word": word}).status_code == 303
        jobs, placed = jobs_of(terrace)
        assert next(job.state for job in jobs if str(job.number) == numbers[0]) is state
        assert len(placed) == standing


def test_what_is_said_of_no_job_is_not_put_down(terrace):
    """An unknown number or word is told, and changes nothing, not even for the known job beside it."""
    visitor = terrace.answered()
    before, _ = jobs_of(terrace)
    known = str(before[0].number)
    for fields in ({}, {"job": known}, {"job": "999", "word": "finished"}, {"job": known, "word": "x"},
                   {"job": [known, "999"], "word": "finished"}, {"job": "١", "word": "finished"}):  # fmt: skip
        assert visitor.send("/say", fields).status_code == 400
    assert jobs_of(terrace)[0] == before


def test_every_page_is_there(terrace):
    """Each part answers; a pot has its cut, its curves and its limits with sources."""
    visitor = terrace.answered()
    for address in EVERY:
        assert visitor.get(address).status_code == 200, address
    page = visitor.get("/pot/pelargonium").text
    assert page.count("<svg") == 2
    assert "What it stands" in page
    assert visitor.get("/pot/nobody").status_code == 404


def test_a_new_pot_is_written_with_the_comments_kept(terrace):
    """A decimal comma is understood; the comment in the file stays; the new pot's page comes next."""
    visitor = terrace.visitor()
    version = visitor.field("/new-pot", "version")
    answer = visitor.send("/new-pot", {**POT, "version": version})
    assert (answer.status_code, answer.headers["location"]) == (303, "/pot/lemon")
    assert "# mine since the spring" in terrace.garden.read_text()
    assert load_garden(terrace.garden).pots[-1].volume_l == pytest.approx(2.5)


def test_a_pot_just_added_is_looked_at_again_until_its_night_is_known(terrace):
    """While an answer without it stands, its page renews itself; then its limits stand there."""
    visitor = terrace.answered()
    visitor.send("/new-pot", {**POT, "version": visitor.field("/new-pot", "version")})
    assert 'http-equiv="refresh"' in visitor.get("/pot/lemon").text
    until(lambda: "being worked out" not in visitor.get("/pot/lemon").text)
    assert "What it stands" in visitor.get("/pot/lemon").text


def test_a_bare_stem_can_be_said_and_what_goes_with_it_is_told(terrace):
    """Kind, length and thickness go into the file, by inches too; a length without its kind is refused."""
    terrace.task.settings.write_text("days: 1\nunits: imperial\n")
    visitor = terrace.visitor()
    version = visitor.field("/new-pot", "version")
    rose = {**POT, "plant": "rose", "stem_cm": "30", "stem_thickness_cm": "0.8", "version": version}
    assert "needs the kind of stem" in visitor.send("/new-pot", rose).text
    assert visitor.send("/new-pot", {**rose, "stem": "grafted standard"}).status_code == 303
    stem = load_garden(terrace.garden).pots[-1].plantings[0].bare_stem
    assert (stem.kind.value, stem.length_m, stem.thickness_m) == (
        "grafted standard", pytest.approx(30 * 0.0254), pytest.approx(0.8 * 0.0254, rel=0.01))  # fmt: skip


def test_the_page_says_that_a_weather_file_makes_it_a_trial(terrace):
    """Whoever ticks jobs or puts readings down learns that they do not outlast the page; not so with the forecast."""
    visitor = terrace.answered()
    assert all("forgotten when the page is stopped" in visitor.get(at).text for at in ("/", "/book", "/readings"))
    terrace.site.planner.task = replace(terrace.task, weather=None)
    assert terrace.site.trial_told() is None


def test_a_pot_that_cannot_be_is_told_and_what_was_typed_stays(terrace):
    """The strict reader's own words; nothing is written."""
    visitor = terrace.visitor()
    before = terrace.garden.read_bytes()
    answer = visitor.send("/new-pot", {**POT, "plant": "lemmon", "version": visitor.field("/new-pot", "version")})
    assert answer.status_code == 422
    assert "knows no plant" in answer.text
    assert 'value="lemmon"' in answer.text
    assert terrace.garden.read_bytes() == before


def test_two_people_do_not_overwrite_each_other(terrace):
    """Who began on the older text is told; pressed again on the newer one, both changes stand."""
    one, two = terrace.visitor(), terrace.visitor()
    old = one.field("/new-pot", "version")
    change = {"plant": "pelargonium", "material": "plastic", "volume_l": "5", "spot": "deck",
              "label": "Pink one", "version": old}  # fmt: skip
    assert one.send("/new-pot", {**POT, "version": old}).status_code == 303
    refused = two.send("/pot/pelargonium-2/change", change)
    assert refused.status_code == 422
    assert "changed meanwhile" in refused.text
    assert 'value="Pink one"' in refused.text
    again = two.send("/pot/pelargonium-2/change", {**change, "version": two.field("/new-pot", "version")})
    assert again.status_code == 303
    assert [pot.label for pot in load_garden(terrace.garden).pots][1:] == ["Pink one", "Lemon"]


def test_many_who_write_at_once_write_one_after_the_other_or_not(terrace):
    """Of eight who began on the same text exactly one gets through; the file is whole and holds one more pot."""
    visitors = [terrace.visitor() for _ in range(8)]
    old = visitors[0].field("/new-pot", "version")
    marks = [visitor.mark() for visitor in visitors]

    def add(k):
        return visitors[k].send("/new-pot", {**POT, "label": f"Lemon {k}", "version": old}, mark=marks[k]).status_code

    with ThreadPoolExecutor(8) as crowd:
        answers = sorted(crowd.map(add, range(8)))
    assert answers == [303] + [422] * 7
    assert len(load_garden(terrace.garden).pots) == 3


def test_only_what_was_changed_in_the_form_is_changed_in_the_file(terrace):
    """One value set anew, one added: every other line stays."""
    visitor = terrace.visitor()
    before = terrace.garden.read_text()
    fields = {"plant": "pelargonium", "label": '<b>Red</b> & "white"', "material": "plastic", "volume_l": "4",
              "spot": "deck", "feet": "yes", "version": visitor.field("/new-pot", "version")}  # fmt: skip
    assert visitor.send("/pot/pelargonium/change", fields).status_code == 303
    old, new = "    volume_l: 3\n    spot: deck\n", "    volume_l: 4\n    spot: deck\n    feet: yes\n"
    expected = before.replace(old, new, 1)
    assert terrace.garden.read_text() == expected


def test_what_is_said_leads_back_to_the_jobs_and_can_be_taken_back_there(terrace):
    """After a press the page shows what was just said, with its way back; made-up numbers show nothing."""
    visitor = terrace.answered()
    (first, *_), _ = jobs_of(terrace)
    answer = visitor.send("/say", {"job": str(first.number), "word": "finished"})
    assert answer.headers["location"] == f"/?said={first.number}#jobs"
    page = visitor.get(f"/?said={first.number}").text
    assert "done." in page.split('id="jobs"')[1].split("<h2")[0]
    for made_up in ("999", "x", "-", "9" * 99, "%00", "<b>"):
        assert visitor.get("/", params={"said": made_up}).status_code == 200


def test_page_and_printed_sheet_tell_the_same_of_every_job(terrace):
    """Name, number, deadline, minutes and weight of each job stand on the page as on the sheet to print.

    The numbers are those of `frostguard jobs`, by pot and kind of job.
    """
    visitor = terrace.answered()
    told = [" ".join(page.itertext()) for page in map(parsed, (visitor.get("/").text, visitor.get("/report").text))]
    shown = terrace.site.planner.look().shown
    clock = Clock(shown.plan.time_zone, shown.plan.asked_at)
    assert shown.plan.jobs
    numbers = {(job.pot, job.protection): job.number for job in jobs_of(terrace)[0]}
    assert all(job.number == numbers[job.pot, job.protection] for job in shown.plan.jobs)
    for group in grouped(shown.plan.jobs):
        weights = [job.weight_kg for job in group.jobs if job.weight_kg is not None]
        facts = [clock.start_by(group.first.start_by), measures.minutes(sum(job.minutes for job in group.jobs)),
                 *(job.label for job in group.jobs)]  # fmt: skip
        facts += [measures.weight(max(weights), Units.METRIC)] if weights else []
        facts += [number_fact(group.jobs)]
        for fact in facts:
            assert all(fact in " ".join(text.split(" ")) for text in told), fact


def parsed(page):
    """The page as a browser reads it, faults of its markup being errors."""
    import html5lib

    return html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(page)


def test_every_page_is_sound_markup_and_every_field_has_a_name_to_read(terrace):
    """A strict parser finds no fault; each field stands in a label, each page has one first heading."""
    visitor = terrace.answered()
    for address in EVERY:
        root = parsed(visitor.get(address).text)
        assert len(list(root.iter("h1"))) == 1, address
        labelled = {id(part) for label in root.iter("label") for part in label.iter()}
        loose = [
            part for tag in ("input", "select", "textarea") for part in root.iter(tag)
            if part.get("type") != "hidden" and id(part) not in labelled
        ]  # fmt: skip
        assert loose == [], address


def test_the_report_is_shown_under_a_policy_that_lets_only_its_own_style_in(terrace):
    """The report's style stands within it; its hash, and nothing looser, is let through."""
    answer = terrace.answered().get("/report")
    policy = answer.headers["content-security-policy"]
    style = re.search(r"<style>(.*?)</style>", answer.text, re.S)[1]
    assert f"'sha256-{b64encode(sha256(style.encode()).digest()).decode()}'" in policy
    assert "unsafe" not in policy
    assert "spot sheet" in answer.text


def test_a_trial_is_worked_out_in_the_background_and_changes_nothing(terrace):
    """The form leads to a page that waits, then to both fates side by side; the garden file stays as it was."""
    visitor = terrace.answered()
    before = terrace.garden.read_bytes()
    answer = visitor.send("/pot/pelargonium/what-if", {"protect": ["fleece"], "to": "", "litres": "12,5", "wall": ""})
    page = visitor.awaited(answer).text
    assert "As it stands" in page
    assert "under fleece" in page
    assert "in 12.5 litres" in page
    assert re.search(r"chance of harm this coming night goes from (over )?\d+\s% to", page)
    assert 'value="12.5"' in page  # to be tried on from there
    assert terrace.garden.read_bytes() == before


@pytest.mark.parametrize(
    "fields",
    [{}, {"protect": "candles"}, {"to": "attic"}, {"litres": "many"}, {"litres": "nan"}, {"litres": "1e9"},
     {"wall": "paper"}, {"to": "deck"}],
)  # fmt: skip
def test_a_trial_of_nothing_or_of_nonsense_is_told(begun, fields):
    """What cannot be tried is told at once, without working anything out; staying where it is is no change."""
    assert begun().visitor().send("/pot/pelargonium/what-if", fields).status_code == 422


def test_a_trial_that_cannot_be_is_told(terrace):
    """Where a protection is not open to a pot, the page says why."""
    visitor = terrace.answered()
    page = visitor.awaited(visitor.send("/pot/pelargonium/what-if", {"protect": ["wrap", "group", "raise"], "to": ""}))
    assert "is not open to this pot" in page.text or "As it stands" in page.text
    assert visitor.send("/pot/nobody/what-if", {"protect": "fleece"}).status_code == 404
    assert visitor.get("/errand/nobody").status_code == 404


def test_no_more_than_a_few_things_are_worked_out_at_once(begun):
    """Further errands are refused with a word, until one is done."""
    release = Event()
    errands = Errands()
    for _ in range(2):
        errands.begin("t", "/", release.wait, lambda *_: None)
    with pytest.raises(Busy):
        errands.begin("t", "/", release.wait, lambda *_: None)
    release.set()

    def is_taken() -> bool:
        try:
            errands.begin("t", "/", lambda: None, lambda *_: None)
        except Busy:
            return False
        return True

    until(is_taken)


def test_a_reading_is_put_down_as_the_command_does(terrace):
    """A decimal comma and a minus sign are understood; series and place are those that tuning knows."""
    visitor = terrace.visitor()
    fields = {"of": "pot:pelargonium", "place": "wall", "degrees": "−2,5", "at": "", "lowest": "yes"}
    assert visitor.send("/readings", fields).status_code == 303
    assert visitor.send("/readings", {**fields, "of": "spot:deck", "place": "core", "lowest": ""}).status_code == 303
    with open_logbook(terrace.task.logbook) as book:
        read = {(one.series, one.pot, one.spot, one.temperature_c) for one in book.readings()}
        assert all(str(probe_of(one.place)) == one.place for one in book.readings())
    assert read == {("pelargonium wall lowest", "pelargonium", None, -2.5), ("deck air", None, "deck", -2.5)}
    page = visitor.get("/readings").text
    assert "Coldest: -2.5" in page
    assert page.count("<svg") == 2
    for wrong in ({"degrees": "cold"}, {"degrees": "nan"}, {"degrees": "-90"}, {"of": "pot:nobody"}, {"of": ""},
                  {"place": "x"}, {"at": "2999-01-01T00:00"}, {"at": "soon"}):  # fmt: skip
        refused = visitor.send("/readings", {**fields, **wrong})
        assert refused.status_code == 422
        assert "--at" not in refused.text  # the terminal's words


def test_whoever_reads_fahrenheit_writes_fahrenheit(terrace):
    """With imperial units a reading of 23 is -5 degC."""
    terrace.task.settings.write_text("days: 1\nunits: imperial\n")
    visitor = terrace.visitor()
    assert "in °F" in visitor.get("/readings").text
    fields = {"of": "pot:pelargonium", "place": "core", "degrees": "23", "at": ""}
    assert visitor.send("/readings", fields).status_code == 303
    with open_logbook(terrace.task.logbook) as book:
        assert [one.temperature_c for one in book.readings()] == [pytest.approx(-5.0)]
    assert "°C" not in visitor.get("/readings").text


def test_what_was_learnt_is_shown_and_can_be_taken_back(terrace):
    """Values in force stand on the page in words with their spread; taken back, what held before holds again."""
    visitor = terrace.visitor()
    assert "Nothing yet" in visitor.get("/taught").text
    assert visitor.send("/taught/undo", {}).status_code == 503
    with open_logbook(terrace.task.logbook) as book:
        value = TunedValue("pot/pelargonium", "water_factor", 1.25, 0.1, "8 nights")
        book.store_tuned([value], now=datetime.now(UTC))
    page = visitor.get("/taught").text
    assert "water in the mix" in page
    assert "1.25 ± 0.10" in page
    assert visitor.send("/taught/undo", {}).status_code == 303
    assert "Nothing yet" in visitor.get("/taught").text


def test_learning_without_readings_is_told(terrace):
    """Where there is nothing to learn from, the page says so and what to do."""
    visitor = terrace.visitor()
    answer = visitor.awaited(visitor.send("/taught/learn", {}))
    assert "no readings to learn from" in answer.text


def test_what_the_air_teaches_is_in_force_at_once(terrace):
    """The sample's thermometer was made 1.6 K colder on clear calm nights; that is learnt and in force."""
    found = parse_export((SAMPLES / "thermometer.csv").read_bytes(), "Europe/Ljubljana").columns[0]
    with open_logbook(terrace.task.logbook) as book:
        book.add_readings(
            Reading("deck air", at, value, "air", spot="deck")
            for at, value in zip(found.times, found.temperature_c, strict=True)
        )
    visitor = terrace.visitor()
    answer = visitor.awaited(visitor.send("/taught/learn", {}))
    assert re.search(r"Air of \d+ nights: clear calm nights are -[12]\.\d", answer.text)
    assert "in force from now on" in answer.text
    assert "air of clear calm nights" in visitor.get("/taught").text
    assert visitor.get("/readings").text.count("<svg") == 1


def test_a_fit_is_told_with_its_nights_kept_back():
    """Errors before and after, the verdict, each night kept back in figures and as a picture."""
    night = NightRead(date(2026, 1, 10), -3.0, -4.5, -3.2, -4.0, -2.4)
    learnt = Learnt((), (FitTold("lemon", 8, 1.5, 0.2, None, (night,), ("alike",)),), 4)
    told = node("main", *learnt_body(learnt, load_garden(DEMO_GARDEN), Units.METRIC))
    text = " ".join(told.itertext())
    assert "from 1.5\xa0°C to 0.2\xa0°C" in text
    assert all(part in text for part in ("4 values", "So it is used", "Lemon by the door", "-4.5", "-3.2", "alike"))
    assert len(list(told.iter("svg"))) == 1


def test_channels_are_tried(terrace):
    """Without settings the terminal is the one channel, and it gets the test."""
    visitor = terrace.visitor()
    answer = visitor.awaited(visitor.send("/settings/test", {}))
    assert "taken" in answer.text
    assert terrace.written


def test_simple_settings_can_be_changed_and_the_rest_of_the_file_stays(terrace):
    """Only the lines that changed change; what cannot be is told; an older form is refused."""
    terrace.task.settings.write_text("days: 1  # quick\n# mine\nchannels:\n  - kind: terminal\n")
    visitor = terrace.visitor()
    form = {"people": "2", "lift_alone_kg": "12,5", "effort_eur_per_hour": "15", "days": "1", "units": "imperial"}
    old = visitor.field("/settings", "version")
    assert visitor.send("/settings", {**form, "people": "many", "version": old}).status_code == 422
    assert visitor.send("/settings", {**form, "version": old}).status_code == 303
    expected = ("days: 1  # quick\n# mine\nchannels:\n  - kind: terminal\n"
                "people: 2\nlift_alone_kg: 12.5\nunits: imperial\n")  # fmt: skip
    assert terrace.task.settings.read_text() == expected
    assert visitor.send("/settings", {**form, "people": "3", "version": old}).status_code == 422
    assert terrace.task.settings.read_text() == expected


def test_settings_that_no_file_holds_are_written_into_the_usual_one(begun):
    """The first change makes the file, and from then on the page goes by it."""
    terrace = begun()
    terrace.site.planner.task = replace(terrace.task, settings=None)
    visitor = terrace.visitor()
    form = {"people": "1", "days": "2", "units": "metric", "version": visitor.field("/settings", "version")}
    assert visitor.send("/settings", form).status_code == 303
    assert terrace.site.new_settings.read_text() == "days: 2\n"
    assert 'value="2"' in visitor.get("/settings").text


def test_a_pot_is_taken_out_only_after_a_question(terrace):
    """The question changes nothing; the answer takes out this pot alone; the last one cannot be taken out."""
    visitor = terrace.visitor()
    before = terrace.garden.read_text()
    version = visitor.field("/pot/pelargonium/remove", "version")
    assert terrace.garden.read_text() == before
    assert visitor.send("/pot/pelargonium/remove", {"version": "old"}).status_code == 422
    assert visitor.send("/pot/pelargonium/remove", {"version": version}).headers["location"] == "/pots"
    text = terrace.garden.read_text()
    assert "# mine since the spring" in text
    (left,) = load_garden(terrace.garden).pots
    assert (left.label, left.id) == ("Pink", "pelargonium-2")  # not the other one's id, nor its past
    version = visitor.field(f"/pot/{left.id}/remove", "version")
    assert visitor.send(f"/pot/{left.id}/remove", {"version": version}).status_code == 422
    assert terrace.garden.read_text() == text


def test_several_plants_can_stand_in_a_pot(terrace):
    """More plants make a list of one, fewer make one of a list; nothing else of the pot changes."""
    visitor = terrace.visitor()
    form = {"plant": "pelargonium", "material": "plastic", "volume_l": "3", "spot": "deck", "label": "Pink"}
    address = "/pot/pelargonium-2/change"
    more = {**form, "also": "thyme\r\n  ivy \r\n\r\n", "version": visitor.field(address, "version")}
    assert visitor.send(address, more).status_code == 303
    pot = load_garden(terrace.garden).pots[1]
    assert [planting.name for planting in pot.plantings] == ["pelargonium", "thyme", "ivy"]
    assert pot.id == "pelargonium-2"  # what the logbook knows of it stays with it
    assert ">thyme\nivy</textarea>" in visitor.get(address).text
    fewer = {**form, "also": "", "version": visitor.field(address, "version")}
    assert visitor.send(address, fewer).status_code == 303
    assert [planting.name for planting in load_garden(terrace.garden).pots[1].plantings] == ["pelargonium"]


def test_what_changed_since_yesterday_is_told(terrace):
    """Against a plan of the day before without jobs, every job of now is new."""
    visitor = terrace.answered()
    assert "No answer of yesterday is known" in visitor.get("/").text
    shown = terrace.site.planner.look().shown
    before = PlanBrief(**{**{f.name: getattr(brief_of(shown.plan), f.name) for f in fields_of(PlanBrief)}, "jobs": ()})
    terrace.site.planner._shown = replace(shown, before=before)
    page = visitor.get("/").text
    changed = page.split("Changed since yesterday")[1].split("</details>")[0]
    assert changed.count("New: ") == len({brief_of_job(job).what for job in shown.plan.jobs})


def test_a_faulty_garden_file_is_told(begun):
    """The file's faults with their lines, not a page of an older answer."""
    terrace = begun("site: {}\nspots: []\npots: []\n")
    answer = terrace.visitor().get("/")
    assert answer.status_code == 503
    assert "latitude" in answer.text


def test_what_takes_more_than_a_second_shows_that_it_goes_on(terrace):
    """A bar that moves, on a page that renews itself, until what was tried is there."""
    visitor, release, carry = terrace.answered(), Event(), terrace.site.carry

    def held(order):
        assert release.wait(60.0)
        return carry(order)

    object.__setattr__(terrace.site, "carry", held)  # of a record that is otherwise never changed
    begun = visitor.send("/pot/pelargonium/what-if", {"protect": "fleece"})
    page = visitor.get(begun.headers["location"]).text
    assert "<progress" in page and 'http-equiv="refresh"' in page
    release.set()
    assert "As it stands" in visitor.awaited(begun).text


def test_no_sheets_are_printed_while_newer_ones_are_worked_out(terrace, monkeypatch):
    """After a finished job the sheets that still ask for it are not shown; the page waits for the new ones."""
    visitor = terrace.answered()
    assert "<progress" not in visitor.get("/report").text
    state = terrace.site.planner.look()
    monkeypatch.setattr(terrace.site.planner, "look", lambda: replace(state, working=True))
    waits = visitor.get("/report").text
    assert "<progress" in waits and 'http-equiv="refresh"' in waits


def test_an_older_answer_is_not_shown_as_if_it_were_tonights(terrace):
    """Where the newer one could not be worked out, the nights come with the trouble, and no sheets are printed."""
    visitor = terrace.answered()
    assert visitor.get("/report").status_code == 200
    terrace.garden.write_text("site: {}\nspots: []\npots: []\n")
    until(lambda: (state := terrace.site.planner.look()).trouble is not None and not state.working)
    assert "latitude" in visitor.get("/nights").text
    sheets = visitor.get("/report")
    assert sheets.status_code == 503
    assert "latitude" in sheets.text


def test_the_first_visit_makes_a_garden_file(begun):
    """Place, two spots and a pot; a slip on the way is told; nothing is written before the end."""
    terrace = begun(None)
    visitor = terrace.visitor()
    assert visitor.get("/").headers["location"] == "/begin"
    mark = visitor.mark("/begin")

    def step(which, **fields):
        return visitor.send(f"/begin/{which}", fields, mark=mark)

    assert "Step 1 of 3" in visitor.get("/begin").text
    def note(answer):
        from html import unescape

        return unescape(re.search(r'name="note" value="([^"]*)"', answer.text)[1])

    assert step("place", **{**PLACE, "latitude": "north"}).status_code == 422
    answer = step("place", **PLACE)
    deck = {"name": "deck", "room": "", "wind": "partly", "sky": "open", "beneath": "decking", "house_wall": "no"}
    assert step("spot", note=note(answer), **{**deck, "name": ""}).status_code == 422
    assert "Step 2 of 3" in answer.text
    answer = step("spot", note=note(answer), next="spot", **deck)
    answer = step("spot", note=note(answer), next="pot", **{**deck, "name": "cellar", "room": "unheated"})
    assert "Step 3 of 3" in answer.text
    assert step("pot", note=note(answer), **{**POT, "plant": "lemmon"}).status_code == 422
    assert not terrace.garden.exists()
    assert step("pot", note=note(answer), **POT).status_code == 303
    garden = load_garden(terrace.garden)
    assert (garden.site.latitude_deg, [spot.name for spot in garden.spots]) == (46.05, ["deck", "cellar"])
    assert visitor.get("/begin").headers["location"] == "/"


@pytest.mark.parametrize(
    "note", ["", "[]", "null", "[[1],2]", '[{"name": {}}, [null]]', "[{}, [{}]]", "[" * 5000, "{", "\x00"]
)
def test_a_note_of_somebody_else_makes_no_garden(begun, note):
    """What travelled in the form is judged like everything else."""
    terrace = begun(None)
    visitor = terrace.visitor()
    answer = visitor.send("/begin/pot", {**POT, "note": note}, mark=visitor.mark("/begin"))
    assert answer.status_code == 422
    assert not terrace.garden.exists()
