"""How long a pot that is carried off has to stay there, whether it is warm enough for so long, and light enough."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from frostguard.advice.evening import Evening
from frostguard.advice.occasion import Occasion
from frostguard.advice.option import Option
from frostguard.advice.outlook import loss_of
from frostguard.advice.plan import OUTER_ROOTS_RISK
from frostguard.advice.spell import outer_root_chance
from frostguard.advice.trial import Outcome
from frostguard.garden.model import Light, Planting
from frostguard.hardiness.hardening import Season
from frostguard.hardiness.model import MovedLight, Tissue
from frostguard.hardiness.strain import dark_days
from frostguard.hardiness.taxon import Foliage, Taxon

SAFE_CHANCE = 0.05
"""Chance of harm below which a pot that was carried in may go back for the night; estimate."""

TENDER_C = -4.0
"""Plants whose leaves stand no more than this winter indoors: citrus, pelargoniums, fuchsias; estimate."""

WET_LEAF_K = 2.0
"""How far below the air of a room a leaf may be that dries there: the wet bulb at 5 degC and 70 %; estimate."""

SPREADS = 2.0
"""Spreads of a limit above it at which hardly one plant in fifty is harmed: `damage.chance_of_damage`."""


def first_harmless_night(
    evening: Evening, row: int, nights: Sequence[int], tissues: frozenset[Tissue]
) -> int | None:
    """The first of the nights that are all harmless outdoors, up to the last one in sight; None where there is none.

    Parameters
    ----------
    evening : Evening
    row : int
        Position of the pot.
    nights : sequence of int
        The nights it is carried in for, which it is never out before.
    tissues : frozenset of Tissue
        What it is carried in for: outer roots count only among these.
    """
    back: int | None = None
    for night in reversed(range(nights[-1] + 1, len(evening.nights))):
        judged = evening.judgements[night][row]
        outer_roots = Tissue.YOUNG_ROOT in tissues and outer_root_chance(judged) >= OUTER_ROOTS_RISK
        if outer_roots or loss_of(judged, 1)[0] >= SAFE_CHANCE:
            return back
        back = night
    return back


def through_its_stay(evening: Evening, occasion: Occasion, row: int, option: Option) -> Occasion:
    """The occasion with the later nights in sight that a pot stands through where the option has it carried to.

    Without them where it stays in its place, is back before them, or goes to a room that is warm enough all the time.
    """
    if option.to_spot is None:
        return occasion
    back = first_harmless_night(evening, row, occasion.nights, occasion.tissues)
    if stays_for_the_winter(evening, row, option):
        back = None
    later = range(occasion.nights[-1] + 1, len(evening.nights) if back is None else back)
    if not later or _surely_warm(evening, occasion, row, option.to_spot):
        return occasion
    return replace(occasion, later=tuple(later))


def _surely_warm(evening: Evening, occasion: Occasion, row: int, spot: str) -> bool:
    """Whether the air of a room never comes near a limit: nothing in it gets colder than that, but for wet leaves."""
    there = evening.terrace.spots[spot]
    if not there.indoors:
        return False
    coldest = float(there.hours.air_temperature_c[occasion.start_hour :].min())
    return all(
        coldest > limit.limit_c + SPREADS * limit.spread_k + WET_LEAF_K
        for _, limits in evening.limits[row]
        for limit in limits
        if limit.tissue in occasion.tissues
    )


def first_night_too_cold(occasion: Occasion, outcome: Outcome) -> int | None:
    """The first later night in which it gets too cold where the pot was carried to, and colder than at first."""
    bearable = max(SAFE_CHANCE, outcome.chance)
    pairs = zip(occasion.later, outcome.later_chances, strict=True)
    return next((night for night, chance in pairs if chance > bearable), None)


def stays_for_the_winter(evening: Evening, row: int, option: Option) -> bool:
    """Whether a pot, once carried in, is not carried out again for a mild spell, as tender plants are not.

    It is where the place is too dark for its plants to winter there.
    """
    if not option.indoors or evening.season is Season.SPRING:
        return False
    tender = any(map(winters_indoors, evening.taxa[evening.pots[row].id]))
    room = next(spot.room for spot in evening.garden.spots if spot.name == option.to_spot)
    dark = room is not None and room.light is Light.DARK
    return tender and not (dark and days_in_the_dark(evening, row) is not None)


def winters_indoors(taxon: Taxon) -> bool:
    """Whether a plant is tender, and may stand indoors."""
    return taxon.moved_light is not MovedLight.STAY_OUT and taxon.leaf_hardened.temperature_c > TENDER_C


def briefly_in(evening: Evening, row: int, nights: Sequence[int], tissues: frozenset[Tissue]) -> bool:
    """Whether a pot carried in for these nights is out again, as far as can be seen, before it misses the light."""
    days, back = days_in_the_dark(evening, row), first_harmless_night(evening, row, nights, tissues)
    return back is not None and (days is None or back - nights[0] < days)


def days_in_the_dark(evening: Evening, row: int) -> int | None:
    """Days that all plants of a pot stand in the dark without lasting harm; None for as long as they rest."""
    pot = evening.pots[row]
    days = (
        dark_days(taxon.moved_light, keeps_leaves=keeps_leaves(planting, taxon))
        for planting, taxon in zip(pot.plantings, evening.taxa[pot.id], strict=True)
    )
    return min((day for day in days if day is not None), default=None)


def keeps_leaves(planting: Planting, taxon: Taxon) -> bool:
    """Whether a plant stands in leaf all winter: by the gardener's word, else by its kind."""
    return taxon.foliage is not Foliage.DECIDUOUS if planting.evergreen is None else planting.evergreen
