"""The pages: jobs said to be done, pots written into the file, the first visit."""

from __future__ import annotations

import re

import pytest

from frostguard.garden.reader import load_garden
from frostguard.logbook.book import open_logbook
from frostguard.logbook.jobs import JobState, in_force, listed

PLACE = {"name": "Roof", "latitude": "46,05", "longitude": "14.51", "elevation_m": "298",
         "time_zone": "Europe/Ljubljana", "height_above_ground_m": "14", "surroundings": "city"}  # fmt: skip
POT = {"plant": "lemon", "material": "terracotta", "volume_l": "2,5", "spot": "deck"}


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
    """Signs that mean something in a page are letters like others."""
    page = terrace.answered().get("/").text
    assert "<b>Red</b>" not in page
    assert "&lt;b&gt;Red&lt;/b&gt; &amp; \"white\"" in page


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
    assert "Take back" in visitor.get("/").text
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
    for address in ("/nights", "/pots", "/pot/pelargonium", "/pot/pelargonium/change", "/new-pot", "/new-spot",
                    "/book", "/settings"):  # fmt: skip
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


def test_a_reading_is_put_down(terrace):
    """A decimal comma and a minus sign are understood; nonsense is told."""
    visitor = terrace.visitor()
    fields = {"pot": "pelargonium", "place": "outer", "temperature_c": "−2,5", "at": ""}
    assert visitor.send("/readings", fields).status_code == 303
    assert "-2.5" in visitor.get("/book").text
    for wrong in ({"temperature_c": "cold"}, {"temperature_c": "nan"}, {"pot": "nobody"}, {"place": "x"},
                  {"at": "2999-01-01T00:00"}, {"at": "soon"}):  # fmt: skip
        assert visitor.send("/readings", {**fields, **wrong}).status_code == 422


def test_channels_are_tried(terrace):
    """Without settings the terminal is the one channel, and it gets the test."""
    answer = terrace.visitor().send("/settings/test", {})
    assert "taken" in answer.text
    assert terrace.written


def test_a_faulty_garden_file_is_told(begun):
    """The file's faults with their lines, not a page of an older answer."""
    terrace = begun("site: {}\nspots: []\npots: []\n")
    answer = terrace.visitor().get("/")
    assert answer.status_code == 500
    assert "latitude" in answer.text


def test_the_first_visit_makes_a_garden_file(begun):
    """Place, two spots and a pot; a slip on the way is told; nothing is written before the end."""
    terrace = begun(None)
    visitor = terrace.visitor()
    assert visitor.get("/").headers["location"] == "/begin"
    mark = visitor.mark("/begin")

    def step(which, **fields):
        return visitor.send(f"/begin/{which}", fields, mark=mark)

    def note(answer):
        from html import unescape

        return unescape(re.search(r'name="note" value="([^"]*)"', answer.text)[1])

    assert step("place", **{**PLACE, "latitude": "north"}).status_code == 422
    answer = step("place", **PLACE)
    deck = {"name": "deck", "room": "", "wind": "partly", "sky": "open", "beneath": "decking", "house_wall": "no"}
    assert step("spot", note=note(answer), **{**deck, "name": ""}).status_code == 422
    answer = step("spot", note=note(answer), next="spot", **deck)
    answer = step("spot", note=note(answer), next="pot", **{**deck, "name": "cellar", "room": "unheated"})
    assert step("pot", note=note(answer), **{**POT, "plant": "lemmon"}).status_code == 422
    assert not terrace.garden.exists()
    assert step("pot", note=note(answer), **POT).status_code == 303
    garden = load_garden(terrace.garden)
    assert (garden.site.latitude_deg, [spot.name for spot in garden.spots]) == (46.05, ["deck", "cellar"])
    assert visitor.get("/begin").headers["location"] == "/"


@pytest.mark.parametrize("note", ["", "[]", "null", "[[1],2]", '[{"name": {}}, [null]]', "[" * 5000, "{", "\x00"])
def test_a_note_of_somebody_else_makes_no_garden(begun, note):
    """What travelled in the form is judged like everything else."""
    terrace = begun(None)
    visitor = terrace.visitor()
    answer = visitor.send("/begin/pot", {**POT, "note": note}, mark=visitor.mark("/begin"))
    assert answer.status_code == 422
    assert not terrace.garden.exists()
