"""What can be done for a pot: each protection as a changed situation, with its minutes, hands and pieces.

Which of them help is not decided here but simulated. Minutes are estimates for one practised person
with everything at hand; nobody publishes them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import chain, product

import numpy as np

from frostguard.advice.moving import OFF_THE_FLOOR, handling, moves
from frostguard.advice.option import Circumstances, Option, Step
from frostguard.advice.plan import SPREAD, Caution, CoverUse, Protection
from frostguard.advice.situation import Situation
from frostguard.advice.supplies import Needs
from frostguard.garden.model import Beneath, Neighbours, Shape
from frostguard.hardiness.taxon import Habit, Sensitivity, Taxon

MULCH_M = 0.05
"""Depth of loose mulch laid on a pot: 3 to 5 cm, common practice."""

GALE_M_S = 17.2
"""Gust from which nothing stays that is only clipped or laid on, and what hangs is looked after: the wind of a gale,
Beaufort 8 (WMO), which breaks twigs off trees; that hoods come off in a storm is common practice."""

BREEZY_M_S = 10.0
"""Gusts from which covers have to be held fast, and leaves are whirled off baskets, boxes and pots over a drop, whose
mulch lands on the street: a fresh to strong breeze; estimate."""

TALL_M, REACHING_UP_MIN = 1.2, 1.0
"""A plant over which a cover cannot be put from above takes a minute more; estimates."""

GROUPED = frozenset({Neighbours.GROUP, Neighbours.PACKED})

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
    (Protection.SLEEVE, Protection.WRAP),
    (Protection.SLEEVE, Protection.FLEECE),
)
"""Sensible sets; common practice."""


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
    carried = moves(situation, about, rooms=rooms) if Protection.MOVE in wanted else iter(())
    found = chain(chain.from_iterable(singles.values()), sets, carried)
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
        case Protection.SLEEVE:
            return _sleeve(situation, about)
        case Protection.MULCH:
            return _mulch(situation, about)
        case Protection.PLUNGE:
            return _plunge(situation, about)
        case Protection.FILL_GAPS:
            return _fill_gaps(situation, about)
        case Protection.RAISE:
            found = _raise(situation, about)
        case Protection.GROUP:
            found = _group(situation, about)
        case Protection.WATER:
            found = _water(situation, about)
        case Protection.TIE_CROWN:
            found = _tie_crown(situation, about)
        case Protection.MOVE | Protection.SHADE | Protection.TIE_UP | Protection.SECURE | Protection.UNCOVER:
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
        return ()  # a hood is a sail: the pot would go over, or the hood into the street
    cautions = (Caution.NO_FLAMES, *((Caution.GALE_HOODS,) if gust > BREEZY_M_S else ()))
    extra = (REACHING_UP_MIN if situation.height_m > TALL_M else 0.0) + (layers - 1)
    kind = Protection.FLEECE if layers == 1 else Protection.DOUBLE_FLEECE
    return tuple(
        Option(
            replace(situation, over_plant=(cut.material,) * layers),
            (
                Step(
                    kind,
                    pot.count * (about.catalogue.covers[cut.material].minutes + extra),
                    1,
                    (cut.use,),
                    (*cautions, *((Caution.CANES,) if cut.use.piece in SPREAD else ())),
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


def _sleeve(situation: Situation, about: Circumstances) -> tuple[Option, ...]:
    """Round each bare stem from the mix up over the graft: foam with its slit tied, or jute wound in two layers."""
    stems = situation.bare_stems
    if situation.round_stem or not stems:
        return ()
    thickest, longest = max(stem.thickness_m for stem in stems), max(stem.length_m for stem in stems)
    count = situation.pot.count * len(stems)
    options = []
    for cut in about.supplies.covers_for_stem(thickest, longest, count):
        minutes = count * about.catalogue.covers[cut.material].minutes
        step = Step(Protection.SLEEVE, minutes, 1, (cut.use,), (Caution.LOOSE_SLEEVE,))
        options.append(Option(replace(situation, round_stem=(cut.material,) * cut.layers), (step,), cut.needs))
    return tuple(options)


def _raise(situation: Situation, about: Circumstances) -> Option | None:
    pot = situation.pot
    stands = pot.shape not in OFF_THE_FLOOR
    if situation.feet or situation.board or not stands:
        return None
    if about.gust_m_s.get(situation.spot, 0.0) > about.topple_on_feet_m_s.get(pot.id, np.inf):
        return None  # on feet it would go over
    handled = handling(situation, about, 2.0)
    if handled is None:
        return None
    people, minutes, cautions = handled
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
    handled = handling(situation, about, 2.0)
    if handled is None:
        return None
    people, minutes, cautions = handled
    step = Step(Protection.GROUP, minutes, people, (), (*cautions, Caution.FLOOR_LOAD))
    return Option(replace(situation, neighbours=Neighbours.GROUP), (step,), Needs())


def _mulch(situation: Situation, about: Circumstances) -> tuple[Option, ...]:
    pot = situation.pot
    if situation.mulch_m >= MULCH_M or pot.id in about.frozen or _rots(about.taxa[pot.id]):
        return ()
    high = pot.shape in OFF_THE_FLOOR or about.garden.spot(situation.spot).beneath is Beneath.NOTHING
    if about.gust_m_s.get(situation.spot, 0.0) >= (BREEZY_M_S if high else GALE_M_S):
        return ()  # it would blow away
    litres = float(1000.0 * np.pi * pot.radius_m**2 * MULCH_M * pot.count)
    step = Step(Protection.MULCH, 1.5 * pot.count, 1)
    return _with_each_mulch(Option(replace(situation, mulch_m=MULCH_M), (step,), Needs()), litres, about)


def _with_each_mulch(option: Option, litres: float, about: Circumstances) -> tuple[Option, ...]:
    """An option of one step with so many litres of each kind of mulch that is enough."""
    (step,) = option.steps
    return tuple(
        replace(
            option,
            steps=(replace(step, covers=(*step.covers, CoverUse(material, "litres", round(litres)))),),
            needs=replace(option.needs, mulch_litres=((material, litres),)),
        )
        for material in about.supplies.mulches_for(litres)
    )


def _plunge(situation: Situation, about: Circumstances) -> tuple[Option, ...]:
    """Into a crate or box a hand wider all round, filled with bark or leaves: small pots that one can lift."""
    pot = situation.pot
    too_large = pot.volume_l > LARGEST_CRATE_L or pot.shape in OFF_THE_FLOOR or pot.shape is Shape.TROUGH
    if about.garden.spot(situation.spot).beneath is Beneath.NOTHING:
        return ()  # no floor for a crate, and bark over the street
    if situation.round_pot or pot.id in about.frozen or too_large:
        return ()
    cover = about.catalogue.covers[CRATE_OF_BARK]
    outer = pot.radius_m + pot.wall_thickness_m
    side = np.pi * ((outer + cover.thickness_m) ** 2 - outer**2) * pot.height_m
    litres = float(1000.0 * pot.count * (side + np.pi * pot.radius_m**2 * MULCH_M))  # over the rim as well
    handled = handling(situation, about, cover.minutes)
    if handled is None or handled[0] > 1 or Caution.HEAVY in handled[2]:
        return ()
    _, minutes, cautions = handled
    step = Step(Protection.PLUNGE, minutes, 1, (CoverUse("crate", "crate", pot.count),), cautions)
    over = situation.mulch_m if _rots(about.taxa[pot.id]) else max(situation.mulch_m, MULCH_M)
    plunged = replace(situation, round_pot=(CRATE_OF_BARK,), mulch_m=over)
    return _with_each_mulch(Option(plunged, (step,), Needs(crates=pot.count)), litres, about)


def _fill_gaps(situation: Situation, about: Circumstances) -> tuple[Option, ...]:
    """Leaves, straw or bark between the pots of a group: half of the gap round each pot is its own."""
    pot = situation.pot
    if situation.neighbours is not Neighbours.GROUP or pot.id in about.frozen or pot.shape in OFF_THE_FLOOR:
        return ()
    outer = pot.radius_m + pot.wall_thickness_m
    # round pots that touch, four to a square
    litres = float(1000.0 * (4.0 - np.pi) * outer**2 * pot.height_m * pot.count)
    step = Step(Protection.FILL_GAPS, 1.0 * pot.count, 1)
    return _with_each_mulch(Option(replace(situation, neighbours=Neighbours.PACKED), (step,), Needs()), litres, about)


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
