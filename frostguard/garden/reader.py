"""Garden and settings files into records, or every fault in them at once."""

from __future__ import annotations

import shlex
from contextlib import suppress
from pathlib import Path

from frostguard.errors import Fault, GardenFileError
from frostguard.garden.fields import Block
from frostguard.garden.model import Garden, Site, Spot
from frostguard.garden.names import folded
from frostguard.garden.read_places import read_site, read_spots, read_stock
from frostguard.garden.read_pots import read_pots
from frostguard.garden.read_settings import read_settings
from frostguard.garden.settings import Settings
from frostguard.garden.yaml_text import Faults, Table, TooManyFaults, parse_yaml

LARGEST_FILE_BYTES = 1_000_000
"""A pot takes some 200 bytes, so this is thousands of pots."""

GARDEN_KEYS = ("site", "spots", "pots", "stock")


def load_garden(path: str | Path) -> Garden:
    """What stands where, from a garden file (YAML; `config/garden.yaml` shows every key).

    Parameters
    ----------
    path : str or Path
        The file, UTF-8.

    Returns
    -------
    Garden
        With every value that the file does not give filled by a stated rule, whose code stands in
        `assumed` of the site, spot or pot (see `frostguard.garden.assumed`).

    Raises
    ------
    GardenFileError
        If anything in the file is wrong, with all its faults, or if it cannot be read.
    """
    name = str(path)
    return garden_in(_read_text(path, name), name)


def garden_text(path: str | Path) -> str:
    """The text of a garden file, unread; GardenFileError where there is none to be had."""
    return _read_text(path, str(path))


def garden_in(text: str, name: str) -> Garden:
    """The garden that a text describes, as `load_garden` reads it from a file of that name."""
    faults = Faults()
    garden = None
    with suppress(TooManyFaults):
        garden = _garden(name, _table(text, "garden", faults), faults)
    if faults or garden is None:
        raise _error(name, faults, "garden")
    return garden


def load_settings(path: str | Path) -> Settings:
    """The person's settings, from a settings file (YAML; `config/settings.yaml` shows every key).

    Parameters
    ----------
    path : str or Path
        The file, UTF-8. What it does not say keeps its default; it may be empty.

    Returns
    -------
    Settings

    Raises
    ------
    GardenFileError
        If anything in the file is wrong, with all its faults, or if it cannot be read.
    """
    name = str(path)
    return settings_in(_read_text(path, name), name)


def settings_in(text: str, name: str) -> Settings:
    """The settings that a text describes, as `load_settings` reads them from a file of that name."""
    faults = Faults()
    settings = Settings()
    with suppress(TooManyFaults):
        settings = read_settings(_table(text, "settings", faults), faults)
    if faults:
        raise _error(name, faults, "settings")
    return settings


def _garden(name: str, table: Table | None, faults: Faults) -> Garden | None:
    if table is None:
        if not faults:
            faults.add(None, "the file is empty; it needs at least site:, spots: and pots:.")
        return None
    block = Block(table, GARDEN_KEYS, "the garden file", faults)
    for key in ("site", "spots", "pots"):
        if block.missing(key):
            block.fault(
                None,
                'the garden file has no "{missing}"; add a line {missing}: and what belongs to it.',
                missing=key,
            )
    site: Site | None = read_site(block.table("site"), faults)
    spot_nodes = block.listing("spots", "spots")
    spots = read_spots(spot_nodes, faults)
    nodes = block.listing("pots", "pots")
    all_read = len(spots) == len(spot_nodes)
    by_name: dict[str, Spot] = {}
    for spot in spots:
        by_name.setdefault(folded(spot.name), spot)
    pots = read_pots(nodes, by_name if all_read else None, faults)
    stock = read_stock(block.table("stock"), faults)
    for key, found in (("spots", spots), ("pots", nodes)):
        if not found and block.has(key) and not faults:
            block.fault(key, 'the list "{key}" is empty; it needs at least one entry.')
    return None if site is None else Garden(path=name, site=site, spots=spots, pots=pots, stock=stock)


def _table(text: str, kind: str, faults: Faults) -> Table | None:
    """The keys at the outermost level of a file; None where there are none or the file is broken."""
    node = parse_yaml(text, faults)
    if node is None or isinstance(node, Table):
        return node
    faults.add(
        node.line,
        "a {kind} file begins with keys such as {example}; this one does not.",
        kind=kind,
        example="site:" if kind == "garden" else "working_windows:",
    )
    return None


def _read_text(path: str | Path, name: str) -> str:
    """The file's text; GardenFileError where there is none to be had."""
    try:
        with Path(path).open("rb") as file:
            content = file.read(LARGEST_FILE_BYTES + 1)
    except FileNotFoundError as error:
        raise _unreadable(
            name, "there is no such file.", "Check its name and folder, and try again."
        ) from error
    except (OSError, ValueError) as error:  # ValueError: a name that no file can have
        reason = getattr(error, "strerror", None) or str(error)
        raise _unreadable(
            name, f"it cannot be read ({reason}).", "Check what it is and who may read it, and try again."
        ) from error
    if len(content) > LARGEST_FILE_BYTES:
        raise _unreadable(
            name,
            f"it is larger than {LARGEST_FILE_BYTES // 1000} kB, so it is no file of pots.",
            "Check that this is the file you mean.",
        )
    return _decoded(content, name)


def _decoded(content: bytes, name: str) -> str:
    if content.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\0" in content:
        raise _unreadable(
            name, "it is not saved as UTF-8 text.", "Save it with the encoding UTF-8, and try again."
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        fault = Fault(line, "here is a letter that is not saved as UTF-8.")
        raise GardenFileError(
            name, (fault,), next_step="Save it with the encoding UTF-8, and try again."
        ) from error


def _unreadable(name: str, sentence: str, next_step: str) -> GardenFileError:
    return GardenFileError(name, (Fault(None, sentence),), next_step=next_step)


def _error(name: str, faults: Faults, kind: str) -> GardenFileError:
    check = f"frostguard garden check --garden {shlex.quote(name)}" if kind == "garden" else "frostguard tonight"
    return GardenFileError(name, faults.in_order(), next_step=f"Put that right, then ask `{check}` again.")
