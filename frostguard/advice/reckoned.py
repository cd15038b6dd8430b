"""What a pot was reckoned with: water, weight, wind, wall, floor, sky and snow, as numbers to look into."""

from __future__ import annotations

import numpy as np

from frostguard.advice.evening import Evening
from frostguard.advice.explanation import Reckoned, SkyReckoned, WaterReckoned, WindReckoned
from frostguard.advice.gale import gusts_by_spot, is_conifer, topple_gust
from frostguard.advice.layout import Side
from frostguard.advice.option import pot_weight_kg
from frostguard.advice.outlook import night_hours
from frostguard.advice.pot_run import bulb_depth_m, leaf_curve_c
from frostguard.advice.situation import root_balls_of, surfaces_of
from frostguard.physics.radiation import sky_longwave_by_every_formula_w_m2
from frostguard.physics.wall import freeze_thaw_cycles


def reckoned_of(evening: Evening, row: int, column: int) -> Reckoned:
    """What a pot was reckoned with, in one weather column, tonight.

    Parameters
    ----------
    evening : Evening
        The simulated terrace.
    row : int
        Position of the pot in the garden file.
    column : int
        The weather column that is told.
    """
    situation, catalogue, run = evening.situations[row], evening.catalogue, evening.run
    spot = evening.terrace.spots[situation.spot]
    night = night_hours(evening.terrace, run, evening.nights[0], evening.now)
    hour = int(np.flatnonzero(night)[np.argmin(run.ring_c[night, row, column])])
    exposed = surfaces_of([situation], [spot], Side.EXPOSED, catalogue)
    ball = root_balls_of([situation], catalogue)
    past = np.median(evening.past.ring_c[:, row], axis=1)
    return Reckoned(
        water=_water(evening, row, float(ball.freezable_water_fraction[0])),
        wind=WindReckoned(
            weight_now_kg=pot_weight_kg(situation, catalogue, evening.water[row].fraction),
            weight_soaked_kg=pot_weight_kg(situation, catalogue),
            topples_at_m_s=topple_gust(situation, catalogue, hooded=False, conifer=is_conifer(evening, row)),
            topples_hooded_at_m_s=topple_gust(situation, catalogue, hooded=True),
            strongest_gust_m_s=gusts_by_spot(evening, (0,))[situation.spot],
        ),
        wall_m2_k_w=float(ball.wall_resistance_m2_k_w[0]),
        wraps_m2_k_w=float(exposed.wrap_resistance_m2_k_w[0]),
        top_m2_k_w=float(exposed.top_resistance_m2_k_w[0]),
        base_m2_k_w=float(exposed.base_resistance_m2_k_w[0]),
        sky=_sky(evening, row, column, hour),
        snow_on_top_m=float(run.hours.snow_depth_m[hour, run.layout.series(row, Side.EXPOSED, column)]),
        snow_beside_m=float(run.hours.snow_beside_m[hour, run.layout.series(row, Side.EXPOSED, column)]),
        corner_k=_corner_k(evening, row, column, hour),
        bulbs_at_m=tuple(
            sorted(
                depth
                for planting in situation.pot.plantings
                if (depth := bulb_depth_m(situation.pot, planting)) is not None
            )
        ),
        thaws_behind=int(freeze_thaw_cycles(past)),
        dew_warms_k=_dew_k(evening, row, column, hour),
    )


def _water(evening: Evening, row: int, freezable: float) -> WaterReckoned:
    water = evening.water[row]
    return WaterReckoned(
        kept_at=water.kept_at,
        rained_mm=water.rained_mm,
        dried_mm=water.dried_mm,
        fraction=evening.situations[row].water_fraction,
        now=water.fraction,
        freezable=freezable,
        covers_wet=water.covers_wet,
    )


def _sky(evening: Evening, row: int, column: int, hour: int) -> SkyReckoned | None:
    """The sky at one hour of the run; None indoors."""
    terrace, spot = evening.terrace, evening.terrace.spots[evening.situations[row].spot]
    if spot.indoors:
        return None
    at = evening.run.first + hour
    air, vapour, cloud = (
        float(part[at, column])
        for part in (terrace.outdoor.air_temperature_c, terrace.outdoor.vapour_pressure_hpa, terrace.cloud_fraction)
    )
    others = [float(one) for one in sky_longwave_by_every_formula_w_m2(air, vapour, cloud).values()]
    exposed = surfaces_of([evening.situations[row]], [spot], Side.EXPOSED, evening.catalogue)
    return SkyReckoned(
        sent_w_m2=float(terrace.outdoor.sky_longwave_w_m2[at, column]),
        told=terrace.sky_told,
        lowest_w_m2=min(others),
        highest_w_m2=max(others),
        seen_by_side=float(exposed.side_sky_view[0]),
        seen_by_top=float(exposed.top_sky_view[0]),
    )


def _corner_k(evening: Evening, row: int, column: int, hour: int) -> float:
    """How far the corner of a square pot lies below its ring [K]; 0 for a round one."""
    run = evening.run
    ring = run.readings.coldest_ring_c[hour, run.layout.series(row, Side.EXPOSED, column)]
    return float(ring - run.ring_c[hour, row, column])


def _dew_k(evening: Evening, row: int, column: int, hour: int) -> float:
    """How much warmer dew and hoar leave the leaves by the heat that they give off [K]."""
    run, layout = evening.run, evening.run.layout
    at = np.array([run.columns[column]])
    mix = layout.mean(run.readings.top_ring_c)[hour : hour + 1, row, column : column + 1]
    where = (evening.terrace, evening.situations[row], evening.catalogue, run.first + hour, at, mix)
    return float((leaf_curve_c(*where) - leaf_curve_c(*where, with_dew=False))[0, 0])
