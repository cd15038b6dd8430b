"""The weather itself as text for a terminal: a chart of the nights, the services, what was saved."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from math import ceil, floor
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from frostguard.garden.model import Site
from frostguard.garden.settings import Units
from frostguard.report import measures
from frostguard.report.layout import padded, page, paragraph, right_aligned, section
from frostguard.report.measures import Clock
from frostguard.report.notes import note_sentences, quantity, service_name
from frostguard.report.words import all_of, decimal, harmless, say, say_count
from frostguard.weather.outlook import NightWeather
from frostguard.weather.series import Provenance
from frostguard.weather.sources import Source, SourceState

if TYPE_CHECKING:
    from frostguard.logbook.answers import KeptSize

CHART_WIDTH = 32
"""Columns of the scale of temperatures."""

LEAST_SPAN_C = 10
"""Fewest degrees that the scale spans, so that a mild week does not look wild."""

CLEAR_BELOW_PERCENT, OVERCAST_FROM_PERCENT = 30.0, 80.0
CALM_BELOW_M_S, WINDY_FROM_M_S = 2.0, 8.0
"""From which mean over a night a word is said; estimates, clear and calm as in the weather's uncertainty."""


def render_weather(
    site: Site,
    nights: Sequence[NightWeather],
    source: Provenance,
    *,
    notes: Iterable[str],
    lacking: Sequence[str],
    at: datetime,
    units: Units,
) -> str:
    """A chart of the coming nights, whose weather it is, what it lacks, and what was set right.

    Parameters
    ----------
    site : Site
        Name and clock.
    nights : sequence of NightWeather
        From the coming night on.
    source : Provenance
        Whose weather it is.
    notes : iterable of str
        Codes of the series.
    lacking : sequence of str
        Columns that the source does not give here.
    at : datetime
        The moment of the question, aware.
    units : Units
        Units for reading.
    """
    clock = Clock(site.time_zone, at)
    return page(
        [
            paragraph(
                say(
                    "{site}: the coming nights' coldest air, asked {time}",
                    site=site.name,
                    time=f"{at.astimezone(ZoneInfo(site.time_zone)):%Y-%m-%d %H:%M}",
                )
            ),
            _chart(nights, units),
            _lacking(lacking),
            section(say("Notes"), note_sentences(notes)),
            weather_lines(source, clock),
        ]
    )


def weather_lines(source: Provenance, clock: Clock) -> list[str]:
    """Whose weather it is, when it was made and fetched, and the credit that is owed."""
    name = service_name(source.service)
    sentences = [
        say("Weather: {service}.", service=name)
        if source.model is None
        else say("Weather: {service}, model {model}.", service=name, model=source.model)
    ]
    if source.issued is not None:
        sentences.append(say("Issued {time}.", time=clock.at(source.issued)))
    if source.fetched is not None:
        sentences.append(say("Fetched {time}.", time=clock.at(source.fetched)))
    credit = paragraph(harmless(source.credit)) if source.credit else []
    return [*paragraph(" ".join(sentences)), *credit]


def _chart(nights: Sequence[NightWeather], units: Units) -> list[str]:
    """One line for each night: lowest air, a bar for eight chances in ten, and what kind of night it is."""
    if not nights:
        return paragraph(say("No hours ahead are known. An old file is asked about with --at and one of its days."))
    lowest = floor(min(night.low_c for night in nights))
    highest = max(ceil(max(night.high_c for night in nights)), lowest + LEAST_SPAN_C)
    legend = say(
        "o likely, --- eight chances in ten, : freezing; in {unit}", unit=measures.degree_unit(units)
    )
    ends = (measures.measured_number(float(end), units) for end in (lowest, highest))
    left, right = ends
    scale = " " * 19 + left + right_aligned(right, CHART_WIDTH - len(left))
    return [
        scale,
        *(line for night in nights for line in _night_lines(night, lowest, highest, units)),
        *paragraph(legend, first="  ", rest="  "),
    ]


def _night_lines(night: NightWeather, lowest: int, highest: int, units: Units) -> list[str]:
    day = padded(measures.day_and_date(night.night), 10)
    likely = right_aligned(measures.coldest_number(night.likely_c, units), 5)
    start = f"  {day} {likely} {_bar(night, lowest, highest)} "
    return paragraph(
        ", ".join(_kind(night, units)), first=start, rest=" " * len(start)
    )


def _bar(night: NightWeather, lowest: int, highest: int) -> str:
    def column(value_c: float) -> int:
        share = (value_c - lowest) / (highest - lowest)
        return min(CHART_WIDTH - 1, max(0, round(share * (CHART_WIDTH - 1))))

    marks = [" "] * CHART_WIDTH
    for place in range(column(night.low_c), column(night.high_c) + 1):
        marks[place] = "-"
    if lowest <= 0 <= highest:
        marks[column(0.0)] = ":"
    marks[column(night.likely_c)] = "o"
    return "".join(marks)


def _kind(night: NightWeather, units: Units) -> list[str]:
    words = []
    if night.cloud_percent is None:
        words.append(say("cloud unknown"))
    elif night.cloud_percent < CLEAR_BELOW_PERCENT:
        words.append(say("clear"))
    elif night.cloud_percent >= OVERCAST_FROM_PERCENT:
        words.append(say("overcast"))
    if night.wind_m_s is None:
        words.append(say("wind unknown"))
    elif night.wind_m_s < CALM_BELOW_M_S:
        words.append(say("calm"))
    elif night.wind_m_s >= WINDY_FROM_M_S:
        words.append(say("windy"))
    if night.precipitation_mm is not None and night.precipitation_mm >= 0.5:
        words.append(_wet(night.precipitation_mm, units))
    if not night.complete:
        words.append(say("has gaps"))
    return words


def _wet(amount_mm: float, units: Units) -> str:
    if units is Units.IMPERIAL:
        return say("{amount} in wet", amount=decimal(amount_mm / 25.4, 2))
    return say("{amount} mm wet", amount=decimal(amount_mm, 0))


def _lacking(columns: Sequence[str]) -> list[str]:
    if not columns:
        return []
    names = list(dict.fromkeys(quantity(column) for column in columns))
    return paragraph(say("Not given here, so reckoned or bounded: {quantities}.", quantities=all_of(names)))


def render_sources(
    sources: Iterable[Source], site: Site, *, now: datetime, kept_bytes: int, archived: KeptSize
) -> str:
    """Each service: whether it is asked, how old its last answer is, its credit, and what it lacks.

    Parameters
    ----------
    sources : iterable of Source
        From `weather.sources.sources_for`.
    site : Site
        Name and clock.
    now : datetime
        Aware.
    kept_bytes : int
        What the last answers take on disk.
    archived : KeptSize
        All answers of the last months in the logbook.
    """
    clock = Clock(site.time_zone, now)
    blocks = [paragraph(say("Weather services for {site}", site=site.name))]
    blocks += [_source_block(source, clock, now) for source in sources]
    blocks.append(paragraph(_sizes(kept_bytes, archived)))
    return page(blocks)


def _sizes(kept_bytes: int, archived: KeptSize) -> str:
    last = say("The last answers take {size} kB on disk.", size=_kilobytes(kept_bytes))
    all_kept = say_count(
        "The logbook keeps {count} answer of the last 90 days to learn from, {size} kB.",
        "The logbook keeps {count} answers of the last 90 days to learn from, {size} kB.",
        archived.count,
        size=_kilobytes(archived.bytes_on_disk),
    )
    return f"{last} {all_kept}"


def _kilobytes(size: int) -> str:
    return decimal(float(ceil(size / 1000)), 0)


def _source_block(source: Source, clock: Clock, now: datetime) -> list[str]:
    service = source.service
    name = service_name(service.code)
    heading = name if source.place is None else f"{source.place}. {name}"
    lacks = list(dict.fromkeys(quantity(column) for column in service.lacks))
    lacking = list(dict.fromkeys(quantity(column) for column in source.lacking))
    lines = [
        _state(source, clock),
        _last_answer(source, now),
        say("Never gives: {quantities}.", quantities=all_of(lacks)) if lacks else "",
        say("Not in its last answer for here: {quantities}.", quantities=all_of(lacking)) if lacking else "",
        say("Credit: {credit} ({home})", credit=service.credit, home=service.home),
    ]
    return section(heading, [line for line in lines if line])


def _state(source: Source, clock: Clock) -> str:
    match source.state:
        case SourceState.ASKED if source.place == 1:
            return say("Asked first.")
        case SourceState.ASKED:
            return say("Asked where those before it do not answer, or for a second opinion.")
        case SourceState.NO_CONTACT:
            return say("Not asked: it wants to know who calls. Write a contact into your settings.")
        case SourceState.NOT_HERE:
            return say("Not asked: it does not cover this place.")
        case SourceState.RESTING:
            until = clock.at(source.rests_until) if source.rests_until is not None else ""
            return say("Has refused; not asked again before {time}.", time=until)
        case SourceState.NOT_WANTED:
            return say("Not asked: your settings do not name it.")


def _last_answer(source: Source, now: datetime) -> str:
    if source.kept_unreadable:
        return say("Its kept answer is damaged and not used.")
    if source.fetched is None:
        return ""
    hours = max(now - source.fetched, timedelta(0)) / timedelta(hours=1)
    if hours < 1:
        return say("Last answer: less than an hour ago.")
    return say_count("Last answer: {count} hour ago.", "Last answer: {count} hours ago.", floor(hours))
