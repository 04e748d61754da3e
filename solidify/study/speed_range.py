"""Speed ceilings: for section, grade and superheat, the casting speeds at which no hard limit is breached.

Some limits bind on the fast side (shell at mould exit, last liquid), some on the slow one (straightening
temperature), so what is found are intervals. The speeds are scanned, then the borders are halved in; each border
is told from its safe side, with the limits that are breached just beyond it.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

import numpy as np

from solidify.assessment.bands import Bands
from solidify.assessment.error_bands import bands_of, shifted_cases
from solidify.assessment.finding import BREACHED, CLOSE, NOT_JUDGED
from solidify.assessment.judge import Judgements, judged
from solidify.case import Case
from solidify.errors import InputError, Problem, SolidifyError
from solidify.heat.spray_range import outside_range
from solidify.strand.solve import CHUNK, solve_each, solve_stacked
from solidify.study.study import Study
from solidify.study.workers import chunk_size, threads_of, work, workers_of

__all__ = ["SPEED", "Ceiling", "Interval", "inner_speeds", "scan_speeds", "speed_ceilings", "with_bands"]

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
    sure : Interval, optional
        The widest part of it in which no hard limit is reached by its error band either; None where there is none,
        or bands were not asked for.
    """

    lowest: float
    highest: float
    below: tuple[str, ...]
    above: tuple[str, ...]
    sure: Interval | None = None


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
    banded : bool
        Whether the intervals know their sure part.
    outside : mapping of str to int
        Spray relations that are used outside their range, and at how many of the speeds looked at.
    runs : int
        Speeds looked at.
    """

    inputs: dict[str, Any]
    intervals: tuple[Interval, ...]
    everywhere: tuple[str, ...]
    not_judged: tuple[str, ...]
    banded: bool = False
    outside: Mapping[str, int] = field(default_factory=dict)
    runs: int = 0


@dataclass(frozen=True)
class _Verdict:
    """What the hard limits say of one strand, and the spray relations that it uses outside their range."""

    breached: tuple[str, ...]
    not_judged: tuple[str, ...] = ()
    outside: tuple[str, ...] = ()


_Task = tuple[Case, list[dict[str, Any]], bool]
"""What `chunk_verdicts` is given; small, so that it travels."""


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
        As for `solidify.study.run.run_study`; progress counts the strands of the scan.

    Returns
    -------
    list of Ceiling
        In the order of the rows. Verdicts are those of the strand as given; `with_bands` adds the plant's errors.

    Raises
    ------
    InputError
        If the speed varies in the study, or the speeds to scan make no sense.
    SolidifyError
        If a worker died.
    """
    speeds = scan_speeds(study, lowest, highest, step)
    points = [(row, v) for row in range(study.runs) for v in speeds]
    solve_each([study.case], sections=False)  # compiles, if need be, once and before the workers
    with workers_of(workers, executor) as pool:
        found = dict(zip(points, _verdicts(study, points, pool, False, progress), strict=True))
        _refine(study, found, pool, False, within)
    return [_ceiling(study.values(i), row) for i, row in enumerate(_rows(study, found))]


def with_bands(
    study: Study,
    ceilings: Sequence[Ceiling],
    speeds: Sequence[float],
    *,
    within: float = WITHIN,
    workers: int = 1,
    executor: Executor | None = None,
    progress: Callable[[int, int, int], None] | None = None,
) -> list[Ceiling]:
    """Find in each interval the part that holds with the input errors of the plant, ``[uncertainty]`` of the case.

    Every strand is marched with eight beside it, one standard deviation more and less of each input. A limit
    speaks where it is breached or its error band reaches it.

    Parameters
    ----------
    study : Study
        As for `speed_ceilings`.
    ceilings : sequence of Ceiling
        From `speed_ceilings`.
    speeds : sequence of float
        From `scan_speeds` [m/min].
    within, workers, executor, progress
        As for `speed_ceilings`; progress counts the speeds of `inner_speeds`.

    Returns
    -------
    list of Ceiling
        The same, with the sure part of each interval.
    """
    points = inner_speeds(ceilings, speeds)
    with workers_of(workers, executor) as pool:
        found = dict(zip(points, _verdicts(study, points, pool, True, progress), strict=True))
        for row, ceiling in enumerate(ceilings):
            for i in ceiling.intervals:  # just beyond a border its limit is breached
                for v, labels in ((i.lowest - within, i.below), (i.highest + within, i.above)):
                    if labels:
                        found.setdefault((row, v), _Verdict(labels))
        _refine(study, found, pool, True, within)
    rows = _rows(study, found)
    return [
        replace(c, intervals=tuple(_with_sure(i, row) for i in c.intervals), banded=True)
        for c, row in zip(ceilings, rows, strict=True)
    ]


def inner_speeds(ceilings: Sequence[Ceiling], speeds: Sequence[float]) -> list[tuple[int, float]]:
    """Return the rows and speeds of the scan that lie in an interval, and its borders.

    Parameters
    ----------
    ceilings : sequence of Ceiling
        From `speed_ceilings`.
    speeds : sequence of float
        From `scan_speeds` [m/min].

    Returns
    -------
    list of (int, float)
        Row, counted from 0, and speed [m/min].
    """
    return [
        (row, v)
        for row, c in enumerate(ceilings)
        for i in c.intervals
        for v in sorted({i.lowest, i.highest, *(v for v in speeds if i.lowest < v < i.highest)})
    ]


def _with_sure(interval: Interval, row: dict[float, _Verdict]) -> Interval:
    """Give an interval the widest of its parts in which nothing speaks."""
    parts = [p for p in _intervals(row) if interval.lowest <= p.lowest and p.highest <= interval.highest]
    return replace(interval, sure=max(parts, key=lambda p: p.highest - p.lowest, default=None))


def _rows(study: Study, found: dict[tuple[int, float], _Verdict]) -> list[dict[float, _Verdict]]:
    """Return the verdicts of each row by rising speed."""
    rows: list[dict[float, _Verdict]] = [{} for _ in range(study.runs)]
    for (row, v), verdict in sorted(found.items(), key=lambda item: item[0]):
        rows[row][v] = verdict
    return rows


def _refine(
    study: Study, found: dict[tuple[int, float], _Verdict], pool: Executor, banded: bool, within: float
) -> None:
    """Halve every gap in which a verdict changes, until it is narrow enough."""
    gaps = [
        (i, a, b)
        for i, row in enumerate(_rows(study, found))
        for a, b in pairwise(row)
        if bool(row[a].breached) != bool(row[b].breached)
    ]
    while wide := [gap for gap in gaps if gap[2] - gap[1] > within * (1 + 1e-9)]:
        middles = [(row, 0.5 * (a + b)) for row, a, b in wide]
        found |= dict(zip(middles, _verdicts(study, middles, pool, banded), strict=True))
        gaps = [
            (row, v, b) if bool(found[row, v].breached) == bool(found[row, a].breached) else (row, a, v)
            for (row, a, b), (_, v) in zip(wide, middles, strict=True)
        ]


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
    span = highest - lowest
    if not low <= lowest < highest <= high:
        given = f"{lowest:g} to {highest:g} m/min"
        problems.append(Problem("speeds to scan", given, f"rising, within {low:g} to {high:g} m/min"))
        span = high - low
    if not span / 1000 <= step <= span:
        problems.append(Problem("step of the scan", f"{step:g} m/min", f"{span / 1000:g} to {span:g} m/min"))
    if problems:
        raise InputError(problems)
    count = math.ceil((highest - lowest) / step - 1e-9) + 1
    return [float(v) for v in np.linspace(lowest, highest, count)]


def _verdicts(
    study: Study,
    points: Sequence[tuple[int, float]],
    pool: Executor,
    banded: bool,
    progress: Callable[[int, int, int], None] | None = None,
) -> list[_Verdict]:
    """Judge strands, chunk by chunk."""
    strands = 9 if banded else 1  # to a point
    size = chunk_size(len(points), threads_of(pool), max(8 // strands, 1), max(CHUNK // strands, 1))
    found: dict[int, list[_Verdict]] = {}

    def task(chunk: int) -> _Task:
        own = [{**study.values(row), SPEED: v} for row, v in points[chunk * size : (chunk + 1) * size]]
        return study.case_for(own), own, banded

    def take(chunk: int, verdicts: list[_Verdict]) -> None:
        found[chunk] = verdicts
        if progress is not None:
            progress(sum(map(len, found.values())), 0, 0)

    chunks = range(math.ceil(len(points) / size))
    lost = work(pool, _judged_chunk, chunks, task, take)
    if lost:
        told = [f"{type(error).__name__}: {error}" for error in lost.values()]
        do = "start the same command again, here or on other workers"
        raise SolidifyError("\n    ".join(["strands did not come back", *dict.fromkeys(told), do]))
    return [verdict for chunk in chunks for verdict in found[chunk]]


def _judged_chunk(task: _Task) -> list[_Verdict]:
    """Do `chunk_verdicts` where this is called."""
    return chunk_verdicts(*task)


def chunk_verdicts(case: Case, changes: Sequence[dict[str, Any]], banded: bool = False) -> list[_Verdict]:
    """March a chunk and return what the hard limits say of each strand.

    Parameters
    ----------
    case : Case
        The base case.
    changes : sequence of dict
        What each strand changes in it.
    banded : bool
        Whether a limit also speaks where its error band reaches it.

    Returns
    -------
    list
        In the order of the changes.
    """
    cases: dict[int, list[Case]] = {}
    for i, change in enumerate(changes):
        try:
            changed = case.replace(change)
            cases[i] = [changed, *(shifted_cases(changed) if banded else ())]
        except SolidifyError:
            continue
    drawn, _ = solve_stacked([one for own in cases.values() for one in own], sections=False)
    judgements = [judged(group.results) for group in drawn]
    at = {place: (g, i) for g, group in enumerate(drawn) for i, place in enumerate(group.places)}
    found, first = {}, 0
    for i, own in cases.items():
        places = [at[place] for place in range(first, first + len(own)) if place in at]
        first += len(own)
        if len(places) == len(own):
            found[i] = places
    if banded:
        _give_bands({i: cases[i][0] for i in found}, found, judgements)
    spoken = []
    for i in range(len(changes)):
        if i not in found:
            spoken.append(_Verdict((IMPOSSIBLE,)))
            continue
        g, k = found[i][0]
        outside = outside_range(drawn[g].results.notices[k])
        spoken.append(replace(_spoken(judgements[g], k), outside=outside))
    return spoken


_Place = tuple[int, int]
"""Which of the judgements, and which strand of it."""


def _give_bands(
    cases: Mapping[int, Case], places: Mapping[int, Sequence[_Place]], judgements: list[Judgements]
) -> None:
    """Give the first strand of each case its error bands, from the others."""
    bands: list[list[Bands]] = [[{} for _ in own.rise] for own in judgements]
    for i, case in cases.items():
        values, *shifted = (judgements[g].values(k) for g, k in places[i])
        g, k = places[i][0]
        bands[g][k] = bands_of(case, values, shifted)
    judgements[:] = [replace(own, bands=given) for own, given in zip(judgements, bands, strict=True)]


def _spoken(judgements: Judgements, i: int) -> _Verdict:
    """Return what the hard limits say of a strand; one near its limit speaks by its error band alone."""
    spoken, mute = [], []
    for name, row in judgements.hard.items():
        verdict, label = judgements.verdict[row, i], judgements.rules[name][0].label
        near = verdict == CLOSE and not np.isnan(judgements.band[:, row, i]).any()
        if verdict == BREACHED or near:
            spoken.append(label)
        elif verdict == NOT_JUDGED:
            mute.append(label)
    return _Verdict(tuple(spoken), tuple(mute))


def _ceiling(inputs: dict[str, Any], row: dict[float, _Verdict]) -> Ceiling:
    """Sum up the speeds of a row."""
    intervals = tuple(_intervals(row))
    counts: dict[str, int] = {}
    for verdict in row.values():
        for label in verdict.breached:
            counts[label] = counts.get(label, 0) + 1
    everywhere = () if intervals else tuple(sorted(counts, key=lambda label: -counts[label]))
    not_judged = tuple(dict.fromkeys(label for verdict in row.values() for label in verdict.not_judged))
    outside = Counter(name for verdict in row.values() for name in verdict.outside)
    return Ceiling(inputs, intervals, everywhere, not_judged, outside=dict(outside), runs=len(row))


def _intervals(row: dict[float, _Verdict]) -> list[Interval]:
    """Join the speeds at which nothing speaks to intervals."""
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
    return intervals
