"""Sweeps: every run of a study marched in chunks, each finished chunk on the disk before its place is taken.

A run is marched with the others of its chunk but comes out as it would alone, bit for bit; so the file does not
depend on chunks, workers, order or interruptions. Only the chunks being worked on are in memory.
"""

from __future__ import annotations

import math
import os
import platform
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np
from llvmlite.binding import get_host_cpu_name

from solidify.assessment.judge import Judgements, judged
from solidify.case import Case
from solidify.errors import Notice, SolidifyError
from solidify.heat.spray_range import outside_range
from solidify.storage.checkpoint import Shards, clear_shards
from solidify.storage.study_file import failed_in, finished
from solidify.storage.study_schema import STATUS, columns, finding_names
from solidify.storage.study_writer import write_study
from solidify.strand.profiles import read_along
from solidify.strand.result import Result
from solidify.strand.result_batch import Results
from solidify.strand.solve import CHUNK, solve_each, solve_stacked
from solidify.study.study import Study
from solidify.study.workers import chunk_size, threads_of, work, workers_of

__all__ = ["Outcome", "chunk_rows", "machine", "run_study"]

LEAST = 8
"""Runs in the smallest chunk; there one takes half as long again as among 64, a matter of milliseconds in all."""

Progress = Callable[[int, int, int], None]
"""Told the runs done, those of them that failed, and how many were done before this start."""


@dataclass(frozen=True)
class Outcome:
    """What became of a study.

    Parameters
    ----------
    path : Path
        The study file.
    runs, failed : int
        How many, and how many of them failed.
    found : int
        Runs that were on the disk already.
    """

    path: Path
    runs: int
    failed: int
    found: int


@dataclass(frozen=True)
class _Task:
    """All that a worker needs for a chunk; small, so that it travels."""

    case: Case
    changes: tuple[dict[str, Any], ...]
    keep: tuple[str, ...]
    fractions: tuple[float, ...]
    distance: np.ndarray
    known: frozenset[Notice]


def run_study(
    study: Study,
    path: str | os.PathLike[str],
    *,
    workers: int = 1,
    executor: Executor | None = None,
    chunk: int | None = None,
    progress: Progress | None = None,
) -> Outcome:
    """March every run of a study into one file; go on where an earlier call was stopped.

    Parameters
    ----------
    study : Study
        From `read_study` or `make_study`.
    path : str or path-like
        The study file. While the study is under way, finished chunks stand beside it in ``<name>.parts``.
    workers : int
        Processes that march; 1 stays in this one. A script that asks for more keeps its own work under
        ``if __name__ == "__main__":``.
    executor : concurrent.futures.Executor, optional
        What works on the chunks in place of `workers`: threads, processes, or a cluster that offers this
        interface.
    chunk : int, optional
        Runs in a chunk; by default at most 128, fewer where there would not be some for each worker. A study that
        goes on keeps the number it began with.
    progress : callable, optional
        Called with the runs done, those that failed, and those found finished, after each chunk.

    Returns
    -------
    Outcome

    Raises
    ------
    InputError
        If another study or file stands at `path`, or it cannot be written; nothing finished is lost.
    SolidifyError
        If a worker died.
    """
    target = Path(path)
    if finished(target, study.fingerprint):
        clear_shards(target)  # a killed process may have left them
        return Outcome(target, study.runs, failed_in(target), study.runs)
    count = workers if executor is None else threads_of(executor)
    shards = Shards(
        target, study.fingerprint, study.runs, chunk or chunk_size(study.runs, count, LEAST, CHUNK)
    )
    with shards.locked():
        todo = shards.missing()
        total = {"done": study.runs - sum(len(shards.span(i)) for i in todo), "failed": 0}
        total["failed"] = sum(map(shards.failed, {*range(shards.count)} - {*todo}))
        found = total["done"]
        known, distance = _base(study)

        def task(index: int) -> _Task:
            changes = tuple(study.values(run) for run in shards.span(index))
            return _Task(study.case_for(changes), changes, study.keep, study.fractions, distance, known)

        def write(index: int, rows: dict[str, Any]) -> None:
            shards.write(index, rows)
            total["done"] += len(rows["status"])
            total["failed"] += int(np.count_nonzero(rows["status"]))
            if progress is not None:
                progress(total["done"], total["failed"], found)

        if progress is not None:
            progress(total["done"], total["failed"], found)
        if todo:
            with workers_of(workers, executor) as pool:
                lost = work(pool, _marched, todo, task, write, getattr(progress, "poll", lambda: None))
            _refuse(lost, shards)
        _merge(study, shards, distance)
    return Outcome(target, study.runs, total["failed"], found)


def _merge(study: Study, shards: Shards, distance: np.ndarray) -> None:
    """Put all chunks into the one file of the study, and take their folder away."""
    axes: dict[str, Sequence[Any]] = {"solid_fraction": study.fractions}
    axes |= {"finding": finding_names()} if "findings" in study.keep else {}
    axes |= {"distance": distance.tolist()} if "profiles" in study.keep else {}
    words = {
        "fingerprint": study.fingerprint,
        "sampling": study.sampling,
        "varied": "\n".join(study.inputs),
    }
    inputs = ((name, study.column(place)) for place, name in enumerate(study.inputs))
    blocks = map(shards.read, range(shards.count))
    with shards.becoming() as place:
        write_study(place, study.case, study.runs, columns(study.keep), inputs, axes, blocks, **words)


@cache
def machine() -> str:
    """Say what rounds here: system, processor and numerical libraries; runs agree bit for bit where it is the same.

    Returns
    -------
    str
        One line.
    """
    processor = f"{platform.system()} {platform.machine()} {get_host_cpu_name()}"
    return ", ".join(
        [processor, *(f"{name} {version(name)}" for name in ("numpy", "scipy", "numba", "llvmlite"))]
    )


def _marched(task: _Task) -> dict[str, Any]:
    """March a chunk where this is called, and say where that was."""
    return {"marched_on": machine(), **chunk_rows(task)}


def _refuse(lost: Mapping[int, Exception], shards: Shards) -> None:
    """Say which runs could not be marched at all."""
    said = [
        f"runs {shards.span(i).start + 1} to {shards.span(i).stop}: {type(error).__name__}: {_one_line(error)}"
        for i, error in sorted(lost.items())
    ]
    if said:
        said.append(
            "finished runs are safe; the same command, here or on other workers, tries the rest again"
        )
        raise SolidifyError("\n    ".join(said))


def _base(study: Study) -> tuple[frozenset[Notice], np.ndarray]:
    """March the base case: its warnings are not said again for every run, its distances carry the profiles."""
    (result,) = solve_each([study.case], sections=False)
    if isinstance(result, Result):
        return frozenset(result.notices), result.distance
    case = study.case
    return frozenset(case.notices), np.arange(0.0, case.cutoff, case.steps.output_step_m)


def chunk_rows(task: _Task) -> dict[str, Any]:
    """March a chunk and lay out what is kept of it, a row a run.

    Parameters
    ----------
    task : _Task
        The base case, what each run changes in it, and what is kept.

    Returns
    -------
    dict of str to ndarray or list of str
        The columns of `solidify.storage.study_schema.columns`.
    """
    rows = _empty(task)
    cases: dict[int, Case] = {}
    for run, changes in enumerate(task.changes):
        try:
            cases[run] = task.case.replace(changes)
        except SolidifyError as error:
            rows["reason"][run] = _one_line(error)
    _fill(rows, cases, task)
    return rows


def _fill(rows: dict[str, Any], cases: Mapping[int, Case], task: _Task) -> None:
    """March the cases of some runs and put them into their rows."""
    runs = np.array([*cases])
    try:
        groups, wrong = solve_stacked([*cases.values()], sections=False)
        for group in groups:
            results = group.results
            judgements = judged(results) if "findings" in task.keep else None
            _put(rows, runs[group.places], results, judgements, task)
        for place, error in wrong.items():
            rows["reason"][runs[place]] = _one_line(error)
    except Exception as error:  # one run must not stop the rest, whatever is wrong with it
        if len(cases) > 1:
            for run, case in cases.items():
                _fill(rows, {run: case}, task)
        elif isinstance(error, SolidifyError):
            rows["reason"][runs[0]] = _one_line(error)
        else:
            rows["reason"][runs[0]] = f"unexpected: {type(error).__name__}: {error}"


def _one_line(error: Exception) -> str:
    return "; ".join(line.strip() for line in str(error).splitlines())


def _empty(task: _Task) -> dict[str, Any]:
    """Make the columns of a chunk as they are for runs that failed."""
    count = len(task.changes)
    sizes = {
        "solid_fraction": len(task.fractions),
        "finding": len(finding_names()),
        "bound": 2,
        "side": 2,
        "distance": len(task.distance),
    }
    rows: dict[str, Any] = {}
    for name, column in columns(task.keep).items():
        shape = (count, *(sizes[dim] for dim in column.dims))
        if column.kind == "text":
            rows[name] = [""] * count
        else:
            rows[name] = np.full(shape, math.nan if column.kind[0] == "f" else -1, dtype=column.kind)
    rows["status"][:] = STATUS["failed"]
    return rows


def _put(
    rows: dict[str, Any], runs: np.ndarray, results: Results, judgements: Judgements | None, task: _Task
) -> None:
    """Put strands side by side into their rows."""
    for run, notices in zip(runs, results.notices, strict=True):
        rows["warning"][run] = "; ".join(str(notice) for notice in notices if notice not in task.known)
        rows["outside_range"][run] = "; ".join(outside_range(notices))
    if "summary" in task.keep:
        places = [results.fraction_index(f) for f in task.fractions]
        for name, values in results.summary.items():
            rows[name][runs] = values[:, places] if name == "shell_at_mould_exit" else values
        rows["balance_error"][runs] = results.balance_error
    if judgements is not None:
        rows["breakout_risk"][runs] = judgements.risk
        places = [finding_names().index(name) for name in judgements.names]
        for name in ("verdict", "value", "margin", "limit"):
            rows[name][runs[:, None], places] = getattr(judgements, name).T
    if "profiles" in task.keep:
        headline = results.shell_thickness[:, :, results.fraction_index(results.headline)]
        profiles = {
            "surface_temperature": results.surface_temperature,
            "heat_flux": results.heat_flux,
            "shell_thickness": headline,
            "centre_temperature": results.centre_temperature,
            "centre_solid_fraction": results.centre_solid_fraction,
        }
        beyond = task.distance > results.distance[-1]
        for name, values in profiles.items():
            there = read_along(results.distance, values, task.distance)
            rows[name][runs] = np.where(beyond, math.nan, there)
    rows["status"][runs] = STATUS["done"]
