"""The inset of the shell panel: mould and first metre enlarged, with the shells at mould exit in mm."""

from __future__ import annotations

import math
from itertools import product
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes

from solidify.plots.palette import BAND, BAND_EDGE, GREY, HEAVY, INK, LIGHT, PAPER, PLUM, SMALL, SOLID, number
from solidify.plots.ruler import judged
from solidify.plots.sheet import Sheet, text_size
from solidify.units import MM

if TYPE_CHECKING:
    from solidify.assessment.judge import Judgement
    from solidify.strand.result import Result

__all__ = ["draw_inset"]

_WIDE, _HIGH = 25.0, 15.5
"""Size of the curves [mm]."""

_TICKS, _PITCH, _EDGE = 6.5, 3.1, 1.5


def draw_inset(sheet: Sheet, ax: Axes, result: Result, judgement: Judgement | None) -> Axes | None:
    """Draw the inset where it hides nothing, in the upper right corner if it can.

    Parameters
    ----------
    sheet : Sheet
        Where; its lines and texts are kept clear.
    ax : Axes
        The shell panel.
    result : Result
        A marched strand.
    judgement : Judgement or None
        Brings the floor of the shell.

    Returns
    -------
    Axes or None
        None when the panel has no room for it.
    """
    mould = result.mould.working_length
    order = np.argsort(result.solid_fractions)[::-1]
    fractions, shells = result.solid_fractions[order], result.shell_thickness[0][order] / MM
    side = ", loose side" if len(result.sides) == 2 else ""
    words = [f"at mould exit, {number(mould)} m{side}"]
    for fraction, row in zip(fractions, shells, strict=True):
        name = f"{fraction:.2g}" if fraction < 1 else "1.0"
        words.append(f"solid fraction {name}: {float(result.at(row, mould)):.1f} mm")
    floor = judged(judgement, "shell_floor")
    if floor is not None:
        words.append(f"floor {number(floor[0])} mm: {floor[1]}")
    width = _TICKS + _WIDE + 3.0 + max(text_size(w)[0] for w in words) + _EDGE
    height = max(_HIGH + 5.0, _PITCH * len(words) + _EDGE) + _EDGE
    spot = _spot(sheet, ax, width, height)
    if spot is None:
        return None
    x, y = spot
    ground = sheet.axes(x, y, width, height, label="ground", facecolor=PAPER, xticks=(), yticks=())
    for spine in ground.spines.values():
        spine.set_visible(False)
    sheet.taken.append((x, y, x + width, y + height))
    small = sheet.axes(x + _TICKS, y + _EDGE, _WIDE, _HIGH, label="mould and first metre")
    end = min(math.ceil(10 * (mould + 1.0)) / 10, float(result.distance[-1]))
    deepest = max(1.12 * float(result.at(shells[-1], end)), 1.15 * floor[0] if floor else 0.0)
    small.set_xlim(0, end)
    small.set_ylim(deepest, 0)
    _curves(small, result, fractions, shells)
    left = x + _TICKS + _WIDE + 3.0
    for i, word in enumerate(words):
        place = y + _EDGE + _PITCH * (i + 0.5)
        sheet.figure.text(left / sheet.width, 1 - place / sheet.height, word, size=SMALL, va="center")
        if 0 < i <= len(shells):
            at_x, at_y = sheet.at(small, end, float(result.at(shells[i - 1], end)))
            sheet.line([float(at_x) + 0.3, left - 0.4], [float(at_y), place], color=GREY, linewidth=0.4)
    if floor is not None:
        half = 2.5 * end / _WIDE
        sheet.edge(small, (mould - half, mould + half), (floor[0], floor[0]), (0, -1))
    return small


def _spot(sheet: Sheet, ax: Axes, width: float, height: float) -> tuple[float, float] | None:
    """Return the free place nearest to the upper right corner [mm]."""
    left, top, right, bottom = sheet.frame(ax)
    across = np.arange(right - 1.0 - width, left + 1.0, -4.0)
    down = np.arange(top + 1.5, bottom - 1.0 - height, 3.0)
    for x, y in sorted(product(across, down), key=lambda p: right - p[0] + 2 * (p[1] - top)):
        box = (float(x), float(y), float(x) + width, float(y) + height)
        if sheet.free(box) and not sheet.crossings(box):
            return box[:2]
    return None


def _curves(small: Axes, result: Result, fractions: np.ndarray, shells: np.ndarray) -> None:
    end, deepest = small.get_xlim()[1], 0.95 * small.get_ylim()[0]
    mould, z = result.mould.working_length, result.distance <= end * 1.0001
    near = np.zeros(int(z.sum()))
    for fraction, row in zip(fractions, shells[:, z], strict=True):
        tint = SOLID if fraction == 1.0 else BAND if fraction >= 0.7 else BAND_EDGE
        small.fill_between(result.distance[z], near, row, color=tint, linewidth=0)
        width = HEAVY if fraction == result.headline else LIGHT
        small.plot(result.distance[z], row, color=PLUM, linewidth=width)
        near = row
    small.axvline(mould, color=INK, linewidth=LIGHT)
    small.axhline(0, color=INK, linewidth=1.0, clip_on=False)
    small.set_xticks([0.0, mould, end], ["0", number(mould), f"{number(end)} m"])
    small.get_xticklabels()[-1].set_horizontalalignment("right")
    step = next(s for s in (1, 2, 5, 10, 20, 50, 100) if deepest / s <= 4)
    small.set_yticks(np.arange(0, deepest + 1e-9, step))
    for name in ("top", "right", "bottom"):
        small.spines[name].set_visible(False)
    small.patch.set_visible(False)
