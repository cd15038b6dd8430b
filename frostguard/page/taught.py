"""What thermometers have taught: what is in force, learning anew with how good it is, and taking it back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import TYPE_CHECKING, ClassVar

from starlette.requests import Request
from starlette.responses import Response

from frostguard import places
from frostguard.errors import TuningFailed
from frostguard.garden.model import Garden
from frostguard.garden.reader import load_garden
from frostguard.garden.settings import Units
from frostguard.logbook.book import open_logbook
from frostguard.logbook.measured import TunedValue
from frostguard.page.frame import Part, answer, button, form, table
from frostguard.page.site import Site, to, troubled
from frostguard.page.work import Task, Trouble
from frostguard.report import measures
from frostguard.report.html.fit import NightRead, nights_kept_back_picture
from frostguard.report.html.markup import Child, list_of, node
from frostguard.report.readings import clock_sentence, finding_sentence, parameter_told, why_refused
from frostguard.report.words import all_of, decimal, say, say_count
from frostguard.weather.store import ForecastStore

if TYPE_CHECKING:
    from frostguard.tuning.fit import Fitted
    from frostguard.tuning.session import Session
    from frostguard.tuning.tune import PotCheck

@dataclass(frozen=True, slots=True)
class FitTold:
    """What came of one pot: nights, each third kept back in turn, errors before and after [K], why it is refused."""

    pot: str
    nights: int
    before_k: float
    after_k: float
    refused: str | None
    kept_back: tuple[NightRead, ...]
    likeness: tuple[str, ...]  # what the readings cannot tell apart


@dataclass(frozen=True, slots=True)
class AirTold:
    """What the air of so many nights told: by how much they are warmer than foretold [K]."""

    nights: int
    clear_calm_k: float
    other_k: float


@dataclass(frozen=True, slots=True)
class Learnt:
    """All that one learning found out, in sentences where no more is needed."""

    remarks: tuple[str, ...]
    fits: tuple[FitTold, ...]
    kept: int  # values put into force
    air: AirTold | None = None


@dataclass(frozen=True, slots=True)
class Lesson:
    """The order to learn from all readings, and to put into force what helps."""

    longest_s: ClassVar[float] = 3600.0  # some minutes a pot on a small machine

    task: Task

    def __call__(self, now: datetime) -> Learnt:
        """Learn."""
        from frostguard.tuning.learning import LEARNT_FROM, Sources, learn_and_keep

        garden = load_garden(self.task.garden)
        sources = Sources(self.task.weather, self.task.wishes(), ForecastStore(places.weather_store()))
        pots = [pot.id for pot in garden.pots]
        with open_logbook(self.task.logbook) as book:
            lesson = learn_and_keep(book, garden, sources, pots, since=now - LEARNT_FROM, now=now)
        return _learnt(lesson.session, lesson.remarks, lesson.stored)


def _learnt(session: Session, remarks: Sequence[str], kept: int) -> Learnt:
    """What a session found out, as it can be shown and sent to another process."""
    told = [
        *remarks,
        *(
            say("{series}: {finding}", series=one.series, finding=finding_sentence(finding))
            for one in session.heard
            for finding in one.findings
        ),
        *(failure.message for failure in session.failures),
        *(clock_sentence(*one) for one in ({} if session.fit is None else session.fit.clocks_ahead_h).items()),
    ]
    if not session.heard:
        told.append(say("No reading lies within the weather that is known, so nothing could be compared."))
    habits = session.habits
    air = None if habits is None else AirTold(session.air_nights, habits.clear_calm_bias_k, habits.bias_k)
    fit = session.fit
    fits = () if fit is None else tuple(_fit_told(check, fit.fitted) for check in fit.pots)
    return Learnt(tuple(told), fits, kept, air)


def _fit_told(fit: PotCheck, fitted: Fitted) -> FitTold:
    names = [_name(one.subject, one.name) for one in fitted.parameters]
    own = [one.subject == f"pot/{fit.pot}" for one in fitted.parameters]
    return FitTold(
        pot=fit.pot,
        nights=fit.n_nights,
        before_k=fit.rmse_k(after=False),
        after_k=fit.rmse_k(after=True),
        refused=None if fit.helps else why_refused(fit),
        kept_back=tuple(
            NightRead(one.night, one.read_c, one.before_c, one.after_c, one.low_c, one.high_c)
            for one in fit.held_back[-14:]
        ),
        likeness=tuple(
            say("The readings cannot tell these apart: {one}; {other}.", one=names[a], other=names[b])
            for a, b in fitted.inseparable()
            if own[a] or own[b]
        ),
    )


def taught(site: Site, request: Request) -> Response:
    """What is in force."""
    garden = load_garden(site.path)
    with site.book() as opened:
        values = opened.tuned()
    body: list[Child] = [
        node("p", say("What your thermometers told of this terrace, over what the garden file and the tables say. "
                      "Advice uses it as soon as it is learnt.")),
        *_in_force(values, garden, site.settings().units),
        form(request, "/taught/learn", button(say("Learn from all readings"), class_="main")),
        form(request, "/taught/undo", button(say("Take back what was learnt last"))) if values else None,
        node("p", node("a", say("Back to the readings"), href="/readings", class_="step quiet")),
    ]  # fmt: skip
    return answer(say("What was learnt"), body, Part.READINGS)


def learn_now(site: Site, _request: Request) -> Response:
    """Learn from all readings."""
    title = say("Learning from the readings")
    garden, units = load_garden(site.path), site.settings().units

    def told(_again: Request, found: Learnt | Trouble) -> Response:
        if isinstance(found, Trouble):
            return troubled(title, found, Part.READINGS)
        return answer(say("What came of it"), learnt_body(found, garden, units), Part.READINGS)

    return site.begun(title, "/readings", Lesson(site.planner.task), told)


def undo(site: Site, _request: Request) -> Response:
    """Put what was in force before the last learning into force again."""
    from frostguard.tuning.learning import undo_last

    try:
        with site.book() as opened:
            undo_last(opened, site.now())
    except TuningFailed as error:
        return troubled(say("What was learnt"), Trouble(error.message, error.next_step), Part.READINGS)
    return to("/taught")


def _in_force(values: Sequence[TunedValue], garden: Garden, units: Units) -> list[Child]:
    """A table for each pot, spot, and the place."""
    if not values:
        return [node("p", say("Nothing yet: everything is as the garden file and the tables say."), class_="headline")]
    labels = {f"pot/{pot.id}": pot.label for pot in garden.pots} | {"site": say("The place")}
    labels |= {f"spot/{spot.name}": spot.label for spot in garden.spots}
    heads = (say("What"), say("Learnt"))
    parts: list[Child] = []
    for subject, group in groupby(sorted(values, key=lambda one: one.subject), key=lambda one: one.subject):
        own = list(group)
        notes = list(dict.fromkeys(one.note for one in own if one.note))
        rows = [(parameter_told(one.name), _amount(one, units)) for one in own]
        parts += [
            node("h2", labels.get(subject, subject)),
            node("p", say("From {nights}.", nights=all_of(notes)), class_="soft") if notes else None,
            table(heads, rows, class_="free"),
        ]
    return parts


def _amount(one: TunedValue, units: Units) -> str:
    if one.name.endswith("_k"):
        return say("{value} ± {spread}", value=measures.temperature_change(one.value, units),
                   spread=measures.difference(one.spread, units))  # fmt: skip
    return say("{value} ± {spread}", value=decimal(one.value, 2), spread=decimal(one.spread, 2))


def _name(subject: str, name: str) -> str:
    return f"{subject.partition('/')[2] or subject}, {parameter_told(name)}"


def learnt_body(learnt: Learnt, garden: Garden, units: Units) -> list[Child]:
    """What came of a learning."""
    kept = say_count("1 value is in force from now on.", "{count} values are in force from now on.", learnt.kept)
    labels = {pot.id: pot.label for pot in garden.pots}
    air = None
    if learnt.air is not None:
        air = say_count(
            "Air of 1 night: clear calm nights are {calm} against what was foretold, others {other}.",
            "Air of {count} nights: clear calm nights are {calm} against what was foretold, others {other}.",
            learnt.air.nights,
            calm=measures.temperature_change(learnt.air.clear_calm_k, units),
            other=measures.temperature_change(learnt.air.other_k, units),
        )
    parts: list[Child] = [
        node("p", kept if learnt.kept else say("Nothing was kept."), class_="headline"),
        node("p", air) if air else None,
        list_of(learnt.remarks),
    ]
    for fit in learnt.fits:
        parts += _fit(fit, labels.get(fit.pot, fit.pot), units)
    parts.append(node("p", node("a", say("What is in force"), href="/taught", class_="step")))
    return parts


def _fit(fit: FitTold, label: str, units: Units) -> list[Child]:
    values = {
        "nights": fit.nights,
        "before": measures.difference(fit.before_k, units),
        "after": measures.difference(fit.after_k, units),
    }
    told = say("{nights} nights, each third kept back in turn: the error goes from {before} to {after}.",
               **values)  # fmt: skip
    verdict = fit.refused or say("So it is used.")
    rows = [
        (measures.day_and_date(one.night), measures.measured_number(one.read_c, units),
         measures.measured_number(one.before_c, units), measures.measured_number(one.after_c, units))
        for one in fit.kept_back
    ]  # fmt: skip
    heads = (say("Night of"), say("Read"), say("Told before"), say("Told now"))
    title = say("{pot}: nights kept back, read and told", pot=label)
    reading = say("A dot is what was read, a bar what is told now in nine cases of ten, a ring its middle.")
    return [
        node("h2", label),
        node("p", told, " ", verdict),
        node("figure", nights_kept_back_picture(fit.kept_back, units, title), node("figcaption", reading)),
        node("details", node("summary", say("In figures")), table(heads, rows)),
        list_of(fit.likeness),
    ]
