"""Strains beside cold, in sentences: what it is, which plants, what helps."""

from __future__ import annotations

from datetime import date

from frostguard.advice.strains import Strain
from frostguard.report import measures
from frostguard.report.words import all_of, harmless, say


def strain_sentence(code: str, labels: list[str]) -> str | None:
    """The sentence of one strain; None for a code that is no strain."""
    try:
        strain = Strain(code)
    except ValueError:
        return None
    if strain is Strain.DARK_ROOM:
        return _dark(labels)
    if strain is Strain.LOST_LATER:
        return _lost_later(labels)
    if strain is Strain.DARK_TOO_LONG:
        return _dark_too_long(labels)
    plants = all_of([harmless(label) for label in labels])
    match strain:
        case Strain.DROUGHT:
            return say(
                "Frozen roots give no water while sun and wind draw it from the leaves: {plants}. Water in the "
                "next thaw, and keep sun and wind off.",
                plants=plants,
            )
        case Strain.CLAY:
            return say(
                "Wet clay that freezes and thaws again and again cracks: {plants}. Raise the pots so that they "
                "drain, and look for cracks before you lift them.",
                plants=plants,
            )
        case Strain.MORNING_SUN:
            return say(
                "Early sun on frozen buds browns them: {plants}. Shade them from the east until they have thawed.",
                plants=plants,
            )
        case Strain.WET_SNOW:
            return say(
                "Wet snow is to come and bends or breaks evergreens: {plants}. Tie tall ones loosely before it "
                "falls, and brush it off upwards.",
                plants=plants,
            )
        case Strain.GALE:
            return say(
                "Gusts will tear at what hangs or stands over a drop: {plants}. Take it down in good time, or see that "
                "it is fastened: what falls from a height can kill.",
                plants=plants,
            )
        case Strain.KILLED:
            return say(
                "If they stood there all the time, the past weeks have probably killed these: {plants}. Scratch the "
                "bark or press the leaf base before you carry them: where it is green and firm, they live.",
                plants=plants,
            )
        case Strain.FREEZING_RAIN:
            return say(
                "Freezing rain is to come: floors turn to ice, so work before it. Leave ice on branches alone, it "
                "breaks them when knocked off."
            )
        case Strain.SOAKED:
            return say(
                "These rot or suffocate where soaked mix freezes: {plants}. Tip the saucer out, clear the hole, "
                "keep rain off.",
                plants=plants,
            )
        case Strain.WARM_ROOM:
            return say(
                "A room this warm undoes their hardening within days: {plants}. Stand them cooler, and never send "
                "them straight back into frost.",
                plants=plants,
            )
        case Strain.STILL_FROZEN:
            return say(
                "Frozen now: {plants}. Leave the pots unwrapped and unwatered until they have thawed, and do not "
                "knock them.",
                plants=plants,
            )
        case Strain.HALF_BALL:
            return say(
                "Not only the outer roots but about half of the root ball gets colder than young roots stand: "
                "{plants}. Expect a late spring, and water little until they grow.",
                plants=plants,
            )
        case Strain.WHOLE_BALL:
            return say(
                "Nearly the whole root ball gets colder than young roots stand: {plants}. Expect a late spring, and "
                "water little until they grow.",
                plants=plants,
            )


def _lost_later(details: list[str]) -> str:
    day, *labels = details
    return say(
        "The night of {day} is likely to kill these as they stand: {plants}. What helps is asked for in the hours "
        "before it; see now whether there is a place indoors, and a hand for what is too heavy for you.",
        day=measures.day_and_date(date.fromisoformat(day)),
        plants=all_of([harmless(label) for label in labels]),
    )


def _dark(details: list[str]) -> str:
    days, *labels = details
    plants = all_of([harmless(label) for label in labels])
    if days == "0":
        return say(
            "These have stood in the dark as long as they may: {plants}. Bring them to the light now, by day at least, "
            "or they lose leaves and grow pale and long.",
            plants=plants,
        )
    return say(
        "From now these stand the dark for about {days} days, less in warmth, and then lose leaves or grow pale and "
        "long: {plants}. Bring them back to the light as soon as the cold allows.",
        days=days,
        plants=plants,
    )


def _dark_too_long(details: list[str]) -> str:
    days, *labels = details
    return say(
        "From now these stand the dark for about {days} days, less in warmth, and the cold lasts longer as far as can "
        "be seen: {plants}. Before they grow pale and long find them a cool place in the light.",
        days=days,
        plants=all_of([harmless(label) for label in labels]),
    )
