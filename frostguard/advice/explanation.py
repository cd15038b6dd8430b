"""Records of the long answer about one pot: curves, where the heat goes, what matters, what was assumed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from frostguard.advice.plan import TissueOutlook


@dataclass(frozen=True, slots=True)
class CurveRow:
    """One moment of the pot's curves [degC, m/s, share]."""

    time: datetime  # aware, site's zone
    air_c: float
    wind_at_pot_m_s: float
    top_ring_c: float
    middle_ring_c: float
    bottom_ring_c: float
    mean_c: float
    core_c: float
    frozen_fraction: float
    leaf_c: float


@dataclass(frozen=True, slots=True)
class HeatBill:
    """Heat into the root ball over the coldest night, negative where it is lost [kJ].

    Through the three faces, and the side's and top's share by way of transfer.
    """

    side_kj: float
    top_kj: float
    base_kj: float
    convection_kj: float
    longwave_kj: float
    sun_kj: float
    evaporation_kj: float  # lost by what evaporates, gained from dew


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """How far the coldest ring moves when one thing about the pot is one step different."""

    what: str  # code: "wall foam", "volume +50 %", "wind half", "water +0.1"
    coldest_ring_change_k: float


@dataclass(frozen=True, slots=True)
class WaterReckoned:
    """A pot's water: as the file says it is kept, what came and went in the past days, as it was reckoned with (by the
    time the frost comes), and now [m3/m3, mm]."""

    kept_at: float
    rained_mm: float
    dried_mm: float
    fraction: float
    now: float
    freezable: float
    covers_wet: bool


@dataclass(frozen=True, slots=True)
class WindReckoned:
    """Weight against wind: gusts at the pot, endless where it cannot fall [kg, m/s]."""

    weight_now_kg: float
    weight_soaked_kg: float
    topples_at_m_s: float
    topples_hooded_at_m_s: float
    strongest_gust_m_s: float


@dataclass(frozen=True, slots=True)
class SkyReckoned:
    """The sky's radiation at the pot's coldest hour, whether a service told it, and what all formulas say [W/m2]."""

    sent_w_m2: float
    told: bool
    lowest_w_m2: float
    highest_w_m2: float
    seen_by_side: float  # share of what the barest strip of the side looks at
    seen_by_top: float


@dataclass(frozen=True, slots=True)
class Reckoned:
    """What a pot was reckoned with: resistances [m2 K/W], snow at its coldest hour [m], corner, bulbs, clay, dew."""

    water: WaterReckoned
    wind: WindReckoned
    wall_m2_k_w: float
    wraps_m2_k_w: float
    top_m2_k_w: float
    base_m2_k_w: float
    sky: SkyReckoned | None  # None in a room
    snow_on_top_m: float
    snow_beside_m: float
    corner_k: float  # below the ring; 0 for a round pot
    bulbs_at_m: tuple[float, ...]
    thaws_behind: int  # times that the outer roots, and with them the wall, froze and thawed in the weather's past
    dew_warms_k: float


@dataclass(frozen=True, slots=True)
class Explanation:
    """Why the plan says what it says about one pot."""

    pot: str
    label: str
    rows: tuple[CurveRow, ...]  # every third hour
    heat: HeatBill
    surface_second_pass_k: float  # how far a second pass for its surfaces moves the coldest ring of any night
    sensitivities: tuple[Sensitivity, ...]
    reckoned: Reckoned
    limits: tuple[TissueOutlook, ...]
    assumed: tuple[str, ...]
