"""A batch shared out among the cores: threads for compiled loops, forked processes for array operations.

Array operations as small as these would only wait for each other as threads of one interpreter. A forked
process sees everything that was prepared and writes its answers into shared memory. Where forking is not safe
(other systems than Linux, other threads running) or not worth it, one core does it all; the answers are the
same to the last digit.
"""

from __future__ import annotations

import mmap
import os
import sys
import threading
import warnings
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from frostguard.physics.root_ball_fast import computes_compiled
from frostguard.physics.root_ball_inputs import FloatArray

CHUNK = 256
"""Series computed together: enough to make array operations worth their overhead, few enough for the cache."""

WORTH_FORKING = 1500
"""Series-hours from which a second process pays for its start (about 10 ms); measured."""

WORTH_A_THREAD = 64
"""Series that a thread of the compiled engine computes side by side; fewer would leave lanes empty."""


def shared_array(*shape: int) -> FloatArray:
    """Zeros that are the same memory in this process and in those forked from it."""
    size = int(np.prod(shape))
    return np.frombuffer(mmap.mmap(-1, max(8 * size, 1)), dtype=np.float64, count=size).reshape(shape)


def for_all_series(run: Callable[[slice], None], n: int, hours: int) -> None:
    """Call `run` for parts of n series, every series once, side by side where that pays.

    Parameters
    ----------
    run : callable
        Computes the series of a slice and writes them to arrays of `shared_array`. Nothing else of what it
        does may be needed afterwards.
    n, hours : int
        Number of series, and of hours that each is to be computed.
    """
    cores = os.cpu_count() or 1
    compiled = computes_compiled()
    forks = not compiled and cores > 1 and n * hours >= WORTH_FORKING and _forking_is_safe()
    at_once = min(cores, n // WORTH_A_THREAD if compiled else n if forks else 1)
    count = max(-(-n // CHUNK), at_once)
    # every so-many-th series: neighbours are alike, and a part of frozen balls alone would take longest
    parts = [slice(first, n, count) for first in range(count)]
    if forks:
        _in_processes(run, parts, min(cores, count))
    elif compiled:
        with ThreadPoolExecutor(cores) as pool:
            list(pool.map(run, parts))
    else:
        for part in parts:
            run(part)


def _forking_is_safe() -> bool:
    return sys.platform == "linux" and threading.active_count() == 1


def _in_processes(run: Callable[[slice], None], parts: Sequence[slice], count: int) -> None:
    """Some of the parts here, the others in forked processes; what one of them fails at is done again here."""
    shares = [parts[first::count] for first in range(count)]
    children = {_forked(run, share): share for share in shares[1:]}
    undone = []
    try:
        for part in shares[0]:
            run(part)
    finally:
        undone = [part for child, share in children.items() if not _ended_well(child) for part in share]
    for part in undone:
        run(part)


def _forked(run: Callable[[slice], None], parts: Sequence[slice]) -> int:
    """The number of a process that runs these parts and ends."""
    with warnings.catch_warnings():
        # Python 3.12 counts the idle threads of numpy's linear algebra, which is not used here
        warnings.simplefilter("ignore", DeprecationWarning)
        child = os.fork()
    if child:
        return child
    status = 1
    try:
        for part in parts:
            run(part)
        status = 0
    finally:
        os._exit(status)  # without a word: nothing of the parent's is to be flushed or closed twice


def _ended_well(child: int) -> bool:
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
