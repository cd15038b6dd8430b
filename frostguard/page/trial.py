"""What if: one pot tried under a cover, elsewhere, or in another pot, beside itself as it stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar
from xml.etree.ElementTree import Element

from starlette.requests import Request
from starlette.responses import Response

from frostguard.advice.explain import pot_called
from frostguard.advice.plan import Protection
from frostguard.advice.rounds import round_now, round_tonight
from frostguard.advice.what_if import TO_TRY, Changes, Comparison, compare
from frostguard.garden.catalogue import load_walls
from frostguard.garden.model import Garden, Pot
from frostguard.garden.reader import load_garden
from frostguard.garden.settings import Units
from frostguard.logbook.book import open_logbook
from frostguard.nightly import answer_by
from frostguard.page.frame import Part, answer, button, choice, faults_told, field, fields, form, table, tick_box
from frostguard.page.site import Site, nothing_there, pot_asked_for, troubled
from frostguard.page.work import Task, Trouble
from frostguard.report import amounts, measures
from frostguard.report.html.markup import Child, node
from frostguard.report.html.side_by_side import fates_picture
from frostguard.report.jobs import pot_name
from frostguard.report.what_if import fates_told, protected, verdict_sentences, what_is_tried
from frostguard.report.words import say

LEAST_LITRES, MOST_LITRES = 0.05, 2000.0


@dataclass(frozen=True, slots=True)
class Trial:
    """The order to try a change on a pot."""

    longest_s: ClassVar[float] = 300.0  # as a whole evening

    task: Task
    pot: str
    changes: Changes

    def __call__(self, now: datetime) -> Comparison:
        """Try it."""
        with open_logbook(self.task.logbook) as book:
            found = answer_by(book, self.task.query(days=1), now=self.task.moment(now))
        if found.unseen is not None:
            raise found.unseen
        evening, settings = found.reckoning.evening, found.settings
        turn = round_tonight(evening, settings) or round_now(evening, settings)
        return compare(evening, pot_called(found.garden, self.pot), self.changes, turn)


def try_out(site: Site, request: Request) -> Response:
    """A trial asked for by the form."""
    garden = load_garden(site.path)
    pot = pot_asked_for(garden, request)
    if pot is None:
        return nothing_there(request)
    name, tried = pot_name(pot.label, pot.count), typed_changes(fields(request), garden, pot, site.settings().units)
    title = say("{pot}: what if", pot=name)
    if isinstance(tried, str):
        body = [faults_told([tried]), trial_form(request, garden, pot, Changes(), site.settings().units)]
        return answer(title, body, Part.POTS, status=422)
    changes, units = tried, site.settings().units

    def told(again: Request, found: Comparison | Trouble) -> Response:
        if isinstance(found, Trouble):
            return troubled(title, found, Part.POTS)
        form_again = trial_form(again, garden, pot, changes, units)
        back = node("p", node("a", say("Back to {pot}", pot=name), href=f"/pot/{pot.id}", class_="step"))
        return answer(title, [*comparison_body(found, units), node("h2", say("Try another")), form_again, back],
                      Part.POTS)  # fmt: skip

    return site.begun(title, f"/pot/{pot.id}", Trial(site.planner.task, pot.id, changes), told)


def comparison_body(comparison: Comparison, units: Units) -> list[Child]:
    """What came of a trial: in a sentence, as a picture, in figures."""
    before, after = comparison.as_it_stands, comparison.changed
    what = what_is_tried(comparison.changes, units)
    told = say(
        "{what}: the chance of harm this coming night goes from {before} to {after}.",
        what=what[:1].upper() + what[1:],
        before=measures.per_cent(before.chance_of_damage),
        after=measures.per_cent(after.chance_of_damage),
    )
    title = say("{pot} hour by hour, as it stands and changed", pot=comparison.label)
    reading = say("A single line: as it stands. A double line: changed. Dash and dot: what the plant stands.")
    heads = (say("This coming night"), say("As it stands"), say("Changed"))
    return [
        node("p", told, class_="headline"),
        node("figure", fates_picture(comparison, units, title), node("figcaption", reading)),
        table(heads, fates_told(comparison, units), class_="fates"),
        *(node("p", sentence) for sentence in verdict_sentences(comparison, units)),
    ]


def trial_form(request: Request, garden: Garden, pot: Pot, tried: Changes, units: Units) -> Element:
    """What may be tried, filled with what was tried last."""
    spots = [("", say("stays where it is"))]
    spots += [(spot.name, spot.label) for spot in garden.spots if not spot.escape_route and spot.name != pot.spot]
    walls = [("", say("as it is")), *((key, wall.label) for key, wall in load_walls().items())]
    holds = {"litres": "" if tried.volume_l is None else f"{tried.volume_l:g}"}
    has = measures.liquid(pot.volume_l, units)
    return form(
        request,
        f"/pot/{pot.id}/what-if",
        node(
            "fieldset",
            node("legend", say("Protected tonight")),
            *(tick_box("protect", one.value, protected(one), ticked=one in tried.protections) for one in TO_TRY),
        ),
        choice("to", say("Carried tonight"), spots, tried.spot or ""),
        field("litres",
              amounts.label(units, say("In a pot of so many litres, all along"),
                            say("In a pot of so many gallons (US), all along")),
              amounts.to_write(holds, units)["litres"], kind="decimal", hint=say("it has about {amount}", amount=has)),
        choice("wall", say("In a pot made of, all along"), walls, tried.wall or ""),
        button(say("Try it"), class_="main"),
        node("p", say("Nothing is changed by trying; it takes some seconds."), class_="soft"),
        class_="fields",
    )  # fmt: skip


def typed_changes(given: Sequence[tuple[str, str]], garden: Garden, pot: Pot, units: Units) -> Changes | str:
    """What the form asks for, or what is wrong with it."""
    words = {one.value: one for one in TO_TRY}
    one_of_each = {name: value.strip() for name, value in given}
    kinds: list[Protection] = []
    for name, value in given:
        if name == "protect":
            if value not in words:
                return say("That cannot be tried.")
            kinds.append(words[value])
    spot, wall = one_of_each.get("to") or None, one_of_each.get("wall") or None
    if spot is not None and spot not in {one.name for one in garden.spots if not one.escape_route}:
        return say("No spot of the garden file is called that.")
    if wall is not None and wall not in load_walls():
        return say("No such pot is known.")
    litres: float | None = None
    if one_of_each.get("litres"):
        try:
            litres = float(amounts.to_keep({"litres": one_of_each["litres"].replace(",", ".")}, units)["litres"])
        except ValueError:
            litres = 0.0
        if not LEAST_LITRES <= litres <= MOST_LITRES:
            return say("What the pot holds is a number, such as 40.")
    changes = Changes(tuple(dict.fromkeys(kinds)), None if spot == pot.spot else spot, litres, wall)
    return changes if changes.any else say("Say what is to be different.")
