"""The spray water that best meets a target, at several speeds at once.

Two strands a speed, with every valve at its most and at its least, say between which surfaces each point lies; that
gives the start. From there on it is a sequence of linear programmes: every limit, point and aim made straight by
finite differences, all of them marched as one batch, and solved for a step inside a trust region. What cannot be met
is let go at a cost, hard limits last; valves, ties, side shares and loops are kept exactly. Nothing is drawn by lot,
and nothing starts from the water of today.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import block_diag, bmat, csr_array, diags_array, eye_array, kron, vstack

from solidify.case import Case
from solidify.errors import MarchError
from solidify.strand.result import Result
from solidify.strand.result_batch import Results
from solidify.strand.solve import solve_many
from solidify.tuning.constraints import AMPLE, Constraint, constraints, core_length, deviations, slopes
from solidify.tuning.target import Target
from solidify.tuning.variables import Layout, case_at

__all__ = ["Simulator", "SprayProblem", "Solved", "Response", "rounded", "solve_sprays", "response"]

_HARD, _SOFT, _BAND, _TIE, _RESERVE = 1e4, 1e2, 30.0, 1e-3, 1.0
"""Cost of a close width beyond a hard and a soft limit, of a band beyond a point, of water beside another aim, and of
a close width missing from the room kept to a soft limit."""

_SMOOTH = {"nearest": 0.3, "least": 0.01, "flattest": 0.01, "shortest": 0.01}
"""Cost of a kink over the speeds as high as the most of its water: what decides between tables that do equally well.
A kink of a tenth is worth three hundredths of a band, or a thousandth of the water."""

_EDGE = 0.03
"""Of the room kept to a limit, what is worth as much as the limit itself: rounded waters must not cross it [1]."""

_FIRST, _LARGEST, _LEAST = 0.5, 1.0, 0.004
"""Trust region, as a share of the water."""

_SHRINK, _ROUNDS, _SMOOTHING = 0.4, 20, 6

_SETTLED = {"nearest": 2e-3, "least": 5e-5, "flattest": 5e-4, "shortest": 5e-4}
"""Gain of a round that is worth no further one, in the cost of the aim: hundredths of a kelvin and of a metre, and
hundredths of a percent of the water."""

_SETTLED_SHARE = 3e-5
"""The same as a share of the cost where not everything can be met [1]."""


class Simulator:
    """Marches trial waters of one case, and counts the marches."""

    def __init__(self, case: Case, layout: Layout, speeds: Sequence[float]) -> None:
        self.case, self.layout, self.speeds, self.marches = case, layout, tuple(speeds), 0

    def strands(self, trials: Sequence[tuple[int, np.ndarray]]) -> list[Result]:
        """March one batch of (row of the speed, free waters)."""
        parts = self.layout.parts
        cases = [case_at(self.case, self.speeds[s], parts, self.layout.water(s, x)) for s, x in trials]
        self.marches += len(cases)
        return solve_many(cases)

    @cached_property
    def ends(self) -> tuple[list[Result], list[Result]]:
        """Strands of each speed with every valve at its most, and at its least."""
        n = len(self.speeds)
        marched = self.strands([(s, end) for end in (self.layout.high, self.layout.low) for s in range(n)])
        return marched[:n], marched[n:]


@dataclass(frozen=True)
class Response:
    """A strand as the solver sees it; see `solidify.tuning.constraints` for the units.

    Parameters
    ----------
    rooms : ndarray, shape (limit,)
        To each limit.
    off : ndarray, shape (point,)
        From each point.
    slope : ndarray, shape (stretch,)
        [K/m]; empty where the aim does not ask for it.
    core : ndarray, shape ()
        [m].
    """

    rooms: np.ndarray
    off: np.ndarray
    slope: np.ndarray
    core: np.ndarray

    def minus(self, other: Response, step: float) -> Response:
        """Return the slope of everything between two views."""
        parts = ((getattr(self, k) - getattr(other, k)) / step for k in ("rooms", "off", "slope", "core"))
        return Response(*parts)


def response(result: Result, target: Target, keys: Sequence[tuple[str, str]]) -> Response:
    """Look at a strand; a limit that it has no place for counts as ample room."""
    found = constraints(result)
    rooms = np.array([found[k].room if k in found else AMPLE for k in keys])
    steep = slopes(result) if target.aim == "flattest" else np.empty(0)
    return Response(
        rooms, deviations(result, target.points), steep, np.asarray(core_length(Results.of(result)))
    )


@dataclass(frozen=True)
class SprayProblem:
    """What is solved.

    Parameters
    ----------
    target : Target
        What is wanted.
    layout : Layout
        What may change.
    limits : tuple of Constraint
        One a row of `Response.rooms`.
    """

    target: Target
    layout: Layout
    limits: tuple[Constraint, ...]

    @property
    def keys(self) -> list[tuple[str, str]]:
        """Names of the limits."""
        return [(d.name, d.where) for d in self.limits]

    @cached_property
    def groups(self) -> np.ndarray:
        """Which limit each row belongs to, by number in the order of `weights`; shape (row,)."""
        order = {name: i for i, name in enumerate(dict.fromkeys(d.name for d in self.limits))}
        return np.array([order[d.name] for d in self.limits], dtype=int)

    @cached_property
    def weights(self) -> tuple[np.ndarray, np.ndarray]:
        """Cost of a close width beyond a limit at its worst place, and of one missing from its room; by limit."""
        hard = {d.name: d.hard for d in self.limits}.values()
        soft = (_SOFT, _RESERVE) if self.target.soft else (0.0, 0.0)
        return np.array([_HARD if h else soft[0] for h in hard]), np.array(
            [_HARD if h else soft[1] for h in hard]
        )

    @property
    def litre(self) -> np.ndarray:
        """Cost of one L/min of each free water, under the aim of least water."""
        return np.asarray(self.layout.spread[0].sum(axis=0) / self.layout.capacity)

    @property
    def unit(self) -> tuple[float, str]:
        """What one of the cost is in the unit of the aim."""
        return {
            "least": (self.layout.capacity, "L/min"),
            "flattest": (100.0, "K/m"),
            "shortest": (10.0, "m"),
            "nearest": (1.0, "bands"),
        }[self.target.aim]

    def cost(self, seen: Response, free: np.ndarray) -> float:
        """Weigh one strand."""
        t = self.target
        water = float(self.litre @ free)
        aim = {
            "least": water,
            "flattest": float(seen.slope.max(initial=0.0)) / 100.0,
            "shortest": float(seen.core) / 10.0,
            "nearest": float(np.abs(seen.off).sum()),
        }[t.aim]
        edge, worst = min(_EDGE, t.room), np.full(len(self.weights[0]), AMPLE)
        np.minimum.at(worst, self.groups, seen.rooms)
        beyond, missing = np.maximum(edge - worst, 0.0), np.clip(t.room - worst, 0.0, t.room - edge)
        outside = np.maximum(np.abs(seen.off) - 1.0, 0.0)
        limits = float(self.weights[0] @ beyond + self.weights[1] @ missing)
        return aim + _TIE * water + limits + _BAND * float(outside.sum())


@dataclass(frozen=True)
class Solved:
    """Waters and what holds them there.

    Parameters
    ----------
    free : ndarray, shape (speed, free)
        [L/min].
    responses : tuple of Response
        Of each speed.
    slope : tuple of (Response of ndarray)
        Change of everything with each free water [1/(L/min)], limits first axis.
    limit_price : ndarray, shape (speed, limit)
        What a close width more of room to a limit would save, in the cost of the aim.
    point_price : ndarray, shape (speed, point)
        The same for a band more of a point.
    valve_price : ndarray, shape (speed, free)
        What one L/min beyond its end would save; negative at the least, positive at the most.
    rule_price : ndarray, shape (speed, rule)
        What one L/min more of a rule of the layout would save.
    """

    free: np.ndarray
    responses: tuple[Response, ...]
    slope: tuple[Response, ...]
    limit_price: np.ndarray
    point_price: np.ndarray
    valve_price: np.ndarray
    rule_price: np.ndarray


def solve_sprays(problem: SprayProblem, simulator: Simulator) -> Solved:
    """Find the waters.

    Parameters
    ----------
    problem : SprayProblem
        What is asked.
    simulator : Simulator
        Marches the trials.

    Returns
    -------
    Solved
    """
    n = len(problem.target.speeds)
    free = _start(problem, simulator)
    responses = _look(problem, simulator, list(enumerate(free)))
    slope = _slopes(problem, simulator, free, responses, range(n))
    radius = np.full(n, _FIRST)
    costs = np.array([problem.cost(v, x) for v, x in zip(responses, free, strict=True)])
    cautious = list(responses)
    for _ in range(_ROUNDS):
        going = [s for s in range(n) if radius[s] >= _LEAST]
        if not going:
            break
        step, promised, _ = _programme(problem, free, cautious, slope, radius)
        promise = costs - promised
        settled = promise <= np.maximum(_SETTLED[problem.target.aim], _SETTLED_SHARE * np.abs(costs))
        radius[settled] = 0.0
        going = [s for s in going if not settled[s]]
        trial = np.clip(free + step, problem.layout.low, problem.layout.high)
        seen = dict(zip(going, _look(problem, simulator, [(s, trial[s]) for s in going]), strict=True))
        share = {s: (costs[s] - problem.cost(seen[s], trial[s])) / promise[s] for s in going}
        bent = [s for s in going if share[s] <= 0.1]
        for s, x, found in _corrected(problem, simulator, free, responses, slope, radius, trial, seen, bent):
            gain = (costs[s] - problem.cost(found, x)) / promise[s]
            if gain > max(share[s], 0.1):
                trial[s], seen[s], share[s] = x, found, gain
        taken = []
        for s in going:
            if share[s] > 0.1:
                free[s], responses[s], costs[s] = trial[s], seen[s], problem.cost(seen[s], trial[s])
                cautious[s] = seen[s]
                taken.append(s)
            else:
                cautious[s] = _after_refusal(problem, responses[s], seen[s], slope[s].rooms @ step[s])
            radius[s] = (
                min(radius[s] * (2.0 if share[s] > 0.7 else 1.0), _LARGEST)
                if share[s] > 0.3
                else _SHRINK * radius[s]
            )
        for s, fresh in zip(taken, _slopes(problem, simulator, free, responses, taken), strict=True):
            slope[s] = fresh
    _smooth(problem, simulator, free, responses, slope)
    prices = _programme(problem, free, responses, slope, np.full(n, 0.25))[2]
    return Solved(free, tuple(responses), tuple(slope), *prices)


def _corrected(
    problem: SprayProblem,
    simulator: Simulator,
    free: np.ndarray,
    responses: Sequence[Response],
    slope: Sequence[Response],
    radius: np.ndarray,
    trial: np.ndarray,
    seen: dict[int, Response],
    rows: Sequence[int],
) -> list[tuple[int, np.ndarray, Response]]:
    """Try rows once more with the bend that their trial showed: limits pass through what was found there.

    Where two waters do equally well along a limit that bends, straight steps would swing between them.
    """
    if not rows:
        return []
    bent = list(responses)
    for s in rows:
        straight = slope[s].rooms @ (trial[s] - free[s])
        bent[s] = replace(responses[s], rooms=np.minimum(seen[s].rooms - straight, responses[s].rooms))
    again = np.clip(
        free + _programme(problem, free, bent, slope, radius)[0], problem.layout.low, problem.layout.high
    )
    found = _look(problem, simulator, [(s, again[s]) for s in rows])
    return [(s, again[s], response) for s, response in zip(rows, found, strict=True)]


def _smooth(
    problem: SprayProblem,
    simulator: Simulator,
    free: np.ndarray,
    responses: list[Response],
    slope: list[Response],
) -> None:
    """Take the kinks out of waters that do equally well, all speeds together; in place."""
    n, radius = len(free), _FIRST
    if n < 3:
        return
    weight, kinks = _SMOOTH[problem.target.aim], _kinks(problem)
    costs = np.array([problem.cost(v, x) for v, x in zip(responses, free, strict=True)])
    for _ in range(_SMOOTHING):
        step, promised, _ = _programme(problem, free, responses, slope, np.full(n, radius), kinks)
        trial = np.clip(free + step, problem.layout.low, problem.layout.high)
        before, after = (weight * float(np.abs(kinks @ x.ravel()).sum()) for x in (free, trial))
        if costs.sum() + before - promised.sum() - after < 0.1 * weight:
            return
        going = [s for s in range(n) if np.abs(step[s]).max() > 1e-3 * problem.layout.high.max()]
        seen = dict(zip(going, _look(problem, simulator, [(s, trial[s]) for s in going]), strict=True))
        found = {s: problem.cost(response, trial[s]) for s, response in seen.items()}
        taken = [s for s, cost in found.items() if cost < costs[s] + 0.1 * weight]
        mixed = free.copy()
        mixed[taken] = trial[taken]
        change = sum(found[s] - costs[s] for s in taken)
        change += weight * float(np.abs(kinks @ mixed.ravel()).sum()) - before
        falls = problem.target.rising and bool(np.any(np.diff(mixed, axis=0) < -1e-6))
        if change >= 0.0 or falls:
            radius *= _SHRINK
            continue
        free[:] = mixed
        for s in taken:
            responses[s], costs[s] = seen[s], found[s]
        for s, fresh in zip(taken, _slopes(problem, simulator, free, responses, taken), strict=True):
            slope[s] = fresh


def _kinks(problem: SprayProblem) -> csr_array:
    """Return what each water at each inner speed is above the line between its neighbours, of its most."""
    v = np.array(problem.target.speeds)
    share = (v[1:-1] - v[:-2]) / (v[2:] - v[:-2])
    n = len(v)
    rows = np.zeros((n - 2, n))
    at = np.arange(n - 2)
    rows[at, at], rows[at, at + 1], rows[at, at + 2] = share - 1.0, 1.0, -share
    return csr_array(kron(rows, diags_array(1.0 / np.maximum(problem.layout.high, 1e-9))))


def _after_refusal(problem: SprayProblem, here: Response, found: Response, straight: np.ndarray) -> Response:
    """Note what a refused trial showed: rooms that close faster than they promised, as another place took over."""
    short = _SHRINK * np.minimum(found.rooms - straight - here.rooms, 0.0)
    floor = np.minimum(here.rooms, problem.target.room)
    return replace(here, rooms=np.maximum(here.rooms + short, floor))


def _look(
    problem: SprayProblem, simulator: Simulator, trials: Sequence[tuple[int, np.ndarray]]
) -> list[Response]:
    keys = problem.keys
    return [response(r, problem.target, keys) for r in simulator.strands(trials)] if trials else []


def _start(problem: SprayProblem, simulator: Simulator) -> np.ndarray:
    """Set each water by where its own points lie between the surfaces of most and of least water."""
    points, layout = problem.target.points, problem.layout
    free = np.tile(layout.low + (layout.high - layout.low) / 3.0, (len(simulator.speeds), 1))
    starts = [simulator.case.zone_bounds[i][0] for i in range(len(layout.zones))]
    owner = np.searchsorted(starts, [p.distance for p in points]) - 1
    for j in range(len(layout.free)):
        side = layout.parts[layout.free[j]][1]
        zone = [k for k, own in enumerate(owner) if own == layout.zone(j)]
        mine = [k for k in zone if points[k].side == side] or zone
        if not mine:
            continue
        chosen = [points[k] for k in mine]
        for s, (most, least) in enumerate(zip(*simulator.ends, strict=True)):
            cold, hot = (float(deviations(r, chosen).mean()) for r in (most, least))
            share = np.clip(hot / (hot - cold), 0.0, 1.0) if hot > cold else 1.0 / 3.0
            root = (1.0 - share) * np.sqrt(layout.low[j]) + share * np.sqrt(layout.high[j])
            free[s, j] = root**2
    return np.array([layout.nearest(x) for x in free])


def _slopes(
    problem: SprayProblem,
    simulator: Simulator,
    free: np.ndarray,
    responses: Sequence[Response],
    rows: Sequence[int],
) -> list[Response]:
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
    seen = iter(zip(_look(problem, simulator, trials), steps, strict=True))
    found = []
    for s in rows:
        columns = [next(seen) for _ in layout.free]
        changes = [v.minus(responses[s], step) for v, step in columns]
        found.append(
            Response(
                *(
                    np.stack([getattr(c, k) for c in changes], axis=-1)
                    for k in ("rooms", "off", "slope", "core")
                )
            )
        )
    return found


def _programme(
    problem: SprayProblem,
    free: np.ndarray,
    responses: Sequence[Response],
    slope: Sequence[Response],
    radius: np.ndarray,
    kinks: csr_array | None = None,
) -> tuple[np.ndarray, np.ndarray, tuple[np.ndarray, ...]]:
    """Solve the straightened problem of all speeds; returns steps, costs promised, and prices."""
    layout, target = problem.layout, problem.target
    n, m = free.shape
    blocks = [_block(problem, responses[s], slope[s], free[s], radius[s]) for s in range(n)]
    starts = np.concatenate([[0], np.cumsum([len(b.cost) for b in blocks])])
    tops = np.concatenate([[0], np.cumsum([len(b.right) for b in blocks])])
    cost = [b.cost for b in blocks]
    bounds = [pair for b in blocks for pair in b.bounds]
    matrix = csr_array(block_diag([b.matrix for b in blocks]))
    right = np.concatenate([b.right for b in blocks])
    columns = (starts[:n, None] + np.arange(m)).ravel()
    if target.rising and n > 1:
        falls = csr_array(kron(np.eye(n - 1, n) - np.eye(n - 1, n, 1), eye_array(m)))
        weight = np.tile(10.0 * _SOFT / np.maximum(layout.high, 1e-9), n - 1)
        matrix, right = _joined(matrix, right, falls, -(falls @ free.ravel()), columns, len(weight))
        cost.append(weight)
    if kinks is not None:
        both, bent = csr_array(vstack([kinks, -kinks])), kinks @ free.ravel()
        matrix, right = _joined(matrix, right, both, np.concatenate([-bent, bent]), columns, len(bent))
        cost.append(np.full(len(bent), _SMOOTH[target.aim]))
    bounds += [(0.0, np.inf)] * (matrix.shape[1] - starts[-1])
    found = linprog(np.concatenate(cost), matrix, right, bounds=bounds, method="highs")
    if found.x is None:
        raise MarchError(f"tuning: the linear programme of the sprays has no solution: {found.message}")
    values = [found.x[starts[s] : starts[s + 1]] for s in range(n)]
    promised = np.array([b.cost @ v + b.constant for b, v in zip(blocks, values, strict=True)])
    steps = np.array([v[:m] for v in values])
    limits, points, rules = (
        np.zeros((n, k)) for k in (len(problem.limits), len(target.points), len(layout.rules))
    )
    valves = np.zeros((n, m))
    for s, b in enumerate(blocks):
        dual = -found.ineqlin.marginals[tops[s] : tops[s + 1]]
        limits[s, b.near] = dual[: len(b.near)]
        points[s] = dual[b.bands]
        rules[s] = dual[len(dual) - len(layout.rules) :]
        for side, end in ((found.lower, layout.low), (found.upper, layout.high)):
            there = np.isclose(free[s] + steps[s], end, atol=1e-6 * layout.high.max())
            valves[s] -= side.marginals[starts[s] : starts[s] + m] * there
    return steps, promised, (limits, points, valves, rules)


@dataclass(frozen=True)
class _Block:
    """One speed of the straightened problem; columns: step, each limit let go twice, points, bands, steepest.

    Rows: limits that can be reached, points from either side and their bands, the steepest stretch, the rules of the
    layout. `near` holds the limits that can be reached, `bands` the rows of the bands.
    """

    matrix: np.ndarray
    right: np.ndarray
    cost: np.ndarray
    bounds: list[tuple[float, float]]
    constant: float
    near: np.ndarray
    bands: slice


def _block(problem: SprayProblem, seen: Response, slope: Response, free: np.ndarray, radius: float) -> _Block:
    target, layout = problem.target, problem.layout
    reach = radius * np.maximum(free, 0.05 * layout.high)
    low, high = np.maximum(layout.low - free, -reach), np.minimum(layout.high - free, reach)
    near = np.flatnonzero(seen.rooms - np.abs(slope.rooms) @ reach < target.room + 1e-9)
    steep = len(seen.slope) if target.aim == "flattest" else 0
    told, group = np.unique(problem.groups[near], return_inverse=True)
    m, k, p, r, g = len(free), len(near), len(seen.off), len(layout.rules), len(told)
    at_point, at_band = m + 2 * g, m + 2 * g + p
    width = at_band + p + (steep > 0)
    matrix, right = np.zeros((k + 3 * p + steep + r, width)), np.zeros(k + 3 * p + steep + r)
    limits, above, below, bands = (slice(i, j) for i, j in pairwise((0, k, k + p, k + 2 * p, k + 3 * p)))
    one = np.eye(p)
    matrix[limits, :m], right[limits] = -slope.rooms[near], seen.rooms[near] - target.room
    matrix[np.arange(k), m + group] = matrix[np.arange(k), m + g + group] = -1.0
    matrix[above, :m], right[above] = slope.off, -seen.off
    matrix[below, :m], right[below] = -slope.off, seen.off
    matrix[above, at_point:at_band] = matrix[below, at_point:at_band] = -one
    matrix[bands, at_point:at_band], right[bands] = one, 1.0
    matrix[bands, at_band : at_band + p] = -one
    if steep:
        stretch = slice(k + 3 * p, k + 3 * p + steep)
        matrix[stretch, :m], matrix[stretch, -1], right[stretch] = slope.slope, -1.0, -seen.slope
    if r:
        matrix[-r:, :m], right[-r:] = layout.weights, np.maximum(layout.most - layout.weights @ free, 0.0)
    water = problem.litre
    step, constant = _TIE * water, _TIE * float(water @ free)
    if target.aim == "least":
        step, constant = step + water, constant + float(water @ free)
    elif target.aim == "shortest":
        step, constant = step + slope.core / 10.0, constant + float(seen.core) / 10.0
    cost = np.concatenate(
        [
            step,
            problem.weights[1][told],
            problem.weights[0][told],
            np.full(p, float(target.aim == "nearest")),
            np.full(p, _BAND),
            np.full(int(steep > 0), 0.01),
        ]
    )
    bounds = [*zip(np.minimum(low, 0.0), np.maximum(high, 0.0), strict=True)]
    bounds += [(0.0, max(target.room - _EDGE, 0.0))] * g + [(0.0, np.inf)] * (width - m - g)
    return _Block(matrix, right, cost, bounds, constant, near, bands)


def _joined(
    matrix: csr_array,
    right: np.ndarray,
    extra: csr_array,
    bound: np.ndarray,
    columns: np.ndarray,
    slacks: int,
) -> tuple[csr_array, np.ndarray]:
    """Add rows ``extra @ steps - slack <= bound`` of all speeds; the slacks serve the rows in turn."""
    there = csr_array(
        (np.ones(len(columns)), (np.arange(len(columns)), columns)), (len(columns), matrix.shape[1])
    )
    slack = vstack([eye_array(slacks)] * (extra.shape[0] // slacks))
    joined = bmat([[matrix, None], [extra @ there, -slack]], format="csr")
    return csr_array(joined), np.concatenate([right, bound])


def rounded(solved: Solved, problem: SprayProblem) -> np.ndarray:
    """Return the free waters as a table prints them.

    Parameters
    ----------
    solved : Solved
        Waters found.
    problem : SprayProblem
        Says what the valves hold, and whether the water is to rise with the speed.

    Returns
    -------
    ndarray, shape (speed, free water)
        In tenths, inside the valves, rising where that is wanted [L/min].
    """
    layout = problem.layout
    free = np.round(solved.free, 1)
    if problem.target.rising:
        free = np.maximum.accumulate(free, axis=0)
    return np.clip(free, layout.low, layout.high)
