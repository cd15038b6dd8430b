"""Standing warnings as short sentences.

They follow common practice for work on roofs and balconies. None of them says that something is safe:
what a floor bears, and what the house allows, is for its manager, an engineer and the local rules.
"""

from __future__ import annotations

from collections.abc import Iterable

from frostguard.advice.plan import AdvicePlan, Caution
from frostguard.report.words import say


def cautions_of(plan: AdvicePlan) -> list[Caution]:
    """The cautions of the plan and of its jobs, each once, in the plan's order."""
    of_jobs = (caution for job in plan.jobs for caution in job.cautions)
    return list(dict.fromkeys((*plan.cautions, *of_jobs)))


def caution_sentences(cautions: Iterable[Caution]) -> list[str]:
    """One short text for each."""
    return [caution_sentence(caution) for caution in cautions]


def caution_sentence(caution: Caution) -> str:
    """The text of one caution."""
    match caution:
        case Caution.HEAVY:
            return say(
                "Heavy pots: try one corner first, then slide or wheel it. What does not come easily "
                "stays where it is; no plant is worth a back."
            )
        case Caution.TWO_PEOPLE:
            return say("Where it says two people, wait for the second one or leave the pot.")
        case Caution.ICE:
            return say(
                "Wet floors freeze: soles that grip, grit (no salt, it harms pots and plants), and carry "
                "nothing across ice."
            )
        case Caution.GALE_HOODS:
            return say(
                "Wind turns hoods, film and boards into sails over the street. Clip them to the pot, use "
                "no loose bricks, and take off what might fly."
            )
        case Caution.FALLING_POTS:
            return say(
                "Nothing on the parapet or outside the rail tonight. Stay off ladders, and tie to a "
                "railing only what the house has agreed to."
            )
        case Caution.OVER_A_DROP:
            return say(
                "Boxes on a railing and hanging pots are lifted off inwards: both hands on the pot, both feet on the "
                "floor, nobody underneath, no ladder. What you cannot lift surely stays where it is."
            )
        case Caution.FLOOR_LOAD:
            return say(
                "Wet pots close together, and snow on them, load one patch of floor. What it bears cannot "
                "be told from here: ask the building manager or an engineer before you group or move "
                "many. Local rules come first."
            )
        case Caution.ESCAPE_ROUTE:
            return say("Keep stairs, landings and doors clear: somebody may need them in a fire.")
        case Caution.NO_FLAMES:
            return say(
                "No candle, heater, charcoal or string of lamps under or beside covers: fleece burns, and "
                "fumes kill in a closed room. Keep flues, vents and sockets uncovered."
            )
        case Caution.PLASTIC_OFF_LEAVES:
            return say(
                "Film goes round the pot and not over the plant: leaves freeze where it touches them, and cook under "
                "it in the sun."
            )
        case Caution.DARK_WORK:
            return say(
                "After dark only light work, on a dry and lit floor, with a head-torch and both hands "
                "free. The rest waits for daylight."
            )
        case Caution.DOOR:
            return say(
                "The door can lock you out in the cold: wedge it, take keys and phone, and tell somebody."
            )
        case Caution.POISON:
            return say(
                "Some of these plants are poisonous. Indoors, keep children and animals away, and wash "
                "your hands."
            )
        case Caution.SPINES:
            return say("Spines: wear gloves, mind your eyes, and turn the plant away from where people pass.")
        case Caution.WATER_RUN_OFF:
            return say(
                "Water only what the mix takes up, before noon where you can: what runs off freezes on your floor or "
                "your neighbour's."
            )
        case Caution.LOOSE_SLEEVE:
            return say(
                "A sleeve round a stem sits loose, its ties looser: look under it once a month, for wet bark and for "
                "mice, and take it off when buds swell. The pot needs its own wrap: roots go first."
            )
        case Caution.CANES:
            return say(
                "Where canes hold a sheet off the leaves, put a cap on each: the bare end stands at eye height."
            )
