"""From a target to a spray water table: what the valves can reach, every row judged, and why it changed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from solidify.case import Case
from solidify.case.model import COOLING_KINDS
from solidify.errors import SolidifyError
from solidify.findings import Finding, Judgement, judge
from solidify.marching import solve, solve_many
from solidify.result import Result
from solidify.studies.demands import Demand, demands, deviations
from solidify.studies.margins import margins
from solidify.studies.spray_solver import (
    Bench,
    Problem,
    Solved,
    case_at,
    lay_out,
    rounded,
    solve_sprays,
)
from solidify.studies.target import AIMS, Target, water_at

__all__ = ["Change", "Holding", "Reach", "Row", "Tuning", "tune"]

_TRIED = (1.25, 1.6, 2.0, 3.0, 5.0)
"""Times the most of a valve that are tried to say what a point out of reach would take."""

_A_ROW = 9
"""Strands marched to judge a row: itself, and each of four inputs up and down."""

_MOVED = 1e-5
"""Close widths for one L/min below which water does not move a limit."""


@dataclass(frozen=True)
class Reach:
    """A point that no water of these valves can meet.

    Parameters
    ----------
    speed, distance : float
        [m/min] and from the meniscus [m].
    wanted, band : float
        [degC] and [K].
    nearest : float
        Surface with every valve that acts there at its end [degC].
    zone : str
        The last zone above the point whose water may change.
    end : float
        Water of that zone at this end of its valve [L/min].
    needed : float
        Water of that zone that would meet the band, all others at the same end; NaN where none of those tried does
        [L/min].
    """

    speed: float
    distance: float
    wanted: float
    band: float
    nearest: float
    zone: str
    end: float
    needed: float

    @property
    def beyond(self) -> float:
        """How far outside the band [K]."""
        return abs(self.nearest - self.wanted) - self.band


@dataclass(frozen=True)
class Holding:
    """What holds a row: a limit, the end of a valve or the edge of a band.

    Parameters
    ----------
    what : str
        In words.
    price : float
        What one unit of relief saves, in the unit of the aim; NaN where relief goes first to what the row does not
        meet.
    unit : str
        Of the relief.
    aim_unit : str
        Of the saving.
    kind : str
        ``"limit"``, ``"band"`` or ``"valve"``.
    """

    what: str
    price: float
    unit: str
    aim_unit: str
    kind: str


@dataclass(frozen=True)
class Change:
    """Why the water of a zone is another than today.

    Parameters
    ----------
    zone : str
        Its name.
    before, after : float
        [L/min].
    reason : str
        Which limit, point or aim it serves.
    """

    zone: str
    before: float
    after: float
    reason: str


@dataclass(frozen=True)
class Row:
    """One speed of the table.

    Parameters
    ----------
    speed : float
        [m/min].
    water : ndarray, shape (zone,)
        [L/min]; NaN where a zone has no water.
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
    holding : tuple of Holding
        The dearest first; empty between rows.
    changes : tuple of Change
        Against today; empty between rows.
    """

    speed: float
    water: np.ndarray
    result: Result
    judgement: Judgement
    off: np.ndarray
    between: bool
    moved: frozenset[str]
    holding: tuple[Holding, ...] = ()
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
    water = np.array([water_at(c) for c in now])
    layout = lay_out(target, water)
    bench = Bench(case, layout, target.speeds)
    before = solve_many(now)
    limits: dict[tuple[str, str], Demand] = {}
    for result in before:
        limits |= demands(result)
    problem = Problem(target, layout, tuple(limits.values()))
    reach = _reach(problem, bench)
    solved = solve_sprays(problem, bench)
    table = np.round([layout.water(s, x) for s, x in enumerate(rounded(solved, problem))], 1)
    kept = ~np.any(layout.spread, axis=1) & np.all(np.isclose(layout.base, water, equal_nan=True), axis=0)
    tuned = _tabled(case, layout.zones, target.speeds, np.where(kept, np.nan, table))
    today = tuple(_today(v, w, r, target) for v, w, r in zip(target.speeds, water, before, strict=True))
    moved = _moved(problem, solved)
    rows = [_row(tuned, v, target, moved) for v in target.speeds]
    between = [
        replace(_row(tuned, (a + b) / 2, target, moved), between=True) for a, b in pairwise(target.speeds)
    ]
    rows = [
        replace(
            row,
            holding=_holding(problem, solved, s),
            changes=_changes(problem, solved, s, today[s].water, row.water),
        )
        for s, row in enumerate(rows)
    ]
    marches = bench.marches + len(before) + _A_ROW * (len(rows) + len(between))
    return Tuning(
        case,
        tuned,
        target,
        layout.zones,
        tuple(bool(x) for x in ~kept),
        today,
        tuple(rows),
        tuple(between),
        reach,
        marches,
    )


def _tabled(case: Case, zones: Sequence[str], speeds: Sequence[float], table: np.ndarray) -> Case:
    """Return the case with a table of water [L/min]; zones with NaN keep what they have."""
    if len(speeds) == 1:
        return case_at(case, speeds[0], zones, table[0])
    changes: dict[str, object] = {}
    for i, (name, zone) in enumerate(zip(zones, case.zone, strict=True)):
        if np.any(np.isnan(table[:, i])):
            continue
        quoted = name.replace("\\", "\\\\").replace('"', '\\"')
        path = f'zone."{quoted}"'
        given = [k for keys in COOLING_KINDS.values() for k in keys if getattr(zone, k) is not None]
        changes |= dict.fromkeys((f"{path}.{k}" for k in given), None)
        rows = zip(speeds, table[:, i].tolist(), strict=True)
        changes[f"{path}.water_at_speed"] = [[v, w] for v, w in rows]
    return case.replace(changes)


def _row(case: Case, speed: float, target: Target, moved: frozenset[str]) -> Row:
    """March and judge one speed of the new table by itself, and with the plant's input errors."""
    one = case.replace({"casting.speed_m_per_min": speed})
    result = solve(one)
    try:
        bands = margins(one, result)
    except SolidifyError:
        bands = {}
    water = np.array(water_at(one))
    return Row(speed, water, result, judge(result, bands), _off(result, target), False, moved)


def _today(speed: float, water: np.ndarray, result: Result, target: Target) -> Row:
    return Row(speed, water, result, judge(result), _off(result, target), False, frozenset())


def _off(result: Result, target: Target) -> np.ndarray:
    return deviations(result, target.points) * np.array([p.band for p in target.points])


def _moved(problem: Problem, solved: Solved) -> frozenset[str]:
    """Return the names of the limits that the free waters move at any speed."""
    largest = np.max([np.abs(s.rooms).max(axis=1, initial=0.0) for s in solved.slope], axis=0)
    return frozenset(d.name for d, change in zip(problem.limits, largest, strict=True) if change > _MOVED)


# ------------------------------------------------------------------------------------------ what can be reached


def _reach(problem: Problem, bench: Bench) -> tuple[Reach, ...]:
    """Find the points that no water of these valves meets, and what their zone would need."""
    target, layout = problem.target, problem.layout
    if not target.points:
        return ()
    n = len(target.speeds)
    ends = (layout.high, layout.low)
    marched = bench.strands([(s, end) for end in ends for s in range(n)])
    starts = np.array([bench.case.zone_bounds[i][0] for i in layout.free])
    found, trials = [], []
    for s in range(n):
        for i, point in enumerate(target.points):
            above = np.flatnonzero(starts < point.distance)
            for e, sign in enumerate((1.0, -1.0)):
                off = float(deviations(marched[e * n + s], target.points)[i]) * point.band
                if sign * off <= point.band:
                    continue
                j = int(above[-1]) if len(above) else -1
                factors = (
                    () if j < 0 else _TRIED if sign > 0 else tuple(f for f in (0.5, 0.0) if layout.low[j] > 0)
                )
                waters = [ends[e].copy() for _ in factors]
                for x, factor in zip(waters, factors, strict=True):
                    x[j] *= factor
                found.append((s, i, j, e, off, len(waters)))
                trials += [(s, x) for x in waters]
    return tuple(_reach_rows(problem, found, trials, bench))


def _reach_rows(
    problem: Problem,
    found: Sequence[tuple[int, int, int, int, float, int]],
    trials: Sequence[tuple[int, np.ndarray]],
    bench: Bench,
) -> list[Reach]:
    target, layout = problem.target, problem.layout
    seen = iter(zip(bench.strands(trials), trials, strict=True)) if trials else iter(())
    rows = []
    for s, i, j, e, off, tried in found:
        point = target.points[i]
        end = (layout.high, layout.low)[e][j] if j >= 0 else math.nan
        sign = (1.0, -1.0)[e]
        waters, excess = [end], [sign * off - point.band]
        for _ in range(tried):
            result, (_, x) = next(seen)
            waters.append(float(x[j]))
            excess.append(sign * float(deviations(result, [point])[0]) * point.band - point.band)
        needed = math.nan
        if min(excess) <= 0:
            order = np.argsort(excess)
            needed = float(np.interp(0.0, np.array(excess)[order], np.array(waters)[order]))
        name = layout.zones[layout.free[j]] if j >= 0 else ""
        nearest = point.temperature + off
        rows.append(
            Reach(
                target.speeds[s],
                point.distance,
                point.temperature,
                point.band,
                nearest,
                name,
                float(end),
                needed,
            )
        )
    return rows


# ------------------------------------------------------------------------------------------ what holds it, and why


def _words(demand: Demand) -> str:
    return f"{demand.label}, {demand.where}" if demand.where else demand.label


def _holding(problem: Problem, solved: Solved, s: int) -> tuple[Holding, ...]:
    """Say what holds a row, the dearest first; a limit is relieved at all its places together."""
    scale, unit = problem.unit
    target, layout = problem.target, problem.layout
    found: list[tuple[float, Holding]] = []
    by_limit: dict[str, list[tuple[float, Demand]]] = {}
    for k, demand in enumerate(problem.limits):
        price, room = float(solved.limit_price[s, k]), solved.views[s].rooms[k]
        if price > 1e-7 and -1e-3 < room < target.room + 0.3:
            by_limit.setdefault(demand.name, []).append((price, demand))
    for places in by_limit.values():
        price, demand = math.fsum(p for p, _ in places), places[0][1]
        where = " and ".join(d.where for _, d in sorted(places, key=lambda pair: -pair[0]) if d.where)
        what = f"{demand.label}, {where}" if where else demand.label
        found.append((price, Holding(what, scale * price / demand.width, demand.unit, unit, "limit")))
    for i, point in enumerate(target.points):
        price = float(solved.point_price[s, i])
        if price > 1e-7 and abs(solved.views[s].off[i]) < 1.01:
            said = Holding(f"band at {point.distance:.2f} m", scale * price / point.band, "K", unit, "band")
            found.append((price, said))
    for j, zone in enumerate(layout.free):
        price = float(solved.valve_price[s, j])
        if abs(price) > 1e-9:
            end = "least" if solved.free[s, j] < 0.5 * (layout.low[j] + layout.high[j]) else "most"
            at = (layout.low if end == "least" else layout.high)[j]
            what = f"{end} of the valve, {layout.zones[zone]} ({at:g} L/min)"
            said = Holding(what, scale * abs(price), "L/min", unit, "valve")
            found.append((abs(price) * max(0.1 * float(layout.high[j]), 1.0), said))
    found.sort(key=lambda pair: -pair[0])
    if not _all_met(problem, solved, s):
        found = [(price, replace(said, price=math.nan)) for price, said in found]
    return tuple(said for price, said in found if price > 1e-3 * found[0][0] or said.kind == "valve")


def _all_met(problem: Problem, solved: Solved, s: int) -> bool:
    """Whether every limit that water moves has the room asked, and every point is inside its band."""
    seen, slope = solved.views[s], solved.slope[s]
    counts = (np.abs(slope.rooms).max(axis=1, initial=0.0) > _MOVED) & (problem.limit_cost > 0)
    short = seen.rooms < problem.target.room - 0.01
    return not np.any(short & counts) and bool(np.all(np.abs(seen.off) < 1.01))


def _changes(
    problem: Problem, solved: Solved, s: int, before: np.ndarray, after: np.ndarray
) -> tuple[Change, ...]:
    """Say why each water changed: what pulls hardest that way."""
    layout = problem.layout
    rows = []
    for i, name in enumerate(layout.zones):
        if not np.any(layout.spread[i]) or abs(after[i] - before[i]) < 0.05:
            continue
        j = int(np.flatnonzero(layout.spread[i])[0])
        rows.append(
            Change(name, float(before[i]), float(after[i]), _why(problem, solved, s, j, after[i] > before[i]))
        )
    return tuple(rows)


def _why(problem: Problem, solved: Solved, s: int, j: int, up: bool) -> str:
    target, layout, view, slope = problem.target, problem.layout, solved.views[s], solved.slope[s]
    sign = 1.0 if up else -1.0
    pulls = [
        (sign * solved.limit_price[s, k] * slope.rooms[k, j], _words(d)) for k, d in enumerate(problem.limits)
    ]
    if target.aim == "nearest":
        for i, point in enumerate(target.points):
            weight = abs(slope.off[i, j]) / (1.0 + abs(view.off[i]))
            pulls.append((1e-3 * weight, f"point at {point.distance:.2f} m"))
    for i, point in enumerate(target.points):
        outward = np.sign(view.off[i]) if abs(view.off[i]) > 0.98 else 0.0
        pull = -sign * outward * slope.off[i, j] * solved.point_price[s, i]
        pulls.append((pull, f"band at {point.distance:.2f} m"))
    if target.aim == "shortest":
        pulls.append((-sign * float(slope.core[j]) / 10.0, "aim: shortest liquid core"))
    if target.aim == "least" and not up:
        pulls.append((float(problem.litre[j]), "aim: least water"))
    best, words = max(pulls, default=(0.0, ""))
    ends = ((layout.low[j], "least"), (layout.high[j], "most"))
    valve = next((f"; valve at its {w}" for e, w in ends if abs(solved.free[s, j] - e) < 0.05), "")
    if best <= 1e-9:
        words = "the waters before it" if target.rising and s else f"aim: {target.aim} {AIMS[target.aim]}"
    return words + valve
