"""The temperature panel: surface and centre along the strand, with the limits on the surface."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes

from solidify.plots.palette import (
    GREY,
    HEAVY,
    INK,
    LIGHT,
    OCHRE,
    OCHRE_TEXT,
    PETROL,
    PLUM,
    WATER,
    number,
)  # fmt: skip
from solidify.plots.panel import EndName, bare, name_right
from solidify.plots.ruler import judged, machine_points, trough
from solidify.plots.sheet import Sheet
from solidify.strand.profiles import largest_rise

if TYPE_CHECKING:
    from solidify.assessment.judge import Judgement
    from solidify.strand.result import Result

__all__ = ["draw_temperature_panel", "reheating"]

_LEAST_RISE = 5.0
"""A smaller reheating is not drawn [K]."""

_DASHED, _DASH_DOT = (0, (5.0, 2.0)), (0, (7.0, 1.8, 1.4, 1.8))


def reheating(result: Result) -> tuple[int, float, float]:
    """Return the side of the largest reheating below the mould, and where it begins and ends.

    Parameters
    ----------
    result : Result
        A marched strand.

    Returns
    -------
    tuple of int, float, float
        Side, and distances from the meniscus [m]; NaN when the surface never rises.
    """
    start, end = result.mould.working_length, float(result.distance[-1])
    rise, low, high = largest_rise(result.distance, result.surface_temperature, start, end)
    side = int(np.argmax(rise))
    return side, float(low[side]), float(high[side])


def _curves(result: Result) -> list[tuple[str, np.ndarray, str, float, object, str]]:
    """Return name, values, colour, width, stroke and colour of the name of every line."""
    t = result.surface_temperature
    lines: list[tuple[str, np.ndarray, str, float, object, str]] = []
    if len(result.sides) == 2:
        lines.append(("loose side", t[0], PLUM, HEAVY, "-", PLUM))
        lines.append(("fixed side", t[1], PETROL, 1.3, _DASHED, PETROL))
    else:
        lines.append(("surface", t[0], PLUM, HEAVY, "-", PLUM))
    lines.append(("centre", result.centre_temperature, OCHRE, 1.3, _DASH_DOT, OCHRE_TEXT))
    return lines


def _draw_lines(sheet: Sheet, ax: Axes, result: Result) -> None:
    """Draw the lines and name each at its end."""
    names = []
    for name, values, colour, width, stroke, ink in _curves(result):
        ax.plot(result.distance, values, color=colour, linewidth=width, linestyle=stroke, gid=name)
        sheet.ink(ax, result.distance, values)
        names.append(EndName(float(values[-1]), f"{name}\n{values[-1]:.0f} °C", ink))
    for name, value in (("liquidus", result.steel.liquidus), ("solidus", result.steel.solidus)):
        ax.axhline(value, color=GREY, linewidth=0.4, zorder=0)
        sheet.ink(ax, ax.get_xlim(), (value, value))
        names.append(EndName(float(value), f"{name} {value:.0f} °C", GREY))
    name_right(sheet, ax, names)


def _limits(sheet: Sheet, ax: Axes, result: Result, judgement: Judgement | None) -> None:
    """Draw the limits on the surface as edges hatched on their forbidden side, the room beside."""
    frame = sheet.frame(ax)
    points, length = machine_points(result), ax.get_xlim()[1]
    zones = [z for z in result.zones if z.kind == "zone"]
    places: list[tuple[str, float, float, int]] = []
    if "straightener" in points:
        first, last = min(points["straightener"]), max(points["straightener"])
        half = 2.0 * length / (frame[2] - frame[0])
        first, last = min(first, last - half), max(last, first + half)
        places.append(("straightener_surface", first, last, 1))
        _trough(sheet, ax, judgement, first, min(last, length))
    if zones:
        places.append(("surface_ceiling", zones[0].end, zones[-1].end, -1))
    for name, first, last, side in places:
        finding = judged(judgement, name)
        last = min(last, length)
        if finding is None or first >= last:
            continue
        limit, room = finding
        if not ax.get_ylim()[0] < limit < ax.get_ylim()[1]:
            continue
        sheet.edge(ax, (first, last), (limit, limit), (0, side))
        x, y = (float(v) for v in sheet.at(ax, last if side > 0 else 0.5 * (first + last), limit))
        sheet.name(x, y + side * 0.8, f"{limit:.0f} °C: {room}", frame)


def _trough(sheet: Sheet, ax: Axes, judgement: Judgement | None, first: float, last: float) -> None:
    """Draw a ductility trough: tinted between its edges, the room beside the one that it counts to."""
    found = trough(judgement, "straightener_surface")
    if found is None or first >= last:
        return
    low, high, above, room = found
    ax.fill_between((first, last), low, high, color=WATER, linewidth=0, zorder=-1, gid="trough")
    for edge, side in ((high, 1), (low, -1)):
        sheet.edge(ax, (first, last), (edge, edge), (0, side))
    edge, side = (high, 1) if above else (low, -1)
    x, y = (float(v) for v in sheet.at(ax, last, edge))
    sheet.name(x, y + side * 0.8, f"{edge:.0f} °C: {room}", sheet.frame(ax))
    x, y = (float(v) for v in sheet.at(ax, last, 0.5 * (low + high)))
    sheet.name(x, y, "low ductility", sheet.frame(ax), color=GREY)


def _reheating(sheet: Sheet, ax: Axes, result: Result, judgement: Judgement | None) -> None:
    """Draw the largest reheating as an upward arrow with kelvins over metres."""
    side, low, high = reheating(result)
    if np.isnan(low):
        return
    bottom, top = (float(result.at(result.surface_temperature[side], z)) for z in (low, high))
    if top - bottom < _LEAST_RISE:
        return
    ax.plot([low, high], [bottom, bottom], color=INK, linewidth=LIGHT, linestyle=(0, (1, 1.5)))
    arrow = {
        "arrowstyle": "-|>",
        "color": INK,
        "linewidth": 1.0,
        "shrinkA": 0,
        "shrinkB": 0,
        "mutation_scale": 7,
    }
    ax.annotate("", (high, top), (high, bottom), arrowprops=arrow, gid="reheating")
    sheet.ink(ax, [low, high], [bottom, bottom])
    sheet.ink(ax, [high, high], [bottom, top])
    x, y = (float(v) for v in sheet.at(ax, high, 0.5 * (bottom + top)))
    finding = judged(judgement, "reheating_total")
    text = f"reheating {top - bottom:.0f} K over {number(high - low, 2)} m"
    sheet.name(x, y, f"{text}: {finding[1]}" if finding else text, sheet.frame(ax))


def draw_temperature_panel(
    sheet: Sheet, result: Result, judgement: Judgement | None, place: tuple[float, float, float, float]
) -> Axes:
    """Draw the temperature panel.

    Parameters
    ----------
    sheet : Sheet
        Where.
    result : Result
        A marched strand.
    judgement : Judgement or None
        Limits to draw.
    place : tuple of float
        Left, top, width and height [mm]; names of lines stand up to 22 mm right of it.

    Returns
    -------
    Axes
        Along it metres from the meniscus, up it degrees Celsius.
    """
    ax = sheet.axes(*place, label="temperature")
    ax.set_xlim(0, float(result.distance[-1]))
    drawn = [result.surface_temperature.min(), result.centre_temperature.min()]
    lowest = judged(judgement, "straightener_surface")
    drawn += [lowest[0]] if lowest is not None else []
    brittle = trough(judgement, "straightener_surface")
    drawn += [brittle[0]] if brittle is not None else []
    low, high = (
        float(np.nanmin(drawn)),
        float(max(result.surface_temperature.max(), result.centre_temperature.max())),
    )
    ax.set_ylim(low - 0.10 * (high - low), high + 0.03 * (high - low))
    bare(sheet, ax, "temperature, °C", over_ruler=True)
    _draw_lines(sheet, ax, result)
    _limits(sheet, ax, result, judgement)
    _reheating(sheet, ax, result, judgement)
    return ax
