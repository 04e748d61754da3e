"""How fast and how exact: the march against peers, the command line cold and warm.

``python benchmarks/speed.py`` writes benchmarks/RESULTS.md and its picture (some minutes; best on a quiet machine);
``--quick`` prints fewer rounds and writes nothing. Install the peers with ``pip install "solidify[bench]"``; what is
missing is left out, and so is the twin where there is no C++ compiler.
"""

from __future__ import annotations

import argparse
import os
import platform
import subprocess
import tempfile
from collections.abc import Callable
from datetime import date
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from time import perf_counter

from marched import OPTIONS, Marched, compiler
from reference_strand import KINDS, STRAND, answers, like_it, slice_of, worst, zoned
from timing import ROOT, Times, command, interleaved, processor
from work_precision import OURS, TWIN, USUAL, Point, draw, measure, of, ratios, reference, usual

from solidify.case import read_case
from solidify.solver.march import march_slices
from solidify.strand.solve import solve, solve_many

PAGE = ROOT / "benchmarks" / "RESULTS.md"
PICTURE = PAGE.with_name("work-precision.svg")
CASE = ROOT / "solidify" / "data" / "cases" / "bloom.toml"
NODES = (40, 48, USUAL)
BATCH = 200
PACKAGES = ("solidify", "numpy", "scipy", "numba", "llvmlite", "scikit-sundae", "scikit-fem", "FiPy")

FIRST_CALL = """
from time import perf_counter
from solidify.case import read_case
from solidify.strand.solve import solve
case = read_case(r"{case}")
begin = perf_counter()
solve(case)
first = perf_counter() - begin
begin = perf_counter()
solve(case)
print(first, perf_counter() - begin)
"""


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


def kind_rows(quick: bool) -> list[str]:
    """Rows of every kind of strand: time, iterations, worst errors of some strands."""
    some, rows = like_it()[: 2 if quick else 12], []
    for name, kind in KINDS.items():
        marched = Marched([slice_of(s, USUAL, kind=kind) for s in some])
        shell, surface = worst(answers(some, USUAL, kind=kind), answers(some, 600, 4e-3, kind))
        iterations = sum(m.iterations for m in marched.marches) / len(some)
        time = interleaved({"": marched.run}, {"": 20 if quick else 100})[""].best / len(some) * 1e3
        table_error = max(m.table_error for m in marched.marches)
        rows.append(
            f"| {name} | {time:.3f} | {iterations:.0f} | {shell:.3f} | {surface:.2f} | {table_error:.0e} |"
        )
    return rows


def strand_rows(points: list[Point]) -> tuple[list[str], list[str]]:
    """Rows of the table of all codes and settings, and of the counts of the march."""
    base = usual(points).times.best
    rows = [
        f"| {p.setting.name} | {p.times.text()} | {p.shell:.3f} | {p.surface:.2f} | {p.times.best / base:.3g} |"
        for p in points
    ]
    counts = []
    for n in NODES:
        (m,) = march_slices([slice_of(STRAND, n)])
        best = next(p for p in of(points, OURS) if p.setting.words == f"{n} nodes").times.best
        counts.append(
            f"| {n} | {m.steps} | {m.rejected} | {m.iterations} | {m.iterations * n} | "
            f"{best / (m.iterations * n) * 1e9:.1f} | "
            f"{m.flux_error:.0e} | {m.table_error:.0e} | {m.recount_error:.0e} |"
        )
    return rows, counts


def many_strands(quick: bool) -> tuple[list[str], str]:
    """Rows of a batch, threads and what a caller of Python sees, and the sentence below."""
    batch = Marched([slice_of(s, USUAL) for s in like_it(BATCH, seed=1)])
    zones = {n: Marched([slice_of(zoned(n), USUAL)]) for n in (5, 15)}
    case = read_case(CASE)
    cases = [case.replace({"casting.superheat_K": 20 + 0.1 * i}) for i in range(BATCH // 4)]
    things: dict[str, tuple[int, int, Callable[[], object]]] = {
        f"one strand of a batch of {BATCH}, one thread": (25, BATCH, batch.run),
        "the same, two threads": (25, BATCH, lambda: batch.run(2)),
        "`march_slices` of one strand: arrays laid out, marched, read back": (
            100,
            1,
            lambda: march_slices([slice_of(STRAND, USUAL)]),
        ),
        "`solve(case)`, bloom, warm": (40, 1, lambda: solve(case)),
        f"one case of `solve_many` with {len(cases)}": (10, len(cases), lambda: solve_many(cases)),
    }
    share = 4 if quick else 1
    times = interleaved(
        {name: call for name, (_, _, call) in things.items()},
        {name: max(3, rounds // share) for name, (rounds, _, _) in things.items()},
    )
    rows = [f"| {name} | {times[name].text(share=many)} |" for name, (_, many, _) in things.items()]
    alone, both = (times[name].best / BATCH for name in list(things)[:2])
    z = interleaved({str(n): m.run for n, m in zones.items()}, dict.fromkeys(("5", "15"), 600 // share))
    ratio = z["15"].best / z["5"].best
    said = (
        f"{1 / alone:.0f} strands a second on one thread, {1 / both:.0f} on two: {alone / both:.2f} times as many. "
        f"The strand with\n15 zones takes {ratio:.2f} times the time of that with 5 "
        f"({z['15'].best * 1e3:.3f} against {z['5'].best * 1e3:.3f} ms)."
    )
    return rows, said


def machine() -> str:
    """What it ran on: date, processor, load before the start, versions."""
    found = []
    for name in PACKAGES:
        try:
            found.append(f"{name} {version(name)}")
        except PackageNotFoundError:
            found.append(f"{name} not installed")
    cc = compiler()
    if cc:
        told = subprocess.run([cc, "--version"], check=True, capture_output=True, text=True).stdout
        found.append(told.splitlines()[0])
    cores = len(os.sched_getaffinity(0))
    return (
        f"{date.today().isoformat()}, {processor()}, {cores} cores, load {os.getloadavg()[0]:.1f} before the start; "
        f"Python\n{platform.python_version()}, {', '.join(found[:6])},\n{', '.join(found[6:])}."
    )


def page(quick: bool) -> tuple[str, list[Point]]:
    """Measure everything; returns the page and what the picture shows."""
    about, truth = machine(), reference()
    own = answers([STRAND], 1200, 1e-3)[0].errors(truth)
    points = measure(quick, truth)
    rows, counts = strand_rows(points)
    others = like_it(4 if quick else 24)
    fine = answers(others, 800, 2e-3)
    off = {n: worst(answers(others, n), fine) for n in NODES}
    kinds, (many, said), starts = kind_rows(quick), many_strands(quick), start_up(2 if quick else 10)
    twin = "There is no C++ compiler here, so there is no twin."
    if of(points, TWIN):
        beside = usual(points).times.best / usual(points, TWIN).times.best
        twin = (
            f"The twin is the same scheme by hand in C++ (`c++ {' '.join(OPTIONS)}`), held\n"
            f"to the same steps and iterations and to temperatures within 1e-6 K: the march takes {beside:.2f} times its time at {USUAL} nodes."
        )
    text = f"""# Speed and accuracy of the march

<!-- Written by `python benchmarks/speed.py`. Do not edit by hand. -->

`pip install "solidify[bench]"`, then `python benchmarks/speed.py` writes this page. This one:
{about}
Times are the shortest, then the median and the quartiles of all rounds; all of a table was timed in turn in one process.
On a machine that others use, the shortest ones and their ratios mean most, and a second thread may find nothing to run
on.

## One strand

Half of a 250 mm plate, 1800 s, invented: mould flux 2.6 − 0.27 √t MW/m² for 30 s, then spray and radiation in three
pieces; freezing range 50 K, liquid conduction × 5; a sample every second. Errors: shell (solid fraction 0.7) up to 90 %
of the half thickness, surface after the first second, the largest of all samples. The reference is the explicit peer
with 600 and 1200 cells, extrapolated, which shares nothing with the march but the curves of the steel; the march with
1200 nodes and a thousandth of the tolerance differs from it by at most {own[0]:.4f} mm and {own[1]:.3f} K, and errors
below that say nothing.

![Errors of the shell and of the surface over the time of one strand]({PICTURE.name})

What each peer takes beside the march, at its cheapest setting tried: in the accuracy class, 0.1 mm and 2 K, both; and
with errors no larger than those of the march on its {USUAL} nodes.

| | times the march, in the class | at | times the march, as good | at |
|---|---|---|---|---|
{chr(10).join(ratios(points))}

{twin}

| | best, ms | median, ms | shell, mm | surface, K | times {USUAL} nodes |
|---|---|---|---|---|---|
{chr(10).join(rows)}

The integrators use cell-centred enthalpy on graded cells, their own tables and a compiled right side; the two libraries
their own meshes and solvers, with steps that are a share of the time since the last zone border.

| nodes | steps | rejected | iterations | node iterations | ns each | flux error | table error | recount |
|---|---|---|---|---|---|---|---|---|
{chr(10).join(counts)}

Worst errors of {len(others)} strands that differ from the one above by flux × 0.8 … 1.2, sprays × 0.4 … 1.8, pouring
1515 … 1545 °C: {"; ".join(f"{n} nodes {w[0]:.3f} mm, {w[1]:.2f} K" for n, w in off.items())}.

## Kinds of strand

The same half thickness, {USUAL} nodes, worst of {2 if quick else 12} such strands each against 600 nodes at a
two-hundred-and-fiftieth of the tolerance. The accuracy class is 0.1 mm at a solid fraction of 0.7 and 2 K;
docs/accuracy.md names the strands that the tests hold to it:

| | best, ms a strand | iterations | shell, mm | surface, K | table error |
|---|---|---|---|---|---|
{chr(10).join(kinds)}

## Many strands

| | best, ms | median, ms |
|---|---|---|
{chr(10).join(many)}

{said}

## Starting

| | best, s | median, s |
|---|---|---|
{chr(10).join(f"| {name} | {t.text(1.0)} |" for name, t in starts)}

Bloom: the demonstration case of the package.
"""
    return text, points


def main() -> None:
    """Measure and write."""
    parser = argparse.ArgumentParser(description="Measure speed and errors of the march against peers.")
    parser.add_argument("--quick", action="store_true", help="few rounds and settings; print only")
    quick = parser.parse_args().quick
    begin = perf_counter()
    text, points = page(quick)
    if quick:
        print(text)
    else:
        PAGE.write_text(text, encoding="utf-8")
        draw(points, PICTURE)
        print(f"wrote {PAGE.relative_to(ROOT)} and {PICTURE.name} in {perf_counter() - begin:.0f} s")


if __name__ == "__main__":
    main()
