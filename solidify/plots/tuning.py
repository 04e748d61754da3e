"""A spray table in one picture: the surfaces at all its speeds over the machine, and its waters over the speed."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, NullLocator

from solidify.plots.heading import FOOT, MARGIN, draw_footing, write_heading
from solidify.plots.palette import (
    GREY,
    INK,
    OCHRE,
    OCHRE_TEXT,
    PAPER,
    PETROL,
    PLUM,
    SMALL,
    TEXT,
    number,
    styled,
)
from solidify.plots.panel import EndName, bare, name_right
from solidify.plots.ruler import draw_ruler, plan_ruler
from solidify.plots.sheet import Sheet, broken, text_size, width_of
from solidify.tuning.tune import row_verdict, verdict_text

if TYPE_CHECKING:
    from solidify.tuning.tune import Tuning

__all__ = ["draw_tuning"]

_LEFT, _RIGHT, _HEAD, _TICKS = 19.0, 36.0, 6.0, 13.0
_SURFACE, _WATER = 70.0, 72.0
_DASHES: tuple[Any, ...] = ("-", (0, (6.0, 1.8)), (0, (1.2, 1.2)), (0, (7.0, 1.8, 1.2, 1.8)))
_INKS = ((PLUM, PLUM), (PETROL, PETROL), (OCHRE, OCHRE_TEXT))


def _stroke(i: int) -> tuple[str, str, dict[str, Any]]:
    """Return colour, ink of its name and look of a line; twelve of them differ, in grey by dash and weight."""
    colour, ink = _INKS[i % 3]
    return colour, ink, {"linestyle": _DASHES[(i % 3 + i // 3) % 4], "linewidth": (1.6, 1.2, 1.4)[i % 3]}


def draw_tuning(tuning: Tuning, figure: Figure | None = None) -> Figure:
    """Draw a tuned spray table.

    Parameters
    ----------
    tuning : Tuning
        Of `solidify.tuning.tune`.
    figure : Figure, optional
        An empty figure to draw in; without it a new one of 180 mm width.

    Returns
    -------
    Figure
        Above the surfaces, the fixed side thin where the two differ, with the wanted points and their bands; below
        the water of every zone that was tuned, that of today thin beside it. Nothing is shown or saved.
    """
    last = tuning.rows[-1]
    several = len(tuning.rows) > 1
    with styled():
        width = width_of(figure)
        ruler = plan_ruler(last.result, width - _LEFT - _RIGHT)
        height = 20.0 + _SURFACE + ruler.height + _WATER + _TICKS + 2 * _HEAD + FOOT
        sheet = Sheet(figure, width, height)
        y = _heading(sheet, tuning)
        room = sheet.height - y - ruler.height - _TICKS - 2 * _HEAD - FOOT - 2.0
        upper = max(room * _SURFACE / (_SURFACE + _WATER), 10.0)
        _surfaces(sheet, tuning, (_LEFT, y + _HEAD, ruler.width, upper))
        y += _HEAD + upper + 2.0
        draw_ruler(sheet, ruler, _LEFT, y)
        y += ruler.height + _HEAD
        place = (_LEFT, y, ruler.width, max(room - upper, 10.0))
        if several:
            _waters(sheet, tuning, place)
        else:
            _bars(sheet, tuning, place)
        draw_footing(sheet, last.result, f"zones and water of the ruler: {number(last.speed)} m/min")
    return sheet.figure


def _heading(sheet: Sheet, tuning: Tuning) -> float:
    speeds = len(tuning.rows)
    words = f"spray water table, {speeds} speed{'s' if speeds > 1 else ''}; {verdict_text(tuning)}"
    return write_heading(sheet, tuning.case.title, words) + 2.0


def _surfaces(sheet: Sheet, tuning: Tuning, place: tuple[float, float, float, float]) -> Axes:
    ax = sheet.axes(*place, label="surface temperature")
    results = [row.result for row in tuning.rows]
    start = tuning.case.working_length
    below = [t[r.distance >= start] for r in results for t in r.surface_temperature]
    two = any(len(r.sides) == 2 for r in results)
    points = tuning.target.points
    lows = [float(t.min()) for t in below] + [p.temperature - p.band for p in points]
    highs = [float(t.max()) for t in below] + [p.temperature + p.band for p in points]
    low, high = min(lows), max(highs)
    ax.set_xlim(0, float(results[-1].distance[-1]))
    ax.set_ylim(low - 0.06 * (high - low), high + 0.08 * (high - low))
    above = f"surface temperature, loose side{'; thin: fixed side' if two else ''}, °C"
    bare(sheet, ax, "surface temperature, °C", above=above, over_ruler=True)
    ends = []
    for i, row in enumerate(tuning.rows):
        colour, ink, look = _stroke(i)
        z, t = row.result.distance, row.result.surface_temperature[0]
        ax.plot(z, t, color=colour, gid=f"surface {row.speed:g}", **look)
        if len(row.result.sides) == 2:
            other = look | {"linewidth": 0.7}
            ax.plot(z, row.result.surface_temperature[1], color=colour, gid=f"fixed {row.speed:g}", **other)
        sheet.ink(ax, z, np.minimum(t, ax.get_ylim()[1]))
        ends.append(_end(z[-1], t[-1], f"{number(row.speed)} m/min, {t[-1]:.0f} °C", ink))
    for p in points:
        ax.errorbar(
            [p.distance],
            [p.temperature],
            yerr=p.band,
            fmt="s",
            markersize=4.0,
            markerfacecolor=PAPER,
            markeredgecolor=INK,
            ecolor=INK,
            elinewidth=0.9,
            capsize=2.0,
            zorder=8,
            gid="wanted",
        )
    if points:
        x, y = (float(v) for v in sheet.at(ax, points[0].distance, points[0].temperature + points[0].band))
        sheet.name(x, y - 1.0, "wanted, with its band", sheet.frame(ax), style="italic")
    name_right(sheet, ax, ends)
    return ax


def _end(x: float, y: float, text: str, ink: str) -> EndName:
    return EndName(float(y), broken(text, _RIGHT - 5.0, lines=2), ink, float(x))


def _waters(sheet: Sheet, tuning: Tuning, place: tuple[float, float, float, float]) -> Axes:
    ax = sheet.axes(*place, label="water")
    speeds = np.array([row.speed for row in tuning.rows])
    new, today = (np.array([row.water for row in rows]) for rows in (tuning.rows, tuning.today))
    tuned = [i for i, free in enumerate(tuning.tuned) if free]
    top = float(np.nanmax(np.concatenate([new[:, tuned], today[:, tuned]])))
    reach = 0.04 * (speeds[-1] - speeds[0])
    ax.set_xlim(speeds[0] - reach, speeds[-1] + reach)
    ax.set_ylim(0.0, 1.05 * top if top > 0 else 1.0)
    bare(sheet, ax, "water, L/min on one strand")
    ends = []
    for n, i in enumerate(tuned):
        colour, ink, look = _stroke(n)
        ax.plot(speeds, today[:, i], color=GREY, linewidth=0.5, linestyle=look["linestyle"], gid=f"today {i}")
        ax.plot(
            speeds,
            new[:, i],
            color=colour,
            marker="o",
            markersize=3.0,
            clip_on=False,
            gid=f"water {i}",
            **look,
        )
        ends.append(_end(speeds[-1], new[-1, i], tuning.zones[i], ink))
    name_right(sheet, ax, ends)
    ax.xaxis.set_major_locator(FixedLocator(list(speeds)))
    ax.xaxis.set_minor_locator(NullLocator())
    words = [row_verdict(tuning, row) for row in tuning.rows]
    across = place[2] * float(np.diff(speeds).min()) / (speeds[-1] - speeds[0] + 2 * reach)
    told = bool(across > max(text_size(word, SMALL)[0] for word in words) + 1.0)
    speeds_said = [number(row.speed) for row in tuning.rows]
    if told:
        speeds_said = [f"{speed}\n{word}" for speed, word in zip(speeds_said, words, strict=True)]
    ax.set_xticklabels(speeds_said, fontsize=SMALL)
    note = "casting speed, m/min; thin grey: today"
    note += "; on paper: crossed within the plant's input errors" if told else ""
    y, fits = sheet.frame(ax)[3] + (9.0 if told else 5.5), text_size(note)[0] < place[2]
    at, side = (place[0] + place[2], "right") if fits else (MARGIN, "left")
    sheet.write(at, y, broken(note, sheet.width - 2 * MARGIN, lines=2), ha=side, size=TEXT)
    return ax


def _bars(sheet: Sheet, tuning: Tuning, place: tuple[float, float, float, float]) -> Axes:
    """Draw the water of one speed, zone by zone, beside that of today."""
    ax = sheet.axes(*place, label="water")
    row, today = tuning.rows[0], tuning.today[0]
    shown = [i for i in range(len(tuning.zones)) if not math.isnan(row.water[i])]
    at = np.arange(len(shown))
    ax.bar(at - 0.2, today.water[shown], 0.36, facecolor=PAPER, edgecolor=INK, linewidth=0.6, gid="today")
    ax.bar(at + 0.2, row.water[shown], 0.36, facecolor=PETROL, edgecolor=INK, linewidth=0.6, gid="new")
    ax.set_xlim(-0.6, len(shown) - 0.4)
    bare(sheet, ax, "water, L/min on one strand")
    ax.xaxis.set_major_locator(FixedLocator(list(at)))
    across = place[2] / max(len(shown), 1) - 1.0
    ax.set_xticklabels([broken(tuning.zones[i], across, SMALL, lines=2) for i in shown], fontsize=SMALL)
    bottom = sheet.frame(ax)[3]
    sheet.write(place[0] + place[2], bottom + 9.0, "blank: today; filled: new", ha="right", size=TEXT)
    return ax
