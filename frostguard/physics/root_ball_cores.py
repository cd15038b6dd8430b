"""A batch shared out among the cores: threads for compiled loops, forked processes for array operations.

The processes write their answers into shared memory. Where they are not safe or not worth it, one core does it
all; the answers are the same to the last digit.
"""

from __future__ import annotations

import mmap
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial

import numpy as np

from frostguard.physics.root_ball_fast import computes_compiled
from frostguard.physics.root_ball_inputs import FloatArray
from frostguard.side_by_side import cores_left, cores_to_use, side_by_side

CHUNK = 256
"""Series computed together: enough to make array operations worth their overhead, few enough for the cache."""

WORTH_FORKING = 1500
"""Series-hours from which a second process pays for its start (about 10 ms); measured."""

WORTH_A_PROCESS = 48
"""Series that a process of array operations takes at the least: with fewer each operation costs as much; measured."""

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
    compiled = computes_compiled()
    cores = cores_left() if compiled else cores_to_use()
    forks = not compiled and cores > 1 and n * hours >= WORTH_FORKING and n >= 2 * WORTH_A_PROCESS
    at_once = min(cores, n // WORTH_A_THREAD if compiled else n // WORTH_A_PROCESS if forks else 1)
    count = max(-(-n // CHUNK), at_once)
    # every so-many-th series: neighbours are alike, and a part of frozen balls alone would take longest
    parts = [slice(first, n, count) for first in range(count)]
    if forks:
        side_by_side([partial(run, part) for part in parts])
    elif compiled:
        with ThreadPoolExecutor(cores) as pool:
            list(pool.map(run, parts))
    else:
        for part in parts:
            run(part)
