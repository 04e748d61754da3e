"""The march of cases, from strands made ready to results."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import islice

from solidify.case import Case
from solidify.errors import InputError, MarchError, Problem, SolidifyError
from solidify.solver.boundary import BoundaryCondition
from solidify.solver.driver import march_blocks
from solidify.solver.march import March, march
from solidify.strand.assemble import AssembledBatch, assemble
from solidify.strand.batch import attempt, batches
from solidify.strand.cooling import History, Travel
from solidify.strand.result import Result

__all__ = [
    "CHUNK",
    "BoundaryCondition",
    "March",
    "march",
    "raise_first",
    "solve",
    "solve_stacked",
    "solve_each",
    "solve_many",
]

CHUNK = 128
"""Cases marched together: enough to share what is laid out once, few enough for memory and a prompt answer."""


def solve(case: Case, travel: Travel | History | None = None) -> Result:
    """March the strand of a case from the meniscus to the cut-off.

    Parameters
    ----------
    case : Case
        A checked case.
    travel : Travel or History, optional
        Where the slice is when, and what water the zones then have; steady casting as in the case by default.

    Returns
    -------
    Result

    Raises
    ------
    InputError
        If steel, mould and practice contradict one another.
    MarchError
        If the march does not finish.
    """
    return solve_many([case], travel)[0]


def solve_many(
    cases: Iterable[Case],
    travel: Travel | History | None = None,
    *,
    on_chunk: Callable[[int, list[Result | SolidifyError]], object] | None = None,
    chunk: int = CHUNK,
) -> list[Result]:
    """March the strands of many cases; each result is that of the case alone, bit for bit.

    Parameters
    ----------
    cases : iterable of Case
        Checked cases; of a generator a chunk is taken at a time.
    travel : Travel or History, optional
        Where every slice is when, and what water the zones then have; steady casting as in each case by default.
    on_chunk : callable, optional
        Called with the place of its first case (from 0) and the results of each chunk, in order, as soon as it is
        marched. A strand that could not be marched stands there as its error and stops nothing. Only one chunk
        is held in memory.
    chunk : int
        Cases marched together.

    Returns
    -------
    list of Result
        In the order of the cases; empty where `on_chunk` has had them.

    Raises
    ------
    InputError
        If steel, mould and practice of a case contradict one another, and there is no `on_chunk`.
    MarchError
        If a march does not finish, likewise.

    Examples
    --------
    >>> from solidify.case import demo_case
    >>> cases = (demo_case().replace({"casting.superheat_K": k}) for k in (20, 30, 40))
    >>> def show(first, results):
    ...     for i, result in enumerate(results, first):
    ...         print(i, f"{result.summary['metallurgical_length']:.1f} m")
    >>> solve_many(cases, on_chunk=show)
    0 13.0 m
    1 13.2 m
    2 13.5 m
    []
    """
    if chunk < 1:
        raise InputError(Problem("chunk", f"{chunk}", "1 or more", do="give how many cases march together"))
    waiting, first = iter(cases), 0
    kept: list[Result | SolidifyError] = []
    while batch := list(islice(waiting, chunk)):
        results = solve_each(batch, travel)
        if on_chunk is None:
            kept += results
        else:
            on_chunk(first, results)
        first += len(batch)
        del batch, results
    raise_first({i: r for i, r in enumerate(kept) if isinstance(r, SolidifyError)}, len(kept))
    return [r for r in kept if isinstance(r, Result)]


def raise_first(wrong: Mapping[int, SolidifyError], count: int) -> None:
    """Raise what is wrong with the first strand of those that could not be marched, if there is one.

    Parameters
    ----------
    wrong : mapping of int to SolidifyError
        By their place.
    count : int
        How many strands there were.

    Raises
    ------
    InputError, MarchError
        The latter says which of several it was.
    """
    for place in sorted(wrong)[:1]:
        error = wrong[place]
        if isinstance(error, MarchError) and count > 1:
            raise MarchError(f"{error} (strand {place + 1} of {count})") from error
        raise error


def solve_each(
    cases: Sequence[Case], travel: Travel | History | None = None, *, sections: bool = True
) -> list[Result | SolidifyError]:
    """March the strands of many cases as one batch, of which some may fail.

    Parameters
    ----------
    cases, travel
        As for `solve_many`.
    sections : bool
        Whether to keep the field over the section all along the strand; else only at mould exit. Nothing else
        changes by it.

    Returns
    -------
    list of Result or SolidifyError
        In the order of the cases; the error in the place of a strand that could not be marched.
    """
    groups, wrong = solve_stacked(cases, travel, sections=sections)
    found: dict[int, Result | SolidifyError] = {**wrong}
    for group in groups:
        for i, place in enumerate(group.places):
            found[place] = attempt(group.result, i)
    return [found[i] for i in range(len(cases))]


def solve_stacked(
    cases: Sequence[Case], travel: Travel | History | None = None, *, sections: bool = True
) -> tuple[list[AssembledBatch], dict[int, SolidifyError]]:
    """March the strands of many cases as one batch, and leave those that are judged alike side by side.

    Parameters
    ----------
    cases, travel, sections
        As for `solve_each`.

    Returns
    -------
    list of AssembledBatch
        Each with the places of its cases; `AssembledBatch.results` goes to `solidify.assessment.judge.judged`.
    dict of int to SolidifyError
        What is wrong with the others, by their place.
    """
    ready, wrong = batches(cases, travel, sections=sections)
    groups: list[AssembledBatch] = []
    for batch in ready:
        drawn, failed = assemble(batch, march_blocks(batch.slices))
        groups += drawn
        wrong |= failed
    return groups, wrong
