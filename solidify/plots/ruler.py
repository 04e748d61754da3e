"""The distance ruler: metres from the meniscus, mould, zones with their water, and points of the machine."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from solidify.plots.palette import GREY, INK, LIGHT, PAPER, PLUM, WATER, number, span
from solidify.plots.sheet import Sheet, broken, spread, text_size
from solidify.units import MINUTE

if TYPE_CHECKING:
    from solidify.assessment.judge import Finding, Judgement
    from solidify.strand.result import Result, ZoneResult

__all__ = ["Label", "Ruler", "draw_ruler", "judged", "machine_points", "plan_ruler", "trough"]

_POINTS = 10.5
"""Height of the row of machine points [mm]."""

_STRIP = 4.4
_FALL = 2.2
_GAP = 1.6
_ASIDE = 7.0

_MOST_ROWS = 8
"""Rows of names below the strip; where the names of all zones want more, only one in so many is named."""


@dataclass(frozen=True)
class Label:
    """A name on the ruler.

    Parameters
    ----------
    text : str
        Lines to print.
    points : tuple of float
        What it names, from the meniscus [m].
    x : float
        Centre of the text, from the left end of the ruler [mm].
    path : tuple of float
        Where its leader passes each row before its own, from the left end [mm].
    """

    text: str
    points: tuple[float, ...]
    x: float
    path: tuple[float, ...] = ()

    @property
    def row(self) -> int:
        """Row it stands in, 0 next to the strip."""
        return len(self.path)


@dataclass(frozen=True)
class Ruler:
    """A ruler thought out: what stands where, before anything is drawn.

    Parameters
    ----------
    length : float
        Meniscus to cut-off [m].
    width, height : float
        On the sheet [mm].
    zones : tuple of ZoneResult
        Mould, zones, and the open strand.
    below, above : tuple of Label
        Names of the zones, and of the machine's points.
    rows : tuple of float
        Height of each row of names below [mm].
    named_of : int
        One zone in so many is named.
    """

    length: float
    width: float
    height: float
    zones: tuple[ZoneResult, ...]
    below: tuple[Label, ...]
    above: tuple[Label, ...]
    rows: tuple[float, ...]
    named_of: int = 1


def machine_points(result: Result) -> dict[str, tuple[float, ...]]:
    """Return the points of the machine by name, from the meniscus [m]."""
    case = result.case
    found = {
        "bending": case.bending,
        "straightener": case.straightener,
        "last support": (case.support_end,),
        "cut-off": (case.cutoff,),
    }
    return {name: points for name, points in found.items() if points}


def judged(judgement: Judgement | None, name: str) -> tuple[float, str] | None:
    """Return limit [its plant unit] and room of a finding judged against one number, otherwise None."""
    finding = _judged(judgement, name)
    if finding is None or isinstance(finding.limit, tuple):
        return None
    return float(finding.limit), finding.room


def trough(judgement: Judgement | None, name: str) -> tuple[float, float, bool, str] | None:
    """Return both edges of a trough [its plant unit], whether the room counts to the upper one, and the room."""
    finding = _judged(judgement, name)
    if finding is None or finding.sense != "outside" or not isinstance(finding.limit, tuple):
        return None
    return *finding.limit, math.isinf(finding.upper), finding.room


def _judged(judgement: Judgement | None, name: str) -> Finding | None:
    for finding in judgement.findings if judgement is not None else ():
        if finding.name == name and finding.judged:
            return finding
    return None


def _zone_text(zone: ZoneResult, width: float) -> str:
    if zone.kind == "mould":
        return "mould"
    water = "water not given" if math.isnan(zone.water) else f"{number(zone.water * MINUTE)} L/min"
    return f"{broken(zone.name, width, lines=3)}\n{water if zone.water != 0 else 'dry'}"


def _rows(texts: list[str], centres: list[float], width: float, count: int) -> tuple[Label, ...] | None:
    """Share names over `count` rows, each clear of the leaders that pass it; None when they do not fit."""
    sizes = [text_size(t)[0] + 2.4 for t in texts]
    paths: list[list[float]] = [[] for _ in texts]
    for row in range(count):
        here = [i for i in range(len(texts)) if i % count >= row]
        widths = [sizes[i] if i % count == row else _GAP for i in here]
        if sum(widths) > width + 2 * _ASIDE:
            return None
        wanted = [paths[i][-1] if paths[i] else centres[i] for i in here]
        for i, place in zip(here, spread(wanted, widths, -_ASIDE, width + _ASIDE), strict=True):
            paths[i].append(float(place))
    return tuple(
        Label(text, (centre,), path[-1], tuple(path[:-1]))
        for text, centre, path in zip(texts, centres, paths, strict=True)
    )


def _best_rows(texts: list[str], centres: list[float], width: float) -> tuple[Label, ...]:
    """Choose the fewest rows that keep the names near what they name."""
    best, least = None, math.inf
    for count in range(1, min(len(texts), _MOST_ROWS) + 1):
        labels = _rows(texts, centres, width, count)
        if labels is None:
            continue
        off = max(abs(label.x - centre) for label, centre in zip(labels, centres, strict=True))
        if off + 7.0 * count < least:
            best, least = labels, off + 7.0 * count
    return best or ()


def _names_below(zones: Sequence[ZoneResult], scale: float, width: float) -> tuple[tuple[Label, ...], int]:
    """Name the mould and the zones, or one in so many of them that their names fit; and in how many."""
    for step in range(1, len(zones) + 1):
        named = zones[::step]
        room = max(24.0, 0.8 * width / len(named))
        texts = [_zone_text(z, min(room, 40.0)) for z in named]
        if below := _best_rows(texts, [(z.start + z.end) / 2 * scale for z in named], width):
            return below, step
    return (), len(zones)


def plan_ruler(result: Result, width: float) -> Ruler:
    """Think out the ruler of a result.

    Parameters
    ----------
    result : Result
        A marched strand.
    width : float
        On the sheet, meniscus to cut-off [mm].

    Returns
    -------
    Ruler
    """
    length = float(result.distance[-1])
    scale = width / length
    below, named_of = _names_below([z for z in result.zones if z.kind != "open"], scale, width)
    count = max((label.row for label in below), default=-1) + 1
    rows = tuple(max(text_size(b.text)[1] for b in below if b.row == r) + 1.2 for r in range(count))
    points = sorted(machine_points(result).items(), key=lambda item: (min(item[1]) + max(item[1])) / 2)
    points = [(n, p) for n, p in points if min(p) <= length * 1.0001]
    words = [f"{n}\n{span(p)} m" for n, p in points]
    middles = [(min(p) + min(max(p), length)) / 2 * scale for _, p in points]
    places = spread(middles, [text_size(t)[0] + 2.4 for t in words], -7.0, width + 12.0)
    above = tuple(Label(t, p, float(x)) for t, (_, p), x in zip(words, points, places, strict=True))
    height = _POINTS + _STRIP + _FALL + sum(rows)
    return Ruler(length, width, height, result.zones, below, above, rows, named_of)


def _draw_strip(ax: Axes, ruler: Ruler) -> None:
    top, tint, scale = _POINTS, [PAPER, WATER], ruler.width / ruler.length
    for i, zone in enumerate(ruler.zones):
        face = PLUM if zone.kind == "mould" else PAPER if zone.kind == "open" else tint[i % 2]
        end = min(zone.end, ruler.length)
        patch = Rectangle(
            (zone.start, top),
            end - zone.start,
            _STRIP,
            facecolor=face,
            edgecolor=INK,
            linewidth=min(0.5, max(0.25 * (end - zone.start) * scale, 0.05)),
        )
        patch.set_gid(f"zone {zone.name}")
        ax.add_patch(patch)


def _draw_metres(sheet: Sheet, ax: Axes, ruler: Ruler, left: float, top: float) -> None:
    scale = ruler.width / ruler.length
    step = next(s for s in (0.5, 1, 2, 5, 10, 20, 50, 100) if s * scale >= 9)
    mould = ruler.zones[0].end
    middle = top + _POINTS + _STRIP / 2 - 0.35
    ticks = np.arange(0.0, ruler.length + 1e-9, step / 5)
    tall = np.where(np.arange(len(ticks)) % 5 == 0, 1.0, 0.5)
    low = _POINTS + _STRIP
    for shown, colour in ((ticks < mould, PAPER), (ticks >= mould, INK)):
        ax.vlines(ticks[shown], low - tall[shown], low, color=colour, linewidth=0.5)
    for tick in np.arange(step, ruler.length - 3.5 / scale, step):
        if tick > mould + 2.0 / scale:
            reach = text_size(number(tick))[0] / 2 + 0.4
            hit = [z.end * scale for z in ruler.zones[:-1] if abs(z.end - tick) * scale < reach]
            place = max(hit) + reach if hit else tick * scale  # beside a border, not under it
            sheet.write(left + place, middle, number(tick), ha="center", va="center")
    if mould * scale > 2.6:
        sheet.write(left + 0.6, middle, "0", va="center", color=PAPER)
    words = "m from the\nmeniscus"
    sheet.write(left - 1.6, top + _POINTS + _STRIP / 2, words, ha="right", va="center", color=INK)


def _draw_points(sheet: Sheet, ruler: Ruler, left: float, top: float) -> None:
    scale, strip = ruler.width / ruler.length, top + _POINTS
    for label in ruler.above:
        sheet.write(left + label.x, top, label.text, ha="center")
        foot = top + text_size(label.text)[1] + 0.3
        first, last = (left + min(z, ruler.length) * scale for z in (min(label.points), max(label.points)))
        bar = strip - 2.0
        inside = min(max(left + label.x, first), last)
        if len(label.points) > 1:
            sheet.line([first, last], [bar, bar], linewidth=1.2)
        for z in label.points:
            if z <= ruler.length:
                sheet.line(
                    [left + z * scale] * 2, [bar, strip], linewidth=1.2 if len(label.points) == 1 else LIGHT
                )
        sheet.line([left + label.x, inside], [foot, bar], color=GREY, linewidth=0.4)


def _draw_zone_names(sheet: Sheet, ruler: Ruler, left: float, top: float) -> None:
    strip = top + _POINTS + _STRIP
    starts = np.concatenate([[0.0], np.cumsum(ruler.rows)]) + strip + _FALL
    for label in ruler.below:
        x, y = [label.points[0]], [strip]
        for row, place in enumerate((*label.path, label.x)):
            x += [place, place]
            y += [starts[row] - 0.3, starts[row] + ruler.rows[row] - 1.2]
        sheet.line([left + place for place in x[:-1]], y[:-1], color=GREY, linewidth=0.4)
        sheet.write(left + label.x, starts[label.row], label.text, ha="center")
    if ruler.named_of > 1:
        words = f"one zone in\n{ruler.named_of} named"
        sheet.write(left - 1.6, top, words, ha="right", color=INK)


def draw_ruler(sheet: Sheet, ruler: Ruler, left: float, top: float) -> Axes:
    """Draw a ruler.

    Parameters
    ----------
    sheet : Sheet
        Where.
    ruler : Ruler
        What.
    left, top : float
        Its upper left corner [mm].

    Returns
    -------
    Axes
        Along it metres, across it millimetres of the sheet.
    """
    ax = sheet.axes(left, top, ruler.width, ruler.height, label="ruler")
    ax.set_xlim(0, ruler.length)
    ax.set_ylim(ruler.height, 0)
    ax.set_xlabel("distance from the meniscus, m")
    ax.axis("off")
    _draw_strip(ax, ruler)
    _draw_metres(sheet, ax, ruler, left, top)
    _draw_points(sheet, ruler, left, top)
    _draw_zone_names(sheet, ruler, left, top)
    return ax
