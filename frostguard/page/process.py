"""Orders carried out in a process of their own: run as a module, it reads one and writes what came of it.

The heat engine lets a second process compute half, which it can only where no other threads run; in a server they do.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from typing import ClassVar, Protocol, TypeVar

from frostguard.errors import FrostguardError
from frostguard.page.work import Trouble
from frostguard.report.words import say

Result_co = TypeVar("Result_co", covariant=True)


class Order(Protocol[Result_co]):
    """Something to work out; it and what comes of it travel between processes.

    What takes longer than `longest_s` hangs, and is given up.
    """

    longest_s: ClassVar[float]

    def __call__(self, now: datetime) -> Result_co:
        """Work it out; FrostguardError where that cannot be."""


Carrier = Callable[[Order[Result_co]], Result_co | Trouble]


def carried_out(order: Order[Result_co], now: datetime) -> Result_co | Trouble:
    """What came of an order, in this process."""
    try:
        return order(now)
    except FrostguardError as error:
        return Trouble(error.message, error.next_step)


def in_a_process(order: Order[Result_co]) -> Result_co | Trouble:
    """What came of an order, worked out in a process of its own."""
    command = [sys.executable, "-m", __name__]
    try:
        done = subprocess.run(
            command, input=pickle.dumps(order), capture_output=True, timeout=order.longest_s, check=True
        )
        found: Result_co | Trouble = pickle.loads(done.stdout)  # written by our own process
    except (subprocess.SubprocessError, pickle.UnpicklingError, EOFError) as exc:
        said = getattr(exc, "stderr", None) or b""
        last = said.decode(errors="replace").strip().rpartition("\n")[2]
        return Trouble(
            say("The answer could not be worked out: {reason}.", reason=last or type(exc).__name__),
            say("Ask 'frostguard tonight' in the terminal; until then look at the thermometer yourself."),
        )
    return found


def main() -> None:
    """Carry out the order that stands on standard input."""
    with os.fdopen(os.dup(1), "wb") as answer:
        os.dup2(2, 1)  # whatever a library prints must not get into the answer
        pickle.dump(carried_out(pickle.load(sys.stdin.buffer), datetime.now(UTC)), answer)


if __name__ == "__main__":
    main()
