"""The settings file: when and how the person works, how to be reached, what to show."""

from __future__ import annotations

import re
from datetime import time

from frostguard.garden.fields import Block
from frostguard.garden.names import folded
from frostguard.garden.read_nightly import read_nightly
from frostguard.garden.read_notices import read_channels, read_notices, stand_in_can_be_reached
from frostguard.garden.settings import Settings, Units, WeatherService, WorkingWindow
from frostguard.garden.yaml_text import Faults, Node, Table, Text, shown

SETTINGS_KEYS = (
    "working_windows",
    "effort_eur_per_hour",
    "lift_alone_kg",
    "people",
    "units",
    "contact",
    "days",
    "weather_services",
    "ensemble_model",
    "spread_model",
    "notices",
    "channels",
    "nightly",
)
WINDOW_KEYS = ("time", "days", "lit")

_DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_EVERY_DAY = frozenset(range(7))
_DAY_WORDS = {
    "every day": _EVERY_DAY,
    "daily": _EVERY_DAY,
    "weekdays": frozenset(range(5)),
    "weekend": frozenset((5, 6)),
    "weekends": frozenset((5, 6)),
    **{
        spelling: frozenset((number,))
        for number, day in enumerate(_DAYS)
        for spelling in (day, f"{day}s", day[:3])
    },
}


def read_settings(table: Table | None, faults: Faults) -> Settings:
    """The settings; what is not said keeps its default."""
    usual = Settings()
    if table is None:
        return usual
    block = Block(table, SETTINGS_KEYS, "the settings", faults)
    windows = [
        _window(node, number, faults)
        for number, node in enumerate(block.listing("working_windows", "working windows"), start=1)
    ]
    effort = block.number("effort_eur_per_hour", 0, 1000, "euro")
    lift = block.number("lift_alone_kg", 0, 50, "kilograms")
    people = block.whole("people", 1, 20)
    units = block.word("units", {units.value: units for units in Units})
    days = block.whole("days", 1, 16)
    notices, channels = read_notices(block.table("notices"), faults), read_channels(block, faults)
    stand_in_can_be_reached(block, notices, channels)
    return Settings(
        windows=tuple(window for window in windows if window is not None),
        effort_eur_h=usual.effort_eur_h if effort is None else effort,
        lift_alone_kg=usual.lift_alone_kg if lift is None else lift,
        people=usual.people if people is None else people,
        units=units or usual.units,
        contact=_contact(block),
        days=usual.days if days is None else days,
        weather_services=_weather_services(block) or usual.weather_services,
        ensemble_model=_model(block, "ensemble_model") or usual.ensemble_model,
        spread_model=_model(block, "spread_model") or usual.spread_model,
        notices=notices,
        channels=channels,
        nightly=read_nightly(block.table("nightly"), faults),
    )


def _weather_services(block: Block) -> tuple[WeatherService, ...]:
    """The services in the order in which they are to be asked; each counts once."""
    known = {folded(service.value): service for service in WeatherService}
    spellings = [service.value for service in WeatherService]
    named = [
        block.word_in("weather_services", text, known, spellings)
        for text in block.texts("weather_services")
    ]
    return tuple(dict.fromkeys(service for service in named if service is not None))


def _model(block: Block, key: str) -> str | None:
    """The name of a weather model; it goes into the address of requests, so nothing else may be in it."""
    text = block.text(key)
    if text is None or re.fullmatch(r"[a-z0-9_]{3,60}", text):
        return text
    block.fault(
        key,
        '{where}: "{text}" is no name of a weather model; it is written like icon_seamless_eps.',
        text=shown(text),
    )
    return None


def _window(node: Node, number: int, faults: Faults) -> WorkingWindow | None:
    if not isinstance(node, Table):
        faults.add(
            node.line,
            'working window {number} must be keys with values, such as time: "18:30-19:15"; write '
            "each key on a line of its own.",
            number=number,
        )
        return None
    block = Block(node, WINDOW_KEYS, f"working window {number}", faults)
    block.require("time", '"18:30-19:15"')
    scalar = block.scalar("time")
    span = None if scalar is None else _span(block, scalar.text)
    days = [_days(block, text) for text in block.texts("days")]
    lit = block.switch("lit")
    if span is None:
        return None
    return WorkingWindow(
        days=frozenset().union(*(day for day in days if day is not None)) if days else _EVERY_DAY,
        begins=span[0],
        ends=span[1],
        lit=lit or False,
    )


def _span(block: Block, text: str) -> tuple[time, time] | None:
    """From when to when."""
    match = re.fullmatch(r"\s*([0-9]{1,2}):([0-9]{2})\s*[-–]\s*([0-9]{1,2}):([0-9]{2})\s*", text)
    if match is None:
        block.fault(
            "time",
            '{where}: "{text}" is no span of time; write it in quotation marks as "18:30-19:15".',
            text=shown(text),
        )
        return None
    hours = (int(match[1]), int(match[3]))
    minutes = (int(match[2]), int(match[4]))
    if max(hours) > 23 or max(minutes) > 59:
        block.fault(
            "time",
            '{where}: "{text}" has an hour or minute that no clock shows; the day goes from 00:00 to 23:59.',
            text=shown(text),
        )
        return None
    begins, ends = (time(hour, minute) for hour, minute in zip(hours, minutes, strict=True))
    if begins >= ends:
        block.fault(
            "time",
            '{where}: "{text}" ends before it begins; write a span over midnight as two windows.',
            text=shown(text),
        )
        return None
    return begins, ends


def _days(block: Block, text: Text) -> frozenset[int] | None:
    """One day, a span of days such as mon-fri, or a word for several; Monday is 0."""
    if folded(text.text) in _DAY_WORDS:
        return _DAY_WORDS[folded(text.text)]
    ends = [_DAY_WORDS.get(folded(end), frozenset()) for end in re.split(r"[-–]", text.text)]
    if len(ends) == 2 and all(len(end) == 1 for end in ends):
        (first,), (last,) = ends
        return frozenset((first + step) % 7 for step in range((last - first) % 7 + 1))
    return block.word_in("days", text, _DAY_WORDS, ("every day", "weekdays", "weekend", *_DAYS))


def _contact(block: Block) -> str | None:
    """A mail address or web page; it goes into the header of requests, so nothing else may be in it."""
    text = block.text("contact")
    if text is None:
        return None
    if re.fullmatch(r"[A-Za-z0-9._%+-]+@[A-Za-z0-9.-]+|https?://[!-~]+", text) is None:
        block.fault(
            "contact",
            '{where}: "{text}" is neither a mail address nor a web page; write one of them.',
            text=shown(text),
        )
        return None
    return text
