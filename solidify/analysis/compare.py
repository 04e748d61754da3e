"""Result beside result: what differs in the inputs, and what it did to figures and findings."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from solidify.analysis.derived import exit_constants, product_window
from solidify.analysis.handbook import MM_PER_SQRT_MIN, KWindow
from solidify.assessment.judge import Finding, Judgement
from solidify.case import Case
from solidify.errors import InputError, Problem
from solidify.strand.result import Result
from solidify.strand.summary import FIGURES
from solidify.units import MM

__all__ = [
    "Comparison",
    "Constant",
    "Difference",
    "Figure",
    "Verdicts",
    "compare",
    "constants",
    "flat",
    "value_text",
]


@dataclass(frozen=True)
class Difference:
    """One key of the case whose value is not the same in all.

    Parameters
    ----------
    key : str
        Key path, e.g. ``zone."spray 1".water_L_per_min``.
    values : tuple
        One a result, in the units of the case file; None where the case has no such key.
    """

    key: str
    values: tuple[Any, ...]


@dataclass(frozen=True)
class Figure:
    """One figure of the summary, in every result.

    Parameters
    ----------
    label, unit : str
        For print.
    digits : int
        Decimals for print.
    values : tuple of float
        One a result, in `unit`; NaN where it does not exist.
    """

    label: str
    unit: str
    digits: int
    values: tuple[float, ...]

    @property
    def changes(self) -> tuple[float, ...]:
        """Each value less the first, in `unit`; NaN where either does not exist."""
        return tuple(value - self.values[0] for value in self.values)


@dataclass(frozen=True)
class Verdicts:
    """One finding, in every result.

    Parameters
    ----------
    label : str
        For print.
    findings : tuple of Finding or None
        One a result; None where the strand is not judged by it.
    """

    label: str
    findings: tuple[Finding | None, ...]

    @property
    def changed(self) -> bool:
        """Whether the verdict is not the same in all."""
        return len({f.verdict if f else "" for f in self.findings}) > 1


@dataclass(frozen=True)
class Comparison:
    """Two or more results side by side.

    Parameters
    ----------
    names : tuple of str
        One a result, for print.
    titles : tuple of str
        Of their cases.
    inputs : tuple of Difference
        In the order of the case file.
    figures : tuple of Figure
        Every figure of the summary.
    findings : tuple of Verdicts
        Hard ones first.
    breakout : tuple of str
        Breakout risk in words.
    """

    names: tuple[str, ...]
    titles: tuple[str, ...]
    inputs: tuple[Difference, ...]
    figures: tuple[Figure, ...]
    findings: tuple[Verdicts, ...]
    breakout: tuple[str, ...]


@dataclass(frozen=True)
class Constant:
    """A solidification constant of a result beside common practice.

    Parameters
    ----------
    where : str
        ``"mould exit"`` or ``"whole machine"``.
    value : float
        K of the shell that the window is for [m s-1/2]; NaN when not known.
    window : KWindow
        Of common practice.
    others : tuple of (str, float)
        K of other definitions of the shell [m s-1/2], for information.
    """

    where: str
    value: float
    window: KWindow
    others: tuple[tuple[str, float], ...] = ()

    @property
    def text(self) -> str:
        """K and how it stands to its window, for print."""
        low, high = self.window.low / MM_PER_SQRT_MIN, self.window.high / MM_PER_SQRT_MIN
        usual = self.window.words
        if math.isnan(self.value):
            return f"not known ({usual})"
        k = self.value / MM_PER_SQRT_MIN
        stand = (
            "inside" if low <= k <= high else f"{k - high:.1f} above" if k > high else f"{low - k:.1f} below"
        )
        beside = "".join(f"; {x / MM_PER_SQRT_MIN:.1f} {name}" for name, x in self.others)
        return f"{k:.1f} mm/√min, {stand} ({usual}){beside}"


def compare(results: Sequence[Result], judgements: Sequence[Judgement], names: Sequence[str]) -> Comparison:
    """Lay results side by side.

    Parameters
    ----------
    results : sequence of Result
        One or more.
    judgements : sequence of Judgement
        Theirs, in the same order.
    names : sequence of str
        For print.

    Returns
    -------
    Comparison

    Raises
    ------
    InputError
        If there is no result, or not one judgement and name a result.
    """
    count = len(results)
    if not count or len(judgements) != count or len(names) != count:
        given = f"{count} results, {len(judgements)} judgements, {len(names)} names"
        raise InputError(Problem("compare", given, "one or more results, and as many of each"))
    return Comparison(
        tuple(names),
        tuple(r.case.title for r in results),
        _differences([flat(r.case) for r in results]),
        _figures(results),
        _verdicts(judgements),
        tuple(j.breakout.words for j in judgements),
    )


def flat(case: Case) -> dict[str, Any]:
    """Return every value a case uses, defaults included, by key path.

    Parameters
    ----------
    case : Case
        A checked case.

    Returns
    -------
    dict of str to value
        In the units and the order of the case file, zones by name.
    """
    return flattened(tomllib.loads(case.effective_toml()))


def flattened(tables: Mapping[str, Any], lead: str = "") -> dict[str, Any]:
    """Return the values of tables by key path; zones go by name, other arrays stay whole.

    Examples
    --------
    >>> flattened({"title": "a", "zone": [{"name": "foot rolls", "end_m": 0.9}]})
    {'title': 'a', 'zone."foot rolls".end_m': 0.9}
    """
    found: dict[str, Any] = {}
    for key, value in tables.items():
        if isinstance(value, dict):
            found |= flattened(value, f"{lead}{key}.")
        elif key == "zone" and not lead:
            for zone in value:
                own = {k: v for k, v in zone.items() if k != "name"}
                found |= flattened(own, f'zone."{zone["name"]}".')
        else:
            found[lead + key] = value
    return found


def value_text(value: Any) -> str:
    """Return a value of a case for print, a dash for None.

    Examples
    --------
    >>> value_text([0.36, 94.0]), value_text(None), value_text(0.75)
    ('[0.36, 94]', '–', '0.75')
    """
    if value is None:
        return "–"
    if isinstance(value, bool | str):
        return str(value)
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(value_text, value))}]"
    return f"{value:.10g}"


def _differences(cases: Sequence[Mapping[str, Any]]) -> tuple[Difference, ...]:
    keys: dict[str, None] = {}
    for values in cases:
        keys |= dict.fromkeys(values)
    tables = dict.fromkeys(key.split(".")[0] for key in keys)
    ordered = [key for table in tables for key in keys if key.split(".")[0] == table]
    rows = [Difference(key, tuple(values.get(key) for values in cases)) for key in ordered if key != "title"]
    return tuple(row for row in rows if any(value != row.values[0] for value in row.values))


def _figures(results: Sequence[Result]) -> tuple[Figure, ...]:
    fractions = sorted({float(f) for r in results for f in r.solid_fractions})
    rows = []
    for name, f in FIGURES.items():
        if name == "shell_at_mould_exit":
            for fraction in fractions:
                values = tuple(_exit_shell(r, fraction) for r in results)
                rows.append(Figure(f"{f.label}, solid fraction {fraction:g}", f.unit, f.digits, values))
        else:
            values = tuple(float(r.summary.get(name, math.nan)) / f.one for r in results)
            rows.append(Figure(f.label, f.unit, f.digits, values))
    return tuple(row for row in rows if not all(map(math.isnan, row.values)))


def _exit_shell(result: Result, fraction: float) -> float:
    index = result.fraction_index(fraction)
    if not math.isclose(result.solid_fractions[index], fraction):
        return math.nan
    return float(result.summary["shell_at_mould_exit"][index]) / MM  # type: ignore[index]


def _verdicts(judgements: Sequence[Judgement]) -> tuple[Verdicts, ...]:
    tables = [{f.name: f for f in j.findings} for j in judgements]
    labels: dict[str, Finding] = {}
    for table in tables:
        labels = {**table, **labels}
    rows = [Verdicts(f.label, tuple(t.get(name) for t in tables)) for name, f in labels.items()]
    return tuple(sorted(rows, key=lambda row: next(f.hardness for f in row.findings if f) != "hard"))


def constants(result: Result) -> tuple[Constant, ...]:
    """Return K at mould exit and of the whole machine beside common practice for this section and steel.

    Parameters
    ----------
    result : Result
        A marched strand.

    Returns
    -------
    tuple of Constant
    """
    exits = exit_constants(result)
    others = ("at 0.7 solid", exits["0.7"]), ("by equivalent solid", exits["equivalent"])
    whole = float(result.summary["k_whole_machine"]) * MM_PER_SQRT_MIN
    return (
        Constant("mould exit", exits["0.3"], product_window(result, "mould exit"), others),
        Constant("whole machine", whole, product_window(result, "whole machine")),
    )
