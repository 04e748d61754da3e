"""The picture of a cast: signals, surface over clock and distance, core end and shell over the clock, the pieces."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from solidify.cast.pieces import Piece, cast_limits, pieces
from solidify.plots.heading import FOOT, write_footing, write_heading
from solidify.plots.palette import FIELD, GREY, INK, OCHRE_TEXT, PAPER, PETROL, PLUM, TEXT, WATER, styled
from solidify.plots.panel import EndName, bare, name_right
from solidify.plots.sheet import Sheet, text_size, width_of
from solidify.units import M_PER_MIN, MINUTE, MM

if TYPE_CHECKING:
    from solidify.cast.result import CastResult

__all__ = ["draw_cast"]

_LEFT, _RIGHT, _HEAD = 19.0, 30.0, 7.0
_TALL = {"speed": 20.0, "water": 22.0, "surface": 70.0, "core": 32.0, "shell": 22.0, "pieces": 15.0}
"""Height of each panel [mm]."""

_ISOTHERMS = np.arange(700.0, 1501.0, 100.0)


def draw_cast(result: CastResult, figure: Figure | None = None) -> Figure:
    """Draw a cast over its clock.

    Parameters
    ----------
    result : CastResult
        A cast that was run.
    figure : Figure, optional
        An empty figure to draw in; without it a new one of 180 mm width.

    Returns
    -------
    Figure
        Nothing is shown or saved. The clock runs to the right, the strand downward; the pieces lie over cast metres.
    """
    cut = pieces(result)
    panels = [name for name in _TALL if name != "pieces" or cut]
    with styled():
        width = width_of(figure)
        rest = sum(_TALL[name] + _HEAD for name in panels)
        sheet = Sheet(figure, width, rest + 52.0 + FOOT)
        y = write_heading(sheet, result.cast.title, _verdict(result, cut), [_facts(result)]) + 2.0
        y = _events(sheet, result, y, width - _LEFT - _RIGHT)
        scale = (sheet.height - y - FOOT - (18.0 if cut else 8.0)) / rest
        across = width - _LEFT - _RIGHT
        for name in panels:
            tall = _TALL[name] * scale
            ax = sheet.axes(_LEFT, y + _HEAD, across, tall, label=name)
            if name == "pieces":
                ax.remove()
                y += 10.0
                ax = sheet.axes(_LEFT, y + _HEAD, across, tall, label=name)
                _draw_pieces(sheet, ax, result, cut)
            else:
                ax.set_xlim(result.cast.begin / MINUTE, result.cast.end / MINUTE)
                _PANELS[name](sheet, ax, result)
                for event in result.cast.events:
                    ax.axvspan(event.begin / MINUTE, event.end / MINUTE, color=WATER, linewidth=0, zorder=0)
                ax.set_xlabel("clock, min" if name == "shell" else "", size=TEXT)
                ax.tick_params(labelbottom=name == "shell")
            y += _HEAD + tall
        write_footing(sheet, "computed for slices, not measured; no detector and no permission")
    return sheet.figure


def _verdict(result: CastResult, cut: tuple[Piece, ...]) -> str:
    whole = [piece for piece in cut if piece.kind == "piece"]
    suspect = [piece for piece in whole if piece.suspect]
    bad = [row.finding.label for row in result.limits.values() if result.hard_breached[:, row.row].any()]
    bad += [limit.label for limit in cast_limits(result) if limit.verdict == "not met"]
    words = f"hard limit not met: {', '.join(bad)}" if bad else "every hard limit is met by every slice"
    return f"{words}; {len(suspect)} of {len(whole)} pieces suspect" if whole else words


def _facts(result: CastResult) -> str:
    cast = result.cast
    length = float(cast.clock.length(min(cast.end, cast.feed_ends)))
    return f"{length:.0f} m cast in {cast.end / MINUTE:.0f} min, {len(result.births)} slices, water: {cast.water.logic}"


def _events(sheet: Sheet, result: CastResult, y: float, across: float) -> float:
    """Write the events above the panels, each at its clock, on as many lines as they need."""
    cast = result.cast
    ends: list[float] = []
    for event in cast.events:
        x = _LEFT + (event.begin - cast.begin) / (cast.end - cast.begin) * across
        wide = text_size(event.what)[0]
        x = min(x, _LEFT + across - wide)
        row = next((k for k, end in enumerate(ends) if x > end + 1.0), len(ends))
        ends[row : row + 1] = [x + wide]
        sheet.write(x, y + row * 4.0, event.what)
    return y + 4.0 * len(ends)


def _speed(sheet: Sheet, ax: Axes, result: CastResult) -> None:
    clock = result.cast.clock
    time = np.unique(
        np.concatenate([result.tick, clock.time[(clock.time >= 0) & (clock.time <= result.cast.end)]])
    )
    ax.plot(time / MINUTE, clock.speed_at(time) / M_PER_MIN, color=PLUM)
    ax.set_ylim(0, 1.15 * float(clock.speed.max()) / M_PER_MIN)
    bare(sheet, ax, "casting speed, m/min")


def _water(sheet: Sheet, ax: Axes, result: CastResult) -> None:
    time, names = result.tick, []
    strokes = ("-", "--", "-.", ":")
    for k, (zone, water) in enumerate(result.layout.water.items()):
        litres = np.asarray(water.at(time)) * 60.0
        ax.plot(time / MINUTE, litres, color=PETROL, linestyle=strokes[k % 4], linewidth=0.9)
        names.append(EndName(float(litres[-1]), zone, PETROL))
    ax.set_ylim(0, None)
    bare(sheet, ax, "spray water, L/min")
    name_right(sheet, ax, names, below=6.0)


def _surface(sheet: Sheet, ax: Axes, result: CastResult) -> None:
    case, field = result.cast.case, np.ma.masked_invalid(result.field())
    ax.set_ylim(case.cutoff, 0)
    grid = (result.tick / MINUTE, result.distance, field.T)
    ax.contourf(
        *grid, levels=_ISOTHERMS, cmap=LinearSegmentedColormap.from_list("field", FIELD), extend="both"
    )
    lines = ax.contour(*grid, levels=_ISOTHERMS, colors=INK, linewidths=0.5)
    below = _ISOTHERMS[_ISOTHERMS <= 1000.0].tolist()  # above it the lines lie close together in the mould
    below = [level for level in below if level in lines.levels]
    for text in ax.clabel(lines, below, fmt="%.0f", fontsize=6, inline=True):
        text.set_bbox({"facecolor": PAPER, "edgecolor": "none", "pad": 0.6})
    lost = result.hard_breached.any(axis=1)
    label = result.births.label[lost]
    for own in (label.min(), label.max()) if len(label) else ():
        z = result.cast.clock.length(result.tick) - own
        inside = (z >= 0) & (z <= case.cutoff)
        ax.plot(result.tick[inside] / MINUTE, z[inside], color=INK, linewidth=1.1, linestyle=(0, (1, 1)))
    names = [EndName(case.support_end, "last support"), EndName(case.cutoff, "cut-off")]
    marks = [case.support_end]
    if case.straightener:
        marks += [case.straightener[0], case.straightener[-1]]
        names.append(EndName(float(np.mean(case.straightener)), "straightener"))
    names.append(EndName(case.working_length, "mould exit"))
    for z in (*marks, case.working_length):
        ax.axhline(z, color=INK, linewidth=0.5, linestyle="--")
    bare(
        sheet,
        ax,
        "",
        above="surface °C, loose side, over the distance from the meniscus, m; dotted: suspect metres",
    )
    name_right(sheet, ax, names)


def _core(sheet: Sheet, ax: Axes, result: CastResult) -> None:
    case, names = result.cast.case, []
    for fraction, ink, stroke in ((1.0, PLUM, "-"), (0.7, PETROL, "--")):
        core = result.core_end(fraction)
        ax.plot(result.tick / MINUTE, core, color=ink, linestyle=stroke)
        known = core[np.isfinite(core)]
        if len(known):
            names.append(EndName(float(known[-1]), f"solid fraction {fraction:g}", ink))
    ax.set_ylim(case.cutoff, 0)
    ax.axhline(case.support_end, color=INK, linewidth=0.5, linestyle="--")
    names += [EndName(case.support_end, "last support"), EndName(case.cutoff, "cut-off")]
    bare(sheet, ax, "", above="end of the liquid core, m from the meniscus")
    name_right(sheet, ax, names)


def _shell(sheet: Sheet, ax: Axes, result: CastResult) -> None:
    time, shell = result.mould_exit
    inside = (time >= result.cast.begin) & (time <= result.cast.end)
    order = np.argsort(time[inside], kind="stable")
    ax.plot(time[inside][order] / MINUTE, shell[inside][order] / MM, color=PLUM)
    names = []
    row = result.limits.get("shell_floor")
    low = float(shell[inside].min()) / MM if inside.any() else 0.0
    if row is not None and isinstance(row.finding.limit, float) and math.isfinite(row.finding.limit):
        floor = row.finding.limit
        low = min(low, floor)
        ax.axhline(floor, color=INK, linewidth=1.2)
        names.append(EndName(floor, "hard limit", OCHRE_TEXT))
    ax.set_ylim(0.85 * low, None)
    bare(sheet, ax, "shell at mould exit, mm")
    name_right(sheet, ax, names)


def _draw_pieces(sheet: Sheet, ax: Axes, result: CastResult, cut: tuple[Piece, ...]) -> None:
    ax.set_xlim(cut[0].first, cut[-1].last)
    ax.set_ylim(0, 1)
    for piece in cut:
        wide = piece.last - piece.first
        crop = piece.kind != "piece"
        ax.add_patch(_box(piece.first, wide, GREY if crop else PAPER, "////" if crop else ""))
        for _, first, last in piece.suspect:
            ax.add_patch(_box(first, last - first, PLUM, ""))
        left, _ = sheet.at(ax, piece.first, 0)
        right, _ = sheet.at(ax, piece.last, 0)
        name = str(piece.number)
        if not crop and float(right - left) > text_size(name)[0] + 1.0:
            sheet.write(float(left + right) / 2, sheet.frame(ax)[1] - 0.8, name, ha="center", va="bottom")
    ax.set_yticks([])
    for side in ("top", "right", "left"):
        ax.spines[side].set_visible(False)
    ax.set_xlabel("cast metres", size=TEXT)
    top = sheet.frame(ax)[1] - 4.6
    sheet.write(_LEFT, top, "pieces; dark: suspect; hatched: crop", va="bottom", size=TEXT)


def _box(left: float, wide: float, face: str, hatch: str) -> Rectangle:
    return Rectangle(
        (left, 0), wide, 1, facecolor=face if not hatch else PAPER, edgecolor=INK, hatch=hatch, linewidth=0.6
    )


_PANELS = {"speed": _speed, "water": _water, "surface": _surface, "core": _core, "shell": _shell}
