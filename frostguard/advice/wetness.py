"""How wet each pot is now, from the word in the garden file through the rain, drying and watering of the days before,
and how wet it will be when the next frost comes.

The word tells how the gardener keeps a pot. Rain that reaches it makes it wetter, up to what its mix holds; in the
last week, in which nobody may have watered, it dries by what sun, wind and dry air ask of plant, mix and clay.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.nights import from_utc64
from frostguard.advice.state import KeptWetness, TerraceState
from frostguard.advice.terrace import Terrace
from frostguard.garden.catalogue import Catalogue, Mix
from frostguard.garden.model import CoverPlace, Pot
from frostguard.physics.microclimate import SpotClimate
from frostguard.physics.radiation import black_body_w_m2
from frostguard.physics.sun import horizontal_beam_factor
from frostguard.physics.water_balance import (
    drifted_water_fraction,
    rain_share,
    reference_evaporation_mm_h,
)

Array = NDArray[np.float64]

WATERED_EVERY_H = 7 * 24
"""A gardener looks after pots about once a week in the cold half of the year; common practice."""

LEAF_FACTOR, MIX_FACTOR, MULCHED_FACTOR, CLAY_FACTOR = 0.3, 0.3, 0.1, 0.3
"""Water lost over that of well watered grass, per m2 of crown in leaf, of bare and mulched mix, and of unglazed clay.

Estimates: FAO-56 has 0.65 to 0.95 for evergreens in their season (table 12), of which cold roots deliver less than
half, and 0.2 to 0.4 for bare soil between rains; a clay side is wetted from within and stands in the wind."""

THROUGH_A_CROWN = 0.7
"""Share of the rain that passes a crown in leaf over the pot; evergreens catch 20 to 40 % (from memory)."""

GRASS_ALBEDO = 0.23
"""FAO-56."""

WET_COVER_MM = 1.0
"""Rain from which fleece and mats are soaked; estimate."""

COVER_DRIES_H, COVER_AHEAD_H = 12, 18
"""Hours before and after the question whose rain wets a cover: cloth dries in half a day, and a night lies ahead;
estimate."""

LONGEST_PAST_H = 60 * 24
"""Rain and drying of earlier hours are forgotten: by then a pot was soaked, or was watered."""

KEPT_FOR = timedelta(days=14)  # what has not changed is not put down anew
SHORT_PAST_H = 10 * 24
"""Where the weather's past is shorter than this, wetness that was kept in the logbook within `KEPT_FOR` is gone on
from; estimate."""


@dataclass(frozen=True, slots=True)
class WaterNow:
    """A pot's water now and how it came there: [m3/m3] and, over the days of the weather, [mm] of the mix's surface.

    `at_frost` is what it will hold when the first frost in sight begins, [m3/m3]; as now where none does.
    """

    fraction: float
    at_frost: float
    kept_at: float  # the word of the file, as a number
    rained_mm: float
    dried_mm: float  # what drying asked for; a mix that runs dry gives less
    covers_wet: bool


def water_now(
    terrace: Terrace, pots: Sequence[Pot], state: TerraceState, catalogue: Catalogue, now: int
) -> tuple[WaterNow, ...]:
    """How wet each pot is at hour `now` of the terrace, in the middle member's weather."""
    if not pots:
        return ()
    hours = slice(max(now + 1 - LONGEST_PAST_H, 0), now + 1)
    index = np.arange(hours.start, hours.stop)
    mixes = [catalogue.mixes[pot.mix] for pot in pots]
    kept_at = np.array([mix.water_fraction[pot.wetness.value] for pot, mix in zip(pots, mixes, strict=True)])
    dry, moist = (np.array([mix.water_fraction[word] for mix in mixes]) for word in ("dry", "moist"))
    holds = {
        "dry": dry,
        "moist": moist,
        "capacity": np.array([_capacity(pot, mix) for pot, mix in zip(pots, mixes, strict=True)]),
    }
    gain, loss = _gain_and_loss(terrace, pots, catalogue, hours)
    untended = (index > now - WATERED_EVERY_H)[:, None]
    start, reckoned_to = _start(terrace, pots, kept_at, state, now)
    goes_on = index[:, None] > reckoned_to
    fraction = drifted_water_fraction(
        start,
        gain=np.where(goes_on, gain, 0.0),
        loss=np.where(goes_on, loss, 0.0),
        least=np.where(untended, dry, kept_at),
        watered_to=_watered_to(terrace, pots, moist, state, now)[hours],
        **holds,
    )
    to_come = _gain_and_loss(terrace, pots, catalogue, slice(now + 1, _next_frost(terrace, now) + 1))
    nobody = np.zeros_like(to_come[0])
    at_frost = drifted_water_fraction(
        fraction, gain=to_come[0], loss=to_come[1], least=nobody + dry, watered_to=nobody, **holds
    )
    return tuple(
        WaterNow(
            fraction=float(fraction[row]),
            at_frost=float(at_frost[row]),
            kept_at=float(kept_at[row]),
            rained_mm=float(1e3 * pot.height_m * gain[:, row].sum()),
            dried_mm=float(1e3 * pot.height_m * loss[:, row].sum()),
            covers_wet=covers_wet_at(terrace, pot.spot, now),
        )
        for row, pot in enumerate(pots)
    )


def _next_frost(terrace: Terrace, now: int) -> int:
    """The first hour after `now` with outdoor air below 0 degC in the middle member; `now` where there is none."""
    air = terrace.outdoor.air_temperature_c[now + 1 :, int(terrace.middle_columns[0])]
    frosty = np.flatnonzero(air < 0.0)
    return now + 1 + int(frosty[0]) if frosty.size else now


def _gain_and_loss(terrace: Terrace, pots: Sequence[Pot], catalogue: Catalogue, hours: slice) -> tuple[Array, Array]:
    """What rain adds and drying asks of a moist mix in each hour, in the middle member's weather, (n_hours, pots)."""
    column = int(terrace.middle_columns[0])
    asked_mm = {name: _evaporation_mm_h(spot, hours, column) for name, spot in terrace.spots.items()}
    n_hours = hours.stop - hours.start
    fallen_mm = np.zeros(n_hours) if terrace.rain_mm is None else terrace.rain_mm[hours, column]
    gain = np.stack([fallen_mm * _caught(terrace, pot, catalogue) / (1e3 * pot.height_m) for pot in pots], axis=1)
    loss = np.stack([asked_mm[pot.spot] * _asked_per_mm(pot, catalogue) for pot in pots], axis=1)
    return gain, loss


def covers_wet_at(terrace: Terrace, spot: str, now: int) -> bool:
    """Whether rain soaks what is put over or round a pot at that spot, by now or in the coming night."""
    if terrace.rain_mm is None or terrace.spots[spot].indoors:
        return False
    window = slice(max(now - COVER_DRIES_H, 0), now + COVER_AHEAD_H + 1)
    fallen = float(np.sum(terrace.rain_mm[window, int(terrace.middle_columns[0])]))
    return bool(fallen * float(rain_share(terrace.spots[spot].sky_view)) >= WET_COVER_MM)


def _evaporation_mm_h(climate: SpotClimate, hours: slice, column: int) -> Array:
    """What well watered grass would lose at a spot in each hour; none in frost."""
    spot = climate.hours

    def part(values: Array) -> Array:
        return np.broadcast_to(values, spot.air_temperature_c.shape)[hours, column]

    air = part(spot.air_temperature_c)
    beam = part(spot.direct_normal_w_m2) * horizontal_beam_factor(part(spot.sun_elevation_deg))
    sky_loss = climate.sky_view * (black_body_w_m2(air) - part(spot.sky_longwave_w_m2))
    evaporation = reference_evaporation_mm_h(
        (1.0 - GRASS_ALBEDO) * (beam + part(spot.diffuse_horizontal_w_m2)) - sky_loss,
        air,
        part(spot.vapour_pressure_hpa),
        part(spot.wind_speed_m_s),
        part(spot.pressure_hpa),
    )
    return np.where(air > 0.0, evaporation, 0.0)


def _in_leaf(pot: Pot) -> float:
    """Area of crown in leaf over one pot [m2]."""
    return max((np.pi * one.width_m**2 / 4.0 for one in pot.plantings if one.evergreen is not False), default=0.0)


def _caught(terrace: Terrace, pot: Pot, catalogue: Catalogue) -> float:
    """Share of the rain over open land that gets into a pot."""
    spot = terrace.spots[pot.spot]
    over = [catalogue.covers[key] for key in pot.covers_on if catalogue.covers[key].place is CoverPlace.PLANT]
    if spot.indoors or any(not cover.breathable for cover in over):
        return 0.0
    covered = min(_in_leaf(pot) / (np.pi * pot.radius_m**2), 1.0)
    return float(rain_share(spot.sky_view)) * (1.0 - covered * (1.0 - THROUGH_A_CROWN))


def _asked_per_mm(pot: Pot, catalogue: Catalogue) -> float:
    """Share of the mix's volume that each millimetre of reference evaporation takes from it [1/mm]."""
    mix = (MULCHED_FACTOR if pot.mulch_m > 0.0 else MIX_FACTOR) / pot.height_m
    leaf = LEAF_FACTOR * _in_leaf(pot) / (pot.volume_l / 1e3)
    wrapped = any(catalogue.covers[key].place is CoverPlace.POT for key in pot.covers_on)
    clay = CLAY_FACTOR * 2.0 / pot.radius_m if catalogue.walls[pot.wall].porous and not wrapped else 0.0
    return 1e-3 * (mix + leaf + clay)


def _capacity(pot: Pot, mix: Mix) -> float:
    """What is left after draining; all pores but a twentieth where water cannot get out."""
    return mix.water_fraction["wet"] if pot.drain_hole else 0.95 * mix.porosity


def _start(
    terrace: Terrace, pots: Sequence[Pot], kept_at: Array, state: TerraceState, now: int
) -> tuple[Array, NDArray[np.int_]]:
    """The word of the file, or what the logbook goes on from; and the hour up to which that has weather in it."""
    start, reckoned_to = kept_at.copy(), np.full(len(pots), -1)
    for row, pot in enumerate(pots):
        known = _gone_on_from(terrace, pot, state, now)
        if known is not None:
            start[row], reckoned_to[row] = known.water_fraction, max(terrace.hour_at(known.at), -1)
    return start, reckoned_to


def _gone_on_from(terrace: Terrace, pot: Pot, state: TerraceState, now: int) -> KeptWetness | None:
    """What was kept of a pot lately, where the weather's past is too short to do without."""
    known = state.wetness.get(pot.id)
    if known is None or now >= SHORT_PAST_H:
        return None
    begins, ends = (from_utc64(terrace.times[hour], terrace.zone) for hour in (0, now))
    return known if begins - KEPT_FOR <= known.at <= ends else None


def _watered_to(terrace: Terrace, pots: Sequence[Pot], moist: Array, state: TerraceState, now: int) -> Array:
    """Moist at the hour in which a pot was watered, 0 in all others."""
    to = np.zeros((now + 1, len(pots)))
    for row, pot in enumerate(pots):
        at: datetime | None = state.watered_at.get(pot.id)
        known = _gone_on_from(terrace, pot, state, now)
        if at is None or (known is not None and at <= known.at):
            continue  # what is gone on from has that water in it
        if 0 <= (hour := terrace.hour_at(at)) <= now:
            to[hour, row] = moist[row]
    return to
