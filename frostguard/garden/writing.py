"""Writing the garden file and the settings: read back by the strict reader first, whole or not at all, and never
over a change.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from frostguard.errors import Fault, FrostguardError, GardenFileError
from frostguard.garden.model import Garden
from frostguard.garden.reader import garden_in, garden_text, settings_in
from frostguard.garden.settings import Settings
from frostguard.garden.yaml_edit import Entry, Value, added, changed, removed, whole
from frostguard.lock import only_one
from frostguard.report.words import say
from frostguard.whole_files import write_whole

WAIT_S = 5.0
"""How long to wait for another one who writes; writing takes milliseconds."""

NOTHING = ""
"""The version of a file that is not there."""


Names = tuple[str, str | None]
"""A pot's id and label; None where the label may be another one."""


class ChangedMeanwhile(FrostguardError):
    """Somebody else has changed the file since it was read; nothing was written."""


@dataclass(frozen=True, slots=True)
class GardenText:
    """A garden file as it was read: its text, and what tells this text from any other."""

    path: Path
    text: str
    version: str

    @property
    def garden(self) -> Garden:
        """What it says; GardenFileError where it is faulty."""
        return garden_in(self.text, str(self.path))


def read(path: Path) -> GardenText:
    """The file as it stands; GardenFileError where it cannot be read."""
    return GardenText(path, garden_text(path), version_of(path))


def version_of(path: Path) -> str:
    """What tells the file's content from any other; `NOTHING` where there is no file."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except FileNotFoundError:
        return NOTHING


def with_pots(before: GardenText, pots: Sequence[Entry]) -> tuple[str, int]:
    """The text with pots behind the last one, and the line of the first of them; checked by `write` only."""
    _ = before.garden  # a faulty file is told as such, and not changed
    return added(before.text, "pots", pots)


def with_pot_changed(before: GardenText, row: int, values: Mapping[str, Value | None]) -> str:
    """The text with some keys of one pot set anew or (None) taken out; every pot stays the one that it was."""
    names: list[Names] = [(pot.id, pot.label) for pot in before.garden.pots]
    names[row] = (names[row][0], None)  # with other plants it is called otherwise
    return _with_names(changed(before.text, "pots", row, values), names, str(before.path))


def without_pot(before: GardenText, row: int) -> str:
    """The text without one pot; the others stay the ones that they were."""
    names = [(pot.id, pot.label) for pot in before.garden.pots]
    return _with_names(removed(before.text, "pots", row), names[:row] + names[row + 1 :], str(before.path))


def _with_names(text: str, names: Sequence[Names], file: str) -> str:
    """The text with id and label written where a pot would get others from its plants.

    With another id it would get another pot's past, with another label another name than the one printed for it.
    """
    for row, (pot, (known, label)) in enumerate(zip(garden_in(text, file).pots, names, strict=True)):
        moved: dict[str, Value | None] = {} if pot.id == known else {"id": known}
        if label is not None and pot.label != label:
            moved["label"] = label
        if moved:
            text = changed(text, "pots", row, moved)
    return text


def new_garden(site: Entry, spots: Sequence[Entry], pots: Sequence[Entry]) -> str:
    """The text of a new garden file."""
    return whole({"site": site, "spots": spots, "pots": pots})


def write(path: Path, text: str, *, version: str) -> Garden:
    """Put a new text into the garden file.

    Parameters
    ----------
    path : Path
        The file; its folder is made where it is missing.
    text : str
        All of it.
    version : str
        Of the file as it was when the change was begun; `NOTHING` where none was there.

    Returns
    -------
    Garden
        What the file says now.

    Raises
    ------
    GardenFileError
        If the strict reader finds a fault in it.
    ChangedMeanwhile
        If the file is no longer the one that the change was made to.
    """
    garden = garden_in(text, str(path))
    _put(path, text, version)
    return garden


def write_settings(path: Path, text: str, *, version: str) -> Settings:
    """Put a new text into the settings file, as `write` does for the garden file."""
    settings = settings_in(text, str(path))
    _put(path, text, version)
    return settings


def _put(path: Path, text: str, version: str) -> None:
    path = path.resolve()  # where the file is a link, the file behind it is written
    path.parent.mkdir(parents=True, exist_ok=True)
    with only_one(path.with_name(f".{path.name}.lock"), wait_s=WAIT_S) as mine:
        if not mine or version_of(path) != version:
            raise ChangedMeanwhile(
                say("{file} was changed meanwhile; nothing was written.", file=str(path)),
                next_step=say("Look at it as it is now, and make your change again."),
            )
        try:
            write_whole(path, text)
        except OSError as exc:
            reason = exc.strerror or str(exc)
            raise GardenFileError(
                str(path),
                (Fault(None, say("it cannot be written ({reason}).", reason=reason)),),
                next_step=say("Check who may write there and whether the disk is full, and try again."),
            ) from exc
