"""Pots and spots added, changed and taken out: every change goes into the garden file, or none of it."""

from __future__ import annotations

from collections.abc import Sequence

from starlette.requests import Request
from starlette.responses import Response

from frostguard.errors import FrostguardError
from frostguard.garden import writing
from frostguard.garden.yaml_edit import added, has_key, written
from frostguard.page import begin, pot_form
from frostguard.page.frame import Part, answer, button, faults_told, fields, form, hidden, sent
from frostguard.page.site import Site, must_be, nothing_there, pot_asked_for, sentences, to
from frostguard.report.html.markup import node
from frostguard.report.jobs import pot_name
from frostguard.report.words import say


def change(site: Site, request: Request) -> Response:
    """The form to change a pot."""
    return _change(site, request, None, ())


def _change(site: Site, request: Request, typed: dict[str, str] | None, faults: Sequence[str]) -> Response:
    before = writing.read(site.path)
    garden = before.garden
    pot = pot_asked_for(garden, request)
    if pot is None:
        return nothing_there(request)
    row = garden.pots.index(pot)
    there = written(before.text, "pots", row)
    body = pot_form.pot_form(
        request,
        f"/pot/{pot.id}/change",
        garden,
        pot_form.shown_of(there, site.settings().units) if typed is None else typed,
        before.version,
        site.settings().units,
        faults,
        plant_is_fixed=has_key(before.text, "pots", row, "plants") and "plants" not in there,
    )
    remove = node("a", say("Take this pot out of the garden file"), href=f"/pot/{pot.id}/remove", class_="step quiet")
    body.append(node("p", remove))
    return answer(say("Change {pot}", pot=pot.label), body, Part.POTS, status=422 if faults else 200)


def put_change(site: Site, request: Request) -> Response:
    """A pot as it was changed."""
    typed = pot_form.typed(fields(request))
    try:
        before = writing.read(site.path)
        pot = pot_asked_for(before.garden, request)
        if pot is None:
            return nothing_there(request)
        row = before.garden.pots.index(pot)
        must_be(before, sent(request).get("version", ""))
        units = site.settings().units
        changes = pot_form.differences(pot_form.shown_of(written(before.text, "pots", row), units), typed, units)
        text = writing.with_pot_changed(before, row, changes)
        after = writing.write(before.path, text, version=before.version)
    except FrostguardError as error:
        return _change(site, request, typed, sentences(error))
    return to(f"/pot/{after.pots[row].id}")


def remove(site: Site, request: Request) -> Response:
    """The question before a pot is taken out."""
    return _remove(site, request, ())


def _remove(site: Site, request: Request, faults: Sequence[str]) -> Response:
    before = writing.read(site.path)
    pot = pot_asked_for(before.garden, request)
    if pot is None:
        return nothing_there(request)
    told = say("{pot} stands in the garden file. Taken out, nothing is foretold for it any more; what was noted of it "
               "stays in the logbook.", pot=pot_name(pot.label, pot.count))  # fmt: skip
    body = [
        faults_told(faults),
        node("p", told),
        form(
            request,
            f"/pot/{pot.id}/remove",
            hidden("version", before.version),
            button(say("Take it out"), class_="main"),
        ),
        node("p", node("a", say("Leave it"), href=f"/pot/{pot.id}", class_="step quiet")),
    ]
    return answer(say("Take out {pot}", pot=pot.label), body, Part.POTS, status=422 if faults else 200)


def put_remove(site: Site, request: Request) -> Response:
    """A pot taken out."""
    try:
        before = writing.read(site.path)
        pot = pot_asked_for(before.garden, request)
        if pot is None:
            return nothing_there(request)
        must_be(before, sent(request).get("version", ""))
        text = writing.without_pot(before, before.garden.pots.index(pot))
        writing.write(before.path, text, version=before.version)
    except FrostguardError as error:
        return _remove(site, request, sentences(error))
    return to("/pots")


def new_pot(site: Site, request: Request) -> Response:
    """The form for one more pot."""
    return _new_pot(site, request, {}, ())


def _new_pot(site: Site, request: Request, values: dict[str, str], faults: Sequence[str]) -> Response:
    before = writing.read(site.path)
    body = pot_form.pot_form(request, "/new-pot", before.garden, values, before.version, site.settings().units, faults)
    return answer(say("A new pot"), body, Part.POTS, status=422 if faults else 200)


def put_new_pot(site: Site, request: Request) -> Response:
    """One more pot."""
    typed = pot_form.typed(fields(request))
    try:
        before = writing.read(site.path)
        must_be(before, sent(request).get("version", ""))
        text, _ = writing.with_pots(before, [pot_form.entry(typed, site.settings().units)])
        after = writing.write(before.path, text, version=before.version)
    except FrostguardError as error:
        return _new_pot(site, request, typed, sentences(error))
    return to(f"/pot/{after.pots[-1].id}")


def new_spot(site: Site, request: Request) -> Response:
    """The form for one more spot."""
    return _new_spot(site, request, {}, ())


def _new_spot(site: Site, request: Request, values: dict[str, str], faults: Sequence[str]) -> Response:
    version = writing.read(site.path).version
    body = [
        faults_told(faults),
        form(
            request,
            "/new-spot",
            hidden("version", version),
            *begin.spot_fields(values, site.settings().units),
            button(say("Write it into the garden file"), class_="main"),
            class_="fields",
        ),
    ]
    return answer(say("A new spot"), body, Part.POTS, status=422 if faults else 200)


def put_new_spot(site: Site, request: Request) -> Response:
    """One more spot."""
    spot = begin.typed_spot(sent(request), site.settings().units)
    try:
        before = writing.read(site.path)
        must_be(before, sent(request).get("version", ""))
        _ = before.garden
        text, _ = added(before.text, "spots", [spot or {"label": ""}])
        writing.write(before.path, text, version=before.version)
    except FrostguardError as error:
        return _new_spot(site, request, sent(request), sentences(error))
    return to("/pots")
