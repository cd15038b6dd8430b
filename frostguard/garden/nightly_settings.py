"""Settings of the nightly check: when it looks, and who is told that it is alive."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import time

from frostguard.garden.notice_settings import SecretSource


@dataclass(frozen=True, slots=True)
class NightlySettings:
    """When the check looks, on the site's clock.

    The evening's look is early enough for its message to be there by 19:00, the morning's at the end of the
    quiet hours. `last_look` None: an hour before the first working window of the day, or three hours before
    sunset where there is none (common practice of warning services; the hour is an estimate). `heartbeat` is
    an address that is called after each good run, or `heartbeat_from` says where that address lies.
    """

    evening: time = time(18)
    morning: time = time(7)
    last_look: time | None = None
    heartbeat: str | None = None
    heartbeat_from: SecretSource | None = None
