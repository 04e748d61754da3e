"""The cut plan as a strip: the strand with its stretches, the plan above it, the plain plan below."""

from __future__ import annotations

from importlib.metadata import version
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator, NullLocator

from solidify.plan.cut_plan import CutPlan
from solidify.plots.heading import FOOT, MARGIN, write_footing, write_heading
from solidify.plots.palette import GREY, INK, OCHRE, PAPER, PLUM, SMALL, SOLID, TEXT, WATER, styled
from solidify.plots.sheet import Sheet, broken, text_size, width_of

__all__ = ["draw_cut"]

_LOOK: dict[str, dict[str, Any]] = {
    "good": {"facecolor": SOLID},
    "soft": {"facecolor": WATER},
    "mixed": {"facecolor": OCHRE},
    "suspect": {"facecolor": PLUM},
    "scrap": {"facecolor": PAPER, "hatch": "xxxx"},
    "head crop": {"facecolor": PAPER, "hatch": "...."},
    "tail crop": {"facecolor": PAPER, "hatch": "...."},
    "join": {"facecolor": PAPER, "hatch": "xxxx"},
}
"""How each kind is filled."""

_ROW = 12.0


def draw_cut(plan: CutPlan, title: str, words: str, figure: Figure | None = None) -> Figure:
    """Draw a cut plan.

    Parameters
    ----------
    plan : CutPlan
        With its plain plan.
    title, words : str
        Of the strand, and what was found.
    figure : Figure, optional
        An empty figure to draw in; without it a new one of 180 mm width.

    Returns
    -------
    Figure
        Nothing is shown or saved.
    """
    assert plan.plain is not None
    with styled():
        width = width_of(figure)
        sheet = Sheet(figure, width, 16.0 + 3 * (_ROW + 8.0) + 16.0 + FOOT)
        y = write_heading(sheet, title, words) + 3.0
        across = sheet.width - 2 * MARGIN - 6.0
        left = MARGIN + 3.0
        rows = (
            ("plan: cold length of each piece, m", plan),
            ("the strand and what lies in it", None),
            (f"{plan.cut.aim:g} m throughout", plan.plain),
        )
        for i, (name, own) in enumerate(rows):
            y += 6.0
            ax = sheet.axes(left, y, across, _ROW, label=f"strip {i}")
            ax.set_xlim(0, plan.length)
            ax.set_ylim(0, 1)
            for side in ("top", "right", "left"):
                ax.spines[side].set_visible(False)
            ax.yaxis.set_major_locator(NullLocator())
            ax.xaxis.set_major_locator(MaxNLocator(10) if i == 2 else NullLocator())
            sheet.write(left, y - 1.2, name, va="bottom", size=TEXT)
            if own is None:
                _strand(sheet, ax, plan)
            else:
                _pieces(sheet, ax, own, str(i))
            y += _ROW + 2.0
        sheet.write(left + across, y + 2.6, "cast metres from the head, hot", ha="right", size=TEXT)
        _legend(sheet, plan, left, y + 9.0)
        write_footing(
            sheet,
            f"solidify {version('solidify')}",
            "worked out from the file, not measured; no release of steel",
        )
    return sheet.figure


def _pieces(sheet: Sheet, ax: Axes, plan: CutPlan, row: str) -> None:
    for n, piece in enumerate(plan.pieces):
        look: dict[str, Any] = {"edgecolor": INK, "linewidth": 0.7} | _LOOK[piece.kind]
        ax.barh(0.5, piece.end - piece.start, left=piece.start, height=0.8, gid=f"piece {row} {n}", **look)
        words = f"{piece.cold:.2f}"
        x0, x1 = (float(sheet.at(ax, x, 0.5)[0]) for x in (piece.start, piece.end))
        if (piece.sold or piece.kind == "suspect") and text_size(words, SMALL)[0] < x1 - x0 - 0.8:
            at = float(sheet.at(ax, 0.0, 0.5)[1])
            ink = PAPER if piece.kind == "suspect" else INK
            sheet.write((x0 + x1) / 2, at, words, ha="center", va="center", size=SMALL, color=ink)


def _strand(sheet: Sheet, ax: Axes, plan: CutPlan) -> None:
    ax.barh(
        0.5, plan.length, left=0.0, height=0.8, facecolor=SOLID, edgecolor=INK, linewidth=0.7, gid="strand"
    )
    for n, s in enumerate(plan.stretches):
        look: dict[str, Any] = {"edgecolor": INK, "linewidth": 0.5} | _LOOK[s.kind]
        ax.barh(0.5, s.end - s.start, left=s.start, height=0.8, gid=f"stretch {n}", **look)
    for crop, start in ((plan.cut.head, 0.0), (plan.cut.tail, plan.length - plan.cut.tail)):
        if crop:
            edge: dict[str, Any] = {"edgecolor": INK, "linewidth": 0.5}
            ax.barh(0.5, crop, left=start, height=0.8, **edge, **_LOOK["head crop"])
    for piece in plan.pieces:
        if piece.made:
            ax.axvline(piece.end, color=GREY, linewidth=0.6)


def _legend(sheet: Sheet, plan: CutPlan, left: float, y: float) -> None:
    """Name the fills that are there."""
    assert plan.plain is not None
    there = {piece.kind for piece in (*plan.pieces, *plan.plain.pieces)} | {s.kind for s in plan.stretches}
    words = {
        "good": "good",
        "soft": "advisory limit not met",
        "mixed": "mixed steel",
        "suspect": "suspect",
        "scrap": "scrap",
        "head crop": "crop",
        "join": "about a join",
    }
    if "tail crop" in there:
        there.add("head crop")
    x = left
    for kind, name in words.items():
        if kind in there:
            sheet.patch(x, y, 4.0, 3.0, edgecolor=INK, linewidth=0.5, **_LOOK[kind])
            name = broken(name, 60.0, TEXT, lines=1)
            sheet.write(x + 5.2, y + 1.5, name, va="center", size=TEXT)
            x += 5.2 + text_size(name, TEXT)[0] + 4.0
