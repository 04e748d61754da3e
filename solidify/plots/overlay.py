"""Two or more strands on one ruler: shells above, surfaces below, measured points with their error bars."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from solidify.errors import InputError, Problem
from solidify.plots.heading import FOOT, draw_footing, write_heading
from solidify.plots.palette import (
    HEAVY,
    INK,
    OCHRE,
    OCHRE_TEXT,
    PAPER,
    PETROL,
    PLUM,
    TEXT,
    number,
    styled,
)
from solidify.plots.panel import EndName, bare, name_right
from solidify.plots.ruler import draw_ruler, plan_ruler
from solidify.plots.sheet import Sheet, broken, width_of
from solidify.plots.shell import style_depth
from solidify.units import MM

if TYPE_CHECKING:
    from solidify.analysis.measured import Point
    from solidify.strand.result import Result

__all__ = ["MOST", "draw_overlay"]

_LEFT, _RIGHT, _HEAD, _NAMES = 19.0, 36.0, 6.0, 3.0
_NAME = 10.0
"""Height that the name of one more line may want [mm]."""

_MEETING = 0.1
"""Distance within which two sides of a strand end at one place, where they meet [m]."""


@dataclass(frozen=True)
class _Stroke:
    """How the lines of one strand are drawn: no two alike in grey."""

    colour: str
    ink: str
    width: float
    dashes: Any


_STROKES = (
    _Stroke(PLUM, PLUM, HEAVY, "-"),
    _Stroke(PETROL, PETROL, 1.3, (0, (5.0, 2.0))),
    _Stroke(OCHRE, OCHRE_TEXT, 1.5, (0, (1.2, 1.4))),
    _Stroke(INK, INK, 0.7, "-"),
    _Stroke(PLUM, PLUM, 1.1, (0, (8.0, 2.0, 1.2, 2.0))),
    _Stroke(PETROL, PETROL, 1.1, (0, (9.0, 2.0, 1.2, 1.6, 1.2, 2.0))),
)

MOST = len(_STROKES)
"""Strands that can be told apart in one picture."""

_SIGNS = {"pyrometer": "o", "thermocouple": "^", "tracer": "s", "nail": "D", "drained shell": "v", "": "X"}
"""Sign of a measured point, by method."""


def draw_overlay(
    results: Sequence[Result],
    names: Sequence[str],
    points: Sequence[Point] = (),
    figure: Figure | None = None,
) -> Figure:
    """Draw the shells and surfaces of strands over one distance ruler.

    Parameters
    ----------
    results : sequence of Result
        One to `MOST`.
    names : sequence of str
        Written at the ends of their lines.
    points : sequence of Point
        Measured, drawn with one standard deviation either way where it is known.
    figure : Figure, optional
        An empty figure to draw in; without it a new one of 180 mm width.

    Returns
    -------
    Figure
        The shell is that of the headline solid fraction of the first strand, and of each fraction that was
        measured. The ruler is that of the longest strand. Nothing is shown or saved.

    Raises
    ------
    InputError
        For no strand or more than can be told apart, or not one name each.
    """
    if not 1 <= len(results) <= MOST or len(names) != len(results):
        given = f"{len(results)} strands, {len(names)} names"
        do = "compare them in several pictures" if len(results) > MOST else ""
        raise InputError(Problem("overlay", given, f"1 to {MOST} strands, each with a name", do=do))
    longest = max(range(len(results)), key=lambda i: float(results[i].distance[-1]))
    with styled():
        width = width_of(figure)
        ruler = plan_ruler(results[longest], width - _LEFT - _RIGHT)
        ends = sum(len(r.sides) for r in results)
        sheet = Sheet(figure, width, 150.0 + ruler.height + 2 * _NAME * max(ends - 4, 0))
        y = _heading(sheet, results, names)
        panel = max((sheet.height - y - ruler.height - FOOT - 2 * _HEAD - _NAMES) / 2, 10.0)
        _shells(sheet, results, names, points, (_LEFT, y + _HEAD, ruler.width, panel))
        y += _HEAD + panel + _NAMES
        draw_ruler(sheet, ruler, _LEFT, y)
        _surfaces(sheet, results, names, points, (_LEFT, y + ruler.height + _HEAD, ruler.width, panel))
        zones = {tuple((z.name, round(z.start, 3), round(z.end, 3)) for z in r.zones) for r in results}
        water = {tuple(f"{z.water:.6g}" for z in r.zones) for r in results}
        alike = len(zones) == 1 and len(water) == 1
        draw_footing(sheet, results[0], "" if alike else f"zones and water of the ruler: {names[longest]}")
    return sheet.figure


def _heading(sheet: Sheet, results: Sequence[Result], names: Sequence[str]) -> float:
    """Write what is compared; returns the height taken [mm]."""
    titles = list(dict.fromkeys(r.case.title for r in results))
    facts = []
    for name, result in zip(names, results, strict=True):
        own = [result.case.title] if len(titles) > 1 else []
        own += [
            f"{number(float(result.case.casting.speed_m_per_min))} m/min",
            f"superheat {result.superheat:.0f} K",
        ]
        facts.append(f"{name}: {' · '.join(own)}")
    title = titles[0] if len(titles) == 1 else " against ".join(names)
    return write_heading(sheet, title, facts=facts, lines=(2, 1)) + 2.6


def _fractions(results: Sequence[Result], points: Sequence[Point]) -> list[float]:
    """Solid fractions to draw, the headline first; those that no result holds as a line are left out."""
    wanted = [results[0].headline, *(p.solid_fraction for p in points if p.quantity == "shell_mm")]
    held = [f for f in dict.fromkeys(wanted) if any(_row(r, f) is not None for r in results)]
    return held or [0.7]


def _row(result: Result, fraction: float) -> int | None:
    row = result.fraction_index(fraction)
    return row if math.isclose(result.solid_fractions[row], fraction) else None


def _sides(result: Result, name: str) -> list[tuple[int, str, float]]:
    """Side, name and share of the width of line; the fixed side is drawn thinner."""
    if len(result.sides) == 1:
        return [(0, name, 1.0)]
    return [(0, f"{name}, loose", 1.0), (1, f"{name}, fixed", 0.6)]


def _shells(
    sheet: Sheet,
    results: Sequence[Result],
    names: Sequence[str],
    points: Sequence[Point],
    place: tuple[float, float, float, float],
) -> Axes:
    ax = sheet.axes(*place, label="shell")
    measured = [p for p in points if p.quantity == "shell_mm"]
    deepest = max(float(r.shell_thickness.max()) for r in results) / MM
    deepest = max([deepest, *(p.value + (0.0 if math.isnan(p.sd) else p.sd) for p in measured)])
    bottom = max(deepest, max(r.half_thickness for r in results) / MM)
    ax.set_xlim(0, max(float(r.distance[-1]) for r in results))
    ax.set_ylim(bottom, 0)
    fractions = _fractions(results, measured)
    style_depth(sheet, ax, bottom, False)
    ends: list[tuple[float, float, str, str]] = []
    for result, name, stroke in zip(results, names, _STROKES, strict=False):
        for fraction in fractions:
            row = _row(result, fraction)
            if row is None:
                continue
            tips = []
            for side, words, thin in _sides(result, name):
                shell = result.shell_thickness[side, row] / MM
                stop = int(np.argmax(shell >= shell[-1] * (1 - 1e-9))) + 1
                share = thin if fraction == fractions[0] else 0.5 * thin
                x, y = result.distance[:stop], shell[:stop]
                _line(sheet, ax, x, y, stroke, share, f"shell {words} {fraction:g}")
                tips.append((float(x[-1]), float(y[-1]), words))
            if len(tips) > 1 and tips[0][0] < result.distance[-1] and abs(tips[0][0] - tips[1][0]) < _MEETING:
                tips = [(*tips[0][:2], name)]
            aside = "" if len(fractions) == 1 else f", {fraction:g}"
            ends += [(x, y, f"{words}{aside}", stroke.ink) for x, y, words in tips]
    _measured(sheet, ax, measured)
    _name_tips(sheet, ax, ends)
    words = "shell at solid fraction " + " and ".join(f"{f:g}" for f in fractions)
    words += "; thin: fixed side" if any(len(r.sides) > 1 for r in results) else ""
    top = sheet.frame(ax)[1]
    sheet.write(sheet.frame(ax)[2], top - 2.0, words, va="bottom", ha="right", size=TEXT)
    return ax


def _surfaces(
    sheet: Sheet,
    results: Sequence[Result],
    names: Sequence[str],
    points: Sequence[Point],
    place: tuple[float, float, float, float],
) -> Axes:
    ax = sheet.axes(*place, label="surface temperature")
    measured = [p for p in points if p.quantity == "surface_C"]
    values = np.concatenate([r.surface_temperature.ravel() for r in results])
    low, high = float(values.min()), float(values.max())
    low = min([low, *(p.value - (0.0 if math.isnan(p.sd) else p.sd) for p in measured)])
    ax.set_xlim(0, max(float(r.distance[-1]) for r in results))
    ax.set_ylim(low - 0.06 * (high - low), high + 0.03 * (high - low))
    bare(sheet, ax, "surface temperature, °C", over_ruler=True)
    ends = []
    for result, name, stroke in zip(results, names, _STROKES, strict=False):
        for side, words, thin in _sides(result, name):
            surface = result.surface_temperature[side]
            _line(sheet, ax, result.distance, surface, stroke, thin, f"surface {words}")
            text = f"{broken(words, _RIGHT - 5.0, lines=2)}\n{surface[-1]:.0f} °C"
            ends.append(EndName(float(surface[-1]), text, stroke.ink, float(result.distance[-1])))
    name_right(sheet, ax, ends, below=-0.5)
    _measured(sheet, ax, measured)
    return ax


def _line(
    sheet: Sheet, ax: Axes, x: np.ndarray, y: np.ndarray, stroke: _Stroke, share: float, gid: str
) -> None:
    width = stroke.width * share
    ax.plot(x, y, color=stroke.colour, linewidth=width, linestyle=stroke.dashes, gid=gid, clip_on=False)
    sheet.ink(ax, x, y)


def _name_tips(sheet: Sheet, ax: Axes, ends: Sequence[tuple[float, float, str, str]]) -> None:
    """Name shells where they end: beside the tip, or right of the panel where they reach the cut-off."""
    left, top, right, bottom = sheet.frame(ax)
    for x, y, text, ink in sorted(ends, key=lambda end: -end[0]):
        at_x, at_y = (float(v) for v in sheet.at(ax, x, y))
        closed = at_x < right - 1.0
        words = f"{text}: {x:.1f} m" if closed else text
        area = (left + 2.0, top, right + (0.0 if closed else _RIGHT), bottom - 0.5)
        sheet.name(at_x + 0.8, min(at_y, bottom - 2.0), words, area, color=ink, va="top")


def _measured(sheet: Sheet, ax: Axes, points: Sequence[Point]) -> None:
    """Draw measured points; the sign says the method, named once, and the bar one standard deviation."""
    for point in points:
        x, y = (float(v) for v in sheet.at(ax, point.distance, point.value))
        sheet.taken.append((x - 1.2, y - 1.2, x + 1.2, y + 1.2))
        bar = None if math.isnan(point.sd) else point.sd
        ax.errorbar(
            [point.distance],
            [point.value],
            yerr=bar,
            fmt=_SIGNS.get(point.method, "X"),
            markersize=5.0,
            markerfacecolor=PAPER,
            markeredgecolor=INK,
            markeredgewidth=1.0,
            ecolor=INK,
            elinewidth=0.9,
            capsize=2.0,
            zorder=8,
            clip_on=False,
            gid=f"measured {point.quantity} {point.method}".strip(),
        )
    for kind in dict.fromkeys(
        (p.method, p.solid_fraction) for p in points if not math.isnan(p.solid_fraction)
    ):
        _name_kind(sheet, ax, [p for p in points if (p.method, p.solid_fraction) == kind])
    for method in dict.fromkeys(p.method for p in points if math.isnan(p.solid_fraction)):
        _name_kind(sheet, ax, [p for p in points if p.method == method])


def _name_kind(sheet: Sheet, ax: Axes, points: Sequence[Point]) -> None:
    """Say once what a sign is."""
    first = points[0]
    words = first.method or "measured"
    words += "" if math.isnan(first.solid_fraction) else f", {first.solid_fraction:g}"
    x, y = (float(v) for v in sheet.at(ax, first.distance, first.value))
    sheet.name(x, y, words, sheet.frame(ax), style="italic")
