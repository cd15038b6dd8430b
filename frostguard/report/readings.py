"""Thermometers and what they taught, as a person reads it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from frostguard.report.layout import padded, page, paragraph, right_aligned
from frostguard.report.words import decimal, say, say_count
from frostguard.tuning.gates import Finding, Trouble
from frostguard.tuning.habits import MINIMA_NEEDED, NIGHTS_FOR_SPREAD

if TYPE_CHECKING:
    from frostguard.logbook.measured import Reading
    from frostguard.tuning.fit import Fitted, Parameter
    from frostguard.tuning.session import Session
    from frostguard.tuning.tune import NightCheck, PotCheck, TerraceFit
    from frostguard.weather.night_errors import SiteHabits

CHART_WIDTH = 41


def finding_sentence(finding: Finding) -> str:
    """One thing that a gate found."""
    size = decimal(finding.size, 1)
    match finding.trouble:
        case Trouble.IMPOSSIBLE:
            return say("{count} impossible values are left out.", count=finding.count)
        case Trouble.DUPLICATE:
            return say("{count} times come twice; the last counts.", count=finding.count)
        case Trouble.SPIKE:
            return say("{count} single values that stand far out are left out.", count=finding.count)
        case Trouble.STUCK:
            return say("{count} values that never move are left out: is the thermometer stuck?", count=finding.count)
        case Trouble.SUN:
            return say(
                "Refused: by day it is {size} degrees (Celsius) too warm. The sun shines on it: shade it.", size=size
            )
        case Trouble.FELL_OUT:
            return say("Refused: it swings as the air does. Has the probe fallen out of the mix, or been swapped?")
        case Trouble.WRONG_UNIT:
            return say("Refused: these are degrees Fahrenheit. Import the file again with --unit F.")
        case Trouble.CLOCK:
            return say(
                "Refused: its clock is {size} hours ahead of the weather. Import the file again with "
                "--clock utc or --clock local, or with --clock-ahead {size}.",
                size=size,
            )
        case Trouble.GAP:
            return say_count(
                "1 gap, of {size} hours.", "{count} gaps, the longest of {size} hours.", finding.count, size=size
            )


def clock_sentence(series: str, ahead_h: float) -> str:
    """A clock that seems to be off, though its pot might explain it."""
    hours = decimal(abs(ahead_h), 1)
    if ahead_h > 0.0:
        return say(
            "{series}: the pot cools and warms as if this clock were {hours} hours ahead, or more. If it is, import "
            "the file again with --clock-ahead; lowest values suffer little from it.",
            series=series,
            hours=hours,
        )
    return say(
        "{series}: the pot cools and warms as if this clock were {hours} hours behind, or more. If it is, import the "
        "file again with --clock-ahead and a number below zero; lowest values suffer little from it.",
        series=series,
        hours=hours,
    )


def why_refused(check: PotCheck) -> str:
    """Why nothing is kept of a pot."""
    if check.left_out:
        return say("Left out: with its readings those of the other pots come out worse.")
    if check.rmse_k(after=True) <= check.rmse_k(after=False):
        return say("Refused: measured air by itself tells the nights that were kept back better than with the fit.")
    return say("Refused: nights that were kept back come out worse with it.")


def render_readings(readings: Sequence[Reading]) -> str:
    """Each thermometer with its last nights: a line for every day, from its lowest to its highest."""
    blocks = []
    for series, group in groupby(sorted(readings, key=lambda one: (one.series, one.at)), key=lambda one: one.series):
        own = list(group)
        head = say_count(
            "{series}: {place}, 1 reading",
            "{series}: {place}, {count} readings",
            len(own),
            series=series,
            place=own[0].place,
        )
        days = [
            (day, [one.temperature_c for one in of_day]) for day, of_day in groupby(own, key=lambda one: one.at.date())
        ]
        low = min(min(values) for _, values in days)
        high = max(max(values) for _, values in days)
        rows = [
            f"  {day:%Y-%m-%d} {right_aligned(decimal(min(values), 1), 6)} {_bar(min(values), max(values), low, high)} "
            f"{decimal(max(values), 1)}"
            for day, values in days[-30:]
        ]
        blocks.append([*paragraph(head), *rows])
    return page(blocks) if blocks else say("There are no readings yet.")


def _bar(first: float, last: float, low: float, high: float) -> str:
    scale = (CHART_WIDTH - 1) / max(high - low, 0.1)
    begins, ends = round((first - low) * scale), round((last - low) * scale)
    return padded(" " * begins + "-" * (ends - begins + 1), CHART_WIDTH)


def render_session(session: Session, *, stored: bool) -> str:
    """What was heard, learnt and refused."""
    blocks = [
        paragraph(say("{series}: {finding}", series=one.series, finding=finding_sentence(finding)))
        for one in session.heard
        for finding in one.findings
    ]
    if session.habits is not None:
        blocks.append(
            paragraph(
                say(
                    "Air, from {count} nights: clear calm nights come out {calm} K against the forecast, "
                    "others {other} K.",
                    count=session.air_nights,
                    calm=f"{session.habits.clear_calm_bias_k:+.1f}",
                    other=f"{session.habits.bias_k:+.1f}",
                )
            )
        )
        blocks.append(paragraph(_how_far_forecasts_miss(session.habits, session.foretold_nights)))
    elif session.air_nights:
        blocks.append(
            paragraph(
                say_count(
                    "Air: the lowest of 1 night is known; {needed} are needed.",
                    "Air: the lowest of {count} nights is known; {needed} are needed.",
                    session.air_nights,
                    needed=MINIMA_NEEDED,
                )
            )
        )
    if session.fit is not None:
        blocks += [paragraph(clock_sentence(series, hours)) for series, hours in session.fit.clocks_ahead_h.items()]
        blocks += [_check_block(check, session.root_limits_c.get(check.pot, ())) for check in session.fit.pots]
        if session.fit.helps:
            blocks.append(_parameters(session.fit))
    blocks += [paragraph(failure.message) for failure in session.failures]
    blocks.append(
        paragraph(
            say(
                "Kept: advice uses it from now on, but for questions about a weather file; 'frostguard tune undo' "
                "takes it back."
            )
            if stored
            else say("Nothing was kept.")
        )
    )
    return page(blocks)


def _how_far_forecasts_miss(habits: SiteHabits, nights: int) -> str:
    if habits.spread_k is None or habits.clear_calm_spread_k is None or nights < NIGHTS_FOR_SPREAD:
        return say_count(
            "With that known the forecast is taken as somewhat surer. How far it really misses takes 30 nights of "
            "which a forecast made before them is known; there is {count}.",
            "With that known the forecast is taken as somewhat surer. How far it really misses takes 30 nights of "
            "which a forecast made before them is known; there are {count}.",
            nights,
        )
    return say(
        "Forecasts of the day itself miss this terrace's lowest air by {other} K as a rule, in clear calm nights by "
        "{calm} K, from {count} nights; with lead time that grows {growth} times as fast as usual.",
        other=decimal(habits.spread_k, 1),
        calm=decimal(habits.clear_calm_spread_k, 1),
        count=nights,
        growth=decimal(habits.spread_growth, 1),
    )


def _check_block(check: PotCheck, limits_c: Sequence[float]) -> list[str]:
    before, after = check.rmse_k(after=False), check.rmse_k(after=True)
    head = say(
        "{pot}: {nights} nights, each third kept back in turn. On these {held} lowest values the error goes from "
        "{before} to {after} K (bias {bias_before} to {bias_after} K).",
        pot=check.pot,
        nights=check.n_nights,
        held=len(check.held_back),
        before=decimal(before, 2),
        after=decimal(after, 2),
        bias_before=decimal(check.bias_k(after=False), 2),
        bias_after=decimal(check.bias_k(after=True), 2),
    )
    verdict = [] if check.helps else paragraph(why_refused(check))
    hits = []
    for limit in dict.fromkeys((0.0, *limits_c)):  # freezing, and what the roots of its plants stand
        hit, missed, false = check.hits(limit, after=True)
        if hit or missed or false:
            hits += paragraph(
                say(
                    "Below {limit} °C: {hit} nights told, {missed} missed, {false} told falsely.",
                    limit=decimal(limit, 1),
                    hit=hit,
                    missed=missed,
                    false=false,
                ),
                first="  ",
            )
    return [*paragraph(head), *verdict, *hits, *measured_against_told(check.held_back[-SHOWN_NIGHTS:])]


SHOWN_NIGHTS = 14


def measured_against_told(checks: Sequence[NightCheck]) -> list[str]:
    """Lines of a chart, one for each night: the interval told, the lowest told in it, and the lowest read.

    Where both fall on one column it is the one read that is drawn.
    """
    if not checks:
        return []
    low = min(min(one.low_c, one.read_c) for one in checks)
    high = max(max(one.high_c, one.read_c) for one in checks)
    scale = (CHART_WIDTH - 1) / max(high - low, 0.1)

    def column(value_c: float) -> int:
        return round((value_c - low) * scale)

    rows = [say("  night        read   told  (x read, o told, - nine nights in ten)")]
    for one in checks:
        bar = [" "] * CHART_WIDTH
        begins, ends = column(one.low_c), column(one.high_c)
        bar[begins : ends + 1] = "-" * (ends - begins + 1)
        bar[column(one.after_c)] = "o"
        bar[column(one.read_c)] = "x"
        rows.append(f"  {one.night:%Y-%m-%d} {one.read_c:6.1f} {one.after_c:6.1f}  {''.join(bar).rstrip()}")
    return rows


def parameter_told(name: str) -> str:
    """A tuned parameter in words; its own name where it is none of these."""
    told = {
        "wind_factor": say("wind, times what was assumed"),
        "sky_view_shift": say("share of the sky, more than assumed"),
        "floor_offset_k": say("floor, warmer than assumed"),
        "side_resistance_m2_k_w": say("insulation of the wall, more than assumed"),
        "water_factor": say("water in the mix, times what was assumed"),
        "conductivity_factor": say("conduction of the mix, times what was assumed"),
        "bias_k": say("air of other nights, warmer than forecast"),
        "clear_calm_bias_k": say("air of clear calm nights, warmer than forecast"),
        "spread_k": say("how unsure other nights are"),
        "clear_calm_spread_k": say("how unsure clear calm nights are"),
        "spread_growth": say("how the doubt grows by the day, times what is usual"),
        "offset_k": say("what the thermometer itself is off by"),
        "deeper_m": say("how much deeper the probe lies than is said"),
        "bareness": say("how much of the barest side the probe feels"),
    }
    return told.get(name, name)


def _parameters(fit: TerraceFit) -> list[str]:
    """Every value that the readings told with its spread, what they did not tell, and what they cannot tell apart."""
    fitted: Fitted = fit.fitted
    names = [f"{one.subject.partition('/')[2] or one.subject}: {parameter_told(one.name)}" for one in fitted.parameters]
    rows, untold = [], []
    for one, name, value, spread, learnt in zip(
        fitted.parameters, names, fitted.values, fitted.spread, fitted.learnt, strict=True
    ):
        if learnt:
            rows += paragraph(f"{name}: {_amount(one, float(value), float(spread))}", first="  ")
        else:
            untold.append(name)
    if untold:
        rows += paragraph(
            say("Not told by the readings, so nearly as before: {names}.", names="; ".join(untold)), first="  "
        )
    for first, second in fitted.inseparable():
        rows += paragraph(
            say("The readings cannot tell these apart: {one}; {other}.", one=names[first], other=names[second]),
            first="  ",
        )
    sizes = fit.sizes
    rows += paragraph(
        say(
            "What is left: {reading} K for a single number, {fault} K of a night by what the model lacks, {calm} K by "
            "the air of a clear calm night, {other} K by that of another.",
            reading=decimal(sizes.reading_k, 2),
            fault=decimal(sizes.fault_k, 2),
            calm=decimal(sizes.clear_calm_k, 2),
            other=decimal(sizes.other_k, 2),
        ),
        first="  ",
    )
    return rows


def _amount(one: Parameter, value: float, spread: float) -> str:
    """A value with the range of two chances in three, a factor as such."""
    low, high = value - spread, value + spread
    if one.is_factor:
        value, low, high = math.exp(value), math.exp(low), math.exp(high)
    unit, size, digits = {"_k": ("K", 1.0, 1), "_m": ("cm", 100.0, 1)}.get(one.name[-2:], ("", 1.0, 2))
    if one.name.endswith("_m2_k_w"):
        unit, digits = "m2K/W", 3
    told, least, most = (decimal(size * number, digits) for number in (value, low, high))
    if not unit:
        return say("{value} ({low} to {high})", value=told, low=least, high=most)
    return say("{value} {unit} ({low} to {high})", value=told, unit=unit, low=least, high=most)
