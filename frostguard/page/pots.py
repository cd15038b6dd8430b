"""The nights ahead, all pots by spot, and each pot: its cut and curves, its limits with their sources."""

from __future__ import annotations

from xml.etree.ElementTree import Element

from starlette.requests import Request
from starlette.responses import Response

from frostguard.advice.plan import PotOutlook, TissueOutlook
from frostguard.advice.what_if import Changes
from frostguard.garden.model import Garden, Pot
from frostguard.garden.reader import load_garden
from frostguard.garden.settings import Units
from frostguard.page.frame import Part, answer, table, trouble_told
from frostguard.page.site import RENEWED_S, Site, nothing_there, pot_asked_for, waiting
from frostguard.page.tonight import on_its_way
from frostguard.page.trial import trial_form
from frostguard.page.work import Shown
from frostguard.report import measures
from frostguard.report.assumptions import assumption_sentences
from frostguard.report.coming_nights import later_nights_unknown, remarks_on_night, spell_sentence
from frostguard.report.explain import tissue_words
from frostguard.report.html.inside import how_to_read, pot_section
from frostguard.report.html.markup import Child, list_of, node
from frostguard.report.html.nights import nights_image, nights_told
from frostguard.report.html.terrace import pot_state, signs_told
from frostguard.report.jobs import grouped, job_line, pot_name
from frostguard.report.marks import origin
from frostguard.report.measures import Clock
from frostguard.report.spots import spot_labels
from frostguard.report.terminal import weather_told
from frostguard.report.words import say, unbroken


def nights(site: Site, _request: Request) -> Response:
    """The week."""
    state = site.planner.look()
    if state.shown is None:
        return waiting(say("Nights ahead"), state, Part.NIGHTS)
    troubles = (trouble_told(state.trouble), trouble_told(state.shown.unseen))
    body = [on_its_way(state, "/nights"), *troubles, *nights_body(state.shown)]
    return answer(say("Nights ahead"), body, Part.NIGHTS)


def all_pots(site: Site, _request: Request) -> Response:
    """All pots."""
    garden = load_garden(site.path)
    return answer(say("Pots"), pots_body(garden, site.planner.look().shown), Part.POTS)


def one_pot(site: Site, request: Request) -> Response:
    """One pot."""
    garden = load_garden(site.path)
    pot = pot_asked_for(garden, request)
    if pot is None:
        return nothing_there(request)
    state = site.planner.look()
    told = pot_body(request, garden, pot, state.shown, site.settings().units)
    body: list[Child] = [on_its_way(state, f"/pot/{pot.id}"), trouble_told(state.trouble), *told]
    missing = state.shown is None or pot.id not in {one.id for one in state.shown.plan.pots}  # as when it is new
    return answer(pot.label, body, Part.POTS, renew_s=RENEWED_S if missing and state.working else None)


def nights_body(shown: Shown) -> list[Child]:
    """The week: a picture, and each night in words."""
    plan, units = shown.plan, shown.settings.units
    clock = Clock(plan.time_zone, plan.asked_at)
    rows = [
        (
            unbroken(measures.day_and_date(night.date)),
            measures.coldest(night.coldest_air_c, units),
            measures.coldest(night.coldest_air_c_p10, units),
            ", ".join(remarks_on_night(night)),
        )
        for night in plan.nights
    ]
    title = say("Air of the coming nights; the table below tells each night.")
    told, limits = nights_told(shown.pictures.nights, plan, units)
    spell = spell_sentence(plan)
    image = nights_image(shown.pictures.nights, plan, units, title)
    picture = node("figure", image, node("figcaption", told, list_of(limits)))
    return [
        picture if plan.nights else None,
        node("p", spell) if spell else None,
        node("p", later_nights_unknown()) if plan.weather.is_guess else None,
        table((say("Night of"), say("Coldest air"), say("One time in ten"), say("What it means")), rows),
        *(node("p", line, class_="soft") for line in weather_told(plan.weather, clock)),
    ]


def pots_body(garden: Garden, shown: Shown | None) -> list[Child]:
    """All pots in walking order; with their state where an answer is there."""
    outlooks = {} if shown is None else {pot.id: pot for pot in shown.plan.pots}
    parts: list[Child] = [
        node("p", node("a", say("Add a pot"), href="/new-pot", class_="step"),
             node("a", say("Add a spot"), href="/new-spot", class_="step")),
        node("p", signs_told(), class_="soft") if outlooks else None,
    ]  # fmt: skip
    for spot in garden.spots:
        here = [pot for pot in garden.pots if pot.spot == spot.name]
        if here:
            parts.append(node("h2", spot.label))
            parts.append(node("ul", *(_line(pot, outlooks.get(pot.id), shown) for pot in here), class_="places"))
    return parts


def _line(pot: Pot, outlook: PotOutlook | None, shown: Shown | None) -> Child:
    name = pot_name(pot.label, pot.count)
    if outlook is None or shown is None:
        return node("li", node("a", name, href=f"/pot/{pot.id}"))
    sign, state = pot_state(outlook, shown.plan)
    link = node("a", node("span", sign, class_="sign", aria_hidden="true"), node("span", name), href=f"/pot/{pot.id}")
    return node("li", link, node("span", state, class_="soft"))


def pot_body(request: Request, garden: Garden, pot: Pot, shown: Shown | None, units: Units) -> list[Child]:
    """One pot."""
    change = node("p", node("a", say("Change this pot"), href=f"/pot/{pot.id}/change", class_="step"))
    assumed = assumption_sentences(pot.assumed, units)
    last: list[Child] = []
    if assumed:
        last = [node("details", node("summary", say("Assumed, since the garden file does not say")), list_of(assumed))]
    outlook = None if shown is None else next((one for one in shown.plan.pots if one.id == pot.id), None)
    if shown is None or outlook is None:
        return [change, node("p", say("Nothing is known of this pot's night yet.")), *last]
    plan = shown.plan
    clock = Clock(plan.time_zone, plan.asked_at)
    sign, state = pot_state(outlook, plan)
    jobs = [job for job in plan.jobs if job.pot == pot.id]
    lines = [job_line(group, clock, units, spot_labels(shown.garden)) for group in grouped(jobs)]
    picture = next((one for one in shown.pictures.pots if one.pot == pot.id), None)
    told: list[Child] = []
    if picture is not None:
        told = [pot_section(picture, pot, outlook, units, sparse=False),
                node("details", node("summary", say("How to read the pictures")), how_to_read([picture], units))]
    return [
        node("p", f"{sign} {pot_name(pot.label, pot.count)} {state}", class_="headline"),
        list_of(lines),
        *told,
        node("h2", say("What it stands, and how cold it gets")),
        node("ul", *(_limit(one, units) for one in outlook.tissues), class_="stands"),
        node("h2", say("What if")),
        node("details", node("summary", say("Try something on this pot")),
             trial_form(request, garden, pot, Changes(), units), class_="try"),
        node("h2", say("What the garden file says")),
        change,
        *last,
    ]  # fmt: skip


def _limit(one: TissueOutlook, units: Units) -> Element:
    """A part of a plant: how cold it gets, what it stands, what that comes to, and where the limit comes from."""
    facts = (
        (say("gets"), measures.coldest(one.coldest_c, units)),
        (say("stands"), measures.limit(one.limit_c, units)),
        (say("harm"), measures.chance(one.chance)),
    )
    return node(
        "li",
        node("h3", say("{plant}, {tissue}", plant=one.planting, tissue=tissue_words(one.tissue))),
        node("dl", *(node("div", node("dt", name), node("dd", value)) for name, value in facts)),
        node("p", origin(one.mark, one.source, units), class_="soft"),
    )
