"""What the panels of a picture share: bare axes whose name stands above them, and a column of names at their right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from solidify.plots.heading import MARGIN
from solidify.plots.palette import GREY, INK, TEXT
from solidify.plots.sheet import Sheet, spread, text_size

__all__ = ["EndName", "bare", "name_right"]


@dataclass(frozen=True)
class EndName:
    """A name in the column right of a panel.

    Parameters
    ----------
    y : float
        What it names, in data.
    text : str
        One line or more.
    ink : str
        Colour of the words.
    x : float, optional
        Where the line ends, in data; at the edge of the panel without it.
    style : str
        ``"normal"`` or ``"italic"``.
    led : bool
        A leader even where the name stands at its place.
    """

    y: float
    text: str
    ink: str = INK
    x: float | None = None
    style: str = "normal"
    led: bool = True


def bare(
    sheet: Sheet, ax: Axes, label: str, *, above: str = "", over_ruler: bool = False, left: float = MARGIN
) -> None:
    """Leave axes their lower and left edge, and write the name of the left one above it.

    Parameters
    ----------
    sheet : Sheet
        Where.
    ax : Axes
        The panel.
    label : str
        Quantity and unit of the left axis.
    above : str
        What is written, where it is more than the label.
    over_ruler : bool
        The ruler of the strand below serves as the lower edge.
    left : float
        Where the writing begins [mm].
    """
    for name in ("top", "right", "bottom") if over_ruler else ("top", "right"):
        ax.spines[name].set_visible(False)
    if over_ruler:
        ax.set_xlabel("distance from the meniscus, m")
        ax.xaxis.set_visible(False)
    ax.yaxis.set_major_locator(MaxNLocator(6, steps=[1, 2, 2.5, 5, 10]))
    ax.set_ylabel(label)
    ax.yaxis.label.set_visible(False)
    sheet.write(left, sheet.frame(ax)[1] - 2.0, above or label, va="bottom", size=TEXT)


def name_right(sheet: Sheet, ax: Axes, names: Sequence[EndName], below: float = 1.5) -> None:
    """Write names in a column right of a panel, each as near to what it names as the others allow.

    Parameters
    ----------
    sheet : Sheet
        Where.
    ax : Axes
        The panel.
    names : sequence of EndName
        In any order.
    below : float
        How far the column may reach below the panel [mm].
    """
    _, top, right, bottom = sheet.frame(ax)
    rows = []
    for name in names:
        x, y = (float(v) for v in sheet.at(ax, 0.0 if name.x is None else name.x, name.y))
        rows.append((y, right if name.x is None else x, name))
    rows.sort(key=lambda row: (row[0], -row[1]))
    heights = [text_size(name.text)[1] + 0.9 for *_, name in rows]
    places = spread([y for y, *_ in rows], heights, top - 2.0, bottom + below)
    for (y, x, name), place in zip(rows, places, strict=True):
        if name.led or abs(place - y) > 0.5:
            sheet.line([x + 0.4, right + 1.2, right + 2.0], [y, place, place], color=GREY, linewidth=0.4)
        sheet.write(right + 2.4, float(place), name.text, va="center", color=name.ink, style=name.style)
