"""How sure the values of a strand are: input, numerical and model parts apart, for a terminal and a page."""

from __future__ import annotations

from collections.abc import Sequence

from solidify.assessment.bands import PARTS
from solidify.assessment.judge import Finding, Judgement
from solidify.assessment.shifted import INPUTS
from solidify.report.text import columns, wrapped

__all__ = ["errors_text", "uncertainty_lines", "uncertainty_rows"]

_NAMED = 3
"""Inputs named in a row, those with the largest shares."""

_MEANING = (
    "one standard deviation and share of the variance: of readings and relations (input), of the grid (numerical), of "
    "the section treatment (model); all is their root sum of squares, 95 % is twice as far either way"
)

_LEAST = (
    "Where the largest of several places counts (reheating, bulging, strain at the front) the band is a least one: "
    "errors that act together can move the place"
)


def errors_text(findings: Sequence[Finding]) -> str:
    """Say which errors the bands rest on.

    Parameters
    ----------
    findings : sequence of Finding
        Of one strand.

    Returns
    -------
    str
    """
    inputs = {e.input: e.text for f in findings for e in f.effects if e.part == "input"}
    errors = [inputs[name] for name in INPUTS if name in inputs]
    if not errors:
        return "error band: as given"
    others = dict.fromkeys(e.input for f in findings for e in f.effects if e.part != "input")
    text = f"error band, one standard deviation either way: {', '.join(errors)}"
    return f"{text}; {' and '.join(others)}" if others else text


def _banded(judgement: Judgement, hardness: Sequence[str]) -> list[Finding]:
    return [f for f in judgement.findings if f.judged and f.effects and f.hardness in hardness]


def _cells(f: Finding) -> list[str]:
    shares = f.shares
    parts = [f"{f.part_text(p)}, {_percent(shares[p])}" if shares[p] else "–" for p in PARTS]
    return [f.label, f.value_text, *parts, f.part_text("total"), f.interval_95_text]


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %" if share >= 0.005 else "<1 %"


_HEAD = ("limit check", "value", *PARTS, "all", "95 %")


def uncertainty_lines(judgement: Judgement, width: int) -> list[str]:
    """Return how sure the values of the hard limits are, for a terminal.

    Parameters
    ----------
    judgement : Judgement
        With error bands.
    width : int
        Longest line [characters].

    Returns
    -------
    list of str
        Empty where no bands are known.
    """
    found = _banded(judgement, ("hard",))
    if not found:
        return []
    lines = columns([_HEAD, *map(_cells, found)], "lr", width)
    return ["Uncertainty of what hard limits are held against, ±1σ", *lines, *wrapped(_MEANING, width, "  ")]


def uncertainty_rows(judgement: Judgement) -> tuple[tuple[str, ...], list[tuple[str, ...]], str]:
    """Return how sure the values of all limits are, for a page.

    Parameters
    ----------
    judgement : Judgement
        With error bands.

    Returns
    -------
    head : tuple of str
    rows : list of tuple of str
        Empty where no bands are known.
    note : str
    """
    found = _banded(judgement, ("hard", "soft"))
    note = f"{_MEANING[:1].upper()}{_MEANING[1:]}. {_LEAST}."
    rows = []
    for f in found:
        named = "; ".join(f"{e.input} {100 * e.share:.0f} %" for e in f.effects[:_NAMED] if e.share >= 0.05)
        rows.append((*_cells(f), named))
    return (*_HEAD, "most from"), rows, note
