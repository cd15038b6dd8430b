"""Why the plan says what it says about one pot. Here, and only here, the words of physics are used."""

from __future__ import annotations

from collections.abc import Iterable
from math import isnan

from frostguard.advice.explanation import CurveRow, Explanation, HeatBill, Sensitivity
from frostguard.advice.plan import AdvicePlan, PotOutlook, TissueOutlook
from frostguard.garden.model import Garden
from frostguard.garden.settings import Units
from frostguard.hardiness.model import Tissue
from frostguard.report import measures
from frostguard.report.assumptions import assumption_sentences
from frostguard.report.jobs import grouped, job_line
from frostguard.report.layout import padded, page, paragraph, right_aligned, section
from frostguard.report.marks import origin
from frostguard.report.measures import Clock
from frostguard.report.reckoned_words import reckoned_sentences
from frostguard.report.spots import spot_labels
from frostguard.report.terminal import why_no_job
from frostguard.report.words import harmless, say, say_count

_TIME_WIDTH = 16
_COLUMN_WIDTH = 7


def render_explanation(
    plan: AdvicePlan, explanation: Explanation, units: Units, *, garden: Garden | None = None
) -> str:
    """The explanation as lines of at most 80 columns.

    Parameters
    ----------
    plan : AdvicePlan
        The plan that is explained; its jobs for this pot come first.
    explanation : Explanation
        Curves, heat, sensitivities, limits and assumptions of the pot.
    units : Units
        Units for reading.
    garden : Garden, optional
        Where the labels of the spots come from.
    """
    clock = Clock(plan.time_zone, plan.asked_at)
    blocks = [
        _heading(plan, explanation),
        _jobs(plan, explanation, clock, units, garden),
        _limits(explanation.limits, units),
        _curves(explanation.rows, clock, units),
        _heat(explanation.heat, units),
        _sensitivities(explanation.sensitivities, units),
        section(say("What the pot was reckoned with"), reckoned_sentences(explanation.reckoned, units)),
        _method(plan, explanation, units),
        section(
            say("Assumed, because the garden file does not say"), assumption_sentences(explanation.assumed, units)
        ),
    ]
    return page(blocks)


def _heading(plan: AdvicePlan, explanation: Explanation) -> list[str]:
    lines = paragraph(say("{pot}: how the answer comes about.", pot=explanation.label))
    outlook = _outlook(plan, explanation)
    if outlook is None:
        return lines
    return lines + paragraph(
        say(
            "{plant}; chance of damage in the coming night, outer roots apart, left as it is: {chance}.",
            plant=outlook.plant,
            chance=measures.chance(outlook.chance_of_damage),
        )
    )


def _outlook(plan: AdvicePlan, explanation: Explanation) -> PotOutlook | None:
    return next((pot for pot in plan.pots if pot.id == explanation.pot), None)


def _jobs(
    plan: AdvicePlan, explanation: Explanation, clock: Clock, units: Units, garden: Garden | None
) -> list[str]:
    jobs = [job for job in plan.jobs if job.pot == explanation.pot]
    if not jobs:
        outlook = _outlook(plan, explanation)
        if outlook is None or outlook.no_job is None:
            return paragraph(say("No job for this pot."))
        reason = why_no_job(outlook.no_job, off_the_floor=outlook.off_the_floor)
        return paragraph(say("No job for this pot: {reason}", reason=reason))
    lines = [job_line(group, clock, units, spot_labels(garden)) for group in grouped(jobs)]
    return section(say("Jobs for this pot"), lines)


def _limits(limits: Iterable[TissueOutlook], units: Units) -> list[str]:
    return section(say("Limits today, and the coldest expected"), [_limit(one, units) for one in limits])


def _limit(outlook: TissueOutlook, units: Units) -> str:
    sentences = [
        say(
            "{plant}, {tissue}: limit {limit}, coldest {coldest} (one time in ten {low} or colder), "
            "chance of damage: {chance}.",
            plant=outlook.planting,
            tissue=tissue_words(outlook.tissue),
            limit=measures.limit(outlook.limit_c, units),
            coldest=measures.coldest(outlook.coldest_c, units),
            low=measures.coldest(outlook.coldest_c_p10, units),
            chance=measures.chance(outlook.chance),
        ),
        _basis(outlook, units),
        say("Stage: {stage}.", stage=outlook.stage.replace("_", " ")) if outlook.stage else "",
        origin(outlook.mark, outlook.source, units),
        say("That moved it by {change}.", change=measures.temperature_change(outlook.learned_k, units))
        if outlook.learned_k
        else "",
    ]
    return " ".join(sentence for sentence in sentences if sentence)


def _basis(outlook: TissueOutlook, units: Units) -> str:
    """Whose temperature the limit of leaves and buds is; roots and chilling go without saying."""
    if outlook.screen_air_limit_c is not None and outlook.tissue is Tissue.STEM:
        return say(
            "That is {air} at a weather station on a clear, calm night, as such limits are told; a stem is a "
            "little colder then.",
            air=measures.limit(outlook.screen_air_limit_c, units),
        )
    if outlook.screen_air_limit_c is not None:
        return say(
            "That is {air} at a weather station on a clear, calm night, as such limits are told; the leaf is "
            "colder then.",
            air=measures.limit(outlook.screen_air_limit_c, units),
        )
    if outlook.tissue in (Tissue.LEAF, Tissue.BUD):
        return say("The source tells it for the leaf or bud itself, not for the air.")
    return ""


def tissue_words(tissue: Tissue) -> str:
    """The part of a plant, as the long answer calls it."""
    match tissue:
        case Tissue.LEAF:
            return say("leaves or shoots")
        case Tissue.BUD:
            return say("buds and flowers")
        case Tissue.HEART:
            return say("what it would grow again from")
        case Tissue.STEM:
            return say("bare stem and graft")
        case Tissue.YOUNG_ROOT:
            return say("young roots at the wall")
        case Tissue.WHOLE_ROOT:
            return say("whole root system")
        case Tissue.CHILL:
            return say("chilling above frost")


def _curves(rows: Iterable[CurveRow], clock: Clock, units: Units) -> list[str]:
    lines = [_curve_line(row, clock, units) for row in rows]
    if not lines:
        return []
    wind_unit = "mph" if units is Units.IMPERIAL else "m/s"
    heading = say(
        "Every third hour, in the course of the weather that is in the middle by its outer roots ({temperature}; "
        "wind at the pot in {wind}). Top, middle, bottom: the outer centimetre of the root ball, a ring at each "
        "height, on its coldest side. Mean: over the whole root ball. Core: the middle of it. Frozen: how much of "
        "the water that can freeze.",
        temperature=measures.degree_unit(units),
        wind=wind_unit,
    )
    columns = (
        say("air"),
        say("wind"),
        say("top"),
        say("middle"),
        say("bottom"),
        say("mean"),
        say("core"),
        say("frozen"),
        say("leaf"),
    )
    titles = "".join(right_aligned(title, _COLUMN_WIDTH) for title in columns)
    return [*paragraph(heading), padded(say("time"), _TIME_WIDTH) + titles, *lines]


def _curve_line(row: CurveRow, clock: Clock, units: Units) -> str:
    local = clock.local(row.time)
    frozen = "-" if isnan(row.frozen_fraction) else measures.per_cent_or_none(row.frozen_fraction)
    cells = (
        measures.coldest_number(row.air_c, units),
        measures.wind(row.wind_at_pot_m_s, units),
        measures.coldest_number(row.top_ring_c, units),
        measures.coldest_number(row.middle_ring_c, units),
        measures.coldest_number(row.bottom_ring_c, units),
        measures.coldest_number(row.mean_c, units),
        measures.coldest_number(row.core_c, units),
        frozen,
        measures.coldest_number(row.leaf_c, units),
    )
    time = padded(f"{measures.day_and_date(local.date())} {local:%H:%M}", _TIME_WIDTH)
    return time + "".join(right_aligned(cell, _COLUMN_WIDTH) for cell in cells)


def _heat(heat: HeatBill, units: Units) -> list[str]:
    rows = (
        (say("through the side"), heat.side_kj),
        (say("through the top"), heat.top_kj),
        (say("through the base"), heat.base_kj),
        (say("together"), heat.side_kj + heat.top_kj + heat.base_kj),
        (say("of side and top, by moving air (convection)"), heat.convection_kj),
        (say("of side and top, radiated as heat (long-wave)"), heat.longwave_kj),
        (say("of side and top, from the sun"), heat.sun_kj),
        (say("of side and top, by what evaporates, or as dew"), heat.evaporation_kj),
    )
    width = max(len(name) for name, _ in rows)
    unit = "BTU" if units is Units.IMPERIAL else "kJ"
    return [
        *paragraph(
            say("Heat into the root ball, sunset to sunrise of the coldest night, in {unit} (minus: lost)", unit=unit)
        ),
        *(f"  {padded(name, width)} {right_aligned(measures.energy(kj, units), 9)}" for name, kj in rows),
    ]


def _sensitivities(sensitivities: Iterable[Sensitivity], units: Units) -> list[str]:
    items = [
        say(
            "{what}: {change}",
            what=_sensitivity(one.what),
            change=measures.temperature_change(one.coldest_ring_change_k, units),
        )
        for one in sensitivities
    ]
    return section(say("How much warmer or colder the coldest roots would be with one thing changed"), items)


def _sensitivity(code: str) -> str:
    sentences = {
        "wall foam": say("a foam wall in place of this one"),
        "volume +50 %": say("half as much mix again"),
        "wind half": say("half the wind"),
        "water +0.1": say("a tenth of the volume more water in the mix"),
    }
    return sentences.get(code, harmless(code))


def _method(plan: AdvicePlan, explanation: Explanation, units: Units) -> list[str]:
    change = measures.difference(explanation.surface_second_pass_k, units)
    text = say(
        "How fast a pot gives off heat hangs on how warm its outside is, which is estimated first; reckoned again "
        "with the simulated warmth, the coldest that its outer roots get in a night moves by at most {change}.",
        change=change,
    )
    members = say_count(
        "The weather is one single forecast.",
        "Of {count} likely courses of the weather, half bring colder values than the coldest told with the limits, "
        "half warmer ones.",
        plan.weather.members,
    )
    return paragraph(f"{text} {members}")
