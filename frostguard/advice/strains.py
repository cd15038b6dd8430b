"""What threatens beside cold: each strain that this evening's weather brings, as codes with the pots it meets."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.evening import FROZEN, Evening
from frostguard.advice.gale import gone_by_tonight, gusts_by_spot
from frostguard.advice.hands import NIGHTS_AHEAD
from frostguard.advice.moving import OFF_THE_FLOOR
from frostguard.advice.outlook import Judgement, Stretch, judge_pots, night_hours
from frostguard.advice.plan import ALMOST_CERTAIN, LIKELY, RISK
from frostguard.advice.planner import Choice
from frostguard.advice.protections import GALE_M_S
from frostguard.advice.reach import PLANT_LOST_WITH
from frostguard.advice.stay import days_in_the_dark, first_harmless_night, keeps_leaves
from frostguard.garden.model import Beneath, Planting, Pot, Stage, Wetness
from frostguard.hardiness import strain
from frostguard.hardiness.hardening import Season
from frostguard.hardiness.model import MovedLight, Tissue
from frostguard.hardiness.pace import WOODY, pace_of
from frostguard.hardiness.strain import BallShare
from frostguard.hardiness.taxon import Foliage, Habit, Sensitivity, Taxon
from frostguard.physics.sun import horizontal_beam_factor
from frostguard.physics.wall import freeze_thaw_cycles
from frostguard.weather.series import WeatherSeries

Array = NDArray[np.float64]

ROOFED = 0.2
"""Share of the sky over a spot up to which no snow falls there; a roof with open sides sees about 0.1 (estimate)."""

SNOW_AHEAD_H = 36
"""Snow and ice that fall within so many hours are worth tying a plant up for; estimate."""

TOO_SMALL_M = 0.6
"""Lower evergreens bend under snow and stand up again; estimate."""

SUN_BUDS = frozenset({"camellia-japonica", "camellia-sasanqua", "magnolia-stellata", "magnolia-soulangeana"})
SUN_GROUPS = frozenset({"ericaceous"})
"""Plants whose early flowers are known to suffer from morning sun; common practice."""


STORES_WATER = frozenset({"succulents"})
"""Evergreens that live on what is in their leaves."""


class Strain(Enum):
    """A threat beside cold; the code of its note, behind which stand the pots."""

    GALE = "gale over a drop"
    KILLED = "killed by past cold"
    LOST_LATER = "lost in a later night"
    DROUGHT = "evergreen drought"
    CLAY = "clay freezes and thaws"
    MORNING_SUN = "morning sun on frozen buds"
    WET_SNOW = "wet snow"
    FREEZING_RAIN = "freezing rain"
    SOAKED = "soaked before frost"
    DARK_ROOM = "dark room"
    DARK_TOO_LONG = "dark too long"
    WARM_ROOM = "warm room"
    STILL_FROZEN = "still frozen"
    HALF_BALL = "half the ball"
    WHOLE_BALL = "whole ball"


def strain_notes(evening: Evening, weather: WeatherSeries, choices: Sequence[Choice]) -> Iterator[str]:
    """Codes of this evening's strains, each with the labels of its pots behind colons."""
    carried_in = {choice.pot for choice in choices if choice.option.indoors}
    pots = [row for row in range(len(evening.pots)) if row not in carried_in]
    gone = gone_by_tonight(evening, choices)
    gusts = gusts_by_spot(evening, (0,))
    found = {
        Strain.GALE: [pot for pot in range(len(evening.pots)) if pot not in gone and _torn_at(evening, pot, gusts)],
        Strain.KILLED: _killed_in_the_past(evening),
        Strain.DROUGHT: [pot for pot in pots if dries_out(evening, pot)],
        Strain.CLAY: [pot for pot in pots if _clay_suffers(evening, pot)],
        Strain.MORNING_SUN: [pot for pot in pots if sun_on_buds(evening, pot)],
        Strain.SOAKED: [pot for pot in pots if _freezes_soaked(evening, weather, pot)],
        Strain.WARM_ROOM: [pot for pot in pots if _softens_indoors(evening, pot)],
        Strain.STILL_FROZEN: [pot for pot in pots if _still_frozen(evening, pot)],
        Strain.HALF_BALL: [pot for pot in pots if _ball_below(evening, pot) is BallShare.HALF],
        Strain.WHOLE_BALL: [pot for pot in pots if _ball_below(evening, pot) is BallShare.WHOLE],
    }
    yield from _snow_and_ice(evening, weather, gone)
    yield from _dark_rooms(evening, choices)
    for what, rows in found.items():
        if rows:
            yield _code(what, (evening.pots[row].label for row in rows))


def _code(what: Strain, labels: Iterable[str]) -> str:
    return ":".join((what.value, *dict.fromkeys(label.replace(":", " ") for label in labels)))


def _evergreens(evening: Evening, row: int) -> Iterator[tuple[Planting, Taxon]]:
    pot = evening.pots[row]
    for planting, taxon in zip(pot.plantings, evening.taxa[pot.id], strict=True):
        if keeps_leaves(planting, taxon):
            yield planting, taxon


def _ahead(evening: Evening, values: Array) -> Array:
    """Hours of the terrace from now to the last night, in all columns."""
    columns = evening.run.columns.size
    window = slice(evening.now, evening.now + evening.run.ring_c.shape[0])
    return np.broadcast_to(values[window], (evening.run.ring_c.shape[0], columns))


def dries_out(evening: Evening, row: int) -> bool:
    """Whether leaves of a pot lose water over its frozen ball for longer than its plants stand."""
    kinds = [taxon.dry for _, taxon in _evergreens(evening, row) if taxon.group not in STORES_WATER]
    hours = evening.terrace.spots[evening.pots[row].spot].hours
    if not kinds:
        return False
    beam = _ahead(evening, hours.direct_normal_w_m2) * horizontal_beam_factor(_ahead(evening, hours.sun_elevation_deg))
    sun = beam + _ahead(evening, hours.diffuse_horizontal_w_m2)
    drying = strain.drying_hours(evening.run.frozen_fraction[:, row], sun, _ahead(evening, hours.wind_speed_m_s))
    return float(np.median(drying)) >= min(strain.DROUGHT_TOLD_H[kind] for kind in kinds)


def _still_frozen(evening: Evening, row: int) -> bool:
    """A ball that is frozen as the question is asked, so that no job may keep its cold in."""
    return float(np.median(evening.run.frozen_fraction[0, row])) > FROZEN


def _clay_suffers(evening: Evening, row: int) -> bool:
    """Wet porous clay that freezes and thaws, the past weeks included."""
    pot = evening.pots[row]
    wall = evening.catalogue.walls[pot.wall]
    water = evening.catalogue.mixes[pot.mix].water_fraction
    soaks = evening.situations[row].water_fraction > 0.5 * (water["dry"] + water["moist"])
    if not wall.porous or wall.frost_proof or not soaks:
        return False
    past = np.median(evening.past.ring_c[:, row], axis=1)
    ahead = np.median(evening.run.ring_c[:, row], axis=1)
    return int(freeze_thaw_cycles(np.concatenate([past, ahead[1:]]))) >= strain.CLAY_CYCLES_TOLD


def sun_on_buds(evening: Evening, row: int) -> bool:
    """Whether the early sun meets the frozen buds of a pot whose flowers are known to suffer from it."""
    pot = evening.pots[row]
    if not any(
        taxon.key in SUN_BUDS or (taxon.group in SUN_GROUPS and taxon.foliage is not Foliage.DECIDUOUS)
        for taxon in evening.taxa[pot.id]
    ):
        return False
    open_buds = (Stage.BUDS_IN_COLOUR.value, Stage.OPEN_FLOWERS.value)
    if not any(j.limit.tissue is Tissue.BUD and j.limit.stage in open_buds for j in evening.judgements[0][row]):
        return False
    night = night_hours(evening.terrace, evening.run, evening.nights[0], evening.now)
    beam = _ahead(evening, evening.terrace.spots[pot.spot].hours.direct_normal_w_m2)
    thaws = strain.sun_thaws_buds(evening.run.leaf_c[night, row], beam[night])
    return bool(np.mean(thaws) >= 0.5)


def wet_snow_share(evening: Evening, weather: WeatherSeries) -> float:
    """Share of members in which enough wet snow falls to bend evergreens; 0 where the source tells no snow."""
    snow = weather.values.get("snowfall_cm")
    if snow is None:
        return 0.0
    window = slice(evening.now + 1, evening.now + 1 + SNOW_AHEAD_H)
    wet_cm = strain.wet_snow_cm(snow[:, window].T, weather.values["air_temperature_c"][:, window].T)
    return float(np.mean(wet_cm >= strain.WET_SNOW_TOLD_CM))


def rows_under_snow(evening: Evening) -> list[int]:
    """Outdoor pots with woody evergreens or palms that catch snow and are too tall to stand up by themselves."""
    return [
        row
        for row, pot in enumerate(evening.pots)
        if not evening.terrace.spots[pot.spot].indoors
        and evening.terrace.spots[pot.spot].sky_view > ROOFED
        and evening.situations[row].height_m >= TOO_SMALL_M
        and any(taxon.habit in (Habit.WOODY, Habit.PALM) for _, taxon in _evergreens(evening, row))
    ]


def _killed_in_the_past(evening: Evening) -> list[int]:
    """Pots whose plants the past weeks have almost certainly killed, if they stood there all the time.

    By today's limits, so not in spring, when a plant stands less than it did in the frosts that are past.
    """
    if evening.season is Season.SPRING:
        return []
    rows, columns = np.arange(len(evening.pots)), evening.terrace.middle_columns
    hours = np.ones(evening.past.ring_c.shape[0], dtype=np.bool_)
    past = Stretch(evening.past, rows, hours, columns % evening.past.columns.size)
    judged = judge_pots(evening.terrace, columns, evening.pots, evening.limits, [past])
    return [
        row
        for row, tissues in enumerate(judged)
        if any(one.limit.tissue in PLANT_LOST_WITH and float(one.chance.mean()) >= ALMOST_CERTAIN for one in tissues)
    ]


def first_night_lost(evening: Evening, row: int) -> int | None:
    """The first night not too far off that is likely to kill a pot's plants as it stands."""
    nights = range(min(len(evening.nights), NIGHTS_AHEAD + 1))
    return next((n for n in nights if evening.complete[n] and _likely_lost(evening.judgements[n][row])), None)


def lost_later(evening: Evening, nights: Mapping[int, int]) -> Iterator[str]:
    """Codes of pots, by position, that a later night is likely to kill with no place for them to go to, by night."""
    for night in sorted(set(nights.values())):
        labels = (evening.pots[row].label for row, its_night in nights.items() if its_night == night)
        yield _code(Strain.LOST_LATER, (evening.nights[night].date.isoformat(), *labels))


def _likely_lost(judged: Sequence[Judgement]) -> bool:
    return any(one.limit.tissue in PLANT_LOST_WITH and float(one.chance.mean()) >= LIKELY for one in judged)


def _torn_at(evening: Evening, row: int, gusts: Mapping[str, float]) -> bool:
    """Whether gusts of the coming night tear at a pot over a drop."""
    pot = evening.pots[row]
    hangs = pot.shape in OFF_THE_FLOOR or evening.garden.spot(pot.spot).beneath is Beneath.NOTHING
    return hangs and gusts[pot.spot] >= GALE_M_S


def _snow_and_ice(evening: Evening, weather: WeatherSeries, gone: Collection[int]) -> Iterator[str]:
    snow, rain = (weather.values.get(column) for column in ("snowfall_cm", "precipitation_mm"))
    if snow is None or rain is None:
        return
    window = slice(evening.now + 1, evening.now + 1 + SNOW_AHEAD_H)
    air = weather.values["air_temperature_c"][:, window].T
    glaze_mm = strain.freezing_rain_mm(rain[:, window].T, snow[:, window].T, air)
    loaded = [evening.pots[row].label for row in rows_under_snow(evening) if row not in gone]
    if loaded and wet_snow_share(evening, weather) >= 0.5:
        yield _code(Strain.WET_SNOW, loaded)
    if float(np.median(glaze_mm)) >= strain.FREEZING_RAIN_TOLD_MM:
        yield _code(Strain.FREEZING_RAIN, loaded)


def _freezes_soaked(evening: Evening, weather: WeatherSeries, row: int) -> bool:
    pot = evening.pots[row]
    if not any(taxon.wet is Sensitivity.HIGH for taxon in evening.taxa[pot.id]):
        return False
    rained_on = evening.terrace.spots[pot.spot].sky_view > 0.5
    rain = weather.values.get("precipitation_mm")
    week = slice(max(evening.now - 7 * 24, 0), evening.now + 1)
    fallen = 0.0 if rain is None or not rained_on else float(np.nansum(rain[:, week], axis=1).mean())
    drains = pot.drain_hole and not pot.saucer
    soaked = strain.is_soaked(wet=pot.wetness is Wetness.WET, drains=drains, rain_week_mm=fallen)
    frozen = float(np.median(evening.run.frozen_fraction[:, row].max(axis=0)))
    return soaked and frozen >= strain.SOAKED_FROZEN


def _dark_rooms(evening: Evening, choices: Sequence[Choice]) -> Iterator[str]:
    """Pots that stand in the dark, or are to be carried there, by the days that they stand it for."""
    by_days: dict[tuple[int, bool], list[str]] = {}
    for row, pot in enumerate(evening.pots):
        days = days_in_the_dark(evening, row)
        if days is not None and _is_dark(evening, row, choices):
            longest = max((_nights_away(evening, one) for one in choices if one.pot == row), default=0)
            by_days.setdefault((days, 0 < days < longest), []).append(pot.label)
    for (day, too_long), labels in sorted(by_days.items()):
        yield _code(Strain.DARK_TOO_LONG if too_long else Strain.DARK_ROOM, (str(day), *labels))


def _nights_away(evening: Evening, choice: Choice) -> int:
    """Nights for which a pot is carried off, as far as can be seen; 0 where it stays in its place."""
    if choice.option.to_spot is None:
        return 0
    nights = choice.occasion.nights
    back = first_harmless_night(evening, choice.pot, nights, choice.occasion.tissues)
    return (len(evening.nights) if back is None else back) - nights[0]


def _is_dark(evening: Evening, row: int, choices: Sequence[Choice]) -> bool:
    goes_to = next((choice.option.to_spot for choice in choices if choice.pot == row and choice.option.to_spot), None)
    wanted = goes_to or evening.pots[row].spot
    spot = next(spot for spot in evening.garden.spots if spot.name == wanted)
    return spot.dark


def _softens_indoors(evening: Evening, row: int) -> bool:
    """A plant of cold winters that the garden file places in a room too warm for it."""
    pot: Pot = evening.pots[row]
    spot = evening.terrace.spots[pot.spot]
    if not spot.indoors:
        return False
    lately = spot.hours.air_temperature_c[max(evening.now - 72, 0) : evening.now + 1]
    return float(np.mean(lately)) > strain.SOFTENING_ROOM_C and any(
        taxon.moved_light is MovedLight.STAY_OUT or pace_of(taxon) is WOODY for taxon in evening.taxa[pot.id]
    )


def _ball_below(evening: Evening, row: int) -> BallShare:
    """How much of the ball falls below the young roots' limit in the coming night, of what has a spring to come."""
    pot = evening.pots[row]
    if _likely_lost(evening.judgements[0][row]):
        return BallShare.NONE
    taxa = zip(pot.plantings, evening.taxa[pot.id], strict=True)
    annuals = {id(planting) for planting, taxon in taxa if taxon.habit is Habit.ANNUAL}
    young = [
        j
        for j in evening.judgements[0][row]
        if j.limit.tissue is Tissue.YOUNG_ROOT and id(j.planting) not in annuals
    ]
    if not any(float(j.chance.mean()) >= RISK for j in young):
        return BallShare.NONE
    run, night = evening.run, night_hours(evening.terrace, evening.run, evening.nights[0], evening.now)
    ring, mean, core = (np.median(part[night, row], axis=1) for part in (run.shaded_ring_c, run.mean_c, run.core_c))
    limit_c = max(j.limit.limit_c for j in young)
    return strain.ball_share(float(strain.share_below(limit_c, ring, mean, core).max()))
