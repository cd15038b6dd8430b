"""A word on standard error while a service lets one wait."""

from __future__ import annotations

from threading import Event

import pytest

from frostguard.cli import waiting
from frostguard.cli.waiting import ToldWhileWaiting


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What is written to standard error; `heard` is set with the first line."""
    lines: list[str] = []
    monkeypatch.setattr(waiting, "print_err", lines.append)
    return lines


def test_a_service_that_lets_one_wait_is_named(told: list[str], monkeypatch: pytest.MonkeyPatch):
    """After a while without a word the person hears who is being asked."""
    heard = Event()
    monkeypatch.setattr(waiting, "print_err", lambda line: (told.append(line), heard.set()))

    with ToldWhileWaiting(silent_s=0.01) as asking:
        asking("Open-Meteo")
        assert heard.wait(10.0)

    assert told == ["Still asking Open-Meteo for the weather ..."]


def test_a_quick_answer_is_not_talked_into(told: list[str]):
    """What is answered within the time says nothing on standard error."""
    with ToldWhileWaiting(silent_s=60.0) as asking:
        asking("Open-Meteo")
        asking("Bright Sky")

    assert told == []
