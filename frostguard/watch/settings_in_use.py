"""The settings that a round goes by; where a fault came into the file since, those of before it.

A slip in the file would otherwise take away the very channels that could tell of it.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from frostguard.errors import FrostguardError
from frostguard.garden.reader import load_settings
from frostguard.garden.settings import Settings
from frostguard.notify.delivery import plain_notice
from frostguard.notify.notice import Notice, NoticeKind
from frostguard.notify.ringing import quiet_until
from frostguard.report.words import say
from frostguard.whole_files import PERSON_ONLY, write_whole


@dataclass(frozen=True, slots=True)
class InUse:
    """Settings, the file to read them from, what is wrong with the one that was named, and whether that one's
    words of before stand in for it."""

    settings: Settings
    file: Path | None
    fault: FrostguardError | OSError | None = None
    of_before: bool = False


def settings_in_use(named: Path | None, logbook: Path | None) -> InUse:
    """What the named file says, else what it last said in a round that could read it, else the usual settings.

    Parameters
    ----------
    named : Path or None
        The settings file; None for none.
    logbook : Path or None
        The logbook's file, beside which the last settings that could be read lie; None where nothing is kept.
    """
    if named is None:
        return InUse(Settings(), None)
    kept = None if logbook is None else logbook.with_name(f"{logbook.stem}-settings.yaml")
    try:
        settings = load_settings(named)
    except (FrostguardError, OSError) as exc:
        if kept is not None:
            with suppress(FrostguardError, OSError):
                return InUse(load_settings(kept), kept, exc, of_before=True)
        return InUse(Settings(), named, exc)
    if kept is not None:
        _keep(named, kept)
    return InUse(settings, named)


def _keep(named: Path, kept: Path) -> None:
    with suppress(OSError):
        text = named.read_text(encoding="utf-8")
        if not kept.exists() or kept.read_text(encoding="utf-8") != text:
            write_whole(kept, text, mode=PERSON_ONLY)


def settings_notice(in_use: InUse, local: datetime) -> Notice | None:
    """That the file has a fault and what is gone by meanwhile, once a day; None where it has none.

    Where nothing is kept of before, the look itself fails, and tells of the fault.
    """
    if in_use.fault is None or not in_use.of_before:
        return None
    subject = say("The settings cannot be read: the check goes on with those of before.")
    fault = in_use.fault
    why = f"{fault.message} {fault.next_step}" if isinstance(fault, FrostguardError) else str(fault)
    key = f"settings/{local.date().isoformat()}"
    notice = plain_notice(NoticeKind.CHANNEL_FAILED, (key,), subject, [subject, why], local, local.date())
    over = quiet_until(local, in_use.settings.notices)
    return notice if over is None else replace(notice, not_before=over)
