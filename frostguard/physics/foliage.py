"""Leaves and buds: how far a clear night chills them below the air, bare and under a cover.

A leaf settles where what it radiates, takes from the air, from the sun and from dew adds up to nothing.
Under a cover the same holds for four things at once: leaf, enclosed air, inner and outer face of the
cover. Every exchange is written as a positive conductance between two temperatures, so each of the four
is a weighted mean of its neighbours, and nothing gets colder than the coldest thing outside. What a cover
gains or loses comes out of this balance; no gain in degrees is put in.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from frostguard.physics.convection import cylinder_side_film_w_m2_k, leaf_film_w_m2_k
from frostguard.physics.humidity import (
    dew_point_from_vapour_pressure_c,
    psychrometric_constant_hpa_k,
    saturation_vapour_pressure_water_hpa,
)
from frostguard.physics.plant_cover import (
    LEAF_EMISSIVITY,
    MIX_FILM_UNDER_COVER_W_M2_K,
    CanopyCover,
    LongwaveExchange,
    coated,
    inside_wind_m_s,
    joint_resistance_m2_k_w,
    leakage_film_w_m2_k,
    longwave_exchange,
    partly_coated_exchange,
)
from frostguard.physics.radiation import (
    black_body_w_m2,
    radiant_temperature_c,
    radiative_coefficient_w_m2_k,
)

FloatArray = NDArray[np.float64]

LEAF_WIDTH_M = 0.04
"""Width of a usual broad leaf along the wind [m]; estimate. A bud is about 0.01, a conifer needle 0.002."""

LEAF_SOLAR_ABSORPTANCE = 0.5
"""Green leaves, whole spectrum; Campbell & Norman, An Introduction to Environmental Biophysics, 2nd ed.,
1998, table 11.4 (from memory)."""

LEAF_WIND_SHARE = 0.3
"""Wind among the leaves of a crown over wind beside the plant.

Wind falls off into a canopy by exp(-a depth) with a of 1 to 3 over its height, so 0.2 to 0.6 of it is left
half-way down: Campbell & Norman 1998, ch. 5 (from memory). With 0.3 a broad leaf lies 2 to 5 K below the
air on a clear calm night, as gardeners and frost manuals say.
"""

UNDERSIDE_OPEN_SHARE = 0.5
"""Of what a leaf's underside looks at, the share that is floor and pot; the rest is lower leaves, about as
cold as itself; estimate."""

LEAF_AREA_PER_COVER_AREA = 1.0
"""Leaf, one side, for each m2 of the cover over it: one full layer of leaves; estimate."""

COVER_WIDTH_M, COVER_HEIGHT_M = 0.5, 0.6
"""A usual hood over one plant, for its outer and inner film [m]; estimate."""

BASE_AREA_SHARE = 0.3
"""Floor, mix and pot wall under a hood, over the area of its fabric.

Estimate: 0.2 of floor closes the hood of above; a pot of 0.35 m that stands within adds as much again to a
small hood and little to a large one.
"""

HOOD_SKY_SHARE = 0.6
"""Share of what a hood's faces look at that lies above the horizon: 1 for the top, a half for the sides,
the sides having four to five times the area of the top as above."""

SUN_ON_HOOD_SHARE = 0.6
"""Sun per m2 of all the hood's fabric over sun on the horizontal; estimate."""

COVER_ABSORBED_SHARE = 0.3
"""Of the sun that does not pass a cover, the share kept and not sent back: white fabrics; estimate."""

LEAF_PASSES, COVER_PASSES = 4, 3
"""Times that films, radiation and dew are reckoned anew. Films hang on temperature by its fourth root, so
each pass leaves about a fifth of the error of the one before: in the end 0.01 K by night, 0.1 K in sun."""


def bare_leaf_c(
    *,
    air_temperature_c: ArrayLike,
    wind_speed_m_s: ArrayLike,
    sky_longwave_w_m2: ArrayLike,
    surroundings_c: ArrayLike,
    floor_c: ArrayLike,
    sun_w_m2: ArrayLike,
    pressure_hpa: ArrayLike,
    sky_view: ArrayLike,
    vapour_pressure_hpa: ArrayLike | None = None,
    leaf_width_m: ArrayLike = LEAF_WIDTH_M,
) -> FloatArray:
    """Temperature of a level leaf or bud at the top of a plant, with nothing over it.

    Parameters
    ----------
    air_temperature_c, pressure_hpa : array_like
        Air at the leaf [degC, hPa].
    wind_speed_m_s : array_like
        Wind beside the plant, 0 or more [m/s]; the leaves of a crown feel `LEAF_WIND_SHARE` of it.
    sky_longwave_w_m2 : array_like
        Radiation of an open sky [W/m2].
    surroundings_c : array_like
        What hides the rest of the sky: roof, walls, trees [degC].
    floor_c : array_like
        What the underside looks at: floor, pot, lower leaves [degC].
    sun_w_m2 : array_like
        Sun on the horizontal at the leaf [W/m2].
    sky_view : array_like
        Share of the sky dome left open, 0 to 1.
    vapour_pressure_hpa : array_like, optional
        Of the air [hPa]. If given, dew on a leaf below the dew point gives off its heat.
    leaf_width_m : array_like
        Width along the wind, above 0 [m]; the default is a usual broad leaf.

    Returns
    -------
    ndarray, broadcast shape
        Leaf temperature [degC]; a steady state, which a leaf reaches within a minute.

    Raises
    ------
    PhysicsInputError
        If a size, pressure or vapour pressure is 0 or below, or a wind speed negative.

    Notes
    -----
    Dew is reckoned with saturation over water and the heat of condensing, below 0 degC too: frost gives off
    more, from a little higher a temperature, so errs cold. Drying of dew, the heat of freezing inside the
    leaf and what a thick stem stores are left out. Good to about 1 K where the wind is known, which is the
    weak point: a leaf on its own, in free wind, lies a third to a half less below the air.

    References
    ----------
    Steady leaf energy balance as in Campbell & Norman 1998, ch. 14; films of `leaf_film_w_m2_k`.
    """
    air, floor = _numbers(air_temperature_c), _numbers(floor_c)
    overhead = _overhead_c(sky_longwave_w_m2, surroundings_c, sky_view)
    dew_point = _dew_point_c(vapour_pressure_hpa)
    sun = LEAF_SOLAR_ABSORPTANCE * _numbers(sun_w_m2)
    leaf = air
    wind = LEAF_WIND_SHARE * _numbers(wind_speed_m_s)
    for _ in range(LEAF_PASSES):
        film = 2.0 * leaf_film_w_m2_k(leaf_width_m, wind, leaf, air, pressure_hpa)
        up = radiative_coefficient_w_m2_k(LEAF_EMISSIVITY, leaf, overhead)
        down = radiative_coefficient_w_m2_k(UNDERSIDE_OPEN_SHARE * LEAF_EMISSIVITY, leaf, floor)
        dew, dew_heat = _dew(film, leaf, dew_point, pressure_hpa)
        received = film * air + up * overhead + down * floor + dew_heat + sun
        leaf = received / (film + up + down + dew)
    return np.asarray(leaf)


@dataclass(frozen=True, slots=True)
class CoveredCanopy:
    """Temperatures under a cover, arrays of one shape [degC]: leaf, enclosed air, faces of the cover."""

    leaf_c: FloatArray
    enclosed_air_c: FloatArray
    inner_face_c: FloatArray
    outer_face_c: FloatArray


def covered_leaf_c(
    *,
    cover: CanopyCover,
    air_temperature_c: ArrayLike,
    wind_speed_m_s: ArrayLike,
    sky_longwave_w_m2: ArrayLike,
    surroundings_c: ArrayLike,
    floor_c: ArrayLike,
    sun_w_m2: ArrayLike,
    pressure_hpa: ArrayLike,
    sky_view: ArrayLike,
    vapour_pressure_hpa: ArrayLike | None = None,
    leaf_width_m: ArrayLike = LEAF_WIDTH_M,
    mix_c: ArrayLike | None = None,
    base_area_share: ArrayLike = BASE_AREA_SHARE,
) -> FloatArray:
    """Temperature of the topmost leaf under a cover; see `covered_canopy` for all arguments."""
    return covered_canopy(
        cover=cover,
        air_temperature_c=air_temperature_c,
        wind_speed_m_s=wind_speed_m_s,
        sky_longwave_w_m2=sky_longwave_w_m2,
        surroundings_c=surroundings_c,
        floor_c=floor_c,
        sun_w_m2=sun_w_m2,
        pressure_hpa=pressure_hpa,
        sky_view=sky_view,
        vapour_pressure_hpa=vapour_pressure_hpa,
        leaf_width_m=leaf_width_m,
        mix_c=mix_c,
        base_area_share=base_area_share,
    ).leaf_c


def covered_canopy(
    *,
    cover: CanopyCover,
    air_temperature_c: ArrayLike,
    wind_speed_m_s: ArrayLike,
    sky_longwave_w_m2: ArrayLike,
    surroundings_c: ArrayLike,
    floor_c: ArrayLike,
    sun_w_m2: ArrayLike,
    pressure_hpa: ArrayLike,
    sky_view: ArrayLike,
    vapour_pressure_hpa: ArrayLike | None = None,
    leaf_width_m: ArrayLike = LEAF_WIDTH_M,
    mix_c: ArrayLike | None = None,
    base_area_share: ArrayLike = BASE_AREA_SHARE,
) -> CoveredCanopy:
    """Temperatures of leaf, enclosed air and cover, for a cover that reaches floor or pot rim.

    Parameters
    ----------
    cover : CanopyCover
        What is over the plant, all layers.
    air_temperature_c, wind_speed_m_s, pressure_hpa : array_like
        Outside the cover [degC, m/s, hPa].
    sky_longwave_w_m2, surroundings_c, floor_c, sun_w_m2, sky_view, vapour_pressure_hpa, leaf_width_m
        As for `bare_leaf_c`, all outside the cover. Dew forms on leaf and cover.
    mix_c : array_like, optional
        What is under the cover: mix, pot wall and floor [degC]. If not given, `floor_c` is taken.
        Its heat is what lets a cover gain at all.
    base_area_share : array_like
        Area of all that over area of the cover, 0 to 1.

    Returns
    -------
    CoveredCanopy
        The topmost leaf and the faces of the cover over it; the air is that of the whole hood.

    Raises
    ------
    PhysicsInputError
        If a size, pressure or vapour pressure is 0 or below, or a wind speed negative.

    Notes
    -----
    First the whole hood is settled, whose sides see half the sky, then its top, which sees all of it. A dry
    cover does not touch the leaves. Dew and hoar make it blacker in the hours in which they form. Not reckoned: what
    stays of them afterwards (errs cold), water that freezes on it (errs cold), heat stored in stems (errs cold), cold
    air that settles on a floor without drain (errs warm).

    Gains are differences to `bare_leaf_c`. For one layer of 17 g/m2 on a clear calm night they come out at
    -1 to 1 K, better the warmer the mix; about -1 K in a clear wind, which warms the bare leaf and not the
    covered one; near 0 in a windy frost under cloud. A pot is no field: less heat rises under its cover.

    References
    ----------
    Own balance; all its geometry is estimated beside the constants of this module. That covers gain little,
    and lose on some clear nights: Row cover effects on minimum air temperature, Oregon State University,
    North Willamette station, 1988 (mean gains 0.2 to 1.8 K over soil, single nights -0.6 K).
    """
    outside = _Outside(
        air_c=_numbers(air_temperature_c),
        wind_speed_m_s=_numbers(wind_speed_m_s),
        pressure_hpa=_numbers(pressure_hpa),
        dew_point_c=_dew_point_c(vapour_pressure_hpa),
        sun_w_m2=_numbers(sun_w_m2),
        overhead_c=_overhead_c(sky_longwave_w_m2, surroundings_c, sky_view),
        around_c=_around_hood_c(sky_longwave_w_m2, surroundings_c, floor_c, sky_view),
    )
    beneath = _Beneath(_numbers(floor_c if mix_c is None else mix_c), _numbers(base_area_share))
    clean, under_dew = longwave_exchange(cover), longwave_exchange(coated(cover))
    start = outside.air_c
    whole = CoveredCanopy(start, start, start - 2.0, start - 2.0)
    top = whole
    for _ in range(COVER_PASSES):
        films = _films(cover, outside, whole, leaf_width_m)
        dew, dew_heat = _dew(films.outer, top.outer_face_c, outside.dew_point_c, outside.pressure_hpa)
        exchange = partly_coated_exchange(clean, under_dew, dew_heat - dew * top.outer_face_c)
        whole = _settle_hood(cover, exchange, outside, films, whole, beneath)
        top = _settle_top(cover, exchange, outside, films, whole, top, beneath)
    return top


@dataclass(frozen=True, slots=True)
class _Outside:
    """Outside a cover; `overhead_c` is what its top looks at, `around_c` what all its faces do on average."""

    air_c: FloatArray
    wind_speed_m_s: FloatArray
    pressure_hpa: FloatArray
    dew_point_c: FloatArray | None
    sun_w_m2: FloatArray
    overhead_c: FloatArray
    around_c: FloatArray


@dataclass(frozen=True, slots=True)
class _Beneath:
    """What closes a hood below: its temperature [degC], and its area over that of the fabric."""

    surface_c: FloatArray
    area_share: FloatArray


@dataclass(frozen=True, slots=True)
class _Films:
    """Convection under and outside a cover, and leakage [W/m2 K]; the leaf's counts both its sides."""

    leaf: FloatArray
    inner: FloatArray
    outer: FloatArray
    leakage: FloatArray


def _films(cover: CanopyCover, outside: _Outside, now: CoveredCanopy, leaf_width_m: ArrayLike) -> _Films:
    """Convective films at the temperatures of now."""
    inside_wind = inside_wind_m_s(cover, outside.wind_speed_m_s)
    pressure, air = outside.pressure_hpa, outside.air_c
    return _Films(
        leaf=2.0 * leaf_film_w_m2_k(leaf_width_m, inside_wind, now.leaf_c, now.enclosed_air_c, pressure),
        inner=leaf_film_w_m2_k(COVER_WIDTH_M, inside_wind, now.inner_face_c, now.enclosed_air_c, pressure),
        outer=cylinder_side_film_w_m2_k(
            COVER_WIDTH_M, COVER_HEIGHT_M, outside.wind_speed_m_s, now.outer_face_c, air, pressure
        ),
        leakage=leakage_film_w_m2_k(cover, outside.wind_speed_m_s, air, pressure),
    )


def _settle_hood(
    cover: CanopyCover,
    exchange: LongwaveExchange,
    outside: _Outside,
    films: _Films,
    now: CoveredCanopy,
    beneath: _Beneath,
) -> CoveredCanopy:
    """The whole hood: mean leaf of the crown's outside, enclosed air, mean faces."""
    around = outside.around_c
    leaf_sky = radiative_coefficient_w_m2_k(exchange.outside_leaf, now.leaf_c, around)
    inner_sky = radiative_coefficient_w_m2_k(exchange.outside_inner, now.inner_face_c, around)
    outer_sky = radiative_coefficient_w_m2_k(exchange.outside_outer, now.outer_face_c, around)
    leaf_dew, leaf_dew_heat = _dew(films.leaf, now.leaf_c, outside.dew_point_c, outside.pressure_hpa)
    outer_dew, outer_dew_heat = _dew(films.outer, now.outer_face_c, outside.dew_point_c, outside.pressure_hpa)
    rising = MIX_FILM_UNDER_COVER_W_M2_K * beneath.area_share
    leaf_base = radiative_coefficient_w_m2_k(
        LEAF_EMISSIVITY * beneath.area_share, now.leaf_c, beneath.surface_c
    )
    leaf_sun, face_sun = (SUN_ON_HOOD_SHARE * part for part in _sun_under(cover, outside.sun_w_m2))
    return CoveredCanopy(
        *_settle(
            links={
                (0, 1): films.leaf * LEAF_AREA_PER_COVER_AREA,
                (0, 2): cover.contact_w_m2_k
                + radiative_coefficient_w_m2_k(exchange.inner_leaf, now.leaf_c, now.inner_face_c),
                (0, 3): radiative_coefficient_w_m2_k(exchange.outer_leaf, now.leaf_c, now.outer_face_c),
                (1, 2): films.inner,
                (2, 3): _joint_w_m2_k(cover, exchange, now),
            },
            outward=[
                leaf_sky + leaf_base + leaf_dew,
                films.leakage + rising,
                inner_sky,
                films.outer + outer_sky + outer_dew,
            ],
            received=[
                leaf_sky * around + leaf_base * beneath.surface_c + leaf_dew_heat + leaf_sun,
                films.leakage * outside.air_c + rising * beneath.surface_c,
                inner_sky * around + face_sun,
                films.outer * outside.air_c + outer_sky * around + outer_dew_heat + face_sun,
            ],
        )
    )


def _settle_top(
    cover: CanopyCover,
    exchange: LongwaveExchange,
    outside: _Outside,
    films: _Films,
    whole: CoveredCanopy,
    now: CoveredCanopy,
    beneath: _Beneath,
) -> CoveredCanopy:
    """The topmost leaf and the cover over it, which see the sky; the air is that of the whole hood."""
    overhead, enclosed = outside.overhead_c, whole.enclosed_air_c
    crown = radiative_coefficient_w_m2_k(
        (1.0 - UNDERSIDE_OPEN_SHARE) * LEAF_EMISSIVITY, now.leaf_c, whole.leaf_c
    )
    base = radiative_coefficient_w_m2_k(UNDERSIDE_OPEN_SHARE * LEAF_EMISSIVITY, now.leaf_c, beneath.surface_c)
    leaf_sky = radiative_coefficient_w_m2_k(exchange.outside_leaf, now.leaf_c, overhead)
    inner_sky = radiative_coefficient_w_m2_k(exchange.outside_inner, now.inner_face_c, overhead)
    outer_sky = radiative_coefficient_w_m2_k(exchange.outside_outer, now.outer_face_c, overhead)
    leaf_dew, leaf_dew_heat = _dew(films.leaf, now.leaf_c, outside.dew_point_c, outside.pressure_hpa)
    outer_dew, outer_dew_heat = _dew(films.outer, now.outer_face_c, outside.dew_point_c, outside.pressure_hpa)
    leaf_sun, face_sun = _sun_under(cover, outside.sun_w_m2)
    leaf, inner, outer = _settle(
        links={
            (0, 1): cover.contact_w_m2_k
            + radiative_coefficient_w_m2_k(exchange.inner_leaf, now.leaf_c, now.inner_face_c),
            (0, 2): radiative_coefficient_w_m2_k(exchange.outer_leaf, now.leaf_c, now.outer_face_c),
            (1, 2): _joint_w_m2_k(cover, exchange, now),
        },
        outward=[
            films.leaf + crown + base + leaf_sky + leaf_dew,
            films.inner + inner_sky,
            films.outer + outer_sky + outer_dew,
        ],
        received=[
            films.leaf * enclosed
            + crown * whole.leaf_c
            + base * beneath.surface_c
            + leaf_sky * overhead
            + leaf_dew_heat
            + leaf_sun,
            films.inner * enclosed + inner_sky * overhead + face_sun,
            films.outer * outside.air_c + outer_sky * overhead + outer_dew_heat + face_sun,
        ],
    )
    return CoveredCanopy(leaf, enclosed, inner, outer)


def _sun_under(cover: CanopyCover, sun_w_m2: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Sun kept by a leaf under the cover, and by each of the cover's two faces."""
    through = cover.solar_transmittance**cover.layers
    each_face = 0.5 * COVER_ABSORBED_SHARE * (1.0 - through)
    return LEAF_SOLAR_ABSORPTANCE * through * sun_w_m2, each_face * sun_w_m2


def _joint_w_m2_k(cover: CanopyCover, exchange: LongwaveExchange, now: CoveredCanopy) -> FloatArray:
    """From inner to outer face: through the fabric, or through air and by radiation between two layers."""
    radiation = radiative_coefficient_w_m2_k(exchange.outer_inner, now.inner_face_c, now.outer_face_c)
    return 1.0 / max(joint_resistance_m2_k_w(cover), 1e-3) + radiation


def _numbers(values: ArrayLike) -> FloatArray:
    """Values as floating-point numbers."""
    return np.asarray(values, dtype=np.float64)


def _overhead_c(
    sky_longwave_w_m2: ArrayLike, surroundings_c: ArrayLike, sky_view: ArrayLike
) -> FloatArray:
    """Radiant temperature of the upper half: open sky and what hides it."""
    share = _numbers(sky_view)
    return radiant_temperature_c(
        share * _numbers(sky_longwave_w_m2) + (1.0 - share) * black_body_w_m2(surroundings_c)
    )


def _around_hood_c(
    sky_longwave_w_m2: ArrayLike, surroundings_c: ArrayLike, floor_c: ArrayLike, sky_view: ArrayLike
) -> FloatArray:
    """Mean radiant temperature round a hood, whose sides see half sky, half floor."""
    open_sky = HOOD_SKY_SHARE * _numbers(sky_view)
    return radiant_temperature_c(
        open_sky * _numbers(sky_longwave_w_m2)
        + (HOOD_SKY_SHARE - open_sky) * black_body_w_m2(surroundings_c)
        + (1.0 - HOOD_SKY_SHARE) * black_body_w_m2(floor_c)
    )


def _dew_point_c(vapour_pressure_hpa: ArrayLike | None) -> FloatArray | None:
    """Dew point, or None where dew is not asked for."""
    return None if vapour_pressure_hpa is None else dew_point_from_vapour_pressure_c(vapour_pressure_hpa)


def _dew(
    film_w_m2_k: FloatArray, surface_c: FloatArray, dew_point_c: FloatArray | None, pressure_hpa: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Conductance by which dew pulls a surface to the dew point, and that times the dew point."""
    if dew_point_c is None:
        nothing = np.zeros(())
        return nothing, nothing
    below = np.maximum(dew_point_c - surface_c, 0.0)
    excess_hpa = saturation_vapour_pressure_water_hpa(dew_point_c) - saturation_vapour_pressure_water_hpa(
        dew_point_c - below
    )
    slope = np.where(below > 1e-6, excess_hpa / np.maximum(below, 1e-6), 0.0)
    conductance = film_w_m2_k * slope / psychrometric_constant_hpa_k(pressure_hpa)
    return conductance, conductance * dew_point_c


def _settle(
    links: dict[tuple[int, int], FloatArray], outward: list[FloatArray], received: list[FloatArray]
) -> tuple[FloatArray, ...]:
    """Steady temperatures of bodies joined by conductances, by elimination, array by array.

    `links` join two bodies, `outward` each body to fixed temperatures, `received` is what comes from those.
    Each body gives off more than it passes on, so no pivoting is needed.
    """
    bodies = len(outward)
    own = list(outward)
    joint: dict[tuple[int, int], FloatArray] = {}
    for (one, other), link in links.items():
        own[one], own[other] = own[one] + link, own[other] + link
        joint[one, other] = link
    right = list(received)
    for gone in range(bodies):
        later = [k for k in range(gone + 1, bodies) if (gone, k) in joint]
        for position, k in enumerate(later):
            share = joint[gone, k] / own[gone]
            own[k] = own[k] - share * joint[gone, k]
            right[k] = right[k] + share * right[gone]
            for m in later[position + 1 :]:
                joint[k, m] = joint.get((k, m), np.zeros(())) + share * joint[gone, m]
    settled = list(right)
    for body in reversed(range(bodies)):
        passed_on = sum(
            (joint[body, k] * settled[k] for k in range(body + 1, bodies) if (body, k) in joint), np.zeros(())
        )
        settled[body] = (right[body] + passed_on) / own[body]
    return tuple(np.asarray(temperature) for temperature in settled)
