"""Head and foot of every picture: what it is of, what was found, how it was had, and what the picture is not."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from solidify.plots.palette import GREY, INK, MARKS, SMALL, TEXT, TITLE, number
from solidify.plots.sheet import Sheet, broken, text_size

if TYPE_CHECKING:
    from solidify.assessment.judge import Judgement
    from solidify.strand.result import Result

__all__ = [
    "FOOT",
    "MARGIN",
    "draw_footing",
    "draw_heading",
    "verdict_words",
    "write_footing",
    "write_heading",
]

MARGIN = 3.0
"""White edge of a picture [mm]."""

FOOT = 8.0
"""Height of the foot [mm]."""


def _mark(sheet: Sheet, x: float, y: float, verdict: str) -> None:
    """Draw the mark of a verdict: ink grows with what it says."""
    size = 2.6
    share = {"kept": 0.0, "close": 0.5, "breached": 1.0}.get(verdict)
    if share is None:
        sheet.line([x, x + size], [y + size / 2] * 2, linewidth=1.2)
        return
    sheet.patch(x, y, size, size, facecolor=MARKS["kept"], edgecolor="none")
    if share:
        sheet.patch(x, y, size * share, size, facecolor=MARKS[verdict], edgecolor="none")
    sheet.patch(x, y, size, size, facecolor="none", edgecolor=INK, linewidth=0.8)


def verdict_words(judgement: Judgement) -> str:
    """Return the worst verdict and the finding with the least room that has it, hard ones first."""
    worst = judgement.worst
    found = [f for f in judgement.findings if f.verdict == worst != "not judged"]
    if not found:
        return worst
    first = min(found, key=lambda f: (f.hardness != "hard", f.widths_of_room))
    more = f" (and {len(found) - 1} more)" if worst != "kept" and len(found) > 1 else ""
    return (
        f"{worst}: {first.label}, {first.room}{more}"
        if worst != "kept"
        else f"kept; nearest limit: {first.label}, {first.room}"
    )


def _facts(result: Result) -> str:
    words = [result.shape_treatment]
    if result.case.section.shape == "round":
        words.append(f"{result.thickness * 1e3:.0f} mm diameter, hot")
    else:
        words.append(f"{result.thickness * 1e3:.0f} x {result.width * 1e3:.0f} mm, hot")
    words.append(f"{number(float(result.case.casting.speed_m_per_min))} m/min")
    words.append(f"superheat {result.superheat:.0f} K")
    return " · ".join(words)


def write_heading(
    sheet: Sheet,
    title: str,
    words: str = "",
    facts: Sequence[str] = (),
    *,
    verdict: str = "",
    lines: tuple[int, int] = (2, 4),
) -> float:
    """Write the head of a picture.

    Parameters
    ----------
    sheet : Sheet
        Where.
    title : str
        What it is of, in bold.
    words : str
        What it shows, or what was found.
    facts : sequence of str
        In grey below, each from a line of its own.
    verdict : str
        Whose mark stands before the words; none without it.
    lines : tuple of int
        Most lines of the title, and of each of the facts.

    Returns
    -------
    float
        Height taken [mm].
    """
    across, y = sheet.width - 2 * MARGIN, MARGIN
    title = broken(title, across, TITLE, "bold", lines=lines[0])
    sheet.write(MARGIN, y, title, size=TITLE, weight="bold")
    y += text_size(title, TITLE, "bold")[1]
    if words:
        y += 1.2
        indent = 4.4 if verdict else 0.0
        words = broken(words, across - indent, TEXT + 0.5, lines=2)
        if verdict:
            _mark(sheet, MARGIN + 0.2, y + 0.1, verdict)
        sheet.write(MARGIN + indent, y, words, size=TEXT + 0.5)
        y += text_size(words, TEXT + 0.5)[1]
    for i, fact in enumerate(facts):
        y += 0.6 if i else 1.0 if words else 1.2
        fact = broken(fact, across, SMALL, lines=lines[1])
        sheet.write(MARGIN, y, fact, color=GREY)
        y += text_size(fact)[1]
    return y


def write_footing(sheet: Sheet, *words: str) -> None:
    """Write the foot of a picture, two lines of grey; empty words are left out."""
    text = " · ".join(word for word in words if word)
    text = broken(text, sheet.width - 2 * MARGIN, lines=2)
    sheet.write(MARGIN, sheet.height - 1.8, text, va="bottom", color=GREY)


def draw_heading(sheet: Sheet, result: Result, judgement: Judgement | None) -> float:
    """Write the case, its worst verdict and its figures; returns the height taken [mm]."""
    words = verdict_words(judgement) if judgement else ""
    verdict = judgement.worst if judgement else ""
    return write_heading(sheet, result.case.title, words, [_facts(result)], verdict=verdict)


def draw_footing(sheet: Sheet, result: Result, note: str = "") -> None:
    """Write where the picture comes from, what it is not, and a note."""
    caution = "computed for one slice, not measured; no detector and no permission"
    write_footing(sheet, result.created_by, caution, note)
