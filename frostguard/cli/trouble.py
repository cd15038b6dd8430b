"""What the person is told when something outside our own code is wrong.

Our own mistakes stay ordinary exceptions and keep their traceback.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import typer

from frostguard.cli import exits
from frostguard.cli.output import print_err, print_out
from frostguard.errors import FrostguardError
from frostguard.report.words import harmless, say


@contextmanager
def errors_told(*, as_json: bool) -> Iterator[None]:
    """Turn trouble into a sentence, a next step and an exit code.

    Parameters
    ----------
    as_json : bool
        Also print the error as an object on standard output, for the program that reads it.
    """
    try:
        yield
    except FrostguardError as error:
        message, next_step = error.message, error.next_step
    except UnicodeDecodeError:
        message = say("One of the files is not readable text.")
        next_step = say("Save it as UTF-8 text and ask again.")
    except OSError as error:
        message = _what_the_system_said(error)
        next_step = say("Check the file's name and who may read it, and ask again.")
    except typer.Abort:  # questions that were broken off
        print_err(say("Broken off; nothing was written."))
        raise typer.Exit(exits.INTERRUPTED) from None
    except KeyboardInterrupt:
        print_err(say("Stopped."))
        raise typer.Exit(exits.INTERRUPTED) from None
    else:
        return
    _tell(message, next_step, as_json=as_json)
    raise typer.Exit(exits.COULD_NOT_TELL)


def _what_the_system_said(error: OSError) -> str:
    reason = error.strerror or str(error) or type(error).__name__
    if error.filename is None:
        return say("The system said: {reason}.", reason=reason)
    return say("{file}: {reason}.", file=str(error.filename), reason=reason)


def _tell(message: str, next_step: str, *, as_json: bool) -> None:
    _print(message, next_step)
    if as_json:
        from frostguard.report.json_text import render_error_json

        print_out(render_error_json(message, next_step))


def tell(error: FrostguardError) -> None:
    """Say what is wrong beside an answer that could be given all the same."""
    _print(error.message, error.next_step)


def _print(message: str, next_step: str) -> None:
    for line in (*message.splitlines(), *next_step.splitlines()):
        print_err(harmless(line))
