"""Tables in CSV as spreadsheets of any country write them: every CSV file that is read passes here.

Cells are parted by comma, semicolon or tab, as the header is; decimals have a point or, where no comma parts cells, a
comma; names of columns are found whatever their capitals, spaces and brackets. Lines that begin with ``#`` are remarks.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterable
from dataclasses import dataclass

from solidify.errors import InputError, Problem

__all__ = ["CsvTable", "column_name", "csv_number", "csv_table"]

_SEPARATORS = ";\t,"
"""What may part cells; of equally frequent ones the first."""

_WITH_COMMA = re.compile(r"[+-]?\d+,\d+([eE][+-]?\d+)?")
_WITH_POINT = re.compile(r"[+-]?\d*\.\d+([eE][+-]?\d+)?")


@dataclass(frozen=True)
class CsvTable:
    """A table as it was read.

    Parameters
    ----------
    line : int
        Where the header stands, counted from 1.
    header : tuple of str
        Names of the columns: those known in their own spelling, others as given.
    rows : tuple of (int, tuple of str)
        Where each row stands, and its cells without blanks at their ends, numbers with a decimal point; as many cells
        as there were.
    mixed : bool
        Whether decimals have a point in some cells and a comma in others; then none was changed.
    separator : str
        What parts the cells.
    """

    line: int
    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    mixed: bool = False
    separator: str = ","

    def advice(self, cell: str) -> str:
        """Say what to do about a cell that is no number.

        Parameters
        ----------
        cell : str
            As read.

        Returns
        -------
        str
            Empty where nothing in particular is known.
        """
        if "," not in cell:
            return ""
        if self.mixed:
            return "write decimals with a point, or all of them with a comma"
        return "write the decimal point as ."


def column_name(name: str) -> str:
    """Return a name of a column without what spreadsheets and people change in it.

    Parameters
    ----------
    name : str
        As given.

    Returns
    -------
    str

    Examples
    --------
    >>> column_name(" Distance [m]"), column_name("Enthalpy kJ/kg"), column_name("temperature (°C)")
    ('distance_m', 'enthalpy_kj_per_kg', 'temperature_c')
    """
    return re.sub(r"[\W_]+", "_", name.lower().replace("/", " per ").replace("°", "")).strip("_")


def csv_table(text: str, name: str, known: Iterable[str] = (), empty: Problem | None = None) -> CsvTable:
    r"""Read a table.

    Parameters
    ----------
    text : str
        What stands in the file.
    name : str
        Of the file, for messages.
    known : iterable of str
        Names of columns that there may be.
    empty : Problem, optional
        What is said where the file holds nothing.

    Returns
    -------
    CsvTable

    Raises
    ------
    InputError
        If it holds no header, or is no CSV.

    Examples
    --------
    >>> csv_table("Distance m;Value\n0,6;17,5\n", "a.csv", ["distance_m", "value"]).rows
    ((2, ('0.6', '17.5')),)
    """
    lines = [
        (i, s) for i, s in enumerate(text.splitlines(), 1) if s.strip() and not s.lstrip().startswith("#")
    ]
    if not lines:
        raise InputError(empty or Problem(name, "no rows", "a header and a row or more"))
    separator = _separator(lines[0][1])
    reader = csv.reader((f"{line}\n" for _, line in lines), delimiter=separator, strict=True)
    records: list[tuple[int, tuple[str, ...]]] = []
    try:
        begin = 0
        for record in reader:
            records.append((lines[begin][0], tuple(cell.strip() for cell in record)))
            begin = reader.line_num
    except csv.Error as error:
        do = "save it as CSV in UTF-8; a quote within quotes stands twice"
        raise InputError(
            Problem(f"{name}:{lines[min(begin, len(lines) - 1)][0]}", f"no CSV: {error}", do=do)
        ) from None
    spelling = {column_name(column): column for column in known}
    header = tuple(spelling.get(column_name(cell), cell) for cell in records[0][1])
    rows = [(i, cells) for i, cells in records[1:] if any(cells)]
    cells = [cell for _, row in rows for cell in row]
    commas = separator != "," and any(map(_WITH_COMMA.fullmatch, cells))
    mixed = commas and any(map(_WITH_POINT.fullmatch, cells))
    if commas and not mixed:
        rows = [(i, tuple(map(_with_point, row))) for i, row in rows]
    return CsvTable(records[0][0], header, tuple(rows), mixed, separator)


def csv_number(cell: str) -> float:
    """Return a cell as a number; NaN where it is none.

    Parameters
    ----------
    cell : str
        Of `CsvTable.rows`.

    Returns
    -------
    float
    """
    try:
        value = float(cell)
    except ValueError:
        return math.nan
    return value if math.isfinite(value) else math.nan


def _separator(header: str) -> str:
    """Find what parts the cells of a header, outside quotes."""
    bare = re.sub(r'"[^"]*"', "", header)
    return max(_SEPARATORS, key=bare.count) if any(s in bare for s in _SEPARATORS) else ","


def _with_point(cell: str) -> str:
    return cell.replace(",", ".") if _WITH_COMMA.fullmatch(cell) else cell
