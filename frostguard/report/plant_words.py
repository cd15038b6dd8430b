"""The codes of the plant table in words: groups, ways of life, parts, light, dislikes."""

from __future__ import annotations

from frostguard.garden.model import Stage
from frostguard.hardiness.model import MovedLight
from frostguard.hardiness.taxon import Foliage, Habit, Sensitivity, Taxon
from frostguard.report.words import harmless, say, say_in

DIES_DOWN = (Habit.PERENNIAL, Habit.BULB, Habit.TUBER)


def common_name(taxon: Taxon) -> str:
    """The common name in the person's language, English where the table has none in it."""
    # A translator answers this question with "french" where French names are to come first.
    wanted = say_in("language of plant names in the table: english or french", "english")
    return harmless(taxon.french if wanted == "french" else taxon.english)


def group_names() -> dict[str, str]:
    """The groups of the table, each code with its name for the person."""
    return {
        "bamboos": say("bamboos"),
        "bedding": say("bedding plants"),
        "bulbs": say("bulbs"),
        "citrus": say("citrus"),
        "climbers": say("climbers"),
        "conifers": say("conifers"),
        "ericaceous": say("plants of lime-free soil"),
        "exotics": say("exotic plants"),
        "ferns": say("ferns"),
        "fruit": say("fruit"),
        "grasses": say("grasses"),
        "herbs": say("herbs"),
        "mediterranean": say("Mediterranean and mild-climate shrubs"),
        "palms": say("palms and the like"),
        "perennials": say("hardy perennials"),
        "shrubs": say("shrubs and trees"),
        "structure": say("structure and hedging"),
        "succulents": say("succulents"),
        "tender perennials": say("tender perennials"),
        "tubers": say("tubers"),
        "vegetables": say("vegetables"),
    }


def group_name(code: str) -> str:
    """The name of a group; a code that no name is known for is shown as it is."""
    return group_names().get(code, harmless(code))


def way_of_life(taxon: Taxon) -> str:
    """How the plant lives through the year."""
    match taxon.habit:
        case Habit.ANNUAL:
            return say("Annual, or grown as one.")
        case Habit.TENDER:
            return say("Tender perennial; it may come again from the base.")
        case Habit.WOODY:
            return say("Shrub, tree or woody climber.")
        case Habit.PALM if taxon.sprouts:
            return say("Grows from few points; where all above is killed it comes again from below, if its roots live.")
        case Habit.PALM:
            return say("Grows from one point or few, as palms do; what is lost there does not come again.")
        case Habit.PERENNIAL:
            return say("Perennial.")
        case Habit.BULB:
            return say("Bulb or corm.")
        case Habit.TUBER:
            return say("Tuber or corm that is lifted, or kept dry in its pot, through winter.")


def leaves_in_winter(taxon: Taxon) -> str:
    """Whether leaves stay on in winter."""
    match taxon.foliage:
        case Foliage.EVERGREEN:
            return say("Keeps its leaves in winter.")
        case Foliage.SEMI:
            return say("Keeps its leaves, or some of them, in a mild winter only.")
        case Foliage.DECIDUOUS if taxon.habit in DIES_DOWN:
            return say("Dies down for its rest.")
        case Foliage.DECIDUOUS if taxon.habit is Habit.ANNUAL:
            return say("Does not live through a frosty winter.")
        case Foliage.DECIDUOUS:
            return say("Loses its leaves in winter.")


def hardened_part(taxon: Taxon) -> str:
    """What the limit of hardened tops is about."""
    if taxon.foliage is not Foliage.DECIDUOUS:
        return say("Leaves, hardened")
    if taxon.habit is Habit.WOODY:
        return say("Wood, hardened")
    if taxon.habit is Habit.PERENNIAL:
        return say("Resting crown, or what is above it, hardened")
    return say("Leaves and shoots, hardened")


def stage_part(stage: Stage) -> str:
    """What the limit of a stage is about."""
    match stage:
        case Stage.DORMANT:
            return say("Resting buds")
        case Stage.SWELLING_BUDS:
            return say("Swelling buds")
        case Stage.BUDS_IN_COLOUR:
            return say("Buds in colour")
        case Stage.OPEN_FLOWERS:
            return say("Open flowers")
        case Stage.NEW_SHOOTS:
            return say("New shoots")


def light_if_moved(light: MovedLight) -> str:
    """What a room must offer."""
    match light:
        case MovedLight.BRIGHT:
            return say("If it is brought in, it needs a bright place.")
        case MovedLight.DARK_OK:
            return say("If it is brought in, a dark and cool place will do while it rests.")
        case MovedLight.BRIGHT_OR_DARK:
            return say("If it is brought in: bright, or dark, cool and nearly dry.")
        case MovedLight.STAY_OUT:
            return say("Best left outdoors in the cold; a few days in an unheated place do no harm.")


def wet(sensitivity: Sensitivity) -> str:
    """How the plant takes wet mix in the cold; nothing where it is as most plants are."""
    match sensitivity:
        case Sensitivity.HIGH:
            return say("Rots in cold, wet mix: keep it on the dry side in winter.")
        case Sensitivity.LOW:
            return say("Stands wet mix.")
        case Sensitivity.NORMAL:
            return ""


def dry(sensitivity: Sensitivity) -> str:
    """How the plant takes drought; nothing where it is as most plants are."""
    match sensitivity:
        case Sensitivity.HIGH:
            return say("Must not dry out, in winter neither.")
        case Sensitivity.LOW:
            return say("Stands drought.")
        case Sensitivity.NORMAL:
            return ""


def dislikes() -> dict[str, str]:
    """What plants resent, each code of the table with its words."""
    return {
        "cold wind": say("cold wind"),
        "dry crown": say("a dry crown"),
        "drying out in bud": say("drying out while in bud"),
        "drying out in frost": say("drying out in frost"),
        "heaving": say("being heaved out by frost"),
        "lime": say("lime"),
        "morning sun on frozen buds": say("morning sun on frozen buds"),
        "phosphate": say("phosphate"),
        "warm dark rooms": say("warm, dark rooms"),
        "warm rooms": say("warm rooms"),
        "water in the crown": say("water in the crown"),
        "wet in winter": say("wet in winter"),
    }


def dislike(code: str) -> str:
    """One thing that the plant resents; a code that no word is known for is shown as it is."""
    return dislikes().get(code, harmless(code))
