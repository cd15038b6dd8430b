"""The rounds of planning of an evening: which nights each answers to, when its work is done, and what is open then."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from datetime import timedelta

import numpy as np

from frostguard.advice.deadlines import WorkTime
from frostguard.advice.evening import FROZEN, ICY, Evening
from frostguard.advice.gale import gusts_by_spot, topple_on_feet, topple_with_hood
from frostguard.advice.hands import NIGHTS_AHEAD, nights_by_lamp, nights_served, window_for, work_before
from frostguard.advice.nights import utc64
from frostguard.advice.occasion import SPELL_TISSUES, TONIGHT_TISSUES, Occasion, Round
from frostguard.advice.option import Circumstances
from frostguard.advice.plan import Batch
from frostguard.advice.spell import Spell, outer_roots_hurt_already
from frostguard.advice.state import Told
from frostguard.advice.stay import briefly_in, first_harmless_night, may_stand_warm
from frostguard.advice.supplies import supplies_of
from frostguard.garden.settings import Settings
from frostguard.hardiness.model import Tissue

MILD_ENOUGH_TO_WATER_C = 4.0
"""Water only while the air is above this; common practice."""


def round_tonight(
    evening: Evening, settings: Settings, told: frozenset[Told] = frozenset()
) -> Round | None:
    """The coming night's round, and that of the nights after it before which nobody comes; None where nobody can work.
    """
    work = work_before(evening, settings, 0)
    if work is None:
        return None
    occasion = _occasion(evening, work, Batch.TONIGHT, nights_served(evening, settings, 0), TONIGHT_TISSUES)
    return Round(occasion, _circumstances(evening, settings, occasion, told, dark=work.dark), _all_pots(evening))


def round_now(evening: Evening, settings: Settings) -> Round:
    """As if what is done were done at once, by daylight: for trying out where nobody has time."""
    occasion = Occasion(Batch.TONIGHT, evening.now, (0,), TONIGHT_TISSUES)
    return Round(occasion, _circumstances(evening, settings, occasion, frozenset(), dark=False), _all_pots(evening))


def round_ahead(evening: Evening, settings: Settings, told: frozenset[Told] = frozenset()) -> Round | None:
    """What is done by daylight only, for nights before which there is no more of it; None where there are none."""
    nights, work = nights_by_lamp(evening, settings), work_before(evening, settings, 0)
    if not nights or work is None:
        return None
    occasion = _occasion(evening, work, Batch.AHEAD, nights, TONIGHT_TISSUES)
    about = _circumstances(evening, settings, occasion, told, dark=work.dark)
    return Round(occasion, about, _all_pots(evening))


def round_before(
    evening: Evening, settings: Settings, spell: Spell | None, told: frozenset[Told] = frozenset()
) -> Round | None:
    """The round of a coming spell; None where it lies too far ahead, or nobody can work before it."""
    if spell is None or spell.first > NIGHTS_AHEAD:
        return None
    window = window_for(evening, settings, spell.first)
    work = None if window is None else work_before(evening, settings, window)
    if window is None or work is None:
        return None
    # once it has begun outer roots are past caring for; only what endangers whole plants still counts
    tissues = SPELL_TISSUES - {Tissue.YOUNG_ROOT} if spell.began else SPELL_TISSUES
    occasion = _occasion(evening, work, Batch.BEFORE_SPELL, spell.nights, tissues)
    about = _circumstances(evening, settings, occasion, told, dark=work.dark)
    pots = tuple(pot for pot in _all_pots(evening) if not outer_roots_hurt_already(evening, pot))
    return Round(occasion, about, pots, window=window)


def round_tomorrow(
    evening: Evening, settings: Settings, busy: Collection[int], told: frozenset[Told] = frozenset()
) -> Round | None:
    """Asked too late for some or all of tonight's work: the next night's, for pots that have no job; else None."""
    tonight = work_before(evening, settings, 0)
    if (tonight is not None and not tonight.dark) or len(evening.nights) < 2:
        return None
    work = work_before(evening, settings, 1)
    if work is None:
        return None
    occasion = _occasion(evening, work, Batch.TOMORROW, nights_served(evening, settings, 1), TONIGHT_TISSUES)
    occasion = replace(occasion, before=(0,))  # what tonight does to them is done by then
    about = _circumstances(evening, settings, occasion, told, dark=work.dark)
    return Round(occasion, about, tuple(pot for pot in _all_pots(evening) if pot not in busy), window=1)


def _all_pots(evening: Evening) -> tuple[int, ...]:
    return tuple(range(len(evening.pots)))


def _occasion(
    evening: Evening, work: WorkTime, batch: Batch, nights: tuple[int, ...], tissues: frozenset[Tissue]
) -> Occasion:
    """A round's occasion whose jobs are done in that window."""
    return Occasion(
        batch,
        _start_hour(evening, work),
        nights,
        tissues,
        earliest_hour=_earliest_hour(evening, work),
        done_hour=max(evening.terrace.hour_at(work.ends), evening.now),
    )


def _start_hour(evening: Evening, work: WorkTime) -> int:
    """The whole hour by which the work is done, and from which it acts; the horizon at the latest."""
    done = utc64(work.ends)
    hour = int(np.searchsorted(evening.terrace.times, done, side="left"))
    return min(max(hour, evening.now), evening.terrace.times.size - 2)


def _earliest_hour(evening: Evening, work: WorkTime) -> int:
    """The whole hour nearest to when work can begin, from which what is done first acts."""
    half_an_hour_before = utc64(work.begins - timedelta(minutes=29))
    return max(int(np.searchsorted(evening.terrace.times, half_an_hour_before, side="left")), evening.now)


def _circumstances(
    evening: Evening, settings: Settings, occasion: Occasion, told: frozenset[Told], *, dark: bool
) -> Circumstances:
    step = occasion.start_hour - evening.run.first
    frozen = np.median(evening.run.frozen_fraction[step], axis=1)
    first = evening.now if occasion.earliest_hour is None else min(occasion.earliest_hour, occasion.start_hour)
    at_work = slice(first, occasion.start_hour + 1)
    warmest = np.median(evening.terrace.outdoor.air_temperature_c[at_work].max(axis=0))
    gusts = gusts_by_spot(evening, occasion.nights)
    backs = {
        row: first_harmless_night(evening, row, occasion.nights, occasion.tissues) for row in _all_pots(evening)
    }
    return Circumstances(
        garden=evening.garden,
        catalogue=evening.catalogue,
        settings=settings,
        supplies=supplies_of(evening.garden, evening.catalogue),
        taxa=evening.taxa,
        frozen=frozenset(pot.id for pot, share in zip(evening.pots, frozen, strict=True) if share > FROZEN),
        icy=frozenset(pot.id for pot, share in zip(evening.pots, frozen, strict=True) if share > ICY),
        mild_enough_to_water=not dark and float(warmest) > MILD_ENOUGH_TO_WATER_C,
        dark=dark,
        topple_with_hood_m_s=topple_with_hood(evening),
        topple_on_feet_m_s=topple_on_feet(evening),
        gust_m_s=gusts,
        told=told,
        briefly_in=frozenset(
            evening.pots[row].id for row, back in backs.items() if briefly_in(evening, row, occasion.nights, back)
        ),
        stand_warm=frozenset(
            evening.pots[row].id for row, back in backs.items() if may_stand_warm(evening, row, occasion.nights, back)
        ),
    )
