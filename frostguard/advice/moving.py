"""Shifting and carrying pots: who can, whereto, and why one that is at risk is not carried in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from frostguard.advice.option import Circumstances, Option, Step, pot_weight_kg
from frostguard.advice.plan import Caution, NoJob, Protection
from frostguard.advice.situation import Situation
from frostguard.advice.supplies import Needs
from frostguard.garden.catalogue import Catalogue
from frostguard.garden.model import Beneath, Garden, Neighbours, Shape, Spot
from frostguard.garden.settings import Settings
from frostguard.hardiness.model import MovedLight
from frostguard.hardiness.taxon import Taxon
from frostguard.physics.stability import WayToMove, way_to_move

HEAVIEST_KG = 90.0
"""Nothing heavier is ever moved in a night's work; estimate."""

WARM_ROOM_C = 10.0
"""A room kept above this softens what is not tender; common practice."""

COLD_FLOORS = frozenset({Beneath.OPEN_AIR, Beneath.DECKING, Beneath.NOTHING})
"""Floors that are as cold as the air."""

OFF_THE_FLOOR = frozenset({Shape.HANGING, Shape.RAILING_BOX})
"""What stands on no floor, so that it can be neither slid nor wheeled."""


def handling(
    situation: Situation, about: Circumstances, minutes: float
) -> tuple[int, float, tuple[Caution, ...]] | None:
    """Hands, minutes and cautions for shifting a pot; None where it must stay: too heavy, or dark."""
    weight = pot_weight_kg(situation, about.catalogue)
    count = situation.pot.count
    if situation.pot.shape in OFF_THE_FLOOR:
        return _lifting(weight, about, minutes * count)
    way = way_to_move(weight, lift_alone_kg=about.settings.lift_alone_kg)
    if way is WayToMove.ALONE:
        return 1, minutes * count, ()
    if about.dark or weight > HEAVIEST_KG:
        return None
    if way is WayToMove.SLIDE_OR_TROLLEY:
        return 1, 1.5 * minutes * count, (Caution.HEAVY,)
    if about.settings.people < 2:
        return None
    return 2, 2.0 * minutes * count, (Caution.HEAVY, Caution.TWO_PEOPLE)


def _lifting(weight_kg: float, about: Circumstances, minutes: float) -> tuple[int, float, tuple[Caution, ...]] | None:
    """The same for what hangs over a drop: lifted off by daylight only, by two where one must not lift it alone."""
    cautions = (Caution.OVER_A_DROP, Caution.FALLING_POTS)
    if about.dark:
        return None
    if weight_kg <= about.settings.lift_alone_kg:
        return 1, minutes, cautions
    if about.settings.people < 2 or weight_kg > 2.0 * about.settings.lift_alone_kg:
        return None
    return 2, 2.0 * minutes, (Caution.TWO_PEOPLE, *cautions)


def moves(situation: Situation, about: Circumstances, *, rooms: bool) -> Iterator[Option]:
    """Every spot that has floor and light for the pot."""
    pot = situation.pot
    handled = handling(situation, about, 3.0)
    if handled is None:
        return
    people, minutes, cautions = handled
    for spot in about.garden.spots:
        indoors = spot.room is not None
        if spot.name == situation.spot or spot.escape_route or (indoors and not rooms):
            continue
        if not indoors and about.garden.spot(situation.spot).room is not None:
            continue  # nobody carries out what is to be kept from the cold
        short, stands_warm = pot.id in about.briefly_in, pot.id in about.stand_warm
        if not _bearable(spot, about.taxa[pot.id], short=short, stands_warm=stands_warm):
            continue
        if _as_bare(spot, about.garden.spot(situation.spot)):
            continue
        yield _carried(spot, situation, about, (people, minutes, cautions))


def carried_to(name: str, situation: Situation, about: Circumstances) -> Option:
    """The pot at another spot, whatever its weight, floor and light: for trying out only."""
    handled = handling(situation, about, 3.0) or (2, 6.0 * situation.pot.count, (Caution.HEAVY,))
    return _carried(about.garden.spot(name), situation, about, handled)


def _carried(
    spot: Spot, situation: Situation, about: Circumstances, handled: tuple[int, float, tuple[Caution, ...]]
) -> Option:
    pot, indoors = situation.pot, spot.room is not None
    people, minutes, cautions = handled
    inside = _indoor_cautions(about.taxa[pot.id]) if indoors else ()
    there = replace(
        situation,
        spot=spot.name,
        neighbours=Neighbours.ROW,
        over_plant=() if indoors else situation.over_plant,
    )
    step = Step(Protection.MOVE, minutes, people, (), (*cautions, *inside))
    needs = Needs(floor=((spot.name, pot.floor_m2 * pot.count),))
    missed = _too_dark(spot, about.taxa[pot.id])
    return Option(there, (step,), needs, to_spot=spot.name, indoors=indoors, misses_light=missed)


def no_move_because(
    situation: Situation,
    taxa: tuple[Taxon, ...],
    garden: Garden,
    catalogue: Catalogue,
    settings: Settings,
    dark: bool,
    *,
    briefly_in: bool,
    stands_warm: bool,
) -> NoJob:
    """Why a pot at risk that nothing on the spot helps is not carried in either."""
    inside = garden.spot(situation.spot).room is not None
    rooms = [
        spot
        for spot in garden.spots
        if spot.room is not None
        and spot.name != situation.spot
        and not spot.escape_route
        and spot.free_floor_m2
        and _bearable(spot, taxa, short=briefly_in, stands_warm=stands_warm)
    ]
    if not rooms:
        return NoJob.ROOM_TOO_COLD if inside else NoJob.NO_ROOM
    weight = pot_weight_kg(situation, catalogue)
    way = way_to_move(weight, lift_alone_kg=settings.lift_alone_kg)
    alone = way is WayToMove.ALONE
    over_a_drop = situation.pot.shape in OFF_THE_FLOOR
    if over_a_drop and not alone and (settings.people < 2 or weight > 2.0 * settings.lift_alone_kg):
        return NoJob.TOO_HEAVY
    if (way is WayToMove.TWO_PEOPLE and settings.people < 2) or weight > HEAVIEST_KG:
        return NoJob.TOO_HEAVY
    if dark and (over_a_drop or not alone):
        return NoJob.TOO_DARK
    pot = situation.pot
    if all((spot.free_floor_m2 or 0.0) < pot.floor_m2 * pot.count for spot in rooms):
        return NoJob.ROOM_TOO_COLD if inside else NoJob.NO_ROOM
    return NoJob.NOTHING_HELPS


def _as_bare(there: Spot, here: Spot) -> bool:
    """Whether another place outdoors has no less wind, no less open sky and no warmer floor: nobody carries there."""
    if there.room is not None or here.room is not None:
        return False
    warmer_floor = there.beneath is not here.beneath and there.beneath not in COLD_FLOORS
    return (
        there.wind_fraction >= here.wind_fraction
        and there.sky_view >= here.sky_view
        and not warmer_floor
        and (here.against_house_wall or not there.against_house_wall)
    )


def _bearable(spot: Spot, taxa: tuple[Taxon, ...], *, short: bool, stands_warm: bool) -> bool:
    """Whether every plant of the pot can stand there for some days: not too warm, and light unless for a short stay."""
    if spot.room is None:
        return True
    needs = {taxon.moved_light for taxon in taxa}
    lowest = spot.room.lowest_c
    heated = lowest is not None
    warm = lowest is not None and lowest >= WARM_ROOM_C
    softens = MovedLight.STAY_OUT in needs or any("warm rooms" in taxon.resents for taxon in taxa)
    light_enough = short or not _too_dark(spot, taxa)
    too_warm = warm and (softens or not stands_warm)
    return light_enough and not (heated and MovedLight.STAY_OUT in needs) and not too_warm


def _too_dark(spot: Spot, taxa: tuple[Taxon, ...]) -> bool:
    """Whether a plant of the pot cannot winter there for want of light."""
    return spot.dark and any(taxon.moved_light is MovedLight.BRIGHT for taxon in taxa)


def _indoor_cautions(taxa: tuple[Taxon, ...]) -> tuple[Caution, ...]:
    cautions = [Caution.DOOR, Caution.ESCAPE_ROUTE]
    if any(taxon.poisonous for taxon in taxa):
        cautions.append(Caution.POISON)
    if any(taxon.spiny for taxon in taxa):
        cautions.append(Caution.SPINES)
    return tuple(cautions)
