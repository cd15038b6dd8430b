"""Jobs against harm that is estimated and not simulated: gales, wet snow, morning sun."""

from __future__ import annotations

from math import ceil

from frostguard.advice.evening import Evening
from frostguard.advice.plan import Batch, Caution, Job, Loss, Protection
from frostguard.hardiness.model import Tissue


def estimated_job(
    evening: Evening,
    row: int,
    protection: Protection,
    minutes: float,
    chance: float,
    worth_eur: float,
    *,
    tissue: Tissue | None = None,
    weight_kg: float | None = None,
    cautions: tuple[Caution, ...] = (),
) -> Job:
    """One job for tonight, not yet dated, that needs nothing from the shed.

    Parameters
    ----------
    evening : Evening
        The terrace left as it is.
    row : int
        The pot.
    protection : Protection
        What is to be done.
    minutes, worth_eur : float
        For one pot of several alike: the work, and what is lost if the harm comes [min, euro].
    chance : float
        Of the harm, 0 to 1.
    tissue : Tissue, optional
        What is harmed, where it is one tissue.
    weight_kg : float, optional
        Told where somebody might have to lift the pot.
    cautions : tuple of Caution
        That belong to the job.
    """
    pot = evening.pots[row]
    return Job(
        pot=pot.id,
        label=pot.label,
        spot=pot.spot,
        protection=protection,
        batch=Batch.TONIGHT,
        to_spot=None,
        start_by=evening.at,
        minutes=float(ceil(minutes * pot.count - 1e-9)),
        people=1,
        weight_kg=weight_kg,
        covers=(),
        litres=None,
        loss_otherwise=Loss(tissue, chance, chance * worth_eur * pot.count),
        cautions=cautions,
        undo_after=None,
        count=pot.count,
        alike=pot.count + pot.set_aside,
        irreplaceable=any(planting.irreplaceable for planting in pot.plantings),
    )
