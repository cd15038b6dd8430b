"""The long answer about one pot: its curves, where the heat goes, what matters, what was assumed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from difflib import get_close_matches

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.evening import Evening, branch_now, past_of
from frostguard.advice.explanation import CurveRow, Explanation, HeatBill, Sensitivity
from frostguard.advice.layout import Side
from frostguard.advice.middle_course import colder_column, coldest_by_column, columns_of, middle_member
from frostguard.advice.nights import from_utc64, utc64
from frostguard.advice.outlook import night_hours, tissue_outlook
from frostguard.advice.pot_run import PotRun, run_pots
from frostguard.advice.reckoned import reckoned_of
from frostguard.advice.situation import SIDE_WIND, Situation
from frostguard.errors import FrostguardError
from frostguard.garden.model import Garden
from frostguard.physics.envelope import Face

Array = NDArray[np.float64]

EVERY_H = 3
FOAM_RESISTANCE_M2_K_W = 0.56
"""20 mm of polystyrene at 0.0355 W/m K (EN 12524)."""


def explain_pot(evening: Evening, row: int) -> Explanation:
    """Why the plan says what it says about a pot.

    Its hours are those of the member whose outer roots come out as told, as in the pictures; where the heat goes and
    what would change it is reckoned in the member of middling warmth, which has both sides of the pot.

    Parameters
    ----------
    evening : Evening
        The simulated terrace.
    row : int
        Position of the pot in the garden file, from `pot_called`.
    """
    pot = evening.pots[row]
    columns = evening.terrace.middle_columns
    column = int(columns[np.argmin(evening.run.ring_c[:, row, columns].min(axis=0))])
    return Explanation(
        pot=pot.id,
        label=pot.label,
        rows=tuple(_rows(evening, row, _told_column(evening, row))),
        heat=_heat_bill(evening.run, row, column, _coldest_dark(evening, row, column)),
        surface_second_pass_k=second_pass_change_k(evening, row),
        sensitivities=tuple(_sensitivities(evening, row, columns)),
        reckoned=reckoned_of(evening, row, column),
        limits=tuple(tissue_outlook(judgement) for judgement in evening.judgements[0][row]),
        assumed=pot.assumed,
    )


def _told_column(evening: Evening, row: int) -> int:
    """The weather column whose outer roots get as cold in the coming night as is told."""
    coldest_c = coldest_by_column(evening, "ring_c", row)
    return colder_column(evening.terrace, middle_member(evening.terrace.colder(coldest_c)), coldest_c)


def pot_called(garden: Garden, asked: str) -> int:
    """Position in the garden file of the pot with that id or label.

    Raises
    ------
    FrostguardError
        If no pot goes by that name; with near names.
    """
    wanted = asked.strip().casefold()
    for row, pot in enumerate(garden.pots):
        if wanted in (pot.id.casefold(), pot.label.casefold()):
            return row
    names = list({name.casefold(): name for pot in garden.pots for name in (pot.id, pot.label)}.values())
    near = get_close_matches(asked, names, n=3, cutoff=0.4)
    every = ", ".join(pot.id for pot in garden.pots)
    hint = f"Did you mean {' or '.join(near)}?" if near else f"The pots are: {every}."
    raise FrostguardError(f"No pot is called {asked!r}.", next_step=hint)


def _rows(evening: Evening, row: int, column: int) -> Iterator[CurveRow]:
    """Every third hour in that weather column, the ball's mean and core by both sides of the pot in that member.

    The evening's run has the mean side of the middle member only and moves it by the exposed sides: good for how cold
    a ball gets, but in an hour when one side has thawed and the other has not it makes the core of a frozen ball warm.
    """
    terrace, run = evening.terrace, evening.run
    columns = columns_of(terrace, column // terrace.n_cases)
    case = int(np.flatnonzero(columns == column)[0])
    own = run_pots(
        terrace,
        (evening.situations[row],),
        evening.catalogue,
        branch_now(evening.past, np.array([row]), columns),
        run.first,
        run.first + run.ring_c.shape[0] - 1,
        columns=columns,
        fine_until=evening.fine_until,
        mean_columns=columns,
    )
    exposed = run.layout.series(row, Side.EXPOSED, column)
    wind = run.hours.wind_speed_m_s[:, exposed] * SIDE_WIND[evening.situations[row].neighbours]
    for hour in range(0, run.ring_c.shape[0], EVERY_H):
        yield CurveRow(
            time=from_utc64(terrace.times[run.first + hour], terrace.zone),
            air_c=float(run.hours.air_temperature_c[hour, exposed]),
            wind_at_pot_m_s=float(wind[hour]),
            top_ring_c=float(run.readings.top_ring_c[hour, exposed]),
            middle_ring_c=float(run.readings.middle_ring_c[hour, exposed]),
            bottom_ring_c=float(run.readings.bottom_ring_c[hour, exposed]),
            mean_c=float(own.mean_c[hour, 0, case]),
            core_c=float(own.core_c[hour, 0, case]),
            frozen_fraction=float(own.frozen_fraction[hour, 0, case]),
            leaf_c=float(run.leaf_c[hour, row, column]),
        )


def _coldest_dark(evening: Evening, row: int, column: int) -> NDArray[np.bool_]:
    """The hours from sunset to sunrise of the night in which the pot's ring gets coldest."""
    run = evening.run
    nights = [night_hours(evening.terrace, run, night, evening.now) for night in evening.nights]
    ring = run.ring_c[:, row, column]
    coldest = min(range(len(nights)), key=lambda night: float(ring[nights[night]].min()))
    night = evening.nights[coldest]
    times = evening.terrace.times[run.first : run.first + ring.size]
    begins = night.begins if night.sunset is None else night.sunset
    ends = night.ends if night.sunrise is None else night.sunrise
    dark = nights[coldest] & (times > utc64(begins)) & (times <= utc64(ends))
    return dark if dark.any() else nights[coldest]


def _heat_bill(run: PotRun, row: int, column: int, inside: NDArray[np.bool_]) -> HeatBill:
    """Heat into the ball over the night's hours, by the mean side's series [kJ]."""
    series = run.layout.series(row, Side.MEAN, column)
    hours = np.flatnonzero(inside)
    watts = run.readings.face_heat_w[:, series]
    side, top, base = (watts[hours].sum(axis=0) * 3.6).tolist()
    by_way = _ways(run.side, series, hours, watts[hours, 0]) + _ways(run.top, series, hours, watts[hours, 1])
    convection, longwave, sun, evaporation = (by_way * 3.6).tolist()
    return HeatBill(side, top, base, convection, longwave, sun, evaporation)


def _ways(face: Face, series: int, hours: NDArray[np.intp], watts: Array) -> Array:
    """Watt-hours through a face by convection, long-wave, sun and evaporation, shape (4,).

    The surface lies below its environment by flux over film; each way is then its own film times its
    own difference. Films are taken midway through the hours that the watts are means of.
    """

    def midway(values: Array) -> Array:
        column = np.broadcast_to(values, face.radiative_w_m2_k.shape)[:, series]
        return 0.5 * (column[hours - 1] + column[hours])

    convective, radiative = midway(face.convective_w_m2_k), midway(face.radiative_w_m2_k)
    evaporative, wet = midway(face.evaporative_w_m2_k), midway(face.wet_c)
    air, radiant, gain = midway(face.air_temperature_c), midway(face.radiant_c), midway(face.gain_w_m2)
    area = float(face.area_m2[series])
    film = convective + radiative + evaporative
    received = convective * air + radiative * radiant + evaporative * wet + gain
    surface = (received - watts / area) / film
    ways = np.stack(
        [convective * (air - surface), radiative * (radiant - surface), gain, evaporative * (wet - surface)]
    )
    return np.asarray(area * ways.sum(axis=1))


def second_pass_change_k(evening: Evening, row: int) -> float:
    """How far the coldest ring of any night moves when films are taken at simulated surfaces, not estimated ones [K].

    Hour by hour the ring moves further, while the front of the ice passes it a little earlier or later.
    """
    run = evening.run
    columns = evening.terrace.middle_columns
    pots = np.array([row])
    series = run.layout.part(pots, columns)

    def simulated(face: Face, watts: Array) -> Array:
        flux = watts[:, series] / face.area_m2[series]
        return np.asarray(face.environment_c[:, series] - flux / face.film_w_m2_k[:, series])

    heat = run.readings.face_heat_w
    again = run_pots(
        evening.terrace,
        (evening.situations[row],),
        evening.catalogue,
        branch_now(evening.past, pots, columns),
        run.first,
        run.first + run.ring_c.shape[0] - 1,
        columns=columns,
        fine_until=evening.fine_until,
        surfaces_c=(simulated(run.side, heat[..., 0]), simulated(run.top, heat[..., 1])),
    )
    moved = [
        again.ring_c[inside, 0].min(axis=0) - run.ring_c[inside, row][:, columns].min(axis=0)
        for night in evening.nights
        if (inside := night_hours(evening.terrace, run, night, evening.now)).any()
    ]
    return float(np.abs(moved).max())


def _sensitivities(evening: Evening, row: int, columns: NDArray[np.intp]) -> Iterator[Sensitivity]:
    """The coldest ring of the coming night with one thing different, past included."""
    base = evening.situations[row]
    pot = base.pot
    bigger = 1.5 ** (1.0 / 3.0)
    variants = {
        "wall foam": replace(
            base, side_resistance_m2_k_w=base.side_resistance_m2_k_w + FOAM_RESISTANCE_M2_K_W
        ),
        "volume +50 %": replace(
            base,
            pot=replace(
                pot,
                radius_m=pot.radius_m * bigger,
                height_m=pot.height_m * bigger,
                volume_l=pot.volume_l * 1.5,
            ),
        ),
        "wind half": replace(base, wind_factor=0.5 * base.wind_factor),
        "water +0.1": replace(base, water_fraction=_wetter(evening, base)),
    }
    situations = (base, *variants.values())
    past = past_of(evening.terrace, situations, evening.catalogue, evening.now)
    start = branch_now(past, np.arange(len(situations)), columns)
    end = int(np.flatnonzero(evening.nights[0].hours_in(evening.terrace.times))[-1])
    run = run_pots(evening.terrace, situations, evening.catalogue, start, evening.now, end, columns=columns)
    coldest = run.ring_c[1:].min(axis=(0, 2))
    for position, what in enumerate(variants, start=1):
        yield Sensitivity(what, float(coldest[position] - coldest[0]))


def _wetter(evening: Evening, situation: Situation) -> float:
    porosity = evening.catalogue.mixes[situation.pot.mix].porosity
    return min(situation.water_fraction + 0.1, porosity - 0.01)
