"""Work that does not wait for other work, side by side on all cores in forked processes.

Array operations as small as ours would only wait for each other as threads of one interpreter. A forked
process sees everything that was prepared, and its answers come back through a pipe. Where forking is not safe
(other systems than Linux, other threads running) one core does it all; the answers are the same to the last digit.
"""

from __future__ import annotations

import os
import pickle
import sys
import threading
import warnings
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import TypeVar

_Answer = TypeVar("_Answer")

_at_once = 1
"""How many processes of ours share the cores."""


def cores_left() -> int:
    """Cores for this process, beside those of ours that it shares them with."""
    return max((os.cpu_count() or 1) // _at_once, 1)


def cores_to_use() -> int:
    """Cores that work of this process may be shared out among; 1 where no process can be forked."""
    return cores_left() if _forking_is_safe() else 1


def side_by_side(calls: Sequence[Callable[[], _Answer]], costs: Sequence[float] | None = None) -> list[_Answer]:
    """The answers of some calls, in their order.

    Parameters
    ----------
    calls : sequence of callables without arguments
        Nothing of what they do but their answers, which must be fit for pickling, and what they write to shared
        memory may be needed afterwards. What a process dies of, or what none could be had for, is called here.
    costs : sequence of float, optional
        How long each takes beside the others; all alike if not given.
    """
    global _at_once
    shares = _dealt(costs or [1.0] * len(calls), min(cores_to_use(), len(calls)))
    before, answers = _at_once, dict[int, _Answer]()
    _at_once *= max(len(shares), 1)
    children: list[tuple[int, int]] = []
    try:
        with suppress(OSError):  # no room for another process: what it would have done is done here
            for share in shares[1:]:
                children.append(_forked(calls, share))
        for position in shares[0] if shares else ():
            answers[position] = calls[position]()
    finally:
        for child in children:
            answers |= _answers_of(*child)
        _at_once = before
    return [answers[position] if position in answers else call() for position, call in enumerate(calls)]


def _dealt(costs: Sequence[float], count: int) -> list[list[int]]:
    """Positions dealt out to so many, the dearest first and always to whoever has least."""
    shares: list[list[int]] = [[] for _ in range(count)]
    loads = [0.0] * count
    for position in sorted(range(len(costs)), key=lambda position: -costs[position]):
        least = loads.index(min(loads))
        shares[least].append(position)
        loads[least] += costs[position]
    return shares


def _forking_is_safe() -> bool:
    return sys.platform == "linux" and threading.active_count() == 1


def _forked(calls: Sequence[Callable[[], _Answer]], positions: Sequence[int]) -> tuple[int, int]:
    """The number of a process that makes some of the calls and ends, and the pipe that its answers come through."""
    receiving, sending = os.pipe()
    with warnings.catch_warnings():
        # Python 3.12 counts the idle threads of numpy's linear algebra, which is not used here
        warnings.simplefilter("ignore", DeprecationWarning)
        try:
            child = os.fork()
        except OSError:
            os.close(receiving)
            os.close(sending)
            raise
    if child:
        os.close(sending)
        return child, receiving
    status = 1
    try:
        os.close(receiving)
        answers = {position: calls[position]() for position in positions}
        with os.fdopen(sending, "wb") as pipe:
            pickle.dump(answers, pipe, protocol=pickle.HIGHEST_PROTOCOL)
        status = 0
    finally:
        os._exit(status)  # without a word: nothing of the parent's is to be flushed or closed twice


def _answers_of(child: int, receiving: int) -> dict[int, _Answer]:
    """What a process answered, by position; nothing where it did not end well."""
    with os.fdopen(receiving, "rb") as pipe:
        sent = pipe.read()
    if os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]):
        return {}
    answers: dict[int, _Answer] = pickle.loads(sent)  # of our own process
    return answers
