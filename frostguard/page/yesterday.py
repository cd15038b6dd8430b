"""What the page told yesterday, for who looks at it every day without the nightly check: kept beside the logbook."""

from __future__ import annotations

import json
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path

from frostguard.notify.brief import PlanBrief, brief_from_dict
from frostguard.whole_files import PERSON_ONLY, write_whole

FILE = "page-answers.json"
FORMAT = 1
LARGEST_BYTES = 2_000_000

AGE = timedelta(hours=14)
"""An answer so old was given to another day's question: last evening's at noon, this morning's at night."""

FORGOTTEN = timedelta(days=3)
APART = timedelta(hours=3)
"""Of answers closer together the first is kept."""


def kept_answers(folder: Path) -> list[PlanBrief]:
    """The answers of the last days, the oldest first; none where the file is missing or no file of ours."""
    try:
        path = folder / FILE
        if path.stat().st_size > LARGEST_BYTES:
            return []
        kept = json.loads(path.read_text(encoding="utf-8"))
        return [brief_from_dict(one) for one in kept["answers"]] if kept["format"] == FORMAT else []
    except (OSError, ValueError, KeyError, TypeError):
        return []


def answer_before(answers: list[PlanBrief], now: datetime) -> PlanBrief | None:
    """The latest that is old enough to be yesterday's."""
    return max((one for one in answers if now - FORGOTTEN <= one.asked_at <= now - AGE), default=None,
               key=lambda one: one.asked_at)  # fmt: skip


def keep_answer(folder: Path, answers: list[PlanBrief], now: PlanBrief) -> None:
    """Put an answer beside those of the last days; where the disk does not take it, tomorrow knows of none."""
    lately = [one for one in answers if now.asked_at - FORGOTTEN <= one.asked_at < now.asked_at]
    if lately and now.asked_at - lately[-1].asked_at < APART:
        return
    text = json.dumps({"format": FORMAT, "answers": [one.to_dict() for one in (*lately, now)]})
    with suppress(OSError):
        write_whole(folder / FILE, text, mode=PERSON_ONLY)
