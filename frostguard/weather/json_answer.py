"""Reading what a service answers as JSON: strictly, with one plain sentence on what is wrong.

Shared by the modules of the services. Whatever a body holds, only a `ForecastFormatError` leaves here.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any, NoReturn, TypeGuard

import numpy as np
from numpy.typing import NDArray

from frostguard.errors import ForecastFormatError
from frostguard.weather.series import MAX_HOURS

OTHER_SOURCE = "Try again later, or give a weather file; check tonight's lowest temperature by hand."
SAVE_AGAIN = "Save the whole answer of the forecast service again, for one place, with hourly values."

LAST_SECOND = 4102444800
"""Start of the year 2100; a later time is no weather [s]."""


def answer_object(body: bytes, source: str) -> dict[str, Any]:
    """The object in `body`, if it is an answer and no error message."""
    answer = json_object(body, source)
    refuse_error_answer(answer, source)
    return answer


def json_object(body: bytes, source: str) -> dict[str, Any]:
    """The object in `body`; bare NaN or Infinity, which JSON does not know, is refused."""
    answer = json_value(body, source)
    if isinstance(answer, list):
        raise ForecastFormatError(
            f"{source} is a list of {len(answer)} places; one place is wanted.",
            next_step="Ask for one latitude and one longitude.",
        )
    if not isinstance(answer, dict):
        raise ForecastFormatError(f"{source} is JSON but no weather answer.", next_step=SAVE_AGAIN)
    return answer


def json_value(body: bytes, source: str) -> Any:
    """The JSON value in `body`."""

    def refuse_constant(name: str) -> NoReturn:
        raise ValueError(f"{name} is not JSON")

    try:
        return json.loads(body.decode("utf-8-sig"), parse_constant=refuse_constant)
    except (ValueError, RecursionError) as exc:  # ValueError: broken UTF-8, broken JSON, endless digits
        if body.lstrip()[:1] == b"<":
            raise ForecastFormatError(
                f"{source} is a web page where data is due; does this network want a login?",
                next_step=OTHER_SOURCE,
            ) from exc
        raise ForecastFormatError(
            f"{source} is not readable as JSON; it is cut off or no data answer.", next_step=OTHER_SOURCE
        ) from exc


def error_reason(body: bytes) -> str | None:
    """The service's own words in an error answer, shortened, or None; for telling, never for deciding.

    Understood are an object with `error` and `reason`, a problem document (RFC 7807: `title`, `detail`)
    and an object whose `detail` is a sentence.
    """
    try:
        answer = json.loads(body)
    except (ValueError, RecursionError):
        return None
    if not isinstance(answer, dict):
        return None
    keys = ("reason",) if answer.get("error") else ("title", "detail")
    words = [answer.get(key) for key in keys]
    told = [word for word in words if isinstance(word, str) and word.strip()]
    return shortened(": ".join(told)) if told else None


def refuse_error_answer(answer: Mapping[str, Any], source: str) -> None:
    """ForecastFormatError if the answer is an error message or a problem document."""
    problem = isinstance(answer.get("title"), str) and is_number(answer.get("status"))
    if answer.get("error") or problem:
        reason = answer.get("reason") if answer.get("error") else answer.get("title")
        words = f" '{shortened(reason)}'" if isinstance(reason, str) else " no reason"
        raise ForecastFormatError(
            f"{source} is an error message; the service gives{words}.",
            next_step="Try again later with the right place, or give another weather file.",
        )


def shortened(text: str, length: int = 160) -> str:
    """One printable line."""
    line = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return line if len(line) <= length else line[: length - 1] + "…"


def block(answer: Mapping[str, Any], key: str, source: str) -> dict[str, Any]:
    """The object under `key`."""
    found = answer.get(key)
    if not isinstance(found, dict):
        raise ForecastFormatError(f"{source} has no readable '{key}' block.", next_step=SAVE_AGAIN)
    return found


def items(answer: Mapping[str, Any], key: str, source: str) -> list[dict[str, Any]]:
    """The objects in the list under `key`, at least one and not absurdly many."""
    found = answer.get(key)
    if not isinstance(found, list) or not found:
        raise ForecastFormatError(f"{source} has no readable '{key}' list.", next_step=SAVE_AGAIN)
    if len(found) > MAX_HOURS:
        raise ForecastFormatError(f"{source} has more than {MAX_HOURS} hours.", next_step=SAVE_AGAIN)
    if not all(isinstance(item, dict) for item in found):
        raise ForecastFormatError(
            f"{source} has something else than objects in its '{key}' list.", next_step=SAVE_AGAIN
        )
    return found


def is_number(entry: Any) -> TypeGuard[float]:
    """A finite number; JSON's true and 1e999 are none."""
    if isinstance(entry, bool) or not isinstance(entry, int | float):
        return False
    return abs(entry) < 1e300 and math.isfinite(entry)


def number_or_nan(entry: Any, what: str, source: str) -> float:
    """The number, NaN for null; anything else is a fault of the service."""
    if entry is None:
        return math.nan
    if not is_number(entry):
        raise ForecastFormatError(
            f"{source}: {what} has {shortened(repr(entry), 40)} where a number should stand.",
            next_step=OTHER_SOURCE,
        )
    return float(entry)


def numbers(key: str, entries: Any, n_rows: int, source: str) -> NDArray[np.float64]:
    """A column as floats, null as NaN."""
    if not isinstance(entries, list) or len(entries) != n_rows:
        length = len(entries) if isinstance(entries, list) else "no"
        raise ForecastFormatError(
            f"{source}: {key} has {length} values for {n_rows} hours.", next_step=OTHER_SOURCE
        )
    return np.array([number_or_nan(entry, key, source) for entry in entries], dtype=np.float64)


def moment(label: Any) -> datetime | None:
    """The aware time that an ISO 8601 text with an offset or Z names, in UTC; None if it is none."""
    if not isinstance(label, str):
        return None
    try:
        found = datetime.fromisoformat(label)
        return None if found.tzinfo is None else found.astimezone(UTC)
    except (ValueError, OverflowError):
        return None


def utc_second(label: Any, source: str) -> int:
    """Seconds since 1970 of an ISO 8601 text with an offset or Z."""
    found = moment(label)
    seconds = -1.0 if found is None else found.timestamp()
    if seconds != int(seconds) or not 0 <= seconds < LAST_SECOND:
        raise ForecastFormatError(
            f"{source} has {shortened(repr(label), 40)} where a time like 2026-01-14T15:00:00Z should stand.",
            next_step=SAVE_AGAIN,
        )
    return int(seconds)


def whole_rising_hours(
    seconds: Sequence[int], labels: Sequence[Any], source: str
) -> NDArray[np.datetime64]:
    """The times, if each is a whole hour and comes after the one before it."""
    stamps = np.array(seconds, dtype=np.int64)
    odd = np.flatnonzero(stamps % 3600)
    if odd.size:
        raise ForecastFormatError(
            f"{source}: the time {shortened(str(labels[odd[0]]), 40)} is not a whole hour in UTC.",
            next_step="Ask for timezone=GMT.",
        )
    back = np.flatnonzero(np.diff(stamps) <= 0)
    if back.size:
        raise ForecastFormatError(
            f"{source}: the time {shortened(str(labels[back[0] + 1]), 40)} does not come after the one "
            "before it.",
            next_step=SAVE_AGAIN,
        )
    if (stamps[-1] - stamps[0]) // 3600 >= MAX_HOURS:
        raise ForecastFormatError(f"{source} spans more than {MAX_HOURS} hours.", next_step=SAVE_AGAIN)
    return stamps.astype("datetime64[s]")


def timed_items(
    answer: Mapping[str, Any], key: str, time_key: str, source: str
) -> tuple[list[dict[str, Any]], NDArray[np.datetime64]]:
    """The objects in the list under `key`, and the whole rising hours that each names under `time_key`."""
    rows = items(answer, key, source)
    labels = [row.get(time_key) for row in rows]
    return rows, whole_rising_hours([utc_second(label, source) for label in labels], labels, source)


def on_earth(latitude_deg: Any, longitude_deg: Any) -> bool:
    """Whether both are numbers that a place can have."""
    return (
        is_number(latitude_deg)
        and is_number(longitude_deg)
        and abs(latitude_deg) <= 90.0
        and abs(longitude_deg) <= 180.0
    )
