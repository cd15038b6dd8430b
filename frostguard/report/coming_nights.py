"""The strip of the coming nights: how cold, how many pots at risk, and where the forecast has gaps."""

from __future__ import annotations

from math import floor, isnan

from frostguard.advice.plan import AdvicePlan, NightOutlook
from frostguard.garden.settings import Units
from frostguard.report import measures
from frostguard.report.layout import line_width, padded, paragraph, right_aligned
from frostguard.report.words import say, say_count

LONGEST_FROST_BAR = 10
"""Marks in the bar of a night; colder nights have no longer one, for the width."""


LEAST_REMARK = 24
"""Columns beside the bar of a night in which its remarks can be read; with fewer they go below."""


def coming_nights(plan: AdvicePlan, units: Units) -> list[str]:
    """A heading, a line for each night, and the cold spell if there is one."""
    if not plan.nights:
        return []
    heading = (
        say("Coming nights: coldest air in °F [low end], one # per 2 degrees of frost")
        if units is Units.IMPERIAL
        else say("Coming nights: coldest air in °C [low end], one # per degree of frost")
    )
    spell = spell_sentence(plan)
    return [
        *paragraph(heading),
        *(line for night in plan.nights for line in _night_lines(night, units)),
        *(paragraph(later_nights_unknown(), first="  ", rest="    ") if plan.weather.is_guess else []),
        *(paragraph(spell, first="  ", rest="    ") if spell else []),
    ]


def later_nights_unknown() -> str:
    """After a guess, which is for one night: what of the others."""
    return say("Of the nights after it nothing is known either; ask again once a forecast can be had.")


def _night_lines(night: NightOutlook, units: Units) -> list[str]:
    day = padded(measures.day_and_date(night.date), 10)
    air = right_aligned(_air(night.coldest_air_c, units), 5)
    low = padded(f"[{right_aligned(_air(night.coldest_air_c_p10, units), 5)}]", 8)
    bar = padded(_frost_bar(night.coldest_air_c), LONGEST_FROST_BAR)
    remarks = ", ".join(remarks_on_night(night))
    start = f"  {day} {air} {low} {bar} "
    if not remarks:
        return [start.rstrip()]
    if line_width() - len(start) < LEAST_REMARK:
        return [start.rstrip(), *paragraph(remarks, first="    ", rest="    ")]
    return paragraph(remarks, first=start, rest=" " * len(start))


def _air(value_c: float, units: Units) -> str:
    return "?" if isnan(value_c) else measures.coldest_number(value_c, units)


def _frost_bar(coldest_air_c: float) -> str:
    if isnan(coldest_air_c) or coldest_air_c >= 0:
        return ""
    return "#" * min(LONGEST_FROST_BAR, -floor(coldest_air_c))


def remarks_on_night(night: NightOutlook) -> list[str]:
    """Pots at risk, wind, and gaps in the forecast, a few words each."""
    remarks = []
    if night.pots_at_risk:
        remarks.append(say_count("1 pot at risk", "{count} pots at risk", night.pots_at_risk))
    if night.young_roots_at_risk:
        remarks.append(
            say_count(
                "outer roots of 1",
                "outer roots of {count}",
                night.young_roots_at_risk,
            )
        )
    if not remarks and night.complete:
        remarks.append(say("no pot at risk"))
    if night.windy:
        remarks.append(say("windy"))
    if not night.complete:
        remarks.append(say("forecast has gaps this night"))
    return remarks


def spell_sentence(plan: AdvicePlan) -> str | None:
    """The cold spell in one sentence; None without one."""
    spell = plan.spell
    if spell is None:
        return None
    first, last = measures.day_and_date(spell.first_night), measures.day_and_date(spell.last_night)
    if spell.began:
        return say_count(
            "Cold spell since {first}, to {last}: outer roots of 1 pot at risk.",
            "Cold spell since {first}, to {last}: outer roots of {count} pots at risk.",
            spell.pots,
            first=first,
            last=last,
        )
    if spell.first_night == spell.last_night:
        return say_count(
            "Cold night of {first}: outer roots of 1 pot at risk.",
            "Cold night of {first}: outer roots of {count} pots at risk.",
            spell.pots,
            first=first,
        )
    return say_count(
        "Cold spell from {first} to {last}: outer roots of 1 pot at risk.",
        "Cold spell from {first} to {last}: outer roots of {count} pots at risk.",
        spell.pots,
        first=first,
        last=last,
    )
