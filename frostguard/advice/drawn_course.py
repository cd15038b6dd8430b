"""The hours that are drawn of a pot, as it is and with its jobs, in the members that come out as the words tell."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.evening import Evening, branch_now, state_for, untouched_until
from frostguard.advice.middle_course import (
    beside_median_k,
    colder_column,
    coldest_by_column,
    columns_of,
    middle_member,
)
from frostguard.advice.outlook import night_hours
from frostguard.advice.planner import Choice
from frostguard.advice.pot_run import PotRun, run_pots
from frostguard.physics.root_ball import RootBallState

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Curves:
    """Hours of one pot [degC], arrays (n_hours,): ring and core in one member, leaf in one that may be another."""

    ring_c: Array
    core_c: Array
    leaf_c: Array


@dataclass(frozen=True, slots=True)
class Course:
    """What is drawn of a pot left as it is: the weather columns of its curves, and hours of the terrace."""

    row: int
    ring: int
    leaf: int
    last_hour: int
    cut_hour: int
    beside_k: float  # how far the coldest of either lies beside the median that is told


@dataclass(frozen=True, slots=True)
class Helped:
    """What is drawn of a pot with a choice's jobs done: the members of its curves, and the hour from which they act."""

    row: int
    choice: Choice
    start: int
    last_hour: int
    ring_member: int
    leaf_member: int
    beside_k: float


def course_of(evening: Evening, row: int, last_hour: int) -> Course:
    """What to draw of a pot, left as it is, up to that hour; the cut at its coldest hour from the question on."""
    terrace, run = evening.terrace, evening.run
    ring_c, leaf_c = (coldest_by_column(evening, name, row) for name in ("ring_c", "leaf_c"))
    rings, leaves = terrace.colder(ring_c), terrace.colder(leaf_c)
    ring_member = middle_member(rings)
    leaf_member = middle_member(leaves, like=ring_member)
    ring = colder_column(terrace, ring_member, ring_c)
    shown_c = run.ring_c[1 : last_hour - run.first + 1, row, ring]
    return Course(
        row=row,
        ring=ring,
        leaf=colder_column(terrace, leaf_member, leaf_c),
        last_hour=last_hour,
        cut_hour=run.first + 1 + int(np.argmin(shown_c)),
        beside_k=max(beside_median_k(rings, ring_member), beside_median_k(leaves, leaf_member)),
    )


def helped_by(evening: Evening, course: Course, choice: Choice) -> Helped:
    """What to draw of that pot with a choice's jobs done: in the same members, unless others come out as is told."""
    night, n_cases = choice.with_it.first_night, evening.terrace.n_cases
    ring_member = middle_member(night.ring_c, like=course.ring // n_cases)
    leaf_member = middle_member(night.leaf_c, like=course.leaf // n_cases)
    return Helped(
        row=course.row,
        choice=choice,
        start=choice.occasion.acting_hour(evening, course.row),
        last_hour=course.last_hour,
        ring_member=ring_member,
        leaf_member=leaf_member,
        beside_k=max(beside_median_k(night.ring_c, ring_member), beside_median_k(night.leaf_c, leaf_member)),
    )


@dataclass(frozen=True, slots=True)
class OwnRun:
    """Pots left as they are in one member, with its own mean sides: where each stands in the run."""

    run: PotRun
    places: Mapping[int, int]


def own_runs(evening: Evening, courses: Iterable[Course], helped: Iterable[Helped]) -> dict[int, OwnRun]:
    """For each member that is drawn its pots with both of their sides, for their cores and cuts.

    The evening's run has the mean sides of one member only, and moves the others by their exposed sides. From the
    hour of the question on, as there; the states of the hours that are cut, and of those at which jobs act, are kept.
    """
    terrace = evening.terrace
    wanted: dict[int, dict[int, int]] = {}  # by member, by row, the last hour
    kept: dict[int, set[int]] = {}
    for course in courses:
        member = course.ring // terrace.n_cases
        wanted.setdefault(member, {})[course.row] = course.last_hour
        kept.setdefault(member, set()).add(course.cut_hour)
    for one in helped:
        wanted.setdefault(one.ring_member, {})[one.row] = max(one.start, one.last_hour)
        kept.setdefault(one.ring_member, set()).add(one.start)
    runs = {}
    for member, lasts in wanted.items():
        rows, columns = np.array(sorted(lasts)), columns_of(terrace, member)
        run = run_pots(
            terrace,
            [evening.situations[row] for row in rows],
            evening.catalogue,
            branch_now(evening.past, rows, columns),
            evening.now,
            max(lasts.values()),
            columns=columns,
            mean_columns=columns,
            fine_until=evening.fine_until,
            states_at=sorted(kept[member]),
        )
        runs[member] = OwnRun(run, {row: place for place, row in enumerate(rows.tolist())})
    return runs


def helped_curves(
    evening: Evening, helped: Iterable[Helped], own: Mapping[int, OwnRun]
) -> dict[int, Curves]:
    """Curves of pots with their jobs done, by row: rings and leaves as the plan has them, cores by their own runs."""
    every = list(helped)
    curves = {}
    for start in sorted({one.start for one in every}):
        alike = [one for one in every if one.start == start]
        told = _as_planned(evening, alike, start)
        cores = _own_cores(evening, alike, start, own)
        for place, one in enumerate(alike):
            shown = slice(0, max(one.last_hour - start + 1, 0))
            ring, leaf = (
                _in_colder_case(evening, told, place, name, member)
                for name, member in (("ring_c", one.ring_member), ("leaf_c", one.leaf_member))
            )
            curves[one.row] = Curves(ring_c=ring[shown], core_c=cores[one.row][shown], leaf_c=leaf[shown])
    return curves


def _as_planned(evening: Evening, alike: list[Helped], start: int) -> PotRun:
    """Pots with jobs that act from one hour, in the members drawn and, as in the plan, the middle one's mean sides."""
    terrace = evening.terrace
    drawn = [columns_of(terrace, member) for one in alike for member in (one.ring_member, one.leaf_member)]
    columns = np.unique(np.concatenate([terrace.middle_columns, *drawn]))
    untouched = untouched_until(evening, start, np.array([one.row for one in alike]), columns)
    state = _changed(evening, untouched, np.arange(len(alike)), alike)
    return _run_helped(evening, alike, state, start, columns, terrace.middle_columns)


def _own_cores(
    evening: Evening, alike: list[Helped], start: int, own: Mapping[int, OwnRun]
) -> dict[int, Array]:
    """Cores with the jobs done, by row, each member with its own mean sides."""
    cores = {}
    for member in sorted({one.ring_member for one in alike}):
        its = [one for one in alike if one.ring_member == member]
        alone, columns = own[member], columns_of(evening.terrace, member)
        places = np.array([alone.places[one.row] for one in its])
        state = _changed(evening, alone.run, places, its, at_hour=start)
        run = _run_helped(evening, its, state, start, columns, columns)
        for place, one in enumerate(its):
            cores[one.row] = _in_colder_case(evening, run, place, "ring_c", member, then="core_c")
    return cores


def _changed(
    evening: Evening, run: PotRun, places: NDArray[np.intp], helped: list[Helped], at_hour: int | None = None
) -> RootBallState:
    """The state of pots at the hour at which their jobs act, from a run of them as they are."""
    return state_for(
        run,
        places,
        np.arange(run.columns.size),
        [one.choice.option.situation for one in helped],
        [one.choice.option.added_water_fraction for one in helped],
        evening.catalogue,
        at_hour=at_hour,
    )


def _run_helped(
    evening: Evening,
    helped: list[Helped],
    state: RootBallState,
    start: int,
    columns: NDArray[np.intp],
    mean_columns: NDArray[np.intp],
) -> PotRun:
    return run_pots(
        evening.terrace,
        [one.choice.option.situation for one in helped],
        evening.catalogue,
        state,
        start,
        max(start, *(one.last_hour for one in helped)),
        columns=columns,
        mean_columns=mean_columns,
        fine_until=evening.fine_until,
    )


def _in_colder_case(
    evening: Evening, run: PotRun, place: int, curve: str, member: int, *, then: str | None = None
) -> Array:
    """A curve of a pot in that bounding case of a member in which it gets coldest tonight; or another one there."""
    of_member = np.flatnonzero(run.columns // evening.terrace.n_cases == member)
    curves = getattr(run, curve)[:, place, of_member]
    inside = night_hours(evening.terrace, run, evening.nights[0], run.first)
    coldest = (curves[inside] if inside.any() else curves).min(axis=0)
    return np.asarray(getattr(run, then or curve)[:, place, of_member[np.argmin(coldest)]])
