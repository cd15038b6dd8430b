"""A plan in brief: what the next run has to know of it, kept as plain data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from frostguard.advice.plan import AdvicePlan, Job, Protection


@dataclass(frozen=True, slots=True)
class JobBrief:
    """One job as it was told: which pot, what, whereto, and by when."""

    pot: str
    label: str
    protection: Protection
    to_spot: str | None
    start_by: datetime
    chance: float

    @property
    def what(self) -> tuple[str, Protection, str | None]:
        """What makes two jobs the same job."""
        return self.pot, self.protection, self.to_spot


@dataclass(frozen=True, slots=True)
class PlanBrief:
    """A plan's jobs, which nights it saw pots at risk in, and when its cold spell begins."""

    asked_at: datetime
    night: date
    jobs: tuple[JobBrief, ...]
    nights_at_risk: frozenset[date]
    spell_begins: date | None

    def to_dict(self) -> dict[str, Any]:
        """As plain data, for the logbook."""
        return {
            "asked_at": self.asked_at.isoformat(),
            "night": self.night.isoformat(),
            "jobs": [
                {
                    "pot": job.pot,
                    "label": job.label,
                    "protection": job.protection.value,
                    "to_spot": job.to_spot,
                    "start_by": job.start_by.isoformat(),
                    "chance": round(job.chance, 4),
                }
                for job in self.jobs
            ],
            "nights_at_risk": sorted(night.isoformat() for night in self.nights_at_risk),
            "spell_begins": None if self.spell_begins is None else self.spell_begins.isoformat(),
        }


def brief_of(plan: AdvicePlan) -> PlanBrief:
    """What is remembered of a plan."""
    return PlanBrief(
        asked_at=plan.asked_at,
        night=plan.night,
        jobs=tuple(brief_of_job(job) for job in plan.jobs),
        nights_at_risk=frozenset(night.date for night in plan.nights if night.pots_at_risk > 0),
        spell_begins=None if plan.spell is None else plan.spell.first_night,
    )


def brief_of_job(job: Job) -> JobBrief:
    """What is remembered of a job."""
    return JobBrief(job.pot, job.label, job.protection, job.to_spot, job.start_by, job.loss_otherwise.chance)


def brief_from_dict(kept: Mapping[str, Any]) -> PlanBrief:
    """The brief that `PlanBrief.to_dict` put down; ValueError, KeyError or TypeError if it is none."""
    begins = kept["spell_begins"]
    return PlanBrief(
        asked_at=datetime.fromisoformat(kept["asked_at"]),
        night=date.fromisoformat(kept["night"]),
        jobs=tuple(
            JobBrief(
                pot=str(job["pot"]),
                label=str(job["label"]),
                protection=Protection(job["protection"]),
                to_spot=None if job["to_spot"] is None else str(job["to_spot"]),
                start_by=datetime.fromisoformat(job["start_by"]),
                chance=float(job["chance"]),
            )
            for job in kept["jobs"]
        ),
        nights_at_risk=frozenset(date.fromisoformat(night) for night in kept["nights_at_risk"]),
        spell_begins=None if begins is None else date.fromisoformat(begins),
    )
