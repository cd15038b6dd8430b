"""The plant table for reading: one plant, what a rating stands for, a search, a list by group."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from frostguard.garden.settings import Units
from frostguard.hardiness.basis import FULL_UNDERSHOOT_BELOW_C, NO_UNDERSHOOT_ABOVE_C, UNDERSHOOT_K
from frostguard.hardiness.limits import nearest_name
from frostguard.hardiness.model import Basis, Mark
from frostguard.hardiness.own import Sighting
from frostguard.hardiness.rating import Band
from frostguard.hardiness.strain import dark_days
from frostguard.hardiness.taxon import Bulb, Foliage, Limit, StageRule, Taxon
from frostguard.report import measures, plant_words
from frostguard.report.layout import cut_to, padded, page, paragraph, right_aligned, section
from frostguard.report.losses import sighting_lines
from frostguard.report.marks import origin
from frostguard.report.words import all_of, harmless, say, say_count

_NAME_WIDTH = 25
_BOTANICAL_WIDTH = 33
_NUMBER_WIDTH = 7
FOUND_SHOWN = 12
"""Plants that a search shows; more than that and the person should write more of the name."""


def render_plant(taxon: Taxon, units: Units, seen: Sequence[Sighting] = ()) -> str:
    """Everything that the table knows of one plant, and what the gardener saw of it, in at most 80 columns."""
    title = say("{name} ({botanical})", name=plant_words.common_name(taxon), botanical=taxon.botanical)
    return page(
        [
            [*paragraph(title), *section_lines(_names(taxon)), *section_lines(_nature(taxon))],
            section(say("What it stands in a pot"), _limit_sentences(taxon, units)),
            section(say("What you have seen it stand, from which its limits learn"), sighting_lines(seen, units)),
            section(say("Through the winter"), _winter(taxon, units)),
            _how_to_read(units),
            paragraph(say("What your own pot stands today: frostguard tonight --explain POT")),
        ]
    )


def render_rating(band: Band, taxon: Taxon, units: Units) -> str:
    """What a hardiness rating stands for, and what a plant with no other name is taken to stand."""
    return page(
        [
            paragraph(_band(band, units)),
            section(
                say("What a plant of that rating is taken to stand in a pot"), _limit_sentences(taxon, units)
            ),
            paragraph(
                say(
                    "Nothing else is known of such a plant, so it is taken to keep its leaves in winter. "
                    "Give the plant's name instead if the table has it."
                )
            ),
            _how_to_read(units),
        ]
    )


def render_found(text: str, found: tuple[Taxon, ...]) -> str:
    """Plants whose names hold the text or look like it, best first, a line each."""
    shown = found[:FOUND_SHOWN]
    lines = [_found_line(taxon, text) for taxon in shown]
    more = len(found) - len(shown)
    if more:
        lines += paragraph(
            say_count(
                "1 more looks less like it; write more of the name.",
                "{count} more look less like it; write more of the name.",
                more,
            )
        )
    return page([lines, paragraph(say("All about one of them: frostguard plants show NAME"))])


def render_list(taxa: Iterable[Taxon], units: Units) -> str:
    """The plants by group, each with its two root limits and its leaf limit."""
    groups: dict[str, list[Taxon]] = {}
    for taxon in taxa:
        groups.setdefault(taxon.group, []).append(taxon)
    intro = paragraph(
        say(
            "Limits in {unit}, hardened, in midwinter: young roots at the pot wall, the whole root system, "
            "leaves or wood. * seen in a published source; < seen unhurt there, the limit lies lower; all "
            "others come from practice, memory, a weak source, a rule or an estimate.",
            unit=measures.degree_unit(units),
        )
    )
    titles = (say("young"), say("whole"), say("leaf"))
    heading = padded("", _NAME_WIDTH + _BOTANICAL_WIDTH) + "".join(
        right_aligned(title, _NUMBER_WIDTH - 1) + " " for title in titles
    )
    blocks = [
        [*paragraph(plant_words.group_name(group)), *(_list_line(taxon, units) for taxon in members)]
        for group, members in groups.items()
    ]
    return page([[*intro, "", heading.rstrip()], *blocks])


def section_lines(items: Iterable[str]) -> list[str]:
    """Items as indented paragraphs without a heading."""
    return [line for item in items for line in paragraph(item, first="  ", rest="    ")]


def _names(taxon: Taxon) -> Iterator[str]:
    yield _names_in(say("English"), (taxon.english, *taxon.synonyms))
    yield _names_in(say("French"), (taxon.french, *taxon.synonyms_french))


def _names_in(language: str, names: tuple[str, ...]) -> str:
    return say("{language}: {names}.", language=language, names=", ".join(names))


def _nature(taxon: Taxon) -> Iterator[str]:
    yield say(
        "{life} {leaves} Group: {group}.",
        life=plant_words.way_of_life(taxon),
        leaves=plant_words.leaves_in_winter(taxon),
        group=plant_words.group_name(taxon.group),
    )


def _limit_sentences(taxon: Taxon, units: Units) -> Iterator[str]:
    parts = [
        (plant_words.hardened_part(taxon), taxon.leaf_hardened),
        (say("Leaves and shoots, soft (in growth, or before they harden)"), taxon.leaf_soft),
        *((plant_words.stage_part(stage), limit) for stage, limit in taxon.buds.items()),
        (say("Young roots at the pot wall"), taxon.young_root),
        (say("Whole root system"), taxon.whole_root),
    ]
    if taxon.chill is not None:
        parts.append((say("Harm by chilling, without any frost"), taxon.chill))
    if taxon.bulb is not None and taxon.bulb.survived is not None:
        parts.append((say("Dry bulb in a freezer for a day, coldest survived"), taxon.bulb.survived))
    return (_limit_sentence(part, limit, units) for part, limit in parts)


def _limit_sentence(part: str, limit: Limit, units: Units) -> str:
    if limit.basis is Basis.SCREEN_AIR:
        return say(
            "{part}: {temperature} in screen air, spread {spread}. {origin}",
            part=part,
            temperature=_temperature(limit, units),
            spread=measures.difference(limit.spread_k, units),
            origin=origin(limit.mark, limit.source, units),
        )
    return say(
        "{part}: {temperature}, spread {spread}. {origin}",
        part=part,
        temperature=_temperature(limit, units),
        spread=measures.difference(limit.spread_k, units),
        origin=origin(limit.mark, limit.source, units),
    )


def _temperature(limit: Limit, units: Units) -> str:
    warmer = measures.limit(limit.temperature_c, units)
    if limit.mark is Mark.FLOOR:
        return say(
            "unhurt at {seen}, limit taken as {taken}",
            seen=warmer,
            taken=measures.limit(limit.middle_c, units),
        )
    if limit.colder_c is None:
        return warmer
    return say("{warmer} to {colder}", warmer=warmer, colder=measures.limit(limit.colder_c, units))


def _winter(taxon: Taxon, units: Units) -> Iterator[str]:
    room = plant_words.light_if_moved(taxon.moved_light)
    if taxon.room_c is not None:
        cool_c, warm_c = taxon.room_c
        room = say(
            "{light} A good room has {cool} to {warm}.",
            light=room,
            cool=measures.limit(cool_c, units),
            warm=measures.limit(warm_c, units),
        )
    yield room
    days = dark_days(taxon.moved_light, keeps_leaves=taxon.foliage is not Foliage.DECIDUOUS)
    if days is not None:
        yield say("In the dark for {days} days at the most, less in warmth (common practice).", days=days)
    water = " ".join(filter(None, (plant_words.wet(taxon.wet), plant_words.dry(taxon.dry))))
    yield water or say("Takes wet and drought as most plants do.")
    yield from _stage_told_by(taxon.stage_rule)
    if taxon.resents:
        yield say("Resents {things}.", things=all_of([plant_words.dislike(code) for code in taxon.resents]))
    if taxon.bulb is not None:
        yield _depth(taxon.bulb, units)
    yield (
        say("Poisonous, or its sap is: mind children and pets when it is brought in.")
        if taxon.poisonous
        else say("Not marked as poisonous in the table, which is no promise.")
    )
    if taxon.grafted:
        yield say("Sold grafted (common practice): of roots that live below dead wood only the rootstock comes again.")
    if taxon.spiny:
        yield say("Spines or sharp tips: wear gloves, mind eyes.")


def _stage_told_by(rule: StageRule) -> Iterator[str]:
    """How the stage of buds and shoots is known, where it is not by the heat of spring, as of most plants."""
    match rule:
        case StageRule.BY_HEAT:
            return
        case StageRule.IN_FLUSHES:
            yield say(
                "Grows and flowers in flushes whenever it is warm (common practice), so no date and no heat tells its "
                "stage: its shoots count as new while it is soft. What you see counts more: 'stage: new shoots', "
                "'stage: open flowers'."
            )
        case StageRule.NONE:
            yield say("No stage is told by date or heat: what is above the mix is judged as leaves all year.")


def _depth(bulb: Bulb, units: Units) -> str:
    shallow_cm, deep_cm = bulb.depth_cm
    return say(
        "Planted {depth} deep. {origin}",
        depth=measures.planting_depth(shallow_cm, deep_cm, units),
        origin=origin(bulb.depth_mark, bulb.depth_source, units),
    )


def _how_to_read(units: Units) -> list[str]:
    return paragraph(
        say(
            "A limit is the temperature at which damage is as likely as not, for the plant hardened in "
            "midwinter unless it says otherwise; of two values the warmer counts. The spread is one standard "
            "deviation of plant, place and source. A limit in screen air is the lowest of a clear, calm night as a "
            "forecast tells it: leaves that stand {full} are {undershoot} colder then, and are judged by that; "
            "those that stand no more than {none} are judged as if the limit were their own, to be safe. All other "
            "limits are temperatures of the tissue itself, those of roots of the mix.",
            undershoot=measures.difference(UNDERSHOOT_K, units),
            full=measures.limit(FULL_UNDERSHOOT_BELOW_C, units),
            none=measures.limit(NO_UNDERSHOOT_ABOVE_C, units),
        )
    )


def _band(band: Band, units: Units) -> str:
    colder, warmer = (measures.limit(end_c, units) for end_c in (band.colder_c, band.warmer_c))
    match band.rating:
        case "H7":
            return say("H7 on the UK scale: in open ground it stands colder than {warmer}.", warmer=warmer)
        case "H1a":
            return say("H1a on the UK scale: it needs more than {colder} at all times.", colder=colder)
        case rating if rating.startswith("H"):
            return say(
                "{rating} on the UK scale: in open ground it stands {warmer} to {colder}.",
                rating=rating,
                warmer=warmer,
                colder=colder,
            )
        case rating:
            return say(
                "Zone {rating} on the USDA scale: hardy in open ground where the coldest night of an average "
                "year lies between {warmer} and {colder}.",
                rating=rating,
                warmer=warmer,
                colder=colder,
            )


def _found_line(taxon: Taxon, text: str) -> str:
    name = plant_words.common_name(taxon)
    line = _name_columns(taxon)
    matched = harmless(nearest_name(taxon, text))
    if matched in (name, taxon.botanical):
        return line.rstrip()
    return (line + cut_to(matched, 80 - _NAME_WIDTH - _BOTANICAL_WIDTH)).rstrip()


def _list_line(taxon: Taxon, units: Units) -> str:
    limits = (taxon.young_root, taxon.whole_root, taxon.leaf_hardened)
    return (_name_columns(taxon) + "".join(_number(limit, units) for limit in limits)).rstrip()


def _name_columns(taxon: Taxon) -> str:
    name = cut_to(plant_words.common_name(taxon), _NAME_WIDTH - 1)
    botanical = cut_to(harmless(taxon.botanical), _BOTANICAL_WIDTH - 1)
    return padded(name, _NAME_WIDTH) + padded(botanical, _BOTANICAL_WIDTH)


def _number(limit: Limit, units: Units) -> str:
    signs = {Mark.MEASURED: "*", Mark.FLOOR: "<"}
    number = measures.limit_number(limit.temperature_c, units)
    return right_aligned(number, _NUMBER_WIDTH - 1) + signs.get(limit.mark, " ")
