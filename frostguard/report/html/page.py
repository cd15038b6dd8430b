"""The whole report as one self-contained HTML page: on screen everything, on paper a job sheet for each spot."""

from __future__ import annotations

from collections.abc import Iterable
from importlib.resources import files
from xml.etree.ElementTree import Element

from frostguard.advice.pictures import MANY, Pictures
from frostguard.advice.plan import AdvicePlan, Batch
from frostguard.garden.model import Garden
from frostguard.garden.settings import Units
from frostguard.report import measures
from frostguard.report.assumptions import assumption_sentences
from frostguard.report.cautions import caution_sentences, cautions_of
from frostguard.report.coming_nights import later_nights_unknown, remarks_on_night, spell_sentence
from frostguard.report.headline import headline, minutes_of
from frostguard.report.html.colours import DARK, LIGHT, variables
from frostguard.report.html.covers import covers_table
from frostguard.report.html.cut import CUT_STYLE
from frostguard.report.html.inside import how_to_read, pot_anchor, pot_section
from frostguard.report.html.markup import list_of, node, page_text
from frostguard.report.html.nights import nights_image, nights_told
from frostguard.report.html.terrace import signs_told, terrace_sections
from frostguard.report.jobs import grouped, in_batch, job_line, undo_lines
from frostguard.report.marks import origin
from frostguard.report.measures import Clock
from frostguard.report.notes import note_sentences
from frostguard.report.spots import spot_labels
from frostguard.report.terminal import (
    batch_heading,
    fetch_lines,
    left_at_risk_items,
    notes_to_tell,
    weather_told,
    what_it_saves,
    where_and_when,
)
from frostguard.report.words import all_of, say, say_count, unbroken

NO_OUTSIDE = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
"""What the page may load: nothing at all; its style stands within it."""


def render_page(plan: AdvicePlan, pictures: Pictures, garden: Garden, units: Units) -> str:
    """The report.

    Parameters
    ----------
    plan : AdvicePlan
        What to tell.
    pictures : Pictures
        What to draw, from `advice.pictures.pictures_of`.
    garden : Garden
        Spots in walking order, pots and what is in the shed.
    units : Units
        Units for reading.

    Returns
    -------
    str
        HTML without any outside address.
    """
    clock = Clock(plan.time_zone, plan.asked_at)
    label_of = spot_labels(garden)
    anchors = {picture.pot: pot_anchor(picture.row) for picture in pictures.pots}
    title = say("{site}: frost report for {day}", site=plan.site, day=measures.day_and_date(plan.night))
    body = [
        node(
            "header",
            node("h1", title),
            node("p", headline(plan, clock, units, label_of), class_="headline"),
            node("p", where_and_when(plan, clock), class_="when"),
        ),
        _jobs(plan, garden, clock, units),
        _nights(plan, pictures, units),
        node(
            "section",
            node("h2", say("The terrace, spot by spot")),
            node("p", signs_told(), class_="screen"),
            node("p", _ticks_told(), class_="screen"),
            *terrace_sections(plan, garden, clock, units, anchors),
        ),
        _inside(plan, pictures, garden, units),
        _section(say("Covers used and left"), covers_table(plan, garden, units), *_covers_told(garden)),
        _uncertain(plan, garden, units),
        _sources(plan, clock, units),
    ]
    return page_text(_document(title, [part for part in body if part is not None], sheets=bool(plan.jobs)))


def _ticks_told() -> str:
    return say("Ticks on this sheet are not kept: sign off what is done with 'frostguard jobs', or on the local page.")


def _document(title: str, body: list[Element], *, sheets: bool) -> Element:
    return node(
        "html",
        node(
            "head",
            node("meta", charset="utf-8"),
            node("meta", name="viewport", content="width=device-width, initial-scale=1"),
            node("meta", http_equiv="Content-Security-Policy", content=NO_OUTSIDE),
            node("meta", name="color-scheme", content="light dark"),
            node("title", title),
            node("style", style_sheet()),
        ),
        node("body", node("main", *body), class_=None if sheets else "no-sheets"),
        lang="en",
    )


def style_sheet() -> str:
    """The style with the colours filled in."""
    rules = files("frostguard.report.html").joinpath("page.css").read_text(encoding="utf-8")
    light, dark = variables(LIGHT), variables(DARK)
    return (
        f":root{{{light}}}@media (prefers-color-scheme:dark){{:root{{{dark}}}}}"
        f"{' '.join(rules.split())}{CUT_STYLE}@media print{{:root{{{light}}}}}"
    )


def _section(heading: str, *parts: Element | None) -> Element | None:
    """A section under a heading; None where nothing stands in it."""
    there = [part for part in parts if part is not None]
    return node("section", node("h2", heading), *there, class_="screen") if there else None


def _jobs(plan: AdvicePlan, garden: Garden, clock: Clock, units: Units) -> Element | None:
    parts: list[Element | None] = []
    for batch in Batch:
        jobs = in_batch(plan.jobs, batch)
        groups = grouped(jobs, across=batch is not Batch.TONIGHT)
        lines = [job_line(group, clock, units, spot_labels(garden)) for group in groups]
        if lines:
            parts.append(node("h3", batch_heading(batch, plan, minutes_of(jobs))))
            parts.append(node("ol", *(node("li", line) for line in lines), class_="told"))
    saving = what_it_saves(plan)
    parts.append(node("p", saving) if saving else None)
    parts += _listed(say("Fetch first"), fetch_lines(plan, garden, units))
    parts += _listed(say("Still at risk"), left_at_risk_items(plan, spot_labels(garden), most=None))
    parts += _listed(say("Undo"), undo_lines(plan.jobs, clock, units))
    parts += _listed(say("Take care"), caution_sentences(cautions_of(plan)))
    return _section(say("What to do"), *parts)


def _listed(heading: str, lines: Iterable[str]) -> list[Element | None]:
    lines = list(lines)
    return [node("h3", heading), list_of(lines)] if lines else []


def _nights(plan: AdvicePlan, pictures: Pictures, units: Units) -> Element | None:
    if not plan.nights:
        return None
    told, limits = nights_told(pictures.nights, plan, units)
    spell = spell_sentence(plan)
    heads = (say("Night of"), say("Coldest air"), say("One time in ten"), say("What it means"))
    rows = [
        node(
            "tr",
            node("th", unbroken(measures.day_and_date(night.date)), scope="row"),
            node("td", measures.coldest(night.coldest_air_c, units)),
            node("td", measures.coldest(night.coldest_air_c_p10, units)),
            node("td", ", ".join(remarks_on_night(night))),
        )
        for night in plan.nights
    ]
    coldest = min(plan.nights, key=lambda night: night.coldest_air_c)
    title = say(
        "Air of the coming nights; the coldest is {day} with {air}. The table below tells each night.",
        day=measures.day_and_date(coldest.date),
        air=measures.coldest(coldest.coldest_air_c, units),
    )
    return _section(
        say("The coming nights"),
        node(
            "figure",
            nights_image(pictures.nights, plan, units, title),
            node("figcaption", told, list_of(limits)),
        ),
        node("p", spell) if spell else None,
        node("p", later_nights_unknown()) if plan.weather.is_guess else None,
        node(
            "table",
            node("thead", node("tr", *(node("th", head, scope="col") for head in heads))),
            node("tbody", *rows),
        ),
    )


def _inside(plan: AdvicePlan, pictures: Pictures, garden: Garden, units: Units) -> Element | None:
    outlooks = {pot.id: pot for pot in plan.pots}
    sparse = len(pictures.pots) >= MANY
    sections = [
        pot_section(picture, garden.pots[picture.row], outlooks[picture.pot], units, sparse=sparse)
        for picture in pictures.pots
    ]
    if not sections:
        return None
    return _section(say("Inside the pots at risk"), how_to_read(pictures.pots, units), *sections)


def _covers_told(garden: Garden) -> list[Element]:
    if garden.stock.stated:
        return []
    return [node("p", say("The garden file does not say what is in the shed; usual covers were taken as at hand."))]


def _uncertain(plan: AdvicePlan, garden: Garden, units: Units) -> Element | None:
    members = say_count(
        "The weather is one single forecast, without its uncertainty.",
        "Everything was reckoned for {count} likely courses of the weather; chances are counted over them.",
        plan.weather.members,
    )
    general = [
        members,
        say(
            "Wind at the pot, water in the mix and what the sky takes are guesses by what the garden file says; each "
            "may move the coldest roots by a kelvin. A thermometer in the pot is the last word."
        ),
        *note_sentences(notes_to_tell(plan)),
    ]
    by_sentence: dict[str, list[str]] = {}
    for pot in garden.pots:
        for sentence in assumption_sentences(pot.assumed, units):
            by_sentence.setdefault(sentence, []).append(pot.label)
    assumed = [
        node("li", node("strong", _whose(labels, garden)), " ", sentence) for sentence, labels in by_sentence.items()
    ]
    folded = (
        node(
            "details",
            node("summary", say("Assumed, because the garden file does not say")),
            node("ul", *assumed),
        )
        if assumed
        else None
    )
    return _section(say("What is uncertain"), list_of(general), folded)


def _whose(labels: list[str], garden: Garden) -> str:
    if len(labels) == len(garden.pots) > 1:
        return say("All pots:")
    return say("{pots}:", pots=all_of(labels))


def _sources(plan: AdvicePlan, clock: Clock, units: Units) -> Element | None:
    limits = {
        (one.planting, one.stage, one.tissue): origin(one.mark, one.source, units)
        for pot in plan.pots
        for one in pot.tissues
    }
    by_plant: dict[str, list[str]] = {}
    for (plant, _, _), source in limits.items():
        by_plant.setdefault(plant, []).append(source)
    lines = [
        node("li", node("strong", f"{plant}:"), " ", " ".join(dict.fromkeys(sources)))
        for plant, sources in by_plant.items()
    ]
    folded = node("details", node("summary", say("Where the limits of the plants come from")), node("ul", *lines))
    age = say(
        "This page was made for {time} and does not change by itself.",
        time=f"{measures.day_and_date(clock.local(plan.asked_at).date())} {clock.local(plan.asked_at):%H:%M}",
    )
    told = (node("p", sentence) for sentence in [*weather_told(plan.weather, clock), age])
    return _section(say("Sources, age and credit"), *told, folded if lines else None)
