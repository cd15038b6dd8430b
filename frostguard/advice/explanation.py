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


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """How far the coldest ring moves when one thing about the pot is one step different."""

    what: str  # code: "wall foam", "volume +50 %", "wind half", "water +0.1"
    coldest_ring_change_k: float


@dataclass(frozen=True, slots=True)
class Explanation:
    """Why the plan says what it says about one pot."""

    pot: str
    label: str
    rows: tuple[CurveRow, ...]  # every third hour
    heat: HeatBill
    surface_second_pass_k: float  # how far a second pass for the wall's surface moves the ring
    sensitivities: tuple[Sensitivity, ...]
    limits: tuple[TissueOutlook, ...]
    assumed: tuple[str, ...]
