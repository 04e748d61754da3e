"""What moves a quantity: effects of the inputs as bars, the longest first, and Sobol indices."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from solidify.plots.heading import FOOT, MARGIN
from solidify.plots.palette import GREY, INK, LIGHT, OCHRE, PAPER, PETROL, SMALL, TEXT, styled
from solidify.plots.sheet import Sheet, broken, width_of
from solidify.plots.study import draw_study_footing, draw_study_heading, runs_words
from solidify.storage.study_file import StudyTable
from solidify.study.answers.quantities import input_label
from solidify.study.answers.sensitivity import WAYS, Effects, Indices, step_text

__all__ = ["draw_effects", "draw_indices"]

_ROW, _HEAD, _TICKS, _GAP, _NAMES, _FIGURES = 7.0, 9.5, 9.0, 3.0, 34.0, 17.0
MOST = 10
"""Inputs shown of a quantity at most."""

POOR = 0.8
"""Below this share explained a straight law is said to be poor."""


def draw_effects(table: StudyTable, found: Sequence[Effects], figure: Figure | None = None) -> Figure:
    """Draw what each input does to some quantities, a panel each.

    Parameters
    ----------
    table : StudyTable
        The study.
    found : sequence of Effects
        From `solidify.study.answers.sensitivity.effects`; one or more, of one kind.
    figure : Figure, optional
        An empty figure to draw in; without it a new one of 180 mm width.

    Returns
    -------
    Figure
        Nothing is shown or saved.
    """
    rows = [min(len(e.rows), MOST) for e in found]
    left_out = list(dict.fromkeys(n for e in found for n in e.left_out))
    facts = [runs_words(table), WAYS[found[0].kind]]
    if left_out:
        facts.append(f"left out, being words: {', '.join(input_label(table, n) for n in left_out)}")
    with styled():
        sheet, places = _panels(table, figure, "what each input does", " · ".join(facts), rows)
        for own, place in zip(found, places, strict=True):
            _effect_bars(sheet, table, own, place)
        draw_study_footing(sheet, table, "an effect holds for the range that was computed")
    return sheet.figure


def draw_indices(table: StudyTable, found: Sequence[Indices], figure: Figure | None = None) -> Figure:
    """Draw the Sobol indices of some quantities, a panel each.

    Parameters
    ----------
    table : StudyTable
        The study.
    found : sequence of Indices
        From `solidify.study.answers.sensitivity.sobol_shares`; one or more.
    figure : Figure, optional
        An empty figure to draw in; without it a new one of 180 mm width.

    Returns
    -------
    Figure
        Nothing is shown or saved.
    """
    rows = [min(len(i.inputs), MOST) for i in found]
    draws = f"{found[0].draws} draws"
    lost = max(i.left_out for i in found)
    draws += f", up to {lost} left out for want of a value" if lost else ""
    facts = (
        f"{runs_words(table)} · Sobol indices from {draws} · filled: the input alone (first order); blank: with all "
        "that it does together with others (total); lines: 95 % intervals by the bootstrap"
    )
    with styled():
        sheet, places = _panels(table, figure, "how the scatter is shared out", facts, rows)
        for own, place in zip(found, places, strict=True):
            _index_bars(sheet, table, own, place)
        draw_study_footing(sheet, table, "shares of the variance, for inputs as they were drawn")
    return sheet.figure


Place = tuple[float, float, float, float]


def _panels(
    table: StudyTable, figure: Figure | None, words: str, facts: str, rows: Sequence[int]
) -> tuple[Sheet, list[Place]]:
    """Head a sheet and lay out panels two abreast; returns their places [mm]."""
    width = width_of(figure)
    abreast = 2 if len(rows) > 1 and width > 130.0 else 1
    lines = [max(rows[i : i + abreast]) for i in range(0, len(rows), abreast)]
    need = sum(_HEAD + _ROW * n + _TICKS for n in lines)
    sheet = Sheet(figure, width, 25.0 + need + FOOT)
    y = draw_study_heading(sheet, table, words, facts) + 3.1
    free = sheet.height - y - FOOT - (_HEAD + _TICKS) * len(lines)
    row = max(min(free / max(sum(lines), 1), _ROW), 2.0)
    across = (width - 2 * MARGIN - _GAP * (abreast - 1)) / abreast
    places = []
    for i, own in enumerate(rows):
        line, column = divmod(i, abreast)
        top = y + sum(_HEAD + row * n + _TICKS for n in lines[:line])
        places.append((MARGIN + column * (across + _GAP), top, across, row * own))
    return sheet, places


def _axis(sheet: Sheet, place: Place, label: str, title: str, note: str, figures: float) -> Axes:
    left, top, across, tall = place
    sheet.write(left, top + 1.0, broken(title, across, TEXT, "bold", lines=1), size=TEXT, weight="bold")
    if note:
        sheet.write(left, top + 4.8, broken(note, across, SMALL, lines=1), color=GREY)
    ax = sheet.axes(left + _NAMES, top + _HEAD, across - _NAMES - figures, tall, label=label)
    ax.yaxis.set_visible(False)
    ax.xaxis.set_major_locator(MaxNLocator(4, steps=[1, 2, 2.5, 5, 10]))
    for name in ("top", "right", "left"):
        ax.spines[name].set_visible(False)
    return ax


def _effect_bars(sheet: Sheet, table: StudyTable, found: Effects, place: Place) -> None:
    note = ""
    if found.kind == "sample":
        note = f"a straight law explains {100 * found.explained:.0f} % of the variance"
        note += ": see rank r" if found.explained < POOR else ""
    ax = _axis(sheet, place, f"effects {found.quantity.name}", found.quantity.title, note, _FIGURES)
    rows = found.rows[:MOST]
    ax.set_ylim(len(rows) - 0.5, -0.5)
    ends = [v for e in rows for v in (0.0, e.change, e.low, e.high) if math.isfinite(v)]
    reach = 0.04 * (max(ends) - min(ends) or 1.0)
    ax.set_xlim(min(ends) - reach, max(ends) + reach)
    ax.axvline(0, color=INK, linewidth=LIGHT)
    ranked = found.kind == "sample" and found.explained < POOR
    for i, effect in enumerate(rows):
        ax.barh(
            i,
            effect.change,
            0.55,
            facecolor=PETROL,
            edgecolor=INK,
            linewidth=0.5,
            gid=f"effect {effect.input}",
        )
        if math.isfinite(effect.low):
            ax.plot([effect.low, effect.high], [i, i], color=OCHRE, linewidth=1.6, gid="interval")
            ax.plot([effect.low, effect.high], [i, i], "|", color=INK, markersize=5.0, markeredgewidth=0.8)
        y = float(sheet.at(ax, 0, i)[1])
        label = f"{input_label(table, effect.input)}\n{step_text(table, effect, found.kind)}"
        _name(sheet, place, y, label)
        told = f"r {effect.rank:+.2f}" if ranked else _signed(effect.change, _digits(rows[0].change))
        sheet.write(place[0] + place[2], y, told.replace("-", "−"), ha="right", va="center")
    if len(found.rows) > len(rows):
        told = f"and {len(found.rows) - len(rows)} more that do less"
        sheet.write(place[0], sheet.frame(ax)[3] + 4.5, told, color=GREY)


def _digits(value: float) -> int:
    return 0 if abs(value) >= 100 else 1 if abs(value) >= 10 else 2


def _signed(value: float, digits: int) -> str:
    """Return a change with its sign, which what rounds to nothing has not."""
    return f"{value:+.{digits}f}" if round(value, digits) else f"{0:.{digits}f}"


def _name(sheet: Sheet, place: Place, y: float, text: str) -> None:
    first, _, second = text.partition("\n")
    first = broken(first, _NAMES - 2.0, SMALL, lines=1)
    if second:
        first += "\n" + broken(second, _NAMES - 2.0, SMALL, lines=1)
    sheet.write(place[0] + _NAMES - 2.0, y, first, ha="right", va="center", linespacing=1.05)


def _index_bars(sheet: Sheet, table: StudyTable, found: Indices, place: Place) -> None:
    total = float(found.first[:, 0].sum())
    note = f"alone / in all; the inputs alone add up to {total:.2f}"
    ax = _axis(sheet, place, f"indices {found.quantity.name}", found.quantity.title, note, _FIGURES + 2.0)
    count = min(len(found.inputs), MOST)
    ax.set_ylim(count - 0.5, -0.5)
    tops = np.concatenate([found.first[:count], found.total[:count]])
    ax.set_xlim(min(0.0, float(tops.min())) - 0.02, max(1.0, float(tops.max())) + 0.02)
    ax.axvline(0, color=INK, linewidth=LIGHT)
    for i, name in enumerate(found.inputs[:count]):
        for shift, values, face in ((-0.17, found.first[i], PETROL), (0.17, found.total[i], PAPER)):
            ax.barh(i + shift, values[0], 0.3, facecolor=face, edgecolor=INK, linewidth=0.5)
            ax.plot(values[1:], [i + shift] * 2, color=OCHRE, linewidth=1.4, gid="interval")
            ax.plot(values[1:], [i + shift] * 2, "|", color=INK, markersize=3.5, markeredgewidth=0.7)
        y = float(sheet.at(ax, 0, i)[1])
        _name(sheet, place, y, input_label(table, name))
        told = f"{found.first[i, 0]:.2f} / {found.total[i, 0]:.2f}".replace("-", "−")
        sheet.write(place[0] + place[2], y, told, ha="right", va="center")
