"""The table of formulas in DEVELOPERS.md is complete and true."""

from __future__ import annotations

import ast
import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
PHYSICS = ROOT / "frostguard" / "physics"


TABULATED = {"substrate.cote_konrad_dry_conductivity_w_m_k"}
"""Formulas whose values stand in a catalogue, where a test of the catalogue holds them against it."""


def _formulas() -> set[str]:
    """Every public function of physics/ but those of the engine, as module.function."""
    return {
        f"{path.stem}.{node.name}"
        for path in PHYSICS.glob("*.py")
        if not path.stem.startswith("root_ball")
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")
    }


def _rows() -> list[list[str]]:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    section = text.split("## Physics: formula, source, range, test")[1].split("\n## ")[0]
    table = [line for line in section.splitlines() if line.startswith("| ")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in table[1:]]


def _named() -> list[str]:
    return [name for row in _rows() for name in re.findall(r"`([a-z_]+\.[a-z0-9_]+)`", row[1])]


def test_every_formula_has_one_row_and_every_row_a_formula():
    """A public function of physics without a row fails, as does a row without its function, or with two."""
    named = _named()
    assert set(named) == _formulas()
    assert len(named) == len(set(named))


def test_every_row_tells_source_range_and_check():
    """No cell of the table is left empty."""
    rows = _rows()
    assert len(rows) > 30
    for row in rows:
        assert len(row) == 5, row
        assert all(row), row


def test_every_formula_is_called_by_the_package():
    """No formula stands there for its test alone: each is named in code of the package outside its own definition."""
    trees = [ast.parse(path.read_text(encoding="utf-8")) for path in (ROOT / "frostguard").rglob("*.py")]
    called = {node.id for tree in trees for node in ast.walk(tree) if isinstance(node, ast.Name)}
    called |= {node.attr for tree in trees for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    assert {formula for formula in _formulas() if formula.split(".")[1] not in called} == TABULATED


def test_every_formula_is_named_by_a_test():
    """Each has a test that calls it by its name."""
    text = "\n".join(path.read_text(encoding="utf-8") for path in (ROOT / "tests").rglob("*.py"))
    assert {formula for formula in _formulas() if formula.split(".")[1] not in text} == set()
