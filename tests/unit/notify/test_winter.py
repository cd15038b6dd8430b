"""A whole invented winter, looked at four times a day: how often does it ring?

Plans are made by a plain rule from the night's coldest air (what is tender is carried in once, what blooms is
covered for the night), so that the messages are what is tested. The weather is invented, with a fixed seed.
"""

from __future__ import annotations

import math
import random
from collections import Counter
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from functools import cache

import plans
import pytest
from plans import ZONE

from frostguard.advice.plan import AdvicePlan, Batch, ColdSpell, Job, Loss, NightOutlook, Protection
from frostguard.hardiness.model import Tissue
from frostguard.notify.brief import JobBrief, PlanBrief, brief_of
from frostguard.notify.days import Day
from frostguard.notify.moment import InForce, Look, Moment
from frostguard.notify.notice import Notice, NoticeKind
from frostguard.notify.owed import owed, tells_the_plan
from tests.unit.notify.moments import garden, moment

FIRST, LAST = date(2026, 10, 1), date(2027, 4, 30)
LOOKS = (
    (Look.MORNING, time(6, 45)),
    (Look.SUNRISE, time(8, 30)),
    (Look.LAST, time(14, 30)),
    (Look.EVENING, time(18, 15)),
)
HARD_FROST_C = -5.0
NAMES = ("lemon", "fuchsia", "camellia", "bay")


@dataclass
class Winter:
    """An invented winter: a yearly wave, spells of some days, and forecasts that waver round what comes."""

    seed: int
    truth: dict[date, tuple[float, float]] = field(default_factory=dict)  # coldest of the night, warmest of the day

    def __post_init__(self) -> None:
        dice = random.Random(self.seed)
        spell = 0.0
        for number in range((LAST - FIRST).days + 90):  # five hundred stops reach into July
            today = FIRST + timedelta(days=number)
            spell = 0.8 * spell + dice.gauss(0.0, 1.9)
            year = math.cos(2 * math.pi * (number - 105) / 365.0)  # coldest in mid-January
            mean = 8.0 - 7.5 * year + spell
            span = 3.5 + dice.random() * 2.5
            self.truth[today] = (mean - span, mean + span)

    def forecast(self, made: datetime) -> list[tuple[date, float, float]]:
        """Coldest and warmest of the coming week; off by up to some kelvin, the more the further ahead."""
        dice = random.Random(f"{self.seed} {made.isoformat()}")
        nights = []
        for ahead in range(7):
            evening = made.date() + timedelta(days=ahead)
            off = dice.gauss(0.0, 0.7 + 0.35 * ahead)
            coldest, warmest = self.truth[evening + timedelta(days=1)][0], self.truth[evening][1]
            nights.append((evening, coldest + off, warmest + off))
        return nights


def plan_of(nights: list[tuple[date, float, float]], asked: datetime, in_force: set[str]) -> AdvicePlan:
    """What a planner would ask for: the lemon in at 0 degC for good, the fuchsia covered for a night, roots at -5."""
    evening, coldest, _ = nights[0]
    due = datetime.combine(evening, time(15, 30), tzinfo=ZONE)
    jobs: list[Job] = []

    def job(pot: str, protection: Protection, limit_c: float, worth: float, **changes: object) -> None:
        chance = 1.0 / (1.0 + math.exp((coldest - limit_c) / 0.8))
        if chance >= 0.1 and pot not in in_force:
            loss = Loss(Tissue.LEAF, chance, worth * chance)
            jobs.append(plans.job(pot, protection, start_by=due, loss_otherwise=loss, **changes))

    job("lemon", Protection.MOVE, 0.5, 60.0, to_spot="wash room")
    job("fuchsia", Protection.FLEECE, -2.0, 6.0, undo_after=due + timedelta(hours=18))
    job("camellia", Protection.FLEECE, -6.0, 40.0, undo_after=due + timedelta(hours=18))
    begins = next((night for night, c, _ in nights if c <= -6.0), None)
    spell = None
    if begins is not None and "bay" not in in_force:
        spell = ColdSpell(begins, begins + timedelta(days=2), began=begins < evening, pots=3)
        wrap_by = datetime.combine(begins, time(15), tzinfo=ZONE)
        loss = Loss(Tissue.YOUNG_ROOT, 0.5, 8.0)
        jobs.append(plans.job("bay", Protection.WRAP, batch=Batch.BEFORE_SPELL, start_by=wrap_by, loss_otherwise=loss))
    outlook = tuple(
        NightOutlook(night, c, c - 2.0, False, int(c < -1.0), 3 * int(c < -6.0), True) for night, c, _ in nights
    )
    chances = {job.pot: job.loss_otherwise.chance for job in jobs}
    pots = tuple(plans.pot(name, plans.tissue(chance=chances.get(name, 0.001))) for name in NAMES)
    # with its job done a pot is safe
    pots = tuple(replace(pot, with_plan=replace(pot.with_plan, chance_of_damage=0.001, tissues=())) for pot in pots)
    return plans.plan(asked_at=asked, night=evening, nights=outlook, jobs=tuple(jobs), pots=pots, spell=spell)


@dataclass
class Household:
    """A person who does what rings and nothing else, and a machine that keeps what was said."""

    said: dict[str, date] = field(default_factory=dict)
    pushes: list[datetime] = field(default_factory=list)
    sent: list[Notice] = field(default_factory=list)
    told: PlanBrief | None = None
    earlier: list[PlanBrief] = field(default_factory=list)
    in_force: dict[str, InForce] = field(default_factory=dict)
    to_do: list[JobBrief] = field(default_factory=list)
    at_dusk: dict[date, frozenset[str]] = field(default_factory=dict)  # pots that were protected

    def before(self, now: datetime) -> PlanBrief | None:
        """The newest plan that is six hours old."""
        return next((brief for brief in reversed(self.earlier) if now - brief.asked_at >= timedelta(hours=6)), None)

    def take(self, notice: Notice, now: datetime, plan: AdvicePlan) -> None:
        """Keep what was said; plan to do what rang."""
        self.sent.append(notice)
        self.said.update(dict.fromkeys(notice.tells, now.date()))
        if notice.interrupts:
            self.pushes.append(now)
            self.to_do += brief_of(plan).jobs
        if tells_the_plan(notice):
            self.told = brief_of(plan)
        if notice.kind in (NoticeKind.MUST_UNCOVER, NoticeKind.SAFE_TO_UNCOVER):
            self.in_force = {k: v for k, v in self.in_force.items() if v.protection is not Protection.FLEECE}

    def work(self, at: datetime) -> None:
        """In the afternoon everything that rang and is due is done."""
        for job in self.to_do:
            if job.start_by.date() <= at.date():
                self.in_force[job.pot] = InForce(job.pot, job.label, "front", job.protection, at)
        self.to_do = [job for job in self.to_do if job.start_by.date() > at.date()]
        self.at_dusk[at.date()] = frozenset(self.in_force)


@cache
def live_through(seed: int) -> Household:
    """The winter from October to April, four looks a day."""
    winter, home = Winter(seed), Household()
    today = FIRST
    while today <= LAST:
        for look, clock in LOOKS:
            now = datetime.combine(today, clock, tzinfo=ZONE)
            forecast = winter.forecast(now)
            if look is Look.EVENING:  # the evening plans the next day and night
                home.work(now.replace(hour=15, minute=30))
                forecast = forecast[1:]
            plan = plan_of(forecast, now, set(home.in_force))
            near = (day for day in winter.truth if abs((day - today).days) < 6)
            days = tuple(Day(day, *winter.truth[day], 5.0, False) for day in near)
            seen = Moment(
                now=now,
                look=look,
                garden=garden(),
                settings=moment().settings,
                plan=plan,
                days=days,
                told=home.told if home.told is not None and home.told.night == plan.night else None,
                before=home.before(now),
                said=home.said,
                pushes=tuple(home.pushes),
                in_force=tuple(home.in_force.values()),
            )
            notice = owed(seen)
            if notice is not None:
                home.take(notice, now, plan)
            home.earlier.append(brief_of(plan))
        today += timedelta(days=1)
    return home


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_winter_rings_seldom(seed: int):
    """At most one push an evening, at most three a week on average outside weeks of hard frost, and none twice."""
    home, winter = live_through(seed), Winter(seed)

    evenings = Counter(pushed.date() for pushed in home.pushes if pushed.time() >= time(18))
    assert max(evenings.values()) == 1
    weeks = Counter((pushed.date() - FIRST).days // 7 for pushed in home.pushes)
    mild_weeks = [
        week
        for week in range((LAST - FIRST).days // 7)
        if all(winter.truth[FIRST + timedelta(days=7 * week + n)][0] > HARD_FROST_C for n in range(8))
    ]
    assert len(mild_weeks) >= 10  # the invented winter is not one long hard frost
    assert sum(weeks[week] for week in mild_weeks) / len(mild_weeks) <= 3.0

    keys = [notice.key for notice in home.sent]
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_every_evening_says_something(seed: int):
    """From October to April no evening passes in silence, and no evening says two things."""
    home = live_through(seed)

    spoken = Counter(notice.made_at.date() for notice in home.sent if notice.made_at.time() >= time(18))
    assert set(spoken.values()) == {1}
    assert len(spoken) == (LAST - FIRST).days + 1


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_who_does_what_rings_and_nothing_else_loses_nothing_in_hard_frost(seed: int):
    """Silence for the sake of peace never costs a plant: by dusk before each night of hard frost all are protected."""
    home, winter = live_through(seed), Winter(seed)
    hard = [evening for evening in home.at_dusk if winter.truth[evening + timedelta(days=1)][0] < -7.0]

    assert hard
    for evening in hard:
        assert home.at_dusk[evening] == set(NAMES), evening
