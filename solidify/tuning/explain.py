"""Why a spray table is as it is: what its valves cannot reach, what holds each row, and why a water changed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from solidify.tuning.constraints import Constraint, deviations
from solidify.tuning.solver import Simulator, Solved, SprayProblem
from solidify.tuning.target import AIMS, SurfacePoint

__all__ = ["Change", "ActiveConstraint", "Reach", "changes", "holding", "moved_limits", "out_of_reach"]

_TRIED = (1.25, 1.6, 2.0, 3.0, 5.0)
"""Times the most of a valve that are tried to say what a point out of reach would take."""

_MOVED = 1e-5
"""Close widths for one L/min below which water does not move a limit."""


@dataclass(frozen=True)
class Reach:
    """A point that no water of these valves can meet.

    Parameters
    ----------
    speed : float
        [m/min].
    place : str
        Distance from the meniscus, and the side where it is the fixed one.
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
    place: str
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
class ActiveConstraint:
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


# ------------------------------------------------------------------------------------------ what can be reached


def out_of_reach(problem: SprayProblem, simulator: Simulator) -> tuple[Reach, ...]:
    """Find the points that no water of these valves meets, and what their zone would need.

    Parameters
    ----------
    problem : SprayProblem
        What is sought.
    simulator : Simulator
        Marches strands; those with all valves at either end are there already.

    Returns
    -------
    tuple of Reach
        For each speed and point that is too hot with the most water, or too cold with the least.
    """
    target, layout = problem.target, problem.layout
    if not target.points:
        return ()
    n = len(target.speeds)
    ends = (layout.high, layout.low)
    marched = [*simulator.ends[0], *simulator.ends[1]]
    starts = np.array([simulator.case.zone_bounds[layout.zone(j)][0] for j in range(len(layout.free))])
    found, trials = [], []
    for s in range(n):
        for i, point in enumerate(target.points):
            above = np.flatnonzero(starts < point.distance)
            for e, sign in enumerate((1.0, -1.0)):
                off = float(deviations(marched[e * n + s], target.points)[i]) * point.band
                if sign * off <= point.band:
                    continue
                j = _last_above(problem, above, point)
                factors = (
                    () if j < 0 else _TRIED if sign > 0 else tuple(f for f in (0.5, 0.0) if layout.low[j] > 0)
                )
                waters = [ends[e].copy() for _ in factors]
                for x, factor in zip(waters, factors, strict=True):
                    x[j] *= factor
                found.append((s, i, j, e, off, len(waters)))
                trials += [(s, x) for x in waters]
    return tuple(_reach_rows(problem, found, trials, simulator))


def _last_above(problem: SprayProblem, above: np.ndarray, point: SurfacePoint) -> int:
    """Return the free water of the last zone above a point, of its side where there is one; -1 for none."""
    layout = problem.layout
    if not len(above):
        return -1
    last = [int(j) for j in above if layout.zone(j) == layout.zone(above[-1])]
    return next((j for j in last if layout.parts[layout.free[j]][1] == point.side), last[0])


def _reach_rows(
    problem: SprayProblem,
    found: Sequence[tuple[int, int, int, int, float, int]],
    trials: Sequence[tuple[int, np.ndarray]],
    simulator: Simulator,
) -> list[Reach]:
    target, layout = problem.target, problem.layout
    seen = iter(zip(simulator.strands(trials), trials, strict=True)) if trials else iter(())
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
        name = layout.name(j) if j >= 0 else ""
        nearest = point.temperature + off
        rows.append(
            Reach(
                target.speeds[s],
                point.place,
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


def _words(constraint: Constraint) -> str:
    return f"{constraint.label}, {constraint.where}" if constraint.where else constraint.label


def holding(problem: SprayProblem, solved: Solved, s: int) -> tuple[ActiveConstraint, ...]:
    """Say what holds a row.

    Parameters
    ----------
    problem : SprayProblem
        What was sought.
    solved : Solved
        What was found.
    s : int
        Place of the row among the speeds.

    Returns
    -------
    tuple of ActiveConstraint
        The dearest first; a limit is relieved at all its places together. Without prices where the row does not
        meet all that was asked.
    """
    scale, unit = problem.unit
    target = problem.target
    found: list[tuple[float, ActiveConstraint]] = []
    by_limit: dict[str, list[tuple[float, Constraint]]] = {}
    for k, constraint in enumerate(problem.limits):
        price, room = float(solved.limit_price[s, k]), solved.responses[s].rooms[k]
        if price > 1e-7 and -1e-3 < room < target.room + 0.3:
            by_limit.setdefault(constraint.name, []).append((price, constraint))
    for places in by_limit.values():
        price, constraint = math.fsum(p for p, _ in places), places[0][1]
        where = " and ".join(d.where for _, d in sorted(places, key=lambda pair: -pair[0]) if d.where)
        what = f"{constraint.label}, {where}" if where else constraint.label
        found.append(
            (price, ActiveConstraint(what, scale * price / constraint.width, constraint.unit, unit, "limit"))
        )
    for i, point in enumerate(target.points):
        price = float(solved.point_price[s, i])
        if price > 1e-7 and abs(solved.responses[s].off[i]) < 1.01:
            said = ActiveConstraint(f"band at {point.place}", scale * price / point.band, "K", unit, "band")
            found.append((price, said))
    found += _ends(problem, solved, s)
    found.sort(key=lambda pair: -pair[0])
    if not _all_met(problem, solved, s):
        found = [(price, replace(said, price=math.nan)) for price, said in found]
    stay = ("valve", "loop")
    return tuple(said for price, said in found if price > 1e-3 * found[0][0] or said.kind in stay)


def _ends(problem: SprayProblem, solved: Solved, s: int) -> list[tuple[float, ActiveConstraint]]:
    """Return the valves, loops and shares at their ends, with what weighs them among limits."""
    (scale, unit), layout, free = problem.unit, problem.layout, solved.free[s]
    found = []
    for j in range(len(layout.free)):
        price = float(solved.valve_price[s, j])
        if abs(price) > 1e-9 and layout.alone(j):
            end = "least" if free[j] < 0.5 * (layout.low[j] + layout.high[j]) else "most"
            at = (layout.low if end == "least" else layout.high)[j]
            what = f"{end} of the valve, {layout.name(j)} ({at:g} L/min)"
            said = ActiveConstraint(what, scale * abs(price), "L/min", unit, "valve")
            found.append((abs(price) * max(0.1 * float(layout.high[j]), 1.0), said))
    for rule, price in zip(layout.rules, solved.rule_price[s].tolist(), strict=True):
        if price > 1e-9:
            water = float(np.abs(rule.weights) @ free)
            relief = price * water if rule.kind == "share" else price
            said = ActiveConstraint(
                rule.what, scale * relief, "1" if rule.kind == "share" else "L/min", unit, rule.kind
            )
            found.append((price * max(0.1 * water, 1.0), said))
    return found


def _all_met(problem: SprayProblem, solved: Solved, s: int) -> bool:
    """Whether every limit that water moves has the room asked, and every point is inside its band."""
    seen, slope = solved.responses[s], solved.slope[s]
    cost = problem.weights[0][problem.groups]
    counts = (np.abs(slope.rooms).max(axis=1, initial=0.0) > _MOVED) & (cost > 0)
    short = seen.rooms < problem.target.room - 0.01
    return not np.any(short & counts) and bool(np.all(np.abs(seen.off) < 1.01))


def changes(
    problem: SprayProblem,
    solved: Solved,
    s: int,
    before: tuple[np.ndarray, Sequence[dict[str, float]]],
    after: tuple[np.ndarray, Sequence[dict[str, float]]],
) -> tuple[Change, ...]:
    """Say why each water changed: what pulls hardest that way.

    Parameters
    ----------
    problem : SprayProblem
        What was sought.
    solved : Solved
        What was found.
    s : int
        Place of the row among the speeds.
    before, after : tuple of ndarray of shape (zone,) and sequence of dict
        Water of each zone, and by side where it has sides, of today and of the row [L/min].

    Returns
    -------
    tuple of Change
        Of the waters that changed by 0.05 L/min or more and that a valve can move.
    """
    layout = problem.layout
    rows = []
    for i, name in enumerate(layout.zones):
        own = layout.movable(i)
        if not own:
            continue
        sides = [layout.parts[p][1] for p in layout.of_zone(i)]
        pairs = [(name, own[0], before[0][i], after[0][i])]
        if len(own) == len(sides) > 1:
            was = before[1][i] or dict.fromkeys(sides, math.nan)
            pairs = [
                (f"{name} {side}", j, was[side], after[1][i][side])
                for side, j in zip(sides, own, strict=True)
                if not math.isnan(was[side])
            ] or pairs
        for words, j, old, new in pairs:
            if abs(new - old) >= 0.05:
                rows.append(Change(words, float(old), float(new), _why(problem, solved, s, j, new > old)))
    return tuple(rows)


def _why(problem: SprayProblem, solved: Solved, s: int, j: int, up: bool) -> str:
    target, layout, response, slope = problem.target, problem.layout, solved.responses[s], solved.slope[s]
    sign = 1.0 if up else -1.0
    pulls = [
        (sign * solved.limit_price[s, k] * slope.rooms[k, j], _words(d)) for k, d in enumerate(problem.limits)
    ]
    if target.aim == "nearest":
        for i, point in enumerate(target.points):
            weight = abs(slope.off[i, j]) / (1.0 + abs(response.off[i]))
            pulls.append((1e-3 * weight, f"point at {point.place}"))
    for i, point in enumerate(target.points):
        outward = np.sign(response.off[i]) if abs(response.off[i]) > 0.98 else 0.0
        pull = -sign * outward * slope.off[i, j] * solved.point_price[s, i]
        pulls.append((pull, f"band at {point.place}"))
    if target.aim == "shortest":
        pulls.append((-sign * float(slope.core[j]) / 10.0, "aim: shortest liquid core"))
    if target.aim == "least" and not up:
        pulls.append((float(problem.litre[j]), "aim: least water"))
    best, words = max(pulls, default=(0.0, ""))
    ends = ((layout.low[j], "least"), (layout.high[j], "most"))
    valve = next((f"; valve at its {w}" for e, w in ends if abs(solved.free[s, j] - e) < 0.05), "")
    if best <= 1e-9:
        words = _neighbour(problem, solved, s, j, up) or f"aim: {target.aim} {AIMS[target.aim]}"
    return words + valve


def _neighbour(problem: SprayProblem, solved: Solved, s: int, j: int, up: bool) -> str:
    """Say that a water stands where it is because none falls with the speed; empty where that does not hold it."""
    speeds, other = problem.target.speeds, s - 1 if up else s + 1
    if not problem.target.rising or not 0 <= other < len(speeds):
        return ""
    if abs(solved.free[s, j] - solved.free[other, j]) > 0.06:
        return ""
    return f"no {'less' if up else 'more'} than at {speeds[other]:g} m/min"


def moved_limits(problem: SprayProblem, solved: Solved) -> frozenset[str]:
    """Return the names of the limits that the free waters move at any speed."""
    largest = np.max([np.abs(s.rooms).max(axis=1, initial=0.0) for s in solved.slope], axis=0)
    return frozenset(d.name for d, change in zip(problem.limits, largest, strict=True) if change > _MOVED)
