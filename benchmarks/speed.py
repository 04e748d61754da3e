"""How fast and how exact: the march against peers, the command line cold and warm.

``python benchmarks/speed.py`` writes benchmarks/RESULTS.md (some minutes; best on a quiet machine); ``--quick`` prints
fewer rounds and writes nothing. Install the peers with ``pip install "solidify[bench]"``; what is missing is left out.
"""

from __future__ import annotations

import argparse
import inspect
import itertools
import os
import platform
import subprocess
import sys
import tempfile
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from importlib.metadata import PackageNotFoundError, version
from importlib.util import find_spec
from pathlib import Path
from time import perf_counter

import numpy as np
import peers
from reference_strand import KINDS, STRAND, Answer, answers, like_it, slice_of, worst, zoned

from solidify import kernels
from solidify.case import read_case
from solidify.grid import usual_nodes
from solidify.marching import solve, solve_many
from solidify.slices import Slice, march_slices

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "benchmarks" / "RESULTS.md"
CASE = ROOT / "solidify" / "data" / "cases" / "bloom.toml"
USUAL = usual_nodes(STRAND.half)
NODES = (40, 48, USUAL)
BATCH = 200

# ----------------------------------------------------------------------------------------------------------------
# the compiled march alone


class Marched:
    """A batch with its arrays laid out, so that the compiled march can be called on it again and again."""

    def __init__(self, batch: Sequence[Slice]) -> None:
        names = list(inspect.signature(kernels.march_batch.py_func).parameters)
        original, caught = kernels.march_batch, []

        def catch(*given):  # type: ignore[no-untyped-def]
            caught.append(dict(zip(names, given, strict=True)))
            original(*given)

        kernels.march_batch = catch
        try:
            self.marches = march_slices(batch)
        finally:
            kernels.march_batch = original
        self.arrays, self.count = caught[0], len(batch)

    def run(self, threads: int = 1) -> None:
        """March all strands in as many equal shares as threads."""
        self.arrays["closure"][:] = -1.0
        self.arrays["booked"][:] = 0.0
        edges = np.linspace(0, self.count, threads + 1).astype(np.int64)
        calls = []
        for share in itertools.pairwise(edges):
            work = np.zeros_like(self.arrays["work"]) if threads > 1 else self.arrays["work"]
            calls.append(self.arrays | {"strands": np.array(share), "work": work})
        if threads == 1:
            kernels.march_batch(*calls[0].values())
            return
        with ThreadPoolExecutor(threads) as pool:
            list(pool.map(lambda call: kernels.march_batch(*call.values()), calls))


# ----------------------------------------------------------------------------------------------------------------
# timing


class Times:
    """Times of one thing [s]."""

    def __init__(self, values: Sequence[float]) -> None:
        self.values = np.array(values)

    @property
    def best(self) -> float:
        """Shortest."""
        return float(self.values.min())

    def text(self, scale: float = 1e3, share: int = 1) -> str:
        """Shortest, median and quartiles, per strand where many were run."""
        v = self.values * scale / share
        low, middle, high = np.percentile(v, [25, 50, 75])
        return f"{_three(v.min())} | {_three(middle)} ({_three(low)} … {_three(high)})"


def _three(value: float) -> str:
    """Three significant digits without an exponent."""
    if value >= 1000:
        return f"{value:.0f}"
    return f"{value:#.3g}".rstrip(".")


def interleaved(things: dict[str, Callable[[], object]], rounds: dict[str, int]) -> dict[str, Times]:
    """Run every thing once, then time them in turn, each as many rounds as asked."""
    found: dict[str, list[float]] = {name: [] for name in things}
    for thing in things.values():
        thing()
    for turn in range(max(rounds.values())):
        for name, thing in things.items():
            if turn < rounds[name]:
                begin = perf_counter()
                thing()
                found[name].append(perf_counter() - begin)
    return {name: Times(v) for name, v in found.items()}


def command(*arguments: str, cache: str | None = None) -> Callable[[], str]:
    """Make a call of the interpreter that runs this."""
    environment = os.environ | ({"NUMBA_CACHE_DIR": cache} if cache else {})
    environment["PYTHONPATH"] = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])

    def call() -> str:
        done = subprocess.run(
            [sys.executable, *arguments],
            env=environment,
            check=True,
            capture_output=True,
            text=True,
            cwd=ROOT,
        )
        return done.stdout

    return call


FIRST_CALL = """
from time import perf_counter
from solidify.case import read_case
from solidify.grid import usual_nodes
from solidify.marching import solve
case = read_case(r"{case}")
begin = perf_counter()
solve(case)
first = perf_counter() - begin
begin = perf_counter()
solve(case)
print(first, perf_counter() - begin)
"""

# ----------------------------------------------------------------------------------------------------------------
# what is measured


def start_up(rounds: int) -> list[tuple[str, Times]]:
    """Cold starts, first calls and whole runs of the command line."""
    with tempfile.TemporaryDirectory() as folder:
        out = str(Path(folder) / "out.h5")
        run = ["-m", "solidify", "run", str(CASE), "-o", out]
        things = {
            "`python -c pass`": command("-c", "pass"),
            "`import solidify`": command("-c", "import solidify"),
            "`solidify --help`": command("-m", "solidify", "--help"),
            "`solidify check bloom.toml`": command("-m", "solidify", "check", str(CASE)),
            "`solidify run bloom.toml --no-pictures`": command(*run, "--no-pictures"),
            "`solidify run bloom.toml`, result file and pictures": command(*run),
        }
        rows = list(interleaved(things, dict.fromkeys(things, rounds)).items())
    program = FIRST_CALL.format(case=CASE)
    compiled, cached, second = [], [], []
    for _ in range(max(2, rounds // 4)):
        with tempfile.TemporaryDirectory() as folder:
            compiled.append(float(command("-c", program, cache=folder)().split()[0]))
            for _ in range(3):
                first, again = command("-c", program, cache=folder)().split()
                cached.append(float(first))
                second.append(float(again))
    rows.append(("first `solve(case)` of a process, compiling", Times(compiled)))
    rows.append(("first `solve(case)` of a process, compiled before", Times(cached)))
    rows.append(("second `solve(case)` of a process", Times(second)))
    return rows


def main() -> None:
    """Measure and write."""
    parser = argparse.ArgumentParser(description="Measure speed and errors of the march against peers.")
    parser.add_argument("--quick", action="store_true", help="few rounds; print only")
    quick = parser.parse_args().quick
    begin, load = perf_counter(), os.getloadavg()[0]
    share = 4 if quick else 1

    # errors against references of two kinds
    reference = answers([STRAND], 1200, 1e-3)[0]
    coarse, finer = (peers.explicit(STRAND, n) for n in (600, 1200))
    extrapolated = Answer(
        *((4 * b - a) / 3 for a, b in ((coarse.shell, finer.shell), (coarse.surface, finer.surface)))
    )
    confirmed = extrapolated.errors(reference)
    others = like_it(4 if quick else 24)
    truths = answers(others, 1200, 1e-3)
    off = {n: worst(answers(others, n), truths) for n in NODES}

    # other sections and steels
    some = others[: 2 if quick else 6]
    kind_rows = []
    for name, kind in KINDS.items():
        marched = Marched([slice_of(s, USUAL, kind=kind) for s in some])
        shell, surface = worst(answers(some, USUAL, kind=kind), answers(some, 800, 2e-3, kind))
        iterations = sum(m.iterations for m in marched.marches) / len(some)
        time = interleaved({"": marched.run}, {"": 200 // share})[""].best / len(some) * 1e3
        table_error = max(m.table_error for m in marched.marches)
        kind_rows.append(
            f"| {name} | {time:.3f} | {iterations:.0f} | {shell:.3f} | {surface:.2f} | {table_error:.0e} |"
        )

    # one strand
    single = {n: Marched([slice_of(STRAND, n)]) for n in NODES}
    things: dict[str, Callable[[], object]] = {f"solidify, {n} nodes": single[n].run for n in NODES}
    given = {f"solidify, {n} nodes": answers([STRAND], n)[0] for n in NODES}
    general: dict[str, Callable[[], Answer]] = {
        "numba explicit, 100 equal cells": lambda: peers.explicit(STRAND, 100),
        "numba explicit, 200 equal cells": lambda: peers.explicit(STRAND, 200),
        "scipy LSODA banded, 100 graded cells": lambda: peers.lsoda(STRAND, 100, 1e-3),
        "scipy BDF sparse, 100 graded cells": lambda: peers.bdf(STRAND, 100, 1e-3),
    }
    if find_spec("sksundae"):
        general["SUNDIALS CVODE banded, 100 graded cells"] = lambda: peers.cvode(STRAND, 100, 1e-4)
    for name, peer in general.items():
        given[name] = peer()
    things |= general
    rounds = {name: (400 if name in general else 1200) // share for name in things}
    for name in general:
        rounds[name] = {"s": 5, "n": 8, "S": 12}[name[0]] if not quick else 2
    one = interleaved(things, rounds)

    # a batch, threads, zones, and what a caller of Python sees
    batch = Marched([slice_of(s, USUAL) for s in like_it(BATCH, seed=1)])
    zones = {n: Marched([slice_of(zoned(n), USUAL)]) for n in (5, 15)}
    case = read_case(CASE)
    cases = [case.replace({"casting.superheat_K": 20 + 0.1 * i}) for i in range(BATCH // 4)]
    cores = len(os.sched_getaffinity(0))
    many: dict[str, Callable[[], object]] = {
        "one thread": batch.run,
        "two threads": lambda: batch.run(2),
        "march_slices": lambda: march_slices([slice_of(STRAND, USUAL)]),
        "solve": lambda: solve(case),
        "solve_many": lambda: solve_many(cases),
    }
    more = interleaved(
        many, {n: max(3, r // share) for n, r in zip(many, (25, 25, 100, 40, 10), strict=True)}
    )
    zone_times = interleaved(
        {f"{n}": m.run for n, m in zones.items()}, dict.fromkeys(("5", "15"), 600 // share)
    )
    starts = start_up(3 if quick else 15)

    base = one[f"solidify, {USUAL} nodes"].best
    rows = []
    for name, times in one.items():
        shell, surface = given[name].errors(reference)
        ratio = f"{times.best / base:.3g}" if name in general else f"{times.best / base:.2f}"
        rows.append(f"| {name} | {times.text()} | {shell:.3f} | {surface:.2f} | {ratio} |")
    account = {n: m.marches[0] for n, m in single.items()}
    counted = [
        f"| {n} | {m.steps} | {m.rejected} | {m.iterations} | {m.iterations * n} | "
        f"{one[f'solidify, {n} nodes'].best / (m.iterations * n) * 1e9:.1f} | "
        f"{m.flux_error:.0e} | {m.table_error:.0e} | {m.recount_error:.0e} |"
        for n, m in account.items()
    ]
    alone, both = more["one thread"].best / BATCH, more["two threads"].best / BATCH
    per = "\n".join(
        [
            f"| one strand of a batch of {BATCH}, one thread | {more['one thread'].text(share=BATCH)} |",
            f"| the same, two threads | {more['two threads'].text(share=BATCH)} |",
            f"| `march_slices` of one strand: arrays laid out, marched, read back | {more['march_slices'].text()} |",
            f"| `solve(case)`, bloom, warm | {more['solve'].text()} |",
            f"| one case of `solve_many` with {len(cases)} | {more['solve_many'].text(share=len(cases))} |",
        ]
    )
    versions = []
    for n in ("solidify", "numpy", "scipy", "numba", "llvmlite", "scikit-sundae"):
        try:
            versions.append(f"{n} {version(n)}")
        except PackageNotFoundError:
            versions.append(f"{n} not installed")
    text = f"""# Speed and accuracy of the march

<!-- Written by `python benchmarks/speed.py`. Do not edit by hand. -->

`pip install "solidify[bench]"`, then `python benchmarks/speed.py` writes this page. This one: {date.today().isoformat()},
{processor()}, {cores} cores, load {load:.1f} before the start; Python {platform.python_version()},
{", ".join(versions)}.
Times are the shortest, then the median and the quartiles of all rounds; all of a table was timed in turn in one process.
On a machine that others use, the shortest ones and their ratios mean most, and a second thread may find nothing to run
on.

## One strand

Half of a 250 mm plate, 1800 s, invented: mould flux 2.6 − 0.27 √t MW/m² for 30 s, then spray and radiation in three
pieces; freezing range 50 K, liquid conduction × 5; a sample every second. Errors: shell (solid fraction 0.7) up to 90 %
of the half thickness, surface after the first second, the largest of all samples, against the march with 1200 nodes
and a thousandth of the tolerance. That reference is confirmed by the explicit peer with 600 and 1200 cells,
extrapolated: the two differ by at most {confirmed[0]:.4f} mm and {confirmed[1]:.3f} K.

| | best, ms | median, ms | shell, mm | surface, K | times {USUAL} nodes |
|---|---|---|---|---|---|
{chr(10).join(rows)}

The peers use cell-centred enthalpy on their own tables, the general ones with a compiled right side.

| nodes | steps | rejected | iterations | node iterations | ns each | flux error | table error | recount |
|---|---|---|---|---|---|---|---|---|
{chr(10).join(counted)}

Worst errors of {len(others)} strands that differ from the one above by flux × 0.8 … 1.2, sprays × 0.4 … 1.8, pouring
1515 … 1545 °C: {"; ".join(f"{n} nodes {w[0]:.3f} mm, {w[1]:.2f} K" for n, w in off.items())}.

Other sections (the same half thickness) and steels, {USUAL} nodes, worst of {len(some)} strands each against 800 nodes at a
five-hundredth of the tolerance:

| | best, ms a strand | iterations | shell, mm | surface, K | table error |
|---|---|---|---|---|---|
{chr(10).join(kind_rows)}

## Many strands

| | best, ms | median, ms |
|---|---|---|
{per}

{1 / alone:.0f} strands a second on one thread, {1 / both:.0f} on two: {alone / both:.2f} times as many. The strand with
15 zones takes {zone_times["15"].best / zone_times["5"].best:.2f} times the time of that with 5
({zone_times["15"].best * 1e3:.3f} against {zone_times["5"].best * 1e3:.3f} ms).

## Starting

| | best, s | median, s |
|---|---|---|
{chr(10).join(f"| {name} | {t.text(1.0)} |" for name, t in starts)}

Bloom: the demonstration case of the package.
"""
    if quick:
        print(text)
    else:
        PAGE.write_text(text, encoding="utf-8")
        print(f"wrote {PAGE.relative_to(ROOT)} in {perf_counter() - begin:.0f} s")


def processor() -> str:
    """Name of the processor."""
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    except OSError:
        return platform.processor() or platform.machine()
    return next(
        (line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")), platform.machine()
    )


if __name__ == "__main__":
    main()
