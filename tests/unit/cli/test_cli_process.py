"""Whole processes: exit codes as a shell sees them, closed pipes, and what help loads."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

HEAVY = ("numpy", "pandas", "httpx", "scipy", "pydantic", "rich", "yaml", "ruamel", "frostguard.nightly")


def run(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """`python -m frostguard` with these arguments."""
    return subprocess.run(
        [sys.executable, "-m", "frostguard", *arguments],
        capture_output=True,
        text=True,
        timeout=60,
        env={**os.environ, **environment},
        check=False,
    )


def test_version_is_the_packages():
    """`--version` names the program and its version and leaves with 0."""
    from importlib.metadata import version

    result = run("--version")
    assert (result.returncode, result.stdout) == (0, f"frostguard {version('frostguard')}\n")


def test_a_wrong_option_leaves_with_two():
    """Wrong usage, as the shell sees it."""
    result = run("tonight", "--nonsense")
    assert result.returncode == 2
    assert "--nonsense" in result.stderr and "Traceback" not in result.stderr


def test_help_loads_nothing_heavy():
    """Help needs no arrays, tables, network or parsing libraries; that is what keeps it quick."""
    code = (
        "import sys\nfrom frostguard.cli import main\nsys.argv = ['frostguard', '--help']\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        f"print('LOADED', [name for name in {HEAVY!r} if name in sys.modules])"
    )
    result = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True
    )

    assert "Usage:" in result.stdout
    assert result.stdout.splitlines()[-1] == "LOADED []"


def test_help_in_a_plain_ascii_terminal():
    """Help comes out where the locale knows no other characters."""
    result = run("tonight", "--help", PYTHONIOENCODING="ascii", LC_ALL="C")
    assert result.returncode == 0


def test_without_a_garden_file_it_could_not_tell(tmp_path: Path):
    """Exit code 1, the sentence, and no trace."""
    result = run("garden", "check", FROSTGUARD_CONFIG_DIR=str(tmp_path), FROSTGUARD_GARDEN="")

    assert result.returncode == 1
    assert "there is no garden file here yet" in result.stderr and "Traceback" not in result.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="pipes close differently there")
def test_a_reader_that_goes_away_causes_no_noise():
    """`| head` ends quietly, and the exit code still tells what was found."""
    code = (
        "import os, sys\nfrom frostguard.cli.output import print_out\n"
        "for _ in range(5):\n    print_out('x' * 100_000)\nsys.exit(3)"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    assert process.stdout is not None and process.stderr is not None
    process.stdout.close()
    errors = process.stderr.read()
    process.stderr.close()

    assert (process.wait(timeout=60), errors) == (3, "")
