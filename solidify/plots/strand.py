"""The pictures of a strand: both panels about one ruler, or one panel with the ruler."""

from __future__ import annotations

from typing import TYPE_CHECKING

from matplotlib.figure import Figure

from solidify.plots.heading import FOOT, draw_footing, draw_heading
from solidify.plots.palette import styled
from solidify.plots.ruler import draw_ruler, plan_ruler
from solidify.plots.sheet import Sheet, width_of
from solidify.plots.shell import draw_shell_panel
from solidify.plots.temperature import draw_temperature_panel

if TYPE_CHECKING:
    from solidify.assessment.judge import Judgement
    from solidify.strand.result import Result

__all__ = ["draw_strand", "plot_shell", "plot_temperature"]

_LEFT, _RIGHT = 19.0, 26.0
_HEAD = 6.0
"""Above a panel, for the name of its axis [mm]."""

_NAMES = 6.5
"""Under the shell panel, for the names of its lines [mm]."""

_WHOLE = 26.0
"""More height for a whole thickness than for half of one [mm]."""


def _plot(
    result: Result, judgement: Judgement | None, figure: Figure | None, panels: tuple[str, ...], height: float
) -> Figure:
    two = len(result.sides) == 2 and "shell" in panels
    with styled():
        width = width_of(figure)
        ruler = plan_ruler(result, width - _LEFT - _RIGHT)
        sheet = Sheet(figure, width, height + ruler.height + (_WHOLE if two else 0.0))
        y = draw_heading(sheet, result, judgement) + (2.0 if "shell" in panels else 4.0)
        fixed = y + ruler.height + FOOT + _HEAD * len(panels) + (_NAMES if "shell" in panels else 0.0)
        panel = max((sheet.height - fixed - (_WHOLE if two else 0.0)) / len(panels), 10.0)
        across = ruler.width
        if "shell" in panels:
            tall = panel + (_WHOLE if two else 0.0)
            draw_shell_panel(sheet, result, judgement, (_LEFT, y + _HEAD, across, tall))
            y += _HEAD + tall + _NAMES
        draw_ruler(sheet, ruler, _LEFT, y)
        y += ruler.height
        if "temperature" in panels:
            draw_temperature_panel(sheet, result, judgement, (_LEFT, y + _HEAD, across, panel))
        draw_footing(sheet, result, "K√t: mm from one side, t in min" if "shell" in panels else "")
    return sheet.figure


def draw_strand(result: Result, judgement: Judgement | None = None, figure: Figure | None = None) -> Figure:
    """Draw the shell above, the temperatures below, and the distance ruler between them.

    Parameters
    ----------
    result : Result
        A marched strand.
    judgement : Judgement, optional
        Brings the worst verdict, the limits and the room.
    figure : Figure, optional
        An empty figure to draw in, of any size; without it a new one of 180 mm width.

    Returns
    -------
    Figure
        Nothing is shown or saved.
    """
    return _plot(result, judgement, figure, ("shell", "temperature"), 158.0)


def plot_shell(result: Result, judgement: Judgement | None = None, figure: Figure | None = None) -> Figure:
    """Draw the shell alone, with the ruler; parameters as in `draw_strand`."""
    return _plot(result, judgement, figure, ("shell",), 92.0)


def plot_temperature(
    result: Result, judgement: Judgement | None = None, figure: Figure | None = None
) -> Figure:
    """Draw the temperatures alone, with the ruler; parameters as in `draw_strand`."""
    return _plot(result, judgement, figure, ("temperature",), 86.0)
