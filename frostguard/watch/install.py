"""How the check is started by the machine itself: a timer of the user's own, or a line for cron."""

from __future__ import annotations

import re
import shlex
import sys
from dataclasses import dataclass
from pathlib import Path

from frostguard import places

EVERY_MINUTES = 15
"""How often the machine's timer calls; a call with nothing due takes half a second."""

SERVICE_NAME = "frostguard.service"
TIMER_NAME = "frostguard.timer"

PLAIN = re.compile(r"[\w./:=@+-]+", re.ASCII)
"""What a unit file takes as it stands."""


@dataclass(frozen=True, slots=True)
class Install:
    """Texts that make a machine call the check.

    `service` and `timer` are the two files for a timer of the user's own; `cron` is a line for the crontab.
    """

    service: str
    timer: str
    cron: str


def install_texts(garden: Path, settings: Path | None, environment: dict[str, str]) -> Install:
    """What to put where.

    Parameters
    ----------
    garden, settings : Path
        The files; their whole paths are written down.
    environment : dict of str to str
        Only those variables that set places are taken over: a secret is never written into such a file.
    """
    command = [sys.executable, "-m", "frostguard", "nightly", "--once", "--garden", str(garden.resolve())]
    if settings is not None:
        command += ["--settings", str(settings.resolve())]
    folders = (places.CONFIG_VARIABLE, places.DATA_VARIABLE, places.CACHE_VARIABLE)
    set_places = {name: environment[name] for name in folders if environment.get(name)}
    lines = "".join(f"Environment={_assigned(name, value)}\n" for name, value in set_places.items())
    service = (
        "[Unit]\n"
        "Description=Frost check for pot plants: what is due now\n\n"
        "[Service]\n"
        "Type=oneshot\n"
        f"{lines}"
        f"ExecStart={' '.join(_quoted(part) for part in command)}\n"
        "TimeoutStartSec=15min\n"
    )
    timer = (
        "[Unit]\n"
        "Description=Calls the frost check for pot plants\n\n"
        "[Timer]\n"
        f"OnCalendar=*:0/{EVERY_MINUTES}\n"
        "RandomizedDelaySec=5min\n"  # not all at the full hour: the weather services ask for that
        "Persistent=true\n\n"
        "[Install]\n"
        "WantedBy=timers.target\n"
    )
    assigned = "".join(f"{name}={shlex.quote(value)} " for name, value in set_places.items())
    # cron reads a per cent sign as the end of the line
    cron = f"*/{EVERY_MINUTES} * * * * {assigned}{shlex.join(command)} --quiet".replace("%", "\\%")
    return Install(service, timer, cron)


def write_timer(texts: Install, folder: Path) -> tuple[Path, ...]:
    """Write the two files of the timer, each whole or not at all; OSError where that fails."""
    from frostguard.whole_files import write_whole

    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, text in ((SERVICE_NAME, texts.service), (TIMER_NAME, texts.timer)):
        write_whole(folder / name, text)
        written.append(folder / name)
    return tuple(written)


def _quoted(part: str) -> str:
    """One word of a command in a unit file: quoted, with what has a meaning there doubled."""
    return _in_quotes(part).replace("$", "$$")


def _assigned(name: str, value: str) -> str:
    """One assignment of a unit file, where a dollar sign means nothing."""
    return _in_quotes(f"{name}={value}")


def _in_quotes(part: str) -> str:
    if PLAIN.fullmatch(part):
        return part
    return '"' + part.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%") + '"'
