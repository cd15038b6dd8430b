"""An ensemble of fifty-one forecasts through the whole model, from the saved answer to the plan."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from tests.e2e.command import frostguard
from tests.e2e.test_live_path import GARDEN
from tests.unit.weather.payloads import open_meteo_answer

ASKED = "2026-01-14T15:00"


def test_members_stay_members_from_the_answer_to_the_plan(tmp_path: Path) -> None:
    """Members from -5 to -10 degC, a tenth apart: the night's middle and low end are theirs, dressed by 1.3 K for the
    place and lowered by half a kelvin for hourly sampling; the roots spread with them."""
    answer = open_meteo_answer(first=datetime(2026, 1, 12, tzinfo=UTC), hours=24 * 6, members=51)
    (tmp_path / "members.json").write_text(json.dumps(answer), encoding="utf-8")
    (tmp_path / "garden.yaml").write_text(GARDEN.replace("pelargonium", "olive"), encoding="utf-8")
    files = ("--garden", str(tmp_path / "garden.yaml"), "--weather", str(tmp_path / "members.json"))
    plan = frostguard("tonight", *files, "--at", ASKED, "--days", "1", "--json").data
    assert plan["weather"]["members"] == 51
    lows = np.array([-5.0 - 0.1 * number for number in range(51)]) - 0.5
    spread_k = np.hypot(lows.std(), 1.3)
    night = plan["nights"][0]
    assert night["coldest_air_c"] == pytest.approx(np.median(lows), abs=1.1)  # up to 1 K for clear calm open country
    assert night["coldest_air_c"] - night["coldest_air_c_p10"] == pytest.approx(1.2816 * spread_k, abs=0.5)
    (pot,) = plan["pots"]
    assert pot["coldest_ring_c"] - pot["coldest_ring_c_p10"] > 1.0
