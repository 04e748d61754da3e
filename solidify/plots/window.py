"""The operating window: a quantity over two inputs, every limit as a named line, and where the hard ones hold."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm, LinearSegmentedColormap, ListedColormap
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from solidify.plots.borders import LEFT, RIGHT, draw_borders, make_room, write_names
from solidify.plots.heading import FOOT, MARGIN
from solidify.plots.palette import (
    FIELD,
    GREY,
    INK,
    OCHRE,
    PAPER,
    PETROL,
    SMALL,
    number,
    styled,
)
from solidify.plots.sheet import Sheet, broken, spread, text_size, width_of
from solidify.plots.study import draw_study_footing, draw_study_heading, range_words, runs_words
from solidify.storage.study_file import StudyTable
from solidify.storage.study_schema import VERDICT
from solidify.study.answers.operating_window import Window
from solidify.study.answers.quantities import base_value, input_label, input_words
from solidify.study.answers.violations import hard_violated

__all__ = ["draw_line", "draw_window"]

_TICKS, _TALL = 11.0, 92.0


def draw_window(table: StudyTable, window: Window, figure: Figure | None = None) -> Figure:
    """Draw an operating window.

    Parameters
    ----------
    table : StudyTable
        The study.
    window : Window
        From `solidify.study.answers.operating_window.operating_window`.
    figure : Figure, optional
        An empty figure to draw in; without it a new one of 180 mm width.

    Returns
    -------
    Figure
        Contours of the quantity, limits as lines with their names, the part where every hard limit holds tinted
        and the rest hatched; where nothing may be read between the runs, the runs themselves. Nothing is shown
        or saved.
    """
    with styled():
        width = width_of(figure)
        sheet = Sheet(figure, width, 34.0 + _TALL + 12.0 + _TICKS + FOOT)
        title = f"{window.quantity.label} over {input_label(table, window.across)} and {input_label(table, window.up)}"
        top = draw_study_heading(sheet, table, f"operating window: {title}", _facts(table, window)) + 6.1
        bottom = sheet.height - FOOT - _TICKS
        ax = sheet.axes(LEFT, top, width - LEFT - RIGHT, max(bottom - top, 10.0), label="window")
        _frame(ax, table, window)
        if window.kind == "runs":
            _scatter(sheet, ax, table, window)
        else:
            lines = draw_borders(ax, window)
            names = make_room(sheet, ax, window, lines, top, bottom)
            _contours(sheet, ax, window)
            _dots(ax, table, window)
            write_names(sheet, ax, names)
        _case(sheet, ax, table, window)
        draw_study_footing(sheet, table, _note(window))
    return sheet.figure


def draw_line(table: StudyTable, window: Window, figure: Figure | None = None) -> Figure:
    """Draw a quantity over the one input that varies, with every limit that is crossed.

    Parameters
    ----------
    table : StudyTable
        The study.
    window : Window
        From `solidify.study.answers.operating_window.operating_line`.
    figure : Figure, optional
        An empty figure to draw in; without it a new one of 180 mm width.

    Returns
    -------
    Figure
        Nothing is shown or saved.
    """
    own = window.quantity
    with styled():
        width = width_of(figure)
        sheet = Sheet(figure, width, 34.0 + _TALL + _TICKS + FOOT)
        words = f"{own.label} over {input_label(table, window.across)}"
        top = draw_study_heading(sheet, table, words, _facts(table, window)) + 6.1
        bottom = sheet.height - FOOT - _TICKS
        ax = sheet.axes(LEFT, top, width - LEFT - RIGHT, max(bottom - top, 10.0), label="line")
        ax.set_xlim(window.x[0], window.x[-1])
        ax.set_ylim(window.y[0], window.y[1])
        ax.set_xlabel(input_words(table, window.across))
        ax.set_ylabel(own.title)
        names = make_room(sheet, ax, window, draw_borders(ax, window), top, bottom)
        ax.plot(window.x, window.values[0], color=PETROL, linewidth=1.6, gid="quantity")
        sheet.ink(ax, window.x, np.clip(window.values[0], *window.y))
        x, failed = table.inputs[window.across][window.runs], table.columns["status"][window.runs] != 0
        ax.plot(x, own.values[window.runs], "o", markersize=3.0, color=PETROL, clip_on=False, gid="runs")
        low = np.full(int(failed.sum()), window.y[0])
        ax.plot(x[failed], low, "x", markersize=4.0, color=INK, clip_on=False, gid="failed")
        _levels(sheet, ax, window)
        write_names(sheet, ax, names)
        base = base_value(table, window.across)
        if isinstance(base, int | float) and window.x[0] <= base <= window.x[-1]:
            y = float(np.interp(base, window.x, window.values[0]))
            if np.isfinite(y):
                _mark_case(sheet, ax, float(base), y)
        draw_study_footing(sheet, table, _note(window))
    return sheet.figure


def _levels(sheet: Sheet, ax: Axes, window: Window) -> None:
    """Draw the limits of the quantity itself across the picture, and name them right of it."""
    own = window.quantity
    shown = sorted((b for b in own.bounds if window.y[0] < b.value < window.y[1]), key=lambda b: -b.value)
    for bound in shown:
        side = (0, -1) if bound.sense == "at most" else (0, 1)
        sheet.edge(ax, window.x[[0, -1]].tolist(), [bound.value] * 2, side)
    texts = [broken(f"{b.label}, {number(b.value, 4)} {own.unit}", RIGHT - 6.0, lines=3) for b in shown]
    _, top, right, bottom = sheet.frame(ax)
    ys = [float(sheet.at(ax, window.x[-1], b.value)[1]) for b in shown]
    places = spread(ys, [text_size(t)[1] + 1.0 for t in texts], top, bottom)
    for text, y, place in zip(texts, ys, places, strict=True):
        sheet.line([right, right + 1.0, right + 2.0], [y, y, place], color=GREY, linewidth=0.4)
        sheet.write(right + 2.4, float(place), text, va="center")


def _facts(table: StudyTable, window: Window) -> str:
    words = [runs_words(table)]
    if window.fixed:
        cut = [
            f"{input_label(table, n)} {number(v) if isinstance(v, float) else v}"
            + ("" if table.units.get(n, "") in ("", "1") else f" {table.units[n]}")
            for n, v in window.fixed.items()
        ]
        words.append(f"cut at {', '.join(cut)}: {len(window.runs)} runs")
    if window.loose:
        also = ", ".join(range_words(table, n) for n in window.loose)
        words.append(f"varied too, from run to run: {also}")
    elif len(window.runs) < table.runs:
        words.append(f"{len(window.runs)} runs give both inputs")
    if window.everywhere:
        words.append(
            f"breached everywhere: {', '.join(f'{b.label} ({b.hardness})' for b in window.everywhere)}"
        )
    if not window.borders:
        words.append("no limit was kept or judged")
    elif window.kind != "runs":
        words.append("tinted: every hard limit holds; hatched: one or more is breached; blank: not known")
        words.append("black lines: hard limits, ticks on the side beyond; dashes: soft limits; dots: runs")
    if window.silent:
        words.append(f"not judged everywhere: {', '.join(window.silent)}")
    return " · ".join(words)


def _note(window: Window) -> str:
    if window.kind == "runs":
        why = "they differ in more than the two inputs" if window.loose else "they lie on one line"
        return f"between the runs nothing is drawn: {why}"
    way = (
        "straight between neighbouring runs" if window.kind in ("grid", "line") else "smooth between the runs"
    )
    return way


def _frame(ax: Axes, table: StudyTable, window: Window) -> None:
    places = [table.inputs[name][window.runs] for name in (window.across, window.up)]
    edge = 0.03 if window.kind == "runs" else 0.0
    (x0, x1), (y0, y1) = ((float(v.min()), float(v.max())) for v in places)
    ax.set_xlim(x0 - edge * (x1 - x0 or 1.0), x1 + edge * (x1 - x0 or 1.0))
    ax.set_ylim(y0 - edge * (y1 - y0 or 1.0), y1 + edge * (y1 - y0 or 1.0))
    ax.set_xlabel(input_words(table, window.across))
    ax.set_ylabel(input_words(table, window.up))
    ax.xaxis.set_major_locator(MaxNLocator(8, steps=[1, 2, 2.5, 5, 10]))
    ax.yaxis.set_major_locator(MaxNLocator(7, steps=[1, 2, 2.5, 5, 10]))


def _contours(sheet: Sheet, ax: Axes, window: Window) -> None:
    finite = window.values[np.isfinite(window.values)]
    if not finite.size or np.ptp(finite) == 0:
        return
    levels = MaxNLocator(9, steps=[1, 2, 2.5, 5, 10]).tick_values(float(finite.min()), float(finite.max()))
    levels = levels[(levels > finite.min()) & (levels < finite.max())]
    drawn = ax.contour(window.x, window.y, window.values, levels=levels, colors=[PETROL], linewidths=[0.8])
    drawn.set_gid("quantity")
    unit = f" {window.quantity.unit}" if window.quantity.unit else ""
    texts = ax.clabel(drawn, fmt=lambda v: f"{number(v, 4)}{unit}", fontsize=SMALL, inline_spacing=2)
    for text in texts:
        text.set_gid("level")
        x, y = (float(v) for v in sheet.at(ax, *text.get_position()))
        reach = 0.5 * max(text_size(text.get_text()))
        sheet.taken.append((x - reach, y - reach, x + reach, y + reach))
    for segment in (s for level in drawn.allsegs for s in level if len(s) > 1):
        sheet.ink(ax, *segment.T)


def _dots(ax: Axes, table: StudyTable, window: Window) -> None:
    x, y = (table.inputs[name][window.runs] for name in (window.across, window.up))
    failed = table.columns["status"][window.runs] != 0
    ax.plot(x[~failed], y[~failed], ".", markersize=1.6, color=GREY, clip_on=False, zorder=4, gid="runs")
    if failed.any():
        ax.plot(x[failed], y[failed], "x", markersize=3.5, color=INK, clip_on=False, zorder=5, gid="failed")


def _scatter(sheet: Sheet, ax: Axes, table: StudyTable, window: Window) -> None:
    """Draw the runs themselves: filled by the quantity, crossed where a hard limit is breached."""
    x, y = (table.inputs[name][window.runs] for name in (window.across, window.up))
    values = window.quantity.values[window.runs]
    known = np.isfinite(values)
    low, high = (float(np.nanmin(values)), float(np.nanmax(values))) if known.any() else (0.0, 1.0)
    levels = MaxNLocator(len(FIELD), steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
    bins = len(levels) - 1
    field = LinearSegmentedColormap.from_list("field", FIELD).resampled(max(bins, len(FIELD)))
    colours = ListedColormap([field(int(i)) for i in np.linspace(0, field.N - 1, bins)])
    beyond = hard_violated(table)[1][window.runs] if "verdict" in table.columns else np.zeros(len(x), bool)
    norm = BoundaryNorm(levels, len(levels) - 1)
    style: dict[str, Any] = {"s": 22, "edgecolors": INK, "linewidths": 0.5, "clip_on": False}
    ax.scatter(x[known], y[known], c=values[known], cmap=colours, norm=norm, gid="runs", **style)
    ax.scatter(x[~known], y[~known], facecolors=PAPER, gid="no value", **style)
    ax.plot(
        x[beyond],
        y[beyond],
        "x",
        markersize=6.0,
        markeredgewidth=0.9,
        color=INK,
        clip_on=False,
        gid="breached",
    )
    for name in ("top", "right"):
        ax.spines[name].set_visible(False)
    _, top, right, _ = sheet.frame(ax)
    at = right + 7.0
    words = broken(window.quantity.title, sheet.width - MARGIN - at, lines=4)
    sheet.write(at, top, words)
    row = top + text_size(words)[1] + 2.0
    for i in reversed(range(len(levels) - 1)):
        sheet.patch(at, row, 5.0, 5.0, facecolor=colours(i), edgecolor=INK, linewidth=0.4)
        sheet.write(at + 6.5, row + 2.5, f"{number(levels[i], 4)} to {number(levels[i + 1], 4)}", va="center")
        row += 5.0
    row += 3.0
    if (~known).any():
        sheet.write(at, row, broken("blank: no value", sheet.width - MARGIN - at, lines=2))
        row += 4.0
    if beyond.any():
        told = f"crossed: a hard limit is breached ({_named_breaches(table, window.runs)})"
        sheet.write(at, row, broken(told, sheet.width - MARGIN - at, lines=9))
    sheet.inked.append(np.column_stack(sheet.at(ax, x, y)))


def _named_breaches(table: StudyTable, runs: np.ndarray) -> str:
    """Return the hard limits breached in some run, with how many."""
    found = {
        label: int((table.columns["verdict"][runs, i] == VERDICT["breached"]).sum())
        for i, (label, hardness) in enumerate(
            zip(table.words["finding_label"], table.words["finding_hardness"], strict=True)
        )
        if hardness == "hard"
    }
    return ", ".join(f"{label}: {n}" for label, n in sorted(found.items(), key=lambda e: -e[1]) if n)


def _case(sheet: Sheet, ax: Axes, table: StudyTable, window: Window) -> None:
    """Mark the base case where it lies in the window."""
    base = {name: base_value(table, name) for name in (window.across, window.up, *window.fixed)}
    if any(base[name] != value for name, value in window.fixed.items()):
        return
    x, y = base[window.across], base[window.up]
    if not all(isinstance(v, int | float) for v in (x, y)):
        return
    (x0, x1), (y0, y1) = ax.get_xlim(), ax.get_ylim()
    if x0 <= x <= x1 and y0 <= y <= y1:
        _mark_case(sheet, ax, float(x), float(y))


def _mark_case(sheet: Sheet, ax: Axes, x: float, y: float) -> None:
    ax.plot([x], [y], "D", markersize=5.0, color=OCHRE, markeredgecolor=INK, zorder=8, gid="case")
    left, top = (float(v) for v in sheet.at(ax, x, y))
    sheet.taken.append((left - 1.0, top - 1.0, left + 1.0, top + 1.0))
    sheet.name(left, top, "the case", sheet.frame(ax), zorder=9)
