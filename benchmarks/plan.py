"""Time heat plans and cut plans: seconds of processor time, the best of several.

Run: python benchmarks/plan.py
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import solidify

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests"))

from heat_plants import FOUR, plan_of  # noqa: E402


def best(work, times: int = 7) -> float:
    """Return the shortest processor time of some calls [s]."""
    found = []
    for _ in range(times):
        begin = time.process_time()
        work()
        found.append(time.process_time() - begin)
    return min(found)


def main() -> None:
    """Print what a plan of ten heats and a cut plan of 100 m take."""
    ten = plan_of(FOUR, ("heats = 3", "heats = 10"))
    print(f"ten heats, four metering nozzles: {1e3 * best(lambda: solidify.heat_plan(ten)):.0f} ms")
    demo = solidify.read_plan(ROOT / "cases" / "heat-plan.toml")
    print(f"demo plan, six heats, eight strands: {1e3 * best(lambda: solidify.heat_plan(demo)):.0f} ms")
    bad = [(13.2, 14.1, "suspect"), (27.0, 27.4, "soft"), (60.0, 70.0, "mixed")]
    cut = {"lengths_m": [6, 12], "aim_m": 8}
    print(f"cut plan, 100 m, 6 to 12 m: {1e3 * best(lambda: solidify.cut_plan(100.0, cut, bad)):.0f} ms")


if __name__ == "__main__":
    main()
