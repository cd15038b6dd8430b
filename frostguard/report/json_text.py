"""The answer as JSON for other programs."""

from __future__ import annotations

import json
from typing import Any

from frostguard.advice.explanation import Explanation
from frostguard.advice.plan import PLAN_FORMAT, AdvicePlan
from frostguard.errors import FrostguardError


def render_json(
    plan: AdvicePlan, explanation: Explanation | None = None, unseen: FrostguardError | None = None
) -> str:
    """The plan's own dictionary as JSON text; an explanation, if asked for, under "explanation".

    Where the night cannot be seen, "error" and "next_step" stand beside the plan, which then is for a guess.

    Plain ASCII, so that it passes through any terminal or pipe; a number that does not exist is null,
    since JSON knows no NaN.
    """
    data = plan.to_dict()
    if explanation is not None:
        data["explanation"] = explanation_dict(explanation)
    if unseen is not None:
        data |= {"error": unseen.message, "next_step": unseen.next_step}
    return json.dumps(_without_nan(data), indent=2, allow_nan=False)


def render_error_json(message: str, next_step: str) -> str:
    """What went wrong and what to do, as JSON text."""
    return json.dumps({"format": PLAN_FORMAT, "error": message, "next_step": next_step}, indent=2)


def explanation_dict(explanation: Explanation) -> dict[str, Any]:
    """The explanation as plain data: ISO 8601 times with offset, degC, m/s, kJ, K."""
    heat = explanation.heat
    return {
        "pot": explanation.pot,
        "curves": [
            {
                "time": row.time.isoformat(),
                "air_c": round(row.air_c, 2),
                "wind_at_pot_m_s": round(row.wind_at_pot_m_s, 2),
                "top_ring_c": round(row.top_ring_c, 2),
                "middle_ring_c": round(row.middle_ring_c, 2),
                "bottom_ring_c": round(row.bottom_ring_c, 2),
                "mean_c": round(row.mean_c, 2),
                "core_c": round(row.core_c, 2),
                "frozen_fraction": round(row.frozen_fraction, 3),
                "leaf_c": round(row.leaf_c, 2),
            }
            for row in explanation.rows
        ],
        "heat_kj": {
            "side": round(heat.side_kj, 1),
            "top": round(heat.top_kj, 1),
            "base": round(heat.base_kj, 1),
            "convection": round(heat.convection_kj, 1),
            "longwave": round(heat.longwave_kj, 1),
            "sun": round(heat.sun_kj, 1),
            "evaporation": round(heat.evaporation_kj, 1),
        },
        "surface_second_pass_k": round(explanation.surface_second_pass_k, 3),
        "sensitivities": [
            {"what": one.what, "coldest_ring_change_k": round(one.coldest_ring_change_k, 2)}
            for one in explanation.sensitivities
        ],
        "assumed": list(explanation.assumed),
    }


def _without_nan(data: Any) -> Any:
    if isinstance(data, dict):
        return {key: _without_nan(value) for key, value in data.items()}
    if isinstance(data, list):
        return [_without_nan(value) for value in data]
    if isinstance(data, float) and (data != data or data in (float("inf"), float("-inf"))):
        return None
    return data
