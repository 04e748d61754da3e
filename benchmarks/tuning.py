"""Tuning against a general-purpose global optimiser on the same task: marches, time and what each reaches.

``python benchmarks/tuning.py`` (some minutes) tunes the demo billet at one speed with `solidify.studies.tune` and with
`scipy.optimize.differential_evolution`, which weighs strands by the same cost and marches each generation as one batch.
"""

from __future__ import annotations

from pathlib import Path
from time import perf_counter

import numpy as np
from scipy.optimize import differential_evolution

from solidify.case import read_case
from solidify.marching import solve, solve_many
from solidify.studies.demands import demands
from solidify.studies.spray_solver import Bench, Problem, lay_out, solve_sprays, view
from solidify.studies.target import parse_target, water_at

CASES = Path(__file__).resolve().parent.parent / "cases"
SPEEDS = (2.0, 2.5, 2.6)


def problem_at(speed: float) -> tuple[Problem, Bench]:
    """Set up the demo billet at one speed, to be met with least water."""
    case = read_case(CASES / "billet.toml").replace({"casting.speed_m_per_min": speed})
    text = (CASES / "billet-target.toml").read_text(encoding="utf-8")
    text = "\n".join(line for line in text.splitlines() if not line.startswith("speeds_m_per_min"))
    target = parse_target(f"speeds_m_per_min = [{speed}]\n{text}", case)
    layout = lay_out(target, np.array([water_at(case)]))
    limits = tuple(demands(solve(case)).values())
    return Problem(target, layout, limits), Bench(case, layout, target.speeds)


def by_evolution(problem: Problem, bench: Bench) -> float:
    """Return the least cost that the global optimiser finds."""

    def costs(waters: np.ndarray) -> np.ndarray:
        trials = [(0, x) for x in waters.T]
        seen = [view(r, problem.target, problem.keys) for r in bench.strands(trials)]
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


def main() -> None:
    """Print one line a speed."""
    solve_many([read_case(CASES / "billet.toml")])
    print("m/min   tune: cost  marches      s   evolution: cost  marches      s   ratio of marches")
    for speed in SPEEDS:
        problem, bench = problem_at(speed)
        start = perf_counter()
        solved = solve_sprays(problem, bench)
        own = problem.cost(solved.views[0], solved.free[0])
        marches, time = bench.marches, perf_counter() - start
        other, bench = problem_at(speed)
        start = perf_counter()
        cost = by_evolution(other, bench)
        spent = perf_counter() - start
        print(
            f"{speed:5g} {own:12.4f} {marches:8d} {time:6.2f} {cost:17.4f} {bench.marches:8d} {spent:6.1f}"
            f" {bench.marches / marches:10.0f}"
        )


if __name__ == "__main__":
    main()
