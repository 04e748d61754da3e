"""Strands a second of a sweep, against solving one at a time, in one run: one worker, two threads, processes.

    python benchmarks/sweep.py [runs]

Prints ratios to one at a time (case made, marched, judged) from the median of several rounds in turn, so that a busy
machine slows all alike; then the live memory at two sizes of a study.
"""

from __future__ import annotations

import multiprocessing
import statistics
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path

import solidify
from solidify.studies.study_file import Study, make_study
from solidify.studies.sweep import cores, run_study

CASE = Path(__file__).parents[1] / "cases" / "bloom.toml"
ROUNDS = 5


def study_of(runs: int) -> Study:
    case = solidify.read_case(CASE)
    vary = {
        "casting.speed_m_per_min": {"from": 0.6, "to": 0.9, "steps": runs // 8},
        "casting.superheat_K": {"from": 15, "to": 40, "steps": 8},
    }
    return make_study(case, vary)


def one_at_a_time(study: Study) -> None:
    for run in range(study.runs):
        solidify.judge(solidify.solve(study.case.replace(study.values(run))))


def swept(study: Study, executor: Executor | None = None) -> None:
    with tempfile.TemporaryDirectory() as folder:
        run_study(study, Path(folder) / "study.h5", executor=executor)


def rate(work: Callable[[], None], runs: int) -> float:
    begin = time.perf_counter()
    work()
    return runs / (time.perf_counter() - begin)


def peak(runs: int) -> float:
    """Most memory of Python and numpy at a time [MB]."""
    study = study_of(runs)
    tracemalloc.start()
    swept(study)
    most = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    return most


def main(runs: int) -> None:
    study, few = study_of(runs), study_of(64)
    count = cores()
    processes = ProcessPoolExecutor(count, mp_context=multiprocessing.get_context("spawn"))
    threads = ThreadPoolExecutor(2)
    ways: dict[str, Callable[[], None]] = {
        "one at a time": lambda: one_at_a_time(few),
        "sweep, one worker": lambda: swept(study),
        "sweep, two threads": lambda: swept(study, threads),
        f"sweep, {count} processes": lambda: swept(study, processes),
    }
    with processes, threads:
        for work in ways.values():
            work()  # compiled, loaded, warm
        rates: dict[str, list[float]] = {name: [] for name in ways}
        for _ in range(ROUNDS):
            for name, work in ways.items():
                rates[name].append(rate(work, few.runs if name == "one at a time" else study.runs))
    alone = rates["one at a time"]
    for name, found in rates.items():
        ratio = statistics.median(a / b for a, b in zip(found, alone, strict=True))
        print(f"{name:22} {statistics.median(found):6.0f} strands/s   {ratio:5.2f} x one at a time")
    small, large = peak(256), peak(2048)
    print(f"most memory: 256 runs {small:.1f} MB, 2048 runs {large:.1f} MB")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 512)
