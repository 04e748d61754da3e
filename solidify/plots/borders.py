"""The limits of a window as named lines: drawn where they are met, named at their ends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patheffects import withTickedStroke

from solidify.plots.heading import MARGIN
from solidify.plots.palette import (
    BAND_EDGE,
    GREY,
    INK,
    OCHRE,
    OCHRE_TEXT,
    WATER,
)
from solidify.plots.sheet import Sheet, broken, spread, text_size
from solidify.study.answers.operating_window import Window

__all__ = ["LEFT", "RIGHT", "draw_borders", "make_room", "write_names"]

LEFT, RIGHT = 17.0, 36.0
"""Room beside a window, for its axis and for names [mm]."""

_NAMES = (25.0, 20.0, 17.0)
"""Widths of a name above the window, the wider the better [mm]."""


@dataclass(frozen=True)
class _Line:
    """A limit that crosses the window."""

    label: str
    hard: bool
    segments: list[np.ndarray]

    @property
    def ink(self) -> str:
        return INK if self.hard else OCHRE_TEXT

    def end(self, window: Window) -> tuple[str, np.ndarray]:
        """Return where its name belongs, ``"right"``, ``"top"`` or ``"inside"``, and the point it names."""
        x, y = window.x, window.y
        close = 0.12 if window.kind == "triangles" else 1e-6
        close_x, close_y = close * np.ptp(x), close * np.ptp(y)
        ends = [p for s in self.segments for p in (s[0], s[-1])]
        right = [p for p in ends if p[0] >= x[-1] - close_x]
        top = [p for p in ends if p[1] >= y[-1] - close_y]
        if top and (window.kind == "triangles" or not right):
            return "top", max(top, key=lambda p: p[1])
        if right:
            return "right", max(right, key=lambda p: p[1])
        longest = max(self.segments, key=len)
        return "inside", longest[len(longest) // 2]


@dataclass
class _Name:
    """The name of a line on its way to its place."""

    line: _Line
    where: str
    point: np.ndarray
    text: str


def draw_borders(ax: Axes, window: Window) -> list[_Line]:
    """Tint where every hard limit holds, hatch the rest, and draw every limit that crosses the window.

    Parameters
    ----------
    ax : Axes
        Of the window.
    window : Window
        From `solidify.study.answers.operating_window`.

    Returns
    -------
    list
        The lines drawn, for `make_room`.
    """
    room = window.room
    if (room >= 0).any():
        ax.contourf(window.x, window.y, room, levels=[0.0, np.inf], colors=[WATER])
    if (room < 0).any():
        shade = ax.contourf(
            window.x, window.y, room, levels=[-np.inf, 0.0], colors=["none"], hatches=["////"]
        )
        shade.set_edgecolor(BAND_EDGE)
        shade.set_linewidth(0.0)
        shade.set_gid("a hard limit is breached")
    found = []
    for border in window.borders:
        finite = border.room[np.isfinite(border.room)]
        if not finite.size or finite.min() > 0 or finite.max() < 0:
            continue
        hard = border.hardness == "hard"
        drawn = ax.contour(
            window.x,
            window.y,
            border.room,
            levels=[0.0],
            colors=[INK if hard else OCHRE],
            linewidths=[1.3 if hard else 1.1],
            linestyles=["solid" if hard else (0, (4.0, 1.8))],
        )
        drawn.set_gid(f"limit {border.name}")
        if hard:
            drawn.set_path_effects([withTickedStroke(angle=-135, spacing=4.0, length=1.0)])
        segments = [s for s in drawn.allsegs[0] if len(s) > 1]
        if segments:
            found.append(_Line(border.label, hard, segments))
    return found


def make_room(
    sheet: Sheet, ax: Axes, window: Window, lines: list[_Line], top: float, bottom: float
) -> list[_Name]:
    """Choose where the names of the limits go, and lower the window under those above it.

    Parameters
    ----------
    sheet, ax, window
        As for `draw_borders`.
    lines : list
        From `draw_borders`.
    top, bottom : float
        Of the room for names and window [mm].

    Returns
    -------
    list
        The names, for `write_names`.
    """
    names = [_Name(line, *line.end(window), line.label) for line in lines]
    room = sheet.width - 2 * MARGIN
    above = [n for n in names if n.where == "top"]
    for width in _NAMES:
        for name in above:
            name.text = broken(name.line.label, width, lines=4)
        if sum(text_size(n.text)[0] + 2.0 for n in above) <= room:
            break
    taken = 0.0
    for name in above:
        taken += text_size(name.text)[0] + 2.0
        if taken > room:
            name.where, name.text = "inside", name.line.label
    head = max((text_size(n.text)[1] for n in names if n.where == "top"), default=0.0)
    lowered = top + (head + 5.0 if head else 0.0)
    left, across = LEFT / sheet.width, (sheet.width - LEFT - RIGHT) / sheet.width
    ax.set_position((left, 1 - bottom / sheet.height, across, max(bottom - lowered, 10.0) / sheet.height))
    for line in lines:
        for segment in line.segments:
            sheet.ink(ax, *segment.T)
    return names


def write_names(sheet: Sheet, ax: Axes, names: list[_Name]) -> None:
    """Write the name of each limit at an end of its line, above the window or right of it."""
    left, edge, right, bottom = sheet.frame(ax)
    above = sorted((n for n in names if n.where == "top"), key=lambda n: float(n.point[0]))
    xs, ys = zip(*(map(float, sheet.at(ax, *n.point)) for n in above), strict=True) if above else ((), ())
    widths = [text_size(n.text)[0] + 2.0 for n in above]
    places = spread(xs, widths, MARGIN, sheet.width - MARGIN)
    for name, x, y, place in zip(above, xs, ys, places, strict=True):
        sheet.line([x, x, place], [y, edge - 0.8, edge - 4.4], color=GREY, linewidth=0.4)
        sheet.write(float(place), edge - 4.8, name.text, ha="center", va="bottom", color=name.line.ink)
    aside = sorted((n for n in names if n.where == "right"), key=lambda n: -float(n.point[1]))
    texts = [broken(n.text, RIGHT - 6.0, lines=2) for n in aside]
    rows = [float(sheet.at(ax, *n.point)[1]) for n in aside]
    heights = [text_size(t)[1] + 1.0 for t in texts]
    for text, name, y, place in zip(texts, aside, rows, spread(rows, heights, edge, bottom), strict=True):
        sheet.line([right, right + 1.0, right + 2.0], [y, y, place], color=GREY, linewidth=0.4)
        sheet.write(right + 2.4, float(place), text, va="center", color=name.line.ink)
    for name in names:
        if name.where == "inside":
            x, y = (float(v) for v in sheet.at(ax, *name.point))
            sheet.name(x, y, name.text, (left, edge, right, bottom), color=name.line.ink)
