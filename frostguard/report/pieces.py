"""What to bring from the shed, in pieces as they lie there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import inf

from frostguard.advice.plan import Job, pieces_to_fetch
from frostguard.garden.settings import Units
from frostguard.report import measures
from frostguard.report.words import say, say_count


def piece_list(jobs: Iterable[Job], in_the_shed: Mapping[tuple[str, str], float], units: Units) -> list[str]:
    """The pieces that these jobs need, added up and named.

    Parameters
    ----------
    jobs : iterable of Job
        Their `covers` count of a sheet or roll the share that each takes.
    in_the_shed : mapping
        Pieces at hand by (material, piece): more than these are never fetched.
    units : Units
        For what is measured out.
    """
    return [
        _piece(use.material, use.piece, min(use.count, in_the_shed.get((use.material, use.piece), inf)), units)
        for use in pieces_to_fetch(jobs)
    ]


def piece_name(material: str, piece: str) -> str:
    """What a kind of piece is called at the head of a line: "fleece, hoods"."""
    kinds = {
        "hood": say("hoods"),
        "sheet": say("sheets"),
        "roll": say("rolls"),
        "bag": say("bags"),
        "set": say("sets"),
        "litres": say("loose"),
    }
    return say("{material}, {pieces}", material=_material(material), pieces=kinds.get(piece, piece))


def _piece(material: str, piece: str, count: float, units: Units) -> str:
    many = 1 if count <= 1 else 2
    values = {"number": measures.pieces(count), "material": _material(material)}
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
            return say("{amount} of {material}", amount=measures.liquid(count, units), **values)
        case other:
            return say("{number} {piece} ({material})", piece=other, **values)


def _material(key: str) -> str:
    """What a cover or mulch of the catalogue is called; one without a name goes by its key."""
    names = {
        "fleece 17": say("light fleece"),
        "fleece 30": say("fleece"),
        "fleece 50": say("thick fleece"),
        "old sheet": say("old cloth"),
        "bubble film": say("bubble film"),
        "jute and straw": say("jute and straw"),
        "coir mat": say("coir matting"),
        "polystyrene board": say("polystyrene board"),
        "straw mulch": say("straw or leaves"),
        "bark mulch": say("bark"),
        "pot feet": say("pot feet"),
    }
    return names.get(key, key.replace("_", " "))
