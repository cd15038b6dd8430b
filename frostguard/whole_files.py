"""Files that are there whole or not at all, whatever happens while they are written."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path


def write_whole(path: Path, text: str) -> None:
    """Write a file whole or not at all; OSError with its name if the disk does not take it."""
    temporary = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        temporary.write_text(text, encoding="utf-8", newline="\n")
        temporary.replace(path)
    except OSError as error:
        error.filename, error.filename2 = str(path), None  # the passing name says nothing to a person
        raise
    finally:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)
