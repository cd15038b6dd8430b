"""The state of a plant in the depth of winter, which many tests begin with."""

from __future__ import annotations

from frostguard.hardiness.hardening import HardeningState

HARD = HardeningState(top=1.0, root=1.0, ceiling=1.0, heat_k_d=0.0, days_known=0)
