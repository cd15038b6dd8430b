"""One look and what it leaves: said once, owed before sent, never silent."""

from __future__ import annotations

import re
import sqlite3
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from frostguard.errors import WeatherUnavailable
from frostguard.garden.settings import Settings
from frostguard.logbook import jobs, nights, outbox
from frostguard.logbook.jobs import JobState, Word
from frostguard.logbook.nights import Outcome
from frostguard.logbook.outbox import State
from frostguard.notify.delivery import plain_notice
from frostguard.notify.moment import Look
from frostguard.notify.notice import NoticeKind
from frostguard.watch.settings_in_use import settings_in_use
from tests.unit.watch.station import GARDEN, ZONE, Ear, Station, on


@pytest.fixture
def station(tmp_path: Path) -> Station:
    """A check whose nights are all at -8 degC."""
    return Station(tmp_path, coldest_c=-8.0)


def outcomes(station: Station) -> dict[date, Outcome]:
    """What the nights came to."""
    with station.book() as book:
        return nights.outcomes(book, date(2026, 1, 1))


def test_the_evening_tells_the_next_day_and_night(station: Station) -> None:
    """At six in the evening the jobs of tomorrow's night go out, planned from tomorrow's sunrise on."""
    done = station.round(on(1, 18, 1))
    assert [(one.look, one.night.day) for one in done.looks] == [(Look.LAST, 1), (Look.EVENING, 2)]
    (heard,) = station.ears[0].heard  # tonight's jobs and tomorrow's ring once
    assert heard.key == "jobs/2026-12-01" and {"jobs/2026-12-01", "jobs/2026-12-02"} <= set(heard.tells)
    assert "night of Tue 1 Dec" in heard.text and "night of Wed 2 Dec" in heard.text
    assert "night of Tue 1 Dec" in heard.short and "night of Wed 2 Dec" in heard.short and len(heard.short) <= 160
    assert heard.html.count("</body>") == 1 and heard.html.count("<h1>") == 2
    assert [one.name for one in heard.attachments] == ["jobs-2026-12-01.ics", "jobs-2026-12-02.ics"]
    assert station.planned[1].date() == date(2026, 12, 2)
    assert 7 <= station.planned[1].hour < 8
    assert outcomes(station)[date(2026, 12, 2)] is Outcome.PLAN_SENT


def test_a_message_names_jobs_by_the_numbers_that_sign_them_off(station: Station) -> None:
    """The number beside a job in the message is that of the list, and signs off that pot's job."""
    station.round(on(1, 18))
    (heard,) = station.ears[0].heard
    with station.book() as book:
        listed = [job for job in jobs.listed(book, date(2026, 12, 1)) if job.state is JobState.OPEN]
    assert listed
    for job in listed:
        named = [line for line in heard.text.replace("\n  ", " ").splitlines() if job.label in line and "Job" in line]
        assert any(re.search(rf"\bJobs? [\d, and]*\b{job.number}\b", line) for line in named), (job, heard.text)


def test_what_was_done_is_not_done_again(station: Station) -> None:
    """A second process a minute later finds nothing to do and says nothing."""
    station.round(on(1, 18, 1))
    again = station.round(on(1, 18, 2))
    assert again.looks == () and again.sent == 0
    assert len(station.ears[0].heard) == 1


def test_a_look_that_is_stopped_as_it_ends_is_made_anew_and_not_taken_for_told(
    station: Station, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What a look leaves and that it ended are one: the next round tells the jobs, and not that they hold."""

    class Stop(BaseException):
        """As a kill, it asks nobody."""

    def stop(*_: object) -> None:
        raise Stop

    with monkeypatch.context() as patch:
        patch.setattr(nights, "end_run", stop)
        with pytest.raises(Stop):
            station.round(on(1, 18))
    assert station.ears[0].heard == []
    station.round(on(1, 18, 1))
    assert [notice.kind for notice in station.ears[0].heard] == [NoticeKind.JOBS]


def test_the_morning_says_whether_it_holds(station: Station) -> None:
    """The jobs told in the evening hold, without a ring; nothing is told twice on the same day."""
    station.round(on(1, 18))
    station.round(on(2, 7))
    station.round(on(2, 13, 30))
    assert [notice.kind for notice in station.ears[0].heard[1:]] == [NoticeKind.GO_AHEAD]
    assert not station.ears[0].heard[1].interrupts


def test_what_is_signed_off_is_not_asked_for_again(station: Station) -> None:
    """The pots that were covered and carried in are in force at the next look."""
    station.round(on(1, 18))
    station.clock = on(2, 15)
    station.work()
    station.round(on(2, 18))
    with station.book() as book:
        open_jobs = [job for job in jobs.listed(book, date(2026, 12, 3)) if job.state is JobState.OPEN]
        assert {placed.job.pot for placed in jobs.in_force(book)} == {"lemon", "fuchsia", "camellia", "bay"}
    assert open_jobs == []


def test_a_job_that_is_called_off_is_dropped(station: Station) -> None:
    """A milder morning calls the jobs off, and they are no longer open."""
    station.round(on(1, 18))
    station.coldest_c = 6.0
    station.round(on(2, 7))
    assert station.ears[0].heard[-1].kind is NoticeKind.CALLED_OFF
    with station.book() as book:
        tonight = [job for job in jobs.listed(book, date(2026, 12, 2)) if job.night == date(2026, 12, 2)]
        assert [job for job in tonight if job.state is JobState.OPEN] == []
    assert outcomes(station)[date(2026, 12, 2)] is Outcome.PLAN_SENT


def test_after_sunrise_it_looks_only_while_covers_are_on(station: Station) -> None:
    """Without anything in place nobody needs to know whether it may come off."""
    station.round(on(1, 18))
    assert [one.look for one in station.round(on(2, 9)).looks] == [Look.MORNING]
    station.clock = on(2, 15)
    station.work()
    station.round(on(3, 7))
    assert [one.look for one in station.round(on(3, 9)).looks] == [Look.SUNRISE]


def test_blindness_is_told_and_looked_at_again(station: Station) -> None:
    """No forecast is a message; an hour later it is tried again, and the plan follows when it can be made."""
    station.blind = True
    station.round(on(1, 18))
    assert station.ears[0].heard[-1].tells == ("cannot-see/2026-12-01/by-day", "cannot-see/2026-12-02")
    assert outcomes(station)[date(2026, 12, 2)] is Outcome.CANNOT_SEE_SENT
    assert station.round(on(1, 18, 30)).looks == ()
    count = len(station.ears[0].heard)
    station.round(on(1, 19, 1))
    assert len(station.ears[0].heard) == count  # still blind, and told already
    station.blind = False
    station.round(on(1, 20, 5))
    assert station.ears[0].keys[-1] == "jobs/2026-12-02"
    assert outcomes(station)[date(2026, 12, 2)] is Outcome.PLAN_SENT


def test_an_evening_rings_once_and_the_morning_makes_up_for_it(station: Station) -> None:
    """The last look rings, since it cannot see; what the evening finds is told, and rings in the morning."""
    station.coldest_c = 9.0
    station.round(on(1, 18))
    station.round(on(2, 7))
    station.blind = True
    station.round(on(2, 15, 30))
    station.blind = False
    station.round(on(2, 16, 45))  # mild after all
    station.coldest_c = -3.0
    station.round(on(2, 18))
    station.round(on(3, 7))
    told = [(notice.key, notice.interrupts) for notice in station.ears[0].heard if notice.made_at >= on(2, 15)]
    assert told == [
        ("cannot-see/2026-12-02/by-day", True),
        ("jobs/2026-12-03", False),
        ("go-ahead/2026-12-03/morning", True),
    ]


def test_a_plan_that_rests_on_a_guess_is_blindness(station: Station) -> None:
    """Without any forecast the check says that it cannot see, and what to do for a worst night, which can be signed
    off; of the weather and the plan that were made up nothing is kept."""
    station.unseen = WeatherUnavailable("No service answered.", next_step="Look yourself.")
    station.round(on(1, 18))
    (heard,) = station.ears[0].heard
    assert heard.kind is NoticeKind.CANNOT_SEE and heard.interrupts
    assert {"cannot-see/2026-12-02", "guess/2026-12-02"} <= set(heard.tells)
    assert "What follows is a guess" in heard.text and "Lemon" in heard.text
    assert outcomes(station)[date(2026, 12, 2)] is Outcome.CANNOT_SEE_SENT
    with station.book() as book:
        assert book.rows("SELECT * FROM days") == book.rows("SELECT * FROM plans") == []
        assert book.rows("SELECT * FROM wetness") == []
    station.clock = on(2, 15)
    station.work()
    with station.book() as book:
        assert {placed.job.pot for placed in jobs.in_force(book)} == {"lemon", "fuchsia", "camellia", "bay"}


def test_a_blind_evening_asks_for_what_a_seen_one_would(tmp_path: Path) -> None:
    """The same nights, seen and as a guess: the same jobs, and both ring."""
    asked = []
    for unseen in (None, WeatherUnavailable("No service answered.", next_step="Look yourself.")):
        (tmp_path / str(len(asked))).mkdir()
        station = Station(tmp_path / str(len(asked)), coldest_c=-8.0, unseen=unseen)
        station.round(on(1, 18))
        assert station.ears[0].heard[-1].interrupts
        with station.book() as book:
            asked.append({(job.night, job.pot, job.protection) for job in jobs.listed(book, date(2026, 1, 1))})
    assert asked[0] == asked[1] != set()


def test_a_forecast_that_comes_back_in_the_same_evening_does_not_ring_again(station: Station) -> None:
    """The jobs hold as told on the guess; if it turns out mild they are called off and no longer open."""
    station.round(on(30, 18, month=11))  # what is told once a season is told
    station.unseen = WeatherUnavailable("No service answered.", next_step="Look yourself.")
    station.round(on(1, 18))
    station.unseen = None
    station.round(on(1, 19, 5))
    assert [(notice.kind, notice.interrupts) for notice in station.ears[0].heard[1:]] == [
        (NoticeKind.CANNOT_SEE, True),
        (NoticeKind.GO_AHEAD, False),
    ]
    station.coldest_c = 9.0
    station.round(on(2, 7))
    assert station.ears[0].heard[-1].kind is NoticeKind.CALLED_OFF
    with station.book() as book:
        assert [job for job in jobs.listed(book, date(2026, 12, 2)) if job.state is JobState.OPEN] == []


def test_a_mild_night_is_recorded(station: Station) -> None:
    """Nothing to do is an outcome of its own, and said where all's well is wished for."""
    station.coldest_c = 9.0
    station.round(on(1, 18))
    assert set(outcomes(station).values()) == {Outcome.NOTHING_TO_DO}


@pytest.mark.parametrize("fault", [RuntimeError("a fault of ours"), ZeroDivisionError(), MemoryError()])
def test_a_fault_of_our_own_is_no_silence(station: Station, fault: Exception) -> None:
    """Even a crash of the planner reaches the person, once a night, and the run is known as failed."""
    station.fault = fault
    done = station.round(on(1, 18))
    assert not done.well
    station.round(on(1, 18, 15))
    tonight, tomorrow = station.ears[0].heard  # both looks failed; that rings once
    assert (tonight.key, tomorrow.key) == ("check-failed/2026-12-01", "check-failed/2026-12-02")
    assert tonight.interrupts and not tomorrow.interrupts and "Look yourself" in tonight.subject
    assert outcomes(station)[date(2026, 12, 2)] is Outcome.CANNOT_SEE_SENT
    station.fault = None
    station.round(on(1, 19, 30))
    assert station.ears[0].keys[-1] == "jobs/2026-12-02"


def test_a_broken_garden_file_is_told(station: Station) -> None:
    """Nobody can see with it, and the message names its line."""
    station.garden.write_text("site: [\n")
    done = station.round(on(1, 18))
    assert not done.well and done.looks == ()
    assert "garden.yaml" in station.ears[0].heard[0].text and station.ears[0].heard[0].interrupts
    station.round(on(1, 18, 15))
    assert len(station.ears[0].heard) == 1


def test_a_slip_in_the_settings_takes_no_channel_away(station: Station) -> None:
    """The check goes on with the settings of before, and says once a day what is wrong with the file."""
    station.settings_file = station.folder / "settings.yaml"
    station.settings_file.write_text("people: 2\nchannels:\n  - {kind: feed, file: /tmp/feed.xml}\n")
    station.round(on(1, 18))
    station.settings_file.write_text("people: two\n")
    for hour in (7, 8, 18):
        station.round(on(2, hour))
    told = [notice for notice in station.ears[0].heard if any(key.startswith("settings/") for key in notice.tells)]
    assert ["settings/2026-12-02" in notice.tells for notice in told] == [True]
    assert "line 1" in told[0].text and "those of before" in told[0].text
    assert told[0].kind is not NoticeKind.CHANNEL_FAILED  # it goes with the morning's
    assert "jobs/2026-12-03" in station.ears[0].keys
    kept = station.folder / "logbook-settings.yaml"
    assert kept.stat().st_mode & 0o077 == 0 and len(settings_in_use(kept, None).settings.channels) == 1
    assert settings_in_use(station.settings_file, station.path).settings.people == 2
    kept.unlink()
    assert settings_in_use(station.settings_file, station.path).settings == Settings()


def test_a_broken_garden_file_wakes_nobody(station: Station) -> None:
    """Found at midnight it is told when the quiet hours are over."""
    station.garden.write_text("site: [\n")
    here = datetime(2026, 12, 1, 0, 5).astimezone()
    for hour in range(7):
        station.round(here + timedelta(hours=hour))
    assert station.ears[0].heard == []
    station.round(here.replace(hour=7))
    assert len(station.ears[0].heard) == 1


def test_a_fault_in_an_american_evening_is_no_silence(station: Station) -> None:
    """When it is tomorrow in Greenwich already, tonight's message has not lapsed."""
    place = "{latitude: 40.7, longitude: -74.0, elevation_m: 10, time_zone: America/New_York}"
    station.garden.write_text("\n".join([f"site: {place}", *GARDEN.splitlines()[1:]]))
    station.fault = RuntimeError("a fault of ours")
    station.round(datetime(2026, 12, 1, 20, 30, tzinfo=ZoneInfo("America/New_York")))
    assert {"check-failed/2026-12-01", "check-failed/2026-12-02"} <= set(station.ears[0].keys)


def test_a_broken_garden_file_without_a_memory_is_told_in_the_evening_only(station: Station) -> None:
    """With the logbook gone, too, it is not told anew at every call of the timer."""
    station.garden.write_text("site: [\n")
    station.path.write_bytes(b"recipes\n" * 100)
    here = datetime(2026, 12, 1, 12, 0).astimezone()  # without a place the machine's clock counts
    for minute in range(0, 720, 15):
        station.round(here + timedelta(minutes=minute, seconds=1))
    assert len(station.ears[0].heard) == 1


def test_a_channel_that_fails_is_tried_again(station: Station) -> None:
    """The message waits for the deaf channel with growing pauses; what has passed by the next look is not told."""
    good, bad = Ear("good"), Ear("bad", deaf=True)
    station.ears = [bad, good]
    station.round(on(2, 7))
    station.round(on(2, 7, 5))  # too early for another try
    with station.book() as book:
        row = next(one for one in outbox.deliveries(book) if one.channel == "bad")
        assert (row.state, row.tries) == (State.FAILED, 1)
    bad.deaf = False
    station.round(on(2, 7, 11))
    assert bad.keys == ["jobs/2026-12-02"]
    assert not bad.heard[0].subject.startswith("(again)")
    station.round(on(2, 18))
    assert not any("bad" in notice.text for notice in good.heard)


def test_nothing_waits_for_a_channel_that_did_not_work_last(station: Station) -> None:
    """By name it would come first; after a failure it comes last, until it works again."""
    good, bad = Ear("good"), Ear("bad", deaf=True)
    station.ears = [bad, good]

    def order_of(key: str, at: datetime) -> list[str]:
        with station.book() as book:
            notice = plain_notice(NoticeKind.TEST, (key,), "A test.", ["A test."], at, at.date())
            book.write(lambda connection: outbox.owe(connection, notice, ["bad", "good"], at.date(), at))
            return [one.channel for one in outbox.due(book, at) if one.notice.key == key]

    assert order_of("first", on(2, 7)) == ["bad", "good"]
    station.round(on(2, 7))
    assert order_of("second", on(2, 8)) == ["good", "bad"]
    bad.deaf = False
    station.round(on(2, 9))
    assert order_of("third", on(2, 10)) == ["bad", "good"]


def test_a_channel_that_stays_broken_is_told_with_the_next_message(station: Station) -> None:
    """No message of its own, and no second ring of an evening: day by day the next one has it at its end."""
    good, bad = Ear("good"), Ear("bad", deaf=True)
    station.ears = [bad, good]
    for day in (1, 2, 3):
        for hour in (7, 12, 18, 20):
            station.round(on(day, hour, 30))
    told = [notice for notice in good.heard if "bad: hears nothing. Wait." in notice.text]
    assert [(notice.kind, notice.made_at.day) for notice in told] == [
        (NoticeKind.JOBS, 1), (NoticeKind.JOBS, 2), (NoticeKind.JOBS, 3)
    ] and all(notice.made_at.hour == 18 for notice in told)
    assert all(notice.html.count("</body>") == 1 and "1 channel does not work: bad." in notice.html for notice in told)
    assert not any(notice.kind is NoticeKind.CHANNEL_FAILED for notice in good.heard)
    with station.book() as book:
        rung = outbox.pushes(book, on(1, 0))
        assert len({one.date() for one in rung if one.astimezone(ZONE).hour >= 14}) == len(
            [one for one in rung if one.astimezone(ZONE).hour >= 14]
        )
        assert book.rows("SELECT * FROM notices WHERE kind = 'channel failed'") == []


def test_a_broken_channel_rings_by_itself_once_a_week(station: Station) -> None:
    """On mild evenings the all-clear has it: the first one rings for it, the next ones do not."""
    station.coldest_c = 9.0
    good, bad = Ear("good"), Ear("bad", deaf=True)
    station.ears = [bad, good]
    for day in range(1, 10):
        for hour in (7, 18):
            station.round(on(day, hour, 30))
    rang = [notice.made_at.day for notice in good.heard if notice.interrupts and "hears nothing" in notice.text]
    assert len(rang) == 2 and rang[1] - rang[0] == 7


def test_a_broken_channel_without_another_message_is_told_alone(station: Station) -> None:
    """Where nothing else is to be said by the next look, it says so by itself, through the others."""
    station.coldest_c = 9.0
    good, bad = Ear("good"), Ear("bad", deaf=True)
    station.ears = [bad, good]
    station.round(on(1, 18))
    station.round(on(1, 18, 15))
    assert NoticeKind.CHANNEL_FAILED not in [notice.kind for notice in good.heard]
    station.round(on(2, 7))
    assert good.heard[-1].kind is NoticeKind.CHANNEL_FAILED and good.heard[-1].interrupts



def test_with_every_channel_deaf_the_message_stays_owed(station: Station) -> None:
    """It is no outcome yet; it goes out when one hears again, and lapses when its night is over."""
    station.ears[0].deaf = True
    assert not station.round(on(2, 7)).well
    assert outcomes(station)[date(2026, 12, 2)] is Outcome.OWED
    station.ears[0].deaf = False
    station.round(on(2, 12))
    assert outcomes(station)[date(2026, 12, 2)] is Outcome.PLAN_SENT
    station.ears[0].deaf = True
    station.round(on(2, 18))
    station.ears[0].deaf = False
    station.round(on(4, 0, 30))
    assert "jobs/2026-12-03" not in station.ears[0].keys


def test_what_was_being_sent_when_it_stopped_goes_out_again_marked(station: Station) -> None:
    """It may have gone out: it is sent once more, and says so."""

    class Cut(BaseException):
        """The machine stops."""

    station.ears[0].send = lambda notice: (_ for _ in ()).throw(Cut())  # type: ignore[method-assign]
    with pytest.raises(Cut):
        station.round(on(2, 7))
    del station.ears[0].__dict__["send"]
    station.round(on(2, 7, 1))
    assert station.ears[0].keys == ["jobs/2026-12-02"]
    assert station.ears[0].heard[0].subject.startswith("(again)")
    station.round(on(2, 7, 2))
    assert len(station.ears[0].heard) == 1


def test_two_days_without_the_machine_are_told(station: Station) -> None:
    """The first look after it names the evenings on which nobody looked, once."""
    station.round(on(1, 18))
    station.round(on(5, 7, 30))
    told = [notice for notice in station.ears[0].heard if any(key.startswith("down/") for key in notice.tells)]
    assert len(told) == 1
    assert set(told[0].tells) >= {"down/2026-12-03", "down/2026-12-04"}
    station.round(on(5, 18))
    assert sum(any(key.startswith("down/") for key in notice.tells) for notice in station.ears[0].heard) == 1


def test_two_days_without_a_channel_are_told_and_nothing_of_the_season_is_lost(station: Station) -> None:
    """What no channel took was not said: the night is owned up to, and a first of the season is told after all."""
    station.coldest_c = 6.0
    station.round(on(1, 7))
    station.ears[0].deaf = True
    station.coldest_c = -8.0
    for day in (1, 2, 3):
        for hour in (7, 13, 18, 21):
            station.round(on(day, hour, 30))
    assert outcomes(station)[date(2026, 12, 2)] is Outcome.OWED
    station.ears[0].deaf = False
    count = len(station.ears[0].heard)
    for hour in (7, 13, 18):
        station.round(on(4, hour, 30))
    told = [key for notice in station.ears[0].heard[count:] for key in notice.tells]
    assert {"down/2026-12-02", "down/2026-12-03", "season/2026/night/-5"} <= set(told)
    assert len(told) == len(set(told))


def test_set_up_in_the_quiet_hours_it_owns_up_to_the_night_that_was_not_told(station: Station) -> None:
    """What waited for the end of the quiet hours came too late for its night; in the morning that is said."""
    station.round(on(1, 22, 30))
    assert station.ears[0].heard == []
    station.round(on(2, 7))
    told = [key for notice in station.ears[0].heard for key in notice.tells]
    assert "down/2026-12-01" in told and "jobs/2026-12-02" in told and "jobs/2026-12-01" not in told


def test_a_blind_morning_after_a_missed_evening_is_told(station: Station) -> None:
    """The machine slept, and wakes without a forecast: silence would look like an all-clear."""
    station.blind = True
    station.round(on(1, 18))
    station.round(on(3, 7))
    assert station.ears[0].heard[-1].tells[0] == "cannot-see/2026-12-03/by-day"
    station.round(on(6, 7))
    assert {"down/2026-12-04", "down/2026-12-05"} <= set(station.ears[0].heard[-1].tells)


def test_a_clock_that_jumps_back_repeats_nothing(station: Station) -> None:
    """Looks that were made are known by their night, whatever the clock says."""
    station.round(on(1, 18))
    station.round(on(2, 7))
    count = len(station.ears[0].heard)
    station.round(on(1, 18, 5))
    station.round(on(2, 7, 5))
    assert len(station.ears[0].heard) == count


def test_late_wakers_get_only_the_latest_look(station: Station) -> None:
    """Woken at half past one, the morning is not made up for beside the last look before sunset."""
    station.round(on(2, 7))
    assert [one.look for one in station.round(on(3, 13, 40)).looks] == [Look.LAST]


def test_too_late_is_too_late(station: Station) -> None:
    """More than six hours after the evening's time the morning is the next to look."""
    station.round(on(1, 18))
    assert station.round(on(3, 0, 30)).looks == ()
    assert [one.look for one in station.round(on(3, 7, 0)).looks] == [Look.MORNING]


def test_two_rounds_at_once_say_it_once(station: Station) -> None:
    """Should two processes pass the lock, the notice is put down by its key and sent by one of them."""
    station.clock = on(2, 7)
    with station.book() as first, station.book() as second:
        station.round_with(first)
        station.round_with(second)
    assert station.ears[0].keys == ["jobs/2026-12-02"]


def test_a_full_disk_does_not_keep_the_message(station: Station) -> None:
    """The round goes on from memory: the message goes out and says that the logbook is in trouble."""
    station.round(on(1, 18))
    with station.book() as book:
        pages = book.rows("PRAGMA page_count")[0][0]
        book.rows(f"PRAGMA max_page_count = {pages}")
        book.rows("PRAGMA query_only = ON")
        station.clock = on(2, 18)
        done = station.round_with(book)
        assert not done.well and not book.on_disk
    heard = station.ears[0].heard[-1]
    assert heard.key == "jobs/2026-12-03"
    assert "logbook" in heard.text and "logbook" in heard.html
    with station.book() as book:
        assert book.trouble is None
        assert book.rows("PRAGMA integrity_check")[0][0] == "ok"


@pytest.mark.parametrize("trouble", ["a strange file", "a full disk"])
def test_without_a_memory_it_does_not_say_the_same_at_every_call(station: Station, trouble: str) -> None:
    """Called every quarter of an hour with a logbook that cannot be written, it says each thing at its time only."""
    station.round(on(1, 18))
    if trouble == "a strange file":
        station.path.write_bytes(b"recipes\n" * 100)
    count = len(station.ears[0].heard)
    for minute in range(0, 300, 15):
        station.clock = on(2, 7) + timedelta(minutes=minute)
        with station.book() as book:
            if book.on_disk:
                book.rows(f"PRAGMA max_page_count = {book.rows('PRAGMA page_count')[0][0]}")
                book.rows("PRAGMA query_only = ON")
            station.round_with(book)
    assert len(station.ears[0].heard) <= count + 2  # the first minute, and a quarter of an hour to the second


def test_a_foreign_file_in_its_place_does_not_keep_the_message(station: Station) -> None:
    """It is left as it is, the check goes on from memory, and the message says so."""
    station.path.write_bytes(b"recipes\n" * 100)
    station.round(on(2, 7))
    assert "no logbook" in station.ears[0].heard[0].text
    assert station.path.read_bytes() == b"recipes\n" * 100


def test_not_tonight_is_kept_through_later_looks(station: Station) -> None:
    """What the person has put off is not opened again by the next plan of the same night."""
    station.round(on(1, 18))
    with station.book() as book:
        chosen = jobs.meant_by(book, Word.NOT_TONIGHT, "camellia", date(2026, 12, 2))
        jobs.sign_off(book, chosen, Word.NOT_TONIGHT, "", station.clock)
    station.round(on(2, 7))
    with station.book() as book:
        states = {job.pot: job.state for job in jobs.listed(book, date(2026, 12, 2)) if job.night.day == 2}
    assert states["camellia"] is JobState.NOT_TONIGHT


def test_the_air_of_past_days_is_kept_for_the_hardening(station: Station) -> None:
    """Coldest and mean of the days before, so that they are known when the forecast no longer reaches back."""
    station.round(on(1, 18))
    station.round(on(3, 18))
    with station.book() as book:
        kept = nights.days_before(book, date(2026, 12, 3))
    assert [day for day, _, _ in kept] == [date(2026, 11, 27) + timedelta(days=k) for k in range(6)]
    # midnight belongs to the day that it ends, and is read off the next day's curve
    assert all(minimum <= station.truth(day)[0] + 0.01 < mean for day, minimum, mean in kept)


def test_nothing_is_written_outside_its_transaction(station: Station, monkeypatch: pytest.MonkeyPatch) -> None:
    """If putting down fails half-way neither plan, jobs, notice nor outcome are there: the look is made again."""

    def fails(*_: object) -> None:
        raise sqlite3.IntegrityError("half-way")

    monkeypatch.setattr(nights, "keep_told", fails)
    station.round(on(2, 7))
    with station.book() as book:
        assert book.rows("SELECT * FROM plans") == []
        assert book.rows("SELECT * FROM jobs WHERE state <> 'dropped'") == []  # numbers are given before
        assert {row["key"] for row in book.rows("SELECT key FROM notices")} == {"check-failed/2026-12-02"}
