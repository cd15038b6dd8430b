"""What hangs on the firsts and lasts of a season in this very garden: by its plants, pots and saucers.

The marks are common practice of gardeners, given with each; where a service publishes one it is named.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from enum import Enum

from frostguard.garden.model import Garden, Planting, Pot
from frostguard.hardiness.limits import Limits, load_limits, taxon_from_rating
from frostguard.hardiness.model import MovedLight
from frostguard.hardiness.taxon import Foliage, Habit, Taxon
from frostguard.report.jobs import pot_name
from frostguard.report.words import all_of, say, say_count

FIRST_NIGHTS_C = (12.0, 10.0, 7.0, 5.0, 2.0, 0.0, -2.0, -5.0)
"""Marks of the autumn's nights [degC]."""

MOST_NAMED = 10
"""Pots that are named in one line; a longer list is not read."""

TENDER_ABOVE_C = -1.5
"""Leaves that stand no colder are lost in the first frost; estimate, above the spread of "tender" in the table."""

HALF_HARDY_ABOVE_C = -5.5
"""Leaves such as an oleander's, which stand a light frost; estimate after its limit of -5 degC."""

LAST_WAVE_ABOVE_C = -10.5
"""Leaves such as an olive's or a bay's, brought in for hard frost alone; estimate after their limits."""

NEEDS_FEET = 3
"""Pots without feet from which it is told as a job of its own; estimate."""


class Wave(Enum):
    """When a plant is brought in, by the night that calls for it [degC]; None stays out or ends with the frost."""

    CHILLED = 10.0  # suffers without frost: about 10 degC (extension services; weak sources give 7)
    CITRUS = 5.0  # citrus societies
    TENDER = 2.0  # before the first frost: geraniums, fuchsias
    HALF_HARDY = -2.0  # oleander: as soon as -2 degC is announced (trade)
    LAST = -5.0  # olive, bay, fig: only for hard frost, as late as can be (common practice)


def first_night_jobs(mark_c: float, garden: Garden) -> list[str]:
    """The jobs that hang on the first night of a mark, whole sentences; those that this garden has."""
    jobs = _JOBS.get(mark_c)
    told = [] if jobs is None else jobs(garden)
    return told + _bring_in(mark_c, garden)


def warm_night_jobs(garden: Garden) -> list[str]:
    """What may go out again after the last night of 5 degC."""
    pots = [pot for pot in garden.pots if _wave(pot) is Wave.CITRUS]
    if not pots:
        return []
    return [
        say("Out again on a dull day, in shade for a week, so that leaves do not scorch: {pots}.", pots=_named(pots))
    ]


def last_frost_jobs(garden: Garden) -> list[str]:
    """What waits for the last frost."""
    told = [say("Plant out tender bedding and vegetables that have been hardened off.")]
    tender = [pot for pot in garden.pots if _wave(pot) in (Wave.TENDER, Wave.CHILLED)]
    if tender:
        told.append(say("Out again, first in the shade: {pots}.", pots=_named(tender)))
    tubers = [pot for pot in garden.pots if _has_tubers(pot)]
    if tubers:
        told.append(say("Tubers out into their pots: {pots}.", pots=_named(tubers)))
    told.append(
        say("Write down what was lost: it tunes next winter. Wash, dry and label the fleece once it had its last use.")
    )
    return told


# --- the marks ---------------------------------------------------------------------------------------------


def _stop_feeding(garden: Garden) -> list[str]:
    """At 12 degC: late nitrogen keeps growth soft, and soft growth freezes first (nursery trials, 1984)."""
    told = [say("Stop feeding: what grows now does not harden before the frost.")]
    closed = [pot for pot in _outdoors(garden) if not pot.drain_hole]
    if closed:
        told.append(say("See that water can leave these pots: {pots}.", pots=_named(closed)))
    if any(_wave(pot) is not None for pot in _outdoors(garden)):
        told.append(say("Look under the leaves of all that will come in: pests come in with them."))
    return told


def _dry_feet(garden: Garden) -> list[str]:
    """At 7 degC, about the mean air at which pots no longer dry out (common practice)."""
    told = []
    saucers = [pot for pot in _outdoors(garden) if pot.saucer]
    if saucers:
        told.append(say("Saucers off, so that no pot stands in ice: {pots}.", pots=_named(saucers)))
    flat = [pot for pot in _outdoors(garden) if not pot.feet]
    if sum(pot.count for pot in flat) >= NEEDS_FEET:
        told.append(
            say_count(
                "Feet under pots that stand flat (1 pot), so that water leaves them.",
                "Feet under pots that stand flat ({count} pots), so that water leaves them.",
                sum(pot.count for pot in flat),
            )
        )
    reservoirs = [pot for pot in _outdoors(garden) if pot.wall == "self-watering"]
    if reservoirs:
        told.append(say("Drain the water reservoirs, or they burst: {pots}.", pots=_named(reservoirs)))
    return told


def _shut_the_water(garden: Garden) -> list[str]:
    """At 2 degC, one night before the first frost can come (common practice)."""
    return [say("Shut and drain taps, hoses, watering lines and barrels outdoors.")]


def _lift_tubers(garden: Garden) -> list[str]:
    """At 0 degC: once tops are black and before the pot itself freezes (extension services)."""
    tubers = [pot for pot in _outdoors(garden) if _has_tubers(pot)]
    if not tubers:
        return []
    return [say("Lift tubers once their tops are black, and store them frost-free: {pots}.", pots=_named(tubers))]


def _winter_quarters(garden: Garden) -> list[str]:
    """At -2 degC: nurseries cover some weeks after the first frost, so that plants can harden (extension trials)."""
    return [
        say("Winter quarters: pots together and against the wall, mulch on the mix, tall pots tied."),
        say("Wrap small and dear pots now, while their mix is not frozen; keep fleece off until it is needed."),
    ]


_JOBS: dict[float, Callable[[Garden], list[str]]] = {
    12.0: _stop_feeding,
    7.0: _dry_feet,
    2.0: _shut_the_water,
    0.0: _lift_tubers,
    -2.0: _winter_quarters,
}


def _bring_in(mark_c: float, garden: Garden) -> list[str]:
    """The wave of plants that this mark calls in."""
    pots = [pot for pot in _outdoors(garden) if (wave := _wave(pot)) is not None and wave.value == mark_c]
    if not pots:
        return []
    if mark_c <= Wave.LAST.value:
        return [say("Bring in, or under a roof and wrapped, these last ones: {pots}.", pots=_named(pots))]
    return [say("Bring in: {pots}.", pots=_named(pots))]


# --- which plant belongs where -------------------------------------------------------------------------


def _wave(pot: Pot) -> Wave | None:
    """The earliest wave of any plant in the pot."""
    waves = [wave for planting in pot.plantings if (wave := _wave_of(_taxon(planting, load_limits()))) is not None]
    return max(waves, default=None, key=lambda wave: wave.value)


def _wave_of(taxon: Taxon) -> Wave | None:
    if taxon.habit in (Habit.ANNUAL, Habit.TUBER, Habit.BULB) or taxon.moved_light is MovedLight.STAY_OUT:
        return None
    if taxon.chill is not None:
        return Wave.CHILLED
    leaf_c = taxon.leaf_hardened.temperature_c
    if taxon.group == "citrus" and leaf_c > LAST_WAVE_ABOVE_C:
        return Wave.CITRUS
    if leaf_c >= TENDER_ABOVE_C:
        return Wave.TENDER
    if leaf_c >= HALF_HARDY_ABOVE_C:
        return Wave.HALF_HARDY
    keeps_leaves = taxon.foliage is not Foliage.DECIDUOUS or taxon.group == "mediterranean"
    return Wave.LAST if leaf_c >= LAST_WAVE_ABOVE_C and keeps_leaves else None


def _has_tubers(pot: Pot) -> bool:
    return any(_taxon(planting, load_limits()).habit is Habit.TUBER for planting in pot.plantings)


def _taxon(planting: Planting, table: Limits) -> Taxon:
    if planting.taxon is not None:
        return table.taxon(planting.taxon)
    assert planting.rating is not None, "the reader lets no plant through without taxon or rating"
    return taxon_from_rating(planting.rating)


def _outdoors(garden: Garden) -> list[Pot]:
    indoors = {spot.name for spot in garden.spots if spot.room is not None}
    return [pot for pot in garden.pots if pot.spot not in indoors]


def _named(pots: Iterable[Pot]) -> str:
    names = [pot_name(pot.label, pot.count) for pot in pots]
    if len(names) <= MOST_NAMED:
        return all_of(names)
    rest = len(names) - MOST_NAMED
    return all_of([*names[:MOST_NAMED], say_count("1 more", "{count} more", rest)])
