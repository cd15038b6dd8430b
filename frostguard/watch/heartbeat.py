"""The sign of life: an address that is called after each good run, so that somebody else misses it."""

from __future__ import annotations

from collections.abc import Callable

from frostguard.errors import NotificationFailed
from frostguard.garden.nightly_settings import NightlySettings
from frostguard.garden.notice_settings import SecretSource
from frostguard.garden.read_notices import refused_address
from frostguard.notify.secrets import Secret, read_secret
from frostguard.report.words import say
from frostguard.watch.log import Log
from frostguard.weather.client import PostFailed, post_once
from frostguard.weather.manners import Patience

PATIENCE = Patience(connect_s=5.0, read_s=10.0)
"""A sign of life is worth no long wait: the next run gives another."""

Post = Callable[..., int]


def give_sign_of_life(
    settings: NightlySettings,
    log: Log,
    *,
    post: Post = post_once,
    secret_of: Callable[[SecretSource, str], Secret] = read_secret,
) -> bool:
    """Call the heartbeat's address where there is one; what goes wrong is logged without it. True if it was heard."""
    try:
        address = settings.heartbeat
        if settings.heartbeat_from is not None:
            address = secret_of(settings.heartbeat_from, say("heartbeat")).reveal()
        if address is None:
            return False
        if refused_address(address) is not None:
            log("heartbeat", heard=False, why="the address is not one that may be called")
            return False
        status = post(address, b"", {}, patience=PATIENCE)
    except (PostFailed, NotificationFailed) as exc:
        log("heartbeat", heard=False, why=str(exc))
        return False
    heard = 200 <= status < 300
    if not heard:
        log("heartbeat", heard=False, why=f"status {status}")
    return heard
