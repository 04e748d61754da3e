"""The printed sheet of a comparison: inputs that differ, figures, findings, K of practice and measured points."""

from __future__ import annotations

import math
from collections.abc import Sequence

from solidify.analysis.compare import Comparison, Figure, Verdicts, compare, constants, value_text
from solidify.analysis.measured import Point, agreements, deviations, method_words
from solidify.assessment.judge import Finding, Judgement
from solidify.report.growth import growth_text
from solidify.report.text import WIDTH, columns, page, wrapped
from solidify.strand.result import Result

__all__ = ["compare_text"]

_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def compare_text(
    results: Sequence[Result],
    judgements: Sequence[Judgement],
    names: Sequence[str],
    points: Sequence[Point] = (),
    width: int = WIDTH,
) -> str:
    """Write what differs between results, what it did, and how they stand to practice and measured points.

    Parameters
    ----------
    results : sequence of Result
        One or more, up to 26.
    judgements : sequence of Judgement
        Theirs.
    names : sequence of str
        For print.
    points : sequence of Point
        Measured on the strand.
    width : int
        Longest line of running text [characters].

    Returns
    -------
    str

    Raises
    ------
    InputError
        As `solidify.analysis.compare.compare` and `solidify.analysis.measured.deviations`.
    """
    found = compare(results, judgements, names)
    heads = [
        f"{letter}  {name}: {title}"
        for letter, name, title in zip(_LETTERS, found.names, found.titles, strict=False)
    ]
    blocks = [heads]
    if len(results) > 1:
        blocks += [
            _inputs(found, width),
            _figures(found, width),
            _findings(found, width),
            _practice(results, width),
        ]
    else:
        blocks += [growth_text(results[0], width=width).splitlines()]
    if points:
        blocks += [_measured(results, points, width)]
    blocks += [["Estimates from a simplified slice: no measurement, no detector and no permission."]]
    return page(blocks)


def _letters(found: Comparison) -> list[str]:
    return list(_LETTERS[: len(found.names)])


def _inputs(found: Comparison, width: int) -> list[str]:
    if not found.inputs:
        return ["Inputs: all alike"]
    rows = [["input that differs", *_letters(found)]]
    rows += [[row.key, *map(value_text, row.values)] for row in found.inputs]
    return columns(rows, "lw", width)


def _figures(found: Comparison, width: int) -> list[str]:
    letters = _letters(found)
    less = [f"{letter} less A" for letter in letters[1:]]
    rows = [["figure", "", *letters, *less]]
    for row in found.figures:
        changes = [_number(row, v, signed=True) for v in row.changes[1:]]
        rows.append([row.label, row.unit, *(_number(row, v) for v in row.values), *changes])
    return columns(rows, "llr", width)


def _number(row: Figure, value: float, signed: bool = False) -> str:
    if math.isnan(value):
        return "–"
    return _signed(value, row.digits) if signed else f"{value:.{row.digits}f}"


def _findings(found: Comparison, width: int) -> list[str]:
    rows = [["finding, * verdict changes", *_letters(found)]]
    ordered = sorted(found.findings, key=lambda row: not row.changed)
    rows += [[_label(row), *map(_verdict, row.findings)] for row in ordered]
    rows.append(["breakout risk", *found.breakout])
    return columns(rows, "lw", width)


def _label(row: Verdicts) -> str:
    return f"* {row.label}" if row.changed else f"  {row.label}"


def _verdict(finding: Finding | None) -> str:
    if finding is None:
        return "–"
    return f"{finding.verdict}, {finding.value_text}, {finding.room}" if finding.judged else "not judged"


def _practice(results: Sequence[Result], width: int) -> list[str]:
    lines = ["K against common practice, s = K√t, s from one side in mm, t in min"]
    for letter, result in zip(_LETTERS, results, strict=False):
        text = "; ".join(f"{k.where} {k.text}" for k in constants(result))
        lines += wrapped(f"{letter}  {text}", width, "   ")
    return lines


def _measured(results: Sequence[Result], points: Sequence[Point], width: int) -> list[str]:
    lines = ["Against measured points, computed less measured"]
    off = [deviations(result, points) for result in results]
    rows = [["at m", "what", "measured", *(f"{_LETTERS[i]} less it" for i in range(len(results)))]]
    for i, point in enumerate(points):
        digits = 0 if point.quantity == "surface_C" else 1
        what = (
            "surface °C" if point.quantity == "surface_C" else f"shell mm at {point.solid_fraction:g} solid"
        )
        what += f", {point.side}" if point.side else ""
        sd = "" if math.isnan(point.sd) else f" ± {point.sd:g}"
        rows.append([f"{point.distance:.2f}", what, f"{point.value:.{digits}f}{sd}",
                     *(_signed(d[i].value, digits) for d in off)])  # fmt: skip
    lines += columns(rows, "lllr", width)
    for letter, found in zip(_LETTERS, off, strict=False):
        for row in agreements(found):
            lines += wrapped(f"{letter}  {row.text}.", width, "   ")
    for method in dict.fromkeys(p.method for p in points if p.method):
        lines += wrapped(method_words(method), width, hang="  ")
    return lines


def _signed(value: float, digits: int) -> str:
    """A number with its sign, nothing without one."""
    text = f"{value:+.{digits}f}"
    return text.lstrip("+-") if float(text) == 0 else text
