"""The settings as they stand, and a test of every way that messages go."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from starlette.requests import Request

from frostguard.garden.settings import Settings
from frostguard.notify.channels import open_channels
from frostguard.notify.delivery import Delivery, send, trial_notice
from frostguard.page.frame import button, form, table
from frostguard.report.html.markup import Child, list_of, node
from frostguard.report.words import say


def settings_body(
    request: Request, settings: Settings, file: Path | None, garden: Path, tried: list[Delivery] | None
) -> list[Child]:
    """The page."""
    windows = [f"{window.begins:%H:%M}–{window.ends:%H:%M}" for window in settings.windows]
    windows = windows or [say("between sunrise and sunset")]
    rows: list[tuple[Child, ...]] = [
        (say("Garden file"), str(garden)),
        (say("Settings file"), say("none: everything is as usual") if file is None else str(file)),
        (say("You can work"), ", ".join(windows)),
        (say("People"), str(settings.people)),
        (say("You lift alone, in kg"), f"{settings.lift_alone_kg:g}"),
        (say("An hour of yours, in euro"), f"{settings.effort_eur_h:g}"),
        (say("Nights ahead"), str(settings.days)),
        (say("Units"), settings.units.value),
        (say("Weather from"), ", ".join(one.value for one in settings.weather_services)),
    ]
    results = None
    if tried is not None:
        lines = [
            say("{channel}: taken.", channel=one.channel)
            if one.failure is None
            else f"{one.channel}: {one.failure.message} {one.failure.next_step}"
            for one in tried
        ]
        lines.append(say("Taken is not arrived: look whether the test is there."))
        results = node("div", list_of(lines), class_="way", role="status")
    return [
        table((say("What"), say("How it stands")), rows),
        node("p", say("Settings are changed in the settings file; config/settings.yaml shows every line.")),
        node("h2", say("Messages")),
        results,
        form(request, "/settings/test", button(say("Send a test through every channel"), class_="main")),
    ]


def try_channels(settings: Settings, now: datetime, write: Callable[[str], None]) -> list[Delivery]:
    """Send a marked test through every channel; `write` is the terminal that the page was started in."""
    notice = trial_notice(now, now.astimezone().date())
    return [send(channel, notice) for channel in open_channels(settings, write=write)]
