"""What the tests of pictures look for: texts that overlap or leave the figure, lines through them, named artists."""

from __future__ import annotations

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.text import Text


def visible_boxes(figure: Figure):
    """Return every text that is drawn and its box in pixels."""
    canvas = FigureCanvasAgg(figure)
    figure.draw_without_rendering()
    hidden = set()
    for ax in figure.axes:
        for axis in (ax.xaxis, ax.yaxis):
            low, high = sorted(axis.get_view_interval())
            shown = axis.get_visible() and ax.axison
            ticks = axis.get_major_ticks() + axis.get_minor_ticks()
            hidden |= {id(t) for t in axis.findobj(Text) if not shown}
            out = (tick for tick in ticks if not low - 1e-9 <= tick.get_loc() <= high + 1e-9)
            hidden |= {id(label) for tick in out for label in (tick.label1, tick.label2)}
    texts = [
        t for t in figure.findobj(Text) if t.get_visible() and t.get_text().strip() and id(t) not in hidden
    ]
    return [(t.get_text(), t.get_window_extent(canvas.get_renderer())) for t in texts]


def misplaced(figure: Figure, slack: float = 0.5) -> list[tuple[str, str]]:
    """Return pairs of texts that overlap, and texts that leave the figure."""
    boxes = visible_boxes(figure)
    found = []
    for i, (text, box) in enumerate(boxes):
        if (
            min(box.x0, box.y0) < -slack
            or box.x1 > figure.bbox.width + slack
            or box.y1 > figure.bbox.height + slack
        ):
            found.append((text, "leaves the figure"))
        for other, there in boxes[:i]:
            across = min(box.x1, there.x1) - max(box.x0, there.x0)
            along = min(box.y1, there.y1) - max(box.y0, there.y0)
            if across > slack and along > slack:
                found.append((text, other))
    return found


def texts(figure: Figure) -> list[str]:
    return [t.get_text() for t in figure.findobj(Text) if t.get_text().strip()]


def artist(figure: Figure, gid: str):
    found = [a for a in figure.findobj(lambda a: a.get_gid() == gid)]
    assert found, f"nothing drawn as {gid!r}"
    return found[0]


def panel(figure: Figure, label: str):
    return next(ax for ax in figure.axes if ax.get_label() == label)


def covered(figure: Figure) -> list[tuple[str, str]]:
    """Return texts that a shell, temperature or handbook line runs through."""
    boxes, found = visible_boxes(figure), []
    for line in figure.findobj(lambda a: isinstance(a, Line2D) and a.get_gid()):
        points = line.get_transform().transform(line.get_xydata())
        dense = np.linspace(0, len(points) - 1, 4000)
        points = np.column_stack([np.interp(dense, range(len(points)), column) for column in points.T])
        for text, box in boxes:
            inside = (points > (box.x0 + 1, box.y0 + 1)) & (points < (box.x1 - 1, box.y1 - 1))
            if inside.all(axis=1).any():
                found.append((text, line.get_gid()))
    return found
