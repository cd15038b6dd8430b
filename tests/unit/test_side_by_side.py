"""Calls shared out among forked processes: answers in order, and none lost when a process dies."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

from frostguard import side_by_side as module
from frostguard.side_by_side import cores_to_use, side_by_side

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="processes are forked on Linux only")


@pytest.fixture(autouse=True)
def _three_cores(monkeypatch):
    monkeypatch.setattr("os.cpu_count", lambda: 3)
    # other tests may have left a thread that sleeps
    monkeypatch.setattr(module, "_forking_is_safe", lambda: True)


def test_answers_come_in_the_order_of_the_calls():
    """Whichever process made a call, its answer stands in its place."""
    answers = side_by_side([lambda i=i: (i, os.getpid()) for i in range(7)])
    assert [number for number, _ in answers] == list(range(7))
    assert len({process for _, process in answers}) == 3


def test_the_dearest_calls_go_to_different_processes():
    """A call that takes as long as all others has a process to itself."""
    processes = side_by_side([os.getpid] * 5, costs=[1.0, 1.0, 9.0, 1.0, 1.0])
    assert processes.count(processes[2]) == 1


def test_what_a_process_died_of_is_called_again_here():
    """Only in the process that asked does the call succeed, and its answer is there."""
    here = os.getpid()

    def only_here() -> int:
        if os.getpid() != here:
            os._exit(9)
        return here

    assert side_by_side([only_here] * 4) == [here] * 4


def test_a_machine_without_room_for_another_process_does_it_alone(monkeypatch):
    """Where no process can be forked the answers are the same, and no pipe stays open."""

    def no_room() -> int:
        raise BlockingIOError("no process to be had")

    monkeypatch.setattr("os.fork", no_room)
    open_before = len(list(Path("/proc/self/fd").iterdir()))
    assert side_by_side([os.getpid] * 4) == [os.getpid()] * 4
    assert len(list(Path("/proc/self/fd").iterdir())) == open_before
    assert cores_to_use() == 3


def test_a_failure_is_told_as_it_would_be_alone():
    """What every process fails at is raised here, and no process is left behind."""

    def fails() -> None:
        raise ValueError("no such pot")

    with pytest.raises(ValueError, match="no such pot"):
        side_by_side([fails] * 3)
    with pytest.raises(ChildProcessError):
        os.waitpid(-1, os.WNOHANG)


def test_processes_side_by_side_share_the_cores():
    """A call that would share out its own work finds the cores taken, and none of that lasts."""
    assert side_by_side([cores_to_use] * 3) == [1, 1, 1]
    assert cores_to_use() == 3


def test_large_answers_come_through_whole():
    """An answer larger than a pipe holds at once is not waited for in vain."""
    assert [len(answer) for answer in side_by_side([lambda: bytes(3_000_000)] * 3)] == [3_000_000] * 3


def test_no_calls_no_answers():
    """Nothing to do is nothing done."""
    assert side_by_side([]) == []
