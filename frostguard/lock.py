"""One at a time: a lock that the system gives back when its process ends, however it ends."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

LOOKS_AGAIN_S = 0.25


@contextmanager
def only_one(
    path: Path,
    *,
    wait_s: float = 0.0,
    sleep: Callable[[float], None] = time.sleep,
    monotonic: Callable[[], float] = time.monotonic,
) -> Iterator[bool]:
    """Whether this process is the only one with that lock; True, too, where the system or the folder has no locks.

    Parameters
    ----------
    path : Path
        The lock's file; it stays behind, empty.
    wait_s : float
        How long to wait for another one to finish [s].
    sleep, monotonic : callable
        Stand-ins for waiting in tests.
    """
    try:
        import fcntl

        path.parent.mkdir(parents=True, exist_ok=True)
        handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    except (ImportError, OSError):
        yield True
        return
    ends = monotonic() + wait_s
    try:
        while True:
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError:
                if monotonic() >= ends:
                    yield False
                    return
                sleep(LOOKS_AGAIN_S)
            else:
                yield True
                return
    finally:
        os.close(handle)
