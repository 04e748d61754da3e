"""From a target to a spray water table: what the valves can reach, every row judged, and why it changed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from solidify.assessment.bands import Bands
from solidify.assessment.error_bands import error_bands
from solidify.assessment.judge import Finding, Judgement, judge
from solidify.case import Case
from solidify.case.model import COOLING_KINDS
from solidify.errors import SolidifyError
from solidify.strand.result import Result
from solidify.strand.solve import solve_many
from solidify.tuning.constraints import Constraint, constraints, deviations
from solidify.tuning.explain import (
    ActiveConstraint,
    Change,
    Reach,
    changes,
    holding,
    moved_limits,
    out_of_reach,
)
from solidify.tuning.solver import Simulator, SprayProblem, rounded, solve_sprays
from solidify.tuning.target import Loop, Target, sides_at, water_at
from solidify.tuning.variables import Layout, case_at, key_of, lay_out

__all__ = ["Row", "Tuning", "points_outside", "row_verdict", "tune", "verdict_text"]

_ERRORS = 8
"""Strands marched for the input errors of a row: each of four inputs up and down."""


@dataclass(frozen=True)
class Row:
    """One speed of the table.

    Parameters
    ----------
    speed : float
        [m/min].
    water : ndarray, shape (zone,)
        [L/min]; NaN where a zone has no water.
    sides : tuple of dict of str to float
        Water of each side of each zone, empty where they are not told apart [L/min].
    result : Result
        Marched anew with exactly this water.
    judgement : Judgement
        With the error bands of the plant's input errors.
    off : ndarray, shape (point,)
        Surface above each wanted point [K].
    between : bool
        Whether it lies between two rows of the table.
    moved : frozenset of str
        Names of the limits that water moves.
    holding : tuple of ActiveConstraint
        The dearest first; empty between rows.
    changes : tuple of Change
        Against today; empty between rows.
    """

    speed: float
    water: np.ndarray
    sides: tuple[dict[str, float], ...]
    result: Result
    judgement: Judgement
    off: np.ndarray
    between: bool
    moved: frozenset[str]
    holding: tuple[ActiveConstraint, ...] = ()
    changes: tuple[Change, ...] = ()

    @property
    def breached(self) -> tuple[Finding, ...]:
        """Limits not met."""
        return tuple(f for f in self.judgement.findings if f.verdict == "breached")

    @property
    def on_paper(self) -> tuple[Finding, ...]:
        """Limits that water moves and that are met as computed, but not with the plant's input errors."""
        found = (f for f in self.judgement.findings if f.name in self.moved)
        return tuple(f for f in found if f.verdict == "close" and f.banded)


@dataclass(frozen=True)
class Tuning:
    """A spray water table and all that is known of it.

    Parameters
    ----------
    case : Case
        As given.
    tuned_case : Case
        With the new table: ``water_at_speed``, or for one speed that speed and its water. Zones that stay as they
        are keep the keys they have.
    target : Target
        What was wanted.
    zones : tuple of str
        In casting order.
    tuned : tuple of bool
        Whether the water of each zone may change.
    today : tuple of Row
        The table as it is at the same speeds, without bands.
    rows : tuple of Row
        The new table.
    between : tuple of Row
        Half-way between its rows, with the water that lies there.
    reach : tuple of Reach
        Points that these valves cannot meet.
    marches : int
        Strands marched, all in all.
    """

    case: Case
    tuned_case: Case
    target: Target
    zones: tuple[str, ...]
    tuned: tuple[bool, ...]
    today: tuple[Row, ...]
    rows: tuple[Row, ...]
    between: tuple[Row, ...]
    reach: tuple[Reach, ...]
    marches: int

    @property
    def loops(self) -> tuple[Loop, ...]:
        """Every loop: those that the target names, then each zone or side that none of them feeds."""
        named = self.target.loops
        fed = {feed for loop in named for feed in loop.feeds}
        rest = [
            Loop(f"{zone} {side}".strip(), ((zone, side),))
            for i, zone in enumerate(self.zones)
            for side in (*self.rows[0].sides[i],) or ("",)
            if not {(zone, ""), (zone, side)} & fed and not math.isnan(self.rows[0].water[i])
        ]
        return (*named, *rest)

    def loop_water(self, row: Row, loop: Loop) -> float:
        """Return the water of a loop at one speed [L/min]."""
        place = {zone: i for i, zone in enumerate(self.zones)}
        return math.fsum(
            row.sides[place[zone]][side] if side else float(row.water[place[zone]])
            for zone, side in loop.feeds
        )


def tune(case: Case, target: Target) -> Tuning:
    """Find the spray water table that best meets a target.

    Parameters
    ----------
    case : Case
        A checked case.
    target : Target
        Read for this case.

    Returns
    -------
    Tuning

    Raises
    ------
    InputError, MarchError
        If a strand cannot be marched.
    """
    now = [case.replace({"casting.speed_m_per_min": v}) for v in target.speeds]
    water, sides = np.array([water_at(c) for c in now]), [sides_at(c) for c in now]
    layout = lay_out(target, water, sides)
    simulator = Simulator(case, layout, target.speeds)
    before = solve_many(now)
    limits: dict[tuple[str, str], Constraint] = {}
    for result in before:
        limits |= constraints(result)
    problem = SprayProblem(target, layout, tuple(limits.values()))
    reach = out_of_reach(problem, simulator)
    solved = solve_sprays(problem, simulator)
    table = np.array([layout.water(s, x) for s, x in enumerate(rounded(solved, problem))])
    tuned = [bool(layout.movable(i)) for i in range(len(layout.zones))]
    tuned = [t or not np.allclose(w, 0.0) for t, w in zip(tuned, _moves(layout, water), strict=True)]
    case_tuned = _tabled(case, target, layout, table, tuned)
    moved = moved_limits(problem, solved)
    speeds = [*target.speeds, *((a + b) / 2 for a, b in pairwise(target.speeds))]
    cases = [case_tuned.replace({"casting.speed_m_per_min": v}) for v in speeds]
    marched = solve_many(cases)
    n = len(target.speeds)
    rows = [_row(c, r, target, moved, i >= n) for i, (c, r) in enumerate(zip(cases, marched, strict=True))]
    today = [_row(c, r, target, frozenset(), True) for c, r in zip(now, before, strict=True)]
    judged = [
        replace(
            row,
            between=False,
            holding=holding(problem, solved, s),
            changes=changes(problem, solved, s, (today[s].water, today[s].sides), (row.water, row.sides)),
        )
        for s, row in enumerate(rows[:n])
    ]
    marches = simulator.marches + len(before) + len(rows) + _ERRORS * n
    return Tuning(
        case,
        case_tuned,
        target,
        layout.zones,
        tuple(tuned),
        tuple(replace(row, between=False) for row in today),
        tuple(judged),
        tuple(rows[n:]),
        reach,
        marches,
    )


def _moves(layout: Layout, today: np.ndarray) -> np.ndarray:
    """Return by how much zones that follow no free water differ from today, shape (zone, speed) [L/min]."""
    base = np.array([layout.totals(row) for row in layout.base])
    return np.nan_to_num(base - today).T


def _tabled(case: Case, target: Target, layout: Layout, table: np.ndarray, tuned: Sequence[bool]) -> Case:
    """Return the case with a table of water [L/min]; zones that are not tuned keep what they have."""
    if len(target.speeds) == 1:
        kept = np.repeat(~np.array(tuned), [len(layout.of_zone(i)) for i in range(len(tuned))])
        water = np.where(kept, np.nan, np.round(table[0], 1))
        return case_at(case, target.speeds[0], layout.parts, water)
    changes: dict[str, object] = {}
    for i, (zone, change) in enumerate(zip(case.zone, tuned, strict=True)):
        if not change:
            continue
        path, here = key_of(zone.name), layout.of_zone(i)
        given = [k for keys in COOLING_KINDS.values() for k in keys if getattr(zone, k) is not None]
        changes |= dict.fromkeys((f"{path}.{k}" for k in given), None)
        shares = _constant_shares(table[:, here])
        if len(here) == 1 or shares is not None:
            changes[f"{path}.water_at_speed"] = _rows_of(target, table[:, here].sum(axis=1))
            if shares is not None and len(here) > 1:
                named = zip(here, shares, strict=True)
                changes[f"{path}.side_shares"] = {layout.parts[p][1]: share for p, share in named}
        else:
            changes[f"{path}.side_shares"] = None
            for p in here:
                changes[f"{path}.water_{layout.parts[p][1]}_at_speed"] = _rows_of(target, table[:, p])
        if layout.parts[here[0]][1]:
            narrow = (zone.name, "narrow") in layout.parts
            changes[f"{path}.sprayed_faces"] = "all" if narrow else "wide"
    return case.replace(changes)


def _rows_of(target: Target, water: np.ndarray) -> list[list[float]]:
    return [[v, w] for v, w in zip(target.speeds, np.round(water, 1).tolist(), strict=True)]


def _constant_shares(water: np.ndarray) -> list[float] | None:
    """Return the shares of the parts of a zone where they are alike at every speed, to a thousandth."""
    whole = water.sum(axis=1, keepdims=True)
    shares = water / np.where(whole > 0, whole, 1.0)
    if np.any(whole <= 0) or np.any(np.abs(shares - shares[0]) > 5e-4):
        return None
    found = np.round(shares.mean(axis=0), 4)
    found[0] += 1.0 - found.sum()
    return [round(float(x), 4) for x in found]


def _row(case: Case, result: Result, target: Target, moved: frozenset[str], bare: bool) -> Row:
    """Judge one speed by itself and, unless `bare`, with the plant's input errors."""
    bands: Bands = {}
    if not bare:
        with suppress(SolidifyError):
            bands = error_bands(case, result)
    water = np.array(water_at(case))
    off = deviations(result, target.points) * np.array([p.band for p in target.points])
    speed = case.casting.speed_m_per_min
    return Row(speed, water, sides_at(case), result, judge(result, bands), off, bare, moved)


def points_outside(tuning: Tuning, row: Row) -> list[str]:
    """Return the places of the points outside their bands."""
    pairs = zip(tuning.target.points, row.off, strict=True)
    return [p.place for p, off in pairs if abs(off) > p.band * (1 + 1e-3)]


def row_verdict(tuning: Tuning, row: Row) -> str:
    """Say how a row stands.

    Parameters
    ----------
    tuning : Tuning
        What was tuned.
    row : Row
        One of its rows, or of those between them.

    Returns
    -------
    str
        ``"not met"`` where a limit is breached or a point is outside its band; ``"on paper"`` where a limit that
        the water moves is kept as computed, but not with the input errors of the plant; else ``"kept"``.
    """
    if row.breached or points_outside(tuning, row):
        return "not met"
    return "on paper" if row.on_paper else "kept"


def verdict_text(tuning: Tuning) -> str:
    """Say in one line how the table stands."""
    missed = [f"{r.speed:g}" for r in tuning.rows if row_verdict(tuning, r) == "not met"]
    if missed:
        return f"not met at {', '.join(missed)} m/min"
    return f"every limit{' and point' if tuning.target.points else ''} met, as computed"
