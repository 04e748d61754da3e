"""Pictures as vector graphics inside a page: text stays text, and no stroke finer than can be printed."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING
from urllib.parse import quote

import numpy as np
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure
from matplotlib.path import Path

from solidify.plots.pictures import picture_bytes
from solidify.plots.sheet import MM_PER_INCH

if TYPE_CHECKING:
    from solidify.strand.result import Result

__all__ = ["narrow_sheet", "svg_address", "svg_text"]

_PHONE, _PHONE_TALL, _PHONE_TWO_SIDES = 112.0, 235.0, 20.0
"""Width of a picture whose type can be read on a phone, its height, and what a whole thickness adds [mm]."""

_DECIMALS = 2
"""Of a coordinate [pt]: 3.5 micrometres on paper."""

_PATH = re.compile(r'(<path (?:id="[^"]*" )?d=")([^"]*)')
_FINE = re.compile(rf"-?\d+\.\d{{{_DECIMALS + 1},}}")
_METADATA = re.compile(r"\s*<metadata>.*?</metadata>", re.S)
_SAFE = "!$'()*+,-./:;=?@_~"
"""What may stand as it is in an address, in a double-quoted attribute of HTML, a list of addresses included."""


def narrow_sheet(result: Result) -> Figure:
    """Return an empty figure of the size in which `draw_strand` can be read on a phone.

    Parameters
    ----------
    result : Result
        What will be drawn.

    Returns
    -------
    Figure
    """
    height = _PHONE_TALL + (_PHONE_TWO_SIDES if len(result.sides) == 2 else 0.0)
    return Figure(figsize=(_PHONE / MM_PER_INCH, height / MM_PER_INCH), facecolor="white")


def svg_text(figure: Figure) -> str:
    """Return a figure as a small SVG document.

    Outlines of filled areas lose the points that cannot be seen, as matplotlib does for lines; coordinates are
    rounded to 0.01 pt; remarks about the file are left out.

    Parameters
    ----------
    figure : Figure
        The outlines of its filled areas are replaced by the lighter ones.

    Returns
    -------
    str
        Starts with ``<svg``; equal figures give equal text.
    """
    for area in figure.findobj(PolyCollection):
        _lighten(area)
    text = picture_bytes(figure, "svg").decode()
    text = _METADATA.sub("", text[text.index("<svg") :])
    text = _PATH.sub(lambda found: found[1] + _tight(found[2]), text)
    return re.sub(r"\s*\n\s*", " ", text).strip()


def svg_address(figure: Figure) -> str:
    """Return a figure as the address of a picture, ``data:image/svg+xml,...``, for a double-quoted attribute.

    Parameters
    ----------
    figure : Figure
        As in `svg_text`.

    Returns
    -------
    str
        Holds no blank, nor ``"``, ``&``, ``<`` or ``>``.
    """
    return "data:image/svg+xml," + quote(svg_text(figure), safe=_SAFE)


def _lighten(area: PolyCollection) -> None:
    """Drop the points of outlines that lie on a straight line to a ninth of a pixel."""
    transform = area.get_transform()
    outlines = []
    for path in area.get_paths():
        cleaned = path.cleaned(transform, simplify=True)
        drawn = np.isin(np.asarray(cleaned.codes), (Path.MOVETO, Path.LINETO))
        outlines.append(transform.inverted().transform(np.asarray(cleaned.vertices)[drawn]))
    area.set_verts(outlines)


def _tight(outline: str) -> str:
    """Round the coordinates of an outline and leave no blanks in it."""
    text = re.sub(r"\s*([A-Za-z])\s*", r"\1", _FINE.sub(_rounded, outline).strip())
    return re.sub(r"\s+", ",", text)


def _rounded(number: re.Match[str]) -> str:
    text = f"{float(number[0]):.{_DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
