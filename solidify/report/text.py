"""What the printed sheets are set in: columns, named entries, wrapped lines, blocks."""

from __future__ import annotations

import itertools
import re
import textwrap
from collections.abc import Iterable, Sequence

__all__ = ["WIDTH", "columns", "entries", "listed", "page", "tied", "wrapped"]

WIDTH = 100
"""Longest line of a printed sheet [characters]."""

_GAP = "  "
_NO_BREAK = "\xa0"

_UNIT = r"(?:mm|m|s|K|min|°C|MW/m²|K/m|m/s|L/kg|kg/min|solid)(?!\w)|%"
_TIED = re.compile(rf"(?<=\d) (?={_UNIT})|(?<=[≤≥]) (?=\d)")


def columns(
    rows: Sequence[Sequence[str]], align: str = "lr", width: int = WIDTH, indent: str = ""
) -> list[str]:
    """Set rows under one another.

    Parameters
    ----------
    rows : sequence of sequence of str
        As many cells in each.
    align : str
        A letter a column: ``l`` to the left, ``r`` to the right, ``w`` words, to the left and on several lines
        where the row is too long for one. The last letter holds for all columns that follow.
    width : int
        Longest line [characters].
    indent : str
        Before each line.

    Returns
    -------
    list of str
        Without trailing blanks; longer than `width` where the words are.

    Examples
    --------
    >>> columns([("a", "10"), ("bc", "9")])
    ['a   10', 'bc   9']
    >>> columns([("a", "open at 10 m"), ("bc", "-")], "lw", 11)
    ['a   open at', '    10 m', 'bc  -']
    """
    table = [[tied(cell) for cell in column] for column in zip(*rows, strict=True)]
    align = align.ljust(len(table), align[-1])
    sizes = [max(map(len, column)) for column in table]
    least = [max(len(word) for cell in column for word in cell.split(" ")) for column in table]
    room = width - len(indent) - len(_GAP) * (len(table) - 1)
    while sum(sizes) > room:
        wide = [i for i, size in enumerate(sizes) if align[i] == "w" and size > least[i]]
        if not wide:
            break
        sizes[max(wide, key=sizes.__getitem__)] -= 1
    pad = [str.rjust if letter == "r" else str.ljust for letter in align]
    lines = []
    for row in zip(*table, strict=True):
        cells = [_folded(cell, size) for cell, size in zip(row, sizes, strict=True)]
        for parts in itertools.zip_longest(*cells, fillvalue=""):
            line = _GAP.join(p(part, size) for p, part, size in zip(pad, parts, sizes, strict=False))
            lines.append((indent + line).replace(_NO_BREAK, " ").rstrip())
    return lines


def _folded(cell: str, size: int) -> list[str]:
    return textwrap.wrap(cell, size, break_on_hyphens=False) if len(cell) > size else [cell]


def tied(text: str) -> str:
    """Tie numbers to their units and bounds by no-break spaces, so that a line never parts them."""
    return _TIED.sub(_NO_BREAK, text)


def entries(pairs: Sequence[tuple[str, str]], width: int = WIDTH, indent: str = "") -> list[str]:
    """Set names and what is said of each beside one another.

    Parameters
    ----------
    pairs : sequence of (str, str)
        Name and text.
    width : int
        Longest line [characters].
    indent : str
        Before each line.

    Returns
    -------
    list of str

    Examples
    --------
    >>> entries([("steel", "low carbon"), ("mould", "0.8 m")])
    ['steel  low carbon', 'mould  0.8 m']
    """
    margin = max(len(name) for name, _ in pairs)
    lines = [f"{indent}{name:<{margin}}{_GAP}{text}" for name, text in pairs]
    return [part for line in lines for part in wrapped(line, width, indent + " " * margin + _GAP)]


def wrapped(text: str, width: int = WIDTH, hang: str = "") -> list[str]:
    """Break a text into lines and part no number from its unit.

    Parameters
    ----------
    text : str
        Running text; blanks before it stay.
    width : int
        Longest line [characters].
    hang : str
        Before each line but the first.

    Returns
    -------
    list of str
        Empty for a text of blanks.

    Examples
    --------
    >>> wrapped("a shell of 12.9 mm at mould exit", 16)
    ['a shell of', '12.9 mm at mould', 'exit']
    """
    lines = textwrap.wrap(tied(text), width, subsequent_indent=hang, break_on_hyphens=False)
    return [line.replace(_NO_BREAK, " ") for line in lines]


def listed(title: str, texts: Iterable[str], width: int = WIDTH) -> list[str]:
    """Set texts under a title, each indented and with its further lines hanging.

    Parameters
    ----------
    title : str
        First line.
    texts : iterable of str
        What stands under it.
    width : int
        Longest line [characters].

    Returns
    -------
    list of str
        Empty where there are no texts.

    Examples
    --------
    >>> listed("To know", ["the flux is not measured"], 16)
    ['To know', '  the flux is', '    not measured']
    """
    lines = [line for text in texts for line in wrapped(f"  {text}", width, "    ")]
    return [title, *lines] if lines else []


def page(blocks: Iterable[Sequence[str]]) -> str:
    r"""Join blocks of lines with an empty line between; empty blocks and trailing blanks fall away.

    Parameters
    ----------
    blocks : iterable of sequence of str
        Lines of each block.

    Returns
    -------
    str

    Examples
    --------
    >>> page([["a "], [], ["b", "c"]])
    'a\n\nb\nc'
    """
    return "\n\n".join("\n".join(line.rstrip() for line in block) for block in blocks if block)
