"""Tuning a spray table: time and strands of a whole table, and against a general-purpose global optimiser.

``python benchmarks/tuning.py`` writes benchmarks/TUNING.md (some minutes; best on a quiet machine); ``--quick`` prints a
small version and writes nothing. Beside the clock stands the time on the processor, which other programs of a busy
machine move less. The optimiser, `scipy.optimize.differential_evolution`, weighs strands by the same cost as
`solidify.tuning.tune` and marches each generation as one batch.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable
from datetime import date
from importlib.metadata import version
from pathlib import Path
from time import perf_counter, process_time

import numpy as np
from scipy.optimize import differential_evolution
from timing import processor

from solidify.case import Case, read_case
from solidify.strand.solve import solve_many
from solidify.tuning.constraints import constraints
from solidify.tuning.solver import Simulator, SprayProblem, response, solve_sprays
from solidify.tuning.target import Target, sides_at, water_at
from solidify.tuning.target_file import parse_target
from solidify.tuning.tune import tune
from solidify.tuning.variables import lay_out

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "benchmarks" / "TUNING.md"
SPEEDS = (2.0, 2.5, 2.6)
TABLE = (0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.4)


def case_and_target(name: str, speeds: tuple[float, ...]) -> tuple[Case, Target]:
    """Return a demo plant and its target at other speeds."""
    case = read_case(ROOT / "cases" / f"{name}.toml")
    text = (ROOT / "cases" / f"{name}-target.toml").read_text(encoding="utf-8")
    rest = "\n".join(line for line in text.splitlines() if not line.startswith("speeds_m_per_min"))
    return case, parse_target(f"speeds_m_per_min = {list(speeds)}\n{rest}", case)


def problem_at(speed: float) -> tuple[SprayProblem, Simulator]:
    """Set up the demo billet at one speed, to be met with least water."""
    case, target = case_and_target("billet", (speed,))
    now = case.replace({"casting.speed_m_per_min": speed})
    layout = lay_out(target, np.array([water_at(now)]), [sides_at(now)])
    limits = tuple(constraints(solve_many([now])[0]).values())
    return SprayProblem(target, layout, limits), Simulator(case, layout, target.speeds)


def by_evolution(problem: SprayProblem, simulator: Simulator) -> float:
    """Return the least cost that the global optimiser finds."""

    def costs(waters: np.ndarray) -> np.ndarray:
        trials = [(0, x) for x in waters.T]
        seen = [response(r, problem.target, problem.keys) for r in simulator.strands(trials)]
        return np.array([problem.cost(v, x) for v, (_, x) in zip(seen, trials, strict=True)])

    bounds = list(zip(problem.layout.low, problem.layout.high, strict=True))
    found = differential_evolution(
        costs,
        bounds,
        rng=1,
        popsize=10,
        maxiter=150,
        tol=1e-4,
        polish=False,
        vectorized=True,
        updating="deferred",
    )
    return float(found.fun)


def by_tune(problem: SprayProblem, simulator: Simulator) -> float:
    """Return the cost of the waters that tuning finds."""
    solved = solve_sprays(problem, simulator)
    return problem.cost(solved.responses[0], solved.free[0])


def timed(work: Callable[[], object]) -> tuple[object, float, float]:
    """Return what some work gives, its time by the clock and on the processor [s]."""
    clock, processor_time = perf_counter(), process_time()
    found = work()
    return found, perf_counter() - clock, process_time() - processor_time


def against(speed: float) -> str:
    """Measure one speed both ways; a row of the page."""
    cells = []
    for way in (by_tune, by_evolution):
        problem, simulator = problem_at(speed)
        cost, _, spent = timed(lambda p=problem, b=simulator, w=way: w(p, b))  # type: ignore[misc]
        cells.append((simulator.marches, spent, cost))
    (own, own_time, own_cost), (other, other_time, other_cost) = cells
    return (
        f"| {speed:g} | {own} | {other} | {other / own:.0f} | {own_time:.2f} | {other_time:.1f} | "
        f"{other_time / own_time:.0f} | {own_cost:.4f} | {other_cost:.4f} |"
    )


def whole(rounds: int, speeds: tuple[float, ...]) -> str:
    """Measure a whole table of the demo slab; a paragraph of the page."""
    case, target = case_and_target("slab", speeds)
    runs = [timed(lambda: tune(case, target)) for _ in range(rounds)]
    marches = runs[0][0].marches  # type: ignore[attr-defined]
    clock, spent = min(run[1] for run in runs), min(run[2] for run in runs)
    return (
        f"Demo slab, six zones tuned at {len(speeds)} speeds to five surface points and every limit: {marches} strands, "
        f"those for the\ninput errors and between the rows among them; {clock:.1f} s by the clock, {spent:.1f} s on the "
        f"processor, the shortest of {rounds}."
    )


def main() -> None:
    """Measure and write."""
    parser = argparse.ArgumentParser(description="Measure tuning against a general-purpose optimiser.")
    parser.add_argument("--quick", action="store_true", help="one speed, a small table; print only")
    quick = parser.parse_args().quick
    load = os.getloadavg()[0]
    solve_many([read_case(ROOT / "cases" / "billet.toml")])
    table = whole(1 if quick else 5, TABLE[2:5] if quick else TABLE)
    rows = [against(speed) for speed in (SPEEDS[1:2] if quick else SPEEDS)]
    text = f"""# Tuning a spray water table

<!-- Written by `python benchmarks/tuning.py`. Do not edit by hand. -->

`python benchmarks/tuning.py` writes this page. This one: {date.today().isoformat()}, {processor()},
{len(os.sched_getaffinity(0))} cores, load {load:.1f} before the start; solidify {version("solidify")}, scipy \
{version("scipy")}.

{table}

Against `scipy.optimize.differential_evolution` on the same task: demo billet, four zones, least water, one speed, the
same cost. Strands marched, processor time in seconds, cost reached (less is better; a share of the most water of all
valves, more where a limit has too little room).

| m/min | strands, tune | global | ratio | s, tune | global | ratio | cost, tune | global |
|---|---|---|---|---|---|---|---|---|
{chr(10).join(rows)}
"""
    if quick:
        print(text)
    else:
        PAGE.write_text(text, encoding="utf-8")
        print(f"wrote {PAGE.relative_to(ROOT)}")


if __name__ == "__main__":
    main()
