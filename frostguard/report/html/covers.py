"""What is in the shed, what the jobs take of it, and what is left."""

from __future__ import annotations

from xml.etree.ElementTree import Element

from frostguard.advice.plan import MEASURED_OUT, AdvicePlan
from frostguard.garden.model import Garden
from frostguard.garden.settings import Units
from frostguard.report import measures
from frostguard.report.html.markup import node
from frostguard.report.pieces import piece_name
from frostguard.report.words import decimal, say


def covers_table(plan: AdvicePlan, garden: Garden, units: Units) -> Element | None:
    """A table with a line for each kind of piece; None where neither shed nor jobs know of any."""
    has: dict[tuple[str, str], float] = {}
    for cover in garden.stock.covers if garden.stock.stated else ():
        amount = cover.count if cover.litres is None else cover.count * cover.litres
        key = (cover.material, cover.piece if cover.litres is None else "litres")
        has[key] = has.get(key, 0.0) + amount
    if garden.stock.stated and garden.stock.pot_feet:
        has["pot feet", "set"] = garden.stock.pot_feet
    if garden.stock.stated and garden.stock.crates:
        has["crate", "crate"] = garden.stock.crates
    takes: dict[tuple[str, str], float] = {}
    for use in (use for job in plan.jobs for use in job.covers):
        takes[use.material, use.piece] = takes.get((use.material, use.piece), 0.0) + use.count
    rows = [_row(key, has.get(key), takes.get(key, 0.0), units) for key in dict.fromkeys([*has, *takes])]
    if not rows:
        return None
    heads = (say("Cover"), say("In the shed"), say("Jobs take"), say("Left"))
    return node(
        "table",
        node("thead", node("tr", *(node("th", head, scope="col") for head in heads))),
        node("tbody", *rows),
    )


def _row(key: tuple[str, str], has: float | None, takes: float, units: Units) -> Element:
    material, piece = key
    left = None if has is None else max(has - takes, 0.0)
    cells = (_amount(has, piece, units), _amount(takes, piece, units), _amount(left, piece, units))
    return node(
        "tr",
        node("th", piece_name(material, piece), scope="row"),
        *(node("td", cell) for cell in cells),
    )


def _amount(count: float | None, piece: str, units: Units) -> str:
    """Whole pieces as they are, shares of a sheet or roll to a tenth."""
    if count is None:
        return say("not told")
    if piece in MEASURED_OUT and count > 0.0:
        return measures.liquid(count, units)
    return decimal(count, 0 if abs(count - round(count)) < 0.05 else 1)
