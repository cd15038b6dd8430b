"""One round of asking weather services: what is kept, what is asked anew, and what went wrong on the way."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext, suppress
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from frostguard.errors import ForecastFormatError, FrostguardError, WeatherUnavailable
from frostguard.garden.model import Site
from frostguard.garden.settings import Settings
from frostguard.weather.client import ServiceRefused, WeatherClient
from frostguard.weather.gates import Note
from frostguard.weather.manners import BY_HAND
from frostguard.weather.raw_answer import RawAnswer
from frostguard.weather.series import WeatherSeries, with_notes
from frostguard.weather.services import SERVICES, Request, Service
from frostguard.weather.store import ForecastStore, StoredAnswer, UnreadableStoreError
from frostguard.weather.suspicion import looks_like_sea, repeats, staleness

FRESH = timedelta(hours=1)
"""An answer younger than this is used again: models are not run more often."""

FROZEN_AFTER = timedelta(hours=20)
"""A forecast that repeats itself for longer is no new one: every model is run at least twice a day."""

BUDGET_S = 90.0
"""Time for all services together [s]; then a person at the terminal wants to hear something (estimate)."""

KEPT_FOR_NEXT_S = 15.0
"""Of that, what each service leaves for every one behind it [s]."""

TRIES_AFTER_ONE_IN_VAIN = 2

NOTABLE_HEIGHT_DIFFERENCE_M = 50.0
"""Between the site's height and the one the service worked with: 0.3 K by the lapse of 6.5 K/km."""


@dataclass(slots=True)
class Round:
    """One round: what is kept, what was noted, which services answered anew, and the time left.

    Without a store nothing is kept, as for a single question.
    """

    site: Site
    settings: Settings
    client: WeatherClient
    store: ForecastStore | None
    now: datetime
    asking: Callable[[str], None] | None = None  # told the name of each service as it is asked
    notes: list[str] = field(default_factory=list)
    problems: list[FrostguardError] = field(default_factory=list)
    asked: set[str] = field(default_factory=set)  # services that answered anew in this round
    in_vain: set[str] = field(default_factory=set)  # services that were of no use in it
    kept: dict[str, StoredAnswer | None] = field(default_factory=dict)
    ends_s: float = 0.0

    def __post_init__(self) -> None:
        self.ends_s = self.client.monotonic() + BUDGET_S

    def note(self, code: str) -> None:
        """Add a note, once."""
        if code not in self.notes:
            self.notes.append(code)

    @property
    def _place(self) -> tuple[float, float]:
        return self.site.latitude_deg, self.site.longitude_deg

    def stored(self, code: str) -> StoredAnswer | None:
        """The kept answer of a service; a damaged one is noted, and that or none is the archive's youngest."""
        if code not in self.kept:
            found = None
            if self.store is not None:
                damaged = False
                try:
                    found = self.store.read(code, *self._place)
                except UnreadableStoreError:
                    damaged = True
                    self.note(Note.STORE_UNREADABLE.of())
                if found is None and code in SERVICES:  # a cell that was forgotten stays so
                    found = self.store.archived(code, *self._place)
                if damaged and found is not None:  # or it would be noted again until the next fetch
                    self.keep(code, found.answer, found.same_since)
            self.kept[code] = found
        return self.kept[code]

    def answer_of(self, service: Service, *, behind: int) -> WeatherSeries | None:
        """The service's series, kept or fetched; None, with the problem put down, if it has none to give."""
        kept = self.reusable(service)
        if kept is not None:
            return kept
        try:
            left_s = self.ends_s - self.client.monotonic() - KEPT_FOR_NEXT_S * behind
            # where one service was in vain the network itself may be gone: less patience with the others
            tries = TRIES_AFTER_ONE_IN_VAIN if self.problems else None
            return self.fetched(service, tries=tries, total_s=left_s)
        except (WeatherUnavailable, ForecastFormatError) as exc:
            self.problems.append(exc)
            self.in_vain.add(service.code)
            return None

    def reusable(self, service: Service) -> WeatherSeries | None:
        """The kept answer as a series, if it is to the very same question and fresh."""
        stored = self.stored(service.code)
        if stored is None or not _is_fresh(stored.answer, self.now) or self._frozen(stored.same_since):
            return None
        cell = self.known_cell(service)
        if cell is None:
            return None
        request = service.request(self.site, self.settings, self.now, cell)
        if not _same_question(stored.answer, request):
            return None
        with suppress(ForecastFormatError):
            series = self.with_height_checked(_parse(service, stored.answer))
            if staleness(series, self.now) is None:
                return series
        return None

    def known_cell(self, service: Service) -> str | None:
        """The cell of the place, empty for a service without cells; None if it must be asked for."""
        if service.locate is None:
            return ""
        stored = self.stored(f"{service.code}-cell")
        if stored is None or self.now - stored.answer.fetched > service.locate.kept:
            return None
        with suppress(ForecastFormatError):
            return service.locate.parse(stored.answer.body)
        return None

    def asked_cell(self, service: Service, tries: int | None, total_s: float | None) -> str:
        """The cell of the place, asked for where it is not known."""
        known, locate = self.known_cell(service), service.locate
        if known is not None or locate is None:
            return known or ""
        raw, cell = self.client.ask(
            locate.url(self.site), {}, lambda answer: locate.parse(answer.body), tries=tries, total_s=total_s
        )
        self.keep(f"{service.code}-cell", raw, None)
        return cell

    def fetched(self, service: Service, *, tries: int | None, total_s: float) -> WeatherSeries:
        """The service's series, asked now and kept; what is stale or repeats itself is a problem."""
        rests_until = None if self.store is None else self.store.rests_until(service.code, *self._place)
        if rests_until is not None and rests_until > self.now:
            raise WeatherUnavailable(
                f"{service.name} has refused and is not asked again before "
                f"{rests_until:%Y-%m-%d %H:%M} UTC.",
                next_step=BY_HAND,
            )
        if total_s <= 0.0:
            raise WeatherUnavailable(f"No time was left to ask {service.name}.", next_step=BY_HAND)
        if self.asking is not None:
            self.asking(service.name)
        ends_s = self.client.monotonic() + total_s
        with self._turn(total_s / 2.0) as waited:
            if waited:  # for another process, which may have asked the very same
                self.kept.pop(service.code, None)
                kept = self.reusable(service)
                if kept is not None:
                    return kept
            return self._fetched_in_turn(service, tries, max(ends_s - self.client.monotonic(), 1.0))

    def _turn(self, wait_s: float) -> AbstractContextManager[bool]:
        if self.store is None:
            return nullcontext(False)
        return self.store.turn(wait_s=wait_s, sleep=self.client.sleep, monotonic=self.client.monotonic)

    def _fetched_in_turn(self, service: Service, tries: int | None, total_s: float) -> WeatherSeries:
        stored = self.stored(service.code)
        try:
            raw, series = self.fetch(service, stored, tries, total_s)
        except ServiceRefused as exc:
            self._let_rest(service, exc)
            raise
        same_since = self._same_since(service, stored, series)
        self.keep(service.code, raw, same_since)
        if same_since is not None and self._frozen(same_since):
            hours = round((self.now - same_since) / timedelta(hours=1))
            self.note(Note.FROZEN.of(service.code, hours))
            raise WeatherUnavailable(
                f"{service.name} has repeated the same forecast for {hours} hours.", next_step=BY_HAND
            )
        self.asked.add(service.code)
        return series

    def fetch(
        self, service: Service, stored: StoredAnswer | None, tries: int | None, total_s: float | None
    ) -> tuple[RawAnswer, WeatherSeries]:
        """The service's answer, raw and read; an old run in new clothes is a problem."""
        deadline_s = None if total_s is None else self.client.monotonic() + total_s
        cell = self.asked_cell(service, tries, total_s)
        request = service.request(self.site, self.settings, self.now, cell)
        if deadline_s is not None:
            total_s = max(deadline_s - self.client.monotonic(), 1.0)
        same = stored is not None and _same_question(stored.answer, request)
        raw, series = self.client.ask(
            request.url,
            request.query,
            lambda answer: _parse(service, answer),
            known=stored.answer if same and stored is not None else None,
            tries=tries,
            total_s=total_s,
        )
        issued = series.provenance.issued
        left_lying = issued is not None and self.now - issued > service.stale_after
        if left_lying or staleness(series, self.now) is not None:
            raise WeatherUnavailable(
                f"{service.name} answered with an old forecast that does not reach through the coming night."
                if not left_lying
                else f"{service.name} answered with a forecast of {issued:%Y-%m-%d %H:%M} UTC, too old to use.",
                next_step=BY_HAND,
            )
        return raw, self.with_height_checked(series)

    def _let_rest(self, service: Service, refused: ServiceRefused) -> None:
        """Leave a service alone that has refused in a way that will not pass soon, or said for how long."""
        told = timedelta(seconds=refused.again_after_s or 0.0)
        pause = max(service.rest_after.get(refused.status, told), told)
        if pause and self.store is not None:
            with suppress(OSError):
                self.store.rest(service.code, self.now + pause, *self._place)
        if service.locate is not None and refused.status == 404 and self.store is not None:
            with suppress(OSError):  # the cells may have been laid anew
                self.store.forget(f"{service.code}-cell", *self._place)

    def _frozen(self, same_since: datetime | None) -> bool:
        """Whether a forecast has been the same for too long to be a new one."""
        return same_since is not None and self.now - same_since > FROZEN_AFTER

    def _same_since(
        self, service: Service, stored: StoredAnswer | None, series: WeatherSeries
    ) -> datetime | None:
        """Since when the service has given the forecast that it gives now."""
        if stored is None:
            return None
        with suppress(ForecastFormatError):
            if repeats(series, _parse(service, stored.answer), self.now):
                return stored.same_since or stored.answer.fetched
        return None

    def keep(self, code: str, raw: RawAnswer, same_since: datetime | None) -> None:
        """Keep an answer for later; a disk that does not take it is noted."""
        if self.store is None:
            return
        stored = StoredAnswer(code, raw, same_since)
        try:
            self.store.write(stored, *self._place)
        except OSError:
            self.note(Note.STORE_NOT_WRITTEN.of())

    def kept_series(self, service: Service) -> WeatherSeries | None:
        """The kept answer of a service as a series, however old; None if there is none to read."""
        stored = self.stored(service.code)
        if stored is None:
            return None
        with suppress(ForecastFormatError):
            return _parse(service, stored.answer)
        return None

    def with_height_checked(self, series: WeatherSeries) -> WeatherSeries:
        """The series, noted where its service worked with quite another height than the site's."""
        height_m = series.provenance.elevation_m
        if height_m is None or abs(height_m - self.site.elevation_m) <= NOTABLE_HEIGHT_DIFFERENCE_M:
            return series
        return with_notes(series, Note.OWN_HEIGHT_DIFFERS.of(round(height_m - self.site.elevation_m)))


def _parse(service: Service, raw: RawAnswer) -> WeatherSeries:
    series = service.parse(raw.body, f"The answer of {service.name}", fetched=raw.fetched)
    model = _asked_model(raw.url)
    if model is not None:
        series = replace(series, provenance=replace(series.provenance, model=model))
    if looks_like_sea(series):
        series = with_notes(series, Note.SEA_CELL.of())
    if raw.status == 203:
        series = with_notes(series, Note.SERVICE_DEPRECATED.of(service.code))
    return series


def _asked_model(url: str) -> str | None:
    """The model that was asked for by name; the answer does not repeat it."""
    from urllib.parse import parse_qs, urlsplit

    try:
        return parse_qs(urlsplit(url).query).get("models", [None])[0]
    except ValueError:
        return None


def _is_fresh(answer: RawAnswer, now: datetime) -> bool:
    """Whether an answer may be used again: younger than an hour, or called good by its service."""
    age = now - (answer.confirmed or answer.fetched)
    good_until = answer.good_until
    return age >= timedelta(0) and (age < FRESH or (good_until is not None and now < good_until))


def _same_question(answer: RawAnswer, request: Request) -> bool:
    """Whether an answer is to the very question that would be asked now."""
    from urllib.parse import parse_qsl, urlsplit

    try:
        parts = urlsplit(answer.url)
        asked = dict(parse_qsl(parts.query))
    except ValueError:
        return False
    return f"{parts.scheme}://{parts.netloc}{parts.path}" == request.url and asked == dict(request.query)
