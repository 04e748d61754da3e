"""The spread of a quantity over the runs of a study, and how often each limit is breached."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from solidify.plots.heading import FOOT, MARGIN
from solidify.plots.palette import GREY, INK, MARKS, PAPER, PETROL, SMALL, TEXT, WATER, styled
from solidify.plots.sheet import Sheet, broken, width_of
from solidify.plots.study import draw_study_footing, draw_study_heading, runs_words
from solidify.storage.study_file import StudyTable
from solidify.study.answers.quantities import Bound, Quantity
from solidify.study.answers.violations import CONFIDENCE, Violation, failures, silent_note, violations

__all__ = ["draw_spread"]

_LEFT, _RIGHT, _HEAD, _TALL, _TICKS, _ROW = 15.0, 8.0, 6.0, 56.0, 11.0, 5.4
_NAMES, _FIGURES = 54.0, 48.0
MOST = 14
"""Limits listed at most."""

_AT_END = (
    "metallurgical_length",
    "solidification_time",
    "k_whole_machine",
    "meeting_depth",
    "length_at_solid_fraction_0_3",
    "length_at_solid_fraction_0_7",
    "length_at_solid_fraction_0_9",
    "length_at_solid_fraction_0_99",
    "last_liquid_support",
)
"""Quantities that want a strand that is solid at the cut-off."""


def draw_spread(table: StudyTable, quantity: Quantity, figure: Figure | None = None) -> Figure:
    """Draw how a quantity is spread over the runs, its limits, and the share of runs that breaches each limit.

    Parameters
    ----------
    table : StudyTable
        The study.
    quantity : Quantity
        What is counted.
    figure : Figure, optional
        An empty figure to draw in; without it a new one of 180 mm width.

    Returns
    -------
    Figure
        Above a histogram of the runs that were drawn independently; below the shares, with their intervals where
        the runs were drawn. Nothing is shown or saved.
    """
    found = violations(table)
    rows = [b for b in found if b.breached or b.hardness == "hard"][:MOST]
    with styled():
        width = width_of(figure)
        below = (12.0 + _ROW * len(rows) + _TICKS) if rows else 0.0
        sheet = Sheet(figure, width, 20.0 + _HEAD + _TALL + _TICKS + 7.0 + below + FOOT)
        words = f"spread of {quantity.label}"
        top = draw_study_heading(sheet, table, words, _facts(table, found, rows)) + 1.1 + _HEAD
        tall = max(sheet.height - top - _TICKS - 7.0 - below - FOOT, 10.0)
        ax = sheet.axes(_LEFT, top, width - _LEFT - _RIGHT, tall, label="spread")
        _histogram(sheet, ax, table, quantity)
        if rows:
            _shares(sheet, table, rows, top + tall + _TICKS + 7.0 + 12.0)
        draw_study_footing(sheet, table, _note(table))
    return sheet.figure


def _facts(table: StudyTable, found: Sequence[Violation], rows: Sequence[Violation]) -> str:
    words = [runs_words(table)]
    for failure in failures(table)[:2]:
        told = f"failed, {len(failure.runs)}: {failure.reason}"
        words.append(told if len(told) < 90 else told[:88] + "…")
    left = len(found) - len(rows)
    if left:
        words.append(f"{left} soft limits that no run breaches are not listed")
    return " · ".join([*words, *filter(None, [silent_note(table)])])


def _note(table: StudyTable) -> str:
    if table.random:
        return (
            f"intervals {CONFIDENCE:.0%}, exact for independent runs; an even sample like this scatters less as a rule"
        ).replace("%", " %")
    return "shares of the combinations that were chosen: they are no probabilities"


def _histogram(sheet: Sheet, ax: Axes, table: StudyTable, quantity: Quantity) -> None:
    values = quantity.values[table.independent]
    known = values[np.isfinite(values)]
    edges = np.histogram_bin_edges(known, bins=min(max(round(math.sqrt(len(known))), 5), 40))
    counts, _, _ = ax.hist(
        known, bins=edges.tolist(), facecolor=WATER, edgecolor=INK, linewidth=0.5, gid="runs"
    )
    shown = [b for b in quantity.bounds if _near(b.value, known)]
    ends = [float(known.min()), float(known.max()), *(b.value for b in shown)]
    reach = 0.04 * (max(ends) - min(ends) or 1.0)
    ax.set_xlim(min(ends) - reach, max(ends) + reach)
    ax.set_ylim(0, 1.12 * float(np.max(counts)))
    ax.yaxis.set_major_locator(MaxNLocator(5, integer=True))
    ax.set_ylabel("runs")
    ax.set_xlabel(quantity.title)
    for name in ("top", "right"):
        ax.spines[name].set_visible(False)
    left, top, right, bottom = sheet.frame(ax)
    for x0, x1, count in zip(edges[:-1], edges[1:], counts, strict=True):
        sheet.ink(ax, [x0, x1], [count, count])
    middle = float(np.median(known))
    ax.plot([middle, middle], [0, ax.get_ylim()[1]], color=PETROL, linewidth=1.2, gid="median")
    sheet.ink(ax, [middle, middle], ax.get_ylim())
    for bound in shown:
        x = float(sheet.at(ax, bound.value, 0)[0])
        sheet.edge(ax, [bound.value] * 2, [0, ax.get_ylim()[1]], (1 if bound.sense == "at most" else -1, 0))
        sign = "≤" if bound.sense == "at most" else "≥"
        told = f"{bound.label}, {bound.hardness}: {sign} {bound.value:.{quantity.digits}f} {quantity.unit}".strip()
        sheet.name(x, top + 3.0, told, (left, top - _HEAD + 2.0, right + 6.0, bottom))
    x = float(sheet.at(ax, middle, 0)[0])
    told = f"half of the runs below {middle:.{quantity.digits}f} {quantity.unit}".strip()
    sheet.name(x, top + 1.0, told, (left, top - _HEAD + 2.0, right + 6.0, bottom), color=PETROL)
    told = broken(_aside(table, quantity, shown), sheet.width - 2 * MARGIN, lines=2)
    sheet.write(MARGIN, bottom + 10.5, told, color=GREY)


def _aside(table: StudyTable, quantity: Quantity, shown: Sequence[Bound]) -> str:
    """Say what the histogram does not show."""
    done = table.independent & (table.columns["status"] == 0)
    missing = int((done & ~np.isfinite(quantity.values)).sum())
    notes = []
    if missing:
        why = ", not being solid at the cut-off" if quantity.name in _AT_END else ""
        notes.append(f"{missing} runs have no value{why}")
    far = [
        f"{b.label} {b.value:.{quantity.digits}f} {quantity.unit}" for b in quantity.bounds if b not in shown
    ]
    if far:
        notes.append(f"limits beyond the picture: {', '.join(far)}")
    if table.sampling == "sobol indices":
        notes.append("counted are the runs drawn independently, two a draw")
    return "; ".join(notes)


def _near(value: float, known: np.ndarray) -> bool:
    """Whether a limit is so near that the picture can hold it."""
    low, high = float(known.min()), float(known.max())
    return low - 1.0 * (high - low) <= value <= high + 1.0 * (high - low)


def _shares(sheet: Sheet, table: StudyTable, rows: Sequence[Violation], top: float) -> None:
    width = sheet.width - _NAMES - _FIGURES - MARGIN
    ax = sheet.axes(_NAMES, top, width, _ROW * len(rows), label="shares")
    highest = max([100 * b.share for b in rows] + [100 * b.high for b in rows if not math.isnan(b.high)])
    ax.set_xlim(0, max(1.05 * highest, 1.0))
    ax.set_ylim(len(rows) - 0.5, -0.5)
    ax.yaxis.set_visible(False)
    ax.set_xlabel("share of the runs judged that breaches the limit, %", loc="left")
    ax.xaxis.set_major_locator(MaxNLocator(6, steps=[1, 2, 2.5, 5, 10]))
    for name in ("top", "right", "left"):
        ax.spines[name].set_visible(False)
    sheet.write(MARGIN, top - 2.2, "limits, and how often they are breached", va="bottom", size=TEXT)
    for i, b in enumerate(rows):
        hard = b.hardness == "hard"
        share = 100 * b.share
        if table.random:
            ax.plot(
                [100 * b.low, 100 * b.high], [i, i], color=INK, linewidth=1.0, gid="interval", clip_on=False
            )
        fill = (MARKS["breached"] if hard else MARKS["close"]) if b.breached else PAPER
        ax.plot(
            [share],
            [i],
            "s",
            markersize=4.5,
            color=fill,
            markeredgecolor=INK,
            markeredgewidth=0.6,
            clip_on=False,
        )
        y = top + _ROW * (i + 0.5)
        weight = "normal" if b.name else "bold"
        label = broken(
            f"{b.label}{', hard' if hard and b.name else ''}", _NAMES - MARGIN - 2.0, SMALL, lines=1
        )
        sheet.write(_NAMES - 2.0, y, label, ha="right", va="center", weight=weight)
        told = f"{b.breached} of {b.judged}: {_percent(share)}"
        if table.random:
            told += f" ({_percent(100 * b.low)[:-2]} to {_percent(100 * b.high)})"
        sheet.write(sheet.width - MARGIN, y, told, ha="right", va="center", weight=weight)


def _percent(value: float) -> str:
    return f"{value:.1f} %" if value < 10 else f"{value:.0f} %"
