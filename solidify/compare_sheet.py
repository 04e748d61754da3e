"""The printed sheet of a comparison: inputs that differ, figures, findings, handbook and measured points."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence

from solidify.compare import Comparison, Figure, Verdicts, compare, constants, value_text
from solidify.findings import Finding, Judgement
from solidify.growth_sheet import growth_text
from solidify.measured import Point, agreements, deviations, method_words
from solidify.result import Result

__all__ = ["compare_text"]

_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def compare_text(
    results: Sequence[Result],
    judgements: Sequence[Judgement],
    names: Sequence[str],
    points: Sequence[Point] = (),
    width: int = 100,
) -> str:
    """Write what differs between results, what it did, and how they stand to handbook and measured points.

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
        As `solidify.compare.compare` and `solidify.measured.deviations`.
    """
    found = compare(results, judgements, names)
    heads = [
        f"{letter}  {name}: {title}"
        for letter, name, title in zip(_LETTERS, found.names, found.titles, strict=False)
    ]
    blocks = [heads]
    if len(results) > 1:
        blocks += [_inputs(found), _figures(found), _findings(found), _handbook(results, width)]
    else:
        blocks += [growth_text(results[0], width=width).splitlines()]
    if points:
        blocks += [_measured(results, points, width)]
    blocks += [["Estimates from a simplified slice: no measurement, no detector and no permission."]]
    return "\n\n".join("\n".join(line.rstrip() for line in block) for block in blocks if block)


def _letters(found: Comparison) -> list[str]:
    return list(_LETTERS[: len(found.names)])


def _inputs(found: Comparison) -> list[str]:
    if not found.inputs:
        return ["Inputs: all alike"]
    rows = [["input that differs", *_letters(found)]]
    rows += [[row.key, *map(value_text, row.values)] for row in found.inputs]
    return _table(rows)


def _figures(found: Comparison) -> list[str]:
    letters = _letters(found)
    less = [f"{letter} less A" for letter in letters[1:]]
    rows = [["figure", "", *letters, *less]]
    for row in found.figures:
        changes = [_number(row, v, signed=True) for v in row.changes[1:]]
        rows.append([row.label, row.unit, *(_number(row, v) for v in row.values), *changes])
    return _table(rows, left=2)


def _number(row: Figure, value: float, signed: bool = False) -> str:
    if math.isnan(value):
        return "–"
    return _signed(value, row.digits) if signed else f"{value:.{row.digits}f}"


def _findings(found: Comparison) -> list[str]:
    rows = [["finding, * where the verdict changes", *_letters(found)]]
    ordered = sorted(found.findings, key=lambda row: not row.changed)
    rows += [[_label(row), *map(_verdict, row.findings)] for row in ordered]
    rows.append(["breakout risk", *found.breakout])
    return _table(rows, left=len(rows[0]))


def _label(row: Verdicts) -> str:
    return f"* {row.label}" if row.changed else f"  {row.label}"


def _verdict(finding: Finding | None) -> str:
    if finding is None:
        return "–"
    return f"{finding.verdict}, {finding.value_text}, {finding.room}" if finding.judged else "not judged"


def _handbook(results: Sequence[Result], width: int) -> list[str]:
    lines = ["Against the handbook, s = K√t, s from one side in mm, t in min"]
    for letter, result in zip(_LETTERS, results, strict=False):
        text = "; ".join(f"{k.where} {k.text}" for k in constants(result))
        lines += textwrap.wrap(text, width, initial_indent=f"{letter}  ", subsequent_indent="   ")
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
    lines += _table(rows, left=3)
    for letter, found in zip(_LETTERS, off, strict=False):
        for row in agreements(found):
            lines += textwrap.wrap(
                f"{row.text}.", width, initial_indent=f"{letter}  ", subsequent_indent="   "
            )
    for method in dict.fromkeys(p.method for p in points if p.method):
        lines += textwrap.wrap(method_words(method), width, subsequent_indent="  ")
    return lines


def _signed(value: float, digits: int) -> str:
    """A number with its sign, nothing without one."""
    text = f"{value:+.{digits}f}"
    return text.lstrip("+-") if float(text) == 0 else text


def _table(rows: Sequence[Sequence[str]], left: int = 1) -> list[str]:
    """Lay out columns, the first `left` of them to the left."""
    widths = [max(len(r[i]) for r in rows) for i in range(len(rows[0]))]
    return [
        "  ".join(
            c.ljust(w) if i < left else c.rjust(w) for i, (c, w) in enumerate(zip(r, widths, strict=True))
        )
        for r in rows
    ]
