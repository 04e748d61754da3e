"""Where the heat goes: by stretch of the strand and by what takes it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from solidify.analysis.derived import cooled_girth
from solidify.plots.heading import FOOT, MARGIN, draw_footing, draw_heading
from solidify.plots.palette import (
    BAND_EDGE,
    GREY,
    INK,
    OCHRE,
    PAPER,
    PETROL,
    PLUM,
    TEXT,
    WATER,
    styled,
)
from solidify.plots.sheet import Sheet, broken, spread, text_size, width_of
from solidify.strand.result import MECHANISMS
from solidify.units import KW

if TYPE_CHECKING:
    from solidify.assessment.judge import Judgement
    from solidify.strand.result import Result

__all__ = ["plot_heat"]

_FILLS = {
    "mould": (PLUM, ""),
    "water": (PETROL, ""),
    "radiation": (OCHRE, ""),
    "convection": (WATER, ""),
    "rolls": (BAND_EDGE, "/////"),
    "prescribed": (PAPER, "....."),
}
_SPEAKS_FOR = {
    "slab": "kW of one strand, both wide faces",
    "round": "kW of one strand",
    "rectangle": "kW per m of face",
}
"""What the kilowatts belong to, by shape: the middle of a rectangle's face does not speak for its corners."""

_NAMES, _FIGURES, _ROW = 36.0, 34.0, 8.0


def _bar(ax: Axes, y: float, shares: np.ndarray, thick: float) -> None:
    start = 0.0
    for mechanism, share in zip(MECHANISMS, shares, strict=True):
        if share > 0:
            face, hatch = _FILLS[mechanism]
            ax.barh(
                y,
                share,
                thick,
                left=start,
                color=face,
                hatch=hatch,
                edgecolor=INK,
                linewidth=0.5,
                gid=mechanism,
            )
            start += share


def plot_heat(result: Result, judgement: Judgement | None = None, figure: Figure | None = None) -> Figure:
    """Draw where the heat goes: the whole strand by mechanism, then each stretch, largest share first.

    Parameters
    ----------
    result : Result
        A marched strand.
    judgement : Judgement, optional
        Brings the worst verdict into the heading.
    figure : Figure, optional
        An empty figure to draw in; without it a new one of 180 mm width.

    Returns
    -------
    Figure
        Shares of all heat removed between meniscus and cut-off [%], and the heat of that stretch: of a strand
        where the slice speaks for it [kW], else of each metre of face [kW per m]. Nothing is shown or saved.
    """
    heat = result.balance.heat.mean(axis=0)
    share = 100.0 * heat / heat.sum()
    speed = float(result.distance[-1] / result.time[-1])
    order = np.argsort(-share.sum(axis=1), kind="stable")
    labels = [broken(result.zones[i].name, _NAMES, lines=2) for i in order]
    girth = cooled_girth(result)
    unit = "kW/m" if math.isnan(girth) else "kW"
    power = heat[order] * speed / KW * (1.0 if math.isnan(girth) else girth)
    with styled():
        width = width_of(figure)
        sheet = Sheet(figure, width, 42.0 + _ROW * (len(order) + 1) + FOOT)
        top = draw_heading(sheet, result, judgement) + 9.0
        left, across = MARGIN + _NAMES + 3.0, width - 2 * MARGIN - _NAMES - 3.0
        height = sheet.height - FOOT - top - 9.0
        ax = sheet.axes(left, top, across, height, label="heat")
        full = 100.0 * across / (across - _FIGURES)
        ax.set_xlim(0, full)
        ax.set_ylim(len(order) + 0.6, -0.6)
        _bar(ax, 0, share.sum(axis=0), 0.62)
        for row, i in enumerate(order, start=1):
            _bar(ax, row + 0.1, share[i], 0.5)
        _name_bars(sheet, ax, ["whole strand", *labels], share[order], power, unit)
        _name_mechanisms(sheet, ax, share.sum(axis=0), left + across - _FIGURES)
        ax.yaxis.set_visible(False)
        ax.set_xticks(range(0, 101, 20))
        ax.set_xlabel("share of the heat removed between meniscus and cut-off, %", loc="left")
        for name in ("top", "right", "left"):
            ax.spines[name].set_visible(False)
        ax.spines["bottom"].set_bounds(0, 100)
        draw_footing(sheet, result, _SPEAKS_FOR[result.case.section.shape])
    return sheet.figure


def _name_bars(
    sheet: Sheet, ax: Axes, labels: list[str], share: np.ndarray, power: np.ndarray, unit: str
) -> None:
    totals = [share.sum(), *share.sum(axis=1)]
    powers = [power.sum(), *power.sum(axis=1)]
    for row, (label, total, kilowatts) in enumerate(zip(labels, totals, powers, strict=True)):
        y = row + (0.1 if row else 0.0)
        x, at_y = (float(v) for v in sheet.at(ax, total, y))
        left = float(sheet.at(ax, 0, 0)[0])
        weight = "normal" if row else "bold"
        sheet.write(left - 2.0, at_y, label, ha="right", va="center", weight=weight)
        percent = f"{total:.0f} %" if total >= 0.95 else f"{total:.1f} %"
        sheet.write(x + 1.5, at_y, f"{percent}   {kilowatts:.0f} {unit}", va="center", weight=weight)


def _name_mechanisms(sheet: Sheet, ax: Axes, shares: np.ndarray, right: float) -> None:
    """Name what takes the heat, over the bar of the whole strand."""
    ends = np.cumsum(shares)
    names = [
        (f"{m} {s:.0f} %" if s >= 0.95 else f"{m} {s:.1f} %", end - s / 2)
        for m, s, end in zip(MECHANISMS, shares, ends, strict=True)
        if s > 0
    ]
    xs = [float(sheet.at(ax, middle, 0)[0]) for _, middle in names]
    top = float(sheet.at(ax, 0, -0.31)[1])
    places = spread(xs, [text_size(text, TEXT)[0] + 3.0 for text, _ in names], xs[0] - 15.0, right + 20.0)
    for (text, _), x, place in zip(names, xs, places, strict=True):
        sheet.line([x, x, place], [top + 0.6, top - 0.8, top - 3.0], color=GREY, linewidth=0.5)
        sheet.write(place, top - 3.3, text, ha="center", va="bottom", size=TEXT)
