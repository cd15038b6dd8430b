"""How long a pot that is carried off has to stay there, whether it is warm enough for so long, and light enough."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from frostguard.advice.evening import Evening
from frostguard.advice.occasion import Occasion
from frostguard.advice.option import Option
from frostguard.advice.outlook import Judgement, loss_of
from frostguard.advice.plan import OUTER_ROOTS_RISK
from frostguard.advice.spell import outer_root_chance
from frostguard.advice.trial import Outcome
from frostguard.garden.model import Planting, Stage
from frostguard.hardiness.hardening import Season
from frostguard.hardiness.model import MovedLight, Tissue
from frostguard.hardiness.strain import dark_days, dark_days_left
from frostguard.hardiness.taxon import Foliage, Taxon

SAFE_CHANCE = 0.05
"""Chance of harm below which a pot that was carried in may go back for the night; estimate."""

SOON = 3
"""Nights after a pot is carried back that must be so harmless; estimate."""

TRIP_CHANCE = 0.25
"""Chance of harm in a night after those from which a pot rather stays in than is carried out and in again: so far ahead
a few in a hundred are only the doubt of the forecast; estimate."""

WARM_ROOM_NIGHTS = 2
"""Nights that a plant which does not winter indoors stands in a heated room without softening; common practice."""

SHOOTING_DARK_D = 3
"""Days in the dark after which what is in growth draws out pale and long; estimate."""

WEEK = 6
"""Nights in sight that tell how long a stay may last whose end is not seen; estimate."""

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

    Those soon after it have to be harmless beyond doubt, later ones only not likely to call for another trip.

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
    first = nights[-1] + 1
    chances = [_chance_outdoors(evening.judgements[night][row], tissues) for night in range(first, len(evening.nights))]
    for days in range(len(chances)):
        soon, later = chances[days : days + SOON], chances[days + SOON :]
        if max(soon) < SAFE_CHANCE and max(later, default=0.0) < TRIP_CHANCE:
            return first + days
    return None


def _chance_outdoors(judged: Sequence[Judgement], tissues: frozenset[Tissue]) -> float:
    """The chance of damage in a night, outer roots among the tissues as a whole plant from their own threshold on."""
    if Tissue.YOUNG_ROOT in tissues and outer_root_chance(judged) >= OUTER_ROOTS_RISK:
        return 1.0
    return loss_of(judged, 1)[0]


def through_its_stay(evening: Evening, occasion: Occasion, row: int, option: Option, back: int | None) -> Occasion:
    """The occasion with the later nights in sight that a pot stands through in the room that it would be carried to.

    Without them where it stays outdoors, where more can be done for it on the evening itself, is back before them, or
    goes to a room that is warm enough all the time. `back` is the first night that is harmless outdoors.
    """
    if option.to_spot is None or not option.indoors:
        return occasion
    if stays_for_the_winter(evening, row, option):
        back = None
    later = range(occasion.nights[-1] + 1, len(evening.nights) if back is None else back)
    if not later or _surely_warm(evening, occasion, row, option.to_spot):
        return occasion
    return replace(occasion, later=tuple(later))


def _surely_warm(evening: Evening, occasion: Occasion, row: int, spot: str) -> bool:
    """Whether the air of a room never comes near a limit: nothing in it gets colder than that, but for wet leaves."""
    coldest = float(evening.terrace.spots[spot].hours.air_temperature_c[occasion.start_hour :].min())
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
    if option.to_spot is None or not option.indoors or evening.season is Season.SPRING:
        return False
    too_dark = evening.garden.spot(option.to_spot).dark and days_in_the_dark(evening, row) is not None
    return not too_dark and any(map(winters_indoors, evening.taxa[evening.pots[row].id]))


def may_stand_warm(evening: Evening, row: int, nights: Sequence[int], back: int | None) -> bool:
    """Whether a heated room does not soften a pot carried in for these nights: it winters indoors, or is soon out."""
    if all(map(winters_indoors, evening.taxa[evening.pots[row].id])):
        return True
    return back is not None and back - nights[0] <= WARM_ROOM_NIGHTS


def winters_indoors(taxon: Taxon) -> bool:
    """Whether a plant is tender, and may stand indoors."""
    return taxon.moved_light is not MovedLight.STAY_OUT and taxon.leaf_hardened.temperature_c > TENDER_C


def briefly_in(evening: Evening, row: int, nights: Sequence[int], back: int | None) -> bool:
    """Whether a pot carried in for these nights is out again, as far as can be seen, before it misses the light.

    Of a hardy plant that holds, too, where a week of frost has no end in sight: it goes out again when the spell is
    over, and rather stands a week in the dark than a frost that kills it. What is tender would be in for the winter.
    """
    days, nights_in_sight = days_in_the_dark(evening, row), len(evening.nights) - nights[0]
    if back is None:
        tender = any(map(winters_indoors, evening.taxa[evening.pots[row].id]))
        return not tender and days is not None and WEEK <= nights_in_sight < days
    return days is None or back - nights[0] < days


def days_in_the_dark(evening: Evening, row: int) -> int | None:
    """Days more that all plants of a pot stand in the dark without lasting harm; None for as long as they rest."""
    pot = evening.pots[row]
    seen = any(planting.stage not in (None, Stage.DORMANT) for planting in pot.plantings)
    if (seen or evening.season is Season.SPRING) and not at_rest(evening, row):
        return dark_days_left(SHOOTING_DARK_D, evening.dark_days_spent.get(pot.id, 0.0))
    days = (
        dark_days(taxon.moved_light, keeps_leaves=keeps_leaves(planting, taxon))
        for planting, taxon in zip(pot.plantings, evening.taxa[pot.id], strict=True)
    )
    stands = min((day for day in days if day is not None), default=None)
    return dark_days_left(stands, evening.dark_days_spent.get(pot.id, 0.0))


def at_rest(evening: Evening, row: int) -> bool:
    """Whether nothing in the pot is in growth: no soft leaves, and no bud further than dormant."""
    limits = [limit for _, of_plant in evening.limits[row] for limit in of_plant]
    soft = any(one.tissue is Tissue.LEAF and one.stage.endswith(("soft", Stage.NEW_SHOOTS.value)) for one in limits)
    return not soft and all(one.stage == Stage.DORMANT.value for one in limits if one.tissue is Tissue.BUD)


def keeps_leaves(planting: Planting, taxon: Taxon) -> bool:
    """Whether a plant stands in leaf all winter: by the gardener's word, else by its kind."""
    return taxon.foliage is not Foliage.DECIDUOUS if planting.evergreen is None else planting.evergreen
