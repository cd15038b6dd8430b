"""Two fates of one pot side by side, as a table and a small chart."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from frostguard.advice.plan import Protection
from frostguard.advice.what_if import Changes, Comparison, Fate
from frostguard.garden.settings import Units
from frostguard.hardiness.model import Tissue
from frostguard.report import measures
from frostguard.report.layout import line_width, padded, page, paragraph, right_aligned, section
from frostguard.report.measures import Clock
from frostguard.report.words import all_of, decimal, say

WHAT_IF_FORMAT = 1

COLUMN = 14
"""Columns of the table for each of the two."""

CHART_EVERY_H = 2
TIMES_WIDTH = 12
LEAST_CHART = 12

TELLING_K = 0.05
"""A gain that is smaller either way is not told: a tenth is the last digit shown."""

TELLING_EUR = 0.05
"""The same for money."""


def render_comparison(comparison: Comparison, clock: Clock, units: Units) -> str:
    """The comparison as lines that fit the terminal.

    Parameters
    ----------
    comparison : Comparison
        The two fates.
    clock : Clock
        The site's.
    units : Units
        Units for reading.
    """
    return page(
        [
            paragraph(
                say(
                    "{pot}, {what}: the coming night.",
                    pot=comparison.label,
                    what=what_is_tried(comparison.changes, units),
                )
            ),
            _table(comparison, units),
            _chart(comparison, clock, units),
            _verdict(comparison, units),
        ]
    )


def comparison_dict(comparison: Comparison) -> dict[str, Any]:
    """The comparison as plain data: degC, euro, minutes."""
    changes = comparison.changes
    return {
        "format": WHAT_IF_FORMAT,
        "pot": comparison.pot,
        "changes": {
            "protect": [kind.value for kind in changes.protections],
            "spot": changes.spot,
            "volume_l": changes.volume_l,
            "wall": changes.wall,
        },
        "told_by": comparison.told_by.value,
        "limit_c": round(comparison.limit_c, 1),
        "as_it_stands": _fate_dict(comparison.as_it_stands),
        "changed": _fate_dict(comparison.changed),
        "minutes": round(comparison.minutes, 1),
        "people": comparison.people,
        "effort": round(comparison.effort_eur, 2),
        "weight_kg": round(comparison.weight_kg, 1),
        "leaf_gain_k": [round(gain, 2) for gain in comparison.leaf_gain],
        "ring_gain_k": [round(gain, 2) for gain in comparison.ring_gain],
        "stem_gain_k": None if comparison.stem_gain is None else [round(gain, 2) for gain in comparison.stem_gain],
        "times": [time.isoformat() for time in comparison.times],
    }


def _fate_dict(fate: Fate) -> dict[str, Any]:
    return {
        "coldest_ring_c": round(fate.coldest_ring_c, 2),
        "coldest_mean_c": round(fate.coldest_mean_c, 2),
        "coldest_leaf_c": round(fate.coldest_leaf_c, 2),
        "frozen_fraction": round(fate.frozen_fraction, 3),
        "chance_of_damage": round(fate.chance_of_damage, 3),
        "outer_root_chance": round(fate.outer_root_chance, 3),
        "expected_loss": round(fate.expected_loss_eur, 2),
        "coldest_stem_c": None if fate.coldest_stem_c is None else round(fate.coldest_stem_c, 2),
        "curve_c": [round(value, 2) for value in fate.curve_c],
    }


def what_is_tried(changes: Changes, units: Units) -> str:
    """What is different, in words."""
    return all_of(
        [
            *(protected(kind) for kind in changes.protections),
            *([say("carried to the {spot}", spot=changes.spot)] if changes.spot is not None else []),
            *(
                [say("in {amount}", amount=measures.liquid(changes.volume_l, units))]
                if changes.volume_l is not None
                else []
            ),
            *([say("with a wall of {wall}", wall=changes.wall)] if changes.wall is not None else []),
        ]
    )


def protected(kind: Protection) -> str:
    """How a pot is that has this protection."""
    names = {
        Protection.FLEECE: say("under fleece"),
        Protection.DOUBLE_FLEECE: say("under two layers of fleece"),
        Protection.WRAP: say("wrapped"),
        Protection.RAISE: say("raised off the floor"),
        Protection.GROUP: say("tight among its neighbours"),
        Protection.MULCH: say("mulched"),
        Protection.PLUNGE: say("in a crate filled round with bark"),
        Protection.FILL_GAPS: say("in a group with its gaps filled"),
        Protection.SLEEVE: say("with a sleeve round its stem"),
        Protection.TIE_CROWN: say("with its crown tied up"),
        Protection.WATER: say("watered"),
    }
    return names.get(kind, kind.value)


def fates_told(comparison: Comparison, units: Units) -> list[tuple[str, ...]]:
    """What is compared, how it is as the pot stands, and how it would be: three texts a line."""
    before, after = comparison.as_it_stands, comparison.changed
    return [
        (say("coldest leaves"), *_both(before.coldest_leaf_c, after.coldest_leaf_c, units)),
        *(
            [(say("coldest bare stem"), *_both(before.coldest_stem_c, after.coldest_stem_c, units))]
            if before.coldest_stem_c is not None and after.coldest_stem_c is not None
            else []
        ),
        (say("coldest outer roots"), *_both(before.coldest_ring_c, after.coldest_ring_c, units)),
        (say("coldest, whole root ball"), *_both(before.coldest_mean_c, after.coldest_mean_c, units)),
        (say("frozen"), *(measures.per_cent_or_none(fate.frozen_fraction) for fate in (before, after))),
        (say("chance of harm"), *(measures.per_cent(fate.chance_of_damage) for fate in (before, after))),
        (say("chance for outer roots"), *(measures.per_cent(fate.outer_root_chance) for fate in (before, after))),
        (say("loss to expect, euro"), *(decimal(fate.expected_loss_eur, 1) for fate in (before, after))),
    ]


def _table(comparison: Comparison, units: Units) -> list[str]:
    rows = fates_told(comparison, units)
    width = max(12, min(34, line_width() - 2 - 2 * COLUMN))
    heading = padded("", 2 + width) + right_aligned(say("as it stands"), COLUMN) + right_aligned(say("changed"), COLUMN)
    return [
        heading.rstrip(),
        *(
            "  " + padded(name[:width], width) + right_aligned(one, COLUMN) + right_aligned(other, COLUMN)
            for name, one, other in rows
        ),
    ]


def _both(before_c: float, after_c: float, units: Units) -> tuple[str, str]:
    return measures.coldest(before_c, units), measures.coldest(after_c, units)


def _chart(comparison: Comparison, clock: Clock, units: Units) -> list[str]:
    """The night from top to bottom, colder to the left: o as it stands, # changed, | the limit."""
    before, after = comparison.as_it_stands.curve_c, comparison.changed.curve_c
    width = max(LEAST_CHART, line_width() - 2 - TIMES_WIDTH - 16)
    lowest = min(*before, *after, comparison.limit_c)
    span = max(max(*before, *after, comparison.limit_c) - lowest, 1.0)

    def column(value_c: float) -> int:
        return round((value_c - lowest) / span * (width - 1))

    def lines() -> Iterator[str]:
        for hour in range(0, len(before), CHART_EVERY_H):
            marks = [" "] * width
            marks[column(comparison.limit_c)] = "|"
            marks[column(before[hour])] = "o"
            marks[column(after[hour])] = "*" if column(after[hour]) == column(before[hour]) else "#"
            time = padded(clock.at(comparison.times[hour]).replace("\u00a0", " "), TIMES_WIDTH)
            first = right_aligned(measures.coldest_number(before[hour], units), 7)
            second = right_aligned(measures.coldest_number(after[hour], units), 7)
            yield f"  {time}{first}{second}  {''.join(marks)}".rstrip()

    heading = say(
        "{what} through the night in {unit}: o as it stands, # changed, * both, | its limit",
        what=told_by(comparison.told_by),
        unit=measures.degree_unit(units),
    )
    return [*paragraph(heading), *lines()]


def told_by(tissue: Tissue) -> str:
    """What the curves are the temperature of."""
    match tissue:
        case Tissue.YOUNG_ROOT:
            return say("Outer roots")
        case Tissue.WHOLE_ROOT:
            return say("The whole root ball")
        case Tissue.STEM:
            return say("The bare stem")
        case Tissue.LEAF | Tissue.BUD | Tissue.HEART | Tissue.CHILL:
            return say("Leaves and buds")


def _verdict(comparison: Comparison, units: Units) -> list[str]:
    return section(say("What it comes to"), verdict_sentences(comparison, units))


def _saving(saved_eur: float, effort_eur: float) -> str:
    """What the change saves of the loss to be expected, which may be nothing, or less."""
    if saved_eur <= -TELLING_EUR:
        return say("It does harm: {more} euro more are to be expected to be lost tonight.", more=decimal(-saved_eur, 1))
    if saved_eur < TELLING_EUR:
        return say("It saves nothing of what is to be expected to be lost tonight.")
    if saved_eur < effort_eur:
        return say(
            "It saves {saved} euro of what is to be expected to be lost tonight, less than its work is worth.",
            saved=decimal(saved_eur, 1),
        )
    return say("It saves {saved} euro of what is to be expected to be lost tonight.", saved=decimal(saved_eur, 1))


def verdict_sentences(comparison: Comparison, units: Units) -> list[str]:
    """Whether it is worth it, and what was taken to be."""
    saved = comparison.as_it_stands.expected_loss_eur - comparison.changed.expected_loss_eur
    lines = []
    if comparison.minutes > 0.0:
        lines.append(
            say(
                "It takes about {minutes}; with putting back that is worth {effort} euro.",
                minutes=measures.minutes(comparison.minutes),
                effort=decimal(comparison.effort_eur, 1),
            )
        )
    if comparison.people > 1:
        lines.append(
            say(
                "It weighs about {weight}, so it takes two people; the minutes are those of both.",
                weight=measures.weight(comparison.weight_kg, units),
            )
        )
    lines.append(_saving(saved, comparison.effort_eur if comparison.minutes > 0.0 else 0.0))
    if comparison.changes.volume_l is not None or comparison.changes.wall is not None:
        lines.append(
            say(
                "As if it had stood in that pot all along; it would weigh about {weight}.",
                weight=measures.weight(comparison.weight_kg, units),
            )
        )
    lines += [
        say(
            "{what} at their coldest: {middle} by it, from {low} to {high} in eight of ten likely courses of the "
            "weather.",
            what=what,
            middle=measures.temperature_change(gain.middle_k, units),
            low=measures.temperature_change(gain.low_k, units),
            high=measures.temperature_change(gain.high_k, units),
        )
        for what, gain in (
            (say("Leaves"), comparison.leaf_gain),
            (say("The bare stem"), comparison.stem_gain),
            (say("Outer roots"), comparison.ring_gain),
        )
        if gain is not None
        and max(abs(gain.low_k), abs(gain.high_k)) >= TELLING_K
    ]
    lines.append(say("Nothing of this is in your garden file: it was only tried."))
    return lines
