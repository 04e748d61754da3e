"""A sheet of paper measured in millimetres: places axes and text, and keeps texts clear of each other."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.text import Text
from numpy.typing import ArrayLike
from scipy.optimize import isotonic_regression

from solidify.plots.palette import GREY, INK, LIGHT, SMALL

__all__ = ["MM_PER_INCH", "WIDTH", "Sheet", "broken", "spread", "text_size", "width_of"]

MM_PER_INCH = 25.4
WIDTH = 180.0
"""Width of a picture for a page of A4 [mm]."""

_DPI = 288
_HINTED = 1.03
"""Letters fitted to coarse pixels come out this much wider at most."""

_LINE = 1.2
Box = tuple[float, float, float, float]


@lru_cache(maxsize=1)
def _renderer() -> RendererAgg:
    return RendererAgg(8, 8, _DPI)


@lru_cache(maxsize=4096)
def text_size(text: str, size: float = SMALL, weight: str = "normal") -> tuple[float, float]:
    """Return width and height of a text, several lines or one [mm].

    Parameters
    ----------
    text : str
        As it will be drawn.
    size : float
        Of the type [pt].
    weight : str
        ``"normal"`` or ``"bold"``.

    Returns
    -------
    tuple of float
        [mm].
    """
    font = FontProperties(family="sans-serif", size=size, weight=weight)
    lines = text.split("\n")
    measured = [_renderer().get_text_width_height_descent(line, font, False)[0] for line in lines]
    height = (1.05 + _LINE * (len(lines) - 1)) * size * MM_PER_INCH / 72
    return _HINTED * max(measured) * MM_PER_INCH / _DPI, height


def broken(text: str, width: float, size: float = SMALL, weight: str = "normal", lines: int = 9) -> str:
    """Return the text broken into lines no wider than `width` [mm], the last one cut short if it must be."""
    rows = [""]
    for word in text.split():
        longer = f"{rows[-1]} {word}".strip()
        if rows[-1] and text_size(longer, size, weight)[0] > width:
            rows.append(word)
        else:
            rows[-1] = longer
    if len(rows) > lines:
        rows = [*rows[: lines - 1], " ".join(rows[lines - 1 :])]
    return "\n".join(_short(row, width, size, weight) for row in rows)


def _short(text: str, width: float, size: float, weight: str) -> str:
    if text_size(text, size, weight)[0] <= width:
        return text
    while len(text) > 1 and text_size(text + "…", size, weight)[0] > width:
        text = text[:-1].rstrip()
    return text + "…"


def spread(wanted: Sequence[float], widths: Sequence[float], low: float, high: float) -> np.ndarray:
    """Return centres as near as can be to those wanted, in the same order, none overlapping.

    The shift with the least sum of squares: an isotonic regression of the wanted places, each less the widths
    that stand before it.

    Parameters
    ----------
    wanted : sequence of float, shape (n,)
        Centres, ascending [mm].
    widths : sequence of float, shape (n,)
        Gaps included [mm].
    low, high : float
        Ends of the room there is [mm]; should the widths exceed it, they start at `low`.

    Returns
    -------
    ndarray, shape (n,)
        [mm].

    Examples
    --------
    >>> [float(x) for x in spread([5.0, 6.0, 30.0], [10.0, 10.0, 10.0], 0.0, 40.0)]
    [5.0, 15.0, 30.0]
    """
    if not len(wanted):
        return np.zeros(0)
    w = np.asarray(widths, dtype=float)
    before = np.concatenate([[0.0], np.cumsum(w)[:-1]]) + w / 2
    free = np.asarray(isotonic_regression(np.asarray(wanted, dtype=float) - before).x)
    return np.clip(free, low, max(high - w.sum(), low)) + before


def width_of(figure: Figure | None) -> float:
    """Return the width of a figure that was given; that of a page of A4 without one [mm]."""
    return float(figure.get_size_inches()[0]) * MM_PER_INCH if figure else WIDTH


class Sheet:
    """A figure, addressed in millimetres from its upper left corner.

    Parameters
    ----------
    figure : Figure or None
        Where to draw; a new one is made without it.
    width, height : float
        Of a new figure [mm]; a given figure keeps its size.
    """

    def __init__(self, figure: Figure | None, width: float, height: float) -> None:
        self.figure = figure or Figure(figsize=(width / MM_PER_INCH, height / MM_PER_INCH), facecolor="white")
        inches = self.figure.get_size_inches()
        self.width, self.height = (float(x) * MM_PER_INCH for x in inches)
        self.taken: list[Box] = []
        self.inked: list[np.ndarray] = []

    def axes(self, left: float, top: float, width: float, height: float, **settings: Any) -> Axes:
        """Add axes at a place [mm]."""
        bottom = self.height - top - height
        return self.figure.add_axes(
            (left / self.width, bottom / self.height, width / self.width, height / self.height), **settings
        )

    def write(self, x: float, y: float, text: str, **settings: Any) -> Text:
        """Write at a place [mm] and take the room; alignment by ``ha`` and ``va`` as in matplotlib."""
        usual: dict[str, Any] = {"ha": "left", "va": "top", "size": SMALL, "color": INK}
        settings = usual | {"linespacing": _LINE} | settings
        self.taken.append(self.box(x, y, text, settings))
        return self.figure.text(x / self.width, 1 - y / self.height, text, **settings)

    @staticmethod
    def box(x: float, y: float, text: str, settings: dict[str, Any]) -> Box:
        """Return left, top, right and bottom of a text [mm]."""
        w, h = text_size(text, settings.get("size", SMALL), settings.get("weight", "normal"))
        left = x - {"left": 0.0, "center": 0.5, "right": 1.0}[settings.get("ha", "left")] * w
        top = y - {"top": 0.0, "center": 0.5, "bottom": 1.0}[settings.get("va", "top")] * h
        return left, top, left + w, top + h

    def line(self, x: ArrayLike, y: ArrayLike, **settings: Any) -> Line2D:
        """Draw a line through places on the sheet [mm]."""
        usual: dict[str, Any] = {"color": INK, "linewidth": LIGHT}
        xs, ys = np.asarray(x, dtype=float) / self.width, 1 - np.asarray(y, dtype=float) / self.height
        line = Line2D(xs, ys, transform=self.figure.transFigure, **usual | settings)
        self.figure.add_artist(line)
        return line

    def patch(self, x: float, y: float, width: float, height: float, **settings: Any) -> Rectangle:
        """Fill a rectangle on the sheet [mm]."""
        corner = (x / self.width, 1 - (y + height) / self.height)
        patch = Rectangle(
            corner, width / self.width, height / self.height, transform=self.figure.transFigure, **settings
        )
        self.figure.add_artist(patch)
        return patch

    def at(self, ax: Axes, x: Any, y: Any) -> tuple[np.ndarray, np.ndarray]:
        """Return places on the sheet [mm] of values in (linear) axes."""
        box = ax.get_position()
        (x0, x1), (y0, y1) = ax.get_xlim(), ax.get_ylim()
        u = box.x0 + (np.asarray(x, dtype=float) - x0) / (x1 - x0) * box.width
        v = box.y0 + (np.asarray(y, dtype=float) - y0) / (y1 - y0) * box.height
        return u * self.width, (1 - v) * self.height

    def frame(self, ax: Axes) -> Box:
        """Return left, top, right and bottom of axes [mm]."""
        box = ax.get_position()
        return (
            box.x0 * self.width, (1 - box.y1) * self.height, box.x1 * self.width, (1 - box.y0) * self.height,
        )  # fmt: skip

    def ink(self, ax: Axes, x: Any, y: Any) -> None:
        """Note a line that labels should keep off."""
        xs, ys = self.at(ax, x, y)
        steps = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(xs), np.diff(ys)))])
        if steps[-1] > 0:
            dense = np.arange(0.0, steps[-1], 0.7)
            self.inked.append(np.column_stack([np.interp(dense, steps, xs), np.interp(dense, steps, ys)]))

    def free(self, box: Box, gap: float = 0.6) -> bool:
        """Return whether no text has taken any of a box [mm]."""
        a, b, c, d = box
        return not any(
            a - gap < right and left < c + gap and b - gap < bottom and top < d + gap
            for left, top, right, bottom in self.taken
        )

    def crossings(self, box: Box, gap: float = 0.5) -> int:
        """Return how many points of noted lines lie in a box [mm]."""
        low, high = np.array(box[:2]) - gap, np.array(box[2:]) + gap
        return sum(int(((points > low) & (points < high)).all(axis=1).sum()) for points in self.inked)

    def name(self, x: float, y: float, text: str, area: Box, **settings: Any) -> Text | None:
        """Write a text as near to a place as it goes without covering lines or text; far off, with a leader.

        Parameters
        ----------
        x, y : float
            What is named [mm].
        text : str
            Its name.
        area : tuple of float
            Left, top, right and bottom of where it may stand [mm].
        **settings
            Of the text, as in matplotlib.

        Returns
        -------
        Text or None
            None when there is no room at all.
        """
        w, h = text_size(text, settings.get("size", SMALL), settings.get("weight", "normal"))
        reach = np.array([1.2, 2.5, 4.0, 6.0, 9.0, 13.0, 18.0, 25.0, 34.0])
        best: tuple[float, float, float] | None = None
        for r in reach:
            if best is not None and best[0] <= r:
                break
            for dx, dy in ((1, 0), (1, 1), (1, -1), (-1, 0), (-1, 1), (-1, -1), (0, -1), (0, 1)):
                left = x + dx * r - (0.0 if dx > 0 else w if dx < 0 else w / 2)
                top = y + dy * r - (0.0 if dy > 0 else h if dy < 0 else h / 2)
                box = (left, top, left + w, top + h)
                if left < area[0] or top < area[1] or box[2] > area[2] or box[3] > area[3]:
                    continue
                if not self.free(box):
                    continue
                cost = r + 6.0 * self.crossings(box) + (0.5 if dx < 0 else 0.0)
                if best is None or cost < best[0]:
                    best = (cost, left, top)
        if best is None:
            return None
        _, left, top = best
        near_x, near_y = min(max(x, left), left + w), min(max(y, top), top + h)
        if np.hypot(near_x - x, near_y - y) > 5.0:
            self.line([x, near_x], [y, near_y], color=GREY, linewidth=0.4)
        return self.write(left, top, text, **settings)

    def edge(self, ax: Axes, x: Sequence[float], y: Sequence[float], side: tuple[int, int]) -> None:
        """Draw a limit: a black edge from one place to another, hatched on its forbidden side.

        Parameters
        ----------
        ax : Axes
            Where.
        x, y : sequence of float, shape (2,)
            Both ends, in data.
        side : tuple of int
            Where the forbidden side lies on the sheet, (1, 0) right, (0, 1) down and so on.
        """
        xs, ys = self.at(ax, x, y)
        length = float(np.hypot(xs[1] - xs[0], ys[1] - ys[0]))
        along = np.array([xs[1] - xs[0], ys[1] - ys[0]]) / length
        out = np.array(side, dtype=float)
        depth, pitch = 1.5, 1.1
        places = np.arange(0.0, max(length - depth, pitch), pitch)
        feet = np.array([xs[0], ys[0]]) + places[:, None] * along
        tips = feet + depth * (out + along * min(1.0, length / depth))
        points = np.stack([feet, tips], axis=1) / (self.width, self.height)
        points[:, :, 1] = 1 - points[:, :, 1]
        hatch = LineCollection(list(points), colors=INK, linewidths=0.5, transform=self.figure.transFigure)
        hatch.set_gid("limit")
        self.figure.add_artist(hatch)
        self.line(xs, ys, linewidth=1.3, gid="edge")
        self.ink(ax, x, y)
        far = np.array([xs, ys]).T + depth * out
        dense = np.linspace(far[0], far[1], max(int(length / 0.7), 2))
        self.inked.append(dense)
