"""Makes `references.npz`: fine-grid answers for random pots, and how far they still move on a finer grid.

Run from the repository's top: python -m tests.reference.root_ball.make_references (numba makes it bearable:
about ten minutes on two cores).
"""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from dataclasses import fields
from pathlib import Path

import numpy as np

from frostguard.physics.root_ball import Envelope, RootBalls

from .cases import CROSSINGS_C, DEPTHS_M, envelope_of, random_table, root_balls_of, start_of
from .fine_grid import fine_answer
from .summary import summary

N_POTS = 240
SEED = 20261125
CELL_M = 0.005
FINER_CELL_M = 0.0025
N_FINER = 18


def answer(table_row: np.ndarray, cell_m: float) -> np.ndarray:
    """Summary of one pot's fine-grid curves."""
    table = table_row[None]
    balls, envelope = root_balls_of(table), envelope_of(table)
    pot = {field.name: float(getattr(balls, field.name)[0]) for field in fields(RootBalls)}
    films = np.array([getattr(envelope, field.name)[:, 0] for field in fields(Envelope)])
    readings = fine_answer(pot, films, float(start_of(table)[0]), DEPTHS_M, cell_m)
    return summary(readings[:, :3], readings[:, 3], readings[:, 4], readings[:, 5:], CROSSINGS_C)


def main() -> None:
    """Compute and write."""
    table = random_table(N_POTS, SEED)
    with ProcessPoolExecutor(2) as pool:
        answers = np.array(list(pool.map(answer, table, [CELL_M] * N_POTS, chunksize=4)))
        finer = np.array(list(pool.map(answer, table[:N_FINER], [FINER_CELL_M] * N_FINER)))
    np.savez_compressed(
        Path(__file__).parent / "references.npz",
        table=table,
        answers=answers,
        finer_answers=finer,
        cells_m=np.array([CELL_M, FINER_CELL_M]),
    )


if __name__ == "__main__":
    main()
