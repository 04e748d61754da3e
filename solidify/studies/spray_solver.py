"""The spray water that best meets a target, at several speeds at once.

Water acts only downstream, so a start comes from the zones one after the other, a few waters tried in each. From
there on it is a sequence of linear programmes: every limit, point and aim made straight by finite differences, all of
them marched as one batch, and solved for a step inside a trust region. What cannot be met is let go at a cost, hard
limits last; valves, ties and waters that rise with the speed are kept exactly. Nothing is drawn by lot, and nothing
starts from the water of today.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import block_diag, bmat, csr_array, eye_array, hstack, vstack

from solidify.case import Case
from solidify.case.model import COOLING_KINDS
from solidify.errors import MarchError
from solidify.marching import solve_many
from solidify.result import Result
from solidify.studies.demands import AMPLE, Demand, core_length, demands, deviations, slopes
from solidify.studies.target import Target

__all__ = [
    "Bench",
    "Layout",
    "Problem",
    "Solved",
    "View",
    "case_at",
    "lay_out",
    "rounded",
    "solve_sprays",
    "view",
]

_HARD, _SOFT, _BAND, _TIE, _RESERVE = 1e4, 1e2, 30.0, 1e-3, 1.0
"""Cost of a close width beyond a hard and a soft limit, of a band beyond a point, of water beside another aim, and of
a close width missing from the room kept to a soft limit."""

_EDGE = 0.03
"""Of the room kept to a limit, what is worth as much as the limit itself: rounded waters must not cross it [1]."""

_FIRST, _LARGEST, _LEAST = 0.5, 1.0, 0.004
"""Trust region, as a share of the water."""

_SHRINK, _ROUNDS = 0.4, 20
_SETTLED = 3e-4


@dataclass(frozen=True)
class Layout:
    """Which waters may change: ``water = base + spread @ free`` at each speed.

    Parameters
    ----------
    zones : tuple of str
        In casting order.
    free : tuple of int
        Zone of each free water.
    spread : ndarray, shape (zone, free)
        1 for the zone itself, the ratio for a zone tied to it.
    base : ndarray, shape (speed, zone)
        Water of the others [L/min]; NaN where a zone has no water and is left alone.
    low, high : ndarray, shape (free,)
        [L/min].
    """

    zones: tuple[str, ...]
    free: tuple[int, ...]
    spread: np.ndarray
    base: np.ndarray
    low: np.ndarray
    high: np.ndarray

    def water(self, speed: int, free: np.ndarray) -> np.ndarray:
        """Return the water of every zone [L/min]."""
        return self.base[speed] + self.spread @ free


def lay_out(target: Target, today: np.ndarray) -> Layout:
    """Lay out the waters of a target.

    Parameters
    ----------
    target : Target
        With one valve a zone.
    today : ndarray, shape (speed, zone)
        [L/min].

    Returns
    -------
    Layout
    """
    valves = target.valves
    names = [v.zone for v in valves]
    free = tuple(i for i, v in enumerate(valves) if not v.fixed and not v.tied_to)
    spread, base = np.zeros((len(valves), len(free))), today.copy()
    low, high = (np.array([getattr(valves[i], end) for i in free]) for end in ("low", "high"))
    for j, i in enumerate(free):
        spread[i, j], base[:, i] = 1.0, 0.0
    for i, valve in enumerate(valves):
        if not valve.tied_to or valve.fixed:
            continue
        leader = names.index(valve.tied_to)
        if leader in free:
            j = free.index(leader)
            spread[i, j], base[:, i] = valve.ratio, 0.0
            low[j], high[j] = max(low[j], valve.low / valve.ratio), min(high[j], valve.high / valve.ratio)
        else:
            base[:, i] = valve.ratio * today[:, leader]
    return Layout(tuple(names), free, spread, base, low, high)


def case_at(case: Case, speed: float, zones: Sequence[str], water: np.ndarray) -> Case:
    """Return the case at a speed [m/min] with other waters [L/min]; zones with NaN are left alone."""
    changes: dict[str, object] = {"casting.speed_m_per_min": speed}
    for name, zone, litres in zip(zones, case.zone, water, strict=True):
        if np.isnan(litres):
            continue
        quoted = name.replace("\\", "\\\\").replace('"', '\\"')
        for keys in COOLING_KINDS.values():
            changes |= {f'zone."{quoted}".{k}': None for k in keys if getattr(zone, k) is not None}
        changes[f'zone."{quoted}".water_L_per_min'] = float(litres)
    return case.replace(changes)


class Bench:
    """Marches trial waters of one case, and counts the marches."""

    def __init__(self, case: Case, layout: Layout, speeds: Sequence[float]) -> None:
        self.case, self.layout, self.speeds, self.marches = case, layout, tuple(speeds), 0

    def strands(self, trials: Sequence[tuple[int, np.ndarray]]) -> list[Result]:
        """March one batch of (row of the speed, free waters)."""
        zones = self.layout.zones
        cases = [case_at(self.case, self.speeds[s], zones, self.layout.water(s, x)) for s, x in trials]
        self.marches += len(cases)
        return solve_many(cases)


@dataclass(frozen=True)
class View:
    """A strand as the solver sees it; see `solidify.studies.demands` for the units.

    Parameters
    ----------
    rooms : ndarray, shape (limit,)
        To each limit.
    off : ndarray, shape (point,)
        From each point.
    slope : ndarray, shape (stretch,)
        [K/m].
    core : ndarray, shape ()
        [m].
    """

    rooms: np.ndarray
    off: np.ndarray
    slope: np.ndarray
    core: np.ndarray

    def minus(self, other: View, step: float) -> View:
        """Return the slope of everything between two views."""
        parts = ((getattr(self, k) - getattr(other, k)) / step for k in ("rooms", "off", "slope", "core"))
        return View(*parts)


def view(result: Result, target: Target, keys: Sequence[tuple[str, str]]) -> View:
    """Look at a strand; a limit that it has no place for counts as ample room."""
    found = demands(result)
    rooms = np.array([found[k].room if k in found else AMPLE for k in keys])
    return View(rooms, deviations(result, target.points), slopes(result), np.asarray(core_length(result)))


@dataclass(frozen=True)
class Problem:
    """What is solved.

    Parameters
    ----------
    target : Target
        What is wanted.
    layout : Layout
        What may change.
    limits : tuple of Demand
        One a row of `View.rooms`.
    """

    target: Target
    layout: Layout
    limits: tuple[Demand, ...]

    @property
    def keys(self) -> list[tuple[str, str]]:
        """Names of the limits."""
        return [(d.name, d.where) for d in self.limits]

    @property
    def limit_cost(self) -> np.ndarray:
        """Cost of a close width beyond each limit."""
        soft = _SOFT if self.target.soft else 0.0
        return np.array([_HARD if d.hard else soft for d in self.limits])

    @property
    def reserve_cost(self) -> np.ndarray:
        """Cost of a close width missing from the room kept to each limit."""
        soft = _RESERVE if self.target.soft else 0.0
        return np.array([_HARD if d.hard else soft for d in self.limits])

    @property
    def litre(self) -> np.ndarray:
        """Cost of one L/min of each free water, under the aim of least water."""
        return self.layout.spread.sum(axis=0) / self.layout.high.sum()

    @property
    def unit(self) -> tuple[float, str]:
        """What one of the cost is in the unit of the aim."""
        return {
            "least": (float(self.layout.high.sum()), "L/min"),
            "flattest": (100.0, "K/m"),
            "shortest": (10.0, "m"),
            "nearest": (1.0, "bands"),
        }[self.target.aim]

    def cost(self, seen: View, free: np.ndarray) -> float:
        """Weigh one strand."""
        t = self.target
        water = float(self.litre @ free)
        aim = {
            "least": water,
            "flattest": float(seen.slope.max(initial=0.0)) / 100.0,
            "shortest": float(seen.core) / 10.0,
            "nearest": float(np.abs(seen.off).sum()),
        }[t.aim]
        edge = min(_EDGE, t.room)
        missing = np.clip(t.room - seen.rooms, 0.0, t.room - edge)
        beyond = np.maximum(edge - seen.rooms, 0.0)
        outside = np.maximum(np.abs(seen.off) - 1.0, 0.0)
        limits = float(self.reserve_cost @ missing + self.limit_cost @ beyond)
        return aim + _TIE * water + limits + _BAND * float(outside.sum())


@dataclass(frozen=True)
class Solved:
    """Waters and what holds them there.

    Parameters
    ----------
    free : ndarray, shape (speed, free)
        [L/min].
    views : tuple of View
        Of each speed.
    slope : tuple of (View of ndarray)
        Change of everything with each free water [1/(L/min)], limits first axis.
    limit_price : ndarray, shape (speed, limit)
        What a close width more of room to a limit would save, in the cost of the aim.
    point_price : ndarray, shape (speed, point)
        The same for a band more of a point.
    valve_price : ndarray, shape (speed, free)
        What one L/min beyond its end would save; negative at the least, positive at the most.
    """

    free: np.ndarray
    views: tuple[View, ...]
    slope: tuple[View, ...]
    limit_price: np.ndarray
    point_price: np.ndarray
    valve_price: np.ndarray


def solve_sprays(problem: Problem, bench: Bench) -> Solved:
    """Find the waters.

    Parameters
    ----------
    problem : Problem
        What is asked.
    bench : Bench
        Marches the trials.

    Returns
    -------
    Solved
    """
    n = len(problem.target.speeds)
    free = _start(problem, bench)
    views = _look(problem, bench, list(enumerate(free)))
    slope = _slopes(problem, bench, free, views, range(n))
    radius = np.full(n, _FIRST)
    costs = np.array([problem.cost(v, x) for v, x in zip(views, free, strict=True)])
    cautious = list(views)
    for _ in range(_ROUNDS):
        going = [s for s in range(n) if radius[s] >= _LEAST]
        if not going:
            break
        step, promised, _ = _programme(problem, free, cautious, slope, radius)
        promise = costs - promised
        settled = promise <= _SETTLED * np.maximum(1.0, np.abs(costs)) * 0.1
        radius[settled] = 0.0
        going = [s for s in going if not settled[s]]
        trial = np.clip(free + step, problem.layout.low, problem.layout.high)
        seen = _look(problem, bench, [(s, trial[s]) for s in going])
        taken = []
        for s, found in zip(going, seen, strict=True):
            cost = problem.cost(found, trial[s])
            share = (costs[s] - cost) / promise[s]
            if share > 0.1:
                free[s], views[s], costs[s] = trial[s], found, cost
                cautious[s] = found
                taken.append(s)
            else:
                cautious[s] = _after_refusal(problem, views[s], found, slope[s].rooms @ step[s])
            radius[s] = (
                min(radius[s] * (2.0 if share > 0.7 else 1.0), _LARGEST)
                if share > 0.3
                else _SHRINK * radius[s]
            )
        for s, fresh in zip(taken, _slopes(problem, bench, free, views, taken), strict=True):
            slope[s] = fresh
    prices = _programme(problem, free, views, slope, np.full(n, 0.25))[2]
    return Solved(free, tuple(views), tuple(slope), *prices)


def _after_refusal(problem: Problem, here: View, found: View, straight: np.ndarray) -> View:
    """Note what a refused trial showed: rooms that close faster than they promised, as another place took over."""
    short = _SHRINK * np.minimum(found.rooms - straight - here.rooms, 0.0)
    floor = np.minimum(here.rooms, problem.target.room)
    return replace(here, rooms=np.maximum(here.rooms + short, floor))


def _look(problem: Problem, bench: Bench, trials: Sequence[tuple[int, np.ndarray]]) -> list[View]:
    keys = problem.keys
    return [view(r, problem.target, keys) for r in bench.strands(trials)] if trials else []


def _start(problem: Problem, bench: Bench) -> np.ndarray:
    """Set the zones one after the other by their own points, three waters tried in each."""
    target, layout = problem.target, problem.layout
    n = len(target.speeds)
    free = np.tile(layout.low + (layout.high - layout.low) / 3.0, (n, 1))
    starts = [bench.case.zone_bounds[i][0] for i in layout.free]
    owner = np.searchsorted(starts, [p.distance for p in target.points]) - 1
    for j in range(len(layout.free)):
        mine = [p for p, own in zip(target.points, owner, strict=True) if own == j]
        if not mine:
            continue
        low, high = np.sqrt(layout.low[j]), np.sqrt(layout.high[j])
        roots = np.linspace(low, high, 3)
        trials = []
        for s in range(n):
            for root in roots:
                x = free[s].copy()
                x[j] = root**2
                trials.append((s, x))
        off = np.array([deviations(r, mine).mean() for r in bench.strands(trials)]).reshape(n, len(roots))
        for s in range(n):
            free[s, j] = np.interp(0.0, off[s, ::-1], roots[::-1]) ** 2
    return np.clip(free, layout.low, layout.high)


def _slopes(
    problem: Problem, bench: Bench, free: np.ndarray, views: Sequence[View], rows: Sequence[int]
) -> list[View]:
    """Return the change of everything with each free water, by finite differences, in one batch."""
    layout = problem.layout
    trials, steps = [], []
    for s in rows:
        for j in range(len(layout.free)):
            step = max(0.02 * free[s, j], 0.003 * layout.high[j], 1e-3)
            step = step if free[s, j] + step <= layout.high[j] else -step
            x = free[s].copy()
            x[j] += step
            trials.append((s, x))
            steps.append(step)
    seen = iter(zip(_look(problem, bench, trials), steps, strict=True))
    found = []
    for s in rows:
        columns = [next(seen) for _ in layout.free]
        changes = [v.minus(views[s], step) for v, step in columns]
        found.append(
            View(
                *(
                    np.stack([getattr(c, k) for c in changes], axis=-1)
                    for k in ("rooms", "off", "slope", "core")
                )
            )
        )
    return found


def _programme(
    problem: Problem, free: np.ndarray, views: Sequence[View], slope: Sequence[View], radius: np.ndarray
) -> tuple[np.ndarray, np.ndarray, tuple[np.ndarray, np.ndarray, np.ndarray]]:
    """Solve the straightened problem of all speeds; returns steps, costs promised, and prices."""
    layout, target = problem.layout, problem.target
    n, m = free.shape
    blocks, right, cost, bounds, constant = [], [], [], [], []
    for s in range(n):
        reach = radius[s] * np.maximum(free[s], 0.05 * layout.high)
        a, b, c, fixed = _rows(problem, views[s], slope[s], free[s])
        blocks.append(a)
        right.append(b)
        cost.append(c)
        constant.append(fixed)
        low, high = np.maximum(layout.low - free[s], -reach), np.minimum(layout.high - free[s], reach)
        bounds += [*zip(np.minimum(low, 0.0), np.maximum(high, 0.0), strict=True)]
        bounds += [(0.0, max(target.room - _EDGE, 0.0))] * len(problem.limits)
        bounds += [(0.0, np.inf)] * (len(c) - m - len(problem.limits))
    width = len(cost[0])
    matrix, limits = csr_array(block_diag(blocks)), np.concatenate(right)
    if target.rising and n > 1:
        matrix, limits = _rising(matrix, limits, free, width)
        cost.append(np.full((n - 1) * m, 10.0 * _SOFT) / np.tile(layout.high, n - 1))
        bounds += [(0.0, np.inf)] * ((n - 1) * m)
    found = linprog(np.concatenate(cost), matrix, limits, bounds=bounds, method="highs")
    if found.x is None:
        raise MarchError(f"tuning: the linear programme of the sprays has no solution: {found.message}")
    values = found.x[: n * width].reshape(n, width)
    promised = np.array([c @ v + k for c, v, k in zip(cost, values, constant, strict=False)])
    tall, count, points = blocks[0].shape[0], len(problem.limits), len(target.points)
    dual = -found.ineqlin.marginals[: n * tall].reshape(n, tall)
    at_limits, at_bands = dual[:, :count], dual[:, count + 2 * points : count + 3 * points]
    at = [b.marginals[: n * width].reshape(n, width)[:, :m] for b in (found.lower, found.upper)]
    ends = [
        np.isclose(free + values[:, :m], end, atol=1e-6 * layout.high.max())
        for end in (layout.low, layout.high)
    ]
    valves = -(at[0] * ends[0] + at[1] * ends[1])
    return values[:, :m], promised, (at_limits, at_bands, valves)


def _rows(
    problem: Problem, seen: View, slope: View, free: np.ndarray
) -> tuple[csr_array, np.ndarray, np.ndarray, float]:
    """Return the rows, right side, cost and constant of one speed; columns: step, limits let go, points, steepest."""
    target = problem.target
    m, limits, points = len(free), len(problem.limits), len(seen.off)
    none, one = csr_array, eye_array
    steep = csr_array(np.ones((len(seen.slope), 1)))
    matrix = vstack(
        [
            hstack([-slope.rooms, -one(limits), -one(limits), none((limits, 2 * points + 1))]),
            hstack([slope.off, none((points, 2 * limits)), -one(points), none((points, points + 1))]),
            hstack([-slope.off, none((points, 2 * limits)), -one(points), none((points, points + 1))]),
            hstack([none((points, m + 2 * limits)), one(points), -one(points), none((points, 1))]),
            hstack([slope.slope, none((len(seen.slope), 2 * (limits + points))), -steep]),
        ]
    )
    right = [seen.rooms - target.room, -seen.off, seen.off, np.ones(points), -seen.slope]
    water = problem.litre
    step, constant = _TIE * water, _TIE * float(water @ free)
    if target.aim == "least":
        step, constant = step + water, constant + float(water @ free)
    elif target.aim == "shortest":
        step, constant = step + slope.core / 10.0, constant + float(seen.core) / 10.0
    cost = np.concatenate(
        [
            step,
            problem.reserve_cost,
            problem.limit_cost,
            np.full(points, float(target.aim == "nearest")),
            np.full(points, _BAND),
            [0.01 if target.aim == "flattest" else 0.0],
        ]
    )
    return csr_array(matrix), np.concatenate(right), cost, constant


def _rising(
    matrix: csr_array, right: np.ndarray, free: np.ndarray, width: int
) -> tuple[csr_array, np.ndarray]:
    """Add: the water of a zone does not fall from one speed to the next."""
    n, m = free.shape
    extra = (n - 1) * m
    rows = np.repeat(np.arange(extra), 2)
    at = np.arange(n - 1)[:, None] * width + np.arange(m)[None, :]
    columns = np.stack([at.ravel(), at.ravel() + width], axis=1).ravel()
    signs = np.tile([1.0, -1.0], extra)
    order = csr_array((signs, (rows, columns)), shape=(extra, matrix.shape[1]))
    joined = bmat([[matrix, None], [order, -eye_array(extra)]], format="csr")
    return csr_array(joined), np.concatenate([right, (free[1:] - free[:-1]).ravel()])


def rounded(solved: Solved, problem: Problem) -> np.ndarray:
    """Return the free waters in tenths of a litre per minute, inside the valves, rising where that is wanted."""
    layout = problem.layout
    free = np.round(solved.free, 1)
    if problem.target.rising:
        free = np.maximum.accumulate(free, axis=0)
    return np.clip(free, layout.low, layout.high)
