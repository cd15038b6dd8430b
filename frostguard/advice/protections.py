"""What can be done for a pot: each protection as a changed situation, with its minutes, hands and pieces.

Which of them help is not decided here but simulated. Minutes are estimates for one practised person
with everything at hand; nobody publishes them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain, product

import numpy as np

from frostguard.advice.plan import MEASURED_OUT, Caution, CoverUse, NoJob, Protection
from frostguard.advice.situation import Situation
from frostguard.advice.state import Told
from frostguard.advice.supplies import Needs, Supplies
from frostguard.garden.catalogue import Catalogue
from frostguard.garden.model import Beneath, Garden, Light, Neighbours, Shape, Spot
from frostguard.garden.settings import Settings
from frostguard.hardiness.model import MovedLight
from frostguard.hardiness.taxon import Habit, Sensitivity, Taxon
from frostguard.physics.stability import WayToMove, mix_density_kg_m3, pot_mass_kg, way_to_move

HEAVIEST_KG = 90.0
"""Nothing heavier is ever moved in a night's work; estimate."""

MULCH_M = 0.05
"""Depth of loose mulch laid on a pot: 3 to 5 cm, common practice."""

WARM_ROOM_C = 10.0
"""A room kept above this softens what is not tender; common practice."""

INDOORS_EUR = 1.0
"""What room indoors is worth for each pot: it is scarce, and plants soften there; estimate."""

UNDO_EFFORT = {Protection.FLEECE: 1.5, Protection.DOUBLE_FLEECE: 1.5, Protection.MOVE: 2.0}
"""Work of putting on and taking off again over the work of putting on; estimate."""

LEAF_PROTECTIONS = frozenset(
    {Protection.FLEECE, Protection.DOUBLE_FLEECE, Protection.MOVE, Protection.TIE_CROWN}
)
COLD_FLOORS = frozenset({Beneath.OPEN_AIR, Beneath.DECKING, Beneath.NOTHING})
"""Floors that are as cold as the air."""

GROUPED = frozenset({Neighbours.GROUP, Neighbours.PACKED})
OFF_THE_FLOOR = frozenset({Shape.HANGING, Shape.RAILING_BOX})
"""What stands on no floor, so that it can be neither slid nor wheeled."""

ROOT_PROTECTIONS = frozenset(Protection) - {
    Protection.FLEECE,
    Protection.DOUBLE_FLEECE,
    Protection.TIE_CROWN,
    Protection.SECURE,
}

CRATE_OF_BARK, TIED_CROWN = "crate of bark", "tied crown"
"""Keys of the cover catalogue for what is made of loose stuff and of the plant itself."""

LARGEST_CRATE_L = 20.0
"""A larger pot finds no crate that goes round it with a hand's width to spare; estimate."""

TIED_GROUPS = frozenset({"palms", "ferns"})
"""Plants whose leaves can be drawn up round their one growing point; agaves are too stiff (common practice)."""

TOGETHER = (
    (Protection.FLEECE, Protection.WRAP),
    (Protection.FLEECE, Protection.GROUP),
    (Protection.WRAP, Protection.MULCH),
    (Protection.GROUP, Protection.MULCH),
    (Protection.GROUP, Protection.WRAP),
    (Protection.WRAP, Protection.RAISE),
    (Protection.GROUP, Protection.WRAP, Protection.MULCH),
    (Protection.WATER, Protection.WRAP),
    (Protection.TIE_CROWN, Protection.WRAP),
)
"""Sensible sets; common practice."""


@dataclass(frozen=True, slots=True)
class Step:
    """One protection of an option: what it takes."""

    protection: Protection
    minutes: float
    people: int
    covers: tuple[CoverUse, ...] = ()
    cautions: tuple[Caution, ...] = ()
    litres: float | None = None

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
    added_water_fraction: float = 0.0

    @property
    def protections(self) -> frozenset[Protection]:
        """What is done."""
        return frozenset(step.protection for step in self.steps)

    @property
    def minutes(self) -> float:
        """Minutes of work now, of all hands."""
        return sum(step.minutes * step.people for step in self.steps)

    def cut_from(self, pieces: Mapping[str, CoverUse]) -> Option:
        """The same done with these pieces, by material, since others may have begun those it was reckoned with."""
        steps = (
            replace(
                step,
                covers=tuple(use if use.piece == "hood" else pieces.get(use.material, use) for use in step.covers),
            )
            for step in self.steps
        )
        return replace(self, steps=tuple(steps))

    def effort_eur(self, settings: Settings, cold_nights: int = 1) -> float:
        """Work now and for undoing it, and the worth of room indoors, as money [euro].

        A pot that is carried away once is safe for all `cold_nights` that follow one another.
        """
        minutes = sum(step.minutes * step.people * UNDO_EFFORT.get(step.protection, 1.0) for step in self.steps)
        room = INDOORS_EUR * self.situation.pot.count if self.indoors else 0.0
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
        loose = use.piece in MEASURED_OUT
        return replace(use, count=round(self.needs.mulch_litres * count) if loose else use.count * count)

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
            added_water_fraction=sum(part.added_water_fraction for part in parts),
        )


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What decides which protections are open to a pot tonight.

    `frozen` names the pots whose ball is largely frozen by the time of the job: a wrap would keep the
    cold in. `icy` are those with any ice to speak of: water would freeze on top. `gust_m_s` is the
    strongest gust at each spot. `told` are the jobs that the person knows of already.
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
    gust_m_s: Mapping[str, float] = field(default_factory=dict)
    told: frozenset[Told] = frozenset()


def pot_weight_kg(situation: Situation, catalogue: Catalogue, water_fraction: float | None = None) -> float:
    """What a pot weighs for lifting, plant included [kg]: soaked, unless its water is given [m3/m3]."""
    pot = situation.pot
    wall = catalogue.walls[pot.wall]
    mix = catalogue.mixes[pot.mix]
    return float(
        pot_mass_kg(
            radius_m=pot.radius_m,
            height_m=pot.height_m,
            wall_thickness_m=pot.wall_thickness_m,
            wall_density_kg_m3=wall.density_kg_m3,
            mix_density_kg_m3=mix_density_kg_m3(
                mix.dry_bulk_density_kg_m3, mix.water_fraction["wet"] if water_fraction is None else water_fraction
            ),
            volume_m3=pot.volume_l / 1000.0,
        )
    )


def options_for(
    situation: Situation, about: Circumstances, wanted: frozenset[Protection], *, rooms: bool
) -> tuple[Option, ...]:
    """Every set of protections open to a pot, of those wanted.

    Parameters
    ----------
    situation : Situation
        The pot as it stands.
    about : Circumstances
        Stock, spots, hands, weather.
    wanted : frozenset of Protection
        Those that can touch what is at risk.
    rooms : bool
        Whether carrying indoors is a choice: it is the last resort, and room there is scarce.
    """
    singles: dict[Protection, tuple[Option, ...]] = {}
    if about.garden.spot(situation.spot).room is None:
        singles = {kind: _singles(kind, situation, about) for kind in Protection if kind in wanted}
    sets = (
        Option.together(parts, situation)
        for kinds in TOGETHER
        if all(kind in singles for kind in kinds)
        for parts in product(*(singles[kind] for kind in kinds))
    )
    moves = _moves(situation, about, rooms=rooms) if Protection.MOVE in wanted else iter(())
    found = chain(chain.from_iterable(singles.values()), sets, moves)
    return tuple(_at_pace(option, about) for option in found if about.supplies.can_give(option.needs))


def option_of(kind: Protection, situation: Situation, about: Circumstances) -> Option | None:
    """A protection by itself with the warmest cover there is; None where it is not open to the pot."""
    return next((_at_pace(option, about) for option in _singles(kind, situation, about)), None)


def _singles(kind: Protection, situation: Situation, about: Circumstances) -> tuple[Option, ...]:
    """A protection by itself, once for each cover that would do."""
    match kind:
        case Protection.FLEECE:
            return _fleece(situation, about, layers=1)
        case Protection.DOUBLE_FLEECE:
            return _fleece(situation, about, layers=2)
        case Protection.WRAP:
            return _wrap(situation, about)
        case Protection.RAISE:
            found = _raise(situation, about)
        case Protection.GROUP:
            found = _group(situation, about)
        case Protection.MULCH:
            found = _mulch(situation, about)
        case Protection.WATER:
            found = _water(situation, about)
        case Protection.PLUNGE:
            found = _plunge(situation, about)
        case Protection.FILL_GAPS:
            found = _fill_gaps(situation, about)
        case Protection.TIE_CROWN:
            found = _tie_crown(situation, about)
        case Protection.MOVE | Protection.SECURE | Protection.UNCOVER:
            found = None
    return () if found is None else (found,)


def _at_pace(option: Option, about: Circumstances) -> Option:
    """With the minutes that this person takes, as far as sign-offs tell."""
    pace = about.settings.pace_of_work
    return option if pace == 1.0 else replace(option, steps=tuple(step.at(pace) for step in option.steps))


def _fleece(situation: Situation, about: Circumstances, *, layers: int) -> tuple[Option, ...]:
    if situation.over_plant:
        return ()
    pot = situation.pot
    gust = about.gust_m_s.get(situation.spot, 0.0)
    if gust > about.topple_with_hood_m_s.get(pot.id, np.inf):
        return ()  # a hood is a sail: the pot would go over
    cautions = [Caution.NO_FLAMES]
    if gust > 10.0:  # a fresh to strong breeze in gusts; estimate
        cautions.append(Caution.GALE_HOODS)
    tall = 1.0 if situation.height_m > 1.2 else 0.0
    kind = Protection.FLEECE if layers == 1 else Protection.DOUBLE_FLEECE
    return tuple(
        Option(
            replace(situation, over_plant=(cut.material,) * layers),
            (
                Step(
                    kind,
                    pot.count * (about.catalogue.covers[cut.material].minutes + tall + (layers - 1)),
                    1,
                    (cut.use,),
                    tuple(cautions),
                ),
            ),
            cut.needs,
        )
        for cut in about.supplies.covers_for_plant(
            situation.width_m, situation.height_m, situation.spot, layers, pot.count
        )
    )


def _wrap(situation: Situation, about: Circumstances) -> tuple[Option, ...]:
    pot = situation.pot
    if situation.round_pot or pot.id in about.frozen or pot.shape is Shape.HANGING:
        return ()
    outer = 2.0 * (pot.radius_m + pot.wall_thickness_m)
    options = []
    for cut in about.supplies.covers_for_pot(outer, pot.height_m, pot.count):
        cover = about.catalogue.covers[cut.material]
        cautions = () if cover.breathable else (Caution.PLASTIC_OFF_LEAVES,)
        step = Step(Protection.WRAP, pot.count * cover.minutes, 1, (cut.use,), cautions)
        options.append(Option(replace(situation, round_pot=(cut.material,) * cut.layers), (step,), cut.needs))
    return tuple(options)


def _raise(situation: Situation, about: Circumstances) -> Option | None:
    pot = situation.pot
    stands = pot.shape not in OFF_THE_FLOOR
    if situation.feet or situation.board or not stands:
        return None
    handling = _handling(situation, about, 2.0)
    if handling is None:
        return None
    people, minutes, cautions = handling
    feet = 3 * pot.count
    return Option(
        replace(situation, feet=True),
        (Step(Protection.RAISE, minutes, people, (CoverUse("pot feet", "set", pot.count),), cautions),),
        Needs(pot_feet=feet),
    )


def _group(situation: Situation, about: Circumstances) -> Option | None:
    if situation.neighbours in GROUPED or situation.pot.shape in OFF_THE_FLOOR:
        return None
    others = sum(pot.count for pot in about.garden.pots if pot.spot == situation.spot and pot.id != situation.pot.id)
    if others < 2:
        return None
    handling = _handling(situation, about, 2.0)
    if handling is None:
        return None
    people, minutes, cautions = handling
    step = Step(Protection.GROUP, minutes, people, (), (*cautions, Caution.FLOOR_LOAD))
    return Option(replace(situation, neighbours=Neighbours.GROUP), (step,), Needs())


def _mulch(situation: Situation, about: Circumstances) -> Option | None:
    pot = situation.pot
    if situation.mulch_m >= MULCH_M or pot.id in about.frozen or _rots(about.taxa[pot.id]):
        return None
    litres = 1000.0 * np.pi * pot.radius_m**2 * MULCH_M * pot.count
    material = about.supplies.mulch_for(litres)
    if material is None:
        return None
    step = Step(Protection.MULCH, 1.5 * pot.count, 1, (CoverUse(material, "litres", round(litres)),))
    return Option(replace(situation, mulch_m=MULCH_M), (step,), Needs(mulch_litres=litres))


def _plunge(situation: Situation, about: Circumstances) -> Option | None:
    """Into a crate or box a hand wider all round, filled with bark or leaves: small pots that one can lift."""
    pot = situation.pot
    too_large = pot.volume_l > LARGEST_CRATE_L or pot.shape in OFF_THE_FLOOR or pot.shape is Shape.TROUGH
    if situation.round_pot or pot.id in about.frozen or too_large:
        return None
    cover = about.catalogue.covers[CRATE_OF_BARK]
    outer = pot.radius_m + pot.wall_thickness_m
    side = np.pi * ((outer + cover.thickness_m) ** 2 - outer**2) * pot.height_m
    litres = 1000.0 * pot.count * (side + np.pi * pot.radius_m**2 * MULCH_M)  # over the rim as well
    material = about.supplies.mulch_for(litres)
    handling = _handling(situation, about, cover.minutes)
    if material is None or handling is None or handling[0] > 1 or Caution.HEAVY in handling[2]:
        return None
    _, minutes, cautions = handling
    step = Step(Protection.PLUNGE, minutes, 1, (CoverUse(material, "litres", round(litres)),), cautions)
    over = situation.mulch_m if _rots(about.taxa[pot.id]) else max(situation.mulch_m, MULCH_M)
    return Option(
        replace(situation, round_pot=(CRATE_OF_BARK,), mulch_m=over), (step,), Needs(mulch_litres=litres)
    )


def _fill_gaps(situation: Situation, about: Circumstances) -> Option | None:
    """Leaves, straw or bark between the pots of a group: half of the gap round each pot is its own."""
    pot = situation.pot
    if situation.neighbours is not Neighbours.GROUP or pot.id in about.frozen or pot.shape in OFF_THE_FLOOR:
        return None
    outer = pot.radius_m + pot.wall_thickness_m
    litres = 1000.0 * (4.0 - np.pi) * outer**2 * pot.height_m * pot.count  # round pots that touch, four to a square
    material = about.supplies.mulch_for(litres)
    if material is None:
        return None
    step = Step(Protection.FILL_GAPS, 1.0 * pot.count, 1, (CoverUse(material, "litres", round(litres)),))
    return Option(replace(situation, neighbours=Neighbours.PACKED), (step,), Needs(mulch_litres=litres))


def _tie_crown(situation: Situation, about: Circumstances) -> Option | None:
    """Leaves drawn up and tied round the growing point, with straw or fleece in its heart; needs a tie only."""
    taxa = about.taxa[situation.pot.id]
    tied = [taxon for taxon in taxa if taxon.habit is Habit.PALM and taxon.group in TIED_GROUPS]
    if situation.over_plant or len(tied) < len(taxa):
        return None
    minutes = situation.pot.count * about.catalogue.covers[TIED_CROWN].minutes
    cautions = (Caution.SPINES,) if any(taxon.spiny for taxon in taxa) else ()
    return Option(
        replace(situation, over_plant=(TIED_CROWN,)), (Step(Protection.TIE_CROWN, minutes, 1, (), cautions),), Needs()
    )


def _rots(taxa: Sequence[Taxon]) -> bool:
    """Rosettes, lavender, cacti and the like, which nothing damp may lie on."""
    return any(taxon.wet is Sensitivity.HIGH for taxon in taxa)


def _water(situation: Situation, about: Circumstances) -> Option | None:
    """Water up to moist: only pots nearer to dry, and unfrozen, never succulents, and only while it is mild."""
    pot = situation.pot
    mix = about.catalogue.mixes[pot.mix]
    missing = mix.water_fraction["moist"] - situation.water_fraction
    dries_out = missing >= 0.5 * (mix.water_fraction["moist"] - mix.water_fraction["dry"])
    if not dries_out or pot.id in about.icy or _rots(about.taxa[pot.id]) or not about.mild_enough_to_water:
        return None
    litres = missing * pot.volume_l * pot.count
    step = Step(Protection.WATER, pot.count * 1.0, 1, (), (Caution.WATER_RUN_OFF,), litres)
    return Option(
        replace(situation, water_fraction=situation.water_fraction + missing),
        (step,),
        Needs(),
        added_water_fraction=missing,
    )


def _handling(
    situation: Situation, about: Circumstances, minutes: float
) -> tuple[int, float, tuple[Caution, ...]] | None:
    """Hands, minutes and cautions for shifting a pot; None where it must stay: too heavy, or dark."""
    weight = pot_weight_kg(situation, about.catalogue)
    count = situation.pot.count
    if situation.pot.shape in OFF_THE_FLOOR:
        return _lifting(weight, about, minutes * count)
    way = way_to_move(weight, lift_alone_kg=about.settings.lift_alone_kg)
    if way is WayToMove.ALONE:
        return 1, minutes * count, ()
    if about.dark or weight > HEAVIEST_KG:
        return None
    if way is WayToMove.SLIDE_OR_TROLLEY:
        return 1, 1.5 * minutes * count, (Caution.HEAVY,)
    if about.settings.people < 2:
        return None
    return 2, 2.0 * minutes * count, (Caution.HEAVY, Caution.TWO_PEOPLE)


def _lifting(weight_kg: float, about: Circumstances, minutes: float) -> tuple[int, float, tuple[Caution, ...]] | None:
    """The same for what hangs over a drop: it can only be lifted off, by two where one must not lift it alone."""
    cautions = (Caution.OVER_A_DROP, Caution.FALLING_POTS)
    if weight_kg <= about.settings.lift_alone_kg:
        return 1, minutes, cautions
    if about.dark or about.settings.people < 2 or weight_kg > 2.0 * about.settings.lift_alone_kg:
        return None
    return 2, 2.0 * minutes, (Caution.TWO_PEOPLE, *cautions)


def _moves(situation: Situation, about: Circumstances, *, rooms: bool) -> Iterator[Option]:
    """Every spot that has floor and light for the pot."""
    pot = situation.pot
    handling = _handling(situation, about, 3.0)
    if handling is None:
        return
    people, minutes, cautions = handling
    for spot in about.garden.spots:
        indoors = spot.room is not None
        if spot.name == situation.spot or spot.escape_route or (indoors and not rooms):
            continue
        if not _light_enough(spot, about.taxa[pot.id]) or _as_bare(spot, about.garden.spot(situation.spot)):
            continue
        yield _carried(spot, situation, about, (people, minutes, cautions))


def carried_to(name: str, situation: Situation, about: Circumstances) -> Option:
    """The pot at another spot, whatever its weight, floor and light: for trying out only."""
    handling = _handling(situation, about, 3.0) or (2, 6.0 * situation.pot.count, (Caution.HEAVY,))
    return _carried(about.garden.spot(name), situation, about, handling)


def _carried(
    spot: Spot, situation: Situation, about: Circumstances, handling: tuple[int, float, tuple[Caution, ...]]
) -> Option:
    pot, indoors = situation.pot, spot.room is not None
    people, minutes, cautions = handling
    inside = _indoor_cautions(about.taxa[pot.id]) if indoors else ()
    there = replace(
        situation,
        spot=spot.name,
        neighbours=Neighbours.ROW,
        over_plant=() if indoors else situation.over_plant,
    )
    step = Step(Protection.MOVE, minutes, people, (), (*cautions, *inside))
    needs = Needs(floor=((spot.name, pot.floor_m2 * pot.count),))
    return Option(there, (step,), needs, to_spot=spot.name, indoors=indoors)


def no_move_because(
    situation: Situation,
    taxa: tuple[Taxon, ...],
    garden: Garden,
    catalogue: Catalogue,
    settings: Settings,
    dark: bool,
) -> NoJob:
    """Why a pot at risk that nothing on the spot helps is not carried in either."""
    if any(taxon.moved_light is MovedLight.STAY_OUT for taxon in taxa):
        return NoJob.NOTHING_HELPS
    rooms = [
        spot
        for spot in garden.spots
        if spot.room is not None and not spot.escape_route and spot.free_floor_m2 and _light_enough(spot, taxa)
    ]
    if not rooms:
        return NoJob.NO_ROOM
    weight = pot_weight_kg(situation, catalogue)
    way = way_to_move(weight, lift_alone_kg=settings.lift_alone_kg)
    alone = way is WayToMove.ALONE
    hangs = situation.pot.shape in OFF_THE_FLOOR and not alone
    if hangs and (settings.people < 2 or weight > 2.0 * settings.lift_alone_kg):
        return NoJob.TOO_HEAVY
    if (way is WayToMove.TWO_PEOPLE and settings.people < 2) or (not alone and (dark or weight > HEAVIEST_KG)):
        return NoJob.TOO_HEAVY
    pot = situation.pot
    if all((spot.free_floor_m2 or 0.0) < pot.floor_m2 * pot.count for spot in rooms):
        return NoJob.NO_ROOM
    return NoJob.NOTHING_HELPS


def _as_bare(there: Spot, here: Spot) -> bool:
    """Whether another place outdoors has no less wind, no less open sky and no warmer floor: nobody carries there."""
    if there.room is not None or here.room is not None:
        return False
    warmer_floor = there.beneath is not here.beneath and there.beneath not in COLD_FLOORS
    return (
        there.wind_fraction >= here.wind_fraction
        and there.sky_view >= here.sky_view
        and not warmer_floor
        and (here.against_house_wall or not there.against_house_wall)
    )


def _light_enough(spot: Spot, taxa: tuple[Taxon, ...]) -> bool:
    """Whether every plant of the pot can stand there for some days: light, and not too warm."""
    if spot.room is None:
        return True
    needs = {taxon.moved_light for taxon in taxa}
    too_dark = spot.room.light is Light.DARK and MovedLight.BRIGHT in needs
    lowest = spot.room.lowest_c
    heated = lowest is not None
    warm = lowest is not None and lowest >= WARM_ROOM_C
    softens = MovedLight.STAY_OUT in needs or any("warm rooms" in taxon.resents for taxon in taxa)
    return not too_dark and not (heated and MovedLight.STAY_OUT in needs) and not (warm and softens)


def _indoor_cautions(taxa: tuple[Taxon, ...]) -> tuple[Caution, ...]:
    cautions = [Caution.DOOR, Caution.ESCAPE_ROUTE]
    if any(taxon.poisonous for taxon in taxa):
        cautions.append(Caution.POISON)
    if any(taxon.spiny for taxon in taxa):
        cautions.append(Caution.SPINES)
    return tuple(cautions)
