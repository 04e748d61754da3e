"""Pictures of a heat plan: the sequence over the clock, the ladle temperature as a ladder, speed over level."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.metadata import version
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator, NullLocator

from solidify.plan.heat_plan import HeatPlan, StrandPlan
from solidify.plots.heading import FOOT, MARGIN, write_footing, write_heading
from solidify.plots.palette import (
    GREY,
    INK,
    OCHRE,
    OCHRE_TEXT,
    PETROL,
    PLUM,
    SOLID,
    TEXT,
    WATER,
    number,
    styled,
)
from solidify.plots.panel import EndName, bare, name_right
from solidify.plots.sheet import MM_PER_INCH, Sheet, broken, width_of
from solidify.units import M_PER_MIN, MINUTE, MM

__all__ = ["draw_bores", "draw_budget", "draw_sequence", "narrow_figure"]

_LEFT, _RIGHT, _HEAD, _TICKS = 19.0, 36.0, 8.0, 11.0
_INKS = ((PLUM, PLUM), (PETROL, PETROL), (OCHRE, OCHRE_TEXT))
_DASHES: tuple[Any, ...] = ("-", (0, (6.0, 1.8)), (0, (1.2, 1.2)), (0, (7.0, 1.8, 1.2, 1.8)))
_PHONE, _PHONE_TALL = 112.0, 200.0
"""Width and height of a picture whose type can be read on a phone [mm]."""

_CAUTION = "worked out from the plan, not measured; no permission to cast"
_TONNE = 1000.0


def _stroke(i: int) -> tuple[str, str, dict[str, Any]]:
    """Return colour, ink of its name and look of a line."""
    colour, ink = _INKS[i % 3]
    return colour, ink, {"linestyle": _DASHES[(i % 3 + i // 3) % 4], "linewidth": (1.5, 1.2, 1.4)[i % 3]}


def _footing(sheet: Sheet, note: str = "") -> None:
    write_footing(sheet, f"solidify {version('solidify')}", _CAUTION, note)


def _title(sheet: Sheet, found: HeatPlan, words: str) -> float:
    return write_heading(sheet, found.plan.title, words) + 2.0


def narrow_figure() -> Figure:
    """Return an empty figure of the size in which `draw_sequence` can be read on a phone."""
    return Figure(figsize=(_PHONE / MM_PER_INCH, _PHONE_TALL / MM_PER_INCH), facecolor="white")


def draw_sequence(found: HeatPlan, figure: Figure | None = None) -> Figure:
    """Draw ladle, tundish weights, speeds and superheat over the clock.

    Parameters
    ----------
    found : HeatPlan
        From `solidify.heat_plan`.
    figure : Figure, optional
        An empty figure to draw in; without it a new one of 180 mm width.

    Returns
    -------
    Figure
        Nothing is shown or saved.
    """
    heights = (20.0, 34.0, 34.0, 44.0)
    with styled():
        width = width_of(figure)
        height = 16.0 + sum(heights) + _HEAD * len(heights) + _TICKS + FOOT
        sheet = Sheet(figure, width, height)
        y = _title(
            sheet,
            found,
            f"{len(found.plan.ladles)} heats over the clock, from the opening of the first ladle",
        )
        room = sheet.height - y - _TICKS - FOOT - _HEAD * len(heights)
        across = sheet.width - _LEFT - _RIGHT
        panels = (_ladle, _weights, _speeds, _superheats)
        for i, (panel, share) in enumerate(zip(panels, heights, strict=True)):
            tall = max(room * share / sum(heights), 8.0)
            ax = sheet.axes(_LEFT, y + _HEAD, across, tall, label=panel.__name__.strip("_"))
            ax.set_xlim(0, found.end / MINUTE)
            panel(sheet, ax, found)
            for e in found.trace.events:
                if e.what == "ladle opened" and e.place:
                    ax.axvline(e.time / MINUTE, color=GREY, linewidth=0.3, zorder=0)
            ax.xaxis.set_major_locator(MaxNLocator(10, steps=[1, 2, 3, 5, 6, 10]))
            if i + 1 < len(panels):
                ax.set_xticklabels([])
            y += _HEAD + tall
        sheet.write(
            _LEFT + across,
            y + 4.6,
            "clock, min; thin upright lines: a ladle is opened",
            ha="right",
            size=TEXT,
        )
        _footing(sheet)
    return sheet.figure


def _ladle(sheet: Sheet, ax: Axes, found: HeatPlan) -> None:
    t = found.trace.time / MINUTE
    left = found.trace.ladle / _TONNE
    ax.fill_between(t, 0, left, facecolor=SOLID, edgecolor="none", gid="ladle")
    ax.plot(t, left, color=PLUM, linewidth=0.9)
    ax.set_ylim(0, 1.08 * float(left.max()))
    bare(sheet, ax, "steel left to pour in the ladle, t")
    ax.yaxis.set_major_locator(MaxNLocator(3))


def _weights(sheet: Sheet, ax: Axes, found: HeatPlan) -> None:
    plan, t = found.plan, found.trace.time / MINUTE
    top = max(tundish.weight for tundish in plan.tundishes) / _TONNE
    ax.set_ylim(0, 1.12 * top)
    bare(sheet, ax, "steel in the tundish, t")
    ends = []
    for k, tundish in enumerate(plan.tundishes):
        colour, ink, look = _stroke(k)
        weight = found.trace.weight[k] / _TONNE
        ax.plot(t, weight, color=colour, gid=f"weight {k}", **look)
        ends.append(EndName(tundish.weight / _TONNE * (1.0 - 0.12 * k), tundish.name, ink, led=False))
    for least in sorted({tundish.least / _TONNE for tundish in plan.tundishes}):
        sheet.edge(ax, [0.0, found.end / MINUTE], [least, least], (0, 1))
        ends.append(EndName(least, "least weight", INK, led=False))
    name_right(sheet, ax, ends)


def _groups(found: HeatPlan) -> list[list[StrandPlan]]:
    """Return the strands of equal section, speed and nozzle together."""
    groups: dict[tuple[Any, ...], list[StrandPlan]] = {}
    for s in found.strands:
        case = s.strand.case
        key = (s.strand.tundish, case.thickness, case.width, round(s.speed, 9), s.nozzle)
        groups.setdefault(key, []).append(s)
    return list(groups.values())


def _names(group: Sequence[StrandPlan]) -> str:
    many = "strands" if len(group) > 1 else "strand"
    return f"{many} {', '.join(s.strand.name for s in group)}"


def _speeds(sheet: Sheet, ax: Axes, found: HeatPlan) -> None:
    t = found.trace.time / MINUTE
    ends, top = [], 0.0
    for i, group in enumerate(_groups(found)):
        colour, ink, look = _stroke(i)
        place = found.strands.index(group[0])
        speed = found.trace.flow[place] / group[0].strand.mass_per_metre / M_PER_MIN
        ax.plot(t, speed, color=colour, gid=f"speed {i}", **look)
        top = max(top, float(speed.max()))
        planned = group[0].speed / M_PER_MIN
        ends.append(
            EndName(planned, broken(f"{_names(group)}: {planned:.2f}", _RIGHT - 5.0, lines=2), ink, led=False)
        )
    ax.set_ylim(0, 1.12 * top)
    bare(sheet, ax, "casting speed, m/min")
    name_right(sheet, ax, ends)


def _superheats(sheet: Sheet, ax: Axes, found: HeatPlan) -> None:
    plan, band = found.plan, found.plan.superheat
    ends, lows, highs = [], [band.least], [band.most]
    for k, tundish in enumerate(plan.tundishes):
        colour, ink, look = _stroke(k)
        at = found.casting(k)
        t, warm = found.trace.time[at] / MINUTE, found.superheat(k)[at]
        ax.plot(t, warm, color=colour, gid=f"superheat {k}", **look)
        lows.append(float(warm.min()))
        highs.append(float(warm.max()))
        ends.append(EndName(float(warm[-1]), tundish.name, ink, float(t[-1]), led=False))
    span = max(highs) - min(lows)
    ax.set_ylim(min(min(lows) - 0.08 * span, 0.0), max(highs) + 0.10 * span)
    bare(
        sheet,
        ax,
        "superheat in the tundish, K",
        above=f"superheat in the tundish, K over {plan.liquidus:.0f} °C; wanted between the edges",
    )
    runs_out = found.trace.first("ladle empty", len(plan.ladles) - 1) / MINUTE
    sheet.edge(ax, [0.0, runs_out], [band.least, band.least], (0, 1))
    sheet.edge(ax, [0.0, runs_out], [band.most, band.most], (0, -1))
    ends += [
        EndName(band.most, f"most, {number(band.most)} K", INK, led=False),
        EndName(band.least, f"least, {number(band.least)} K", INK, led=False),
    ]
    name_right(sheet, ax, ends)


def draw_budget(found: HeatPlan, figure: Figure | None = None) -> Figure:
    """Draw the temperature of a ladle at opening as a ladder from the liquidus; parameters as in `draw_sequence`."""
    budget, window = found.budget, found.window
    (_, base), *rest = budget.rows
    names = [words for words, _ in rest]
    with styled():
        width = width_of(figure)
        step = 9.0
        sheet = Sheet(figure, width, 20.0 + step * (len(rest) + 2) + _TICKS + FOOT)
        y = _title(
            sheet, found, f"ladle {budget.ladle + 1}: where its temperature at opening goes until it runs out"
        )
        left = 70.0
        ax = sheet.axes(left, y + _HEAD, sheet.width - left - 18.0, step * (len(rest) + 2), label="budget")
        values = np.array([value for _, value in rest])
        ends = base + np.cumsum(values)
        starts = ends - values
        high = max(float(ends.max()), window.most, window.least, budget.temperature)
        ax.set_xlim(base - 0.04 * (high - base), high + 0.06 * (high - base))
        ax.set_ylim(len(rest) + 1.5, -0.5)
        for i, (a, b) in enumerate(zip(starts, ends, strict=True), 1):
            ax.barh(
                i, b - a, left=a, height=0.62, facecolor=WATER, edgecolor=INK, linewidth=0.6, gid=f"step {i}"
            )
            ax.plot([b, b], [i, i + 1], color=GREY, linewidth=0.5)
        ax.plot([base, base], [0, 1], color=GREY, linewidth=0.5)
        ax.plot([base], [0], "|", color=INK, markersize=9)
        last = len(rest) + 1
        ax.plot([budget.temperature], [last], "D", color=PLUM, markersize=4.5, zorder=6, gid="ladle")
        for name in ("top", "right", "left"):
            ax.spines[name].set_visible(False)
        ax.yaxis.set_major_locator(NullLocator())
        ax.xaxis.set_major_locator(MaxNLocator(8))
        rows = [f"liquidus, {base:.1f} °C"]
        rows += [f"{broken(words, 60.0, TEXT, lines=2)}" for words in names]
        rows.append(f"ladle at opening, {budget.temperature:.1f} °C")
        for i, words in enumerate(rows):
            x, at = (float(v) for v in sheet.at(ax, base, i))
            sheet.write(left - 3.0, at, words, ha="right", va="center", size=TEXT)
        for i, (b, value) in enumerate(zip(ends, values, strict=True), 1):
            x, at = (float(v) for v in sheet.at(ax, max(b, b - value), i))
            sheet.write(x + 1.2, at, f"{value:+.1f} K".replace("-", "−"), va="center", size=TEXT)
        if window.width >= 0:
            ax.plot([window.least, window.most], [last, last], color=PLUM, linewidth=1.2, gid="window")
            for x_at, side in ((window.least, (-1, 0)), (window.most, (1, 0))):
                sheet.edge(ax, [x_at, x_at], [last - 0.38, last + 0.38], side)
            note = f"between the edges: {window.least:.0f} to {window.most:.0f} °C keep the superheat in its band"
        else:
            note = f"no temperature keeps the superheat in its band: {-window.width:.0f} K short"
        bottom = sheet.frame(ax)[3]
        sheet.write(sheet.width - MARGIN, bottom + 5.0, f"temperature, °C; {note}", ha="right", size=TEXT)
        _footing(sheet)
    return sheet.figure


def draw_bores(found: HeatPlan, figure: Figure | None = None) -> Figure | None:
    """Draw the speed that a full-open bore gives over the level, for the bore and its neighbours.

    Parameters
    ----------
    found : HeatPlan
        From `solidify.heat_plan`.
    figure : Figure, optional
        As in `draw_sequence`.

    Returns
    -------
    Figure or None
        None where no strand has a nozzle; at most four groups of strands are shown.
    """
    groups = [group for group in _groups(found) if group[0].nozzle is not None][:4]
    if not groups:
        return None
    columns = min(len(groups), 2)
    lines = (len(groups) + 1) // 2
    tall, gap = 52.0, 13.0
    with styled():
        width = width_of(figure)
        sheet = Sheet(figure, width, 18.0 + lines * (tall + gap + _HEAD) + FOOT)
        y = _title(
            sheet,
            found,
            "speed with the bore full open over the level of the tundish; at the right the bores, mm",
        )
        side = 19.0
        across = (sheet.width - MARGIN - columns * (side + 11.0)) / columns
        for i, group in enumerate(groups):
            left = side + (i % columns) * (across + side + 11.0)
            top = y + _HEAD + (i // columns) * (tall + gap + _HEAD)
            ax = sheet.axes(left, top, across, tall, label=f"bores {i}")
            _bores(sheet, ax, found, group, left - side + MARGIN)
        _footing(sheet, "dot: planned at the working weight; broken upright line: level of the least weight")
    return sheet.figure


def _bores(sheet: Sheet, ax: Axes, found: HeatPlan, group: Sequence[StrandPlan], left: float) -> None:
    s = group[0]
    nozzle, tundish = s.nozzle, found.plan.tundishes[s.strand.tundish]
    assert nozzle is not None
    level = tundish.level_at(tundish.weight)
    levels = 1.1 * level * np.linspace(0.0, 1.0, 60) ** 2
    per_metre, density = s.strand.mass_per_metre, found.plan.liquid_density
    small, large = (d for d, _ in s.neighbours)
    ax.set_xlim(0, 1.1 * level / MM)
    top, ends = 0.0, []
    for n, bore in enumerate((nozzle.bore, small, large)):
        colour, ink, look = _stroke(n)
        one = nozzle.full_flow(level, density) / nozzle.head(level) ** 0.5 * (bore / nozzle.bore) ** 2
        heads = np.array([nozzle.head(float(h)) for h in levels])
        speed = one * np.sqrt(heads) / per_metre / M_PER_MIN
        ax.plot(levels / MM, speed, color=colour, gid=f"bore {n}", **look)
        ends.append(EndName(float(speed[-1]), f"{bore / MM:.1f}", ink, led=False))
        top = max(top, float(speed.max()))
    band = s.strand.speed
    top = max(top, band.most / M_PER_MIN)
    ax.set_ylim(0, 1.1 * top)
    kind = "free stream" if nozzle.sets_speed else nozzle.kind
    above = f"{_names(group)} ({kind}): speed, m/min"
    bare(
        sheet,
        ax,
        "speed, m/min",
        above=broken(above, ax.get_position().width * sheet.width + 26.0, TEXT, lines=1),
        left=left,
    )
    for value, side in ((band.least, (0, 1)), (band.most, (0, -1))):
        if band.least < band.most:
            sheet.edge(ax, [0.0, 1.1 * level / MM], [value / M_PER_MIN] * 2, side)
    ax.axvline(tundish.level_at(tundish.least) / MM, color=GREY, linewidth=0.5, linestyle=(0, (3.0, 2.0)))
    ax.plot([level / MM], [s.speed / M_PER_MIN], "o", color=INK, markersize=4.0, zorder=7, gid="planned")
    ax.xaxis.set_major_locator(MaxNLocator(5))
    bottom, right = sheet.frame(ax)[3], sheet.frame(ax)[2]
    words = "level, mm"
    sheet.write(right, bottom + 4.6, words, ha="right", size=TEXT)
    name_right(sheet, ax, ends)
