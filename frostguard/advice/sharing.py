"""Sharing out what is scarce: hands, covers and floor go where all pots together lose least.

One integer programme over all offers at once. Where every pot can have what is best for it, that is the
answer, and no solver is needed: nothing can be better than everybody's best.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from frostguard.advice.packing import MOST_TRIES, packed
from frostguard.advice.plan import CoverUse
from frostguard.advice.programme import Programme
from frostguard.advice.scarce import GROUP_OF, TIE_EUR, AtHand, Offer, Scarce
from frostguard.advice.supplies import ROUNDING, Needs, Supplies

FEW_OFFERS = 400
"""Up to so many every single cut is reckoned with where areas do not pack; beyond it would take too long."""


@dataclass(frozen=True, slots=True)
class Shared:
    """Which offers are taken, by position, and what is left."""

    taken: tuple[int, ...]
    left: AtHand


def share_out(offers: Sequence[Offer], at_hand: AtHand) -> Shared:
    """The offers that together save most within what there is.

    Parameters
    ----------
    offers : sequence of Offer
        Those that save nothing are never taken.
    at_hand : AtHand
        Limits; a window that is not named has no end.

    Notes
    -----
    Solved by HiGHS: first in parts of offers, which is quick and gives each offer its distance from being
    taken, then in whole numbers among the nearest. Pieces are packed exactly: what is cut or spread comes
    from one piece, and a sheet serves one spot.
    """
    worthwhile = [position for position, offer in enumerate(offers) if offer.saves_eur > 0.0]
    best = _best_of_each_pot(offers, worthwhile)
    left = _all_given(offers, best, at_hand)
    if left is not None:
        return Shared(best, left)
    programme = Programme(offers, worthwhile, at_hand)
    parts = programme.in_parts()
    found = [_by_turns(offers, _by_share(offers, worthwhile, parts.taken), at_hand)]
    whole = programme.in_whole(parts, begin_with=found[0].taken)
    shared = _shared(offers, whole, at_hand)
    if shared is None and len(worthwhile) <= FEW_OFFERS:
        exact = Programme(offers, worthwhile, at_hand, exact=True)
        shared = _shared(offers, exact.in_whole(), at_hand)
    if shared is None:  # areas that do not pack: as much of it as does, and what else fits
        shared = _by_turns(offers, _by_share(offers, worthwhile, whole), at_hand)
    return _best(offers, [*found, shared])


def _by_share(offers: Sequence[Offer], worthwhile: Iterable[int], taken: Mapping[int, float]) -> list[int]:
    """Offers in the order in which a solution takes most of them, the better before the worse."""
    return sorted(worthwhile, key=lambda position: (-taken.get(position, 0.0), -offers[position].saves_eur))


def _best(offers: Sequence[Offer], found: Sequence[Shared]) -> Shared:
    """The last of those that save most: the solver's, where it is no worse than plain turns."""
    return max(reversed(found), key=lambda one: sum(offers[position].saves_eur for position in one.taken))


def _shared(offers: Sequence[Offer], solution: Mapping[int, float], at_hand: AtHand) -> Shared | None:
    """A whole solution with what it leaves; None where its pieces do not pack."""
    taken = tuple(sorted(position for position, share in solution.items() if share > 0.5))
    left = _all_given(offers, taken, at_hand)
    return None if left is None else Shared(taken, left)


def short_of(offer: Offer, left: AtHand) -> Scarce | None:
    """What is lacking for an offer when others have had their share; None where nothing is."""
    if offer.minutes > left.minutes.get(offer.window, float("inf")) + ROUNDING:
        return Scarce.TIME
    if not left.supplies.can_give(Needs(floor=offer.needs.floor)):
        return Scarce.ROOM
    if not left.supplies.can_give(offer.needs):
        return Scarce.COVERS
    if offer.groups_at is not None and left.standing.get(offer.groups_at, 0) - offer.count < GROUP_OF:
        return Scarce.NEIGHBOURS
    return None


def _best_of_each_pot(offers: Sequence[Offer], worthwhile: Iterable[int]) -> tuple[int, ...]:
    """What each pot would take if it were alone: its best offer, or its best two that go together."""
    of_pot: dict[int, list[int]] = defaultdict(list)
    for position in worthwhile:
        of_pot[offers[position].pot].append(position)
    chosen: list[int] = []
    for every in of_pot.values():
        best: dict[frozenset[Hashable], int] = {}  # by the slots that they fill
        for one in every:
            found = best.setdefault(offers[one].slots, one)
            if offers[one].saves_eur - TIE_EUR * one > offers[found].saves_eur - TIE_EUR * found:
                best[offers[one].slots] = one
        mine = list(best.values())
        sets: list[tuple[int, ...]] = [(one,) for one in mine]
        sets += [
            (one, other)
            for place, one in enumerate(mine)
            for other in mine[place + 1 :]
            if not offers[one].slots & offers[other].slots
        ]
        chosen += max(sets, key=lambda taken: sum(offers[one].saves_eur - TIE_EUR * one for one in taken))
    return tuple(sorted(chosen))


def _by_turns(offers: Sequence[Offer], order: Iterable[int], at_hand: AtHand) -> Shared:
    """One after the other in that order, whatever still fits."""
    taken: list[int] = []
    left = at_hand
    slots: set[Hashable] = set()
    grouped: set[str] = set()
    for position in order:
        offer = offers[position]
        if offer.slots & slots or short_of(offer, left) is not None:
            continue
        given: AtHand | None = _less(left, offer)
        if offer.needs.area_m2 or offer.leaves in grouped:  # cuts are packed anew, and a group must stay one
            given = _all_given(offers, [*taken, position], at_hand, tries=1)
        if given is None:
            continue
        taken.append(position)
        left = given
        slots |= offer.slots
        if offer.groups_at is not None:
            grouped.add(offer.groups_at)
    return Shared(tuple(sorted(taken)), left)


def _less(left: AtHand, offer: Offer) -> AtHand:
    """What is left when one more has had its share."""
    minutes, standing = dict(left.minutes), dict(left.standing)
    if offer.window in minutes:
        minutes[offer.window] -= offer.minutes
    if offer.leaves is not None:
        standing[offer.leaves] = standing.get(offer.leaves, 0) - offer.count
    return AtHand(left.supplies.without(offer.needs), minutes, standing)


def _all_given(
    offers: Sequence[Offer], taken: Sequence[int], at_hand: AtHand, tries: int = MOST_TRIES
) -> AtHand | None:
    """What is left when these have had their share; None where it does not suffice."""
    minutes, standing = dict(at_hand.minutes), dict(at_hand.standing)
    for position in taken:
        offer = offers[position]
        if offer.window in minutes:
            minutes[offer.window] -= offer.minutes
        if offer.leaves is not None:
            standing[offer.leaves] = standing.get(offer.leaves, 0) - offer.count
    chosen = [offers[position] for position in taken]
    if any(left < -ROUNDING for left in minutes.values()):
        return None
    for offer in chosen:
        gone = sum(other.count for other in chosen if other.leaves == offer.groups_at and other.pot != offer.pot)
        here = at_hand.standing.get(offer.groups_at or "", 0)
        if offer.groups_at is not None and here - gone - offer.count < GROUP_OF:
            return None
    supplies = _given([offer.needs for offer in chosen], at_hand.supplies, tries)
    return None if supplies is None else AtHand(supplies, minutes, standing)


def _given(needs: Sequence[Needs], supplies: Supplies, tries: int) -> Supplies | None:
    """The supplies less these needs; None where they do not suffice."""
    counted = replace(Needs.total(needs), area_m2=())
    if not supplies.can_give(counted):
        return None
    found = packed(needs, supplies, tries)
    return None if found is None else replace(supplies.without(counted), pieces=found.left)


def pieces_given(needs: Sequence[Needs], supplies: Supplies) -> tuple[Mapping[str, CoverUse], ...]:
    """For each of these needs, which can all be met, the pieces that it is cut from, by material."""
    found = packed(needs, supplies)
    assert found is not None, "asked only of what was shared out"
    return tuple(
        {material: piece.share(need.areas()[material]) for material, piece in pieces.items()}
        for need, pieces in zip(needs, found.pieces, strict=True)
    )
