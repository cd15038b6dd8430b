"""What to bring from the shed, in pieces as they lie there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import inf

from frostguard.advice.plan import CoverUse, Job, PieceKind, pieces_to_fetch
from frostguard.garden.settings import Units
from frostguard.report import measures
from frostguard.report.words import all_of, say, say_count

MOST_OF_IT = 0.9
"""Share of a sheet or roll from which the whole of it is told; estimate."""


def piece_list(
    jobs: Sequence[Job],
    in_the_shed: Mapping[PieceKind, float],
    units: Units,
    brought: Sequence[Job] = (),
) -> list[str]:
    """The pieces that these jobs need, added up and named.

    Parameters
    ----------
    jobs : iterable of Job
        Their `covers` count of a sheet or roll the share that each takes.
    in_the_shed : mapping
        Pieces at hand by kind: more than these are never fetched.
    units : Units
        For what is measured out.
    brought : sequence of Job
        Jobs whose pieces are out already: what is cut from the same ones is not fetched again.
    """
    out = {use.kind: use.count for use in pieces_to_fetch(brought)}
    together = {use.kind: use.count for use in pieces_to_fetch((*brought, *jobs))}
    told = []
    for use in pieces_to_fetch(jobs):
        there = in_the_shed.get(use.kind, inf)
        more = min(together[use.kind], there) - min(out.get(use.kind, 0), there)
        if more > 0:
            told.append(_sized(_piece(use.material, use.piece, more, units), use, units))
        else:
            told.append(_same(use.material, use.piece, min(use.count, there)))
    return told


def taken(jobs: Sequence[Job], units: Units) -> str:
    """Which pieces equal jobs take, as a sentence; empty where they take none."""
    pieces = [_taken(whole, jobs, units) for whole in pieces_to_fetch(jobs)]
    return say("Take {pieces}.", pieces=all_of(pieces)) if pieces else ""


def _taken(whole: CoverUse, jobs: Sequence[Job], units: Units) -> str:
    share = sum(use.count for job in jobs for use in job.covers if use.kind == whole.kind)
    values = {"material": _material(whole.material)}
    if whole.count > 1 or share > MOST_OF_IT or whole.piece not in ("sheet", "roll"):
        return _sized(_piece(whole.material, whole.piece, whole.count, units), whole, units)
    if whole.piece == "roll":
        return _sized(say("a length off the roll of {material}", **values), whole, units)
    return _sized(say("part of the sheet of {material}", **values), whole, units)


def _sized(pieces: str, use: CoverUse, units: Units) -> str:
    """The words with the size of one piece, where it has one."""
    if not use.width_m or not use.length_m:
        return pieces
    return say("{pieces} ({size})", pieces=pieces, size=measures.flat_size(use.width_m, use.length_m, units))


def piece_name(material: str, piece: str) -> str:
    """What a kind of piece is called at the head of a line: "fleece, hoods"."""
    kinds = {
        "hood": say("hoods"),
        "sheet": say("sheets"),
        "sleeve": say("sleeves"),
        "roll": say("rolls"),
        "bag": say("bags"),
        "set": say("sets"),
        "litres": say("loose"),
    }
    if piece == "crate":
        return say("crates")
    return say("{material}, {pieces}", material=_material(material), pieces=kinds.get(piece, piece))


def _piece(material: str, piece: str, count: float, units: Units) -> str:
    many = 1 if count <= 1 else 2
    values = {"number": measures.pieces(count), "material": _material(material)}
    match piece:
        case "hood":
            return say_count("{number} hood of {material}", "{number} hoods of {material}", many, **values)
        case "sleeve":
            return say_count("{number} sleeve of {material}", "{number} sleeves of {material}", many, **values)
        case "sheet":
            return say_count("{number} sheet of {material}", "{number} sheets of {material}", many, **values)
        case "roll":
            return say_count("{number} roll of {material}", "{number} rolls of {material}", many, **values)
        case "bag":
            return say_count("{number} bag of {material}", "{number} bags of {material}", many, **values)
        case "set":
            return say_count("{number} set of {material}", "{number} sets of {material}", many, **values)
        case "mat":
            return say_count("{number} mat of {material}", "{number} mats of {material}", many, **values)
        case "board":
            return say_count("{number} board of {material}", "{number} boards of {material}", many, **values)
        case "crate":
            return say_count("1 crate", "{number} crates", many, **values)
        case "litres":
            return say("{amount} of {material}", amount=measures.liquid(count, units), **values)
        case other:
            return say("{number} {piece} ({material})", piece=other, **values)


def _same(material: str, piece: str, count: float) -> str:
    """Pieces that another list has brought out already."""
    many = 1 if count <= 1 else 2
    values = {"material": _material(material)}
    match piece:
        case "roll":
            return say_count("the same roll of {material}", "the same rolls of {material}", many, **values)
        case "sheet":
            return say_count("the same sheet of {material}", "the same sheets of {material}", many, **values)
        case _:
            return say("the same {material}", **values)


def _material(key: str) -> str:
    """What a cover or mulch of the catalogue is called; one without a name goes by its key."""
    names = {
        "fleece 17": say("light fleece"),
        "fleece 30": say("fleece"),
        "fleece 50": say("thick fleece"),
        "old sheet": say("old cloth"),
        "bubble film": say("bubble film"),
        "jute and straw": say("jute and straw"),
        "jute bandage": say("jute bandage"),
        "stem sleeve": say("foam for stems"),
        "coir mat": say("coir matting"),
        "polystyrene board": say("polystyrene board"),
        "straw mulch": say("straw or leaves"),
        "bark mulch": say("bark"),
        "pot feet": say("pot feet"),
        "crate": say("crate"),
    }
    return names.get(key, key.replace("_", " "))
