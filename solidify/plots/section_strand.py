"""A section in two dimensions along the machine: mid-faces, corner and centre, and the slice beside them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from solidify.plots.heading import FOOT, write_footing, write_heading
from solidify.plots.palette import (
    GREY,
    HEAVY,
    OCHRE,
    OCHRE_TEXT,
    PETROL,
    PLUM,
    number,
    styled,
)  # fmt: skip
from solidify.plots.panel import EndName, bare, name_right
from solidify.plots.ruler import draw_ruler, plan_ruler
from solidify.plots.sheet import Sheet, width_of

if TYPE_CHECKING:
    from solidify.section.result import SectionResult

__all__ = ["CAUTION", "plot_section_strand", "section_facts", "section_words"]

CAUTION = "calculated for one section, not a measurement; no breakout detector, authorises no action"
"""What stands at the foot of the pictures of a section."""

_LEFT, _RIGHT, _HEAD, _PANEL = 19.0, 30.0, 6.0, 78.0
_DASHED, _DASH_DOT, _DOTTED = (0, (5.0, 2.0)), (0, (7.0, 1.8, 1.4, 1.8)), (0, (1.2, 1.6))
_SHORT = (0, (2.6, 1.4))


def section_facts(section: SectionResult) -> str:
    """Return what was marched, for the head of a picture."""
    case, kind = section.case, "quarter" if len(section.sides) == 1 else "half"
    words = [
        f"{kind} section in two dimensions",
        f"{case.thickness * 1e3:.0f} x {case.width * 1e3:.0f} mm, hot",
    ]
    words.append(f"{number(float(case.casting.speed_m_per_min))} m/min")
    words.append(f"superheat {section.superheat:.0f} K")
    return " · ".join(words)


def section_words(section: SectionResult) -> str:
    """Return the finding of a picture in one line: the corner at the straightener, and the end of solidification."""
    length = section.metallurgical_length
    words = [f"end of solidification {length:.1f} m" if length == length else "not solid by the cut-off"]
    for check in section.checks:
        if check.point == "corner":
            told = f"{check.verdict}, {check.margin_text}" if check.margin_text else check.verdict
            words.append(f"corner at the straightener {check.value:.0f} °C, limit {check.limit}: {told}")
    return "; ".join(words)


def _lines(s: SectionResult) -> list[tuple[str, np.ndarray, str, float, object, str]]:
    """Return name, values, colour, width, stroke and colour of the name of every line."""
    lines: list[tuple[str, np.ndarray, str, float, object, str]] = []
    if len(s.sides) == 2:
        lines.append(("loose side", s.wide_temperature[0], PLUM, HEAVY, "-", PLUM))
        lines.append(("fixed side", s.wide_temperature[1], PLUM, 1.1, _DASHED, PLUM))
    else:
        lines.append(("wide face", s.wide_temperature[0], PLUM, HEAVY, "-", PLUM))
    lines.append(("slice", s.comparison.slice_surface[0], GREY, 0.8, _DOTTED, GREY))
    lines.append(("narrow face", s.narrow_temperature, PETROL, 1.2, _SHORT, PETROL))
    lines.append(("corner", s.corner_temperature[0], PETROL, HEAVY, "-", PETROL))
    lines.append(("centre", s.centre_temperature, OCHRE, 1.3, _DASH_DOT, OCHRE_TEXT))
    return lines


def plot_section_strand(section: SectionResult, figure: Figure | None = None) -> Figure:
    """Draw mid-faces, corner and centre along the machine, with the distance ruler.

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
        width = width_of(figure)
        ruler = plan_ruler(section, width - _LEFT - _RIGHT)  # type: ignore[arg-type]
        sheet = Sheet(figure, width, _PANEL + ruler.height + 34.0)
        y = (
            write_heading(sheet, section.case.title, section_words(section), [section_facts(section)])
            + 3.0
            + _HEAD
        )
        panel = max(sheet.height - y - ruler.height - FOOT - 2.0, 10.0)
        ax = sheet.axes(_LEFT, y, ruler.width, panel, label="section temperatures")
        ax.set_xlim(0, ruler.length)
        lines = _lines(section)
        low, high = min(float(v.min()) for _, v, *_ in lines), max(float(v.max()) for _, v, *_ in lines)
        low = min([low, *(c.value - c.margin for c in section.checks if c.margin == c.margin)])
        ax.set_ylim(low - 0.06 * (high - low), high + 0.03 * (high - low))
        bare(sheet, ax, "temperature, °C", over_ruler=True)
        _draw(sheet, ax, section, lines)
        draw_ruler(sheet, ruler, _LEFT, y + panel + 1.0)
        note = "slice: the one-dimensional mid-face of the same case; corner without a gap in the mould"
        write_footing(sheet, section.created_by, CAUTION, note)
    return sheet.figure


def _draw(
    sheet: Sheet,
    ax: Axes,
    section: SectionResult,
    lines: list[tuple[str, np.ndarray, str, float, object, str]],
) -> None:
    names = []
    for name, values, colour, width, stroke, ink in lines:
        ax.plot(section.distance, values, color=colour, linewidth=width, linestyle=stroke, gid=name)
        sheet.ink(ax, section.distance, values)
        names.append(EndName(float(values[-1]), f"{name} {values[-1]:.0f} °C", ink))
    for name, value in (("liquidus", section.liquidus), ("solidus", section.solidus)):
        ax.axhline(value, color=GREY, linewidth=0.4, zorder=0)
        names.append(EndName(float(value), f"{name} {value:.0f} °C", GREY))
    name_right(sheet, ax, names)
    points = section.case.straightener
    hot = [
        c
        for c in section.checks
        if c.margin == c.margin and c.limit.startswith("≥") and " or " not in c.limit
    ]
    if points and hot:
        left, _, right, _ = sheet.frame(ax)
        half = 2.0 * float(ax.get_xlim()[1]) / (right - left)
        first, last = (
            min(points[0], points[-1] - half),
            min(max(points[-1], points[0] + half), ax.get_xlim()[1]),
        )
        limit = hot[0].value - hot[0].margin
        sheet.edge(ax, (first, last), (limit, limit), (0, 1))
        for check, values in zip(section.checks, _checked(section), strict=True):
            z = points[int(np.abs(section.at(values, points) - check.value).argmin())]
            x, y = (float(v) for v in sheet.at(ax, z, check.value))
            if check.point == "corner" or check is section.checks[0]:
                sheet.name(x, y, f"{check.value:.0f} °C, {check.margin_text}", sheet.frame(ax))
        x, y = (float(v) for v in sheet.at(ax, last, limit))
        sheet.name(x, y + 1.5, f"limit {limit:.0f} °C", sheet.frame(ax))


def _checked(section: SectionResult) -> tuple[np.ndarray, ...]:
    """Profiles of the points that are checked, in their order."""
    return section.wide_temperature[0], section.narrow_temperature, section.corner_temperature[0]
