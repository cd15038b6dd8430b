"""Sharing out on a large terrace where everything is short at once: processor time, and how near to the bound.

Run with `pytest -m benchmark -s tests/benchmarks/test_sharing_speed.py`.
"""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest

from frostguard.advice.programme import Programme
from frostguard.advice.scarce import AtHand, Offer
from frostguard.advice.sharing import share_out
from frostguard.advice.supplies import Hood, Needs, Piece, Supplies
from frostguard.garden.catalogue import load_catalogue

pytestmark = pytest.mark.benchmark

HOODS = tuple(Hood("fleece 30", width_m, 1.5 * width_m) for width_m in (0.6, 0.9, 1.2, 1.6))
SPOTS = tuple(f"spot {number}" for number in range(6))


def offers_of(pot: int, random: np.random.Generator) -> list[Offer]:
    """Some fifteen things that could be done for one pot, tonight or before a spell."""
    spot, size = SPOTS[random.integers(len(SPOTS))], random.uniform(0.3, 1.3)
    loss = random.choice([5.0, 20.0, 100.0]) * random.uniform(0.05, 1.0)
    tonight, spell = frozenset({(pot, "tonight")}), frozenset({(pot, "spell")})
    sheet = Needs(area_m2=(("fleece 30", 3.45 * size**2),), spot=spot)
    wrap = Needs(area_m2=(("bubble film", 1.84 * size),))
    mulch = Needs(mulch_litres=(("bark mulch", 8.0 * size),))
    covers = [*(Needs(hoods=((hood, 1),)) for hood in HOODS if hood.width_m >= size), sheet]
    return [
        *(Offer(pot, tonight, 0.40 * loss - 0.8, cover, 3.0, 0) for cover in covers),
        *(Offer(pot, tonight, 0.55 * loss - 1.3, Needs.total([cover, cover]), 4.0, 0) for cover in covers),
        Offer(pot, spell, 0.30 * loss - 1.2, wrap, 5.0, 0),
        Offer(pot, spell, 0.20 * loss - 0.4, mulch, 1.5, 0),
        Offer(pot, spell, 0.35 * loss - 1.6, Needs.total([wrap, mulch]), 6.5, 0),
        Offer(pot, spell, 0.15 * loss - 0.5, Needs(), 2.0, 0, groups_at=spot),
        *(Offer(pot, tonight | spell, 0.6 * loss - 2.0, Needs.total([cover, wrap]), 8.0, 0) for cover in covers[:1]),
        *(
            Offer(pot, tonight | spell, 0.95 * loss - 2.5, Needs(floor=((room, 0.8 * size**2),)), 5.0, 0, leaves=spot)
            for room in ("room", "shed")
        ),
    ]


def terrace(pots: int, seed: int) -> tuple[list[Offer], AtHand]:
    """Offers for so many pots, with covers, floor and minutes for about half of them."""
    random = np.random.default_rng(seed)
    offers = [offer for pot in range(pots) for offer in offers_of(pot, random)]
    sheets = tuple(Piece("fleece 30", "sheet", 6.0, 6.0) for _ in range(6))
    rolls = tuple(Piece("bubble film", "roll", 10.0, 10.0) for _ in range(4))
    floor = {"room": 0.02 * pots, "shed": 0.01 * pots}
    hoods = {hood: max(1, round(0.06 * pots)) for hood in HOODS}
    shed = Supplies(load_catalogue(), hoods, (*sheets, *rolls), {"bark mulch": 2.0 * pots}, pots, floor)
    standing = {spot: len({offer.pot for offer in offers if offer.leaves == spot}) for spot in SPOTS}
    return offers, AtHand(shed, {0: 2.0 * pots}, standing)


def plenty(at_hand: AtHand) -> AtHand:
    """The same with more of everything than all could use."""
    shed = at_hand.supplies
    full = replace(
        shed,
        hoods=dict.fromkeys(shed.hoods, 10_000),
        pieces=tuple(replace(piece, left_m2=1e6) for piece in shed.pieces),
        mulch_litres={"bark mulch": 1e6},
        floor_m2=dict.fromkeys(shed.floor_m2, 1e6),
    )
    # a sheet serves one spot, so that there must be one for each
    return AtHand(replace(full, pieces=full.pieces * 3), {}, dict.fromkeys(at_hand.standing, 10_000))


def bound(offers: list[Offer], at_hand: AtHand) -> float:
    """What could be saved if offers could be taken in parts: no sharing saves more."""
    worthwhile = [position for position, offer in enumerate(offers) if offer.saves_eur > 0.0]
    parts = Programme(offers, worthwhile, at_hand).in_parts()
    return sum(offers[position].saves_eur * share for position, share in parts.taken.items())


@pytest.mark.parametrize("pots", [20, 50, 150])
def test_sharing_out_when_everything_is_short(pots: int) -> None:
    """What is shared out saves nearly as much as if jobs could be done in parts, and far less than plenty would."""
    import highspy  # noqa: F401  the library is loaded once, and not what is measured

    for seed in range(4):
        offers, short = terrace(pots, seed)
        began = time.process_time()
        shared = share_out(offers, short)
        took_s = time.process_time() - began
        all_of_it = share_out(offers, plenty(short))
        saved, most = (sum(offers[one].saves_eur for one in found.taken) for found in (shared, all_of_it))
        at_best = bound(offers, short)
        print(
            f"{pots:4d} pots, {len(offers):5d} offers: {took_s:.2f} s of one processor; {len(shared.taken)} of "
            f"{len(all_of_it.taken)} jobs save {saved:.0f} euro, within {100.0 * (1.0 - saved / at_best):.1f} % of the "
            f"bound; plenty would save {most:.0f}"
        )
        # the bound takes parts of about one job for each thing that is scarce: the fewer pots, the further off
        assert (1.0 - 4.0 / pots) * at_best < saved <= at_best + 1e-6 < most
