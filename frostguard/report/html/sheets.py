"""Job sheets, one for each spot: on screen a part of the page, on paper a page of their own, in big type.

What stands on a sheet is all that is needed at the spot: what to bring, each job with a box to tick, how heavy, how
many people, by when, what is lost otherwise, and the cautions that belong to these very jobs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from xml.etree.ElementTree import Element

from frostguard.advice.plan import AdvicePlan, Batch, Caution, Job, Protection
from frostguard.garden.model import Garden
from frostguard.garden.settings import Units
from frostguard.report import measures
from frostguard.report.cautions import caution_sentences
from frostguard.report.html.markup import list_of, node
from frostguard.report.jobs import JobGroup, grouped, in_batch, job_name, number_fact, what_is_lost
from frostguard.report.measures import Clock
from frostguard.report.pieces import piece_list, taken
from frostguard.report.spots import spot_labels, spot_name
from frostguard.report.terminal import in_the_shed, left_at_risk_items, where_and_when
from frostguard.report.words import all_of, say, say_count


def job_sheet(spot: str, plan: AdvicePlan, garden: Garden, clock: Clock, units: Units) -> list[Element | None]:
    """What belongs under a spot's heading: for which night, what to bring, the jobs, the cautions."""
    jobs = [job for job in plan.jobs if job.spot == spot]
    cautions = list(dict.fromkeys(caution for job in jobs for caution in job.cautions))
    return [
        node("p", where_and_when(plan, clock), class_="when"),
        _to_bring(jobs, garden, units),
        *(part for batch in Batch for part in _batch(batch, jobs, clock, units)),
        _left(spot, plan, garden),
        _care(cautions),
    ]


def _left(spot: str, plan: AdvicePlan, garden: Garden) -> Element | None:
    """On paper only: on screen each pot of the spot is told below."""
    here = replace(plan, pots=tuple(pot for pot in plan.pots if pot.spot == spot))
    lines = list_of(left_at_risk_items(here, spot_labels(garden), most=None))
    return None if lines is None else node("div", node("h4", say("Still at risk")), lines, class_="paper")


def _to_bring(jobs: Sequence[Job], garden: Garden, units: Units) -> Element | None:
    pieces = piece_list(jobs, in_the_shed(garden), units)
    if not pieces:
        return None
    return node("p", node("strong", say("Bring:")), " ", say("{pieces}.", pieces=all_of(pieces)), class_="kit")


def _batch(batch: Batch, jobs: Sequence[Job], clock: Clock, units: Units) -> list[Element]:
    groups = grouped(in_batch(jobs, batch), across=batch is not Batch.TONIGHT)
    if not groups:
        return []
    return [
        node("h4", _batch_heading(batch)),
        node("ol", *(_item(group, clock, units) for group in groups), class_="jobs"),
    ]


def _batch_heading(batch: Batch) -> str:
    match batch:
        case Batch.TONIGHT:
            return say("Tonight")
        case Batch.AHEAD:
            return say("By daylight today, for a later night")
        case Batch.BEFORE_SPELL:
            return say("For the cold spell, in one go")
        case Batch.TOMORROW:
            return say("In your next working hours")


def _item(group: JobGroup, clock: Clock, units: Units) -> Element:
    """One job with its box; the whole line can be ticked."""
    name = all_of([job_name(job) for job in group.jobs])
    facts = [
        clock.start_by(group.first.start_by),
        measures.minutes(sum(job.minutes for job in group.jobs)),
        *hands_and_weight(group, units),
        *filter(None, [number_fact(group.jobs)]),
    ]
    loss = what_is_lost(group)
    return node(
        "li",
        node(
            "label",
            node("input", type="checkbox"),
            node(
                "span",
                node("strong", name),
                " ",
                node("span", what_to_do(group, units), class_="what"),
                " ",
                node("span", " · ".join(facts), class_="facts"),
                " ",
                node("span", loss, class_="loss"),
            ),
        ),
    )


def hands_and_weight(group: JobGroup, units: Units) -> list[str]:
    """Whether it takes two, and how heavy it is."""
    facts = [say("two people")] if group.first.people > 1 else []
    weights = [job.weight_kg for job in group.jobs if job.weight_kg is not None]
    if weights:
        heaviest = measures.weight(max(weights), units)
        facts.append(
            say_count("about {weight}", "up to {weight} each", group.pots, weight=heaviest)
        )
    return facts


def what_to_do(group: JobGroup, units: Units) -> str:
    """The job at its spot, as a sentence of its own, and the pieces that it takes."""
    return " ".join(part for part in (_what(group, units), taken(group.jobs, units)) if part)


def _what(group: JobGroup, units: Units) -> str:
    job = group.first
    match job.protection:
        case Protection.FLEECE:
            return say("Cover with fleece down to the pot rim.")
        case Protection.DOUBLE_FLEECE:
            return say("Cover with two layers of fleece down to the pot rim.")
        case Protection.WRAP:
            return say_count("Wrap the pot all round.", "Wrap the pots all round.", group.pots)
        case Protection.MOVE:
            target = "" if job.to_spot is None else spot_name(job.to_spot)
            if Caution.OVER_A_DROP in job.cautions:
                return say("Lift off and carry to the {spot}.", spot=target)
            if Caution.HEAVY in job.cautions:
                return say("Slide or wheel to the {spot}.", spot=target)
            return say("Carry to the {spot}.", spot=target)
        case Protection.RAISE:
            return say("Raise off the floor, on feet or a board.")
        case Protection.GROUP:
            return say_count("Push tight against its neighbours.", "Push tight together.", group.pots)
        case Protection.MULCH:
            return say("Cover the mix with mulch.")
        case Protection.PLUNGE:
            return say("Stand in a crate and fill round with bark, leaves or straw.")
        case Protection.FILL_GAPS:
            return say("Fill the gaps with leaves, straw or bark.")
        case Protection.SLEEVE:
            return say("Put a sleeve round the stem, from the mix up over the graft.")
        case Protection.TIE_CROWN:
            return say("Tie the leaves up round the heart.")
        case Protection.WATER:
            return _water(group, units)
        case Protection.SECURE:
            if Caution.OVER_A_DROP in job.cautions:
                return say("Take down or tie fast against the gale.")
            return say("Lay down or tie against the gale.")
        case Protection.SHADE:
            return say("Shade from the morning sun until thawed.")
        case Protection.TIE_UP:
            return say("Tie up loosely before the wet snow.")
        case Protection.UNCOVER:
            return say("Take the cover off before the gale.")


def _water(group: JobGroup, units: Units) -> str:
    litres = group.first.litres
    if litres is None:
        return say("Water if the mix feels dry.")
    return say_count(
        "Water with {amount} if the mix feels dry.",
        "Water with {amount} each if the mix feels dry.",
        group.pots,
        amount=measures.liquid(litres / group.first.count, units),
    )


def _care(cautions: Sequence[Caution]) -> Element | None:
    if not cautions:
        return None
    lines = list_of(caution_sentences(cautions))
    return node("div", node("h4", say("Take care")), lines, class_="care")
