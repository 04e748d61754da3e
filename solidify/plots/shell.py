"""The shell panel: where it freezes, drawn downward from the surface."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patheffects import withStroke
from matplotlib.ticker import MaxNLocator

from solidify.analysis import handbook
from solidify.analysis.derived import product_window
from solidify.plots.inset import draw_inset
from solidify.plots.palette import (
    BAND,
    BAND_EDGE,
    GREY,
    HEAVY,
    INK,
    LIGHT,
    PAPER,
    PLUM,
    SOLID,
    TEXT,
    number,
)  # fmt: skip
from solidify.plots.panel import EndName, bare, name_right
from solidify.plots.ruler import judged, machine_points
from solidify.plots.sheet import Sheet, broken, spread, text_size
from solidify.units import MINUTE, MM

if TYPE_CHECKING:
    from solidify.assessment.judge import Judgement
    from solidify.strand.result import Result

__all__ = ["Fronts", "draw_shell_panel", "fronts", "handbook_shell", "edge_names", "style_depth"]


@dataclass(frozen=True)
class Fronts:
    """Fronts of solid fraction, as depths from the (loose-side) surface.

    Parameters
    ----------
    fractions : ndarray, shape (fraction,)
        Ascending [1].
    upper : ndarray, shape (fraction, distance)
        Growing from the (loose-side) surface [mm].
    lower : ndarray or None, shape (fraction, distance)
        Growing from the fixed side; None when half the section is drawn [mm].
    tip : ndarray, shape (fraction, 2)
        Distance [m] and depth [mm] where each front ends; NaN when it does not.
    bottom : float
        Depth of the centre, or of the fixed side [mm].
    """

    fractions: np.ndarray
    upper: np.ndarray
    lower: np.ndarray | None
    tip: np.ndarray
    bottom: float


def fronts(result: Result) -> Fronts:
    """Return the fronts of a result as they are drawn.

    Parameters
    ----------
    result : Result
        A marched strand, one side or two.

    Returns
    -------
    Fronts
    """
    order = np.argsort(result.solid_fractions)
    shell = result.shell_thickness[:, order] / MM
    fractions, z = result.solid_fractions[order], result.distance
    two = len(result.sides) == 2
    bottom = (result.thickness if two else result.half_thickness) / MM
    grown = shell.sum(axis=0) if two else shell[0]
    tip = np.full((len(order), 2), np.nan)
    for i, row in enumerate(grown):
        met = np.flatnonzero(row >= bottom * (1 - 1e-6))
        if met.size:
            m = int(met[0])
            tip[i] = z[m], shell[0, i, m]
    end = float(result.summary["metallurgical_length"])
    if np.isfinite(end) and fractions[-1] == 1.0:
        tip[-1] = end, float(shell[0, -1, min(int(np.searchsorted(z, end)), len(z) - 1)]) if two else bottom
    upper, lower = shell[0], (bottom - shell[1] if two else None)
    return Fronts(fractions, upper, lower, tip, bottom)


def handbook_shell(result: Result) -> tuple[np.ndarray, float]:
    """Return the shell by practice's usual constant of this product, and that constant.

    Parameters
    ----------
    result : Result
        A marched strand.

    Returns
    -------
    tuple of ndarray, shape (distance,), and float
        [mm] and [mm min-1/2].
    """
    k = product_window(result, "whole machine").usual
    return handbook.shell_thickness(result.time, k) / MM, k / handbook.MM_PER_SQRT_MIN


def _fill(ax: Axes, z: np.ndarray, f: Fronts) -> None:
    """Tint the solid, then lay on it what is less and less solid, down to the paper of the liquid."""
    low, high = (int(np.argmin(np.abs(f.fractions - x))) for x in (0.3, 0.7))
    ax.fill_between(z, 0, f.bottom, color=SOLID, linewidth=0)
    for row, colour in ((-1, BAND), (high, BAND_EDGE), (low, PAPER)):
        lower = f.lower[row] if f.lower is not None else np.full_like(z, f.bottom)
        inside = f.upper[row] < lower * (1 - 1e-9)
        ax.fill_between(z, f.upper[row], lower, where=inside, interpolate=True, color=colour, linewidth=0)


def _lines(sheet: Sheet, ax: Axes, result: Result, f: Fronts) -> None:
    heavy = int(np.argmin(np.abs(f.fractions - result.headline)))
    for i, fraction in enumerate(f.fractions):
        for side, rows in (("upper", f.upper), ("lower", f.lower)):
            if rows is None:
                continue
            grown = np.abs(rows[i] - rows[i, 0])
            arrived = np.isfinite(f.tip[i, 0])
            stop = int(np.argmax(grown >= grown[-1] * (1 - 1e-9))) + 1 if arrived else len(grown)
            z, depth = result.distance[:stop], rows[i, :stop]
            width = HEAVY if i == heavy else LIGHT
            ax.plot(z, depth, color=PLUM, linewidth=width, gid=f"shell {fraction:g} {side}")
            sheet.ink(ax, z, depth)


def _handbook(sheet: Sheet, ax: Axes, result: Result, f: Fronts) -> tuple[float, float, str]:
    """Draw the curve of practice dotted; returns where it ends and its name."""
    curve, k = handbook_shell(result)
    half = result.half_thickness / MM
    stop = int(np.searchsorted(curve, half))
    z, s = result.distance[: stop + 1], np.minimum(curve[: stop + 1], half)
    (line,) = ax.plot(
        z, s, color=INK, linewidth=1.2, linestyle=(0, (0.1, 2.2)), dash_capstyle="round", gid="handbook"
    )
    line.set_path_effects([withStroke(linewidth=2.4, foreground=PAPER)])
    sheet.ink(ax, z, s)
    return float(z[-1]), float(s[-1]), f"practice {number(k)}√t"


def _tip_names(
    sheet: Sheet, ax: Axes, f: Fronts, ends: list[tuple[float, float, str]], beside: list[tuple[float, str]]
) -> None:
    """Name under the panel every line that ends inside it; at its right those that leave it, and edges."""
    left, _, right, bottom = sheet.frame(ax)
    z_end = ax.get_xlim()[1]
    inside = sorted((e for e in ends if e[0] < z_end * 0.9999), key=lambda e: e[0])
    if f.lower is not None:
        for z, depth, text in (e for e in inside if "√" in e[2]):
            x, y = (float(v) for v in sheet.at(ax, z, depth))
            sheet.name(x, y, text, sheet.frame(ax), style="italic")
        inside = [e for e in inside if "√" not in e[2]]
    xs = [float(sheet.at(ax, z, 0)[0]) for z, _, _ in inside]
    places = spread(xs, [text_size(t)[0] + 2.0 for *_, t in inside], left, right + 6)
    for (z, depth, text), x, place in zip(inside, xs, places, strict=True):
        y = float(sheet.at(ax, z, depth)[1])
        if y < bottom - 0.5:
            sheet.line([x, x], [y, bottom], color=PAPER, linewidth=LIGHT, zorder=1)
            sheet.ink(ax, [z, z], [depth, f.bottom])
        sheet.line([x, place], [bottom, bottom + 1.3], color=GREY, linewidth=0.4)
        sheet.write(place, bottom + 1.5, text, ha="center", style=_slant(text))
    x = places[0] - text_size(inside[0][2])[0] / 2 - 1.5 if inside else left
    for words in ("freezing band, solid fraction", "solid fraction"):
        if x - text_size(words)[0] > left - 14:
            sheet.write(x, bottom + 1.5, words, ha="right", color=GREY)
            break
    surface, base = ("loose side", "fixed side") if f.lower is not None else ("surface", "centre")
    aside = [(depth, text) for z, depth, text in ends if z >= z_end * 0.9999]
    name_right(sheet, ax, edge_names(aside, [(0.0, surface), *beside, (f.bottom, base)]))


def _name_phases(sheet: Sheet, ax: Axes, f: Fronts) -> None:
    """Write "liquid" on the paper and "solid" on its tint, where there is room."""
    left, top, right, bottom = sheet.frame(ax)
    deep = bottom - 2.0 if f.lower is None else (top + bottom) / 2
    for text, x, y, va in (
        ("liquid", left + 2.5, deep, "bottom" if f.lower is None else "center"),
        ("solid", left + 0.3 * (right - left), top + 2.0, "top"),
    ):
        box = sheet.box(x, y, text, {"va": va})
        if sheet.free(box) and not sheet.crossings(box):
            sheet.write(x, y, text, va=va, color=GREY)


def _slant(text: str) -> str:
    return "italic" if "√" in text else "normal"


def edge_names(ends: list[tuple[float, str]], beside: list[tuple[float, str]]) -> list[EndName]:
    """Return what stands right of a panel of depths.

    Parameters
    ----------
    ends : list of tuple of float and str
        Lines that end there, by depth [mm]; each gets a leader.
    beside : list of tuple of float and str
        Other words; a leader only when moved.

    Returns
    -------
    list of EndName
    """
    names = [EndName(depth, text, style=_slant(text)) for depth, text in ends]
    return names + [EndName(depth, text, led=False) for depth, text in beside]


def _pin(sheet: Sheet, ax: Axes, result: Result, f: Fronts) -> None:
    """Pin the last liquid with metres and minutes."""
    left, top, right, bottom = sheet.frame(ax)
    z, depth = f.tip[-1]
    if np.isnan(z):
        text = f"liquid core at the cut-off,\ncentre {float(result.centre_solid_fraction[-1]):.2f} solid"
        y = float(sheet.at(ax, 0, f.upper[-1, -1])[1])
        sheet.name(right, y - 2.0, text, (left, top, right - 1.0, bottom), va="top", size=TEXT)
        return
    minutes = float(result.summary["solidification_time"]) / MINUTE
    text = f"end of solidification\n{z:.1f} m, {minutes:.1f} min"
    x, y = (float(v) for v in sheet.at(ax, z, depth))
    w, h = text_size(text, TEXT)
    down = 1 if f.lower is not None else -1
    spots = []
    for share in (0.24, 0.2, 0.16, 0.3, 0.36, 0.45, 0.55, 0.65, 0.75):
        near = y + down * share * (bottom - top)
        box_top = near if down > 0 else near - h
        spots += [(x + 1.2, box_top, x + 1.2 + w, box_top + h), (x - 1.2 - w, box_top, x - 1.2, box_top + h)]
    spots = [s for s in spots if s[0] > left and s[2] < right] or spots
    cost = [50 * (not sheet.free(s)) + 3 * sheet.crossings(s) + 0.5 * i for i, s in enumerate(spots)]
    box = spots[int(np.argmin(cost))]
    far = box[3] if down > 0 else box[1]
    sheet.line([x, x], [y, far], linewidth=LIGHT, zorder=3, gid="pin")
    pin: dict[str, Any] = {"color": PAPER, "markeredgecolor": INK, "markeredgewidth": 1.0, "markersize": 4.5}
    ax.plot([z], [depth], "o", clip_on=False, zorder=9, gid="end of solidification", **pin)
    sheet.write(box[0], box[1], text, size=TEXT)
    sheet.taken.append((x - 1.2, y - 1.2, x + 1.2, y + 1.2))
    sheet.inked.append(np.column_stack([np.full(60, x), np.linspace(far, y, 60)]))


def _edges(
    sheet: Sheet, ax: Axes, result: Result, f: Fronts, judgement: Judgement | None
) -> list[tuple[float, float, str]]:
    """Draw the limits on the last liquid as edges at the centre; returns where each room belongs [m, mm]."""
    points = machine_points(result)
    centre, reach = (f.bottom, 0.17 * f.bottom) if f.lower is None else (f.bottom / 2, 0.09 * f.bottom)
    rooms: list[tuple[float, float, str]] = []
    for name, point in (("last_liquid_support", "last support"), ("last_liquid_cutoff", "cut-off")):
        finding = judged(judgement, name)
        if finding is None:
            continue
        limit, room = finding
        z = points[point][0] * limit / 100 if point == "last support" else points[point][0] - limit
        if z <= ax.get_xlim()[1] * 1.0001:
            sheet.edge(ax, (z, z), (centre - reach, centre + (0 if f.lower is None else reach)), (1, 0))
            rooms.append((z, centre - 0.5 * reach if f.lower is None else centre, room))
    return rooms


def _rooms(sheet: Sheet, ax: Axes, rooms: list[tuple[float, float, str]]) -> list[tuple[float, str]]:
    """Write the room beside each edge; returns depth [mm] and words of those that stand outside the panel."""
    frame = sheet.frame(ax)
    beside: list[tuple[float, str]] = []
    for z, depth, room in rooms:
        x, y = (float(v) for v in sheet.at(ax, z, depth))
        if x > frame[2] - 3:
            beside.append((depth, broken(room, 22.0)))
        else:
            sheet.name(x + 1.6, y, room, frame, va="top")
    return beside


def draw_shell_panel(
    sheet: Sheet, result: Result, judgement: Judgement | None, place: tuple[float, float, float, float]
) -> Axes:
    """Draw the shell panel.

    Parameters
    ----------
    sheet : Sheet
        Where.
    result : Result
        A marched strand.
    judgement : Judgement or None
        Limits to draw.
    place : tuple of float
        Left, top, width and height [mm]; names of lines stand up to 20 mm right of it and 5 mm below.

    Returns
    -------
    Axes
        Along it metres from the meniscus, down it millimetres below the (loose-side) surface.
    """
    ax = sheet.axes(*place, label="shell")
    f = fronts(result)
    ax.set_xlim(0, float(result.distance[-1]))
    ax.set_ylim(f.bottom, 0)
    style_depth(sheet, ax, f.bottom, f.lower is not None)
    _fill(ax, result.distance, f)
    _lines(sheet, ax, result, f)
    ends: list[tuple[float, float, str]] = []
    for fraction, (z, depth), row in zip(f.fractions, f.tip, f.upper, strict=True):
        far = (float(z), float(depth)) if np.isfinite(z) else (ax.get_xlim()[1], float(row[-1]))
        ends.append((*far, f"{fraction:.2g}" if fraction < 1 else "1.0"))
    ends.append(_handbook(sheet, ax, result, f))
    rooms = _edges(sheet, ax, result, f, judgement)
    _pin(sheet, ax, result, f)
    _tip_names(sheet, ax, f, ends, _rooms(sheet, ax, rooms))
    draw_inset(sheet, ax, result, judgement)
    _name_phases(sheet, ax, f)
    return ax


def style_depth(sheet: Sheet, ax: Axes, bottom: float, two: bool) -> None:
    """Give axes whose depth [mm] runs downward their ticks, edges and name."""
    label = "depth below the loose side, mm" if two else "depth below the surface, mm"
    bare(sheet, ax, label, over_ruler=True)
    ax.axhline(0, color=INK, linewidth=1.0, clip_on=False)
    centre = {"linewidth": LIGHT, "linestyle": (0, (8, 2, 1.5, 2))}
    ax.axhline(bottom, color=INK, clip_on=False, **({"linewidth": 1.0} if two else centre))
    locator = MaxNLocator(5, steps=[1, 2, 2.5, 5, 10])
    ticks = [float(t) for t in locator.tick_values(0, bottom) if 0 <= t < bottom * 0.88]
    ax.set_yticks([*ticks, bottom], [number(t, 4) for t in (*ticks, bottom)])
