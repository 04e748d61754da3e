"""How often a study breaches each limit, how sure that is, and which runs failed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from solidify.storage.study_file import StudyTable
from solidify.storage.study_schema import VERDICT

__all__ = [
    "ANY_HARD",
    "CONFIDENCE",
    "Violation",
    "Failure",
    "violations",
    "failures",
    "hard_violated",
    "never_judged",
    "silent_note",
]

CONFIDENCE = 0.95
"""Of every interval."""

ANY_HARD = "any hard limit"


@dataclass(frozen=True)
class Violation:
    """How many runs breach a limit.

    Parameters
    ----------
    name, label, hardness : str
        Of the limit; `name` is empty for all hard limits together.
    breached, judged : int
        Runs.
    low, high : float
        Interval of the share at `CONFIDENCE` by Clopper and Pearson [1], as if the runs were independent; NaN
        where they were not drawn.
    """

    name: str
    label: str
    hardness: str
    breached: int
    judged: int
    low: float = math.nan
    high: float = math.nan

    @property
    def share(self) -> float:
        """Breached over judged [1]."""
        return self.breached / self.judged


@dataclass(frozen=True)
class Failure:
    """Runs that failed for one reason.

    Parameters
    ----------
    reason : str
        As in the file.
    runs : tuple of int
        Their numbers, counted from 1.
    """

    reason: str
    runs: tuple[int, ...]


def violations(table: StudyTable) -> list[Violation]:
    """Count breaches, limit by limit.

    Runs that failed, or in which a limit was not judged, are not counted for it. The interval is exact for
    independent draws, never too narrow. Latin hypercubes scatter no more than n/(n-1) of that in variance, and
    scrambled Sobol sequences no more than a constant of it, as a rule far less (Owen 1997).

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.

    Returns
    -------
    list of Violation
        All hard limits together, then hard before soft, the largest share first; only limits that were judged.
    """
    if "verdict" not in table.columns:
        return []
    found = []
    own = table.independent
    for i, name in enumerate(table.finding):
        verdict = table.columns["verdict"][own, i]
        judged = int(np.isin(verdict, [VERDICT[w] for w in ("kept", "close", "breached")]).sum())
        if judged:
            count = int((verdict == VERDICT["breached"]).sum())
            label, hardness = (table.words[f"finding_{word}"][i] for word in ("label", "hardness"))
            found.append(_breach(table, name, label, hardness, count, judged))
    found.sort(key=lambda b: (b.hardness != "hard", -b.share))
    known, beyond = hard_violated(table)
    if known[own].any():
        first = _breach(table, "", ANY_HARD, "hard", int((beyond & known)[own].sum()), int(known[own].sum()))
        found.insert(0, first)
    return found


def hard_violated(table: StudyTable) -> tuple[np.ndarray, np.ndarray]:
    """Return which runs were judged by a hard limit, and which of them breach one or more.

    Parameters
    ----------
    table : StudyTable
        With findings.

    Returns
    -------
    tuple of ndarray of bool, shape (runs,)
    """
    hard = [i for i, h in enumerate(table.words["finding_hardness"]) if h == "hard"]
    verdict = table.columns["verdict"][:, hard]
    judged = np.asarray(np.isin(verdict, [VERDICT[w] for w in ("kept", "close", "breached")]).any(axis=1))
    return judged, np.asarray((verdict == VERDICT["breached"]).any(axis=1))


def never_judged(table: StudyTable) -> tuple[str, ...]:
    """Return the hard limits that are judged in no run, though the case has them.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.

    Returns
    -------
    tuple of str
        Labels.
    """
    judged = [VERDICT[w] for w in ("kept", "close", "breached")]
    found = []
    for i, hardness in enumerate(table.words.get("finding_hardness", ())):
        verdict = table.columns["verdict"][:, i]
        if hardness == "hard" and VERDICT["not judged"] in verdict and not np.isin(verdict, judged).any():
            found.append(table.words["finding_label"][i])
    return tuple(found)


def failures(table: StudyTable) -> list[Failure]:
    """Return the failed runs by reason, the most frequent first.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.

    Returns
    -------
    list of Failure
    """
    runs: dict[str, list[int]] = {}
    for run in np.flatnonzero(table.columns["status"]):
        runs.setdefault(str(table.columns["reason"][run]), []).append(int(run) + 1)
    return sorted((Failure(reason, tuple(r)) for reason, r in runs.items()), key=lambda f: -len(f.runs))


def _breach(table: StudyTable, name: str, label: str, hardness: str, count: int, judged: int) -> Violation:
    low, high = _interval(count, judged) if table.random else (math.nan, math.nan)
    return Violation(name, label or name, hardness, count, judged, low, high)


def _interval(count: int, judged: int) -> Sequence[float]:
    from scipy.stats import binomtest  # half a second to load

    found = binomtest(count, judged).proportion_ci(CONFIDENCE, method="exact")
    return float(found.low), float(found.high)


def silent_note(table: StudyTable) -> str:
    """Say which hard limits no run was judged by; empty where there is none.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.

    Returns
    -------
    str
    """
    silent = never_judged(table)
    return f"hard limits that are judged in no run: {', '.join(silent)}" if silent else ""
