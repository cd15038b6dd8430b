"""The part of the settings file about the nightly check."""

from __future__ import annotations

import re
from datetime import time

from frostguard.garden.fields import Block
from frostguard.garden.nightly_settings import NightlySettings
from frostguard.garden.read_notices import read_secret_source, refused_address
from frostguard.garden.yaml_text import Faults, Table, shown

NIGHTLY_KEYS = ("evening", "morning", "last_look", "heartbeat", "heartbeat_from")

EVENING = (time(14), time(18, 45))
MORNING = (time(4), time(10))
LAST_LOOK = (time(8), time(20))
"""Spans in which each look may be. No clock is changed within them, and the evening's message is there by 19:00."""


def read_nightly(table: Table | None, faults: Faults) -> NightlySettings:
    """When the check looks; what is not said keeps its default."""
    usual = NightlySettings()
    if table is None:
        return usual
    block = Block(table, NIGHTLY_KEYS, "the nightly check", faults)
    if block.has("heartbeat") and block.has("heartbeat_from"):
        block.fault("heartbeat_from", "{where}: heartbeat and heartbeat_from say the same thing; keep one of them.")
    return NightlySettings(
        evening=_time(block, "evening", EVENING) or usual.evening,
        morning=_time(block, "morning", MORNING) or usual.morning,
        last_look=_time(block, "last_look", LAST_LOOK),
        heartbeat=_address(block),
        heartbeat_from=read_secret_source(block, "heartbeat_from"),
    )


def _time(block: Block, key: str, span: tuple[time, time]) -> time | None:
    scalar = block.scalar(key)
    if scalar is None:
        return None
    match = re.fullmatch(r"\s*([0-9]{1,2}):([0-5][0-9])\s*", scalar.text)
    at = time(int(match[1]), int(match[2])) if match is not None and int(match[1]) < 24 else None
    if at is None or not span[0] <= at <= span[1]:
        block.fault(
            key,
            '{where}: "{text}" is no time for this look; write one from {first} to {last}, such as "{first}".',
            text=shown(scalar.text),
            first=f"{span[0]:%H:%M}",
            last=f"{span[1]:%H:%M}",
        )
        return None
    return at


def _address(block: Block) -> str | None:
    scalar = block.scalar("heartbeat")
    if scalar is None:
        return None
    address = scalar.text.strip()
    why = refused_address(address)
    if why is not None:
        block.fault("heartbeat", "{where}: {why}", why=why)
        return None
    return address
