"""One pot side by side with itself changed: protected, carried elsewhere, in another wall or a larger pot."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.evening import Evening, branch_now, past_of, so_far, state_for
from frostguard.advice.middle_course import colder_column, middle_member
from frostguard.advice.moving import carried_to
from frostguard.advice.nights import from_utc64
from frostguard.advice.occasion import Round
from frostguard.advice.option import Option, pot_weight_kg
from frostguard.advice.outlook import Judgement, Stretch, judge_pots, loss_of, night_hours, tissue_outlook
from frostguard.advice.plan import Protection, TissueOutlook
from frostguard.advice.pot_run import PotRun, run_pots
from frostguard.advice.protections import option_of
from frostguard.advice.reach import reached_by
from frostguard.advice.situation import Situation
from frostguard.advice.supplies import USUAL, supplies_of
from frostguard.errors import FrostguardError
from frostguard.garden.catalogue import Catalogue, wall_names
from frostguard.garden.model import Pot
from frostguard.garden.names import by_name, folded, nearest
from frostguard.hardiness.model import Tissue

Array = NDArray[np.float64]

PLENTY = 1000
"""Pieces of everything: what is not in the shed could be bought."""

TO_TRY = (
    Protection.FLEECE,
    Protection.DOUBLE_FLEECE,
    Protection.WRAP,
    Protection.RAISE,
    Protection.GROUP,
    Protection.MULCH,
    Protection.PLUNGE,
    Protection.FILL_GAPS,
    Protection.SLEEVE,
    Protection.TIE_CROWN,
    Protection.WATER,
)
"""What can be tried on a pot where it stands; another place is named by its spot."""


@dataclass(frozen=True, slots=True)
class Changes:
    """What is to be different.

    Wall and volume are taken to have been so all along, protections and the place from the evening on.
    """

    protections: tuple[Protection, ...] = ()
    spot: str | None = None
    volume_l: float | None = None
    wall: str | None = None

    @property
    def any(self) -> bool:
        """Whether there is anything to compare."""
        return bool(self.protections) or any(one is not None for one in (self.spot, self.volume_l, self.wall))


@dataclass(frozen=True, slots=True)
class Fate:
    """How the pot fares in the coming night: medians over members, and what it comes to.

    `curve_c` is the temperature that the tissue most at risk lives by, hour by hour, in the
    member whose coldest is the median told, or nearest to it where their number is even.
    """

    coldest_ring_c: float
    coldest_mean_c: float
    coldest_leaf_c: float
    frozen_fraction: float
    tissues: tuple[TissueOutlook, ...]
    chance_of_damage: float
    outer_root_chance: float
    expected_loss_eur: float
    curve_c: tuple[float, ...]
    coldest_stem_c: float | None = None  # of its thinnest bare stem, where it has one


class Gain(NamedTuple):
    """How much warmer something changed is at its coldest [K]: over members the lowest tenth, median, highest."""

    low_k: float
    middle_k: float
    high_k: float


@dataclass(frozen=True, slots=True)
class Comparison:
    """A pot as it stands and changed, side by side."""

    pot: str
    label: str
    changes: Changes
    times: tuple[datetime, ...]
    told_by: Tissue  # whose temperature the curves are
    limit_c: float
    as_it_stands: Fate
    changed: Fate
    minutes: float  # of work for protections and carrying, of all hands
    people: int  # who are needed at once
    effort_eur: float
    weight_kg: float  # of the changed pot
    leaf_gain: Gain
    ring_gain: Gain
    stem_gain: Gain | None  # of its thinnest bare stem, where it has one


def compare(evening: Evening, row: int, changes: Changes, turn: Round) -> Comparison:
    """The coming night of a pot as it stands and as it would be.

    Parameters
    ----------
    evening : Evening
        The simulated terrace.
    row : int
        Position of the pot in the garden file.
    changes : Changes
        What is to be different.
    turn : Round
        The evening's round, for the hour from which protections act, and what is open.

    Raises
    ------
    FrostguardError
        If a wall, place or protection is unknown or not open to this pot.
    """
    base = evening.situations[row]
    grown = replace(base, pot=_other_pot(base.pot, changes, evening.catalogue))
    option = _protected(evening, grown, changes, turn)
    begins = turn.occasion.acting_hour(evening, row)
    past, until, run = _side_by_side(evening, base, grown, option, begins)
    inside = night_hours(evening.terrace, run, evening.nights[0], begins)
    bare = night_hours(evening.terrace, until, evening.nights[0], evening.now)
    bare &= until.first + np.arange(bare.size) <= turn.occasion.bare_until(begins)
    sides = np.arange(2)
    judged = judge_pots(
        evening.terrace,
        run.columns,
        (base.pot, grown.pot),
        (evening.limits[row], evening.limits[row]),
        (
            so_far(evening.terrace, past, sides, evening.nights[0], run.columns),
            Stretch(until, sides, bare, np.arange(run.columns.size)),
            Stretch(run, sides, inside, np.arange(run.columns.size)),
        ),
    )
    worst = _told_of(judged[0], changes)
    tissue = worst.limit.tissue
    stamps = evening.terrace.times[run.first : run.first + inside.size][inside]
    return Comparison(
        pot=base.pot.id,
        label=base.pot.label,
        changes=changes,
        times=tuple(from_utc64(stamp, evening.terrace.zone) for stamp in stamps),
        told_by=tissue,
        limit_c=worst.limit.limit_c,
        as_it_stands=_fate(evening, run, 0, judged[0], tissue, inside),
        changed=_fate(evening, run, 1, judged[1], tissue, inside),
        minutes=option.minutes,
        people=max((step.people for step in option.steps), default=1),
        effort_eur=option.effort_eur(turn.about.settings),
        weight_kg=pot_weight_kg(grown, evening.catalogue),
        leaf_gain=_gain(evening, run.leaf_c[inside]),
        ring_gain=_gain(evening, run.ring_c[inside]),
        stem_gain=_gain(evening, run.stem_c[inside]) if base.bare_stems else None,
    )


def _told_of(judged: tuple[Judgement, ...], changes: Changes) -> Judgement:
    """The tissue most at risk of those that the changes reach: nobody puts a sleeve on for the roots."""
    elsewhere = any(one is not None for one in (changes.spot, changes.volume_l, changes.wall))
    reached = frozenset().union(*(reached_by(kind) for kind in changes.protections))
    own = [one for one in judged if one.limit.tissue in reached]

    def at_stake(one: Judgement) -> tuple[float, float]:
        chance = float(one.chance.mean())
        margin_k = float(np.median(one.coldest_c)) - one.limit.limit_c
        return chance * one.limit.value_share * max(one.planting.value_eur, 0.01), -margin_k

    return max(judged if elsewhere or not own else own, key=at_stake)


def _gain(evening: Evening, curves_c: Array) -> Gain:
    """Of curves (n_hours, 2, columns) the changed side's coldest less that of the pot as it stands, by member."""
    coldest = evening.terrace.colder(curves_c.min(axis=0))
    gains = coldest[1] - coldest[0]
    low, middle, high = np.quantile(gains, [0.1, 0.5, 0.9], method="hazen").tolist()
    return Gain(low, middle, high)


def _other_pot(pot: Pot, changes: Changes, catalogue: Catalogue) -> Pot:
    """The same plants in another wall or volume, of the same proportions."""
    if changes.volume_l is not None:
        larger = (changes.volume_l / pot.volume_l) ** (1.0 / 3.0)
        pot = replace(
            pot,
            volume_l=changes.volume_l,
            radius_m=pot.radius_m * larger,
            height_m=pot.height_m * larger,
            floor_m2=pot.floor_m2 * larger**2,
        )
    if changes.wall is not None:
        key = by_name(changes.wall, wall_names())
        if key is None:
            near = nearest(changes.wall, wall_names())
            hint = f"Did you mean {' or '.join(near)}?" if near else f"Known are {', '.join(catalogue.walls)}."
            raise FrostguardError(f"No pot wall is called {changes.wall!r}.", next_step=hint)
        pot = replace(pot, wall=key, wall_thickness_m=catalogue.walls[key].thickness_m)
    return pot


def _protected(evening: Evening, situation: Situation, changes: Changes, turn: Round) -> Option:
    """The changed pot with its protections, from a shed that has everything."""
    stock = evening.garden.stock
    covers = tuple(replace(piece, count=piece.count * PLENTY) for piece in (*stock.covers, *USUAL.covers))
    full = replace(evening.garden, stock=replace(stock, covers=covers, pot_feet=PLENTY, crates=PLENTY, stated=True))
    about = replace(turn.about, supplies=supplies_of(full, evening.catalogue))
    parts: list[Option] = []
    claimed: dict[str, Protection] = {}
    for kind in dict.fromkeys(changes.protections):
        found = option_of(kind, situation, about)
        if found is None:
            raise FrostguardError(
                f"{situation.pot.label}: {kind.value} is not open to this pot tonight.",
                next_step="It may be on already, too heavy, bad for the plant, without stem or neighbours to go with, "
                "or too late since the ball is frozen.",
            )
        for name in ("over_plant", "round_pot", "neighbours"):
            if getattr(found.situation, name) == getattr(situation, name):
                continue
            if name in claimed:
                raise FrostguardError(
                    f"{situation.pot.label}: {claimed[name].value} and {kind.value} do not go together on one pot.",
                    next_step="Try one of them at a time.",
                )
            claimed[name] = kind
        parts.append(found)
    if changes.spot is not None:
        spot = _spot_called(evening, changes.spot)
        if spot == situation.spot:
            raise FrostguardError(f"{situation.pot.label} stands there already.", next_step="Choose another place.")
        parts.append(carried_to(spot, situation, about))
    return Option.together(parts, situation)


def _spot_called(evening: Evening, asked: str) -> str:
    names = {folded(name): spot.name for spot in evening.garden.spots for name in (spot.name, spot.label)}
    found = by_name(asked, names)
    if found is None:
        every = ", ".join(spot.name for spot in evening.garden.spots)
        raise FrostguardError(f"No spot is called {asked!r}.", next_step=f"The spots are: {every}.")
    if evening.garden.spot(found).escape_route:
        raise FrostguardError(
            f"{found} is a shared way out, where nothing may stand.", next_step="Choose another place."
        )
    return found


def _side_by_side(
    evening: Evening, base: Situation, grown: Situation, option: Option, start_hour: int
) -> tuple[PotRun, PotRun, PotRun]:
    """Both through their past, from now until protections act, and from then to the end of the night."""
    terrace, catalogue, columns = evening.terrace, evening.catalogue, evening.terrace.columns
    past = past_of(terrace, (base, grown), catalogue, evening.now)
    start = branch_now(past, np.arange(2), columns)
    until = run_pots(terrace, (base, grown), catalogue, start, evening.now, start_hour, columns=columns)
    after = (base, option.situation)
    water = [0.0, option.added_water_fraction]
    state = state_for(until, np.arange(2), np.arange(columns.size), after, water, catalogue)
    last = int(np.flatnonzero(evening.nights[0].hours_in(terrace.times))[-1])
    return past, until, run_pots(terrace, after, catalogue, state, start_hour, last, columns=columns)


def _fate(
    evening: Evening,
    run: PotRun,
    side: int,
    judged: tuple[Judgement, ...],
    tissue: Tissue,
    inside: NDArray[np.bool_],
) -> Fate:
    terrace = evening.terrace

    def coldest(curves_c: Array) -> float:
        return float(np.median(terrace.colder(curves_c[inside, side].min(axis=0))))

    chance, loss = loss_of(judged, run.situations[side].pot.count)
    elsewhere = {Tissue.YOUNG_ROOT: run.ring_c, Tissue.WHOLE_ROOT: run.mean_c, Tissue.STEM: run.stem_c}
    curves = elsewhere.get(tissue, run.leaf_c)
    minima = curves[inside].min(axis=0)
    as_it_stands = middle_member(terrace.colder(minima[0]))
    drawn = middle_member(terrace.colder(minima[side]), like=as_it_stands)
    column = colder_column(terrace, drawn, minima[side])
    return Fate(
        coldest_ring_c=coldest(run.ring_c),
        coldest_mean_c=coldest(run.mean_c),
        coldest_leaf_c=coldest(run.leaf_c),
        coldest_stem_c=coldest(run.stem_c) if run.situations[side].bare_stems else None,
        frozen_fraction=float(np.median(run.frozen_fraction[inside, side].max(axis=0))),
        tissues=tuple(tissue_outlook(one) for one in judged),
        chance_of_damage=chance,
        outer_root_chance=max(
            (float(one.chance.mean()) for one in judged if one.limit.tissue is Tissue.YOUNG_ROOT), default=0.0
        ),
        expected_loss_eur=loss,
        curve_c=tuple(curves[inside, side, column].tolist()),
    )
