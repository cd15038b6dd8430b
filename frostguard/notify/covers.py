"""Covers in place: when they may come off, and when they must."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from frostguard.advice.plan import AdvicePlan, NightOutlook, Protection
from frostguard.hardiness.model import Tissue
from frostguard.notify.matter import Matter, Section
from frostguard.notify.moment import InForce, Look, Moment
from frostguard.notify.notice import NoticeKind
from frostguard.report import measures
from frostguard.report.spots import spot_labels, spot_name
from frostguard.report.words import all_of, say, say_count

BARE_LEAF_BELOW_AIR_K = 3.0
"""A bare leaf under a clear sky lies 2 to 5 K below screen air; common practice takes three."""

SAFE_MARGIN_K = 2.0
"""How far the low end of the coldest leaf stays above its limit where a cover is called needless; estimate."""

SAFE_NIGHTS = 2
"""Nights ahead that must be safe: a cover that is put back the next evening has saved no trouble; estimate."""

MUST_OPEN_C = 10.0
"""Warmest air of a day from which fleece must come off: plants wake, mould grows; common practice."""

VENT_C = 5.0
"""Warmest air from which fleece is opened for the day where the sun shines on it; common practice."""

AGAIN_AFTER_D = 3
"""Days after which a cover that stayed on is told of again; estimate."""

FLEECES = frozenset({Protection.FLEECE, Protection.DOUBLE_FLEECE})
TAKEN_BACK = FLEECES | {Protection.MOVE, Protection.SECURE, Protection.UNCOVER}
"""Protections that are undone after the cold; wraps, feet and mulch stay until spring."""


def must_uncover_matter(moment: Moment, plan: AdvicePlan) -> Matter | None:
    """Fleece that has to come off or be opened for a warm day: today's in the morning, else tomorrow's."""
    if moment.look is Look.LAST:
        return None
    day = moment.today + timedelta(days=1 if moment.look is Look.EVENING else 0)
    weather = moment.day(day)
    if weather is None or weather.warmest_c <= VENT_C or (weather.warmest_c <= MUST_OPEN_C and not weather.sunny):
        return None
    covers = [
        one
        for one in moment.in_force
        if one.protection in FLEECES and not moment.said_within(_key("must-uncover", one), AGAIN_AFTER_D)
    ]
    if not covers:
        return None
    off = weather.warmest_c > MUST_OPEN_C
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
    if moment.look not in (Look.MORNING, Look.SUNRISE):
        return None
    ahead = [night for night in plan.nights if night.date >= moment.today][:SAFE_NIGHTS]
    if len(ahead) < SAFE_NIGHTS or not all(night.complete for night in ahead):
        return None
    free = [one for one in moment.in_force if _is_free(one, plan, ahead, moment)]
    if not free:
        return None
    risk = next((night.date for night in plan.nights if night.date >= moment.today and night.pots_at_risk), None)
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


def _is_free(one: InForce, plan: AdvicePlan, ahead: Sequence[NightOutlook], moment: Moment) -> bool:
    """Whether a protection has done its work, by its own time and by the nights ahead."""
    if one.protection not in TAKEN_BACK or (one.undo_after is not None and one.undo_after > moment.now):
        return False
    told_on = moment.said.get(_key("safe", one))
    since = moment.clock.local(one.since)
    # it is told in the morning, so what was put on later that day is another cover
    if told_on is not None and told_on >= since.date() + timedelta(days=since.hour // 12):
        return False
    if one.protection in (Protection.SECURE, Protection.UNCOVER):
        return one.undo_after is not None  # a gale's end is known from the plan alone
    limits = [
        tissue.limit_c
        for pot in plan.pots
        if pot.id == one.pot
        for tissue in pot.tissues
        if tissue.tissue in (Tissue.LEAF, Tissue.BUD, Tissue.CHILL)
    ]
    if not limits:
        return False
    coldest_leaf_c = min(night.coldest_air_c_p10 for night in ahead) - BARE_LEAF_BELOW_AIR_K
    return coldest_leaf_c > max(limits) + SAFE_MARGIN_K


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
