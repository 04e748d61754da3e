"""Speed of a cast: an hour of the demo slab with a slow-down, against one `solve` a slice; ratios in one run.

python benchmarks/cast.py
"""

from __future__ import annotations

import resource
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

import solidify
from solidify.cast.cast_file import parse_cast, read_cast
from solidify.cast.definition import LOGICS
from solidify.cast.run import run_cast
from solidify.cast.stand import longest_stand

HOUR = """
case = "demo:slab"
to_min = 60
speed_at_time = [[0, 1.2], [20, 1.2], [20.5, 0.6], [26.5, 0.6], [27.5, 1.2]]
"""


def taken(work, repeats: int = 3) -> float:
    """Return the least of some times [s]."""
    found = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        found.append(time.perf_counter() - start)
    return min(found)


def main() -> None:
    cast = parse_cast(HOUR)
    result = run_cast(cast)
    hour = taken(lambda: run_cast(cast))
    print(f"slab hour, {len(result.births)} slices: {hour:.2f} s")
    dense = replace(cast, slice_every=0.1)
    print(f"every 0.1 m, {len(run_cast(dense).births)} slices: {taken(lambda: run_cast(dense), 1):.2f} s")
    four = [replace(cast, water=replace(cast.water, logic=name)) for name in LOGICS if name != "rows"]
    print(f"four logics: {taken(lambda: [run_cast(each) for each in four], 1):.2f} s")
    stand = read_cast(Path(__file__).parents[1] / "cases" / "ladle-change.toml")
    print(f"longest stand, three practices: {taken(lambda: longest_stand(stand), 1):.2f} s")
    water = result.layout.water
    knots = np.unique(np.concatenate([[-3600.0], cast.clock.time, *[w.time for w in water.values()], [9e3]]))
    rows = {name: w.at(knots) for name, w in water.items()}
    speed = cast.clock.speed_at(knots)
    some = np.linspace(0, len(result.births) - 1, 20).astype(int)
    born = result.births.time[some].tolist()

    def scripted() -> None:
        for each in born:
            history = solidify.History(knots, speed, rows, born=each)
            solidify.judge(solidify.solve(cast.case, history))

    one = taken(scripted) / len(born)
    print(
        f"one solve a slice: {one * len(result.births):.1f} s, {one * len(result.births) / hour:.0f} times as long"
    )
    print(f"most memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
