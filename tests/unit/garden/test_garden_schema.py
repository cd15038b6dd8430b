"""The schema for editors goes with the strict reader."""

from __future__ import annotations

import jsonschema
import pytest
import yaml

from frostguard.garden.read_places import PIECE_KEYS, SITE_KEYS, SPOT_KEYS, STOCK_KEYS
from frostguard.garden.read_pots import POT_KEYS
from frostguard.garden.schema import garden_schema
from tests.e2e.command import DEMO_GARDEN


@pytest.fixture
def demo():
    """The demo's file as an editor's YAML reader has it."""
    return yaml.safe_load(DEMO_GARDEN.read_text(encoding="utf-8"))


def test_the_schema_is_one():
    """It is a schema by its own dialect (JSON Schema, draft 7)."""
    jsonschema.Draft7Validator.check_schema(garden_schema())


def test_the_demo_fits(demo):
    """What the strict reader takes shows no mistake in an editor."""
    jsonschema.validate(demo, garden_schema())


@pytest.mark.parametrize(
    "change",
    [
        lambda demo: demo["pots"][0].pop("spot"),
        lambda demo: demo["pots"][0].update(volumes=3),
        lambda demo: demo["site"].update(latitude=120),
        lambda demo: demo["pots"][1].pop("volume_l"),
        lambda demo: demo.pop("spots"),
    ],
)
def test_mistakes_are_seen(demo, change):
    """A missing or misspelt key and an impossible number are marked."""
    change(demo)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(demo, garden_schema())


def test_it_has_every_key_of_the_reader():
    """Key by key the same."""
    parts = garden_schema()["properties"]
    assert set(parts["site"]["properties"]) == set(SITE_KEYS)
    assert set(parts["spots"]["items"]["properties"]) == set(SPOT_KEYS)
    assert set(parts["pots"]["items"]["properties"]) == set(POT_KEYS)
    assert set(parts["stock"]["properties"]) == set(STOCK_KEYS)
    assert set(garden_schema()["definitions"]["piece"]["properties"]) == set(PIECE_KEYS)
