"""The table of a study that gives every run: key paths, and a value of each for every run."""

from __future__ import annotations

import csv
import io
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from solidify.case import Case
from solidify.case.values import shown
from solidify.errors import InputError, Problem, closest
from solidify.files import read_words
from solidify.study.vary import refusal

__all__ = ["Rows", "read_rows", "rows_of"]


@dataclass(frozen=True)
class Rows:
    """What each run sets.

    Parameters
    ----------
    name : str
        Of the table, for messages.
    inputs : tuple of str
        Key paths.
    rows : list of (int, tuple)
        Where a row stands in the table, and its values; None leaves the case as it is.
    """

    name: str
    inputs: tuple[str, ...]
    rows: list[tuple[int, tuple[Any, ...]]]

    def problems(self, case: Case) -> list[Problem]:
        """Hold every cell to the range of its key in the base case.

        Parameters
        ----------
        case : Case
            The base case.

        Returns
        -------
        list of Problem
        """
        found: list[Problem] = []
        known = set(case.key_paths())
        for i, name in enumerate(self.inputs):
            if name not in known:
                near = closest(name, known)
                where = f"{self.name} {name or f'column {i + 1}'}"
                found.append(Problem(where, "is not a key of the case", closest=near))
            elif name in self.inputs[:i]:
                found.append(Problem(f"{self.name} {name}", "stands twice"))
        if not self.rows:
            found.append(Problem(self.name, "no runs", do="give one row or more"))
        for i, row in self.rows:
            for name, value in zip(self.inputs, row, strict=True):
                if name in known and value is not None and (said := refusal(case, name, value)):
                    where = f"{self.name}{i}: {name} = {shown(value)}{said[0]}"
                    found.append(Problem(where, allowed=said[1], closest=said[2]))
        return found


def rows_of(rows: Sequence[Mapping[str, Any]]) -> Rows:
    """Lay out rows given as values.

    Parameters
    ----------
    rows : sequence of mapping
        Key path to value, one mapping a run.

    Returns
    -------
    Rows
    """
    inputs = tuple(dict.fromkeys(name for row in rows for name in row))
    return Rows("rows", inputs, [(i, tuple(map(row.get, inputs))) for i, row in enumerate(rows, 1)])


def read_rows(path: Path, problems: list[Problem]) -> Rows | None:
    """Read a CSV file: key paths in its first line, a run in each other; an empty cell leaves the case as it is.

    Parameters
    ----------
    path : Path
        CSV in UTF-8.
    problems : list of Problem
        Is told what is wrong.

    Returns
    -------
    Rows or None
        Those of the right length; None where it holds none at all.
    """
    try:
        lines = list(csv.reader(io.StringIO(read_words(path, "table"), newline=""), strict=True))
    except InputError as error:
        problems += error.problems
        return None
    except csv.Error as error:
        do = "save it as CSV, UTF-8, with commas"
        problems.append(Problem(f"{path}:", f"no CSV: {error}", do=do))
        return None
    rows = [(i, line) for i, line in enumerate(lines, 1) if any(cell.strip() for cell in line)]
    if len(rows) < 2:
        do = "the first line holds key paths, each other line a run"
        problems.append(Problem(f"{path}:", "no runs", do=do))
        return None
    names = tuple(cell.strip() for cell in rows[0][1])
    for i, line in rows[1:]:
        if len(line) != len(names):
            given = f"{len(line)} cells under {len(names)} key paths"
            problems.append(Problem(f"{path}:{i}:", given, do="write decimals with a point"))
    whole = [(i, tuple(map(_cell, line))) for i, line in rows[1:] if len(line) == len(names)]
    return Rows(f"{path}:", names, whole)


def _cell(text: str) -> Any:
    """Read a cell of a table: nothing, a number, true or false, a list as in TOML, or words."""
    text = text.strip()
    if not text:
        return None
    try:
        return tomllib.loads(f"x = {text}")["x"]
    except (ValueError, RecursionError):
        pass
    try:
        return float(text)
    except ValueError:
        return text
