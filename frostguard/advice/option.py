"""One thing that could be done for a pot: its steps with what they take, and what decides what is open."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import ceil

from frostguard.advice.plan import COUNTED, MEASURED_OUT, Caution, CoverUse, Protection
from frostguard.advice.situation import Situation
from frostguard.advice.state import Told
from frostguard.advice.supplies import Needs, Supplies
from frostguard.garden.catalogue import Catalogue
from frostguard.garden.model import Garden
from frostguard.garden.settings import Settings
from frostguard.hardiness.taxon import Taxon
from frostguard.physics.stability import LIFTED_MIX_KG_M3, crown_mass_kg, mix_density_kg_m3, pot_mass_kg

INDOORS_EUR = 1.0
"""What room indoors is worth for each pot: it is scarce, and plants soften there; estimate."""

MISSED_LIGHT_EUR = 1.0
"""What it is worth beside that if a plant that needs light does not have to stand in the dark; estimate."""

BY_DAY_ONLY = frozenset({Caution.HEAVY, Caution.OVER_A_DROP})
"""Cautions of what nobody handles in the dark."""

UNDO_EFFORT = {Protection.FLEECE: 1.5, Protection.DOUBLE_FLEECE: 1.5, Protection.MOVE: 2.0}
"""Work of putting on and taking off again over the work of putting on; estimate."""


@dataclass(frozen=True, slots=True)
class Step:
    """One protection of an option: what it takes."""

    protection: Protection
    minutes: float
    people: int
    covers: tuple[CoverUse, ...] = ()
    cautions: tuple[Caution, ...] = ()
    litres: float | None = None

    @property
    def whole_minutes(self) -> float:
        """The minutes as they are told, and as they count in a window: whole ones, so that lines add up."""
        return float(ceil(self.minutes - 1e-9))

    def at(self, pace: float) -> Step:
        """The same step by somebody who takes so many times the minutes."""
        return replace(self, minutes=self.minutes * pace)


@dataclass(frozen=True, slots=True)
class Option:
    """A set of protections for one pot, as a situation to simulate."""

    situation: Situation
    steps: tuple[Step, ...]
    needs: Needs
    to_spot: str | None = None
    indoors: bool = False
    misses_light: bool = False  # stands there for a few days only
    added_water_fraction: float = 0.0

    @property
    def protections(self) -> frozenset[Protection]:
        """What is done."""
        return frozenset(step.protection for step in self.steps)

    @property
    def by_day_only(self) -> bool:
        """Whether nobody does it by lamp: what is heavy, hangs over a drop, or wets the floor."""
        return any(
            step.protection is Protection.WATER or not BY_DAY_ONLY.isdisjoint(step.cautions) for step in self.steps
        )

    @property
    def minutes(self) -> float:
        """Whole minutes of work now, of all hands."""
        return sum(step.whole_minutes * step.people for step in self.steps)

    def cut_from(self, pieces: Mapping[str, CoverUse]) -> Option:
        """The same done with these pieces, by material, since others may have begun those it was reckoned with."""
        steps = (
            replace(
                step,
                covers=tuple(use if use.piece in COUNTED else pieces.get(use.material, use) for use in step.covers),
            )
            for step in self.steps
        )
        return replace(self, steps=tuple(steps))

    def effort_eur(self, settings: Settings, cold_nights: int = 1) -> float:
        """Work now and for undoing it, and the worth of room indoors, as money [euro].

        A pot that is carried away once is safe for all `cold_nights` that follow one another.
        """
        minutes = sum(step.minutes * step.people * UNDO_EFFORT.get(step.protection, 1.0) for step in self.steps)
        room = (INDOORS_EUR * self.indoors + MISSED_LIGHT_EUR * self.misses_light) * self.situation.pot.count
        whole = minutes / 60.0 * settings.effort_eur_h + room
        return whole / cold_nights if self.to_spot is not None else whole

    def for_pots(self, count: int) -> Option:
        """What is an option for one pot, done for so many alike."""
        if count == 1:
            return self
        steps = (
            replace(
                step,
                minutes=step.minutes * count,
                covers=tuple(self._for_pots(use, count) for use in step.covers),
                litres=None if step.litres is None else step.litres * count,
            )
            for step in self.steps
        )
        pot = replace(self.situation.pot, count=count)
        return replace(
            self, situation=replace(self.situation, pot=pot), steps=tuple(steps), needs=self.needs.times(count)
        )

    def _for_pots(self, use: CoverUse, count: int) -> CoverUse:
        """Pieces of so many pots; loose stuff by the whole litre of all of them."""
        if use.piece in MEASURED_OUT:
            litres = sum(amount for material, amount in self.needs.mulch_litres if material == use.material)
            return replace(use, count=round(litres * count))
        return replace(use, count=use.count * count)

    @staticmethod
    def together(parts: Sequence[Option], situation: Situation) -> Option:
        """Several things done to one pot at once; nothing at all where there are none."""
        changed = situation
        for part in parts:
            differences = {
                name: getattr(part.situation, name)
                for name in Situation.__dataclass_fields__
                if getattr(part.situation, name) != getattr(situation, name)
            }
            changed = replace(changed, **differences)
        return Option(
            situation=changed,
            steps=tuple(step for part in parts for step in part.steps),
            needs=Needs.total(part.needs for part in parts),
            to_spot=next((part.to_spot for part in parts if part.to_spot is not None), None),
            indoors=any(part.indoors for part in parts),
            misses_light=any(part.misses_light for part in parts),
            added_water_fraction=sum(part.added_water_fraction for part in parts),
        )


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What decides which protections are open to a pot tonight.

    `frozen` names the pots whose ball is largely frozen by the time of the job: a wrap would keep the
    cold in. `icy` are those with any ice to speak of: water would freeze on top. `gust_m_s` is the
    strongest gust at each spot. `told` are the jobs that the person knows of already. `briefly_in` names the
    pots that, carried in, can go out again before their plants miss the light, `stand_warm` those that a heated room
    does not soften till then.
    """

    garden: Garden
    catalogue: Catalogue
    settings: Settings
    supplies: Supplies
    taxa: Mapping[str, tuple[Taxon, ...]]  # by pot id
    frozen: frozenset[str]
    icy: frozenset[str]
    mild_enough_to_water: bool
    dark: bool
    topple_with_hood_m_s: Mapping[str, float] = field(default_factory=dict)
    topple_on_feet_m_s: Mapping[str, float] = field(default_factory=dict)
    gust_m_s: Mapping[str, float] = field(default_factory=dict)
    told: frozenset[Told] = frozenset()
    briefly_in: frozenset[str] = frozenset()
    stand_warm: frozenset[str] = frozenset()


def pot_weight_kg(situation: Situation, catalogue: Catalogue, water_fraction: float | None = None) -> float:
    """What a pot weighs, plant included [kg]: for lifting, or with so much water [m3/m3].

    For lifting all its pores are full, as just after rain or in a saucer, and it is no lighter than 1.3 kg per litre
    of mix: backs are hurt by what is heavier than it was said to be. Pots go over by the dry weight, which is another
    reckoning.
    """
    pot = situation.pot
    wall = catalogue.walls[pot.wall]
    mix = catalogue.mixes[pot.mix]
    if water_fraction is None:
        soaked_kg_m3 = float(mix_density_kg_m3(mix.dry_bulk_density_kg_m3, mix.porosity))
        density_kg_m3 = max(soaked_kg_m3, LIFTED_MIX_KG_M3)
    else:
        density_kg_m3 = float(mix_density_kg_m3(mix.dry_bulk_density_kg_m3, water_fraction))
    return float(
        pot_mass_kg(
            radius_m=pot.radius_m,
            height_m=pot.height_m,
            wall_thickness_m=pot.wall_thickness_m,
            wall_density_kg_m3=wall.density_kg_m3,
            mix_density_kg_m3=density_kg_m3,
            plant_mass_kg=sum(crown_mass_kg(plant.height_m, plant.width_m) for plant in pot.plantings),
            volume_m3=pot.volume_l / 1000.0,
        )
    )
