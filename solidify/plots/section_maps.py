"""The temperature over the section at places of the machine, dark cold to pale hot, with numbered isotherms."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from solidify.plots.heading import FOOT, MARGIN, write_footing, write_heading
from solidify.plots.palette import FIELD, GREY, INK, LIGHT, PAPER, TEXT, styled
from solidify.plots.panel import EndName, name_right
from solidify.plots.section_strand import CAUTION, section_facts, section_words
from solidify.plots.sheet import Sheet, spread, text_size, width_of
from solidify.units import MM

if TYPE_CHECKING:
    from solidify.section.result import Map, SectionResult

__all__ = ["plot_section_maps"]

_LEFT, _BETWEEN, _NAMES = 14.0, 5.0, 13.0
_ABOVE, _BELOW = 12.0, 12.0
_FLAT = 2.2
"""Sections this much wider than deep are drawn below one another."""


def _levels(section: SectionResult) -> np.ndarray:
    low, high = (
        f(m.temperature.min() if f is min else m.temperature.max() for m in section.maps) for f in (min, max)
    )
    step = 100.0 if high - low <= 1100 else 200.0
    return np.arange(np.floor(low / step) * step, high + step, step)


def plot_section_maps(section: SectionResult, figure: Figure | None = None) -> Figure:
    """Draw the isotherms over the section at mould exit, at the first straightening point and at the cut-off.

    Parameters
    ----------
    section : SectionResult
        A marched section.
    figure : Figure, optional
        An empty figure to draw in; without it a new one of 180 mm width.

    Returns
    -------
    Figure
        Nothing is shown or saved.
    """
    with styled():
        width, count = width_of(figure), len(section.maps)
        deep, wide = float(section.depth[-1]), float(section.along[-1])
        flat = wide / deep > _FLAT
        if flat:
            across = width - _LEFT - _NAMES - MARGIN
        else:
            across = (width - MARGIN - _LEFT - (count - 1) * _BETWEEN - count * _NAMES) / count
        down = across * deep / wide
        rows = count if flat else 1
        sheet = Sheet(figure, width, 22.0 + rows * (_ABOVE + down + _BELOW) + FOOT)
        y = write_heading(sheet, section.case.title, section_words(section), [section_facts(section)]) + 3.0
        levels = _levels(section)
        for i, place in enumerate(section.maps):
            left = _LEFT if flat else _LEFT + i * (across + _BETWEEN + _NAMES)
            top = y + _ABOVE + (i * (_ABOVE + down + _BELOW) if flat else 0.0)
            ax = sheet.axes(left, top, across, down, label=f"section at {place.name}")
            _draw(sheet, ax, section, place, levels, named=flat or i == 0)
        left, _, _, bottom = sheet.frame(ax) if flat else sheet.frame(sheet.figure.axes[0])
        sheet.write(
            left, bottom + 9.6, "mm from the narrow face; downward mm below the wide face", color=GREY
        )
        write_footing(sheet, section.created_by, CAUTION, "isotherms in °C; heavy line: solidus")
    return sheet.figure


def _draw(
    sheet: Sheet, ax: Axes, section: SectionResult, place: Map, levels: np.ndarray, *, named: bool
) -> None:
    """Draw one map: the wide face above, the narrow face at the left, planes of symmetry at the right and below."""
    x, y = section.along / MM, section.depth / MM
    ax.set_xlim(0, x[-1])
    ax.set_ylim(y[-1], 0)
    field = place.temperature.T
    ax.contourf(x, y, field, levels=levels, cmap=LinearSegmentedColormap.from_list("field", FIELD))
    lines = ax.contour(x, y, field, levels=levels, colors=INK, linewidths=0.5)
    if field.min() < section.solidus < field.max():
        ax.contour(x, y, field, levels=[section.solidus], colors=INK, linewidths=1.4)
    whole = len(section.sides) == 2
    axis: dict[str, Any] = {
        "linewidth": LIGHT,
        "linestyle": (0, (8, 2, 1.5, 2)),
        "color": INK,
        "clip_on": False,
    }
    face: dict[str, Any] = {"linewidth": 1.0, "color": INK, "clip_on": False}
    for spine in ax.spines.values():
        spine.set_visible(False)
    ax.axhline(0, **face)
    ax.axvline(0, **face)
    ax.axvline(x[-1], **axis)
    ax.axhline(y[-1], **(face if whole else axis))
    ax.set_xticks(
        [*(t for t in MaxNLocator(4, steps=[1, 2, 2.5, 5, 10]).tick_values(0, x[-1]) if 0 <= t <= x[-1])]
    )
    ax.set_yticks(
        [*(t for t in MaxNLocator(4, steps=[1, 2, 2.5, 5, 10]).tick_values(0, y[-1]) if 0 <= t <= y[-1])]
    )
    ax.tick_params(labelleft=named)
    left, top, *_ = sheet.frame(ax)
    sheet.write(left, top - 8.0, f"{place.name}, {place.distance:.2f} m", va="bottom", size=TEXT)
    _name_isotherms(sheet, ax, levels, lines.allsegs, whole)


def _name_isotherms(
    sheet: Sheet, ax: Axes, levels: np.ndarray, segments: list[list[np.ndarray]], whole: bool
) -> None:
    """Number each isotherm where it ends: at the right, on the mid-width; else above or below; or inside."""
    left, top, right, bottom = sheet.frame(ax)
    wide, deep = ax.get_xlim()[1], ax.get_ylim()[0]
    aside: list[EndName] = []
    above: list[tuple[float, str]] = []
    below: list[tuple[float, str]] = []
    for level, parts in zip(levels, segments, strict=True):
        ends = [point for part in parts if len(part) > 1 for point in (part[0], part[-1])]
        text = f"{level:.0f}"
        at_right = [p for p in ends if p[0] > 0.998 * wide]
        at_top = [p for p in ends if p[1] < 0.002 * deep]
        at_foot = [p for p in ends if p[1] > 0.998 * deep and not whole]
        if at_right:
            aside += [EndName(float(p[1]), text) for p in at_right]
        elif at_top:
            above.append((float(at_top[0][0]), text))
        elif at_foot:
            below.append((float(at_foot[0][0]), text))
        elif ends:
            longest = max(parts, key=len)
            tip = longest[np.argmax(longest[:, 0])]
            x, y = (float(v) for v in sheet.at(ax, *tip))
            written = sheet.name(x, y, text, (left, top, right, bottom))
            if written is not None:
                written.set_bbox({"facecolor": PAPER, "edgecolor": "none", "pad": 0.8})
    name_right(sheet, ax, aside, below=3.0)
    for row, edge, out in ((sorted(above), top, -1.0), (sorted(below), bottom, 1.0)):
        first, reach = (0.4, 3.0) if out < 0 else (4.6, 5.6)  # below, the ticks come first
        xs = [float(sheet.at(ax, place, 0)[0]) for place, _ in row]
        places = spread(xs, [text_size(text)[0] + 1.4 for _, text in row], left - 3.0, right + 8.0)
        for (_, text), x, place in zip(row, xs, places, strict=True):
            sheet.line(
                [x, x, place], [edge + out * f for f in (0.3, first, reach)], color=GREY, linewidth=0.4
            )
            sheet.write(
                place, edge + out * (reach + 0.2), text, ha="center", va="bottom" if out < 0 else "top"
            )
