"""The settings as they stand, the simple ones to be changed, and a test of every way that messages go."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime

from starlette.requests import Request
from starlette.responses import Response

from frostguard.errors import FrostguardError
from frostguard.garden import writing
from frostguard.garden.reader import garden_text
from frostguard.garden.settings import Settings, Units, WorkingWindow
from frostguard.garden.yaml_edit import Value, changed_above, written_above
from frostguard.notify.channels import open_channels
from frostguard.notify.delivery import Delivery, send, trial_notice
from frostguard.page.frame import Part, answer, button, choice, faults_told, field, form, hidden, sent, table
from frostguard.page.site import Site, must_be, sentences, to, troubled
from frostguard.page.work import Trouble
from frostguard.report import amounts, measures
from frostguard.report.html.markup import Child, list_of, node
from frostguard.report.words import say

CHANGED_HERE = ("people", "lift_alone_kg", "effort_eur_per_hour", "days", "units")


def settings(site: Site, request: Request) -> Response:
    """The settings."""
    return _settings(site, request, None, ())


def _settings(site: Site, request: Request, typed: Mapping[str, str] | None, faults: Sequence[str]) -> Response:
    task, now = site.planner.task, site.settings()
    before = _text(site)
    usual = {
        "people": str(now.people),
        **amounts.to_write({"lift_alone_kg": f"{now.lift_alone_kg:g}"}, now.units),
        "effort_eur_per_hour": f"{now.effort_eur_h:g}",
        "days": str(now.days),
        "units": now.units.value,
    }
    values = usual if typed is None else {**usual, **typed}
    units = [(Units.METRIC.value, say("metric")), (Units.IMPERIAL.value, say("imperial"))]
    windows = [_window_told(window) for window in now.windows] or [say("between sunrise and sunset")]
    rows: list[tuple[Child, ...]] = [
        (say("You can work"), "; ".join(windows)),
        (say("Weather from"), ", ".join(one.value for one in now.weather_services)),
        (say("Messages go by"), ", ".join(channel.name for channel in now.channels) or say("the terminal")),
        (say("Garden file"), str(task.garden)),
        (say("Settings file"), str(task.settings or say("none yet: everything is as usual"))),
    ]
    body: list[Child] = [
        node("h2", say("Messages")),
        node("p", say("A marked test goes out by every channel; look whether it arrives.")),
        form(request, "/settings/test", button(say("Send a test through every channel"), class_="main")),
        node("h2", say("How you work")),
        faults_told(faults),
        form(
            request,
            "/settings",
            hidden("version", before.version),
            field("people", say("People at hand"), values["people"], hint=say("who can help with what is heavy")),
            field("lift_alone_kg",
                  amounts.label(now.units, say("You lift alone, in kilograms"), say("You lift alone, in pounds")),
                  values["lift_alone_kg"], kind="decimal"),
            field("effort_eur_per_hour", say("An hour of yours, in euro"), values["effort_eur_per_hour"],
                  hint=say("decides what is not worth the trouble"), kind="decimal"),
            field("days", say("Nights ahead"), values["days"], hint=say("1 to 16")),
            choice("units", say("Units"), units, values["units"]),
            button(say("Write it into the settings file"), class_="main"),
            class_="fields",
        ),
        node("h2", say("Everything else")),
        table((say("What"), say("How it stands")), rows, class_="free"),
        node("p", say("That is changed in the settings file; config/settings.yaml shows every line.")),
    ]  # fmt: skip
    return answer(say("Settings"), body, Part.SETTINGS, status=422 if faults else 200)


def _window_told(window: WorkingWindow) -> str:
    # 1 January 2024 was a Monday
    days = ", ".join(measures.short_weekday(date(2024, 1, 1 + day)) for day in sorted(window.days))
    span = f"{window.begins:%H:%M}–{window.ends:%H:%M}"
    return span if len(window.days) == 7 else say("{days} {span}", days=days, span=span)


def _text(site: Site) -> writing.GardenText:
    """The settings file as it stands; an empty text where there is none yet."""
    path = site.planner.task.settings or site.new_settings
    if not path.exists():
        return writing.GardenText(path, "", writing.NOTHING)
    return writing.GardenText(path, garden_text(path), writing.version_of(path))


def put_settings(site: Site, request: Request) -> Response:
    """The settings as they were changed."""
    given = {name: value for name, value in sent(request).items() if name in CHANGED_HERE}
    for name in ("lift_alone_kg", "effort_eur_per_hour"):
        if re.fullmatch(r"[0-9]+,[0-9]+", given.get(name, "")):
            given[name] = given[name].replace(",", ".")
    try:
        before = _text(site)
        must_be(before, sent(request).get("version", ""))
        text = changed_above(before.text, _differences(site.settings(), written_above(before.text), given))
        writing.write_settings(before.path, text, version=before.version)
    except FrostguardError as error:
        return _settings(site, request, given, sentences(error))
    site.planner.settings_at(before.path)
    return to("/settings")


def _differences(now: Settings, there: Mapping[str, Value], given: Mapping[str, str]) -> dict[str, Value | None]:
    """What differs from what holds now; an emptied field takes its line out."""
    holds = {
        "people": str(now.people),
        **amounts.to_write({"lift_alone_kg": f"{now.lift_alone_kg:g}"}, now.units),
        "effort_eur_per_hour": f"{now.effort_eur_h:g}",
        "days": str(now.days),
        "units": now.units.value,
    }
    kept = amounts.to_keep(given, now.units)
    return {name: kept[name] or None for name, value in given.items()
            if value != holds[name] and kept[name] != there.get(name, None)}  # fmt: skip


def send_test(site: Site, _request: Request) -> Response:
    """A test through every channel, which may take as long as a mail server thinks."""
    title, now, wanted = say("Testing the channels"), site.now(), site.settings()

    def told(_again: Request, tried: list[Delivery] | Trouble) -> Response:
        if isinstance(tried, Trouble):
            return troubled(title, tried, Part.SETTINGS)
        lines = [
            say("{channel}: taken.", channel=one.channel)
            if one.failure is None
            else f"{one.channel}: {one.failure.message} {one.failure.next_step}"
            for one in tried
        ]
        failed = any(one.failure is not None for one in tried)
        body = [
            node("div", list_of(lines), class_="trouble" if failed else "way", role="status"),
            node("p", say("Taken is not arrived: look whether the test is there.")),
            node("p", node("a", say("Back to the settings"), href="/settings", class_="step quiet")),
        ]
        return answer(say("The channels"), body, Part.SETTINGS)

    return site.begun_here(title, "/settings", lambda: try_channels(wanted, now, site.write), told)


def try_channels(settings: Settings, now: datetime, write: Callable[[str], None]) -> list[Delivery]:
    """Send a marked test through every channel; `write` is the terminal that the page was started in."""
    notice = trial_notice(now, now.astimezone().date())
    return [send(channel, notice) for channel in open_channels(settings, write=write)]
