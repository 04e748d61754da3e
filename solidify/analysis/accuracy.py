"""The numerical error of a strand's headline figures, from a second march on a finer grid with smaller steps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from solidify.case import Case
from solidify.errors import InputError, Problem
from solidify.strand.result import SUMMARY, Result
from solidify.strand.setup import case_steel, strand_nodes
from solidify.strand.solve import solve

__all__ = ["FIGURES", "NumericalError", "numerical_errors", "size_of_error"]

FIGURES = (
    "shell_at_mould_exit",
    "surface_at_mould_exit",
    "surface_at_straightener_in",
    "surface_at_straightener_out",
    "metallurgical_length",
    "k_mould_exit",
    "k_whole_machine",
)
"""Figures of `solidify.strand.result.SUMMARY` whose error is estimated; the shell at the headline solid fraction."""

FINER = 8 / 3
"""The second march has this many times the intervals: 153 nodes to the 58 of a strand of 250 mm."""

TIGHTER = 50.0
"""Its error allowed in a step is this many times smaller."""

LEAST_TOLERANCE, MOST_NODES = 0.01, 400
"""Limits of ``[steps]`` in a case."""


@dataclass(frozen=True)
class NumericalError:
    """One figure and how far the march may have it wrong.

    Parameters
    ----------
    name : str
        As in `FIGURES`.
    value, finer : float
        From the march and from the finer one [`unit`]; NaN where it does not exist.
    error : float
        Estimated size of the error of `value` [`unit`].
    unit : str
        As in `solidify.strand.result.SUMMARY`.
    """

    name: str
    value: float
    finer: float
    error: float
    unit: str


def numerical_errors(case: Case, result: Result | None = None) -> tuple[NumericalError, ...]:
    """Estimate the numerical error of each headline figure.

    Parameters
    ----------
    case : Case
        A checked case with at most 150 nodes.
    result : Result, optional
        Its strand if it has been marched already.

    Returns
    -------
    tuple of NumericalError
        In the order of `FIGURES`. The error of the equations' solution alone: it says nothing of inputs, of
        correlations or of what a slice leaves out.

    Raises
    ------
    InputError
        If the case asks for more nodes than a finer march could have.
    MarchError
        If a march does not finish.

    """
    own = strand_nodes(case, case_steel(case))
    nodes = round(FINER * (own - 1)) + 1
    if nodes > MOST_NODES:
        most = int((MOST_NODES - 1) / FINER) + 1
        text = f"{own}, so that a finer march would have {nodes}"
        raise InputError(Problem("[steps] nodes", text, f"{most} or fewer to estimate the numerical error"))
    result = solve(case) if result is None else result
    changes = {"steps.nodes": nodes, "steps.tolerance": max(case.steps.tolerance / TIGHTER, LEAST_TOLERANCE)}
    finer = solve(case.replace(changes))
    ratio = (nodes - 1) / (own - 1)
    found = []
    for name in FIGURES:
        value, better = _figure(result, name), _figure(finer, name)
        found.append(
            NumericalError(name, value, better, size_of_error(value, better, ratio), SUMMARY[name][0])
        )
    return tuple(found)


def size_of_error(value: float, finer: float, ratio: float) -> float:
    """Estimate the size of a value's error from a march on a finer grid with far smaller steps.

    Parameters
    ----------
    value, finer : float
        The same figure of both marches.
    ratio : float
        Intervals of the finer grid over those of the other, above 1 [1].

    Returns
    -------
    float
        In the unit of the figure.

    Notes
    -----
    Errors fall with the square of the spacing, so the difference is 1 - 1/ratio^2 of the error (L.F. Richardson,
    Phil. Trans. A 210 (1911) 307-357, from memory). The error of the steps counts in `value` alone.

    Examples
    --------
    >>> round(size_of_error(16.28, 16.2575, 8 / 3), 3)
    0.026
    """
    return abs(value - finer) / (1.0 - ratio**-2)


def _figure(result: Result, name: str) -> float:
    value = np.atleast_1d(result.summary[name])
    return float(value[result.fraction_index(result.headline) if len(value) > 1 else 0])
