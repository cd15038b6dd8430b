"""What was noted of a plant that cold has hurt, killed or spared, and what its limits learn from it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from frostguard.garden.model import Pot
from frostguard.garden.settings import Units
from frostguard.hardiness.own import Sighting
from frostguard.logbook.losses import Harm, Lesson
from frostguard.report import measures
from frostguard.report.explain import tissue_words
from frostguard.report.words import all_of, say


def loss_noted(pot: Pot, harm: Harm, night: date, lesson: Lesson, units: Units) -> str:
    """The answer to a loss: what is down now, what the night was like, and what limits go by from now on."""
    lines = [_noted(pot, harm, night)]
    if not lesson.sightings:
        return "\n".join(
            [
                *lines,
                say("No plan of that night is kept, so no limit can learn from it."),
                say(
                    "Do you know how cold the part in question came? Say it again with that: "
                    "frostguard loss {pot} --night {night} --coldest -8",
                    pot=pot.id,
                    night=night.isoformat(),
                ),
            ]
        )
    if lesson.air_c is not None:
        lines.append(
            say(
                "The last plan of that night had air of {air} at the coldest.",
                air=measures.coldest(lesson.air_c, units),
            )
        )
    lines += [say("Limits learn from it:"), *(f"  {line}" for line in sighting_lines(lesson.sightings, units))]
    return "\n".join(lines)


def sighting_lines(sightings: Iterable[Sighting], units: Units) -> list[str]:
    """A sentence for each thing seen."""
    return [_sighting(one, units) for one in sightings]


def _noted(pot: Pot, harm: Harm, night: date) -> str:
    values = {
        "pot": pot.label,
        "plants": all_of([planting.name for planting in pot.plantings]),
        "night": night.isoformat(),
    }
    match harm:
        case Harm.DEAD:
            return say("Noted: {pot} ({plants}) died in the night of {night}.", **values)
        case Harm.HURT:
            return say("Noted: {pot} ({plants}) was hurt in the night of {night}.", **values)
        case Harm.UNHURT:
            return say("Noted: {pot} ({plants}) came through the night of {night} unhurt.", **values)


def _sighting(one: Sighting, units: Units) -> str:
    values = {
        "night": one.night.isoformat(),
        "part": tissue_words(one.tissue),
        "coldest": measures.coldest(one.coldest_c, units),
        "doubt": measures.difference(one.error_k, units),
        "limit": measures.limit(one.limit_c, units),
    }
    if one.hurt:
        return say("{night}: {part} hurt at {coldest} (within {doubt}), by the table limit {limit} then.", **values)
    return say("{night}: {part} unhurt at {coldest} (within {doubt}), by the table limit {limit} then.", **values)
