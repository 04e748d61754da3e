"""The printed sheet of shell growth beside common practice."""

from __future__ import annotations

import math

from solidify.analysis.growth import LAWS, STRETCHES, Growth, HandbookComparison, compare_with_handbook
from solidify.analysis.handbook import MM_PER_SQRT_MIN, ShellFit
from solidify.report.strand_text import fraction_text
from solidify.report.text import WIDTH, columns, page, wrapped
from solidify.sources import EVIDENCE
from solidify.strand.result import Result
from solidify.units import MINUTE, MM

__all__ = ["MEANING", "fit_text", "growth_text", "stretch_words"]

MEANING = (
    "± is half of a 95 % interval: how closely the law follows the computed curve, not how well the steel is known. "
    "rms is what the law leaves. K is s/√t at the end of the stretch."
)
"""What the figures of a fit mean, for print."""


def growth_text(result: Result, comparison: HandbookComparison | None = None, width: int = WIDTH) -> str:
    """Write K, fitted laws and the exact solution beside common practice, for each definition of the shell.

    Parameters
    ----------
    result : Result
        A marched strand.
    comparison : HandbookComparison, optional
        If it was made already.
    width : int
        Longest line of running text [characters].

    Returns
    -------
    str
        Lines without trailing blanks.
    """
    found = comparison or compare_with_handbook(result)
    side = "" if found.side == "both" else f", {found.side} side"
    blocks = [[f"Shell growth beside common practice{side}: s from one side in mm, t in min"]]
    blocks += [_stretch(found, where, width) for where in STRETCHES]
    return page([*blocks, wrapped(MEANING, width)])


def _stretch(found: HandbookComparison, where: str, width: int) -> list[str]:
    cells = [["solid", "s", "min", "K", "rms", "law", "constants"]]
    cells += [row for g in found.rows[where] for row in _rows(g)]
    head = wrapped(f"{where}: {stretch_words(found, where)}", width)
    return [*head, *columns(cells, "rrrrrlw", width)]


def stretch_words(found: HandbookComparison, where: str) -> str:
    """Return practice's K of a stretch and the exact solution beside it, for print.

    Parameters
    ----------
    found : HandbookComparison
        Of a strand.
    where : str
        One of `solidify.analysis.growth.STRETCHES`.

    Returns
    -------
    str
    """
    window, exact = found.window[where], found.exact.get(where)
    head = f"K of {window.words} ({EVIDENCE[window.evidence]})"
    if exact is not None:
        k = exact.k / MM_PER_SQRT_MIN
        head += f"; exact solution, flat and endless, surface held at {exact.surface:.0f} °C: K {k:.1f} at 1.0 solid"
    return head


def _rows(g: Growth) -> list[list[str]]:
    """Return one row a law; the figures of the shell stand in the first."""
    if math.isnan(g.k):
        ends = ["–", "–", "–"]
    else:
        ends = [f"{g.shell / MM:.1f}", f"{g.time / MINUTE:.2f}", f"{g.k / MM_PER_SQRT_MIN:.1f}"]
    rows = []
    for i, name in enumerate(LAWS):
        fit = g.fits.get(name)
        law = ["–", name, "not found"] if fit is None else [f"{fit.rms / MM:.2f}", name, fit_text(fit)]
        rows.append([*([fraction_text(g.solid_fraction), *ends] if i == 0 else [""] * 4), *law])
    return rows


def fit_text(fit: ShellFit) -> str:
    """Return the constants that were free, for print: a or K, n, C.

    Parameters
    ----------
    fit : ShellFit
        Of one law.

    Returns
    -------
    str
    """

    def part(name: str, value: float, interval: tuple[float, float], digits: int) -> str:
        half = 0.5 * (interval[1] - interval[0])
        return "" if half == 0 else f"{name} {value:.{digits}f} ±{half:.{digits}f}"

    one = "K" if fit.exponent_interval[0] == fit.exponent_interval[1] == 0.5 else "a"
    low, high = (x / MM for x in fit.one_minute_interval)
    late_low, late_high = (x / MM for x in fit.delay_interval)
    parts = [
        part(one, fit.one_minute / MM, (low, high), 1),
        part("n", fit.exponent, fit.exponent_interval, 3),
        part("C", fit.delay / MM, (late_low, late_high), 1),
    ]
    return ", ".join(p for p in parts if p)
