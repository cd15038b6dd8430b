"""What may be lost till somebody comes again, where the working windows leave later nights without hands as well."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from frostguard.advice.evening import Evening
from frostguard.advice.hands import nights_served
from frostguard.advice.outlook import Judgement, loss_of, tissue_outlook
from frostguard.advice.plan import Unattended
from frostguard.advice.planner import Choice
from frostguard.advice.trial import worst_of_nights
from frostguard.garden.settings import Settings


@dataclass(frozen=True, slots=True)
class TillSomebodyComes:
    """The coming night and those in sight after it before which nobody comes."""

    evening: Evening
    nights: tuple[int, ...]

    def undone(self, row: int) -> tuple[Judgement, ...]:
        """Every tissue of a pot over these nights as it stands."""
        return worst_of_nights([self.evening.judgements[night][row] for night in self.nights])

    def of_pot(self, row: int, choices: Sequence[Choice]) -> Unattended | None:
        """A pot over these nights with what was chosen for it; None where somebody comes before the second of them."""
        if len(self.nights) < 2:
            return None
        count = self.evening.pots[row].count
        undone = self.undone(row)
        left = undone
        for choice in choices:
            if choice.pot == row and choice.count == count and set(choice.occasion.nights).intersection(self.nights):
                left = _the_better(left, self._with_it(choice))
        chance, loss = loss_of(left, count)
        return Unattended(
            nights=tuple(self.evening.nights[night].date for night in self.nights),
            tissues=tuple(map(tissue_outlook, left)),
            chance_of_damage=chance,
            expected_loss_eur=loss,
            loss_undone_eur=loss_of(undone, count)[1],
        )

    def _with_it(self, choice: Choice) -> tuple[Judgement, ...]:
        """With those jobs done, in their nights; as it stands in the others."""
        others = [self.evening.judgements[night][choice.pot] for night in self.nights if night not in _reached(choice)]
        return worst_of_nights([choice.with_it.judgements, *others])


def till_somebody_comes(evening: Evening, settings: Settings) -> TillSomebodyComes:
    """The nights that the work before the coming one has to do for."""
    return TillSomebodyComes(evening, nights_served(evening, settings, 0))


def _reached(choice: Choice) -> frozenset[int]:
    return frozenset((*choice.occasion.nights, *choice.occasion.later))


def _the_better(some: Sequence[Judgement], others: Sequence[Judgement]) -> tuple[Judgement, ...]:
    """The same tissues, each as it fares better: some jobs are for the leaves, and others for the roots."""
    return tuple(
        min(pair, key=lambda one: float(one.chance.mean())) for pair in zip(some, others, strict=True)
    )
