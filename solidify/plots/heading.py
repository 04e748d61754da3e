"""Head and foot of every picture: the case, its worst verdict, its figures, and what the picture is not."""

from __future__ import annotations

from typing import TYPE_CHECKING

from solidify.plots.palette import GREY, INK, MARKS, SMALL, TEXT, TITLE, number
from solidify.plots.sheet import Sheet, broken, text_size

if TYPE_CHECKING:
    from solidify.findings import Judgement
    from solidify.result import Result

__all__ = ["FOOT", "MARGIN", "draw_footing", "draw_heading", "verdict_words"]

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


def draw_heading(sheet: Sheet, result: Result, judgement: Judgement | None) -> float:
    """Write the case, its worst verdict and its figures; returns the height taken [mm]."""
    width = sheet.width - 2 * MARGIN
    title = broken(result.case.title, width, TITLE, "bold", lines=2)
    y = MARGIN
    sheet.write(MARGIN, y, title, size=TITLE, weight="bold")
    y += text_size(title, TITLE, "bold")[1] + 1.2
    if judgement is not None:
        words = broken(verdict_words(judgement), width - 5, TEXT + 0.5, lines=2)
        _mark(sheet, MARGIN + 0.2, y + 0.1, judgement.worst)
        sheet.write(MARGIN + 4.4, y, words, size=TEXT + 0.5)
        y += text_size(words, TEXT + 0.5)[1] + 1.0
    facts = broken(_facts(result), width, SMALL)
    sheet.write(MARGIN, y, facts, color=GREY)
    return y + text_size(facts)[1]


def draw_footing(sheet: Sheet, result: Result, note: str = "") -> None:
    """Write where the picture comes from, what it is not, and a note."""
    words = ["computed for one slice, not measured; no detector and no permission"]
    words = [result.created_by, *words] if result.created_by else words
    text = " · ".join([*words, note] if note else words)
    width = sheet.width - 2 * MARGIN
    sheet.write(MARGIN, sheet.height - 1.8, broken(text, width, lines=2), va="bottom", color=GREY)
