"""The commands: parse, call, print, set the exit code."""

from __future__ import annotations


def main() -> None:
    """Entry point of `frostguard` and of `python -m frostguard`."""
    try:
        from shutil import get_terminal_size

        from frostguard.cli.language import language_of_the_person
        from frostguard.report.layout import use_width
        from frostguard.report.words import use_language

        use_language(language_of_the_person())  # before the next import: help texts are said there
        use_width(get_terminal_size().columns)
        from frostguard.cli.app import app

        app(prog_name="frostguard")
    except KeyboardInterrupt:
        import sys

        from frostguard.cli.exits import INTERRUPTED

        sys.exit(INTERRUPTED)
