"""What the check says about its own work: one line of JSON an event, and nothing while nothing happens."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from datetime import UTC, datetime

Log = Callable[..., None]
"""Called with the event's name and values."""


def log_to_stderr(event: str, **values: object) -> None:
    """Write an event with its time to standard error; JSON keeps line breaks in values from making lines."""
    line = json.dumps({"at": datetime.now(UTC).isoformat(timespec="seconds"), "event": event, **values}, default=str)
    if sys.stderr is not None:
        sys.stderr.write(line + "\n")
        sys.stderr.flush()
