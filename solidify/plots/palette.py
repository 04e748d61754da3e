"""Colours, type and wording of the pictures: told apart in grey print and by colour-blind readers.

Meaning never hangs on colour alone: lines differ in stroke, fills in lightness, verdicts in the amount of
ink, and each has its name beside it.
"""

from __future__ import annotations

import math
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any

from matplotlib import style
from matplotlib.font_manager import fontManager

__all__ = [
    "BAND",
    "BAND_EDGE",
    "FIELD",
    "GREY",
    "HEAVY",
    "INK",
    "LIGHT",
    "MARKS",
    "OCHRE",
    "OCHRE_TEXT",
    "PAPER",
    "PETROL",
    "PLUM",
    "SMALL",
    "SOLID",
    "STYLE",
    "TEXT",
    "TITLE",
    "WATER",
    "number",
    "span",
    "styled",
]

PLUM, PETROL, OCHRE, OCHRE_TEXT = "#3A1F47", "#1E6A73", "#B58428", "#7D5A17"
SOLID, BAND, BAND_EDGE = "#D9CFDC", "#5F4569", "#9C87A3"
"""Fills: solid, solid fractions 0.7 to 1, and 0.3 to 0.7."""

WATER = "#DDE5E6"
MARKS = {"kept": "#DDE5E6", "close": "#B58428", "breached": "#3A1F47"}
FIELD = ("#2E1838", "#4F3A63", "#5F6380", "#7A8C90", "#A9AE93", "#D8CDA0", "#F7EFD2")
"""A field of temperature, cold to hot."""

_OTHER_LETTERS = (
    "Noto Sans CJK JP",
    "Noto Sans CJK SC",
    "Noto Sans CJK KR",
    "Yu Gothic",
    "Hiragino Sans",
    "Microsoft YaHei",
    "PingFang SC",
    "Malgun Gothic",
)
"""Types for titles and names in letters that DejaVu Sans lacks, where one of them is installed."""

INK, GREY, PAPER = "#000000", "#4A4A4A", "#FFFFFF"

TITLE, TEXT, SMALL = 10.0, 7.5, 7.0
"""Sizes of type [pt] on a page 180 mm wide."""

LIGHT, HEAVY = 0.6, 1.7
"""Widths of line [pt]."""

STYLE: dict[str, Any] = {
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": TEXT,
    "text.parse_math": False,
    "axes.linewidth": LIGHT,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "axes.labelsize": TEXT,
    "xtick.labelsize": SMALL,
    "ytick.labelsize": SMALL,
    "xtick.major.width": LIGHT,
    "ytick.major.width": LIGHT,
    "ytick.major.size": 2.5,
    "xtick.major.size": 2.5,
    "ytick.major.pad": 2.0,
    "xtick.major.pad": 2.0,
    "hatch.linewidth": 0.4,
    "lines.solid_capstyle": "butt",
    "lines.solid_joinstyle": "round",
    "savefig.bbox": None,
    "savefig.dpi": 200,
    "svg.fonttype": "none",
    "svg.hashsalt": "solidify",
    "pdf.fonttype": 42,
}


_ONE_AT_A_TIME = threading.RLock()
"""The settings of the library are those of the whole process: threads that draw at once would mix them."""


@contextmanager
def styled() -> Iterator[None]:
    """Draw in the look of the project, whatever the reader's own settings are.

    Letters that its type does not have come from another one that is installed, or stand as boxes.
    """
    with (
        _ONE_AT_A_TIME,
        style.context(["default", STYLE | {"font.sans-serif": list(_types())}]),
        warnings.catch_warnings(),
    ):
        warnings.filterwarnings("ignore", "Glyph .* missing from", UserWarning)
        yield


@cache
def _types() -> tuple[str, ...]:
    installed = set(fontManager.get_font_names())
    return ("DejaVu Sans", *(name for name in _OTHER_LETTERS if name in installed))


def number(value: float, digits: int = 3) -> str:
    """Return a number for print, with about `digits` significant figures and no exponent.

    Parameters
    ----------
    value : float
        Anything [any unit].
    digits : int
        Figures wanted; whole numbers are never shortened.

    Returns
    -------
    str

    Examples
    --------
    >>> number(13.8123), number(15.5), number(0.6), number(1234.6)
    ('13.8', '15.5', '0.6', '1235')
    """
    if not math.isfinite(value):
        return "–"
    size = math.floor(math.log10(abs(value))) if value else 0
    text = f"{value:.{max(digits - 1 - size, 0)}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return text.replace("-", "−") if text != "-0" else "0"


def span(values: tuple[float, ...], digits: int = 4) -> str:
    """Return one distance, or the first and the last of several.

    Examples
    --------
    >>> span((15.5, 17.0, 18.5)), span((22.0,))
    ('15.5–18.5', '22')
    """
    first, last = number(min(values), digits), number(max(values), digits)
    return first if first == last else f"{first}–{last}"
