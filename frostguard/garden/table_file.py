"""Pots from a plain table: a CSV file whose columns are the keys of a pot in the garden file."""

from __future__ import annotations

import csv
import re
from io import StringIO
from pathlib import Path

from frostguard.errors import Fault, GardenFileError
from frostguard.garden.model import Garden
from frostguard.garden.names import nearest
from frostguard.garden.read_pots import MOST_POTS, POT_KEYS
from frostguard.garden.reader import garden_in, garden_text
from frostguard.garden.writing import GardenText, with_pots
from frostguard.garden.yaml_edit import Value
from frostguard.report.words import say

LIST_COLUMNS = ("plants", "covers")
"""Columns whose cells hold several words, with a semicolon between them."""

COLUMNS = POT_KEYS


def with_table(before: GardenText, table: Path) -> tuple[str, Garden, int]:
    """The garden file's text with a pot for each row of a table.

    Parameters
    ----------
    before : GardenText
        The garden file, without faults.
    table : Path
        UTF-8; the first line names the columns, with commas, semicolons or tabs between them. An empty cell is as good
        as a key left out.

    Returns
    -------
    text : str
    garden : Garden
        What that text says.
    pots : int
        How many rows were taken over.

    Raises
    ------
    GardenFileError
        With all faults of the table, each with its line there.
    """
    name = str(table)
    columns, rows = _rows(garden_text(table), name)
    entries = [
        {column: _value(column, cell) for column, cell in zip(columns, cells, strict=True) if cell}
        for _, cells in rows
    ]
    text, first = with_pots(before, entries)
    try:
        return text, garden_in(text, str(before.path)), len(rows)
    except GardenFileError as error:
        raise _told_of_the_table(name, error, _rows_by_line(text, first, [line for line, _ in rows])) from None


def _rows(text: str, name: str) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """The columns, and each row with its line; every row as long as the columns."""
    head = text.partition("\n")[0]
    between = max(",;\t", key=head.count)
    reader = csv.reader(StringIO(text), delimiter=between, strict=True)
    faults: list[Fault] = []
    rows: list[tuple[int, list[str]]] = []
    columns: list[str] = []
    last = 0
    try:
        for cells in reader:
            line, last = last + 1, reader.line_num
            tidy = [" ".join(cell.split()) for cell in cells]
            if not columns:
                columns = [cell.casefold().replace(" ", "_") for cell in tidy]
                faults += _of_columns(columns)
            elif not any(tidy):
                continue
            elif len(tidy) != len(columns):
                faults.append(Fault(line, say(
                    "this row has {count} cells and the first line names {columns} columns; put a text that has "
                    "the sign between cells in it into quotation marks.", count=len(tidy), columns=len(columns))))
            else:
                rows.append((line, tidy))
    except csv.Error:
        faults.append(Fault(last + 1, say("here the quotation marks do not fit; each text has them at both ends.")))
    if not rows and not faults:
        faults.append(Fault(None, say("there is no row in it; the first line names the columns, each other is a pot.")))
    if len(rows) > MOST_POTS:
        faults.append(Fault(rows[MOST_POTS][0], say("there are more than {most} pots.", most=MOST_POTS)))
    if faults:
        raise _error(name, faults)
    return columns, rows


def _of_columns(columns: list[str]) -> list[Fault]:
    faults = []
    for number, column in enumerate(columns):
        if column not in COLUMNS:
            alike = nearest(column, COLUMNS, at_most=1)
            faults.append(Fault(1, (
                say('no column is called "{column}"; perhaps {alike} is meant.', column=column, alike=alike[0])
                if alike
                else say('no column is called "{column}"; its columns are the keys of a pot: {known}.',
                         column=column, known=", ".join(COLUMNS))
            )))
        elif column in columns[:number]:
            faults.append(Fault(1, say('the column "{column}" stands there twice.', column=column)))
    return faults


def _value(column: str, cell: str) -> Value:
    if column in LIST_COLUMNS:
        return tuple(word.strip() for word in cell.split(";") if word.strip())
    return cell


def _rows_by_line(text: str, first: int, lines: list[int]) -> dict[int, int]:
    """For each line of the new pots in the garden file the line of the table that it comes from."""
    found: dict[int, int] = {}
    row = -1
    for number, line in enumerate(text.split("\n")[first - 1 :], start=first):
        if re.match(r" *- ", line):
            row += 1
        if row >= len(lines):
            break
        found[number] = lines[row]
    return found


def _told_of_the_table(name: str, error: GardenFileError, row_of: dict[int, int]) -> GardenFileError:
    return _error(name, [Fault(row_of.get(fault.line or 0), fault.sentence) for fault in error.faults])


def _error(name: str, faults: list[Fault]) -> GardenFileError:
    return GardenFileError(
        name, tuple(faults), next_step=say("Nothing was written. Put that right in the table, then import it again.")
    )
