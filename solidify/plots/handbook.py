"""The shell beside common practice: growth over the root of time, and what fitted laws leave of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from solidify.analysis.growth import Growth, HandbookComparison, compare_with_handbook
from solidify.analysis.handbook import MM_PER_SQRT_MIN
from solidify.plots.heading import FOOT, MARGIN, draw_footing, draw_heading
from solidify.plots.palette import GREY, HEAVY, INK, LIGHT, OCHRE, PETROL, PLUM, SOLID, TEXT, number, styled
from solidify.plots.sheet import Sheet, width_of
from solidify.units import MINUTE, MM

if TYPE_CHECKING:
    from solidify.assessment.judge import Judgement
    from solidify.strand.result import Result

__all__ = ["plot_handbook"]

LINES: tuple[tuple[str, Any], ...] = (
    (OCHRE, (0, (4, 1.5))),
    (PLUM, "-"),
    (PETROL, (0, (6, 1.5, 1, 1.5))),
    (INK, (0, (3, 1, 1, 1, 1, 1))),
)
"""Colour and stroke of each definition of the shell, by rising solid fraction; the headline's is heavier."""

_LEFT, _NAMES, _HEAD, _GAP = 14.0, 38.0, 5.0, 21.0
_WHOLE = "whole machine"
_ROOT, _FREE = "K√t − C", "a·t^n"


def plot_handbook(
    result: Result,
    judgement: Judgement | None = None,
    comparison: HandbookComparison | None = None,
    figure: Figure | None = None,
) -> Figure:
    """Draw the shell over the root of time beside practice's window of K, and the residuals of two laws.

    Parameters
    ----------
    result : Result
        A marched strand.
    judgement : Judgement, optional
        Brings the worst verdict into the heading.
    comparison : HandbookComparison, optional
        If it was made already.
    figure : Figure, optional
        An empty figure to draw in; without it a new one of 180 mm width.

    Returns
    -------
    Figure
        Above, shells [mm] over √t [√min]; below, computed less fitted shell [mm] of the delayed root law and
        of the free exponent, fitted over the whole machine. Nothing is shown or saved.
    """
    found = comparison or compare_with_handbook(result)
    with styled():
        width = width_of(figure)
        sheet = Sheet(figure, width, 160.0)
        top = draw_heading(sheet, result, judgement) + 2.0 + _HEAD
        tall = sheet.height - FOOT - top - _GAP - 9.0
        across = width - _LEFT - _NAMES - MARGIN
        shells = _shells(result, found)
        above = sheet.axes(_LEFT, top, across, 0.6 * tall, label="growth")
        _growth(sheet, above, result, found, shells)
        half = (width - 2 * _LEFT - MARGIN) / 2
        place = top + 0.6 * tall + _GAP
        below = [
            sheet.axes(_LEFT + i * (half + _LEFT), place, half, 0.4 * tall, label=law)
            for i, law in enumerate((_ROOT, _FREE))
        ]
        left = [
            _residuals(ax, result, found, shells, law) for ax, law in zip(below, (_ROOT, _FREE), strict=True)
        ]
        low, high = min(a for a, _ in left), max(b for _, b in left)
        for ax, law in zip(below, (_ROOT, _FREE), strict=True):
            ax.set_ylim(low - 0.06 * (high - low), high + 0.06 * (high - low))
            ax.set_xlim(*above.get_xlim())
            _name_residuals(sheet, ax, result, found, law)
        for ax in (above, *below):
            for name in ("top", "right"):
                ax.spines[name].set_visible(False)
            ax.set_xlabel("√t, √min from the meniscus", loc="left")
            ax.axvline(float(np.sqrt(result.mould.dwell / MINUTE)), color=GREY, linewidth=0.4, zorder=0)
        side = "" if found.side == "both" else f"{found.side} side, "
        draw_footing(sheet, result, f"{side}s from one side")
    return sheet.figure


def _shells(result: Result, found: HandbookComparison) -> list[tuple[Growth, np.ndarray, np.ndarray]]:
    """Return each definition with its times [s] and shells [m] up to the middle, that point included."""
    side = result.sides.index(found.side)
    shells = []
    for i, g in enumerate(found.rows[_WHOLE]):
        end = g.time if np.isfinite(g.time) else result.time[-1]
        shown = result.time < end
        time, shell = result.time[shown], result.shell_thickness[side, i, shown]
        last = g.shell if np.isfinite(g.shell) else result.shell_thickness[side, i, -1]
        shells.append((g, np.append(time, end), np.append(shell, last)))
    return shells


def _stroke(result: Result, g: Growth, i: int) -> dict[str, Any]:
    colour, stroke = LINES[i % len(LINES)]
    heavy = bool(np.isclose(g.solid_fraction, result.headline))
    return {"color": colour, "linestyle": stroke, "linewidth": HEAVY if heavy else 1.0}


def _solid(fraction: float) -> str:
    return f"{fraction:.1f}" if round(fraction, 1) == fraction else f"{fraction:g}"


def _growth(
    sheet: Sheet,
    ax: Axes,
    result: Result,
    found: HandbookComparison,
    shells: list[tuple[Growth, np.ndarray, np.ndarray]],
) -> None:
    """Draw the window of K as a wedge, its usual line dotted, and the shells, named at the right."""
    window, half = found.window[_WHOLE], result.half_thickness / MM
    last = max([*(t[-1] for _, t, _ in shells), (result.half_thickness / window.low) ** 2])
    end = 1.02 * float(np.sqrt(min(last, result.time[-1]) / MINUTE))
    ax.set_xlim(0, end)
    ax.set_ylim(0, 1.06 * half)
    low, usual, high = (k / MM_PER_SQRT_MIN for k in (window.low, window.usual, window.high))
    x = np.linspace(0, end, 400)
    ax.fill_between(
        x, np.minimum(low * x, half), np.minimum(high * x, half), color=SOLID, linewidth=0, gid="window"
    )
    ax.plot(x, np.where(usual * x <= half, usual * x, np.nan), ":", color=INK, linewidth=1.0, gid="usual")
    ax.axhline(half, color=GREY, linewidth=0.4)
    _, top, right, _ = sheet.frame(ax)
    y = top + 1.0
    for i, (g, time, shell) in enumerate(shells):
        stroke = _stroke(result, g, i)
        ax.plot(np.sqrt(time / MINUTE), shell / MM, gid=f"{g.solid_fraction:g} solid", **stroke)
        k = f", K {number(g.k / MM_PER_SQRT_MIN)}" if np.isfinite(g.k) else ", no K yet"
        sheet.line([right + 3.0, right + 9.0], [y + 1.3] * 2, **stroke)
        sheet.write(right + 11.0, y, f"{_solid(g.solid_fraction)} solid{k}")
        y += 5.0
    y += 1.5
    sheet.patch(right + 3.0, y + 0.2, 6.0, 5.6, facecolor=SOLID, edgecolor="none")
    sheet.line([right + 3.0, right + 9.0], [y + 3.0] * 2, linestyle=":", linewidth=1.0)
    sheet.write(
        right + 11.0,
        y,
        f"practice {low:.0f} to {high:.0f} at {window.solid_fraction:.1f}\nsolid, usual {usual:.1f} dotted",
    )
    sheet.write(right + 3.0, y + 9.0, "K in mm/√min, over\nthe whole machine", color=GREY)
    ax.set_ylabel("shell, mm")
    ax.yaxis.label.set_visible(False)
    sheet.write(MARGIN, top - 2.0, "shell, mm", va="bottom", size=TEXT)
    x_exit = float(sheet.at(ax, np.sqrt(result.mould.dwell / MINUTE), 0)[0])
    sheet.write(x_exit + 0.8, top, "mould exit", color=GREY)
    y_half = float(sheet.at(ax, 0, half)[1])
    sheet.write(right, y_half - 0.6, "middle", va="bottom", ha="right", color=GREY)


def _residuals(
    ax: Axes,
    result: Result,
    found: HandbookComparison,
    shells: list[tuple[Growth, np.ndarray, np.ndarray]],
    law: str,
) -> tuple[float, float]:
    """Draw what a law leaves of each definition; returns the lowest and the highest of it [mm]."""
    ends = [0.0]
    for i, (g, time, shell) in enumerate(shells):
        if law in g.fits:
            left = (shell - g.fits[law](time)) / MM
            ends += [float(left.min()), float(left.max())]
            ax.plot(
                np.sqrt(time / MINUTE),
                left,
                gid=f"{law} {g.solid_fraction:g} solid",
                **_stroke(result, g, i),
            )
    ax.axhline(0, color=INK, linewidth=LIGHT)
    return min(ends), max(ends)


def _name_residuals(sheet: Sheet, ax: Axes, result: Result, found: HandbookComparison, law: str) -> None:
    """Write the law over its panel, with the constants of the headline definition."""
    ax.set_ylabel("computed less fitted, mm")
    ax.yaxis.label.set_visible(False)
    left, top, _, _ = sheet.frame(ax)
    x = left - _LEFT + MARGIN
    sheet.write(x, top - 5.6, f"computed less {law}, mm", va="bottom", size=TEXT)
    g = next((g for g in found.rows[_WHOLE] if np.isclose(g.solid_fraction, result.headline)), None)
    if g is None or law not in g.fits:
        sheet.write(x, top - 2.0, "no fit", va="bottom", color=GREY)
        return
    fit = g.fits[law]
    if law == _ROOT:
        words = f"K {number(fit.one_minute / MM)}, C {number(fit.delay / MM)} mm"
    else:
        low, high = fit.exponent_interval
        words = f"a {number(fit.one_minute / MM)}, n {fit.exponent:.3f} ±{0.5 * (high - low):.3f}"
    sheet.write(x, top - 2.0, f"at {_solid(g.solid_fraction)} solid: {words}", va="bottom", color=GREY)
