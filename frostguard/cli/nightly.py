"""The commands of the nightly check: wait and look, do what is due once, have the machine call it."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from frostguard import places
from frostguard.cli import exits, options
from frostguard.cli.files import existing_garden
from frostguard.cli.output import print_err, print_out
from frostguard.cli.trouble import errors_told
from frostguard.errors import FrostguardError
from frostguard.report.words import harmless, say

if TYPE_CHECKING:
    from frostguard.garden.settings import Settings
    from frostguard.notify.channels import Channel
    from frostguard.watch.log import Log
    from frostguard.watch.look import Round

nightly_app = typer.Typer(
    help=say(
        "Look every evening, every morning, before you work and after sunrise, and send what is to be told. "
        "Without --once it waits for the next look until it is stopped."
    ),
    invoke_without_command=True,
    rich_markup_mode=None,
)

WAITS_FOR_ANOTHER_S = 120.0
"""As long as a round takes at most when all goes well."""

Once = Annotated[bool, typer.Option("--once", help=say("Do what is due now, and leave: for cron or a timer."))]
Quiet = Annotated[bool, typer.Option("--quiet", help=say("Say nothing on the terminal while all goes well."))]
Write = Annotated[bool, typer.Option("--write", help=say("Write the timer's two files into your own folder."))]


@nightly_app.callback()
def nightly(
    context: typer.Context,
    garden: options.Garden = None,
    settings: options.Settings = None,
    once: Once = False,
    weather: options.Weather = None,
    at: options.At = None,
    quiet: Quiet = False,
) -> None:
    """Without another word: wait, or with --once do what is due."""
    if context.invoked_subcommand is not None:
        return
    if not once and (weather is not None or at is not None):
        raise typer.BadParameter(say("--weather and --at are for trying out, and go with --once."))
    with errors_told(as_json=False):
        place = existing_garden(garden)
        wishes = places.settings_file() if settings is None else settings
        if not once:
            _wait(place, wishes)
        well = _once(place, wishes, weather, at, quiet=quiet)
    if not well:
        raise typer.Exit(exits.COULD_NOT_TELL)


def _wait(garden: Path, settings: Path | None) -> NoReturn:
    """Become the waiting process, one for each logbook, once its files can be read."""
    from frostguard.garden.reader import load_garden, load_settings
    from frostguard.lock import only_one

    load_garden(garden)
    if settings is not None:
        load_settings(settings)
    with only_one(places.nightly_lock()) as alone:
        if not alone:
            raise FrostguardError(
                say("The check is already waiting for this garden, in another process."),
                next_step=say("Stop that one first, or leave it at its work."),
            )
    print_out(standing_rule())
    files = [str(garden)] if settings is None else [str(garden), str(settings)]
    os.execv(sys.executable, [sys.executable, "-m", "frostguard.watch", *files])


def _once(garden: Path, settings: Path | None, weather: Path | None, at: str | None, *, quiet: bool) -> bool:
    """What is due now, or at the time that is tried out, by a logbook of its own there."""
    from frostguard.lock import only_one
    from frostguard.logbook.book import open_logbook
    from frostguard.notify.channels import open_channels
    from frostguard.watch.heartbeat import give_sign_of_life
    from frostguard.watch.look import Watch, do_what_is_due

    trial = weather is not None or at is not None
    path = places.trial_logbook_file() if trial else places.logbook_file()
    clock = _clock(garden, at)
    log = _log(quiet=quiet)
    with only_one(path.with_suffix(".lock"), wait_s=WAITS_FOR_ANOTHER_S) as alone:
        if not alone:
            raise FrostguardError(
                say("Another process is looking at this moment, and has been for long."),
                next_step=say("Look what it waits for, or end it; the next call tries again."),
            )
        with open_logbook(path) as book:
            if book.trouble is not None:
                log("logbook", why=book.trouble.message)

            def channels(wishes: Settings) -> Sequence[Channel]:
                # what is invented goes to the terminal alone: a false alarm costs more trust than it teaches
                return open_channels(replace(wishes, channels=()) if trial else wishes, write=print_out)

            watch = Watch(garden, settings, weather, book, channels, clock, log=log)
            done = do_what_is_due(watch)
            if done.looks and done.well and not trial:
                give_sign_of_life(done.settings.nightly, log)
    if not done.looks and not done.sent and not quiet:
        print_err(_nothing_due(garden, done, clock()))
    return done.well


def _clock(garden: Path, at: str | None) -> Callable[[], datetime]:
    """The machine's clock, or one that starts at the time that is tried out."""
    if at is None:
        return lambda: datetime.now(UTC)
    from zoneinfo import ZoneInfo

    from frostguard.asked_time import asked_time
    from frostguard.garden.reader import load_garden

    begun = datetime.now(UTC)
    start = asked_time(at, ZoneInfo(load_garden(garden).site.time_zone), begun)
    return lambda: start + (datetime.now(UTC) - begun)


def _log(*, quiet: bool) -> Log:
    """Lines of data for whatever keeps them; a person at a terminal is told of trouble alone, in words."""
    from frostguard.watch.log import log_to_stderr

    if sys.stderr is not None and sys.stderr.isatty():
        return _only_trouble(_trouble_in_words)
    return _only_trouble(log_to_stderr) if quiet else log_to_stderr


def _trouble_in_words(event: str, **values: object) -> None:
    why = values.get("why")
    if why is None:
        print_err(say("This part of the check failed: {part}.", part=event))
    else:
        print_err(harmless(say("{part}: {reason}", part=event, reason=str(why))))


def _only_trouble(log: Log) -> Log:
    """A log without what went as it should."""

    def told(event: str, **values: object) -> None:
        if values.get("why") is not None or values.get("ended") == "failed":
            log(event, **values)

    return told


def _nothing_due(garden: Path, done: Round, now: datetime) -> str:
    """When the next look is."""
    if done.site_clock is None:
        return say("The check could not be made.")
    from zoneinfo import ZoneInfo

    from frostguard.garden.reader import load_garden
    from frostguard.watch.schedule import coming

    following = next(coming(now, load_garden(garden).site, done.settings))
    when = following.at.astimezone(ZoneInfo(done.site_clock))
    return say("Nothing is due. The next look is at {time}.", time=when.isoformat(sep=" ", timespec="minutes"))


@nightly_app.command(
    help=say("Show how the machine can call the check by itself; with --write put the timer's files in place.")
)
def install(garden: options.Garden = None, settings: options.Settings = None, write: Write = False) -> None:
    with errors_told(as_json=False):
        from frostguard.garden.reader import load_garden, load_settings
        from frostguard.watch import install as parts

        place = existing_garden(garden)
        load_garden(place)  # a timer that calls in vain every evening would be found out too late
        wishes = places.settings_file() if settings is None else settings
        if wishes is not None:
            load_settings(wishes)
        texts = parts.install_texts(place, wishes, dict(os.environ))
        folder = _timer_folder()
        if write:
            written = parts.write_timer(texts, folder)
            print_out(say("Written: {files}.", files=", ".join(str(path) for path in written)))
            print_out(say("Nothing else was touched. Switch it on with:"))
        else:
            print_out(say("A timer of your own: two files in {folder} (--write puts them there).", folder=str(folder)))
            print_out(f"\n# {parts.SERVICE_NAME}\n{texts.service}\n# {parts.TIMER_NAME}\n{texts.timer}")
            print_out(say("Then switch it on with:"))
        print_out(f"  systemctl --user daemon-reload\n  systemctl --user enable --now {parts.TIMER_NAME}")
        print_out(say("So that it runs while you are logged out: loginctl enable-linger"))
        if not write:
            print_out("\n" + say("Or instead a line for cron, to be put in with 'crontab -e':") + f"\n  {texts.cron}")
        print_out(say("Neither knows the variables of your shell: let secrets lie in files (file:/whole/path)."))
        print_out("\n" + standing_rule())


def standing_rule() -> str:
    """What every set-up says: a dead machine cannot say that it is dead."""
    return say("No message by 19:00: look yourself.")


def _timer_folder() -> Path:
    """Where the user's own timers lie."""
    base = os.environ.get("XDG_CONFIG_HOME", "")
    return (Path(base) if base else Path.home() / ".config") / "systemd" / "user"
