"""Speed ceilings: for section, grade and superheat, the casting speeds at which no hard limit is breached.

Some limits bind on the fast side (shell at mould exit, last liquid), some on the slow one (straightening
temperature), so what is found are intervals. The speeds are scanned, then the borders are halved in; each border
is told from its safe side, with the limits that are breached just beyond it.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from solidify.case import Case, Zone
from solidify.errors import InputError, Problem, SolidifyError
from solidify.findings import judge
from solidify.marching import CHUNK, solve_each
from solidify.sheet import columns
from solidify.studies.study_file import Study
from solidify.studies.sweep import workers_of

__all__ = ["SPEED", "Ceiling", "Interval", "ceiling_csv", "ceiling_text", "scan_speeds", "speed_ceilings"]

SPEED = "casting.speed_m_per_min"
"""The one key that a study of ceilings leaves free."""

WITHIN = 0.005
"""A border is known to this [m/min]."""

IMPOSSIBLE = "cannot be marched"
"""Stands in place of a limit where a speed makes no case or no strand."""


@dataclass(frozen=True)
class Interval:
    """Speeds at which no hard limit is breached.

    Parameters
    ----------
    lowest, highest : float
        The border on its safe side [m/min].
    below, above : tuple of str
        Labels of the hard limits breached just beyond; empty where the scan ended before any was.
    """

    lowest: float
    highest: float
    below: tuple[str, ...]
    above: tuple[str, ...]


@dataclass(frozen=True)
class Ceiling:
    """The speeds of one row: a section, a grade, a superheat.

    Parameters
    ----------
    inputs : dict of str to value
        Key paths and values of the row.
    intervals : tuple of Interval
        From slow to fast; empty where every speed scanned breaches a hard limit.
    everywhere : tuple of str
        Without an interval, the hard limits breached at most of the speeds scanned, most often first.
    not_judged : tuple of str
        Hard limits that could not be judged at one speed or more: they do not speak in the intervals.
    """

    inputs: dict[str, Any]
    intervals: tuple[Interval, ...]
    everywhere: tuple[str, ...]
    not_judged: tuple[str, ...]


@dataclass(frozen=True)
class _Verdict:
    """What the hard limits say of one strand."""

    breached: tuple[str, ...]
    not_judged: tuple[str, ...] = ()


def speed_ceilings(
    study: Study,
    lowest: float,
    highest: float,
    *,
    step: float = 0.05,
    within: float = WITHIN,
    workers: int = 1,
    executor: Executor | None = None,
    progress: Callable[[int, int, int], None] | None = None,
) -> list[Ceiling]:
    """Find for each row of a study the speeds at which no hard limit is breached.

    Parameters
    ----------
    study : Study
        Its runs are the rows; the casting speed does not vary in it.
    lowest, highest : float
        Speeds to scan [m/min].
    step : float
        Of the scan [m/min]. What opens and closes again between two speeds of the scan is not seen.
    within : float
        A border is known to this [m/min].
    workers, executor, progress
        As for `solidify.studies.sweep.run_study`; progress counts the strands of the scan.

    Returns
    -------
    list of Ceiling
        In the order of the rows. Verdicts are those of the strand as given, without error bands.

    Raises
    ------
    InputError
        If the speed varies in the study, or the speeds to scan make no sense.
    """
    speeds = scan_speeds(study, lowest, highest, step)
    points = [(row, v) for row in range(study.runs) for v in speeds]
    solve_each([study.case], sections=False)  # compiles, if need be, once and before the workers
    with workers_of(workers, executor) as pool:
        found = dict(zip(points, _verdicts(study, points, pool, progress), strict=True))
        gaps = [
            (row, a, b)
            for row in range(study.runs)
            for a, b in pairwise(speeds)
            if bool(found[row, a].breached) != bool(found[row, b].breached)
        ]
        while gaps and max(b - a for _, a, b in gaps) > within:
            middles = [(row, 0.5 * (a + b)) for row, a, b in gaps]
            found |= dict(zip(middles, _verdicts(study, middles, pool), strict=True))
            gaps = [
                (row, v, b) if bool(found[row, v].breached) == bool(found[row, a].breached) else (row, a, v)
                for (row, a, b), (_, v) in zip(gaps, middles, strict=True)
            ]
    rows: list[dict[float, _Verdict]] = [{} for _ in range(study.runs)]
    for (row, v), verdict in sorted(found.items()):
        rows[row][v] = verdict
    return [_ceiling(study.values(i), row) for i, row in enumerate(rows)]


def scan_speeds(study: Study, lowest: float, highest: float, step: float) -> list[float]:
    """Return the speeds of the first look.

    Parameters
    ----------
    study : Study
        The rows.
    lowest, highest, step : float
        As for `speed_ceilings` [m/min].

    Returns
    -------
    list of float
        [m/min].

    Raises
    ------
    InputError
        As `speed_ceilings`.
    """
    problems = []
    if SPEED in study.inputs:
        problems.append(Problem(SPEED, "varies in the study", do="leave it out: the ceiling is sought in it"))
    about = study.case.about(SPEED)
    low, high = about["minimum"], about["maximum"]
    if not low <= lowest < highest <= high:
        given = f"{lowest:g} to {highest:g} m/min"
        problems.append(Problem("speeds to scan", given, f"rising, within {low:g} to {high:g} m/min"))
    elif not (highest - lowest) / 1000 <= step <= highest - lowest:
        allowed = f"{(highest - lowest) / 1000:g} to {highest - lowest:g} m/min"
        problems.append(Problem("step of the scan", f"{step:g} m/min", allowed))
    if problems:
        raise InputError(problems)
    count = math.ceil((highest - lowest) / step - 1e-9) + 1
    return [float(v) for v in np.linspace(lowest, highest, count)]


def _verdicts(
    study: Study,
    points: Sequence[tuple[int, float]],
    pool: Executor,
    progress: Callable[[int, int, int], None] | None = None,
) -> list[_Verdict]:
    """Judge strands, chunk by chunk."""
    changes = [{**study.values(row), SPEED: v} for row, v in points]
    chunks = [changes[i : i + CHUNK] for i in range(0, len(changes), CHUNK)]
    found: list[_Verdict] = []
    for verdicts in pool.map(chunk_verdicts, [study.case] * len(chunks), chunks):
        found += verdicts
        if progress is not None:
            progress(len(found), 0, 0)
    return found


def chunk_verdicts(case: Case, changes: Sequence[dict[str, Any]]) -> list[_Verdict]:
    """March a chunk and return what the hard limits say of each strand.

    Parameters
    ----------
    case : Case
        The base case.
    changes : sequence of dict
        What each strand changes in it.

    Returns
    -------
    list
        In the order of the changes.
    """
    found: dict[int, _Verdict] = {}
    cases: dict[int, Case] = {}
    for i, own in enumerate(changes):
        try:
            cases[i] = case.replace(own)
        except SolidifyError:
            found[i] = _Verdict((IMPOSSIBLE,))
    for i, result in zip(cases, solve_each(list(cases.values()), sections=False), strict=True):
        if isinstance(result, SolidifyError):
            found[i] = _Verdict((IMPOSSIBLE,))
            continue
        hard = [f for f in judge(result).findings if f.hardness == "hard"]
        breached = tuple(f.label for f in hard if f.verdict == "breached")
        found[i] = _Verdict(breached, tuple(f.label for f in hard if not f.judged))
    return [found[i] for i in range(len(changes))]


def _ceiling(inputs: dict[str, Any], row: dict[float, _Verdict]) -> Ceiling:
    """Join the speeds of a row that breach nothing to intervals."""
    speeds = list(row)
    intervals: list[Interval] = []
    begin = None
    for i, v in enumerate(speeds):
        if row[v].breached:
            begin = None
            continue
        begin = i if begin is None else begin
        if i + 1 == len(speeds) or row[speeds[i + 1]].breached:
            below = row[speeds[begin - 1]].breached if begin > 0 else ()
            above = row[speeds[i + 1]].breached if i + 1 < len(speeds) else ()
            intervals.append(Interval(speeds[begin], v, below, above))
    counts: dict[str, int] = {}
    for verdict in row.values():
        for label in verdict.breached:
            counts[label] = counts.get(label, 0) + 1
    everywhere = () if intervals else tuple(sorted(counts, key=lambda label: -counts[label]))
    not_judged = tuple(dict.fromkeys(label for verdict in row.values() for label in verdict.not_judged))
    return Ceiling(inputs, tuple(intervals), everywhere, not_judged)


def ceiling_csv(ceilings: Sequence[Ceiling]) -> str:
    """Write ceilings as a table to hand on.

    Parameters
    ----------
    ceilings : sequence of Ceiling
        From `speed_ceilings`.

    Returns
    -------
    str
        CSV: a line an interval, and one for a row without any. A border without a limit is where the scan ended.
        Borders are rounded to the safe side, to 0.001 m/min.
    """
    inputs = list(dict.fromkeys(name for c in ceilings for name in c.inputs))
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(
        [*inputs, "lowest_m_per_min", "binds_below", "highest_m_per_min", "binds_above", "not_judged"]
    )
    for c in ceilings:
        own, silent = [c.inputs.get(name, "") for name in inputs], "; ".join(c.not_judged)
        for i in c.intervals:
            low, high = math.ceil(i.lowest * 1e3 - 1e-6) / 1e3, math.floor(i.highest * 1e3 + 1e-6) / 1e3
            table.writerow([*own, low, "; ".join(i.below), high, "; ".join(i.above), silent])
        if not c.intervals:
            table.writerow([*own, "none", "; ".join(c.everywhere), "none", "", silent])
    return text.getvalue()


def ceiling_text(ceilings: Sequence[Ceiling], case: Case) -> str:
    """Write ceilings for a terminal.

    Parameters
    ----------
    ceilings : sequence of Ceiling
        From `speed_ceilings`.
    case : Case
        The base case.

    Returns
    -------
    str
    """
    rows = list(csv.reader(io.StringIO(ceiling_csv(ceilings))))
    head = [name.rsplit(".", 1)[-1] for name in rows[0][:-5]]
    shown = [(*head, "lowest", "binds below", "highest", "binds above")]
    shown += [(*row[:-5], *(cell or "–" for cell in row[-5:-1])) for row in rows[1:]]
    lines = ["casting speeds [m/min] at which no hard limit is breached", "", *columns(shown, "lr"), ""]
    silent = sorted({label for c in ceilings for label in c.not_judged})
    if silent:
        lines.append(f"not judged at some speed, and so not counted: {', '.join(silent)}")
    fixed = [zone.name for zone in case.zone if not _follows_speed(zone)]
    if fixed:
        lines.append(f"the water does not follow the speed in: {', '.join(fixed)}")
    lines.append(
        "estimates of a simplified slice without error bands; a speed is set by those who answer for it"
    )
    return "\n".join(lines)


def _follows_speed(zone: Zone) -> bool:
    return bool(zone.tables()) or zone.water_L_per_kg is not None
