"""Strands a second of a sweep against one at a time, where the time goes, and memory against the number of runs.

``python benchmarks/sweep.py`` writes benchmarks/SWEEPS.md (some minutes; best on a quiet machine); ``--quick`` prints
fewer rounds and smaller studies and writes nothing. It reads /proc, so Linux only. All ways are timed in turn in one process. Beside the clock stands
the time on the processor, which other programs of a busy machine move less.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Collection
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from datetime import date
from pathlib import Path
from types import ModuleType

import numpy as np
from timing import processor

import solidify
from solidify.assessment.judge import judge, judged
from solidify.solver import kernels
from solidify.strand import solve
from solidify.strand.solve import CHUNK, solve_stacked
from solidify.study import run as sweep
from solidify.study.definition import make_study
from solidify.study.run import run_study
from solidify.study.study import Study
from solidify.study.workers import cores

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "benchmarks" / "SWEEPS.md"
DEMOS = ("billet", "bloom", "slab")


def study_of(runs: int, demo: str = "bloom") -> Study:
    case = solidify.read_case(ROOT / "cases" / f"{demo}.toml")
    speed = case.casting.speed_m_per_min
    vary = {
        "casting.speed_m_per_min": {"low": 0.9 * speed, "high": 1.1 * speed},
        "casting.superheat_K": {"mean": 28, "sd": 4},
    }
    return make_study(case, vary, sampling="sobol", runs=runs)


def one_at_a_time(study: Study) -> None:
    for run in range(study.runs):
        judge(solidify.solve(study.case.replace(study.values(run))))


def swept(study: Study, executor: Executor | None = None) -> None:
    with tempfile.TemporaryDirectory() as folder:
        run_study(study, Path(folder) / "study.h5", executor=executor)


def on_processor(workers: Collection[int]) -> float:
    """Time of this process and of some others on the processor so far [s]."""
    ticks = 0
    for pid in workers:
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
        ticks += int(fields[11]) + int(fields[12])
    return time.process_time() + ticks / os.sysconf("SC_CLK_TCK")


def rates(runs: int, rounds: int) -> list[str]:
    """Table of the ways to run one study."""
    study, few = study_of(runs), study_of(CHUNK)
    fresh = multiprocessing.get_context("spawn")
    with (
        ThreadPoolExecutor(2) as threads,
        ProcessPoolExecutor(1, fresh) as one,
        ProcessPoolExecutor(2, fresh) as two,
    ):
        ways: dict[str, Callable[[], None]] = {
            "one at a time: case, march, findings": lambda: one_at_a_time(few),
            "sweep, this process": lambda: swept(study),
            "sweep, two threads": lambda: swept(study, threads),
            "sweep, one worker process": lambda: swept(study, one),
            "sweep, two worker processes": lambda: swept(study, two),
        }
        for work in ways.values():
            work()  # compiled, loaded, warm
        workers = [*(one._processes or {}), *(two._processes or {})]
        clock: dict[str, list[float]] = {name: [] for name in ways}
        busy: dict[str, list[float]] = {name: [] for name in ways}
        for _ in range(rounds):
            for name, work in ways.items():
                begin, used = time.perf_counter(), on_processor(workers)
                work()
                count = few.runs if name.startswith("one at") else study.runs
                clock[name].append((time.perf_counter() - begin) / count)
                busy[name].append((on_processor(workers) - used) / count)
    alone = clock["one at a time: case, march, findings"]
    rows = []
    for name, found in clock.items():
        ratio = statistics.median(a / b for a, b in zip(alone, found, strict=True))
        rows.append(
            f"| {name} | {1 / min(found):.0f} | {1 / statistics.median(found):.0f} | {ratio:.2f} | "
            f"{1e3 * min(busy[name]):.2f} | {1e3 * statistics.median(busy[name]):.2f} |"
        )
    return rows


def shares(demo: str, rounds: int) -> str:
    """Row of where the time on the processor goes in a chunk [ms a run]."""
    study = study_of(CHUNK, demo)
    within = {(solve, "batches"): 0.0, (kernels, "march_batch"): 0.0}
    usual = {place: getattr(*place) for place in within}

    def timed(place: tuple[ModuleType, str]) -> Callable[..., object]:
        def call(*given: object, **named: object) -> object:
            begin = time.process_time()
            found = usual[place](*given, **named)
            within[place] += time.process_time() - begin
            return found

        return call

    best = np.full(5, np.inf)
    for place in within:
        setattr(*place, timed(place))
    try:
        for _ in range(rounds):
            within.update(dict.fromkeys(within, 0.0))
            ticks = [time.process_time()]
            cases = [study.case.replace(study.values(run)) for run in range(study.runs)]
            ticks.append(time.process_time())
            groups, _ = solve_stacked(cases, sections=False)
            ticks.append(time.process_time())
            for group in groups:
                judged(group.results)
            ticks.append(time.process_time())
            replaced, solved, verdicts = np.diff(ticks)
            ready, marched = within.values()
            shares = np.array([replaced, ready, marched, solved - ready - marched, verdicts])
            best = np.minimum(best, shares / study.runs * 1e3)
    finally:
        for place, own in usual.items():
            setattr(*place, own)
    return f"| {demo} | " + " | ".join(f"{ms:.2f}" for ms in best) + f" | {best.sum():.2f} |"


def beside(runs: int, rounds: int) -> float:
    """Time on the processor beside the march of a chunk, best of the rounds [µs a run]: every chunk brings the same rows."""
    study, honest = study_of(runs), sweep._marched
    rows: dict[int, dict[str, object]] = {}

    def again(task: sweep._Task) -> dict[str, object]:
        count = len(task.changes)
        if count not in rows:
            rows[count] = honest(task)
        return rows[count]

    spent = []
    sweep._marched = again
    try:
        for _ in range(rounds + 1):  # the first one marches
            begin = time.process_time()
            swept(study)
            spent.append(time.process_time() - begin)
    finally:
        sweep._marched = honest
    return 1e6 * min(spent[1:]) / runs


def most_memory(runs: int) -> float:
    """Most memory that a fresh process ever has while it sweeps [MB]."""
    code = f"import sweep; sweep.swept(sweep.study_of({runs})); print(sweep.peak())"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT / "benchmarks", check=True, capture_output=True, text=True
    )
    return float(done.stdout.split()[-1])


def peak() -> float:
    """Most memory that this process ever had [MB]."""
    status = Path("/proc/self/status").read_text()  # getrusage would count what the parent had at the start
    return int(status.partition("VmHWM:")[2].split()[0]) * 1024 / 1e6


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="few rounds, small studies, write nothing")
    quick = parser.parse_args().quick
    load = os.getloadavg()[0]
    runs, sizes = (128, (128, 512)) if quick else (1024, (1024, 8192, 65536))
    ways = rates(runs, 2 if quick else 3)
    parts = [shares(demo, 2 if quick else 7) for demo in DEMOS]
    rest = beside(sizes[1], 2 if quick else 5)
    memory = [(size, most_memory(size)) for size in sizes]
    text = f"""# Speed of sweeps

<!-- Written by `python benchmarks/sweep.py`. Do not edit by hand. -->

{date.today().isoformat()}, {processor()}, {cores()} cores, load {load:.1f} before the start. Load counts what wants to run:
above the number of cores, the clock measures the other programs as well, and two workers find no second core. The
shortest times, those on the processor and the ratios then mean most.

## Strands a second

Sobol sample of speed and superheat on the demonstration bloom, {runs} runs, summary and findings kept in a file, chunks of
{CHUNK}.

| | strands/s, best | median | times one at a time | on the processor, ms a strand, best | median |
|---|---|---|---|---|---|
{chr(10).join(ways)}

## Where it goes

On the processor, ms a strand, best of the rounds, in chunks of {CHUNK} of this process.

| | case replaced and checked | made ready | compiled march | result drawn | judged | all |
|---|---|---|---|---|---|---|
{chr(10).join(parts)}

To give out, write and merge the chunks of {sizes[1]} runs takes {rest:.0f} µs a run beside.

## Memory

Most memory that a fresh process has while it sweeps in one worker.

| runs | MB |
|---|---|
{chr(10).join(f"| {size} | {most:.0f} |" for size, most in memory)}
"""
    if quick:
        print(text)
    else:
        PAGE.write_text(text, encoding="utf-8")
        print(f"wrote {PAGE.relative_to(ROOT)}")


if __name__ == "__main__":
    main()
