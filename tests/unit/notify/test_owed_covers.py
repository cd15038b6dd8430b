"""Covers in place: when they may come off, and when they must."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

import plans
import pytest
from plans import at

from frostguard.advice.plan import Protection
from frostguard.notify.moment import InForce, Look
from frostguard.notify.notice import NoticeKind
from frostguard.notify.owed import owed
from tests.unit.notify.moments import TODAY, day, moment, told


def fleece(since: datetime | None = None, **changes: Any) -> InForce:
    """A fleece over the lemon since yesterday."""
    values: dict[str, Any] = {"pot": "lemon", "label": "Lemon", "spot": "front", "protection": Protection.FLEECE}
    return InForce(**{**values, "since": since or at(15, days=-1), **changes})


SUNRISE: dict[str, Any] = {"look": Look.SUNRISE, "now": at(8)}


@pytest.mark.parametrize(
    ("warmest_c", "sunny", "rings", "words"),
    [
        (12.0, False, True, "Fleece off 1 pot"),
        (10.5, None, True, "Fleece off 1 pot"),
        (8.0, True, False, "Open the fleece of 1 pot for the sunny hours"),
    ],
)
def test_fleece_must_come_off_or_be_opened_on_a_warm_day(warmest_c: float, sunny: bool | None, rings: bool, words: str):
    """Above 10 degC it must come off, above 5 degC in sun it is opened by day (common practice and estimate): under
    it plants wake and grow mouldy."""
    notice = told(days=(day(0, 2.0, warmest_c, sunny=sunny),), in_force=(fleece(),), **SUNRISE)

    assert notice.kind is NoticeKind.MUST_UNCOVER
    assert notice.interrupts is rings
    assert notice.subject.startswith(words)
    assert "Lemon" in notice.short


@pytest.mark.parametrize(("warmest_c", "sunny"), [(8.0, False), (4.0, True), (8.0, None)])
def test_a_cool_or_dull_day_leaves_the_fleece_on(warmest_c: float, sunny: bool | None):
    """Fleece over resting evergreens may stay for days while it is cold (common practice)."""
    assert owed(moment(days=(day(0, -2.0, warmest_c, sunny=sunny),), in_force=(fleece(),), **SUNRISE)) is None


def test_the_evening_tells_it_for_tomorrow_and_once():
    """A heads-up for the next day goes into the evening's message, and is not repeated in the morning."""
    tomorrow = {"days": (day(1, 2.0, 13.0),), "in_force": (fleece(),)}
    evening = told(**tomorrow)
    assert evening.kind is NoticeKind.MUST_UNCOVER
    assert "Thu 3 Dec" in evening.subject

    said = dict.fromkeys(evening.tells, TODAY)
    assert owed(moment(**tomorrow, look=Look.SUNRISE, now=at(8, days=1), said=said)) is None


def test_it_says_when_the_cover_has_to_go_on_again():
    """A warm day before a risky night: off by day, on again before dusk."""
    plan = plans.plan(nights=(plans.night(0, -3.0, pots_at_risk=1), plans.night(1, 3.0)))

    notice = told(plan=plan, days=(day(0, 0.0, 12.0),), in_force=(fleece(),), **SUNRISE)

    assert "on again before dusk" in " ".join(notice.text.split())


def test_wraps_stay_on_in_warm_spells():
    """A wrap round the pot may stay all winter if top and hole are free (common practice)."""
    wrap = fleece(protection=Protection.WRAP)

    assert owed(moment(days=(day(0, 5.0, 14.0),), in_force=(wrap,), **SUNRISE)) is None


# --- safe to uncover -----------------------------------------------------------------------------------


def without(*margins_k: float, pot: str = "lemon") -> dict[str, dict[date, float]]:
    """How far the pot stays above its limit without its cover, tonight and in the nights after."""
    return {pot: {TODAY + timedelta(days=ahead): margin_k for ahead, margin_k in enumerate(margins_k)}}


def test_safe_to_uncover_names_the_next_risk():
    """An all-clear is explicit: what comes off now, and when the next risk is (warning practice)."""
    notice = told(margin_without_k=without(4.0, 3.0, 2.6, 1.0), in_force=(fleece(),), **SUNRISE)

    assert notice.kind is NoticeKind.SAFE_TO_UNCOVER
    assert not notice.interrupts
    assert "Next risk: the night of Sat 5 Dec." in notice.text
    assert "Lemon (front): fleece off." in notice.text


def test_fleece_put_on_for_a_cold_week_may_come_off_when_the_cold_ends_sooner():
    """What was to stay for six more days, while it is cold, is told off once the nights are harmless without it."""
    staying = fleece(undo_after=at(12, days=6))

    notice = told(margin_without_k=without(4.0, 3.0, 2.6), in_force=(staying,), **SUNRISE)

    assert notice.kind is NoticeKind.SAFE_TO_UNCOVER


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"margin_without_k": without(2.4, 6.0)}, "tonight is too near the limit"),
        ({"margin_without_k": without(6.0, 2.4)}, "the night after is"),
        ({"margin_without_k": without(6.0)}, "one night is not enough, or the next is not seen whole"),
        ({"margin_without_k": {}}, "it was not reckoned, as for tender plants that stay in until spring"),
        ({"in_force": (fleece(undo_after=at(12)),)}, "the plan said not before noon"),
        ({"in_force": (fleece(protection=Protection.WRAP),)}, "wraps stay"),
        ({"in_force": (fleece(pot="stranger"),)}, "nothing is known of its limit"),
        ({"look": Look.EVENING, "now": at(18)}, "nobody uncovers at night"),
    ],
)
def test_no_all_clear_in_doubt(changes: dict[str, Any], why: str):
    """A cover stays unless the pot without it is 2.5 K above its limit in the next two nights (warning practice)."""
    usual = {"margin_without_k": without(6.0, 6.0), "in_force": (fleece(),), **SUNRISE}

    notice = owed(moment(**{**usual, **changes}))

    assert notice is None or notice.kind is not NoticeKind.SAFE_TO_UNCOVER, why


def test_an_all_clear_is_said_once_for_each_cover():
    """Said this morning: not again; put on anew: again."""
    usual = {"margin_without_k": without(6.0, 6.0, 6.0), **SUNRISE}
    first = told(**usual, in_force=(fleece(),))
    later = dict.fromkeys(first.tells, TODAY)

    assert owed(moment(**{**usual, "now": at(8, days=1)}, in_force=(fleece(),), said=later)) is None
    plan = plans.plan(night=TODAY + timedelta(days=1), nights=tuple(plans.night(n, 6.0) for n in (1, 2)))
    renewed = fleece(since=at(15))  # the same day, after the morning's word
    again = told(**{**usual, "now": at(8, days=1)}, plan=plan, in_force=(renewed,), said=later)
    assert again.kind is NoticeKind.SAFE_TO_UNCOVER


def test_a_moved_pot_goes_back_to_its_spot():
    """What was carried in is carried back when the nights allow it."""
    moved = fleece(protection=Protection.MOVE, spot="house wall", undo_after=at(7))

    notice = told(margin_without_k=without(6.0, 6.0), in_force=(moved,), **SUNRISE)
    assert "Lemon: back to the house wall." in notice.text
