"""The same study by a process pool and on a Dask cluster of this machine, in one run: rate, and what a chunk costs.

    python benchmarks/cluster.py [runs]

Scheduler and workers are processes of their own. Prints the least time of several rounds taken in turn, so that a busy
machine slows all alike, for one and two workers; and from small and large chunks, what each chunk costs beside its
strands (packing, sending, writing to the disk), and how much of that is time of the processor in the process that has
the command.
"""

from __future__ import annotations

import multiprocessing
import sys
import tempfile
import time
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import ExitStack
from pathlib import Path

import numpy as np
from distributed import SubprocessCluster

import solidify
from solidify.study.cluster import cluster
from solidify.study.definition import make_study
from solidify.study.run import run_study
from solidify.study.study import Study

CASE = Path(__file__).parents[1] / "cases" / "bloom.toml"
ROUNDS = 3
SMALL, LARGE = 4, 64
"""Runs in a chunk."""


def study_of(runs: int) -> Study:
    vary = {
        "casting.speed_m_per_min": {"from": 0.6, "to": 0.9, "steps": runs // 8},
        "casting.superheat_K": {"from": 15, "to": 40, "steps": 8},
    }
    return make_study(solidify.read_case(CASE), vary)


def seconds(study: Study, executor: Executor, chunk: int) -> np.ndarray:
    """Time by the clock, and of the processor in the process that gives the chunks out [s]."""
    with tempfile.TemporaryDirectory() as folder:
        begin = np.array([time.perf_counter(), time.process_time()])
        run_study(study, Path(folder) / "study.h5", executor=executor, chunk=chunk)
        return np.array([time.perf_counter(), time.process_time()]) - begin


def main(runs: int) -> None:
    study = study_of(runs)
    with ExitStack() as stack:
        ways: dict[str, Executor] = {}
        for count in (1, 2):
            spawn = multiprocessing.get_context("spawn")
            ways[f"process pool, {count}"] = stack.enter_context(ProcessPoolExecutor(count, mp_context=spawn))
            local = SubprocessCluster(
                n_workers=count, threads_per_worker=1, dashboard_address="127.0.0.1:0", silence_logs=40
            )
            address = stack.enter_context(local).scheduler_address
            ways[f"Dask cluster, {count}"] = stack.enter_context(cluster(address))
        for executor in ways.values():
            seconds(study, executor, LARGE)  # compiled, loaded, warm
        best = {(name, chunk): np.full(2, np.inf) for name in ways for chunk in (LARGE, SMALL)}
        for _ in range(ROUNDS):
            for name, chunk in best:
                best[name, chunk] = np.minimum(best[name, chunk], seconds(study, ways[name], chunk))
    one = best["process pool, 1", LARGE][0]
    more = runs / SMALL - runs / LARGE
    print(f"{runs} runs, chunks of {LARGE} and {SMALL}    strands/s   to one process   a chunk costs, here")
    for name in ways:
        large, small = best[name, LARGE], best[name, SMALL]
        cost, own = 1000 * (small - large) / more
        print(f"{name:28} {runs / large[0]:12.0f} {one / large[0]:16.2f} {cost:12.1f} ms {own:5.1f} ms")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 512)
