"""What the page told yesterday is there today, whatever lies in its file."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta

import pytest

from frostguard.notify.brief import PlanBrief
from frostguard.page.yesterday import FILE, answer_before, keep_answer, kept_answers

BEGINS = datetime(2026, 1, 14, 8, tzinfo=UTC)


def brief(hours: float) -> PlanBrief:
    """An answer so many hours on."""
    return PlanBrief(BEGINS + timedelta(hours=hours), date(2026, 1, 14), (), frozenset({date(2026, 1, 15)}), None)


def test_the_answer_of_the_day_before_is_found(tmp_path):
    """Asked morning and evening for five days: at each moment the latest that is 14 hours old or older."""
    for hours in range(0, 120, 12):
        before = answer_before(kept_answers(tmp_path), brief(hours).asked_at)
        assert before == (None if hours < 24 else brief(hours - 24))
        keep_answer(tmp_path, kept_answers(tmp_path), brief(hours))
    kept = kept_answers(tmp_path)
    assert kept == [brief(hours) for hours in range(36, 120, 12)]  # older than three days goes
    assert [file.name for file in tmp_path.iterdir()] == [FILE]


def test_answers_close_together_do_not_push_out_yesterdays(tmp_path):
    """A hundred answers in an hour leave the first of them."""
    keep_answer(tmp_path, [], brief(0))
    for minutes in range(100):
        keep_answer(tmp_path, kept_answers(tmp_path), brief(24 + minutes / 60))
    assert kept_answers(tmp_path) == [brief(0), brief(24)]


@pytest.mark.parametrize(
    "text",
    ["", "[]", "{}", "null", '{"format": 1}', '{"format": 1, "answers": 3}', '{"format": 1, "answers": [{}]}',
     '{"format": 2, "answers": []}', "\x00"],
)  # fmt: skip
def test_a_file_that_is_none_of_ours_is_no_answer(text, tmp_path):
    """It is passed over, and written anew."""
    (tmp_path / FILE).write_text(text)
    assert kept_answers(tmp_path) == []
    keep_answer(tmp_path, kept_answers(tmp_path), brief(0))
    assert kept_answers(tmp_path) == [brief(0)]
    assert json.loads((tmp_path / FILE).read_text())["format"] == 1


def test_a_folder_that_takes_nothing_is_no_fault(tmp_path):
    """Where nothing can be written, nothing is kept, and the page goes on."""
    keep_answer(tmp_path / "nowhere", [], brief(0))
    assert kept_answers(tmp_path / "nowhere") == []
