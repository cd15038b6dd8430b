"""Covers in place: when they may come off, and when they must."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, timedelta

from frostguard.advice.plan import CLEAR_MARGIN_K, WARM_DAY_C, AdvicePlan, Protection
from frostguard.notify.matter import Matter, Section
from frostguard.notify.moment import InForce, Look, Moment
from frostguard.notify.notice import NoticeKind
from frostguard.report import measures
from frostguard.report.spots import spot_labels, spot_name
from frostguard.report.words import all_of, say, say_count

SAFE_NIGHTS = 2
"""Nights ahead that must be safe: a cover that is put back the next evening has saved no trouble; estimate."""

VENT_C = 5.0
"""Warmest air from which fleece is opened for the day where the sun shines on it; common practice."""

FOR_SEVERAL_NIGHTS = timedelta(days=2)
"""A cover whose time to come off lies further ahead was put on to stay while it is cold."""

AGAIN_AFTER_D = 3
"""Days after which a cover that stayed on is told of again; estimate."""

FLEECES = frozenset({Protection.FLEECE, Protection.DOUBLE_FLEECE})
AGAINST_COLD = FLEECES | {Protection.MOVE}
"""Protections that are undone once the nights are harmless without them; wraps, feet and mulch stay until spring."""

AGAINST_GALES = frozenset({Protection.SECURE, Protection.UNCOVER})
"""Protections that are undone after the gale, whose end is known from the plan alone."""


def must_uncover_matter(moment: Moment, plan: AdvicePlan) -> Matter | None:
    """Fleece that has to come off or be opened for a warm day: today's in the morning, else tomorrow's."""
    if moment.look is Look.LAST:
        return None
    day = moment.today + timedelta(days=1 if moment.look is Look.EVENING else 0)
    weather = moment.day(day)
    if weather is None or weather.warmest_c <= VENT_C or (weather.warmest_c <= WARM_DAY_C and not weather.sunny):
        return None
    covers = [
        one
        for one in moment.in_force
        if one.protection in FLEECES and not moment.said_within(_key("must-uncover", one), AGAIN_AFTER_D)
    ]
    if not covers:
        return None
    off = weather.warmest_c > WARM_DAY_C
    again = _at_risk_on(plan, day)
    values = {
        "day": measures.day_and_date(day),
        "warmest": measures.limit(weather.warmest_c, moment.settings.units),
    }
    if off:
        subject = say_count(
            "Fleece off 1 pot on {day}: it gets up to {warmest}.",
            "Fleece off {count} pots on {day}: it gets up to {warmest}.",
            len(covers),
            **values,
        )
    else:
        subject = say_count(
            "Open the fleece of 1 pot for the sunny hours of {day}, up to {warmest}.",
            "Open the fleece of {count} pots for the sunny hours of {day}, up to {warmest}.",
            len(covers),
            **values,
        )
    reason = say("Under a cover in the warmth plants wake, lose their hardiness, and go mouldy.")
    evening = say("Put it on again before dusk: the night is at risk.") if again else ""
    return Matter(
        kind=NoticeKind.MUST_UNCOVER,
        keys=(f"must-uncover/{day.isoformat()}", *(_key("must-uncover", one) for one in covers)),
        subject=subject,
        lead=" ".join(part for part in (subject, reason, evening) if part),
        brief=_pots(covers),
        sections=(Section(say("Take off") if off else say("Open"), _places(covers, moment)),),
        interrupts=off,
    )


def safe_to_uncover_matter(moment: Moment, plan: AdvicePlan) -> Matter | None:
    """Covers and moved pots that the next nights do not need; told once for each."""
    free = [one for one in uncovering(moment) if _is_free(one, moment)]
    if not free:
        return None
    risk = _next_risk(free, moment, plan)
    subject = say_count("1 pot can go without its cover.", "{count} pots can go without their covers.", len(free))
    outlook = (
        say("No pot is at risk as far as the forecast reaches.")
        if risk is None
        else say("Next risk: the night of {day}.", day=measures.day_and_date(risk))
    )
    return Matter(
        kind=NoticeKind.SAFE_TO_UNCOVER,
        keys=(f"safe-to-uncover/{moment.today.isoformat()}/{moment.look.value}", *(_key("safe", one) for one in free)),
        subject=subject,
        lead=f"{subject} {outlook}",
        brief=_pots(free),
        sections=(Section(say("Undo"), _undo_lines(free, moment)),),
    )


def uncovering(moment: Moment) -> list[InForce]:
    """What might be taken back by its own time and was not told of, if the nights ahead allow it."""
    if moment.look not in (Look.MORNING, Look.SUNRISE):
        return []
    return [one for one in moment.in_force if _has_served(one, moment)]


def _has_served(one: InForce, moment: Moment) -> bool:
    if one.protection not in AGAINST_COLD | AGAINST_GALES:
        return False
    if one.undo_after is not None and one.undo_after > moment.now and not _stays_while_cold(one):
        return False
    told_on = moment.said.get(_key("safe", one))
    since = moment.clock.local(one.since)
    # it is told in the morning, so what was put on later that day is another cover
    return told_on is None or told_on < since.date() + timedelta(days=since.hour // 12)


def _stays_while_cold(one: InForce) -> bool:
    """Whether it was put on for a row of nights: then it may come off sooner, if the cold ends sooner."""
    return one.protection in FLEECES and one.undo_after is not None and one.undo_after > one.since + FOR_SEVERAL_NIGHTS


def _is_free(one: InForce, moment: Moment) -> bool:
    """Whether nothing speaks for leaving it: the gale is over, or the pot is out of danger without it."""
    if one.protection in AGAINST_GALES:
        return one.undo_after is not None
    margins_k = moment.margin_without_k.get(one.pot, {})
    ahead = (moment.today + timedelta(days=k) for k in range(SAFE_NIGHTS))
    return all(margins_k.get(night, -math.inf) >= CLEAR_MARGIN_K for night in ahead)


def _next_risk(free: Sequence[InForce], moment: Moment, plan: AdvicePlan) -> date | None:
    """The first night that puts a pot at risk, or one of those that are free now."""
    of_others = [night.date for night in plan.nights if night.date >= moment.today and night.pots_at_risk]
    of_these = [
        night
        for one in free
        for night, margin_k in moment.margin_without_k.get(one.pot, {}).items()
        if night >= moment.today and margin_k < CLEAR_MARGIN_K
    ]
    return min((*of_others, *of_these), default=None)


def _at_risk_on(plan: AdvicePlan, day: date) -> bool:
    return any(night.date == day and night.pots_at_risk for night in plan.nights)


def _key(name: str, one: InForce) -> str:
    return f"{name}/{one.pot}/{one.protection.value}"


def _pots(covers: Sequence[InForce]) -> str:
    return say("{pots}.", pots=all_of(list(dict.fromkeys(one.label for one in covers))))


def _places(covers: Sequence[InForce], moment: Moment) -> tuple[str, ...]:
    label_of = spot_labels(moment.garden)
    return tuple(say("{pot} ({spot}).", pot=one.label, spot=label_of(one.spot)) for one in covers)


def _undo_lines(free: Sequence[InForce], moment: Moment) -> tuple[str, ...]:
    label_of = spot_labels(moment.garden)
    lines = []
    for one in free:
        values = {"pot": one.label, "spot": label_of(one.spot)}
        match one.protection:
            case Protection.MOVE:
                lines.append(say("{pot}: back to the {spot}.", pot=one.label, spot=spot_name(one.spot)))
            case Protection.SECURE:
                lines.append(say("{pot} ({spot}): upright again.", **values))
            case Protection.UNCOVER:
                lines.append(say("{pot} ({spot}): its cover may go on again.", **values))
            case _:
                lines.append(say("{pot} ({spot}): fleece off.", **values))
    return tuple(lines)
