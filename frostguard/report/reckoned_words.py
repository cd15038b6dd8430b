"""What a pot was reckoned with, in sentences: the numbers behind the curves of the long answer."""

from __future__ import annotations

from collections.abc import Iterator
from math import isinf

from frostguard.advice.explanation import Reckoned, SkyReckoned, WaterReckoned, WindReckoned
from frostguard.garden.settings import Units
from frostguard.report import measures
from frostguard.report.words import say, say_count

NEGLIGIBLE_K = 0.05
"""Less than this is not worth a sentence: a tenth is the last digit shown."""


def reckoned_sentences(reckoned: Reckoned, units: Units) -> list[str]:
    """A sentence or two for each thing that the pot was reckoned with; what does not touch it is left out."""
    return [
        _water(reckoned.water),
        *_wind(reckoned.wind, units),
        _resistances(reckoned),
        *_sky(reckoned.sky),
        *_snow(reckoned, units),
        *_special(reckoned, units),
    ]


def _share(share: float) -> str:
    return f"{100.0 * share:.0f} %"


def _water(water: WaterReckoned) -> str:
    shares = {"then": _share(water.fraction), "now": _share(water.now), "freezable": _share(water.freezable)}
    if shares["then"] == shares["now"]:
        text = say("Water: {then} of the mix by volume, of which {freezable} can freeze.", **shares)
    else:
        text = say(
            "Water: {then} of the mix by volume when the frost comes ({now} now), of which {freezable} can freeze.",
            **shares,
        )
    before = say(
        "The garden file's word stands for {kept}; in the weather's past days {rained} mm of rain came in, and sun and "
        "wind asked for {dried} mm of a moist mix.",
        kept=_share(water.kept_at),
        rained=f"{water.rained_mm:.0f}",
        dried=f"{water.dried_mm:.0f}",
    )
    soaked = say("Rain soaks fleece and mats tonight.") if water.covers_wet else ""
    return " ".join(filter(None, (text, before, soaked)))


def _wind(wind: WindReckoned, units: Units) -> Iterator[str]:
    yield say(
        "Weight: about {now} now; for lifting {soaked} is reckoned, soaked and on the heavy side.",
        now=measures.weight(wind.weight_now_kg, units),
        soaked=measures.weight(wind.weight_soaked_kg, units),
    )
    if isinf(wind.topples_at_m_s):
        return
    yield say(
        "Wind: a gust of {bare} {unit} at the pot tips it, {hooded} {unit} under a hood, with the mix half dried out; "
        "the strongest expected there tonight is {expected} {unit}.",
        bare=measures.wind(wind.topples_at_m_s, units),
        hooded=measures.wind(wind.topples_hooded_at_m_s, units),
        expected=measures.wind(wind.strongest_gust_m_s, units),
        unit="mph" if units is Units.IMPERIAL else "m/s",
    )


def _resistances(reckoned: Reckoned) -> str:
    return say(
        "Resistance to heat in m²K/W: wall {wall}, wraps {wraps}, over the mix {top} (mulch and hood), below {base}.",
        wall=f"{reckoned.wall_m2_k_w:.3f}",
        wraps=f"{reckoned.wraps_m2_k_w:.2f}",
        top=f"{reckoned.top_m2_k_w:.2f}",
        base=f"{reckoned.base_m2_k_w:.2f}",
    )


def _sky(sky: SkyReckoned | None) -> Iterator[str]:
    if sky is None:
        return
    values = {
        "sent": f"{sky.sent_w_m2:.0f}",
        "low": f"{sky.lowest_w_m2:.0f}",
        "high": f"{sky.highest_w_m2:.0f}",
        "side": _share(sky.seen_by_side),
        "top": _share(sky.seen_by_top),
    }
    if sky.told:
        yield say(
            "Sky: it sends {sent} W/m² at the coldest hour, as the weather service tells; the barest strip of the side "
            "sees it with {side} of its view, the mix with {top}.",
            **values,
        )
    else:
        yield say(
            "Sky: it sends {sent} W/m² at the coldest hour by the formula used; others say {low} to {high}. The barest "
            "strip of the side sees it with {side} of its view, the mix with {top}.",
            **values,
        )


def _snow(reckoned: Reckoned, units: Units) -> Iterator[str]:
    if max(reckoned.snow_on_top_m, reckoned.snow_beside_m) <= 0.0:
        return
    inch = units is Units.IMPERIAL
    yield say(
        "Snow counted on: {top} {unit} on the mix, {beside} {unit} against the side.",
        top=f"{reckoned.snow_on_top_m * (39.37 if inch else 100.0):.0f}",
        beside=f"{reckoned.snow_beside_m * (39.37 if inch else 100.0):.0f}",
        unit=say("in") if inch else say("cm"),
    )


def _special(reckoned: Reckoned, units: Units) -> Iterator[str]:
    if reckoned.corner_k >= NEGLIGIBLE_K:
        yield say(
            "Corners: {change} colder than the ring of the table above at the coldest hour; the limits are held "
            "against the corner.",
            change=measures.difference(reckoned.corner_k, units),
        )
    for depth in reckoned.bulbs_at_m:
        yield say("Bulbs: judged {depth} cm deep, 3 cm within the wall.", depth=f"{100.0 * depth:.0f}")
    if reckoned.thaws_behind:
        yield say_count(
            "Outer roots and wall have frozen and thawed once in the weather's past days.",
            "Outer roots and wall have frozen and thawed {count} times in the weather's past days.",
            reckoned.thaws_behind,
        )
    if reckoned.dew_warms_k >= NEGLIGIBLE_K:
        yield say(
            "Dew and hoar keep the leaves {change} warmer at the coldest hour.",
            change=measures.difference(reckoned.dew_warms_k, units),
        )
