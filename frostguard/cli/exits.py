"""Exit codes of every command."""

from __future__ import annotations

NOTHING_TO_DO = 0
COULD_NOT_TELL = 1
WRONG_USAGE = 2  # the command-line library's own
SOMETHING_TO_DO = 3
INTERRUPTED = 130  # 128 + SIGINT, the shell's convention
