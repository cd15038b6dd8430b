"""Weight against wind, and weight against backs: when a pot goes over, and who can move it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from frostguard.errors import PhysicsInputError
from frostguard.physics.air import GRAVITY_M_S2

FloatArray = NDArray[np.float64]

WIND_LOAD_AIR_DENSITY_KG_M3 = 1.25
"""EN 1991-1-4, recommended value (from memory); a little on the safe side at 0 degC and above."""

POT_DRAG_COEFFICIENT = 0.7
"""A cylinder about as high as wide that stands on the ground; a box with flat sides is nearer to 1.2.

Hoerner, Fluid-Dynamic Drag, 1965 (from memory).
"""

HOOD_DRAG_COEFFICIENT = 1.1
"""A plant in a fleece hood or sheet, which cannot stream like leaves: near that of a flat plate. Estimate."""

LIFT_ALONE_KG = 10.0
"""From the floor and close to the body, for men.

Health and Safety Executive, Manual handling, guidance L23 (from memory).
"""

ONE_PERSON_KG = 25.0
"""Highest figure of the same filter, for men at waist height.

Also the reference mass of EN 1005-2 and ISO 11228-1 (all from memory).
"""


LIFTED_MIX_KG_M3 = 1300.0
"""Least that mix and its water are taken to weigh for lifting, whatever is in the bag.

Common practice, on the heavy side: wet peat mixes 1.0 to 1.4 kg/L, soil-based ones 1.6 to 1.9 kg/L (from memory), which
these come to with their pores full. Drained, peat holds 0.98 and bark
0.66 kg/L (Int. J. Agronomy 2012, 978528, table 1); grit, loam, crocks, a full saucer and rain that still drains come
on top, and nobody knows of which there is how much.
"""

CROWN_KG_M3 = 8.0
"""Plant above the mix, per m3 of the ellipsoid of its height and width.

Estimate: a shrub 1 m high and 0.6 m wide weighs 1 to 2 kg (from memory); half of it or twice as much is possible.
"""


@dataclass(frozen=True, slots=True)
class CrownDrag:
    """How a crown's drag falls as it bends and streams: coefficients on its outline in still air.

    Parameters
    ----------
    slow : float
        At 4 m/s and below [-].
    fast : float
        At 20 m/s [-].
    """

    slow: float
    fast: float


# Fast: wind tunnel at 20 m/s, still-air outline. Vollsinger, Mitchell, Byrne, Novak and Rudnicki, Canadian
# Journal of Forest Research 35, 2005: three broadleaves, 0.15 to 0.22. Rudnicki, Mitchell and Novak, same
# journal 34, 2004: three conifers, 0.22, 0.47, 0.47. Slow: 0.5 to 0.8 for shrubs at 4 m/s (Gillies, Nickling
# and King, Journal of Geophysical Research 107, 2002; from memory). Bare: leaves add 40 to 100 % to the drag
# of branches; 70 % taken, estimate.
BROADLEAF_IN_LEAF = CrownDrag(slow=0.6, fast=0.19)
CONIFER = CrownDrag(slow=0.6, fast=0.39)
BARE_BRANCHES = CrownDrag(slow=0.35, fast=0.11)

_SLOW_M_S = 4.0
_FAST_M_S = 20.0


def crown_drag_coefficient(wind_speed_m_s: ArrayLike, crown: CrownDrag) -> FloatArray:
    """Drag coefficient of a bending crown, on its outline in still air.

    Parameters
    ----------
    wind_speed_m_s : float or ndarray
        Gust at the crown, 0 or more [m/s].
    crown : CrownDrag
        Kind of crown: `BROADLEAF_IN_LEAF`, `CONIFER`, `BARE_BRANCHES`.

    Returns
    -------
    ndarray, same shape
        Drag coefficient [-]. The force still grows with the wind.

    Notes
    -----
    A power law between the two speeds, held above 20 m/s, where nothing was measured. Measured on small
    trees; shrubs in pots were not.

    References
    ----------
    Form after Vogel, Drag and reconfiguration of broad leaves in high winds, Journal of Experimental Botany
    40, 1989.
    """
    power = np.log(crown.fast / crown.slow) / np.log(_FAST_M_S / _SLOW_M_S)
    wind = np.clip(np.asarray(wind_speed_m_s, dtype=np.float64), _SLOW_M_S, _FAST_M_S)
    coefficient: FloatArray = crown.slow * (wind / _SLOW_M_S) ** power
    return coefficient


def crown_outline_m2(crown_height_m: ArrayLike, crown_width_m: ArrayLike) -> FloatArray:
    """Outline of a crown in still air as an ellipse [m2], from its height and width [m]; a hood is fuller."""
    height, width = _arrays(crown_height_m, crown_width_m)
    outline: FloatArray = np.pi / 4.0 * height * width
    return outline


def tipping_base_on_feet_m(feet_circle_diameter_m: ArrayLike, number_of_feet: int) -> FloatArray:
    """Width of the base over which a pot on feet tips most easily.

    Parameters
    ----------
    feet_circle_diameter_m : float or ndarray
        Diameter of the circle on which the feet stand, above 0 [m].
    number_of_feet : int
        Evenly spread, at least 3.

    Returns
    -------
    ndarray, same shape
        Twice the distance from the middle to the line between two feet [m]: half the circle's diameter for
        three feet, 0.71 of it for four.

    Raises
    ------
    PhysicsInputError
        If there are fewer than three feet, or the circle has no size.
    """
    diameter = np.asarray(feet_circle_diameter_m, dtype=np.float64)
    _check_positive(diameter)
    if number_of_feet < 3:
        raise PhysicsInputError(
            "A pot stands on fewer than three feet.", next_step="Set it on three feet or more, or on none."
        )
    base: FloatArray = diameter * np.cos(np.pi / number_of_feet)
    return base


def topple_gust_m_s(
    *,
    mass_kg: ArrayLike,
    base_width_m: ArrayLike,
    crown_area_m2: ArrayLike,
    crown_centre_height_m: ArrayLike,
    crown_drag_coefficient: ArrayLike,
    pot_width_m: ArrayLike,
    pot_height_m: ArrayLike,
    pot_drag_coefficient: ArrayLike = POT_DRAG_COEFFICIENT,
) -> FloatArray:
    """Gust that tips a pot over, with one drag coefficient for the crown at any speed.

    Parameters
    ----------
    mass_kg : float or ndarray
        Pot, mix and plant as dry as they get, above 0 [kg].
    base_width_m : float or ndarray
        Narrowest width of what it stands on, above 0 [m]; see `tipping_base_on_feet_m`.
    crown_area_m2, crown_centre_height_m : float or ndarray
        Outline in still air [m2], and height of its middle above the floor [m]; 0 for a pot without a plant.
    crown_drag_coefficient : float or ndarray
        On that outline; `HOOD_DRAG_COEFFICIENT` in a hood [-].
    pot_width_m, pot_height_m : float or ndarray
        Face of the pot, above 0 [m].
    pot_drag_coefficient : float or ndarray, default `POT_DRAG_COEFFICIENT`
        Of that face [-].

    Returns
    -------
    ndarray, broadcast shape
        Gust at the pot [m/s].

    Raises
    ------
    PhysicsInputError
        If a mass or size is not above 0, or a crown's area, height or drag is negative.

    Notes
    -----
    Moments about the edge of the base: weight times half its width against drag times height. A gust that
    lasts a second is taken as steady, which errs to the safe side for heavy pots. Sliding is not
    considered.
    """
    mass, base, pot_width, pot_height = _arrays(mass_kg, base_width_m, pot_width_m, pot_height_m)
    area, centre, crown_drag, pot_drag = _arrays(
        crown_area_m2, crown_centre_height_m, crown_drag_coefficient, pot_drag_coefficient
    )
    _check_positive(mass, base, pot_width, pot_height, pot_drag)
    if any(np.any(value < 0.0) for value in (area, centre, crown_drag)):
        raise PhysicsInputError(
            "A crown has a negative area, height or drag.", next_step="Check the plant in the garden file."
        )
    sail_m3 = crown_drag * area * centre + pot_drag * pot_width * pot_height * pot_height / 2.0
    gust: FloatArray = np.sqrt(mass * GRAVITY_M_S2 * base / (WIND_LOAD_AIR_DENSITY_KG_M3 * sail_m3))
    return gust


def topple_gust_of_bending_crown_m_s(
    *,
    mass_kg: ArrayLike,
    base_width_m: ArrayLike,
    crown_area_m2: ArrayLike,
    crown_centre_height_m: ArrayLike,
    crown: CrownDrag,
    pot_width_m: ArrayLike,
    pot_height_m: ArrayLike,
    pot_drag_coefficient: ArrayLike = POT_DRAG_COEFFICIENT,
) -> FloatArray:
    """Gust that tips a pot over, when the crown bends and its drag coefficient falls with the wind.

    Parameters
    ----------
    mass_kg, base_width_m, crown_area_m2, crown_centre_height_m, pot_width_m, pot_height_m,
    pot_drag_coefficient
        As for `topple_gust_m_s`.
    crown : CrownDrag
        Kind of crown; not for a plant in a hood.

    Returns
    -------
    ndarray, broadcast shape
        Gust at the pot [m/s].

    Raises
    ------
    PhysicsInputError
        As for `topple_gust_m_s`.
    """

    slowly = topple_gust_m_s(
        mass_kg=mass_kg,
        base_width_m=base_width_m,
        crown_area_m2=crown_area_m2,
        crown_centre_height_m=crown_centre_height_m,
        crown_drag_coefficient=crown.slow,
        pot_width_m=pot_width_m,
        pot_height_m=pot_height_m,
        pot_drag_coefficient=pot_drag_coefficient,
    )
    area, centre, width, height, pot_drag = _arrays(
        crown_area_m2, crown_centre_height_m, pot_width_m, pot_height_m, pot_drag_coefficient
    )
    crown_m3, pot_m3 = area * centre, pot_drag * width * height * height / 2.0
    holds = slowly * slowly * (crown.slow * crown_m3 + pot_m3)
    gust = slowly
    # The drag falls more slowly than the speed grows, so each round closes at least half of the gap.
    for _ in range(25):
        gust = np.sqrt(holds / (crown_drag_coefficient(gust, crown) * crown_m3 + pot_m3))
    return gust


def mix_density_kg_m3(dry_bulk_density_kg_m3: ArrayLike, water_fraction: ArrayLike) -> FloatArray:
    """Density of a moist mix.

    Parameters
    ----------
    dry_bulk_density_kg_m3 : float or ndarray
        Dry, per m3 of mix [kg/m3].
    water_fraction : float or ndarray
        Water [m3/m3].

    Returns
    -------
    ndarray, broadcast shape
        Density [kg/m3].
    """
    dry, water = _arrays(dry_bulk_density_kg_m3, water_fraction)
    return dry + 1000.0 * water


def crown_mass_kg(crown_height_m: ArrayLike, crown_width_m: ArrayLike) -> FloatArray:
    """Mass of a plant above the mix [kg] from its height and width [m], see `CROWN_KG_M3`."""
    height, width = _arrays(crown_height_m, crown_width_m)
    mass: FloatArray = CROWN_KG_M3 * np.pi / 6.0 * height * width * width
    return mass


def pot_mass_kg(
    *,
    radius_m: ArrayLike,
    height_m: ArrayLike,
    wall_thickness_m: ArrayLike,
    wall_density_kg_m3: ArrayLike,
    mix_density_kg_m3: ArrayLike,
    plant_mass_kg: ArrayLike = 0.0,
    volume_m3: ArrayLike | None = None,
) -> FloatArray:
    """Mass of a pot with its mix and plant.

    Parameters
    ----------
    radius_m, height_m : float or ndarray
        Of the mix, or of the cylinder with the same ratio of side area to volume, above 0 [m].
    wall_thickness_m, wall_density_kg_m3 : float or ndarray
        Of side and base alike, 0 or more [m], [kg/m3].
    mix_density_kg_m3 : float or ndarray
        Moist as it is, see the function of that name; 0 for an empty pot [kg/m3].
    plant_mass_kg : float or ndarray, default 0
        Above the mix [kg], see `crown_mass_kg`: little beside a moist mix.
    volume_m3 : float or ndarray, optional
        Volume of the mix of a trough or square pot, above 0; without it that of the cylinder [m3].

    Returns
    -------
    ndarray, broadcast shape
        Mass [kg]. Rims, feet and the free edge above the mix are left out: some per cent too light.

    Raises
    ------
    PhysicsInputError
        If a size is not above 0, or a thickness or density is negative.

    Notes
    -----
    At one height and one ratio of side area to volume, side, base and mix of a thin-walled pot all grow
    with its volume, so the cylinder is scaled by volume.
    """
    radius, height, thickness = _arrays(radius_m, height_m, wall_thickness_m)
    wall_density, mix_density, plant = _arrays(wall_density_kg_m3, mix_density_kg_m3, plant_mass_kg)
    cylinder_m3 = np.pi * radius * radius * height
    volume = cylinder_m3 if volume_m3 is None else np.asarray(volume_m3, dtype=np.float64)
    _check_positive(radius, height, volume)
    if any(np.any(value < 0.0) for value in (thickness, wall_density, mix_density, plant)):
        raise PhysicsInputError(
            "A wall, mix or plant has a negative thickness, density or mass.",
            next_step="Check the pot in the garden file.",
        )
    outer = radius + thickness
    shell_m3 = np.pi * outer * outer * (height + thickness) - cylinder_m3
    mass: FloatArray = (shell_m3 * wall_density / cylinder_m3 + mix_density) * volume + plant
    return mass


class WayToMove(Enum):
    """How a weight may be moved."""

    ALONE = "alone"
    SLIDE_OR_TROLLEY = "slide or trolley"
    TWO_PEOPLE = "two people"


def way_to_move(
    mass_kg: float, *, lift_alone_kg: float = LIFT_ALONE_KG, one_person_kg: float = ONE_PERSON_KG
) -> WayToMove:
    """How a pot of a given mass may be moved from the floor.

    Parameters
    ----------
    mass_kg : float
        Wet, since a pot is heaviest when it matters [kg].
    lift_alone_kg : float, default `LIFT_ALONE_KG`
        What this person lifts alone from the floor [kg]; 7 for most women by the same filter.
    one_person_kg : float, default `ONE_PERSON_KG`
        Above this two people, even to slide it [kg].

    Returns
    -------
    WayToMove
        A guideline, not a safe limit.
    """
    if mass_kg <= lift_alone_kg:
        return WayToMove.ALONE
    return WayToMove.SLIDE_OR_TROLLEY if mass_kg <= one_person_kg else WayToMove.TWO_PEOPLE


def _check_positive(*values: FloatArray) -> None:
    """Refuse masses and sizes of 0 and below."""
    if any(np.any(value <= 0.0) for value in values):
        raise PhysicsInputError(
            "A pot has a mass or size that is not above 0.", next_step="Check the pot in the garden file."
        )


def _arrays(*values: ArrayLike) -> tuple[FloatArray, ...]:
    """All values as float arrays."""
    return tuple(np.asarray(value, dtype=np.float64) for value in values)
