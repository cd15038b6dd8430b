"""The command as a person calls it: in this process by the library's runner, or as a process of its own."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from typer.testing import CliRunner

from frostguard.cli.app import app

ROOT = Path(__file__).parents[2]
DEMO_GARDEN = ROOT / "config" / "garden.yaml"
SAMPLES = ROOT / "samples"


@dataclass(frozen=True, slots=True)
class Reply:
    """What came back: exit code, and what was written where."""

    exit_code: int
    stdout: str
    stderr: str

    @property
    def data(self) -> dict[str, Any]:
        """Standard output as JSON."""
        read: dict[str, Any] = json.loads(self.stdout)
        return read

    @property
    def unfolded(self) -> str:
        """Standard output with its line breaks taken out, so that a sentence can be looked for."""
        return " ".join(self.stdout.split())


def frostguard(*arguments: str | Path) -> Reply:
    """The command in this process; an exception that is no exit is raised, as no person may see one."""
    result = CliRunner().invoke(app, [str(argument) for argument in arguments])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return Reply(result.exit_code, result.stdout, result.stderr)


def frostguard_process(*arguments: str | Path, folder: Path = ROOT, **environment: str) -> Reply:
    """`python -m frostguard` as a process of its own, in `folder`."""
    result = subprocess.run(
        [sys.executable, "-m", "frostguard", *map(str, arguments)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=240,
        cwd=folder,
        env={**os.environ, "PYTHONIOENCODING": "utf-8", **environment},
        check=False,
    )
    return Reply(result.returncode, result.stdout, result.stderr)


def assert_told_not_thrown(reply: Reply) -> None:
    """It could not tell: exit code 1, whole sentences on standard error, and nothing like a traceback."""
    assert reply.exit_code == 1, reply
    lines = reply.stderr.splitlines()
    assert len(lines) >= 2  # what is wrong, and what to do
    assert all(line.isprintable() and line.rstrip().endswith((".", "?")) for line in lines), reply.stderr
    assert "Traceback" not in reply.stderr and "Error(" not in reply.stderr
