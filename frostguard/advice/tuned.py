"""What readings have taught about this terrace, as the simulation uses it; nothing where nothing was learnt."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Protocol, TypeVar

from frostguard.weather.night_errors import SiteHabits

SITE = "site"


class Value(Protocol):
    """A value as the logbook keeps it."""

    @property
    def subject(self) -> str:
        """What it belongs to: "site", "spot/deck", "pot/lemon"."""

    @property
    def name(self) -> str:
        """The parameter with its unit."""

    @property
    def value(self) -> float:
        """The value in that unit."""


@dataclass(frozen=True, slots=True)
class SpotTuning:
    """How a spot differs from what the garden file says.

    Parameters
    ----------
    wind_factor : float
        Wind at the pots over that of the file.
    sky_view_shift : float
        Added to the share of the sky that is seen.
    floor_offset_k : float
        By which what is beneath is warmer [K].
    """

    wind_factor: float = 1.0
    sky_view_shift: float = 0.0
    floor_offset_k: float = 0.0


@dataclass(frozen=True, slots=True)
class PotTuning:
    """How a pot differs from what the garden file and the catalogue say.

    Parameters
    ----------
    wind_factor : float
        Wind along the pot over wind at the spot: convection, and neighbours.
    side_resistance_m2_k_w : float
        Added to wall and wraps; negative for a thinner wall.
    water_factor : float
        Water in the mix over that of the file.
    conductivity_factor : float
        Conductivity of the mix over that of the catalogue.
    """

    wind_factor: float = 1.0
    side_resistance_m2_k_w: float = 0.0
    water_factor: float = 1.0
    conductivity_factor: float = 1.0


NO_SPOT_TUNING = SpotTuning()
NO_POT_TUNING = PotTuning()


@dataclass(frozen=True, slots=True)
class Tuned:
    """Everything learnt: of pots and spots by their names; `habits` is None where the air taught nothing."""

    pots: Mapping[str, PotTuning] = field(default_factory=dict)
    spots: Mapping[str, SpotTuning] = field(default_factory=dict)
    habits: SiteHabits | None = None

    def pot(self, name: str) -> PotTuning:
        """Of one pot."""
        return self.pots.get(name, NO_POT_TUNING)

    def spot(self, name: str) -> SpotTuning:
        """Of one spot."""
        return self.spots.get(name, NO_SPOT_TUNING)

    @property
    def is_empty(self) -> bool:
        """Whether nothing was learnt."""
        return not self.pots and not self.spots and self.habits is None


NOTHING_TUNED = Tuned()

_Record = TypeVar("_Record", PotTuning, SpotTuning, SiteHabits)


def tuned_from(values: Iterable[Value], usual: SiteHabits) -> Tuned:
    """What the logbook's values in force say; names that this version does not know are passed over.

    Parameters
    ----------
    values : iterable of values with `subject`, `name` and `value`
    usual : SiteHabits
        What holds for the air where the values say nothing.
    """
    pots: dict[str, PotTuning] = {}
    spots: dict[str, SpotTuning] = {}
    habits: SiteHabits | None = None
    for one in values:
        kind, _, name = one.subject.partition("/")
        if kind == "pot":
            pots[name] = _with(pots.get(name, NO_POT_TUNING), one)
        elif kind == "spot":
            spots[name] = _with(spots.get(name, NO_SPOT_TUNING), one)
        elif one.subject == SITE:
            habits = _with(habits or usual, one)
    return Tuned(
        {name: pot for name, pot in pots.items() if pot != NO_POT_TUNING},
        {name: spot for name, spot in spots.items() if spot != NO_SPOT_TUNING},
        habits,
    )


def _with(record: _Record, one: Value) -> _Record:
    return replace(record, **{one.name: one.value}) if one.name in type(record).__dataclass_fields__ else record
