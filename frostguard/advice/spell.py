"""Cold spells: the runs of nights that outer roots will not stand, a matter of one batch and not of an evening."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from frostguard.advice.evening import Evening
from frostguard.advice.outlook import Judgement
from frostguard.advice.plan import OUTER_ROOTS_RISK, ColdSpell
from frostguard.hardiness.model import Tissue

SPELL_SHARE = 0.25
"""Share of the pots that winter outdoors whose outer roots are at risk that makes a night part of a spell; estimate."""

LONE_NIGHT_SHARE = 0.5
"""Share of these pots at risk that makes even a single night worth preparing for; estimate."""

FIRST_ICE_C = -0.5
"""Outer roots that stand no more than this, the first ice in the mix, are of plants that winter indoors: nobody wraps
and groups pots for these, they are carried in for a night as well as for a week (common practice)."""

HURT_WITHIN_H = 48
"""Hours in which outer roots that passed their limit count as hurt by the spell that goes on; estimate."""


@dataclass(frozen=True, slots=True)
class Spell:
    """A spell by the positions of its nights in the evening's; `began` says that roots are hurt already."""

    first: int
    last: int
    began: bool

    @property
    def nights(self) -> tuple[int, ...]:
        """All its nights."""
        return tuple(range(self.first, self.last + 1))


def find_spell(evening: Evening) -> Spell | None:
    """The coming run of nights that outer roots will not stand; None where there is none in sight."""
    outdoors = [
        row
        for row, situation in enumerate(evening.situations)
        if not evening.terrace.spots[situation.spot].indoors and winters_outdoors(evening, row)
    ]
    at_risk_on = [
        sum(outer_root_chance(night[row]) >= OUTER_ROOTS_RISK for row in outdoors) / max(len(outdoors), 1)
        for night in evening.judgements
    ]
    found = _first_run([share >= SPELL_SHARE for share in at_risk_on])
    if found is None:
        return None
    first, last = found
    if first == last and at_risk_on[first] < LONE_NIGHT_SHARE:
        return None  # one short night is no spell
    at_risk = [row for row in outdoors if outer_root_chance(evening.judgements[first][row]) >= OUTER_ROOTS_RISK]
    hurt = sum(outer_roots_hurt_already(evening, row) for row in at_risk)
    return Spell(first, last, began=first == 0 and 2 * hurt > len(at_risk))


def winters_outdoors(evening: Evening, row: int) -> bool:
    """Whether a pot holds any plant that is left out in frost, so that a spell is a question for it."""
    return any(taxon.young_root.middle_c < FIRST_ICE_C for taxon in evening.taxa[evening.pots[row].id])


def _first_run(flags: Sequence[bool]) -> tuple[int, int] | None:
    """First and last position of the first run of true flags, longer runs before single ones."""
    runs: list[tuple[int, int]] = []
    for position, flag in enumerate(flags):
        if flag and runs and runs[-1][1] == position - 1:
            runs[-1] = (runs[-1][0], position)
        elif flag:
            runs.append((position, position))
    return next((run for run in runs if run[1] > run[0]), runs[0] if runs else None)


def outer_roots_hurt_already(evening: Evening, row: int) -> bool:
    """Whether the outer roots of a pot passed their limit lately."""
    coldest = float(evening.past.ring_c[-HURT_WITHIN_H:, row].min())
    return any(
        coldest <= limit.limit_c
        for _, tissue_limits in evening.limits[row]
        for limit in tissue_limits
        if limit.tissue is Tissue.YOUNG_ROOT
    )


def outer_root_chance(judged: Sequence[Judgement]) -> float:
    """The chance that a pot loses outer roots in a night."""
    return max(
        (float(judgement.chance.mean()) for judgement in judged if judgement.limit.tissue is Tissue.YOUNG_ROOT),
        default=0.0,
    )


def spell_outlook(evening: Evening, spell: Spell) -> ColdSpell:
    """The spell as the plan tells it."""
    pots = sum(
        pot.count
        for row, pot in enumerate(evening.pots)
        if winters_outdoors(evening, row)
        and any(outer_root_chance(evening.judgements[night][row]) >= OUTER_ROOTS_RISK for night in spell.nights)
    )
    return ColdSpell(evening.nights[spell.first].date, evening.nights[spell.last].date, spell.began, pots)
