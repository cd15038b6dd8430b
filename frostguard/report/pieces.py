"""What to bring from the shed, in pieces as they lie there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import inf

from frostguard.advice.plan import Job
from frostguard.report import measures
from frostguard.report.words import say, say_count


def piece_list(jobs: Iterable[Job], in_the_shed: Mapping[tuple[str, str], float]) -> list[str]:
    """The pieces that these jobs need, added up and named.

    Parameters
    ----------
    jobs : iterable of Job
        Their `covers` count a sheet or roll for every pot that gets a part of it.
    in_the_shed : mapping
        Pieces at hand by (material, piece): more than these are never fetched.
    """
    total: dict[tuple[str, str], float] = {}
    for job in jobs:
        for use in job.covers:
            key = (use.material, use.piece)
            total[key] = min(total.get(key, 0.0) + use.count, in_the_shed.get(key, inf))
    return [_piece(material, piece, count) for (material, piece), count in total.items()]


def _piece(material: str, piece: str, count: float) -> str:
    many = 1 if count <= 1 else 2  # "half a roll" is one roll in words, too
    values = {"number": measures.pieces(count), "material": material.replace("_", " ")}
    match piece:
        case "hood":
            return say_count("{number} hood of {material}", "{number} hoods of {material}", many, **values)
        case "sheet":
            return say_count("{number} sheet of {material}", "{number} sheets of {material}", many, **values)
        case "roll":
            return say_count("{number} roll of {material}", "{number} rolls of {material}", many, **values)
        case "bag":
            return say_count("{number} bag of {material}", "{number} bags of {material}", many, **values)
        case "set":
            return say_count("{number} set of {material}", "{number} sets of {material}", many, **values)
        case "litres":
            return say_count("{number} litre of {material}", "{number} litres of {material}", many, **values)
        case other:
            return say("{number} {piece} ({material})", piece=other, **values)
