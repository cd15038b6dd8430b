"""Files that are there whole or not at all, whatever happens while they are written."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path
from stat import S_IMODE

PERSON_ONLY = 0o600
"""Mode of files that hold names, addresses and habits."""


def write_whole(path: Path, text: str, *, mode: int | None = None) -> None:
    """Write a file whole or not at all; OSError with its name if the disk does not take it.

    With a `mode` nobody else can read it at any instant; without one it is as the file before it was, or as the
    system makes files.
    """
    temporary = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        if mode is None and path.exists():
            mode = S_IMODE(path.stat().st_mode)
        if mode is not None:
            temporary.unlink(missing_ok=True)
            temporary.touch(PERSON_ONLY)
            temporary.chmod(mode)
        temporary.write_text(text, encoding="utf-8", newline="\n")
        temporary.replace(path)
    except OSError as error:
        error.filename, error.filename2 = str(path), None  # the passing name says nothing to a person
        raise
    finally:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)
