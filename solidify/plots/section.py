"""The field of temperature over the depth and along the strand, with numbered isotherms."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure

from solidify.plots.heading import FOOT, draw_footing, draw_heading
from solidify.plots.palette import FIELD, GREY, INK, PAPER, styled
from solidify.plots.panel import name_right
from solidify.plots.ruler import draw_ruler, plan_ruler
from solidify.plots.sheet import Sheet, spread, text_size, width_of
from solidify.plots.shell import edge_names, style_depth
from solidify.units import MM

if TYPE_CHECKING:
    from solidify.assessment.judge import Judgement
    from solidify.strand.result import Result

__all__ = ["plot_section"]

_LEFT, _RIGHT, _HEAD, _NAMES = 19.0, 26.0, 6.0, 6.5


def _levels(temperature: np.ndarray) -> np.ndarray:
    low, high = np.floor(temperature.min() / 100) * 100, np.ceil(temperature.max() / 100) * 100
    step = 100.0 if (high - low) <= 1100 else 200.0
    return np.arange(low, high + step, step)


def plot_section(result: Result, judgement: Judgement | None = None, figure: Figure | None = None) -> Figure:
    """Draw the temperature over depth and distance, dark cold to pale hot, with numbered isotherms.

    Parameters
    ----------
    result : Result
        A marched strand.
    judgement : Judgement, optional
        Brings the worst verdict into the heading.
    figure : Figure, optional
        An empty figure to draw in; without it a new one of 180 mm width.

    Returns
    -------
    Figure
        Nothing is shown or saved.
    """
    with styled():
        width = width_of(figure)
        ruler = plan_ruler(result, width - _LEFT - _RIGHT)
        two = len(result.sides) == 2
        sheet = Sheet(figure, width, 96.0 + ruler.height + (26.0 if two else 0.0))
        y = draw_heading(sheet, result, judgement) + 2.0 + _HEAD
        panel = max(sheet.height - y - _NAMES - ruler.height - FOOT, 10.0)
        ax = sheet.axes(_LEFT, y, ruler.width, panel, label="section")
        bottom = float(result.depth[-1]) / MM
        ax.set_xlim(0, ruler.length)
        ax.set_ylim(bottom, 0)
        style_depth(sheet, ax, bottom, two)
        levels = _levels(result.section_temperature)
        grid = (result.section_distance, result.depth / MM, result.section_temperature.T)
        ax.contourf(*grid, levels=levels, cmap=LinearSegmentedColormap.from_list("field", FIELD))
        lines = ax.contour(*grid, levels=levels, colors=INK, linewidths=0.5)
        _name_isotherms(sheet, ax, result, levels, lines.allsegs)
        draw_ruler(sheet, ruler, _LEFT, y + panel + _NAMES)
        draw_footing(sheet, result, "isotherms in °C")
    return sheet.figure


def _name_isotherms(
    sheet: Sheet, ax: Axes, result: Result, levels: np.ndarray, segments: list[list[np.ndarray]]
) -> None:
    """Number each isotherm where it ends: at the right, at the centre below, or else at its tip."""
    left, top, right, bottom = sheet.frame(ax)
    two = len(result.sides) == 2
    z_end, base = float(result.section_distance[-1]), ax.get_ylim()[0]
    aside: list[tuple[float, str]] = []
    below: list[tuple[float, str]] = []
    for level, parts in zip(levels, segments, strict=True):
        parts = [p for p in parts if len(p) > 1]
        if not parts:
            continue
        tip = max((p[np.argmax(p[:, 0])] for p in parts), key=lambda point: (round(point[0], 6), -point[1]))
        name = f"{level:.0f}"
        if tip[0] > z_end * 0.999:
            aside.append((float(tip[1]), name))
        elif not two and tip[1] > base * 0.98:
            below.append((float(tip[0]), name))
        else:
            x, y = (float(v) for v in sheet.at(ax, *tip))
            written = sheet.name(x, y, name, (left, top, right, bottom))
            if written is not None:
                written.set_bbox({"facecolor": PAPER, "edgecolor": "none", "pad": 0.8})
    sides = ("loose side", "fixed side") if two else ("surface", "centre")
    name_right(sheet, ax, edge_names(aside, [(0.0, sides[0]), (base, sides[1])]))
    below.sort()
    xs = [float(sheet.at(ax, z, 0)[0]) for z, _ in below]
    places = spread(xs, [text_size(text)[0] + 2.0 for _, text in below], left, right + 6)
    for (_, text), x, place in zip(below, xs, places, strict=True):
        sheet.line([x, place], [bottom, bottom + 1.3], color=GREY, linewidth=0.4)
        sheet.write(place, bottom + 1.5, text, ha="center")
