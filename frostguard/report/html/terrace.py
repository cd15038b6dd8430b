"""The terrace by spot: every pot with its sign, how cold its tissue most in danger gets, and what is done for it."""

from __future__ import annotations

from collections.abc import Mapping
from xml.etree.ElementTree import Element

from frostguard.advice.plan import AdvicePlan, PotOutlook, TissueOutlook
from frostguard.garden.model import Garden
from frostguard.garden.settings import Units
from frostguard.hardiness.model import Tissue
from frostguard.report import measures
from frostguard.report.headline import left_at_risk
from frostguard.report.html.markup import node
from frostguard.report.html.sheets import job_sheet
from frostguard.report.jobs import pot_name
from frostguard.report.measures import Clock
from frostguard.report.words import say


def terrace_sections(
    plan: AdvicePlan, garden: Garden, clock: Clock, units: Units, anchors: Mapping[str, str]
) -> list[Element]:
    """A section for each spot with pots, in walking order; those with jobs are job sheets.

    `anchors` tells where on the page a pot's pictures are.
    """
    sections = []
    for spot in garden.spots:
        pots = [pot for pot in plan.pots if pot.spot == spot.name]
        busy = any(job.spot == spot.name for job in plan.jobs)
        if not pots:
            continue
        sections.append(
            node(
                "section",
                node("h3", spot.label),
                *(job_sheet(spot.name, plan, garden, clock, units) if busy else []),
                _pots(pots, plan, units, anchors),
                class_="spot sheet" if busy else "spot",
            )
        )
    return sections


def _pots(pots: list[PotOutlook], plan: AdvicePlan, units: Units, anchors: Mapping[str, str]) -> Element:
    return node(
        "ul", *(node("li", *_pot(pot, plan, units, anchors)) for pot in pots), class_="pots"
    )


def _pot(pot: PotOutlook, plan: AdvicePlan, units: Units, anchors: Mapping[str, str]) -> list[Element | str]:
    sign, state = pot_state(pot, plan)
    name = pot_name(pot.label, pot.count)
    worst = _most_in_danger(pot)
    return [
        node("span", sign, class_="sign", aria_hidden="true"),
        " ",
        node("a", name, href=f"#{anchors[pot.id]}") if pot.id in anchors else node("strong", name),
        " ",
        state + ("" if worst is None else " " + _how_cold(worst, units)),
    ]


def pot_state(pot: PotOutlook, plan: AdvicePlan) -> tuple[str, str]:
    """A sign whose shape tells the state, and the state in words."""
    has_jobs = any(job.pot == pot.id for job in plan.jobs)
    if any(one.pot.id == pot.id for one in left_at_risk(plan)):
        if has_jobs:
            return "◪", say("has a job, and stays at risk.")
        return "▲", say("stays at risk, without a job.")
    if has_jobs:
        return "■", say("has a job.")
    if pot.outer_roots_at_risk:
        return "△", say("may lose outer roots, which is not worth the work.")
    return "○", say("needs nothing.")


def signs_told() -> str:
    """What the signs mean."""
    return say(
        "■ has a job; ◪ has a job and stays at risk; ▲ stays at risk without a job; △ outer roots only; "
        "○ needs nothing."
    )


def _most_in_danger(pot: PotOutlook) -> TissueOutlook | None:
    return max(
        (one for one in pot.tissues if one.tissue is not Tissue.YOUNG_ROOT),
        default=None,
        key=lambda one: (round(one.chance, 3), -one.margin_c),
    )


def _how_cold(outlook: TissueOutlook, units: Units) -> str:
    values = {
        "coldest": measures.coldest(outlook.coldest_c, units),
        "limit": measures.limit(outlook.limit_c, units),
        "chance": measures.chance(outlook.chance),
    }
    match outlook.tissue:
        case Tissue.LEAF:
            return say("Left as it is, leaves come down to {coldest} and stand {limit}: {chance}.", **values)
        case Tissue.BUD:
            return say("Left as it is, buds come down to {coldest} and stand {limit}: {chance}.", **values)
        case Tissue.HEART:
            return say("Left as it is, its heart comes down to {coldest} and stands {limit}: {chance}.", **values)
        case Tissue.STEM:
            return say("Left as it is, its stem comes down to {coldest} and stands {limit}: {chance}.", **values)
        case Tissue.CHILL:
            return say("Left as it is, its air comes down to {coldest}; cold harms from {limit}: {chance}.", **values)
        case Tissue.WHOLE_ROOT | Tissue.YOUNG_ROOT:
            return say("Left as it is, its roots come down to {coldest} and stand {limit}: {chance}.", **values)
