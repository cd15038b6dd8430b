"""The command that tries a change, on the demo garden."""

from __future__ import annotations

import json

import pytest

from tests.e2e.command import DEMO_GARDEN, SAMPLES, frostguard

CALL = ("--garden", DEMO_GARDEN, "--weather", SAMPLES / "clear-calm-night.csv")


def test_a_change_is_shown_beside_how_it_stands() -> None:
    """Two columns, a chart with both curves and the limit, and what it costs and saves; the file is untouched."""
    before = DEMO_GARDEN.read_bytes()

    reply = frostguard("what-if", "lemon", "--spot", "wash room", "--protect", "wrap", "--protect", "wrap", *CALL)

    assert (reply.exit_code, reply.stderr) == (0, "")
    assert reply.stdout.startswith("Lemon by the door, wrapped and carried to the wash room: the coming night.")
    assert "as it stands" in reply.stdout and "changed" in reply.stdout
    chart = [line for line in reply.stdout.splitlines() if line.startswith("  Thu 0")]
    assert len(chart) == 5 and all("o" in line and "#" in line and "|" in line for line in chart)
    assert max(map(len, reply.stdout.splitlines())) <= 80
    assert "it was only tried" in reply.unfolded
    assert DEMO_GARDEN.read_bytes() == before


def test_the_comparison_as_data() -> None:
    """The same for a program: both fates, the curves and their hours."""
    reply = frostguard("what-if", "box", "--volume", "60", "--wall", "foam", "--json", *CALL)

    data = json.loads(reply.stdout)
    assert reply.exit_code == 0 and data["format"] == 1
    assert data["changes"] == {"protect": [], "spot": None, "volume_l": 60.0, "wall": "foam"}
    assert data["changed"]["coldest_ring_c"] > data["as_it_stands"]["coldest_ring_c"]
    assert len(data["times"]) == len(data["changed"]["curve_c"])


@pytest.mark.parametrize(
    ("options", "exit_code", "says"),
    [
        (("lemon",), 2, "--protect, --spot, --volume or --wall"),
        (("lemon", "--protect", "tent"), 2, "double-fleece"),
        (("lemon", "--volume", "much"), 2, "write litres"),
        (("lemmon", "--volume", "40"), 1, "lemon"),
        (("lemon", "--wall", "fome"), 1, "foam"),
    ],
)
def test_slips_are_told(options: tuple[str, ...], exit_code: int, says: str) -> None:
    """Wrong usage leaves with 2, an unknown name with 1, each with what to write instead."""
    reply = frostguard("what-if", *options, *CALL)

    assert (reply.exit_code, reply.stdout) == (exit_code, "")
    assert says in " ".join(reply.stderr.split())
