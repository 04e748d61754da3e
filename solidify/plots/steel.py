"""What a steel was taken to be: solid fraction, enthalpy, conductivity and shrinkage over temperature."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from solidify.plots.heading import MARGIN, write_heading
from solidify.plots.palette import GREY, HEAVY, INK, PLUM, number, styled
from solidify.plots.panel import bare
from solidify.plots.sheet import Sheet, spread, width_of
from solidify.units import KJ

if TYPE_CHECKING:
    from solidify.steel import Steel

__all__ = ["plot_steel"]

_LEFT, _GAP, _HEAD = 14.0, 14.0, 6.5


def plot_steel(steel: Steel, figure: Figure | None = None) -> Figure:
    """Draw solid fraction over the freezing range, and enthalpy, conductivity and shrinkage below it.

    Parameters
    ----------
    steel : Steel
        Any steel.
    figure : Figure, optional
        An empty figure to draw in; without it a new one of 180 mm width.

    Returns
    -------
    Figure
        Nothing is shown or saved.
    """
    with styled():
        width = width_of(figure)
        sheet = Sheet(figure, width, 138.0)
        y = _heading(sheet, steel) + 2.0 + _HEAD
        tall = (sheet.height - y - 2 * 9.0 - _HEAD - MARGIN) / 2
        _solid_fraction(sheet, steel, (_LEFT, y, width - _LEFT - MARGIN - 2, tall))
        y += tall + 9.0 + _HEAD
        across = (width - _LEFT - MARGIN - 2 - 2 * _GAP) / 3
        curves = (
            ("enthalpy, kJ/kg", steel.enthalpy / KJ),
            ("effective conductivity, W/(m K)", steel.conductivity),
            ("free linear strain, solidus 0, %", 100 * steel.shrinkage),
        )
        for i, (label, values) in enumerate(curves):
            _curve(sheet, steel, label, values, (_LEFT + i * (across + _GAP), y, across, tall))
    return sheet.figure


def _heading(sheet: Sheet, steel: Steel) -> float:
    mass = " ".join(f"{element} {number(share)}" for element, share in steel.composition.items() if share)
    title = f"Steel: {mass} mass %" if mass else "Steel from its own numbers"
    facts = f"{steel.steel_class} · latent heat {steel.latent_heat / KJ:.0f} kJ/kg"
    facts += f" · density {steel.march_density:.0f} kg/m³"
    return write_heading(sheet, title, facts=[facts], lines=(3, 1))


def _axes(sheet: Sheet, label: str, place: tuple[float, float, float, float]) -> Axes:
    ax = sheet.axes(*place, label=label.split(",")[0])
    ax.set_xlabel("temperature, °C", loc="left")
    bare(sheet, ax, label, left=place[0] - _LEFT + MARGIN)
    return ax


def _solid_fraction(sheet: Sheet, steel: Steel, place: tuple[float, float, float, float]) -> None:
    """Draw the freezing range wide, the temperatures of hot strength named in a column at its right."""
    ax = _axes(sheet, "solid fraction", place)
    span = max(steel.liquidus - steel.solidus, 1.0)
    names = {"liquidus": steel.liquidus, "solidus": steel.solidus}
    names |= {n: t for n, t in steel.temperatures.items() if np.isfinite(t)}
    named = sorted(
        ((t, n) for n, t in names.items() if steel.solidus - 0.6 * span < t <= steel.liquidus + 1),
        reverse=True,
    )
    ax.set_xlim(min(steel.solidus, named[-1][0]) - 0.1 * span, steel.liquidus + 1.0 * span)
    ax.set_ylim(-0.06, 1.05)
    shown = steel.temperature <= steel.liquidus
    ax.plot(
        steel.temperature[shown],
        steel.solid_fraction[shown],
        color=PLUM,
        linewidth=HEAVY,
        gid="solid fraction",
    )
    end = steel.liquidus + 0.06 * span
    ax.set_xticks([t for t in ax.get_xticks() if ax.get_xlim()[0] <= t <= end])
    ax.spines["bottom"].set_bounds(ax.get_xlim()[0], end)
    _, top, _, bottom = sheet.frame(ax)
    column = float(sheet.at(ax, steel.liquidus + 0.12 * span, 0)[0])
    fractions = [float(np.interp(t, steel.temperature, steel.solid_fraction)) for t, _ in named]
    order = np.argsort(-np.array(fractions), kind="stable")
    ys = [float(sheet.at(ax, 0, fractions[i])[1]) for i in order]
    for i, y, line in zip(order, ys, spread(ys, [3.4] * len(ys), top - 2, bottom - 0.5), strict=True):
        t, name = named[i]
        x = float(sheet.at(ax, t, 0)[0])
        ax.plot([t], [fractions[i]], "o", color=INK, markersize=2.5)
        sheet.line([x, column - 3.0, column - 0.8], [y, y, line], color=GREY, linewidth=0.4)
        sheet.write(column, line, f"{name} {t:.0f} °C, {fractions[i]:.2f} solid", va="center")


def _curve(
    sheet: Sheet, steel: Steel, label: str, values: np.ndarray, place: tuple[float, float, float, float]
) -> None:
    ax = _axes(sheet, label, place)
    known = np.isfinite(values)
    ax.plot(steel.temperature[known], values[known], color=PLUM, linewidth=HEAVY, gid=label.split(",")[0])
    ax.set_xlim(steel.temperature[0], steel.temperature[-1])
    ax.set_xticks(range(200, 1601, 400))
    ax.margins(y=0.06)
    for t in (steel.solidus, steel.liquidus):
        ax.axvline(t, color=GREY, linewidth=0.4, zorder=0)
    _, top, _, _ = sheet.frame(ax)
    x = float(sheet.at(ax, steel.solidus, 0)[0])
    sheet.write(x - 0.8, top, "solidus,\nliquidus", ha="right", color=GREY)
