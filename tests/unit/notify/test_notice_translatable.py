"""Every word of a message can be translated."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import plans
import pytest
from plans import NIGHT, at

from frostguard.advice.plan import Batch, Protection
from frostguard.garden.notice_settings import Away, NoticeSettings
from frostguard.garden.settings import Settings
from frostguard.notify.brief import brief_of
from frostguard.notify.delivery import Delivery, channel_trouble, trial_notice
from frostguard.notify.failures import NotTakenNow
from frostguard.notify.moment import InForce, Look, Unseen
from frostguard.notify.notice import Notice, repeated
from frostguard.notify.owed import owed
from tests.language_of_dots import language_of_dots
from tests.unit.notify.moments import TODAY, day, garden, moment, told

FROM_DATA = set(
    re.findall(
        r"[A-Za-z]+",
        "Lemon Fuchsia Pansies Banana Rosemary Sage Bay front south wall cellar Roof terrace wash room C x "
        "Weather data by Open Meteo com CC BY best match mail "
        + " ".join(f"{pot.label} {pot.spot}" for pot in garden().pots)
        + " ".join(spot.label for spot in garden().spots),
    )
)
"""Words that come from the plan, the garden file or the source."""


@pytest.fixture
def _blank_language() -> Iterator[None]:
    with language_of_dots():
        yield


def every_notice() -> Iterator[Notice]:
    """Messages of every kind, with every protection."""
    frosty = plans.frosty_plan()
    away = Settings(notices=NoticeSettings(weekly_letter=NIGHT.weekday(), away=(Away(TODAY, TODAY, "n@example.org"),)))
    yield told(plan=frosty, settings=away)
    yield repeated(told(plan=plans.spell_plan()))
    yield told()
    yield told(plan=Unseen("...", "..."), told=brief_of(frosty))
    yield told(plan=plans.plan(nights=()))
    yield told(down=(TODAY - timedelta(days=1),))
    for protection in Protection:
        job = replace(frosty.jobs[0], protection=protection, litres=2.0)
        yield told(plan=replace(frosty, jobs=(job,)))
        cover = InForce("lemon", "Lemon", "front", protection, at(8, days=-1), at(7))
        mild = plans.plan(nights=(plans.night(0, 9.0), plans.night(1, 9.0)))
        warm = (day(0, 5.0, 12.0), day(1, 5.0, 12.0))
        for look in (Look.EVENING, Look.SUNRISE):
            if look is Look.EVENING or protection in (Protection.FLEECE, Protection.MOVE, Protection.SECURE):
                margins_k = {"lemon": dict.fromkeys((TODAY, TODAY + timedelta(days=1)), 6.0)}
                yield told(
                    plan=mild, in_force=(cover,), days=warm, look=look, now=at(8), margin_without_k=margins_k
                )
    said = {"said": {f"jobs/{NIGHT.isoformat()}": TODAY}, "look": Look.MORNING, "now": at(7)}
    yield told(plan=frosty, told=brief_of(frosty), **said)
    yield told(plan=plans.plan(), told=replace(brief_of(frosty), jobs=brief_of(frosty).jobs[:1]), **said)
    yield told(plan=frosty, told=brief_of(plans.plan()), **said)
    water = plans.job("bay", Protection.WATER, batch=Batch.TONIGHT, litres=2.0)
    yield told(plan=plans.plan(jobs=(water,)), look=Look.MORNING, now=at(7))
    trouble = channel_trouble(
        [Delivery("mail", 1, NotTakenNow("...", next_step="...")), Delivery("mail", 1)], plans.ASKED, NIGHT
    )
    assert trouble is not None
    yield trouble
    yield trial_notice(plans.ASKED, NIGHT)
    for month in (10, 12, 3, 5):
        yield a_season_s_evening(month)


def a_season_s_evening(month: int) -> Notice:
    """Hard frost until the end of the year, warm days after it, and nothing of the season told yet."""
    now = plans.ASKED.replace(month=month)
    night_c, warmest_c = (-8.0, -2.0) if month > 9 else (9.0, 15.0)
    dates = [now.date() + timedelta(days=ahead) for ahead in range(8)]
    nights = tuple(replace(plans.night(0, night_c), date=one) for one in dates)
    days = tuple(replace(day(0, -9.0, warmest_c), date=one) for one in dates)
    plan = plans.plan(night=now.date(), asked_at=now, nights=nights)
    notice = owed(replace(moment(now=now, plan=plan, days=days), said={}))
    assert notice is not None and any(key.startswith("season/") for key in notice.tells)
    return notice


@pytest.mark.usefixtures("_blank_language")
def test_no_word_bypasses_the_catalogue():
    """In a language of dots nothing of the English is left but what the data itself says."""
    for notice in every_notice():
        for shown in (notice.subject, notice.text, notice.short):
            left = set(re.findall(r"[A-Za-z]+", shown)) - FROM_DATA
            assert not left, shown
