"""What is told without a job: cannot see, was down, weekly letter, all is well; quiet hours and being away."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time, timedelta
from typing import Any

import plans
import pytest
from plans import NIGHT, at

from frostguard.advice.plan import NoJob, Protection
from frostguard.garden.notice_settings import Away, NoticeSettings
from frostguard.garden.settings import Settings
from frostguard.notify.brief import brief_of
from frostguard.notify.moment import InForce, Look, Unseen
from frostguard.notify.notice import NoticeKind
from frostguard.notify.owed import owed, tells_the_plan
from frostguard.weather.worst_case import SERVICE as WORST_CASE
from tests.unit.notify.moments import TODAY, day, moment, told

UNSEEN = Unseen("No service answered.", "Carry tender pots indoors before sunset.")


def stale(age_h: float) -> Any:
    """A mild plan by a forecast of that age."""
    base = plans.plan()
    return replace(base, weather=replace(base.weather, age_h=age_h, from_store=True))


def wishes(**changes: Any) -> Settings:
    """Settings with these wishes about notices."""
    return Settings(notices=NoticeSettings(**{"weekly_letter": None, **changes}))


# --- cannot see ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("plan", "words"),
    [
        (UNSEEN, "Cannot see tonight: no forecast"),
        (stale(24.0), "the forecast is old"),
        (plans.plan(nights=(plans.night(0, 8.0, complete=False),)), "the forecast has gaps"),
        (plans.plan(nights=()), "the forecast has gaps"),
    ],
)
def test_what_cannot_be_seen_rings_and_is_never_an_all_clear(plan: Any, words: str):
    """Silence is the worst failure: no forecast, an old one or one with gaps is told as that (warning practice:
    older than a day means blind)."""
    notice = told(plan=plan)

    assert notice.kind is NoticeKind.CANNOT_SEE
    assert notice.interrupts
    assert words in notice.subject
    assert "treat tender plants as if it froze" in " ".join(notice.text.split())
    assert "nothing to do" not in notice.text and "All is well" not in notice.text


def test_why_and_what_to_do_by_hand_stand_in_it():
    """The reason and the next step that the error gave, and what was told before."""
    notice = told(plan=UNSEEN, told=brief_of(plans.frosty_plan()))

    assert "No service answered. Carry tender pots indoors before sunset." in " ".join(notice.text.split())
    assert "Lemon: to the cellar." in notice.text


def a_guess(base: Any) -> Any:
    """The same plan, resting on no forecast at all."""
    return replace(base, weather=replace(base.weather, service=WORST_CASE, age_h=None))


GUESS = a_guess(plans.frosty_plan())


@pytest.mark.parametrize("plan", [GUESS, Unseen("Why.", "Do.", guess=GUESS)])
def test_a_guess_gives_jobs_and_is_told_as_a_guess(plan: Any):
    """Without a forecast tender plants are treated as for the worst that is likely at the date (warning practice: fall
    back to climatology and say so), in the short form too; the next look says what has become of them."""
    notice = told(plan=plan)

    assert notice.kind is NoticeKind.CANNOT_SEE and notice.interrupts
    text = " ".join(notice.text.split())
    assert "for the worst that is likely at this date, air down to about -3.2 °C" in text
    assert "slide or wheel to the cellar" in text
    assert "pots that it gives up go indoors, or under a roof and fleece, as well" in text
    assert [one.name for one in notice.attachments] == [f"jobs-{NIGHT.isoformat()}.ics"]
    assert "On a guess: " in notice.short
    assert b"On a guess" in notice.attachments[0].content.replace(b"\r\n ", b"")
    assert tells_the_plan(notice)


def test_a_guess_without_jobs_is_no_all_clear():
    """Nor is it the moment for anything of the season or for uncovering; nobody is woken by it."""
    notice = told(plan=a_guess(plans.plan()))

    assert notice.kind is NoticeKind.CANNOT_SEE and notice.tells == (f"cannot-see/{NIGHT.isoformat()}",)
    assert "asks for nothing" in notice.text and not notice.interrupts


@pytest.mark.parametrize(("days_ago", "kind", "rings"), [(0, NoticeKind.GO_AHEAD, False), (1, NoticeKind.JOBS, True)])
def test_after_a_guess_the_first_forecast_is_told(days_ago: int, kind: NoticeKind, rings: bool):
    """It rang for the guess already on that day; on the next it rings for what is known now."""
    said = dict.fromkeys(told(plan=GUESS).tells, TODAY - timedelta(days=days_ago))
    known = told(plan=plans.frosty_plan(), look=Look.MORNING, told=brief_of(GUESS), said=said)

    assert known.kind is kind and known.interrupts is rings


@pytest.mark.parametrize("age_h", [0.3, 12.0, 23.9])
def test_a_forecast_of_less_than_a_day_is_used_and_its_age_told(age_h: float):
    """Used with its age (warning practice: six to twenty-four hours)."""
    notice = told(plan=stale(age_h))

    assert notice.kind is NoticeKind.ALL_WELL
    assert "hour" in notice.text


def test_in_summer_a_missing_forecast_does_not_ring():
    """No frost, no alarm; it is told all the same."""
    notice = told(plan=UNSEEN, now=plans.ASKED.replace(month=7))

    assert notice.kind is NoticeKind.CANNOT_SEE and not notice.interrupts


def test_it_is_told_once_an_evening():
    """A service that is down for two days is two messages that ring, not eight."""
    said: dict[str, date] = {}
    rung = []
    for days in (0, 1):
        today = TODAY + timedelta(days=days)
        for look, hour in ((Look.MORNING, 7), (Look.SUNRISE, 8), (Look.LAST, 14), (Look.EVENING, 18)):
            if days or look is Look.EVENING:  # the outage begins on the first evening
                night = today + timedelta(days=look is Look.EVENING)
                unseen = replace(UNSEEN, night=night)
                notice = owed(moment(plan=unseen, look=look, now=at(hour, days=days), said=said))
                if notice is not None:
                    rung.append(notice.made_at)
                    said |= dict.fromkeys(notice.tells, today)

    assert rung == [at(18), at(18, days=1)]


def test_by_day_it_is_told_where_nothing_is_known_of_the_night():
    """A forecast that fails in the morning is news only if nothing was told for the night; the evening speaks again."""
    by_day = {"plan": UNSEEN, "look": Look.MORNING, "now": at(7)}

    first = told(**by_day)
    assert first.kind is NoticeKind.CANNOT_SEE
    assert owed(moment(**by_day, told=brief_of(plans.frosty_plan()))) is None
    assert owed(moment(**{**by_day, "look": Look.LAST, "now": at(14)}, said=dict.fromkeys(first.tells, TODAY))) is None
    assert told(plan=UNSEEN, said=dict.fromkeys(first.tells, TODAY)).kind is NoticeKind.CANNOT_SEE


def test_a_blind_morning_after_a_missed_evening_is_no_silence():
    """That the night before could not be seen was told; of tonight nothing was."""
    said = {f"cannot-see/{(TODAY - timedelta(days=1)).isoformat()}": TODAY - timedelta(days=2)}

    notice = told(plan=UNSEEN, look=Look.MORNING, now=at(7), said=said)

    assert notice.kind is NoticeKind.CANNOT_SEE and notice.interrupts


def test_the_night_that_cannot_be_seen_is_named():
    """An evening that plans for the next one says which night it means."""
    notice = told(plan=replace(UNSEEN, night=TODAY + timedelta(days=1)))

    assert notice.night == TODAY + timedelta(days=1)
    assert notice.subject == "Cannot see the night of Thu 3 Dec: no forecast. Look yourself."


# --- was down --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("coldest_c", "rings", "words"),
    [(-4.0, True, "Air came down to -4"), (8.0, False, "It was not cold meanwhile"), (None, True, "is not known")],
)
def test_was_down_tells_how_cold_it_was(coldest_c: float | None, rings: bool, words: str):
    """A dead machine says so once it lives; it rings only where plants are worth a look."""
    days = () if coldest_c is None else (day(-1, coldest_c, coldest_c + 6.0), day(-2, 9.0, 12.0))

    notice = told(down=(TODAY - timedelta(days=2), TODAY - timedelta(days=3)), days=days)

    assert notice.kind is NoticeKind.WAS_DOWN
    assert notice.interrupts is rings
    assert words in notice.text
    assert "Nothing was told of 2 nights" in notice.subject


# --- letters ---------------------------------------------------------------------------------------------


def test_all_is_well_is_told_every_evening_and_never_rings():
    """Whoever gets no message by seven looks himself; so a good evening is a message too, if it is wanted."""
    notice = told()

    assert notice.kind is NoticeKind.ALL_WELL and not notice.interrupts
    assert notice.subject == "All is well for the night of Wed 2 Dec: nothing to do."
    assert "perhaps 1.4 °C" in notice.text  # the low end beside the likely value
    assert owed(moment(settings=wishes(all_well=False))) is None
    for look in (Look.MORNING, Look.LAST, Look.SUNRISE):
        assert owed(moment(look=look)) is None


@pytest.mark.parametrize(
    "pot",
    [
        plans.pot("lemon", plans.tissue(chance=0.4)),
        plans.pot("lemon", plans.tissue(chance=0.02), no_job=NoJob.NO_TIME),
    ],
)
def test_never_all_well_while_a_pot_is_at_risk(pot: Any):
    """A pot that is at risk, or for which there is no job, stands in the way of an all-clear."""
    assert told(plan=plans.plan(pots=(pot,))).kind is not NoticeKind.ALL_WELL


def test_the_weekly_letter_comes_on_its_day_and_does_not_ring():
    """The week ahead, what is in place, what is open, and the standing rule."""
    cover = InForce("lemon", "Lemon", "house wall", Protection.WRAP, at(15, days=-9))
    weekly = {"settings": wishes(weekly_letter=NIGHT.weekday(), all_well=False), "in_force": (cover,)}

    notice = told(**weekly)

    assert notice.kind is NoticeKind.WEEKLY and not notice.interrupts
    lemon = "Lemon (by the house wall), since Mon 23 Nov"
    for words in ("Coming nights", "Thu 3 Dec: air about 1.2 °C", lemon, "19:00"):
        assert words in " ".join(notice.text.split()), words
    assert owed(moment(**{**weekly, "settings": wishes(weekly_letter=4, all_well=False)})) is None


def test_the_weekly_letter_goes_into_the_evening_s_one_message():
    """Two things to tell are one message."""
    notice = told(plan=plans.frosty_plan(), settings=wishes(weekly_letter=NIGHT.weekday()))

    assert notice.kind is NoticeKind.JOBS
    assert "Coming nights" in notice.text


# --- quiet hours -----------------------------------------------------------------------------------------


def night_plan(*, irreplaceable: bool, due_days: int = 0) -> Any:
    """A plan asked at half past ten, its job due in the morning or the next afternoon."""
    frosty = plans.frosty_plan()
    due = at(7, 30, days=1) if due_days == 0 else at(15, days=1)
    job = replace(frosty.jobs[0], start_by=due, irreplaceable=irreplaceable)
    return replace(frosty, jobs=(job,), asked_at=at(22, 30))


@pytest.mark.parametrize(
    ("plan", "waits"),
    [
        (night_plan(irreplaceable=False), True),
        (night_plan(irreplaceable=True), False),
        (night_plan(irreplaceable=True, due_days=1), True),
    ],
)
def test_quiet_hours_are_kept_but_for_an_irreplaceable_plant(plan: Any, waits: bool):
    """From ten to seven nothing goes out, unless what cannot be replaced would be too late (common practice)."""
    notice = told(plan=plan, now=at(22, 30))

    assert notice.not_before == (at(7, days=1) if waits else None)


def test_quiet_hours_can_be_set_or_left_out():
    """By day, over midnight, or none."""
    plan = night_plan(irreplaceable=False)
    for hours, waits_until in (
        ((None, None), None),
        ((time(22), time(6)), at(6, days=1)),
        ((time(21), time(22, 30)), None),
        ((time(22), time(23)), at(23)),
    ):
        quiet = wishes(quiet_from=hours[0], quiet_to=hours[1])
        assert told(plan=plan, now=at(22, 30), settings=quiet).not_before == waits_until
    early = told(plan=replace(plan, asked_at=at(5)), now=at(5))
    assert early.not_before == at(7)


# --- away ------------------------------------------------------------------------------------------------


def test_a_stand_in_gets_the_messages_while_one_is_away():
    """From the first to the last day, both included, and with a word on what not to do."""
    away = Away(date(2026, 12, 1), date(2026, 12, 2), "neighbour@example.org")

    notice = told(plan=plans.frosty_plan(), settings=wishes(away=(away,)))
    assert notice.stand_in == "neighbour@example.org"
    assert notice.text.startswith("Whoever looks after these plants until Wed 2 Dec gets this too.")
    assert "Whoever looks after" in notice.html

    tomorrow = replace(plans.frosty_plan(), asked_at=at(14, days=1))
    back = told(plan=tomorrow, now=at(14, days=1), settings=wishes(away=(away,)))
    assert back.stand_in is None
